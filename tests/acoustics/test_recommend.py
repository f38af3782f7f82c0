"""The recommended high-pass against brute force."""

from __future__ import annotations

import math
from dataclasses import replace
from typing import Any

import numpy as np

from engine.acoustics.circuit import Systems
from engine.acoustics.gain import Use, gain_of
from engine.acoustics.large_signal import respond_large
from engine.acoustics.limits import level_db
from engine.acoustics.recommend import CHOICES, Choice, recommend
from engine.arrays import Floats
from tests.acoustics import drawn

LIMIT = 17.0
USE = Use(fed_from=20.0, levels=(30.0, 40.0, 50.0))
CUTOFFS = (10.0, 50.0)
TRIED = np.arange(10.0, 50.1, 2.0)  # Hz, of brute force
HEARD = 0.15  # dB, what the quick form may miss of the mean level


def levels_of(systems: Systems) -> Floats:
    """Levels (N, 3) in the exact model at the gain that it leaves."""
    gain, *_ = gain_of(systems, fed_from=USE.fed_from, vent_speed_limit=LIMIT)
    return level_db(np.abs(respond_large(systems, frequency=np.array(USE.levels), gain=gain).pressure) ** 2)


def with_filter(systems: Systems, choice: Choice, hz: Floats) -> Systems:
    q, q2 = choice.qs
    same = {"filter_order": float(choice.order), "filter_q": q, "filter_q2": q2}
    return replace(systems, filter_hz=hz, **{name: np.full(len(systems), value) for name, value in same.items()})


def brute(systems: Systems) -> tuple[Floats, Floats]:
    """Of one system: its levels without a filter, (3,), and with every choice and every 2 Hz, (M, 3)."""
    bare = replace(systems, filter_order=np.zeros(1))
    many = systems.take(np.zeros(len(TRIED), dtype=np.intp))
    return levels_of(bare)[0], np.concatenate([levels_of(with_filter(many, choice, TRIED)) for choice in CHOICES])


def drawn_systems() -> Systems:
    systems = drawn.at_full_power(24, seed=33, bent=0.3, passive=0.3)
    return replace(systems, voltage=np.resize([3.0, 1.0, 0.1, 1.0], 24) * systems.voltage)


def recommended(systems: Systems, **others: Any) -> Any:
    return recommend(systems, use=USE, vent_speed_limit=LIMIT, **others)


def test_is_the_best_of_all_there_are() -> None:
    """Independent implementation: every choice at every 2 Hz, in the exact model.

    Nothing that lowers no level plays louder on average by more than what the quick form may miss, and where none is
    needed or none helps that is so.
    """
    systems = drawn_systems()
    found = recommended(systems, cutoffs=CUTOFFS)
    outcomes = set()
    for row in range(len(systems)):
        without, table = brute(systems.take(np.array([row])))
        np.testing.assert_allclose(found.levels_without[row], without, atol=0.01)
        gained = (table - without).mean(axis=1)[(table >= without - 0.05).all(axis=1)].max(initial=0.0)
        choice = int(found.choice[row])
        outcomes.add(min(choice, 0))
        if choice == -1:
            assert found.gain_without[row] > 0.999
            assert gained < HEARD
        elif choice == -2:
            assert gained < 0.3 + HEARD
        else:
            change = found.levels[row] - without
            assert change.min() >= -0.3
            assert change.mean() >= max(0.3, gained - HEARD)
    assert outcomes == {-2, -1, 0}, "too tame: some outcome never came"


def test_keeps_its_word() -> None:
    """Conservation: built with the filter, the gain and the levels are those promised; else those without one."""
    systems = drawn_systems()
    found = recommended(systems)
    for row in range(len(systems)):
        one = replace(systems.take(np.array([row])), filter_order=np.zeros(1))
        if found.choice[row] >= 0:
            one = with_filter(one, CHOICES[int(found.choice[row])], found.hz[row : row + 1])
        gain, *_ = gain_of(one, fed_from=USE.fed_from, vent_speed_limit=LIMIT)
        np.testing.assert_allclose(found.gain[row], gain[0], rtol=1e-6)
        np.testing.assert_allclose(found.levels[row], levels_of(one)[0], atol=1e-4)


def test_needs_no_filter_where_nothing_passes_a_limit() -> None:
    """Analytic limit: at a thousandth of the voltage nothing is turned down, and there is nothing to recommend."""
    systems = drawn.systems(10, seed=34)
    quiet = recommended(replace(systems, voltage=1e-3 * systems.voltage))
    assert np.all(quiet.choice == -1)
    assert np.all(np.isnan(quiet.hz))
    np.testing.assert_array_equal(quiet.levels, quiet.levels_without)
    np.testing.assert_array_equal(quiet.turned_down_db, 0.0)


def test_does_not_depend_on_full_power_where_all_is_turned_down() -> None:
    """Symmetry: of a linear system ten times the voltage is turned down by 20 dB more, and the filter is the same."""
    systems = drawn.systems(12, seed=35)
    still = dict.fromkeys(("thermal", "vent_loss", "bl2", "bl4", "k2", "k4"), np.zeros(12))
    systems = replace(systems, voltage=20.0 * systems.voltage, **still)
    one, ten = recommended(systems), recommended(replace(systems, voltage=10.0 * systems.voltage))
    down = one.turned_down_db > 6.0
    assert down.sum() > 5
    np.testing.assert_array_equal(one.choice[down], ten.choice[down])
    np.testing.assert_allclose(one.hz[down], ten.hz[down], atol=0.11)
    np.testing.assert_allclose(ten.turned_down_db[down] - one.turned_down_db[down], 20.0, atol=1e-3)
    assert not math.isclose(float(np.nanmin(one.hz)), float(np.nanmax(one.hz)))
