"""Boxes without an opening: what lies where in them."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from engine.core.compiled import Table, compiled, table
from engine.packing.bays import columns_over, stand_braces, stand_drivers, widths_for
from engine.packing.box import Box
from engine.packing.contents import Allowances, Contents, Driver, Rules, Surroundings
from engine.packing.cup import place_cup
from engine.packing.face import face_of
from engine.packing.inside import Packed, begin, judge, next_attempt, row_across, settle
from engine.packing.opening import OpeningPacking
from engine.packing.row import room_of


class Nothing(NamedTuple):
    """The sizes of no opening."""

    number: float


class Closed:
    """What a closed box has besides: nothing."""

    openings: int = 0


def sizes_of(contents: Contents, boxes: Table, rules: Rules) -> Table:
    """A row of :class:`Nothing` for each design."""
    return table(Nothing, len(contents))


@compiled
def _attempt(
    box: Box,
    driver: Driver,
    rules: Allowances,
    around: Surroundings,
    in_column: int,
    cup_apart: bool,
    packed: Packed,
) -> None:
    face = face_of(box, driver.facing)
    stage = begin(box, driver, rules, around, face, in_column, cup_apart, 0.0, packed)
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
    """Pack the ``chosen`` boxes from number ``start`` to ``stop``, into ``packed``."""
    trial = packed[:1].copy()
    for number in range(start, stop):
        i = chosen[number]
        in_column, cup_apart = 1, False
        while in_column > 0:
            _attempt(boxes[i], drivers[i], rules[0], around[i], in_column, cup_apart, trial[0])
            if (in_column == 1 and not cup_apart) or trial[0].least > packed[i].least:
                packed[i] = trial[0]
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
    """Say where columns of drivers and braces stand across the ``chosen`` boxes from ``start`` to ``stop``."""
    for number in range(start, stop):
        i = chosen[number]
        driver = drivers[i]
        row = row_across(boxes[i], driver, rules[0], packed[i])
        counts = columns_over(row, driver.facing, packed[i].brace_count + 1)
        widths = widths_for(row, counts, room_of(row), 0.0, 0.0)
        left, right = stand_braces(widths, row.board, brace_x[i])
        stand_drivers(row, driver.facing, left, right, 0, counts, column_x[i])


PACKING = OpeningPacking(
    chosen=lambda contents: (contents.vent_count == 0.0) & (contents.radiator_count == 0.0),
    sizes_of=sizes_of,
    own=Closed,
    pack=pack,
    place=place,
    count=lambda contents: np.zeros(len(contents)),
)
