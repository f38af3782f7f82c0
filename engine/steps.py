"""Whole steps: what sizes and frequencies a search may choose, so that a front is not filled with hairs' breadths."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]

FREQUENCY_STEP = 0.1  # Hz
PLACES = 9  # decimals (SI) that hold a step whole: 1/64 in is 0.000396875 m, and no saw cuts finer


def whole_steps(low: float, high: float, step: float) -> tuple[float, float]:
    """A range drawn in to whole steps, so that no bound is passed by rounding."""
    return math.ceil(low / step - 1e-6) * step, math.floor(high / step + 1e-6) * step


def stepped(values: Floats, step: float) -> Floats:
    """Values brought down to whole steps, so that what just fits still fits."""
    return np.asarray(np.round(np.floor(values / step + 1e-6) * step, PLACES))


def nearest_step(values: Floats, step: float) -> Floats:
    """Values brought to the nearest whole steps."""
    return np.asarray(np.round(np.rint(values / step) * step, PLACES))
