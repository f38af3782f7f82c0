"""The ways vents can lie in a box, each tried in turn until one fits.

A vent through the left side panel lies along the width; its pipe passes braces through
holes.  Such vents stack in rows at the bottom or the top, or stand in the part of the width
that the drivers leave.  A vent through the drivers' own panel (the baffle, if the drivers
are in a side panel) stands square to it, or turns once, right behind the panel, and lies
along the width.  Every vent has one bore of free air before its inner mouth, and one bore
before its outer mouth: beside the box, or ahead of the baffle (common practice, no source).

Pipes along the width rest on blocks; straight pipes through the drivers' panel are no longer
inside than what needs no block (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.bends import elbow_centre_line, elbow_length
from engine.facings import DOWN
from engine.packing.contents import Contents
from engine.space.face import End, Places, places
from engine.space.vents import BENT, BESIDE, HIGH, LOW, SIDE, STRAIGHT, SUPPORT_SPAN, Found, Part, Pipes, Way
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Rows = NDArray[np.intp]

NO_WAY = -1.0  # m, slack of a way that this design does not have


# Through the side, along the width


def side_vent_at(
    wedges: Wedges, contents: Contents, *, number: Floats | int, columns: Floats, low: bool, at_back: bool, gap: float
) -> tuple[Floats, Floats, Floats]:
    """Centre (y, z) of a vent along the width, and the room left beside it, (N,) m each.

    Vents fill rows of ``columns`` from the bottom up (``low``) or the top down, each row
    from the back or from the baffle.
    """
    clear = 0.5 * contents.vent_rim + gap
    pitch = contents.vent_rim + gap
    level = np.floor(number / columns)
    along = (number - level * columns) * pitch
    floor = wedges.board + clear
    ceiling = wedges.outer_height - wedges.board - clear
    z = floor + level * pitch if low else ceiling - level * pitch
    rear = z * wedges.back_slope + (wedges.board + clear) * np.hypot(1.0, wedges.back_slope)
    front = wedges.bottom_depth + z * wedges.baffle_slope - (wedges.board + clear) * wedges.baffle_secant
    room = np.minimum(front - rear - along, ceiling - z if low else z - floor)
    return (rear + along if at_back else front - along), z, room


def block_at(
    wedges: Wedges, contents: Contents, *, number: int, columns: Floats, low: bool, at_back: bool, gap: float
) -> tuple[Floats, Floats]:
    """Corners (y, z), in order, of the block that carries a vent along the width, each (N, 4) m.

    It stands on a panel, or on the pipe in the row before, is as wide as the pipe and reaches
    to its axis; what pipes and panels take of it is cut away.
    """
    radius = 0.5 * contents.vent_outer
    y, z, _ = side_vent_at(wedges, contents, number=number, columns=columns, low=low, at_back=at_back, gap=gap)
    before = np.maximum(number - columns, 0.0)
    base_y, base_z, _ = side_vent_at(
        wedges, contents, number=before, columns=columns, low=low, at_back=at_back, gap=gap
    )
    on_panel = number < columns
    base_y = np.where(on_panel, y, base_y)
    base_z = np.where(on_panel, wedges.board if low else wedges.outer_height - wedges.board, base_z)
    corners_y = np.stack([base_y - radius, base_y + radius, y + radius, y - radius], axis=-1)
    return corners_y, np.stack([base_z, base_z, z, z], axis=-1)


def _side(part: Part, *, low: bool, at_back: bool, beside: bool, split: int) -> Way:
    """Vents along the width, in rows from the bottom or the top, each row from the back or from the baffle."""
    wedges, contents, gap = part.wedges, part.contents, part.gap
    diameter = contents.vent_outer
    on_panel = diameter * (0.5 * contents.vent_rim + gap) - 0.125 * np.pi * diameter**2
    on_pipe = diameter * part.pitch - 0.25 * np.pi * diameter**2
    columns = part.columns(split)
    at_panel = np.minimum(columns, contents.vent_count)
    pipes = part.along(at_panel * on_panel + (contents.vent_count - at_panel) * on_pipe)
    inner_end = pipes.length - wedges.board + contents.vent_inner
    run = wedges.inner_width - part.row.taken - inner_end
    if beside:
        run = np.minimum(run, part.row.slack_beside_run(inner_end))
    driver_low, driver_high = part.driver.low.copy(), part.driver.high.copy()
    above = np.where(contents.facing == DOWN, at_back, low)
    room = np.full(len(wedges), np.inf)
    for number in range(int(contents.vent_count.max())):
        there = number < contents.vent_count
        y, z, beside_it = side_vent_at(
            wedges, contents, number=number, columns=columns, low=low, at_back=at_back, gap=gap
        )
        room = np.where(there, np.minimum(room, beside_it), room)
        if beside:
            continue
        s, depth = part.face.of(y, z)
        reach = reach_along_panel(contents, depth=depth, radius=0.5 * contents.vent_rim, gap=gap, board=wedges.board)
        reach = np.where(there, reach, -np.inf)
        driver_low = np.where(above, np.maximum(driver_low, s + reach), driver_low)
        driver_high = np.where(above, driver_high, np.minimum(driver_high, s - reach))
    if not beside:
        tightest = np.minimum(np.minimum(room, run), np.minimum(part.outside, pipes.slack))
        fits = np.minimum(tightest, driver_high - driver_low - part.stack) >= 0.0
        carried = np.flatnonzero(fits & (pipes.blocks > 0.0))
        if carried.size:
            some = part.take(carried)
            clear = _clear_of_blocks(some, columns[carried], low=low, at_back=at_back)
            driver_low[carried] = np.where(
                above[carried], np.maximum(driver_low[carried], clear[1]), driver_low[carried]
            )
            driver_high[carried] = np.where(
                above[carried], driver_high[carried], np.minimum(driver_high[carried], clear[0])
            )
        room = np.minimum(room, driver_high - driver_low - part.stack)
        room = np.where(part.sideways, NO_WAY, room)
    return Way(
        placement=SIDE,
        where=BESIDE if beside else LOW if low else HIGH,
        columns=columns,
        low=low,
        at_back=at_back,
        pipes=pipes,
        room=room,
        run=run,
        outside=part.outside,
        driver_low=driver_low,
        driver_high=driver_high,
        vent_s=np.full(len(wedges), np.nan),
        inner_end=inner_end,
    )


def _clear_of_blocks(part: Part, columns: Floats, *, low: bool, at_back: bool) -> tuple[Floats, Floats]:
    """Places s nearest to which a driver stands clear of the blocks under all vents, below them and above, (N,) m."""
    contents = part.contents
    below, above = np.full(len(contents), np.inf), np.full(len(contents), -np.inf)
    for number in range(int(contents.vent_count.max())):
        there = number < contents.vent_count
        corners = block_at(
            part.wedges, contents, number=number, columns=columns, low=low, at_back=at_back, gap=part.gap
        )
        nearest, farthest = _beside_block(part, *corners)
        below = np.where(there, np.minimum(below, nearest), below)
        above = np.where(there, np.maximum(above, farthest), above)
    return below, above


def reach_along_panel(contents: Contents, *, depth: Floats, radius: Floats, gap: float, board: float) -> Floats:
    """How near along the panel a driver may come to a round thing along the width, (N,) m; -inf where it passes.

    Distance in s between the driver's axis and the thing's centre, which lies ``depth``
    behind the panel, when basket and magnet are just ``gap`` from it, and the air behind
    the magnet touches it: the outline of the driver's section moved outward.
    """
    hole, magnet = 0.5 * contents.cutout_diameter, 0.5 * contents.magnet_diameter
    neck, end = contents.neck(board), contents.reach(board)
    start = np.full(len(contents), board)
    clear = radius + gap
    reach = np.maximum(
        _reach_of(start, neck, hole, magnet, depth, clear),
        _reach_of(end, end + contents.rear_gap, magnet, magnet, depth, radius),
    )
    if np.isfinite(contents.magnet_depth).any():
        reach = np.maximum(reach, _reach_of(neck, end, magnet, magnet, depth, clear))
    return reach


def _reach_of(start: Floats, end: Floats, wide: Floats, narrow: Floats, depth: Floats, clear: Floats) -> Floats:
    """The same for a body that narrows evenly from half a width ``wide`` at ``start`` to ``narrow`` at ``end``."""
    taper = (wide - narrow) / np.maximum(end - start, 1e-6)
    touched = np.clip(depth - clear * taper / np.sqrt(1.0 + taper**2), start, end)
    squared = clear**2 - (depth - touched) ** 2
    reach = wide - (touched - start) * taper + np.sqrt(np.maximum(squared, 0.0))
    return np.where(squared > 0.0, reach, -np.inf)


def _beside_block(part: Part, y: Floats, z: Floats) -> tuple[Floats, Floats]:
    """Places s nearest to which a driver stands clear of a block, below it and above it, (N,) m.

    ``y`` and ``z`` (N, 4) are the block's corners.  The outline of the driver's section,
    moved outward by the gap, keeps its corners here instead of having them rounded.
    """
    contents, board = part.contents, part.wedges.board
    hole, magnet = 0.5 * contents.cutout_diameter, 0.5 * contents.magnet_diameter
    neck, end = contents.neck(board), contents.reach(board)
    taper = np.where(neck > board, hole - magnet, 0.0) / np.maximum(neck - board, 1e-6)
    aside = part.gap * np.sqrt(1.0 + taper**2)
    # Pieces of the outline: from and to which depth, half the width at either.
    basket_from, basket_to = board - part.gap, neck + part.gap
    pieces = (
        (basket_from, basket_to, hole + part.gap * taper + aside, magnet - part.gap * taper + aside),
        (neck - part.gap, end + part.gap, magnet + part.gap, magnet + part.gap),
        (end, end + contents.rear_gap, magnet, magnet),
    )
    below, above = np.full(len(contents), np.inf), np.full(len(contents), -np.inf)
    corners = [part.face.of(y[:, number], z[:, number]) for number in range(y.shape[1])]
    for (s, depth), (next_s, next_depth) in zip(corners, corners[1:] + corners[:1], strict=True):
        level = next_depth == depth
        slope = np.where(level, 0.0, next_s - s) / np.where(level, 1.0, next_depth - depth)
        for start, stop, wide, narrow in pieces:
            meets = np.maximum(np.minimum(depth, next_depth), start) < np.minimum(np.maximum(depth, next_depth), stop)
            for end_depth in (depth, next_depth):
                met = np.clip(end_depth, start, stop)
                at = s + (met - depth) * slope
                half = wide + (met - start) / np.maximum(stop - start, 1e-9) * (narrow - wide)
                below = np.where(meets, np.minimum(below, at - half), below)
                above = np.where(meets, np.maximum(above, at + half), above)
    return below, above


# Through the drivers' panel, square to it


def _straight_places(part: Part, pipes: Pipes) -> Places:
    """Places for one vent through the panel, the free air before its mouth included."""
    radius = 0.5 * part.contents.vent_rim
    ends = (
        End(radius, np.zeros(len(radius)), part.gap),
        End(radius, pipes.length, part.gap),
        End(radius, pipes.length + part.contents.vent_inner, 0.0),
    )
    return places(part.face, ends=ends, edge=radius + part.rules.round_over)


def vent_group(contents: Contents, *, columns: Floats, gap: float, board: float) -> tuple[Floats, Floats]:
    """Width that columns of vents take in a bay of their own, and in one shared with drivers."""
    own = gap + columns * (contents.vent_rim + gap)
    return own, own + max(0.5 * (board - gap), 0.0)


def _unsupported(part: Part, pipes: Pipes) -> Floats:
    return SUPPORT_SPAN - (pipes.length - part.wedges.board)


def _straight_beside(part: Part, *, split: int) -> Way:
    pipes = part.square()
    found = _straight_places(part, pipes)
    middle = 0.5 * part.face.length
    columns = part.columns(split)
    own, shared = vent_group(part.contents, columns=columns, gap=part.gap, board=part.wedges.board)
    stack = (np.ceil(part.contents.vent_count / columns) - 1.0) * part.pitch
    across = np.maximum(part.row.own_bay(own), part.row.shared_bay(shared))
    return Way(
        placement=STRAIGHT,
        where=BESIDE,
        columns=columns,
        low=True,
        at_back=False,
        pipes=pipes,
        room=np.minimum(np.minimum(across, found.height_slack), found.high - found.low - stack),
        run=np.minimum(found.depth_slack, _unsupported(part, pipes)),
        outside=part.outside_panel,
        driver_low=part.driver.low,
        driver_high=part.driver.high,
        vent_s=np.maximum(found.low, np.minimum(middle - 0.5 * stack, found.high - stack)),
        inner_end=np.zeros(len(part.wedges)),
    )


def _straight_in_a_row(part: Part, *, low: bool) -> Way:
    """Vents through the panel in one row below or above the drivers."""
    contents = part.contents
    pipes = part.square()
    found = _straight_places(part, pipes)
    bay, bays = part.row.even_bay()
    in_a_bay = np.ceil(contents.vent_count / bays)
    across = bay - part.gap - in_a_bay * part.pitch
    driver_low, driver_high, room = _clear_of_drivers(part, low=low, edge=found.low if low else found.high)
    return Way(
        placement=STRAIGHT,
        where=LOW if low else HIGH,
        columns=in_a_bay,
        low=low,
        at_back=False,
        pipes=pipes,
        room=np.minimum(np.minimum(across, found.height_slack), room),
        run=np.minimum(found.depth_slack, _unsupported(part, pipes)),
        outside=part.outside_panel,
        driver_low=driver_low,
        driver_high=driver_high,
        vent_s=found.low if low else found.high,
        inner_end=np.zeros(len(part.wedges)),
    )


def _clear_of_drivers(part: Part, *, low: bool, edge: Floats) -> tuple[Floats, Floats, Floats]:
    """Where drivers may stand above (``low``) or below vents in the same panel, and the room they then have.

    ``edge`` is the place s of the row of vents next to the drivers.
    """
    apart = 0.5 * (part.contents.widest + part.contents.vent_rim) + part.gap
    driver_low = np.maximum(part.driver.low, edge + apart) if low else part.driver.low
    driver_high = part.driver.high if low else np.minimum(part.driver.high, edge - apart)
    room = driver_high - driver_low - part.stack
    return driver_low, driver_high, np.where(part.sideways, NO_WAY, room)


# Through the drivers' panel, turned once, along the width


def bent_turn_depth(contents: Contents, board: float) -> Floats:
    """Depth behind the panel's outer face at which a pipe starts to turn, (N,) m.

    Behind board and flare, and so deep that the rim at the other end clears the board.
    """
    beside_rim = board + 0.5 * contents.vent_rim - np.nan_to_num(contents.elbow_radius)
    return np.maximum(np.maximum(board, contents.flare_radius), beside_rim)


def bent_leg_depth(contents: Contents, board: float) -> Floats:
    """Depth of the axis of a bent pipe's second leg behind the panel's outer face, (N,) m."""
    return bent_turn_depth(contents, board) + contents.elbow_radius


def bent_short_cut(contents: Contents) -> Floats:
    """By how much the air in a bend counts for less than its centre line, (N,) m; 0 where there is no bend."""
    bend = np.nan_to_num(contents.elbow_radius)
    return elbow_centre_line(radius=bend) - elbow_length(radius=bend, diameter=contents.vent_inner)


def bent_start(contents: Contents, *, gap: float) -> Floats:
    """Place x of a bent vent's outer mouth from the inner face of the left side, (N,) m."""
    return gap + 0.5 * contents.vent_rim


def bent_turned(contents: Contents, *, gap: float) -> Floats:
    """Place x from which on a bent vent, its rim too, lies along the width, from the same face, (N,) m."""
    return bent_start(contents, gap=gap) + np.maximum(contents.elbow_radius, 0.5 * contents.vent_rim)


def _bent(part: Part, *, where: int) -> Way:
    """Each pipe turns right behind the panel; the second legs lie along the width, one beside the other."""
    wedges, contents, gap = part.wedges, part.contents, part.gap
    none = np.isnan(contents.elbow_radius)
    outer, radius = contents.vent_outer, 0.5 * contents.vent_rim
    bend = np.where(none, radius, contents.elbow_radius)
    turn = bent_turn_depth(contents, wedges.board)
    support = contents.vent_count * (outer * (turn - wedges.board + bend) - 0.125 * np.pi * outer**2)
    pipes = part.along(support, short_cut=bent_short_cut(contents))
    leg = pipes.length - turn - elbow_centre_line(radius=bend)
    pipes = Pipes(
        pipes.length,
        np.where(none, -np.inf, np.minimum(pipes.slack, leg - contents.flare_radius)),
        pipes.taken,
        pipes.braces,
        pipes.window,
        pipes.blocks,
        pipes.supports,
    )
    zero = np.zeros(len(wedges))
    ends = (
        End(radius, zero, gap),
        End(radius, turn, gap),
        End(zero, turn + bend, radius + gap),
    )
    found = places(part.face, ends=ends, edge=radius + part.rules.round_over)
    stack = (contents.vent_count - 1.0) * part.pitch
    inner_end = bent_start(contents, gap=gap) + bend + leg + contents.vent_inner
    turned = bent_start(contents, gap=gap) + np.maximum(bend, radius)
    run = wedges.inner_width - part.row.taken - inner_end
    room = np.minimum(found.height_slack, found.high - found.low - stack)
    driver_low, driver_high = part.driver.low, part.driver.high
    if where == BESIDE:
        middle = 0.5 * part.face.length
        vent_s = np.maximum(found.low, np.minimum(middle - 0.5 * stack, found.high - stack))
        run = np.minimum(run, part.row.slack_beside_run(np.maximum(inner_end, turned + wedges.board)))
    else:
        low = where == LOW
        vent_s = found.low if low else found.high - stack
        edge = found.low + stack if low else found.high - stack
        driver_low, driver_high, clear = _clear_of_drivers(part, low=low, edge=edge)
        room = np.minimum(np.minimum(room, clear), part.row.slack_beyond(turned))
    return Way(
        placement=BENT,
        where=where,
        columns=np.ones(len(wedges)),
        low=where != HIGH,
        at_back=False,
        pipes=pipes,
        room=np.where(none, -np.inf, room),
        run=np.minimum(run, found.depth_slack),
        outside=part.outside_panel,
        driver_low=driver_low,
        driver_high=driver_high,
        vent_s=vent_s,
        inner_end=inner_end,
    )


@dataclass(frozen=True)
class Attempt:
    """A way to try: with which vent counts it differs from those before it, and how it is made."""

    placement: int
    least_vents: int
    make: Callable[[Part], Way]


SPLITS = ((1, 1), (2, 3), (0, 2))  # how vents are put in rows, and from how many on that is something new


def _attempts() -> Iterator[Attempt]:
    """Every way there is, the simplest to build first."""
    for low in (True, False):
        for split, least in SPLITS:
            for at_back in (True, False):
                yield Attempt(SIDE, least, partial(_side, low=low, at_back=at_back, beside=False, split=split))
    for low in (True, False):
        for split, least in SPLITS:
            yield Attempt(SIDE, least, partial(_side, low=low, at_back=True, beside=True, split=split))
    for split, least in SPLITS:
        yield Attempt(STRAIGHT, least, partial(_straight_beside, split=split))
    for low in (True, False):
        yield Attempt(STRAIGHT, 1, partial(_straight_in_a_row, low=low))
    for where in (LOW, HIGH, BESIDE):
        yield Attempt(BENT, 1, partial(_bent, where=where))


ATTEMPTS = tuple(_attempts())


def try_all(part: Part, rows: Rows, found: Found, *, worth: NDArray[np.bool_], thorough: bool) -> None:
    """Try the ways one after the other on the designs (numbers ``rows``) for which none fitted yet.

    Designs that are not ``worth`` it, because they fail for other reasons, are told by the
    first way alone how far their vents are from fitting.  Unless it is to be ``thorough``,
    ways that are out of the question are passed over; what fits is the same.
    """
    first, *others = ATTEMPTS
    found.keep_better(rows, first.make(part))
    possible = None if thorough else _possible(part)
    for attempt in others:
        asked = worth if possible is None else worth & possible[attempt.placement]
        asked = asked & (part.contents.vent_count >= attempt.least_vents)
        chosen = np.flatnonzero(asked & (found.slack[rows] < 0.0))
        if chosen.size:
            found.keep_better(rows[chosen], attempt.make(part.take(chosen)))


def _possible(part: Part) -> dict[int, NDArray[np.bool_]]:
    """For each placement the designs that it is not out of the question for, whatever the details, (N,)."""
    contents, width = part.contents, part.wedges.inner_width
    nothing = np.zeros(len(contents))
    along, square = part.along(nothing), part.square()
    bent = part.along(nothing, short_cut=bent_short_cut(contents))
    board, bend = part.wedges.board, np.nan_to_num(contents.elbow_radius, nan=np.inf)
    side = (along.length - board + contents.vent_inner <= width) & (part.outside >= 0.0)
    ahead = part.outside_panel >= 0.0
    return {
        SIDE: side & (along.slack >= 0.0),
        STRAIGHT: (square.slack >= 0.0) & (_unsupported(part, square) >= 0.0) & ahead,
        BENT: (bent.length - board >= elbow_centre_line(radius=bend)) & (bent.slack >= 0.0) & ahead,
    }
