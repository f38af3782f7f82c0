"""Vent end corrections and lengths against the literature and the handbooks' formulae."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest
from scipy.integrate import quad
from scipy.special import ellipe, i1e, k1e

from engine.acoustics.vents import BOTH_ENDS, FLUSH_END, EndKind, end_correction
from engine.air import REFERENCE_AIR, Air
from engine.built import effective_length, vent_length
from tests.acoustics.pipes import PIPED


def length_of(*, diameter: float, volume: float, tuning: float, count: int = 1, air: Air = REFERENCE_AIR) -> float:
    """What a file that states the tuning gets to cut, one end flush and one free."""
    stated = replace(PIPED, air=air, volume=volume, vent_diameter=diameter, vent_count=count, tuning=tuning)
    length = vent_length(stated)
    assert length is not None
    return length


def test_free_end() -> None:
    """Independent: Levine & Schwinger's integral (1948), 0.6127 a where they print 0.6133 [P] (trap 3)."""

    def integrand(x: float) -> float:
        return -math.log(2.0 * float(i1e(x) * k1e(x))) / x**2

    tail = 1e-3  # of what lies beyond: 2·I1·K1 tends to (1 - 3/(8x²))/x
    value = quad(integrand, 1e-6, 1.0, limit=200)[0] + quad(integrand, 1.0, 1e5, limit=500)[0]
    value += (math.log(1e5) + 1.0) / 1e5
    assert value / math.pi == pytest.approx(0.6127, abs=tail)
    free = 0.5 * float(end_correction(diameter=2.0, ends=("free", "free")))
    assert free == pytest.approx(0.6133, abs=5e-4)
    assert free == pytest.approx(value / math.pi, abs=tail)


def test_flush_end() -> None:
    """Independent: Rayleigh's integral for a rigid disc, 8/(3π) [M+C] to two digits, not an open tube's 0.8217."""
    # The mean of 1/(2π|r - r'|) over disc and disc, from the potential 4a·E(r²/a²) of a charged disc.
    disc = 2.0 / math.pi * quad(ellipe, 0.0, 1.0)[0]
    assert disc == pytest.approx(8.0 / (3.0 * math.pi), rel=1e-9)
    flush = 0.5 * float(end_correction(diameter=2.0, ends=("flush", "flush")))
    assert flush == pytest.approx(disc, abs=5e-3)
    assert abs(flush - 0.8217) > 0.02


def test_both_ends() -> None:
    """Handbook practice [M]: together 1.463 a, that is 0.732 D."""
    assert pytest.approx(1.463, abs=1e-12) == BOTH_ENDS
    assert float(end_correction(diameter=1.0)) == pytest.approx(0.732, abs=6e-4)


@pytest.mark.parametrize(
    ("diameter", "volume", "tuning", "effective", "handbook", "two_flanged"),
    [
        (0.1000, 0.050, 30.0, 0.520730, 0.447530, 0.435847),
        (0.0779, 0.030, 40.0, 0.296250, 0.239227, 0.230126),
        (0.1524, 0.100, 25.0, 0.870792, 0.759236, 0.741431),
        (0.10226, 0.070, 32.0, None, 0.266998, None),
    ],
)
def test_vent_length_samples(
    diameter: float,
    volume: float,
    tuning: float,
    effective: float | None,
    handbook: float,
    two_flanged: float | None,
) -> None:
    """Computed [C], section 3, c = 343.2 m/s.

    Effective lengths agree to the digits printed.  Lengths are given there with 0.732 D and
    8/(3π) to each flanged end; ours has 0.7315 D and 0.85 a, which is the difference allowed.
    """
    assert REFERENCE_AIR.c == 343.2
    if effective is not None:
        assert effective_length(replace(PIPED, volume=volume, vent_diameter=diameter), tuning=tuning) == pytest.approx(
            effective, abs=6e-7
        )
    found = length_of(diameter=diameter, volume=volume, tuning=tuning)
    assert found - handbook == pytest.approx((0.732 - 0.5 * BOTH_ENDS) * diameter, abs=1e-6)
    if two_flanged is not None:
        both: tuple[EndKind, EndKind] = ("flush", "flush")
        rounding = (8.0 / (3.0 * math.pi) - FLUSH_END) * diameter
        flanged = vent_length(replace(PIPED, ends=both, volume=volume, vent_diameter=diameter, tuning=tuning))
        assert flanged is not None
        assert flanged - two_flanged == pytest.approx(rounding, abs=1e-6)


def test_handbook_formula_in_inches() -> None:
    """Handbook [M, back-solved C]: L = 1.463e7·R²/(fB²·Vb) - 1.463·R in inches, c = 344.4 m/s."""
    inch, air = 0.0254, Air(rho=1.2, c=344.4)
    for radius, volume, tuning in ((2.0, 3000.0, 30.0), (1.5, 1728.0, 36.0)):
        handbook = 1.463e7 * radius**2 / (tuning**2 * volume) - 1.463 * radius
        found = length_of(diameter=2.0 * radius * inch, volume=volume * inch**3, tuning=tuning, air=air)
        assert found / inch == pytest.approx(handbook, rel=5e-4)


def test_handbook_formula_in_centimetres() -> None:
    """Handbook [M, back-solved C]: L = 23562.5·N·D²/(fB²·Vb) - 0.732·D in cm and litres, c = 344.1 m/s."""
    air = Air(rho=1.2, c=344.1)
    for diameter, volume, tuning, count in ((10.0, 50.0, 30.0, 1), (7.5, 60.0, 33.0, 2)):
        handbook = 23562.5 * count * diameter**2 / (tuning**2 * volume) - 0.732 * diameter
        found = length_of(diameter=diameter / 100.0, volume=volume / 1000.0, tuning=tuning, count=count, air=air)
        assert found * 100.0 == pytest.approx(handbook, rel=5e-4)
