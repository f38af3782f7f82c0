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

from typing import NamedTuple

import numpy as np

from engine.acoustics.bends import MITRE_SQUARES
from engine.acoustics.cavity import SLOT, SLOT_DOWN, SLOT_UP
from engine.acoustics.slots import FREE_OVER_FLUSH, full_width_end, mirrored_end
from engine.core.compiled import Table, compiled, table
from engine.facings import DOWN, FRONT, SIDEWAYS
from engine.packing import inside
from engine.packing.bays import columns_over, stand_braces, stand_drivers, widths_for
from engine.packing.box import BRACE_WINDOW_MOST, Box, clear_depth, depth_at
from engine.packing.contents import Batch, Contents
from engine.packing.cup import place_cup
from engine.packing.face import Places, driver_places, face_less, face_of
from engine.packing.inside import Given, Packed, Stage, begin, judge, next_attempt, row_across, settle
from engine.packing.opening import OpeningPacking
from engine.packing.placement import HIGH, LOW, NONE, NOWHERE, SLOT_BAFFLE, SLOT_SIDE
from engine.packing.ports import Across, put_port
from engine.packing.row import room_of, row_of, row_slack

NO_WAY = -1.0  # m, slack of a way that this design does not have
STEPS = 12  # of Newton's method for the length of a turn
SETTLED = 1e-9  # what is then left of the length, as a part of it


class Slot(NamedTuple):
    """The slot of one design, m; its outer ends are what the air before the mouth adds to the channel."""

    number: float
    height: float  # in the clear
    outer_low: float  # outer end of one at the bottom
    outer_high: float


class Slotted:
    """What a box has besides; numbers as in ``engine.packing.placement``."""

    vent_placement: int = NONE
    vent_where: int = NOWHERE
    vent_columns: int = 0
    vent_low: bool = False
    slot_width: float = np.nan  # m, depth of the channel from back to baffle
    slot_turn: float = 0.0  # m, leg along the right side panel, beyond the corner; 0 where it is straight
    slot_boards: float = 0.0  # m³ of board that it is built of


def sizes_of(contents: Contents, boxes: Table) -> Table:
    """A row of :class:`Slot` for each design."""
    height = contents.sizes["slot_height"]
    low, high = boxes.board + 0.5 * height, boxes.outer_height - boxes.board - 0.5 * height
    at_bottom, at_top = (np.maximum(depth_at(boxes, z), 1e-3) for z in (low, high))
    return table(
        Slot,
        len(contents),
        number=1.0,
        height=height,
        outer_low=mirrored_end(width=at_bottom, height=height, along_width=True),
        outer_high=mirrored_end(width=at_top, height=height, along_width=False),
    )


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
        edge = (box.board + channel.height) * box.baffle_secant + box.board * max(-lean, 0.0) + rules.gap
    left = face_less(given.face, driver.facing, taken, low)
    if low:
        return driver_places(box, left, driver, rules, taken, 0.0, edge, 0.0)
    return driver_places(box, left, driver, rules, 0.0, taken, 0.0, edge)


@compiled
def _try_way(
    given: Given,
    slot: Slot,
    stage: Stage,
    low: bool,
    in_baffle: bool,
    turned: bool,
    best: float,
    packed: Packed,
    own: Slotted,
) -> float:
    """Lay the slot one way and keep that where it has more room than ``best``; gives the most room so far, m."""
    box, driver, rules, around = given.box, given.driver, given.rules, given.around
    board, across, height = box.board, box.inner_width, slot.height
    channel = channel_of(box, height, low)
    width = max(channel.width, 1e-3)
    row = stage.row
    if turned:
        row = row_of(box, driver, rules, row.columns, max(row.taken, channel.taken))
    # Each brace is cut away as much as the channel takes of it, at least, whether it ends at the channel or not.
    area, window, plate_left = max(box.inner_area, 1e-9), box.window, np.inf
    if row.braces > 0.0:
        window = max(window, (channel.area + channel.board_area) / area)
    if window > BRACE_WINDOW_MOST:
        plate_left = np.sqrt(area) * (BRACE_WINDOW_MOST - window)
        window = BRACE_WINDOW_MOST
    braces = row.braces * box.inner_area * board * (1.0 - window)
    volume = stage.volume - braces
    # Through the panel: straight on, or round a corner right behind it.
    through, corner = (board * box.baffle_secant, width) if in_baffle else (board, 0.0)
    outer_end = slot.outer_low if low else slot.outer_high
    before = through - (1.0 - MITRE_SQUARES) * corner
    per_turn = rules.c / (2.0 * np.pi * around.tuning)
    wanted = width * height * (per_turn * per_turn)  # (L + ΔL)·V, m⁴
    free_end = FREE_OVER_FLUSH * full_width_end(height, box.inner_width if turned else box.inner_height)
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
    slack = min(min(existing, least), plate_left)
    outside = around.ahead / box.baffle_secant if in_baffle else stage.free_width - box.outer_width
    outside -= height
    room = min(min(run, outside), slack)
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
    packed.brace_count, packed.brace_volume, packed.brace_window = int(row.braces), braces, window
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
        for low in (True, False):
            for in_baffle in (False, True):
                worth = not tried or stage.sound or given.around.thorough
                if best < 0.0 and worth and (not low or given.driver.facing != DOWN):
                    best = _try_way(given, slot, stage, low, in_baffle, turned, best, packed, own)
                    tried = True
    if settle(given, stage, packed) and given.rules.cup:
        turn = own.slot_turn
        taken = slot.height + (turn + slot.height if turn > 0.0 else box.board)
        at_bottom, at_top = (taken, 0.0) if own.vent_low else (0.0, taken)
        place_cup(given, stage.in_a_column, cup_apart, at_bottom, at_top, packed)
    judge(packed)


@compiled
def pack(start: int, stop: int, chosen: Table, batch: Batch, sizes: Table, own: Table) -> None:
    """Pack the ``chosen`` boxes from number ``start`` to ``stop``, into the batch's ``packed`` and ``own``."""
    packed, best, own_best = batch.packed, batch.packed[:1].copy(), own[:1].copy()
    for number in range(start, stop):
        i = chosen[number]
        face = face_of(batch.boxes[i], batch.drivers[i].facing)
        given = Given(batch.boxes[i], batch.drivers[i], batch.rules[0], batch.around[i], face)
        in_column, cup_apart = 1, False
        while in_column > 0:
            _attempt(given, sizes[number], in_column, cup_apart, packed[i], own[i])
            if (in_column > 1 or cup_apart) and not packed[i].least > best[0].least:
                packed[i], own[i] = best[0], own_best[0]
            in_column, cup_apart = next_attempt(given, packed[i], in_column, cup_apart)
            if in_column > 0:
                best[0], own_best[0] = packed[i], own[i]


@compiled
def place(start: int, stop: int, chosen: Table, batch: Batch, across: Across, sizes: Table, own: Table) -> None:
    """Say where columns of drivers and braces stand across the ``chosen`` boxes, and the inner mouth's port.

    ``opening_x`` is where the channel's inner mouth lies across the width.
    """
    for number in range(start, stop):
        i = chosen[number]
        face = face_of(batch.boxes[i], batch.drivers[i].facing)
        given = Given(batch.boxes[i], batch.drivers[i], batch.rules[0], batch.around[i], face)
        packed, found = batch.packed[i], own[i]
        box, facing, row = given.box, given.driver.facing, row_across(given, packed)
        counts = columns_over(row, facing, packed.brace_count + 1)
        left, right = stand_braces(widths_for(row, counts, room_of(row), 0.0, 0.0), row.board, across.brace_x[i])
        stand_drivers(row, facing, left, right, 0, counts, across.column_x[i])
        if found.vent_placement != NONE:
            height, turn, port = sizes[number].height, found.slot_turn, across.ports[i, 0]
            through = box.board * box.baffle_secant if found.vent_placement == SLOT_BAFFLE else box.board
            if turn > 0.0:
                kind, inner, up = SLOT_UP, box.inner_width - 0.5 * height, height + turn
                if not found.vent_low:
                    kind = SLOT_DOWN
            else:
                kind, inner, up = SLOT, packed.vent_length - through, 0.5 * height
            across.opening_x[i, 0] = box.board + inner
            z = level_of(box, found.vent_low, up)
            inside = z - box.board
            y = box.corner + box.back_slope * inside + 0.5 * clear_depth(box, z)
            put_port(box, port, kind, True, box.board + inner, y, z, 0.5 * height)
            port.outer = 0.5 * height + box.board


PACKING = OpeningPacking(sizes_of=sizes_of, own=Slotted, pack=pack, place=place)
