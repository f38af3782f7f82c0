"""Passive radiators in the drivers' panel: where they stand, in the same row to the left of the drivers."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from engine.acoustics.cavity import BOTTOM, FACE
from engine.core.compiled import Table, compiled, table
from engine.facings import DOWN, SIDEWAYS
from engine.packing import bays, inside
from engine.packing.box import Box
from engine.packing.contents import Allowances, Driver
from engine.packing.cup import place_cup
from engine.packing.face import Face, Places, at_face, clear, flange_edge, off_joints, places, within
from engine.packing.inside import Given, Packed, begin, judge, row_across, settle, stand_whole_braces
from engine.packing.loops import packing, placing
from engine.packing.opening import OpeningPacking
from engine.packing.ports import Across, put_port
from engine.packing.row import WHOLE, Row, half_bay, in_a_bay


class Radiators(NamedTuple):
    """The passive radiators of one design, all alike, m."""

    number: float
    flange: float  # diameter
    cutout: float  # diameter
    reach: float  # depth behind the panel's outer face, added mass included, never less than the panel
    displacement: float  # m³, one radiator


class WithRadiators:
    """What a box has besides."""

    radiator_s: float = np.nan  # centre of the radiators along the drivers' panel (the baffle), m


def sizes_of(count: int, sizes: Mapping[str, Any], front: Any) -> Table:
    """A row of :class:`Radiators` for each design."""
    return table(
        Radiators,
        count,
        number=sizes["radiator_count"],
        flange=sizes["radiator_outer"],
        cutout=sizes["radiator_cutout"],
        reach=np.maximum(sizes["radiator_depth"], front),
        displacement=sizes["radiator_displacement"],
    )


class SharedRow(NamedTuple):
    """A row with passive radiators, one in a column, to the left of the drivers' columns, m.

    They share one bay where panels need no brace (``together``); else ``bays`` hold radiators,
    then ``driver_bays`` drivers.
    """

    half: float  # from a radiator's centre to the end of its bay, at least
    pitch: float  # between radiators in one bay
    between: float  # from a radiator to the driver beside it in one bay
    together: bool
    braces: float
    bays: float
    driver_bays: float
    room: float  # width of all bays together
    slack: float  # of that left when every bay has what it needs


@compiled
def radiator_places(box: Box, face: Face, facing: int, radiators: Radiators, rules: Allowances) -> Places:
    """Places s for one passive radiator, a body as wide as its cut-out, in the drivers' panel or the baffle."""
    hole, edge = 0.5 * radiators.cutout, 0.5 * radiators.flange + flange_edge(box, facing, rules)
    limits = within(face, edge, edge)
    limits = off_joints(limits, face, radiators.cutout, radiators.flange, box.front, rules.wood)
    limits = clear(limits, face, hole, 0.0, rules.gap)
    limits = clear(limits, face, hole, radiators.reach, rules.gap)
    return places(limits, face)


@compiled
def shared_row_of(row: Row, driver: Driver, radiators: Radiators, rules: Allowances) -> SharedRow:
    """Set out the columns of a ``row`` with the radiators beside them, by the same rules."""
    gap, board = rules.gap, row.board
    widest = max(radiators.flange, radiators.cutout)
    half = half_bay(radiators.cutout, radiators.cutout, radiators.flange, rules, board)
    pitch = widest + gap
    if driver.facing == SIDEWAYS:
        between = half + row.half
    else:
        between = max(0.5 * (widest + driver.widest) + gap, 0.5 * radiators.cutout + row.half)
    count, width = radiators.number, row.inner_width - row.taken
    fewest = np.ceil(count / in_a_bay(max(row.panel_span, 2.0 * half), half, pitch) - WHOLE)
    fewest_drivers = np.ceil(row.columns / in_a_bay(row.span, row.half, row.pitch) - WHOLE)
    for_panels = np.ceil((width - row.panel_span) / (row.panel_span + board) - WHOLE)
    together = width <= row.panel_span
    braces = 0.0 if together else max(for_panels, fewest + fewest_drivers - 1.0)
    driver_bays = min(row.columns, max(braces + 1.0 - fewest, 1.0))
    bays = min(count, max(braces + 1.0 - driver_bays, 1.0))
    if together:
        need = half + (count - 1.0) * pitch + between + (row.columns - 1.0) * row.pitch + row.half
    else:
        need = 2.0 * half * bays + (count - bays) * pitch
        need = need + 2.0 * row.half * driver_bays + (row.columns - driver_bays) * row.pitch
        if braces + 1.0 > bays + driver_bays:
            need = need + row.last
    room = width - braces * board
    return SharedRow(half, pitch, between, together, braces, bays, driver_bays, room, room - need)


@compiled
def _attempt(
    given: Given, radiators: Radiators, in_column: int, cup_apart: bool, packed: Packed, own: WithRadiators
) -> None:
    face, rules = given.face, given.rules
    stage = begin(given, in_column, cup_apart, radiators.number * radiators.displacement, packed)
    both, found = (
        shared_row_of(stage.row, given.driver, radiators, rules),
        radiator_places(given.box, face, given.driver.facing, radiators, rules),
    )
    packed.slacks[inside.RADIATOR_HEIGHT] = min(found.height_slack, found.high - found.low)
    packed.slacks[inside.RADIATOR_DEPTH] = found.depth_slack
    packed.slacks[inside.RADIATOR_ROW] = both.slack
    # Radiators move about as much air as drivers do.
    stand_whole_braces(given, both.braces, 1.0, given.driver.stirred, packed)
    own.radiator_s = min(max(0.5 * face.length, found.low), found.high)
    if settle(given, stage, packed) and rules.cup:
        place_cup(given, stage.in_a_column, cup_apart, 0.0, 0.0, packed)
    judge(packed)


@compiled
def _stand(given: Given, radiators: Radiators, packed: Packed, own: WithRadiators, i: int, across: Across) -> None:
    x, column_x, box, facing = across.opening_x[i], across.column_x[i], given.box, given.driver.facing
    row, count = row_across(given, packed), int(radiators.number)
    both = shared_row_of(row, given.driver, radiators, given.rules)
    if both.together:
        _stand_together(row, facing, both, count, x, column_x)
    else:
        _stand_apart(row, facing, both, count, x, column_x, across.brace_x[i])
    y, z = at_face(given.face, own.radiator_s, box.front)
    kind = BOTTOM if facing == DOWN else FACE
    for which in range(count):
        put_port(box, across.ports[i, which], kind, True, x[which], y, z, 0.5 * radiators.cutout)


@compiled
def _stand_together(row: Row, facing: int, both: SharedRow, radiators: int, radiator_x: Table, column_x: Table) -> None:
    """Radiators and drivers in one bay, what is left of the width spread evenly between them."""
    drivers = 0 if facing == SIDEWAYS else int(row.columns)
    share = both.slack / (radiators + drivers + 1)
    x = row.board
    for number in range(radiators + drivers):
        if number == 0:
            x += both.half
        elif number < radiators:
            x += both.pitch
        elif number == radiators:
            x += both.between
        else:
            x += row.pitch
        x += share
        if number < radiators:
            radiator_x[number] = x
        else:
            column_x[number - radiators] = x


@compiled
def _stand_apart(
    row: Row, facing: int, both: SharedRow, radiators: int, radiator_x: Table, column_x: Table, brace_x: Table
) -> None:
    """Radiators in the first bays, drivers in the last."""
    end = int(both.braces) + 1
    last = int(both.driver_bays)
    if facing != SIDEWAYS:
        last += (end - int(both.bays) - last) // 2
    first = end - last
    beside, behind = bays.spread(radiators, first), bays.columns_over(row, facing, last)
    needs, widths = np.empty(end), np.empty(end)
    for bay in range(first):
        needs[bay] = bays.needed(beside[bay], both.half, both.pitch)
    for bay in range(last):
        needs[first + bay] = bays.needed(behind[bay], row.half, row.pitch)
    needs[end - 1] = max(needs[end - 1], row.last)
    bays.level_bays(needs, 0, end, both.room, widths)
    left, right = bays.stand_braces(widths, row.board, brace_x)
    bays.stand(left, right, 0, beside, both.half, both.pitch, radiator_x)
    bays.stand_drivers(row, facing, left, right, first, behind, column_x)


PACKING = OpeningPacking(sizes_of=sizes_of, own=WithRadiators, pack=packing(_attempt), place=placing(_stand))
