"""What came of each kind of box and driver: was any feasible, and if not, what was the nearest short of."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

import numpy as np
import pandas as pd

from engine.arrays import Floats
from engine.constraints import Shortfall
from engine.errors import SearchImpossible
from engine.search.evaluator import Designs
from engine.search.families import group_columns
from engine.search.front import misfits
from engine.search.problem import BoxProblem
from engine.search.shortfall import shortfalls
from engine.words.voice import Count

FEW = 5_000  # designs tried that are too few to blame driver or space


class NothingFeasible(SearchImpossible):
    """Designs were tried and none is feasible: the nearest of each box kind, driver, count and facing.

    ``misfits`` has a row for each of them, ``left_out`` what each is short of, as a search's record has them.
    """

    def __init__(self, code: str, *, misfits: pd.DataFrame, left_out: list[dict[str, Any]], **parameters: Any) -> None:
        self.misfits, self.left_out = misfits, left_out
        super().__init__(code, **parameters)


class Nearest:
    """Watches a search and remembers, for each box kind, driver, count and facing, the design nearest to feasible."""

    def __init__(self, problem: BoxProblem) -> None:
        self._problem = problem
        self._columns = group_columns()
        groups = [family.key[: len(self._columns)] for family in problem.evaluator.families.items]
        self._groups: list[tuple[Any, ...]] = list(dict.fromkeys(groups))
        self._group_of = np.array([self._groups.index(group) for group in groups])
        self._found = np.zeros(len(self._groups), dtype=bool)
        # Of each group that was tried: what the nearest design violates, and its variables.
        self._nearest: dict[int, tuple[Floats, Floats]] = {}

    def tell(self, X: Floats, G: Floats) -> None:
        """Take in the variables (N, n_var) and constraints (N, n_constr) of a batch."""
        if self._found.all():
            return
        violated = np.maximum(G, 0.0)
        total = violated.sum(axis=1)
        group = self._group_of[self._problem.family(X)]
        for number in np.flatnonzero(~self._found).tolist():
            if not len(rows := np.flatnonzero(group == number)):
                continue
            best = rows[np.argmin(total[rows])]
            self._found[number] = total[best] <= 0.0
            if number not in self._nearest or total[best] < self._nearest[number][0].sum():
                self._nearest[number] = violated[best], X[best]

    def settle(self) -> None:
        """Work out the nearest misfits once more, every way tried: a search passes over ways that cannot do."""
        constraints = self._problem.evaluator.judge(self.designs(), hear_all=True).constraints
        violated = np.column_stack([np.maximum(constraints[name], 0.0) for name in self._problem.constraint_names])
        for number, least in zip(self._misfits(), violated, strict=True):
            self._nearest[number] = least, self._nearest[number][1]

    def left_out(self, front: pd.DataFrame) -> list[dict[str, Any]]:
        """Each box kind, driver, count and facing that has no design on the front, and why.

        As a search's record has them: what names the group, ``reason`` (``beaten``, ``untried`` or ``short``) and, in
        ``short_of``, the fields of each :class:`engine.constraints.Shortfall` of the nearest design.
        """
        there = set(front[list(self._columns)].itertuples(index=False, name=None))
        told = []
        for number, group in enumerate(self._groups):
            if group in there:
                continue
            reason = "beaten" if self._found[number] else "short" if number in self._nearest else "untried"
            short = [asdict(each) for each in self._short(self._nearest[number][0])] if reason == "short" else []
            told.append({**dict(zip(self._columns, group, strict=True)), "reason": reason, "short_of": short})
        return told

    def designs(self) -> Designs:
        """The nearest design of each box kind, driver, count and facing of which none was feasible."""
        kept = [self._nearest[number][1] for number in self._misfits()]
        return self._problem.decode(np.array(kept).reshape(len(kept), self._problem.n_var))

    def _misfits(self) -> list[int]:
        return [number for number in sorted(self._nearest) if not self._found[number]]

    def reason(self, tried: int, front: pd.DataFrame, *, cancelled: bool) -> SearchImpossible:
        """Why a search found nothing at all, its ``front`` without rows, and what to do about it."""
        if not self._nearest:
            return SearchImpossible("none_tried")
        short = self._short(min((self._nearest[number][0] for number in sorted(self._nearest)), key=np.sum))
        few = cancelled or tried < FEW
        return NothingFeasible(
            "few_tried" if few else "none_feasible",
            misfits=misfits(self._problem.evaluator, self.designs()),
            left_out=self.left_out(front),
            tried=Count(tried),
            short=short,
            **({"enough": Count(FEW)} if few else {}),
        )

    def _short(self, violated: Floats) -> tuple[Shortfall, ...]:
        constraints = dict(zip(self._problem.constraint_names, violated.tolist(), strict=True))
        return shortfalls(constraints, self._problem.evaluator.limits)
