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
from collections.abc import Callable
from dataclasses import dataclass
from functools import partial
from typing import Any

import numpy as np

from engine.acoustics.circuit import Systems, coil_branch, compliance_branch, opening_branch, terminal_voltage
from engine.acoustics.heating import hot_resistance, rise
from engine.acoustics.roots import close_in, jet_step
from engine.acoustics.travel import Shape, motor_factors
from engine.acoustics.turbulence import jet_resistance
from engine.arrays import Complexes, Floats, Indices, Number, Reals

_SMALL = 1e-9  # of whatever the chain starts from, so little that all is linear
_REACH = 12.0  # of ln size, how far from the first guess the answer may lie
_STEPS = (6, 12, 24, 48, 96)  # one time after the other, for the points that are not yet there
_FINE = 1e-11  # of ln ratio²
_ENDLESS = 40.0  # ln ratio² of a drive no amplifier has: the coil would never settle


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


@dataclass(frozen=True, kw_only=True)
class Motion:
    """The fundamental in driver and box, every field (N, F), phases against the cone's velocity."""

    speed: Floats  # m/s RMS, of the cone
    through: Complexes  # m/s RMS, of the air in the opening or the radiator; 0 without
    pressure: Complexes  # Pa RMS, in the box
    across: Reals  # share of Bl that is left for the velocity
    current: Complexes  # A RMS


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
        self.sd, self.bl, self.cms, self.re = q.sd, q.bl, q.cms, q.re
        self.thermal, self.coefficient = q.thermal, q.coefficient
        self.cones, self.rho = q.count * q.sd, q.air.rho
        self.moving, self.spring = q.rms + s * q.moving_mass, 1.0 / (s * q.cms)
        self.coil = coil_branch(q, s)
        self.loss = np.where(q.vented, q.vent_loss, 0.0)
        self.motor, self.stiffness = Shape(second=q.bl2, fourth=q.bl4), Shape(second=q.k2, fourth=q.k4)
        self.full = terminal_voltage(q, frequency, gain)

    def pick(self, flat: Indices) -> FromInside:
        """Some of the points, by their place in an array (N, F) flattened; everything then is (P,)."""
        row, place = np.divmod(flat, self.omega.shape[1])

        def some(value: Any) -> Any:
            if isinstance(value, Shape):
                return Shape(second=some(value.second), fourth=some(value.fourth))
            if not isinstance(value, np.ndarray):
                return value
            return value[row, 0] if value.shape[1] == 1 else value[row, place]

        picked = object.__new__(FromInside)
        picked.__dict__.update({name: some(value) for name, value in vars(self).items()})
        return picked

    def motion(self, size: Floats) -> Motion:
        """``size`` (N, F) is the peak speed of vents' air or radiators in m/s, or a closed box's RMS pressure in Pa."""
        through = np.where(self.open, size, 0.0) / math.sqrt(2.0)
        jet = jet_resistance(loss=self.loss, speed=through * math.sqrt(2.0), rho=self.rho) / self.area
        out = through * self.area
        pressure = np.where(self.open, out * (self.opening + jet), size)
        velocity = (out + pressure * self.closed) / self.cones
        speed = np.abs(velocity)
        square = 2.0 * (speed / self.omega) ** 2
        spring = self.spring * self.stiffness.along(square)
        turn = np.where(speed > 0.0, np.conj(velocity) / speed, 1.0)
        pressure = pressure * turn
        force = (self.moving + spring) * speed + self.sd * pressure
        along, across = motor_factors(self.motor, square)
        # The current's real part goes with the velocity, the rest with the position.
        current = force.real / (self.bl * across) + 1j * force.imag / (self.bl * along)
        return Motion(
            speed=speed,
            through=np.asarray(through * turn, dtype=np.complex128),
            pressure=pressure,
            across=across,
            current=current,
        )

    def sound(self, pressure: Complexes) -> Complexes:
        """Pressure at 1 m on axis in a half space, of a ``pressure`` in the box."""
        return np.asarray(self.rho * 1j * self.omega * pressure * self.compliance / (2.0 * math.pi))

    def __call__(self, size: Floats) -> LargeResponse:
        """What goes with a ``size`` as :meth:`motion` takes it."""
        motion = self.motion(size)
        amperes = np.abs(motion.current)
        hot = hot_resistance(re=self.re, current=amperes, thermal=self.thermal, coefficient=self.coefficient)
        volts = motion.current * (hot + self.coil) + self.bl * motion.across * motion.speed
        phase = np.conj(volts) / np.abs(volts) * self.full / np.abs(self.full)
        through = math.sqrt(2.0) * np.abs(motion.through)
        return LargeResponse(
            size=size,
            drive=np.abs(volts) / np.abs(self.full),
            pressure=self.sound(motion.pressure) * phase,
            excursion=math.sqrt(2.0) * motion.speed / self.omega,
            vent_speed=np.where(self.vented, through, 0.0),
            radiator_excursion=np.where(self.radiating, through / self.omega, 0.0),
            current=amperes,
            impedance=volts / motion.current,
            heat=hot * amperes**2,
            coil_rise=np.where(self.thermal > 0.0, rise(re=self.re, hot=hot, coefficient=self.coefficient), 0.0),
        )


def respond_large(systems: Systems, *, frequency: Floats, gain: Number = 1.0) -> LargeResponse:
    """What ``systems`` do at a ``gain`` (N,), 1 at full drive, everything that grows with level included.

    ``frequency`` in Hz is (F,) or (N, F).  Without any such effect it is the linear circuit.  Rows
    that make no sense give nan.  Good for the fundamental, up to about Xmax (see the tests).
    """
    return respond_until(systems, lambda found, _: found.drive**2, frequency=frequency, gain=gain)


Ratio = Callable[[LargeResponse, Indices], Floats]  # what some points do, and their rows -> a power


def respond_until(systems: Systems, ratio: Ratio, *, frequency: Floats, gain: Number = 1.0) -> LargeResponse:
    """What ``systems`` do where ``ratio``, a power that grows with the level, is 1; else as ``respond_large``.

    Points that are there are left alone, so none depends on its neighbours.
    """
    with np.errstate(all="ignore"):
        inside = FromInside(systems, frequency, gain)
        every = np.broadcast_to(np.arange(len(systems))[:, np.newaxis], inside.omega.shape)

        def excess(some: FromInside, rows: Indices, ln_size: Floats) -> Floats:
            return np.minimum(np.log(ratio(some(np.exp(ln_size)), rows)), _ENDLESS)

        small = np.full(inside.omega.shape, math.log(_SMALL))
        place = small - 0.5 * excess(inside, every, small)
        place += jet_step(excess(inside, every, place))
        value = excess(inside, every, place)
        for steps in _STEPS:
            flat = np.flatnonzero(np.abs(value) > _FINE)
            if not len(flat):
                break
            over = partial(excess, inside.pick(flat), every.ravel()[flat])
            place.ravel()[flat], value.ravel()[flat], _ = close_in(
                over, place.ravel()[flat], value.ravel()[flat], reach=_REACH, steps=steps
            )
        return inside(np.exp(place))


def compression_db(found: LargeResponse, linear_pressure: Complexes) -> Floats:
    """Level in dB that the linear model promises too much, at the same drive; (N, F).

    ``linear_pressure`` is that of ``respond`` at the gain of ``found``, which may be at any drive.
    """
    with np.errstate(all="ignore"):
        return np.asarray(20.0 * np.log10(np.abs(linear_pressure) * found.drive / np.abs(found.pressure)))
