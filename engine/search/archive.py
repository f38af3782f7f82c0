"""The best designs met so far, one for each cell of what a builder can tell apart.

A search tries designs roughly and works a few out exactly.  What is only known roughly waits beside the archive, and
pushes nothing out of it; once worked out it takes its place, or is never asked for again.  So the archive holds at any
time what a table of it would hold.
"""

from __future__ import annotations

from collections.abc import Sequence

import moocore
import numpy as np
from numpy.typing import NDArray

from engine.arrays import Floats, Indices, Integers, codes

NEARLY = 0.3  # sides of a cell, summed, by which a design has to be better than the one at home there
FEW = 64  # designs that wait before the first are worked out; more, the more there are to compare with


class Archive:
    """Designs that no other of them beats, one in each cell of a grid over the objectives, and the best on each.

    ``steps`` (k,) are the sides of a cell.  ``X`` and ``F`` are the designs and their objectives, (n, n_var) and
    (n, k), less is better; ``marks`` (n,) what they were told to be kept under.
    """

    def __init__(self, *, variables: int, steps: Sequence[float]) -> None:
        self.steps = np.asarray(steps, dtype=float)
        self.X, self.F = np.empty((0, variables)), np.empty((0, len(self.steps)))
        self.marks: Integers = np.empty(0, dtype=np.int64)
        self.waiting_X, self.waiting_F = self.X, self.F  # known roughly
        self.sent_X, self.sent_F = self.X, self.F  # being worked out
        # Cells of rough figures that turned out otherwise, by their code.
        self._refuted = np.empty(0, dtype=np.int64)

    def offer(self, X: Floats, F: Floats) -> NDArray[np.bool_]:
        """Let designs known roughly wait, if they may belong here; which of them do, (n,)."""
        fresh = np.flatnonzero(~np.isin(self._cells(F), self._refuted))
        if not len(fresh):
            return np.zeros(len(F), dtype=bool)
        fresh = fresh[moocore.is_nondominated(F[fresh])]
        fresh = fresh[~self._at_home(F[fresh])]
        others = np.vstack([self.F, self.sent_F])
        best = moocore.is_nondominated(np.vstack([others, self.waiting_F, F[fresh]]))[len(others) :]
        every_X, every_F = np.vstack([self.waiting_X, X[fresh]]), np.vstack([self.waiting_F, F[fresh]])
        rows = np.flatnonzero(best)
        rows = np.sort(rows[self._one_a_cell(every_F[rows])])
        entered = np.zeros(len(F), dtype=bool)
        entered[fresh[rows[rows >= len(self.waiting_F)] - len(self.waiting_F)]] = True
        self.waiting_X, self.waiting_F = every_X[rows], every_F[rows]
        return entered

    @property
    def due(self) -> bool:
        """Whether so many wait that it is time to send them."""
        return len(self.waiting_X) >= FEW + len(self.X) // 4

    def send(self) -> Floats:
        """What waits, (m, n_var), to be worked out exactly; until it is confirmed nothing more can be sent."""
        self.sent_X, self.sent_F = self.waiting_X, self.waiting_F
        self.waiting_X, self.waiting_F = self.waiting_X[:0], self.waiting_F[:0]
        return self.sent_X

    def confirm(self, F: Floats, right: NDArray[np.bool_], marks: Integers) -> None:
        """Take in what the designs sent came to exactly: which keep every limit and are ``right``, (m,), and of these
        the objectives, (n, k), and their ``marks``, (n,).
        """
        # Whatever else comes to lie where it was thought to be is likely to move as well: it is not asked again.
        rough = self._cells(self.sent_F)
        moved = ~right
        moved[right] = rough[right] != self._cells(F)
        self._refuted = np.union1d(self._refuted, rough[moved])
        known = self.sent_X[right]
        self.sent_X, self.sent_F = self.sent_X[:0], self.sent_F[:0]
        self.take_in(known, F, marks)

    def trust(self) -> None:
        """Take in what waits as it was told: it is known exactly, and keeps every limit."""
        X, F = self.waiting_X, self.waiting_F
        self.waiting_X, self.waiting_F = X[:0], F[:0]
        self.take_in(X, F, np.full(len(X), -1))

    def take_in(self, X: Floats, F: Floats, marks: Integers) -> None:
        """Take in designs known exactly, (n, n_var), that keep every limit: objectives (n, k), and their marks (n,)."""
        X_all, F_all = np.vstack([self.X, X]), np.vstack([self.F, F])
        if not len(F_all):
            return
        best = np.flatnonzero(moocore.is_nondominated(F_all))
        best = np.sort(best[self._one_a_cell(F_all[best])])
        self.X, self.F, self.marks = X_all[best], F_all[best], np.concatenate([self.marks, marks])[best]
        if len(self.waiting_F):
            still = moocore.is_nondominated(np.vstack([self.F, self.waiting_F]))[len(self.F) :]
            self.waiting_X, self.waiting_F = self.waiting_X[still], self.waiting_F[still]

    def _cells(self, F: Floats) -> Integers:
        """A code for each row's cell, (n,)."""
        return codes(np.floor(F / self.steps).astype(np.int64).T)

    def _at_home(self, F: Floats) -> NDArray[np.bool_]:
        """Which designs lie in a cell whose member is as good or nearly so, (n,)."""
        if not len(self.F):
            return np.zeros(len(F), dtype=bool)
        cells = self._cells(self.F)
        order = np.argsort(cells)
        own = self._cells(F)
        place = np.minimum(np.searchsorted(cells[order], own), len(order) - 1)
        there = order[place]
        return np.asarray((cells[there] == own) & (self._into(F) > self._into(self.F[there]) - NEARLY))

    def _into(self, F: Floats) -> Floats:
        """How far each design is from the best corner of its cell, sides summed, (n,)."""
        return np.asarray((F / self.steps - np.floor(F / self.steps)).sum(axis=1))

    def _one_a_cell(self, F: Floats) -> Indices:
        """Of the designs in each cell the one nearest to its best corner, of equals the first; and the ends of all."""
        order = np.argsort(self._into(F), kind="stable")
        _, first = np.unique(self._cells(F)[order], return_index=True)
        return np.union1d(order[first], np.argmin(F, axis=0)) if len(F) else order
