"""What braces across the width of a thin box weigh: the air that has to pass their openings.

A brace stands across the layer that :mod:`engine.acoustics.cavity` makes of a box.  The plane wave along the width
passes its openings and meets an inertance more there, in series.  A volume velocity U at a port at x makes the flow

    g·U,  g = cos kx·sin k(W - x_b)/sin kW  or  -cos k(W - x)·sin k·x_b/sin kW,

past a brace at x_b to the right of the port or to its left (both ends closed; at rest the part of the volume on the
other side), and a step of pressure at one brace makes flow at all of them, k·S·sin k·x_<·sin k(W - x_>)/sin kW times
the inertance there.  So with g (B,) and the braces' inertances L (B,), M of two ports grows by gᵀ·L·(1 - K·L)⁻¹·g.

An opening's inertance is that of the air in it and of the flow that narrows before it and widens behind it, less what
the layer has there anyway: modes of a rectangle as large as the section, the flow in a rectangle as large as each
opening with the weight r^(-1/3) of flow round square edges (as in ``chamber.py``); openings side by side share the flow
so that they are passed with least energy.  All of that from memory, within a tenth of finite elements of such openings.
Not in it: what a brace does to the flow across the height and the depth, which dies off within half a height of a port.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import Any, NamedTuple, Self

import numpy as np
from scipy.special import gamma, jv

from engine.arrays import Floats
from engine.core.compiled import borrowing, compiled

MODES = 24  # over height and depth; the rest is two per cent of an opening's inertance
EDGE = 1.0 / 6.0  # as in ``chamber.py``
SHUT = 1e9  # 1/m, of a brace without any opening
WIDEST = 40.0  # rad, argument of the table of shapes


@dataclass(frozen=True, kw_only=True)
class Braces:
    """B braces in each of N boxes, arrays (N, B), nan where a box has fewer.

    ``x`` is the middle of a brace from the inner face of the left side, m; ``inertance`` that of its opening over
    density, beyond that of the same length of the empty layer, 1/m.
    """

    x: Floats
    inertance: Floats

    @classmethod
    def none(cls, boxes: int) -> Self:
        return cls(x=np.empty((boxes, 0)), inertance=np.empty((boxes, 0)))

    def take(self, rows: Any) -> Self:
        """Those of some boxes."""
        return type(self)(x=self.x[rows], inertance=self.inertance[rows])


class Openings(NamedTuple):
    """K openings of a brace, arrays (K,): from where to where over the height, and over the depth, parts of both.

    ``area`` is what is free of each, m²; 0 where a brace has fewer.
    """

    low: Floats
    high: Floats
    rear: Floats
    front: Floats
    area: Floats


class Edges(NamedTuple):
    """A table of the shape of flow between two edges (``edges``): in even steps, and what it is there."""

    grid: Floats
    values: Floats


@compiled
def crossing(x: float, at: float, width: float, wave_number: float) -> float:
    """The part g of the flow of a port at ``x`` that passes a brace ``at`` another place along the ``width``."""
    k = wave_number
    if x < at:
        return math.cos(k * x) * math.sin(k * (width - at)) / math.sin(k * width)
    return -math.cos(k * (width - x)) * math.sin(k * at) / math.sin(k * width)


@compiled
def weight(at: Floats, inertance: Floats, width: float, area: float, wave_number: float) -> Floats:
    """What makes M of two ports' g: L·(1 - K·L)⁻¹, (B, B) 1/m, of the braces of one box.

    They stand ``at`` (B,) and their openings have an ``inertance`` (B,); ``area`` is that of the layer's section, m².
    """
    k, count = wave_number, len(at)
    whole, found = np.empty((count, count)), np.zeros((count, count))
    for i in range(count):
        for j in range(count):
            near, far = min(at[i], at[j]), max(at[i], at[j])
            spring = k * area * math.sin(k * near) * math.sin(k * (width - far)) / math.sin(k * width)
            whole[i, j] = (1.0 if i == j else 0.0) - inertance[i] * spring
        found[i, i] = inertance[i]
    _eliminate(whole, found)  # (1 - L·K)⁻¹·L, which is the same
    return found


@borrowing
def _eliminate(matrix: Floats, right: Floats) -> None:
    """Put matrix⁻¹·right in the place of ``right``, in that of the matrix (K, K) nothing of use.

    In the order in which rows stand, as a positive matrix allows and as braces do unless the first of them are at
    their resonance to the last bit; a library's way takes seconds to compile.
    """
    count = len(matrix)
    for i in range(count):
        pivot = matrix[i, i]
        for j in range(count):
            matrix[i, j] /= pivot
        for j in range(right.shape[1]):
            right[i, j] /= pivot
        for other in range(count):
            factor = matrix[other, i]
            if other != i:
                for j in range(count):
                    matrix[other, j] -= factor * matrix[i, j]
                for j in range(right.shape[1]):
                    right[other, j] -= factor * right[i, j]


@compiled
def opening_inertance(openings: Openings, height: float, depth: float, thickness: float, table: Edges) -> float:
    """Inertance over density of a brace's openings beyond that of the empty layer, 1/m.

    ``height`` and ``depth`` are those of the layer, ``thickness`` the board's, m; ``table`` is that of ``edges``.  A
    brace without any opening has ``SHUT``.
    """
    there = np.flatnonzero(openings.area > 0.0)
    count = len(there)
    if count == 0:
        return SHUT
    over_height, over_depth = np.empty((count, MODES + 1)), np.empty((count, MODES + 1))
    modes = 1  # over the depth: nothing but the even flow where all are open from back to baffle
    for k in range(count):
        opening = there[k]
        _shape(over_height[k], openings.low[opening], openings.high[opening], table)
        _shape(over_depth[k], openings.rear[opening], openings.front[opening], table)
        if openings.rear[opening] > 0.0 or openings.front[opening] < 1.0:
            modes = MODES + 1
    whole, across, waves = np.zeros((count, count)), np.empty(modes), np.empty(modes)
    for n in range(modes):
        across[n] = (n / depth) ** 2
    for m in range(MODES + 1):
        up = (m / height) ** 2
        for n in range(modes):  # by itself, so that it is worked out several at a time
            waves[n] = (4.0 if m > 0 else 2.0) / np.sqrt(up + across[n])
        waves[0] = 2.0 * height / m if m > 0 else 0.0
        for k in range(count):
            for other in range(k + 1):
                total = 0.0
                for n in range(modes):
                    total += over_depth[k, n] * over_depth[other, n] * waves[n]
                whole[k, other] += over_height[k, m] * over_height[other, m] * total
    for k in range(count):
        for other in range(k + 1):
            whole[k, other] *= 2.0 / (np.pi * height * depth)
            whole[other, k] = whole[k, other]
        whole[k, k] += thickness / openings.area[there[k]]
    flow = np.ones((count, 1))
    _eliminate(whole, flow)
    return float(1.0 / flow.sum() - thickness / (height * depth))


@borrowing
def _shape(found: Floats, start: float, end: float, table: Edges) -> None:
    """∫ cos(mπs)·f ds over an opening from ``start`` to ``end`` of 0 to 1, of each mode, f its share of the flow.

    One that begins at a wall is half of one twice as wide.
    """
    start, end = min(max(start, 0.0), 1.0), min(max(end, 0.0), 1.0)
    at_start, at_end = start < 1e-6, end > 1.0 - 1e-6
    found[:] = 0.0
    if at_start and at_end:  # open from wall to wall: even
        found[0] = 1.0
        return
    half = end - start if at_start or at_end else 0.5 * (end - start)
    middle = 0.0 if at_start else 1.0 if at_end else 0.5 * (start + end)
    grid, values = table
    step = grid[1]
    for m in range(MODES + 1):
        place = min(np.pi * half * m, grid[-1]) / step
        below = min(int(place), len(grid) - 2)
        part = place - below
        found[m] = np.cos(np.pi * middle * m) * ((1.0 - part) * values[below] + part * values[below + 1])


@lru_cache(maxsize=1)
def edges() -> Edges:
    """ω and Γ(1 + ν)·(2/ω)^ν·J_ν(ω): the transform of (1 - s²)^(ν - 1/2), ν = 1/6."""
    grid = np.linspace(0.0, WIDEST, 4001)
    beyond = grid[1:]
    return Edges(grid, np.concatenate([[1.0], gamma(1.0 + EDGE) * (2.0 / beyond) ** EDGE * jv(EDGE, beyond)]))
