"""What came of each kind of box and driver: was any feasible, and if not, what was the nearest short of."""

from __future__ import annotations

import math

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.quantities import show
from engine.search.problem import UNHEARD, BoxProblem
from engine.space.layout import SLACK_WORDS

# What a design is short of when a constraint is broken.
SHORT_OF = {
    **SLACK_WORDS,
    "space": "room in the space's cross-section or width",
    "door": "room in the door opening",
    "vent resonance": "a vent short enough to have its own resonance above 200 Hz",
    "f3": "bass: its response never comes up to its reference level",
}
_IN_METRES = {*SLACK_WORDS, "space", "door"}
FEW = 5_000  # designs tried that are too few to blame driver or space
Group = tuple[str, str, int]


class Nearest:
    """Watches a search and remembers, for each box kind, driver and count, the design nearest to feasible."""

    def __init__(self, problem: BoxProblem) -> None:
        self._names = problem.constraint_names
        self._limits = problem.bench.limits
        families = problem.bench.families.items
        groups = [family.key[:3] for family in families]
        self._groups: list[Group] = list(dict.fromkeys(groups))
        self._group_of = np.array([self._groups.index(group) for group in groups])
        self._found = np.zeros(len(self._groups), dtype=bool)
        self._least: list[NDArray[np.float64] | None] = [None] * len(self._groups)

    def tell(self, family: NDArray[np.int64], G: NDArray[np.float64]) -> None:
        """Take in the families (N,) and constraints (N, n_constr) of a batch."""
        violated = np.maximum(G, 0.0)
        total = violated.sum(axis=1)
        group = self._group_of[family]
        for number in np.flatnonzero(~self._found):
            rows = np.flatnonzero(group == number)
            if not len(rows):
                continue
            best = rows[np.argmin(total[rows])]
            self._found[number] = total[best] <= 0.0
            least = self._least[number]
            if least is None or total[best] < least.sum():
                self._least[number] = violated[best]

    def left_out(self, front: pd.DataFrame) -> list[str]:
        """A sentence for each box kind, driver and count that has no design on the front."""
        there = set(zip(front["box_kind"], front["driver"], front["driver_count"].astype(int), strict=True))
        told = []
        for number, (kind, driver, count) in enumerate(self._groups):
            if (kind, driver, count) in there:
                continue
            name = f"{kind} box, {count} × {driver}"
            if self._found[number]:
                told.append(f"{name}: some can be built, but each is beaten on everything by another design")
            else:
                told.append(f"{name}: {self._short(self._least[number])}")
        return told

    def reason(self, tried: int, *, cancelled: bool) -> str:
        """Why a search found nothing at all, and what to do about it."""
        least = [each for each in self._least if each is not None]
        if not least:
            return "the search was cancelled before any design was tried"
        told = f"none of {tried} designs tried is feasible; {self._short(min(least, key=lambda each: each.sum()))}. "
        if cancelled or tried < FEW:
            return told + f"So few tell little: let it try {FEW} or more"
        return told + "Try a smaller or shallower driver, a larger space, or looser bounds and limits"

    def _short(self, violated: NDArray[np.float64] | None) -> str:
        if violated is None:
            return "none was tried"
        broken = {name: float(by) for name, by in zip(self._names, violated, strict=True) if by > 0.0}
        geometry = [name for name in broken if name in SHORT_OF and name != "f3"]
        # A design that does not fit was not heard, so nothing is known of its limits.
        told = [self._words(name, by) for name, by in broken.items() if not geometry or name in geometry]
        return f"the nearest one is short of {', '.join(told)}"

    def _words(self, name: str, by: float) -> str:
        if name in SHORT_OF:
            return f"{SHORT_OF[name]} ({1000.0 * by:.1f} mm)" if name in _IN_METRES else SHORT_OF[name]
        key = name.removeprefix("limit ")
        column, limit = COLUMNS[key], self._limits[key]
        excess = by / (1.0 - by) if by < UNHEARD else math.inf  # undoes problem.below_one
        reached = limit + (excess if column.better == "min" else -excess) * abs(limit)
        figures = f"{_shown(limit, column.kind)} (it comes to {_shown(reached, column.kind)})"
        return f"the limit on {column.inner_label}, {figures}"


def _shown(value: float, kind: str) -> str:
    if kind == "level":
        return f"{value:.1f} dB"
    return f"{value:.2f}" if kind in ("ratio", "money") else show(value, kind, "metric")
