"""Modes over the height of a layer whose depth changes linearly, in numbers: height 1, mean depth 1."""

from __future__ import annotations

from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.polynomial import legendre
from scipy.linalg import eigh

from engine.acoustics.special import cell
from engine.arrays import Floats
from engine.core.compiled import borrowing

MODES = 5  # beside the constant one
TAPERS, HEIGHTS = 97, 129  # of the table
STEEPEST = 0.96  # taper


class Modes(NamedTuple):
    """Of tapers from -``STEEPEST`` to ``STEEPEST``: wave numbers (T, MODES), and shapes at heights (T, Z, MODES)."""

    numbers: Floats
    shapes: Floats


@lru_cache(maxsize=1)
def modes() -> Modes:
    """The table.  The layer's depth is 1 + taper·(2ζ - 1).

    Solves (h·φ')' + μ²·h·φ = 0 with φ' = 0 at both ends by Galerkin's method in Legendre polynomials; ∫h·φ² dζ = 1.
    """
    heights, order = np.linspace(0.0, 1.0, HEIGHTS), 36
    node, weight = legendre.leggauss(60)
    value = legendre.legvander(node, order - 1)
    slope = np.stack([2.0 * legendre.legval(node, legendre.legder(row)) for row in np.eye(order)], axis=-1)
    shown = legendre.legvander(2.0 * heights - 1.0, order - 1)
    numbers, shapes = [], []
    for taper in np.linspace(-STEEPEST, STEEPEST, TAPERS):
        depth = (0.5 * weight * (1.0 + taper * node))[:, np.newaxis]
        squares, vectors = eigh(slope.T @ (depth * slope), value.T @ (depth * value), subset_by_index=[1, MODES])
        shape = shown @ vectors
        numbers.append(np.sqrt(squares))
        shapes.append(shape * np.sign(shape[0]))
    return Modes(np.array(numbers), np.array(shapes))


@borrowing
def numbers_of(taper: float, height: float, table: Modes, found: Floats) -> None:
    """Write the wave numbers (MODES,) of a layer, rad/m; ``height`` in m."""
    below, part = cell(taper, -STEEPEST, STEEPEST, TAPERS)
    for m in range(MODES):
        found[m] = ((1.0 - part) * table.numbers[below, m] + part * table.numbers[below + 1, m]) / height


@borrowing
def shapes_at(taper: float, height: float, table: Modes, found: Floats) -> None:
    """Write the modes (MODES,) of a layer at a part of its height."""
    i, across = cell(taper, -STEEPEST, STEEPEST, TAPERS)
    j, along = cell(height, 0.0, 1.0, HEIGHTS)
    for m in range(MODES):
        low = (1.0 - along) * table.shapes[i, j, m] + along * table.shapes[i, j + 1, m]
        high = (1.0 - along) * table.shapes[i + 1, j, m] + along * table.shapes[i + 1, j + 1, m]
        found[m] = (1.0 - across) * low + across * high
