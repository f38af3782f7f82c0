"""Boxes without an opening: what lies where in them."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

from engine.core.compiled import Table, compiled, table
from engine.packing.cup import place_cup
from engine.packing.inside import Given, Packed, begin, judge, settle, stand_evenly
from engine.packing.loops import packing, placing
from engine.packing.opening import OpeningPacking
from engine.packing.ports import Across


class Nothing(NamedTuple):
    """The sizes of no opening."""

    number: float


class Closed:
    """What a closed box has besides: nothing."""

    openings: int = 0


def sizes_of(count: int, sizes: Mapping[str, Any], front: Any) -> Table:
    """A row of :class:`Nothing` for each design."""
    return table(Nothing, count)


@compiled
def _attempt(given: Given, nothing: Nothing, in_column: int, cup_apart: bool, packed: Packed, own: Closed) -> None:
    stage = begin(given, in_column, cup_apart, 0.0, packed)
    if settle(given, stage, packed) and given.rules.cup:
        place_cup(given, stage.in_a_column, cup_apart, 0.0, 0.0, packed)
    judge(packed)


@compiled
def _stand(given: Given, nothing: Nothing, packed: Packed, own: Closed, i: int, across: Across) -> None:
    stand_evenly(given, packed, across.brace_x[i], across.column_x[i])


PACKING = OpeningPacking(sizes_of=sizes_of, own=Closed, pack=packing(_attempt), place=placing(_stand))
