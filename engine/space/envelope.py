"""What fits in the space a vehicle leaves free, and where it rests there.

Everything that limits a box is a straight line in its resting height as long as it stands in one run of the free
section (engine/space/runs.py), so the lowest place is found exactly, without trying heights one by one.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from engine.arrays import Floats, Indices
from engine.core.compiled import borrowing, compiled, in_pieces
from engine.parts import Space
from engine.space.door import door_violation
from engine.space.free import stretches_of
from engine.space.largest import LargestBox, largest_box
from engine.space.runs import TOUCH, Box, Line, Run, Runs, bounds, laid_out, most_room, on, run_at
from engine.space.wedge import Wedges

NEAR = 1e-6  # m, a point that near to a section is in it


@dataclass(frozen=True)
class Fit:
    """Where boxes rest in the space, arrays (N,), lengths in m.

    ``y`` and ``z`` place the outer bottom back corner.  ``violation`` is by how much the box is too wide, high or deep;
    0 or less where it fits.  A box that does not fit stands where it comes nearest to fitting.  ``stretch`` numbers the
    stretch it stands in (``Envelope.stretches``), ``x_low`` and ``x_high`` are its ends: the box fits anywhere between
    them.  ``ahead`` is the free way straight ahead of the baffle, the margin there counted in, clearances and carpet
    not.  In a space with nothing free ``stretch`` is -1 and the places are nan.
    """

    y: Floats
    z: Floats
    violation: Floats
    x_low: Floats
    x_high: Floats
    ahead: Floats
    stretch: NDArray[np.intp]

    def take(self, rows: Indices) -> Fit:
        return Fit(**{name: each[rows] for name, each in vars(self).items()})


class Envelope:
    """A ``space`` made ready to be asked what fits in it: any simple polygon as cross-section, in either rotation.

    ``covering`` is the thickness in m of the carpet on every outer face of the box.  Sizes of boxes and their places
    are those of the bare boards.
    """

    def __init__(self, space: Space, *, covering: float = 0.0) -> None:
        self.space, self.covering = space, covering
        self.stretches = stretches_of(space, covering=covering)

    @property
    def is_empty(self) -> bool:
        """Whether margin, clearances and keep-outs leave nothing of the space."""
        return not self.stretches

    @cached_property
    def extent(self) -> tuple[float, float, float]:
        """Largest free width, height and depth, in m: no box is larger in any of them; 0 in an empty space."""
        boxes = [piece.bounds for stretch in self.stretches for piece in stretch.pieces]
        return (
            max((stretch.width for stretch in self.stretches), default=0.0),
            max((high - low for _, low, _, high in boxes), default=0.0),
            max((right - left for left, _, right, _ in boxes), default=0.0),
        )

    @cached_property
    def _arrays(self) -> _Stretches:
        """The stretches and their runs as compiled code takes them."""
        ends = [(one.low, one.high, one.tallest) for one in self.stretches]
        first = np.cumsum([0, *(len(one.runs) for one in self.stretches)])
        runs = [run for one in self.stretches for run in one.runs]
        return _Stretches(np.reshape(ends, (-1, 3)), first, laid_out(runs))

    @cached_property
    def upside_down(self) -> Envelope:
        """The same space on its head."""
        return Envelope(upside_down(self.space), covering=self.covering)

    def fit(self, wedges: Wedges, *, below: Floats | float = 0.0, above: Floats | float = 0.0) -> Fit:
        """Find the widest stretch each box fits in, the lowest place there, and the rearmost at that height.

        Exact for straight back and baffle: a box is accepted where it lies in the free section to within 1e-10 m (the
        section's own corners are good to 1e-8 m).  For a box that fits nowhere the violation is the least depth it
        lacks at any resting height (plus the height it lacks), or the width it lacks if that is more, in the stretch in
        which that is least.

        ``below`` and ``above`` (N,) are the heights in m kept free straight under and over the box, between its back
        and baffle drawn on; where these would cross, they are taken to meet at its lower or upper end.
        """
        count = len(wedges)
        free = (np.broadcast_to(np.asarray(each, dtype=np.float64), (count,)) for each in (below, above))
        outer = (wedges.outer_width, wedges.outer_height, wedges.bottom_depth, wedges.top_depth)
        sizes = np.stack([*outer, *free], axis=1)
        places, chosen = np.empty((count, 4)), np.empty(count, dtype=np.intp)
        in_pieces(_stand, count, sizes, wedges.board, wedges.back_slope, self._arrays, places, chosen)
        y, z, violation, room = places.T.copy()
        if self.is_empty:
            violation = np.maximum(wedges.outer_width, np.hypot(wedges.outer_height, wedges.outer_depth))
            return Fit(y, z, violation, y, y, room, chosen)
        x_low, x_high, _ = self._arrays.ends[chosen].T.copy()
        return Fit(y, z, violation, x_low, x_high, np.maximum(room, 0.0) + self.space.margin, chosen)

    def ahead(self, fit: Fit, wedges: Wedges, levels: Floats) -> Floats:
        """Free way straight ahead of the baffle at ``levels`` (N, Q) above the box's lower face, (N, Q) m.

        Of boxes that stand where ``fit`` put them; counted like ``Fit.ahead``, which is the least of all levels.
        """
        ways = np.empty(levels.shape)
        front = (fit.y + wedges.bottom_depth)[:, np.newaxis] + wedges.baffle_slope[:, np.newaxis] * levels
        in_pieces(_ways, len(wedges), fit.stretch, front, fit.z[:, np.newaxis] + levels, self._arrays, ways)
        return ways + self.space.margin

    def above(self, fit: Fit, wedges: Wedges) -> Floats:
        """Free height straight above the top panel, the least over its depth, (N,) m.

        Of boxes that stand where ``fit`` put them; counted like ``Fit.ahead``.
        """
        rear = fit.y + wedges.outer_height * wedges.back_slope
        place = np.stack([rear, rear + wedges.top_depth, fit.z + wedges.outer_height], axis=1)
        heights = np.empty(len(wedges))
        in_pieces(_heights, len(wedges), fit.stretch, place, self._arrays, heights)
        return heights + self.space.margin

    def over(self, fit: Fit, wedges: Wedges, places: Floats) -> Floats:
        """Free way straight up from the top at ``places`` (N, Q) forward of its rear edge, (N, Q) m; counted alike."""
        rear, top = fit.y + wedges.back_slope * wedges.outer_height, fit.z + wedges.outer_height
        ways, points = np.empty(places.shape), rear[:, np.newaxis] + places
        in_pieces(_rises, len(wedges), fit.stretch, points, top, self._arrays, ways)
        return ways + self.space.margin

    def door_violation(self, wedges: Wedges) -> Floats:
        """How much boxes are too big for the door (engine/space/door.py), (N,) m; 0 where no door is stated."""
        if self.space.door is None:
            return np.zeros(len(wedges))
        return door_violation(wedges, self.space.door, covering=self.covering)

    def largest(
        self, *, board: float, back_angle: float, below: float = 0.0, above: float = 0.0,
        most_bevel: float = 0.5 * math.pi, least_depth: float = 0.0,
    ) -> LargestBox | None:  # fmt: skip
        """The box of largest gross volume with ``below`` or ``above`` (m) kept free under or over it, or None.

        Its baffle slants by no more than ``most_bevel`` (rad), its inside is ``least_depth`` (m) deep at least.
        """
        limits = {"most_bevel": most_bevel, "least_depth": least_depth}
        if above > 0.0:
            found = self.upside_down.largest(board=board, back_angle=-back_angle, below=above, **limits)
            return found and found.upside_down(back_angle)
        return largest_box(self.stretches, board=board, back_angle=back_angle, below=below, **limits)


_Side = tuple[Line, Line, Line]  # what limits a box behind it, or before it


def upside_down(space: Space) -> Space:
    """A space on its head: what was z is then -z."""
    clearance, keepouts = space.clearance, space.keepouts
    return replace(
        space,
        section=tuple((y, -z) for y, z in space.section),
        clearance=replace(clearance, top=clearance.bottom, bottom=clearance.top),
        keepouts=tuple(replace(each, section=tuple((y, -z) for y, z in each.section)) for each in keepouts),
    )


class _Stretches(NamedTuple):
    """Stretches as compiled code takes them: their ends and the heights of their tallest runs, m; their runs."""

    ends: Floats  # (S, 3)
    first: NDArray[np.intp]  # (S + 1,), of each one's runs among all
    runs: Runs


class _Place(NamedTuple):
    """Where a box rests: y and z of its bottom back corner, what it lacks, the room ahead of it, m; its stretch."""

    y: float
    z: float
    lacking: float
    room: float
    stretch: int


@borrowing
def _stand(
    start: int, stop: int, sizes: Floats, board: float, back: float, stretches: _Stretches,
    places: Floats, chosen: NDArray[np.intp],
) -> None:  # fmt: skip
    """Put boxes of some ``sizes`` (N, 6: outer width and height, bottom and top depth, room below and above) in place.

    ``places`` (N, 4) takes y, z, what a box lacks and the room ahead of it, ``chosen`` (N,) its stretch.
    """
    for row in range(start, stop):
        below = sizes[row, 4]
        box = _reaching(sizes[row, 1], sizes[row, 2], sizes[row, 3], below, sizes[row, 5], board, back)
        place = _standing(sizes[row, 0], box, stretches)
        places[row, 0], places[row, 1] = place.y + below * back, place.z + below
        places[row, 2], places[row, 3] = place.lacking, place.room
        chosen[row] = place.stretch


@borrowing
def _ways(
    start: int,
    stop: int,
    chosen: Indices,
    y: Floats,
    z: Floats,
    stretches: _Stretches,
    ways: Floats,
) -> None:
    """Write the ``ways`` (N, Q) forward from points (N, Q) to where the free section ends; 0 from outside of it.

    Every trapezoid of a section begins a run.
    """
    first, ends = stretches.first, stretches.runs.ends
    for row in range(start, stop):
        for point in range(y.shape[1]):
            at, level, way = y[row, point], z[row, point], 0.0
            for number in range(first[max(chosen[row], 0)], first[chosen[row] + 1]):
                run = ends[number]
                if run[0] - NEAR <= level <= run[1] + NEAR and run[2] + run[3] * level <= at + NEAR:
                    way = max(way, run[4] + run[5] * level - at)
            ways[row, point] = way


@borrowing
def _heights(
    start: int, stop: int, chosen: NDArray[np.intp], place: Floats, stretches: _Stretches, heights: Floats
) -> None:
    """Write how far up the free section goes from level lines, ``place`` (N, 3): their ends y and their height z."""
    first, ends = stretches.first, stretches.runs.ends
    for row in range(start, stop):
        left, right, level = place[row, 0] + NEAR, place[row, 1] - NEAR, place[row, 2]
        rising = True
        while rising:
            rising = False
            for number in range(first[max(chosen[row], 0)], first[chosen[row] + 1]):
                run = ends[number]
                behind, before = run[2] + run[3] * level, run[4] + run[5] * level
                if run[0] - NEAR <= level < run[1] - NEAR and behind <= left and right <= before:
                    top = run[1]
                    if run[3] > 0.0:
                        top = min(top, (left - run[2]) / run[3])
                    if run[5] < 0.0:
                        top = min(top, (right - run[4]) / run[5])
                    rising, level = top >= run[1], max(top, level)
                    break
        heights[row] = level - place[row, 2]


@borrowing
def _rises(start: int, stop: int, chosen: Indices, y: Floats, z: Floats, stretches: _Stretches, ways: Floats) -> None:
    """Write the ``ways`` (N, Q) up from points y (N, Q) at heights z (N,) to where the free section ends; 0 from
    outside of it.
    """
    first, ends = stretches.first, stretches.runs.ends
    for row in range(start, stop):
        for point in range(y.shape[1]):
            at, top = y[row, point], z[row]
            for number in range(first[max(chosen[row], 0)], first[chosen[row] + 1]):
                run = ends[number]
                low, high = _below(run[2] - at, run[3], run[0], run[1])
                low, high = _below(at - run[4], -run[5], low, high)
                if low <= top + NEAR:
                    top = max(top, high)
            ways[row, point] = top - z[row]


@compiled
def _below(at: float, slope: float, low: float, high: float) -> tuple[float, float]:
    """The heights from ``low`` to ``high`` at which at + slope·z is no more than ``NEAR``; up to -inf where none is."""
    if slope > 0.0:
        high = min(high, (NEAR - at) / slope)
    elif slope < 0.0:
        low = max(low, (NEAR - at) / slope)
    elif at > NEAR:
        high = -math.inf
    return low, high if high >= low else -math.inf


@compiled
def _reaching(height: float, bottom: float, top: float, below: float, above: float, board: float, back: float) -> Box:
    """A box drawn on along its back and baffle by what is kept free below and above."""
    taper = (top - bottom) / max(height, board)
    if above > 0.0:
        height, top = height + above, max(top + taper * above, 0.0)
        taper = (top - bottom) / max(height, board)
    if below > 0.0:
        height, bottom = height + below, max(bottom - taper * below, 0.0)
        taper = (top - bottom) / max(height, board)
    return Box(height, bottom, back + taper, back)


@borrowing
def _standing(width: float, box: Box, stretches: _Stretches) -> _Place:
    """Where a box rests in the first stretch that holds it, or in that in which it lacks least."""
    best = _Place(math.nan, math.nan, math.inf, 0.0, -1)
    for number in range(len(stretches.ends)):
        too_wide = width - (stretches.ends[number, 1] - stretches.ends[number, 0]) - TOUCH
        if too_wide < best.lacking:
            place = _resting(box, stretches, number, best.lacking)
            lacking = max(place.lacking, too_wide)
            if lacking < best.lacking:
                best = _Place(place.y, place.z, lacking, place.room, number)
            if best.lacking <= 0.0:
                break
    return best


@borrowing
def _resting(box: Box, stretches: _Stretches, number: int, bearable: float) -> _Place:
    """The lowest place for a box in a stretch, whatever its width, or where it comes nearest to fitting.

    A place where it lacks no less than what is ``bearable`` is not looked for; where there is no other, it lacks inf.
    """
    height = min(box.height, stretches.ends[number, 2])
    too_high = box.height - height
    box = Box(height, box.depth, box.slope, box.back)
    y, z, room, rest = math.nan, math.nan, too_high - bearable, math.inf
    for index in range(stretches.first[number], stretches.first[number + 1]):
        run = run_at(stretches.runs, index)
        if run.first.low >= rest - TOUCH:
            break  # runs come the lowest first
        low = max(run.first.low, run.last.low - height)
        high = min(run.first.high, run.last.high - height)
        most = most_room(run, box)
        if low > high + TOUCH or low >= rest - TOUCH or (most < -TOUCH and most <= room):
            continue
        here = _settling(run, box, low, max(high, low))
        left, right = bounds(run, box, here)
        if right - left >= -TOUCH:
            if here < rest:
                y, z, room, rest = left, here, right - left, here
        elif right - left > room and math.isinf(rest):
            y, z, room = left, here, right - left
    lacking = -room - TOUCH
    if math.isnan(y):
        lacking = math.inf
    elif too_high > 0.0:
        lacking = too_high + max(lacking, 0.0)
    return _Place(y, z, lacking, room, number)


class _Tried(NamedTuple):
    """A height tried and the room there, m."""

    z: float
    room: float


@compiled
def _settling(run: Run, box: Box, low: float, high: float) -> float:
    """The lowest height between ``low`` and ``high`` at which a box has room in a run, else that with most.

    Room is concave and made of straight pieces in the resting height, so it is greatest at
    an end or where two lines of one side cross.
    """
    left, right = bounds(run, box, low)
    if right - left >= -TOUCH:
        return low
    rear, front = _rear(run, box), _front(run, box)
    most = _roomier(_Tried(low, -math.inf), low, rear, front, box.depth)
    most = _roomier(most, high, rear, front, box.depth)
    for side in (rear, front):
        for one in range(3):
            for other in range(one):
                apart = side[other].slope - side[one].slope
                if apart != 0.0:
                    crossing = (side[one].at - side[other].at) / apart
                    most = _roomier(most, min(max(crossing, low), high), rear, front, box.depth)
    if most.room < -TOUCH:
        return most.z
    lowest = low
    for behind in rear:
        for before in front:
            rise = before.slope - behind.slope
            if rise > 0.0:
                lowest = max(lowest, (behind.at + box.depth - before.at) / rise)
    return min(lowest, most.z)


@compiled
def _roomier(most: _Tried, z: float, rear: _Side, front: _Side, depth: float) -> _Tried:
    """Whichever has more room for a box of some depth at its bottom: the best height so far or ``z``."""
    rearmost = max(on(rear[0], z), on(rear[1], z), on(rear[2], z))
    room = min(on(front[0], z), on(front[1], z), on(front[2], z)) - rearmost - depth
    return _Tried(z, room) if room > most.room else most


@compiled
def _rear(run: Run, box: Box) -> _Side:
    """The straight lines in the resting height whose maximum is the left of ``bounds``; -inf where no point limits."""
    most = -math.inf
    for point in range(len(run.left)):
        most = max(most, run.left[point, 0] - run.left[point, 1] * box.back)
    top = Line(on(run.last.left, box.height) - box.height * box.back, run.last.left.slope)
    return run.first.left, top, Line(most, box.back)


@compiled
def _front(run: Run, box: Box) -> _Side:
    """The straight lines whose minimum is the right of ``bounds``, the box's depth left out; inf where none limits."""
    least = math.inf
    for point in range(len(run.right)):
        least = min(least, run.right[point, 0] - run.right[point, 1] * box.slope)
    top = Line(on(run.last.right, box.height) - box.height * box.slope, run.last.right.slope)
    return run.first.right, top, Line(least, box.slope)
