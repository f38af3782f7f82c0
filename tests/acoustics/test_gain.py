"""The one gain at which a design holds its limits, exact and as a search hears it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.acoustics.circuit import Systems, respond
from engine.acoustics.figures import FIGURES_GRID, figures
from engine.acoustics.filters import Chain
from engine.acoustics.gain import Use, gain_of, shares
from engine.acoustics.heating import duty
from engine.acoustics.large_signal import respond_large
from engine.acoustics.limits import LIMITS, level_db
from engine.arrays import Floats
from engine.parts import Driver
from tests.acoustics import drawn

LIMIT = 17.0
FED = 20.0
DENSE = np.geomspace(FED, 200.0, 1500)
KINDS: list[dict[str, Any]] = [{}, {"bent": 0.0, "passive": 0.4, "thin": True}]


def over(systems: Systems, gain: Floats, frequency: Floats) -> dict[str, Floats]:
    """What each limit's worst is over what it allows at a gain, each (N,)."""
    found = respond_large(systems, frequency=frequency, gain=gain)
    pushed = found.radiator_excursion / np.where(systems.radiating, systems.radiator_xmax, np.inf)[:, np.newaxis]
    return {
        "thermal": found.heat.max(axis=1) / systems.rated_power,
        "excursion": found.excursion.max(axis=1) / systems.xmax,
        "vent": found.vent_speed.max(axis=1) / LIMIT,
        "passive radiator": pushed.max(axis=1),
    }


@pytest.mark.parametrize("kinds", KINDS)
def test_no_limit_is_passed_anywhere_and_one_is_met(kinds: dict[str, Any]) -> None:
    """User's promise, on a dense grid of its own: to 1e-4 nothing passes its limit, and what sets the gain meets it."""
    systems = drawn.at_full_power(120, seed=5, **kinds)
    gain, hz, limit = gain_of(systems, fed_from=FED, vent_speed_limit=LIMIT)
    worst = over(systems, gain, DENSE)
    assert max(float(each.max()) for each in worst.values()) < 1.0 + 1e-4
    down = limit > 0
    assert 20 < down.sum() < 120
    assert np.all(gain[down] < 1.0)
    there = over(systems.take(down), gain[down], hz[down, np.newaxis])
    met = np.stack([there[name] for name in LIMITS[1:]])[limit[down] - 1, np.arange(down.sum())]
    np.testing.assert_allclose(met, 1.0, rtol=1e-6)
    # Nothing else would do: a hair more passes a limit.
    assert all(
        value > 1.0
        for value in np.max([*over(systems.take(down), 1.01 * gain[down], DENSE).values()], axis=0)
    )  # fmt: skip


def closed(xmax: float = 0.004, **others: Any) -> Systems:
    driver = Driver(
        name="closed", fs=30.0, qes=0.3, qms=5.0, vas=0.06, sd=0.03, re=4.0, xmax=xmax, rated_power=1e6,
        thermal_resistance=0.0,
    )  # fmt: skip
    return Systems.of(driver, volume=0.03, voltage=25.0, **others)


def test_a_linear_closed_box_is_turned_down_by_its_worst_excursion() -> None:
    """Analytic limit: where nothing grows with the level, the gain is Xmax over the worst excursion at full drive."""
    systems = closed()
    gain, hz, limit = gain_of(systems, fed_from=FED, vent_speed_limit=LIMIT)
    worst = np.sqrt(2.0) * respond(systems, frequency=DENSE).excursion.max() / systems.xmax
    assert LIMITS[limit[0]] == "excursion"
    assert hz[0] == pytest.approx(FED)  # below resonance a closed box moves most at the lowest tone it is fed
    assert gain[0] == pytest.approx(1.0 / worst[0], rel=1e-6)


def test_fed_from_higher_up_it_is_turned_down_less() -> None:
    """Analytic limit: less is asked of the cone where the lowest tones are left out."""
    low, high = (
        gain_of(closed(filter_order=order, filter_hz=hz), fed_from=fed, vent_speed_limit=LIMIT)[0]
        for order, hz, fed in ((0.0, 0.0, 20.0), (0.0, 0.0, 40.0))
    )
    filtered = gain_of(closed(filter_order=4.0, filter_hz=35.0), fed_from=20.0, vent_speed_limit=LIMIT)[0]
    assert low[0] < high[0]
    assert low[0] < filtered[0]


def test_what_a_filter_raises_takes_from_the_gain() -> None:
    """Analytic limit: a band of +6 dB leaves half the voltage, and the amplifier is named."""
    plain = closed(xmax=1.0)
    raised = replace(plain, chain=Chain(band_hz=45.0, band_db=6.0, band_q=1.0))
    assert gain_of(plain, fed_from=FED, vent_speed_limit=LIMIT)[0][0] == 1.0
    gain, hz, limit = gain_of(raised, fed_from=FED, vent_speed_limit=LIMIT)
    assert gain[0] == pytest.approx(10.0 ** (-6.0 / 20.0), rel=1e-6)
    assert hz[0] == pytest.approx(45.0, rel=1e-4)
    assert LIMITS[limit[0]] == "amplifier"


def test_music_heats_less_than_a_tone_of_its_peaks() -> None:
    """Analytic limit: mean power over that of a sine, 2/C²; a long tone of 3 dB heats in full."""
    assert duty(3.0) == pytest.approx(1.0, abs=1e-9)
    assert duty(6.0206) == pytest.approx(0.5, rel=1e-5)
    assert duty(12.0) < duty(9.0) < duty(6.0) < 1.0
    # Where heat alone binds, half of it from the same peaks leaves 3 dB more at the same temperature.
    systems = drawn.at_full_power(40, seed=8, bent=0.0)
    systems = replace(systems, xmax=100.0 * systems.xmax, voltage=4.0 * systems.voltage, vent_loss=np.zeros(40))
    music = replace(systems, thermal=0.5 * systems.thermal, rated_power=2.0 * systems.rated_power)
    (tone, _, limit), (soft, *_) = (gain_of(each, fed_from=FED, vent_speed_limit=1e4) for each in (systems, music))
    bound = (LIMITS[int(code)] == "thermal" for code in limit)
    hot = np.fromiter(bound, dtype=bool) & (soft < 1.0)
    assert hot.sum() > 20
    np.testing.assert_allclose(soft[hot] / tone[hot], np.sqrt(2.0), rtol=1e-6)


@pytest.mark.parametrize("kinds", KINDS)
def test_a_search_hears_the_gain_and_the_levels(kinds: dict[str, Any]) -> None:
    """Independent implementation: a dozen places in real arithmetic against the exact form everywhere."""
    systems = drawn.at_full_power(400, seed=31, **kinds | {"bent": 0.3})
    asked: dict[str, Any] = {"music_band": (25.0, 80.0), "vent_speed_limit": LIMIT, "use": Use()}
    quick = figures(systems, asked=("strain",), **asked)
    exact = figures(systems, exact=True, frequency=FIGURES_GRID, **asked)
    off = np.abs(20.0 * np.log10(quick.gain / exact.gain))
    assert np.median(off) < 0.02
    assert np.quantile(off, 0.95) < 0.1
    levels = np.abs(quick.levels - exact.levels)
    assert np.quantile(levels, 0.95) < 0.1
    for name in ("excursion_ratio", "vent_speed", "radiator_ratio"):
        true = getattr(exact, name)
        there = true > 0.0
        if np.any(there):
            miss = np.abs(getattr(quick, name)[there] / true[there] - 1.0)
            assert np.quantile(miss, 0.95) < 0.1, name
    # Rounded as the front keeps them they hold their limits.
    assert np.all(exact.excursion_ratio.round(4) <= 1.0)
    assert np.all(exact.vent_speed.round(3) <= LIMIT)
    assert np.all(exact.radiator_ratio.round(4) <= 1.0)


def test_levels_are_those_at_the_gain_and_full_drive_turns_nothing_down() -> None:
    """Independent implementation: the large response at that gain; and what a job asks for at full power."""
    systems = drawn.at_full_power(60, seed=12)
    asked: dict[str, Any] = {"music_band": (25.0, 80.0), "vent_speed_limit": LIMIT, "exact": True}
    held = figures(systems, use=Use(levels=(28.0, 45.0)), **asked)
    found = respond_large(systems, frequency=np.array([28.0, 45.0]), gain=held.gain)
    np.testing.assert_allclose(held.levels, level_db(np.abs(found.pressure) ** 2), rtol=1e-9)
    full = figures(systems, use=Use(levels=(28.0, 45.0), full_drive=True), **asked)
    assert np.all(full.gain == 1.0)
    assert np.all(full.levels >= held.levels - 1e-6)
    assert full.excursion_ratio.max() > 1.0
    assert np.all(np.isnan(full.gain_hz))


def test_each_share_is_what_its_own_frequency_allows() -> None:
    """Symmetry: one frequency at a time or all together; and the gain is the least of them."""
    systems = drawn.at_full_power(20, seed=3)
    together, _ = shares(systems, frequency=DENSE[::100], vent_speed_limit=LIMIT)
    alone = np.stack(
        [shares(systems, frequency=np.array([hz]), vent_speed_limit=LIMIT)[0][:, 0] for hz in DENSE[::100]]
    )
    np.testing.assert_allclose(together, alone.T, rtol=1e-9)
    gain = gain_of(systems, fed_from=FED, vent_speed_limit=LIMIT)[0]
    assert np.all(gain <= np.minimum(together.min(axis=1), 1.0) * (1.0 + 1e-9))


def test_a_music_band_below_what_is_fed_is_no_fault() -> None:
    """Promise to the user: a job may name a band that it does not feed; compression is then the worst wherever fed."""
    systems = drawn.at_full_power(4, seed=9)
    found = figures(
        systems, music_band=(10.0, 18.0), vent_speed_limit=LIMIT, frequency=FIGURES_GRID, exact=True,
        use=Use(fed_from=FED),
    )  # fmt: skip
    everywhere = figures(
        systems, music_band=(FED, 200.0), vent_speed_limit=LIMIT, frequency=FIGURES_GRID, exact=True,
        use=Use(fed_from=FED),
    )  # fmt: skip
    np.testing.assert_array_equal(found.compression_db, everywhere.compression_db)
