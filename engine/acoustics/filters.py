"""The infrasonic high-pass in front of the drive: Butterworth of any order, order 0 for none.

``frequency``, ``order`` and ``cutoff`` broadcast together, so (F,) against (N, 1) gives (N, F).
"""

from __future__ import annotations

import cmath
import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Complexes = NDArray[np.complex128]


_NOTHING = -700.0  # exp of it vanishes beside 1, and is quicker than exp(-inf)


def loss_line(*, order: Floats | Integers, cutoff: Floats) -> tuple[Floats, Floats]:
    """Power by which 1/|H|² passes 1, (cutoff/f)^(2·order), as a line: its ln is a + b·ln f.

    Gives a and b.  Where ``order`` is 0 the power is nothing rather than 1, so that |H| is 1.
    """
    twice = 2.0 * np.asarray(order, dtype=float)
    with np.errstate(divide="ignore", invalid="ignore"):
        return np.where(twice > 0.0, twice * np.log(cutoff), _NOTHING), -twice


def magnitude(frequency: Floats, *, order: Floats | Integers, cutoff: Floats) -> Floats:
    """Magnitude of the high-pass: 1/sqrt(1 + (cutoff/f)^(2·order)), Butterworth 1930; Hz."""
    offset, slope = loss_line(order=order, cutoff=cutoff)
    return np.asarray(1.0 / np.sqrt(1.0 + np.exp(offset + slope * np.log(frequency))))


def response(frequency: Floats, *, order: Floats | Integers, cutoff: Floats) -> Complexes:
    """Complex response of the high-pass; frequencies in Hz.

    H = Π jΩ/(jΩ - p), Ω = f/cutoff, over the poles p = exp(jπ(2k + order - 1)/(2·order)),
    k = 1 … order, evenly spread over the left half of the unit circle (Butterworth 1930).
    """
    frequency, order, cutoff = np.broadcast_arrays(frequency, order, cutoff)
    result = np.ones(frequency.shape, dtype=complex)
    for each in (int(value) for value in np.unique(order) if value > 0):
        chosen = order == each
        s = 1j * frequency[chosen] / cutoff[chosen]
        for k in range(1, each + 1):
            result[chosen] *= s / (s - cmath.exp(1j * math.pi * (2 * k + each - 1) / (2 * each)))
    return result
