"""Maximum output at full power in real arithmetic, for speed: what ``large_signal`` solves to 1e-12, to a few trials.

Same unknown, same order of working out, no complex numbers.  With peak amplitudes: W is the speed of the vents' air
or of the passive radiators, a closed box's pressure; v and F are speed of and force on each cone.  S is the
openings' area, r and x their resistance and reactance times S, g and b conductance and susceptance of
leak and compliance over n·sd:

    p = W·(q + jx)                 q = r + 4/(3π)·ρ·K·W              closed: q = 1, x = 0
    v = W·(a + (q + jx)·(g + jb))  a = S/(n·sd)                      closed: a = 0
    |v/W|² = a² + 2a·(g·q - b·x) + (g² + b²)·(q² + x²)
    F·v*/W² = P + jQ               P = rms·|v/W|² + sd·(a·q + g·(q² + x²))
                                   Q = (ω·mms - K₁/ω)·|v/W|² + sd·(a·x - b·(q² + x²))
    I = W·(P/B₋ + jQ/B₊)/(bl·|v/W|)          B₋ across, B₊ along, both over bl
    V = I·(re/(1 - ½·α·R·re·|I|²) + Zc) + bl·B₋·|v|

So |v/W|², P and Q are parabolas in q, whose coefficients are made once.

Frequency runs along the first axis and designs along the last.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

import numpy as np

from engine.acoustics.circuit import Systems
from engine.acoustics.roots import close_in, jet_step, secant_step
from engine.acoustics.travel import Shape, motor_factors
from engine.acoustics.turbulence import JET
from engine.arrays import Flags, Indices, Reals

_TRIALS = 2  # at all points, after the first two
_MORE = 5  # at those not yet there
_CLOSE = 0.05  # of ln ratio², beyond which a point gets more trials: the last line then gives it to 0.01 dB
_DB = np.float32(10.0 / math.log(10.0))  # of a ln power
_QUARTER, _HALF, _WHOLE = np.float32(0.25), np.float32(0.5), np.float32(1.0)
_REACH = 6.0  # of ln size, how far from the start the answer may lie
_ENDLESS = np.float32(1e9)  # times the rated power
_COLDEST = 0.02  # least of 1 - ½·α·R·re·|I|², below which no step need tell one drive from another


def grows(systems: Systems) -> Flags:
    """Whether anything of a row depends on the level, (N,)."""
    return (systems.thermal > 0.0) | (systems.vented & (systems.vent_loss > 0.0)) | _bends(systems)


def output_loss_db(
    systems: Systems, *, frequency: Reals, drive_loss: Reals | float, pressure: Reals, vent_speed_limit: float
) -> Reals:
    """Level in dB that the linear model's maximum output promises too much; (F, N).

    ``frequency`` (F, 1) in Hz; ``drive_loss`` 1/|H|² of the signal's chain, and ``pressure`` Pa² RMS at the linear
    model's maximum output, both (F, N) of :class:`engine.acoustics.squares.At`; ``vent_speed_limit`` in m/s.
    """
    quick = QuickPower(systems, frequency, drive_loss=drive_loss, vent_speed_limit=vent_speed_limit)
    start = quick.place(pressure)
    place = settle(quick, start)
    q = quick.rest + quick.jet * np.exp(place)
    # |p| is W·|q + jx|, and what comes of it outside is linear.
    louder = (q * q + quick.xx) / (quick.rest * quick.rest + quick.xx)
    lost = -_DB * (2.0 * (place - start) + np.log(louder))
    return np.asarray(np.where(grows(systems), lost, 0.0))


def shares(
    systems: Systems, *, frequency: Reals, chain_loss: Reals | float, pressure: Reals, vent_speed_limit: float
) -> Reals:
    """The gain at which systems come to the first limit at each frequency by itself, as a share of full drive; (F, N).

    Above 1 where the amplifier cannot break any.  ``chain_loss`` is 1/|H|² of the signal's chain, below 1 where that
    raises something; the rest as for :func:`output_loss_db`, the limits but not the amplifier held.
    """
    quick = QuickPower(systems, frequency, drive_loss=chain_loss, vent_speed_limit=vent_speed_limit)
    held = quick.only(drive=False)
    squared, _ = quick.only(drive=True)(settle(held, held.place(pressure)))
    return np.asarray(np.exp(0.5 * squared), float)


def at_drive(
    systems: Systems, *, frequency: Reals, drive_loss: Reals | float, pressure: Reals
) -> tuple[Reals, Reals, Reals]:
    """Peak excursion of each cone (m), peak speed of the vents' air or the radiators (m/s; else 0), Pa² RMS; (F, N).

    At a given drive, whatever limits that breaks.  ``frequency`` (F, N) in Hz; ``drive_loss`` is how far the square of
    the voltage lies below the amplifier's full one; ``pressure`` (F, N) Pa² RMS is that of the linear model there.
    """
    quick = QuickPower(systems, frequency, drive_loss=drive_loss, vent_speed_limit=math.inf).only(drive=True)
    place = settle(quick, quick.place(pressure))
    size = np.exp(place)
    q = quick.rest + quick.jet * size
    excursion = size * np.sqrt(_parabola(quick.square, q) * quick.per_omega2)
    loud = size * size * (q * q + quick.xx) * quick.sound
    return excursion, np.where(systems.vented | systems.radiating, size, 0.0), loud


def _bends(systems: Systems) -> Flags:
    q = systems
    return np.asarray((q.bl2 != 0.0) | (q.bl4 != 0.0) | (q.k2 != 0.0) | (q.k4 != 0.0))


class QuickPower:
    """A batch of N systems at F frequencies, ready to be tried at any size."""

    def __init__(
        self, systems: Systems, frequency: Reals, *, drive_loss: Reals | float, vent_speed_limit: float
    ) -> None:
        """As for :func:`output_loss_db`."""
        q = systems
        omega: Reals = 2.0 * math.pi * np.asarray(frequency, dtype=float)
        cones, wb_cab = q.count * q.sd, q.omega_b * q.cab
        open_ = q.vented | q.radiating
        area = np.where(open_, q.opening, 0.0)

        # Where parts may cancel, in double precision: compliance with what is in series, opening, moving parts.
        series = omega * q.mutual - 1.0 / (omega * q.cab)
        absorption = 1.0 / (wb_cab * q.qa)
        size: Reals = series**2 + absorption**2
        susceptance = -series / (size * cones)
        opening = area / (wb_cab * np.where(open_, q.branch.ratio(1j * omega), 1.0))
        x: Reals = np.where(open_, opening.imag, 0.0)
        a: Reals = area / cones - susceptance * x
        reactance: Reals = omega * q.moving_mass - 1.0 / (omega * q.cms)

        omega, size, b, x, a, reactance = _single(omega, size, susceptance, x, a, reactance)
        rms, sd, ratio, leak = _single(q.rms, q.sd, area / cones, wb_cab / q.ql / cones)
        g = _single(absorption / cones)[0] / size + leak
        across = g * x
        still, linear, through = a * a + across * across, 2.0 * ratio * g, g * g + b * b
        self.square = [still, linear, through]
        self.active = [rms * still + sd * x * across, rms * linear + sd * ratio, rms * through + sd * g]
        self.reactive = [reactance * still + sd * x * a, reactance * linear, reactance * through - sd * b]
        jet = np.where(q.vented, JET * q.air.rho * q.vent_loss, 0.0)
        self.jet, self.rest = _single(jet, np.where(open_, opening.real, 1.0))
        self.xx = x * x
        self.sound = omega**2 * np.float32(0.5 * (q.air.rho / (2.0 * math.pi)) ** 2) / size

        le, (l2, delay) = _single(q.le)[0], _single(*q.lossy_section)
        self.inductive: Reals = omega * le
        self.resistive: Reals = np.zeros_like(le)
        if np.any(l2):
            turn = omega * delay
            section = omega * l2 / (1.0 + turn * turn)
            self.inductive += section
            self.resistive = section * turn
        law = q.power_law
        if law is not None:
            twice = 2.0 * math.pi * np.asarray(frequency, dtype=float)
            resistance, reactance = _single(law.resistance(twice), law.reactance(twice))
            self.inductive, self.resistive = self.inductive + reactance, self.resistive + resistance

        self.is_warm = bool(np.any(q.thermal))
        warmth = q.coefficient * q.thermal
        self.re, self.bl2, self.warm = _single(q.re, q.bl**2, 0.5 * warmth * q.re / q.bl**2)
        # What each of drive, heat, excursion and opening is over what it may be, for W = 1.
        self.by_heat, self.warmth = _single(0.5 / (q.bl**2 * q.rated_power), warmth * q.rated_power)
        by_drive, by_excursion, chain = _single(0.5 / (q.bl * q.voltage) ** 2, q.xmax**-2.0, np.asarray(drive_loss))
        self.by_drive = by_drive * np.broadcast_to(chain, x.shape)
        per_omega2 = omega**-2
        self.by_excursion = per_omega2 * by_excursion
        vents = np.where(q.vented, vent_speed_limit, np.inf)
        self.by_opening, by_radiator = _single(vents**-2.0, np.where(q.radiating, q.radiator_xmax, np.inf) ** -2.0)
        if np.any(q.radiating):
            self.by_opening = self.by_opening + per_omega2 * by_radiator

        self.per_omega2 = np.broadcast_to(per_omega2, x.shape)
        self.bends = bool(np.any(_bends(q)))
        if self.bends:
            self.spring = 1.0 / (omega * _single(q.cms)[0])
            self.bent = _single(q.bl2, q.bl4, q.k2, q.k4)

    def only(self, *, drive: bool) -> QuickPower:
        """The same with the voltage as the only limit, or as the only one that is none."""
        other = object.__new__(QuickPower)
        other.__dict__.update(vars(self))
        if not drive:
            other.by_drive = np.zeros_like(self.by_drive)
            return other
        other.by_excursion, other.by_opening = np.zeros_like(self.by_excursion), np.zeros_like(self.by_opening)
        # A heat nobody reaches stands for none, since where to start is judged by it.
        other.by_heat, other.warmth = self.by_heat / _ENDLESS, self.warmth * _ENDLESS
        return other

    def pick(self, flat: Indices) -> QuickPower:
        """Some of the points, by their place in an array (F, N) flattened; everything then is (P,)."""
        column = flat % len(self.re)

        def some(value: Any) -> Any:
            if isinstance(value, list):
                return [some(each) for each in value]
            if not isinstance(value, np.ndarray):
                return value
            return value[column] if value.ndim == 1 else value.ravel()[flat]

        picked = object.__new__(QuickPower)
        picked.__dict__.update({name: some(value) for name, value in vars(self).items()})
        return picked

    def place(self, pressure: Reals) -> Reals:
        """Ln W at which a linear circuit has this ``pressure``, Pa² RMS."""
        return np.asarray(0.5 * np.log(pressure / ((self.rest * self.rest + self.xx) * self.sound)), np.float32)

    def __call__(self, place: Reals, *, warm: bool = True) -> tuple[Reals, Reals]:
        """Ln of the greatest ratio², and heat over rated power for W = 1, at ln W; a cold coil without ``warm``."""
        size = np.exp(place)
        q = self.jet * size
        q += self.rest
        square, active, reactive = (_parabola(each, q) for each in (self.square, self.active, self.reactive))
        size *= size
        across: Reals | None = None
        if self.bends:
            peak = square * self.per_omega2
            peak *= size
            bl2, bl4, k2, k4 = self.bent
            stiff = Shape(second=k2, fourth=k4).along(peak)
            stiff -= _WHOLE
            stiff *= self.spring
            stiff *= square
            reactive -= stiff
            along, across = motor_factors(Shape(second=bl2, fourth=bl4), peak)
            active /= across
            reactive /= along
        current = active * active
        current += reactive * reactive
        current /= square
        hot = self.re
        if warm and self.is_warm:
            size *= current
            size *= self.warm
            np.subtract(_WHOLE, size, out=size)
            np.maximum(size, _COLDEST, out=size)
            hot = np.divide(self.re, size, out=size)
        current *= hot
        current *= self.by_heat
        seen = hot + self.resistive
        real = active * seen
        real -= reactive * self.inductive
        motion = self.bl2 * square
        if across is not None:
            motion *= across
        real += motion
        reactive *= seen
        active *= self.inductive
        reactive += active
        real *= real
        reactive *= reactive
        real += reactive
        real /= square
        real *= self.by_drive
        square *= self.by_excursion
        np.maximum(real, square, out=real)
        np.maximum(real, current, out=real)
        np.maximum(real, self.by_opening, out=real)
        np.log(real, out=real)
        real += place
        real += place
        return real, current


def _single(*values: Reals) -> list[Reals]:
    """In single precision: half the memory to go through, and a millionth is plenty here."""
    return [np.asarray(each, dtype=np.float32) for each in values]


def _parabola(coefficients: Sequence[Reals], q: Reals) -> Reals:
    constant, linear, second = coefficients
    total = second * q
    total += linear
    total *= q
    total += constant
    return total


def settle(quick: QuickPower, start: Reals) -> Reals:
    """Ln W at which the systems meet the first of the limits, (F, N), from that of the linear model.

    A few trials at all points, some more at those that need them, so that a point does not depend on
    its neighbours; the last line through two trials is drawn on to where the ratio is 1.
    """
    # The vent first, with a cold coil, then the coil: a warm one too fast in the vent seems to run away.
    value, heat = quick(start, warm=False)
    place = start + jet_step(value)
    if quick.is_warm:
        # y/(1 - h·y²) = 1: the current of a coil that is all resistance.
        heat *= quick.warmth
        heat *= np.exp(2.0 * place)
        place -= np.log(_HALF + np.sqrt(_QUARTER + heat))
    value, _ = quick(place)
    step = jet_step(value)
    for _ in range(_TRIALS):
        place, before = place + step, value
        value, _ = quick(place)
        step = secant_step(value, before, step)
    flat = np.flatnonzero(~(np.abs(value) <= _CLOSE))
    found = place + step
    if len(flat):
        some = quick.pick(flat)
        start, at_start = place.ravel()[flat], value.ravel()[flat]
        last, _, step = close_in(lambda at: some(at)[0], start, at_start, reach=_REACH, steps=_MORE)
        found.ravel()[flat] = last + step
    return found
