"""A free section cut into runs: what a box can stand in, with straight limits only.

A section is cut into trapezoids between the heights of its corners.  A box that fits
stands in a *run*: trapezoids on top of one another, from the one its bottom is in to the
one its top is in.  Within a run everything that limits the box is a straight line in its
resting height.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

Floats = NDArray[np.float64]

TOUCH = 1e-10  # m, two faces nearer than this are taken to touch rather than to overlap
LEVEL = 1e-9  # m, corners nearer than this in height are taken to be level


@dataclass(frozen=True)
class Line:
    """A boundary y = at + slope·z."""

    at: float
    slope: float

    def __call__(self, z: Floats) -> Floats:
        return self.at + self.slope * z


@dataclass(frozen=True)
class Trapezoid:
    """A slab of the free section between two heights and two straight sides."""

    low: float
    high: float
    left: Line
    right: Line

    def width_at(self, z: float) -> tuple[float, float]:
        return self.left.at + self.left.slope * z, self.right.at + self.right.slope * z

    @cached_property
    def widest(self) -> float:
        ends = (self.width_at(self.low), self.width_at(self.high))
        return max(right - left for left, right in ends)


@dataclass(frozen=True)
class Run:
    """Trapezoids one above the other; the box's bottom is in ``first``, its top in ``last``.

    ``left`` and ``right`` are the boundary's points (y, z) between them that a box must
    keep clear of, those only that a straight line can touch.  ``neck`` is the least depth
    of the section at the heights between ``first`` and ``last``.
    """

    first: Trapezoid
    last: Trapezoid
    left: Floats  # (P, 2)
    right: Floats  # (P, 2)
    neck: float


@dataclass(frozen=True)
class Boxes:
    """What of a box matters in its section: outer height, bottom depth, slopes of baffle and back."""

    height: Floats
    depth: Floats
    slope: Floats
    back: float

    def take(self, rows: NDArray[np.intp]) -> Boxes:
        return Boxes(self.height[rows], self.depth[rows], self.slope[rows], self.back)


def bounds(run: Run, box: Boxes, z: Floats) -> tuple[Floats, Floats]:
    """Least and greatest y of the bottom back corner when boxes stand at z in a run, (N,) each."""
    top = z + box.height
    left = np.maximum(run.first.left(z), run.last.left(top) - box.height * box.back)
    for y, height in run.left:
        left = np.maximum(left, y - (height - z) * box.back)
    right = np.minimum(run.first.right(z), run.last.right(top) - box.height * box.slope)
    for y, height in run.right:
        right = np.minimum(right, y - (height - z) * box.slope)
    return left, right - box.depth


def most_room(run: Run, box: Boxes) -> Floats:
    """Room that boxes cannot exceed in a run at any height, (N,) m: what their bottoms, tops and waists leave."""
    top = box.depth + box.height * (box.slope - box.back)
    ends = np.minimum(run.first.widest - box.depth, run.last.widest - top)
    most: Floats = np.minimum(ends, run.neck - np.minimum(box.depth, top))
    return most


def runs_of(pieces: Sequence[shapely.Polygon]) -> Iterator[Run]:
    """Every run of trapezoids of the free section, the lowest and then the rearmost start first."""
    slabs = _slabs(pieces)
    starts = [(level, trapezoid) for level, slab in enumerate(slabs) for trapezoid in slab]
    starts.sort(key=lambda start: (start[1].low, start[1].width_at(start[1].low)[0]))
    for level, first in starts:
        paths = [[first]]
        while paths:
            path = paths.pop(0)
            yield _run(path)
            above = level + len(path)
            if above < len(slabs):
                paths += [[*path, upper] for upper in slabs[above] if _meet(path[-1], upper)]


def _slabs(pieces: Sequence[shapely.Polygon]) -> list[list[Trapezoid]]:
    """The free section cut at the heights of all its corners, from the bottom up."""
    edges = []
    for piece in pieces:
        for ring in (piece.exterior, *piece.interiors):
            corners = np.asarray(ring.coords)
            edges += [(*a, *b) if a[1] < b[1] else (*b, *a) for a, b in pairwise(corners)]
    heights = np.unique([height for edge in edges for height in (edge[1], edge[3])])
    # Corners meant to be level differ by rounding: a slab as thin as that would cut a room in two.
    heights = heights[np.diff(heights, prepend=-np.inf) > LEVEL]
    slabs = []
    for low, high in pairwise(heights):
        middle = 0.5 * (low + high)
        lines = []
        for y0, z0, y1, z1 in edges:
            if z0 < middle < z1:
                slope = (y1 - y0) / (z1 - z0)
                lines.append(Line(y0 - slope * z0, slope))
        lines.sort(key=lambda line: line.at + line.slope * middle)
        pairs = zip(lines[0::2], lines[1::2], strict=True)
        slabs.append([Trapezoid(float(low), float(high), left, right) for left, right in pairs])
    return slabs


def _meet(lower: Trapezoid, upper: Trapezoid) -> bool:
    """Whether a box can stand across the height where two trapezoids touch."""
    below, above = lower.width_at(lower.high), upper.width_at(lower.high)
    return min(below[1], above[1]) - max(below[0], above[0]) > TOUCH


def _run(path: list[Trapezoid]) -> Run:
    left, right, neck = [], [], math.inf
    for trapezoid in path:
        for z in (trapezoid.low, trapezoid.high):
            # Below the first one's ceiling and above the last one's floor the box's own ends decide.
            below, above = trapezoid is path[0], trapezoid is path[-1]
            if (below and z == trapezoid.low) or (above and z == trapezoid.high):
                continue
            y = trapezoid.width_at(z)
            left.append((y[0], z))
            right.append((y[1], z))
            neck = min(neck, y[1] - y[0])
    return Run(path[0], path[-1], _hull(left, outward=1.0), _hull(right, outward=-1.0), neck)


def _hull(points: list[tuple[float, float]], *, outward: float) -> Floats:
    """Those of the points (y, z) that a straight side coming from below in ``outward``·y can touch."""
    kept: list[tuple[float, float]] = []
    nearest: dict[float, float] = {}
    for y, z in points:
        nearest[z] = max(nearest.get(z, -math.inf), outward * y)
    for z, y in sorted(nearest.items()):
        while len(kept) > 1 and _turns_in(kept[-2], kept[-1], (y, z)):
            kept.pop()
        kept.append((y, z))
    return np.array([(outward * y, z) for y, z in kept]).reshape(-1, 2)


def _turns_in(a: tuple[float, float], b: tuple[float, float], c: tuple[float, float]) -> bool:
    """Whether b lies on or below the straight line from a to c, points (y, z)."""
    return b[0] - a[0] <= (c[0] - a[0]) * (b[1] - a[1]) / (c[1] - a[1])
