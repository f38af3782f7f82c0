"""From variables to objectives and constraints: what a design is, and how a batch of them is judged."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray
from pymoo.core.problem import Problem

from engine.acoustics.circuit import Systems
from engine.acoustics.figures import SEARCH_GRID, Figures, figures
from engine.acoustics.vents import end_correction
from engine.columns import COLUMNS
from engine.errors import SearchImpossible
from engine.scenario import Scenario
from engine.search.families import Families, families_of
from engine.space.contents import DOWN, SIDEWAYS, Contents, Rules
from engine.space.envelope import Envelope, Fit
from engine.space.layout import Layout, lay_out
from engine.space.row import panel_span
from engine.space.vents import SIDE
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]

VARIABLES = (
    "family",
    "outer_width",
    "outer_height",
    "bottom_depth",
    "top_depth",
    "tuning",
    "vent_count",
    "pipe",
    "filter",
)
MOST_VENTS = 4
TUNING_RANGE = (18.0, 70.0)  # Hz, unless the scenario bounds it
SIZE_STEP = 1e-3  # m; nobody saws finer
FREQUENCY_STEP = 0.1  # Hz
RANGE_TOP = 200.0  # Hz, up to which a response is judged
# Beyond these the linear model says nothing true (large-signal behaviour), so designs that go there at full
# drive are left out unless the scenario sets its own limits: twice Xmax, and 10 % of the speed of sound in
# the vent, twice the usual limit (common practice, no source).
MODEL_LIMITS = {"excursion_ratio": 2.0, "vent_speed_m_s": 34.0}
TOUCH = 1e-9  # m, what rounding may take off a width that is just enough
UNHEARD = 1.0  # violation of f3 and limits by a design that does not fit: worse than any that fits but misses them
BEYOND = 1e3  # an objective nobody would choose, for designs that do not fit


@dataclass(frozen=True, kw_only=True)
class Designs:
    """A batch of designs, each field (N,), SI.

    ``family`` and ``pipe`` are numbers into the families and the stock of pipes; a
    closed box has ``tuning`` nan, ``vent_count`` 0 and ``pipe`` 0; ``filter_hz`` is 0
    where there is no filter.
    """

    family: Integers
    outer_width: Floats
    outer_height: Floats
    bottom_depth: Floats
    top_depth: Floats
    tuning: Floats
    vent_count: Integers
    pipe: Integers
    filter_hz: Floats

    def __len__(self) -> int:
        return len(self.family)

    def take(self, index: NDArray[np.bool_] | NDArray[np.intp]) -> Designs:
        return Designs(**{name: getattr(self, name)[index] for name in self.__dataclass_fields__})


@dataclass(frozen=True)
class Judgement:
    """What a batch of designs comes to.  ``figures`` covers the rows in ``heard``, (M,) of (N,)."""

    wedges: Wedges
    fit: Fit
    layout: Layout
    constraints: dict[str, Floats]  # name -> (N,), ≤ 0 where kept
    heard: NDArray[np.intp]
    figures: Figures

    @property
    def feasible(self) -> NDArray[np.bool_]:
        return np.asarray(np.max(np.stack(list(self.constraints.values())), axis=0) <= 0.0)


class Bench:
    """A scenario made ready to judge designs: its families, envelope and stock as arrays."""

    def __init__(self, scenario: Scenario) -> None:
        self.scenario = scenario
        self.families: Families = families_of(scenario)
        self.envelope = Envelope(scenario.space, covering=scenario.box.carpet)
        if self.envelope.is_empty:
            raise SearchImpossible(
                "margin, clearances, carpet and keep-outs leave nothing of the space: lower them or measure again"
            )
        self.pipe_bore = np.array([pipe.inner_diameter for pipe in scenario.stock.pipes] or [math.nan])
        self.pipe_outer = np.array([pipe.outer_diameter for pipe in scenario.stock.pipes] or [math.nan])
        self.pipe_elbow = np.array([pipe.elbow_radius for pipe in scenario.stock.pipes] or [math.nan])
        span = scenario.stock.brace_span
        self.rules = Rules(
            breathing_gap=scenario.box.breathing_gap,
            brace_span=panel_span(scenario.stock.board_thickness) if math.isnan(span) else span,
            c=scenario.air.c,
            round_over=scenario.box.round_over,
            cup=scenario.stock.terminal_cup,
        )
        self.limits = {**MODEL_LIMITS, **scenario.goals.limits}
        self.pipe_price = np.array([pipe.price for pipe in scenario.stock.pipes] or [0.0])

    def wedges(self, designs: Designs) -> Wedges:
        return Wedges(
            outer_width=designs.outer_width,
            outer_height=designs.outer_height,
            top_depth=designs.top_depth,
            bottom_depth=designs.bottom_depth,
            board=self.scenario.stock.board_thickness,
            back_angle=self.scenario.box.back_angle,
        )

    def driver_air(self, designs: Designs) -> Floats:
        """Free height a driver that fires at a wall needs before it, (N,) m."""
        return np.array([air_before(sd) for sd in self.families.driver("sd")])[designs.family]

    def below(self, designs: Designs) -> Floats:
        """Height kept free under boxes that fire down, (N,) m: that of their feet."""
        down = self.families.facing[designs.family] == DOWN
        return np.where(down, self.driver_air(designs), 0.0)

    def contents(self, designs: Designs) -> Contents:
        family = designs.family
        sizes = (
            "outer_diameter",
            "cutout_diameter",
            "magnet_diameter",
            "mounting_depth",
            "magnet_depth",
            "rear_gap",
            "terminal_depth",
        )
        return Contents(
            facing=self.families.facing[family],
            **{name: self.families.driver(name)[family] for name in sizes},
            driver_displacement=self.families.driver("displacement")[family],
            driver_count=self.families.wiring("count")[family],
            vent_count=designs.vent_count.astype(float),
            vent_inner=self.pipe_bore[designs.pipe],
            vent_outer=self.pipe_outer[designs.pipe],
            elbow_radius=self.pipe_elbow[designs.pipe],
        )

    def fit(self, designs: Designs, wedges: Wedges) -> Fit:
        return self.envelope.fit(wedges, below=self.below(designs))

    def layout(self, designs: Designs, wedges: Wedges, fit: Fit, *, thorough: bool = True) -> Layout:
        """What lies where in boxes that stand where ``fit`` put them; a search is not ``thorough`` with misfits."""
        free_width = fit.x_high - fit.x_low + TOUCH
        worth = None if thorough else fit.violation <= 0.0
        return self.layout_within(designs, wedges, free_width=free_width, ahead=fit.ahead + TOUCH, worth=worth)

    def layout_within(
        self,
        designs: Designs,
        wedges: Wedges,
        *,
        free_width: Floats,
        ahead: Floats | float = np.inf,
        worth: NDArray[np.bool_] | None = None,
    ) -> Layout:
        """What lies where in boxes with ``free_width`` (N,) m of space across; see ``lay_out`` for the rest."""
        return lay_out(
            wedges,
            self.contents(designs),
            self.rules,
            tuning=designs.tuning,
            free_width=free_width,
            driver_air=self.driver_air(designs),
            ahead=ahead,
            under=self.below(designs) + TOUCH,
            worth=worth,
        )

    def across(self, designs: Designs, wedges: Wedges, fit: Fit, layout: Layout) -> Floats:
        """Where boxes stand across the space: the left outer face, (N,) m from the left end of the space.

        Midway in what is left when vents through the left side and a driver in the right
        one have their air.
        """
        left = np.where(layout.vent_placement == SIDE, self.pipe_bore[designs.pipe], 0.0)
        right = np.where(self.families.facing[designs.family] == SIDEWAYS, self.driver_air(designs), 0.0)
        spare = fit.x_high - fit.x_low - wedges.outer_width - left - right
        return fit.x_low + left + 0.5 * spare

    def systems(self, designs: Designs, *, net_volume: Floats) -> Systems:
        """The acoustic side of a batch: every driver as wired, in its net volume."""
        family = designs.family
        vented = self.families.vented[family]
        driver = {name: self.families.driver(name)[family] for name in ("sd", "cms", "mms", "rms", "bl", "re", "le")}
        return Systems(
            **driver,
            l2=self.families.driver("l2")[family],
            r2=self.families.driver("r2")[family],
            xmax=self.families.driver("xmax")[family],
            rated_power=self.families.driver("rated_power")[family],
            count=self.families.wiring("count")[family],
            voltage=self.families.wiring("voltage")[family],
            volume=net_volume,
            filling=np.ones(len(designs)),
            ql=np.where(vented, self.scenario.box.ql, np.inf),
            qa=np.full(len(designs), np.inf),
            qp=np.full(len(designs), np.inf),
            tuning=np.where(vented, designs.tuning, np.nan),
            vent_count=np.where(vented, designs.vent_count, 0).astype(float),
            vent_area=np.where(vented, math.pi / 4.0 * self.pipe_bore[designs.pipe] ** 2, 0.0),
            filter_order=self.families.filter_order[family].astype(float),
            filter_hz=designs.filter_hz,
            air=self.scenario.air,
        )

    def judge(self, designs: Designs, *, frequency: Floats = SEARCH_GRID, hear_all: bool = False) -> Judgement:
        """Fit, layout, acoustics and constraints of a batch.

        Designs that do not fit are not heard (their figures cost the most time), unless
        ``hear_all`` asks for every one that has a volume.
        """
        goals = self.scenario.goals
        wedges = self.wedges(designs)
        fit = self.fit(designs, wedges)
        layout = self.layout(designs, wedges, fit, thorough=hear_all)
        constraints = {
            "space": fit.violation,
            "door": self.envelope.door_violation(wedges),
            **layout.violations,
            "vent resonance": self._vent_resonance(designs, layout),
        }
        fits = np.max(np.stack(list(constraints.values())), axis=0) <= 0.0
        heard = np.flatnonzero((layout.net_volume > 0.0) if hear_all else fits)
        sound = figures(
            self.systems(designs.take(heard), net_volume=layout.net_volume[heard]),
            music_band=goals.music_band,
            vent_speed_limit=goals.vent_speed_limit,
            frequency=frequency,
        )
        shortfall = np.full(len(designs), UNHEARD)
        shortfall[heard] = below_one(sound.f3_shortfall / 10.0)
        constraints["f3"] = shortfall
        judgement = Judgement(wedges, fit, layout, constraints, heard, sound)
        for key, worst in self.limits.items():
            sign = -1.0 if COLUMNS[key].better == "max" else 1.0
            excess = np.full(len(designs), UNHEARD)
            excess[heard] = below_one(sign * (self.objective(key, designs, judgement) - worst) / max(abs(worst), 1e-9))
            constraints[f"limit {key}"] = np.nan_to_num(excess, nan=UNHEARD)
        return judgement

    def _vent_resonance(self, designs: Designs, layout: Layout) -> Floats:
        """By how much vents are too long, (N,) m: a pipe half a wave long is no lump of air any more.

        Open at both ends, end corrections included (Rayleigh); its first resonance has to
        lie above the range the response is judged over.
        """
        longest = 0.5 * self.scenario.air.c / RANGE_TOP
        effective = layout.vent_length + end_correction(diameter=self.pipe_bore[designs.pipe])
        return np.nan_to_num(effective - longest, nan=-longest)

    def objective(self, key: str, designs: Designs, judgement: Judgement) -> Floats:
        """An objective's figure for the rows that were heard, in its column's unit."""
        heard = judgement.heard
        if key == "f3_hz":
            return judgement.figures.f3
        if key == "output_db":
            return judgement.figures.output_db
        if key == "excursion_ratio":
            return judgement.figures.excursion_ratio
        if key == "vent_speed_m_s":
            return judgement.figures.vent_speed
        if key == "outer_volume_m3":
            return judgement.wedges.outer_volume[heard]
        if key == "outer_depth_m":
            return judgement.wedges.outer_depth[heard]
        if key == "weight_kg":
            return self.weight(designs, judgement)[heard]
        return self.cost(designs, judgement)[heard]

    def weight(self, designs: Designs, judgement: Judgement) -> Floats:
        """Board and drivers, (N,) kg; pipe and glue are left out."""
        board = judgement.wedges.board_volume + judgement.layout.brace_volume
        count = self.families.wiring("count")[designs.family]
        return board * self.scenario.stock.board_density + count * self.families.driver("mass")[designs.family]

    def cost(self, designs: Designs, judgement: Judgement) -> Floats:
        """Drivers, board by area, pipe by length, (N,) in the scenario's currency; offcuts left out."""
        stock, family = self.scenario.stock, designs.family
        area = (judgement.wedges.board_volume + judgement.layout.brace_volume) / stock.board_thickness
        pipe = np.where(
            designs.vent_count > 0,
            designs.vent_count * np.nan_to_num(judgement.layout.vent_length) * self.pipe_price[designs.pipe],
            0.0,
        )
        drivers = self.families.wiring("count")[family] * self.families.driver("price")[family]
        return drivers + area * stock.board_price + pipe


class BoxProblem(Problem):  # type: ignore[misc]  # pymoo has no types
    """The scenario as a pymoo problem: nine real variables, the discrete ones rounded inside.

    A closed box has no use for ``tuning``, ``vent_count`` and ``pipe``, nor a family
    without filter for ``filter``; they are carried and ignored.  F holds the scenario's
    objectives, all turned so that less is better; G one column a constraint.
    """

    family_variable = VARIABLES.index("family")
    choice_variables = tuple(VARIABLES.index(name) for name in ("family", "vent_count", "pipe"))

    def __init__(self, scenario: Scenario) -> None:
        self.bench = Bench(scenario)
        self.objectives = scenario.goals.objectives
        low, high = self._bounds()
        constraints = self.bench.judge(self._decode(low[np.newaxis])).constraints
        self.constraint_names = tuple(constraints)
        super().__init__(
            n_var=len(VARIABLES),
            n_obj=len(self.objectives),
            n_ieq_constr=len(constraints),
            xl=low,
            xu=high,
        )

    def decode(self, X: Floats) -> Designs:
        """Variables (N, 9) to designs."""
        return self._decode(np.atleast_2d(X))

    def _evaluate(self, X: Floats, out: dict[str, Floats], *_: object, **__: object) -> None:
        designs = self._decode(X)
        judgement = self.bench.judge(designs)
        out["F"] = np.full((len(X), self.n_obj), BEYOND)
        for column, key in enumerate(self.objectives):
            sign = -1.0 if COLUMNS[key].better == "max" else 1.0
            reached = sign * self.bench.objective(key, designs, judgement)
            out["F"][judgement.heard, column] = np.nan_to_num(reached, nan=BEYOND)
        out["G"] = np.column_stack([judgement.constraints[name] for name in self.constraint_names])

    def _decode(self, X: Floats) -> Designs:
        families = self.bench.families
        family = np.minimum(X[:, 0].astype(np.int64), len(families.items) - 1)
        vented = families.vented[family]
        low, high = families.filter_range[family].T
        return Designs(
            family=family,
            outer_width=_stepped(X[:, 1], SIZE_STEP),
            outer_height=_stepped(X[:, 2], SIZE_STEP),
            bottom_depth=_stepped(X[:, 3], SIZE_STEP),
            top_depth=_stepped(X[:, 4], SIZE_STEP),
            tuning=np.where(vented, _stepped(X[:, 5], FREQUENCY_STEP), np.nan),
            vent_count=np.where(vented, np.rint(X[:, 6]), 0).astype(np.int64),
            pipe=np.where(vented, np.minimum(X[:, 7].astype(np.int64), len(self.bench.pipe_bore) - 1), 0),
            filter_hz=np.maximum(low, _stepped(low + (high - low) * X[:, 8], FREQUENCY_STEP)),
        )

    def _bounds(self) -> tuple[Floats, Floats]:
        """Where the variables may lie: what the space could hold at most, tightened by the scenario."""
        bench = self.bench
        stated = bench.scenario.bounds
        board = bench.scenario.stock.board_thickness
        width, height, depth = bench.envelope.extent
        vents = stated.get("vent_count", (1.0, float(MOST_VENTS)))
        ranges = {
            "family": (0.0, float(len(bench.families.items))),
            "outer_width": (4.0 * board, width),
            "outer_height": (4.0 * board, height),
            "bottom_depth": (2.0 * board, depth),
            "top_depth": (2.0 * board, depth),
            "tuning": stated.get("tuning", TUNING_RANGE),
            "vent_count": (vents[0] - 0.499, vents[1] + 0.499),
            "pipe": (0.0, float(len(bench.pipe_bore))),
            "filter": (0.0, 1.0),
        }
        for name in ("outer_width", "outer_height", "bottom_depth", "top_depth"):
            low, high = ranges[name]
            least, most = stated.get(name, (low, high))
            ranges[name] = whole_steps(max(low, least), min(high, most), SIZE_STEP)
            if ranges[name][0] > ranges[name][1]:
                raise SearchImpossible(
                    f"bounds.{name} asks for {1000.0 * least:.1f} mm to {1000.0 * most:.1f} mm, but the board needs "
                    f"{1000.0 * low:.0f} mm, the space leaves {1000.0 * high:.0f} mm, and sizes are whole millimetres: "
                    "loosen the bound or measure the space again"
                )
        ranges["tuning"] = whole_steps(*ranges["tuning"], FREQUENCY_STEP)
        if ranges["tuning"][0] > ranges["tuning"][1]:
            raise SearchImpossible(f"bounds.tuning holds no whole {FREQUENCY_STEP:g} Hz: loosen the bound")
        both = np.array([ranges[name] for name in VARIABLES])
        return both[:, 0].copy(), both[:, 1].copy()


def air_before(sd: float) -> float:
    """Free height in m that a cone of area ``sd`` (m²) needs before it when it fires at a wall or the floor.

    The gap round its rim is then as large as the cone: π d h = π d²/4 with d the cone's
    diameter (common practice, no source).
    """
    return 0.25 * math.sqrt(4.0 * sd / math.pi)


def below_one(excess: Floats) -> Floats:
    """Excess brought below 1 in the same order: a design that fits never counts as worse than a misfit."""
    return np.asarray(np.where(excess > 0.0, excess / (1.0 + np.abs(excess)), excess))


def whole_steps(low: float, high: float, step: float) -> tuple[float, float]:
    """A range drawn in to whole steps, so that no bound is passed by rounding."""
    return math.ceil(low / step - 1e-6) * step, math.floor(high / step + 1e-6) * step


def _stepped(values: Floats, step: float) -> Floats:
    """Values brought down to whole steps, so that what just fits still fits."""
    return np.round(np.floor(values / step + 1e-6) * step, 6)
