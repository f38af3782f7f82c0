"""What a design that cannot be built is short of."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from engine.arrays import Floats
from engine.constraints import CONSTRAINTS, Shortfall
from engine.search.evaluator import excess_of, scale_of

TOUCH = 1e-9  # m, a constraint broken by less is kept


def broken(constraints: Mapping[str, float]) -> dict[str, float]:
    """The constraints of one design that are broken; where it does not fit, those of fitting alone.

    A design that does not fit was not heard, so nothing is known of its limits.
    """
    found = {name: by for name, by in constraints.items() if by > 0.0}
    return {name: by for name, by in found.items() if not CONSTRAINTS[name].heard} or found


def shortest(constraints: Mapping[str, Floats]) -> tuple[list[str], Floats]:
    """For each of N designs the constraint it breaks by most ("" if none), and by how many metres."""
    count = len(next(iter(constraints.values())))
    names, by = [""] * count, np.full(count, np.nan)
    stacked = np.stack(list(constraints.values()))
    for number in np.flatnonzero(stacked.max(axis=0) > TOUCH) if count else ():
        found = broken(dict(zip(constraints, stacked[:, number].tolist(), strict=True)))
        name = max(found, key=lambda each: found[each])
        names[number] = name
        if CONSTRAINTS[name].in_metres:
            by[number] = found[name]
    return names, by


def shortfalls(constraints: Mapping[str, float], limits: Mapping[str, float]) -> tuple[Shortfall, ...]:
    """All that a design is short of, under the ``limits`` on goals (SI) that it was judged by."""
    found = []
    for name, by in broken(constraints).items():
        limit = reached = None
        if goal := CONSTRAINTS[name].goal:
            limit = limits[goal.key]
            reached = limit + goal.turn * excess_of(by) * scale_of(goal, limit)
        known = reached is not None and np.isfinite(reached)
        found.append(Shortfall(constraint=name, by=by, limit=limit, reached=reached if known else None))
    return tuple(found)
