"""A design playing a sound: its circuit at every instant, limits and all.

The linear part is that of :mod:`engine.acoustics.circuit`, solved for the whole sound at once in the frequency
domain, so high-pass, chain, coil, the air in the box and whatever stands in its opening are those of the curves.  What
grows with the level is taken at every instant,

    Bl(x)·i - K(x)·x        Bl(x)·u        ½·ρ·K·w·|w| in vents        r·i, r of the warm coil,

and what of it is not linear drives the circuit as further sources.  So both depend on each other, and are found by
going from one to the other until nothing changes (waveform relaxation; Lelarasmee, Ruehli & Sangiovanni-Vincentelli
1982), with Anderson's (1965) mixing of the last steps, both from memory.  A vent's part is split off at the
resistance of its fastest air, which makes the step a contraction.  Within 0.05 dB of the tones of
:mod:`engine.acoustics.large_signal` (see the tests); here the harmonics are in it too.

The amplifier clips at its full voltage.  The coil is as warm as the figures of a front count it: as music of the
job's crest factor keeps it, of the same peaks and of what this sound is made of.  Left out: a cone's hard stop, the
noise of fast air, what is uneven about a motor, limiters, and, of a passive radiator's suspension, that it stiffens.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy import fft, signal

from engine.acoustics.cabin import Cabin, gain_db
from engine.acoustics.circuit import Systems, chain_response, coil_branch, compliance_branch, opening_branch
from engine.acoustics.heating import rise
from engine.acoustics.limits import level_db
from engine.acoustics.travel import LEAST_BL, Shape
from engine.arrays import Complexes, Floats
from engine.errors import Refusal
from engine.hearing.sounds import RATE, Sound

TAIL = 1.5  # s that a box may ring on after a sound
_SETTLED = 4.0  # s after which nothing of it is left, so that the end never comes round to the start
_HELD = 5.0  # Hz, below which the cabin's gain stays: nobody hears that
_WARM = 1.0  # s over which a slow sound's coil is as warm as its mean there
_HOTTEST = 4.0  # times the cold coil, 760 K of copper: no coil stands it
_STEEPEST = 10.0  # times a cone's spring at rest, which no swing up to twice Xmax meets
_FIRST = 4  # rounds by which it is known about how fast the air and how warm the coil is
_ROUNDS = 250  # at most; most sounds take 15
_MIXED = 6  # rounds that are mixed
_SAME = 1e-5  # of the sources, RMS


@dataclass(frozen=True, kw_only=True, eq=False)
class Played:
    """What one design does with one sound at one gain.

    ``pressure`` (n,) in Pa at :data:`RATE`, at 1 m in half space, or in the vehicle where the job has a cabin.
    """

    gain: float  # share of full drive
    pressure: Floats
    excursion: float  # m, peak
    radiator_excursion: float  # m, peak; 0 without passive radiators
    vent_speed: float  # m/s, peak; 0 without vents
    coil_rise: float  # K above the air, at most
    heat: float  # W in one driver's coil, at most, as its rated power is counted
    clipped: float  # share of the time in which the amplifier gives its full voltage and no more

    @property
    def level_db(self) -> float:
        """Mean level in dB re 20 µPa."""
        return float(level_db(np.asarray(np.mean(np.square(self.pressure)))))


class _Box:
    """The linear circuit of one system at the frequencies of n samples, and what of it is not linear."""

    def __init__(self, system: Systems, length: int) -> None:
        self.system, self.length = system, length
        frequency = fft.rfftfreq(length, 1.0 / RATE)
        frequency[0] = 1e-3 * frequency[1]  # nothing is steady, so nothing hangs on it
        q, self.s = system.upright, np.asarray(2j * math.pi * frequency)
        self.chain = chain_response(q, frequency)[0]
        self.compliance, opening = compliance_branch(q, self.s)[0], opening_branch(q, self.s)[0]
        self.box = self.compliance + (q.omega_b * q.cab / q.ql)[0]
        self.opening = opening
        self.coil = np.broadcast_to(coil_branch(q, self.s), (1, len(frequency)))[0]
        self.moving = q.rms[0] + self.s * q.moving_mass[0] + 1.0 / (self.s * q.cms[0])
        one = {name: float(getattr(system, name)[0]) for name in ("sd", "bl", "count", "re", "thermal", "coefficient")}
        self.sd, self.bl, self.count, self.re, self.thermal, self.coefficient = one.values()
        self.stiffness = 1.0 / float(system.cms[0])
        self.area = float(system.opening[0]) or 1.0
        self.jet = 0.5 * system.air.rho * float(system.vent_loss[0]) if system.vented[0] else 0.0
        self.motor = Shape(second=float(system.bl2[0]), fourth=float(system.bl4[0]))
        self.spring = Shape(second=float(system.k2[0]), fourth=float(system.k4[0]))
        self.split(speed=0.0, position=0.0, hot=self.re)

    def split(self, *, speed: float, position: float, hot: float) -> None:
        """Take as linear what vents resist at a peak ``speed``, and half of what a cone's spring is steeper at its
        peak.

        ``hot`` is that of the coil's resistance, in ohm.
        """
        square = position * position
        steeper = square * (3.0 * float(self.spring.second) + 5.0 * square * float(self.spring.fourth))
        self.resistance, self.stiffer, self.hot = self.jet * speed, 0.5 * min(max(steeper, 0.0), _STEEPEST), hot
        self.through = self.opening / (1.0 + self.opening * self.resistance / self.area)
        self.air = self.box + self.through
        self.electric = hot + self.coil
        self.whole = (
            self.moving
            + self.stiffness * self.stiffer / self.s
            + self.bl**2 / self.electric
            + self.count * self.sd**2 / self.air
        )

    def solve(self, voltage: Complexes, sources: Floats) -> tuple[Floats, Complexes]:
        """Velocity and position of the cones, current, speed in the opening, (4, n); and the box's pressure.

        ``sources`` (3, n) are what is not linear: V in the coil, N on a cone, Pa in the vents.
        """
        emf, force, jet = fft.rfft(sources)
        drive = voltage - emf
        velocity = self.bl * drive / self.electric + force - self.sd * self.through * jet / self.air
        velocity = velocity / self.whole
        velocity[0] = 0.0
        current = (drive - self.bl * velocity) / self.electric
        pressure = (self.count * self.sd * velocity + self.through * jet) / self.air
        speed = (pressure - jet) * self.through / self.area
        return fft.irfft(np.stack([velocity, velocity / self.s, current, speed]), self.length), pressure

    def warm(self, square: Floats) -> Floats:
        """The coil's resistance at mean squares of its current in A²; at most the hottest that is worked with."""
        return np.asarray(
            self.re / np.maximum(1.0 - self.coefficient * self.thermal * self.re * square, 1.0 / _HOTTEST)
        )

    def sizes(self, motion: Floats) -> Floats:
        """How large voltage, force and pressure are in all, RMS, (3, 1): what the sources are small against."""
        velocity, _, current, speed = np.sqrt(np.mean(np.square(motion), axis=1))
        volts, force = self.hot * current + self.bl * velocity, self.bl * current
        return np.maximum([[volts], [force], [self.resistance * speed]], 1e-12)

    def bent(self, motion: Floats, hot: Floats) -> Floats:
        """The sources that go with a ``motion`` as :meth:`solve` gives it, and a coil of ``hot`` ohm."""
        velocity, position, current, speed = motion
        motor = self.bl * (np.maximum(self.motor.at(position), LEAST_BL) - 1.0)
        spring = self.stiffness * (self.spring.at(position) - 1.0 - self.stiffer) * position
        jet = (self.jet * np.abs(speed) - self.resistance) * speed
        return np.stack([motor * velocity + (hot - self.hot) * current, motor * current - spring, jet])


def play(system: Systems, sound: Sound, *, gain: float, cabin: Cabin | None = None) -> Played:
    """One system (a batch of one) playing a sound at a ``gain``, a share of full drive, which may be above 1.

    Raises Refusal where it is driven so hard that its motion or its heat finds no end.
    """
    length = fft.next_fast_len(len(sound.samples) + int(_SETTLED * RATE), real=True)
    length += length % 2
    box, full = _Box(system, length), math.sqrt(2.0) * float(system.voltage[0])
    wanted = fft.irfft(fft.rfft(sound.samples, length) * box.chain, length) * gain * full
    with np.errstate(all="ignore"):  # what finds no end is refused
        motion, pressure, hot = _settled(box, fft.rfft(np.clip(wanted, -full, full)), sound)
    outside = system.air.rho * box.s * pressure * box.compliance / (2.0 * math.pi)
    outside[0] = 0.0
    if cabin is not None:
        outside = outside * least_phase(gain_db(cabin, np.maximum(box.s.imag / (2.0 * math.pi), _HELD)), length)
    heard = len(sound.samples) + int(TAIL * RATE)
    moved = fft.irfft(fft.rfft(motion[3]) / box.s, length)
    return Played(
        gain=gain,
        pressure=fft.irfft(outside, length)[:heard] * _ending(heard),
        excursion=_peak(motion[1]),
        radiator_excursion=_peak(moved) if system.radiating[0] else 0.0,
        vent_speed=_peak(motion[3]) if system.vented[0] else 0.0,
        coil_rise=float(np.max(rise(re=box.re, hot=hot, coefficient=box.coefficient))),
        heat=float(np.max(hot * _warming(motion[2], sound))),
        clipped=float(np.mean(np.abs(wanted[: len(sound.samples)]) > full * (1.0 + 1e-6))),
    )


def least_phase(gain: Floats, length: int) -> Complexes:
    """The response of least phase that has a ``gain`` in dB at each frequency of ``length`` samples, an even number.

    By the cepstrum (Oppenheim & Schafer 1975, from memory): a cabin's gain is known as a level alone, and what small
    rooms add at low frequencies is nearly of least phase.
    """
    cepstrum = fft.irfft(gain * (math.log(10.0) / 20.0), length)
    cepstrum[1 : length // 2] *= 2.0
    cepstrum[length // 2 + 1 :] = 0.0
    return np.asarray(np.exp(fft.rfft(cepstrum)))


def _settled(box: _Box, voltage: Complexes, sound: Sound) -> tuple[Floats, Complexes, Floats]:
    """The motion under a ``voltage``, the pressure in the box, and the coil's resistance, (n,).  Raises Refusal."""
    sources = np.zeros((3, box.length))
    kept: list[tuple[Floats, Floats]] = []
    scale = np.ones((3, 1))
    for number in range(_ROUNDS):
        motion, pressure = box.solve(voltage, sources)
        hot = box.warm(_warming(motion[2], sound))
        if number < _FIRST:
            box.split(speed=_peak(motion[3]), position=_peak(motion[1]), hot=float(np.mean(hot)))
            sources = box.bent(motion, hot)
            scale = box.sizes(motion)
            continue
        found = box.bent(motion, hot)
        left = (found - sources) / scale
        off = float(np.sqrt(np.mean(np.square(left))))
        if off < _SAME:
            if np.max(hot) >= 0.99 * _HOTTEST * box.re:
                break
            return motion, pressure, np.broadcast_to(hot, box.length)
        if not math.isfinite(off):
            break
        kept = [*kept[-_MIXED:], (found, left.ravel())]
        sources = _mixed(kept)
    raise Refusal("driven_too_hard")


def _mixed(kept: list[tuple[Floats, Floats]]) -> Floats:
    """The mixture of some rounds that leaves least, by each round's result and what it left (Anderson 1965)."""
    found, left = kept[-1]
    if len(kept) == 1:
        return found
    apart = np.stack([other - left for _, other in kept[:-1]])
    square = apart @ apart.T
    square += 1e-13 * np.trace(square) * np.eye(len(square))
    shares = np.linalg.solve(square, -apart @ left)
    return np.asarray(found + sum(share * (other - found) for share, (other, _) in zip(shares, kept, strict=False)))


def _warming(current: Floats, sound: Sound) -> Floats:
    """The mean square of a current, A², by which a front's figures would count it: (n,) of a slow sound, else one.

    Duty, the mean power of music over that of a tone of the same peaks, is in a system's thermal resistance.  So this
    is as of a tone: a sound's own duty is taken out.
    """
    square = np.square(current)
    if not sound.slow:
        return np.asarray(np.sum(square) / len(sound.samples) * 10.0 ** (sound.crest_db / 10.0) / 2.0)
    near = np.hanning(int(_WARM * RATE))
    there = signal.oaconvolve(np.pad(np.ones(len(sound.samples)), (0, len(square) - len(sound.samples))), near, "same")
    return np.asarray(signal.oaconvolve(square, near, "same") / np.maximum(there, 1e-3 * np.sum(near)))


def _peak(values: Floats) -> float:
    return float(np.max(np.abs(values)))


def _ending(length: int) -> Floats:
    """A window that falls to nothing over the last twentieth of a second."""
    left = np.arange(length)[::-1] / (0.05 * RATE)
    return np.asarray(0.5 - 0.5 * np.cos(math.pi * np.minimum(left, 1.0)))
