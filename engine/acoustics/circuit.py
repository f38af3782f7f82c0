"""The equivalent circuit of driver, box and vent or passive radiators, in plain complex form.

Each driver, seen from the mechanical side with every phasor RMS and exp(+jωt):

    V·H ── re ── jω·le ── (jω·l2 ∥ r2) ── kr·ω^xr + j·ki·ω^xi ──┐
                                                            bl (gyrator)
                               rms ── jω·(mms + mair) ── 1/(jω·cms) ── sd·p

and p is the pressure that n drivers' volume velocity n·sd·u raises in the box:

    n·sd·u ──┬───────────┬──────────────┐
         1/(jω·cab)      │              │
          jω·mutual      │       jω·(map - mutual)
            rab         ral            rap
         ───┴───────────┴──────────────┴───

A passive radiator stands where the vent does: its mass is map, its losses are rap, and its suspension adds 1/(jω·cap)
in series (Small 1974).  What goes into cab is what comes out of all openings together, so it falls to nothing where
radiator and drivers oppose each other: a notch, at the radiator's own resonance outside the box.

In a box much wider than deep the air itself has inertia between cones and openings
(:mod:`engine.acoustics.cavity`).  As two flows that share a part of it, that is a T: ``mutual`` in series with the
compliance, the rest in ``air_mass`` on each cone and in map, which is the whole mass that resonates with cab
at the tuning while the cones are held.  ``mutual`` may be negative: fine as a number, not as a part.

Lumped, so good while the box is small against the wavelength (Thiele 1971; Small 1972, 1973).  What
grows with the level (``thermal`` and after it in :class:`Systems`) is in :mod:`engine.acoustics.large_signal`.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from functools import cached_property
from typing import Any

import numpy as np

from engine.acoustics import filters, travel
from engine.acoustics.heating import COEFFICIENTS
from engine.acoustics.inductance import PowerLaw, inductance, lossy_from_sheet
from engine.air import REFERENCE_AIR, Air
from engine.arrays import Complexes, Flags, Floats, Indices, Integers, Number
from engine.kinds import KINDS, radiator, told_by
from engine.kinds.record import Branch, merged
from engine.parts import Driver, PassiveRadiator

Index = Flags | Indices | Integers | slice | tuple[slice, None]

SHARED = ("chain", "air")  # fields of Systems that all rows have in common
_CONE = ("sd", "cms", "rms", "xmax")  # what a passive radiator brings
# Entries of boxes whose opening says nothing of them.
ABSENT = dict.fromkeys(("vent_count", "vent_area", "vent_loss", "radiator_count"), 0.0) | dict.fromkeys(
    (f"radiator_{name}" for name in _CONE), math.nan
)
# What stands for the fields that nobody states to Systems.of; a box has the leak usual for its kind.
_UNSTATED = {
    **dict.fromkeys(("count", "filling"), 1.0), **dict.fromkeys(("qa", "qp"), math.inf),
    **dict.fromkeys(("tuning", "vent_area"), math.nan),
    **dict.fromkeys(("vent_count", "vent_loss", "mutual", "air_mass", "radiator_count"), 0.0),
    **dict.fromkeys(("filter_order", "filter_hz"), 0.0),
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Systems:
    """A batch of N boxes with their drivers, drive and filter; every field (N,), SI.

    ``voltage`` is RMS at each driver's terminals, before the filter.  ``volume`` is that of the box's spring;
    ``filling`` multiplies its compliance.  ``ql``, ``qa``, ``qp`` are inf where there is no
    such loss.  ``kind`` is the code in :data:`engine.kinds.KINDS` of the kind of box, which says its network; left
    out, it is told by whether there are vents or passive radiators or neither.  ``tuning`` is the true one: where
    the whole mass behind it, the air of a thin box included, resonates with the box while the cones are held.
    The fields of what a row does not have are not looked at.

    ``air_mass`` is what the box's air adds to each cone in kg beyond what ``mms`` holds already and without
    ``mutual``, n·sd²·(the drivers' inertance - mutual) in full; both are 0 in a box that is no thin one.
    ``thermal`` 0, ``vent_loss`` 0, and all of ``bl2`` to ``xi`` 0 each leave an effect of the level out.

    ``filter_order`` 0 is no high-pass; ``filter_q`` and ``filter_q2`` are the Q of its sections of
    second order (:func:`engine.acoustics.filters.section_qs`).  ``chain`` is what else the signal
    passes, the same for all.  Nothing is validated: a row that makes no sense gives nan in that row.
    """

    count: Floats  # drivers
    sd: Floats  # m²
    cms: Floats  # m/N
    mms: Floats  # kg
    rms: Floats  # N s/m
    bl: Floats  # T m
    re: Floats  # ohm
    le: Floats  # H
    l2: Floats  # H
    r2: Floats  # ohm
    kr: Floats  # ohm at 1 rad/s, with xr, ki, xi the coil's power law (inductance.py)
    xr: Floats
    ki: Floats  # ohm at 1 rad/s
    xi: Floats
    thermal: Floats  # K/W, coil to air
    coefficient: Floats  # 1/K, of the coil's resistance
    bl2: Floats  # 1/m², with bl4 the bend of bl over the cone's position (travel.py)
    bl4: Floats  # 1/m⁴
    k2: Floats  # 1/m², with k4 that of 1/cms
    k4: Floats  # 1/m⁴
    voltage: Floats  # V
    xmax: Floats  # m, one-way peak
    rated_power: Floats  # W, one driver
    volume: Floats  # m³
    filling: Floats
    ql: Floats
    qa: Floats
    qp: Floats
    tuning: Floats  # Hz
    mutual: Floats  # kg/m⁴, inertance of the box's air that cones and openings share
    air_mass: Floats  # kg
    vent_count: Floats
    vent_area: Floats  # m², one vent
    vent_loss: Floats  # K in ½ρ·w² of one vent (turbulence.py)
    radiator_count: Floats
    radiator_sd: Floats  # m², one passive radiator
    radiator_cms: Floats  # m/N
    radiator_rms: Floats  # N s/m
    radiator_xmax: Floats  # m, one-way peak
    filter_order: Floats
    filter_hz: Floats
    filter_q: Floats
    filter_q2: Floats
    kind: Integers = field(default_factory=lambda: np.zeros(0, dtype=np.int64))
    chain: filters.Chain = filters.NO_CHAIN
    air: Air = REFERENCE_AIR

    def __post_init__(self) -> None:
        if len(self.kind) != len(self.volume):
            object.__setattr__(self, "kind", told_by(vent_count=self.vent_count, radiator_count=self.radiator_count))

    @classmethod
    def of(
        cls,
        driver: Driver | Sequence[Driver],
        *,
        kind: str | None = None,
        radiator: PassiveRadiator | Sequence[PassiveRadiator] | None = None,
        chain: filters.Chain = filters.NO_CHAIN,
        air: Air = REFERENCE_AIR,
        **stated: Number | Sequence[float],
    ) -> Systems:
        """Systems from one driver, or one driver a row; numbers and (N,) arrays broadcast.

        The drivers bring what they do at full power (:func:`driver_figures`).  ``kind`` is that of all rows; without
        it the openings tell.  ``stated`` are the other fields, ``volume`` and ``voltage`` at the least.  Without ``ql``
        a box has the leak usual for its kind, without ``filter_q`` and ``filter_q2`` the filter is a Butterworth.
        Raises TypeError for what is no field.
        """
        drivers = [driver] if isinstance(driver, Driver) else list(driver)
        each_driver = [driver_figures(each) for each in drivers]
        figures = {name: np.array([each[name] for each in each_driver]) for name in each_driver[0]}
        known = {name: np.asarray(value, float) for name, value in (_UNSTATED | stated).items()}
        kinds = told_by(vent_count=known["vent_count"], radiator_count=known["radiator_count"])
        if kind is not None:
            kinds = np.full_like(kinds, KINDS.code(kind))
        q, q2 = filters.section_qs(shape="butterworth", order=known["filter_order"])
        usual = {"ql": KINDS.each("usual_ql")[kinds], "filter_q": q, "filter_q2": q2}
        radiators = [radiator] if radiator is None or isinstance(radiator, PassiveRadiator) else list(radiator)
        for name in _CONE:
            usual[f"radiator_{name}"] = np.array([getattr(each, name, math.nan) for each in radiators])
        arrays = figures | usual | known
        spread = np.broadcast_arrays(*map(np.atleast_1d, arrays.values()))
        rows = {name: each.copy() for name, each in zip(arrays, spread, strict=True)}
        return cls(**rows, kind=np.broadcast_to(kinds, rows["volume"].shape).copy(), chain=chain, air=air)

    def __len__(self) -> int:
        return len(self.volume)

    def take(self, index: Index) -> Systems:
        """The rows that ``index`` picks, as Systems."""
        rows = {each.name: getattr(self, each.name)[index] for each in fields(self) if each.name not in SHARED}
        return Systems(**rows, chain=self.chain, air=self.air)

    @property
    def upright(self) -> Systems:
        """The same with every field (N, 1), to stand against frequencies."""
        return self.take((slice(None), np.newaxis))

    @cached_property
    def vented(self) -> Flags:
        """Whether what stands in a row's openings are vents."""
        return np.asarray(KINDS.each("opening") == "vent")[self.kind]

    @cached_property
    def radiating(self) -> Flags:
        """Whether a row has passive radiators."""
        return np.asarray(KINDS.each("opening") == "radiator")[self.kind]

    @cached_property
    def tuned(self) -> Flags:
        return KINDS.each("tuned")[self.kind]

    @property
    def order(self) -> Integers:
        """That of the bottom of each row's branch."""
        return KINDS.each("order")[self.kind]

    @cached_property
    def cab(self) -> Floats:
        """Acoustic compliance of the box, m³/Pa."""
        return self.filling * self.volume / self.air.stiffness

    @cached_property
    def omega_b(self) -> Floats:
        """ωb in rad/s: the tuning, or a closed box's own resonance with its drivers in it."""
        stiffness = 1.0 / self.cms + self.count * self.sd**2 / self.cab
        return np.where(self.tuned, 2.0 * math.pi * self.tuning, np.sqrt(stiffness / self.moving_mass))

    @property
    def moving_mass(self) -> Floats:
        """Mass of each cone with what the box's air adds, kg."""
        return self.mms + self.air_mass

    @cached_property
    def branch(self) -> Branch:
        """The network of what stands in the openings; a row whose kind has none there lets nothing through."""
        with np.errstate(all="ignore"):
            rows = [(self.kind == code, each) for code, each in enumerate(KINDS.records)]
            present = [(those, each.branch(self)) for those, each in rows if np.any(those)]
            return merged(present or [(rows[0][0], rows[0][1].branch(self))])

    @property
    def opening(self) -> Floats:
        """Area of all vents or of all passive radiators together, m²; 0 without either."""
        return self.branch.area

    @property
    def radiator_mass(self) -> Floats:
        """Moving mass in kg behind each passive radiator at the tuning; nan without radiators."""
        with np.errstate(all="ignore"):
            return np.where(self.radiating, radiator.moving_mass(self), np.nan)

    @property
    def notch_hz(self) -> Floats:
        """Frequency of the radiators' own resonance, where the sound vanishes but for losses; nan without."""
        with np.errstate(all="ignore"):
            return np.where(self.radiating, self.tuning * radiator.notch(self), np.nan)

    @property
    def power_law(self) -> PowerLaw | None:
        """The coils' power law, each field (N,); None where no row has one."""
        if not (np.any(self.kr) or np.any(self.ki)):
            return None
        return PowerLaw(kr=self.kr, xr=self.xr, ki=self.ki, xi=self.xi)

    @property
    def lossy_section(self) -> tuple[Floats, Floats]:
        """The coil's second section: l2 in H and l2/r2 in s, both 0 where ``r2`` shorts it."""
        with np.errstate(all="ignore"):
            present = self.r2 > 0.0
            return np.where(present, self.l2, 0.0), np.where(present, self.l2 / self.r2, 0.0)

    @property
    def reference_pressure(self) -> Floats:
        """Level well above resonance without coil inductance, p = ρ·n·sd·bl·V/(2π·re·mms), Pa RMS."""
        strength = self.count * self.sd * self.bl * self.voltage
        return self.air.rho * strength / (2.0 * math.pi * self.re * self.mms)


def driver_figures(driver: Driver) -> dict[str, float]:
    """What of a driver, as wired, goes into :class:`Systems`, by the names of its fields.

    Bends are parabolas through the shares left at xmax, and none where none is stated.  With an exponent
    below 1 the coil's inductance is wholly in its power law, and le comes out as 0.
    """
    names = ("sd", "cms", "mms", "rms", "bl", "re", "le", "l2", "r2", "xmax", "rated_power")
    figures = {name: float(getattr(driver, name)) for name in names}
    law = PowerLaw(kr=driver.inductance_kr, xr=driver.inductance_xr, ki=driver.inductance_ki, xi=driver.inductance_xi)
    if driver.inductance_exponent != 1.0:
        law = lossy_from_sheet(le=driver.le, n=driver.inductance_exponent)
        figures["le"] = 0.0
    bends = {
        "bl2": travel.motor_bend(share=driver.bl_at_xmax, xmax=driver.xmax),
        "k2": travel.stiffness_bend(share=driver.cms_at_xmax, xmax=driver.xmax),
    }
    figures |= {name: 0.0 if np.isnan(bend) else float(bend) for name, bend in bends.items()} | {"bl4": 0.0, "k4": 0.0}
    figures |= {name: float(getattr(law, name)) for name in ("kr", "xr", "ki", "xi")}
    return figures | {"thermal": driver.warmth, "coefficient": COEFFICIENTS[driver.coil_metal]}


# In what follows ``q`` are systems that stand upright, each field (N, 1).


def compliance(s: Any, cab: Number, mutual: Number, absorption: Number) -> Any:
    """Admittance of a box's spring with what is in series with it, at ``s`` = jω; numbers or arrays."""
    spring = s * cab
    return spring / (1.0 + spring * (s * mutual + absorption))


def compliance_branch(q: Systems, s: Complexes) -> Complexes:
    """:func:`compliance` of systems, at ``s`` (F,) or (N, F); (N, F)."""
    return np.asarray(compliance(s, q.cab, q.mutual, 1.0 / (q.omega_b * q.qa * q.cab)))


def opening_branch(q: Systems, s: Complexes) -> Complexes:
    """Admittance of vents or passive radiators at ``s`` = jω, (F,) or (N, F); (N, F), 0 where there are neither."""
    return np.asarray(q.omega_b * q.cab * q.branch.ratio(s))


def coil_branch(q: Systems, s: Complexes) -> Complexes:
    """What the coils' inductance adds to their resistance at ``s``, ohm."""
    coil = inductance(s, q.le, *q.lossy_section)
    if (law := q.power_law) is not None:
        coil = coil + law.resistance(s.imag) + 1j * law.reactance(s.imag)
    return np.asarray(coil)


def chain_response(q: Systems, frequency: Floats) -> Complexes:
    """Complex response of each row's high-pass and of the chain; (N, F)."""
    high_pass = filters.response(frequency, order=q.filter_order, cutoff=q.filter_hz, q=q.filter_q, q2=q.filter_q2)
    return np.asarray(high_pass * q.chain.response(frequency))


def terminal_voltage(q: Systems, frequency: Floats, gain: Number = 1.0) -> Complexes:
    """Drive behind high-pass and chain, V RMS, at a setting of the ``gain`` (N,), 1 at full drive; (N, F).

    The amplifier gives its full voltage and no more, whatever the chain raises.
    """
    signal = np.reshape(np.asarray(gain, float), (-1, 1)) * chain_response(q, frequency)
    return np.asarray(q.voltage * signal / np.maximum(np.abs(signal), 1.0))


@dataclass(frozen=True, kw_only=True)
class Response:
    """What N systems do at F frequencies, filter in; every field (N, F), RMS, SI."""

    pressure: Complexes  # Pa at 1 m on axis, half space
    excursion: Floats  # m
    vent_speed: Floats  # m/s over the vents' own area; 0 without vents
    radiator_excursion: Floats  # m, of each passive radiator; 0 without
    current: Floats  # A through one driver
    impedance: Complexes  # ohm at one driver's terminals


def respond(systems: Systems, *, frequency: Floats, coil_inductance: bool = True, gain: Number = 1.0) -> Response:
    """Solve the circuit at each frequency.

    ``frequency`` in Hz is (F,), or (N, F) where every system has its own; ``gain`` (N,) is a share of full drive.
    Without ``coil_inductance`` the coil is its resistance alone, as f3 wants it.  Sound is
    p = ρ·jω·Ub/(2π), Ub the volume velocity into the box's compliance branch (Small 1973).
    """
    with np.errstate(all="ignore"):  # rows that make no sense come out as nan
        s = np.asarray(2j * math.pi * np.asarray(frequency), dtype=np.complex128)
        q = systems.upright
        # Admittances, since their sum vanishes at the tuning of a lossless box.
        compliance, opening = compliance_branch(q, s), opening_branch(q, s)
        box = compliance + q.omega_b * q.cab / q.ql + opening

        coil = q.re + (coil_branch(q, s) if coil_inductance else 0.0)
        moving = q.rms + s * q.moving_mass + 1.0 / (s * q.cms)
        load = moving * box + q.count * q.sd**2  # what the motor drives, times the box's admittance
        impedance = coil + q.bl**2 * box / load
        current = terminal_voltage(q, np.asarray(frequency), gain) / impedance
        force = q.bl * current
        velocity = force * box / load
        box_pressure = q.count * q.sd * force / load
        speed = np.abs(box_pressure * opening) / q.opening
        return Response(
            pressure=q.air.rho * s * (box_pressure * compliance) / (2.0 * math.pi),
            excursion=np.abs(velocity / s),
            vent_speed=np.where(q.vented, speed, 0.0),
            radiator_excursion=np.where(q.radiating, speed / np.abs(s), 0.0),
            current=np.abs(current),
            impedance=impedance,
        )
