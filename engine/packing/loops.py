"""The loops over designs that every opening's packing runs in, each made with the opening's function of one design."""

from __future__ import annotations

from collections.abc import Callable

from engine.core.compiled import Table, compiled, compiled_with
from engine.packing.contents import Batch, Surroundings
from engine.packing.face import face_of
from engine.packing.inside import Given, next_attempt
from engine.packing.ports import Across


@compiled
def _around(every: Surroundings, i: int) -> Surroundings:
    """Those of a batch's design ``i``."""
    return Surroundings(
        every.tuning[i],
        every.free_width[i],
        every.driver_air[i],
        every.ahead[i],
        every.under[i],
        every.above[i],
        every.worth[i],
        every.thorough[i],
    )


def _pack(start: int, stop: int, chosen: Table, batch: Batch, sizes: Table, own: Table) -> None:
    packed, best, own_best = batch.packed, batch.packed[:1].copy(), own[:1].copy()
    for number in range(start, stop):
        i = chosen[number]
        box, driver = batch.boxes[i], batch.drivers[batch.which[i]]
        given = Given(box, driver, batch.rules[0], _around(batch.around, i), face_of(box, driver.facing))
        in_column, cup_apart = 1, False
        while in_column > 0:
            own_part(given, sizes[i], in_column, cup_apart, packed[i], own[i])
            if (in_column > 1 or cup_apart) and not packed[i].least > best[0].least:
                packed[i], own[i] = best[0], own_best[0]
            in_column, cup_apart = next_attempt(given, packed[i], in_column, cup_apart)
            if in_column > 0:
                best[0], own_best[0] = packed[i], own[i]


def _place(start: int, stop: int, chosen: Table, batch: Batch, sizes: Table, own: Table, across: Across) -> None:
    for number in range(start, stop):
        i = chosen[number]
        box, driver = batch.boxes[i], batch.drivers[batch.which[i]]
        given = Given(box, driver, batch.rules[0], _around(batch.around, i), face_of(box, driver.facing))
        own_part(given, sizes[i], batch.packed[i], own[i], i, across)


def own_part(*_: object) -> None:
    """What :func:`packing` and :func:`placing` put an opening's function in the place of."""
    raise NotImplementedError


def packing(one: Callable[..., None]) -> Callable[..., None]:
    """The loop that packs the ``chosen`` designs of a batch, from number ``start`` to ``stop`` of them.

    ``one(given, sizes, in_column, cup_apart, packed, own)`` stands drivers ``in_column`` along the panel and the cup
    ``cup_apart`` or not, and writes what comes of it into the design's rows ``packed`` and ``own``.
    """
    return compiled_with(_pack, own_part=one)


def placing(one: Callable[..., None]) -> Callable[..., None]:
    """The loop that says where things stand across the width of packed designs.

    ``one(given, sizes, packed, own, i, across)`` writes the rows ``i`` of ``across``.
    """
    return compiled_with(_place, own_part=one)
