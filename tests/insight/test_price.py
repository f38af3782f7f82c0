"""What a little more buys: brute force on small invented fronts, monotonicity, sentences, sections swept."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.goals import GOALS
from engine.insight.price import NEXT_AMPLIFIER, Change, Price, changes, ends, gains, prices
from engine.scenario import Scenario
from engine.search.families import families_of

OBJECTIVES = ("level_30_hz_db", "weight_kg", "cost")
APART = [GOALS[key].told_apart for key in OBJECTIVES]


def front(rows: list[tuple[int, int, int]]) -> pd.DataFrame:
    return pd.DataFrame(rows, columns=list(OBJECTIVES), dtype=float)


rows = st.lists(
    st.tuples(st.integers(90, 100), st.integers(10, 15), st.integers(100, 130)), min_size=1, max_size=10, unique=True
)


@given(rows, rows)
def test_gains_are_those_of_brute_force(ours: list[tuple[int, int, int]], more: list[tuple[int, int, int]]) -> None:
    """Independent implementation: for each design a plain loop over all as good in the other goals."""
    found = gains(front(ours), front(ours + more), OBJECTIVES)
    turned = [[(-a, b, c) for a, b, c in each] for each in (ours, ours + more)]
    for goal, key in enumerate(OBJECTIVES):
        ahead = []
        for asked in turned[0]:
            best = [
                min(each[goal] for each in rows if all(each[k] <= asked[k] + APART[k] for k in range(3) if k != goal))
                for rows in turned
            ]
            ahead.append(best[0] - best[1])
        assert found[key] == pytest.approx(np.mean(ahead))
        assert found[key] >= 0.0


def test_the_same_front_is_worth_nothing() -> None:
    """Analytic limit: no change, no gain."""
    same = front([(95, 12, 110), (97, 14, 120)])
    assert gains(same, same, OBJECTIVES) == dict.fromkeys(OBJECTIVES, 0.0)


def job(name: str = "roadster") -> Scenario:
    return read_scenario(demo_scenarios()[name])


@pytest.mark.parametrize("name", list(demo_scenarios()))
def test_changes_only_ever_give_room(name: str) -> None:
    """Property: the changed cross-section holds the old one, moved by the step on one side only."""
    scenario = job(name)
    found = {each.what: each for each in changes(scenario)}
    before = shapely.Polygon(scenario.space.section)
    for what, way in (("depth", (1.0, 0.0)), ("height", (0.0, 1.0))):
        change = found[what]
        after = shapely.Polygon(change.scenario.space.section)
        assert after.is_valid
        moved = shapely.affinity.translate(before, *(change.amount * each for each in way))
        for inside in (before, moved):
            assert inside.difference(after).area == pytest.approx(0.0, abs=1e-12)
        across = before.bounds[3] - before.bounds[1] if what == "depth" else before.bounds[2] - before.bounds[0]
        assert after.area - before.area == pytest.approx(change.amount * across, rel=1e-6)
    assert found["width"].scenario.space.width == pytest.approx(scenario.space.width + found["width"].amount)


def test_a_job_in_inches_is_asked_for_half_an_inch_more() -> None:
    """User's promise: steps in the user's own units."""
    assert changes(job("roadster"))[0].amount == pytest.approx(0.0127)
    assert changes(job("van-bench"))[0].amount == pytest.approx(0.010)


def test_more_room_never_loses() -> None:
    """Property: what fits into the job fits with more room and plays as it did, whichever the seed."""
    found = prices(replace(job(), evaluations=48_000), seeds=(1, 2))
    assert {"width", "height", "depth", "amplifier"} <= {price.change.what for price in found}
    for price in found:
        for gained in (price.along, price.ends):
            assert len(gained) == 2
            assert (gained.to_numpy() >= 0.0).all()


def test_prices_are_said_in_both_systems_of_units() -> None:
    """User's promise: the change, what it buys and how sure that is; what is no more than chance is not said."""
    change = Change(what="depth", amount=0.010, scenario=job())
    gained = pd.DataFrame({"level_30_hz_db": [0.7, 0.9], "level_40_hz_db": [-0.2, 0.3]})
    no = 0.0 * gained
    assert Price(change, gained, no).told("metric") == (
        "10 mm more depth: along the front a box plays at least 0.8 dB louder at 30 Hz."
    )
    volume = pd.DataFrame({"outer_volume_m3": [0.0028, 0.0029]})
    assert Price(replace(change, amount=0.0127), 0.0 * volume, volume).told("us") == (
        "1/2 in more depth: at its best a box has a smaller box (at least 0.10 ft³)."
    )
    assert Price(change, no, no).told("metric") == "10 mm more depth: nothing that shows."


def test_ends_are_the_best_of_either_front() -> None:
    """Independent implementation: pandas' own best of each column."""
    base, more = front([(95, 12, 110)]), front([(95, 12, 110), (98, 15, 105)])
    assert ends(base, more, OBJECTIVES) == {"level_30_hz_db": 3.0, "weight_kg": 0.0, "cost": 5.0}


def test_a_stronger_amplifier_is_wired_as_the_one_there_is() -> None:
    """Common practice: more power is turned down, not wired away from; it then buys no less than nothing."""
    van = read_scenario(demo_scenarios()["van-bench"])
    (stronger,) = (each.scenario for each in changes(van) if each.what == "amplifier")
    before, after = ([item.wiring for item in families_of(each).items] for each in (van, stronger))
    assert [each.words for each in after] == [each.words for each in before]
    for one, other in zip(before, after, strict=True):
        assert other.power == pytest.approx(NEXT_AMPLIFIER * one.power)
        assert other.voltage > one.voltage
