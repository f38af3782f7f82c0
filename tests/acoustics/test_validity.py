"""Where the model stops, and what is said of it."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from engine.acoustics.figures import figures
from engine.acoustics.validity import PART_OF_WAVE, validity, words
from tests.acoustics import drawn

BAND = (25.0, 80.0)


def test_limits_follow_from_lengths() -> None:
    """Published relations: c/(2·length) for box and pipe (Rayleigh); common practice: an eighth of a wave."""
    systems = drawn.systems(30, seed=41)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0)
    sizes = np.linspace(0.3, 2.5, 30)
    lengths = np.where(systems.vented, 1.0, np.nan)
    where = validity(systems, found, largest_dimension=sizes, vent_length=lengths, music_band=BAND)
    np.testing.assert_allclose(where.first_mode_hz * sizes, 171.6)
    np.testing.assert_allclose(where.vent_resonance_hz[systems.vented], 171.6)
    assert np.all(np.isnan(where.vent_resonance_hz[~systems.vented]))
    longest = np.where(systems.vented, np.maximum(sizes, 1.0), sizes)
    np.testing.assert_allclose(where.model_to_hz * longest, 42.9)
    np.testing.assert_array_equal(where.lumped_short, where.model_to_hz < 80.0)
    np.testing.assert_array_equal(where.mode_in_band, sizes >= 171.6 / 80.0)
    assert not np.any(where.vent_in_band)
    long = validity(systems, found, largest_dimension=sizes, vent_length=2.5 * lengths, music_band=BAND)
    np.testing.assert_array_equal(long.vent_in_band, systems.vented)
    np.testing.assert_array_equal(where.overdriven, found.excursion_ratio > 1.0)
    assert not np.any(where.vent_untrue & ~where.vent_noisy)


def test_walls_make_a_tuning_less_sure() -> None:
    """Common practice, no source: 1 % of the tuning, and of what walls near by take off it 30 % (of the mass 15 %)."""
    systems = drawn.systems(30, seed=41)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0)
    stated = {"largest_dimension": np.full(30, 0.5), "vent_length": np.full(30, np.nan), "music_band": BAND}
    known = np.full(30, 300.0)
    free = validity(systems, found, first_mode=known, **stated)
    mass = 1.0 / (systems.omega_b**2 * systems.cab)
    walls = validity(systems, found, first_mode=known, outside=0.4 * mass, **stated)
    np.testing.assert_allclose(free.tuning_within, np.where(systems.tuned, 0.01 * systems.tuning, np.nan))
    np.testing.assert_allclose(walls.tuning_within, np.where(systems.tuned, 0.07 * systems.tuning, np.nan))
    assert walls.walled[systems.tuned].all()
    assert not free.walled.any()
    row = int(np.flatnonzero(systems.tuned)[0])
    assert f"good to {walls.tuning_within[row]:.1f} Hz" in " ".join(words(walls, found, row))
    assert np.isnan(validity(systems, found, **stated).tuning_within).all()


def test_what_an_eighth_of_a_wave_costs() -> None:
    """Analytic: the spring of a closed pipe and the mass of an open one, exact over lumped, as said beside the rule."""
    kl = 2.0 * math.pi * PART_OF_WAVE
    assert kl / math.tan(kl) == pytest.approx(0.79, abs=0.005)
    assert math.tan(kl) / kl == pytest.approx(1.27, abs=0.005)


def test_words_say_what_the_flags_do() -> None:
    """Promise to the user: a sentence for every flag that is set, with its figures, and none where all holds."""
    systems = drawn.systems(40, seed=42, passive=0.4)
    quiet = replace(systems, voltage=1e-3 * systems.voltage)
    small, short = np.full(40, 0.3), np.where(systems.vented, 0.3, np.nan)
    found = figures(quiet, music_band=BAND, vent_speed_limit=17.0)
    where = validity(quiet, found, largest_dimension=small, vent_length=short, music_band=BAND)
    assert all(words(where, found, row) == [] for row in range(40))

    loud = replace(systems, voltage=100.0 * systems.voltage)
    found = figures(loud, music_band=BAND, vent_speed_limit=17.0)
    where = validity(loud, found, largest_dimension=10.0 * small, vent_length=10.0 * short, music_band=BAND)
    for row in range(40):
        told = " ".join(words(where, found, row))
        assert f"{where.model_to_hz[row]:.0f} Hz" in told
        assert "standing wave at 57 Hz" in told
        assert ("as a pipe at 57 Hz" in told) == bool(systems.vented[row])
        assert ("speed of sound" in told) == bool(where.vent_noisy[row])
        assert ("change with the level" in told) == bool(where.vent_untrue[row])
        assert ("the cone would move" in told) == bool(where.overdriven[row])
        assert ("the passive radiator would" in told) == bool(where.radiator_overdriven[row])
    assert where.vent_noisy.any()
    assert where.overdriven.any()
    assert where.radiator_overdriven.any()
