"""What compiled code does not have: special functions, and where a value lies in an even table."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
from numpy.polynomial import Chebyshev, Polynomial
from scipy.special import k0e, sici

from engine.arrays import Floats
from engine.core.compiled import compiled

_GONE = 25.0  # exp(-25) is nothing
_FAR = 24.0


def _smooth(function: Callable[[Floats], Floats], *, ends: tuple[float, float], degree: int) -> tuple[float, ...]:
    """A polynomial that meets a function at Chebyshev points between ``ends``, drawn out to -1 to 1; highest first."""
    found = Chebyshev.interpolate(function, degree, domain=ends).convert(kind=Polynomial, domain=ends)
    return tuple(found.coef[::-1].tolist())


_OVER = 1.0 / _GONE, 1.0 / 0.9
_BESSEL = _smooth(lambda over: k0e(1.0 / over) / np.sqrt(over), ends=_OVER, degree=14)  # √x·exp(x)·K0(x) over 1/x
_SINE = _smooth(lambda square: sici(np.sqrt(square))[0] / np.sqrt(square), ends=(0.0, _FAR**2), degree=22)


@compiled
def bessel_k0(x: float) -> float:
    """K0 of x from 0.9 on to 1e-10 of it; 0 beyond 25."""
    if x > _GONE:
        return 0.0
    over, total = 1.0 / x, 0.0
    place = (2.0 * over - _OVER[0] - _OVER[1]) / (_OVER[1] - _OVER[0])
    for term in _BESSEL:
        total = total * place + term
    return math.exp(-x) * math.sqrt(over) * total


@compiled
def digammas(part: float) -> float:
    """ψ(t) + ψ(1 - t) for t between 0 and 1, to 1e-9 of it.

    Six steps of ψ(z) = ψ(z + 1) - 1/z, then ln z - 1/(2z) - 1/(12z²) + 1/(120z⁴) - 1/(252z⁶) (Abramowitz & Stegun
    6.3.5 and 6.3.18).
    """
    total = 0.0
    for start in (part, 1.0 - part):
        z = start
        for _ in range(6):
            total -= 1.0 / z
            z += 1.0
        over = 1.0 / (z * z)
        total += math.log(z) - 0.5 / z - over * (1.0 / 12.0 - over * (1.0 / 120.0 - over / 252.0))
    return total


@compiled
def cell(at: float, start: float, end: float, count: int) -> tuple[int, float]:
    """Index below and part of the step on an even grid of so many places; beyond it, of its edge."""
    steps = (min(max(at, start), end) - start) / (end - start) * (count - 1)
    below = min(int(steps), count - 2) if steps > 0.0 else 0  # nan has the first
    return below, steps - below


@compiled
def sine_integral(z: float) -> float:
    """∫ sin(t)/t dt from 0 to z, z ≥ 0, to 1e-8.

    Over z it is a polynomial of z² up to ``_FAR``, beyond π/2 - f·cos z - g·sin z with the first terms of both
    (Abramowitz & Stegun 5.2.8, 5.2.34 and 5.2.35).
    """
    if z > _FAR:
        over = 1.0 / (z * z)
        f = (1.0 - over * (2.0 - over * (24.0 - over * 720.0))) / z
        g = (1.0 - over * (6.0 - over * (120.0 - over * 5040.0))) * over
        return 0.5 * math.pi - f * math.cos(z) - g * math.sin(z)
    place, total = 2.0 / _FAR**2 * z * z - 1.0, 0.0
    for term in _SINE:
        total = total * place + term
    return z * total
