"""Price of space: what a little more room, a looser limit or the next amplifier buys along the whole front.

**What is measured.**  Each design of the job's own front is asked: had the job been the changed one, how much better
could one goal have been with all others as good as here?  The answer, an achievement, is in the goal's own unit (dB, L,
money), which a difference of hypervolumes is not, and means what a builder asks; its mean over the front is the price.
"As good" is within what a builder can tell apart, for both fronts alike, since fronts hold one design for each such
cell.  Where size, weight or cost are goals, few designs along the front need more room than there is; so what the best
in each goal gains, the end of the front, is told besides.

**Why it is no noise.**  For each seed the job is searched, and then the job and every change go on from what was found,
with equal effort and the same seed.  All that is found anywhere is judged in every one of them: what a change found
and has room in the job as it is counts for the job.  What could be built before still can, since room may be walled
off and gain turned down, so nothing is ever worth less than nothing.  What is left of chance is told by the spread over
seeds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import pandas as pd
import shapely

from engine.arrays import Floats
from engine.document import written_in
from engine.goals import GOALS
from engine.insight.reasons import said_of, shown
from engine.quantities import MISSING, Units, show, show_sawn, to_display
from engine.scenario import Scenario
from engine.search.families import families_of, key_columns
from engine.search.front import turned, undominated, worked_out
from engine.search.optimise import thin
from engine.search.problem import BoxProblem
from engine.search.runs import went_on
from engine.space.sizes import OUTER

STEPS: Mapping[Units, float] = {"metric": 0.010, "us": 0.0127}  # m of room, by what a job is measured in
NEXT_AMPLIFIER = 1.5  # times the power: how far apart amplifiers on offer lie; common practice, no source
LOOSER = 0.05  # share by which a limit is loosened
LOOSER_DB = 1.0  # dB by which one on a level is
SEEDS = (1, 2, 3)
FIRST = 0.3  # share of the effort that the job is searched with before anything is changed
ASKED = 300  # designs of a front that are asked


@dataclass(frozen=True, kw_only=True)
class Change:
    """A job with one thing looser: what, as code and figures for words, and the copies worth trying at once."""

    what: str
    scenario: Scenario
    amount: float = 0.0  # m of room
    limit: str = ""  # key of a goal, name of a size or a part's name
    moved: tuple[tuple[str, ...], ...] = ()  # variables that may grow by ``amount``, each together

    def words(self, units: Units) -> str:
        """The change as the head of a sentence."""
        more = show_sawn(self.amount, units) if units == "us" else show(self.amount, "length", units)
        match self.what:
            case "width" | "height" | "depth":
                return f"{more} more {self.what}"
            case "size":
                return f"{more} more of the {self.limit.replace('_', ' ')} that you allow"
            case "vents":
                return "One more vent than you allow"
            case "amplifier":
                return f"An amplifier of {NEXT_AMPLIFIER:g} times the power"
            case "limit":
                by = f"{LOOSER_DB:g} dB" if GOALS[self.limit].kind == "level" else f"{100.0 * LOOSER:.0f} %"
                return f"A limit on {GOALS[self.limit].inner_label} that is looser by {by}"
            case "air":
                return f"A limit on the air in vents that is looser by {100.0 * LOOSER:.0f} %"
        raise ValueError(f"{self.what!r} is no change")


def changes(scenario: Scenario) -> list[Change]:
    """Everything of a job that could give a little, one at a time.

    Space gains on one side: its width at the right end (with the keep-outs that reach there), its depth at the front,
    its height at the top, so that all that had room before still has.
    """
    step, space = STEPS[written_in(dict(scenario.document))], scenario.space
    ends = [
        replace(each, across=(each.across[0] + step, each.across[1] + step)) if each.across[1] >= space.width else each
        for each in space.keepouts
    ]
    wider = replace(space, width=space.width + step, keepouts=tuple(ends))
    higher, deeper = (replace(space, section=_swept(space.section, *way)) for way in ((0.0, step), (step, 0.0)))
    depths: tuple[tuple[str, ...], ...] = (("top_depth", "bottom_depth"), ("top_depth",), ("bottom_depth",))
    found = [
        Change(what="width", amount=step, scenario=replace(scenario, space=wider), moved=(("outer_width",),)),
        Change(what="height", amount=step, scenario=replace(scenario, space=higher), moved=(("outer_height",),)),
        Change(what="depth", amount=step, scenario=replace(scenario, space=deeper), moved=depths),
    ]
    for name, (low, high) in scenario.bounds.items():
        if name in OUTER:
            bounds = {**scenario.bounds, name: (low, high + step)}
            looser = replace(scenario, bounds=bounds)
            found.append(Change(what="size", amount=step, limit=name, scenario=looser, moved=((name,),)))
        elif name == "vent_count":
            looser = replace(scenario, bounds={**scenario.bounds, name: (low, high + 1.0)})
            found.append(Change(what="vents", scenario=looser))
    goals = scenario.goals
    for key, limit in goals.limits.items():
        by = LOOSER_DB if GOALS[key].kind == "level" else LOOSER * limit
        limits = {**goals.limits, key: limit + GOALS[key].turn * by}
        found.append(Change(what="limit", limit=key, scenario=replace(scenario, goals=replace(goals, limits=limits))))
    faster = replace(goals, vent_speed_limit=(1.0 + LOOSER) * goals.vent_speed_limit)
    found.append(Change(what="air", scenario=replace(scenario, goals=faster)))
    amplifier = scenario.amplifier
    loads = tuple((load, NEXT_AMPLIFIER * power) for load, power in amplifier.loads)
    stronger = replace(_wired_as_it_is(scenario), amplifier=replace(amplifier, loads=loads))
    found.append(Change(what="amplifier", scenario=stronger))
    # With other families a design of the one job would be none of the other's.
    own = _boxes(scenario)
    return [each for each in found if _boxes(each.scenario) == own]


def _wired_as_it_is(scenario: Scenario) -> Scenario:
    """The same job with no other load for so many of a driver than the one that it is wired to now.

    With more power another load may be nearer to what the drivers are rated for, but whoever buys it wires as before
    and turns it down.
    """
    if scenario.amplifier.each_wiring:
        return scenario
    loads = {(item.wiring.driver.name, item.wiring.count): item.wiring.load for item in families_of(scenario).items}
    candidates = tuple(
        replace(each, counts=(count,), load=loads[each.driver.name, count])
        for each in scenario.candidates
        for count in each.counts
        if (each.driver.name, count) in loads
    )
    return replace(scenario, candidates=candidates)


def _boxes(scenario: Scenario) -> list[tuple[str | int | float, ...]]:
    """The families of a job but for their wiring, which another amplifier may change."""
    place = key_columns().index("wiring")
    return [(*item.key[:place], *item.key[place + 1 :]) for item in families_of(scenario).items]


def _swept(section: Sequence[tuple[float, float]], forward: float, up: float) -> tuple[tuple[float, float], ...]:
    """All that a cross-section passes over as it is moved."""
    corners = np.asarray(section, dtype=float)
    moved = corners + np.array([forward, up])
    sides = [
        shapely.MultiPoint([corners[i - 1], corners[i], moved[i - 1], moved[i]]).convex_hull
        for i in range(len(corners))
    ]
    whole = shapely.union_all([shapely.Polygon(corners), shapely.Polygon(moved), *sides]).simplify(0.0)
    return tuple((float(y), float(z)) for y, z in list(whole.exterior.coords)[:-1])


@dataclass(frozen=True)
class Price:
    """What one change buys: by goal how much better, in the goal's unit; columns are goals, rows seeds."""

    change: Change
    along: pd.DataFrame  # the mean along the front, all other goals as they were
    ends: pd.DataFrame  # at the front's best in each goal, whatever that costs in others

    def told(self, units: Units, currency: str = "") -> str:
        """It as a sentence; what is no more than chance, or than half of what can be told apart, is left out."""
        parts = []
        for where, gained in (("along the front", self.along), ("at its best", self.ends)):
            mean, spread = gained.mean(), _spread(gained)
            noticed = [key for key in map(str, gained) if mean[key] > max(spread[key], 0.5 * GOALS[key].told_apart)]
            if noticed:
                bought = [_bought(key, mean[key], units, currency) for key in noticed]
                parts.append(f"{where} a box {', or '.join(bought)}")
        return f"{self.change.words(units)}: {'; '.join(parts) or 'nothing that shows'}."

    def in_units(self, key: str, units: Units, *, at_end: bool) -> tuple[float, float]:
        """Mean and spread of one goal as numbers in the user's unit."""
        gained = self.ends if at_end else self.along
        both = np.array([gained.mean()[key], _spread(gained)[key]])
        plain = GOALS[key].kind in ("count", "ratio", "level", "money")
        mean, spread = both if plain else to_display(both, GOALS[key].kind, units)
        return float(mean), float(spread)

    def figure(self, key: str, units: Units, *, at_end: bool) -> str:
        """Mean and spread of one goal as text, without their unit; a dash where they come to nothing."""
        digits = max(GOALS[key].digits, 1) + (units == "us" and GOALS[key].kind == "volume")
        mean, spread = (round(each, digits) + 0.0 for each in self.in_units(key, units, at_end=at_end))
        return f"{mean:+.{digits}f} ± {spread:.{digits}f}" if mean else MISSING


def _spread(gained: pd.DataFrame) -> pd.Series[float]:
    """How far a seed's figure is from the mean, at most."""
    return pd.Series((gained - gained.mean()).abs().max())


def _bought(key: str, gain: float, units: Units, currency: str) -> str:
    """In words, as a lower bound: longer searches find more, by more than seeds differ."""
    said = said_of(GOALS[key])
    words = said.higher if GOALS[key].better == "max" else said.lower
    return words.format(f"at least {shown(gain, key, units, currency)}")


def prices(
    scenario: Scenario, *, seeds: Sequence[int] = SEEDS, evaluations: int | None = None,
    progress: Callable[[float], None] | None = None, cancelled: Callable[[], bool] = lambda: False,
) -> list[Price]:  # fmt: skip
    """What each of the :func:`changes` of a job buys, as the module says it is measured.

    ``evaluations`` is how many designs are tried in all, the scenario's own budget if not given.  ``progress`` is told
    the share that is done.  Ends early, with the seeds that are done, once ``cancelled``.

    Raises SearchImpossible where the scenario leaves nothing to search.  Where nothing feasible is found the list is
    empty.
    """
    asked = changes(scenario)
    problems = [BoxProblem(scenario), *(BoxProblem(each.scenario) for each in asked)]
    budget = (evaluations or scenario.evaluations) // len(seeds)
    effort = int((1.0 - FIRST) * budget / len(problems))
    gained: list[list[tuple[dict[str, float], dict[str, float]]]] = [[] for _ in asked]
    for number, seed in enumerate(seeds):
        start = _searched(problems[0], seed=seed, evaluations=int(FIRST * budget), starts=None)
        found = []
        for done, (problem, change) in enumerate(zip(problems, [None, *asked], strict=True)):
            if cancelled():
                break
            copies = [] if change is None else [*_copies(problem, start, change)]
            found.append(_searched(problem, seed=seed, evaluations=effort, starts=np.vstack([start, *copies])))
            if progress is not None:
                progress((number + (done + 1) / len(problems)) / len(seeds))
        if len(found) < len(problems):
            break
        base, *others = (_right(problem, np.vstack(found)) for problem in problems)
        if base.empty:
            continue
        for rows, more in zip(gained, others, strict=True):
            both = (base, pd.concat([base, more]), scenario.goals.objectives)
            rows.append((gains(*both), ends(*both)))
    return [
        Price(change, *(pd.DataFrame(each) for each in zip(*rows, strict=True)))
        for change, rows in zip(asked, gained, strict=True)
        if rows
    ]


def _searched(problem: BoxProblem, *, seed: int, evaluations: int, starts: Floats | None) -> Floats:
    """The variables of the best designs found of a problem, (n, n_var), from its own start or given ones."""
    return went_on(problem, seed=seed, evaluations=evaluations, starts=starts)[0].archive.X


def _copies(problem: BoxProblem, X: Floats, change: Change) -> Iterator[Floats]:
    """Designs grown by what a change leaves them."""
    for together in change.moved:
        moved = X.copy()
        for name in together:
            moved[:, problem.variables.index(name)] += change.amount
        yield np.clip(moved, problem.xl, problem.xu)


def _right(problem: BoxProblem, X: Floats) -> pd.DataFrame:
    """Those of some designs that are right in a job and not beaten, worked out exactly."""
    rows, _ = worked_out(problem.evaluator, problem.decode(X))
    best: pd.DataFrame = rows[undominated(rows, problem.objectives)]
    return best


def gains(base: pd.DataFrame, changed: pd.DataFrame, objectives: Sequence[str]) -> dict[str, float]:
    """By how much a changed front is ahead in each goal, in its unit, as the mean over the designs of the base.

    At each of up to about ``ASKED`` designs, spread over the base, the best of either front of those as good in every
    other goal, within what a builder can tell apart.  The changed front has to hold the base.
    """
    keys = tuple(objectives)
    F, other = turned(base, keys), turned(changed, keys)
    apart = np.array([GOALS[key].told_apart for key in keys])
    _, asked = thin(F, F, most=ASKED)
    found = {}
    for column, key in enumerate(keys):
        rest = np.arange(len(keys)) != column
        ahead = []
        for row in asked:
            before, after = (
                each[(each[:, rest] <= row[rest] + apart[rest]).all(axis=1), column] for each in (F, other)
            )
            ahead.append(before.min() - after.min())
        found[key] = float(np.mean(ahead))
    return found


def ends(base: pd.DataFrame, changed: pd.DataFrame, objectives: Sequence[str]) -> dict[str, float]:
    """By how much the best of a changed front in each goal is ahead of the base's, in the goal's unit."""
    keys = tuple(objectives)
    ahead = turned(base, keys).min(axis=0) - turned(changed, keys).min(axis=0)
    return dict(zip(keys, ahead.tolist(), strict=True))
