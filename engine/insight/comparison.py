"""One group of designs against another, such as one large driver against two small ones: where each wins, by how much.

Two groups are compared at an equal value of one goal by the best that each reaches in another there.  Nothing is drawn
between designs: a group reaches at a volume what the best of its designs no larger than that reaches, so a difference
is one between two boxes that can be built, and what else sets these two apart is said with it.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import Any

import numpy as np
import pandas as pd

from engine.arrays import Floats
from engine.errors import refusal
from engine.facings import FACINGS
from engine.goals import GOALS
from engine.insight.reasons import difference, run_on, said_of, shown
from engine.kinds import KINDS
from engine.quantities import Units
from engine.scenario import Scenario
from engine.search.families import families_of
from engine.search.front import turned

BUILT = frozenset({"volume", "length", "mass", "money", "count"})  # kinds of goals that are paid in, not heard


@dataclass(frozen=True, kw_only=True)
class Trait:
    """What designs may be told apart by: the columns it stands in, and what a box of such a group is called."""

    choice: str
    columns: tuple[str, ...]
    named: Callable[..., str]


VENTS = {"pipe": "a box with pipes", "slot": "a box with a slot", "": "a box without vents"}
TRAITS: Mapping[str, Trait] = {
    "drivers": Trait(choice="Drivers and their count", columns=("driver_count", "driver"),
                     named=lambda count, driver: f"{count} × {driver}"),
    "driver": Trait(choice="Driver", columns=("driver",), named=str),
    "count": Trait(choice="Count of drivers", columns=("driver_count",),
                   named=lambda count: f"a box with {count} driver{'s' if count > 1 else ''}"),
    "kind": Trait(choice="Kind of box", columns=("box_kind",), named=lambda kind: KINDS[kind].noun),
    "wiring": Trait(choice="Wiring", columns=("wiring",), named=lambda words: f"a box wired with {words}"),
    "vents": Trait(choice="Vents", columns=("vent_kind",), named=VENTS.__getitem__),
    "facing": Trait(choice="Facing of drivers", columns=("facing",),
                    named=lambda facing: f"a box with drivers in the {FACINGS[facing].panel}"),
}  # fmt: skip


@dataclass(frozen=True)
class Group:
    """Designs alike in one trait: its ``traits`` by column, the ``name`` of a box of it, and what asks for it."""

    traits: tuple[tuple[str, str | int], ...]
    name: str
    asked_as: str

    def of(self, front: pd.DataFrame) -> pd.DataFrame:
        """Its own rows of a front."""
        return front[np.logical_and.reduce([front[key] == value for key, value in self.traits])]

    def only(self, scenario: Scenario) -> Scenario:
        """The job with nothing else to choose from, so that a search of it gives the group's own whole front."""
        return replace(scenario, only={**scenario.only, **dict(self.traits)})


def groups_of(front: pd.DataFrame, by: str) -> list[Group]:
    """The groups that a front has of a trait, those with fewest drivers first, else in order of their names."""
    trait = TRAITS[by]
    rows = front[list(trait.columns)].drop_duplicates().sort_values(list(trait.columns))
    found = []
    for row in rows.itertuples(index=False, name=None):
        values = [int(value) if isinstance(value, (int, np.integer)) else str(value) for value in row]
        asked_as = " x ".join(map(str, values)) or "none"
        found.append(Group(tuple(zip(trait.columns, values, strict=True)), trait.named(*values), asked_as))
    return found


def groups_in(scenario: Scenario, by: str) -> list[Group]:
    """The groups that a job may be searched for.  Raises SearchImpossible where it leaves nothing to search."""
    return groups_of(pd.DataFrame([item.columns for item in families_of(scenario).items]), by)


def two_of(groups: Sequence[Group], a: str | None, b: str | None) -> tuple[Group, Group]:
    """The two groups that are asked for, both or either named by ``asked_as``; without a name those that are left.

    Raises InputFaults where a name is none of theirs, and where what is named leaves other than two.
    """

    def plain(text: str) -> str:
        return " ".join(text.replace("×", " x ").casefold().split())

    named = {plain(group.asked_as): group for group in groups}
    known = tuple(f'"{group.asked_as}"' for group in groups)
    asked = {option: plain(text) for option, text in (("--a", a), ("--b", b)) if text is not None}
    for option, name in asked.items():
        if name not in named:
            raise refusal(option, "no_group", value=str(a if option == "--a" else b), known=known)
    if len(set(asked.values())) < len(asked):
        raise refusal("--b", "group_twice", value=str(b))
    left = [group for name, group in named.items() if name not in asked.values()]
    if len(asked) + len(left) < 2:
        raise refusal("--by", "one_group", known=known)
    if len(asked) + len(left) > 2 > len(asked):
        raise refusal("--by", "many_groups", known=known)
    first, second = (named[asked[option]] if option in asked else left.pop(0) for option in ("--a", "--b"))
    return first, second


@dataclass(frozen=True)
class Lead:
    """A stretch of one goal along which one group is ahead of the other in another goal.

    At any value of the goal ``at`` between the ends the best of the leading group is better in ``goal``, or within
    the goal's ``least_step`` of the other's best; at the ends and somewhere between by more.  ``start`` and ``end`` are
    turned so that less is harder (``end`` may be inf), and so is ``stated``, where the two designs ``ours`` and
    ``theirs`` are taken.
    """

    at: str
    goal: str
    second: bool  # whether it is the second group that leads
    start: float
    end: float
    stated: float
    ours: pd.Series
    theirs: pd.Series


def leads(a: pd.DataFrame, b: pd.DataFrame, at: str, goal: str, objectives: Sequence[str]) -> list[Lead]:
    """Where either group is ahead in a goal at equal values of another.

    Both groups are rows of fronts.  Of designs that reach the best there, or half of what a builder can tell apart
    from it, those stated are the best in the other objectives, all alike.  Stretches shorter than the ``least_step`` of
    the goal ``at`` are left out.
    """
    sets = (a, b)
    figures = [turned(each, (at, goal)) for each in sets]
    stairs = [_best_up_to(each) for each in figures]
    first = max(x[0] for x, _ in stairs)
    places = np.unique(np.concatenate([[first], *(x[x > first] for x, _ in stairs)]))
    reached = [best[np.searchsorted(x, places, side="right") - 1] for x, best in stairs]
    gap, step = reached[1] - reached[0], GOALS[goal].least_step
    sign = np.where(np.abs(gap) < step, 0, np.sign(gap)).astype(int)
    found = []
    told = np.flatnonzero(sign)
    for run in np.split(told, np.flatnonzero(np.diff(sign[told])) + 1) if len(told) else ():
        start, after = places[run[0]], int(run[-1]) + 1
        end = float(places[after]) if after < len(places) else np.inf
        if round(end - start, GOALS[at].stored) < GOALS[at].least_step:  # in the figures of a front
            continue
        middle = 0.5 * (start + places[run[-1]])
        stated = float(places[run][np.argmin(np.abs(places[run] - middle))])
        second = bool(sign[run[0]] < 0)
        pair = [_stated(each, stated, at, goal, objectives) for each in sets]
        ours, theirs = pair[::-1] if second else pair
        found.append(Lead(at, goal, second, float(start), end, stated, ours, theirs))
    return found


def _best_up_to(figures: Floats) -> tuple[Floats, Floats]:
    """Where the best in the second of two turned figures (n, 2) improves as the first may be worse, and to what."""
    order = np.lexsort((figures[:, 1], figures[:, 0]))
    x, best = figures[order, 0], np.minimum.accumulate(figures[order, 1])
    improves = np.concatenate([[True], np.diff(best) < 0.0])
    return x[improves], best[improves]


def _stated(front: pd.DataFrame, limit: float, at: str, goal: str, objectives: Sequence[str]) -> pd.Series:
    """The design that stands for a group where the goal ``at`` may be as bad as a turned figure."""
    allowed = front[turned(front, (at,))[:, 0] <= limit]
    figures = turned(allowed, (goal,))[:, 0]
    best = allowed[figures <= figures.min() + 0.5 * GOALS[goal].told_apart]
    rest = turned(best, tuple(key for key in objectives if key != goal))
    steps = np.array([GOALS[key].told_apart for key in objectives if key != goal])
    chosen: pd.Series = best.iloc[int(np.argmin((rest / steps).sum(axis=1)))]
    return chosen


def beaten(front: pd.DataFrame, other: pd.DataFrame, objectives: Sequence[str]) -> float:
    """The share of a front's designs that one of another front is as good as in every objective and better in one."""
    mine, theirs = (turned(each, tuple(objectives)) for each in (front, other))
    return float(np.mean([bool(((theirs <= row).all(axis=1) & (theirs < row).any(axis=1)).any()) for row in mine]))


def in_words(
    a: pd.DataFrame, b: pd.DataFrame, names: tuple[str, str], objectives: Sequence[str], *,
    units: Units, currency: str = "",
) -> dict[str, list[str]]:  # fmt: skip
    """What sets two groups apart, in sentences a customer follows, under headings.

    ``a`` and ``b`` are rows of fronts, neither empty, ``names`` what a box of each is called.  First what only one of
    the two reaches and how many designs of each the other beats outright; then, at equal values of each goal that is
    paid in (size, weight, cost), who is ahead in what is heard, and the other way round.
    """
    shared = [key for key in objectives if _had(a, key) and _had(b, key)]
    found = {"All in all": [*_outright(a, b, names, shared), *_alone(a, b, names, shared, units, currency)]}
    paid = [key for key in shared if GOALS[key].kind in BUILT] or shared[:1]
    heard = [key for key in shared if key not in paid]
    for at, goal in [*product(paid, heard), *product(heard, paid)]:
        lines = [_told(lead, names, shared, units, currency) for lead in leads(a, b, at, goal, shared)]
        least = _figure(GOALS[goal].least_step, goal, units, currency)
        even = f"In {GOALS[goal].inner_label} neither is ahead by {least} over a stretch worth a word."
        found.setdefault(f"At equal {GOALS[at].inner_label}", []).extend(lines or [even])
    return found


def _had(front: pd.DataFrame, key: str) -> bool:
    return all(GOALS[key].had_by(kind) for kind in front["box_kind"].unique())


def _outright(a: pd.DataFrame, b: pd.DataFrame, names: tuple[str, str], objectives: list[str]) -> Iterator[str]:
    """How many designs of each are beaten on everything by one of the other."""
    for mine, other, (name, rival) in ((a, b, names), (b, a, names[::-1])):
        share = beaten(mine, other, objectives)
        few = f"{min(max(100.0 * share, 1.0), 99.0):.0f} %"
        told = "all of them" if share == 1.0 else few if share > 0.0 else "none of them"
        count = "1 design" if len(mine) == 1 else f"{len(mine)} designs"
        yield f"{_first(name)}: {count}, {told} beaten in every goal by {rival}."


def _alone(
    a: pd.DataFrame, b: pd.DataFrame, names: tuple[str, str], objectives: list[str], units: Units, currency: str
) -> Iterator[str]:
    """What only one of two groups reaches, goal by goal."""
    for key in objectives:
        goal = GOALS[key]
        best = [turned(each, (key,)).min() for each in (a, b)]
        if abs(best[0] - best[1]) < goal.least_step:
            continue
        name = names[int(best[1] < best[0])]
        top, other = (_figure(goal.turn * each, key, units, currency) for each in sorted(best))
        beyond, to = ("above", "up") if goal.better == "max" else ("below", "down")
        yield f"{goal.label}: only {name} goes {beyond} {other}, {to} to {top}."


def _told(lead: Lead, names: tuple[str, str], objectives: list[str], units: Units, currency: str) -> str:
    """A lead as sentences."""
    ours, theirs = names[::-1] if lead.second else names

    def differs(key: str) -> str:
        return difference(said_of(GOALS[key]), float(lead.ours[key]) - float(lead.theirs[key]), key, units, currency)

    at = GOALS[lead.at]
    others = [
        differs(key)
        for key in objectives
        if key != lead.goal and abs(float(lead.ours[key]) - float(lead.theirs[key])) >= GOALS[key].least_step
    ]
    asked = "may be" if at.better == "min" else "has to be"
    stated = _figure(at.turn * lead.stated, lead.at, units, currency)
    also = f"; it then {run_on(others)}" if others else ", with nothing else to notice between them"
    start, end = (_figure(at.turn * each, lead.at, units, currency) for each in (lead.start, lead.end))
    if at.better == "min":
        along = f"from {start} up" if np.isinf(lead.end) else f"from {start} to {end}"
    else:
        along = f"up to {start}" if np.isinf(lead.end) else f"from {end} to {start}"
    sentence = f"{ours} {differs(lead.goal)} than {theirs} where the {at.inner_label} {asked} {stated}{also}."
    return f"{_first(sentence)} It is ahead {along}."


def _first(words: str) -> str:
    """Words at the head of a sentence; a driver's name stays as its owner writes it."""
    return f"A{words[1:]}" if words.startswith("a ") else words


def _figure(value: float, key: str, units: Units, currency: str) -> str:
    return shown(value, key, units, currency) if np.isfinite(value) else ""


def best_of(front: pd.DataFrame, key: str) -> Any:
    """The best figure that designs of a front reach in a goal."""
    return front[key].max() if GOALS[key].better == "max" else front[key].min()
