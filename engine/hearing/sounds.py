"""What is played: sounds that are made here, invented all of them, and a user's own.

A sound is what goes to the amplifier, as samples of which 1 is the peak of a tone at the gain.  Boxes are heard from
20 Hz to 200 Hz, so that is what a sound has: what lies above fades out up to 300 Hz, since there the model says
nothing.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from scipy import fft, signal

from engine.acoustics.gain import TOP
from engine.arrays import Floats

RATE = 3000  # Hz, of what is played and worked out: five harmonics of the highest tone
FADED = 300.0  # Hz, above which a sound has nothing left
LONGEST = 20.0  # s, of a sound
_LEAD = 0.1  # s of silence before a sound, so that a filter without delay has room to ring
_SILENT = 1e-3  # of a file's peak, less than which is no bass: 60 dB below all else


@dataclass(frozen=True, kw_only=True, eq=False)
class Sound:
    """Something to play.

    ``samples`` (n,) at :data:`RATE`, 1 the peak of a tone at the gain.  A ``slow`` one is a tone at each moment, for
    long enough that the coil is as warm as that tone keeps it.
    """

    name: str
    samples: Floats
    slow: bool = False

    @property
    def seconds(self) -> float:
        return len(self.samples) / RATE

    @property
    def crest_db(self) -> float:
        """Peak over mean power, dB: 3.01 of a tone."""
        return float(-10.0 * math.log10(np.mean(np.square(self.samples)) / np.max(np.square(self.samples))))


def tone(hertz: float, *, seconds: float = 3.0) -> Sound:
    """A steady tone, faded in over a tenth of a second."""
    time = _times(seconds)
    return Sound(name=f"tone {hertz:g} Hz", samples=np.sin(2.0 * math.pi * hertz * time) * _ends(time, 0.1), slow=True)


def sweep(*, seconds: float = 12.0, low: float = 18.0, high: float = 230.0) -> Sound:
    """A tone whose pitch rises by as many octaves in every second, as those rooms are measured with (Farina 2000)."""
    time = _times(seconds)
    stretch = seconds / math.log(high / low)
    phase = 2.0 * math.pi * low * stretch * (np.exp(time / stretch) - 1.0)
    return Sound(name="sweep", samples=np.sin(phase) * _ends(time, 0.25), slow=True)


def drum() -> Sound:
    """Strokes as of a large drum: each a tone that falls in pitch while it dies away, every fourth one deeper."""
    strokes = [(0.5 * number, 32.0 if number % 4 == 3 else 48.0) for number in range(16)]
    time = _times(10.0)
    samples = np.zeros_like(time)
    for start, pitch in strokes:
        since = np.maximum(time - start, 0.0)
        fallen = pitch * since + 0.05 * 1.4 * pitch * (1.0 - np.exp(-since / 0.05))
        shape = (1.0 - np.exp(-since / 0.004)) * np.exp(-since / (0.16 if pitch > 40.0 else 0.26))
        samples += shape * np.sin(2.0 * math.pi * fallen)
    return Sound(name="drum", samples=banded(samples))


def bass() -> Sound:
    """A bass line of plucked notes with three overtones, up and down from 31 Hz to 98 Hz; made up for this."""
    notes = (41.2, 61.7, 55.0, 41.2, 30.9, 36.7, 49.0, 73.4, 98.0, 73.4, 55.0, 49.0, 36.7, 30.9, 46.2, 41.2)
    time = _times(0.5 * len(notes) + 0.5)
    samples = np.zeros_like(time)
    for place, pitch in enumerate(notes):
        since = np.maximum(time - 0.5 * place, 0.0)
        damped = np.where(since < 0.45, 1.0, np.exp(-(since - 0.45) / 0.02))
        shape = (1.0 - np.exp(-since / 0.008)) * np.exp(-since / 0.5) * damped
        tones = ((1, 1.0), (2, 0.5), (3, 0.25), (4, 0.1))
        samples += shape * sum(share * np.sin(2.0 * math.pi * order * pitch * since) for order, share in tones)
    return Sound(name="bass", samples=banded(samples))


# By the names that the command line takes.
SOUNDS: dict[str, Callable[[], Sound]] = {"drum": drum, "bass": bass, "sweep": sweep}


def own(samples: Floats, *, rate: int, name: str) -> Sound | None:
    """A sound of the user's, its bass alone; None where it has none.

    ``samples`` (n,) at ``rate`` Hz.  Of a long one those 20 s that have most bass.
    """
    common = math.gcd(RATE, rate)
    low = signal.resample_poly(samples, RATE // common, rate // common)
    low = banded(low, peak=math.nan)
    if len(low) > (most := int(LONGEST * RATE)):
        power = np.concatenate([[0.0], np.cumsum(np.square(low))])
        start = int(np.argmax(power[most:] - power[:-most]))
        low = low[start : start + most] * _ends(_times(LONGEST), 0.05)
    peak, loudest = (float(np.max(np.abs(each), initial=0.0)) for each in (low, samples))
    return None if peak <= _SILENT * loudest or peak == 0.0 else Sound(name=name, samples=low / peak)


def banded(samples: Floats, *, peak: float = 1.0) -> Floats:
    """``samples`` at :data:`RATE` without what lies above 300 Hz or is steady, no delay; a tenth of a second longer.

    It fades from 200 Hz up and from 8 Hz down.  Their ``peak`` is made 1, or left as it is where it is nan.
    """
    lead = int(_LEAD * RATE)
    length = fft.next_fast_len(len(samples) + 2 * lead, real=True)
    frequency = fft.rfftfreq(length, 1.0 / RATE)
    beyond = np.clip((frequency - TOP) / (FADED - TOP), 0.0, 1.0) + np.clip((8.0 - frequency) / 5.0, 0.0, 1.0)
    share = 0.5 + 0.5 * np.cos(math.pi * beyond)
    kept = fft.irfft(fft.rfft(np.pad(samples, (lead, 0)), length) * share, length)[: len(samples) + lead]
    return kept if math.isnan(peak) else kept * (peak / np.max(np.abs(kept)))


def _times(seconds: float) -> Floats:
    return np.arange(int(seconds * RATE)) / RATE


def _ends(time: Floats, fade: float) -> Floats:
    """A window that rises and falls over ``fade`` seconds."""
    left = np.minimum(time, time[::-1])
    return np.asarray(0.5 - 0.5 * np.cos(math.pi * np.minimum(left / fade, 1.0)))
