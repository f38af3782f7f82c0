"""A catalogue of drivers, each searched by itself, with effort where it pays, to one front and a verdict on each.

What no amplifier drives or no box holds is dropped before anything is tried.  All others get a short search.  Then
rounds go on: a driver that holds designs on the common front gets tries by how many it holds and what it adds, one
that comes near it goes on while more tries may still close the gap, and one that is beaten everywhere stops.

A task is a function of the job with one driver, a seed, an effort and the designs it starts from, and of nothing else.
So it makes no difference who does it and in which order, and what is kept of a task need not be done again.
"""

from __future__ import annotations

import math
import pickle
import zlib
from collections.abc import Callable, Collection, Sequence
from concurrent.futures import FIRST_COMPLETED, BrokenExecutor, Executor, Future, wait
from dataclasses import dataclass, field, replace
from typing import Any, Protocol

import numpy as np
import pandas as pd

from engine.arrays import Flags, Floats, Integers
from engine.errors import Refusal
from engine.goals import GOALS
from engine.scenario import Scenario
from engine.search.archive import Archive
from engine.search.bounds import TooLarge, too_large, unwired
from engine.search.crew import ready
from engine.search.evaluator import Evaluator
from engine.search.families import group_columns
from engine.search.front import misfits, numbers, table, turned
from engine.search.nearest import Nearest
from engine.search.problem import BoxProblem
from engine.search.runs import EXACT_OBJECTIVES, VERSION, Run, hypervolume, went_on

PART = 2_048  # tries are given out in whole parts
FIRST = 8 * PART  # tries of every driver, if that is no more than half of what there is
EACH = 30_000  # tries for each driver of a catalogue, on average, where nobody says how many
ROUNDS = 6  # that the tries beyond the first are spread over
LEAST, MOST = 2 * PART, 32 * PART  # tries of a task: a short one tells little, a long one is lost when it is stopped
HOPEFUL = 3 * FIRST  # tries of a driver of which no box fits yet, before it is given up
NEAR = 4.0  # steps that can be told apart that tries beyond the first bring a driver nearer to the front (measured)
ALIKE = 0.2  # of the tries of a round, the part that all drivers share alike
REMEMBERED = 8  # designs of a niche that the next task of a driver starts from
SAME_BELOW = 0.5  # steps that can be told apart: two figures that differ by less are the same to a builder
AGAIN = 3  # times that a task is handed out whose worker is lost


@dataclass(frozen=True)
class Found:
    """What a driver's tries so far have come to.

    ``rows`` are its front without ids, ``misfits`` the nearest designs that cannot be built, ``groups`` what came of
    each box kind, count and facing, as :meth:`engine.search.nearest.Nearest.left_out` tells, ``starts`` where the next
    task goes on from, ``evaluations`` how many designs the last task tried, and ``version`` whose work it is.
    """

    rows: pd.DataFrame
    misfits: pd.DataFrame
    groups: list[dict[str, Any]]
    starts: Floats
    evaluations: int
    version: str = VERSION


class Kept(Protocol):
    """Where what tasks came to is kept, each under a name of its own."""

    def __contains__(self, name: object) -> bool: ...

    def get(self, name: str) -> Found: ...

    def starts(self, name: str) -> Floats: ...

    def put(self, name: str, found: Found) -> None: ...


@dataclass(frozen=True)
class Beaten:
    """The closest that a driver comes to the front: by how much ``rival`` is ahead of it there, in which goal.

    The rival is no worse in any goal.  With ``only``, to be better by that in this one goal would do.  What is
    ``alike`` differs from the rival's by less than a builder can tell apart.
    """

    rival: str
    goal: str
    by: float  # in the goal's unit, more is worse
    only: bool
    alike: bool


@dataclass(frozen=True, kw_only=True)
class Verdict:
    """What came of one driver.

    ``code`` is ``front``, ``beaten``, ``short`` (no design of it fits), ``too large``, ``unwired`` or ``untried``.
    """

    driver: str
    code: str
    designs: int = 0  # on the front
    share: float = 0.0  # of the front's hypervolume, that no other driver's designs hold
    evaluations: int = 0
    unwired: tuple[int, ...] = ()  # counts that no wiring lets the amplifier drive
    large: TooLarge | None = None
    beaten: Beaten | None = None
    short_of: tuple[dict[str, Any], ...] = ()  # fields of each Shortfall of the nearest design


@dataclass(frozen=True)
class Progress:
    """How far a catalogue's search has come."""

    evaluations: int
    budget: int
    stage: int  # 0 for the short searches, then the rounds
    done: int  # tasks of the stage
    tasks: int
    front_size: int  # as of the end of the stage before


@dataclass(frozen=True)
class Catalogued:
    """What a catalogue came to: the front of all as of one search, and verdicts in the order of the drivers.

    Its record's ``left_out`` covers the drivers on the front only: what the others come to is in their verdicts.
    """

    run: Run
    verdicts: list[Verdict]


def explored(packed: bytes, seed: int, evaluations: int, starts: Floats | None) -> Found:
    """One task: the job with one driver, pickled, searched with so many tries, from given designs or from nothing."""
    problem = ready(packed)
    nearest = Nearest(problem)
    search, members = went_on(problem, seed=seed, evaluations=evaluations, starts=starts, told=nearest.tell)
    nearest.settle()
    short = misfits(problem.evaluator, nearest.designs())
    groups = nearest.left_out(members.iloc[:0])
    return Found(members, short, groups, search.remembered(REMEMBERED), search.evaluations)


@dataclass
class _Standing:
    """A driver as far as it has come."""

    number: int
    scenario: Scenario  # the job with it alone
    unwired: tuple[int, ...] = ()
    large: TooLarge | None = None
    task: str = ""  # the last one
    evaluations: int = 0
    F: Floats = field(default_factory=lambda: np.empty((0, 0)))
    groups: list[dict[str, Any]] = field(default_factory=list)
    gap: float = 0.0  # to the common front, in steps that can be told apart; 0 on it

    @property
    def name(self) -> str:
        return self.scenario.candidates[0].driver.name

    @property
    def ruled_out(self) -> bool:
        return self.large is not None or not self.scenario.candidates[0].counts

    @property
    def goes_on(self) -> bool:
        """Whether more tries may bring it onto the front, or more of it there."""
        if not len(self.F):
            return self.evaluations < HOPEFUL
        return self.gap <= NEAR * FIRST / max(self.evaluations, 1)


class _Front:
    """The common front: of each design whose it is, which row there, and its objectives."""

    def __init__(self, standings: Sequence[_Standing], steps: Floats) -> None:
        every = [standing for standing in standings if len(standing.F)]
        owner = np.concatenate([np.full(len(each.F), each.number) for each in every] or [np.empty(0, dtype=np.int64)])
        row = np.concatenate([np.arange(len(each.F)) for each in every] or [np.empty(0, dtype=np.int64)])
        archive = Archive(variables=1, steps=steps.tolist())
        if every:
            F = np.vstack([each.F for each in every])
            archive.take_in(np.zeros((len(F), 1)), F, np.arange(len(F)))
        self.F, self.steps = archive.F, steps
        self.owner: Integers = owner[archive.marks]
        self.row: Integers = row[archive.marks]

    def held(self, number: int) -> int:
        """How many designs a driver has on it."""
        return int((self.owner == number).sum())

    def closest(self, F: Floats) -> tuple[float, int, int, int]:
        """Of designs (n, k): in how many steps of one goal the closest of them is behind; which, which goal, whom.

        That is the least by which one of them would have to be better in one goal for nothing here to beat it.
        """
        best = math.inf, 0, 0, 0
        for number, figures in enumerate(F):
            ahead = (figures - self.F) / self.steps
            beats = np.flatnonzero((ahead >= 0.0).all(axis=1))
            if not len(beats):
                return 0.0, number, 0, -1  # another one stands in its cell
            most = ahead[beats].max(axis=0)
            goal = int(np.argmin(most))
            if most[goal] < best[0]:
                best = float(most[goal]), number, goal, int(beats[np.argmax(ahead[beats, goal])])
        return best


class CatalogueSearch:
    """The search of a job with many drivers; ``run`` it to its end, or until it is cancelled.

    Raises SearchImpossible where the job leaves nothing to search.
    """

    def __init__(self, scenario: Scenario, *, seed: int, evaluations: int | None) -> None:
        self._scenario, self._seed = scenario, seed
        self._steps = np.array([GOALS[key].told_apart for key in scenario.goals.objectives])
        bare = replace(scenario, document={}, digest="")
        self._standings = []
        for number, candidate in enumerate(scenario.candidates):
            lost = unwired(scenario, candidate)
            own = replace(candidate, counts=tuple(count for count in candidate.counts if count not in lost))
            large = too_large(scenario, candidate.driver)
            self._standings.append(_Standing(number, replace(bare, candidates=(own,)), lost, large))
        searched = [each.scenario for each in self._standings if not each.ruled_out]
        if searched:
            BoxProblem(searched[0])  # what leaves nothing to search is the same for all
        self.budget = evaluations or max(scenario.evaluations, EACH * len(searched))
        self._front, self._whole = _Front([], self._steps), 0.0  # the common front, and its hypervolume

    def run(
        self, workers: Executor, kept: Kept, *, progress: Callable[[Progress], None] | None = None,
        cancelled: Callable[[], bool] = lambda: False,
    ) -> Catalogued:  # fmt: skip
        """What the catalogue comes to.  ``cancelled`` is asked as tasks end; those at work are still waited for."""
        self._kept = kept
        stage, stopped = 0, False
        while not stopped and (plan := self._plan(stage)):
            stopped = not self._done(stage, plan, workers, progress, cancelled)
            self._take_in(stage, plan)
            stage += 1
        return self._settled(stopped)

    def _plan(self, stage: int) -> dict[int, int]:
        """How many designs to try of which driver next; none at the end."""
        left = self.budget - sum(each.evaluations for each in self._standings)
        if stage == 0:
            going = [each for each in self._standings if not each.ruled_out]
            first = min(FIRST, max(self.budget // (2 * max(len(going), 1)) // PART * PART, PART))
            return {each.number: first for each in going}
        going = [each for each in self._standings if not each.ruled_out and each.goes_on]
        if left < LEAST or not going:
            return {}
        tries = min(left, max(self.budget // ROUNDS, LEAST))
        shares = self._shares([each.number for each in going])
        plan: dict[int, int] = {}
        # The most promising first, where there are not enough for all.
        for place in np.argsort(-shares, kind="stable"):
            wanted = min(max(round(tries * shares[place] / PART) * PART, LEAST), MOST)
            if wanted <= left:
                plan[going[place].number] = wanted
                left -= wanted
        return plan

    def _shares(self, going: Sequence[int]) -> Floats:
        """Of the tries of a round what each driver gets, (n,).

        A part goes to all alike; the rest by how many designs they hold on the front, and by how much of the
        hypervolume they alone do: a few designs where there are no others may be worth more than many among others.
        """
        even = np.full(len(going), 1.0 / len(going))
        held = np.array([self._front.held(number) for number in going], dtype=float)
        alone = np.nan_to_num(
            [self._alone(number) if count else 0.0 for number, count in zip(going, held, strict=True)]
        )
        by_either = [each / each.sum() if each.sum() > 0.0 else even for each in (held, alone)]
        return np.asarray(ALIKE * even + (1.0 - ALIKE) * np.mean(by_either, axis=0))

    def _done(
        self, stage: int, plan: dict[int, int], workers: Executor,
        progress: Callable[[Progress], None] | None, cancelled: Callable[[], bool],
    ) -> bool:  # fmt: skip
        """See to it that every task of a stage is kept; whether it was not cancelled."""
        done = sum(each.evaluations for each in self._standings)
        ended = 0

        def told(number: int) -> None:
            nonlocal done, ended
            done, ended = done + plan[number], ended + 1
            if progress is not None:
                progress(Progress(done, self.budget, stage, ended, len(plan), len(self._front.F)))

        waiting, at_work = [], dict[Future[Found], tuple[int, int]]()
        # Long tasks first, so that none is left over at the end.
        for number in sorted(plan, key=lambda each: (-plan[each], each)):
            if self._name(stage, number) not in self._kept:
                waiting.append(number)
            else:
                told(number)

        def hand_out(number: int, times: int) -> None:
            standing = self._standings[number]
            starts = self._kept.starts(standing.task) if standing.task else None
            asked = (pickle.dumps(standing.scenario), self._seed_of(stage, standing), plan[number], starts)
            at_work[workers.submit(explored, *asked)] = number, times

        for number in waiting:
            hand_out(number, 1)
        going_on = True
        while at_work:
            if going_on and cancelled():
                going_on = False
                at_work = {each: which for each, which in at_work.items() if not each.cancel()}
            ended_now, _ = wait(at_work, timeout=0.2, return_when=FIRST_COMPLETED)
            for future in ended_now:
                number, times = at_work.pop(future)
                try:
                    found = future.result()
                except BrokenExecutor:
                    if times >= AGAIN:
                        raise
                    hand_out(number, times + 1)
                    continue
                if found.version != VERSION:
                    raise Refusal("other_version", theirs=found.version, own=VERSION)
                self._kept.put(self._name(stage, number), found)
                told(number)
        return going_on and not cancelled()

    def _name(self, stage: int, number: int) -> str:
        return f"{stage:02d}-{number:04d}"

    def _seed_of(self, stage: int, standing: _Standing) -> int:
        """A driver's own, whatever others there are."""
        own = np.random.SeedSequence([self._seed, stage, zlib.crc32(standing.name.encode())])
        return int(own.generate_state(1, np.uint64)[0] >> 1)

    def _take_in(self, stage: int, plan: Collection[int]) -> None:
        """Bring every driver of a stage up to what is kept of it, and the common front to what they hold."""
        for number in sorted(plan):
            standing, name = self._standings[number], self._name(stage, number)
            if name not in self._kept:
                continue
            found = self._kept.get(name)
            standing.task, standing.groups = name, found.groups
            standing.evaluations += found.evaluations
            standing.F = turned(found.rows, self._scenario.goals.objectives)
        self._front = _Front(self._standings, self._steps)
        self._whole = self._covered(np.ones(len(self._front.F), dtype=bool))
        # Who has stopped comes no nearer: the front only moves away from it.
        for standing in (self._standings[number] for number in plan):
            on_it = self._front.held(standing.number) > 0
            standing.gap = 0.0 if on_it or not len(standing.F) else self._front.closest(standing.F)[0]

    def _settled(self, cancelled: bool) -> Catalogued:
        front, names = self._front, list(group_columns())
        rows, left_out, verdicts, short = [], [], [], []
        for standing in self._standings:
            on_it = np.flatnonzero(front.owner == standing.number)
            verdicts.append(self._verdict(standing, on_it))
            if not standing.task:
                continue
            found = self._kept.get(standing.task)
            short.append(found.misfits)
            if len(on_it):
                rows.append(found.rows.iloc[np.sort(front.row[on_it])])
                there = set(rows[-1][names].itertuples(index=False, name=None))
                left_out += [each for each in found.groups if tuple(each[name] for name in names) not in there]
        lost = pd.concat([each for each in short if len(each)] or short[:1] or [pd.DataFrame()], ignore_index=True)
        lost["id"] = numbers(len(lost), "N")
        return Catalogued(Run(self._table(rows), lost, self._record(left_out, cancelled)), verdicts)

    def _table(self, rows: Sequence[pd.DataFrame]) -> pd.DataFrame:
        if not rows:
            return pd.DataFrame()
        # Any driver's evaluator will do, since all share goals and levels.
        owner = int(self._front.owner[0])
        return table(Evaluator(self._standings[owner].scenario), pd.concat(rows))

    def _record(self, left_out: list[dict[str, Any]], cancelled: bool) -> dict[str, Any]:
        """What a search's record has, of all drivers together."""
        scenario, front = self._scenario, self._front
        keys = scenario.goals.objectives
        return {
            "scenario": scenario.title,
            "scenario_sha256": scenario.digest,
            "seed": self._seed,
            "version": VERSION,
            "budget": self.budget,
            "evaluations": sum(each.evaluations for each in self._standings),
            "stopped_by": "cancelled" if cancelled else "budget",
            "designs": len(front.F),
            "objectives": list(keys),
            "hypervolume": self._whole,
            "hypervolume_span": {key: GOALS[key].span for key in keys},
            "hypervolume_exact": len(keys) <= EXACT_OBJECTIVES,
            "drivers_without_wiring": [f"{count} × {each.name}" for each in self._standings for count in each.unwired],
            "left_out": left_out,
        }

    def _verdict(self, standing: _Standing, on_it: Integers) -> Verdict:
        said: dict[str, Any] = {"driver": standing.name, "evaluations": standing.evaluations}
        said["unwired"] = standing.unwired
        if not standing.scenario.candidates[0].counts:
            return Verdict(code="unwired", **said)
        if standing.large is not None:
            return Verdict(code="too large", large=standing.large, **said)
        if len(on_it):
            return Verdict(code="front", designs=len(on_it), share=self._alone(standing.number), **said)
        if len(standing.F):
            return Verdict(code="beaten", beaten=self._beaten(standing), **said)
        nearest = [each["short_of"] for each in standing.groups if each["reason"] == "short"]
        if not nearest:
            return Verdict(code="untried", **said)
        least = min(nearest, key=lambda each: sum(one["by"] for one in each))
        return Verdict(code="short", short_of=tuple(least), **said)

    def _beaten(self, standing: _Standing) -> Beaten:
        """Of the designs of a driver the one that comes closest, and whom it does not get past."""
        front = self._front
        steps, number, goal, rival = front.closest(standing.F)
        only = rival >= 0 and steps >= SAME_BELOW
        if rival < 0:
            # Nothing beats it, but in its cell another one stands for it.
            rival = int(np.argmin(np.abs((standing.F[number] - front.F) / front.steps).max(axis=1)))
        behind = standing.F[number] - front.F[rival]
        if not only:
            goal = int(np.argmax(behind / front.steps))
        name = self._standings[int(front.owner[rival])].name
        alike = bool((behind / front.steps)[goal] < SAME_BELOW)
        key = self._scenario.goals.objectives[goal]
        return Beaten(rival=name, goal=key, by=float(behind[goal]), only=only, alike=alike)

    def _alone(self, number: int) -> float:
        """How much of the front's hypervolume none but a driver holds, as a share of all of it; nan where unknown."""
        if len(self._scenario.goals.objectives) > EXACT_OBJECTIVES:
            return math.nan
        return 1.0 - self._covered(self._front.owner != number) / self._whole if self._whole > 0.0 else 0.0

    def _covered(self, kept: Flags) -> float:
        """Hypervolume of those designs of the front that are kept."""
        keys = self._scenario.goals.objectives
        figures = self._front.F[kept] * np.array([GOALS[key].turn for key in keys])
        return hypervolume(pd.DataFrame(figures, columns=list(keys)), keys) if kept.any() else 0.0
