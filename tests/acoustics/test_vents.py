"""Vents: tuning and length are each other's inverse, and the limits are right."""

from __future__ import annotations

import math

import numpy as np
import pytest

from engine.acoustics.circuit import Systems, respond
from engine.acoustics.vents import (
    BOTH_ENDS,
    EndKind,
    effective_length,
    end_correction,
    length_from_tuning,
    tuning_from_length,
    vent_area,
    vent_mass,
)
from engine.air import air_at
from engine.parts import Driver


def test_length_and_tuning_undo_each_other() -> None:
    """Symmetry, over a batch."""
    rng = np.random.default_rng(41)
    box = {
        "volume": rng.uniform(0.01, 0.2, 200),
        "diameter": rng.uniform(0.04, 0.16, 200),
        "count": rng.integers(1, 5, 200).astype(float),
        "filling": rng.uniform(1.0, 1.4, 200),
    }
    tuning = rng.uniform(18.0, 50.0, 200)
    air = air_at(temperature_k=300.0, altitude_m=900.0)
    length = length_from_tuning(tuning=tuning, air=air, **box)
    np.testing.assert_allclose(tuning_from_length(length=length, air=air, **box), tuning, rtol=1e-12)


def test_tuning_is_where_mass_meets_compliance() -> None:
    """Analytic: the cone hardly moves at the tuning of a lossless box, and most of the air goes through the vent."""
    box = {"volume": 0.06, "diameter": 0.1, "count": 2.0, "filling": 1.1}
    tuning = float(tuning_from_length(length=0.3, **box))
    driver = Driver(name="d", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.05, re=4.0, xmax=0.01, rated_power=100.0)
    systems = Systems.of(
        driver,
        volume=0.06,
        voltage=10.0,
        filling=1.1,
        ql=math.inf,
        tuning=tuning,
        vent_count=2,
        vent_area=float(vent_area(diameter=0.1)),
    )
    around = respond(systems, frequency=tuning * np.array([0.9, 1.0, 1.1]))
    assert around.excursion[0, 1] < 1e-9 * around.excursion[0, 0]
    mass = float(vent_mass(length=0.3, diameter=0.1, count=2.0))
    assert mass * systems.cab[0] * (2.0 * math.pi * tuning) ** 2 == pytest.approx(1.0, rel=1e-12)


def test_vents_in_parallel_are_one_of_their_area() -> None:
    """Scaling law: apart from the end corrections, n vents weigh what one of n times the area does."""
    one, four = vent_mass(length=0.2, diameter=0.08), vent_mass(length=0.2, diameter=0.08, count=4.0)
    assert float(one / four) == pytest.approx(4.0, rel=1e-12)
    shared = {"tuning": 30.0, "volume": 0.05}
    several = effective_length(diameter=0.05, count=4.0, **shared)
    assert float(several) == pytest.approx(float(effective_length(diameter=0.1, **shared)), rel=1e-12)


@pytest.mark.parametrize(
    ("ends", "radii"), [(("flush", "free"), 1.463), (("flush", "flush"), 1.7), (("free", "free"), 1.226)]
)
def test_each_end_has_its_kind(ends: tuple[EndKind, EndKind], radii: float) -> None:
    """Contract: 0.85 a flush, 0.613 a free, together 1.463 a."""
    assert float(end_correction(diameter=2.0, ends=ends)) == pytest.approx(radii, rel=1e-12)
    assert pytest.approx(1.463, rel=1e-12) == BOTH_ENDS


def test_an_impossible_vent_has_a_negative_length() -> None:
    """A bad candidate is a number, not an exception: this one would be tuned lower by its ends alone."""
    assert float(length_from_tuning(tuning=120.0, volume=0.1, diameter=0.05)) < 0.0
