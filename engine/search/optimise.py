"""The search itself: an archive that everything feasible may enter, and moves that start from it.

It speaks pymoo's language (``ask`` for variables, ``tell`` objectives F and constraints G) and runs on a pymoo
``Problem``, but keeps plain arrays: building and reading pymoo's population of objects takes about as long as
evaluating these designs does.
"""

from __future__ import annotations

import moocore
import numpy as np
from numpy.typing import NDArray
from pymoo.core.problem import Problem
from scipy.stats import qmc

from engine.arrays import Floats

BATCH = 4_096  # a power of two, which is what keeps a Sobol sequence balanced
PARENTS = 1_000  # the most designs that moves start from
STRAGGLERS = 400  # the least infeasible designs, kept of families that have none feasible or while those are few;
# and the best feasible ones of families that have none among the parents
ENOUGH = 50  # feasible designs that make stragglers of their families unnecessary
STRAGGLING = 0.15  # share of moves that start from stragglers once feasible designs are enough
REDRAW = 0.05  # share of moves that draw a discrete choice anew
START = 3  # batches of the opening Sobol sequence
SETTLE_AT = 200_000  # designs in waiting that are worth sorting out, so that the end does not take long
CELLS = 24  # cells an objective's range is cut into when parents are thinned


class ArchiveSearch:
    """Ask/tell search over a pymoo problem whose discrete variables are rounded floats.

    ``problem.family_variable`` is the index of the variable that names the family; moves mix designs of one family
    only, because a depth that suits one driver means little to another.  ``problem.choice_variables`` are the indices
    of all discrete variables.  ``X`` and ``F`` are all feasible designs seen that no other seen design beats, with
    their objectives, (n, n_var) and (n, n_obj); call :meth:`settle` first.
    """

    def __init__(self, problem: Problem, *, seed: int) -> None:
        self.rng = np.random.default_rng(seed)
        self._sobol = qmc.Sobol(problem.n_var, rng=self.rng)
        self._low: Floats = problem.xl
        self._span: Floats = problem.xu - problem.xl
        self._family = int(problem.family_variable)
        self._choices = tuple(problem.choice_variables)
        self.evaluations = 0
        self.X = self.parents_X = self._stragglers = np.empty((0, problem.n_var))
        self.F = self.parents_F = np.empty((0, problem.n_obj))
        self._waiting: list[tuple[Floats, Floats]] = []
        families = int(np.ceil(problem.xu[self._family]))
        self._feasible = np.zeros(families, dtype=np.int64)  # how many feasible designs each family had
        self._violations = np.empty(0)
        self._beaten_X, self._beaten_F = self.X, self.F  # the best of families of which others beat every design

    def ask(self, size: int = BATCH) -> Floats:
        """The next designs to evaluate, (size, n_var)."""
        if self.evaluations < START * BATCH:
            # Whole powers of two, however few are asked for: less would be no balanced sequence.
            return self._low + self._sobol.random(BATCH)[:size] * self._span
        if len(self.parents_X) < ENOUGH:
            pool, scattered = np.vstack([self.parents_X, self._stragglers]), size // 10
            return np.vstack([self._move(pool, size - scattered), self._scatter(scattered)])
        behind = [each for each in (self._stragglers, self._beaten_X) if len(each)]
        scattered, straggling = size // 50, int(STRAGGLING * size) // max(len(behind), 1)
        moved = [self._move(each, straggling) for each in behind]
        leading = self._move(self.parents_X, size - scattered - straggling * len(behind))
        return np.vstack([leading, *moved, self._scatter(scattered)])

    def tell(self, X: Floats, F: Floats, G: Floats) -> None:
        """Take in an evaluation: objectives (n, n_obj) and constraints (n, n_constr), ≤ 0 feasible."""
        self.evaluations += len(X)
        violation = np.maximum(G, 0.0).sum(axis=1)
        feasible = (violation <= 0.0) & np.isfinite(F).all(axis=1)
        if feasible.any():
            X_all = np.vstack([self.parents_X, X[feasible]])
            F_all = np.vstack([self.parents_F, F[feasible]])
            best = moocore.is_nondominated(F_all)
            fresh = best & (np.arange(len(best)) >= len(self.parents_X))
            self._waiting.append((X_all[fresh], F_all[fresh]))
            if sum(len(F) for _, F in self._waiting) > SETTLE_AT:
                self.settle()
            self.parents_X, self.parents_F = thin(X_all[best], F_all[best], most=PARENTS)
            self._keep_beaten(X[feasible], F[feasible])
        self._keep_stragglers(X, violation, feasible)

    def _keep_beaten(self, X: Floats, F: Floats) -> None:
        """Feasible designs, equally many of each family that the parents lack: those that none of their own beats.

        A family whose first designs are beaten by another's that is easy to build may still come to hold the best.
        """
        X_all, F_all = np.vstack([self._beaten_X, X]), np.vstack([self._beaten_F, F])
        family = self._families(X_all)
        missing = np.setdiff1d(family, self._families(self.parents_X))
        kept = [(self._beaten_X[:0], self._beaten_F[:0])]
        for each in missing:
            own_X, own_F = X_all[family == each], F_all[family == each]
            best = moocore.is_nondominated(own_F)
            kept.append(thin(own_X[best], own_F[best], most=STRAGGLERS // len(missing) + 1))
        self._beaten_X, self._beaten_F = (np.vstack(part) for part in zip(*kept, strict=True))

    def _keep_stragglers(self, X: Floats, violation: Floats, feasible: NDArray[np.bool_]) -> None:
        """The least infeasible designs, equally many of each family that has few or no feasible ones."""
        self._feasible += np.bincount(self._families(X[feasible]), minlength=len(self._feasible))
        X_all = np.vstack([self._stragglers, X[~feasible]])
        violations = np.concatenate([self._violations, violation[~feasible]])
        family = self._families(X_all)
        wanted = self._feasible < ENOUGH
        order = np.lexsort((violations, family))
        order = order[wanted[family[order]]]
        each = STRAGGLERS // max(int(wanted.sum()), 1) + 1
        sorted_family = family[order]
        place = np.arange(len(order)) - np.searchsorted(sorted_family, sorted_family)
        kept = order[place < each]
        self._stragglers, self._violations = X_all[kept], violations[kept]

    def _families(self, X: Floats) -> NDArray[np.int64]:
        return np.minimum(X[:, self._family].astype(np.int64), len(self._feasible) - 1)

    def settle(self) -> None:
        """Bring ``X`` and ``F`` up to date with all that was told."""
        X_all = np.vstack([self.X, *(X for X, _ in self._waiting)])
        F_all = np.vstack([self.F, *(F for _, F in self._waiting)])
        self._waiting.clear()
        best = moocore.is_nondominated(F_all) if len(F_all) else np.zeros(0, dtype=bool)
        self.X, self.F = X_all[best], F_all[best]

    @property
    def found(self) -> int:
        """How many designs stand side by side among the parents: a quick lower count of the front."""
        return len(self.parents_X)

    def _scatter(self, size: int) -> Floats:
        return self._low + self.rng.random((size, len(self._low))) * self._span

    def _move(self, pool: Floats, size: int) -> Floats:
        rng = self.rng
        base = self._bases(pool, size)
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

    def _bases(self, pool: Floats, size: int) -> NDArray[np.int64]:
        """Members to start from: half as they come, half by family first, so that none is starved."""
        family = np.floor(pool[:, self._family]).astype(np.int64)
        weight = 1.0 / np.bincount(family)[family]
        share = 0.5 / len(pool) + 0.5 * weight / weight.sum()
        return self.rng.choice(len(pool), size=size, p=share)

    def _relatives(self, pool: Floats, base: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
        """For each base two random members of its own family."""
        family = np.floor(pool[:, self._family]).astype(np.int64)
        order = np.argsort(family, kind="stable")
        starts = np.searchsorted(family[order], np.arange(family.max() + 2))
        first, last = starts[family[base]], starts[family[base] + 1]
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
