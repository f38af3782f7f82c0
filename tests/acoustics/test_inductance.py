"""Lossy voice-coil inductance."""

from __future__ import annotations

import math

import numpy as np
import pytest

from engine.acoustics.inductance import PowerLaw, lossy, lossy_from_sheet

OMEGA = 2.0 * math.pi * np.array([20.0, 200.0, 1000.0])


def impedance(law: PowerLaw) -> np.ndarray:
    return np.asarray(law.resistance(OMEGA) + 1j * law.reactance(OMEGA))


def test_leach_and_vanderkooy_at_one_kilohertz() -> None:
    """Computed values of published forms (check values, section 7 [C]): K = 0.02, n = 0.7; K = 0.05, n = ½."""
    leach = impedance(lossy(k=0.02, n=0.7))[2]
    assert leach.real == pytest.approx(4.138116, abs=5e-7)
    assert leach.imag == pytest.approx(8.121510, abs=5e-7)
    assert math.degrees(np.angle(leach)) == pytest.approx(63.0, abs=5e-4)
    semi = impedance(lossy(k=0.05, n=0.5))[2]
    assert semi.real == pytest.approx(2.802496, abs=5e-7)
    assert semi.imag == pytest.approx(2.802496, abs=5e-7)


@pytest.mark.parametrize("n", [0.5, 0.68, 0.9])
def test_a_lossy_coil_is_a_power_of_jw(n: float) -> None:
    """Published form (Leach 2002): k·(jω)^n, here raised as a complex number."""
    np.testing.assert_allclose(impedance(lossy(k=0.03, n=n)), 0.03 * (1j * OMEGA) ** n, rtol=1e-12)


def test_wright_with_equal_exponents_is_leach() -> None:
    """Published forms agree (Wright 1990, Leach 2002) where xr = xi = n and kr/ki = cot(nπ/2), and only there."""
    wright = PowerLaw(kr=0.02 * math.cos(0.35 * math.pi), xr=0.7, ki=0.02 * math.sin(0.35 * math.pi), xi=0.7)
    np.testing.assert_allclose(impedance(wright), impedance(lossy(k=0.02, n=0.7)), rtol=1e-12)
    other = PowerLaw(kr=wright.kr, xr=0.6, ki=wright.ki, xi=0.7)
    assert np.all(np.abs(impedance(other) / impedance(wright) - 1.0) > 0.1)


def test_the_sheets_inductance_keeps_its_reactance_at_one_kilohertz() -> None:
    """Promise to the user: le of the sheet is the reactance over ω at 1 kHz, whatever the exponent."""
    n = np.array([0.5, 0.7, 1.0])
    law = lossy_from_sheet(le=1.2e-3, n=n)
    omega = np.full(3, 2.0 * math.pi * 1000.0)
    np.testing.assert_allclose(law.reactance(omega), 1.2e-3 * omega, rtol=1e-12)
    # In the bass the lossy coil has more reactance, and a loss the lossless one has not.
    low = np.full(3, 2.0 * math.pi * 30.0)
    assert np.all(np.diff(law.reactance(low)) < 0.0)
    assert law.resistance(low)[2] == 0.0
    assert np.all(law.resistance(low)[:2] > 0.0)
    assert law.reactance(low)[2] == pytest.approx(1.2e-3 * low[0], rel=1e-12)
