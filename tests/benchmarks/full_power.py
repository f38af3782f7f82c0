"""Full power against the equations of motion integrated in time: ``python -m tests.benchmarks.full_power``.

One thing that grows with the level at a time, then all of them, in closed, vented and thin boxes and with a passive
radiator; at each drive and frequency how far the linear model is off, and how far the quasi-linear one.  Below it
the worst of each up to Xmax, and beyond.  Exit status 1 if up to Xmax anything is further off than is allowed.
"""

from __future__ import annotations

import math
import sys
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.circuit import Systems, respond
from engine.acoustics.distortion import distortion
from engine.acoustics.large_signal import compression_db, respond_large
from engine.acoustics.travel import motor_bend, stiffness_bend
from engine.kinds import radiator
from engine.parts import Driver, PassiveRadiator
from tests.acoustics import time_domain

DRIVER = Driver(
    name="invented",
    fs=28.0,
    qes=0.5,
    qms=6.0,
    vas=0.09,
    sd=0.05,
    re=3.2,
    le=1.5e-3,
    l2=1.0e-3,
    r2=4.0,
    xmax=0.012,
    rated_power=400.0,
    thermal_resistance=0.0,
)
RADIATOR = PassiveRadiator(name="invented", fs=18.0, qms=10.0, vas=0.16, sd=0.07, xmax=0.02)
XMAX = DRIVER.xmax
CLOSED = Systems.of(DRIVER, volume=0.045, voltage=1.0, ql=20.0)
VENTED = Systems.of(DRIVER, volume=0.075, voltage=1.0, ql=10.0, qp=60.0, tuning=30.0, vent_count=1.0, vent_area=5.0e-3)
PASSIVE = Systems.of(DRIVER, volume=0.06, voltage=1.0, ql=10.0, tuning=30.0, radiator=RADIATOR, radiator_count=1.0)
# A fifth of the vent's mass shared with the cones, the other way round as a low vent in a wedge has it.
THIN = replace(VENTED, ql=np.array([np.inf]), mutual=np.array([-0.2 / float(VENTED.omega_b[0] ** 2 * VENTED.cab[0])]))
THIN = replace(THIN, air_mass=0.04 * THIN.mms)

BENT = {"bl2": float(motor_bend(share=0.82, xmax=XMAX)), "k2": float(stiffness_bend(share=0.75, xmax=XMAX))}
STEEP = {"bl2": -0.10 / XMAX**2, "bl4": -0.08 / XMAX**4, "k2": 0.2 / XMAX**2, "k4": 0.15 / XMAX**4}
WARM = {"thermal": 150.0 / 400.0}
JETS = {"vent_loss": 1.75}
FREQUENCIES = (20.0, 30.0, 40.0, 60.0)

UP_TO = 1.1  # Xmax, up to where the quasi-linear model answers for its figures
FIGURES = {
    "level_db": "level",
    "excursion_off": "excursion",
    "speed_off": "speed of the vent's air or the radiator",
    "current_off": "current",
    "rise_off": "coil's rise",
}
ALLOWED = {"level_db": 0.15, "excursion_off": 0.015, "speed_off": 0.015, "current_off": 0.015, "rise_off": 0.03}


@dataclass(frozen=True)
class Case:
    """A box, fields of Systems that grow with level, the drive in V, skew of motor and suspension."""

    name: str
    systems: Systems
    effects: Mapping[str, float]
    volts: tuple[float, ...]
    skew: float = 0.0  # of Bl and stiffness at Xmax, odd part, which the product leaves out
    frequencies: tuple[float, ...] = FREQUENCIES


CASES = (
    Case("linear, vented", VENTED, {}, (30.0,)),
    Case("linear, thin", THIN, {}, (30.0,)),
    Case("linear, passive radiator", PASSIVE, {}, (30.0,)),
    Case("coil heat, closed", CLOSED, WARM, (20.0, 40.0)),
    Case("coil heat, vented", VENTED, WARM, (20.0, 40.0)),
    Case("vent loss", VENTED, JETS, (10.0, 20.0, 40.0)),
    Case("vent loss, thin", THIN, JETS, (20.0,)),
    Case("Bl and Cms, closed", CLOSED, BENT, (20.0, 35.0)),
    Case("Bl and Cms, vented", VENTED, BENT, (10.0, 20.0)),
    Case("steep Bl and Cms, closed", CLOSED, STEEP, (20.0, 35.0)),
    Case("all, closed", CLOSED, WARM | BENT, (20.0, 35.0)),
    Case("all, vented", VENTED, WARM | BENT | JETS, (10.0, 20.0, 35.0)),
    Case("all, thin", THIN, WARM | BENT | JETS, (20.0, 35.0)),
    Case("all, passive radiator", PASSIVE, WARM | BENT, (10.0, 20.0, 35.0)),
    Case("all, closed, skewed 10 %", CLOSED, WARM | BENT, (20.0,), skew=0.1),
)


def driven(case: Case, volts: float) -> Systems:
    """The case's system with its effects, at a drive."""
    fields = {"voltage": volts, **case.effects}
    values: dict[str, NDArray[np.float64]] = {name: np.array([value]) for name, value in fields.items()}
    return Systems(**{**{name: getattr(case.systems, name) for name in Systems.__dataclass_fields__}, **values})


def twin(case: Case) -> time_domain.Box:
    """The system of ``case`` as the twin has it."""
    q = driven(case, 1.0)
    cab, wb = float(q.cab[0]), float(q.omega_b[0])
    tuned = bool(q.tuned[0])
    stiffness = float(radiator.stiffness(q)[0]) if q.radiating[0] else 0.0
    return time_domain.Box(
        **{name: float(getattr(q, name)[0]) for name in ("count", "sd", "cms", "rms", "bl", "re", "le", "l2", "r2")},
        mms=float((q.mms + q.air_mass)[0]),
        cab=cab,
        ral=float(q.ql[0]) / (wb * cab),
        map=(1.0 + stiffness) / (wb**2 * cab) - float(q.mutual[0]) if tuned else 0.0,
        rap=float(q.branch.bottom[-2][0]) / (wb**2 * cab) if tuned else 0.0,
        cap=cab / stiffness if stiffness else math.inf,
        mutual=float(q.mutual[0]),
        opening=float(q.opening[0]),
        loss=float(q.vent_loss[0]),
        motor=(case.skew / XMAX, float(q.bl2[0]), 0.0, float(q.bl4[0])),
        stiffness=(-case.skew / XMAX, float(q.k2[0]), 0.0, float(q.k4[0])),
        thermal=float(q.thermal[0]),
        coefficient=float(q.coefficient[0]),
        rho=q.air.rho,
    )


@dataclass(frozen=True)
class Row:
    """One frequency at one drive: the quasi-linear answer, the twin's, and how far apart they are."""

    case: str
    volts: float
    frequency: float
    over_xmax: float
    speed: float  # m/s, of the vent's air or the radiator
    coil_rise: float
    compression_db: float
    level_db: float  # quasi-linear less twin
    excursion_off: float  # ratio less 1
    speed_off: float
    current_off: float
    rise_off: float
    harmonic: float  # of the twin's sound, a share of its fundamental
    distortion: float  # what the product says of it
    settled: float


def rows(case: Case) -> list[Row]:
    """The case at each of its drives and frequencies."""
    found = []
    frequency = np.array(case.frequencies)
    box = twin(case)
    for volts in case.volts:
        systems = driven(case, volts)
        quasi = respond_large(systems, frequency=frequency)
        bent = distortion(quasi)
        lost = compression_db(quasi, respond(systems, frequency=frequency).pressure)
        speed = quasi.vent_speed + quasi.radiator_excursion * 2.0 * math.pi * frequency
        for column, hertz in enumerate(case.frequencies):
            exact = time_domain.integrate(box, frequency=hertz, voltage=volts)

            def off(value: float, right: float) -> float:
                return value / right - 1.0 if right > 0.0 else 0.0

            found.append(
                Row(
                    case=case.name,
                    volts=volts,
                    frequency=hertz,
                    over_xmax=exact.excursion / XMAX,
                    speed=exact.vent_speed,
                    coil_rise=exact.coil_rise,
                    compression_db=float(lost[0, column]),
                    level_db=20.0 * math.log10(abs(quasi.pressure[0, column]) / exact.pressure),
                    excursion_off=off(quasi.excursion[0, column], exact.excursion),
                    speed_off=off(speed[0, column], exact.vent_speed),
                    current_off=off(quasi.current[0, column], exact.current),
                    rise_off=off(quasi.coil_rise[0, column], exact.coil_rise),
                    harmonic=exact.harmonic,
                    distortion=float(bent[0, column]),
                    settled=exact.settled,
                )
            )
    return found


def worst(some: Sequence[Row], name: str) -> float:
    """The most that a figure is off in some rows, dB or share, nan if one is."""
    return float(np.max([abs(getattr(row, name)) for row in some]))


def main() -> int:
    heads = ("V", "Hz", "x/Xmax", "m/s", "K", "loses dB", "off: dB", "x %", "m/s %", "I %", "K %", "harm. %", "said %")
    print(f"{'':26}" + "".join(f"{head:>9}" for head in heads))
    found: list[Row] = []
    for case in CASES:
        for row in rows(case):
            found.append(row)
            apart = (row.excursion_off, row.speed_off, row.current_off, row.rise_off, row.harmonic, row.distortion)
            figures = (
                f"{row.volts:.0f}",
                f"{row.frequency:.0f}",
                f"{row.over_xmax:.2f}",
                f"{row.speed:.1f}",
                f"{row.coil_rise:.0f}",
                f"{row.compression_db:.2f}",
                f"{row.level_db:.3f}",
                *(f"{100.0 * each:.2f}" for each in apart),
            )
            print(f"{row.case:26}" + "".join(f"{each:>9}" for each in figures), flush=True)
    within = [row for row in found if row.over_xmax <= UP_TO]
    beyond = [row for row in found if row.over_xmax > UP_TO]
    print(f"\n{'worst of all':42}{f'to {UP_TO:g} Xmax':>14}{'allowed':>12}{'beyond':>12}")
    broken = 0
    for name, words in FIGURES.items():
        unit, scale = ("dB", 1.0) if name == "level_db" else ("%", 100.0)
        values = (scale * worst(within, name), scale * ALLOWED[name], scale * worst(beyond, name))
        kept = values[0] <= values[1]
        broken += not kept
        told = "".join(f"{f'{value:.3g} {unit}':>{width}}" for value, width in zip(values, (14, 12, 12), strict=True))
        print(f"{words:42}{told}  {'kept' if kept else 'BROKEN'}")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
