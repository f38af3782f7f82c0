"""What a design is judged by: one record a goal, with all that is said and asked of it anywhere.

Files, forms, charts, sliders, tables, sentences and the customer's page follow from these records; adding a goal is
adding one here.
"""

from __future__ import annotations

from collections.abc import Callable, Collection
from dataclasses import dataclass
from typing import Any, Literal, get_args

import numpy as np
from numpy.typing import NDArray

from engine.registry import Registry

Floats = NDArray[np.float64]
Need = Literal["cabin", "mass", "price"]
About = Literal["sound", "strain", "build"]
ABOUT: tuple[About, ...] = get_args(About)


@dataclass(frozen=True, kw_only=True)
class Said:
    """How a difference between two designs is said.

    ``higher`` and ``lower`` go on from a design's name, with {} for the difference; ``about`` is the sentence they
    belong in, ``rank`` their place in it.
    """

    higher: str
    lower: str
    about: About
    rank: int


@dataclass(frozen=True, kw_only=True)
class Mark:
    """What a figure should not pass at full power: how much, by the job's goals, and the remark where it does."""

    most: Callable[[Any], float]  # of an engine.scenario.Goals
    beyond: str


@dataclass(frozen=True, kw_only=True)
class Goal:
    """One thing that designs are traded off by.

    Attributes
    ----------
    key, label, kind, better, digits, least_step, stored :
        Its column of the front, see :class:`engine.columns.Column`; ``after`` is the column it stands behind.
    heading :
        The label where a table is narrow, in two lines.
    span :
        Best and worst for the hypervolume, SI: the unit box is the same for every run of a scenario.  Chosen to hold
        any box a vehicle would carry; what is worse than the worst adds nothing.
    plausible :
        Lowest and highest limit that a job may set, as they would stand in its file.
    improved, worsened :
        That it gets better, and worse, as the name of a thing.
    best :
        What the best design on it is called.
    meaning :
        What it is to the customer: a question, and what the figure says.
    said, mark :
        See :class:`Said` and :class:`Mark`; None where differences are not said, where no figure is too much.
    figure :
        Of (evaluator, designs, judgement), see :mod:`engine.search.evaluator`: the figure, (N,), nan where unknown.
    caution :
        What is to be known by whoever sets a limit; may be empty.
    model_limit :
        Worst figure at full drive of which the model says anything true, kept unless the job sets its own; None
        where there is no such thing.
    box_kind :
        The kind of box that alone has it; empty where every box does.
    absent :
        Of other kinds of box: what stands for the figure, and why it is at its best there; empty where every box has
        it.
    default :
        Whether a job that states no goals is searched for it.
    needs :
        What a job must state for it: the vehicle, every part's mass or every part's price.
    hears_vehicle :
        Whether the response in the vehicle has to be worked out for it.
    over_band :
        Whether it is a mean over the music band, so that jobs of different bands do not compare.
    moves_with :
        Key of another goal from which it differs by the same amount in every design; may be empty.
    shortfall :
        Of (figures), see :mod:`engine.acoustics.figures`: dB by which designs have no such figure, ≤ 0 where they
        have, (M,); None where every design that is heard has one.
    """

    key: str
    label: str
    kind: str
    better: Literal["min", "max"]
    digits: int
    least_step: float
    stored: int
    after: str
    heading: str
    span: tuple[float, float]
    plausible: tuple[object, object]
    improved: str
    worsened: str
    best: str
    meaning: tuple[str, str]
    said: Said | None
    figure: Callable[[Any, Any, Any], Floats]
    caution: str = ""
    model_limit: float | None = None
    mark: Mark | None = None
    box_kind: str = ""
    absent: tuple[str, str] = ("", "")
    default: bool = False
    needs: frozenset[Need] = frozenset()
    hears_vehicle: bool = False
    over_band: bool = False
    moves_with: str = ""
    shortfall: Callable[[Any], Floats] | None = None

    def __post_init__(self) -> None:
        words = (self.label, self.heading, self.improved, self.worsened, self.best, *self.meaning)
        if not all(words) or bool(self.box_kind) != all(self.absent):
            raise ValueError(f"the goal {self.key!r} is not whole: words are missing")
        best, worst = self.span
        if (self.better == "max") != (best > worst):
            raise ValueError(f"the goal {self.key!r} has its span the wrong way round")

    @property
    def name(self) -> str:
        """What the registry knows it by."""
        return self.key

    @property
    def inner_label(self) -> str:
        """The label as it stands inside a sentence."""
        return self.label[:1].lower() + self.label[1:]

    @property
    def turn(self) -> float:
        """What the figure is multiplied by so that less is better."""
        return -1.0 if self.better == "max" else 1.0

    @property
    def noticed(self) -> float:
        """The smallest difference that the front keeps, SI."""
        return float(10.0**-self.stored)


def _cost(evaluator: Any, designs: Any, judgement: Any) -> Floats:
    """Cost of parts, (N,); nan where the job has no prices."""
    if not evaluator.scenario.currency:
        return np.full(len(designs), np.nan)
    cost: Floats = evaluator.cost(designs, judgement)
    return cost


_ESTIMATE = " Where the cabin is estimated from its size so is this, to several dB."


GOALS: Registry[Goal] = Registry(
    Goal(
        key="f3_hz",
        label="-3 dB frequency (f3)",
        kind="frequency",
        better="min",
        digits=1,
        least_step=0.5,
        stored=2,
        after="filter_hz",
        heading="f3",
        span=(15.0, 90.0),
        plausible=("10 Hz", "200 Hz"),
        improved="deeper bass",
        worsened="less deep bass",
        best="Deepest bass",
        meaning=("How deep it plays", "the lowest tone at nearly full level – lower is deeper"),
        said=Said(higher="reaches {} less deep", lower="reaches {} deeper", about="sound", rank=2),
        default=True,
        figure=lambda evaluator, designs, judgement: judgement.of_all(judgement.figures.f3),
        shortfall=lambda figures: figures.f3_shortfall,
    ),
    Goal(
        key="f3_cabin_hz",
        label="f3 in the vehicle",
        kind="frequency",
        better="min",
        digits=1,
        least_step=0.5,
        stored=2,
        after="f3_box_hz",
        heading="f3 in the\nvehicle",
        span=(10.0, 90.0),
        plausible=("5 Hz", "200 Hz"),
        caution=_ESTIMATE,
        improved="deeper bass in the vehicle",
        worsened="less deep bass in the vehicle",
        best="Deepest bass in the vehicle",
        meaning=("How deep it plays in the vehicle", "the same with the doors shut: a small room lifts the bass"),
        said=Said(
            higher="reaches {} less deep in the vehicle",
            lower="reaches {} deeper in the vehicle",
            about="sound",
            rank=3,
        ),
        needs=frozenset({"cabin"}),
        hears_vehicle=True,
        figure=lambda evaluator, designs, judgement: judgement.of_all(judgement.figures.f3_cabin),
        shortfall=lambda figures: figures.f3_cabin_shortfall,
    ),
    Goal(
        key="output_db",
        label="Mean maximum output",
        kind="level",
        better="max",
        digits=1,
        least_step=0.3,
        stored=2,
        after="f3_cabin_hz",
        heading="Maximum\noutput",
        span=(125.0, 85.0),
        plausible=("60 dB", "160 dB"),
        improved="more output",
        worsened="less output",
        best="Most output",
        meaning=(
            "How loud it plays",
            "turned down until no limit is passed, at 1 m in the open – 3 dB more is a clear step",
        ),
        said=Said(higher="plays {} louder", lower="plays {} quieter", about="sound", rank=1),
        default=True,
        over_band=True,
        figure=lambda evaluator, designs, judgement: judgement.of_all(judgement.figures.output_db),
    ),
    Goal(
        key="output_cabin_db",
        label="Mean maximum output in the vehicle",
        kind="level",
        better="max",
        digits=1,
        least_step=0.3,
        stored=2,
        after="output_db",
        heading="Output in\nvehicle",
        span=(140.0, 85.0),
        plausible=("60 dB", "180 dB"),
        caution=f"{_ESTIMATE} Loud sound in a closed cabin harms hearing in minutes.",
        improved="more output in the vehicle",
        worsened="less output in the vehicle",
        best="Most output in the vehicle",
        meaning=("How loud it plays in the vehicle", "the same with the doors shut"),
        said=None,  # the difference is that of the output
        needs=frozenset({"cabin"}),
        over_band=True,
        moves_with="output_db",
        figure=lambda evaluator, designs, judgement: judgement.of_all(
            judgement.figures.output_db + evaluator.cabin_gain_db
        ),
    ),
    Goal(
        key="excursion_ratio",
        label="Worst excursion / Xmax",
        kind="ratio",
        better="min",
        digits=2,
        least_step=0.03,
        stored=4,
        after="coil_rise_k",
        heading="Excursion\n/ Xmax",
        span=(0.0, 2.0),
        plausible=(0.01, 10),
        model_limit=2.0,  # common practice, no source
        improved="less excursion",
        worsened="more excursion",
        best="Least excursion",
        meaning=("How hard the cone works", "at full power – 1.00 is what its maker allows"),
        said=Said(higher="uses {} more of its Xmax", lower="uses {} less of its Xmax", about="strain", rank=1),
        mark=Mark(most=lambda goals: 1.0, beyond="beyond the maker's range at full power"),
        default=True,
        figure=lambda evaluator, designs, judgement: judgement.of_all(judgement.figures.excursion_ratio),
    ),
    Goal(
        key="radiator_ratio",
        label="Worst radiator excursion / Xmax",
        kind="ratio",
        better="min",
        digits=2,
        least_step=0.03,
        stored=4,
        after="excursion_ratio",
        heading="Radiator\n/ Xmax",
        span=(0.0, 2.0),
        plausible=(0.01, 10),
        model_limit=2.0,  # common practice, no source
        improved="less radiator excursion",
        worsened="more radiator excursion",
        best="Least radiator excursion",
        meaning=(
            "How hard the passive radiator works",
            "the cone without a coil, at full power – 1.00 is what its maker allows",
        ),
        said=Said(
            higher="moves its radiators {} more of their Xmax",
            lower="moves its radiators {} less of their Xmax",
            about="strain",
            rank=2,
        ),
        mark=Mark(most=lambda goals: 1.0, beyond="beyond the maker's range at full power"),
        box_kind="radiator",
        absent=("no radiator", "A box without a passive radiator has none to move."),
        figure=lambda evaluator, designs, judgement: judgement.of_all(judgement.figures.radiator_ratio),
    ),
    Goal(
        key="vent_speed_m_s",
        label="Worst vent air speed",
        kind="speed",
        better="min",
        digits=1,
        least_step=0.5,
        stored=3,
        after="radiator_ratio",
        heading="Vent air\nspeed",
        span=(0.0, 34.0),
        plausible=("0.5 m/s", "100 m/s"),
        model_limit=34.0,  # 10 % of the speed of sound, twice the usual limit (common practice, no source)
        improved="slower air in the vent",
        worsened="faster air in the vent",
        best="Slowest vent air",
        meaning=("How fast the air moves in the vent", "at full power – fast air can be heard"),
        said=Said(
            higher="blows {} faster through its vents",
            lower="blows {} slower through its vents",
            about="strain",
            rank=3,
        ),
        mark=Mark(most=lambda goals: float(goals.vent_speed_limit), beyond="can be heard at full power"),
        box_kind="vented",
        absent=("no vent", "A box without a vent has none to blow."),
        default=True,
        figure=lambda evaluator, designs, judgement: judgement.of_all(judgement.figures.vent_speed),
    ),
    Goal(
        key="outer_volume_m3",
        label="Outer volume",
        kind="volume",
        better="min",
        digits=1,
        least_step=0.001,
        stored=7,
        after="vent_mach",
        heading="Outer\nvolume",
        span=(0.0, 0.3),
        plausible=("1 L", "2000 L"),
        improved="a smaller box",
        worsened="a larger box",
        best="Smallest box",
        meaning=("How much room it takes", "outside"),
        said=None,  # width, height and depth are
        figure=lambda evaluator, designs, judgement: judgement.wedges.outer_volume,
    ),
    Goal(
        key="outer_depth_m",
        label="Outer depth",
        kind="length",
        better="min",
        digits=0,
        least_step=0.003,
        stored=6,
        after="outer_volume_m3",
        heading="Outer\ndepth",
        span=(0.0, 1.0),
        plausible=("20 mm", "4000 mm"),
        improved="a shallower box",
        worsened="a deeper box",
        best="Shallowest box",
        meaning=("How deep the box is", "front to back"),
        said=Said(higher="is {} deeper front to back", lower="is {} shallower front to back", about="build", rank=3),
        figure=lambda evaluator, designs, judgement: judgement.wedges.outer_depth,
    ),
    Goal(
        key="weight_kg",
        label="Weight",
        kind="mass",
        better="min",
        digits=1,
        least_step=0.3,
        stored=3,
        after="outer_depth_m",
        heading="Weight",
        span=(0.0, 80.0),
        plausible=("0.5 kg", "500 kg"),
        improved="a lighter box",
        worsened="a heavier box",
        best="Lightest box",
        meaning=("How heavy it is", "board and drivers"),
        said=Said(higher="weighs {} more", lower="weighs {} less", about="build", rank=5),
        needs=frozenset({"mass"}),
        figure=lambda evaluator, designs, judgement: evaluator.weight(designs, judgement),
    ),
    Goal(
        key="cost",
        label="Cost of parts",
        kind="money",
        better="min",
        digits=0,
        least_step=1.0,
        stored=2,
        after="weight_kg",
        heading="Cost",
        span=(0.0, 2000.0),
        plausible=(0, 100_000),
        improved="a cheaper box",
        worsened="a dearer box",
        best="Cheapest box",
        meaning=("What the parts cost", "drivers, board and pipe, without work"),
        said=Said(higher="costs {} more", lower="costs {} less", about="build", rank=6),
        needs=frozenset({"price"}),
        figure=_cost,
    ),
)
added = GOALS.added


def default_objectives() -> tuple[str, ...]:
    """The goals of a job that states none."""
    return tuple(goal.key for goal in GOALS.records if goal.default)


def needing(need: Need, among: Collection[str]) -> tuple[str, ...]:
    """Those of some goals for which a job must state something."""
    return tuple(goal.key for goal in GOALS.records if goal.key in among and need in goal.needs)
