"""What stands side by side across the width of a box: drivers and vents in bays between braces.

All arrays are (N,) in m.  A bay is the width between two braces, or between a brace and a
side panel.  Columns of drivers stand ``pitch`` apart inside a bay and at least ``half``
from its ends.  The widths of bays may differ; a row fits when widths can be found that
give every bay what it needs and none more than the span.  Because no bay needs more than
the span and the bays together can always be as wide as the box, that is so when the needs
add up to the room.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from engine.facings import SIDEWAYS
from engine.packing.contents import Contents, Rules
from engine.space.face import sideways_room
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]

WHOLE = 1e-9  # what a ratio may exceed a whole number by and still count as it

# Common practice, no source: 18 mm board goes unsupported over some 400 mm, a brace keeps a
# rim of two and a half times its thickness, and no more than 60 % of it is cut away.
SPAN_REFERENCE = (0.018, 0.4)
BRACE_RIM = 2.5
BRACE_WINDOW_MOST = 0.6
AROUND_HOLES = 1.15  # area cut away where pipes pass, in areas of their holes


def panel_span(board: float) -> float:
    """Widest unsupported width in m of a panel as thick as ``board``.

    The lowest resonance of a plate goes with its thickness over its span squared (thin
    plates, Leissa 1969), so the span goes with the root of the thickness.  Where it starts
    from is common practice, no source.
    """
    thickness, span = SPAN_REFERENCE
    return span * math.sqrt(board / thickness)


def brace_window(wedges: Wedges) -> Floats:
    """Part of a brace that its window takes, (N,): what is left inside a rim on all four sides."""
    rim = BRACE_RIM * wedges.board
    back_secant = math.hypot(1.0, wedges.back_slope)
    depth = 0.5 * (wedges.top_depth + wedges.bottom_depth) - wedges.panel_depth
    inside = np.maximum(depth - rim * (back_secant + wedges.baffle_secant), 0.0)
    window = np.maximum(wedges.inner_height - 2.0 * rim, 0.0) * inside
    return np.minimum(window / np.maximum(wedges.inner_area, 1e-9), BRACE_WINDOW_MOST)


@dataclass(frozen=True, kw_only=True)
class Row:
    """Columns of drivers and braces across the width.

    ``bays`` of the ``braces + 1`` bays hold drivers, as evenly as whole columns go.
    """

    inner_width: Floats
    taken: Floats  # kept free at the right end, for the terminal cup
    board: float
    panel_span: Floats  # widest bay allowed
    span: Floats  # the same for a bay with drivers: a driver that is wider gets its own width
    half: Floats  # from a driver's centre to the end of its bay, at least
    pitch: Floats  # between centres of neighbours in one bay
    count: Floats  # columns
    braces: Floats
    bays: Floats
    last: Floats  # width that a last bay without drivers needs

    def take(self, rows: NDArray[np.intp]) -> Self:
        return replace(
            self,
            inner_width=self.inner_width[rows],
            taken=self.taken[rows],
            panel_span=self.panel_span[rows],
            span=self.span[rows],
            half=self.half[rows],
            pitch=self.pitch[rows],
            count=self.count[rows],
            braces=self.braces[rows],
            bays=self.bays[rows],
            last=self.last[rows],
        )

    @property
    def room(self) -> Floats:
        """Width of all bays together."""
        return self.inner_width - self.taken - self.braces * self.board

    @property
    def some_empty(self) -> NDArray[np.bool_]:
        """Whether there are bays without drivers."""
        return self.braces + 1.0 > self.bays

    @property
    def slack(self) -> Floats:
        """Width left when every bay has what it needs."""
        return self.room - self._need(self.bays) - np.where(self.some_empty, self.last, 0.0)

    def slack_beyond(self, first: Floats) -> Floats:
        """Width left when, besides, the first bay is at least ``first`` wide."""
        spare = np.where(self.some_empty, self.slack - first, np.minimum(self.slack, 2.0 * self.half - first))
        return np.minimum(spare, self.panel_span - first)

    def slack_beside_run(self, run: Floats) -> Floats:
        """Width left when the drivers stand clear of the first ``run`` metres (pipes may pass braces).

        Seen from the far side panel the drivers' bays are as narrow as they may be: what
        the other bays cannot take, because of the span, widens them.
        """
        fewest = np.floor(self.count / self.bays)
        first = 2.0 * self.half + (fewest - 1.0) * self.pitch
        others = (self.braces + 1.0 - self.bays) * self.panel_span + self.span
        taken = np.maximum(self._need(self.bays), self.room - others + first)
        return self.inner_width - self.taken - taken - (self.bays - 1.0) * self.board - run

    def own_bay(self, group: Floats) -> Floats:
        """Width left when the first bay holds a ``group`` that wide and the drivers the others."""
        bays = np.minimum(self.count, self.braces)
        some = np.maximum(bays, 1.0)
        fullest = 2.0 * self.half + (np.ceil(self.count / some - WHOLE) - 1.0) * self.pitch
        last = np.where(self.braces > some, self.last, 0.0)
        within = np.minimum(self.span - fullest, self.panel_span - group)
        slack = np.minimum(self.room - self._need(some) - group - last, within)
        return np.where(bays >= 1.0, slack, -np.inf)

    def shared_bay(self, group: Floats) -> Floats:
        """Width left when the first bay holds a ``group`` that wide and drivers beside it."""
        fewest = np.floor(self.count / self.bays)
        first = 2.0 * self.half + (fewest - 1.0) * self.pitch + group
        last = np.where(self.some_empty, self.last, 0.0)
        return np.minimum(self.room - self._need(self.bays) - group - last, self.span - first)

    def even_bay(self) -> tuple[Floats, Floats]:
        """A width that at least one bay has, and how many bays have it for certain."""
        average = self.room / (self.braces + 1.0)
        fullest = 2.0 * self.half + (np.ceil(self.count / self.bays - WHOLE) - 1.0) * self.pitch
        return average, np.where(fullest <= average, self.braces + 1.0, 1.0)

    def _need(self, bays: Floats) -> Floats:
        return bays * 2.0 * self.half + (self.count - bays) * self.pitch


def row_of(wedges: Wedges, contents: Contents, rules: Rules, *, columns: Floats, taken: Floats) -> Row:
    """Set out ``columns`` of drivers and braces across boxes.

    As many braces as it takes that no panel is unsupported over more than the span and no
    bay holds more drivers than fit in that span (common practice, no source).  A driver too
    wide for the span gets a bay of its own width.  Flanges stand ``breathing_gap`` apart,
    also across a brace, and off rounded edges; baskets stand that far off braces and side panels.  A driver in the
    side panel takes the end of the last bay for itself and the air behind it.  ``taken`` is
    kept free at the right end; a panel's span counts it in.
    """
    gap, board = rules.breathing_gap, wedges.board
    cup = max(rules.cup.depth - board + gap, 0.0) if rules.cup else 0.0
    last = np.where(taken > 0.0, 0.0, cup)
    sideways = contents.facing == SIDEWAYS
    on_face = 0.5 * contents.outer_diameter + max(0.5 * (gap - board), rules.round_over - board)
    half = np.maximum(0.5 * contents.inside_diameter + gap, on_face)
    half = np.where(sideways, 0.5 * sideways_room(contents, board=board, gap=gap), half)
    half = np.maximum(half, 0.5 * last)
    pitch = contents.widest + gap
    columns = np.where(sideways, 1.0, columns)
    panel_span = np.maximum(rules.brace_span - taken, board)
    span = np.maximum(panel_span, 2.0 * half)
    in_a_bay = _in_a_bay(span, half, pitch)
    # Bays with drivers that are wider than the span leave the others less than that, on average.
    for_panels = np.ceil((wedges.inner_width - taken - panel_span) / (panel_span + board) - WHOLE)
    alone = (wedges.inner_width - taken <= span) & (columns <= in_a_bay)
    for_panels = np.where(alone, 0.0, for_panels)
    for_drivers = np.ceil(columns / in_a_bay - WHOLE) - 1.0
    braces = np.maximum(np.maximum(for_panels, for_drivers), 0.0)
    return Row(
        inner_width=wedges.inner_width,
        taken=taken,
        board=board,
        panel_span=panel_span,
        span=span,
        half=half,
        pitch=pitch,
        count=columns,
        braces=braces,
        bays=np.minimum(columns, braces + 1.0),
        last=last,
    )


@dataclass(frozen=True, kw_only=True)
class Company:
    """A row with passive radiators, one in a column, to the left of the drivers' columns, arrays (N,) in m.

    They share one bay where panels need no brace (``together``); else ``bays`` hold radiators,
    then ``driver_bays`` drivers.
    """

    half: Floats  # from a radiator's centre to the end of its bay, at least
    pitch: Floats  # between radiators in one bay
    between: Floats  # from a radiator to the driver beside it in one bay
    together: NDArray[np.bool_]
    braces: Floats
    bays: Floats
    driver_bays: Floats
    room: Floats  # width of all bays together
    slack: Floats  # of that left when every bay has what it needs


def company_of(row: Row, contents: Contents, rules: Rules) -> Company:
    """Set out the columns of a ``row`` with the radiators beside them, by the same rules."""
    gap, board = rules.breathing_gap, row.board
    widest = np.maximum(contents.radiator_outer, contents.radiator_cutout)
    on_face = 0.5 * contents.radiator_outer + max(0.5 * (gap - board), rules.round_over - board)
    half = np.maximum(0.5 * contents.radiator_cutout + gap, on_face)
    pitch = widest + gap
    side_by_side = np.maximum(0.5 * (widest + contents.widest) + gap, 0.5 * contents.radiator_cutout + row.half)
    between = np.where(contents.facing == SIDEWAYS, half + row.half, side_by_side)
    count, width = contents.radiator_count, row.inner_width - row.taken
    together = width <= row.panel_span
    fewest = np.ceil(count / _in_a_bay(np.maximum(row.panel_span, 2.0 * half), half, pitch) - WHOLE)
    fewest_drivers = np.ceil(row.count / _in_a_bay(row.span, row.half, row.pitch) - WHOLE)
    for_panels = np.ceil((width - row.panel_span) / (row.panel_span + board) - WHOLE)
    braces = np.where(together, 0.0, np.maximum(for_panels, fewest + fewest_drivers - 1.0))
    driver_bays = np.minimum(row.count, np.maximum(braces + 1.0 - fewest, 1.0))
    bays = np.minimum(count, np.maximum(braces + 1.0 - driver_bays, 1.0))
    shared = half + (count - 1.0) * pitch + between + (row.count - 1.0) * row.pitch + row.half
    apart = 2.0 * half * bays + (count - bays) * pitch
    apart = apart + 2.0 * row.half * driver_bays + (row.count - driver_bays) * row.pitch
    empty = ~together & (braces + 1.0 > bays + driver_bays)
    need = np.where(together, shared, apart) + np.where(empty, row.last, 0.0)
    return Company(
        half=half,
        pitch=pitch,
        between=between,
        together=together,
        braces=braces,
        bays=bays,
        driver_bays=driver_bays,
        room=width - braces * board,
        slack=width - braces * board - need,
    )


def _in_a_bay(span: Floats, half: Floats, pitch: Floats) -> Floats:
    """Columns that fit in a bay as wide as the span."""
    return np.floor((span - 2.0 * half) / pitch + WHOLE) + 1.0


def level_bays(needs: Floats, room: float) -> Floats:
    """Widths of bays (K,) that add up to ``room``: equal, except where one needs more."""
    order = np.argsort(needs)[::-1]
    widths = np.array(needs, dtype=float)
    left = room
    for placed, bay in enumerate(order):
        even = left / (len(needs) - placed)
        if needs[bay] <= even:
            widths[order[placed:]] = even
            break
        left -= needs[bay]
    return widths
