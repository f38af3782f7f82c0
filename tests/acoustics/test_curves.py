"""Curves: what the circuit gives, in the units charts want."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from engine.acoustics.circuit import Systems
from engine.acoustics.curves import curves
from engine.parts import Driver
from tests.acoustics import drawn, scalar_twin

FREQUENCY = np.geomspace(10.0, 200.0, 50)


def test_curves_agree_with_the_scalar_twin() -> None:
    """Independent implementation, every curve; excursion and vent speed are peak (trap 8: √2 × RMS)."""
    systems = drawn.systems(20, seed=31)
    found = curves(systems, frequency=FREQUENCY, vent_speed_limit=17.0)
    for row in range(len(systems)):
        twin = scalar_twin.twin_of(systems, row)
        for column, frequency in enumerate(FREQUENCY):
            point, place = scalar_twin.solve(twin, float(frequency)), (row, column)
            level = 20.0 * math.log10(abs(point.pressure) / 20e-6)
            assert found.spl_db[place] == pytest.approx(level, abs=1e-9)
            assert found.excursion_peak_m[place] == pytest.approx(math.sqrt(2.0) * point.excursion, rel=1e-9)
            assert found.vent_speed_peak_m_s[place] == pytest.approx(math.sqrt(2.0) * point.vent_speed, rel=1e-9)
            assert found.impedance_ohm[place] == pytest.approx(abs(point.impedance), rel=1e-9)
            phase = math.degrees(math.atan2(point.impedance.imag, point.impedance.real))
            assert found.impedance_phase_deg[place] == pytest.approx(phase, abs=1e-7)
            loudest, _ = scalar_twin.loudest(twin, float(frequency), 17.0)
            assert found.max_output_db[place] == pytest.approx(loudest, abs=1e-9)
            delay = scalar_twin.group_delay(twin, float(frequency))
            assert found.group_delay_s[place] == pytest.approx(delay, rel=1e-4, abs=1e-7)


@pytest.mark.parametrize("qtc", [0.5, math.sqrt(0.5), 1.0, 1.5])
def test_group_delay_of_a_closed_box_at_its_resonance(qtc: float) -> None:
    """Analytic limit: exactly Q/(π·fc), 0.225079/fc for a Butterworth box (check values, section 1, [C])."""
    fs, qms = 25.0, 1e9
    qts = qtc / 2.0  # alpha = 3 doubles it
    driver = Driver(
        name="closed",
        fs=fs,
        qes=qts * qms / (qms - qts),
        qms=qms,
        vas=0.06,
        sd=0.03,
        re=4.0,
        xmax=0.01,
        rated_power=300.0,
    )
    found = curves(Systems.of(driver, volume=0.02, voltage=10.0), frequency=np.array([2.0 * fs]), vent_speed_limit=17.0)
    assert found.group_delay_s[0, 0] == pytest.approx(qtc / (math.pi * 2.0 * fs), rel=1e-6)
    if qtc == math.sqrt(0.5):
        assert found.group_delay_s[0, 0] * 2.0 * fs == pytest.approx(0.225079, abs=5e-7)


def test_every_curve_has_a_row_a_design() -> None:
    """Shape contract."""
    found = curves(drawn.systems(7, seed=32), frequency=FREQUENCY, vent_speed_limit=17.0)
    for item in dataclasses.fields(found):
        assert getattr(found, item.name).shape == (7, 50), item.name
