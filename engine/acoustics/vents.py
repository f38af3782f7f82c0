"""Round vents: end corrections, and the effective length that a tuning takes.

All functions broadcast over arrays, so a batch of designs is an array of each.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np

from engine.air import REFERENCE_AIR, Air
from engine.arrays import Floats, Number

EndKind = Literal["flush", "free"]

# In radii.  Flush in a panel: 8/(3π) = 0.8488, a rigid piston in a baffle (Rayleigh), rounded as
# the handbooks do; an open tube with an infinite flange would have 0.8217 (King 1936).
# Free: 0.6133 as printed by Levine & Schwinger 1948 (their integral comes to 0.6127).
FLUSH_END = 0.85
FREE_END = 0.613
BOTH_ENDS = FLUSH_END + FREE_END  # 1.463 a = 0.732 D, one end flush and one free

_IN_RADII: dict[EndKind, float] = {"flush": FLUSH_END, "free": FREE_END}
USUAL_ENDS: tuple[EndKind, EndKind] = ("flush", "free")


def vent_area(*, diameter: Number) -> Floats:
    """Area of one vent's bore, m², from its inner diameter in m."""
    return np.asarray(0.25 * math.pi * np.square(diameter))


def end_correction(*, diameter: Number, ends: tuple[EndKind, EndKind] = USUAL_ENDS) -> Floats:
    """Length in m that the air outside both ends adds to a vent of inner ``diameter`` (m).

    Good for ka below about 0.5 and ends with free air around them; walls nearer than one
    diameter add to it (Levine & Schwinger 1948; Rayleigh for the flush end).
    """
    return np.asarray(0.5 * np.asarray(diameter) * (_IN_RADII[ends[0]] + _IN_RADII[ends[1]]))


def effective_length(
    *,
    tuning: Number,
    volume: Number,
    diameter: Number,
    count: Number = 1.0,
    filling: Number = 1.0,
    air: Air = REFERENCE_AIR,
) -> Floats:
    """Length in m, end corrections included, that tunes a box: (c/ωb)²·n·S/(filling·vb).

    ``tuning`` in Hz, ``volume`` the net volume in m³, ``filling`` the factor on its
    compliance.  Thiele 1971; from ωb² = 1/(map·cab).
    """
    area = count * vent_area(diameter=diameter)
    spring = np.asarray(filling) * np.asarray(volume)
    return np.asarray((air.c / (2.0 * math.pi * np.asarray(tuning))) ** 2 * area / spring)
