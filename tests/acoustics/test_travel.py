"""Force factor and stiffness over position."""

from __future__ import annotations

import math

import numpy as np
import pytest

from engine.acoustics.travel import Shape, motor_bend, motor_factors, stiffness_bend

THETA = (np.arange(4096) + 0.5) * 2.0 * math.pi / 4096
SHAPE = Shape(second=-900.0, fourth=-2.0e5)


def at(shape: Shape, x: np.ndarray) -> np.ndarray:
    """The shape itself at positions in m."""
    return np.asarray(1.0 + shape.second * x**2 + shape.fourth * x**4)


def test_the_factors_are_fundamentals() -> None:
    """Independent implementation: Fourier coefficients by quadrature of shape(x)·cos and shape(x)·sin, x = X·cos."""
    for peak in (0.004, 0.012):
        shape, square = at(SHAPE, peak * np.cos(THETA)), np.array(peak**2)
        assert float(SHAPE.along(square)) == pytest.approx(2.0 * np.mean(shape * np.cos(THETA) ** 2), rel=1e-12)
        assert float(SHAPE.across(square)) == pytest.approx(2.0 * np.mean(shape * np.sin(THETA) ** 2), rel=1e-12)
        # The plain mean, the slip easily made, is neither.
        assert abs(float(SHAPE.along(square)) - float(np.mean(shape))) > 1e-3


def test_what_the_current_gives_the_motion_takes() -> None:
    """Conservation law: mean of Bl(x)·i·u for a current of any phase is ½·across·I·cos φ·U; odd parts add nothing."""
    peak, phase = 0.01, 0.7
    x = peak * np.cos(THETA)
    u, i = -np.sin(THETA), np.sin(THETA + phase)
    for skew in (0.0, 15.0):
        power = float(np.mean((at(SHAPE, x) + skew * x) * i * u))
        across = float(SHAPE.across(np.array(peak**2)))
        assert power == pytest.approx(-0.5 * across * math.cos(phase), rel=1e-9)


def test_shares_left_at_xmax() -> None:
    """Analytic limit: the parabolas go through what is stated (82 % and 75 %: IEC 62458, from memory)."""
    xmax = np.array([0.012, 0.008])
    np.testing.assert_allclose(1.0 + motor_bend(share=0.82, xmax=xmax) * xmax**2, 0.82)
    np.testing.assert_allclose(1.0 / (1.0 + stiffness_bend(share=0.75, xmax=xmax) * xmax**2), 0.75)


def test_a_motor_never_turns_round() -> None:
    """Promise: beyond where the polynomial means anything a tenth is left, not a negative force."""
    along, across = motor_factors(SHAPE, np.array([0.0, 0.04]))
    assert along[0] == across[0] == 1.0
    assert along[1] == across[1] == 0.1
