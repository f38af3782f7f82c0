"""The quick form against the exact one."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from engine.acoustics.circuit import Systems, respond
from engine.acoustics.figures import FIGURES_GRID, figures
from engine.acoustics.large_signal import compression_db, respond_large
from engine.acoustics.limits import level_db, max_output, overdrive
from engine.acoustics.quick_power import QuickPower, output_loss_db
from engine.acoustics.squares import Squares
from tests.acoustics import drawn

FREQUENCY = np.geomspace(12.0, 150.0, 23)
BAND = (25.0, 80.0)
LIMIT = 17.0
KINDS = [
    {"bent": 0.0},
    {"bent": 1.0},
    {"bent": 0.5, "thin": True},
    {"bent": 0.5, "passive": 1.0, "thin": True},
]


@pytest.mark.parametrize("kinds", KINDS)
def test_one_trial_is_the_complex_form(kinds: dict[str, float]) -> None:
    """Independent implementation: real arithmetic in single precision against complex, at the answer itself."""
    systems = drawn.at_full_power(300, seed=51, **kinds)
    at = Squares(systems).at(np.log(FREQUENCY)[:, np.newaxis])
    full = respond_large(systems, frequency=FREQUENCY)
    quick = QuickPower(systems, FREQUENCY[:, np.newaxis], drive_loss=at.drive_loss, vent_speed_limit=LIMIT)
    inside = np.abs(full.pressure.T) / np.sqrt(quick.sound)  # the box's, peak
    speed = full.vent_speed + full.radiator_excursion * 2.0 * np.pi * FREQUENCY
    with np.errstate(all="ignore"):
        value, _ = quick(np.log(np.where(systems.vented | systems.radiating, speed.T, inside)).astype(np.float32))
    moved = [each.T**2 for each in (full.excursion, full.vent_speed, full.radiator_excursion)]
    reached = overdrive(systems, full.heat.T, moved, vent_speed_limit=LIMIT)
    np.testing.assert_allclose(np.exp(value), np.maximum.reduce([np.ones_like(value), *reached]), rtol=2e-3)


@pytest.mark.parametrize("kinds", KINDS)
def test_the_loss_is_found_in_a_few_trials(kinds: dict[str, float]) -> None:
    """Independent implementation: within 0.05 dB at 99 of 100 points of random designs, 0.3 dB at all."""
    systems = drawn.at_full_power(500, seed=52, **kinds)
    at = Squares(systems).at(np.log(FREQUENCY)[:, np.newaxis])
    found = max_output(systems, frequency=FREQUENCY, vent_speed_limit=LIMIT)[2]
    over = overdrive(systems, at.heat, [at.excursion, at.vent_speed, at.radiator_excursion], vent_speed_limit=LIMIT)
    linear = at.pressure / np.maximum.reduce([np.ones_like(over[0]), *over])
    with np.errstate(all="ignore"):
        lost = output_loss_db(
            systems,
            frequency=FREQUENCY[:, np.newaxis],
            drive_loss=at.drive_loss,
            pressure=linear,
            vent_speed_limit=LIMIT,
        )
    truth = 10.0 * np.log10(linear / np.abs(found.pressure.T) ** 2)
    off = np.abs(lost - truth)
    assert np.quantile(off, 0.99) < 0.05
    assert np.max(off) < 0.3
    # The linear answer is far off.
    assert np.quantile(np.abs(truth), 0.9) > 0.5


@pytest.mark.parametrize("kinds", KINDS)
def test_mean_output_at_full_power_is_right(kinds: dict[str, float]) -> None:
    """Independent implementation: the exact curve on a fine grid; 0.1 dB at 99 of 100 designs, 0.25 dB at all."""
    systems = drawn.at_full_power(300, seed=53, **kinds)
    fine = np.geomspace(*BAND, 193)
    level = max_output(systems, frequency=fine, vent_speed_limit=LIMIT)[0]
    mean = (level[:, 1:-1].sum(axis=1) + 0.5 * (level[:, 0] + level[:, -1])) / (len(fine) - 1)
    off = np.abs(figures(systems, music_band=BAND, vent_speed_limit=LIMIT).output_db - mean)
    assert np.quantile(off, 0.99) < 0.1
    assert np.max(off) < 0.25


def test_rows_without_effects_lose_nothing() -> None:
    """Contract: beside rows that do, a row that nothing grows in has the linear model's output to the last digit."""
    systems = drawn.at_full_power(40, seed=54)
    off = np.arange(40) % 2 == 0
    half = dataclasses.replace(
        systems,
        **{name: np.where(off, 0.0, getattr(systems, name)) for name in ("thermal", "vent_loss", "bl2", "k2")},
    )
    mixed = figures(half, music_band=BAND, vent_speed_limit=LIMIT).output_db
    alone = figures(half.take(off), music_band=BAND, vent_speed_limit=LIMIT).output_db
    np.testing.assert_allclose(mixed[off], alone, rtol=1e-12)


def worst_at_full_power(systems: Systems, name: str) -> np.ndarray:
    return getattr(respond_large(systems, frequency=np.geomspace(10.0, 200.0, 4000)), name).max(axis=1)


def test_exact_figures_are_the_large_signal_models() -> None:
    """Independent implementation: dense grids of the exact model; 0.1 % of worst values, 0.02 dB, 3 K."""
    systems = drawn.at_full_power(60, seed=55, bent=0.0, passive=0.3, thin=True)
    found = figures(systems, music_band=BAND, vent_speed_limit=LIMIT, frequency=FIGURES_GRID, exact=True)
    np.testing.assert_allclose(
        found.excursion_ratio, worst_at_full_power(systems, "excursion") / systems.xmax, rtol=1e-3
    )
    np.testing.assert_allclose(found.vent_speed, worst_at_full_power(systems, "vent_speed"), rtol=1e-3)
    pushed = worst_at_full_power(systems, "radiator_excursion")[systems.radiating]
    some = systems.radiating
    np.testing.assert_allclose(found.radiator_ratio[some], pushed / systems.radiator_xmax[some], rtol=1e-3)
    dense = np.geomspace(*BAND, 1001)
    most = max_output(systems, frequency=dense, vent_speed_limit=LIMIT)[2]
    level = level_db(np.abs(most.pressure) ** 2)
    mean = (level[:, 1:-1].sum(axis=1) + 0.5 * (level[:, 0] + level[:, -1])) / 1000
    np.testing.assert_allclose(found.output_db, mean, atol=0.02)
    np.testing.assert_allclose(found.coil_rise, most.coil_rise.max(axis=1), atol=3.0)
    lost = compression_db(most, respond(systems, frequency=dense).pressure)
    np.testing.assert_allclose(found.compression_db, lost.max(axis=1), atol=0.1)
    # The linear model's worst values, which the search takes, are others.
    quick = figures(systems, music_band=BAND, vent_speed_limit=LIMIT)
    assert np.max(np.abs(quick.vent_speed / np.where(systems.vented, found.vent_speed, 1.0) - 1.0)) > 0.2
    assert np.all(np.isnan(quick.coil_rise))
