"""A judged design: one row of a front worked out exactly once, and all that is told, drawn and written of it.

Pages, report and command line take this object.  Judging costs most; the rest is worked out when first asked for
and kept with the object.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from engine.acoustics.cabin import gain_db
from engine.acoustics.circuit import Systems
from engine.acoustics.curves import Curves, curves
from engine.acoustics.distortion import distortion
from engine.acoustics.figures import FIGURES_GRID
from engine.acoustics.large_signal import respond_large
from engine.acoustics.limits import LIMITS
from engine.acoustics.recommend import CHOICES, UNNEEDED, Choice, recommend
from engine.acoustics.validity import words
from engine.arrays import Floats
from engine.constraints import Shortfall
from engine.formats.given import write_given
from engine.insight.reasons import Option, options, why
from engine.insight.tolerance import Spread, spread, swings
from engine.kinds import KINDS
from engine.quantities import Units
from engine.scenario import Scenario
from engine.search.evaluator import Designs, Evaluator, Judgement
from engine.search.front import designs_of, largest_dimension, validity_of
from engine.search.shortfall import shortfalls
from engine.space.arrangement import bodies_of
from engine.space.bodies import Assembly
from engine.space.pieces import pieces_of
from engine.space.sizes import OUTER
from engine.space.solids import Inspection, exact_check
from engine.stated_design import StatedDesign
from engine.wiring import why_wired, wirings
from engine.workshop.design import Design
from engine.workshop.drawings import VIEWS, design_to_draw
from engine.workshop.set_up import SetUp, set_up_of

FREQUENCY: Floats = np.geomspace(10.0, 200.0, 161)  # Hz, of every chart over frequency
BAND_POINTS = 400  # frequencies over the music band at which the limits' shares are counted


@dataclass(frozen=True, kw_only=True)
class Recommendation:
    """The high-pass with which one design plays loudest at one setting of the gain.

    ``order``, ``shape`` and ``q`` are those of a filter where one is ``needed`` and helps; else ``shape`` is empty
    and ``hz`` nan.  ``turned_down_db`` is how far the gain has to come down without any, and ``levels`` are those at
    the frequencies that the job names: Hz, dB without a filter, dB with it.
    """

    needed: bool
    order: int
    shape: str
    q: float
    hz: float
    f3_without: float
    f3_with: float
    turned_down_db: float
    levels: tuple[tuple[float, float, float], ...]


@dataclass(frozen=True, kw_only=True, eq=False)
class JudgedDesign:
    """One design of a front, or of what was left out of it, judged as its figures were.

    Made by :meth:`of` or, for several at once, :meth:`batch`.  A design whose parts leave it no air is not heard; what
    is told of its sound then raises ValueError.
    """

    evaluator: Evaluator  # the scenario it was found for, made ready
    row: Mapping[str, Any]  # of the table, SI, keys of engine.columns.COLUMNS
    designs: Designs  # the same as a batch of one
    judgement: Judgement  # what that comes to: exact, on the fine grid
    _drawings: dict[tuple[str, Units], str] = field(default_factory=dict, init=False, repr=False)
    _sure: dict[Any, tuple[Spread, dict[str, dict[str, Floats]]]] = field(default_factory=dict, init=False, repr=False)

    @classmethod
    def of(cls, scenario: Scenario, row: Mapping[str, Any]) -> JudgedDesign:
        """Judge one row found for a scenario.

        Raises KeyError where the scenario has no such driver, wiring, radiator or filter.

        >>> from engine.formats.scenario import demo_scenarios, read_scenario
        >>> from engine.search.runs import run
        >>> scenario = read_scenario(demo_scenarios()["van-bench"])
        >>> front = run(scenario, evaluations=4_096).front
        >>> design = JudgedDesign.of(scenario, front.iloc[0])
        >>> design.curves.spl_db.shape, design.inspection.ok
        ((1, 161), True)
        """
        (design,) = cls.batch(Evaluator(scenario), [row])
        return design

    @classmethod
    def batch(cls, evaluator: Evaluator, rows: Sequence[Mapping[str, Any]]) -> list[JudgedDesign]:
        """Judge several rows found for one scenario, at the cost of one call; none of them gives none."""
        if not rows:
            return []
        designs = designs_of(evaluator, pd.DataFrame([dict(row) for row in rows]))
        judgement = evaluator.judge(designs, frequency=FIGURES_GRID, exact=True, hear_all=True)
        each = (np.array([number]) for number in range(len(rows)))
        return [
            cls(evaluator=evaluator, row=row, designs=designs.take(one), judgement=judgement.take(one))
            for row, one in zip(rows, each, strict=True)
        ]

    @property
    def scenario(self) -> Scenario:
        """What it was found for."""
        return self.evaluator.scenario

    @property
    def systems(self) -> Systems:
        """Its acoustic circuit, a batch of one, with the air of this box.  Raises ValueError where it is not heard."""
        if not len(self.judgement.heard):
            raise ValueError("a design whose parts leave no air in the box has no sound")
        return self.judgement.acoustics.systems

    @cached_property
    def curves(self) -> Curves:
        """Its curves over ``FREQUENCY`` (161,), each (1, 161)."""
        return self.curves_at(FREQUENCY)

    def curves_at(self, frequency: Floats) -> Curves:
        """Its curves over ``frequency`` (F,) in Hz, each (1, F); not kept."""
        goals, gain = self.scenario.goals, None if self.evaluator.use.full_drive else self.judgement.figures.gain
        return curves(self.systems, frequency=frequency, vent_speed_limit=goals.vent_speed_limit, gain=gain)

    @cached_property
    def distortion(self) -> tuple[tuple[float, float], ...]:
        """At each frequency that the job names, Hz, about what its tone distorts as it is used, a ratio."""
        hertz, gain = np.array(self.evaluator.levels), self.judgement.figures.gain
        found = respond_large(self.systems, frequency=hertz, gain=gain)
        ratios = distortion(found)[0]
        return tuple(zip(hertz.tolist(), ratios.tolist(), strict=True))

    @cached_property
    def cabin_db(self) -> Floats:
        """What the cabin adds over half space at ``FREQUENCY``, (161,) dB; nan where the scenario states no cabin."""
        cabin = self.scenario.cabin
        return np.full(len(FREQUENCY), np.nan) if cabin is None else gain_db(cabin, FREQUENCY)

    @cached_property
    def limit_shares(self) -> dict[str, float]:
        """Share of the music band (log frequency) over which each limit binds, largest first."""
        band = np.geomspace(*self.scenario.goals.music_band, BAND_POINTS)
        binding = self.curves_at(band).limited_by[0]
        shares = np.array([np.mean(binding == code) for code in range(len(LIMITS))])
        return {LIMITS[code]: float(shares[code]) for code in np.argsort(-shares, kind="stable") if shares[code] > 0.0}

    @cached_property
    def model_ends(self) -> tuple[str, ...]:
        """Where the model stops for it, in sentences."""
        return tuple(words(validity_of(self.evaluator, self.judgement), self.judgement.figures, 0))

    @cached_property
    def bodies(self) -> Assembly:
        """What stands where in it, as solids in the box's axes, m."""
        return bodies_of(self.judgement.layout, 0)

    @cached_property
    def inspection(self) -> Inspection:
        """Its solids measured in three dimensions against the clearances the scenario asks for."""
        contents, fit, box = self.judgement.layout.contents, self.judgement.fit, self.scenario.box
        radiators = contents.sizes.get("radiator_displacement", np.zeros(1))
        displaced = {"driver": contents.driver("displacement"), "radiator": radiators}
        return exact_check(
            self.bodies,
            gap=box.breathing_gap,
            round_over=box.round_over,
            free_width=float(fit.x_high[0] - fit.x_low[0]),
            driver_air=float(self.evaluator.driver_air(self.designs)[0]),
            displacement={thing: float(volume[0]) for thing, volume in displaced.items()},
        )

    @cached_property
    def shortfalls(self) -> tuple[Shortfall, ...]:
        """All that it is short of; nothing of designs of a front."""
        constraints = {name: float(excess[0]) for name, excess in self.judgement.constraints.items()}
        return shortfalls(constraints, self.evaluator.limits)

    @cached_property
    def recommendation(self) -> Recommendation:
        """The high-pass for it, whatever filter it has: of the usual ones and of those of the job's own Q."""
        own = dict.fromkeys(Choice("own", 2, each.q) for each in self.scenario.filters if each.shape == "own")
        choices = (*CHOICES, *(each for each in own if each not in CHOICES))
        goals = self.scenario.goals
        found = recommend(self.systems, use=goals.use, vent_speed_limit=goals.vent_speed_limit, choices=choices)
        number = int(found.choice[0])
        choice = choices[number] if number >= 0 else Choice("", 0)
        figures = {"hz": found.hz, "f3_without": found.f3_without, "f3_with": found.f3}
        return Recommendation(
            **{name: float(each[0]) for name, each in figures.items()}, turned_down_db=float(found.turned_down_db[0]),
            needed=number != UNNEEDED, order=choice.order, shape=choice.shape, q=choice.own_q,
            levels=tuple(zip(goals.levels, found.levels_without[0].tolist(), found.levels[0].tolist(), strict=True)),
        )  # fmt: skip

    @cached_property
    def options(self) -> dict[str, list[Option]]:
        """Every small change that would improve a goal, by goal; its neighbours are judged in one batch."""
        return options(self.evaluator, self.designs, self.judgement)

    def why(self, units: Units) -> dict[str, str]:
        """Why it is where it is on the front: goal -> one sentence."""
        return why(self.options, units=units, currency=self.scenario.currency)

    @cached_property
    def wired(self) -> str:
        """How its drivers are wired, what that draws, and what every other wiring would, in sentences."""
        row, amplifier = self.row, self.scenario.amplifier
        driver = next(each.driver for each in self.scenario.candidates if each.driver.name == row["driver"])
        ways = wirings(driver, int(row["driver_count"]), amplifier)
        wiring = next(each for each in ways if each.words == row["wiring"])
        share = math.inf if self.scenario.goals.use.full_drive else float(row["power_share"])
        return why_wired(wiring, driver=driver, amplifier=amplifier, used=share * wiring.power)

    @cached_property
    def set_up(self) -> SetUp:
        """How it is wired and set up once it is built.  Raises ValueError where it is not heard."""
        systems, sound = self.systems, self.judgement.figures
        return set_up_of(
            self.scenario,
            family=self.evaluator.families.items[int(self.designs.family[0])],
            systems=systems,
            filter_hz=float(self.designs.filter_hz[0]),
            gain=float(sound.gain[0]),
            limited_by=LIMITS[int(sound.gain_limit[0])],
            limited_hz=float(sound.gain_hz[0]),
            levels=sound.levels[0].tolist(),
        )

    def sure(self, tolerance: Mapping[str, float] | None = None) -> tuple[Spread, dict[str, dict[str, Floats]]]:
        """What boxes come to that are built like it, and what swings that; without ``tolerance`` the job's own.

        Worked out exactly, see :mod:`engine.insight.tolerance`.
        """
        known = self.scenario.tolerance if tolerance is None else tolerance
        key = tuple(known.items())
        if key not in self._sure:
            rows = pd.DataFrame([dict(self.row)])
            built = spread(self.evaluator, rows, exact=True, tolerance=known)
            self._sure[key] = built, swings(self.evaluator, rows, tolerance=known)
        return self._sure[key]

    @cached_property
    def stated(self) -> StatedDesign:
        """It as ``wedgefront evaluate`` reads it, with the tuning, the spring and the masses of the air in this box."""
        scenario, row, systems, judgement = self.scenario, self.row, self.systems, self.judgement
        family = self.evaluator.families.items[int(self.designs.family[0])]
        (group,) = self.evaluator.groups(self.designs, judgement.layout)
        wiring, filter_ = family.wiring, family.filter
        driver, stated = wiring.driver, dict(family.opening.stated(row, group))
        # The friction of the air before cones is in their Qms.
        if (radiator := stated.get("radiator")) is not None:
            qms = radiator.qms * radiator.rms / float(systems.radiator_rms[0])
            stated["radiator"] = replace(radiator, qms=qms)
        same: dict[str, Any] = {
            name: float(getattr(systems, name)[0]) for name in ("volume", "ql", "qa", "filling", "air_mass")
        }
        return StatedDesign(
            **stated,
            driver=replace(driver, qms=driver.qms * driver.rms / float(systems.rms[0])),
            count=wiring.count, voltage=wiring.voltage, box_kind=family.box_kind,
            **same, inertance=float(systems.mutual[0]),
            largest_dimension=float(largest_dimension(judgement)[0]),
            first_mode=float(judgement.acoustics.inside.first_mode[0]),
            vent_loss=float(systems.vent_loss[0]) if systems.vent_count[0] else None,
            tuning=float(systems.tuning[0]) if KINDS[family.box_kind].tuned else None,
            filter_order=filter_.order, filter_shape=filter_.shape, filter_q=filter_.q,
            filter_hz=float(row["filter_hz"]) if filter_.order else 0.0,
            chain=scenario.chain, cabin=scenario.cabin, air=scenario.air,
            vent_speed_limit=scenario.goals.vent_speed_limit, music_band=scenario.goals.music_band,
            crest_factor=scenario.amplifier.crest_factor,
            fed_from=scenario.goals.fed_from, levels=scenario.goals.levels,
        )  # fmt: skip

    @cached_property
    def file(self) -> str:
        """The text of a file that gives it, with all that it takes to build it."""
        scenario = self.scenario
        family = self.evaluator.families.items[int(self.designs.family[0])]
        (group,) = self.evaluator.groups(self.designs, self.judgement.layout)
        values = {
            "kind": family.box_kind, "driver": family.wiring.driver.name, "count": family.wiring.count,
            "load": family.wiring.load, "facing": family.facing, "baffle": family.baffle,
            **{name: float(self.designs.value(name)[0]) for name in OUTER},
            "filling": family.fitting.filling or "none", **family.opening.giving(group),
        }  # fmt: skip
        if KINDS[family.box_kind].tuned:
            values["tuning"] = float(self.systems.tuning[0])
        filter_ = None
        if (choice := family.filter).order:
            filter_ = {
                "kind": "highpass",
                "shape": choice.shape,
                "order": choice.order,
                "frequency": float(self.designs.filter_hz[0]),
            }
            filter_ |= {} if math.isnan(choice.q) else {"q": choice.q}
        return write_given(scenario, values, filter_=filter_, pieces=pieces_of(self.bodies))

    @cached_property
    def drawn(self) -> Design:
        """It as the workshop draws it: solids, where it stands, and what else a drawing says."""
        return design_to_draw(self.scenario, self.row, self.bodies)

    def drawing(self, view: str, units: Units) -> str:
        """One of its drawings, a name of :data:`engine.workshop.drawings.VIEWS`, as SVG text."""
        if (view, units) not in self._drawings:
            self._drawings[view, units] = VIEWS[view](self.scenario, self.drawn, units)
        return self._drawings[view, units]
