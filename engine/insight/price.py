"""Price of space: what a little more room, a looser limit or the next part buys along the whole front.

**What is measured.**  Each design of the job's own front is asked: had the job been the changed one, how much better
could one goal have been with all others as good as here?  The answer, an achievement, is in the goal's own unit (dB, L,
money), which a difference of hypervolumes is not, and means what a builder asks; its mean over the front is the price.
"As good" is within what a builder can tell apart, for both fronts alike, since fronts hold one design for each such
cell.  Where size, weight or cost are goals, few designs along the front need more room than there is; so what the best
in each goal gains, the end of the front, is told besides.

**Why it is no noise.**  Two searches of one job differ by more than a little room is worth.  So job and changes are
searched together, from nothing, by the same random numbers and with equal effort: a front that has been searched for
long would be ahead of what the change lets through, for which it is no start.  Again and again what one finds the
others get, the changes the job's designs as they are and grown into what they leave, the job the changes' as they are
and moved back into its room.  What was found by luck is then found for both and cancels; only what the change lets
through is left.  What could be built before still can, so nothing is worth less than nothing.

**How sure.**  This is done several times over, by other random numbers; the price is that of all that they found
together.  Its uncertainty is the most that one of them by itself, or all of them with half of the effort, would have
told otherwise.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass

import moocore
import numpy as np
import pandas as pd

from engine.arrays import Floats
from engine.goals import GOALS
from engine.insight.changes import Change, changes
from engine.insight.reasons import said_of, shown
from engine.quantities import MISSING, Units, to_display
from engine.scenario import Scenario
from engine.search.crew import Crew
from engine.search.evaluator import SIZES
from engine.search.front import designs_of, turned
from engine.search.optimise import ArchiveSearch, thin
from engine.search.problem import BoxProblem
from engine.search.runs import batches

REPEATS = 2
ROUNDS = (0.25, 0.25, 0.5)  # of the effort, so that the last doubles all before it
ASKED = 300  # designs of a front that are asked
NEAR, FINER = 2.0, 8.0  # of what can be told apart: how far near goes, and what part of it is then told apart

PARTLY = {*SIZES, "tuning"}  # variables of which a part of a change may be used
Fronts = list[Floats]  # objectives, (n, k), less is better: the job's, then each change's


@dataclass(frozen=True)
class Price:
    """What one change buys: by goal how much better, in the goal's unit.

    Columns of ``along`` (the mean along the front, all other goals as they were) and ``ends`` (at the front's best in
    each goal, whatever that costs in others) are goals; the first row is what all that was found tells, the others are
    what a part of it does: each repeat by itself, and all of them with half of the effort.
    """

    change: Change
    along: pd.DataFrame
    ends: pd.DataFrame

    def told(self, units: Units, currency: str = "") -> str:
        """It as a sentence; what is no more than its uncertainty, or than can be told apart, is left out."""
        parts = []
        for where, gained in (("along the front", self.along), ("at its best", self.ends)):
            # Longer searches find more.
            least = {"lead": "at least "}
            if better := [bought(key, gained.iloc[0][key], units, currency, **least) for key in noticed(gained)]:
                parts.append(f"{where} a box {', or '.join(better)}")
        return f"{self.change.words(units)}: {'; '.join(parts) or 'nothing that shows'}."

    def gained(self, *, at_end: bool) -> pd.DataFrame:
        return self.ends if at_end else self.along


def in_units(gained: pd.DataFrame, key: str, units: Units) -> tuple[float, float]:
    """Gain and uncertainty of one goal as numbers in the user's unit."""
    both = np.array([gained.iloc[0][key], uncertainty(gained)[key]])
    plain = GOALS[key].kind in ("count", "ratio", "level", "money")
    gain, unsure = both if plain else to_display(both, GOALS[key].kind, units)
    return float(gain), float(unsure)


def figure_of(gained: pd.DataFrame, key: str, units: Units) -> str:
    """Gain and uncertainty of one goal as text, without their unit; a dash where the gain comes to nothing."""
    digits = max(GOALS[key].digits, 1) + (units == "us" and GOALS[key].kind == "volume")
    gain, unsure = (round(each, digits) + 0.0 for each in in_units(gained, key, units))
    return f"{gain:+.{digits}f} ± {unsure:.{digits}f}" if gain else MISSING


def uncertainty(gained: pd.DataFrame) -> pd.Series[float]:
    """The most by which a part of what was found tells otherwise than the whole, by goal."""
    return pd.Series((gained.iloc[1:] - gained.iloc[0]).abs().max())


def noticed(gained: pd.DataFrame) -> list[str]:
    """Goals in which a gain is more than its uncertainty, and than half of what can be told apart."""
    gain, unsure = gained.iloc[0], uncertainty(gained)
    return [key for key in map(str, gained) if gain[key] > max(unsure[key], 0.5 * GOALS[key].told_apart)]


def bought(key: str, gain: float, units: Units, currency: str, *, lead: str = "") -> str:
    """A gain in a goal, as it goes on from "a box" or "it"; a ``lead`` stands before the figure."""
    goal = GOALS[key]
    said = goal.said_of_a_box or said_of(goal)
    words = said.higher if goal.better == "max" else said.lower
    return words.format(lead + shown(gain, key, units, currency))


def prices(
    scenario: Scenario, *, asked: Sequence[Change] | None = None, evaluations: int | None = None,
    progress: Callable[[float], None] = lambda share: None, cancelled: Callable[[], bool] = lambda: False,
    helpers: Executor | None = None,
) -> list[Price]:  # fmt: skip
    """What each of the :func:`changes` of a job, or of those ``asked``, buys, as the module says it is measured.

    ``evaluations`` is how many designs are tried of the job and of each change in each of the repeats, besides those
    that they give each other; by default the job's budget.  ``progress`` is told the share that is done.  Once
    ``cancelled`` it ends with the repeats that are done; with none the list is empty, as it is where nothing that can
    be built is found.

    Raises SearchImpossible where the scenario leaves nothing to search.
    """
    found = changes(scenario) if asked is None else list(asked)
    effort = evaluations or scenario.evaluations
    keys = scenario.goals.objectives
    return [
        Price(change, *(pd.DataFrame([told(*both, keys) for both in pairs]) for told in (gains, ends)))
        for change, pairs in searched_together(
            scenario, found, effort=effort, repeats=REPEATS, progress=progress, cancelled=cancelled, helpers=helpers
        )
    ]  # fmt: skip


def searched_together(
    scenario: Scenario, asked: Sequence[Change], *, effort: float, repeats: int, near: pd.DataFrame | None = None,
    progress: Callable[[float], None] = lambda share: None, cancelled: Callable[[], bool] = lambda: False,
    helpers: Executor | None = None,
) -> list[tuple[Change, list[tuple[Floats, Floats]]]]:  # fmt: skip
    """The job's front and that of each change, as objectives, (n, k) each, less is better; those hold the job's.

    The first pair is of all that was found, then come those of parts, as :class:`Price` has them.  Each tries
    ``effort`` designs of its own in each of the ``repeats``, from nothing, or from one that is given and ``near`` to
    it, a row of a front of the job.  Once ``cancelled`` there are the repeats that are done; with none nothing.
    """
    problems = [BoxProblem(each) for each in (scenario, *(change.scenario for change in asked))]
    crews = [Crew(problem, helpers) for problem in problems]
    start = None
    if near is not None:
        start = problems[0].encode(designs_of(problems[0].evaluator, near)), turned(near, problems[0].objectives)
    halves: list[Fronts] = []
    wholes: list[Fronts] = []
    for repeat in range(repeats):
        pairs, stages = _Pairs(problems, crews, asked, seed=repeat + 1, near=start), []
        for number, share in enumerate(ROUNDS):
            for place in range(len(problems)):
                if cancelled():
                    return _paired(asked, halves, wholes)
                pairs.search(place, int(share * effort))
                done = sum(ROUNDS[:number]) + share * (place + 1) / len(problems)
                progress((repeat + done) / repeats)
            # What the changes found last counts for the job, too, and what that came to for all of them.
            for place in range(len(problems)):
                pairs.search(place, 0)
            stages.append([search.archive.F for search in pairs.searches])
        halves.append(stages[-2])
        wholes.append(stages[-1])
    return _paired(asked, halves, wholes)


def _paired(
    asked: Sequence[Change], halves: Sequence[Fronts], wholes: Sequence[Fronts]
) -> list[tuple[Change, list[tuple[Floats, Floats]]]]:
    """The job's front beside that of each change, of all repeats, of them with half of the effort, and of each."""
    if not wholes or not all(len(part[0]) for part in (*halves, *wholes)):
        return []
    every, half = ([np.vstack(each) for each in zip(*fronts, strict=True)] for fronts in (wholes, halves))
    parts = [every, half, *wholes]
    return [
        (change, [(part[0], np.vstack([part[0], part[place]])) for part in parts])
        for place, change in enumerate(asked, start=1)
    ]


class _Pairs:
    """Searches of a job and of its changes that go on from what the others find.

    ``near`` has variables and objectives of one design of the job, (1, n_var) and (1, k), to the surroundings of which
    they are then kept.
    """

    def __init__(
        self, problems: Sequence[BoxProblem], crews: Sequence[Crew], asked: Sequence[Change], *, seed: int,
        near: tuple[Floats, Floats] | None,
    ) -> None:  # fmt: skip
        apart = np.array(problems[0].steps)
        steps = apart if near is None else apart / FINER
        self._most = np.full(len(apart), np.inf) if near is None else near[1][0] + NEAR * apart
        self.searches = [
            ArchiveSearch(problem, seed=seed, rough=True, steps=tuple(steps.tolist()), opening=near is None)
            for problem in problems
        ]
        self._problems, self._crews, self._asked = problems, crews, asked
        self._rng = np.random.default_rng(seed)
        self._given: list[set[bytes]] = [set() for _ in problems]
        if near is not None:
            _tell_exactly(self.searches[0], *near)

    def search(self, place: int, evaluations: int) -> None:
        """Let one of them, by its place, have what the others found, and go on for so many evaluations."""
        search, crew = self.searches[place], self._crews[place]
        given = np.vstack(list(self._from_changes() if place == 0 else self._from_job(place)))
        for X, F, G in batches(search, crew, given, budget=len(given) + evaluations):
            beyond = np.clip(F - self._most, 0.0, 1.0).max(axis=1, keepdims=True)
            search.tell(X, F, np.hstack([G, beyond]))
            if search.archive.due:
                self._settle(place)
        self._settle(place)

    def _settle(self, place: int) -> None:
        """Work out exactly what waits in an archive."""
        archive, problem = self.searches[place].archive, self._problems[place]
        rows, right = self._crews[place].worked_out(archive.send()).result()
        archive.confirm(turned(rows, problem.objectives), right, np.full(len(rows), -1))

    def _from_job(self, place: int) -> Iterator[Floats]:
        """What the job found, as it is and grown into what a change leaves."""
        job, problem, change = self.searches[0], self._problems[place], self._asked[place - 1]
        if len(job.archive.X):
            # What could be built before still can, and plays as it did.
            _tell_exactly(self.searches[place], problem.taken_over(job.archive.X, self._problems[0]), job.archive.F)
        X = problem.taken_over(self._fresh(place, job.known), self._problems[0])
        yield X
        yield from (self._moved(problem, X, way, 1.0) for way in change.moved)

    def _from_changes(self) -> Iterator[Floats]:
        """What the changes found, as it is and moved back into the job's room."""
        job = self._problems[0]
        yield job.xl[np.newaxis][:0]
        for problem, search, change in zip(self._problems[1:], self.searches[1:], self._asked, strict=True):
            X = job.taken_over(self._fresh(0, search.archive.X), problem)
            yield X
            for way in change.moved:
                yield self._moved(job, X, way, -1.0)

    def _moved(self, problem: BoxProblem, X: Floats, way: Mapping[str, float], turn: float) -> Floats:
        """Designs moved one way: half of them all of it, the others a part of it."""
        moved, half = X.copy(), self._rng.random(len(X)) < 0.5
        part = np.where(half, 1.0, self._rng.random(len(X)))
        for name, by in way.items():
            moved[:, problem.variables.index(name)] += turn * by * (part if name in PARTLY else 1.0)
        return np.asarray(np.clip(moved, problem.xl, problem.xu))

    def _fresh(self, place: int, X: Floats) -> Floats:
        """Those that one of them has not been given yet."""
        new = []
        for number, row in enumerate(X):
            if (code := row.tobytes()) not in self._given[place]:
                self._given[place].add(code)
                new.append(number)
        return X[new]


def _tell_exactly(search: ArchiveSearch, X: Floats, F: Floats) -> None:
    """Tell a search of designs whose objectives are known exactly, and that keep every limit."""
    search.tell(X, F, np.zeros((len(X), 1)))
    search.archive.trust()


def ahead_at(here: Floats, F: Floats, other: Floats, *, within: Floats) -> list[float]:
    """By how much the best of another front is ahead in each goal, all else as good as a design ``here``, (k,).

    Objectives are (k,) and (n, k), less is better; as good is what is worse by no more than ``within`` (k,).  Both
    fronts hold the design, or one as good.
    """
    found = []
    for column in range(len(here)):
        rest = np.arange(len(here)) != column
        before, after = (
            each[(each[:, rest] <= (here + within)[rest]).all(axis=1), column].min() for each in (F, other)
        )
        found.append(float(before - after))
    return found


def gains(F: Floats, other: Floats, keys: Sequence[str]) -> dict[str, float]:
    """By how much another front is ahead in each goal, in its unit, as the mean over the designs of one.

    Objectives are (n, k), less is better.  At each of up to about ``ASKED`` designs, spread over the one front, the
    best of either front of those as good in every other goal, within what a builder can tell apart.  The other has to
    hold the one.
    """
    F, other = F[moocore.is_nondominated(F)], other[moocore.is_nondominated(other)]
    apart = np.array([GOALS[key].told_apart for key in keys])
    _, asked = thin(F, F, most=ASKED)
    ahead = zip(*(ahead_at(row, F, other, within=apart) for row in asked), strict=True)
    return {key: float(np.mean(each)) for key, each in zip(keys, ahead, strict=True)}


def ends(F: Floats, other: Floats, keys: Sequence[str]) -> dict[str, float]:
    """By how much the best of another front in each goal is ahead of that of one, in the goal's unit."""
    return dict(zip(keys, (F.min(axis=0) - other.min(axis=0)).tolist(), strict=True))
