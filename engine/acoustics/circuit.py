"""The equivalent circuit of driver, box and vent, in plain complex form.

Each driver, seen from the mechanical side with every phasor RMS and exp(+jωt):

    V·H ── re ── jω·le ── (jω·l2 ∥ r2) ──┐
                                     bl (gyrator)
                      rms ── jω·mms ── 1/(jω·cms) ── sd·p

and p is the pressure that n drivers' volume velocity n·sd·u raises in the box:

    n·sd·u ──┬───────────┬──────────────┐
         1/(jω·cab)      │           jω·map
            rab         ral            rap
         ───┴───────────┴──────────────┴───

Lumped, so good while the box is small against the wavelength (Thiele 1971; Small 1972, 1973).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from engine.acoustics import filters
from engine.air import REFERENCE_AIR, Air
from engine.parts import Driver

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Index = NDArray[np.bool_] | NDArray[np.intp] | NDArray[np.int64] | slice
Number = float | Floats | Sequence[float]

USUAL_QL = 7.0  # leakage of a vented box (Small 1973)


@dataclass(frozen=True, kw_only=True)
class Systems:
    """A batch of N boxes with their drivers, drive and filter; every field (N,), SI.

    ``voltage`` is RMS at each driver's terminals, before the filter.  ``volume`` is net;
    ``filling`` multiplies its compliance.  ``ql``, ``qa``, ``qp`` are inf where there is no
    such loss.  Closed boxes have ``vent_count`` 0, and ``tuning`` and ``vent_area`` are not
    looked at.  ``filter_order`` 0 is no filter.  Nothing is validated: a row that makes no
    sense gives nan in that row.
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
    voltage: Floats  # V
    xmax: Floats  # m, one-way peak
    rated_power: Floats  # W, one driver
    volume: Floats  # m³
    filling: Floats
    ql: Floats
    qa: Floats
    qp: Floats
    tuning: Floats  # Hz
    vent_count: Floats
    vent_area: Floats  # m², one vent
    filter_order: Floats
    filter_hz: Floats
    air: Air = REFERENCE_AIR

    @classmethod
    def of(
        cls,
        driver: Driver | Sequence[Driver],
        *,
        volume: Number,
        voltage: Number,
        count: Number = 1.0,
        filling: Number = 1.0,
        ql: Number | None = None,
        qa: Number = math.inf,
        qp: Number = math.inf,
        tuning: Number = math.nan,
        vent_count: Number = 0.0,
        vent_area: Number = math.nan,
        filter_order: Number = 0.0,
        filter_hz: Number = 0.0,
        air: Air = REFERENCE_AIR,
    ) -> Systems:
        """Systems from one driver, or one driver a row; numbers and (N,) arrays broadcast.

        Without ``ql`` a vented box gets 7 and a closed one no leak (Small 1973).
        """
        drivers = [driver] if isinstance(driver, Driver) else list(driver)
        names = ("sd", "cms", "mms", "rms", "bl", "re", "le", "l2", "r2", "xmax", "rated_power")
        figures = {name: np.array([getattr(each, name) for each in drivers], dtype=float) for name in names}
        stated: dict[str, Number] = {
            "count": count,
            "voltage": voltage,
            "volume": volume,
            "filling": filling,
            "qa": qa,
            "qp": qp,
            "tuning": tuning,
            "vent_count": vent_count,
            "vent_area": vent_area,
            "filter_order": filter_order,
            "filter_hz": filter_hz,
        }
        stated["ql"] = np.where(np.asarray(vent_count) > 0, USUAL_QL, math.inf) if ql is None else ql
        arrays = figures | {name: np.atleast_1d(np.asarray(value, float)) for name, value in stated.items()}
        spread = np.broadcast_arrays(*arrays.values())
        return cls(**{name: each.copy() for name, each in zip(arrays, spread, strict=True)}, air=air)

    def __len__(self) -> int:
        return len(self.volume)

    def take(self, index: Index) -> Systems:
        """The rows that ``index`` picks, as Systems."""
        rows = {item.name: getattr(self, item.name)[index] for item in fields(self) if item.name != "air"}
        return Systems(**rows, air=self.air)

    @property
    def vented(self) -> NDArray[np.bool_]:
        return self.vent_count > 0

    @property
    def cab(self) -> Floats:
        """Acoustic compliance of the box, m³/Pa."""
        return self.filling * self.volume / self.air.stiffness

    @property
    def omega_b(self) -> Floats:
        """ωb in rad/s: the tuning, or a closed box's own resonance with its drivers in it."""
        stiffness = 1.0 / self.cms + self.count * self.sd**2 / self.cab
        return np.where(self.vented, 2.0 * math.pi * self.tuning, np.sqrt(stiffness / self.mms))

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


@dataclass(frozen=True, kw_only=True)
class Response:
    """What N systems do at F frequencies at full drive, filter in; every field (N, F), RMS, SI."""

    pressure: Complexes  # Pa at 1 m on axis, half space
    excursion: Floats  # m
    vent_speed: Floats  # m/s over the vents' own area; 0 for a closed box
    current: Floats  # A through one driver
    impedance: Complexes  # ohm at one driver's terminals


def respond(systems: Systems, *, frequency: Floats, coil_inductance: bool = True) -> Response:
    """Solve the circuit at each frequency.

    ``frequency`` in Hz is (F,), or (N, F) where every system has its own.  Without
    ``coil_inductance`` the coil is its resistance alone, as f3 wants it.  Sound is
    p = ρ·jω·Ub/(2π), Ub the volume velocity into the box's compliance branch (Small 1973).
    """

    def column(values: Floats) -> Floats:
        return values[:, np.newaxis]

    with np.errstate(all="ignore"):  # rows that make no sense come out as nan
        s = 2j * math.pi * np.asarray(frequency)
        cab, omega_b, sd = column(systems.cab), column(systems.omega_b), column(systems.sd)
        count, bl, vented = column(systems.count), column(systems.bl), systems.vented[:, np.newaxis]

        # Admittances, since their sum vanishes at the tuning of a lossless box.
        mass = 1.0 / (omega_b**2 * cab)
        compliance = 1.0 / (1.0 / (s * cab) + 1.0 / (omega_b * column(systems.qa) * cab))
        leak = omega_b * cab / column(systems.ql)
        vent = np.where(vented, 1.0 / (s * mass + omega_b * mass / column(systems.qp)), 0.0)
        box = compliance + leak + vent

        coil: Floats | Complexes = column(systems.re)
        if coil_inductance:
            l2, delay = (column(values) for values in systems.lossy_section)
            coil = coil + s * column(systems.le) + s * l2 / (1.0 + s * delay)

        moving = column(systems.rms) + s * column(systems.mms) + 1.0 / (s * column(systems.cms))
        load = moving * box + count * sd**2  # what the motor drives, times the box's admittance
        impedance = coil + bl**2 * box / load
        filtered = filters.response(
            np.asarray(frequency), order=column(systems.filter_order), cutoff=column(systems.filter_hz)
        )
        current = column(systems.voltage) * filtered / impedance
        force = bl * current
        velocity = force * box / load
        box_pressure = count * sd * force / load
        vent_flow = np.abs(box_pressure * vent)
        opening = column(systems.vent_count * systems.vent_area)
        return Response(
            pressure=systems.air.rho * s * (box_pressure * compliance) / (2.0 * math.pi),
            excursion=np.abs(velocity / s),
            vent_speed=np.where(vented, vent_flow / opening, 0.0),
            current=np.abs(current),
            impedance=impedance,
        )
