"""What stands side by side across the width of a box: drivers and vents in bays between braces.

Lengths in m.  A bay is the width between two braces, or between a brace and a
side panel.  Columns of drivers stand ``pitch`` apart inside a bay and at least ``half``
from its ends.  The widths of bays may differ; a row fits when widths can be found that
give every bay what it needs and none more than the span.  Because no bay needs more than
the span and the bays together can always be as wide as the box, that is so when the needs
add up to the room.
"""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from engine.core.compiled import compiled
from engine.facings import SIDEWAYS
from engine.packing.box import Box
from engine.packing.contents import SCREW_REACH, Allowances, Driver, wood_round_screws
from engine.packing.face import sideways_room

WHOLE = 1e-9  # what a ratio may exceed a whole number by and still count as it


def panel_span(board: float) -> float:
    """Widest unsupported width in m of a panel as thick as ``board``: some 400 mm of 18 mm board.

    The lowest resonance of a plate goes with its thickness over its span squared (thin plates, Leissa 1969), so the
    span goes with the root of the thickness.  Where it starts from is common practice, no source.
    """
    return 0.4 * math.sqrt(board / 0.018)


class Row(NamedTuple):
    """Columns of drivers and braces across the width.

    ``bays`` of the ``braces + 1`` bays hold drivers, as evenly as whole columns go.
    """

    inner_width: float
    taken: float  # kept free at the right end, for the terminal cup
    board: float
    panel_span: float  # widest bay allowed
    span: float  # the same for a bay with drivers: a driver that is wider gets its own width
    half: float  # from a driver's centre to the end of its bay, at least
    pitch: float  # between centres of neighbours in one bay
    columns: float
    braces: float
    bays: float
    last: float  # width that a last bay without drivers needs


@compiled
def row_of(box: Box, driver: Driver, rules: Allowances, columns: float, taken: float) -> Row:
    """Set out ``columns`` of drivers and braces across a box.

    As many braces as it takes that no panel is unsupported over more than the span and no
    bay holds more drivers than fit in that span (common practice, no source).  A driver too
    wide for the span gets a bay of its own width.  Flanges stand ``gap`` apart,
    also across a brace, off rounded edges and joints; baskets stand that far off braces and side
    panels.  A driver in the side panel takes the end of the last bay for itself and the air behind it.  ``taken`` is
    kept free at the right end; a panel's span counts it in.
    """
    gap, board = rules.gap, box.board
    reach = SCREW_REACH if rules.wood > 0.0 else 0.0
    last = max(rules.cup_depth - board + gap, reach) if rules.cup and not taken > 0.0 else 0.0
    if driver.facing == SIDEWAYS:
        columns = 1.0
        half = 0.5 * sideways_room(driver, board, gap)
    else:
        half = half_bay(driver.inside, driver.cutout, driver.flange, rules, board)
    half = max(half, 0.5 * last)
    pitch = driver.widest + gap
    span_of_panel = max(rules.brace_span - taken, board)
    span = max(span_of_panel, 2.0 * half)
    most = in_a_bay(span, half, pitch)
    width = box.inner_width - taken
    # Bays with drivers that are wider than the span leave the others less than that, on average.
    for_panels = np.ceil((width - span_of_panel) / (span_of_panel + board) - WHOLE)
    if width <= span and columns <= most:
        for_panels = 0.0
    for_drivers = np.ceil(columns / most - WHOLE) - 1.0
    braces = max(max(for_panels, for_drivers), 0.0)
    bays = min(columns, braces + 1.0)
    return Row(box.inner_width, taken, board, span_of_panel, span, half, pitch, columns, braces, bays, last)


@compiled
def half_bay(inside: float, cutout: float, flange: float, rules: Allowances, board: float) -> float:
    """Distance in m from the centre of what is mounted to the end of its bay: a side panel or a brace.

    It stands the gap off them, flanges as far apart across a brace, off rounded edges, and off joints where wood is
    asked for: the flange off those that show beside the baffle, screws off all that is glued on behind.
    """
    across = 0.5 * (rules.gap - board)
    if not rules.wood > 0.0:
        return max(0.5 * inside + rules.gap, 0.5 * flange + max(across, rules.round_over - board))
    beside = max(0.5 * flange + max(across, 0.0), wood_round_screws(cutout, flange, rules.wood))
    return max(0.5 * inside + rules.gap, beside)


@compiled
def in_a_bay(span: float, half: float, pitch: float) -> float:
    """Columns that fit in a bay as wide as the span."""
    whole: float = np.floor((span - 2.0 * half) / pitch + WHOLE)
    return whole + 1.0


@compiled
def room_of(row: Row) -> float:
    """Width of all bays together."""
    return row.inner_width - row.taken - row.braces * row.board


@compiled
def _some_empty(row: Row) -> bool:
    """Whether there are bays without drivers."""
    return row.braces + 1.0 > row.bays


@compiled
def _need(row: Row, bays: float) -> float:
    return bays * 2.0 * row.half + (row.columns - bays) * row.pitch


@compiled
def row_slack(row: Row) -> float:
    """Width left when every bay has what it needs."""
    return room_of(row) - _need(row, row.bays) - (row.last if _some_empty(row) else 0.0)


@compiled
def slack_beyond(row: Row, first: float) -> float:
    """Width left when, besides, the first bay is at least ``first`` wide."""
    slack = row_slack(row)
    spare = slack - first if _some_empty(row) else min(slack, 2.0 * row.half - first)
    return min(spare, row.panel_span - first)


@compiled
def slack_beside_run(row: Row, run: float) -> float:
    """Width left when the drivers stand clear of the first ``run`` metres (pipes may pass braces).

    Seen from the far side panel the drivers' bays are as narrow as they may be: what
    the other bays cannot take, because of the span, widens them.
    """
    fewest: float = np.floor(row.columns / row.bays)
    first = 2.0 * row.half + (fewest - 1.0) * row.pitch
    others = (row.braces + 1.0 - row.bays) * row.panel_span + row.span
    taken = max(_need(row, row.bays), room_of(row) - others + first)
    return row.inner_width - row.taken - taken - (row.bays - 1.0) * row.board - run


@compiled
def own_bay(row: Row, group: float) -> float:
    """Width left when the first bay holds a ``group`` that wide and the drivers the others."""
    bays = min(row.columns, row.braces)
    if bays < 1.0:
        return -np.inf
    most: float = np.ceil(row.columns / bays - WHOLE)
    fullest = 2.0 * row.half + (most - 1.0) * row.pitch
    last = row.last if row.braces > bays else 0.0
    within = min(row.span - fullest, row.panel_span - group)
    return min(room_of(row) - _need(row, bays) - group - last, within)


@compiled
def shared_bay(row: Row, group: float) -> float:
    """Width left when the first bay holds a ``group`` that wide and drivers beside it."""
    fewest: float = np.floor(row.columns / row.bays)
    first = 2.0 * row.half + (fewest - 1.0) * row.pitch + group
    last = row.last if _some_empty(row) else 0.0
    return min(room_of(row) - _need(row, row.bays) - group - last, row.span - first)


@compiled
def even_bay(row: Row) -> tuple[float, float]:
    """A width that at least one bay has, and how many bays have it for certain."""
    average = room_of(row) / (row.braces + 1.0)
    fullest = 2.0 * row.half + (np.ceil(row.columns / row.bays - WHOLE) - 1.0) * row.pitch
    return average, row.braces + 1.0 if fullest <= average else 1.0
