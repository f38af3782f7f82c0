"""How a design is wired and set up, as data: every wiring, the gain as a voltage, filters and what other knobs do.

The gain is set by a meter: a tone of full level is played with the loudspeaker disconnected and the amplifier is turned
up until its terminals have the voltage that the design was judged at, V = g·|H|·sqrt(P·Z), g the design's gain (a
share of full drive), H what the filters leave of the tone, P the amplifier's stated power into the load Z.  Music whose
peaks are as high as the tone's then drives the box no further than it was judged at.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from engine.acoustics.circuit import Systems, chain_response, terminal_voltage
from engine.acoustics.figures import figures
from engine.acoustics.filters import NAMED, Chain, section_qs
from engine.arrays import Floats
from engine.parts import Amplifier, Driver
from engine.scenario import Scenario
from engine.search.families import Family
from engine.wiring import Network, networks, power_into

# Tones that test recordings have and any true-RMS meter reads, the most usual first; common practice, no source.
TONES = (50.0, 60.0, 40.0, 70.0, 80.0)  # Hz
KNOBS = (15.0, 20.0, 25.0, 30.0, 35.0, 40.0)  # Hz, where amplifiers' high-passes stand; common practice, no source
KNOB_ORDERS = (2, 4)
STEPS = (-12.0, -6.0, -3.0, 0.0, 3.0, 6.0, 9.0, 12.0)  # dB beside the design's gain
# Handed over to other loudspeakers where a job says nothing; common practice, no source.
USUAL_CROSSOVER, USUAL_ORDER = 80.0, 4  # Hz
_NO_NEARER = 0.1  # dB by which a tone's voltage is changed by the filters, below which the more usual tone is taken
_ALL = 0.9995  # of full drive
_ROWS = (slice(None), np.newaxis)  # of systems, as frequencies broadcast against them


@dataclass(frozen=True, kw_only=True)
class Way:
    """One wiring of the design's drivers; ``power`` in W is nan where the load is below what the amplifier drives."""

    network: Network
    power: float
    used: bool

    @property
    def drivable(self) -> bool:
        return not math.isnan(self.power)

    @property
    def driver_power(self) -> float:
        """What each driver takes of it, W: all alike."""
        return self.power / self.network.count

    @property
    def coil_power(self) -> float:
        """What each coil takes of it, W."""
        return self.driver_power / self.network.driver.coils


@dataclass(frozen=True, kw_only=True)
class Level:
    """What the meter reads at a level, dB beside the design's gain, and what the amplifier then gives into the load.

    ``volts`` is that of the test tone, its filters in; ``power`` in W that of a tone that they leave as it is.
    """

    db: float
    volts: float
    power: float
    driver_power: float
    coil_power: float


@dataclass(frozen=True, kw_only=True)
class Knob:
    """The gain with another high-pass: ``order`` 0 is none; ``levels`` in dB beside the design's, where the job names
    levels.
    """

    order: int
    hz: float
    volts: float
    levels: tuple[float, ...]


@dataclass(frozen=True, kw_only=True)
class Filter:
    """A filter as it is set: order 0 is none; ``q`` is that of a shape whose Q is one's own, else nan."""

    shape: str = ""
    order: int = 0
    q: float = math.nan
    hz: float = math.nan


@dataclass(frozen=True, kw_only=True, eq=False)
class SetUp:
    """All that is set on a design that is built; volts are RMS between the amplifier's terminals.

    ``knobs`` are high-passes to set where the amplifier's own has other steps; none where the job judges designs at
    full power, since nothing is then held.
    """

    amplifier: Amplifier
    ways: tuple[Way, ...]  # lowest load first
    full_volts: float  # sqrt(P·Z)
    gain: float  # share of it
    limited_by: str  # what the design meets first if turned up, a name of limits.LIMITS
    limited_hz: float  # nan where there is no such frequency
    held: bool  # whether designs are turned down to hold their limits
    tone: float  # Hz
    tone_db: float  # what the filters do to it
    volts: float  # of the tone at the design's gain, filters in
    bypassed_volts: float  # the same with every filter off
    levels: tuple[Level, ...]
    high_pass: Filter
    knobs: tuple[Knob, ...]
    level_hz: tuple[float, ...]  # of the knobs' levels
    low_pass: Filter
    band: tuple[float, float, float] | None  # Hz, dB, Q

    @property
    def used(self) -> Way:
        (way,) = (each for each in self.ways if each.used)
        return way

    @property
    def headroom_db(self) -> float:
        """What is left up to the amplifier's stated power, dB."""
        return -20.0 * math.log10(self.gain)

    @property
    def turned_down(self) -> bool:
        return self.gain < _ALL

    def as_json(self) -> dict[str, Any]:
        """It as plain values for a file, SI; what is not there is None."""
        ways = [
            {
                "wiring": way.network.words, "coils": way.network.coils, "in_series": way.network.in_series,
                "in_parallel": way.network.in_parallel, "load_ohm": way.network.load,
                "resistance_ohm": way.network.resistance, "drivable": way.drivable, "used": way.used,
                "power_w": _number(way.power), "driver_power_w": _number(way.driver_power),
                "coil_power_w": _number(way.coil_power),
            }
            for way in self.ways
        ]  # fmt: skip
        levels = [
            {"db": each.db, "volts": each.volts, "power_w": each.power, "driver_power_w": each.driver_power,
             "coil_power_w": each.coil_power}
            for each in self.levels
        ]  # fmt: skip
        knobs = [
            {"order": each.order, "hz": _number(each.hz), "volts": each.volts, "levels_db": list(each.levels)}
            for each in self.knobs
        ]
        band = None if self.band is None else dict(zip(("hz", "db", "q"), self.band, strict=True))
        return {
            "amplifier": self.amplifier.name, "lowest_load_ohm": self.amplifier.lowest_load, "wirings": ways,
            "full_volts": self.full_volts, "gain": self.gain, "limited_by": self.limited_by,
            "limited_hz": _number(self.limited_hz), "held": self.held, "tone_hz": self.tone, "tone_db": self.tone_db,
            "volts": self.volts, "bypassed_volts": self.bypassed_volts, "levels": levels,
            "high_pass": _filter(self.high_pass), "low_pass": _filter(self.low_pass), "band": band,
            "knob_levels_hz": list(self.level_hz), "knobs": knobs,
        }  # fmt: skip


def set_up_of(
    scenario: Scenario,
    *,
    family: Family,
    systems: Systems,
    filter_hz: float,
    gain: float,
    limited_by: str,
    limited_hz: float,
    levels: Sequence[float],
) -> SetUp:
    """How one design of a scenario is wired and set up.

    ``family`` is what it is a member of, ``systems`` its circuit, a batch of one; ``filter_hz`` is its high-pass's
    frequency, Hz, and ``gain`` its share of full drive, set by ``limited_by`` at ``limited_hz``; ``levels`` are those
    that it plays where the job names levels, dB.
    """
    wiring, choice, use = family.wiring, family.filter, scenario.goals.use
    driver = next(each.driver for each in scenario.candidates if each.driver.name == wiring.driver.name)
    tone = _tone(systems)
    hertz, held = np.array([tone]), not use.full_drive
    volts = float(_volts(systems, hertz, np.array([gain]))[0]) * wiring.in_series
    headroom = -20.0 * math.log10(gain)
    steps = [step for step in STEPS if step <= 0.0 or step < headroom - 1.0]
    steps += [headroom] if gain < _ALL else []
    bare = Filter() if choice.order == 0 else Filter(shape=choice.shape, order=choice.order, q=choice.q, hz=filter_hz)
    return SetUp(
        amplifier=scenario.amplifier, ways=_ways(driver, wiring, scenario.amplifier),
        full_volts=wiring.voltage * wiring.in_series, gain=gain, limited_by=limited_by, limited_hz=limited_hz,
        held=held, tone=tone, tone_db=_db(systems, hertz), volts=volts,
        bypassed_volts=gain * wiring.voltage * wiring.in_series,
        levels=tuple(_level(step, volts, gain, wiring.power, wiring) for step in steps),
        high_pass=bare,
        knobs=_knobs(scenario, systems, hertz, np.asarray(levels), wiring.in_series) if held else (),
        level_hz=use.levels, low_pass=_low_pass(scenario.chain),
        band=None if scenario.chain.band_db == 0.0
        else (scenario.chain.band_hz, scenario.chain.band_db, scenario.chain.band_q),
    )  # fmt: skip


def _ways(driver: Driver, wiring: Network, amplifier: Amplifier) -> tuple[Way, ...]:
    found = []
    for network in networks(driver, wiring.count):
        power = power_into(amplifier, network.load)
        same = (network.coils, network.in_series) == (wiring.coils, wiring.in_series)
        found.append(Way(network=network, power=math.nan if power is None else power, used=same))
    return tuple(found)


def _tone(systems: Systems) -> float:
    """The tone that the filters change least, and of those that they change as little the most usual."""
    changed = [abs(_db(systems, np.array([hz]))) for hz in TONES]
    least = min(changed)
    return next(tone for tone, db in zip(TONES, changed, strict=True) if db <= least + _NO_NEARER)


def _db(systems: Systems, hertz: Floats) -> float:
    return float(20.0 * np.log10(np.abs(chain_response(systems.take(_ROWS), hertz)))[0, 0])


def _volts(systems: Systems, hertz: Floats, gain: Floats) -> Floats:
    """Of a tone at each driver of N systems, at a ``gain`` (N,)."""
    return np.abs(terminal_voltage(systems.take(_ROWS), hertz, gain))[:, 0]


def _level(db: float, volts: float, gain: float, power: float, network: Network) -> Level:
    share = 10.0 ** (db / 20.0)
    drawn = power * (gain * share) ** 2
    each = drawn / network.count
    return Level(db=db, volts=volts * share, power=drawn, driver_power=each, coil_power=each / network.driver.coils)


def _knobs(scenario: Scenario, systems: Systems, hertz: Floats, levels: Floats, in_series: int) -> tuple[Knob, ...]:
    """Gain and levels with no high-pass and with those that amplifiers have, judged as the design was."""
    settings = [(0, math.nan), *((order, hz) for order in KNOB_ORDERS for hz in KNOBS)]
    order, hz = (np.array(each) for each in zip(*settings, strict=True))
    q, q2 = section_qs(shape="butterworth", order=order)
    others = replace(
        systems.take(np.zeros(len(settings), dtype=np.intp)),
        filter_order=order.astype(float), filter_hz=np.where(order > 0, hz, 0.0), filter_q=q, filter_q2=q2,
    )  # fmt: skip
    goals = scenario.goals
    found = figures(
        others, music_band=goals.music_band, vent_speed_limit=goals.vent_speed_limit, exact=True, use=goals.use,
        asked=(),
    )  # fmt: skip
    volts = _volts(others, hertz, found.gain) * in_series
    return tuple(
        Knob(order=setting[0], hz=setting[1], volts=float(each), levels=tuple((heard - levels).tolist()))
        for setting, each, heard in zip(settings, volts, found.levels, strict=True)
    )


def _low_pass(chain: Chain) -> Filter:
    """The job's crossover, by the name of the shape whose sections it has."""
    order, sections = chain.low_pass_order, (chain.low_pass_q, chain.low_pass_q2)
    if not order:
        return Filter()
    shape = next(name for name in NAMED if np.allclose(section_qs(shape=name, order=order), sections))
    return Filter(shape=shape, order=order, hz=chain.low_pass_hz)


def _number(value: float) -> float | None:
    return float(value) if math.isfinite(value) else None


def _filter(filter_: Filter) -> dict[str, Any] | None:
    if not filter_.order:
        return None
    return {"shape": filter_.shape, "order": filter_.order, "q": _number(filter_.q), "hz": filter_.hz}
