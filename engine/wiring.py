"""How coils and drivers are joined to one amplifier channel, and the drive that comes of it."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal

from engine.parts import Amplifier, Driver
from engine.words.voice import first_up

CoilJoin = Literal["single", "series", "parallel", "mixed"]
DriverJoin = Literal["single", "series", "parallel", "mixed"]
COIL_JOINS = ("series", "parallel", "mixed")  # that a job may allow
DRIVER_JOINS = ("series", "parallel", "mixed")

# Nominal loads are round figures, so one stated at 2.67 ohm and one that comes to 2.6667 are the same.
_SAME_LOAD = 0.01
_ALL = 0.9995  # of the power


@dataclass(frozen=True, kw_only=True)
class Network:
    """One way to join ``count`` identical drivers, whatever drives them; every coil takes the same power."""

    coils: CoilJoin
    in_series: int
    in_parallel: int
    load: float  # ohm, the nominal impedance that an amplifier sees
    driver: Driver  # as its coils are joined: its re, its inductance and its losses follow

    @property
    def count(self) -> int:
        return self.in_series * self.in_parallel

    @property
    def coil_strings(self) -> tuple[int, int]:
        """How many coils of a driver stand in series in each string, and how many strings in parallel."""
        return _strings(self.driver.coils, self.coils)

    @property
    def resistance(self) -> float:
        """What an ohmmeter reads at its terminals, ohm: that of all coils together."""
        return self.driver.re * self.in_series / self.in_parallel

    @property
    def rated(self) -> float:
        """Power that the drivers are rated for together, W."""
        return self.driver.rated_power * self.count

    @property
    def join(self) -> DriverJoin:
        """How the drivers are joined."""
        if self.count == 1:
            return "single"
        return "parallel" if self.in_series == 1 else "series" if self.in_parallel == 1 else "mixed"

    @property
    def words(self) -> str:
        """The wiring as a builder would say it."""
        coils = {
            "single": "", "parallel": "coils in parallel", "series": "coils in series",
            "mixed": "coils in {1} strings of {0}".format(*self.coil_strings),
        }[self.coils]  # fmt: skip
        drivers = {
            "single": "", "parallel": "drivers in parallel", "series": "drivers in series",
            "mixed": f"{self.in_parallel} strings in parallel of {self.in_series} drivers in series",
        }[self.join]  # fmt: skip
        return ", ".join(part for part in (coils, drivers) if part) or "single coil"


@dataclass(frozen=True, kw_only=True)
class Wiring(Network):
    """A network on an amplifier that may drive it."""

    power: float  # W, what the amplifier then delivers
    voltage: float  # V RMS, at each driver's terminals


def _strings(coils: int, join: CoilJoin) -> tuple[int, int]:
    """Coils in series in each string, and strings, of a driver with so many ``coils``; mixed ones have pairs."""
    return {"single": (1, 1), "series": (coils, 1), "parallel": (1, coils), "mixed": (2, coils // 2)}[join]


def join_coils(driver: Driver, join: CoilJoin) -> tuple[Driver, float]:
    """The driver with its coils joined another way, and its nominal impedance (ohm).

    Coils of one driver are taken as equal and tightly coupled, so resistance and inductance both scale with the square
    of the turns in use: two in series have four times the value of two in parallel.  Qes, Qms, fs and Vas do not
    change (first principles).
    """
    if driver.coils == 1:
        return driver, driver.coil_impedance

    def of_one_coil(way: CoilJoin) -> float:
        deep, wide = _strings(driver.coils, way)
        return deep / wide

    factor = of_one_coil(join) / of_one_coil(driver.stated_wiring)
    scaled = {
        name: getattr(driver, name) * factor for name in ("re", "le", "l2", "r2", "inductance_kr", "inductance_ki")
    }
    return dataclasses.replace(driver, **scaled), driver.coil_impedance * of_one_coil(join)


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
    found = []
    for network in networks(driver, count):
        power = power_into(amplifier, network.load)
        if power is not None:
            voltage = math.sqrt(power * network.load) / network.in_series
            found.append(Wiring(**vars(network), power=power, voltage=voltage))
    return found


def networks(driver: Driver, count: int) -> list[Network]:
    """Every way to join coils and ``count`` drivers in which all take the same power, lowest load first.

    In a series all pass one current and in parallel all have one voltage, so equal coils take equal power just where
    they stand in equal strings: their loads are those of h coils in series in each of w strings, h·w the number of
    coils (first principles).  Within a driver coils stand all in series, all in parallel or, where there are four, in
    two strings of two.

    >>> oak = Driver(name="oak", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.033, re=1.7, xmax=0.01, rated_power=300.0,
    ...              coils=2, coil_impedance=4.0)
    >>> [(each.words, each.load) for each in networks(oak, 1)]
    [('coils in parallel', 2.0), ('coils in series', 8.0)]
    """
    coils: tuple[CoilJoin, ...] = ("single",) if driver.coils == 1 else ("parallel", "series")
    if driver.coils == 4:
        coils = ("parallel", "mixed", "series")
    found = []
    for join, in_series in product(coils, range(1, count + 1)):
        if count % in_series == 0:
            joined, impedance = join_coils(driver, join)
            in_parallel = count // in_series
            load = impedance * in_series / in_parallel
            found.append(Network(coils=join, in_series=in_series, in_parallel=in_parallel, load=load, driver=joined))
    return sorted(found, key=lambda network: network.load)


def allowed(
    choices: Sequence[Wiring], *, coils: Collection[str], drivers: Collection[str], load: float = math.nan
) -> list[Wiring]:
    """Those of some wirings whose coils and drivers are joined in ways named, and that come to a ``load`` (ohm).

    What is alone is joined in no way, and any load will do where it is nan.
    """
    return [
        each
        for each in choices
        if each.coils in (*coils, "single")
        and each.join in (*drivers, "single")
        and (math.isnan(load) or abs(each.load - load) <= _SAME_LOAD * load)
    ]


def different(choices: Sequence[Wiring]) -> list[Wiring]:
    """Some wirings without those that are electrically another's: of equal drivers the load says it all."""
    found: list[Wiring] = []
    for each in choices:
        if all(abs(each.load - other.load) > _SAME_LOAD * other.load for other in found):
            found.append(each)
    return found


def best_wiring(choices: Sequence[Wiring]) -> Wiring | None:
    """The one to use of several wirings of the same drivers.

    None of none.  Else the one that gets the most power out of the amplifier without
    passing the drivers' rated power; where every one passes it, the gentlest; between equals the higher load,
    which is kinder to the amplifier (common practice, no source).

    >>> oak = Driver(name="oak", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.033, re=3.4, xmax=0.01, rated_power=300.0)
    >>> amplifier = Amplifier(name="mono", loads=((2.0, 600.0), (4.0, 400.0)), lowest_load=2.0)
    >>> wiring = best_wiring(wirings(oak, 2, amplifier))
    >>> wiring.words, wiring.load, wiring.power, round(wiring.voltage, 1)
    ('drivers in parallel', 2.0, 600.0, 34.6)
    """
    within = [wiring for wiring in choices if wiring.power <= wiring.rated]
    if within:
        return max(within, key=lambda wiring: (wiring.power, wiring.load))
    return min(choices, key=lambda wiring: (wiring.power, -wiring.load), default=None)


def why_wired(wiring: Wiring, *, driver: Driver, amplifier: Amplifier, used: float = math.inf) -> str:
    """What a wiring draws, why it is this one, and what every other one of the same drivers would: a few sentences.

    ``driver`` is one as its maker states it; ``used`` is what is left of the power once the gain is turned down, W.

    >>> elm = Driver(name="elm", fs=34.0, qes=0.5, qms=5.0, vas=0.02, sd=0.022, re=3.4, xmax=0.01, rated_power=200.0)
    >>> amplifier = Amplifier(name="mono", loads=((2.0, 800.0), (8.0, 250.0)), lowest_load=2.0)
    >>> chosen = best_wiring(wirings(elm, 2, amplifier))
    >>> print(why_wired(chosen, driver=elm, amplifier=amplifier))  # doctest: +NORMALIZE_WHITESPACE
    Drivers in series: 8 Ω draws 250 W, the most within what the drivers are rated for (400 W).
    Drivers in parallel, 2 Ω would draw 800 W.
    """
    rated = f"the driver{'s are' if wiring.count > 1 else ' is'} rated for"
    every = wirings(driver, wiring.count, amplifier)
    others, best = different([wiring, *every])[1:], best_wiring(every)
    if wiring.power > wiring.rated:
        why = f", while {rated} {wiring.rated:.0f} W: the gain has to stay down"
    elif not others:
        why = ", the only load that the amplifier may drive" if len(networks(driver, wiring.count)) > 1 else ""
    elif best is not None and len(different([best, wiring])) > 1:
        why = ", as the job asks for"
    else:
        why = f", the most within what {rated} ({wiring.rated:.0f} W)"
    told = [f"{first_up(wiring.words)}: {wiring.load:.3g} Ω draws {wiring.power:.0f} W{why}."]
    told += [f"{first_up(other.words)}, {other.load:.3g} Ω would draw {other.power:.0f} W." for other in others]
    turned_down = used < _ALL * wiring.power
    if enough := [other.words for other in others if turned_down and used <= other.power]:
        told.append(f"Turned down it uses {used:.0f} W of that: {' or '.join(enough)} would play as loud.")
    least = networks(driver, wiring.count)[0].load
    if power_into(amplifier, least) is None:
        told.append(
            f"Down to {least:.3g} Ω could be wired, but the amplifier drives {amplifier.lowest_load:.3g} Ω or more."
        )
    return " ".join(told)
