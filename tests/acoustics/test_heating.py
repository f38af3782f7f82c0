"""Heat in the voice coil."""

from __future__ import annotations

import math

import numpy as np
import pytest

from engine.acoustics.heating import COEFFICIENTS, hot_resistance, rise

COPPER = COEFFICIENTS["copper"]


def test_resistance_of_metals_at_a_hundred_kelvin() -> None:
    """Published values (IEC 60028 and 60889, printed in handbooks as 3.93e-3 and 4.03e-3 per K at 20 °C)."""
    assert COEFFICIENTS == {"copper": 3.93e-3, "aluminium": 4.03e-3}
    # 10 W into 10 K/W: whatever current does that.
    current = np.sqrt(10.0 / (4.0 * 1.393))
    hot = hot_resistance(4.0, float(current), 10.0, COPPER)
    assert float(hot) == pytest.approx(4.0 * 1.393, rel=1e-12)
    assert float(rise(re=4.0, hot=hot, coefficient=COPPER)) == pytest.approx(100.0, rel=1e-12)


def test_a_coil_at_two_hundred_degrees_is_four_point_seven_db_down() -> None:
    """Published value (general encyclopedia on power compression): 72 % more resistance from 20 to 200 °C, -4.7 dB."""
    # 180 K by 10 W into 18 K/W at 0.4 %/K.
    hot = hot_resistance(1.0, math.sqrt(10.0 / 1.72), 18.0, 0.004)
    assert float(hot) == pytest.approx(1.72, rel=1e-12)
    assert 20.0 * math.log10(float(hot)) == pytest.approx(4.7, abs=0.05)


def test_the_closed_form_is_where_iteration_ends() -> None:
    """Independent implementation: resistance, heat, rise, resistance, over and over."""
    current, re, thermal = np.array([1.0, 4.0, 8.0]), 3.2, 0.4
    hot = np.full(3, re)
    for _ in range(500):
        hot = re * (1.0 + COPPER * thermal * hot * current**2)
    found = [hot_resistance(re, each, thermal, COPPER) for each in current.tolist()]
    np.testing.assert_allclose(found, hot, rtol=1e-12)


def test_limits_of_heating() -> None:
    """Analytic limits: no thermal resistance no heat; past the runaway current no temperature is enough."""

    def at(current: float, thermal: float) -> float:
        return float(hot_resistance(4.0, current, thermal, COPPER))

    assert at(20.0, 0.0) == 4.0
    runaway = math.sqrt(1.0 / (COPPER * 0.5 * 4.0))
    assert math.isfinite(at(0.999 * runaway, 0.5))
    assert math.isinf(at(1.001 * runaway, 0.5))
