"""A free section cut into runs: what a box can stand in, with straight limits only.

A section is cut into trapezoids between the heights of its corners.  A box that fits stands in a *run*: trapezoids on
top of one another, from the one its bottom is in to the one its top is in.  Within a run everything that limits the box
is a straight line in its resting height.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from itertools import pairwise
from typing import NamedTuple

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.arrays import Floats
from engine.core.compiled import borrowing, compiled

TOUCH = 1e-10  # m, two faces nearer than this are taken to touch rather than to overlap
LEVEL = 1e-9  # m, corners nearer than this in height are taken to be level


class Line(NamedTuple):
    """A boundary y = at + slope·z."""

    at: float
    slope: float


class Trapezoid(NamedTuple):
    """A slab of the free section between two heights and two straight sides; ``widest`` is its greater level side."""

    low: float
    high: float
    left: Line
    right: Line
    widest: float


class Run(NamedTuple):
    """Trapezoids one above the other; the box's bottom is in ``first``, its top in ``last``.

    ``left`` and ``right`` are the boundary's points (y, z) between them that a box must keep clear of, those only that
    a straight line can touch, (P, 2) each.  ``neck`` is the least depth at the heights between ``first`` and ``last``.
    """

    first: Trapezoid
    last: Trapezoid
    left: Floats
    right: Floats
    neck: float


class Box(NamedTuple):
    """What of a box matters in its section: outer height, bottom depth, slopes of baffle and back; m."""

    height: float
    depth: float
    slope: float
    back: float


class Runs(NamedTuple):
    """Runs as compiled code takes them, laid one after another in arrays; :func:`run_at` gives one back.

    ``ends`` holds the figures of their first and last trapezoids and the neck, ``points`` those of ``left``
    and ``right`` of each in turn, which begin at ``starts``.
    """

    ends: Floats  # (R, 15)
    points: Floats  # (P, 2)
    starts: NDArray[np.intp]  # (2R + 1,)


def laid_out(runs: Sequence[Run]) -> Runs:
    """Runs as arrays."""
    sides = [np.zeros((0, 2)), *(side for run in runs for side in (run.left, run.right))]
    ends = [[*_figures(run.first), *_figures(run.last), run.neck] for run in runs]
    return Runs(np.reshape(ends, (-1, 15)), np.concatenate(sides), np.cumsum([*map(len, sides)]))


def _figures(one: Trapezoid) -> tuple[float, ...]:
    return (one.low, one.high, *one.left, *one.right, one.widest)


@borrowing
def run_at(runs: Runs, number: int) -> Run:
    """One of some runs laid out in arrays."""
    e, starts = runs.ends[number], runs.starts[2 * number : 2 * number + 3]
    return Run(
        Trapezoid(e[0], e[1], Line(e[2], e[3]), Line(e[4], e[5]), e[6]),
        Trapezoid(e[7], e[8], Line(e[9], e[10]), Line(e[11], e[12]), e[13]),
        runs.points[starts[0] : starts[1]],
        runs.points[starts[1] : starts[2]],
        e[14],
    )


@compiled
def on(line: Line, z: float) -> float:
    """Where a boundary is at a height."""
    return line.at + line.slope * z


@borrowing
def bounds(run: Run, box: Box, z: float) -> tuple[float, float]:
    """Least and greatest y of the bottom back corner when a box stands at z in a run."""
    top = z + box.height
    left = max(on(run.first.left, z), on(run.last.left, top) - box.height * box.back)
    for point in range(len(run.left)):
        left = max(left, run.left[point, 0] - (run.left[point, 1] - z) * box.back)
    right = min(on(run.first.right, z), on(run.last.right, top) - box.height * box.slope)
    for point in range(len(run.right)):
        right = min(right, run.right[point, 0] - (run.right[point, 1] - z) * box.slope)
    return left, right - box.depth


@borrowing
def most_room(run: Run, box: Box) -> float:
    """Room that a box cannot exceed in a run at any height, m: what its bottom, top and waist leave."""
    top = box.depth + box.height * (box.slope - box.back)
    ends = min(run.first.widest - box.depth, run.last.widest - top)
    return min(ends, run.neck - min(box.depth, top))


def runs_of(pieces: Sequence[shapely.Polygon]) -> Iterator[Run]:
    """Every run of trapezoids of the free section, the lowest and then the rearmost start first."""
    slabs = _slabs(pieces)
    starts = [(level, trapezoid) for level, slab in enumerate(slabs) for trapezoid in slab]
    for level, first in sorted(starts, key=lambda start: (start[1].low, on(start[1].left, start[1].low))):
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
        slab = []
        for left, right in zip(lines[0::2], lines[1::2], strict=True):
            widest = max(on(right, z) - on(left, z) for z in (low, high))
            slab.append(Trapezoid(float(low), float(high), left, right, widest))
        slabs.append(slab)
    return slabs


def _meet(lower: Trapezoid, upper: Trapezoid) -> bool:
    """Whether a box can stand across the height where two trapezoids touch."""
    z = lower.high
    return min(on(lower.right, z), on(upper.right, z)) - max(on(lower.left, z), on(upper.left, z)) > TOUCH


def _run(path: list[Trapezoid]) -> Run:
    left, right, neck = [], [], math.inf
    for trapezoid in path:
        for z in (trapezoid.low, trapezoid.high):
            # Below the first one's ceiling and above the last one's floor the box's own ends decide.
            below, above = trapezoid is path[0], trapezoid is path[-1]
            if (below and z == trapezoid.low) or (above and z == trapezoid.high):
                continue
            rear, front = on(trapezoid.left, z), on(trapezoid.right, z)
            left.append((rear, z))
            right.append((front, z))
            neck = min(neck, front - rear)
    return Run(path[0], path[-1], _hull(left, outward=1.0), _hull(right, outward=-1.0), neck)


def _hull(points: list[tuple[float, float]], *, outward: float) -> Floats:
    """Those of the points (y, z) that a straight side coming from below in ``outward``·y can touch."""
    kept: list[tuple[float, float]] = []
    nearest: dict[float, float] = {}
    for y, z in points:
        nearest[z] = max(nearest.get(z, -math.inf), outward * y)
    for z, y in sorted(nearest.items()):
        while len(kept) > 1:
            (ay, az), (by, bz) = kept[-2:]
            if by - ay > (y - ay) * (bz - az) / (z - az):
                break
            kept.pop()  # it lies on the straight line from the last but one to this point, or below
        kept.append((y, z))
    return np.array([(outward * y, z) for y, z in kept]).reshape(-1, 2)
