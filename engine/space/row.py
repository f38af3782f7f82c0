"""What stands side by side across the width of a box: drivers and baffle vents in bays between braces.

All arrays are (N,) in m.  A bay is the width between two braces, or between a brace and a
side panel.  Drivers stand ``pitch`` apart inside a bay and at least ``half`` from its ends.
The widths of bays may differ; a row fits when widths can be found that give every bay what
it needs and none more than the span.  Because no bay needs more than the span and the bays
together can always be as wide as the box, that is so when the needs add up to the room.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

WHOLE = 1e-9  # what a ratio may exceed a whole number by and still count as it


@dataclass(frozen=True, kw_only=True)
class Row:
    """Drivers and braces across the width.

    ``bays`` of the ``braces + 1`` bays hold drivers, as evenly as whole drivers go.
    """

    inner_width: Floats
    board: float
    span: Floats  # widest bay allowed
    half: Floats  # from a driver's centre to the end of its bay, at least
    pitch: Floats  # between centres of neighbours in one bay
    count: Floats
    braces: Floats
    bays: Floats

    def take(self, rows: NDArray[np.intp]) -> Row:
        return Row(
            inner_width=self.inner_width[rows],
            board=self.board,
            span=self.span[rows],
            half=self.half[rows],
            pitch=self.pitch[rows],
            count=self.count[rows],
            braces=self.braces[rows],
            bays=self.bays[rows],
        )

    @property
    def room(self) -> Floats:
        """Width of all bays together."""
        return self.inner_width - self.braces * self.board

    @property
    def slack(self) -> Floats:
        """Width left when every bay has what it needs."""
        return self.room - self._need(self.bays)

    def slack_beside_run(self, run: Floats) -> Floats:
        """Width left when the drivers stand clear of the first ``run`` metres (pipes may pass braces).

        Seen from the far side panel the drivers' bays are as narrow as they may be: what
        the other bays cannot take, because of the span, widens them.
        """
        fewest = np.floor(self.count / self.bays)
        first = 2.0 * self.half + (fewest - 1.0) * self.pitch
        others = (self.braces + 2.0 - self.bays) * self.span
        taken = np.maximum(self._need(self.bays), self.room - others + first)
        return self.inner_width - taken - (self.bays - 1.0) * self.board - run

    def own_bay(self, group: Floats) -> Floats:
        """Width left when the first bay holds a ``group`` that wide and the drivers the others."""
        bays = np.minimum(self.count, self.braces)
        some = np.maximum(bays, 1.0)
        fullest = 2.0 * self.half + (np.ceil(self.count / some - WHOLE) - 1.0) * self.pitch
        slack = np.minimum(self.room - self._need(some) - group, self.span - np.maximum(fullest, group))
        return np.where(bays >= 1.0, slack, -np.inf)

    def shared_bay(self, group: Floats) -> Floats:
        """Width left when the first bay holds a ``group`` that wide and drivers beside it."""
        fewest = np.floor(self.count / self.bays)
        first = 2.0 * self.half + (fewest - 1.0) * self.pitch + group
        return np.minimum(self.room - self._need(self.bays) - group, self.span - first)

    def even_bay(self) -> tuple[Floats, Floats]:
        """A width that at least one bay has, and how many bays have it for certain."""
        average = self.room / (self.braces + 1.0)
        fullest = 2.0 * self.half + (np.ceil(self.count / self.bays - WHOLE) - 1.0) * self.pitch
        return average, np.where(fullest <= average, self.braces + 1.0, 1.0)

    def _need(self, bays: Floats) -> Floats:
        return bays * 2.0 * self.half + (self.count - bays) * self.pitch


def row_of(
    *,
    inner_width: Floats,
    board: float,
    brace_span: float,
    outer_diameter: Floats,
    inside_diameter: Floats,
    count: Floats,
    gap: float,
) -> Row:
    """Set out drivers and braces across a box.

    ``outer_diameter`` is over the flange, ``inside_diameter`` the widest part behind the
    baffle.  As many braces as it takes that no panel is unsupported over more than
    ``brace_span`` and no bay holds more drivers than fit in that span (common practice, no
    source).  A driver too wide for the span gets a bay of its own width.  Flanges stand
    ``gap`` apart, also across a brace; baskets stand ``gap`` off braces and side panels.
    """
    half = np.maximum(0.5 * inside_diameter + gap, 0.5 * (outer_diameter + gap - board))
    pitch = np.maximum(outer_diameter, inside_diameter) + gap
    span = np.maximum(brace_span, 2.0 * half)
    in_a_bay = np.floor((span - 2.0 * half) / pitch + WHOLE) + 1.0
    for_panels = np.ceil((inner_width - span) / (span + board) - WHOLE)
    for_drivers = np.ceil(count / in_a_bay - WHOLE) - 1.0
    braces = np.maximum(np.maximum(for_panels, for_drivers), 0.0)
    return Row(
        inner_width=inner_width,
        board=board,
        span=span,
        half=half,
        pitch=pitch,
        count=count,
        braces=braces,
        bays=np.minimum(count, braces + 1.0),
    )


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
