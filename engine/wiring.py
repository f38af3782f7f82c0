"""How coils and drivers are joined to one amplifier channel, and the drive that comes of it."""

from __future__ import annotations

import dataclasses
import math
from dataclasses import dataclass
from itertools import product
from typing import Literal

from engine.parts import Amplifier, Driver

CoilJoin = Literal["single", "series", "parallel"]

# Nominal loads are round figures, so one stated at 2.67 ohm and one that comes to 2.6667 are the same.
_SAME_LOAD = 0.01


@dataclass(frozen=True, kw_only=True)
class Wiring:
    """One way to join ``count`` identical drivers to an amplifier."""

    coils: CoilJoin
    in_series: int
    in_parallel: int
    load: float  # ohm, the nominal impedance that the amplifier sees
    power: float  # W, what it then delivers
    voltage: float  # V RMS, at each driver's terminals
    driver: Driver  # as its coils are joined: its re, its inductance and its losses follow

    @property
    def count(self) -> int:
        return self.in_series * self.in_parallel

    @property
    def words(self) -> str:
        """The wiring as a builder would say it."""
        coils = "" if self.coils == "single" else f"coils in {self.coils}"
        if self.count == 1:
            drivers = ""
        elif self.in_series == 1:
            drivers = "drivers in parallel"
        elif self.in_parallel == 1:
            drivers = "drivers in series"
        else:
            drivers = f"{self.in_parallel} strings in parallel of {self.in_series} drivers in series"
        return ", ".join(part for part in (coils, drivers) if part) or "single coil"


def join_coils(driver: Driver, join: CoilJoin) -> tuple[Driver, float]:
    """The driver with its coils joined another way, and its nominal impedance (ohm).

    Coils of one driver are taken as equal and tightly coupled, so resistance and inductance both scale with the square
    of the turns in use: series has four times the value of parallel.  Qes, Qms, fs and Vas do not change (first
    principles).
    """
    n = driver.coils
    if n == 1:
        return driver, driver.coil_impedance
    scale = {"series": float(n), "parallel": 1.0 / n, "single": 1.0}
    factor = scale[join] / scale[driver.stated_wiring]
    scaled = {
        name: getattr(driver, name) * factor for name in ("re", "le", "l2", "r2", "inductance_kr", "inductance_ki")
    }
    return dataclasses.replace(driver, **scaled), driver.coil_impedance * scale[join]


def power_into(amplifier: Amplifier, load: float) -> float | None:
    """What the amplifier delivers into ``load`` ohm, in W; None below its lowest load.

    Between two stated loads the amplifier is taken as the voltage source it is at the lower one (V = sqrt(P·Z)), which
    promises no more than its maker does.
    """
    if load < amplifier.lowest_load * (1.0 - _SAME_LOAD):
        return None
    stated = [(z, p) for z, p in amplifier.loads if z <= load * (1.0 + _SAME_LOAD)]
    if not stated:
        return None
    z, power = max(stated)
    return power if abs(z - load) <= _SAME_LOAD * load else power * z / load


def wirings(driver: Driver, count: int, amplifier: Amplifier) -> list[Wiring]:
    """Every way to join ``count`` drivers that the amplifier may drive, lowest load first."""
    joins: tuple[CoilJoin, ...] = ("single",) if driver.coils == 1 else ("parallel", "series")
    splits = [(s, count // s) for s in range(1, count + 1) if count % s == 0]
    found = []
    for join, (in_series, in_parallel) in product(joins, splits):
        joined, impedance = join_coils(driver, join)
        load = impedance * in_series / in_parallel
        power = power_into(amplifier, load)
        if power is not None:
            drive = {"load": load, "power": power, "voltage": math.sqrt(power * load) / in_series}
            found.append(Wiring(coils=join, in_series=in_series, in_parallel=in_parallel, **drive, driver=joined))
    return sorted(found, key=lambda wiring: wiring.load)


def best_wiring(driver: Driver, count: int, amplifier: Amplifier) -> Wiring | None:
    """The wiring to use for ``count`` drivers, each as its maker states it, that share an amplifier.

    None where the amplifier may drive none.  Else the one that gets the most power out of the amplifier without
    passing the drivers' rated power; where every one passes it, the gentlest; between equals the higher load,
    which is kinder to the amplifier (common practice, no source).

    >>> oak = Driver(name="oak", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.033, re=3.4, xmax=0.01, rated_power=300.0)
    >>> amplifier = Amplifier(name="mono", loads=((2.0, 600.0), (4.0, 400.0)), lowest_load=2.0)
    >>> wiring = best_wiring(oak, 2, amplifier)
    >>> wiring.words, wiring.load, wiring.power, round(wiring.voltage, 1)
    ('drivers in parallel', 2.0, 600.0, 34.6)
    """
    choices = wirings(driver, count, amplifier)
    rated = driver.rated_power * count
    within = [wiring for wiring in choices if wiring.power <= rated]
    if within:
        return max(within, key=lambda wiring: (wiring.power, wiring.load))
    return min(choices, key=lambda wiring: (wiring.power, -wiring.load), default=None)
