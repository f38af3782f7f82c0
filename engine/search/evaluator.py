"""A scenario made ready to judge designs: what a design is, and how a batch of them is judged."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields, replace
from functools import cached_property
from typing import Any, TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.acoustics.cabin import gain_db, mean_gain_db
from engine.acoustics.cavity import Cavities, Inertance, Ports
from engine.acoustics.circuit import ABSENT, Systems
from engine.acoustics.ends import free_side
from engine.acoustics.figures import SEARCH_GRID, Figures, figures
from engine.acoustics.gap import outside
from engine.acoustics.heating import duty
from engine.acoustics.thin_box import CLOSED_HZ, ThinBox, thin_box
from engine.arrays import Indices, codes
from engine.columns import COLUMNS
from engine.constraints import LIMIT
from engine.errors import SearchImpossible
from engine.facings import DOWN, SIDEWAYS, UP
from engine.goals import GOALS, Goal
from engine.kinds import KINDS
from engine.openings import OPENINGS, limits, variables
from engine.openings.record import Group
from engine.packing.contents import Contents, Rules, drivers_of
from engine.packing.row import panel_span
from engine.parts import Space, room_before
from engine.scenario import Scenario
from engine.search.families import Families, families_of
from engine.space.braces import braces_in
from engine.space.envelope import Envelope, Fit
from engine.space.layout import Layout, lay_out
from engine.space.ports import ports_of
from engine.space.sawn import bevel_of, different_bevels, sawn, slants, slants_beside
from engine.space.sizes import BOTTOM, LEAN, TOP, WIDTH, held_to, stated_way
from engine.space.surroundings import Surroundings, surroundings_of
from engine.space.wedge import Wedges
from engine.steps import nearest_step, whole_steps

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Batch = TypeVar("Batch", bound=Any)

SIZES = ("outer_width", "outer_height", "bottom_depth", "top_depth")  # of a design, outside
KEPT = -1.0  # of constraints that a design has nothing to do with
# Of drivers, for the packing.
_DIAMETERS = ("outer_diameter", "cutout_diameter", "magnet_diameter")
_DEPTHS = ("mounting_depth", "magnet_depth", "rear_gap", "terminal_depth")
ENDLESS = 20.0  # m, of a space without an end
TOUCH = 1e-9  # m, what rounding may take off a width that is just enough
UNHEARD = 1.0  # violation of f3 and limits by a design that does not fit: worse than any that fits but misses them
EFFECTS = ("thin box", "walls near by", "heat", "jets", "bent motor")  # what an Evaluator may be told to leave out


@dataclass(frozen=True, kw_only=True)
class Designs:
    """A batch of designs, each field (N,), SI.

    ``family`` is a number into the families.  ``tuning`` is the lumped one: what the opening and the net volume come to
    by the usual end corrections, which sets the length of a vent and the mass of a passive radiator; a closed box has
    nan.  ``filter_hz`` is 0 where there is no filter.  ``openings`` has the variables of all openings by name, each
    with what its record calls absent where a design has another opening.
    """

    family: Integers
    outer_width: Floats
    outer_height: Floats
    bottom_depth: Floats
    top_depth: Floats
    tuning: Floats
    filter_hz: Floats
    openings: Mapping[str, NDArray[Any]]

    def __len__(self) -> int:
        return len(self.family)

    def _each(self, made: Callable[[str, NDArray[Any]], NDArray[Any]]) -> Designs:
        """What is made of each variable, of its name and its values."""
        openings = {name: made(name, values) for name, values in self.openings.items()}
        return Designs(**{name: made(name, getattr(self, name)) for name in _PLAIN}, openings=openings)

    def take(self, index: NDArray[np.bool_] | NDArray[np.intp]) -> Designs:
        return self._each(lambda name, values: values[index])

    def followed_by(self, others: Sequence[Designs]) -> Designs:
        """One batch of these and of others, in their order."""
        return self._each(lambda name, values: np.concatenate([values, *(each.value(name) for each in others)]))

    def changed(self, changes: Mapping[str, float]) -> Designs:
        """The same with something added to some of the variables, those of openings included."""
        if unknown := set(changes) - {*_PLAIN, *self.openings}:
            raise KeyError(f"designs have no {', '.join(sorted(unknown))}")
        return self._each(lambda name, values: values + changes.get(name, 0))

    def value(self, name: str) -> NDArray[Any]:
        """A variable, that of an opening included, (N,)."""
        return np.asarray(self.openings[name] if name in self.openings else getattr(self, name))


_PLAIN = tuple(each.name for each in fields(Designs) if each.name != "openings")


@dataclass(frozen=True)
class Air:
    """The air in and round a batch of laid-out boxes, and where it is moved."""

    cavities: Cavities
    ports: Ports
    around: Surroundings

    def take(self, rows: NDArray[np.intp]) -> Air:
        return Air(self.cavities.take(rows), self.ports.take(rows), self.around.take(rows))


@dataclass(frozen=True)
class Acoustics:
    """The acoustic side of a batch: the systems, and what the air inside the box and round it makes of them.

    ``outside`` is the inertance of the air round it beyond what it weighs in the open, kg/m⁴.
    """

    systems: Systems
    inside: ThinBox
    outside: Inertance

    def take(self, rows: NDArray[np.intp]) -> Acoustics:
        return Acoustics(self.systems.take(rows), _rows(self.inside, rows), _rows(self.outside, rows))


@dataclass(frozen=True)
class Boxes:
    """The B boxes of a batch of N designs, in the order in which they first come up."""

    first: NDArray[np.intp]  # design of each, (B,)
    which: NDArray[np.intp]  # of the boxes each design is, (N,)


@dataclass(frozen=True)
class Built:
    """What a batch of designs comes to before it is heard.  ``acoustics`` covers the rows in ``heard``, (M,) of (N,).

    ``cone_air`` is the least free way before a cone, (N,) m, nan where nothing is known of it.
    """

    wedges: Wedges
    fit: Fit
    layout: Layout
    constraints: dict[str, Floats]  # name -> (N,), ≤ 0 where kept
    cone_air: Floats
    heard: NDArray[np.intp]
    acoustics: Acoustics

    def spread(self, rows: NDArray[np.intp]) -> Built:
        """The same for designs that are some of these or several times the same ones; each is one of these."""
        if len(rows) == len(self.wedges):
            return self
        heard, these = self._heard_among(rows)
        return Built(**self._taken(rows), heard=heard, acoustics=self.acoustics.take(these))

    def _heard_among(self, rows: NDArray[np.intp]) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
        """Which of some ``rows`` are heard, and which of those heard they are."""
        place = np.full(len(self.wedges), -1)
        place[self.heard] = np.arange(len(self.heard))
        heard = np.flatnonzero(place[rows] >= 0)
        return heard, place[rows[heard]]

    def _taken(self, rows: NDArray[np.intp]) -> dict[str, Any]:
        """What there is of all rows, for some of them."""
        return {
            "wedges": self.wedges.take(rows),
            "fit": self.fit.take(rows),
            "layout": self.layout.take(rows),
            "constraints": {name: each[rows] for name, each in self.constraints.items()},
            "cone_air": self.cone_air[rows],
        }


@dataclass(frozen=True)
class Judgement(Built):
    """What a batch of designs comes to.  ``figures`` too cover the rows in ``heard``."""

    figures: Figures

    def take(self, rows: NDArray[np.intp]) -> Judgement:
        """Some of the designs, ``rows`` in rising order."""
        heard, these = self._heard_among(rows)
        acoustics, sound = self.acoustics.take(these), _rows(self.figures, these)
        return Judgement(**self._taken(rows), heard=heard, acoustics=acoustics, figures=sound)

    def of_all(self, figure: Floats) -> Floats:
        """A figure of the designs heard, (M,), as one of all, (N,): nan where it is unknown."""
        every = np.full(len(self.wedges), np.nan)
        every[self.heard] = figure
        return every

    @property
    def feasible(self) -> NDArray[np.bool_]:
        return np.asarray(np.max(np.stack(list(self.constraints.values())), axis=0) <= 0.0)


class Evaluator:
    """A scenario made ready to judge designs: its families, envelope and stock as arrays.

    ``without`` names ``EFFECTS`` to leave out, to see what they do.
    """

    def __init__(self, scenario: Scenario, *, without: frozenset[str] = frozenset()) -> None:
        self.scenario = scenario
        if unknown := without.difference(EFFECTS):
            raise ValueError(f"no effect is called {' or '.join(sorted(unknown))}")
        self.without = without
        self.families: Families = families_of(scenario)
        self.envelope = Envelope(scenario.space, covering=scenario.box.carpet)
        if self.envelope.is_empty:
            raise SearchImpossible("nothing_left_of_space")
        self._shelves = {opening.name: opening.shelf(scenario) for opening in OPENINGS.records}
        self.use, self.levels = scenario.goals.use, scenario.goals.levels
        self.duty = duty(scenario.amplifier.crest_factor)
        # Beyond its model limit nothing true is said, so designs that go there are left out; what is turned down to
        # hold its limits goes there only where those lie beyond.
        models = {
            goal.key: goal.model_limit
            for goal in GOALS.records
            if goal.model_limit is not None and goal.mark is not None
            if self.use.full_drive or goal.mark.most(scenario.goals) > goal.model_limit
        }
        self.limits = {**models, **scenario.goals.limits}
        span, slow = scenario.stock.brace_span, scenario.goals.vent_speed_limit
        self.rules = Rules(
            breathing_gap=scenario.box.breathing_gap,
            brace_span=panel_span(scenario.stock.board_thickness) if math.isnan(span) else span,
            c=scenario.air.c,
            round_over=scenario.box.round_over,
            cup=scenario.stock.terminal_cup,
            vent_excess=max(self.limits["vent_speed_m_s"] / slow, 1.0) if self.use.full_drive else 1.0,
            cup_room=_cup_room(scenario),
            wood=scenario.box.joint_distance,
            recess=scenario.box.baffle_recess,
        )
        self.layers = np.array([scenario.stock.layer_of(family.baffle) for family in self.families.items])
        families, own = self.families, (*_DIAMETERS, *_DEPTHS, "displacement")
        sunk = dict.fromkeys(("mounting_depth", "terminal_depth"), scenario.box.baffle_recess)
        self._drivers = drivers_of(
            facing=families.facing,
            number=families.wiring("count"),
            **{name: families.driver(name) + sunk.get(name, 0.0) for name in own},
            board=scenario.stock.board_thickness + self.layers,
            breathing_gap=scenario.box.breathing_gap,
            stirred=families.wiring("count") * families.acoustic["sd"] * fastest_cones(families) / slow,
        )
        # Of each family: what a cone keeps free anywhere, one that fires at a wall, and one that fires at the floor.
        gap, recess = scenario.box.breathing_gap, scenario.box.baffle_recess
        self._cone_air = np.array([family.wiring.driver.room_before(gap, recess=recess) for family in families.items])
        self._driver_air = air_before(families.driver("sd"), self._cone_air)
        # A family's passive radiators face where its drivers do.
        sizes = {name: families.part(name) for name in ("front_height", "xmax")}
        room = room_before(**sizes, gap=gap, recess=recess)
        radiator_air = np.nan_to_num(air_before(families.part("sd"), room))
        # Before the panel of those that fire down or up.
        self._before_panel = np.maximum(self._driver_air, radiator_air)
        self._below = np.where(families.facing == DOWN, self._before_panel, 0.0)
        # The margin above is air too.
        over = np.maximum(self._before_panel - scenario.space.margin, 0.0)
        self._above = np.where(families.facing == UP, over, 0.0)
        most = self.limits.get("bevel_angles", math.inf)
        self.slants = slants(scenario.saw, back_angle=scenario.box.back_angle, bevels=most)
        self.asked = [GOALS[key] for key in dict.fromkeys((*scenario.goals.objectives, *self.limits))]
        band = scenario.goals.music_band
        self.cabin_gain_db = mean_gain_db(scenario.cabin, music_band=band) if scenario.cabin else math.nan

    def cabin_level_db(self, hz: float) -> float:
        """What the vehicle adds at a frequency, dB; nan where none is given."""
        cabin = self.scenario.cabin
        return math.nan if cabin is None else float(gain_db(cabin, np.array([hz]))[0])

    def sawn(self, sizes: Mapping[str, Floats], *, layer: Floats | float = 0.0) -> dict[str, Floats]:
        """Outer sizes by their names, (N,) m each, brought down to what the builder's saw makes.

        Their baffles are a ``layer`` thicker than the board, m.

        What the job holds is exact as it is stated; of a section of which not all is held the baffle's slant is a whole
        step of the saw all the same, and the depth that is free follows, within its bounds.
        """
        scenario, held, bounds = self.scenario, self.scenario.held, self.scenario.bounds
        back_angle = scenario.box.back_angle
        shape: dict[str, Any] = {"board": scenario.stock.board_thickness, "back_angle": back_angle, "layer": layer}
        made = sawn(sizes, saw=scenario.saw, back_angle=back_angle, leans=self.slants, bounds=bounds)
        if not held:
            return made
        found = held_to(held, made, **shape)
        low, high = stated_way(BOTTOM, held), stated_way(TOP, held)
        # A width leaves the section as it is.
        if LEAN not in held and not (low and high) and held.keys() - {*WIDTH}:
            tall = np.maximum(found["outer_height"], scenario.saw.size_step)
            taper = (found["top_depth"] - found["bottom_depth"]) / tall
            free = "top_depth" if high is None else "bottom_depth"
            least, most = whole_steps(*bounds.get(free, (0.0, ENDLESS)), scenario.saw.size_step)

            def leaning(lean: Floats) -> tuple[dict[str, Floats], NDArray[np.bool_]]:
                """The sizes with a slant, and where the free depth is then within its bounds."""
                follows = held_to({**held, LEAN: -lean}, made, **shape)
                follows[free] = nearest_step(follows[free], scenario.saw.size_step)
                return follows, (follows[free] >= least - TOUCH) & (follows[free] <= most + TOUCH)

            behind, ahead = slants_beside(np.arctan(math.tan(back_angle) + taper), self.slants)
            (found, can), (other, could) = leaning(behind), leaning(ahead)
            found = {name: np.where(~can & could, other[name], size) for name, size in found.items()}
            found[free] = np.clip(found[free], least, most)
        elif LEAN in held and not (low or high):
            top = np.clip(found["top_depth"], *bounds.get("top_depth", (0.0, ENDLESS)))
            found["bottom_depth"] = found["bottom_depth"] + top - found["top_depth"]
            found["top_depth"] = top
        return {name: np.nan_to_num(size, nan=0.0) for name, size in found.items()}

    def bevel(self, wedges: Wedges) -> Floats:
        """What the saw is set to for the baffle, (N,) rad; positive where it leans forward going up."""
        scenario = self.scenario
        back_angle = scenario.box.back_angle
        return bevel_of(wedges.lean, tall=wedges.outer_height, saw=scenario.saw, back_angle=back_angle)

    def bevel_angles(self, wedges: Wedges) -> Integers:
        """How many different bevels are sawn for back and baffle, (N,)."""
        return different_bevels(self.bevel(wedges), back_angle=self.scenario.box.back_angle)

    def wedges(self, designs: Designs) -> Wedges:
        sizes = {name: getattr(designs, name) for name in SIZES}
        stock, back_angle = self.scenario.stock, self.scenario.box.back_angle
        return Wedges(**sizes, board=stock.board_thickness, back_angle=back_angle, layer=self.layers[designs.family])

    @cached_property
    def with_room(self) -> Evaluator:
        """The same job in a space without an end and without a door."""
        section = ((0.0, 0.0), (ENDLESS, 0.0), (ENDLESS, ENDLESS), (0.0, ENDLESS))
        space = Space(section=section, width=ENDLESS)
        return Evaluator(replace(self.scenario, space=space), without=self.without)

    def driver_air(self, designs: Designs) -> Floats:
        """Free height a driver that fires at a wall needs before it, (N,) m."""
        return np.asarray(self._driver_air[designs.family])

    def beside(self, designs: Designs) -> Floats:
        """Room needed on the right of boxes, before a driver in the side panel or the terminal cup, (N,) m."""
        sideways = self.families.facing[designs.family] == SIDEWAYS
        return np.maximum(np.where(sideways, self.driver_air(designs), 0.0), self.rules.cup_room)

    def below(self, designs: Designs) -> Floats:
        """Height kept free under boxes that fire down, (N,) m: that of their feet."""
        return np.asarray(self._below[designs.family])

    def above(self, designs: Designs) -> Floats:
        """Height kept free above boxes that fire up, beyond the margin, (N,) m."""
        return np.asarray(self._above[designs.family])

    def slant_violation(self, wedges: Wedges) -> Floats:
        """How far a baffle runs forward or back beyond what the saw tilts, half a step of sizes apart, (N,) m."""
        saw = self.scenario.saw
        beyond = np.abs(wedges.baffle_slope) - math.tan(saw.most_bevel)
        return np.asarray(beyond * wedges.outer_height - 0.5 * saw.size_step)

    def contents(self, designs: Designs) -> Contents:
        return Contents(
            drivers=self._drivers,
            which=designs.family,
            opening=self.families.opening[designs.family],
            sizes=self._gathered(designs, lambda group: group.opening.contents(group), {}),
        )

    def groups(self, designs: Designs, layout: Layout | None = None) -> list[Group]:
        """A batch as one group for each opening that is in it."""
        number = self.families.opening[designs.family]
        shared = {"scenario": self.scenario, "families": self.families, "designs": designs, "layout": layout}
        return [
            Group(opening, np.flatnonzero(number == code), self._shelves[opening.name], **shared)
            for code, opening in enumerate(OPENINGS.records)
            if (number == code).any()
        ]

    def _gathered(
        self,
        designs: Designs,
        asked: Callable[[Group], Mapping[str, NDArray[Any]]],
        absent: Mapping[str, float],
        layout: Layout | None = None,
    ) -> dict[str, Floats]:
        """What the openings say when each is ``asked`` for its designs, (N,) each, and ``absent`` elsewhere."""
        found = {name: np.full(len(designs), value) for name, value in absent.items()}
        for group in self.groups(designs, layout):
            for name, values in asked(group).items():
                if name not in found:
                    found[name] = np.full(len(designs), np.nan)
                found[name][group.rows] = values
        return found

    def _added_up(self, designs: Designs, layout: Layout, asked: Callable[[Group], Floats]) -> Floats:
        """One figure that every opening says when it is ``asked`` for its designs, (N,)."""
        found = np.zeros(len(designs))
        for group in self.groups(designs, layout):
            found[group.rows] = asked(group)
        return found

    def fit(self, designs: Designs, wedges: Wedges) -> Fit:
        return self.envelope.fit(wedges, below=self.below(designs), above=self.above(designs))

    def layout(self, designs: Designs, wedges: Wedges, fit: Fit, *, thorough: bool = True) -> Layout:
        """What lies where in boxes that stand where ``fit`` put them; a search is not ``thorough`` with misfits."""
        free_width = fit.x_high - fit.x_low + TOUCH
        worth = None if thorough else fit.violation <= 0.0
        up = self.families.facing[designs.family] == UP
        above = np.full(len(designs), np.inf)
        if up.any() or "top" in self.scenario.box.pipe_outlets:
            above = self.envelope.above(fit, wedges) + TOUCH
        return self.layout_within(
            designs,
            wedges,
            free_width=free_width,
            ahead=fit.ahead + TOUCH,
            under=np.where(up, above, self._before_panel[designs.family] + TOUCH),
            above=above,
            worth=worth,
        )

    def layout_within(
        self,
        designs: Designs,
        wedges: Wedges,
        *,
        free_width: Floats,
        ahead: Floats | float = np.inf,
        under: Floats | float = np.inf,
        above: Floats | float = np.inf,
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
            under=under,
            above=above,
            worth=worth,
        )

    def across(self, designs: Designs, wedges: Wedges, fit: Fit, layout: Layout) -> Floats:
        """Where boxes stand across the space: the left outer face, (N,) m from the left end of the space.

        Midway in what is left when vents through the left side and a driver in the right one have their air.
        """
        left = self._added_up(designs, layout, lambda group: group.opening.beside(group))
        right = self.beside(designs)
        spare = fit.x_high - fit.x_low - wedges.outer_width - left - right
        return fit.x_low + left + 0.5 * spare

    def air(self, designs: Designs, layout: Layout, fit: Fit) -> Air:
        """The air in laid-out boxes and round them, where ``fit`` put them."""
        cavities, ports = ports_of(layout)
        around = surroundings_of(
            self.envelope,
            layout,
            fit,
            ports,
            sd=self.families.driver("sd")[designs.family],
            radiator_sd=self.families.part("sd")[designs.family],
            across=self.across(designs, layout.wedges, fit, layout),
            below=self.below(designs),
        )
        return Air(cavities, ports, around)

    def acoustics(self, designs: Designs, layout: Layout, air: Air) -> Acoustics:
        """The acoustic side of laid-out designs: every driver as wired, in its net volume, with the air of that box."""
        lumped = self._lumped(designs, layout)
        if "thin box" in self.without or not len(designs):
            nothing, unknown = np.zeros(len(designs)), np.full(len(designs), np.nan)
            none = dict.fromkeys(("mutual", "air_mass", "driver_past", "opening_past"), nothing)
            inside = ThinBox(tuning=lumped.tuning, volume=lumped.volume, first_mode=unknown, **none)
            return Acoustics(lumped, inside, Inertance.none(len(designs)))
        lumped, beyond = self._outside(lumped, layout, air.around)
        inside = thin_box(
            cavities=air.cavities,
            ports=air.ports,
            tuning=lumped.tuning,
            volume=lumped.volume * lumped.filling,
            vent_length=layout.vent_acoustic_length,
            vent_area=lumped.vent_area,
            vent_count=lumped.vent_count,
            outer_end=layout.vent_outer_end,
            braces=braces_in(layout),
            sd=lumped.sd,
            driver_count=lumped.count,
            radiator_sd=lumped.radiator_sd,
            radiator_count=lumped.radiator_count,
            radiator_moving=lumped.radiator_mass,
            outside=beyond,
            air=lumped.air,
        )
        true: dict[str, Any] = {"tuning": inside.tuning, "mutual": inside.mutual, "air_mass": inside.air_mass}
        heavy = Inertance(**{each.name: lumped.air.rho * getattr(beyond, each.name) for each in fields(beyond)})
        return Acoustics(replace(lumped, volume=inside.volume / lumped.filling, **true), inside, heavy)

    def _outside(self, lumped: Systems, layout: Layout, around: Surroundings) -> tuple[Systems, Inertance]:
        """The systems with the friction of the air round the box, and what that air weighs beyond the open, 1/m."""
        if "walls near by" in self.without:
            return lumped, Inertance.none(len(lumped))
        frequency = np.where(lumped.tuned, lumped.tuning, CLOSED_HZ)
        openness = self.scenario.space.openness
        found = outside(
            niche=around.niche, openness=openness, mouths=around.mouths, frequency=frequency, air=lumped.air
        )
        driven, vented = lumped.count * lumped.sd**2, lumped.vent_count * lumped.vent_area
        moved = lumped.radiator_count * lumped.radiator_sd**2
        with np.errstate(divide="ignore", invalid="ignore"):
            # Free air on one side of a disc, and before an outer mouth.
            open_air = np.where(lumped.vented, layout.vent_outer_end / vented, free_side(lumped.radiator_sd) / moved)
            opening = np.where(lumped.tuned, np.maximum(found.inertance.opening - open_air, 0.0), 0.0)
        beyond = Inertance(
            driver=found.inertance.driver - free_side(lumped.sd) / driven,
            mutual=found.inertance.mutual,
            opening=opening,
        )
        drag = 2.0 * np.pi * frequency * lumped.air.rho
        rms = lumped.rms + drag * found.friction.driver * driven
        radiator_rms = lumped.radiator_rms + drag * found.friction.opening * moved
        return replace(lumped, rms=rms, radiator_rms=radiator_rms), beyond

    def _lumped(self, designs: Designs, layout: Layout) -> Systems:
        """The systems as if the air inside were a spring and nothing else."""
        families, family = self.families, designs.family
        tuned = families.tuned[family]
        driver = {name: values[family] for name, values in families.acoustic.items()}
        driver["thermal"] = self.duty * driver["thermal"]
        driver["rated_power"] = driver["rated_power"] / self.duty
        if "heat" in self.without:
            driver["thermal"] = np.zeros(len(designs))
        if "bent motor" in self.without:
            driver |= {name: np.zeros(len(designs)) for name in ("bl2", "bl4", "k2", "k4")}
        compliance, absorption = families.filling
        usual = np.array([kind.usual_ql for kind in KINDS.records])
        opening = self._gathered(designs, lambda group: group.opening.circuit(group), ABSENT, layout)
        if "jets" in self.without:
            opening["vent_loss"] = np.zeros(len(designs))
        return Systems(
            **driver,
            **opening,
            kind=families.kind[family],
            count=families.wiring("count")[family],
            voltage=families.wiring("voltage")[family],
            volume=layout.net_volume,
            filling=compliance[family],
            ql=np.where(tuned, self.scenario.box.ql, usual[families.kind[family]]),
            qa=absorption[family],
            qp=np.full(len(designs), np.inf),
            tuning=np.where(tuned, designs.tuning, np.nan),
            **self._filters(designs),
            mutual=np.zeros(len(designs)),
            air_mass=np.zeros(len(designs)),
            chain=self.scenario.chain,
            air=self.scenario.air,
        )

    def _filters(self, designs: Designs) -> dict[str, Any]:
        """What Systems have of the designs' filters, (N,) each."""
        families, family = self.families, designs.family
        return {
            "filter_order": families.filter_order[family].astype(float),
            "filter_hz": designs.filter_hz,
            "filter_q": families.filter_qs[0][family],
            "filter_q2": families.filter_qs[1][family],
        }

    def judge(
        self, designs: Designs, *, frequency: Floats = SEARCH_GRID, exact: bool = False, hear_all: bool = False
    ) -> Judgement:
        """Fit, layout, acoustics and constraints of a batch.

        Designs that do not fit are not heard (their figures cost the most time), unless ``hear_all`` asks for every one
        that has a volume.  ``exact`` asks for worst values at full power, see :func:`engine.acoustics.figures.figures`.
        """
        goals, boxes = self.scenario.goals, self.boxes_among(designs)
        built = self.filtered(designs, self.built(designs.take(boxes.first), hear_all=hear_all).spread(boxes.which))
        sound = figures(
            built.acoustics.systems,
            music_band=goals.music_band,
            vent_speed_limit=goals.vent_speed_limit,
            frequency=frequency,
            cabin=self.scenario.cabin,
            exact=exact,
            use=self.use,
            asked=frozenset().union(*(goal.hears for goal in self.asked)),
        )
        judgement = Judgement(**vars(built), figures=sound)
        self._hear(designs, judgement)
        return judgement

    def filtered(self, designs: Designs, built: Built) -> Built:
        """What a batch comes to, each design with its own filter."""
        filters = self._filters(designs.take(built.heard))
        systems = replace(built.acoustics.systems, **filters)
        return replace(built, acoustics=replace(built.acoustics, systems=systems))

    def boxes_among(self, designs: Designs) -> Boxes:
        """The boxes of a batch: designs that differ in nothing but their filter are one box."""
        tells = [self.families.box[designs.family], *map(designs.value, (*SIZES, "tuning", *designs.openings))]
        values = np.nan_to_num(np.stack(tells), nan=-1.0)  # no variable is negative
        return Boxes(*_firsts(values, np.argsort(codes(values.view(np.int64)), kind="stable")))

    def built(self, designs: Designs, *, hear_all: bool, drawn: Layout | None = None) -> Built:
        """Fit, layout and air of a batch, and the constraints that need no sound.

        Whether contents go in is asked with each where it is best put.  With ``drawn``, the layout that the boxes were
        drawn with, whatever comes after that is of contents that lie as drawn.
        """
        wedges = self.wedges(designs)
        fit = self.fit(designs, wedges)
        layout = self.layout(designs, wedges, fit, thorough=hear_all)
        constraints = {**self.of_shape(wedges, fit), **self.of_contents(designs, layout)}
        fits = np.max(np.stack(list(constraints.values())), axis=0) <= 0.0
        layout = layout if drawn is None else layout.arranged_as(drawn)
        heard = np.flatnonzero((layout.net_volume > 0.0) if hear_all else fits)
        some, laid = designs.take(heard), layout.take(heard)
        air = self.air(some, laid, fit.take(heard))
        cone_air = self._check_cones(some, heard, air.around, constraints)
        if not hear_all:
            clear = np.flatnonzero(constraints["cone air"][heard] <= 0.0)
            if len(clear) < len(heard):
                heard, some, laid, air = heard[clear], some.take(clear), laid.take(clear), air.take(clear)
        return Built(wedges, fit, layout, constraints, cone_air, heard, self.acoustics(some, laid, air))

    def of_shape(self, wedges: Wedges, fit: Fit) -> dict[str, Floats]:
        """The constraints that an empty box keeps or not, by name, (N,) each, 0 or less where kept."""
        return {
            "space": _touching(fit.violation),
            "door": _touching(self.envelope.door_violation(wedges)),
            "slant": _touching(self.slant_violation(wedges)),
            "thin end": _touching(self.scenario.box.least_depth - wedges.thin_end),
        }

    def of_contents(self, designs: Designs, layout: Layout) -> dict[str, Floats]:
        """Those that what is in it keeps or not before anything is heard, by name, (N,) each, 0 or less where kept."""
        return {**layout.violations, **self._gathered(designs, _own_limits, dict.fromkeys(limits(), KEPT), layout)}

    def _check_cones(
        self, some: Designs, rows: NDArray[np.intp], around: Surroundings, constraints: dict[str, Floats]
    ) -> Floats:
        """Add the constraint on the air before cones, known of ``some`` ``rows``; gives the least of it, (N,) m."""
        needed = self._gathered(some, lambda group: {"radiator": group.opening.before(group)}, {"radiator": 0.0})
        lacking = np.maximum(
            self._cone_air[some.family] - around.before_drivers, needed["radiator"] - around.before_radiators
        )
        count = len(next(iter(constraints.values())))
        constraints["cone air"], cone_air = np.full(count, KEPT), np.full(count, np.nan)
        constraints["cone air"][rows] = _touching(lacking)
        cone_air[rows] = np.minimum(around.before_drivers, around.before_radiators)
        return cone_air

    def _hear(self, designs: Designs, judgement: Judgement) -> None:
        """Add the constraints on what is heard: that there is an f3, the tuning's bounds, and the limits."""
        constraints, sound = judgement.constraints, judgement.figures

        def add(name: str, excess: Floats) -> None:
            """``excess`` of the rows heard, ≤ 0 where kept; the others count as worse than any of them."""
            every = np.full(len(designs), UNHEARD)
            every[judgement.heard] = below_one(excess)
            constraints[name] = np.nan_to_num(every, nan=UNHEARD)

        shortfalls = [goal.shortfall(sound) for goal in self.asked if goal.shortfall is not None]
        add("f3", np.max(shortfalls or [sound.f3_shortfall], axis=0) / 10.0)
        if "tuning" in self.scenario.bounds:
            low, high = self.scenario.bounds["tuning"]
            true = judgement.acoustics.systems.tuning
            outside = np.maximum(low - true, true - high) / high
            add("tuning", np.where(self.families.tuned[designs.family[judgement.heard]], outside, -1.0))
        add("brace speed", self.brace_speed(judgement) / self.scenario.goals.vent_speed_limit - 1.0)
        for key, worst in self.limits.items():
            excess = GOALS[key].turn * (self.objective(key, designs, judgement) - worst)
            add(LIMIT.format(key), excess / scale_of(GOALS[key], worst))

    def objective(self, key: str, designs: Designs, judgement: Judgement) -> Floats:
        """A goal's figure for the rows that were heard, (M,), SI.  Raises KeyError where there is no such goal."""
        return GOALS[key].figure(self, designs, judgement)[judgement.heard]

    def brace_speed(self, judgement: Judgement) -> Floats:
        """Worst peak air speed past a brace of the rows that were heard, (M,) m/s; 0 without braces.

        More than it will ever be: the largest volume velocities of drivers and of openings, whatever their frequency
        and phase, each times the largest part of it that passes any one brace, over what a brace leaves free beside
        pipes.  Drivers and radiators move as the linear model has it.
        """
        sound, air, inside = judgement.figures, judgement.acoustics.systems, judgement.acoustics.inside
        free = judgement.layout.brace_free[judgement.heard]
        # Turned down, a vent holds its limit, whether or not its speed was asked for.
        most = math.inf if self.use.full_drive else self.scenario.goals.vent_speed_limit
        vents = np.where(air.vented, air.vent_count * air.vent_area * np.fmin(sound.vent_speed, most), 0.0)
        radiators = np.where(air.radiating, air.radiator_count * air.radiator_sd * sound.radiator_speed, 0.0)
        passing = air.count * air.sd * sound.cone_speed * inside.driver_past
        passing = passing + (vents + radiators) * inside.opening_past
        return np.asarray(np.where(free > 0.0, passing / np.where(free > 0.0, free, 1.0), 0.0))

    def board(self, judgement: Judgement) -> Floats:
        """Board in the box, (N,) m³: panels, braces and what a slot is built of."""
        layout = judgement.layout
        return np.asarray(judgement.wedges.board_volume + layout.brace_volume + layout.slot_boards)

    def weight(self, designs: Designs, judgement: Judgement) -> Floats:
        """Board, drivers and what the openings add, (N,) kg; pipe and glue are left out."""
        families, family = self.families, designs.family
        drivers = families.wiring("count")[family] * families.driver("mass")[family]
        opening = self._added_up(designs, judgement.layout, lambda group: group.opening.weight(group))
        return self.board(judgement) * self.scenario.stock.board_density + drivers + opening

    def cost(self, designs: Designs, judgement: Judgement) -> Floats:
        """Drivers, board by area and openings, (N,) in the scenario's currency, nan without; offcuts left out."""
        if not self.scenario.currency:
            return np.full(len(designs), np.nan)
        stock, families, family = self.scenario.stock, self.families, designs.family
        second, face = self.layers[family], judgement.wedges.layer_face
        area = (self.board(judgement) - second * face) / stock.board_thickness + face
        drivers = families.wiring("count")[family] * families.driver("price")[family]
        opening = self._added_up(designs, judgement.layout, lambda group: group.opening.cost(group))
        return drivers + area * stock.board_price + opening

    def columns(self, designs: Designs, layout: Layout) -> dict[str, NDArray[Any]]:
        """The columns of the front that openings fill, (N,) each."""
        found: dict[str, NDArray[Any]] = {}
        for name in dict.fromkeys(name for opening in OPENINGS.records for name in opening.columns):
            kind = COLUMNS[name].kind
            absent: Any = "" if kind == "text" else 0 if kind == "count" else math.nan
            found[name] = np.full(len(designs), absent, dtype=object if kind == "text" else None)
        for group in self.groups(designs, layout):
            for name, column in group.opening.columns.items():
                found[name][group.rows] = column(group)
        return found

    def settled(self, family: Integers, rows: pd.DataFrame) -> dict[str, NDArray[Any]]:
        """The variables of all openings of rows of a front that are of those families, (N,) each."""
        found = {variable.name: variable.none(len(rows)) for variable in variables()}
        for code, opening in enumerate(OPENINGS.records):
            own = np.flatnonzero(self.families.opening[family] == code)
            if not len(own):
                continue
            for name, values in opening.settled(rows.iloc[own], self._shelves[opening.name]).items():
                found[name][own] = values
        return found


def _firsts(values: Floats, order: Indices) -> tuple[Indices, Indices]:
    """The first of the columns of ``values`` (k, N) that are equal and next to each other in an ``order``, and which of
    them each column is like, (N,); in rising order.
    """
    ordered = values[:, order]
    fresh = np.concatenate([[True], np.any(ordered[:, 1:] != ordered[:, :-1], axis=0)])[: len(order)]
    which = np.empty(len(order), dtype=np.intp)
    which[order] = np.cumsum(fresh) - 1
    first = order[fresh]
    return np.sort(first), np.argsort(np.argsort(first))[which]


def _own_limits(group: Group) -> dict[str, Floats]:
    """The constraints that its opening has of its own, (M,) each."""
    return {limit.name: limit.excess(group) for limit in group.opening.limits}


def _cup_room(scenario: Scenario) -> float:
    """Room in m beside a box for the plug in its terminal cup, beyond margin and clearance there."""
    if (cup := scenario.stock.terminal_cup) is None:
        return 0.0
    return max(cup.room - scenario.space.margin - scenario.space.clearance.right, 0.0)


def air_before(sd: Floats, room: Floats) -> Floats:
    """Free height in m that cones of area ``sd`` (m²) need before them when they fire at a wall or the floor.

    The gap round its rim is then as large as the cone: π d h = π d²/4 with d the cone's diameter (common practice, no
    source); nor is it less than the ``room`` that they need before them anywhere (``Driver.room_before``).
    """
    return np.asarray(np.maximum(0.25 * np.sqrt(4.0 * sd / math.pi), room))


def fastest_cones(families: Families) -> Floats:
    """Peak speed that no cone of each family passes at full drive, (families,) m/s.

    The linear model's at resonance, without inductance: V·bl/(re·rms + bl²), and a box can only take from it.
    """
    figures = families.acoustic
    damping = figures["re"] * figures["rms"] + figures["bl"] ** 2
    return np.asarray(math.sqrt(2.0) * families.wiring("voltage") * figures["bl"] / damping)


def below_one(excess: Floats) -> Floats:
    """Excess brought below 1 in the same order: a design that fits never counts as worse than a misfit."""
    return np.asarray(np.where(excess > 0.0, excess / (1.0 + np.abs(excess)), excess))


def scale_of(goal: Goal, worst: float) -> float:
    """What excess over a limit on a goal is measured by, SI: the limit, or the smallest difference worth keeping."""
    return max(abs(worst), goal.noticed)


def excess_of(violation: float) -> float:
    """The excess that :func:`below_one` made a violation of; inf where it was no number."""
    return violation / (1.0 - violation) if violation < UNHEARD else math.inf


def _touching(violation: Floats) -> Floats:
    """A violation, where what rounding makes of a box that just fits is none."""
    return np.where(np.abs(violation) < TOUCH, 0.0, violation)


def _rows(batch: Batch, rows: NDArray[np.intp]) -> Batch:
    """Some rows of a batch whose fields are all arrays."""
    found: Batch = type(batch)(**{each.name: getattr(batch, each.name)[rows] for each in fields(batch)})
    return found
