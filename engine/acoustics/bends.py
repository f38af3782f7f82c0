"""Bent vents: length along the centre line, and what of it counts.

At low frequency the air in a bend takes the short way round, so a bend counts for a little less than
its centre line.  Each function gives metres and broadcasts; mass is ρ·length/area with the lengths here.
Good while the bend is short against the wavelength; what the bend costs in noise at high speed is not in it.
"""

from __future__ import annotations

import math

import numpy as np

from engine.arrays import Floats, Number

# A right-angled corner of two equal channels, as of a slot that turns once, counts for 1 - 2·ln2/π = 0.5587 of the
# square in it (conformal mapping; Hall 1968 gives 0.559 squares for the same corner in a thin film).  Exact for an
# unbroken corner, whose air turns in one plane, between legs longer than the channel is high.
MITRE_SQUARES = 1.0 - 2.0 * math.log(2.0) / math.pi


def elbow_centre_line(*, radius: Number, angle: float = 0.5 * math.pi) -> Floats:
    """Centre line of a swept bend, m: what a builder measures."""
    return np.asarray(np.asarray(radius) * angle)


def elbow_length(*, radius: Number, diameter: Number, angle: float = 0.5 * math.pi) -> Floats:
    """Length in m for which a swept round bend counts: angle·(R + sqrt(R² - a²))/2.

    The air circles with speed ∝ 1/r, so 1/length = ∫dS/(angle·r)/S over the round section of radius a.
    Less than the centre line by 7 % at R = 2a, by 2 % at R = 4a.
    """
    bore = 0.5 * np.asarray(diameter, dtype=float)
    sweep = np.asarray(radius, dtype=float)
    return np.asarray(0.5 * angle * (sweep + np.sqrt(np.maximum(sweep * sweep - bore * bore, 0.0))))
