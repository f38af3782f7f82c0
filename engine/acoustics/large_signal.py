"""The circuit at full power: warm coil, noisy vent, a motor and suspension that change with the swing.

Each of these makes an element of :mod:`engine.acoustics.circuit` depend on how hard it works, at each
frequency for itself (quasi-linear, all else than the fundamental left out):

    vent        peak air speed W   →  resistance 4/(3π)·ρ·K·W               (turbulence)
    travel      peak excursion X   →  stiffness K₁(X), Bl along and across  (travel)
    coil        RMS current I      →  resistance re/(1 - α·R·re·I²)         (heating)

Started from the drive, that is a set of equations to iterate.  Started from the vent it is none:
W gives the vent's resistance, so the box's pressure, so what flows into the box, so the cone's velocity and X, so
the force, so I, so r, and at last the voltage that does it all.  Every answer is then one root of one
function of W: where the voltage is the amplifier's, or where the first of several limits is met.
Passive radiators start from their own speed, a closed box from its pressure.

Where a motor or suspension bends so much that one voltage has several answers (a jump), the one
found is one of them; up to Xmax none was seen, see the tests.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any, NamedTuple

import numpy as np

from engine.acoustics import travel
from engine.acoustics.circuit import Systems
from engine.acoustics.heating import hot_resistance, rise
from engine.acoustics.lumps import Lumps, Parts, Point, full_voltage, lumps_of, point
from engine.acoustics.roots import jet_step
from engine.acoustics.travel import LEAST_BL
from engine.arrays import Complexes, Floats, Number
from engine.core.compiled import Table, borrowing, compiled, in_pieces, table

_SMALL = 1e-9  # of whatever the chain starts from, so little that all is linear
_REACH = 12.0  # of ln size, how far from the first guess the answer may lie
_STEPS = 192  # at most, for points that are hard to settle; most take three
_FINE = 1e-11  # of ln ratio²
_LAST = 1e-9  # of the product of the last two: the next secant is off by a thirtieth of it, and is not tried
_NEAR = 0.3  # of ln ratio², within which a guess from the neighbouring frequency is followed
_FURTHER = 0.5  # of ln size from one frequency to the next, up to which a guess goes on
_ENDLESS = 40.0  # ln ratio² of a drive no amplifier has: the coil would never settle
_LEVEL = 10.0 * float(np.finfo(float).eps)  # of ln ratio², less than which tells no slope


class Limits(NamedTuple):
    """What squares of one system are multiplied by so that 1 is as much as may be; 0 for what counts for nothing."""

    drive: float = 0.0  # of the share of the amplifier's voltage
    heat: float = 0.0  # of W in one driver's coil
    excursion: float = 0.0  # of m, peak
    vent_speed: float = 0.0  # of m/s, peak
    radiator: float = 0.0  # of m, peak


class Swing(NamedTuple):
    """The fundamental in driver and box, phases against the cone's velocity."""

    speed: float  # m/s RMS, of the cone
    through: complex  # m/s RMS, of the air in the opening or the radiator; 0 without
    pressure: complex  # Pa RMS, in the box
    across: float  # share of Bl that is left for the velocity
    current: complex  # A RMS
    hot: float  # ohm
    volts: complex  # V RMS at one driver's terminals


_along: Any = compiled(travel.along)
_across: Any = compiled(travel.across)
_jet_step: Any = compiled(jet_step)


@compiled
def swing(parts: Parts, point: Point, size: float) -> Swing:
    """Everything that goes with a ``size``: peak speed of vents' air or radiators in m/s, of a closed box its RMS
    pressure in Pa.
    """
    omega = point.omega
    if parts.open:
        through = size / np.sqrt(2.0)
        out = through * parts.area
        pressure = out * (point.opening + parts.jet * size / parts.area)
    else:
        through, out = 0.0, 0.0
        pressure = complex(size)
    velocity = (out + pressure * point.closed) * (1.0 / parts.cones)
    speed = np.sqrt(velocity.real * velocity.real + velocity.imag * velocity.imag)
    square = 2.0 * (speed * point.per_omega) ** 2
    turn = velocity.conjugate() * (1.0 / speed) if speed > 0.0 else complex(1.0)
    pressure = pressure * turn
    # Reactance of mass and bent suspension, both with the velocity.
    position = omega * parts.mass - _along(parts.k2, parts.k4, square) * point.spring
    with_speed = parts.rms * speed + parts.sd * pressure.real
    with_position = position * speed + parts.sd * pressure.imag
    in_phase = max(_along(parts.bl2, parts.bl4, square), LEAST_BL)
    across = max(_across(parts.bl2, parts.bl4, square), LEAST_BL)
    current = complex(with_speed / (parts.bl * across), with_position / (parts.bl * in_phase))
    amperes = np.sqrt(current.real * current.real + current.imag * current.imag)
    hot = hot_resistance(parts.re, amperes, parts.thermal, parts.coefficient)
    volts = current * (hot + point.coil) + parts.bl * across * speed
    return Swing(speed, through * turn, pressure, across, current, hot, volts)


@compiled
def _excess(parts: Parts, point: Point, limits: Limits, full: float, ln_size: float) -> float:
    """Ln of the largest of the squares that ``limits`` name over what they allow, ``full`` V the amplifier's."""
    found = swing(parts, point, np.exp(ln_size))
    most = 0.0
    if limits.drive > 0.0:
        most = limits.drive * (found.volts.real**2 + found.volts.imag**2) / full**2
    if limits.heat > 0.0:
        most = max(most, limits.heat * found.hot * (found.current.real**2 + found.current.imag**2))
    per_omega2 = 2.0 * point.per_omega**2
    most = max(most, limits.excursion * found.speed**2 * per_omega2)
    through = found.through.real**2 + found.through.imag**2
    if parts.vented:
        most = max(most, limits.vent_speed * 2.0 * through)
    if parts.radiating:
        most = max(most, limits.radiator * through * per_omega2)
    return float(min(np.log(most), _ENDLESS))


class Start(NamedTuple):
    """Where a point is looked for first: ln of its size, and by how much ln ratio² grows with that."""

    place: float
    rise: float


NOWHERE = Start(math.nan, math.nan)


@compiled
def settle(parts: Parts, point: Point, limits: Limits, full: float, start: Start) -> Start:
    """Ln of the size at which the first limit is met; nan where that makes no sense.

    From the ``start`` if that is near.  Else from that of the linear circuit, by what a vent's jet takes from it.  Then
    by secants while all trials lie to one side of the root, and by the Illinois rule (Dowell & Jarratt 1971) from
    there.  The root lies within ``_REACH`` of the first trial, or further where the value asks for it: it grows at
    least as the square of the size.  The far end is not tried, the value there is taken as that square.
    """
    place, rise = start.place, start.rise
    value = _excess(parts, point, limits, full, place) if place > -np.inf else np.inf
    step = -value / rise
    if not abs(value) <= _NEAR:
        place = np.log(_SMALL)
        place -= 0.5 * _excess(parts, point, limits, full, place)
        place += _jet_step(_excess(parts, point, limits, full, place))
        value = _excess(parts, point, limits, full, place)
        step = _jet_step(value)
    above = value > 0.0
    # A value beyond what the reach accounts for, such as that of a coil that runs away, must not hide the root.
    far = max(_REACH, 0.5 * abs(value) + 1.0)
    low = place - (far if above else 0.0)
    high, at_low = low + far, value - (2.0 * far if above else 0.0)
    at_high = at_low + 2.0 * far
    one_sided, before = True, np.inf
    for _ in range(_STEPS):
        if abs(value) <= _FINE:
            break
        new = place + step
        if abs(value * before) <= _LAST:
            place = new
            break
        if not (one_sided and low < new < high):
            new = (low * at_high - high * at_low) / (at_high - at_low)
        before, moved = value, new - place
        place, value = new, _excess(parts, point, limits, full, new)
        if abs(value - before) > _LEVEL:
            rise = (value - before) / moved
            step = min(max(-value / rise, -1.0), 1.0)
        else:
            step = 0.0
        same = above == (value > 0.0)
        one_sided, above = one_sided and same, value > 0.0
        half = 0.5 if same else 1.0  # the end that stays twice running counts half
        if above:
            high, at_high, at_low = place, value, at_low * half
        else:
            low, at_low, at_high = place, value, at_high * half
    return Start(place, rise)


class Swings(NamedTuple):
    """What N systems do at F frequencies, arrays (N, F): :class:`Swing` and what goes with it."""

    size: Floats  # what all follows from, as swing takes it
    speed: Floats
    through: Complexes
    pressure: Complexes
    current: Complexes
    hot: Floats
    volts: Complexes
    full: Floats  # V RMS that the amplifier gives
    signal: Floats
    sound: Floats  # Pa RMS at 1 m on axis, half space


@borrowing
def _respond(
    begin: int, end: int, every: Lumps, limits: Table, frequency: Floats, gain: Floats, rho: float, found: Swings
) -> None:
    for i in range(begin, end):
        parts, start, last, on = every.parts[i], NOWHERE, NOWHERE.place, 0.0
        for f in range(frequency.shape[1]):
            here = point(every, i, frequency[i, f])
            full = full_voltage(parts, here, gain[i])
            there = settle(parts, here, limits[i], full, start)
            size = np.exp(there.place)
            one = swing(parts, here, size)
            found.size[i, f], found.full[i, f], found.signal[i, f] = size, full, here.signal
            found.speed[i, f], found.through[i, f], found.pressure[i, f] = one.speed, one.through, one.pressure
            found.current[i, f], found.hot[i, f], found.volts[i, f] = one.current, one.hot, one.volts
            found.sound[i, f] = abs(one.pressure * here.compliance) * here.omega * rho / (2.0 * math.pi)
            # The next is looked for on the parabola through the last three.
            before, on = on, there.place - last
            further = 2.0 * on - before
            start, last = Start(there.place + (further if abs(further) < _FURTHER else 0.0), there.rise), there.place


@dataclass(frozen=True, kw_only=True)
class LargeResponse:
    """What N systems do at F frequencies, everything (N, F), SI."""

    systems: Systems
    omega: Floats
    found: Swings

    def _each(self, name: str) -> Floats:
        """A field of the systems, (N, 1)."""
        return np.asarray(getattr(self.systems, name)[:, np.newaxis])

    @property
    def drive(self) -> Floats:
        """Share of the voltage that the gain stands for."""
        return np.asarray(np.abs(self.found.volts) / self.found.full)

    @property
    def share(self) -> Floats:
        """Share of full drive, above 1 where the amplifier has no such voltage."""
        return np.asarray(np.abs(self.found.volts) / (self._each("voltage") * self.found.signal))

    @property
    def pressure(self) -> Floats:
        """Pa RMS at 1 m on axis, half space."""
        return self.found.sound

    @property
    def excursion(self) -> Floats:
        """Peak, m."""
        return np.asarray(np.sqrt(2.0) * self.found.speed / self.omega)

    @property
    def vent_speed(self) -> Floats:
        """Peak, m/s; 0 without vents."""
        return np.where(self._each("vented"), np.sqrt(2.0) * np.abs(self.found.through), 0.0)

    @property
    def radiator_excursion(self) -> Floats:
        """Peak of each passive radiator, m; 0 without."""
        return np.where(self._each("radiating"), np.sqrt(2.0) * np.abs(self.found.through) / self.omega, 0.0)

    @property
    def current(self) -> Floats:
        """A RMS through one driver."""
        return np.asarray(np.abs(self.found.current))

    @property
    def impedance(self) -> Complexes:
        """Ohm at one driver's terminals, of the fundamental."""
        return self.found.volts / self.found.current

    @property
    def heat(self) -> Floats:
        """W in the resistance of one driver's coil."""
        return self.found.hot * self.current**2

    @property
    def coil_rise(self) -> Floats:
        """K above the air."""
        warmer = rise(re=self._each("re"), hot=self.found.hot, coefficient=self._each("coefficient"))
        return np.where(self._each("thermal") > 0.0, warmer, 0.0)


def limits_of(count: int, limits: Mapping[str, Number]) -> Table:
    """``limits``, :class:`Limits` by name, as a table of so many rows."""
    allowed = table(Limits, count)
    for name, limit in limits.items():
        allowed[name] = limit
    return allowed


def respond_large(systems: Systems, *, frequency: Floats, gain: Number = 1.0) -> LargeResponse:
    """What ``systems`` do at a ``gain`` (N,), 1 at full drive, everything that grows with level included.

    ``frequency`` in Hz is (F,) or (N, F).  Without any such effect it is the linear circuit.  Rows
    that make no sense give nan.  Good for the fundamental, up to about Xmax (see the tests).
    """
    return respond_until(systems, {"drive": 1.0}, frequency=frequency, gain=gain)


def respond_until(
    systems: Systems, limits: Mapping[str, Number], *, frequency: Floats, gain: Number = 1.0
) -> LargeResponse:
    """What ``systems`` do where the first of the ``limits`` is met, :class:`Limits` by name; else as ``respond_large``.

    Each point is settled to 1e-11 of ln ratio², from where its neighbours say it may lie.
    """
    shape = (len(systems), np.shape(frequency)[-1])
    hertz = np.array(np.broadcast_to(frequency, shape), dtype=float, order="C")  # a view of one row cannot be written
    kinds = {"through": complex, "pressure": complex, "current": complex, "volts": complex}
    found = Swings(**{name: np.empty(shape, dtype=kinds.get(name, float)) for name in Swings._fields})
    allowed, gains = limits_of(len(systems), limits), np.array(np.broadcast_to(gain, len(systems)), dtype=float)
    with np.errstate(all="ignore"):
        in_pieces(_respond, len(systems), lumps_of(systems), allowed, hertz, gains, systems.air.rho, found)
    return LargeResponse(systems=systems, omega=2.0 * math.pi * hertz, found=found)


def compression_db(found: LargeResponse, linear_pressure: Complexes) -> Floats:
    """Level in dB that the linear model promises too much, at the same drive; (N, F).

    ``linear_pressure`` is that of ``respond`` at the gain of ``found``, which may be at any drive.
    """
    with np.errstate(all="ignore"):
        return np.asarray(20.0 * np.log10(np.abs(linear_pressure) * found.drive / found.pressure))
