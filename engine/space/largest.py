"""The box of largest gross volume that a space holds."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.space.free import Stretch
from engine.space.runs import LEVEL, Boxes, Floats, Run, bounds

# Heights tried at once, rounds of trying, what a round leaves of the range, and the part of
# the best that a run must reach in the first round to be looked at again.
GRID, ROUNDS, ZOOM, WORTH = 21, 9, 0.2, 0.6
STEEPEST = 1e6  # slope beyond which a baffle is not looked at


@dataclass(frozen=True)
class LargestBox:
    """The box of largest gross volume that a space holds, lengths in m.

    ``x`` is the outer face of its left side, from the left end of the space; ``y`` and
    ``z`` place its outer bottom back corner.
    """

    outer_width: float
    outer_height: float
    top_depth: float
    bottom_depth: float
    x: float
    y: float
    z: float
    gross_volume: float  # m³


@dataclass(frozen=True)
class _Shape:
    """What all boxes tried have in common: board (m), slope of the back, room kept free below (m)."""

    board: float
    back: float
    below: float


def largest_box(stretches: Sequence[Stretch], *, board: float, back_angle: float, below: float) -> LargestBox | None:
    """The box of largest gross volume in any stretch, or None if no box with an inside fits.

    It takes the whole width of its stretch.  For a given bottom and top height the
    rearmost back line and the best straight baffle line are exact: a straight line under
    the boundary's points has its highest value at mid height, less the t/cos θ its board
    takes, on an edge of their lower hull or where it turns about one corner of it; or
    where back and baffle meet at the inner bottom or top, which they may not cross.  The
    two heights are refined to better than 1e-4 of the volume.
    """
    shape = _Shape(board, math.tan(back_angle), below)
    runs = [(stretch, run) for stretch in stretches if stretch.width > 2.0 * board for run in stretch.runs]
    limits = [_inner_width(stretch, board) * _most_area(run, shape) for stretch, run in runs]
    # From the most promising run on, so that most of the others need not be looked at.
    most, rough = 0.0, []
    for number in sorted(range(len(runs)), key=lambda number: -limits[number]):
        if limits[number] > most:
            stretch, run = runs[number]
            volume = _inner_width(stretch, board) * _largest_in(run, shape, rounds=1)[0]
            rough.append((volume, number))
            most = max(most, volume)
    best: LargestBox | None = None
    for volume, number in sorted(rough, reverse=True):
        so_far = best.gross_volume if best is not None else 0.0
        if volume > 0.0 and volume >= WORTH * most and limits[number] > so_far:
            box = _box_in(*runs[number], shape)
            if box.gross_volume > so_far:
                best = box
    return best


def _inner_width(stretch: Stretch, board: float) -> float:
    return stretch.width - 2.0 * board


def _most_area(run: Run, shape: _Shape) -> float:
    """An inner section that no box in a run exceeds, m²: its height by its depth at mid height."""
    tall = run.last.high - run.first.low - shape.below - 2.0 * shape.board
    depth = 0.5 * (run.first.widest + run.last.widest)
    if shape.below > 0.0:  # then mid height is nearer to the top than to the lowest point
        depth = max(depth, run.last.widest)
    return max(tall, 0.0) * max(depth - shape.board * (1.0 + math.hypot(1.0, shape.back)), 0.0)


def _box_in(stretch: Stretch, run: Run, shape: _Shape) -> LargestBox:
    area, low, high = _largest_in(run, shape, rounds=ROUNDS)
    lowest, highest = np.array([low]), np.array([high])
    _, slope = _best_baffle(run, lowest, highest, shape)
    reaching = Boxes(height=highest - lowest, depth=np.zeros(1), slope=slope, back=shape.back)
    rear, front = bounds(run, reaching, lowest)
    depth, taper = float((front - rear)[0]), float(slope[0]) - shape.back
    return LargestBox(
        outer_width=stretch.width,
        outer_height=high - low - shape.below,
        top_depth=depth + taper * (high - low),
        bottom_depth=depth + taper * shape.below,
        x=stretch.low,
        y=float(rear[0]) + shape.back * shape.below,
        z=low + shape.below,
        gross_volume=_inner_width(stretch, shape.board) * area,
    )


def _largest_in(run: Run, shape: _Shape, *, rounds: int) -> tuple[float, float, float]:
    """Largest inner section in a run: area (m²; 0 if none), heights of the lowest point kept free and of the top."""
    low, high = (run.first.low, run.first.high), (run.last.low, run.last.high)
    best = (0.0, run.first.low, run.last.high)
    for _ in range(rounds):
        grids = np.meshgrid(np.linspace(*low, GRID), np.linspace(*high, GRID))
        lowest, top = (grid.ravel() for grid in grids)
        tall = top - lowest - shape.below - 2.0 * shape.board
        lowest, top, tall = lowest[tall > 0.0], top[tall > 0.0], tall[tall > 0.0]
        if not tall.size:
            break
        depth, _slope = _best_baffle(run, lowest, top, shape)
        area = tall * np.maximum(depth, 0.0)
        first = int(np.argmax(area))
        if area[first] > best[0]:
            best = (float(area[first]), float(lowest[first]), float(top[first]))
        low = _closer(low, best[1], (run.first.low, run.first.high))
        high = _closer(high, best[2], (run.last.low, run.last.high))
    return best


def _closer(ends: tuple[float, float], middle: float, limits: tuple[float, float]) -> tuple[float, float]:
    half = 0.5 * ZOOM * (ends[1] - ends[0])
    return max(middle - half, limits[0]), min(middle + half, limits[1])


@dataclass(frozen=True)
class _Limits:
    """What limits back and baffle of boxes that reach from one height to another, (N,) or (N, P) m.

    ``y`` are points of the boundary before the baffle, ``arm`` their heights over the
    box's mid height; ``rear`` is where the rearmost back passes mid height.  ``inner_end``
    and ``lowest_end`` are the heights over it of the inner top and of the lowest point.
    """

    y: Floats
    arm: Floats
    rear: Floats
    inner_end: Floats
    lowest_end: Floats

    def take(self, rows: NDArray[np.intp]) -> _Limits:
        return _Limits(self.y[rows], self.arm[rows], self.rear[rows], self.inner_end[rows], self.lowest_end[rows])


def _limits(run: Run, lowest: Floats, top: Floats, shape: _Shape) -> _Limits:
    back, count, middle = shape.back, len(lowest), 0.5 * (lowest + shape.below + top)
    ends = np.stack([run.first.right(lowest), run.last.right(top)], axis=1)
    rear = np.maximum(run.first.left(lowest) + (middle - lowest) * back, run.last.left(top) - (top - middle) * back)
    for left, height in run.left:
        rear = np.maximum(rear, left + (middle - height) * back)
    return _Limits(
        y=np.concatenate([ends, np.broadcast_to(run.right[:, 0], (count, len(run.right)))], axis=1),
        arm=np.concatenate(
            [np.stack([lowest - middle, top - middle], axis=1), run.right[:, 1] - middle[:, np.newaxis]], axis=1
        ),
        rear=rear,
        inner_end=0.5 * (top - lowest - shape.below) - shape.board,
        lowest_end=lowest - middle,
    )


def _best_baffle(run: Run, lowest: Floats, top: Floats, shape: _Shape) -> tuple[Floats, Floats]:
    """Greatest inner depth at mid height, and the baffle's slope, of boxes that reach from ``lowest`` to ``top``.

    The depth is -inf where there is one but back and baffle cross whatever the slope.  ``lowest`` is the
    bottom of what is kept free below the box; the baffle's line goes down to it.
    """
    limits = _limits(run, lowest, top, shape)
    y, arm = limits.y, limits.arm
    slopes = [np.zeros(len(lowest))]
    for one in range(y.shape[1]):
        slopes += [_ratio(y[:, one] - y[:, other], arm[:, one] - arm[:, other]) for other in range(one)]
        turn = np.clip(-arm[:, one] / shape.board, -0.999999, 0.999999)
        slopes.append(turn / np.sqrt(1.0 - turn**2))
    best, best_slope = _deepest(limits, slopes, shape, may_cross=True)
    crossed = np.flatnonzero((best > 0.0) & _crossing(limits, best, best_slope, shape))
    if crossed.size:
        # The depth is a concave function of the slope and the slopes at which nothing crosses are
        # an interval.  So the best of them is at an end of it, where something just meets.
        limits = limits.take(crossed)
        slopes = [slope for point in range(y.shape[1]) for slope in _meeting(limits, point, shape)]
        best[crossed], best_slope[crossed] = _deepest(limits, slopes, shape, may_cross=False)
    return best, best_slope


def _deepest(limits: _Limits, slopes: list[Floats], shape: _Shape, *, may_cross: bool) -> tuple[Floats, Floats]:
    """The greatest inner depth at mid height with any of some slopes, and that slope."""
    best, best_slope = np.full(len(limits.rear), -np.inf), np.zeros(len(limits.rear))
    for slope in slopes:
        front = np.min(limits.y - limits.arm * slope[:, np.newaxis], axis=1)
        depth = front - limits.rear - shape.board * (math.hypot(1.0, shape.back) + np.sqrt(1.0 + slope**2))
        more = depth > best
        if not may_cross:
            more &= ~_crossing(limits, depth, slope, shape)
        best, best_slope = np.where(more, depth, best), np.where(more, slope, best_slope)
    return best, best_slope


def _crossing(limits: _Limits, depth: Floats, slope: Floats, shape: _Shape) -> NDArray[np.bool_]:
    """Whether back and baffle cross inside the box, or their outer faces in the room below it."""
    taper = slope - shape.back
    outer = depth + shape.board * (math.hypot(1.0, shape.back) + np.sqrt(1.0 + slope**2))
    crossing: NDArray[np.bool_] = (depth - limits.inner_end * np.abs(taper) < -LEVEL) | (
        outer + limits.lowest_end * taper < -LEVEL
    )
    return crossing


def _meeting(limits: _Limits, point: int, shape: _Shape) -> Iterator[Floats]:
    """Slopes of baffles that touch one point of the boundary and meet the back at an end of the inside or the room.

    Inside, the depth is at + by·s less what the baffle of slope s takes, board·√(1 + s²).
    """
    board, back, arm = shape.board, shape.back, limits.arm[:, point]
    before = limits.y[:, point] - limits.rear
    for end in (limits.inner_end, -limits.inner_end):
        at, by = before - board * math.hypot(1.0, back) - end * back, end - arm
        root = board * np.sqrt(np.maximum(at**2 + by**2 - board**2, 0.0))
        yield _ratio(-at * by + root, by**2 - board**2)
        yield _ratio(-at * by - root, by**2 - board**2)
    yield _ratio(before - limits.lowest_end * back, arm - limits.lowest_end)


def _ratio(one: Floats, other: Floats) -> Floats:
    """One by the other; 0 for a slope steeper than any baffle's."""
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = one / other
    return np.where(np.abs(ratio) < STEEPEST, ratio, 0.0)
