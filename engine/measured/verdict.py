"""What a finished box turned out to be beside what its design foresaw: how far off it is, what mends it."""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any

import numpy as np
import pandas as pd

from engine import built
from engine.acoustics.circuit import Systems
from engine.acoustics.figures import FIGURES_GRID, figures
from engine.arrays import Floats
from engine.evaluate import Result, evaluate, systems_of
from engine.goals import GOALS, goals_at, levels_among
from engine.judged import JudgedDesign
from engine.kinds import KINDS
from engine.measured.fit import Fit, fit
from engine.measured.names import DRIVER, LOSSES
from engine.measured.sweep import Sweep
from engine.measured.taken import Taken, changed_systems, in_box, in_closed_box, in_free_air
from engine.parts import Driver
from engine.search.evaluator import Evaluator, Judgement
from engine.search.front import designs_of, judged, undominated
from engine.stated_design import StatedDesign

FREQUENCY: Floats = np.geomspace(10.0, 200.0, 161)  # Hz, of measured over predicted
_SHORTEST = 0.02  # m, of a vent, that is still one
_SEEN = ("count", "money", "length", "volume", "mass")  # kinds of goals that no sound changes
_NO_COIL = dict.fromkeys(("l2", "r2", "inductance_kr", "inductance_xr", "inductance_ki", "inductance_xi"), 0.0)


@dataclass(frozen=True, kw_only=True, eq=False)
class Sweeps:
    """The sweeps of one box: at least one of it finished, and such of one of its drivers alone as there are.

    ``free`` is in free air, ``loaded`` the same with a mass in kg on the cone, ``closed`` in a closed box whose air
    takes a volume in m³.
    """

    box: tuple[Sweep, ...] = ()
    free: Sweep | None = None
    loaded: tuple[Sweep, float] | None = None
    closed: tuple[Sweep, float] | None = None

    def taken(self, systems: Systems, *, times: float) -> list[Taken]:
        """Each with the circuit that is foreseen of what it was taken of."""
        found = [in_box(each, systems, times=times) for each in self.box]
        found += [] if self.free is None else [in_free_air(self.free, systems)]
        found += [] if self.loaded is None else [in_free_air(self.loaded[0], systems, added=self.loaded[1])]
        return found + ([] if self.closed is None else [in_closed_box(self.closed[0], systems, volume=self.closed[1])])


@dataclass(frozen=True, kw_only=True)
class Mend:
    """What brings a box to the tuning foreseen, to each vent or passive radiator alike, with its 95 % interval.

    ``what`` is "vent" (m of its length) or "mass" (kg on a cone); ``change`` below 0 takes off.  ``now`` is what stands
    there by the drawing, nan where it is not known, and ``can`` says whether so much can be taken off.  ``volume`` is
    how much more air in the box would explain the tuning alone, m³, with its interval.
    """

    what: str
    change: float
    low: float
    high: float
    now: float
    can: bool
    volume: float
    volume_low: float
    volume_high: float


@dataclass(frozen=True, kw_only=True)
class Standing:
    """A box's goals as promised, as it turned out and mended, by key, SI, all at the gain promised.

    ``passed`` are limits that it breaks as it turned out, goal -> (figure, limit); ``lower_db`` by how much lower the
    gain must be set for every limit to hold, 0 or less where none has to.
    """

    promised: Mapping[str, float]
    measured: Mapping[str, float]
    mended: Mapping[str, float]
    passed: Mapping[str, tuple[float, float]]
    lower_db: float


@dataclass(frozen=True, kw_only=True)
class Others:
    """What a front comes to with the driver as measured.

    ``moved`` has for each goal the median and the ends of what the figures of that driver's designs change by, SI;
    ``designs`` counts them, ``lost`` those that then break a limit.  ``stays`` says whether the pick is still beaten by
    none, ``beaten_by`` by which it is then, ``before`` and ``after`` how many designs are on the front.
    """

    moved: Mapping[str, tuple[float, float, float]]
    designs: int
    lost: int
    stays: bool
    beaten_by: tuple[str, ...]
    before: int
    after: int


@dataclass(frozen=True, kw_only=True, eq=False)
class AsBuilt:
    """One box, as it was designed and as sweeps have it.  Made by :func:`of_design` or :func:`of_stated`."""

    stated: StatedDesign
    systems: Systems  # as foreseen, one row
    fit: Fit
    design: JudgedDesign | None = None

    @cached_property
    def measured_systems(self) -> Systems:
        """The circuit of the box as found, one row, drive and filter as designed."""
        return changed_systems(self.systems, self.fit.changes, coil=self.fit.coil)

    @property
    def tuned(self) -> bool:
        return KINDS[self.stated.box_kind].tuned

    @cached_property
    def curves(self) -> tuple[Floats, Floats]:
        """|Z| at the terminals measured, foreseen and as found, at ``FREQUENCY``: (161,) ohm each."""
        box = self.fit.taken[0]
        foreseen = box.impedance({"re": np.ones(1)}, "plain", FREQUENCY)[0]
        return np.abs(foreseen), np.abs(self.fit.impedance(box, FREQUENCY))

    @cached_property
    def mend(self) -> Mend | None:
        """What brings it to its tuning; None of a box that has none, or whose tuning was held."""
        tuning = self.fit.found.get("tuning")
        if not self.tuned or tuning is None or tuning.held or self.fit.box is None:
            return None
        stated, q = self.stated, self.systems
        ratios = [(hz / tuning.foreseen) ** 2 for hz in (tuning.value, tuning.low, tuning.high)]
        if KINDS[stated.box_kind].opening == "vent":
            # ω² goes with 1/(volume · mass): whichever is off, r times the mass there is about makes up for it.
            whole = built.effective_length(stated, tuning=tuning.foreseen)
            now = built.vent_length(stated)
            changes = [whole * (ratio - 1.0) for ratio in ratios]
            volumes = [stated.volume * (1.0 / ratio - 1.0) for ratio in ratios]
            what, least = "vent", _SHORTEST
        else:
            mass = float(q.radiator_mass[0])
            now = built.added_mass(stated)
            # Mass comes off as easily as on, so it is taken for what is off.
            changes = [mass * (1.0 - 1.0 / ratio) for ratio in ratios]
            volumes = [_more_air(q, ratio) for ratio in ratios]
            what, least = "mass", 0.0
        known = math.nan if now is None else now
        return Mend(
            what=what, change=changes[0], low=changes[1], high=changes[2], now=known,
            can=math.isnan(known) or known + changes[0] >= least - 1e-4,
            volume=volumes[0], volume_low=min(volumes[1:]), volume_high=max(volumes[1:]),
        )  # fmt: skip

    @cached_property
    def measured_stated(self) -> StatedDesign:
        """The stated design with driver, losses and tuning as found; no vent or mass is worked out from it."""
        changes = {name: float(each[0]) for name, each in self.fit.changes.items()}
        more: dict[str, Any] = {name: changes[name] for name in LOSSES if name in changes}
        if self.tuned:
            more["tuning"] = float(self.measured_systems.tuning[0])
        if self.stated.radiator is not None and "radiator_rms" in changes:
            radiator = self.stated.radiator
            more["radiator"] = replace(radiator, qms=radiator.qms / changes["radiator_rms"])
        return replace(self.stated, driver=measured_driver(self.stated.driver, self.fit), **more)

    @cached_property
    def evaluated(self) -> tuple[Result, Result]:
        """Figures and curves as ``evaluate`` has them, of the stated design and of the box as found."""
        given = evaluate(_heard_as(self.stated, self.systems), source="design")
        return given, evaluate(_heard_as(self.measured_stated, self.measured_systems), source="design")

    @cached_property
    def standing(self) -> Standing:
        """What it plays beside what was promised, by the goals of its job.  Only of a judged design."""
        design = self._design
        evaluator, promised = design.evaluator, design.judgement
        gain = np.ones(1) if evaluator.use.full_drive else promised.figures.gain
        keys = [key for key in self._keys if GOALS[key].had_by(design.row["box_kind"])]
        mended = replace(self.measured_systems, tuning=self.systems.tuning) if self.tuned else self.measured_systems
        told = [
            {key: _goal(design, judgement, key) for key in keys}
            for judgement in (promised, self._judged(self.measured_systems, gain), self._judged(mended, gain))
        ]
        limits = {goal.key: goal.mark.most(evaluator.scenario.goals) for goal in GOALS.records if goal.mark is not None}
        limits = {**limits, **evaluator.scenario.goals.limits}
        passed = {
            key: (told[1][key], limit)
            for key, limit in limits.items()
            if key in keys
            and GOALS[key].turn * (told[1][key] - limit) > GOALS[key].noticed
            and not GOALS[key].turn * (told[0][key] - limit) > GOALS[key].noticed
        }
        own = self._judged(self.measured_systems, None).figures.gain
        lower = 20.0 * math.log10(float(gain[0]) / max(float(own[0]), 1e-9))
        return Standing(
            promised=told[0], measured=told[1], mended=told[2], passed=passed,
            lower_db=0.0 if evaluator.use.full_drive else lower,
        )  # fmt: skip

    @property
    def _design(self) -> JudgedDesign:
        if self.design is None:
            raise ValueError("only what was judged for a job stands beside its goals")
        return self.design

    @property
    def _keys(self) -> list[str]:
        """Goals that hearing tells, in their order: those of the job, f3, and what has a limit."""
        evaluator = self._design.evaluator
        asked = {goal.key for goal in evaluator.asked} | {"f3_hz"}
        asked |= {goal.key for goal in GOALS.records if goal.mark is not None}
        keys = [goal.key for goal in goals_at(evaluator.levels)]
        asked |= set(levels_among(keys))
        cabin = self._design.scenario.cabin is not None
        return [
            key for key in keys
            if key in asked and GOALS[key].kind not in _SEEN and (cabin or "cabin" not in GOALS[key].needs)
        ]  # fmt: skip

    def _judged(self, systems: Systems, gain: Floats | None) -> Judgement:
        design = self._design
        evaluator, goals, before = design.evaluator, design.scenario.goals, design.judgement
        sound = figures(
            systems, music_band=goals.music_band, vent_speed_limit=goals.vent_speed_limit, frequency=FIGURES_GRID,
            cabin=design.scenario.cabin, exact=True, use=evaluator.use, gain=gain,
        )  # fmt: skip
        return replace(before, acoustics=replace(before.acoustics, systems=systems), figures=sound)

    def others(self, front: pd.DataFrame) -> Others:
        """What the front that the design is from comes to with the driver as measured, all else as drawn."""
        design = self._design
        scenario, row = design.scenario, design.row
        candidates = tuple(
            replace(each, driver=measured_driver(each.driver, self.fit, wired=self.stated.driver))
            if each.driver.name == row["driver"]
            else each
            for each in scenario.candidates
        )
        evaluator = Evaluator(replace(scenario, candidates=candidates))
        own = (front["driver"] == row["driver"]).to_numpy()
        designs = designs_of(evaluator, front[own])
        judgement = evaluator.judge(designs, frequency=FIGURES_GRID, exact=True, hear_all=True)
        table, right = judged(evaluator, designs, judgement), judgement.feasible
        objectives = scenario.goals.objectives
        after = front.copy()
        moved = {}
        for key in self._keys:
            if key in front.columns:
                change = table[key].to_numpy(float) - front.loc[own, key].to_numpy(float)
                if np.isfinite(change).any():
                    moved[key] = (float(np.nanmedian(change)), float(np.nanmin(change)), float(np.nanmax(change)))
        for key in objectives:
            after[key] = after[key].astype(float)
            after.loc[own, key] = table[key].to_numpy(float)
        kept = np.ones(len(front), dtype=bool)
        kept[np.flatnonzero(own)[~right]] = False
        there = after[kept].reset_index(drop=True)
        on = there[undominated(there, objectives)]
        here = after[after["id"] == row["id"]]
        beaten = _beaten_by(there, here, objectives) if len(here) else ()
        kept_limits = bool(kept[(front["id"] == row["id"]).to_numpy()].all())
        return Others(
            moved=moved, designs=int(own.sum()), lost=int(np.sum(~right)), beaten_by=beaten,
            stays=kept_limits and row["id"] in set(on["id"]), before=len(front), after=len(on),
        )  # fmt: skip


def invented(design: JudgedDesign) -> Sweep:
    """A sweep to try: of the design with a vent or mass that tunes 5 % low, a driver 4 % high, and 0.4 % of noise."""
    rng, number = np.random.default_rng(1), 140
    hz = np.geomspace(6.0, 400.0, number)
    changes = {"fs": np.array([1.04]), "qms": np.array([0.9]), "vas": np.array([0.94]), "tuning": np.array([0.95])}
    taken = in_box(Sweep(source="", frequency=hz, magnitude=hz), design.systems, times=_times(design))
    z = taken.impedance(changes, "plain", hz)[0]
    size = np.abs(z) * np.exp(0.004 * rng.normal(size=number))
    phase = np.angle(z) + 0.004 * rng.normal(size=number)
    return Sweep(source="invented.csv", frequency=hz, magnitude=size, phase=phase)


def _times(design: JudgedDesign) -> float:
    """What the impedance of all its drivers is of one's."""
    wiring = design.evaluator.families.items[int(design.designs.family[0])].wiring
    return wiring.in_series / wiring.in_parallel


def of_design(design: JudgedDesign, sweeps: Sweeps, **how: Collection[str]) -> AsBuilt:
    """A judged design measured; ``how`` is ``hold`` and ``tell`` of :func:`engine.measured.fit.fit`.

    Impedance is that of all its drivers as wired.  Raises InputFaults, see there.
    """
    found = fit(sweeps.taken(design.systems, times=_times(design)), **how)
    return AsBuilt(stated=design.stated, systems=design.systems, fit=found, design=design)


def of_stated(stated: StatedDesign, sweeps: Sweeps, *, in_series: int = 1, **how: Collection[str]) -> AsBuilt:
    """A stated design measured, so many of its drivers ``in_series``, the strings in parallel."""
    systems = systems_of(stated)
    found = fit(sweeps.taken(systems, times=in_series**2 / stated.count), **how)
    return AsBuilt(stated=stated, systems=systems, fit=found)


def measured_driver(driver: Driver, found: Fit, *, wired: Driver | None = None) -> Driver:
    """A driver with the figures found; ``wired`` is the same with its coils joined as measured."""
    changes = {name: float(each[0]) for name, each in found.changes.items()}
    figures = {name: getattr(driver, name) * changes[name] for name in DRIVER if name in changes}
    joined = 1.0 if wired is None else driver.re / wired.re
    if found.coil == "wright":
        figures |= {f"inductance_{name}": changes[name] * joined for name in ("kr", "ki") if name in changes}
    elif "le" in changes:
        figures |= _NO_COIL | {"le": changes["le"] * joined, "inductance_exponent": changes.get("n", 1.0)}
        figures |= {name: changes[name] * joined for name in ("l2", "r2") if name in changes}
    return replace(driver, **figures)


def _heard_as(stated: StatedDesign, systems: Systems) -> StatedDesign:
    """A stated design whose tuning is stated, so that nothing is worked out for it."""
    return replace(stated, tuning=float(systems.tuning[0])) if KINDS[stated.box_kind].tuned else stated


def _more_air(q: Systems, ratio: float) -> float:
    """How much more air in a box would make of its squared tuning ``ratio`` times what is foreseen, m³ (Small 1974)."""
    suspension = 1.0 / float(q.radiator_cms[0])
    air = float(q.radiator_count[0] * q.radiator_sd[0] ** 2 / q.cab[0])
    left = ratio * (suspension + air) - suspension
    return float(q.volume[0]) * (air / left - 1.0) if left > 0.0 else math.inf


def _goal(design: JudgedDesign, judgement: Judgement, key: str) -> float:
    return float(GOALS[key].figure(design.evaluator, design.designs, judgement)[0])


def _beaten_by(there: pd.DataFrame, here: pd.DataFrame, objectives: Sequence[str]) -> tuple[str, ...]:
    """Ids of designs that are no worse than one in any goal and better in one."""
    turns = np.array([GOALS[key].turn for key in objectives])
    every, one = there[list(objectives)].to_numpy(float) * turns, here[list(objectives)].to_numpy(float)[0] * turns
    beats = np.all(every <= one, axis=1) & np.any(every < one, axis=1)
    return tuple(str(name) for name in there["id"][beats])
