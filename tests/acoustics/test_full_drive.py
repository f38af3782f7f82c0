"""Worst excursion and vent speed at full drive as a search hears them, against the exact form."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.acoustics.figures import FIGURES_GRID, SEARCH_GRID, figures
from engine.acoustics.large_signal import respond_large
from engine.acoustics.quick_power import at_drive, grows
from engine.acoustics.squares import Squares
from tests.acoustics import drawn

BAND = (25.0, 80.0)
KINDS: list[dict[str, Any]] = [{"bent": 0.0}, {"bent": 0.0, "passive": 1.0, "thin": True}]


@pytest.mark.parametrize("kinds", KINDS)
def test_the_quick_form_finds_full_drive(kinds: dict[str, Any]) -> None:
    """Independent implementation: a few trials in real arithmetic against the complex form solved to the end."""
    systems = drawn.at_full_power(400, seed=71, **kinds)
    frequency = np.geomspace(14.0, 120.0, 9)
    at = Squares(systems).at(np.log(frequency)[:, np.newaxis])
    places = np.broadcast_to(frequency[:, np.newaxis], (9, len(systems)))
    excursion, speed, _ = at_drive(systems, frequency=places, drive_loss=at.drive_loss, pressure=at.pressure)
    full = respond_large(systems, frequency=frequency)
    opening = full.vent_speed + full.radiator_excursion * 2.0 * np.pi * frequency
    for found, exact in ((excursion.T, full.excursion), (speed.T, opening)):
        there = exact > 0.0
        off = np.abs(found[there] / exact[there] - 1.0)
        assert np.median(off) < 1e-3
        assert np.quantile(off, 0.99) < 0.03
        assert not np.any(found[~there])


@pytest.mark.parametrize("kinds", KINDS)
def test_a_search_hears_full_drive_much_nearer_than_the_linear_model_does(kinds: dict[str, Any]) -> None:
    """Independent implementation: few places against all of them; and that the linear model would not do."""
    systems = drawn.at_full_power(400, seed=72, **kinds)
    asked: dict[str, Any] = {"music_band": BAND, "vent_speed_limit": 17.0}
    few = figures(systems, frequency=SEARCH_GRID, **asked)
    exact = figures(systems, frequency=FIGURES_GRID, exact=True, **asked)
    none = np.zeros(len(systems))
    linear = figures(replace(systems, thermal=none, vent_loss=none), frequency=SEARCH_GRID, **asked)
    where = grows(systems)
    for name in ("excursion_ratio", "vent_speed", "radiator_ratio"):
        true = getattr(exact, name)[where]
        there = true > 0.0
        if not np.any(there):
            continue
        off, off_linear = (np.abs(getattr(each, name)[where][there] / true[there] - 1.0) for each in (few, linear))
        assert np.median(off) < 0.03, name
        assert np.quantile(off, 0.9) < 0.2, name
        if name == "vent_speed":
            assert np.median(off_linear) > 5.0 * np.median(off)


def test_a_search_looks_at_a_closed_box_near_its_resonance() -> None:
    """Independent implementation: there a bent motor moves the cone most, and the linear model looks lower."""
    systems = drawn.at_full_power(800, seed=75, bent=1.0)
    systems = systems.take(np.flatnonzero(~systems.vented))
    asked: dict[str, Any] = {"music_band": BAND, "vent_speed_limit": 17.0}
    few = figures(systems, frequency=SEARCH_GRID, **asked).excursion_ratio
    exact = figures(systems, frequency=FIGURES_GRID, exact=True, **asked).excursion_ratio
    off = np.abs(few / exact - 1.0)[exact < 2.5]
    assert np.median(off) < 0.01
    assert np.quantile(off, 0.9) < 0.12


def test_what_does_not_grow_is_left_to_the_linear_model() -> None:
    """Contract: with all effects off the quick form changes nothing."""
    systems = drawn.systems(60, seed=73)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0)
    at = Squares(systems).at(np.log(np.geomspace(10.0, 200.0, 4000))[:, np.newaxis])
    np.testing.assert_allclose(found.excursion_ratio, np.sqrt(at.excursion.max(axis=0)) / systems.xmax, rtol=2e-3)
