"""Heat in the voice coil: its resistance rises, and the drive it takes falls.

In the steady state the coil is warmer than the air by

    ΔT = R·r·I²,     r = re·(1 + α·ΔT),

R the thermal resistance from coil over magnet to air in K/W (Zuccatti 1990, JAES 38, 34; Button 1992,
JAES 40, 32; both cited from memory).  Put together,

    r = re/(1 - α·R·re·I²),

which is how it is solved: exactly, not step by step.  For a long steady tone, so the worst case;
the coil's time constant is seconds and the magnet's many minutes.  Cooling by the coil's own
motion (Klippel 2004) is left out, which errs towards too hot.  Music heats less than a tone of the same peaks:
:func:`duty`.
"""

from __future__ import annotations

import math

import numpy as np

from engine.arrays import Floats, Number
from engine.core.compiled import compiled
from engine.parts import CoilMetal

# Per kelvin at 20 °C, annealed: IEC 60028 gives copper 3.93e-3, IEC 60889 aluminium 4.03e-3.
COEFFICIENTS: dict[CoilMetal, float] = {"copper": 3.93e-3, "aluminium": 4.03e-3}


def duty(crest_db: float) -> float:
    """Mean power of music over that of a sine with the same peaks, at most 1, from its crest factor in dB.

    A sine's mean power is half its peak's and music's 1/C² of it, C the crest factor, so it is 2/C²: 1 at 3 dB, 0.50 at
    6 dB.  What a coil takes in music is that share of the sine's at each frequency, as if all music were there.
    """
    return float(min(1.0, 2.0 / 10.0 ** (crest_db / 10.0)))


@compiled
def hot_resistance(re: float, current: float, thermal: float, coefficient: float) -> float:
    """Resistance of one warm coil in ohm at an RMS ``current`` in A through it.

    ``re`` is the resistance at the air's temperature, ``thermal`` in K/W, ``coefficient`` in 1/K.  inf where no
    temperature is enough: a current the coil would never stand, however cool it started.
    """
    left = 1.0 - coefficient * thermal * re * current * current
    if left > 0.0:
        return re / left
    return math.inf if left <= 0.0 else left  # a row that makes no sense stays nan


def rise(*, re: Number, hot: Number, coefficient: Number) -> Floats:
    """Kelvin above the air of a coil of ``re`` ohm that has become ``hot`` ohm."""
    return np.asarray((hot / np.asarray(re) - 1.0) / coefficient)
