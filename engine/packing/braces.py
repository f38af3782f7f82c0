"""One brace of a box: which form of it leaves the air enough room.

A brace stands across the width where a panel would be unsupported over more than its span.  The forms are tried in
order of stiffness, and the first that leaves enough free is taken; all braces of a box are alike, cut by one template.
Sizes are common practice and have no source:

- a framed window: a rim of ``RIM`` boards, never less than ``RIM_PART`` of the side it runs along, corners as a hole
  saw leaves them (``CORNER``).  Pipes pass holes of their own in the frame, a board's thickness off the window;
- a half-height rib, glued to back, baffle and bottom or top, the other half of the section open;
- strips on edge from back to baffle, ``STRIP`` boards tall, as many as keep back and baffle within the span between
  them, the rest open.  Bottom and top have to bridge the depth: no strips where that is more than the span;
- dowels as thick as the board, likewise.

What has to be free is estimated (``air_needed``) before anything is heard; what air then moves is judged when it is.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from engine.core.compiled import compiled
from engine.packing.box import Box, clear_depth

NO_BRACE, FRAME, RIB, STRIPS, DOWELS = range(5)
RIM = 2.5  # boards
RIM_PART = 0.11  # of the side
BRIDGE = 1.0  # boards, between a pipe's hole and the window
CORNER = 0.020  # m, radius of a window's corners: a hole saw of 40 mm
STRIP = 3.0  # boards
DOWEL = 1.0  # boards
WHOLE = 1e-9
LEAST = 1e-4  # m², of air past a brace, whatever moves it


class Zone(NamedTuple):
    """Where pipes pass the braces; lengths in m."""

    number: float  # of pipes; 0 where none pass
    hole: float  # diameter of the hole that each takes
    low: float  # they lie between these heights
    high: float
    rear: float  # and no further than that before the back, square to it; inf where that says nothing
    front: float  # no further than that behind the baffle


class Brace(NamedTuple):
    """One brace of a box whose braces are all alike.

    Of a frame ``low``, ``high``, ``rear`` and ``front`` bound its window: heights, and horizontal distances before the
    back and behind the baffle, m.  Of a rib the first two bound what is open, of strips and dowels where they stand.
    """

    form: int
    low: float
    high: float
    rear: float
    front: float
    pieces: int
    board: float  # m² of its board's face; of dowels what has their volume
    free: float  # m² for the air


@compiled
def no_pipes() -> Zone:
    """None that pass braces."""
    return Zone(0.0, 0.0, 0.0, 0.0, np.inf, np.inf)


@compiled
def level_area(box: Box, low: float, high: float) -> float:
    """Inner section between two heights, m²."""
    return max(high - low, 0.0) * max(clear_depth(box, 0.5 * (low + high)), 0.0)


@compiled
def air_needed(braces: float, columns: float, drivers: float, openings: float) -> float:
    """Area in m² that braces of a box have to leave free.

    ``drivers`` and ``openings`` are the areas at which all air of either would pass just as fast as air may.  Of one
    column of drivers, and of openings, that air passes a brace that fills the part of the box on the other side of it,
    at most all bays but one if all are alike.  Columns spread over the bays leave no more than half.
    """
    beyond = braces / (braces + 1.0)
    return drivers * (beyond if columns < 2.0 else 0.5) + openings * beyond


@compiled
def _framed(box: Box, start: float, end: float, low: float, high: float, rear: float, front: float) -> Brace:
    """The window within these limits, as far as its corners have room, in a brace from ``start`` to ``end``."""
    # Along an edge a corner takes its radius times the cotangent of half its angle.
    leans, apart = box.back_secant + box.baffle_secant, box.back_slope - box.baffle_slope
    at_low = clear_depth(box, low) - rear - front - CORNER * (leans + apart)
    at_high = clear_depth(box, high) - rear - front - CORNER * (leans - apart)
    if at_low < 0.0:
        low = low - at_low / box.taper if box.taper > 0.0 else high
    if at_high < 0.0:
        high = high - at_high / box.taper if box.taper < 0.0 else low
    whole = level_area(box, start, end)
    if high - low < 2.0 * CORNER:
        return Brace(FRAME, start, start, rear, front, 1, whole, 0.0)
    wide = clear_depth(box, 0.5 * (low + high)) - rear - front
    free = (high - low) * wide - (2.0 * leans - np.pi) * CORNER * CORNER
    return Brace(FRAME, low, high, rear, front, 1, whole - free, free)


@compiled
def frame_of(box: Box, start: float, end: float, zone: Zone) -> Brace:
    """The framed window with most air: above, below, before or behind the pipes."""
    board = box.board
    rim = max(RIM * board, RIM_PART * (end - start))
    across = max(RIM * board, RIM_PART * clear_depth(box, 0.5 * (start + end)))
    low, high, rear, front = start + rim, end - rim, across * box.back_secant, across * box.baffle_secant
    if zone.number == 0.0:
        return _framed(box, start, end, low, high, rear, front)
    bridge = BRIDGE * board
    best = _framed(box, start, end, max(low, zone.high + bridge), high, rear, front)
    other = _framed(box, start, end, low, min(high, zone.low - bridge), rear, front)
    if other.free > best.free:
        best = other
    if zone.rear < np.inf:
        other = _framed(box, start, end, low, high, max(rear, (zone.rear + bridge) * box.back_secant), front)
        if other.free > best.free:
            best = other
    if zone.front < np.inf:
        other = _framed(box, start, end, low, high, rear, max(front, (zone.front + bridge) * box.baffle_secant))
        if other.free > best.free:
            best = other
    holes = zone.number * 0.25 * np.pi * (zone.hole * zone.hole)
    return Brace(FRAME, best.low, best.high, best.rear, best.front, 1, best.board - holes, best.free)


@compiled
def rib_of(box: Box, start: float, end: float, zone: Zone, gap: float) -> Brace:
    """The half-height rib with most air beside it; pipes pass the open half, or the rib through holes."""
    middle, bridge = 0.5 * (start + end), BRIDGE * box.board
    holes = zone.number * 0.25 * np.pi * (zone.hole * zone.hole)
    best = Brace(RIB, start, start, 0.0, 0.0, 1, level_area(box, start, end), 0.0)
    for open_low in (True, False):
        low, high = (start, middle) if open_low else (middle, end)
        in_open, in_rib = 0.0, 0.0
        if zone.number > 0.0:
            off_open = zone.low - high if open_low else low - zone.high
            off_rib = high - zone.high if open_low else zone.low - low
            if off_rib >= gap:
                in_open = holes
            elif off_open >= bridge:
                in_rib = holes
            else:
                continue
        free = level_area(box, low, high) - in_open
        if free > best.free:
            board = level_area(box, start, end) - level_area(box, low, high) - in_rib
            best = Brace(RIB, low, high, 0.0, 0.0, 1, board, free)
    return best


@compiled
def sticks_of(box: Box, start: float, end: float, zone: Zone, gap: float, span: float, form: int) -> Brace:
    """Strips or dowels from back to baffle, above or below the pipes, whichever is higher, and evenly spread there."""
    low, high, whole = start, end, level_area(box, start, end)
    if zone.number > 0.0:
        above, below = end - (zone.high + gap), zone.low - gap - start
        low, high = (end - above, end) if above >= below else (start, start + below)
    pieces = max(np.ceil((end - start) / span - WHOLE) - 1.0, 1.0)
    tall = (STRIP if form == STRIPS else DOWEL) * box.board
    deepest = max(clear_depth(box, start), clear_depth(box, end))
    if high - low < 2.0 * pieces * tall or deepest > span:
        return Brace(form, low, low, 0.0, 0.0, int(pieces), whole, 0.0)
    shadow = pieces * tall * clear_depth(box, 0.5 * (low + high))
    free = whole - shadow - zone.number * 0.25 * np.pi * (zone.hole * zone.hole)
    board = shadow if form == STRIPS else 0.25 * np.pi * shadow
    return Brace(form, low, high, 0.0, 0.0, int(pieces), board, max(free, 0.0))


@compiled
def brace_of(
    box: Box, start: float, end: float, zone: Zone, gap: float, span: float, needed: float
) -> tuple[Brace, float]:
    """The stiffest brace from ``start`` to ``end`` that leaves the air what is ``needed``, else that with most free.

    And the sides of squares as large as what is free and what is needed, one less the other: negative where none does.
    """
    needed, best = max(needed, LEAST), frame_of(box, start, end, zone)
    for form in (RIB, STRIPS, DOWELS):
        if best.free >= needed:
            break
        if form == RIB:
            other = rib_of(box, start, end, zone, gap)
        else:
            other = sticks_of(box, start, end, zone, gap, span, form)
        if other.free > best.free:
            best = other
    return best, np.sqrt(best.free) - np.sqrt(needed)
