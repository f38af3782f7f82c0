"""From one box to the next that somebody wishes for: more of this, hold that, give way on those, or a figure for each.

Goals are sorted as in NIMBUS (Miettinen, *Nonlinear Multiobjective Optimization*, 1999; from memory): to be bettered,
to be held, free to give way, each with the level that is wished for where one is stated.  Which box of a front comes
nearest is said by an achievement function (Wierzbicki, "The use of reference objectives in multiobjective
optimization", 1980; from memory).  With figures f turned so that less is better, levels a aspired to, w by which a miss
is measured and r the spread of a goal over the front

    s(f) = max(0, max over what is asked of (f_i - a_i) / w_i) + rho * sum over all goals of phi((f_i - a_i) / r_i)

for rho towards 0: boxes are ordered by the first part, equals by the second, phi(x) being x above 0 and x / 100 below.
s rises with every figure, so that none of the boxes looked at beats the one of least s, and its first part is 0 exactly
where every level asked for is reached.  Of boxes that reach all, the one that gives up least comes first, and not the
one that overshoots most.

Only designs of the front are offered: nothing is drawn between them.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, Literal

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.arrays import Floats
from engine.goals import GOALS
from engine.insight.reasons import built_otherwise, difference, run_on, said_of, shown
from engine.quantities import Units
from engine.search.front import turned
from engine.words.voice import first_down, listed

STEP = 0.1  # of a goal's spread over the front: what "more of it" asks for, unless it is too little to notice
BEYOND = 0.01  # what a share beyond the level wished for counts, against one that is missing
_SAME = 9  # decimals to which two misses are the same

Stopped = Literal["end", "filters", "held", "together"]


@dataclass(frozen=True)
class Wishes:
    """What somebody wishes for, by goal: ``more`` of it, ``hold`` it, it may ``give`` way, or a level, SI.

    A goal that is in none of them is to stay as near to what it is as can be; where levels are all that is wished for,
    it is free.  Raises ValueError where a goal is in two of them.
    """

    more: tuple[str, ...] = ()
    hold: tuple[str, ...] = ()
    give: tuple[str, ...] = ()
    levels: Mapping[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        if twice := self.twice:
            raise ValueError(f"wished for in two ways: {twice}")

    @property
    def twice(self) -> list[str]:
        """The goals that are wished for in two ways."""
        every = [*self.more, *self.hold, *self.give, *self.levels]
        return sorted({key for key in every if every.count(key) > 1})

    @property
    def asked(self) -> tuple[str, ...]:
        """The goals that are to get better or to come to a level."""
        return (*self.more, *self.levels)


@dataclass(frozen=True)
class Aims:
    """What wishes come to as figures, turned so that less is better; all (k,) in the order of the goals."""

    levels: Floats  # aspired to
    misses: Floats  # by what a miss is measured
    spread: Floats  # over the front
    asked: NDArray[np.bool_]  # whether a miss counts in the first part
    most: Floats  # not to be passed; inf where that is free


@dataclass(frozen=True)
class Denied:
    """A wish that is not met: what was ``got``, the best that there is, with the design that has it, and what stops it.

    ``stopped`` is ``end`` where the front has no better, ``filters`` where these keep none, ``held`` where what is held
    (``by``) does, ``together`` where what else is wished for does.  ``best`` is the best figure of the whole front, and
    ``within`` the best of what is left with filters and what is held.
    """

    key: str
    stopped: Stopped
    wanted: float | None  # the level that was wished for
    got: float
    best: float
    best_id: str
    within: float
    by: tuple[str, ...] = ()


@dataclass(frozen=True)
class Granted:
    """What came of wishes: from design ``here`` to design ``there``; None where none comes nearer."""

    here: Mapping[str, Any]
    there: Mapping[str, Any] | None
    wishes: Wishes
    objectives: tuple[str, ...]
    denied: tuple[Denied, ...]

    def changes(self) -> dict[str, float]:
        """By how much ``there`` is better in each goal that both boxes have, in its unit; worse is negative."""
        if self.there is None:
            return {}
        return {
            key: GOALS[key].turn * (float(self.here[key]) - float(self.there[key]))
            for key in self.objectives
            if all(GOALS[key].had_by(row["box_kind"]) for row in (self.here, self.there))
        }


def aims_of(front: pd.DataFrame, here: Mapping[str, Any], wishes: Wishes, objectives: Sequence[str]) -> Aims:
    """What wishes from a design come to on a front: levels, and what must not be passed.

    More of a goal is a tenth of its spread over the front, no less than its ``least_step`` and no more than there is.
    """
    keys = tuple(objectives)
    figures, (now,) = turned(front, keys), turned(pd.DataFrame([dict(here)]), keys)
    best, worst = figures.min(axis=0), figures.max(axis=0)
    least = np.array([max(GOALS[key].least_step, GOALS[key].told_apart) for key in keys])
    spread = np.maximum(worst - best, least)
    step = np.maximum(STEP * spread, least)
    levels, misses = now.copy(), np.maximum(worst - now, step)
    asked = np.full(len(keys), bool(wishes.more or wishes.hold or wishes.give or not wishes.levels))
    most = np.full(len(keys), np.inf)
    for number, key in enumerate(keys):
        if key in wishes.more:
            levels[number] = min(max(now[number] - step[number], best[number]), now[number])
            misses[number], most[number] = step[number], now[number]
        elif key in wishes.hold:
            most[number] = now[number] + _unnoticed(key)
        elif key in wishes.give:
            asked[number] = False
        elif key in wishes.levels:
            levels[number], misses[number] = GOALS[key].turn * wishes.levels[key], spread[number]
            asked[number] = True
    return Aims(levels, misses, spread, asked, most)


def achievement(figures: Floats, aims: Aims) -> Floats:
    """Both parts of the achievement function, (n, 2), of figures (n, k) turned so that less is better."""
    missed = np.where(aims.asked, (figures - aims.levels) / aims.misses, 0.0)
    apart = (figures - aims.levels) / aims.spread
    rest = np.where(apart > 0.0, apart, BEYOND * apart).sum(axis=1)
    return np.column_stack([np.round(np.maximum(missed.max(axis=1), 0.0), _SAME), rest])


def nearest_wished(
    front: pd.DataFrame, here: Mapping[str, Any], wishes: Wishes, objectives: Sequence[str], *,
    kept: NDArray[np.bool_] | None = None,
) -> Granted:  # fmt: skip
    """The design of a front that comes nearest to what is wished for from the design ``here``, and what is denied.

    ``kept`` (n,) are the rows that may be offered, by default all.  What is held gets worse by no more than half of
    what a builder can tell apart; of what there is to be more of nothing gets worse, and one of it noticeably better.

    Raises ValueError where nothing is asked for, KeyError where a goal is none of the ``objectives``.
    """
    keys = tuple(objectives)
    if not wishes.asked:
        raise ValueError("nothing is asked for")
    for key in (*wishes.asked, *wishes.hold, *wishes.give):
        if key not in keys:
            raise KeyError(key)
    aims, figures = aims_of(front, here, wishes, keys), turned(front, keys)
    (now,) = turned(pd.DataFrame([dict(here)]), keys)
    offered = np.ones(len(front), bool) if kept is None else kept.copy()
    allowed = offered & (figures <= aims.most).all(axis=1) & _having(front, here, wishes.more)
    if wishes.more:
        noticed = np.array([now[keys.index(key)] - _unnoticed(key) for key in wishes.more])
        allowed &= (figures[:, [keys.index(key) for key in wishes.more]] <= noticed).any(axis=1)
    there = None
    if allowed.any():
        worth = achievement(figures[allowed], aims)
        there = _row(front, int(np.flatnonzero(allowed)[np.lexsort(worth.T[::-1])[0]]))
        if _is_here(there, here, keys):
            there = None
    got = here if there is None else there
    denied = [
        _denied(
            front,
            figures,
            now,
            key,
            float(got[key]),
            wishes,
            keys,
            offered,
            _having(front, here, {key} & {*wishes.more}),
        )
        for key in wishes.asked
        if not _met(key, got, here, wishes)
    ]
    return Granted(here, there, wishes, keys, tuple(denied))


def in_words(granted: Granted, *, units: Units, currency: str = "") -> list[str]:
    """What came of wishes, in sentences: what was gained, what it costs, what could not be had and why."""
    told = [*_moved(granted, units, currency)]
    name = str(granted.here["id"] if granted.there is None else granted.there["id"])
    return told + [_refused(each, name, units, currency) for each in granted.denied]


def asked_in_words(wishes: Wishes, *, units: Units, currency: str = "") -> str:
    """Wishes as a customer would say them: "Louder at 40 Hz; hold outer volume"."""
    said = [GOALS[key].wished for key in wishes.more]
    said += [f"{GOALS[key].label} {shown(level, key, units, currency)}" for key, level in wishes.levels.items()]
    said += [f"hold {listed([GOALS[key].inner_label for key in wishes.hold])}"] if wishes.hold else []
    said += [f"give way on {listed([GOALS[key].inner_label for key in wishes.give])}"] if wishes.give else []
    return "; ".join([said[0], *map(first_down, said[1:])])


def _moved(granted: Granted, units: Units, currency: str) -> Iterator[str]:
    """What the box that was found has and costs."""
    here, there = granted.here, granted.there
    if there is None:
        met = "has all that is wished for" if not granted.denied else "stays: no box comes nearer"
        yield f"{here['id']} {met}."
        return
    changes, wished = granted.changes(), granted.wishes.asked

    def differs(keys: Collection[str]) -> str:
        turns = {key: -GOALS[key].turn * changes[key] for key in keys}
        return run_on([difference(said_of(GOALS[key]), turns[key], key, units, currency) for key in turns])

    got = [key for key in wished if changes.get(key, 0.0) >= _unnoticed(key)]
    name, other = there["id"], built_otherwise(here, there)
    yield f"{name} {differs(got)} than {here['id']}." if got else f"{name} comes nearest."
    if other:
        yield f"It {run_on(other)}."
    told = [key for key in changes if abs(changes[key]) >= GOALS[key].least_step and key not in got]
    lost = [key for key in told if changes[key] < 0.0]
    gained = [key for key in told if changes[key] > 0.0]
    yield f"For that it {differs(lost)}." if lost else "It gives up nothing that shows."
    if gained:
        yield f"It also {differs(gained)}."


def _refused(denied: Denied, name: str, units: Units, currency: str) -> str:
    """Why a wish is not met, with the best that the front has of it."""
    goal = GOALS[denied.key]
    best, within = (shown(each, denied.key, units, currency) for each in (denied.best, denied.within))
    asked = goal.wished
    if denied.wanted is not None:
        wanted, got = (shown(each, denied.key, units, currency) for each in (denied.wanted, denied.got))
        asked = f"{goal.label} {wanted}, and {name} has {got}"
    if not np.isfinite(denied.best):
        return f"{asked}: {first_down(goal.absent[1])}"
    extreme = "most" if goal.better == "max" else "least"
    if denied.stopped == "end":
        whose = "this box" if denied.best_id == name else denied.best_id
        return f"{asked}: no box on the front has that; the {extreme} is {best} ({whose})."
    if denied.stopped == "filters":
        return f"{asked}: the filters keep no such box; without them there is {best} ({denied.best_id})."
    if denied.stopped == "held":
        held = listed([GOALS[key].inner_label for key in denied.by])
        bound = f"while {held} is held" if len(denied.by) == 1 else f"while {held} are held"
        return f"{asked}: not {bound}, {within} is then the {extreme}; the front goes to {best} ({denied.best_id})."
    return f"{asked}: not together with the rest; by itself it goes to {within}."


def _denied(
    front: pd.DataFrame, figures: Floats, now: Floats, key: str, got: float, wishes: Wishes,
    keys: tuple[str, ...], offered: NDArray[np.bool_], having: NDArray[np.bool_],
) -> Denied:  # fmt: skip
    """What stops a wish that is not met: the end of the front, the filters, what is held, or the other wishes."""
    goal, column = GOALS[key], keys.index(key)
    wanted = wishes.levels.get(key)
    target = now[column] - _unnoticed(key) if wanted is None else goal.turn * wanted + _unnoticed(key)

    def reach(rows: NDArray[np.bool_]) -> float:
        return float(figures[rows, column].min()) if rows.any() else np.inf

    def holding(released: str = "") -> float:
        kept = [
            figures[:, keys.index(other)] <= now[keys.index(other)] + _unnoticed(other)
            for other in wishes.hold
            if other != released
        ]
        return reach(np.logical_and.reduce([offered & having, *kept]))

    best, within = reach(having), holding()
    place = int(np.where(having, figures[:, column], np.inf).argmin())
    stopped: Stopped
    by: tuple[str, ...] = ()
    if best > target:
        stopped = "end"
    elif reach(offered & having) > target:
        stopped = "filters"
    elif within > target:
        stopped = "held"
        alone = [other for other in wishes.hold if holding(other) <= target]
        by = tuple(alone[:1]) or wishes.hold
    else:
        stopped = "together"
    return Denied(key, stopped, wanted, got, goal.turn * best, str(front["id"].iloc[place]), goal.turn * within, by)


def _met(key: str, got: Mapping[str, Any], here: Mapping[str, Any], wishes: Wishes) -> bool:
    """Whether a design has what is wished for of a goal."""
    figure = GOALS[key].turn * float(got[key])
    if key in wishes.levels:
        return figure <= GOALS[key].turn * wishes.levels[key] + _unnoticed(key)
    return figure <= GOALS[key].turn * float(here[key]) - _unnoticed(key)


def _unnoticed(key: str) -> float:
    """Half of what a builder can tell apart, in the goal's unit."""
    return 0.5 * GOALS[key].told_apart


def _having(front: pd.DataFrame, here: Mapping[str, Any], keys: Collection[str]) -> NDArray[np.bool_]:
    """The designs that have what there is to be more of: that nothing blows out of a closed box is no slower air."""
    found = np.ones(len(front), bool)
    for key in keys:
        found &= front["box_kind"].map(GOALS[key].had_by).to_numpy(bool) & GOALS[key].had_by(here["box_kind"])
    return found


def _row(front: pd.DataFrame, place: int) -> dict[str, Any]:
    return {str(key): value for key, value in front.iloc[place].to_dict().items()}


def _is_here(there: Mapping[str, Any], here: Mapping[str, Any], keys: Sequence[str]) -> bool:
    return there["id"] == here["id"] and all(float(there[key]) == float(here[key]) for key in keys)
