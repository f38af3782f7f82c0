"""The Butterworth high-pass."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import signal

from engine.acoustics.filters import magnitude, response

FREQUENCY = np.geomspace(5.0, 200.0, 60)


@pytest.mark.parametrize("order", range(1, 9))
def test_agrees_with_scipy(order: int) -> None:
    """Independent implementation: scipy.signal.butter, analogue, to 1e-9."""
    cutoff = 27.0
    b, a = signal.butter(order, 2.0 * math.pi * cutoff, btype="highpass", analog=True)
    _, expected = signal.freqs(b, a, worN=2.0 * math.pi * FREQUENCY)
    found = response(FREQUENCY, order=np.array([[order]]), cutoff=np.array([[cutoff]]))
    np.testing.assert_allclose(found[0], expected, rtol=1e-9)


def test_magnitude_is_that_of_the_complex_response() -> None:
    """Two forms of one filter, mixed orders in one batch."""
    order, cutoff = np.arange(9.0)[:, np.newaxis], np.linspace(10.0, 50.0, 9)[:, np.newaxis]
    np.testing.assert_allclose(
        magnitude(FREQUENCY, order=order, cutoff=cutoff),
        np.abs(response(FREQUENCY, order=order, cutoff=cutoff)),
        rtol=1e-12,
    )


def test_half_power_at_the_cutoff_and_none_without_order() -> None:
    """Analytic limits: |H|² = 1/2 at the cutoff of any order; order 0 is 1 whatever its cutoff."""
    orders = np.arange(1.0, 9.0)
    np.testing.assert_allclose(magnitude(np.array([30.0]), order=orders, cutoff=np.full(8, 30.0)) ** 2, 0.5, rtol=1e-12)
    for cutoff in (0.0, 30.0, np.nan):
        none = {"order": np.array([0.0]), "cutoff": np.array([cutoff])}
        np.testing.assert_array_equal(magnitude(FREQUENCY, **none), 1.0)
        np.testing.assert_array_equal(response(FREQUENCY, **none), 1.0)
