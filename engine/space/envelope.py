"""What the vehicle leaves free, and where a box rests in it.

The free section is the space's cross-section less the margin.  It is cut into trapezoids
between the heights of its corners.  A box that fits stands in a *run*: trapezoids on top
of one another, from the one its bottom is in to the one its top is in.  Within a run
everything that limits the box is a straight line in its resting height, so the lowest
place is found exactly, without trying heights one by one.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cached_property
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.parts import Space
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]

TOUCH = 1e-10  # m, two faces nearer than this are taken to touch rather than to overlap
LEVEL = 1e-9  # m, corners nearer than this in height are taken to be level
# At a corner that points into the space the margin's outline runs straight across this many
# margins away from it, or where its two sides meet if that is nearer.
MITRE_LIMIT = 2.0
# The largest box: heights tried at once, rounds of trying, what a round leaves of the range, and
# the part of the best that a run must reach in the first round to be looked at again.
LARGEST_GRID, LARGEST_ROUNDS, LARGEST_ZOOM, LARGEST_WORTH = 21, 9, 0.2, 0.6


@dataclass(frozen=True)
class Fit:
    """Where boxes rest in the space, arrays (N,) in m.

    ``y`` and ``z`` place the outer bottom back corner.  ``violation`` is by how much the
    box is too wide, high or deep; 0 or less where it fits.  A box that does not fit stands
    where it comes nearest to fitting.
    """

    y: Floats
    z: Floats
    violation: Floats


@dataclass(frozen=True)
class LargestBox:
    """The box of largest gross volume that a space holds, lengths in m."""

    outer_width: float
    outer_height: float
    top_depth: float
    bottom_depth: float
    y: float
    z: float
    gross_volume: float  # m³


@dataclass(frozen=True)
class _Line:
    """A boundary y = at + slope·z."""

    at: float
    slope: float

    def __call__(self, z: Floats) -> Floats:
        return self.at + self.slope * z


@dataclass(frozen=True)
class _Trapezoid:
    """A slab of the free section between two heights and two straight sides."""

    low: float
    high: float
    left: _Line
    right: _Line

    def width_at(self, z: float) -> tuple[float, float]:
        return self.left.at + self.left.slope * z, self.right.at + self.right.slope * z


@dataclass(frozen=True)
class _Run:
    """Trapezoids one above the other; the box's bottom is in ``first``, its top in ``last``.

    ``left`` and ``right`` are the boundary's points (y, z) between them that a box must
    keep clear of, those only that a straight line can touch.
    """

    first: _Trapezoid
    last: _Trapezoid
    left: Floats  # (P, 2)
    right: Floats  # (P, 2)


class Envelope:
    """A space made ready to be asked what fits in it.

    Parameters
    ----------
    space
        Any simple polygon as cross-section, in either sense of rotation.
    """

    def __init__(self, space: Space) -> None:
        self.space = space
        free = shapely.Polygon(space.section).buffer(-space.margin, join_style="mitre", mitre_limit=MITRE_LIMIT)
        self.free = shapely.remove_repeated_points(shapely.make_valid(free), 1e-9)
        self.free_width = space.width - 2.0 * space.margin
        parts = shapely.get_parts(self.free)
        self._pieces = [piece for piece in parts if piece.geom_type == "Polygon" and piece.area > 1e-8]
        self._runs = list(_runs_of(self._pieces))

    @property
    def is_empty(self) -> bool:
        """Whether the margin leaves nothing of the space."""
        return not self._runs or self.free_width <= 0.0

    @property
    def outlines(self) -> list[Floats]:
        """Corners (y, z) of each piece of the free section, each (K, 2)."""
        return [np.asarray(piece.exterior.coords)[:-1] for piece in self._pieces]

    @cached_property
    def extent(self) -> tuple[float, float, float]:
        """Free width, height and depth, in m: no box is larger in any of them."""
        left, low, right, high = self.free.bounds
        return self.free_width, high - low, right - left

    @cached_property
    def _tallest(self) -> float:
        return max(run.last.high - run.first.low for run in self._runs)

    def fit(self, wedges: Wedges) -> Fit:
        """Find the lowest place in the space for each box, the rearmost one at that height.

        Exact for straight back and baffle: a box is accepted where it lies in the free
        section to within 1e-10 m (the section's own corners are good to 1e-8 m).  For a box
        that fits nowhere the violation is the least depth it lacks at any resting height
        (plus the height it lacks), or the width it lacks if that is more.
        """
        too_wide = wedges.outer_width - self.free_width
        if not self._runs:
            nothing = np.full(len(wedges), np.nan)
            return Fit(nothing, nothing, np.maximum(too_wide, np.hypot(wedges.outer_height, wedges.outer_depth)))
        height = np.minimum(wedges.outer_height, self._tallest)
        too_high = wedges.outer_height - height
        box = _Boxes(height=height, depth=wedges.bottom_depth, slope=wedges.baffle_slope, back=wedges.back_slope)
        rest = np.full(len(wedges), np.inf)  # lowest place found so far
        y, z = np.zeros(len(wedges)), np.zeros(len(wedges))
        room = np.full(len(wedges), -np.inf)
        for run in self._runs:
            low = np.maximum(run.first.low, run.last.low - height)
            high = np.minimum(run.first.high, run.last.high - height)
            rows = np.flatnonzero((low <= high + TOUCH) & (low < rest - TOUCH))
            if rows.size:
                _settle(run, box.take(rows), low[rows], high[rows], rows, rest, y, z, room)
        lacking = np.where(too_high > 0.0, too_high + np.maximum(-room - TOUCH, 0.0), -room - TOUCH)
        return Fit(y, z, np.maximum(lacking, too_wide - TOUCH))

    def door_violation(self, wedges: Wedges) -> Floats:
        """How much boxes are too big for the door opening, (N,) m; 0 where no door is stated.

        The box goes through lengthwise: the two smaller of its outer width, height and
        depth (lean included) must pass, either way round.  Turning it at an angle is left out.
        """
        if self.space.door is None:
            return np.zeros(len(wedges))
        sizes: Floats = np.sort(np.stack([wedges.outer_width, wedges.outer_height, wedges.outer_depth]), axis=0)
        narrow, wide = sorted(self.space.door)
        violation: Floats = np.maximum(sizes[0] - narrow, sizes[1] - wide)
        return violation

    def largest(self, *, board: float, back_angle: float) -> LargestBox | None:
        """The box of largest gross volume, or None if no box with an inside fits.

        For a given bottom and top height the rearmost back line and the best straight
        baffle line are exact: a straight line under the boundary's points has its highest
        value at mid height, less the t/cos θ its board takes, either on an edge of their
        lower hull or where it turns about one corner of it.  The two heights are refined
        to better than 1e-4 of the volume.
        """
        if self.is_empty:
            return None
        back, width = math.tan(back_angle), self.free_width - 2.0 * board
        rough = [_largest_in(run, board=board, back=back, rounds=1) for run in self._runs]
        most = max(area for area, _, _ in rough)
        if most <= 0.0 or width <= 0.0:
            return None
        worth = [run for run, (area, _, _) in zip(self._runs, rough, strict=True) if area >= LARGEST_WORTH * most]
        found = [_largest_in(run, board=board, back=back, rounds=LARGEST_ROUNDS) for run in worth]
        area, low, high = max(found)
        run = worth[found.index((area, low, high))]
        bottom, top = np.array([low]), np.array([high])
        _, slope = _best_baffle(run, bottom, top, board=board, back=back)
        box = _Boxes(height=top - bottom, depth=np.zeros(1), slope=slope, back=back)
        left, right = _bounds(run, box, bottom)
        depth, y = float((right - left)[0]), float(left[0])
        return LargestBox(
            outer_width=self.free_width,
            outer_height=high - low,
            top_depth=depth + (float(slope[0]) - back) * (high - low),
            bottom_depth=depth,
            y=y,
            z=low,
            gross_volume=width * area,
        )


@dataclass(frozen=True)
class _Boxes:
    """What of a box matters in its section: outer height, bottom depth, slopes of baffle and back."""

    height: Floats
    depth: Floats
    slope: Floats
    back: float

    def take(self, rows: NDArray[np.intp]) -> _Boxes:
        return _Boxes(self.height[rows], self.depth[rows], self.slope[rows], self.back)


def _bounds(run: _Run, box: _Boxes, z: Floats) -> tuple[Floats, Floats]:
    """Least and greatest y of the bottom back corner when boxes stand at z in a run, (N,) each."""
    top = z + box.height
    left = np.maximum(run.first.left(z), run.last.left(top) - box.height * box.back)
    for y, height in run.left:
        left = np.maximum(left, y - (height - z) * box.back)
    right = np.minimum(run.first.right(z), run.last.right(top) - box.height * box.slope)
    for y, height in run.right:
        right = np.minimum(right, y - (height - z) * box.slope)
    return left, right - box.depth


def _settle(
    run: _Run,
    box: _Boxes,
    low: Floats,
    high: Floats,
    rows: NDArray[np.intp],
    rest: Floats,
    y: Floats,
    z: Floats,
    room: Floats,
) -> None:
    """Put boxes that may stand between ``low`` and ``high`` in a run at the lowest place that fits.

    ``rest, y, z, room`` (all N designs) are updated in ``rows`` where this run is better
    than what was found before: it fits and is lower, or comes nearer to fitting.
    """
    left, right = _bounds(run, box, low)
    here, space_there = low, right - left
    short = np.flatnonzero(space_there < -TOUCH)
    if short.size:
        at, most = _roomiest(run, box.take(short), low[short], np.maximum(high[short], low[short]))
        fits = np.flatnonzero(most >= -TOUCH)
        if fits.size:
            inner = short[fits]
            at[fits] = _lowest(run, box.take(inner), low[inner], at[fits])
        here = here.copy()
        here[short] = at
        left, right = _bounds(run, box, here)
        space_there = right - left
    fits_here = space_there >= -TOUCH
    better = np.where(fits_here, here < rest[rows], (space_there > room[rows]) & np.isinf(rest[rows]))
    chosen = rows[better]
    rest[chosen] = np.where(fits_here, here, np.inf)[better]
    y[chosen] = left[better]
    z[chosen] = here[better]
    room[chosen] = space_there[better]


def _lines(run: _Run, box: _Boxes) -> tuple[list[tuple[Floats, Floats]], list[tuple[Floats, Floats]]]:
    """The straight lines (value at z = 0, slope in z) whose maximum and minimum ``_bounds`` takes."""
    level = np.ones_like(box.height)
    left = [
        (run.first.left.at * level, run.first.left.slope * level),
        (run.last.left(box.height) - box.height * box.back, run.last.left.slope * level),
    ]
    if len(run.left):
        left.append((np.max(run.left[:, 0] - run.left[:, 1] * box.back) * level, box.back * level))
    right = [
        (run.first.right.at * level, run.first.right.slope * level),
        (run.last.right(box.height) - box.height * box.slope, run.last.right.slope * level),
    ]
    if len(run.right):
        points = run.right[:, 0] - run.right[:, 1] * box.slope[:, np.newaxis]
        right.append((np.min(points, axis=1), box.slope))
    return left, right


def _roomiest(run: _Run, box: _Boxes, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """The height between ``low`` and ``high`` with most room for each box, and that room.

    Room is concave and made of straight pieces in the resting height, so it is greatest at
    an end or where two lines of one side cross.
    """
    best_at = low
    left, right = _bounds(run, box, low)
    best = right - left
    tries = [high]
    for side in _lines(run, box):
        for one in range(len(side)):
            for other in range(one):
                with np.errstate(divide="ignore", invalid="ignore"):
                    crossing = (side[one][0] - side[other][0]) / (side[other][1] - side[one][1])
                tries.append(np.clip(np.nan_to_num(crossing, nan=0.0), low, high))
    for z in tries:
        left, right = _bounds(run, box, z)
        more = right - left > best
        best = np.where(more, right - left, best)
        best_at = np.where(more, z, best_at)
    return best_at, best


def _lowest(run: _Run, box: _Boxes, low: Floats, high: Floats) -> Floats:
    """The lowest height between ``low`` (no room) and ``high`` (room) at which each box has room."""
    left, right = _lines(run, box)
    z = low
    for left_at, left_slope in left:
        for right_at, right_slope in right:
            rise = right_slope - left_slope
            with np.errstate(divide="ignore", invalid="ignore"):
                from_here = (left_at + box.depth - right_at) / rise
            z = np.where(rise > 0.0, np.maximum(z, from_here), z)
    return np.minimum(z, high)


def _largest_in(run: _Run, *, board: float, back: float, rounds: int) -> tuple[float, float, float]:
    """Largest inner section in a run: area (m²; 0 if none), heights of the box's bottom and top."""
    low, high = (run.first.low, run.first.high), (run.last.low, run.last.high)
    best = (0.0, run.first.low, run.last.high)
    for _ in range(rounds):
        grids = np.meshgrid(np.linspace(*low, LARGEST_GRID), np.linspace(*high, LARGEST_GRID))
        bottom, top = (grid.ravel() for grid in grids)
        depth, _slope = _best_baffle(run, bottom, top, board=board, back=back)
        tall = top - bottom - 2.0 * board
        area = np.where((tall > 0.0) & (depth > 0.0), tall * depth, 0.0)
        first = int(np.argmax(area))
        if area[first] > best[0]:
            best = (float(area[first]), float(bottom[first]), float(top[first]))
        low = _closer(low, best[1], (run.first.low, run.first.high))
        high = _closer(high, best[2], (run.last.low, run.last.high))
    return best


def _closer(ends: tuple[float, float], middle: float, limits: tuple[float, float]) -> tuple[float, float]:
    half = 0.5 * LARGEST_ZOOM * (ends[1] - ends[0])
    return max(middle - half, limits[0]), min(middle + half, limits[1])


def _best_baffle(run: _Run, bottom: Floats, top: Floats, *, board: float, back: float) -> tuple[Floats, Floats]:
    """Greatest inner depth at mid height of boxes from ``bottom`` to ``top``, and the baffle's slope."""
    count = len(bottom)
    middle = 0.5 * (bottom + top)
    ends = np.stack([run.first.right(bottom), run.last.right(top)], axis=1)
    y = np.concatenate([ends, np.broadcast_to(run.right[:, 0], (count, len(run.right)))], axis=1)
    arm = np.concatenate(
        [np.stack([bottom - middle, top - middle], axis=1), run.right[:, 1] - middle[:, np.newaxis]], axis=1
    )
    slopes = [np.zeros(count)]
    for one in range(y.shape[1]):
        for other in range(one):
            apart = arm[:, one] - arm[:, other]
            slopes.append((y[:, one] - y[:, other]) / np.where(np.abs(apart) > 1e-12, apart, np.inf))
        turn = np.clip(-arm[:, one] / board, -0.999999, 0.999999)
        slopes.append(turn / np.sqrt(1.0 - turn**2))
    best, best_slope = np.full(count, -np.inf), np.zeros(count)
    for slope in slopes:
        depth = np.min(y - arm * slope[:, np.newaxis], axis=1) - board * np.sqrt(1.0 + slope**2)
        more = depth > best
        best, best_slope = np.where(more, depth, best), np.where(more, slope, best_slope)
    rearmost = np.maximum(run.first.left(bottom) + (middle - bottom) * back, run.last.left(top) - (top - middle) * back)
    for left, height in run.left:
        rearmost = np.maximum(rearmost, left + (middle - height) * back)
    return best - rearmost - board * math.hypot(1.0, back), best_slope


def _runs_of(pieces: list[shapely.Polygon]) -> Iterator[_Run]:
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


def _slabs(pieces: list[shapely.Polygon]) -> list[list[_Trapezoid]]:
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
                lines.append(_Line(y0 - slope * z0, slope))
        lines.sort(key=lambda line: line.at + line.slope * middle)
        pairs = zip(lines[0::2], lines[1::2], strict=True)
        slabs.append([_Trapezoid(float(low), float(high), left, right) for left, right in pairs])
    return slabs


def _meet(lower: _Trapezoid, upper: _Trapezoid) -> bool:
    """Whether a box can stand across the height where two trapezoids touch."""
    below, above = lower.width_at(lower.high), upper.width_at(lower.high)
    return min(below[1], above[1]) - max(below[0], above[0]) > TOUCH


def _run(path: list[_Trapezoid]) -> _Run:
    left, right = [], []
    for trapezoid in path:
        for z in (trapezoid.low, trapezoid.high):
            # Below the first one's ceiling and above the last one's floor the box's own ends decide.
            below, above = trapezoid is path[0], trapezoid is path[-1]
            if (below and z == trapezoid.low) or (above and z == trapezoid.high):
                continue
            y = trapezoid.width_at(z)
            left.append((y[0], z))
            right.append((y[1], z))
    return _Run(path[0], path[-1], _hull(left, outward=1.0), _hull(right, outward=-1.0))


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
