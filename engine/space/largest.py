"""The box of largest gross volume that a space holds."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import NamedTuple

from engine.core.compiled import compiled
from engine.space.free import Stretch
from engine.space.runs import LEVEL, Box, Run, bounds, on

# Heights tried of either end, rounds of trying, what a round leaves of the range, and the part of
# the best that a run must reach in the first round to be looked at again.
GRID, ROUNDS, ZOOM, WORTH = 21, 9, 0.2, 0.6
STEEPEST = 1e6  # slope beyond which a baffle is not looked at


@dataclass(frozen=True)
class LargestBox:
    """The box of largest gross volume that a space holds, lengths in m.

    ``x`` is the outer face of its left side, from the left end of the space; ``y``, ``z`` its outer bottom back corner.
    """

    outer_width: float
    outer_height: float
    top_depth: float
    bottom_depth: float
    x: float
    y: float
    z: float
    gross_volume: float  # m³

    def upside_down(self, back_angle: float) -> LargestBox:
        """It where the space, which was on its head, stands upright; its back then leans by ``back_angle`` (rad)."""
        return replace(
            self,
            top_depth=self.bottom_depth,
            bottom_depth=self.top_depth,
            y=self.y - self.outer_height * math.tan(back_angle),
            z=-self.z - self.outer_height,
        )


class _Shape(NamedTuple):
    """What all boxes tried have in common: board (m), slope of the back, its 1/cos, room kept free below (m).

    No baffle has a greater slope than ``steepest`` either way, nowhere is the inside less deep than ``least`` (m).
    """

    board: float
    back: float
    secant: float
    below: float
    steepest: float
    least: float


class _Inside(NamedTuple):
    """The inner section of a box: its area (m², 0 if none), heights of the lowest point kept free and of the top."""

    area: float
    lowest: float
    top: float


class _Baffle(NamedTuple):
    """The inner depth (m) at mid height that a baffle leaves, -inf where there is none, and its slope."""

    depth: float
    slope: float


class _Limits(NamedTuple):
    """What limits back and baffle of a box that reaches from ``lowest`` to ``top``."""

    run: Run
    lowest: float
    top: float
    middle: float  # the box's mid height
    rear: float  # where the rearmost back passes it
    inner_end: float  # height over it of the inner top
    lowest_end: float  # and of the lowest point


class _Point(NamedTuple):
    """A point of the boundary before the baffle, and its height over the box's mid height."""

    y: float
    arm: float


def largest_box(
    stretches: Sequence[Stretch],
    *,
    board: float,
    back_angle: float,
    below: float,
    most_bevel: float,
    least_depth: float,
) -> LargestBox | None:
    """The box of largest gross volume in any stretch, or None if no box with an inside fits.

    No baffle slants by more than ``most_bevel`` (rad), and no inside is less deep than ``least_depth`` (m) anywhere.

    It takes the whole width of its stretch.  For a given bottom and top height the rearmost back line and the best
    straight baffle line are exact: a straight line under the boundary's points has its highest value at mid height,
    less the t/cos θ its board takes, on an edge of their lower hull or where it turns about one corner of it; or where
    back and baffle come as near as they may at the inner bottom or top; or where it is as steep as it may be.  The two
    heights are refined to better than 1e-4 of the volume.
    """
    back = math.tan(back_angle)
    shape = _Shape(board, back, math.hypot(1.0, back), below, math.tan(most_bevel), least_depth)
    runs = [(stretch, run) for stretch in stretches if stretch.width > 2.0 * board for run in stretch.runs]
    limits = [_inner_width(stretch, board) * _most_area(run, shape) for stretch, run in runs]
    # From the most promising run on, so that most of the others need not be looked at.
    most, rough = 0.0, []
    for number in sorted(range(len(runs)), key=lambda number: -limits[number]):
        if limits[number] > most:
            stretch, run = runs[number]
            rough.append((_inner_width(stretch, board) * _largest_in(run, shape, 1).area, number))
            most = max(most, rough[-1][0])
    best: LargestBox | None = None
    so_far = 0.0
    for volume, number in sorted(rough, reverse=True):
        if volume > 0.0 and volume >= WORTH * most and limits[number] > so_far:
            box = _box_in(*runs[number], shape)
            if box.gross_volume > so_far:
                best, so_far = box, box.gross_volume
    return best


def _inner_width(stretch: Stretch, board: float) -> float:
    return stretch.width - 2.0 * board


def _most_area(run: Run, shape: _Shape) -> float:
    """An inner section that no box in a run exceeds, m²: its height by its depth at mid height."""
    tall = run.last.high - run.first.low - shape.below - 2.0 * shape.board
    depth = 0.5 * (run.first.widest + run.last.widest)
    if shape.below > 0.0:  # then mid height is nearer to the top than to the lowest point
        depth = max(depth, run.last.widest)
    return max(tall, 0.0) * max(depth - shape.board * (1.0 + shape.secant), 0.0)


def _box_in(stretch: Stretch, run: Run, shape: _Shape) -> LargestBox:
    area, low, high = _largest_in(run, shape, ROUNDS)
    slope = _best_baffle(run, low, high, shape).slope
    rear, front = bounds(run, Box(high - low, 0.0, slope, shape.back), low)
    depth, taper = front - rear, slope - shape.back
    return LargestBox(
        outer_width=stretch.width,
        outer_height=high - low - shape.below,
        top_depth=depth + taper * (high - low),
        bottom_depth=depth + taper * shape.below,
        x=stretch.low,
        y=rear + shape.back * shape.below,
        z=low + shape.below,
        gross_volume=_inner_width(stretch, shape.board) * area,
    )


@compiled
def _largest_in(run: Run, shape: _Shape, rounds: int) -> _Inside:
    """The largest inner section in a run."""
    low, high = (run.first.low, run.first.high), (run.last.low, run.last.high)
    best = _Inside(0.0, run.first.low, run.last.high)
    for _ in range(rounds):
        for upper in range(GRID):
            top = _between(high, upper)
            for lower in range(GRID):
                lowest = _between(low, lower)
                tall = top - lowest - shape.below - 2.0 * shape.board
                if tall > 0.0:
                    area = tall * _best_baffle(run, lowest, top, shape).depth
                    if area > best.area:
                        best = _Inside(area, lowest, top)
        low = _closer(low, best.lowest, run.first.low, run.first.high)
        high = _closer(high, best.top, run.last.low, run.last.high)
    return best


@compiled
def _between(ends: tuple[float, float], step: int) -> float:
    """One of the heights tried from one end to the other."""
    return ends[1] if step == GRID - 1 else step * ((ends[1] - ends[0]) / (GRID - 1)) + ends[0]


@compiled
def _closer(ends: tuple[float, float], middle: float, lowest: float, highest: float) -> tuple[float, float]:
    """The heights of the next round, nearer to the best so far."""
    half = 0.5 * ZOOM * (ends[1] - ends[0])
    return max(middle - half, lowest), min(middle + half, highest)


@compiled
def _best_baffle(run: Run, lowest: float, top: float, shape: _Shape) -> _Baffle:
    """The baffle with the greatest inner depth at mid height, of boxes that reach from ``lowest`` to ``top``.

    ``lowest`` is the bottom of what is kept free below the box; the baffle's line goes down to it.
    """
    limits = _limits(run, lowest, top, shape)
    points = 2 + len(run.right)
    best = _deeper(limits, 0.0, _Baffle(-math.inf, 0.0), shape)
    for number in range(points):
        one = _point(limits, number)
        for before in range(number):
            other = _point(limits, before)
            best = _deeper(limits, _ratio(one.y - other.y, one.arm - other.arm), best, shape)
        turn = min(max(-one.arm / shape.board, -0.999999), 0.999999)
        best = _deeper(limits, turn / math.sqrt(1.0 - turn * turn), best, shape)
    if best.depth <= 0.0 or not _crossing(limits, best, shape):
        return best
    # The depth is a concave function of the slope and the slopes at which nothing crosses are
    # an interval.  So the best of them is at an end of it, where something just meets.
    best = _Baffle(-math.inf, 0.0)
    for number in range(points):
        point = _point(limits, number)
        at_top = _meeting(limits, point, limits.inner_end, shape)
        at_bottom = _meeting(limits, point, -limits.inner_end, shape)
        below = point.y - limits.rear - limits.lowest_end * shape.back  # where the outer faces meet in the room there
        for slope in (*at_top, *at_bottom, _ratio(below, point.arm - limits.lowest_end)):
            deeper = _deeper(limits, slope, best, shape)
            if not _crossing(limits, deeper, shape):
                best = deeper
    return best


@compiled
def _limits(run: Run, lowest: float, top: float, shape: _Shape) -> _Limits:
    middle = 0.5 * (lowest + shape.below + top)
    at_top = on(run.last.left, top) - (top - middle) * shape.back
    rear = max(on(run.first.left, lowest) + (middle - lowest) * shape.back, at_top)
    for point in range(len(run.left)):
        rear = max(rear, run.left[point, 0] + (middle - run.left[point, 1]) * shape.back)
    inner_end = 0.5 * (top - lowest - shape.below) - shape.board
    return _Limits(run, lowest, top, middle, rear, inner_end, lowest - middle)


@compiled
def _point(limits: _Limits, number: int) -> _Point:
    """One of the points that a baffle must not pass: where it ends, then those of the run between."""
    if number == 0:
        return _Point(on(limits.run.first.right, limits.lowest), limits.lowest - limits.middle)
    if number == 1:
        return _Point(on(limits.run.last.right, limits.top), limits.top - limits.middle)
    return _Point(limits.run.right[number - 2, 0], limits.run.right[number - 2, 1] - limits.middle)


@compiled
def _deeper(limits: _Limits, slope: float, best: _Baffle, shape: _Shape) -> _Baffle:
    """The best baffle so far, or that of some slope if it leaves a greater depth."""
    front, slope = math.inf, min(max(slope, -shape.steepest), shape.steepest)
    for number in range(2 + len(limits.run.right)):
        point = _point(limits, number)
        front = min(front, point.y - point.arm * slope)
    depth = front - limits.rear - shape.board * (shape.secant + math.sqrt(1.0 + slope * slope))
    return _Baffle(depth, slope) if depth > best.depth else best


@compiled
def _crossing(limits: _Limits, baffle: _Baffle, shape: _Shape) -> bool:
    """Whether back and baffle come too near each other inside the box, or their outer faces cross in the room below."""
    taper = baffle.slope - shape.back
    outer = baffle.depth + shape.board * (shape.secant + math.sqrt(1.0 + baffle.slope * baffle.slope))
    return (
        baffle.depth - limits.inner_end * abs(taper) < shape.least - LEVEL or outer + limits.lowest_end * taper < -LEVEL
    )


@compiled
def _meeting(limits: _Limits, point: _Point, end: float, shape: _Shape) -> tuple[float, float]:
    """Slopes of baffles that touch a point of the boundary and meet the back inside, ``end`` over mid height.

    The depth there, beyond the least, is at + by·s less what the baffle of slope s takes, board·√(1 + s²).
    """
    board = shape.board
    at, by = point.y - limits.rear - board * shape.secant - end * shape.back - shape.least, end - point.arm
    root = board * math.sqrt(max(at * at + by * by - board * board, 0.0))
    square = by * by - board * board
    return _ratio(-at * by + root, square), _ratio(-at * by - root, square)


@compiled
def _ratio(one: float, other: float) -> float:
    """One by the other; 0 for a slope steeper than any baffle's."""
    return one / other if abs(one) < STEEPEST * abs(other) else 0.0
