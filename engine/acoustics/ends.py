"""What the air before round ends weighs: of pipes, of cones, of pistons between parallel plates."""

from __future__ import annotations

import math
from functools import lru_cache

import numpy as np
from scipy.special import i1e, k1e

from engine.acoustics.special import cell
from engine.arrays import Floats
from engine.core.compiled import borrowing, compiled

# A pipe's free end, in bores' radii: Levine & Schwinger 1948 for a thin wall, King 1936 with an
# infinite flange; between them the fit of Dalmont, Nederveen & Joly 2001 (from memory, checked
# with finite elements to 0.006 for b/a from 1.05 to 1.4).
THIN_END, FLANGED_END = 0.6133, 0.8216
PISTON_END = 8.0 / (3.0 * math.pi)  # Rayleigh

THINNEST, WIDEST, PLACES = 0.02, 4.0, 400  # of a table of pistons: radius over depth q, and how many


def free_side(area: Floats) -> Floats:
    """Mass over density, m³, of the air on one side of a free disc of ``area`` (m²): half of Rayleigh's 8/3·r³."""
    return np.asarray(4.0 / 3.0 * np.sqrt(area / np.pi) ** 3)


@compiled
def free_end(bore: float, outer: float) -> float:
    """End correction in m of a pipe's free end, from its inner and outer radius in m.

    δ/a = 0.8216 - 0.2083·a/b + 0.057·(a/b)·(1 - (a/b)⁵) (Dalmont, Nederveen & Joly 2001,
    from memory), between a thin wall (b = a) and an infinite flange.
    """
    ratio = bore / outer
    return bore * (FLANGED_END - (FLANGED_END - THIN_END) * ratio + 0.057 * ratio * (1.0 - ratio**5))


@lru_cache(maxsize=1)
def pistons() -> Floats:
    """q·Σ 4/x²·(1 - 2·I1(x)·K1(x)) with x = nπq, over n, at the places of q.

    The sum over 2πh is that part of a piston's own M between parallel plates that is not
    uniform over the depth: K0 averaged twice over the disc.
    """
    q = np.linspace(THINNEST, WIDEST, PLACES)
    x = np.arange(1, 4000) * np.pi * q[:, np.newaxis]
    return np.asarray(q * (4.0 / x**2 * (1.0 - 2.0 * i1e(x) * k1e(x))).sum(axis=-1))


@borrowing
def beside_plate(radius: float, depth: float, table: Floats) -> float:
    """What turns before a piston between parallel plates: its own M beyond that of a flow even over the depth, 1/m.

    A third of the air's column before it in a thin layer, Rayleigh's piston in a panel in a deep one.  ``table`` is
    that of ``pistons``.
    """
    ratio = radius / depth
    below, part = cell(ratio, THINNEST, WIDEST, PLACES)
    images = (1.0 - part) * table[below] + part * table[below + 1]
    beyond = min(WIDEST / ratio, 1.0)  # of the table, where it falls as 1/ratio
    return float(images * beyond / ratio / (2.0 * math.pi * depth))
