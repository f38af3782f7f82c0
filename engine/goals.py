"""What a design is judged by: one record a goal, with all that is said and asked of it anywhere.

Files, forms, charts, sliders, tables, sentences and the customer's page follow from these records; adding a goal is
adding one here.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterable
from dataclasses import dataclass
from functools import cache
from typing import Any, Literal

from engine.arrays import Floats
from engine.column import Column, Said
from engine.kinds import KINDS
from engine.kinds.record import Opening
from engine.registry import Registry

Need = Literal["cabin", "mass", "price"]
Heard = Literal["f3", "vehicle", "output", "strain"]  # figures that take time, see engine.acoustics.figures

USUAL_LEVELS = (30.0, 40.0, 50.0)  # Hz, where levels are compared unless the job names others


@dataclass(frozen=True, kw_only=True)
class Mark:
    """What a figure should not pass as it is used: how much, by the job's goals, and the remark where it does."""

    most: Callable[[Any], float]  # of an engine.scenario.Goals
    beyond: str


@dataclass(frozen=True, kw_only=True)
class Goal(Column):
    """One thing that designs are traded off by: a column of the front, with what makes it a goal."""

    better: Literal["min", "max"]
    after: str  # key of the column that it stands behind
    heading: str  # the label where a table is narrow, in two lines
    # Best and worst for the hypervolume, SI: the unit box is the same for every run of a scenario.  Chosen to hold any
    # box a vehicle would carry; what is worse than the worst adds nothing.
    span: tuple[float, float]
    told_apart: float  # SI, what a builder can tell apart, about: of designs nearer than that a front keeps one
    plausible: tuple[object, object]  # lowest and highest limit that a job may set, as they would stand in its file
    improved: str  # that it gets better, and worse, as the name of a thing
    worsened: str
    best: str  # what the best design on it is called
    wished: str  # how a customer asks for more of it
    meaning: tuple[str, str]  # what it is to the customer: a question, and what the figure says
    # Of (evaluator, designs, judgement), see engine.search.evaluator: the figure, (N,), nan where unknown.
    figure: Callable[[Any, Any, Any], Floats]
    caution: str = ""  # what is to be known by whoever sets a limit
    # Worst figure of which the model says anything true, kept unless the job sets its own.
    model_limit: float | None = None
    mark: Mark | None = None
    # What stands in the opening of the kinds of box that alone have it; empty where every box does.
    opening: Opening | Literal[""] = ""
    absent: tuple[str, str] = ("", "")  # of other boxes: what stands for the figure, why it is at its best there
    default: bool = False  # whether a job that states no goals is searched for it
    needs: frozenset[Need] = frozenset()  # what a job must state: the vehicle, every part's mass or every part's price
    hears: frozenset[Heard] = frozenset()  # what has to be worked out for it
    over_band: bool = False  # whether it is a mean over the music band, so that jobs of different bands do not compare
    said_of_a_box: Said | None = None  # of one that is called nothing but a box, where ``improved`` names a box again
    moves_with: str = ""  # key of another goal from which it differs by the same amount in every design
    # Of (figures), see engine.acoustics.figures: dB by which designs have no such figure, ≤ 0 where they have, (M,);
    # None where every design that is heard has one.
    shortfall: Callable[[Any], Floats] | None = None

    def __post_init__(self) -> None:
        words = (self.label, self.heading, self.improved, self.worsened, self.best, self.wished, *self.meaning)
        if not all(words) or bool(self.opening) != all(self.absent):
            raise ValueError(f"the goal {self.key!r} is not whole: words are missing")
        best, worst = self.span
        if (self.better == "max") != (best > worst):
            raise ValueError(f"the goal {self.key!r} has its span the wrong way round")

    @property
    def name(self) -> str:
        """What the registry knows it by."""
        return self.key

    def had_by(self, box_kind: str) -> bool:
        """Whether boxes of that kind have it."""
        return self.opening in ("", KINDS[box_kind].opening)

    @property
    def turn(self) -> float:
        """What the figure is multiplied by so that less is better."""
        return -1.0 if self.better == "max" else 1.0

    @property
    def noticed(self) -> float:
        """The smallest difference that the front keeps, SI."""
        return float(10.0**-self.stored)


def _heard(figure: str) -> Callable[[Any, Any, Any], Floats]:
    """A goal that is one of :class:`engine.acoustics.figures.Figures`."""
    return lambda evaluator, designs, judgement: judgement.of_all(getattr(judgement.figures, figure))


def _measured(kind: str, better: str = "min", *, digits: int, least_step: float, stored: int) -> dict[str, Any]:
    """What says how a goal's figure is measured and shown."""
    return {"kind": kind, "better": better, "digits": digits, "least_step": least_step, "stored": stored}


_ESTIMATE = " Where the cabin is estimated from its size so is this, to several dB."
_HARM = "Loud sound in a closed cabin harms hearing in minutes."
_FREQUENCY = _measured("frequency", digits=1, least_step=0.5, stored=2) | {"told_apart": 0.2}
_LEVEL = _measured("level", "max", digits=1, least_step=0.3, stored=2) | {"told_apart": 0.15}
_OVER_XMAX = _measured("ratio", digits=2, least_step=0.03, stored=4) | {
    "told_apart": 0.02,
    "span": (0.0, 2.0), "plausible": (0.01, 10), "model_limit": 2.0,  # common practice, no source
    "mark": Mark(most=lambda goals: 1.0, beyond="beyond the maker's range at full power"),
    "hears": frozenset({"strain"}),
}  # fmt: skip

_LEVEL_KEY = re.compile(r"level_([1-9]\d{1,2})_hz(_cabin)?_db")


def level_key(hz: float, *, cabin: bool = False) -> str:
    """The key of the goal that is the level at a frequency, whole Hz from 10 to 999; in the vehicle on request."""
    return f"level_{hz:.0f}_hz{'_cabin' if cabin else ''}_db"


@cache
def level_goal(key: str) -> Goal | None:
    """The goal with a :func:`level_key`; None where the key is none."""
    told = _LEVEL_KEY.fullmatch(key)
    if told is None:
        return None
    hz, cabin = float(told[1]), told[2] is not None
    at = f"at {hz:.0f} Hz"
    where = f"{at} in the vehicle" if cabin else at

    def figure(evaluator: Any, designs: Any, judgement: Any) -> Floats:
        levels: Floats = judgement.of_all(judgement.figures.levels[:, evaluator.levels.index(hz)])
        return levels + evaluator.cabin_level_db(hz) if cabin else levels

    alone = "as it is used: one setting of the gain at which nothing passes a limit, at 1 m in the open"
    return Goal(
        key=key, label=f"Level {where}", heading=f"Level\n{at}" + (", car" if cabin else ""), after="f3_cabin_hz",
        **_LEVEL, span=(140.0, 75.0) if cabin else (125.0, 70.0), plausible=("40 dB", "180 dB" if cabin else "160 dB"),
        caution=f"{_ESTIMATE} {_HARM}" if cabin else "", needs=frozenset({"cabin"}) if cabin else frozenset(),
        moves_with=level_key(hz) if cabin else "",
        improved=f"more level {where}", worsened=f"less level {where}", best=f"Loudest {where}",
        wished=f"Louder {where}",
        meaning=(f"How loud it plays {where}", "the same with the doors shut" if cabin else alone),
        said=None if cabin else Said(f"plays {{}} louder {at}", f"plays {{}} quieter {at}", "sound", 1),
        figure=figure,
    )  # fmt: skip


def levels_among(keys: Iterable[str]) -> list[str]:
    """Those of some keys that are goals of a level at a frequency, as they come."""
    return [key for key in keys if level_goal(key) is not None]


def goals_at(levels: Iterable[float]) -> tuple[Goal, ...]:
    """All goals of a job that names these frequencies, Hz."""
    keys = [level_key(hz, cabin=cabin) for cabin in (False, True) for hz in levels]
    return (*(GOALS[key] for key in keys), *GOALS.records)


GOALS: Registry[Goal] = Registry(
    Goal(
        key="f3_hz", label="-3 dB frequency (f3)", heading="f3", after="filter_hz", **_FREQUENCY,
        span=(15.0, 90.0), plausible=("10 Hz", "200 Hz"),
        improved="a lower f3", worsened="a higher f3", best="Lowest f3",
        wished="A lower f3",
        meaning=("Down to where it plays evenly", "where it is 3 dB below its own level, however loud that is"),
        said=None,  # boxes compare by level at a frequency: f3 is against a level of their own
        hears=frozenset({"f3"}), figure=_heard("f3"), shortfall=lambda figures: figures.f3_shortfall,
    ),
    Goal(
        key="f3_cabin_hz", label="f3 in the vehicle", heading="f3 in the\nvehicle", after="f3_box_hz", **_FREQUENCY,
        span=(10.0, 90.0), plausible=("5 Hz", "200 Hz"), caution=_ESTIMATE,
        needs=frozenset({"cabin"}), hears=frozenset({"vehicle"}),
        improved="a lower f3 in the vehicle", worsened="a higher f3 in the vehicle", best="Lowest f3 in the vehicle",
        wished="A lower f3 in the vehicle",
        meaning=("Down to where it plays evenly in the vehicle",
                 "the same with the doors shut: a small room lifts the bass"),
        said=None,
        figure=_heard("f3_cabin"), shortfall=lambda figures: figures.f3_cabin_shortfall,
    ),
    Goal(
        key="output_db", label="Mean maximum output", heading="Maximum\noutput", after="f3_cabin_hz", **_LEVEL,
        span=(125.0, 85.0), plausible=("60 dB", "160 dB"), over_band=True, hears=frozenset({"output"}),
        improved="more maximum output", worsened="less maximum output", best="Most output",
        wished="More output",
        meaning=("How loud it can play",
                 "turned up or down at each pitch by itself until it comes to a limit, at 1 m in the open"),
        said=Said("has {} more maximum output", "has {} less maximum output", "sound", 2),
        figure=_heard("output_db"),
    ),
    Goal(
        key="output_cabin_db", label="Mean maximum output in the vehicle", heading="Output in\nvehicle",
        after="output_db", **_LEVEL, span=(140.0, 85.0), plausible=("60 dB", "180 dB"),
        caution=f"{_ESTIMATE} {_HARM}",
        needs=frozenset({"cabin"}), over_band=True, moves_with="output_db",
        hears=frozenset({"output"}),
        improved="more output in the vehicle", worsened="less output in the vehicle", best="Most output in the vehicle",
        wished="More output in the vehicle",
        meaning=("How loud it plays in the vehicle", "the same with the doors shut"),
        said=None,  # the difference is that of the output
        figure=lambda evaluator, designs, judgement: judgement.of_all(
            judgement.figures.output_db + evaluator.cabin_gain_db),
    ),
    Goal(
        key="excursion_ratio", label="Worst excursion / Xmax", heading="Excursion\n/ Xmax", after="coil_rise_k",
        **_OVER_XMAX,
        improved="less excursion", worsened="more excursion", best="Least excursion",
        wished="Less excursion",
        meaning=("How hard the cone works", "at its worst – 1.00 is what its maker allows"),
        said=Said("uses {} more of its Xmax", "uses {} less of its Xmax", "strain", 1),
        figure=_heard("excursion_ratio"),
    ),
    Goal(
        key="radiator_ratio", label="Worst radiator excursion / Xmax", heading="Radiator\n/ Xmax",
        after="excursion_ratio", **_OVER_XMAX,
        opening="radiator", absent=("no radiator", "A box without a passive radiator has none to move."),
        improved="less radiator excursion", worsened="more radiator excursion", best="Least radiator excursion",
        wished="Less radiator excursion",
        meaning=("How hard the passive radiator works",
                 "the cone without a coil, at its worst – 1.00 is what its maker allows"),
        said=Said("moves its radiators {} more of their Xmax", "moves its radiators {} less of their Xmax",
                  "strain", 2),
        figure=_heard("radiator_ratio"),
    ),
    Goal(
        key="vent_speed_m_s", label="Worst vent air speed", heading="Vent air\nspeed", after="radiator_ratio",
        **_measured("speed", digits=1, least_step=0.5, stored=3), told_apart=0.2, span=(0.0, 34.0),
        plausible=("0.5 m/s", "100 m/s"),
        model_limit=34.0,  # 10 % of the speed of sound, twice the usual limit (common practice, no source)
        mark=Mark(most=lambda goals: float(goals.vent_speed_limit), beyond="can be heard at full power"),
        opening="vent", absent=("no vent", "A box without a vent has none to blow."),
        improved="slower air in the vent", worsened="faster air in the vent", best="Slowest vent air",
        wished="Slower vent air",
        meaning=("How fast the air moves in the vent", "at its worst – fast air can be heard"),
        hears=frozenset({"strain"}),
        said=Said("blows {} faster through its vents", "blows {} slower through its vents", "strain", 3),
        figure=_heard("vent_speed"),
    ),
    Goal(
        key="outer_volume_m3", label="Outer volume", heading="Outer\nvolume", after="vent_mach",
        **_measured("volume", digits=1, least_step=0.001, stored=7), told_apart=0.0005, span=(0.0, 0.3),
        plausible=("1 L", "2000 L"),
        default=True,
        improved="a smaller box", worsened="a larger box", best="Smallest box",
        wished="Smaller",
        meaning=("How much room it takes", "outside"),
        said=None,  # width, height and depth are
        said_of_a_box=Said("is larger (by {})", "is smaller (by {})", "build", 0),
        figure=lambda evaluator, designs, judgement: judgement.wedges.outer_volume,
    ),
    Goal(
        key="outer_depth_m", label="Outer depth", heading="Outer\ndepth", after="outer_volume_m3",
        **_measured("length", digits=0, least_step=0.003, stored=6), told_apart=0.003, span=(0.0, 1.0),
        plausible=("20 mm", "4000 mm"),
        improved="a shallower box", worsened="a deeper box", best="Shallowest box",
        wished="Shallower",
        meaning=("How deep the box is", "front to back"),
        said=Said("is {} deeper front to back", "is {} shallower front to back", "build", 3),
        figure=lambda evaluator, designs, judgement: judgement.wedges.outer_depth,
    ),
    Goal(
        key="bevel_angles", label="Different bevel angles", heading="Bevel\nangles", after="outer_depth_m",
        **_measured("count", digits=0, least_step=1.0, stored=0), told_apart=1.0, span=(0.0, 3.0),
        plausible=(0, 2),
        caution=" 0 makes every side square.",
        improved="fewer bevel angles", worsened="more bevel angles", best="Fewest bevel angles",
        wished="Fewer bevel angles",
        meaning=("How hard it is to saw", "at how many angles the saw is set besides square"),
        said=Said("is sawn at more angles ({} more)", "is sawn at fewer angles ({} fewer)", "build", 7),
        figure=lambda evaluator, designs, judgement: evaluator.bevel_angles(judgement.wedges).astype(float),
    ),
    Goal(
        key="weight_kg", label="Weight", heading="Weight", after="outer_depth_m",
        **_measured("mass", digits=1, least_step=0.3, stored=3), told_apart=0.1, span=(0.0, 80.0),
        plausible=("0.5 kg", "500 kg"),
        needs=frozenset({"mass"}),
        improved="a lighter box", worsened="a heavier box", best="Lightest box",
        wished="Lighter",
        meaning=("How heavy it is", "board and drivers"),
        said=Said("weighs {} more", "weighs {} less", "build", 5),
        figure=lambda evaluator, designs, judgement: evaluator.weight(designs, judgement),
    ),
    Goal(
        key="cost", label="Cost of parts", heading="Cost", after="weight_kg",
        **_measured("money", digits=0, least_step=1.0, stored=2), told_apart=1.0, span=(0.0, 2000.0),
        plausible=(0, 100_000),
        needs=frozenset({"price"}),
        improved="a cheaper box", worsened="a dearer box", best="Cheapest box",
        wished="Cheaper",
        meaning=("What the parts cost", "drivers, board and pipe, without work"),
        said=Said("costs {} more", "costs {} less", "build", 6),
        figure=lambda evaluator, designs, judgement: evaluator.cost(designs, judgement),
    ),
    made=level_goal,
)  # fmt: skip
added = GOALS.added


def default_objectives(levels: Iterable[float] = USUAL_LEVELS) -> tuple[str, ...]:
    """The goals of a job that states none: the levels at the frequencies it names, Hz, and what they cost in room."""
    return (*map(level_key, levels), *(goal.key for goal in GOALS.records if goal.default))


def needing(need: Need, among: Collection[str]) -> tuple[str, ...]:
    """Those of some goals for which a job must state something."""
    keys = [*levels_among(sorted(among)), *(key for key in GOALS if key in among)]
    return tuple(key for key in keys if need in GOALS[key].needs)
