"""The recommended high-pass against brute force."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from engine.acoustics.circuit import Systems, respond
from engine.acoustics.filters import response, section_qs
from engine.acoustics.recommend import CHOICES, STEP, Choice, recommend
from tests.acoustics import drawn

CUTOFFS = (10.0, 40.0)
DENSE = np.geomspace(10.0, 200.0, 4000)
WIDE = np.geomspace(2.0, 200.0, 6000)


Tried = dict[tuple[int, int], tuple[np.ndarray, np.ndarray]]


def brute(systems: Systems) -> tuple[np.ndarray, np.ndarray, Tried]:
    """Worst excursion over xmax and f3, (N,) each, of every choice and every 0.1 Hz; the same without a filter first.

    From the complex circuit on dense grids: excursion times |H| cut at 1, and the last point below half power.
    """
    bare = replace(systems, filter_order=np.zeros(len(systems)))
    full = respond(bare, frequency=DENSE)
    cone = math.sqrt(2.0) * full.excursion / systems.xmax[:, np.newaxis]
    drone = math.sqrt(2.0) * full.radiator_excursion / systems.radiator_xmax[:, np.newaxis]
    worst = np.where(systems.radiating[:, np.newaxis], np.fmax(cone, drone), cone)
    level = respond(bare, frequency=WIDE, coil_inductance=False).pressure
    power = np.abs(level / systems.reference_pressure[:, np.newaxis]) ** 2

    def f3(values: np.ndarray) -> np.ndarray:
        below = values < 0.5
        last = len(WIDE) - 1 - np.argmax(below[:, ::-1], axis=1)
        return np.where(below[:, -1], np.nan, np.where(below.any(axis=1), WIDE[last], 0.0))

    table: Tried = {}
    for number, choice in enumerate(CHOICES):
        q, q2 = section_qs(shape=choice.shape, order=choice.order, own_q=choice.own_q)
        for step in range(round(CUTOFFS[0] / STEP), round(CUTOFFS[1] / STEP) + 1):
            section = {"order": choice.order, "cutoff": step * STEP, "q": q, "q2": q2}
            held = np.minimum(np.abs(response(DENSE, **section)), 1.0)
            table[number, step] = (worst * held).max(axis=1), f3(power * np.abs(response(WIDE, **section)) ** 2)
    return worst.max(axis=1), f3(power), table


def test_is_the_best_of_all_there_are() -> None:
    """Independent implementation: every choice at every 0.1 Hz on dense grids of the complex circuit.

    What is recommended holds excursion, and nothing that holds has an f3 lower by more than what the grid resolves.
    """
    systems = drawn.systems(40, seed=33, passive=0.3)
    systems = replace(systems, voltage=np.resize([5.0, 0.6, 0.2, 0.6], 40) * systems.voltage)
    found = recommend(systems, cutoffs=CUTOFFS)
    kinds = set()
    rows = np.arange(0, 40, 3)
    all_without, all_f3_without, tried = brute(systems.take(rows))
    for place, row in enumerate(rows.tolist()):
        without, f3_without = all_without[place], all_f3_without[place]
        table = {key: (float(ratio[place]), float(f3[place])) for key, (ratio, f3) in tried.items()}
        assert found.excursion_ratio_without[row] == pytest.approx(without, rel=2e-3)
        kinds.add(min(int(found.choice[row]), 0))
        # Kept clear of 1 by what the dense grid may miss.
        holding = {key: f3 for key, (ratio, f3) in table.items() if ratio <= 0.998}
        if found.choice[row] == -1:
            assert without <= 1.001
            assert found.f3[row] == pytest.approx(f3_without, rel=2e-3, nan_ok=True)
        elif found.choice[row] == -2:
            assert without >= 0.999
            assert not holding
        else:
            chosen = table[int(found.choice[row]), round(found.hz[row] / STEP)]
            assert chosen[0] <= 1.001
            assert found.excursion_ratio[row] <= 1.0
            assert found.f3[row] == pytest.approx(chosen[1], rel=2e-3, nan_ok=True)
            if holding and not math.isnan(found.f3[row]):
                assert found.f3[row] <= min(f3 for f3 in holding.values() if not math.isnan(f3)) * 1.002 + 0.05
    assert kinds == {-2, -1, 0}, "too tame: some outcome never came"


def test_needs_no_filter_where_excursion_holds_already() -> None:
    """Analytic limit: at a thousandth of the voltage nothing is needed; at a thousand times nothing helps."""
    systems = drawn.systems(10, seed=34)
    quiet = recommend(replace(systems, voltage=1e-3 * systems.voltage))
    assert np.all(quiet.choice == -1)
    np.testing.assert_array_equal(quiet.f3, quiet.f3_without)
    np.testing.assert_array_equal(quiet.turned_down_db, 0.0)
    loud = recommend(replace(systems, voltage=1e3 * systems.voltage))
    assert np.all(loud.choice == -2)
    assert np.all(np.isnan(loud.hz))
    assert np.all(loud.turned_down_db > 20.0)


def test_one_choice_gives_its_lowest_cutoff() -> None:
    """Contract: of a Butterworth the cutoff recommended holds, and 0.1 Hz less does not."""
    systems = drawn.systems(40, seed=35)
    only = (Choice("butterworth", 2),)
    found = recommend(systems, choices=only)
    needed = found.choice == 0
    assert needed.sum() > 5
    some = systems.take(needed)
    q, q2 = only[0].qs
    filtered = replace(
        some,
        filter_order=np.full(len(some), 2.0),
        filter_q=np.full(len(some), q),
        filter_q2=np.full(len(some), q2),
        filter_hz=found.hz[needed],
    )
    peak = math.sqrt(2.0) * respond(filtered, frequency=DENSE).excursion.max(axis=1) / some.xmax
    assert np.all(peak <= 1.001)
    lower = replace(filtered, filter_hz=found.hz[needed] - STEP)
    peak = math.sqrt(2.0) * respond(lower, frequency=DENSE).excursion.max(axis=1) / some.xmax
    assert np.all((peak > 0.999) | (lower.filter_hz < 5.0))
