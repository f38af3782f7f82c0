"""Vents: tuning and length are each other's inverse, and the limits are right."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.acoustics.circuit import respond
from engine.acoustics.vents import BOTH_ENDS, EndKind, effective_length, end_correction
from engine.air import air_at
from engine.built import tuning, vent_length
from engine.evaluate import systems_of
from tests.acoustics.pipes import PIPED, tuning_of


def test_length_and_tuning_undo_each_other() -> None:
    """Symmetry, and an independent implementation where the box is empty."""
    rng = np.random.default_rng(41)
    air = air_at(temperature_k=300.0, altitude_m=900.0)
    for _ in range(200):
        wanted, filling = float(rng.uniform(18.0, 50.0)), float(rng.uniform(1.0, 1.4))
        box = replace(
            PIPED,
            air=air,
            filling=filling,
            volume=float(rng.uniform(0.01, 0.2)),
            vent_diameter=float(rng.uniform(0.04, 0.16)),
            vent_count=int(rng.integers(1, 5)),
        )
        length = vent_length(replace(box, tuning=wanted))
        assert length is not None
        assert tuning(replace(box, vent_length=length)) == pytest.approx(wanted, rel=1e-12)
        by_hand = tuning_of(
            length=length,
            volume=filling * box.volume,
            diameter=box.vent_diameter or 0.0,
            count=box.vent_count,
            air=air,
        )
        assert by_hand == pytest.approx(wanted, rel=1e-12)


def test_tuning_is_where_mass_meets_compliance() -> None:
    """Analytic: the cone hardly moves at the tuning of a lossless box, and most of the air goes through the vent."""
    stated = replace(
        PIPED,
        volume=0.06,
        filling=1.1,
        ql=float("inf"),
        vent_count=2,
        vent_diameter=0.1,
        vent_length=0.3,
        vent_loss=0.0,
    )
    systems = systems_of(stated)
    around = respond(systems, frequency=tuning(stated) * np.array([0.9, 1.0, 1.1]))
    assert around.excursion[0, 1] < 1e-9 * around.excursion[0, 0]
    effective = 0.3 + (0.85 + 0.613) * 0.05
    mass = systems.air.rho * effective / (2.0 * np.pi * 0.05**2)
    assert mass * systems.cab[0] * systems.omega_b[0] ** 2 == pytest.approx(1.0, rel=1e-12)


def test_vents_in_parallel_are_one_of_their_area() -> None:
    """Scaling law: apart from the end corrections, n vents weigh what one of n times the area does."""
    one = replace(PIPED, vent_diameter=0.08, vent_length=0.2)
    assert (tuning(replace(one, vent_count=4)) / tuning(one)) ** 2 == pytest.approx(4.0, rel=1e-12)
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
    length = vent_length(replace(PIPED, volume=0.1, vent_diameter=0.05, tuning=120.0))
    assert length is not None
    assert length < 0.0
