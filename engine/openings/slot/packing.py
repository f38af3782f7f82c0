"""Slot vents: a channel along the bottom or the top, from side to back to baffle built of the box's own walls.

One board closes the channel towards the box.  Its outer mouth lies in the left side panel, or in the baffle
at the left end, where the air turns at once; the window is then as wide as the channel is
deep.  Where the width is too short the channel turns once more, along the right side panel, as high across
as before.  Drivers and the terminal cup keep to the box beyond the board, braces end at it.

A corner right behind the window counts for 0.01 to 0.03 depths of the channel less than a mitred one
between long legs (flow with the air before the mouth solved on a grid [C]); that is left out.
Before either mouth one height of the channel is kept free (common practice, no source).  The box
is taken to stand on a floor, which lies beside a mouth at its bottom.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from engine.acoustics.bends import MITRE_SQUARES
from engine.acoustics.cavity import SLOT, SLOT_DOWN, SLOT_UP
from engine.acoustics.slots import FREE_OVER_FLUSH, full_width_end, mirrored_end
from engine.core.compiled import Table, compiled, table
from engine.facings import DOWN, FRONT, SIDEWAYS
from engine.packing import inside
from engine.packing.box import Box, clear_depth
from engine.packing.braces import no_pipes
from engine.packing.cup import place_cup
from engine.packing.face import Places, driver_places, face_less
from engine.packing.inside import (
    Given,
    Packed,
    Stage,
    begin,
    brace_for,
    judge,
    keep_braces,
    settle,
    stand_evenly,
)
from engine.packing.loops import packing, placing
from engine.packing.opening import OpeningPacking
from engine.packing.placement import HIGH, LOW, NONE, NOWHERE, SLOT_BAFFLE, SLOT_SIDE
from engine.packing.ports import Across, put_port
from engine.packing.row import Row, row_of, row_slack

NO_WAY = -1.0  # m, slack of a way that this design does not have
STEPS = 12  # of Newton's method for the length of a turn
SETTLED = 1e-9  # what is then left of the length, as a part of it


class Slot(NamedTuple):
    """The slot of one design, m."""

    number: float
    height: float  # in the clear


class Slotted:
    """What a box has besides; numbers as in ``engine.packing.placement``."""

    vent_placement: int = NONE
    vent_where: int = NOWHERE
    vent_columns: int = 0
    vent_low: bool = False
    slot_width: float = np.nan  # m, depth of the channel from back to baffle
    slot_turn: float = 0.0  # m, leg along the right side panel, beyond the corner; 0 where it is straight
    slot_boards: float = 0.0  # m³ of board that it is built of


def sizes_of(count: int, sizes: Mapping[str, Any], front: Any) -> Table:
    """A row of :class:`Slot` for each design."""
    return table(Slot, count, number=1.0, height=sizes["slot_height"])


class Channel(NamedTuple):
    """A channel at the bottom or the top of its box, m."""

    height: float
    low: bool
    width: float  # mean depth: the other side of the slot's mouth
    area: float  # m²
    board_area: float  # m², section of the board that closes it
    taken: float  # of the height inside, board included


@compiled
def level_of(box: Box, low: bool, k: float) -> float:
    """Height z at the distance ``k`` from the inner face of bottom or top, m."""
    return box.board + k if low else box.outer_height - box.board - k


@compiled
def _depth(box: Box, low: bool, k: float) -> float:
    """Clear depth from back to baffle there, m."""
    return clear_depth(box, level_of(box, low, k))


@compiled
def channel_of(box: Box, height: float, low: bool) -> Channel:
    """The channel of that ``height`` in the clear."""
    width = _depth(box, low, 0.5 * height)
    board_area = _depth(box, low, height + 0.5 * box.board) * box.board
    return Channel(height, low, width, width * height, board_area, height + box.board)


@compiled
def _leg(box: Box, channel: Channel, turn: float) -> tuple[float, float]:
    """Bore and board of a leg ``turn`` long along the right side panel, m³ each, the corner left out."""
    height, upright = channel.height, max(turn - box.board, 0.0)
    bore = height * turn * _depth(box, channel.low, height + 0.5 * turn)
    return bore, box.board * upright * _depth(box, channel.low, height + box.board + 0.5 * upright)


@compiled
def _counted(box: Box, channel: Channel, turn: float) -> float:
    """Length that the leg counts for in a channel as deep as the one before it, m: width·∫dk/depth."""
    start = max(_depth(box, channel.low, channel.height), 1e-3)
    growth = max(_depth(box, channel.low, channel.height + turn), 1e-3) / start - 1.0
    mean = 1.0 - 0.5 * growth if abs(growth) < 1e-6 else np.log1p(growth) / growth
    return channel.width * turn / start * mean


class Turn(NamedTuple):
    """A leg along the right side panel that tunes the box, m."""

    length: float
    end: float  # of its mouth, in a channel as deep as the one before the leg
    slack: float  # by which there is one


@compiled
def _mouth(box: Box, channel: Channel, turn: float) -> float:
    return max(_depth(box, channel.low, channel.height + turn), 1e-3)


@compiled
def _turn(box: Box, channel: Channel, inner_end: float, volume: float, wanted: float, before: float) -> Turn:
    """The leg that tunes the box.

    ``before`` is what counts up to the channel, the outer end included, m.  (L + ΔL)·V = ``wanted`` by Newton's
    method from no leg at all, which leads to the shorter of two lengths.
    """
    height, across = channel.height, box.inner_width
    volume -= channel.area * across + channel.board_area * (across - height)
    legs = before + (across - height + MITRE_SQUARES * height)
    end = inner_end * channel.width
    turn = 0.0
    for _ in range(STEPS):
        mouth = _mouth(box, channel, turn)
        bore, upright = _leg(box, channel, turn)
        effective, left = legs + _counted(box, channel, turn) + end / mouth, volume - bore - upright
        slope = max(left * channel.width / mouth - effective * channel.taken * mouth, 1e-4)
        before_step = turn
        turn = min(max(turn - (effective * left - wanted) / slope, 0.0), box.inner_height)
        if turn == before_step:
            break
    mouth = _mouth(box, channel, turn)
    bore, upright = _leg(box, channel, turn)
    effective, left = legs + _counted(box, channel, turn) + end / mouth, volume - bore - upright
    missing = abs(wanted / max(left, 1e-6) - effective)
    return Turn(turn, end / mouth, -missing if missing > SETTLED * abs(effective) else np.inf)


@compiled
def beyond_slot(given: Given, channel: Channel, in_baffle: bool) -> Places:
    """Places for one driver in what the channel leaves; off the window where it is in the same panel."""
    box, driver, rules, low, taken, edge = given.box, given.driver, given.rules, channel.low, channel.taken, 0.0
    if in_baffle and driver.facing == FRONT:
        # Cut level through a baffle that leans, the window is nearer to the middle on one of its faces.
        lean = box.baffle_slope if low else -box.baffle_slope
        edge = (box.board + channel.height) * box.baffle_secant + box.front * max(-lean, 0.0) + rules.gap
    left = face_less(given.face, driver.facing, taken, low)
    if low:
        return driver_places(box, left, driver, rules, taken, 0.0, edge, 0.0)
    return driver_places(box, left, driver, rules, 0.0, taken, 0.0, edge)


@compiled
def _outside(given: Given, stage: Stage, height: float, in_baffle: bool) -> float:
    """Air before the outer mouth beyond one height of the channel, m."""
    box, ahead = given.box, given.around.ahead
    before: float = ahead / box.baffle_secant if in_baffle else stage.free_width - box.outer_width
    return before - height


@compiled
def _try_way(
    given: Given,
    slot: Slot,
    stage: Stage,
    row: Row,
    free_end: float,
    low: bool,
    in_baffle: bool,
    turned: bool,
    best: float,
    packed: Packed,
    own: Slotted,
) -> float:
    """Lay the slot one way and keep that where it has more room than ``best``; gives the most room so far, m.

    ``free_end`` is what the air behind the inner mouth adds, m.
    """
    box, driver, rules, around = given.box, given.driver, given.rules, given.around
    board, across, height = box.board, box.inner_width, slot.height
    channel = channel_of(box, height, low)
    width = max(channel.width, 1e-3)
    # All braces end at the channel, or where it would go on.
    start, end = board, box.outer_height - board
    if low:
        start += channel.taken
    else:
        end -= channel.taken
    vent_air = channel.area * rules.vent_excess
    brace, air = brace_for(given, row.braces, row.columns, start, end, no_pipes(), vent_air)
    volume = stage.volume - row.braces * brace.board * board
    # Through the panel: straight on, or round a corner right behind it.
    through, corner = (box.front * box.baffle_secant, width) if in_baffle else (board, 0.0)
    outer_end = mirrored_end(width, height, low)
    before = through - (1.0 - MITRE_SQUARES) * corner
    per_turn = rules.c / (2.0 * np.pi * around.tuning)
    wanted = width * height * (per_turn * per_turn)  # (L + ΔL)·V, m⁴
    if turned:
        turn, inner_end, existing = _turn(box, channel, free_end, volume, wanted, before + outer_end)
        legs = across - height + _counted(box, channel, turn)
        acoustic, length = before + (legs + MITRE_SQUARES * height), through + (across - height + turn + height)
        least = turn - board
        run = min(min(box.inner_height - 2.0 * height - turn, row_slack(row)), across - 2.0 * height - corner)
        bore, upright = _leg(box, channel, turn)
        boards = channel.board_area * (across - height) + upright
        taken = channel.area * across + bore + boards
        if driver.facing == SIDEWAYS:
            run = NO_WAY
    else:
        turn, inner_end = 0.0, free_end
        section = channel.area + channel.board_area
        fixed = before + outer_end + inner_end
        at_hand = max(volume + section * fixed, 1e-6)
        root = np.sqrt(max(at_hand * at_hand - 4.0 * section * wanted, 0.0))
        run_inside = 2.0 * wanted / (at_hand + root) - fixed
        existing = at_hand / (2.0 * section) - 2.0 * wanted / at_hand
        acoustic, length = before + run_inside, through + run_inside
        least = run_inside - (corner + height if in_baffle else 0.0)
        run = across - row.taken - run_inside - height
        boards, taken = channel.board_area * run_inside, section * run_inside
    slack = min(existing, least)
    outside = _outside(given, stage, height, in_baffle)
    room = min(min(run, outside), min(slack, air))
    if not room > best:
        return best
    found = beyond_slot(given, channel, in_baffle)
    beside = min(min(found.height_slack, found.high - found.low) - stage.stack, min(found.depth_slack, channel.width))
    room = min(room, beside)
    if not room > best:
        return best
    packed.slacks[inside.VENT_LENGTH], packed.slacks[inside.VENT_ROOM] = slack, beside
    packed.slacks[inside.VENT_RUN], packed.slacks[inside.VENT_OUTSIDE] = run, outside
    # Where it leaves the drivers no place, the end of their interval is a point between.
    middle = 0.5 * (found.low + found.high)
    packed.driver_low, packed.driver_high = min(found.low, middle), max(found.high, middle)
    keep_braces(box, row.braces, start, end, brace, air, packed)
    packed.opening_volume, packed.end_taken = taken, row.taken
    packed.vent_length, packed.vent_acoustic_length = length, acoustic
    packed.vent_ends, packed.vent_outer_end = outer_end + inner_end, outer_end
    packed.vent_area = width * height
    packed.vent_bends = (1 if in_baffle else 0) + (1 if turned else 0)
    packed.vent_hydraulic = 2.0 * width * height / (width + height)
    own.vent_placement = SLOT_BAFFLE if in_baffle else SLOT_SIDE
    own.vent_where = LOW if low else HIGH
    own.vent_columns, own.vent_low = 1, low
    own.slot_width, own.slot_turn, own.slot_boards = width, turn, boards
    return room


@compiled
def _attempt(given: Given, slot: Slot, in_column: int, cup_apart: bool, packed: Packed, own: Slotted) -> None:
    """Try the ways one after the other, the simplest to build first, until one fits.

    Boxes whose drivers face down have the channel at the top.  A design that fails for other reasons is
    told by the first way alone how far it is from fitting.
    """
    box, stage = given.box, begin(given, in_column, cup_apart, 0.0, packed)
    best, tried = -np.inf, False
    own.vent_placement, own.vent_where, own.vent_columns, own.vent_low = NONE, NOWHERE, 0, False
    own.slot_width, own.slot_turn, own.slot_boards = np.nan, 0.0, 0.0
    for turned in (False, True):
        row, beyond, most, free_end = stage.row, box.inner_height, np.inf, np.nan
        if turned:
            row = row_of(box, given.driver, given.rules, row.columns, max(row.taken, slot.height + box.board))
            beyond, most = box.inner_width, NO_WAY if given.driver.facing == SIDEWAYS else row_slack(row)
        for low in (True, False):
            for in_baffle in (False, True):
                worth = not tried or stage.sound or given.around.thorough
                if best < 0.0 and worth and (not low or given.driver.facing != DOWN):
                    tried = True
                    # The costly part is left out where there is less room than the best way has, whatever comes of it.
                    if min(most, _outside(given, stage, slot.height, in_baffle)) > best:
                        if np.isnan(free_end):
                            free_end = FREE_OVER_FLUSH * full_width_end(slot.height, beyond)
                        best = _try_way(given, slot, stage, row, free_end, low, in_baffle, turned, best, packed, own)
    if settle(given, stage, packed) and given.rules.cup:
        turn = own.slot_turn
        taken = slot.height + (turn + slot.height if turn > 0.0 else box.board)
        at_bottom, at_top = (taken, 0.0) if own.vent_low else (0.0, taken)
        place_cup(given, stage.in_a_column, cup_apart, at_bottom, at_top, packed)
    judge(packed)


@compiled
def _stand(given: Given, slot: Slot, packed: Packed, own: Slotted, i: int, across: Across) -> None:
    """``opening_x`` is where the channel's inner mouth lies across the width."""
    stand_evenly(given, packed, across.brace_x[i], across.column_x[i])
    box = given.box
    if own.vent_placement != NONE:
        height, turn, port = slot.height, own.slot_turn, across.ports[i, 0]
        through = box.front * box.baffle_secant if own.vent_placement == SLOT_BAFFLE else box.board
        if turn > 0.0:
            kind, inner, up = SLOT_UP, box.inner_width - 0.5 * height, height + turn
            if not own.vent_low:
                kind = SLOT_DOWN
        else:
            kind, inner, up = SLOT, packed.vent_length - through, 0.5 * height
        across.opening_x[i, 0] = box.board + inner
        z = level_of(box, own.vent_low, up)
        inside = z - box.board
        y = box.corner + box.back_slope * inside + 0.5 * clear_depth(box, z)
        put_port(box, port, kind, True, box.board + inner, y, z, 0.5 * height)
        port.outer = 0.5 * height + box.board


PACKING = OpeningPacking(sizes_of=sizes_of, own=Slotted, pack=packing(_attempt), place=placing(_stand))
