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
START = 2  # batches of the opening Sobol sequence
SETTINGS = 4  # of what costs little to change, tried on each box
SCATTERED = 0.05  # share of the designs that are drawn anywhere
ENOUGH = 50  # feasible designs that make stragglers of their niche unnecessary
OF_EACH = 100  # designs that a niche remembers beside those of the archive
ALIKE = 0.2  # of the moves from niches, the part that all niches share alike; the rest goes where it reaches more
OWN = 0.3  # what getting on among its own is worth to a niche, beside getting the front on
FADING = 0.8  # of what a niche has reached and of its effort, what counts one batch later
UNTRIED = 50.0  # tries that every niche is thought to have had, so that a lucky first one does not take all
HOPEFUL = 5_000  # tries of a niche that had none feasible before it gets less
AIMED = 0.9  # share of the moves that start from what is best in some direction
DRAWN = 200  # members that are compared in that direction
ALONG = 0.3  # share of the moves that go along the line between two members
REDRAW = 0.05  # share of moves that draw a discrete choice anew
POINTS = 4_096  # drawn over the objectives' box, that tell how much of it is reached
HALF = 0.1  # of a constraint, in its own unit, that counts half
CELLS = 24  # cells an objective's range is cut into when designs are thinned


class Niche:
    """Designs of one family with the same choices: the best of its own, or the least infeasible ones."""

    def __init__(self, variables: int, objectives: int) -> None:
        self.X = self.straggling_X = np.empty((0, variables))
        self.F, self.violation = np.empty((0, objectives)), np.empty(0)
        self.tried = self.feasible = 0
        self.reached = self.effort = 0.0  # points newly reached, and tries that this took, older ones counting less
        self.beyond = np.ones(POINTS, dtype=bool)  # the points that none of its own reaches

    def tell(self, X: Floats, F: Floats, violation: Floats, right: NDArray[np.bool_]) -> None:
        """Take in designs of its own; ``right`` says which are feasible."""
        self.tried += len(X)
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
    means little to another.  A niche gets them by how much of the objectives' box it newly reaches with each, for the
    front as a whole and among its own: one whose first designs are beaten by another's that is easy to build may still
    come to hold the best.  Most moves start from the best member in some direction, drawn anew for each, as in Zhang
    and Li (2007, MOEA/D) but with no fixed set of weights, since a front is mostly gained at its ends.

    ``problem.settings(X, rng)`` gives designs that are the same boxes with other settings, or None where there are
    none.  ``problem.steps`` are the differences in each objective that are worth keeping apart, unless ``steps`` are
    given, ``problem.spans`` its best and worst figures, (2, n_obj), between which a front counts.

    ``archive.X`` and ``archive.F`` are the front.  With ``rough`` evaluations what is told waits in the archive until
    it is confirmed; else it is confirmed at once.  Without ``opening`` moves begin as soon as anything has been told.
    """

    def __init__(
        self, problem: Problem, *, seed: int, rough: bool = False, steps: Sequence[float] | None = None,
        opening: bool = True,
    ) -> None:  # fmt: skip
        self.problem, self.rough = problem, rough
        self.rng = np.random.default_rng(seed)
        self._sobol = qmc.Sobol(problem.n_var, rng=self.rng)
        self._low: Floats = problem.xl
        self._span: Floats = problem.xu - problem.xl
        self._family = int(problem.family_variable)
        self._choices = tuple(problem.choice_variables)
        self.evaluations = 0
        self._to_open = START * BATCH if opening else 0  # designs of the opening sequence that are left
        self.archive = Archive(variables=problem.n_var, steps=problem.steps if steps is None else steps)
        self._niches: dict[int, Niche] = {}
        best, worst = np.asarray(problem.spans, dtype=float)
        self._points = best + np.random.default_rng(seed).random((POINTS, problem.n_obj)) * (worst - best)
        self._beyond = np.ones(POINTS, dtype=bool)  # those that nothing reaches yet
        middle = (self._low + 0.5 * self._span)[np.newaxis]
        self._settings = 1 if problem.settings(middle, np.random.default_rng(seed)) is None else SETTINGS

    def ask(self, size: int = BATCH) -> Floats:
        """The next designs to evaluate, (size, n_var); those of one box follow each other."""
        if self._to_open > 0 or not self._niches:
            # Whole powers of two, however few are asked for: less would be no balanced sequence.
            self._to_open -= BATCH
            return self._low + self._sobol.random(BATCH)[:size] * self._span
        boxes = -(-size // self._settings)
        scattered = int(SCATTERED * boxes)
        parts = [*self._from_niches(boxes - scattered), self._scatter(scattered * self._settings)]
        return np.vstack(parts)[:size]

    @property
    def known(self) -> Floats:
        """All that a search beside this one may be given: the archive and what niches remember, (n, n_var)."""
        return np.vstack([self.archive.X, *(X for niche in self._in_order for X in (niche.X, niche.straggling_X))])

    def remembered(self, of_each: int) -> Floats:
        """The few of them to keep for a later search of the same problem: the archive and so many of every niche."""
        best = [
            thin(each.X, each.F, most=of_each)[0] if each.feasible else each.straggling_X[:of_each]
            for each in self._in_order
        ]
        return np.unique(np.vstack([self.archive.X, *best]), axis=0)

    @property
    def _in_order(self) -> list[Niche]:
        """The niches by their numbers, whatever the order in which they were met."""
        return [self._niches[number] for number in sorted(self._niches)]

    def tell(self, X: Floats, F: Floats, G: Floats) -> None:
        """Take in an evaluation: objectives (n, n_obj) and constraints (n, n_constr), ≤ 0 feasible."""
        self.evaluations += len(X)
        short = np.maximum(G, 0.0)
        # Constraints have units of their own, and a vent may be kilometres too long: none counts for more than one.
        violation = (short / (short + HALF)).sum(axis=1)
        right = (violation <= 0.0) & np.isfinite(F).all(axis=1)
        feasible = np.flatnonzero(right)
        entered = feasible[self.archive.offer(X[feasible], F[feasible])]
        if not self.rough:
            self.archive.trust()
        gained = np.zeros(len(X))
        gained[entered] = self._newly_reached(F[entered], self._beyond)
        for niche in self._niches.values():
            niche.reached *= FADING
            niche.effort *= FADING
        numbers = self.problem.niches(X)
        order = np.argsort(numbers, kind="stable")
        found, starts = np.unique(numbers[order], return_index=True)
        for number, rows in zip(found.tolist(), np.split(order, starts[1:]), strict=True):
            niche = self._niches.setdefault(number, Niche(X.shape[1], F.shape[1]))
            own = rows[right[rows]]
            own = own[moocore.is_nondominated(np.vstack([niche.F, F[own]]))[len(niche.F) :]] if len(own) else own
            niche.effort += len(rows)
            niche.reached += gained[rows].sum() + OWN * self._newly_reached(F[own], niche.beyond).sum()
            niche.tell(X[rows], F[rows], violation[rows], right[rows])

    def _newly_reached(self, F: Floats, beyond: NDArray[np.bool_]) -> Floats:
        """How many points ``beyond`` reach each design reaches, shared among those that do, (n,); takes them off."""
        points = np.flatnonzero(beyond)
        reached = np.ones((len(F), len(points)), dtype=bool)
        for column, each in zip(F.T, self._points[points].T, strict=True):
            reached &= column[:, np.newaxis] <= each
        by = reached.sum(axis=0)
        beyond[points[by > 0]] = False
        return np.asarray((reached / np.maximum(by, 1)).sum(axis=1))

    def _with_settings(self, X: Floats) -> Floats:
        """Each box with its own settings and with some others, one after the other."""
        others = [self.problem.settings(X, self.rng) for _ in range(self._settings - 1)]
        return np.asarray(np.stack([X, *others], axis=1).reshape(-1, X.shape[1]))

    def _scatter(self, size: int) -> Floats:
        return self._low + self.rng.random((size, len(self._low))) * self._span

    def _from_niches(self, boxes: int) -> list[Floats]:
        """Moves from niches, as many as come to so many boxes with their settings.

        A part goes to all alike, but that those that have none feasible yet get more of it until they look impossible,
        and the rest to where they have newly reached most of the objectives' box for their effort.
        """
        numbers, niches = sorted(self._niches), self._in_order
        even = np.array([1.0 if each.feasible else 2.0 if each.tried < HOPEFUL else 0.25 for each in niches])
        good = np.array([each.reached / (each.effort + UNTRIED) for each in niches]) + 1e-9
        wanted = ALIKE * even / even.sum() + (1.0 - ALIKE) * good / good.sum()
        share = self.rng.multinomial(boxes, wanted / wanted.sum())
        archive = self.archive
        X = np.vstack([archive.X, archive.sent_X, archive.waiting_X])
        F = np.vstack([archive.F, archive.sent_F, archive.waiting_F])
        numbered = self.problem.niches(X)
        moved = []
        for number, niche, count in zip(numbers, niches, share.tolist(), strict=True):
            own = numbered == number
            if not niche.feasible:
                # Where no box fits yet, boxes are what is looked for.
                pool = niche.straggling_X
                moved.append(self._move(pool, self.rng.integers(0, len(pool), count * self._settings)))
            elif niche.feasible < ENOUGH and not own.any():
                pool = np.vstack([niche.X, niche.straggling_X])
                moved.append(self._with_settings(self._move(pool, self.rng.integers(0, len(pool), count))))
            else:
                pool, figures = np.vstack([X[own], niche.X]), np.vstack([F[own], niche.F])
                moved.append(self._with_settings(self._move(pool, self._bases(figures, count))))
        return moved

    def _bases(self, F: Floats, size: int) -> Indices:
        """Which of members with objectives F to start from: mostly the best by some weights, of some of them."""
        rng = self.rng
        base = rng.integers(0, len(F), size)
        aimed = np.flatnonzero(rng.random(size) < AIMED)
        low, high = F.min(axis=0), F.max(axis=0)
        scaled = (F - low) / np.where(high > low, high - low, 1.0)
        weights = rng.dirichlet(np.full(F.shape[1], 0.5), len(aimed))
        drawn = rng.integers(0, len(F), (len(aimed), min(DRAWN, len(F))))
        best = np.einsum("ijk,ik->ij", scaled[drawn], weights).argmin(axis=1)
        base[aimed] = drawn[np.arange(len(aimed)), best]
        return base

    def _move(self, pool: Floats, base: Indices) -> Floats:
        """A step from each ``base`` of the pool."""
        rng, size = self.rng, len(base)
        X = pool[base].copy()
        one, two = rng.integers(0, len(pool), (2, size))
        # Moves along a line lead out beyond the ends of a front, or in between; differential moves follow its shape;
        # Gaussian ones, of widely mixed size, let go of it.  The last two change a random handful of the variables.
        line = rng.uniform(-0.5, 1.0, (size, 1)) * (X - pool[one])
        step = rng.uniform(0.2, 0.9, (size, 1)) * (pool[one] - pool[two])
        spread = 10.0 ** rng.uniform(-3.0, -0.7, (size, 1))
        gauss = rng.standard_normal(X.shape) * spread * self._span
        kind = rng.random((size, 1))
        touched = (rng.random(X.shape) < rng.choice([0.15, 0.4, 0.9], (size, 1))) | (kind < ALONG)
        moves = np.where(kind < ALONG, line, np.where(kind < 0.5 * (1.0 + ALONG), step, gauss))
        X += np.where(touched, moves, 0.0)
        X[:, self._family] = pool[base, self._family]
        # A choice that has died out is tried again in the surroundings of what is good now.
        for column in self._choices:
            redrawn = rng.random(size) < REDRAW
            X[redrawn, column] = self._low[column] + rng.random(redrawn.sum()) * self._span[column]
        # A wall is where many of the best designs stand, so a step past it ends on it.
        return np.clip(X, self._low, self._low + self._span)


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
