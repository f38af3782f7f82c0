"""Boxes without an opening: what lies where in them."""

from __future__ import annotations

from typing import NamedTuple

from engine.core.compiled import Table, compiled, table
from engine.packing.bays import columns_over, stand_braces, stand_drivers, widths_for
from engine.packing.contents import Batch, Contents
from engine.packing.cup import place_cup
from engine.packing.face import face_of
from engine.packing.inside import Given, Packed, begin, judge, next_attempt, row_across, settle
from engine.packing.opening import OpeningPacking
from engine.packing.ports import Across
from engine.packing.row import room_of


class Nothing(NamedTuple):
    """The sizes of no opening."""

    number: float


class Closed:
    """What a closed box has besides: nothing."""

    openings: int = 0


def sizes_of(contents: Contents, boxes: Table) -> Table:
    """A row of :class:`Nothing` for each design."""
    return table(Nothing, len(contents))


@compiled
def _attempt(given: Given, nothing: Nothing, in_column: int, cup_apart: bool, packed: Packed, own: Closed) -> None:
    stage = begin(given, in_column, cup_apart, 0.0, packed)
    if settle(given, stage, packed) and given.rules.cup:
        place_cup(given, stage.in_a_column, cup_apart, 0.0, 0.0, packed)
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
    """Say where columns of drivers and braces stand across the ``chosen`` boxes from ``start`` to ``stop``."""
    for number in range(start, stop):
        i = chosen[number]
        face = face_of(batch.boxes[i], batch.drivers[i].facing)
        given = Given(batch.boxes[i], batch.drivers[i], batch.rules[0], batch.around[i], face)
        row, facing = row_across(given, batch.packed[i]), given.driver.facing
        counts = columns_over(row, facing, batch.packed[i].brace_count + 1)
        left, right = stand_braces(widths_for(row, counts, room_of(row), 0.0, 0.0), row.board, across.brace_x[i])
        stand_drivers(row, facing, left, right, 0, counts, across.column_x[i])


PACKING = OpeningPacking(sizes_of=sizes_of, own=Closed, pack=pack, place=place)
