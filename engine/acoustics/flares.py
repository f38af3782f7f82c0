"""Flared ends: how much of a round vent's flare counts as length.

At low frequency a duct whose area changes has mass ρ·∫dx/S(x): lumped, one-dimensional (Webster's horn
at k = 0).  Air does not fill a flare as evenly as that, and what it misses counts for length too.  No published table
was at hand; that part is fitted to finite elements.
"""

from __future__ import annotations

import math

import numpy as np

from engine.acoustics.vents import FLUSH_END
from engine.arrays import Floats, Number

_NODES, _WEIGHTS = np.polynomial.legendre.leggauss(16)
_ANGLES = 0.25 * math.pi * (_NODES + 1.0)
# What the horn law misses, in radii a of the bore at a flare of x·a: x/(p + q·x + r·x²), less the part of it that the
# handbooks' 0.85 a for the mouth is more than King's 0.8217 a; to 0.005 a of finite elements for x up to 2.
_MISSED = (1.4, 2.45, 0.1)
_ALREADY = 0.029


def flared_end(*, diameter: Number, flare_radius: Number) -> Floats:
    """Length in m of the straight bore that stands for a quarter-round flare and the air before it.

    The flare goes from the bore to the panel's face over its own radius r: ∫dx·(a/(a + r - sqrt(r² - x²)))²
    from 0 to r, 0.85·a²/(a + r) for the flush mouth, seen from the bore, and what that misses: 0.09 a at
    r = a/4, 0.16 a at a/2, 0.23 a at a.  Without a flare 0.85·a.  Good to 1 % of a for r up to 2 a.
    """
    a, r = np.broadcast_arrays(0.5 * np.asarray(diameter, dtype=float), np.asarray(flare_radius, dtype=float))
    # x = r·sin θ, so that the steep end is smooth.
    radius = a[..., np.newaxis] + r[..., np.newaxis] * (1.0 - np.cos(_ANGLES))
    slope = r[..., np.newaxis] * np.cos(_ANGLES)
    flare = 0.25 * math.pi * np.sum(_WEIGHTS * slope * (a[..., np.newaxis] / radius) ** 2, axis=-1)
    part = r / a
    first, second, third = _MISSED
    missed = np.maximum(part / (first + (second + third * part) * part) - _ALREADY, 0.0)
    return np.asarray(flare + FLUSH_END * a**2 / (a + r) + missed * a)
