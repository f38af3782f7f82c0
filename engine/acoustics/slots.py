"""Slot vents: the ends of rectangular mouths, and the walls that they share with the box.

A slot is ``width`` by ``height`` in the clear, m, either way round.
"""

from __future__ import annotations

import math

import numpy as np

from engine.acoustics.vents import FLUSH_END, FREE_END
from engine.arrays import Floats, Number
from engine.core.compiled import compiled

# Of a free end over a flush one of the same mouth; known for circles (Levine & Schwinger 1948 over Rayleigh's
# piston) and taken over to rectangles: an estimate, no source.
FREE_OVER_FLUSH = FREE_END / FLUSH_END
_MODES = 40


def equivalent_diameter(*, width: Number, height: Number) -> Floats:
    """Diameter in m of the circle of the slot's area: for its area and air speed, not for its ends."""
    return np.asarray(np.sqrt(4.0 / math.pi * np.asarray(width) * height))


def hydraulic_diameter(*, width: Number, height: Number) -> Floats:
    """4·area/perimeter, m: what friction goes by."""
    return np.asarray(2.0 * np.asarray(width) * height / (np.asarray(width) + height))


@compiled
def flush_end(width: float, height: float) -> float:
    """Length in m that the air before a rectangular mouth in a large panel adds to the slot.

    A rigid rectangular piston in an infinite baffle at low frequency, exact: l = I/(2π·S),
    I = 2[p²q·asinh(q/p) + pq²·asinh(p/q) + (p³ + q³ - (p² + q²)^1.5)/3], Rayleigh's integral for
    sides p, q.  A circle of equal area would be 1.2 % too long at 1:1, 13 % at 4:1, 35 % at 10:1.
    """
    p, q = width, height
    diagonal = math.hypot(p, q)
    cubes = p * p * p + q * q * q - diagonal * diagonal * diagonal
    integral = p * p * q * math.asinh(q / p) + p * q * q * math.asinh(p / q) + cubes / 3.0
    return integral / (math.pi * p * q)


@compiled
def _flush_ends(width: Floats, height: Floats, found: Floats) -> None:
    for row in range(len(found)):
        found[row] = flush_end(width[row], height[row])


def flush_ends(*, width: Floats, height: Floats) -> Floats:
    """The same of many mouths, arrays that broadcast; nan where a side is."""
    wide, high = np.broadcast_arrays(width, height)
    found = np.empty(wide.size)
    _flush_ends(wide.ravel(), high.ravel(), found)
    return found.reshape(wide.shape)


@compiled
def mirrored_end(width: float, height: float, along_width: bool) -> float:
    """The same with a wall square to the panel that goes on past a long side of the mouth, m, if ``along_width``.

    The mouth and its image are then ``width`` by twice ``height``: exact for an endless wall, such as
    the floor under a slot at the bottom of the baffle.
    """
    return flush_end(width, 2.0 * height if along_width else height)


@compiled
def full_width_end(height: float, beyond: float) -> float:
    """The same of a slot from side panel to side panel, opening beside a third into a box ``beyond`` m high, m.

    The air spreads in one direction only.  A rigid piston of ``height`` at the edge of a channel, sum over
    its modes: l = (2h/π)·Σ (sin(nπh/H)/(nπh/H))²/n, n = 1, 2, …; h = height, H = beyond.
    Over h it tends to 0 as h → H, and grows without bound, slowly, as h/H → 0.
    """
    total = 0.0
    for n in range(1, _MODES + 1):
        # The mean over the mouth of cos(nπz/H) is sin(nπh/H)/(nπh/H), and of each mode l takes 2·mean²·h/(nπ).
        turned = math.pi * (n * height / beyond)
        mean = math.sin(turned) / turned
        total += mean * mean / n
    return 2.0 * height / math.pi * total
