"""The air between the inner mouth of a slot and the box: a small room between the slot's end and the wall ahead.

A slot along a panel has the full depth of the box, so its air moves in two dimensions: out of the mouth, ``height``
tall, into the room before the wall ahead, and round the end of the slot's board into the box.

            box, ``along`` from the wall ahead
     ═══════╗                  ║
     board  ║     window       ║ wall ahead
     ═══════╝                  ║
     slot →       chamber      ║
     ══════════════════════════╝

Potential flow, solved once for a grid of shapes: modes of slot, chamber and box matched
over mouth and window, both in Gegenbauer polynomials with the weight r^(-1/3) of flow round a square
edge (as Hurd 1973 and others do for waveguides, from memory).  Six of them in each settle the fourth digit.
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from scipy.special import eval_gegenbauer, gamma, ive, jv

from engine.arrays import Floats
from engine.core.compiled import borrowing, compiled

TERMS = 6
MODES = 300
GONE = 20.0  # exp(-GONE) is nothing
EDGE = 1.0 / 6.0  # of the polynomials: flow round a square edge goes with r^(2·EDGE - 2/3) = r^(-1/3)

# Slot over chamber height, chamber length over height, chamber length over box.
HEIGHTS = np.array([0.25, 0.32, 0.4, 0.5, 0.6, 0.7, 0.78, 0.85, 0.91, 0.95, 0.98, 0.9999])
LENGTHS = np.geomspace(0.3, 40.0, 36)
LOG_LENGTHS = np.log(LENGTHS)
PARTS = np.array([0.001, 0.06, 0.13, 0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.78, 0.85, 0.9, 0.94, 0.97, 1.0])


class Chamber(NamedTuple):
    """What the chamber of a slot comes to: inertance times depth over density, no unit.

    Relative to the mean of a box that is endless above the window, without its flow that is even ``along`` it.
    ``slot`` is of the flow from the slot to the box, ``both`` between that and the flow from all of the chamber's air
    to the box, ``air`` of the latter.  ``near`` and ``far`` are two places in the window, over its length from the wall
    ahead, that stand for its flow.
    """

    slot: float
    both: float
    air: float
    near: float
    far: float


@borrowing
def chamber_of(height: float, chamber_height: float, length: float, along: float, table: Floats) -> Chamber:
    """The chamber of a slot, all lengths in m; ``table`` is that of ``shapes``.

    ``chamber_height`` is the slot's and its board's, ``length`` from the mouth to the wall ahead and ``along`` the
    length of the box beside the window, measured from that wall.  Shapes beyond the grid are drawn to its edge.
    """
    i, high = _between_marks(height / chamber_height, HEIGHTS)
    j, long = _between_marks(math.log(length / chamber_height), LOG_LENGTHS)
    k, wide = _between_marks(length / along, PARTS)
    slot, both, air, near, far = 0.0, 0.0, 0.0, 0.0, 0.0
    for a, of_height in ((i, 1.0 - high), (i + 1, high)):
        for b, of_length in ((j, 1.0 - long), (j + 1, long)):
            for c, of_part in ((k, 1.0 - wide), (k + 1, wide)):
                weight, shape = of_height * of_length * of_part, table[a, b, c]
                slot, both, air = slot + weight * shape[0], both + weight * shape[1], air + weight * shape[2]
                near, far = near + weight * shape[3], far + weight * shape[4]
    spreading = _spreading(min(max(length / along, PARTS[0]), PARTS[-1]))
    return Chamber(slot + spreading, both + spreading, air + spreading, near, far)


@borrowing
def _between_marks(at: float, marks: Floats) -> tuple[int, float]:
    """Index of the mark below and part of the way to the next; beyond the marks those of the edge."""
    at = min(max(at, float(marks[0])), float(marks[-1]))
    below = min(max(int(np.searchsorted(marks, at, side="right")) - 1, 0), len(marks) - 2)
    return below, float((at - marks[below]) / (marks[below + 1] - marks[below]))


@compiled
def _spreading(part: float) -> float:
    """What a window has in a wide box, taken off in the table: a logarithm."""
    return -2.0 / math.pi * math.log(math.sin(0.5 * math.pi * part))


@lru_cache(maxsize=1)
def shapes() -> Floats:
    """The figures of ``Chamber`` at every shape of the grid, (heights, lengths, parts, 5)."""
    box = np.stack([_box(part) for part in PARTS])
    values = np.array([[_solved(height, length, box) for length in LENGTHS] for height in HEIGHTS])
    values[..., :3] -= np.array([_spreading(part) for part in PARTS])[:, np.newaxis]
    return values


def _solved(height: float, length: float, box: Floats) -> Floats:
    """The figures of ``Chamber``, (K, 5), for K boxes (K, TERMS, TERMS) on a chamber of height 1."""
    window = _window(length) + box
    between = np.broadcast_to(_between(height, length), window.shape)
    mouth = np.broadcast_to(_mouth(height, length), window.shape)
    whole = np.block([[mouth, -between], [-between.swapaxes(-1, -2), window]])
    flow = _least(whole, (0, TERMS))
    air = _least(window, (0,))
    pressure = (whole @ flow)[..., 0]
    mean, square = np.einsum("mt,kt->mk", _moments(), flow[:, TERMS:, 0])
    spread = np.sqrt(np.maximum(square - mean**2, 0.0))
    slot, of_air = (flow[..., 0] * pressure).sum(axis=-1), (air * (window @ air))[..., 0].sum(axis=-1)
    near, far = np.maximum(mean - spread, 0.02), np.minimum(mean + spread, 0.98)
    return np.stack([slot, pressure[:, TERMS], of_air, near, far], axis=-1)


def _least(matrix: Floats, stated: tuple[int, ...]) -> Floats:
    """The flow (K, T, 1) of least energy whose ``stated`` parts are 1."""
    free = [n for n in range(matrix.shape[-1]) if n not in stated]
    flow = np.zeros((*matrix.shape[:-1], 1))
    flow[:, stated] = 1.0
    flow[:, free] = -np.linalg.solve(matrix[:, free][:, :, free], (matrix @ flow)[:, free])
    return flow


def _shapes(omega: Floats) -> Floats:
    """∫ b_j(x)·cos(ωx) dx from 0 to 1, (M, TERMS); b_0 carries 1, the others nothing."""
    order, omega = np.arange(TERMS), omega[:, np.newaxis]
    return np.asarray(2.0**EDGE * gamma(1.0 + EDGE) * (-1.0) ** order * jv(2 * order + EDGE, omega) / omega**EDGE)


def _hollow_shapes(omega: Floats) -> Floats:
    """∫ b_j(x)·cosh(ωx) dx times exp(-ω), (M, TERMS)."""
    order, omega = np.arange(TERMS), omega[:, np.newaxis]
    return np.asarray(2.0**EDGE * gamma(1.0 + EDGE) * ive(2 * order + EDGE, omega) / omega**EDGE)


def _weighed(shapes: Floats, weight: Floats) -> Floats:
    return np.asarray(shapes.T @ (weight[:, np.newaxis] * shapes))


def _flux() -> Floats:
    flux = np.zeros((TERMS, TERMS))
    flux[0, 0] = 1.0
    return flux


def _mouth(height: float, length: float) -> Floats:
    """Of the mouth: the slot's own modes, and the chamber's over its height."""
    # The walls at either end matter to the slowest only.
    wave = np.arange(1.0, MODES)[: math.ceil(GONE / (2.0 * np.pi * length))] * np.pi
    walls = _weighed(_shapes(wave * height), 2.0 / wave * (1.0 / np.tanh(wave * length) - 1.0))
    return _open_mouth(height) + walls + _flux() * length / 3.0


@lru_cache(maxsize=len(HEIGHTS))
def _open_mouth(height: float) -> Floats:
    """The same before a chamber without an end, without the flow that is even over its height."""
    wave = np.arange(1.0, MODES) * np.pi
    return _weighed(_shapes(wave), 2.0 / wave) + _weighed(_shapes(wave * height), 2.0 / wave)


@lru_cache(maxsize=len(LENGTHS))
def _window(length: float) -> Floats:
    """Of the window: the chamber's modes over its length."""
    wave = np.arange(1.0, MODES) * np.pi
    return _weighed(_whole_shapes(), 2.0 / wave / np.tanh(wave / length)) + _flux() / (3.0 * length)


@lru_cache(maxsize=len(PARTS))
def _box(part: float) -> Floats:
    """Of the window: the box's modes along it, as many as make the window's own the same as in the chamber."""
    wave = np.arange(1.0, math.ceil(MODES / part)) * np.pi
    return _weighed(_shapes(wave * part), 2.0 / wave)


def _between(height: float, length: float) -> Floats:
    """Of mouth and window, (TERMS, TERMS)."""
    order = np.arange(1.0, MODES)[: math.ceil(GONE * length / (np.pi * (1.0 - height)))]
    decay = order * np.pi / length
    fall = (-1.0) ** order * 4.0 / (order * np.pi) * np.exp(-decay * (1.0 - height)) / (1.0 - np.exp(-2.0 * decay))
    waves = (_hollow_shapes(decay * height) * fall[:, np.newaxis]).T @ _whole_shapes()[: len(order)]
    # Even over the length: the mean of y² over the mouth.
    squares = np.zeros(TERMS)
    squares[:2] = 0.5 / (1.0 + EDGE), 0.5 / ((1.0 + EDGE) * (2.0 + EDGE))
    waves[:, 0] += (0.5 * height**2 * squares - _flux()[0] / 6.0) / length
    return np.asarray(waves)


@lru_cache(maxsize=1)
def _whole_shapes() -> Floats:
    return _shapes(np.arange(1.0, MODES) * np.pi)


@lru_cache(maxsize=1)
def _moments() -> Floats:
    """∫ b_j(x)·x dx and ∫ b_j(x)·x² dx, (2, TERMS)."""
    node, weight = np.polynomial.legendre.leggauss(200)
    angle = 0.25 * np.pi * (node + 1.0)
    x = np.sin(angle)
    order = 2 * np.arange(TERMS)
    scale = 4.0**EDGE * gamma(1.0 + EDGE) * gamma(EDGE) * gamma(order + 1.0) / (np.pi * gamma(order + 2.0 * EDGE))
    shape = scale * eval_gegenbauer(order, EDGE, x[:, np.newaxis])
    area = 0.25 * np.pi * weight * np.cos(angle) ** (2.0 * EDGE)
    return np.stack([(area * x) @ shape, (area * x**2) @ shape])
