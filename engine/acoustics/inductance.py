"""What the voice coil adds to its resistance where it grows by a power of ω.

Eddy currents in the iron make a coil's impedance grow more slowly than jω·le, and partly as a
resistance.  Three published forms of it, beside le + (l2 ∥ r2) of the circuit:

    Vanderkooy 1989 (JAES 37, 119)   k·(jω)^½
    Leach 2002 (JAES 50, 442)        k·(jω)^n,  ½ ≤ n ≤ 1
    Wright 1990 (JAES 38, 749)       kr·ω^xr + j·ki·ω^xi

The first two are cases of the third, so that is what a system carries.  All functions broadcast over arrays.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.arrays import Floats, Number

SHEET_FREQUENCY = 1000.0  # Hz at which data sheets state le: common practice, no source


def inductance(s: Any, le: Number, l2: Number, delay: Number) -> Any:
    """Impedance of le + (l2 ∥ r2) in ohm at ``s`` = jω, ``delay`` l2/r2 in s."""
    return s * le + s * l2 / (1.0 + s * delay)


@dataclass(frozen=True, kw_only=True)
class PowerLaw:
    """kr·ω^xr + j·ki·ω^xi in ohm, ω in rad/s (Wright 1990); numbers or arrays, all 0 for none."""

    kr: Number = 0.0
    xr: Number = 0.0
    ki: Number = 0.0
    xi: Number = 0.0

    def resistance(self, omega: Floats) -> Floats:
        """Real part in ohm at ``omega`` (rad/s)."""
        return np.asarray(self.kr * omega ** np.asarray(self.xr))

    def reactance(self, omega: Floats) -> Floats:
        """Imaginary part in ohm at ``omega`` (rad/s)."""
        return np.asarray(self.ki * omega ** np.asarray(self.xi))


def lossy(*, k: Number, n: Number) -> PowerLaw:
    """k·(jω)^n as a power law: kr = k·cos(nπ/2), ki = k·sin(nπ/2) (Leach 2002; n = ½ Vanderkooy 1989).

    ``k`` in ohm·s^n.  At n = 1 it is the lossless inductance k.
    """
    angle = 0.5 * math.pi * np.asarray(n)
    # cos(π/2) is not quite 0 in floating point, and a lossless coil has no loss at all.
    real = np.where(np.asarray(n) == 1.0, 0.0, np.cos(angle))
    return PowerLaw(kr=k * real, xr=n, ki=k * np.sin(angle), xi=n)


def lossy_from_sheet(*, le: Number, n: Number) -> PowerLaw:
    """The k·(jω)^n whose reactance at 1 kHz is that of the stated ``le`` (H).

    k = le·ω0^(1-n)/sin(nπ/2): a sheet's le is a reactance over ω at one frequency, so the
    reactance is kept there and the loss comes on top.  At n = 1 nothing changes.
    """
    omega = 2.0 * math.pi * SHEET_FREQUENCY
    exponent = np.asarray(n)
    return lossy(k=le * omega ** (1.0 - exponent) / np.sin(0.5 * math.pi * exponent), n=n)
