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
from engine.acoustics.circuit import Systems, coil_branch, compliance_branch, opening_branch, terminal_voltage
from engine.acoustics.heating import hot_resistance, rise
from engine.acoustics.roots import jet_step
from engine.acoustics.travel import LEAST_BL, Shape
from engine.acoustics.turbulence import jet_resistance
from engine.arrays import Complexes, Floats, Number
from engine.core.compiled import Table, compiled, in_pieces, table

_SMALL = 1e-9  # of whatever the chain starts from, so little that all is linear
_REACH = 12.0  # of ln size, how far from the first guess the answer may lie
_STEPS = 192  # at most, for points that are hard to settle; most take six
_FINE = 1e-11  # of ln ratio²
_ENDLESS = 40.0  # ln ratio² of a drive no amplifier has: the coil would never settle
_LEVEL = 10.0 * float(np.finfo(float).eps)  # of ln ratio², less than which tells no slope


class Limits(NamedTuple):
    """What squares of one system are multiplied by so that 1 is as much as may be; 0 for what counts for nothing."""

    drive: float = 0.0  # of the share of the amplifier's voltage
    heat: float = 0.0  # of W in one driver's coil
    excursion: float = 0.0  # of m, peak
    vent_speed: float = 0.0  # of m/s, peak
    radiator: float = 0.0  # of m, peak


class Parts(NamedTuple):
    """The lumps of one system as the chain from inside takes them, SI; see Systems."""

    open: bool  # vents or radiators
    vented: bool
    radiating: bool
    area: float  # of the openings
    cones: float  # m², all of them
    sd: float
    bl: float
    cms: float
    rms: float
    mass: float
    re: float
    thermal: float
    coefficient: float
    jet: float  # Pa·s²/m², what a vent's resistance grows by with its peak air speed
    bl2: float
    bl4: float
    k2: float
    k4: float


class Point(NamedTuple):
    """One system at one frequency: admittances and impedances, complex."""

    omega: float
    opening: complex  # impedance of vents or radiators, Pa s/m³; 0 without
    closed: complex  # admittance of spring and leak
    coil: complex  # what inductance adds to the coil, ohm
    full: float  # V RMS that the amplifier gives


class Swing(NamedTuple):
    """The fundamental in driver and box, phases against the cone's velocity."""

    speed: float  # m/s RMS, of the cone
    through: complex  # m/s RMS, of the air in the opening or the radiator; 0 without
    pressure: complex  # Pa RMS, in the box
    across: float  # share of Bl that is left for the velocity
    current: complex  # A RMS
    hot: float  # ohm
    volts: complex  # V RMS at one driver's terminals


@dataclass(frozen=True, kw_only=True)
class LargeResponse:
    """What N systems do at F frequencies, every field (N, F), SI, phases against the amplifier's voltage."""

    size: Floats  # what all follows from, see FromInside
    drive: Floats  # share of the voltage that the gain stands for
    pressure: Complexes  # Pa RMS at 1 m on axis, half space
    excursion: Floats  # m, peak
    vent_speed: Floats  # m/s, peak; 0 without vents
    radiator_excursion: Floats  # m, peak, of each passive radiator; 0 without
    current: Floats  # A RMS through one driver
    impedance: Complexes  # ohm at one driver's terminals, of the fundamental
    heat: Floats  # W in the resistance of one driver's coil
    coil_rise: Floats  # K above the air


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
    velocity = (out + pressure * point.closed) / parts.cones
    speed = np.sqrt(velocity.real * velocity.real + velocity.imag * velocity.imag)
    square = 2.0 * (speed / omega) ** 2
    turn = velocity.conjugate() / speed if speed > 0.0 else complex(1.0)
    pressure = pressure * turn
    # Reactance of mass and bent suspension, both with the velocity.
    position = omega * parts.mass - _along(parts.k2, parts.k4, square) / (omega * parts.cms)
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
def _excess(parts: Parts, point: Point, limits: Limits, ln_size: float) -> float:
    """Ln of the largest of the squares that ``limits`` name over what they allow."""
    found = swing(parts, point, np.exp(ln_size))
    most = 0.0
    if limits.drive > 0.0:
        most = limits.drive * (found.volts.real**2 + found.volts.imag**2) / point.full**2
    if limits.heat > 0.0:
        most = max(most, limits.heat * found.hot * (found.current.real**2 + found.current.imag**2))
    per_omega2 = 2.0 / point.omega**2
    most = max(most, limits.excursion * found.speed**2 * per_omega2)
    through = found.through.real**2 + found.through.imag**2
    if parts.vented:
        most = max(most, limits.vent_speed * 2.0 * through)
    if parts.radiating:
        most = max(most, limits.radiator * through * per_omega2)
    return float(min(np.log(most), _ENDLESS))


@compiled
def _settle(parts: Parts, point: Point, limits: Limits) -> float:
    """Ln of the size at which the first limit is met; nan where that makes no sense.

    From that of the linear circuit, by what a vent's jet takes from it, then by secants while all trials lie to one
    side of the root, and by the Illinois rule (Dowell & Jarratt 1971) from there.  The root lies within ``_REACH`` of
    the first trial, or further where the value asks for it: it grows at least as the square of the size.  The far end
    is not tried, the value there is taken as that square.
    """
    small = np.log(_SMALL)
    place = small - 0.5 * _excess(parts, point, limits, small)
    place += _jet_step(_excess(parts, point, limits, place))
    value = _excess(parts, point, limits, place)
    above = value > 0.0
    # A value beyond what the reach accounts for, such as that of a coil that runs away, must not hide the root.
    far = max(_REACH, 0.5 * abs(value) + 1.0)
    low = place - (far if above else 0.0)
    high, at_low = low + far, value - (2.0 * far if above else 0.0)
    at_high = at_low + 2.0 * far
    step, one_sided = _jet_step(value), True
    for _ in range(_STEPS):
        if abs(value) <= _FINE:
            break
        new = place + step
        if not (one_sided and low < new < high):
            new = (low * at_high - high * at_low) / (at_high - at_low)
        before, moved = value, new - place
        place, value = new, _excess(parts, point, limits, new)
        rise = value - before
        step = min(max(-value * moved / rise, -1.0), 1.0) if abs(rise) > _LEVEL else 0.0
        same = above == (value > 0.0)
        one_sided, above = one_sided and same, value > 0.0
        half = 0.5 if same else 1.0  # the end that stays twice running counts half
        if above:
            high, at_high, at_low = place, value, at_low * half
        else:
            low, at_low, at_high = place, value, at_high * half
    return float(place)


class Swings(NamedTuple):
    """The same of N systems at F frequencies, arrays (N, F)."""

    speed: Floats
    through: Complexes
    pressure: Complexes
    across: Floats
    current: Complexes
    hot: Floats
    volts: Complexes


class Points(NamedTuple):
    """N systems at F frequencies: a row of :class:`Parts` each, and arrays (N, F) as :class:`Point` has them."""

    parts: Table
    omega: Floats
    opening: Complexes
    closed: Complexes
    coil: Complexes
    full: Floats


@compiled
def _point(every: Points, i: int, f: int) -> Point:
    return Point(every.omega[i, f], every.opening[i, f], every.closed[i, f], every.coil[i, f], every.full[i, f])


@compiled
def _settle_all(start: int, stop: int, every: Points, limits: Table, size: Floats) -> None:
    for i in range(start, stop):
        for f in range(size.shape[1]):
            size[i, f] = np.exp(_settle(every.parts[i], _point(every, i, f), limits[i]))


@compiled
def _swing_all(start: int, stop: int, every: Points, size: Floats, found: Swings) -> None:
    for i in range(start, stop):
        for f in range(size.shape[1]):
            one = swing(every.parts[i], _point(every, i, f), size[i, f])
            found.speed[i, f], found.through[i, f], found.pressure[i, f] = one.speed, one.through, one.pressure
            found.across[i, f], found.current[i, f] = one.across, one.current
            found.hot[i, f], found.volts[i, f] = one.hot, one.volts


class FromInside:
    """From one amplitude inside the box to everything, at each frequency of each system."""

    def __init__(self, systems: Systems, frequency: Floats, gain: Number = 1.0) -> None:
        q = systems.upright
        frequency = np.broadcast_to(np.asarray(frequency, dtype=float), (len(q), np.shape(frequency)[-1]))
        self.omega = 2.0 * math.pi * frequency
        s = np.asarray(1j * self.omega, dtype=np.complex128)
        self.vented, self.radiating = q.vented, q.radiating
        self.open = self.vented | self.radiating
        self.area = np.where(self.open, q.opening, 1.0)
        admittance = opening_branch(q, s)
        self.opening = np.divide(1.0, admittance, out=np.zeros_like(admittance), where=self.open)
        self.compliance = compliance_branch(q, s)
        self.closed = self.compliance + q.omega_b * q.cab / q.ql
        self.sd, self.bl, self.cms = q.sd, q.bl, q.cms
        self.thermal, self.coefficient, self.re = q.thermal, q.coefficient, q.re
        self.cones, self.rho = q.count * q.sd, q.air.rho
        self.moving, self.spring = q.rms + s * q.moving_mass, 1.0 / (s * q.cms)
        self.coil = coil_branch(q, s)
        self.loss = np.where(q.vented, q.vent_loss, 0.0)
        self.motor, self.stiffness = Shape(second=q.bl2, fourth=q.bl4), Shape(second=q.k2, fourth=q.k4)
        self.full = terminal_voltage(q, frequency, gain)
        self.points = Points(
            table(
                Parts, len(q), open=systems.vented | systems.radiating, vented=systems.vented,
                radiating=systems.radiating, area=self.area[:, 0], cones=systems.count * systems.sd, sd=systems.sd,
                bl=systems.bl, cms=systems.cms, rms=systems.rms, mass=systems.moving_mass, re=systems.re,
                thermal=systems.thermal, coefficient=systems.coefficient,
                jet=jet_resistance(loss=self.loss[:, 0], speed=1.0, rho=self.rho),
                bl2=systems.bl2, bl4=systems.bl4, k2=systems.k2, k4=systems.k4,
            ),
            self.omega, self.opening, self.closed, np.broadcast_to(self.coil, self.omega.shape), np.abs(self.full),
        )  # fmt: skip

    def settled(self, limits: Mapping[str, Number]) -> Floats:
        """The size (N, F) at which the first of the ``limits`` is met, each point for itself."""
        allowed = table(Limits, len(self.omega))
        for name, limit in limits.items():
            allowed[name] = limit
        size = np.empty(self.omega.shape)
        in_pieces(_settle_all, len(size), self.points, allowed, size)
        return size

    def swing(self, size: Floats) -> Swings:
        """What goes with a ``size`` (N, F), arrays (N, F)."""
        reals, complexes = (np.empty((4, *size.shape), dtype=kind) for kind in (float, complex))
        found = Swings(reals[0], complexes[0], complexes[1], reals[1], complexes[2], reals[2], complexes[3])
        in_pieces(_swing_all, len(size), self.points, np.ascontiguousarray(size), found)
        return found

    def sound(self, pressure: Complexes) -> Complexes:
        """Pressure at 1 m on axis in a half space, of a ``pressure`` in the box."""
        return np.asarray(self.rho * 1j * self.omega * pressure * self.compliance / (2.0 * math.pi))

    def __call__(self, size: Floats) -> LargeResponse:
        """What goes with a ``size`` as :meth:`swing` takes it."""
        found = self.swing(size)
        amperes = np.abs(found.current)
        phase = np.conj(found.volts) / np.abs(found.volts) * self.full / np.abs(self.full)
        through = np.sqrt(2.0) * np.abs(found.through)
        return LargeResponse(
            size=size,
            drive=np.abs(found.volts) / np.abs(self.full),
            pressure=self.sound(found.pressure) * phase,
            excursion=np.sqrt(2.0) * found.speed / self.omega,
            vent_speed=np.where(self.vented, through, 0.0),
            radiator_excursion=np.where(self.radiating, through / self.omega, 0.0),
            current=amperes,
            impedance=found.volts / found.current,
            heat=found.hot * amperes**2,
            coil_rise=np.where(self.thermal > 0.0, rise(re=self.re, hot=found.hot, coefficient=self.coefficient), 0.0),
        )


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

    Each point is settled for itself, so none depends on its neighbours.
    """
    with np.errstate(all="ignore"):
        inside = FromInside(systems, frequency, gain)
        return inside(inside.settled(limits))


def compression_db(found: LargeResponse, linear_pressure: Complexes) -> Floats:
    """Level in dB that the linear model promises too much, at the same drive; (N, F).

    ``linear_pressure`` is that of ``respond`` at the gain of ``found``, which may be at any drive.
    """
    with np.errstate(all="ignore"):
        return np.asarray(20.0 * np.log10(np.abs(linear_pressure) * found.drive / np.abs(found.pressure)))
