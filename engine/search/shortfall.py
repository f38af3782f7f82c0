"""What a design that cannot be built is short of."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.openings import limits
from engine.quantities import Units, show
from engine.search.evaluator import UNHEARD
from engine.space.layout import SLACK_WORDS

Floats = NDArray[np.float64]

# What a design is short of when a constraint is broken.
SHORT_OF = {
    **SLACK_WORDS,
    "space": "room in the space's cross-section or width",
    "door": "room in the door opening or behind it",
    **{limit.name: limit.short_of for limit in limits().values()},
    "tuning": "a tuning within its bounds",
    "f3": "bass: its response never comes up to its reference level",
}
HEARD = {"f3", "tuning"}  # known only of designs that fit
IN_METRES = {*SLACK_WORDS, "space", "door"}
TOUCH = 1e-9  # m, a constraint broken by less is kept


def broken(constraints: Mapping[str, float]) -> dict[str, float]:
    """The constraints of one design that are broken; where it does not fit, those of fitting alone.

    A design that does not fit was not heard, so nothing is known of its limits.
    """
    found = {name: by for name, by in constraints.items() if by > 0.0}
    geometry = {name: by for name, by in found.items() if name in SHORT_OF and name not in HEARD}
    return geometry or found


@dataclass(frozen=True)
class Shortfall:
    """A broken constraint, by how much and under which limits, as a parameter of a message."""

    name: str
    by: float
    limits: Mapping[str, float]

    def told(self, units: Units) -> str:
        return in_words(self.name, self.by, limits=self.limits, units=units)


def shortest(constraints: Mapping[str, Floats]) -> tuple[list[str], Floats]:
    """For each of N designs what it is most short of, in words ("" if of nothing), and by how many metres."""
    count = len(next(iter(constraints.values())))
    words, by = [""] * count, np.full(count, np.nan)
    stacked = np.stack(list(constraints.values()))
    for number in np.flatnonzero(stacked.max(axis=0) > TOUCH) if count else ():
        found = broken(dict(zip(constraints, stacked[:, number].tolist(), strict=True)))
        name = max(found, key=lambda each: found[each])
        words[number] = SHORT_OF.get(name) or f"the limit on {COLUMNS[name.removeprefix('limit ')].inner_label}"
        if name in IN_METRES:
            by[number] = found[name]
    return words, by


def in_words(name: str, by: float, *, limits: Mapping[str, float], units: Units) -> str:
    """One broken constraint as something to be short of, with by how much."""
    if name in SHORT_OF:
        return f"{SHORT_OF[name]} ({show(by, 'length', units)})" if name in IN_METRES else SHORT_OF[name]
    key = name.removeprefix("limit ")
    column, limit = COLUMNS[key], limits[key]
    excess = by / (1.0 - by) if by < UNHEARD else math.inf  # undoes problem.below_one
    reached = limit + (excess if column.better == "min" else -excess) * abs(limit)
    figures = f"{_shown(limit, column.kind, units)} (it comes to {_shown(reached, column.kind, units)})"
    return f"the limit on {column.inner_label}, {figures}"


def _shown(value: float, kind: str, units: Units) -> str:
    if kind == "level":
        return f"{value:.1f} dB"
    return f"{value:.2f}" if kind in ("ratio", "money") else show(value, kind, units)
