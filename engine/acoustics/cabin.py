"""What a vehicle's cabin adds to the sound: an estimate from its size, or what somebody measured.

Gain is in dB over the same box in half space at 1 m.  It is the same for every design, so it
moves f3 but adds the same to everybody's output.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from engine.air import REFERENCE_AIR, Air
from engine.arrays import Floats

ESTIMATE = "estimated from the cabin's size, not measured"
_AVERAGED = 400  # points the mean over a band is taken at


@dataclass(frozen=True, kw_only=True)
class EstimatedCabin:
    """Pressure-chamber gain, |C|² = 1 + (f1/f)⁴/(1 + (fl/f)²): an estimate, labelled so wherever it shows.

    A source pumps a small closed cabin like a pump: below the first mode f1 = c/(2·length) the
    pressure follows displacement, 12 dB an octave over free air (first principles: p = ρc²·U/(jωV)
    against ρωU/(2πr); Kuttruff, Room Acoustics, for the mode).  That the rise begins at the first mode with
    0 dB is common practice, not physics: the exact level hangs on volume and place, and measured cars differ by
    several dB.  Through cabin leaks of resistance R the pressure escapes below fl = 1/(2π·R·V/(ρc²)), where
    6 dB an octave are left.  No rise or fall above f1: modes are not in it.

    ``largest_dimension`` in m, ``leak_hz`` is fl (0: sealed).
    """

    largest_dimension: float
    leak_hz: float = 10.0
    air: Air = REFERENCE_AIR

    @property
    def corner_hz(self) -> float:
        """f1, the cabin's first mode, Hz."""
        return 0.5 * self.air.c / self.largest_dimension

    def gain_squared(self, log_frequency: Floats) -> Floats:
        """Power gain at ln f, f in Hz, in any shape."""
        frequency = np.exp(log_frequency)
        rise = (self.corner_hz / frequency) ** 4
        return np.asarray(1.0 + rise / (1.0 + (self.leak_hz / frequency) ** 2))


@dataclass(frozen=True, kw_only=True, eq=False)
class MeasuredCabin:
    """A measured transfer function: straight between its points in dB over log f, held at its ends beyond them.

    ``frequency`` (K,) in Hz, rising; ``level_db`` (K,).  Held, not drawn out: nobody knows what a
    microphone did not hear, and a rise drawn on would promise bass.
    """

    frequency: Floats
    level_db: Floats
    source: str = ""

    def __eq__(self, other: object) -> bool:
        """Whether another says the same, wherever it was read from."""
        return isinstance(other, MeasuredCabin) and self._points == other._points

    def __hash__(self) -> int:
        return hash(self._points)

    @property
    def _points(self) -> tuple[bytes, bytes]:
        return self.frequency.tobytes(), self.level_db.tobytes()

    def gain_squared(self, log_frequency: Floats) -> Floats:
        """Power gain at ln f, f in Hz, in any shape."""
        level = np.interp(log_frequency, np.log(self.frequency), self.level_db)
        return np.asarray(np.exp(level * (math.log(10.0) / 10.0)))

    def held_within(self, band: tuple[float, float]) -> str:
        """What of a band lies beyond the measured points, in words; empty where nothing does."""
        low, high = float(self.frequency[0]), float(self.frequency[-1])
        beyond = [f"below {low:g} Hz"] * (band[0] < low) + [f"above {high:g} Hz"] * (band[1] > high)
        return f"{' and '.join(beyond)} nothing was measured: the end values are held" if beyond else ""


Cabin = EstimatedCabin | MeasuredCabin


def gain_db(cabin: Cabin, frequency: Floats) -> Floats:
    """Gain in dB at any shape of frequencies, Hz."""
    return np.asarray(10.0 * np.log10(cabin.gain_squared(np.log(frequency))))


def mean_gain_db(cabin: Cabin, *, music_band: tuple[float, float]) -> float:
    """Gain in dB averaged over ln f from one end of the band (Hz) to the other, as mean output is."""
    low, high = (math.log(edge) for edge in music_band)
    levels = 10.0 * np.log10(cabin.gain_squared(np.linspace(low, high, _AVERAGED + 1)))
    return float(np.mean(0.5 * (levels[1:] + levels[:-1])))
