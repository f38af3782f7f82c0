"""What a little more buys: brute force on small invented fronts, pairs of searches, sentences."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.goals import GOALS
from engine.insight.changes import Change, changes
from engine.insight.price import REPEATS, Price, ends, figure_of, gains, prices, searched_together, uncertainty
from engine.insight.reasons import balanced
from engine.scenario import Scenario
from engine.search.front import designs_of, turned, worked_out
from engine.search.problem import BoxProblem
from engine.search.runs import run

OBJECTIVES = ("level_30_hz_db", "weight_kg", "cost")
APART = [GOALS[key].told_apart for key in OBJECTIVES]
Front = list[tuple[int, int, int]]


def front(rows: Front) -> np.ndarray:
    """Invented figures as a front's objectives, the level turned so that less is better."""
    return np.array(rows, dtype=float) * (-1.0, 1.0, 1.0)


rows = st.lists(
    st.tuples(st.integers(90, 100), st.integers(10, 15), st.integers(100, 130)), min_size=1, max_size=10, unique=True
)


@given(rows, rows)
def test_gains_are_those_of_brute_force(ours: Front, more: Front) -> None:
    """Independent implementation: for each design that none beats a plain loop over all as good in the other goals."""
    found = gains(front(ours), front(ours + more), OBJECTIVES)
    turned_ = [[(-a, b, c) for a, b, c in each] for each in (ours, ours + more)]
    best = [
        one for one in turned_[0] if not any(two != one and all(map(np.less_equal, two, one)) for two in turned_[0])
    ]
    for goal, key in enumerate(OBJECTIVES):
        ahead = []
        for asked in best:
            least = [
                min(each[goal] for each in rows if all(each[k] <= asked[k] + APART[k] for k in range(3) if k != goal))
                for rows in turned_
            ]
            ahead.append(least[0] - least[1])
        assert found[key] == pytest.approx(np.mean(ahead))
        assert found[key] >= 0.0


def test_the_same_front_is_worth_nothing() -> None:
    """Analytic limit: no change, no gain."""
    same = front([(95, 12, 110), (97, 14, 120)])
    assert gains(same, same, OBJECTIVES) == dict.fromkeys(OBJECTIVES, 0.0)


def job(name: str = "roadster") -> Scenario:
    return read_scenario(demo_scenarios()[name])


def test_a_change_of_nothing_buys_nothing() -> None:
    """Analytic limit: what is found for the same job is found for the job; two searches would differ by tenths of a dB.

    The fronts of the two searches are told apart by cells that a builder can tell apart, and so may their ends be.
    """
    scenario = job()
    same = Change(what="depth", amount=0.0127, scenario=scenario, moved=({"top_depth": 0.0127},))
    (price,) = prices(scenario, asked=[same], evaluations=40_000)
    for key in scenario.goals.objectives:
        assert 0.0 <= price.along[key].iloc[0] <= 0.1 * GOALS[key].told_apart
        assert 0.0 <= price.ends[key].iloc[0] <= 0.2 * GOALS[key].told_apart
    assert price.told("us") == "1/2 in more depth: nothing that shows."


def test_more_room_never_loses_and_progress_is_told() -> None:
    """Property: what fits into the job fits with more room and plays as it did; in whatever part of what was found."""
    told: list[float] = []
    scenario = job()
    found = prices(scenario, evaluations=16_384, progress=told.append)
    assert {"width", "height", "depth", "amplifier", "vents", "pipe", "driver", "air"} == {
        price.change.what for price in found
    }
    for price in found:
        for gained in (price.along, price.ends):
            assert len(gained) == 2 + REPEATS
            assert (gained.to_numpy() >= 0.0).all()
    assert told == sorted(told)
    assert told[-1] == pytest.approx(1.0)


def test_a_changed_job_knows_at_least_the_job_s_designs_grown_into_its_room() -> None:
    """Brute force: a design of the front, as it is and made deeper by hand, judged exactly with the room."""
    scenario, keys = job(), job().goals.objectives
    (change,) = (each for each in changes(scenario) if each.what == "depth")
    base = run(scenario, evaluations=16_384).front
    row = base.iloc[balanced(base, keys)].to_dict()
    ((_, parts),) = searched_together(scenario, [change], near=pd.DataFrame([row]), effort=2_048, repeats=1)
    problem = BoxProblem(change.scenario)
    X = problem.encode(designs_of(problem.evaluator, pd.DataFrame([row])))
    deeper = X + change.amount * np.isin(problem.variables, ["top_depth", "bottom_depth"])
    right, _ = worked_out(problem.evaluator, problem.decode(np.clip(np.vstack([X, deeper]), problem.xl, problem.xu)))
    for F, changed in parts:
        assert len(changed) > len(F)
        for by_hand in turned(right, keys):
            assert (changed <= by_hand + [GOALS[key].told_apart for key in keys]).all(axis=1).any()


def test_prices_are_said_in_both_systems_of_units() -> None:
    """User's promise: the change, what it buys and how sure that is; what is no more than chance is not said."""
    change = Change(what="depth", amount=0.010, scenario=job())
    gained = pd.DataFrame({"level_30_hz_db": [0.8, 0.7, 0.9], "level_40_hz_db": [0.3, -0.2, 0.4]})
    no = 0.0 * gained
    assert Price(change, gained, no).told("metric") == (
        "10 mm more depth: along the front a box plays at least 0.8 dB louder at 30 Hz."
    )
    assert figure_of(gained, "level_30_hz_db", "metric") == "+0.8 ± 0.1"
    volume = pd.DataFrame({"outer_volume_m3": [0.0028, 0.0029]})
    assert Price(replace(change, amount=0.0127), 0.0 * volume, volume).told("us") == (
        "1/2 in more depth: at its best a box is smaller (by at least 0.10 ft³)."
    )
    assert Price(change, no, no).told("metric") == "10 mm more depth: nothing that shows."


def test_uncertainty_is_the_most_that_a_part_tells_otherwise() -> None:
    """By hand: half of the effort told 0.3 less, one repeat 0.1 more."""
    told = uncertainty(pd.DataFrame({"cost": [1.0, 0.7, 1.1]}))
    assert told["cost"] == pytest.approx(0.3)


def test_ends_are_the_best_of_either_front() -> None:
    """By hand."""
    base, more = front([(95, 12, 110)]), front([(95, 12, 110), (98, 15, 105)])
    assert ends(base, more, OBJECTIVES) == {"level_30_hz_db": 3.0, "weight_kg": 0.0, "cost": 5.0}
