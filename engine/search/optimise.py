"""The search itself: an archive that everything feasible may enter, and moves that start from it.

It speaks pymoo's language (``ask`` for variables, ``tell`` objectives F and constraints G) and runs on a pymoo
``Problem``, but keeps plain arrays: building and reading pymoo's population of objects takes about as long as
evaluating these designs does.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import moocore
import numpy as np
from numpy.typing import NDArray
from pymoo.core.problem import Problem
from pymoo.operators.crossover.sbx import cross_sbx
from pymoo.operators.mutation.pm import mut_pm
from scipy.stats import qmc

from engine.arrays import Floats, Indices
from engine.search.archive import Archive
from engine.search.reach import best_by, reach

BATCH = 4_096  # designs asked for together at most
FEWEST = 512  # designs asked for together at first, when there is most to learn from each batch
GROWING = 16  # later batches are one part in so many of all that was asked for before
OPENING = 1_024  # designs of the opening Sobol sequence; a power of two, which is what keeps it balanced
RESET = 0.02  # share of the moves that get other settings
SPARE = 0.2  # share of the designs that are made besides, in place of those asked for before
SCATTERED = 0.05  # share of the designs that are drawn anywhere
ENOUGH = 50  # feasible designs that make stragglers of their niche unnecessary
OF_EACH = 50  # designs that a niche remembers
CROWDED = 1.25  # times as many, from which on they are thinned to that
ALIKE = 0.1  # of the moves from niches, the part that all niches share alike; the rest goes where it reaches more
OWN = 0.3  # what getting on among its own is worth to a niche, beside getting the front on
FADING = 0.8  # of what a niche has reached and of its effort, what counts one batch later
UNTRIED = 50.0  # tries that every niche is thought to have had, so that a lucky first one does not take all
NEW = 600  # tries of a niche that has none feasible yet within which it is helped to its first
HELPED = 0.5  # of the moves from niches, the part that goes to such
HOPEFUL = 5_000  # tries of a niche that had none feasible before it gets less
LEADING = 3.0  # power of a number drawn evenly below 1 that picks from a ranking: the more, the nearer to its head
FROM_FEASIBLE = 0.7  # share of the moves that start from the feasible ones of a niche that has few
AIMED = 0.9  # share of the moves that start from what is best in some direction
BY_WORST = 0.2  # of these the part that goes by the worst of the weighted objectives, not by their sum
DRAWN = 200  # members that are compared in that direction
NEAR = 0.5  # share of the moves that go by members whose objectives are like those of their start
LIKENED = 12  # members that are compared for that
FINEST = -2.0, -3.0  # powers of ten of a variable's span: Gaussian steps from stragglers, and from feasible ones
COARSEST = -0.7  # the same of the largest of them
ALONG = 0.3  # share of the moves that go along the line between two members
MIXED = 0.2  # share of the designs that mix two members of any niches
SBX_INDEX, MUTATION_INDEX = 15.0, 20.0  # how near to their parents these stay, as usual (Deb and others 2002)
JUMPING = 0.1  # share of moves that draw one variable anew
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

    def tell(self, X: Floats, F: Floats, violation: Floats, right: NDArray[np.bool_]) -> Indices:
        """Take in designs of its own; ``right`` says which are feasible.  Gives those that none of its own beats."""
        self.tried += len(X)
        feasible = np.flatnonzero(right)
        self.feasible += len(feasible)
        F_all = np.vstack([self.F, F[feasible]])
        best = moocore.is_nondominated(F_all)
        entered: Indices = feasible[best[len(self.F) :]]
        if len(entered):
            self.X, self.F = np.vstack([self.X, X[feasible]])[best], F_all[best]
            if len(self.F) > CROWDED * OF_EACH:
                self.X, self.F = thin(self.X, self.F, most=OF_EACH)
        if self.feasible < ENOUGH:
            X_all = np.vstack([self.straggling_X, X[~right]])
            violations = np.concatenate([self.violation, violation[~right]])
            least = np.argsort(violations, kind="stable")[:OF_EACH]
            self.straggling_X, self.violation = X_all[least], violations[least]
        return entered


class Pools(NamedTuple):
    """What moves in several niches start from, one niche after the other: its feasible designs, then its stragglers."""

    X: Floats  # (n, n_var)
    F: Floats  # (n, n_obj), from 0 at the best of the niche's to 1 at the worst; nothing is known of stragglers
    first: Indices  # of each niche its first design, (m,)
    feasible: Indices  # how many of its designs are, (m,)
    stragglers: Indices  # how many are not, (m,)

    @staticmethod
    def of(niches: Sequence[tuple[Floats, Floats, Floats]]) -> Pools:
        """Out of each niche's feasible designs, their objectives, and its stragglers."""
        feasible, stragglers = (np.array([len(each[place]) for each in niches], dtype=np.intp) for place in (0, 2))
        ends = np.cumsum(feasible + stragglers)
        return Pools(
            np.vstack([X for each in niches for X in each[::2]]),
            np.vstack([F for _, own, others in niches for F in (_scaled(own), np.zeros((len(others), own.shape[1])))]),
            ends - feasible - stragglers,
            feasible,
            stragglers,
        )


class ArchiveSearch:
    """Ask/tell search over a pymoo problem whose discrete variables are rounded floats.

    ``problem.family_variable`` is the index of the variable that names the family and ``problem.choice_variables`` are
    those of all discrete ones. ``problem.niches(X)`` numbers the niches that designs belong to: family, choices and
    place, without what costs little to change. Most moves stay within one niche, because a depth that suits one
    driver means little to another; some mix members of any two, by simulated binary crossover and polynomial
    mutation (Deb and Agrawal 1995; Deb and Goyal 1996). A niche gets moves by how much of the objectives' box it
    newly reaches with each, for the front as a whole and among its own: one whose first designs are beaten by
    another's that is easy to build may still come to hold the best. One that has nothing feasible yet is helped to
    its first, since that mostly takes a few hundred tries. Most moves start from the best member in some direction,
    drawn anew for each, as in Zhang and Li (2007, MOEA/D) but with no fixed set of weights, since a front is mostly
    gained at its ends; and they
    go by members that lie near it on the front, as there.

    ``problem.settings(X, rng)`` gives designs that are the same boxes with other settings, ``problem.told_apart(X)`` a
    number for each, by which no design is asked for twice.  ``problem.steps`` are the differences in each objective
    that are worth keeping apart, unless ``steps`` are given, ``problem.spans`` its best and worst figures, (2, n_obj),
    between which a front counts.

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
        self._to_open = OPENING if opening else 0  # designs of the opening sequence that are left
        self.archive = Archive(variables=problem.n_var, steps=problem.steps if steps is None else steps)
        self._niches: dict[int, Niche] = {}
        self._met: set[int] = set()  # what tells the designs that were asked for or told
        best, worst = np.asarray(problem.spans, dtype=float)
        self._points = best + np.random.default_rng(seed).random((POINTS, problem.n_obj)) * (worst - best)
        self._beyond = np.ones(POINTS, dtype=bool)  # those that nothing reaches yet

    def ask(self, size: int = BATCH) -> Floats:
        """The next designs to evaluate, (size, n_var); as few as can be of those that were asked for or told before."""
        X = self._made(size)
        told = self.problem.told_apart(X)
        first = np.zeros(len(X), dtype=bool)
        first[np.unique(told, return_index=True)[1]] = True
        fresh = first & [number not in self._met for number in told.tolist()]
        # Those that are not fresh come last; within either part all kinds of moves keep their shares.
        drawn = self.rng.permutation(len(X))
        chosen = np.sort(drawn[np.argsort(~fresh[drawn], kind="stable")][:size])
        self._met.update(told[chosen].tolist())
        return np.asarray(X[chosen])

    def _made(self, size: int) -> Floats:
        """Designs to choose so many from, (size or some more, n_var)."""
        if self._to_open > 0 or not self._niches:
            self._to_open -= size
            return self._low + self._opened(size) * self._span
        size += int(SPARE * size)
        scattered = int(SCATTERED * size)
        X, F = self._members
        mixed = int(MIXED * size) if len(X) > 1 else 0
        moved = self._from_niches(size - scattered - mixed)
        rows = np.flatnonzero(self.rng.random(len(moved)) < RESET)
        moved[rows] = self.problem.settings(moved[rows], self.rng)
        mixtures = self._mix(X, F, mixed) if mixed else moved[:0]
        return np.vstack([moved, mixtures, self._scatter(scattered)])

    def _opened(self, size: int) -> Floats:
        """The next of the opening sequence, (size, n_var), from 0 to 1."""
        blocks: list[Floats] = []
        while sum(map(len, blocks)) < size:
            # Whole powers of two, each as many as all before, whatever is asked for: else they would not be balanced.
            power = ((self._sobol.num_generated or size) - 1).bit_length()
            blocks.append(self._sobol.random_base2(power))
        return np.concatenate(blocks)[:size]

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
    def _members(self) -> tuple[Floats, Floats]:
        """Variables and objectives of the archive, whatever is known of them."""
        archive = self.archive
        return (
            np.vstack([archive.X, archive.sent_X, archive.waiting_X]),
            np.vstack([archive.F, archive.sent_F, archive.waiting_F]),
        )

    @property
    def _in_order(self) -> list[Niche]:
        """The niches by their numbers, whatever the order in which they were met."""
        return [self._niches[number] for number in sorted(self._niches)]

    def tell(self, X: Floats, F: Floats, G: Floats) -> None:
        """Take in an evaluation: objectives (n, n_obj) and constraints (n, n_constr), ≤ 0 feasible."""
        self.evaluations += len(X)
        self._met.update(self.problem.told_apart(X).tolist())
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
            own = rows[niche.tell(X[rows], F[rows], violation[rows], right[rows])]
            niche.effort += len(rows)
            niche.reached += gained[rows].sum() + OWN * self._newly_reached(F[own], niche.beyond).sum()

    def _newly_reached(self, F: Floats, beyond: NDArray[np.bool_]) -> Floats:
        """How many points ``beyond`` reach each design reaches, shared among those that do, (n,); takes them off."""
        gained = np.zeros(len(F))
        reach(F, self._points, beyond, gained)
        return gained

    def _scatter(self, size: int) -> Floats:
        return self._low + self.rng.random((size, len(self._low))) * self._span

    def _from_niches(self, size: int) -> Floats:
        """Moves from niches, (size, n_var).

        A part goes to all alike, but that those that have none feasible yet get more of it until they look impossible,
        and the rest to where they have newly reached most of the objectives' box for their effort; before both, those
        that are new and have none feasible yet get theirs.
        """
        niches = self._in_order
        new = np.array([float(not each.feasible and each.tried < NEW) for each in niches])
        even = np.array([1.0 if each.feasible else 2.0 if each.tried < HOPEFUL else 0.25 for each in niches])
        good = np.array([each.reached / (each.effort + UNTRIED) for each in niches]) + 1e-9
        wanted = ALIKE * even / even.sum() + (1.0 - ALIKE) * good / good.sum()
        if new.any():
            wanted = HELPED * new / new.sum() + (1.0 - HELPED) * wanted
        share = self.rng.multinomial(size, wanted / wanted.sum())
        pools = [(each.X, each.F, each.straggling_X[: None if each.feasible < ENOUGH else 0]) for each in niches]
        return self._moved(Pools.of(pools), share)

    def _moved(self, pools: Pools, share: Indices) -> Floats:
        """So many moves in each of the niches, (size, n_var)."""
        rng = self.rng
        first, feasible, stragglers = (np.repeat(each, share) for each in pools[2:])
        size = len(first)
        straggling = rng.random(size) >= np.where(stragglers == 0, 1.0, np.where(feasible == 0, 0.0, FROM_FEASIBLE))
        base = first + feasible + (stragglers * rng.random(size) ** LEADING).astype(np.intp)
        rows = np.flatnonzero(~straggling)
        base[rows] = self._bases(pools.F, first[rows], feasible[rows])
        mates = first + (rng.random((2, size)) * (feasible + stragglers)).astype(np.intp)
        rows = rows[(feasible[rows] >= LIKENED) & (rng.random(len(rows)) < NEAR)]
        mates[:, rows] = self._near(pools.F, base[rows], first[rows], feasible[rows])
        return self._move(pools.X, base, mates, finest=np.where(straggling, *FINEST))

    def _bases(self, F: Floats, first: Indices, count: Indices) -> Indices:
        """Which to start from, each of ``count`` from the ``first``: mostly the best by some weights, of some of them.

        Objectives F are those of all, scaled, (n, n_obj).
        """
        rng, size = self.rng, len(first)
        base = _drawn(rng, first, count, 1)[:, 0]
        aimed = np.flatnonzero(rng.random(size) < AIMED)
        weights = rng.dirichlet(np.full(F.shape[1], 0.5), len(aimed))
        # By a sum of objectives only the hull of a front is ever best; by the worst of them any of its members is.
        by_worst = rng.random(len(aimed)) < BY_WORST
        weights[by_worst] = 1.0 / rng.dirichlet(np.ones(F.shape[1]), int(by_worst.sum()))
        few = count[aimed]
        start, stride = (rng.random((2, len(aimed))) * few).astype(np.intp)
        best = base[aimed]
        best_by(
            np.ascontiguousarray(F), weights, first[aimed], few, start, np.maximum(stride, 1), DRAWN, by_worst, best
        )
        base[aimed] = best
        return base

    def _near(self, F: Floats, base: Indices, first: Indices, count: Indices) -> Indices:
        """Two more to each ``base``, near it on the front, each of ``count`` from the ``first``, (2, size)."""
        drawn = _drawn(self.rng, first, count, LIKENED)
        apart = ((F[drawn] - F[base, np.newaxis]) ** 2).sum(axis=2)
        apart[drawn == base[:, np.newaxis]] = np.inf
        return np.take_along_axis(drawn, np.argsort(apart, axis=1)[:, :2], axis=1).T

    def _mix(self, X: Floats, F: Floats, size: int) -> Floats:
        """Designs between or beside two members each, (size, n_var)."""
        rng, high, scaled = self.rng, self._low + self._span, _scaled(F)
        first, count = np.zeros(size, dtype=np.intp), np.full(size, len(F))
        parents = np.stack([X[self._bases(scaled, first, count)] for _ in range(2)])
        index, even = np.full((size, 1), SBX_INDEX), np.full((size, 1), 0.5)
        children = cross_sbx(parents, self._low, high, index, even, even, random_state=rng)[0]
        likely, mutation = np.full(size, 1.0 / X.shape[1]), np.full(size, MUTATION_INDEX)
        return np.asarray(mut_pm(children, self._low, high, mutation, likely, False, random_state=rng))

    def _move(self, pool: Floats, base: Indices, mates: Indices, *, finest: Floats) -> Floats:
        """A step from each ``base`` of the pool, by two others of it each, (2, size).

        ``finest`` (size,) is the least that it may be, as a power of ten of the variables' spans.
        """
        rng, size = self.rng, len(base)
        X, (one, two) = pool[base], mates
        # Moves along a line lead out beyond the ends of a front, or in between; differential moves follow its shape;
        # Gaussian ones, of widely mixed size, let go of it.  The last two change a random handful of the variables.
        line = rng.uniform(-0.5, 1.0, (size, 1)) * (X - pool[one])
        step = rng.uniform(0.2, 0.9, (size, 1)) * (pool[one] - pool[two])
        spread = 10.0 ** rng.uniform(finest, COARSEST)[:, np.newaxis]
        gauss = rng.standard_normal(X.shape) * spread * self._span
        kind = rng.random((size, 1))
        touched = (rng.random(X.shape) < rng.choice([0.15, 0.4, 0.9], (size, 1))) | (kind < ALONG)
        moves = np.where(kind < ALONG, line, np.where(kind < 0.5 * (1.0 + ALONG), step, gauss))
        X += np.where(touched, moves, 0.0)
        # What lies far off, beyond what does not fit or is beaten, is only met by letting go of a single variable.
        rows = np.flatnonzero(rng.random(size) < JUMPING)
        anew = rng.integers(0, X.shape[1], len(rows))
        X[rows, anew] = self._low[anew] + rng.random(len(rows)) * self._span[anew]
        X[:, self._family] = pool[base, self._family]
        # A choice that has died out is tried again in the surroundings of what is good now.
        for column in self._choices:
            redrawn = rng.random(size) < REDRAW
            X[redrawn, column] = self._low[column] + rng.random(redrawn.sum()) * self._span[column]
        # A wall is where many of the best designs stand, so a step past it ends on it.
        return np.clip(X, self._low, self._low + self._span)


def _scaled(F: Floats) -> Floats:
    """Objectives from 0 at the best to 1 at the worst of each, (n, n_obj)."""
    if not len(F):
        return F
    low, high = F.min(axis=0), F.max(axis=0)
    return np.asarray((F - low) / np.where(high > low, high - low, 1.0))


def _drawn(rng: np.random.Generator, first: Indices, count: Indices, size: int) -> Indices:
    """So many to each of ``count`` from the ``first``, (n, size)."""
    return np.asarray(first[:, np.newaxis] + (rng.random((len(first), size)) * count[:, np.newaxis]).astype(np.intp))


def batch_after(asked: int) -> int:
    """How many designs to ask for together once so many were."""
    return min(max(FEWEST, asked // GROWING), BATCH)


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
