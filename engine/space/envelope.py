"""What fits in the space a vehicle leaves free, and where it rests there.

Everything that limits a box is a straight line in its resting height as long as it stands
in one run of the free section (engine/space/runs.py), so the lowest place is found
exactly, without trying heights one by one.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property, reduce

import numpy as np
from numpy.typing import NDArray

from engine.parts import Space
from engine.space.door import door_violation
from engine.space.free import Stretch, stretches_of
from engine.space.largest import LargestBox, largest_box
from engine.space.runs import TOUCH, Boxes, Floats, Run, bounds, most_room
from engine.space.wedge import Wedges

__all__ = ["Envelope", "Fit", "LargestBox", "Stretch"]


@dataclass(frozen=True)
class Fit:
    """Where boxes rest in the space, arrays (N,), lengths in m.

    ``y`` and ``z`` place the outer bottom back corner.  ``violation`` is by how much the
    box is too wide, high or deep; 0 or less where it fits.  A box that does not fit stands
    where it comes nearest to fitting.  ``stretch`` numbers the stretch it stands in
    (``Envelope.stretches``), ``x_low`` and ``x_high`` are its ends: the box fits anywhere
    between them.  ``ahead`` is the free way straight ahead of the baffle, the margin there counted in,
    clearances and carpet not.  In a space with nothing free ``stretch`` is -1 and the places are nan.
    """

    y: Floats
    z: Floats
    violation: Floats
    x_low: Floats
    x_high: Floats
    ahead: Floats
    stretch: NDArray[np.intp]


class Envelope:
    """A space made ready to be asked what fits in it.

    Parameters
    ----------
    space
        Any simple polygon as cross-section, in either sense of rotation.
    covering
        Thickness in m of the carpet on every outer face of the box.  Sizes of boxes and
        their places are those of the bare boards.
    """

    def __init__(self, space: Space, *, covering: float = 0.0) -> None:
        self.space = space
        self.covering = covering
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

    def fit(self, wedges: Wedges, *, below: Floats | float = 0.0) -> Fit:
        """Find the widest stretch each box fits in, the lowest place there, and the rearmost at that height.

        Exact for straight back and baffle: a box is accepted where it lies in the free
        section to within 1e-10 m (the section's own corners are good to 1e-8 m).  For a box
        that fits nowhere the violation is the least depth it lacks at any resting height
        (plus the height it lacks), or the width it lacks if that is more, in the stretch in
        which that is least.

        ``below`` (N,) is the height in m kept free straight under the box, between its
        back and baffle drawn on downwards; where these would cross, back and baffle are
        taken to meet at its lower end.
        """
        count = len(wedges)
        below = np.broadcast_to(np.asarray(below, dtype=np.float64), (count,))
        box = _reaching(wedges, below)
        y, z, x_low, x_high = (np.full(count, np.nan) for _ in range(4))
        ahead = np.zeros(count)
        violation, chosen = np.full(count, np.inf), np.full(count, -1)
        for number, stretch in enumerate(self.stretches):
            too_wide = wedges.outer_width - stretch.width - TOUCH
            rows = np.flatnonzero((violation > 0.0) & (too_wide < violation))
            if not rows.size:
                continue
            rear, rest, lacking, room = _rest_in(stretch, box.take(rows), violation[rows])
            lacking = np.maximum(lacking, too_wide[rows])
            better = lacking < violation[rows]
            rows = rows[better]
            y[rows], z[rows], violation[rows] = rear[better], rest[better], lacking[better]
            ahead[rows] = np.maximum(room[better], 0.0) + self.space.margin
            x_low[rows], x_high[rows], chosen[rows] = stretch.low, stretch.high, number
        if self.is_empty:
            violation = np.maximum(wedges.outer_width, np.hypot(wedges.outer_height, wedges.outer_depth))
        return Fit(y + below * wedges.back_slope, z + below, violation, x_low, x_high, ahead, chosen)

    def door_violation(self, wedges: Wedges) -> Floats:
        """How much boxes are too big for the door opening, (N,) m; 0 where no door is stated.

        0 or less where a box passes; see engine/space/door.py for the ways it may be moved.
        """
        if self.space.door is None:
            return np.zeros(len(wedges))
        return door_violation(wedges, self.space.door, covering=self.covering)

    def largest(self, *, board: float, back_angle: float, below: float = 0.0) -> LargestBox | None:
        """The box of largest gross volume with ``below`` (m) kept free under it; None if none has an inside."""
        return largest_box(self.stretches, board=board, back_angle=back_angle, below=below)


def _reaching(wedges: Wedges, below: Floats) -> Boxes:
    """Boxes drawn on downwards along their backs and baffles by what is kept free below."""
    height = wedges.outer_height + below
    depth = np.where(below > 0.0, np.maximum(wedges.bottom_depth - wedges.taper * below, 0.0), wedges.bottom_depth)
    taper = np.where(below > 0.0, (wedges.top_depth - depth) / np.maximum(height, wedges.board), wedges.taper)
    return Boxes(height=height, depth=depth, slope=wedges.back_slope + taper, back=wedges.back_slope)


def _rest_in(stretch: Stretch, box: Boxes, bearable: Floats) -> tuple[Floats, Floats, Floats, Floats]:
    """Where boxes rest in a stretch, whatever their width: y, z, what they lack in height and depth, room ahead.

    A place where a box lacks no less than what is ``bearable`` is not looked for; where
    there is no other, the box lacks inf.
    """
    count = len(box.height)
    height = np.minimum(box.height, stretch.tallest)
    too_high = box.height - height
    box = Boxes(height, box.depth, box.slope, box.back)
    rest = np.full(count, np.inf)  # lowest place found so far
    y, z = np.full(count, np.nan), np.full(count, np.nan)
    room = too_high - bearable
    for run in stretch.runs:
        low = np.maximum(run.first.low, run.last.low - height)
        high = np.minimum(run.first.high, run.last.high - height)
        most = most_room(run, box)
        hopeful = (most >= -TOUCH) | (most > room)
        rows = np.flatnonzero((low <= high + TOUCH) & (low < rest - TOUCH) & hopeful)
        if rows.size:
            _settle(run, box.take(rows), low[rows], high[rows], rows, rest, y, z, room)
    lacking = np.where(too_high > 0.0, too_high + np.maximum(-room - TOUCH, 0.0), -room - TOUCH)
    return y, z, np.where(np.isnan(y), np.inf, lacking), room


def _settle(
    run: Run,
    box: Boxes,
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
    left, right = bounds(run, box, low)
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
        left, right = bounds(run, box, here)
        space_there = right - left
    fits_here = space_there >= -TOUCH
    better = np.where(fits_here, here < rest[rows], (space_there > room[rows]) & np.isinf(rest[rows]))
    chosen = rows[better]
    rest[chosen] = np.where(fits_here, here, np.inf)[better]
    y[chosen] = left[better]
    z[chosen] = here[better]
    room[chosen] = space_there[better]


def _lines(run: Run, box: Boxes) -> tuple[list[tuple[Floats, Floats]], list[tuple[Floats, Floats]]]:
    """The straight lines (value at z = 0, slope in z) whose maximum and minimum ``bounds`` takes."""
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


def _roomiest(run: Run, box: Boxes, low: Floats, high: Floats) -> tuple[Floats, Floats]:
    """The height between ``low`` and ``high`` with most room for each box, and that room.

    Room is concave and made of straight pieces in the resting height, so it is greatest at
    an end or where two lines of one side cross.
    """
    left, right = _lines(run, box)
    tries = [low, high]
    for side in (left, right):
        for one in range(len(side)):
            for other in range(one):
                apart = side[other][1] - side[one][1]
                crossing = (side[one][0] - side[other][0]) / np.where(apart != 0.0, apart, np.inf)
                tries.append(np.minimum(np.maximum(crossing, low), high))
    best_at, best = low, np.full_like(low, -np.inf)
    for z in tries:
        rearmost = reduce(np.maximum, (at + slope * z for at, slope in left))
        room = reduce(np.minimum, (at + slope * z for at, slope in right)) - rearmost - box.depth
        more = room > best
        best, best_at = np.where(more, room, best), np.where(more, z, best_at)
    return best_at, best


def _lowest(run: Run, box: Boxes, low: Floats, high: Floats) -> Floats:
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
