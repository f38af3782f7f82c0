"""What a front says: its ends, a balanced design, why a design is where it is, and differences in words."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import numpy as np
import pandas as pd

from engine.acoustics.figures import FIGURES_GRID
from engine.arrays import Floats
from engine.column import ABOUT, About, Said
from engine.columns import COLUMNS
from engine.constraints import CONSTRAINTS
from engine.goals import GOALS, Goal, levels_among
from engine.kinds import KINDS
from engine.openings import opening_of, variables
from engine.openings.record import Step
from engine.quantities import Units, show, show_sawn
from engine.scenario import Scenario
from engine.search.evaluator import Designs, Evaluator, Judgement
from engine.search.front import turned
from engine.search.practice import broken
from engine.search.problem import TUNING_RANGE
from engine.space.sizes import ALIKE, LEAN, OUTER
from engine.steps import nearest_step
from engine.words.voice import first_up, listed

SMALL = 0.004  # m: less than a builder would bother to change, more than the search leaves open
# Outer sizes: what a bound on each is a bound on, and what more and less of it make.
_SIZES = (
    ("outer_width", "the outer width", "a wider box", "a narrower box"),
    ("outer_height", "the outer height", "a taller box", "a lower box"),
    ("bottom_depth", "the depth at the bottom", "a box deeper at the bottom", "a box less deep at the bottom"),
    ("top_depth", "the depth at the top", "a box deeper at the top", "a box less deep at the top"),
)
OF_THE_SPACE = ("space", "door")  # constraints that a job with room for any box has not
RIVALS = ["driver", "driver_count", "facing", "wiring"]
WIRED = ["load_ohm", "amplifier_power_w"]


def _goodness(front: pd.DataFrame, objectives: tuple[str, ...]) -> Floats:
    """Objectives scaled over the front, (N, k): 0 best, 1 worst."""
    reached = turned(front, objectives)
    low, high = reached.min(axis=0), reached.max(axis=0)
    return np.asarray((reached - low) / np.where(high > low, high - low, 1.0))


def extremes(front: pd.DataFrame, objectives: tuple[str, ...]) -> dict[str, int]:
    """Row position of the best design on each objective; between equals the better all-rounder.

    Slowest vent air is looked for among vented boxes where there are any, because that nothing blows out of a closed
    one is no news; radiator excursion likewise.

    >>> front = pd.DataFrame({"f3_hz": [25.0, 35.0, 45.0], "output_db": [98.0, 106.0, 108.0], "box_kind": "closed"})
    >>> extremes(front, ("f3_hz", "output_db"))
    {'f3_hz': 0, 'output_db': 2}
    """
    scaled = _goodness(front, objectives)
    rest = scaled.sum(axis=1)
    found = {}
    for column, key in enumerate(objectives):
        without = ~front["box_kind"].map(GOALS[key].had_by).to_numpy(bool)
        passed_over = without & ~without.all()
        found[key] = int(np.lexsort((rest, scaled[:, column], passed_over))[0])
    return found


def balanced(front: pd.DataFrame, objectives: tuple[str, ...]) -> int:
    """Row position of the design to look at first.

    Of the designs that break fewest of :data:`engine.search.practice.CRITERIA` the one whose weakest objective the
    fewest of the whole front do better in, all objectives alike; of equals, with the fewest over all objectives.  A
    share of designs and no distance between best and worst, so that a few far-off designs move nothing.
    """
    goodness = _goodness(front, objectives)
    ahead = np.column_stack([np.searchsorted(np.sort(each), each) for each in goodness.T]) / len(front)
    return int(np.lexsort((ahead.sum(axis=1), ahead.max(axis=1), broken(front).sum(axis=1)))[0])


def rivals(front: pd.DataFrame, objectives: tuple[str, ...]) -> pd.DataFrame:
    """What each driver, count, facing and wiring comes to on a front, those with most designs first.

    Columns: those of ``RIVALS``, of ``WIRED`` (the load and what the amplifier gives into it), ``designs`` (how many),
    ``balanced`` (id of its all-rounder among its own designs) and, by objective, the best figure it reaches.
    """
    rows = []
    for names, own in front.groupby(RIVALS, sort=False):
        best = {key: own[key].max() if GOALS[key].better == "max" else own[key].min() for key in objectives}
        all_rounder = own["id"].iloc[balanced(own, objectives)]
        named = dict(zip(RIVALS, names, strict=True)) | {key: own[key].iloc[0] for key in WIRED}
        rows.append({**named, "designs": len(own), "balanced": all_rounder, **best})
    return pd.DataFrame(rows).sort_values("designs", ascending=False, kind="stable", ignore_index=True)


@dataclass(frozen=True)
class Option:
    """What one step would do for one objective of a design, in the columns' units."""

    words: str  # what a builder would call the step
    designs: Designs  # what it makes, a batch of one
    gain: float
    figure: float  # what the objective would come to
    losses: dict[str, float]  # of the other objectives, counted positive
    stops: tuple[str, ...]  # all that forbids the step, in words: it is possible once each of these gives
    constraints: tuple[str, ...]  # those of it that are constraints


def why(found: Mapping[str, Sequence[Option]], *, units: Units, currency: str = "") -> dict[str, str]:
    """Why a design is where it is, from its :func:`options`: objective -> one sentence.

    Of the steps that something forbids the one that would gain most is told with all that forbids it, and of those
    allowed the one that would gain most with its price.
    """
    told = {}
    for key, among in found.items():
        clauses = []
        ranked = sorted(among, key=lambda each: -each.gain)
        if barred := next((each for each in ranked if each.stops), None):
            clauses.append(f"{barred.words}, but {listed(barred.stops)}")
        if allowed := next((each for each in ranked if not each.stops), None):
            price = " and ".join(GOALS[lost].worsened for lost in allowed.losses)
            reached = shown(allowed.figure, key, units, currency)
            clauses.append(f"{allowed.words} ({reached}), at the price of {price}")
        better = first_up(GOALS[key].improved)
        nothing = ": no small change of size, tuning, vents or filter gives more."
        told[key] = better + (f" would take {'; or '.join(clauses)}." if clauses else nothing)
    return told


def options(evaluator: Evaluator, here: Designs, judged: Judgement) -> dict[str, list[Option]]:
    """Every single small change that would improve an objective of a design, by objective.

    ``here`` is the design as a batch of one, ``judged`` what it comes to, exactly.  Each variable is moved a little
    both ways and the designs so made are judged in one batch; those that do not go into the space once more as if it
    had no end, since with room they may be laid out otherwise: what they break then would have to give besides.  Gains
    that the front would round away are none, and so is what costs nothing elsewhere: that is not why a design is where
    it is.  Vent air is left out for closed boxes.
    """
    steps = [*_steps(evaluator, here)]
    made = [here.changed(step.changes) for step in steps]
    batch = made[0].followed_by(made[1:])
    judgement = evaluator.judge(batch, frequency=FIGURES_GRID, exact=True, hear_all=True)
    objectives = evaluator.scenario.goals.objectives
    (before,), reached = (_reached(evaluator, *each) for each in ((here, judged), (batch, judgement)))
    broken = [_broken(judgement, number) for number in range(len(steps))]
    if (outside := np.flatnonzero(["space" in names for names in broken])).size:
        roomy, crowded = evaluator.with_room, batch.take(outside)
        lifted = roomy.judge(crowded, frequency=FIGURES_GRID, exact=True, hear_all=True)
        reached[outside] = _reached(roomy, crowded, lifted)
        for number, row in enumerate(outside.tolist()):
            broken[row] = [name for name in broken[row] if name in OF_THE_SPACE] + _broken(lifted, number)
    box_kind = evaluator.families.items[int(here.family[0])].box_kind
    found: dict[str, list[Option]] = {key: [] for key in objectives if GOALS[key].had_by(box_kind)}
    for number, (step, designs) in enumerate(zip(steps, made, strict=True)):
        change = dict(zip(objectives, before - reached[number], strict=True))
        ruled_out = _ruled_out(step, designs, evaluator.scenario)
        stops = (*(CONSTRAINTS[name].blocks for name in broken[number]), *([ruled_out] if ruled_out else []))
        losses = {key: -gain for key, gain in change.items() if -gain >= GOALS[key].noticed}
        for key in found:
            if change[key] >= GOALS[key].noticed and (stops or losses):
                figure = GOALS[key].turn * reached[number, objectives.index(key)]
                lost = {other: amount for other, amount in losses.items() if other != key}
                found[key].append(Option(step.words, designs, change[key], figure, lost, stops, tuple(broken[number])))
    return found


def _reached(evaluator: Evaluator, designs: Designs, judgement: Judgement) -> Floats:
    """The objectives that designs come to, (N, k), turned so that less is better; nan where there can be no box."""
    objectives = evaluator.scenario.goals.objectives
    reached = np.full((len(designs), len(objectives)), np.nan)
    for column, key in enumerate(objectives):
        reached[judgement.heard, column] = GOALS[key].turn * evaluator.objective(key, designs, judgement)
    for name, excess in judgement.constraints.items():
        if CONSTRAINTS[name].voids:
            reached[excess > 0.0] = np.nan
    return reached


def _broken(judgement: Judgement, number: int) -> list[str]:
    """Every constraint that forbids a design: the geometry's first, broken by most first, then the sound's.

    Of the sound of a design that is not heard nothing is known.
    """
    found = {name: float(each[number]) for name, each in judgement.constraints.items() if each[number] > 1e-9}
    known = [name for name in found if not CONSTRAINTS[name].heard or number in judgement.heard]
    return sorted(known, key=lambda name: (CONSTRAINTS[name].heard, -found[name]))


def _steps(evaluator: Evaluator, here: Designs) -> Iterator[Step]:
    """Every single change worth a thought, both ways where there are two."""
    for name, _, more, less in _SIZES:
        for words, way in ((more, 1.0), (less, -1.0)):
            yield Step(words=words, changes=_sawn(evaluator, here, name, way))
    small = _small(evaluator.scenario.saw.size_step)
    for words, change in (("a box deeper all over", small), ("a box less deep all over", -small)):
        yield Step(words=words, changes={"top_depth": change, "bottom_depth": change})
    (group,) = evaluator.groups(here)
    if KINDS[group.opening.box_kind].tuned:
        # A bound on the tuning is one on the true tuning, and among the constraints.
        low, high = (-np.inf, np.inf) if "tuning" in evaluator.scenario.bounds else TUNING_RANGE
        beyond = f"the search tunes from {low:g} Hz to {high:g} Hz only"
        for words, change in (("higher tuning", 0.5), ("lower tuning", -0.5)):
            yield Step(words=words, changes={"tuning": change}, within=(low, high), beyond=beyond)
    yield from group.opening.steps(group)
    if evaluator.families.filter_order[here.family[0]]:
        low, high = evaluator.families.filter_range[here.family[0]]
        beyond = f"the filter is given {low:g} Hz to {high:g} Hz"
        for words, change in (("a higher high-pass frequency", 0.5), ("a lower high-pass frequency", -0.5)):
            yield Step(words=words, changes={"filter_hz": change}, within=(low, high), beyond=beyond)


def _small(step: float) -> float:
    """A small change of a size in whole steps, m."""
    return float(step * np.ceil(SMALL / step - 1e-6))


def _sawn(evaluator: Evaluator, here: Designs, size: str, way: float) -> dict[str, float]:
    """A small change of an outer size up or down, with what keeps the baffle's slant in whole steps of the saw, m."""
    saw, wedges = evaluator.scenario.saw, evaluator.wedges(here)
    change, tall, lean = way * _small(saw.size_step), float(here.outer_height[0]), float(evaluator.bevel(wedges)[0])
    if size == "outer_height":
        leans = np.tan(lean) - wedges.back_slope
        return {size: change, "top_depth": float(nearest_step(change * leans, saw.size_step))}
    if size == "outer_width":
        return {size: change}
    # More depth at the bottom leans the baffle back.
    turn = (way if size == "top_depth" else -way) * saw.angle_step
    step = abs(tall * (np.tan(lean + turn) - np.tan(lean)))
    turns = max(np.ceil((abs(change) - saw.size_step) / max(step, saw.size_step)), 1.0)
    moved = tall * (np.tan(lean + turns * turn) - np.tan(lean))
    return {size: float(nearest_step(way * abs(moved), saw.size_step))}


def _ruled_out(step: Step, designs: Designs, scenario: Scenario) -> str | None:
    """The bound of the scenario or of the search, in words, that forbids a step to the ``designs``."""
    if held := _held_by(step, scenario.held):
        return f"you hold {held}"
    words = {name: words for name, words, _, _ in _SIZES} | {each.name: each.words for each in variables()}
    for name in step.changes:
        low, high = step.within or scenario.bounds.get(name, (-np.inf, np.inf))
        if not low - 1e-9 <= designs.value(name)[0] <= high + 1e-9:
            return step.beyond or f"the bound you set on {words[name]} stops it"
    return None


def _held_by(step: Step, held: Mapping[str, float]) -> str | None:
    """What of the sizes that a job holds a step would change, in words."""
    alike = dict(zip(OUTER, ALIKE, strict=True))
    for name, words, _, _ in _SIZES:
        if name in step.changes and any(key in held for key in alike[name]):
            return words
    # Both depths together leave the lean as it is, and so does a height with the depth that goes with it.
    depths = {"top_depth", "bottom_depth"} & step.changes.keys()
    if LEAN in held and len(depths) == 1 and "outer_height" not in step.changes:
        return "the lean of the baffle"
    return None


def differences(a: pd.Series, b: pd.Series, *, units: Units, currency: str = "") -> dict[About, list[str]]:
    """What sets design ``b`` apart from ``a``, in words, by what it is about; what is too small to notice is left out.

    Each phrase goes on from the name of ``b``; the first say what kind of box it is, where that differs.
    """
    phrases: dict[About, list[str]] = {about: [] for about in ABOUT}
    phrases["sound"] += built_otherwise(a, b)
    keys = [key for key in (*levels_among(a.index), *COLUMNS) if key in b.index]
    said = [(COLUMNS[key], COLUMNS[key].said) for key in keys]
    for column, words in sorted(((each, words) for each, words in said if words), key=lambda each: each[1].rank):
        if column.key in GOALS and not all(GOALS[column.key].had_by(row["box_kind"]) for row in (a, b)):
            continue  # one of the two has no vent or no radiator to compare
        change = float(b[column.key]) - float(a[column.key])
        if not np.isfinite(change) or abs(change) < column.least_step:
            continue
        phrases[words.about].append(difference(words, change, column.key, units, currency))
    return phrases


def built_otherwise(a: pd.Series | Mapping[str, Any], b: pd.Series | Mapping[str, Any]) -> list[str]:
    """What kind of box and drivers design ``b`` has that ``a`` has not, in words that go on from its name."""
    told = []
    if a["box_kind"] != b["box_kind"]:
        told.append(f"is {KINDS[b['box_kind']].built} instead of {KINDS[a['box_kind']].built}")
    elif a["vent_kind"] != b["vent_kind"]:
        told.append(f"has {opening_of(b).instead} instead of {opening_of(a).instead}")
    if (a["driver"], a["driver_count"]) != (b["driver"], b["driver_count"]):
        there, here = (f"{int(each['driver_count'])} × {each['driver']}" for each in (a, b))
        told.append(f"has {here} instead of {there}")
    return told


def difference(said: Said, change: float, key: str, units: Units, currency: str) -> str:
    """One difference in a column as it is said, going on from the name of what has it."""
    amount = (
        f"{100.0 * abs(change):.0f} %" if COLUMNS[key].kind == "ratio" else shown(abs(change), key, units, currency)
    )
    return (said.higher if change > 0 else said.lower).format(amount)


def run_on(phrases: Sequence[str]) -> str:
    """Differences in a row, a verb that comes again said once; at least one.

    >>> run_on(["plays 1.7 dB louder at 30 Hz", "plays 1.0 dB louder at 40 Hz", "weighs 2.0 kg more"])
    'plays 1.7 dB louder at 30 Hz, 1.0 dB louder at 40 Hz and weighs 2.0 kg more'
    """
    verbs = [phrase.partition(" ")[0] for phrase in phrases]
    again = [False, *(verb == before for before, verb in pairwise(verbs))]
    return listed([phrase.partition(" ")[2] if same else phrase for phrase, same in zip(phrases, again, strict=True)])


def said_of(goal: Goal) -> Said:
    """How a difference in a goal is said where it stands alone, also where longer lists leave it out."""
    better, worse = f"has {goal.improved} (by {{}})", f"has {goal.worsened} (by {{}})"
    lower, higher = (better, worse) if goal.better == "min" else (worse, better)
    return goal.said or Said(higher, lower, "build", 0)


def shown(value: float, key: str, units: Units, currency: str) -> str:
    """An amount of a column as text with its unit."""
    column = COLUMNS[key]
    if column.kind == "level":
        return f"{value:.1f} dB"
    if column.kind == "ratio":
        return f"{value:.{column.digits}f}"
    if column.kind in ("money", "count"):
        return f"{value:.0f} {currency if column.kind == 'money' else ''}".strip()
    return show_sawn(value, units) if column.sawn else show(value, column.kind, units)
