"""Round vents: end corrections, acoustic mass, and tuning from length and back.

All functions broadcast over arrays, so a batch of designs is an array of each.
"""

from __future__ import annotations

import math
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from engine.air import REFERENCE_AIR, Air

Floats = NDArray[np.float64]
Number = float | Floats
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


def vent_mass(
    *,
    length: Number,
    diameter: Number,
    count: Number = 1.0,
    ends: tuple[EndKind, EndKind] = USUAL_ENDS,
    air: Air = REFERENCE_AIR,
) -> Floats:
    """Acoustic mass in kg/m⁴ of ``count`` equal vents in parallel, ρ(L + ΔL)/(n·S).

    ``length`` and ``diameter`` in m.  A plug of incompressible air (Thiele 1971), so good
    while the vent is much shorter than a quarter of a wavelength.
    """
    effective = length + end_correction(diameter=diameter, ends=ends)
    return np.asarray(air.rho * effective / (count * vent_area(diameter=diameter)))


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


def length_from_tuning(
    *,
    tuning: Number,
    volume: Number,
    diameter: Number,
    count: Number = 1.0,
    filling: Number = 1.0,
    ends: tuple[EndKind, EndKind] = USUAL_ENDS,
    air: Air = REFERENCE_AIR,
) -> Floats:
    """Length in m of each of ``count`` vents that tunes a net ``volume`` (m³) to ``tuning`` (Hz).

    Negative where the end corrections alone already tune lower: such a vent cannot be made.
    """
    needed = effective_length(tuning=tuning, volume=volume, diameter=diameter, count=count, filling=filling, air=air)
    return np.asarray(needed - end_correction(diameter=diameter, ends=ends))


def tuning_from_length(
    *,
    length: Number,
    volume: Number,
    diameter: Number,
    count: Number = 1.0,
    filling: Number = 1.0,
    ends: tuple[EndKind, EndKind] = USUAL_ENDS,
    air: Air = REFERENCE_AIR,
) -> Floats:
    """Tuning in Hz of a net ``volume`` (m³) with ``count`` vents of ``length`` and ``diameter`` (m)."""
    mass = vent_mass(length=length, diameter=diameter, count=count, ends=ends, air=air)
    compliance = np.asarray(filling) * np.asarray(volume) / air.stiffness
    return np.asarray(1.0 / (2.0 * math.pi * np.sqrt(mass * compliance)))
