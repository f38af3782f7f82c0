"""Special functions of compiled code against those of a library of numerical methods."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.special import digamma, k0, sici

from engine.acoustics.special import bessel_k0, cell, digammas, sine_integral


def test_bessel_k0() -> None:
    """Independent implementation: scipy's, to 2e-10 of it; beyond 25 it is less than 4e-12."""
    some = np.geomspace(0.9, 24.9, 200)
    assert [bessel_k0(x) for x in some] == pytest.approx(k0(some), rel=2e-10)
    assert bessel_k0(26.0) == pytest.approx(float(k0(26.0)), abs=4e-12)


def test_digammas() -> None:
    """Independent implementation: scipy's, to 1e-9 of it."""
    some = np.concatenate([np.geomspace(1e-3, 0.5, 100), 1.0 - np.geomspace(1e-3, 0.5, 100)])
    assert [digammas(part) for part in some] == pytest.approx(digamma(some) + digamma(1.0 - some), rel=1e-9)


def test_sine_integral() -> None:
    """Independent implementation: scipy's, to 1e-8."""
    some = np.concatenate([[0.0], np.geomspace(1e-3, 200.0, 300)])
    assert [sine_integral(z) for z in some] == pytest.approx(sici(some)[0], abs=1e-8)


def test_places_in_a_table() -> None:
    """Conservation: index and part make the place again; beyond the table they are its edges, and nan is nowhere."""
    for at in (2.0, 2.3, 3.99, 4.0):
        below, part = cell(at, 2.0, 4.0, 21)
        assert 0 <= below <= 19
        assert 2.0 + (below + part) / 10.0 == pytest.approx(at)
    assert cell(9.0, 2.0, 4.0, 21) == pytest.approx((19, 1.0))
    assert cell(-9.0, 2.0, 4.0, 21) == pytest.approx((0, 0.0))
    assert cell(np.nan, 2.0, 4.0, 21)[0] == 0
