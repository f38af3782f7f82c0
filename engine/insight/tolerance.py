"""How sure a design is: what boxes come to that are built like it of drivers bought like it.

Driver, board, cut, vent and air differ a little from data sheet and drawing (:mod:`engine.tolerances`).  Each sample is
one set of such deviations, which every design is built with, so that designs are compared among like boxes.  Its
geometry is laid out again in the board as it is and the sizes as they were cut; vents keep the length that was to be
cut and passive radiators the mass that was to be added, so the tuning moves.  It is heard at the gain and with the
filter of the nominal box: whoever sets them does not know the deviations.

A driver's compliance, moving mass, friction, force factor and coil vary each by itself and Thiele/Small figures follow
(Small 1972: fs² ∝ 1/(cms·mms), vas ∝ cms·sd², qes ∝ sqrt(mms/cms)·re/bl², qms ∝ sqrt(mms/cms)/rms).  The drivers of
one box are of one batch and deviate alike; what suspensions do in the cold is left out, and so is the heat that a
coil bears.
"""

from __future__ import annotations

import math
import pickle
from collections import deque
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass, fields, replace
from functools import lru_cache, partial
from typing import Any

import numpy as np
import pandas as pd
from scipy.special import ndtri

from engine.acoustics.circuit import SHARED, Systems
from engine.acoustics.figures import FIGURES_GRID, SEARCH_GRID, Figures, figures
from engine.air import REFERENCE_SPEED, REFERENCE_TEMPERATURE, Air
from engine.arrays import Flags, Floats, Indices
from engine.goals import GOALS, goals_at, levels_among
from engine.openings import limits
from engine.scenario import Goals, Scenario
from engine.search.crew import handed
from engine.search.evaluator import Boxes, Built, Designs, Evaluator, Judgement
from engine.search.front import designs_of, turned, undominated
from engine.space.layout import Layout
from engine.tolerances import DRAWS, TOLERANCES

SAMPLES = 64
SEED = 1
MOST = 0.9  # of built boxes, that a robust front's figures are those of
SHARES = (0.1, 0.5, 0.9)  # of built boxes, at which bands are told
PART = 512  # designs at most that are worked out together
KEPT = 4  # jobs and tolerances that are kept ready
DRIVERS = 4  # that stand in one and the same box of the samples, since laying out costs most
TEMPERATURES = 4  # that boxes are spread over, so that those in one air are heard together
# What differs in the drawing; all else leaves it as it is.
_IN_GEOMETRY = ("board", "outer_width", "outer_height", "bottom_depth", "top_depth", "angle", "vent_length",
                "temperature")  # fmt: skip
_SIZES = _IN_GEOMETRY[1:5]
_STEEP = math.radians(80.0)  # what is built may lean further than the saw was to tilt
# Constraints that say nothing of whether a built box goes in: what a saw can do, air before mouths and cones, vents.
BESIDE = ("slant", "vent run", "vent outside", "driver air", "cone air", *limits())
_COIL = ("le", "l2", "r2", "kr", "ki")
_CONE, _RADIATOR = ("cms", "mms", "rms", "bl", "re", "sd", "xmax"), ("cms", "rms", "sd", "xmax")
_SHARES = tuple(draw for each in TOLERANCES.records if each.kind == "ratio" for draw in each.draws)
_TALLEST = 1.0  # m, of boxes, in spaces without an end


@dataclass(frozen=True, kw_only=True)
class Chance:
    """A limit, and how many of the boxes built like each of N designs keep it: ``share`` (N,), 0 to 1."""

    key: str  # of the goal that it is a limit on
    worst: float  # SI
    share: Floats


@dataclass(frozen=True, kw_only=True)
class Spread:
    """What N designs come to in S sets of deviations.

    ``figures`` has the goals by key, (N, S) SI, nan where a box does not go in or has no such figure; ``nominal`` (N,)
    those of the drawing; ``fits`` (N, S) says which go in with some of every clearance left.
    """

    figures: Mapping[str, Floats]
    nominal: Mapping[str, Floats]
    fits: Flags
    marks: Mapping[str, float]  # key of a goal -> the worst that a limit allows

    def band(self, key: str) -> Floats:
        """What 90 %, 50 % and 10 % of the built boxes reach of a goal, (N, 3) SI: the safest figure first."""
        return np.stack([self.reached(key, share) for share in SHARES[::-1]], axis=1)

    def reached(self, key: str, share: float = MOST) -> Floats:
        """The figure of a goal that a ``share`` of built boxes is as good as, (N,); nan where fewer have any."""
        turned = GOALS[key].turn * self.figures[key]
        place = share * (turned.shape[1] - 1)
        ranked = np.sort(np.where(np.isnan(turned), np.inf, turned), axis=1)
        low, high = ranked[:, math.floor(place)], ranked[:, math.ceil(place)]
        with np.errstate(invalid="ignore"):
            found = np.where(low == high, low, low + (place - math.floor(place)) * (high - low))
        return np.where(np.isfinite(found), GOALS[key].turn * found, np.nan)

    @staticmethod
    def together(parts: Sequence[Spread]) -> Spread:
        """One of several in the same sets of deviations, one after the other."""
        first = parts[0]

        def joined(name: str) -> dict[str, Floats]:
            return {key: np.concatenate([getattr(each, name)[key] for each in parts]) for key in getattr(first, name)}

        fits = np.concatenate([each.fits for each in parts])
        return Spread(figures=joined("figures"), nominal=joined("nominal"), fits=fits, marks=first.marks)

    def take(self, rows: Indices | Flags) -> Spread:
        """Some of the designs."""
        figures, nominal = ({key: each[rows] for key, each in of.items()} for of in (self.figures, self.nominal))
        return Spread(figures=figures, nominal=nominal, fits=self.fits[rows], marks=self.marks)

    @property
    def held(self) -> Floats:
        """The share of built boxes that go in and in which cone, radiators and vents keep their limits, (N,)."""
        kept = self.fits.copy()
        for key, worst in self.marks.items():
            if GOALS[key].mark is not None:
                kept &= self.figures[key] <= worst + GOALS[key].noticed
        return np.asarray(kept.mean(axis=1))

    @property
    def fit(self) -> Floats:
        """The share of built boxes that go in, (N,)."""
        return np.asarray(self.fits.mean(axis=1))

    @property
    def chances(self) -> list[Chance]:
        """Of each limit how many built boxes keep it; what is just at it keeps it."""
        found = []
        for key, worst in self.marks.items():
            excess = GOALS[key].turn * (self.figures[key] - worst)
            found.append(Chance(key=key, worst=worst, share=np.mean(excess <= GOALS[key].noticed, axis=1)))
        return found

    def lower_db(self, share: float = MOST) -> Floats:
        """About how far the gain has to come down for a share of built boxes to hold what moves, (N,) dB, 0 or more.

        inf where fewer go in.  As if all moved in proportion to the gain, so a little too much where a vent's losses
        or a stiffening suspension hold it back.
        """
        over = np.zeros_like(self.fits, dtype=float)
        for key, worst in self.marks.items():
            if GOALS[key].mark is not None:
                over = np.maximum(over, 20.0 * np.log10(np.maximum(self.figures[key] / worst, 1.0)))
        return np.quantile(np.where(self.fits, over, np.inf), share, axis=1, method="higher")


def sampled(count: int = SAMPLES, seed: int = SEED) -> Floats:
    """Standard normal deviates, (count, draws), of ``DRAWS`` in their order.

    Latin hypercubes (McKay, Beckman and Conover 1979), so that each draw by itself is spread evenly: one of boxes as
    they are cut, each of which comes with ``DRIVERS`` sets of all else, and one of the rest.  Temperatures take
    ``TEMPERATURES`` values, with a variance of 1 like the rest.
    """
    random = np.random.default_rng(seed)
    boxes = math.ceil(count / DRIVERS)
    z = np.empty((count, len(DRAWS)))
    for number, draw in enumerate(DRAWS):
        drawn = boxes if draw in _IN_GEOMETRY else count
        places = random.permutation((np.arange(drawn) + random.random(drawn)) / drawn)
        if draw == "temperature":
            steps = ndtri((np.arange(TEMPERATURES) + 0.5) / TEMPERATURES)
            found = steps[np.floor(TEMPERATURES * places).astype(int)] / math.sqrt(np.mean(steps**2))
        else:
            found = ndtri(places)
        z[:, number] = found[np.arange(count) % drawn]
    return z


def spread(
    evaluator: Evaluator, rows: pd.DataFrame, *, samples: int = SAMPLES, seed: int = SEED, exact: bool = False,
    tolerance: Mapping[str, float] | None = None,
) -> Spread:  # fmt: skip
    """What the designs of ``rows`` of a front come to as built; same samples and seed, the same figures.

    Without ``tolerance`` the job's own.  ``exact`` works them out as the table has them, else as a search does, 0.1 dB
    beside, and without an f3 that is no goal; either way only the differences from the nominal box are added to the
    figures in the rows.

    >>> from engine.formats.scenario import demo_scenarios, read_scenario
    >>> from engine.search.runs import run
    >>> scenario = read_scenario(demo_scenarios()["van-bench"])
    >>> front = run(scenario, evaluations=4_096).front
    >>> built = spread(Evaluator(scenario), front.head(3), samples=16)
    >>> band = built.band("level_40_hz_db")
    >>> band.shape, bool((band[:, 0] > band[:, 2]).any())  # level, so more is better
    ((3, 3), False)
    """
    return _sampled(evaluator, samples, seed, _stated(evaluator, tolerance)).of(rows, exact=exact)


def spread_in_parts(
    evaluator: Evaluator, rows: pd.DataFrame, *, helpers: Executor | None = None, samples: int = SAMPLES,
    seed: int = SEED, tolerance: Mapping[str, float] | None = None,
) -> Iterator[Spread]:  # fmt: skip
    """The same of many rows, some of them after the other, by processes that share the work if there are any.

    Whoever works them out, they are the same; :meth:`Spread.together` makes one of them.  What is not asked for any
    more is not begun.
    """
    packed = pickle.dumps((evaluator.scenario, evaluator.without)) if helpers is not None else b""
    here, there = partial(_part, evaluator), partial(_part_there, packed)
    known = _stated(evaluator, tolerance)
    # Of many an even number of parts, so that two processes end together.
    count = 2 * math.ceil(len(rows) / (2 * PART)) if len(rows) > PART else 1
    places = np.array_split(np.arange(len(rows)), count)
    coming = deque(handed(helpers, here, there, rows.iloc[part], samples, seed, known) for part in places)
    try:
        while coming:
            yield coming.popleft().result()
    finally:
        for each in coming:
            each.cancel()


def swings(
    evaluator: Evaluator, rows: pd.DataFrame, *, tolerance: Mapping[str, float] | None = None
) -> dict[str, dict[str, Floats]]:
    """By how much one standard deviation of each tolerance moves each goal: goal -> tolerance -> (N,) SI, 0 or more.

    Half the difference between one more and one less, exactly judged; of what several things differ by, each by itself,
    the root of the sum of squares.  nan where such a box does not go in.
    """
    found = _one_by_one(evaluator, _stated(evaluator, tolerance)).of(rows, exact=True)
    told: dict[str, dict[str, Floats]] = {}
    for key, values in found.figures.items():
        more, less = np.split(values, 2, axis=1)
        half = 0.5 * (more - less)
        told[key] = {
            each.key: np.sqrt(np.sum(half[:, [DRAWS.index(draw) for draw in each.draws]] ** 2, axis=1))
            for each in TOLERANCES.records
        }
    return told


@dataclass(frozen=True, kw_only=True)
class Robust:
    """A front as 9 of 10 built boxes reach it.

    ``front`` has the columns of the front it was made of, with goals replaced by the figures that 90 % of built boxes
    reach, and what others then beat left out; ``rows`` (M,) are its rows there.  Of all N designs ``misfits`` (N,) says
    of which more than 10 % do not go in, and ``passing`` of which more than 10 % pass a limit that the job sets, by its
    goal.
    """

    front: pd.DataFrame
    rows: Indices
    misfits: Flags
    passing: Mapping[str, Flags]

    @property
    def beaten(self) -> int:
        """How many designs others beat once all are told as built."""
        lost = np.logical_or.reduce([self.misfits, *self.passing.values()])
        return int(len(lost) - lost.sum() - len(self.rows))


def robust(front: pd.DataFrame, built: Spread, goals: Goals) -> Robust:
    """The front whose goals are the figures that 90 % of built boxes reach, of what ``front`` comes to as built.

    Designs of which fewer go in, or keep a limit that the job sets on a goal, are left out.
    """
    safe = front.assign(**{key: built.reached(key) for key in built.figures})
    misfits = (built.fit < MOST) | ~np.isfinite(turned(safe, goals.objectives)).all(axis=1)
    passing = {chance.key: ~misfits & (chance.share < MOST) for chance in built.chances if chance.key in goals.limits}
    kept = np.flatnonzero(~np.logical_or.reduce([misfits, *passing.values()]))
    rows = kept[undominated(pd.DataFrame(safe.iloc[kept]), goals.objectives)] if len(kept) else kept
    return Robust(
        front=pd.DataFrame(safe.iloc[rows]).reset_index(drop=True), rows=rows, misfits=misfits, passing=passing
    )


def _stated(evaluator: Evaluator, tolerance: Mapping[str, float] | None) -> tuple[tuple[str, float], ...]:
    return tuple((evaluator.scenario.tolerance if tolerance is None else tolerance).items())


def _part(
    evaluator: Evaluator, rows: pd.DataFrame, samples: int, seed: int, tolerance: tuple[tuple[str, float], ...]
) -> Spread:
    return _sampled(evaluator, samples, seed, tolerance).of(rows, exact=False)


def _part_there(packed: bytes, *asked: Any) -> Spread:
    return _part(_evaluator(packed), *asked)


@lru_cache(maxsize=KEPT)
def _evaluator(packed: bytes) -> Evaluator:
    scenario, without = pickle.loads(packed)  # of this program's own making
    return Evaluator(scenario, without=without)


@lru_cache(maxsize=KEPT)
def _sampled(evaluator: Evaluator, samples: int, seed: int, tolerance: tuple[tuple[str, float], ...]) -> _Samples:
    return _Samples(evaluator, sampled(samples, seed), dict(tolerance))


@lru_cache(maxsize=KEPT)
def _one_by_one(evaluator: Evaluator, tolerance: tuple[tuple[str, float], ...]) -> _Samples:
    """One more of each draw, then one less."""
    ones = np.eye(len(DRAWS))
    return _Samples(evaluator, np.concatenate([ones, -ones]), dict(tolerance))


class _Samples:
    """Sets of deviations made ready for any design of a job, with the job as it is in each one's board and air."""

    def __init__(self, evaluator: Evaluator, z: Floats, tolerance: Mapping[str, float]) -> None:
        self.evaluator = evaluator
        scale = {draw: tolerance[each.key] for each in TOLERANCES.records for draw in each.draws}
        # The first is the nominal box, from which the others differ.
        every = np.concatenate([np.zeros((1, len(DRAWS))), z])
        self.sets = [{draw: scale[draw] * each for draw, each in zip(DRAWS, one, strict=True)} for one in every]
        self.worlds: dict[tuple[float, ...], tuple[Evaluator, Mapping[str, float]]] = {}
        for one in self.sets:
            if (place := _geometry(one)) not in self.worlds:
                made = Evaluator(_scenario_as_built(evaluator, one), without=evaluator.without)
                self.worlds[place] = made, one

    def of(self, rows: pd.DataFrame, *, exact: bool) -> Spread:
        """What designs of the front come to in each."""
        evaluator, sets = self.evaluator, self.sets
        designs = designs_of(evaluator, rows)
        gain = np.sqrt(rows["power_share"].to_numpy(float))
        if evaluator.use.full_drive:
            gain = np.ones(len(designs))
        boxes = evaluator.boxes_among(designs)
        alone = designs.take(boxes.first)
        drawn = evaluator.layout(alone, wedges := evaluator.wedges(alone), evaluator.fit(alone, wedges))
        built = {
            place: _Built(evaluator, world, designs, boxes, deviation, drawn=drawn)
            for place, (world, deviation) in self.worlds.items()
        }
        each = [built[_geometry(one)] for one in sets]
        systems = [box.systems(one) for box, one in zip(each, sets, strict=True)]
        asked = _told(evaluator, rows, exact=exact)
        heard = _heard(evaluator, each, systems, gain, asked, exact=exact)
        found = {key: np.full((len(designs), len(sets)), np.nan) for key in asked}
        fits = np.stack([box.fits for box in each], axis=1)
        # Of a given box that keeps too little clearance as drawn that is known; it is not asked again.
        fits |= ~fits[:, :1]
        for number, (box, sound) in enumerate(zip(each, heard, strict=True)):
            judgement = Judgement(**vars(box.built) | {"figures": sound})
            for key in asked:
                found[key][:, number] = GOALS[key].figure(box.evaluator, box.designs, judgement)
        nominal = {key: rows[key].to_numpy(float) for key in asked}
        moved = {key: nominal[key][:, np.newaxis] + each[:, 1:] - each[:, :1] for key, each in found.items()}
        fits = fits[:, 1:]
        marks = {goal.key: goal.mark.most(evaluator.scenario.goals) for goal in GOALS.records if goal.mark is not None}
        marks = {**marks, **evaluator.scenario.goals.limits}
        return Spread(
            figures={key: np.where(fits, values, np.nan) for key, values in moved.items()},
            nominal=nominal,
            fits=fits,
            marks={key: worst for key, worst in marks.items() if key in asked},
        )


def _told(evaluator: Evaluator, rows: pd.DataFrame, *, exact: bool) -> list[str]:
    """Goals that are told as built: what is heard or measured, not what is counted or paid."""
    asked = {goal.key for goal in evaluator.asked} | ({"f3_hz"} if exact else set())
    asked |= {goal.key for goal in GOALS.records if goal.mark is not None}
    keys = [goal.key for goal in goals_at(evaluator.levels)]
    levels = {key for key in levels_among(keys) if np.isfinite(rows[key]).any()}
    return [key for key in keys if key in asked | levels and GOALS[key].kind not in ("count", "money")]


def _geometry(deviation: Mapping[str, float]) -> tuple[float, ...]:
    return tuple(deviation[draw] for draw in _IN_GEOMETRY)


class _Built:
    """Designs as they are built with one set of deviations, laid out."""

    def __init__(
        self, nominal: Evaluator, world: Evaluator, designs: Designs, boxes: Boxes, deviation: Mapping[str, float], *,
        drawn: Layout,
    ) -> None:  # fmt: skip
        """``world`` is the ``nominal`` job in the board and air as they are, ``drawn`` how ``boxes`` are laid out."""
        self.evaluator = world
        alone, which = designs.take(boxes.first), boxes.which
        lean = 0.5 * math.tan(deviation["angle"]) * alone.outer_height
        cut_as = alone.changed({name: deviation[name] for name in _SIZES})
        made = replace(cut_as, top_depth=cut_as.top_depth + lean, bottom_depth=cut_as.bottom_depth - lean)
        # Vents keep the length that was to be cut, radiators what was to be added: the tuning is what comes of that.
        drawn = drawn.with_vents_longer_by(deviation["vent_length"])
        self.cut = drawn.vent_length[which]
        before = drawn.net_volume
        volume = before + world.wedges(made).gross_volume - drawn.wedges.gross_volume
        with np.errstate(all="ignore"):
            inner = drawn.vent_acoustic_length + drawn.vent_ends
            vents = (world.scenario.air.c / nominal.scenario.air.c) ** 2 * before / volume
            vents *= (inner - deviation["vent_length"]) / inner
            radiators = _stiffness(world, alone, volume) / _stiffness(nominal, alone, before)
            tuning = alone.tuning * np.sqrt(np.where(np.isfinite(radiators), radiators, vents))
        made = replace(made, tuning=np.where(np.isfinite(tuning), tuning, made.tuning))
        built = world.built(made, hear_all=True, drawn=drawn)
        strict = [excess for name, excess in built.constraints.items() if name not in BESIDE]
        self.fits = np.asarray(np.max(np.stack(strict), axis=0) <= 0.0)[which]
        self.designs = replace(made.take(which), family=designs.family, filter_hz=designs.filter_hz)
        self.built: Built = world.filtered(self.designs, built.spread(which))
        self._vents_and_radiators(world)

    def _vents_and_radiators(self, world: Evaluator) -> None:
        """What all sets of other deviations in these boxes start from, of those that are heard, (M,) each."""
        heard, layout, q = self.built.heard, self.built.layout, self.built.acoustics.systems
        self.hydraulic, self.ends = layout.vent_hydraulic[heard], layout.vent_ends[heard]
        with np.errstate(all="ignore"):
            inner = layout.vent_acoustic_length[heard] + self.ends
            # What the air in and round the box adds to that in the vents is in the true tuning, not in the lumped one.
            self.whole = inner * (self.designs.tuning[heard] / q.tuning) ** 2
            self.longer, self.around = inner + self.cut[heard] - layout.vent_length[heard], self.whole - inner
        self.springs, self.radiator_mass = _springs(q), q.radiator_mass
        self.own_mass = world.families.part("mms")[self.designs.family[heard]]

    def systems(self, deviation: Mapping[str, float]) -> Systems:
        """The circuits of those that are heard, with drivers, radiators and vents as they are, (M,)."""
        q = self.built.acoustics.systems
        share = {draw: math.exp(deviation[draw]) for draw in _SHARES}
        changed = {name: getattr(q, name) * share[name] for name in _CONE} | {
            f"radiator_{name}": getattr(q, f"radiator_{name}") * share[f"radiator_{name}"] for name in _RADIATOR
        }
        changed |= {name: getattr(q, name) * share["le"] for name in _COIL}
        changed["air_mass"] = q.air_mass * share["sd"] ** 2
        with np.errstate(all="ignore"):
            # To first order: half a bore's perimeter, and about that of a slot, times what its width gains.
            wider = 1.0 + 2.0 * deviation["vent_bore"] / self.hydraulic
            vents = self.whole / ((self.longer + self.ends * (np.sqrt(wider) - 1.0)) / wider + self.around)
            # The air that moves with a radiator counts in its mass.
            as_is = replace(q, **changed)
            heavier = 1.0 + (share["radiator_mms"] - 1.0) * self.own_mass / self.radiator_mass
            radiators = _springs(as_is) / self.springs / heavier
            retuned = np.select([q.vented, q.radiating], [vents, radiators], 1.0)
        area = np.where(q.vented, q.vent_area * np.where(np.isfinite(wider), wider, 1.0), q.vent_area)
        return replace(as_is, tuning=q.tuning * np.sqrt(retuned), vent_area=area)


def _springs(q: Systems) -> Floats:
    """Stiffness of each passive radiator with the box's air, (N,) N/m."""
    return 1.0 / q.radiator_cms + q.radiator_count * q.radiator_sd**2 / q.cab


def _stiffness(evaluator: Evaluator, designs: Designs, volume: Floats) -> Floats:
    """The same of designs of a net volume as lumps; nan without radiators (Small 1974)."""
    families, family = evaluator.families, designs.family
    cms, sd = (families.part(name)[family] for name in ("cms", "sd"))
    springs = families.part_count[family] * sd**2 * evaluator.scenario.air.stiffness / volume
    return np.asarray(1.0 / cms + springs)


def _scenario_as_built(evaluator: Evaluator, deviation: Mapping[str, float]) -> Scenario:
    """The job with the board and the air as they are.

    Clearances are there for what differs from the drawing, so as much of them may be used up as sizes and board differ
    together; what is braced as drawn stays so.
    """
    scenario = evaluator.scenario
    stock, box, space, air = scenario.stock, scenario.box, scenario.space, scenario.air
    tall = max(height for _, height in space.section) - min(height for _, height in space.section)
    tall = min(tall, _TALLEST)
    given_up = 2.0 * abs(deviation["board"]) + max(abs(deviation[name]) for name in _SIZES)
    given_up += 0.5 * abs(math.tan(deviation["angle"])) * tall

    def less(clearance: float) -> float:
        return max(clearance - given_up, 0.0)

    warmth = REFERENCE_TEMPERATURE * (air.c / REFERENCE_SPEED) ** 2
    warmer = (warmth + deviation["temperature"]) / warmth
    return replace(
        scenario,
        stock=replace(
            stock, board_thickness=stock.board_thickness + deviation["board"], brace_span=evaluator.rules.brace_span
        ),
        box=replace(
            box, breathing_gap=less(box.breathing_gap), joint_distance=less(box.joint_distance),
            least_depth=less(box.least_depth),
        ),
        space=replace(space, margin=less(space.margin)),
        saw=replace(scenario.saw, most_bevel=max(scenario.saw.most_bevel, _STEEP)),
        air=Air(rho=air.rho / warmer, c=air.c * math.sqrt(warmer)),
    )  # fmt: skip


def _heard(
    evaluator: Evaluator,
    boxes: Sequence[_Built],
    systems: Sequence[Systems],
    gain: Floats,
    keys: Sequence[str],
    *,
    exact: bool,
) -> list[Figures]:
    """Figures of each box's systems at the gain of the nominal ones; those in the same air in one call."""
    goals = evaluator.scenario.goals
    found: list[Figures | None] = [None] * len(boxes)
    for air in dict.fromkeys(each.air for each in systems):
        those = [number for number, each in enumerate(systems) if each.air == air]
        together = figures(
            _joined([systems[number] for number in those]),
            music_band=goals.music_band,
            vent_speed_limit=goals.vent_speed_limit,
            frequency=FIGURES_GRID if exact else SEARCH_GRID,
            cabin=evaluator.scenario.cabin,
            exact=exact,
            use=evaluator.use,
            asked=frozenset({"strain"}).union(*(GOALS[key].hears for key in keys)),
            gain=np.concatenate([gain[boxes[number].built.heard] for number in those]),
        )
        start = 0
        for number in those:
            rows = slice(start, start := start + len(systems[number]))
            found[number] = Figures(**{each.name: getattr(together, each.name)[rows] for each in fields(Figures)})
    return [each for each in found if each is not None]


def _joined(several: Sequence[Systems]) -> Systems:
    """Systems in one air as one batch."""
    names = [each.name for each in fields(Systems) if each.name not in SHARED]
    joined = {name: np.concatenate([getattr(each, name) for each in several]) for name in names}
    return Systems(**joined, chain=several[0].chain, air=several[0].air)
