"""The search itself: an archive that everything feasible may enter, and moves that start from it.

It speaks pymoo's language (``ask`` for variables, ``tell`` objectives F and constraints G) and runs on a pymoo
``Problem``, but keeps plain arrays: building and reading pymoo's population of objects takes about as long as
evaluating these designs does.
"""

from __future__ import annotations

from collections.abc import Sequence

import moocore
import numpy as np
from numpy.typing import NDArray
from pymoo.core.problem import Problem
from scipy.stats import qmc

from engine.arrays import Floats, Indices
from engine.search.archive import Archive

BATCH = 2_048  # a power of two, which is what keeps a Sobol sequence balanced
START = 4  # batches of the opening Sobol sequence
SETTINGS = 4  # of what costs little to change, tried on each box
ENOUGH = 50  # feasible designs that make stragglers of their niche unnecessary
LEADING, BEHIND = 0.60, 0.35  # shares of the moves that start from the archive and from niches; the rest are scattered
OF_EACH = 24  # designs that a niche remembers
ALIKE = 0.5  # of the moves from niches, the part that all niches share alike; the rest goes where they succeed
FADING = 0.8  # of a niche's successes, what counts one batch later
HOPEFUL = 5_000  # tries of a niche that had none feasible before it gets less
REDRAW = 0.05  # share of moves that draw a discrete choice anew
CELLS = 24  # cells an objective's range is cut into when designs are thinned


class Niche:
    """Designs of one family with the same choices: the best of its own, or the least infeasible ones."""

    def __init__(self, variables: int, objectives: int) -> None:
        self.X = self.straggling_X = np.empty((0, variables))
        self.F, self.violation = np.empty((0, objectives)), np.empty(0)
        self.tried = self.feasible = 0
        self.successes = 1.0

    @property
    def pool(self) -> Floats:
        """What moves start from."""
        return self.X if len(self.X) * 3 >= OF_EACH else np.vstack([self.X, self.straggling_X])

    def tell(self, X: Floats, F: Floats, violation: Floats, right: NDArray[np.bool_]) -> None:
        """Take in designs of its own; ``right`` says which are feasible."""
        self.tried += len(X)
        if not self.feasible and len(self.violation):
            # What comes nearer to being feasible is worth following.
            self.successes += float((violation < self.violation[0]).sum())
        self.feasible += int(right.sum())
        if right.any():
            X_all, F_all = np.vstack([self.X, X[right]]), np.vstack([self.F, F[right]])
            best = moocore.is_nondominated(F_all)
            self.X, self.F = thin(X_all[best], F_all[best], most=OF_EACH)
        if self.feasible < ENOUGH:
            X_all = np.vstack([self.straggling_X, X[~right]])
            violations = np.concatenate([self.violation, violation[~right]])
            least = np.argsort(violations, kind="stable")[:OF_EACH]
            self.straggling_X, self.violation = X_all[least], violations[least]


class ArchiveSearch:
    """Ask/tell search over a pymoo problem whose discrete variables are rounded floats.

    ``problem.family_variable`` is the index of the variable that names the family and ``problem.choice_variables`` are
    those of all discrete ones.  ``problem.niches(X)`` numbers the niches that designs belong to: family and choices,
    without what costs little to change.  Moves mix designs of one niche only, because a depth that suits one driver
    means little to another, and every niche gets its share of them, since one whose first designs are beaten by
    another's that is easy to build may still come to hold the best.  ``problem.settings(X, rng)`` gives designs that
    are the same boxes with other settings, or None where there are none.  ``problem.steps`` are the differences in
    each objective that are worth keeping apart, unless ``steps`` are given.

    ``archive.X`` and ``archive.F`` are the front.  With ``rough`` evaluations what is told waits in the archive until
    it is confirmed; else it is confirmed at once.
    """

    def __init__(
        self, problem: Problem, *, seed: int, rough: bool = False, steps: Sequence[float] | None = None
    ) -> None:
        self.problem, self.rough = problem, rough
        self.rng = np.random.default_rng(seed)
        self._sobol = qmc.Sobol(problem.n_var, rng=self.rng)
        self._low: Floats = problem.xl
        self._span: Floats = problem.xu - problem.xl
        self._family = int(problem.family_variable)
        self._choices = tuple(problem.choice_variables)
        self.evaluations = self.opened = 0
        self.archive = Archive(variables=problem.n_var, steps=problem.steps if steps is None else steps)
        self._niches: dict[int, Niche] = {}
        middle = (self._low + 0.5 * self._span)[np.newaxis]
        self._settings = 1 if problem.settings(middle, np.random.default_rng(seed)) is None else SETTINGS

    @property
    def known(self) -> Floats:
        """What a search of a like problem may start from: the archive, and what niches remember, (n, n_var)."""
        niches = [self._niches[number] for number in sorted(self._niches)]
        return np.vstack([self.archive.X, *(X for niche in niches for X in (niche.X, niche.straggling_X))])

    def ask(self, size: int = BATCH) -> Floats:
        """The next designs to evaluate, (size, n_var); those of one box follow each other."""
        if self.opened < START * BATCH:
            # Whole powers of two, however few are asked for: less would be no balanced sequence.
            self.opened += BATCH
            return self._low + self._sobol.random(BATCH)[:size] * self._span
        boxes = -(-size // self._settings)
        leading, behind = int(LEADING * boxes), int(BEHIND * boxes)
        parents = np.vstack([self.archive.X, self.archive.sent_X, self.archive.waiting_X])
        if len(parents) < ENOUGH:
            leading, behind = 0, leading + behind
        parts = [self._from_niches(behind), self._scatter((boxes - leading - behind) * self._settings)]
        if leading:
            parts.insert(0, self._with_settings(self._move(parents, self._bases(parents, leading))))
        return np.vstack(parts)[:size]

    def remembered(self, of_each: int) -> Floats:
        """What another search of the same problem may start from: the archive and about so many of every niche."""
        niches = [self._niches[number] for number in sorted(self._niches)]
        best = [
            thin(each.X, each.F, most=of_each)[0] if each.feasible else each.straggling_X[:of_each] for each in niches
        ]
        return np.unique(np.vstack([self.archive.X, *best]), axis=0)

    def tell(self, X: Floats, F: Floats, G: Floats) -> None:
        """Take in an evaluation: objectives (n, n_obj) and constraints (n, n_constr), ≤ 0 feasible."""
        self.evaluations += len(X)
        violation = np.maximum(G, 0.0).sum(axis=1)
        right = (violation <= 0.0) & np.isfinite(F).all(axis=1)
        feasible = np.flatnonzero(right)
        entered = np.zeros(len(X), dtype=bool)
        entered[feasible] = self.archive.offer(X[feasible], F[feasible])
        if not self.rough:
            waiting = self.archive.waiting_F
            count = len(self.archive.send())
            self.archive.confirm(waiting, np.ones(count, dtype=bool), np.full(count, -1))
        for niche in self._niches.values():
            niche.successes *= FADING
        numbers = self.problem.niches(X)
        order = np.argsort(numbers, kind="stable")
        found, starts = np.unique(numbers[order], return_index=True)
        for number, rows in zip(found.tolist(), np.split(order, starts[1:]), strict=True):
            niche = self._niches.setdefault(number, Niche(X.shape[1], F.shape[1]))
            niche.successes += float(entered[rows].sum())
            niche.tell(X[rows], F[rows], violation[rows], right[rows])

    def _with_settings(self, X: Floats) -> Floats:
        """Each box with its own settings and with some others, one after the other."""
        others = [self.problem.settings(X, self.rng) for _ in range(self._settings - 1)]
        return np.asarray(np.stack([X, *others], axis=1).reshape(-1, X.shape[1]))

    def _scatter(self, size: int) -> Floats:
        return self._low + self.rng.random((size, len(self._low))) * self._span

    def _from_niches(self, boxes: int) -> Floats:
        """Moves from niches, as many as come to so many boxes with their settings.

        A part goes to all alike, but that those that have none feasible yet get more of it until they look impossible,
        and the rest to where moves succeed.
        """
        niches = [self._niches[number] for number in sorted(self._niches)]
        even = np.array([1.0 if each.feasible else 2.0 if each.tried < HOPEFUL else 0.25 for each in niches])
        good = np.array([each.successes for each in niches])
        share = self.rng.multinomial(boxes, ALIKE * even / even.sum() + (1.0 - ALIKE) * good / good.sum())
        moved = []
        for niche, count in zip(niches, share.tolist(), strict=True):
            pool = niche.pool
            if niche.feasible:
                moved.append(self._with_settings(self._move(pool, self.rng.integers(0, len(pool), count))))
            else:
                # Where no box fits yet, boxes are what is looked for.
                moved.append(self._move(pool, self.rng.integers(0, len(pool), count * self._settings)))
        return np.vstack(moved)

    def _move(self, pool: Floats, base: Indices) -> Floats:
        """A step from each ``base`` of the pool."""
        rng, size = self.rng, len(base)
        X = pool[base].copy()
        one, two = self._relatives(pool, base)
        # Differential moves follow the shape of the front; Gaussian ones, of widely mixed size, let go of it.  Either
        # changes a random handful of the variables.
        step = rng.uniform(0.2, 0.9, (size, 1)) * (pool[one] - pool[two])
        spread = 10.0 ** rng.uniform(-3.0, -0.7, (size, 1))
        gauss = rng.standard_normal(X.shape) * spread * self._span
        differential = rng.random((size, 1)) < 0.5
        touched = rng.random(X.shape) < rng.choice([0.15, 0.4, 0.9], (size, 1))
        X += np.where(touched, np.where(differential, step, gauss), 0.0)
        X[:, self._family] = pool[base, self._family]
        # A choice that has died out is tried again in the surroundings of what is good now.
        for column in self._choices:
            redrawn = rng.random(size) < REDRAW
            X[redrawn, column] = self._low[column] + rng.random(redrawn.sum()) * self._span[column]
        # A wall is where many of the best designs stand, so a step past it ends on it.
        return np.clip(X, self._low, self._low + self._span)

    def _bases(self, pool: Floats, size: int) -> Indices:
        """Members to start from: half as they come, half by niche first, so that none is starved."""
        _, niche = np.unique(self.problem.niches(pool), return_inverse=True)
        weight = 1.0 / np.bincount(niche)[niche]
        share = 0.5 / len(pool) + 0.5 * weight / weight.sum()
        return np.asarray(self.rng.choice(len(pool), size=size, p=share))

    def _relatives(self, pool: Floats, base: Indices) -> tuple[Indices, Indices]:
        """For each base two random members of its own niche."""
        _, niche = np.unique(self.problem.niches(pool), return_inverse=True)
        order = np.argsort(niche, kind="stable")
        starts = np.searchsorted(niche[order], np.arange(niche.max() + 2))
        first, last = starts[niche[base]], starts[niche[base] + 1]
        draw = self.rng.random((2, len(base)))
        picked = order[(first + draw * (last - first)).astype(np.int64)]
        return picked[0], picked[1]


def thin(X: Floats, F: Floats, *, most: int) -> tuple[Floats, Floats]:
    """At most about ``most`` designs, one in each occupied cell of a grid over the objectives.

    The grid is coarsened until few enough are left.  In each cell the design nearest to the ideal stays, and the best
    on each single objective always does, so thinning is the same every time and never loses an end of the front.
    """
    if len(F) <= most:
        return X, F
    low, high = F.min(axis=0), F.max(axis=0)
    scaled = (F - low) / np.where(high > low, high - low, 1.0)
    order = np.argsort(scaled.sum(axis=1), kind="stable")
    ends = np.argmin(F, axis=0)
    cells = CELLS * 4
    while True:
        numbers = np.minimum((scaled * cells).astype(np.int64), cells - 1)
        _, kept = np.unique(numbers[order] @ (cells ** np.arange(F.shape[1])), return_index=True)
        if len(kept) <= most or cells == 1:
            break
        cells = max(1, cells * 4 // 5)
    chosen = np.union1d(order[kept], ends)
    return X[chosen], F[chosen]
