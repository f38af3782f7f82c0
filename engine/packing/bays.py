"""Where columns of drivers and braces stand across the width of one box, and what shares the width with them.

Made for boxes whose row has room; others get places too, some of them outside the box.  Places are x in m from
the outer face of the left side panel.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from engine.core.compiled import compiled
from engine.facings import SIDEWAYS
from engine.packing.row import Row

Floats = NDArray[np.float64]
Counts = NDArray[np.int64]

UNSET = -1.0  # m, a width still to be found


@compiled
def spread(count: int, bays: int) -> Counts:
    """``count`` things over ``bays`` as evenly as whole things go; empty bays lie between filled ones."""
    filled = max(min(count, bays), 1)
    counts = np.zeros(bays, dtype=np.int64)
    for number in range(filled):
        counts[int((number + 0.5) * bays / filled)] = count // filled + (1 if number < count % filled else 0)
    return counts


@compiled
def columns_over(row: Row, facing: int, bays: int) -> Counts:
    """Columns of drivers over bays; one in the side panel keeps to the last."""
    if facing != SIDEWAYS:
        return spread(int(row.columns), bays)
    counts = np.zeros(bays, dtype=np.int64)
    counts[bays - 1] = 1
    return counts


@compiled
def level_bays(needs: Floats, first: int, end: int, room: float, widths: Floats) -> None:
    """Widths of the bays from ``first`` to ``end`` that add up to ``room``: equal, except where one needs more."""
    for bay in range(first, end):
        widths[bay] = UNSET
    for placed in range(end - first):
        widest, even = first, room / (end - first - placed)
        most = UNSET
        for bay in range(first, end):
            if widths[bay] == UNSET and needs[bay] > most:
                widest, most = bay, needs[bay]
        if most <= even:
            for bay in range(first, end):
                if widths[bay] == UNSET:
                    widths[bay] = even
            return
        widths[widest] = most
        room -= most


@compiled
def needed(count: int, half: float, pitch: float) -> float:
    """Width that so many things, ``pitch`` apart and ``half`` from its ends, need in a bay."""
    return 2.0 * half + (count - 1) * pitch if count > 0 else 0.0


@compiled
def widths_for(row: Row, counts: Counts, room: float, first: float, in_first: float) -> Floats:
    """Widths of bays, as even as what stands in them allows.

    The first is ``first`` at least, and holds ``in_first`` beside its drivers.
    """
    bays = len(counts)
    needs, widths = np.empty(bays), np.empty(bays)
    for bay in range(bays):
        needs[bay] = needed(counts[bay], row.half, row.pitch)
    needs[0] = max(needs[0] + in_first, first)
    needs[bays - 1] = max(needs[bays - 1], row.last)
    level_bays(needs, 0, bays, room, widths)
    return widths


@compiled
def fewest_first(counts: Counts) -> int:
    """Sort them, in place; gives how many bays are empty."""
    empty = 0
    for bay in range(len(counts)):
        place = bay
        while place > 0 and counts[place - 1] > counts[place]:
            counts[place - 1], counts[place] = counts[place], counts[place - 1]
            place -= 1
    for bay in range(len(counts)):
        if counts[bay] == 0:
            empty += 1
    return empty


@compiled
def stand_braces(widths: Floats, board: float, brace_x: Floats) -> tuple[Floats, Floats]:
    """Ends of the bays; the braces' left faces, between them, go into ``brace_x``, which may have room for more.

    After the last bay comes the side panel, which is no brace.
    """
    start, end = np.empty(len(widths)), np.empty(len(widths))
    x = board
    for bay in range(len(widths)):
        start[bay], end[bay] = x, x + widths[bay]
        x += widths[bay] + board
        if bay < min(len(widths) - 1, len(brace_x)):
            brace_x[bay] = end[bay]
    return start, end


@compiled
def stand(start: Floats, end: Floats, first: int, counts: Counts, half: float, pitch: float, x: Floats) -> None:
    """Centres of equal things in bays, into ``x``: evenly spaced where there is room, else packed in the middle.

    ``counts`` are of the bays from number ``first`` on.
    """
    number = 0
    for place in range(len(counts)):
        bay, count = first + place, counts[place]
        share = (end[bay] - start[bay]) / max(count, 1)
        spacing = share if share >= pitch and 0.5 * share >= half else pitch
        for within in range(count):
            x[number] = 0.5 * (start[bay] + end[bay]) + (within - 0.5 * (count - 1)) * spacing
            number += 1


@compiled
def stand_drivers(
    row: Row, facing: int, start: Floats, end: Floats, first: int, counts: Counts, column_x: Floats
) -> None:
    """Columns of drivers in their bays, into ``column_x``; one in the side panel has no place across the width."""
    if facing != SIDEWAYS:
        stand(start, end, first, counts, row.half, row.pitch, column_x)
