"""A box with pipes as a design file states it, and Helmholtz's resonator by hand to hold it against."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from engine.air import REFERENCE_AIR, Air
from engine.parts import Driver
from engine.stated_design import StatedDesign

DRIVER = Driver(name="d", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.05, re=4.0, xmax=0.01, rated_power=100.0)
# As a file states it; bore and tuning or length are put in by each test.
PIPED = StatedDesign(driver=DRIVER, voltage=10.0, box_kind="vented", volume=0.05, ql=7.0, vent_count=1)
Number = float | NDArray[np.float64]


def tuning_of(
    *, length: Number, volume: Number, diameter: Number, count: Number = 1.0, air: Air = REFERENCE_AIR
) -> NDArray[np.float64]:
    """Hz of ``count`` pipes, one end flush and one free: f = c/2π·sqrt(n·S/(V·(L + (0.85 + 0.613)·a))), m and m³."""
    radius = 0.5 * np.asarray(diameter)
    effective = length + (0.85 + 0.613) * radius
    return np.asarray(air.c / (2.0 * math.pi) * np.sqrt(count * math.pi * radius**2 / (volume * effective)))
