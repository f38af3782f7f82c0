"""Passive radiators in the drivers' panel: where they stand, in the same row to the left of the drivers."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from engine.acoustics.cavity import BOTTOM, FACE
from engine.core.compiled import Table, compiled, table
from engine.facings import DOWN, SIDEWAYS
from engine.packing.bays import (
    columns_over,
    level_bays,
    needed,
    spread,
    stand,
    stand_braces,
    stand_drivers,
)
from engine.packing.box import Box
from engine.packing.contents import Allowances, Contents, Driver, Rules, Surroundings
from engine.packing.cup import place_cup
from engine.packing.face import Face, Places, at_face, clear, face_of, places, within
from engine.packing.inside import (
    RADIATOR_DEPTH,
    RADIATOR_HEIGHT,
    RADIATOR_ROW,
    Packed,
    begin,
    judge,
    next_attempt,
    row_across,
    settle,
)
from engine.packing.opening import OpeningPacking
from engine.packing.ports import put_port
from engine.packing.row import WHOLE, Row, in_a_bay


class Radiators(NamedTuple):
    """The passive radiators of one design, all alike, m."""

    number: float
    flange: float  # diameter
    cutout: float  # diameter
    reach: float  # depth behind the panel's outer face, added mass included, never less than the board
    displacement: float  # m³, one radiator


class WithRadiators:
    """What a box has besides."""

    radiator_s: float = np.nan  # centre of the radiators along the drivers' panel (the baffle), m


def sizes_of(contents: Contents, boxes: Table, rules: Rules) -> Table:
    """A row of :class:`Radiators` for each design."""
    return table(
        Radiators,
        len(contents),
        number=contents.radiator_count,
        flange=contents.radiator_outer,
        cutout=contents.radiator_cutout,
        reach=np.maximum(contents.radiator_depth, boxes.board),
        displacement=contents.radiator_displacement,
    )


class Company(NamedTuple):
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
def radiator_places(face: Face, radiators: Radiators, rules: Allowances) -> Places:
    """Places s for one passive radiator, a body as wide as its cut-out, in the drivers' panel or the baffle."""
    hole, edge = 0.5 * radiators.cutout, 0.5 * radiators.flange + rules.round_over
    limits = within(face, edge, edge)
    limits = clear(limits, face, hole, 0.0, rules.gap)
    limits = clear(limits, face, hole, radiators.reach, rules.gap)
    return places(limits, face)


@compiled
def company_of(row: Row, driver: Driver, radiators: Radiators, rules: Allowances) -> Company:
    """Set out the columns of a ``row`` with the radiators beside them, by the same rules."""
    gap, board = rules.gap, row.board
    widest = max(radiators.flange, radiators.cutout)
    beside_flange = 0.5 * radiators.flange + max(0.5 * (gap - board), rules.round_over - board)
    half = max(0.5 * radiators.cutout + gap, beside_flange)
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
    return Company(half, pitch, between, together, braces, bays, driver_bays, room, room - need)


@compiled
def _attempt(
    box: Box,
    driver: Driver,
    radiators: Radiators,
    rules: Allowances,
    around: Surroundings,
    in_column: int,
    cup_apart: bool,
    packed: Packed,
    own: WithRadiators,
) -> None:
    face = face_of(box, driver.facing)
    displaced = radiators.number * radiators.displacement
    stage = begin(box, driver, rules, around, face, in_column, cup_apart, displaced, packed)
    company, found = company_of(stage.row, driver, radiators, rules), radiator_places(face, radiators, rules)
    packed.slacks[RADIATOR_HEIGHT] = min(found.height_slack, found.high - found.low)
    packed.slacks[RADIATOR_DEPTH] = found.depth_slack
    packed.slacks[RADIATOR_ROW] = company.slack
    packed.brace_count = int(company.braces)
    packed.brace_volume = company.braces * box.inner_area * box.board * (1.0 - box.window)
    own.radiator_s = min(max(0.5 * face.length, found.low), found.high)
    if settle(box, driver, face, stage, packed) and rules.cup:
        place_cup(box, driver, rules, face, stage.in_a_column, cup_apart, 0.0, 0.0, packed)
    judge(packed)


@compiled
def pack(
    start: int,
    stop: int,
    chosen: Table,
    boxes: Table,
    drivers: Table,
    rules: Table,
    around: Table,
    packed: Table,
    sizes: Table,
    own: Table,
) -> None:
    """Pack the ``chosen`` boxes from number ``start`` to ``stop``, into ``packed`` and ``own``."""
    trial, own_trial = packed[:1].copy(), own[:1].copy()
    for number in range(start, stop):
        i = chosen[number]
        in_column, cup_apart = 1, False
        while in_column > 0:
            _attempt(
                boxes[i], drivers[i], sizes[number], rules[0], around[i], in_column, cup_apart, trial[0], own_trial[0]
            )
            if (in_column == 1 and not cup_apart) or trial[0].least > packed[i].least:
                packed[i], own[i] = trial[0], own_trial[0]
            in_column, cup_apart = next_attempt(drivers[i], rules[0], around[i], packed[i], in_column, cup_apart)


@compiled
def place(
    start: int,
    stop: int,
    chosen: Table,
    boxes: Table,
    drivers: Table,
    rules: Table,
    packed: Table,
    column_x: Table,
    brace_x: Table,
    opening_x: Table,
    ports: Table,
    sizes: Table,
    own: Table,
) -> None:
    """Say where columns of drivers, braces and radiators stand across the ``chosen`` boxes, and their ports."""
    for number in range(start, stop):
        i = chosen[number]
        box, driver, radiators, x = boxes[i], drivers[i], sizes[number], opening_x[i]
        row = row_across(box, driver, rules[0], packed[i])
        company = company_of(row, driver, radiators, rules[0])
        if company.together:
            _stand_together(row, driver.facing, company, int(radiators.number), x, column_x[i])
        else:
            _stand_apart(row, driver.facing, company, int(radiators.number), x, column_x[i], brace_x[i])
        y, z = at_face(face_of(box, driver.facing), own[i].radiator_s, box.board)
        kind = BOTTOM if driver.facing == DOWN else FACE
        for which in range(int(radiators.number)):
            put_port(box, ports[i, which], kind, True, x[which], y, z, 0.5 * radiators.cutout)


@compiled
def _stand_together(
    row: Row, facing: int, company: Company, radiators: int, radiator_x: Table, column_x: Table
) -> None:
    """Radiators and drivers in one bay, what is left of the width spread evenly between them."""
    drivers = 0 if facing == SIDEWAYS else int(row.columns)
    share = company.slack / (radiators + drivers + 1)
    x = row.board
    for number in range(radiators + drivers):
        if number == 0:
            x += company.half
        elif number < radiators:
            x += company.pitch
        elif number == radiators:
            x += company.between
        else:
            x += row.pitch
        x += share
        if number < radiators:
            radiator_x[number] = x
        else:
            column_x[number - radiators] = x


@compiled
def _stand_apart(
    row: Row, facing: int, company: Company, radiators: int, radiator_x: Table, column_x: Table, brace_x: Table
) -> None:
    """Radiators in the first bays, drivers in the last."""
    bays = int(company.braces) + 1
    last = int(company.driver_bays)
    if facing != SIDEWAYS:
        last += (bays - int(company.bays) - last) // 2
    first = bays - last
    beside, behind = spread(radiators, first), columns_over(row, facing, last)
    needs, widths = np.empty(bays), np.empty(bays)
    for bay in range(first):
        needs[bay] = needed(beside[bay], company.half, company.pitch)
    for bay in range(last):
        needs[first + bay] = needed(behind[bay], row.half, row.pitch)
    needs[bays - 1] = max(needs[bays - 1], row.last)
    level_bays(needs, 0, bays, company.room, widths)
    left, right = stand_braces(widths, row.board, brace_x)
    stand(left, right, 0, beside, company.half, company.pitch, radiator_x)
    stand_drivers(row, facing, left, right, first, behind, column_x)


PACKING = OpeningPacking(
    chosen=lambda contents: contents.radiator_count > 0.0,
    sizes_of=sizes_of,
    own=WithRadiators,
    pack=pack,
    place=place,
    count=lambda contents: contents.radiator_count,
)
