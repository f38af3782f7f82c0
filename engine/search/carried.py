"""A front carried over to another job: its designs as that job has them, and copies that follow what has changed.

What the job no longer has (a driver, a way of wiring, a pipe) is replaced by the nearest that it has, or left out;
whether a design still fits is for whoever judges it.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd
import shapely

from engine.acoustics.figures import FIGURES_GRID
from engine.arrays import Floats, Indices, Integers
from engine.scenario import Scenario
from engine.search.evaluator import SIZES, TOUCH, Designs
from engine.search.families import FILTER_COLUMNS, Key, families_of, group_columns
from engine.search.front import judged, keys_of, turned
from engine.search.optimise import BATCH, thin
from engine.search.problem import BoxProblem
from engine.space.envelope import Envelope

FIRST = 128  # designs that stand for a front
FRESH = BATCH  # copies at most with what a job did not have before
WIDE, TALL, DEEP = ("outer_width",), ("outer_height",), ("bottom_depth", "top_depth")


@dataclass(frozen=True)
class Start:
    """Where a search goes on from: variables of designs that were good in another job.

    ``own`` (n, n_var) are the front's, those that stand for the others first, and ``rows`` (n,) are their positions in
    it; ``copies`` (m, n_var) are made from them, when they are first asked for.
    """

    own: Floats
    rows: Indices
    copied: Callable[[], Floats]

    @staticmethod
    def nowhere(problem: BoxProblem) -> Start:
        """No start at all."""
        nothing = np.empty((0, problem.n_var))
        return Start(nothing, np.empty(0, dtype=np.intp), lambda: nothing)

    @cached_property
    def copies(self) -> Floats:
        return self.copied()

    @property
    def all(self) -> Floats:
        return np.vstack([self.own, self.copies])


def carried_over(front: pd.DataFrame, before: Scenario, problem: BoxProblem, *, seed: int = 1) -> Start:
    """A front found ``before`` as a start for another job's ``problem``.

    Each design becomes one of the family most like its own, of those of the same kind of box, opening, driver, count
    and facing; where the job has none it is left out.  Copies are larger by what the space has grown, or smaller by
    what they no longer fit; they keep their inside where the board is another; and what the job did not have before is
    put into boxes of the front.  ``seed`` draws what those do not say.

    Raises SearchImpossible where the job ``before`` allows no box at all.
    """
    order = _telling_first(front, before.goals.objectives)
    front = front.iloc[order]
    keys = keys_of(front)
    family = _nearest_families(keys, problem)
    right = family >= 0
    designs = _designs(problem, front if right.all() else front[right], family[right])

    def copied() -> Floats:
        return np.vstack([*_resized(problem, designs, before), _with_what_is_new(problem, front, keys, before, seed)])

    return Start(problem.encode(designs), order[right], copied)


def _telling_first(front: pd.DataFrame, objectives: tuple[str, ...]) -> Indices:
    """Positions of a front's rows, those that stand for the others first."""
    every = np.arange(len(front))
    some, _ = thin(every.astype(float), turned(front, objectives), most=FIRST)
    return np.concatenate([some.astype(np.intp), np.setdiff1d(every, some)])


def _alike(one: Key, other: Key) -> list[bool]:
    """Where two families agree; what weighs most stands first."""
    return [ours == theirs for ours, theirs in zip(one, other, strict=True)]


def _nearest_families(keys: Sequence[Key], problem: BoxProblem) -> Integers:
    """The family of a job that is most like each key's, (n,); -1 where it has none of the same group."""
    known, depth = problem.evaluator.families.by_key, len(group_columns())
    groups: dict[Key, list[Key]] = defaultdict(list)
    for key in known:
        groups[key[:depth]].append(key)
    nearest = {}
    for key in dict.fromkeys(keys):
        best = max(groups.get(key[:depth], []), key=lambda other: _alike(key, other), default=None)
        nearest[key] = -1 if best is None else known[best]
    return np.array([nearest[key] for key in keys], dtype=np.int64)


def _designs(problem: BoxProblem, rows: pd.DataFrame, family: Integers) -> Designs:
    """Rows of a front, of whatever job, as designs of these families of this one."""
    evaluator = problem.evaluator
    low, high = evaluator.families.filter_range[family].T
    return Designs(
        family=family,
        **{name: rows[f"{name}_m"].to_numpy(float) for name in SIZES},
        tuning=np.where(evaluator.families.tuned[family], rows["tuning_lumped_hz"].to_numpy(float), np.nan),
        filter_hz=np.clip(np.nan_to_num(rows["filter_hz"].to_numpy(float)), low, high),
        openings=evaluator.settled(family, rows),
    )


def _resized(problem: BoxProblem, designs: Designs, before: Scenario) -> Iterator[Floats]:
    """Copies of designs whose sizes follow the change of the job."""
    evaluator = problem.evaluator
    scenario = evaluator.scenario
    for names, by in _grown(before, scenario, evaluator.envelope):
        yield _changed(problem, designs, names, by)
    lacking = evaluator.fit(designs, evaluator.wedges(designs)).violation
    short = np.flatnonzero(lacking > TOUCH)
    # Boxes come in steps of sizes.
    less = -(lacking[short] + scenario.saw.size_step)
    for names in (WIDE, TALL, DEEP):
        yield _changed(problem, designs.take(short), names, less)
    thicker = scenario.stock.board_thickness - before.stock.board_thickness
    if thicker:
        yield _changed(problem, designs, SIZES, 2.0 * thicker)


def _changed(problem: BoxProblem, designs: Designs, names: Sequence[str], by: Floats | float) -> Floats:
    """Copies with some sizes larger ``by`` so many m, as far as the job's bounds let them."""
    ends = {name: (problem.xl[column], problem.xu[column]) for column, name in enumerate(problem.variables)}
    sizes = {name: np.clip(getattr(designs, name) + by, *ends[name]) for name in names}
    return problem.encode(replace(designs, **sizes))


def _grown(before: Scenario, after: Scenario, envelope: Envelope) -> Iterator[tuple[tuple[str, ...], float]]:
    """Sizes that may grow together where the space has, and by how much in m."""
    if after.space == before.space:
        return
    earlier = Envelope(before.space, covering=before.box.carpet)
    wide, tall, deep = np.subtract(envelope.extent, earlier.extent)
    sections = [shapely.Polygon(each.space.section) for each in (before, after)]
    # Of a section that is no larger in any way, but another.
    reshaped = 0.0 if max(tall, deep) > 0.0 else float(shapely.hausdorff_distance(*sections))
    if wide > 0.0:
        yield WIDE, wide
    if max(tall, reshaped) > 0.0:
        yield TALL, max(tall, reshaped)
    if max(deep, reshaped) > 0.0:
        yield from ((names, max(deep, reshaped)) for names in (DEEP, DEEP[:1], DEEP[1:]))


def _with_what_is_new(
    problem: BoxProblem, front: pd.DataFrame, keys: Sequence[Key], before: Scenario, seed: int
) -> Floats:
    """Boxes of the front with what the job has and had not before: another driver, opening or baffle."""
    families, rng = problem.evaluator.families, np.random.default_rng(seed)
    known = {item.key[: -len(FILTER_COLUMNS)] for item in families_of(before).items}
    firsts = np.unique(families.box, return_index=True)[1]
    fresh = [number for number in firsts if families.items[number].key[: -len(FILTER_COLUMNS)] not in known]
    each = -(-FRESH // max(len(fresh), 1))
    parts = [np.empty((0, problem.n_var))]
    for number in fresh[:FRESH]:
        item = families.items[number]
        agreed = {key: sum(_alike(key, item.key)) for key in dict.fromkeys(keys)}
        rows = np.argsort([-agreed[key] for key in keys], kind="stable")[:each]
        some = front.iloc[rows]
        X = problem.encode(_designs(problem, some, np.full(len(rows), number)))
        others = ((some["box_kind"] != item.box_kind) | (some["vent_kind"] != item.opening.vent_kind)).to_numpy()
        drawn = ["tuning", *(variable.name for variable in item.opening.variables)]
        for column in (problem.variables.index(name) for name in drawn):
            X[others, column] = rng.uniform(problem.xl[column], problem.xu[column], others.sum())
        parts.append(X)
    return np.vstack(parts)


@dataclass(frozen=True)
class Followed:
    """What became of one design in another job: a row of its front, or of what cannot be built there."""

    row: dict[str, Any]
    same: bool  # whether it is the very box; else the design of the front that comes nearest
    built: bool


def followed(rows: pd.DataFrame, problem: BoxProblem, front: pd.DataFrame) -> Followed | None:
    """What became in a job's ``problem`` of the one design, found for another, that ``rows`` holds.

    It is judged again as it is, and where it can be built the nearest of the job's ``front`` stands for it: the same
    box or, where that is beaten, one as much like it as can be in all goals, with its drivers if any have them.  None
    where the job has nothing of its kind.
    """
    family = _nearest_families(keys_of(rows), problem)
    if family[0] < 0:
        return None
    evaluator, designs = problem.evaluator, _designs(problem, rows, family)
    judgement = evaluator.judge(designs, frequency=FIGURES_GRID, exact=True, hear_all=True)
    again = judged(evaluator, designs, judgement)
    if not judgement.feasible[0]:
        return Followed(_row(again, 0), same=False, built=False)
    group = list(group_columns())
    alike = (front[group].astype(object) == again[group].astype(object).iloc[0]).all(axis=1)
    among = front[alike] if alike.any() else front
    apart = (turned(among, problem.objectives) - turned(again, problem.objectives)) / np.array(problem.steps)
    nearest = int(np.argmin((apart**2).sum(axis=1)))
    figures = [*(f"{name}_m" for name in SIZES), "tuning_lumped_hz", "filter_hz", *problem.objectives]
    ours, theirs = (each[figures].to_numpy(float)[0] for each in (again, among.iloc[[nearest]]))
    return Followed(_row(among, nearest), same=bool(np.array_equal(ours, theirs, equal_nan=True)), built=True)


def _row(front: pd.DataFrame, position: int) -> dict[str, Any]:
    return {str(key): value for key, value in front.iloc[position].to_dict().items()}
