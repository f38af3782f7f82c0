"""Wishes from a box: properties of the achievement function, hand-made fronts, sentences, what is refused."""

from __future__ import annotations

from typing import Any

import numpy as np
import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import InputFaults
from engine.formats.wished import read_wished
from engine.goals import GOALS
from engine.insight.wishes import Aims, Wishes, achievement, aims_of, asked_in_words, in_words, nearest_wished
from engine.search.front import turned

LOUD, DEEP, ROOM, COST = "level_40_hz_db", "level_30_hz_db", "outer_volume_m3", "cost"
OBJECTIVES = (LOUD, DEEP, ROOM, COST)


def front(*rows: tuple[float, float, float, float], **texts: Any) -> pd.DataFrame:
    """Rows of levels at 40 Hz and 30 Hz (dB), outer volume (L) and cost; ids D0001 and on."""
    frame = pd.DataFrame(rows, columns=list(OBJECTIVES), dtype=float)
    frame[ROOM] /= 1e3
    words = {"box_kind": "vented", "vent_kind": "pipe", "driver": "fir 8", "driver_count": 2} | texts
    return frame.assign(id=[f"D{number:04d}" for number in range(1, len(rows) + 1)], **words)


def here(table: pd.DataFrame, name: str = "D0001") -> dict[str, Any]:
    row: dict[str, Any] = table[table["id"] == name].iloc[0].to_dict()
    return row


# D0001 is the pick; louder costs room, cost or the level at 30 Hz.
TALK = front(
    (104.0, 98.0, 40.0, 200.0),
    (105.0, 98.1, 46.0, 200.0),
    (105.2, 96.5, 40.0, 200.0),
    (105.1, 98.0, 40.1, 290.0),
    (108.0, 101.0, 80.0, 300.0),
    (98.0, 92.0, 20.0, 120.0),
)

points = st.lists(
    st.tuples(st.integers(90, 110), st.integers(85, 100), st.integers(20, 60), st.integers(100, 120)),
    min_size=2, max_size=14, unique=True,
)  # fmt: skip


def beaten(figures: np.ndarray, place: int) -> bool:
    """Whether one of the points is no worse than another in everything and better in something."""
    return bool(((figures <= figures[place]).all(axis=1) & (figures < figures[place]).any(axis=1)).any())


@given(points, st.sampled_from([(LOUD,), (ROOM,), (LOUD, DEEP)]), st.sampled_from([(), (COST,)]))
def test_the_box_found_is_beaten_by_none(
    rows: list[tuple[int, int, int, int]], more: tuple[str, ...], hold: tuple[str, ...]
) -> None:
    """Published property (Wierzbicki 1980): the optimum of an achievement function is Pareto optimal.

    Of any set of points, also one with beaten ones among them; what is held or not to get worse bounds figures from
    above, so that what beats a box that may be taken may be taken.
    """
    table = front(*rows)
    granted = nearest_wished(table, here(table), Wishes(more=more, hold=hold), OBJECTIVES)
    if granted.there is not None:
        place = int((table["id"] == granted.there["id"]).to_numpy().argmax())
        assert not beaten(turned(table, OBJECTIVES), place)


@given(points, st.integers(0, 13), st.data())
def test_levels_that_can_be_had_are_had(rows: list[tuple[int, int, int, int]], known: int, data: st.DataObject) -> None:
    """Published property (Wierzbicki 1980): where some point has all that is aspired to, so has the optimum."""
    table = front(*rows)
    can = table.iloc[known % len(table)]
    keys = data.draw(st.lists(st.sampled_from(OBJECTIVES), min_size=1, unique=True))
    levels = {key: float(can[key]) for key in keys}
    granted = nearest_wished(table, here(table), Wishes(levels=levels), OBJECTIVES)
    got = granted.there or granted.here
    assert granted.denied == ()
    assert all(GOALS[key].turn * (got[key] - level) <= 1e-12 for key, level in levels.items())


@given(points, points)
def test_the_function_rises_with_every_figure(
    rows: list[tuple[int, int, int, int]], others: list[tuple[int, int, int, int]]
) -> None:
    """Published property: of two boxes one of which beats the other it is worth more, whatever is wished for."""
    table = front(*rows)
    aims = aims_of(table, here(table), Wishes(more=(LOUD,), give=(ROOM,)), OBJECTIVES)
    both = turned(front(*others), OBJECTIVES)
    for one in both:
        for other in both:
            if (one <= other).all() and (one < other).any():
                better, worse = achievement(np.array([one, other]), aims).tolist()
                assert better < worse


def test_its_two_parts_are_those_worked_out_by_hand() -> None:
    """Independent: one goal missed by a quarter of what counts, one beyond by half of its spread, one that is free."""
    aims = Aims(
        levels=np.array([2.0, 1.0, 0.0]), misses=np.array([4.0, 1.0, 1.0]), spread=np.array([10.0, 2.0, 5.0]),
        asked=np.array([True, True, False]), most=np.full(3, np.inf),
    )  # fmt: skip
    (found,) = achievement(np.array([[3.0, 0.0, 2.0]]), aims)
    assert found.tolist() == pytest.approx([0.25, 0.1 - 0.01 * 0.5 + 0.4])


def test_more_of_one_thing_goes_to_the_next_box_and_says_what_it_costs() -> None:
    """User's promise: a step and no leap to the end, that one of the three ways in which least is given up."""
    granted = nearest_wished(TALK, here(TALK), Wishes(more=(LOUD,)), OBJECTIVES)
    assert granted.there is not None
    assert granted.there["id"] == "D0002"
    assert in_words(granted, units="metric", currency="EUR") == [
        "D0002 plays 1.0 dB louder at 40 Hz than D0001.",
        "For that it has a larger box (by 6.0 L).",
    ]


@pytest.mark.parametrize(
    ("wishes", "expected"),
    [
        (Wishes(more=(LOUD,), hold=(ROOM, COST)), "D0003"),
        (Wishes(more=(LOUD,), hold=(ROOM, DEEP)), "D0004"),
        (Wishes(more=(LOUD,), hold=(ROOM,), give=(COST,)), "D0004"),
        (Wishes(more=(LOUD,), give=(DEEP,)), "D0003"),
        (Wishes(levels={LOUD: 107.0}), "D0005"),
        (Wishes(levels={LOUD: 105.0, ROOM: 0.045, COST: 250.0}), "D0003"),
    ],
)
def test_what_is_held_stays_and_what_may_give_way_does(wishes: Wishes, expected: str) -> None:
    """Worked by hand: on a front of six each way of asking leads to the one box that answers it."""
    granted = nearest_wished(TALK, here(TALK), wishes, OBJECTIVES)
    assert granted.there is not None
    assert granted.there["id"] == expected
    assert granted.denied == ()


def test_what_cannot_be_had_is_said_with_the_best_there_is() -> None:
    """User's promise: the end of the front, the filters, what is held, or the other wishes, told apart."""

    def told(wishes: Wishes, name: str = "D0001", **how: Any) -> str:
        granted = nearest_wished(TALK, here(TALK, name), wishes, OBJECTIVES, **how)
        return in_words(granted, units="metric", currency="EUR")[-1]

    assert told(Wishes(more=(LOUD,)), "D0005") == (
        "Louder at 40 Hz: no box on the front has that; the most is 108.0 dB (this box)."
    )
    assert told(Wishes(levels={LOUD: 112.0})) == (
        "Level at 40 Hz 112.0 dB, and D0005 has 108.0 dB: no box on the front has that; the most is 108.0 dB "
        "(this box)."
    )
    assert told(Wishes(more=(LOUD,)), kept=(TALK["id"] <= "D0001").to_numpy()) == (
        "Louder at 40 Hz: the filters keep no such box; without them there is 108.0 dB (D0005)."
    )
    assert told(Wishes(more=("cost",), hold=(LOUD, ROOM))) == (
        "Cheaper: not while level at 40 Hz is held, 200 EUR is then the least; the front goes to 120 EUR (D0006)."
    )
    assert told(Wishes(more=(LOUD, ROOM))) == "Smaller: not together with the rest; by itself it goes to 20.0 L."
    assert told(Wishes(levels={LOUD: 104.0})) == "D0001 has all that is wished for."


def test_filters_are_kept() -> None:
    """User's promise: no wish leads out of what the filters keep."""
    kept = (TALK["cost"] >= 250.0).to_numpy()
    granted = nearest_wished(TALK, here(TALK), Wishes(more=(LOUD,)), OBJECTIVES, kept=kept)
    assert granted.there is not None
    assert granted.there["id"] == "D0004"


def test_the_same_is_said_in_us_customary_and_of_another_driver() -> None:
    """User's promise: each in their own units; what else the box is made of stands there."""
    table = TALK.assign(driver=["fir 8", *["elm 12"] * 5], driver_count=[2, *[1] * 5])
    granted = nearest_wished(table, here(table), Wishes(more=(LOUD,), give=(ROOM,)), OBJECTIVES)
    told = in_words(granted, units="us", currency="USD")
    assert told[1:] == ["It has 1 × elm 12 instead of 2 × fir 8.", "For that it has a larger box (by 0.21 ft³)."]


def test_a_closed_box_has_no_slower_vent_air() -> None:
    """User's promise: that nothing blows out of a closed box is no slower air, neither to go there nor from there."""
    keys = ("vent_speed_m_s", LOUD)
    table = TALK.assign(vent_speed_m_s=[12.0, 10.0, 11.0, 0.0, 12.0, 14.0])
    table.loc[3, ["box_kind", "vent_kind"]] = "closed", ""
    granted = nearest_wished(table, here(table), Wishes(more=("vent_speed_m_s",)), keys)
    assert granted.there is not None
    assert granted.there["box_kind"] == "vented"
    closed = nearest_wished(table, here(table, "D0004"), Wishes(more=("vent_speed_m_s",)), keys)
    assert closed.there is None
    assert in_words(closed, units="metric")[-1] == "Slower vent air: a box without a vent has none to blow."


def test_wishes_are_told_in_the_goals_own_words() -> None:
    """User's promise: as one would ask for it."""
    wishes = Wishes(more=(LOUD, ROOM), hold=(COST,), give=(DEEP,))
    assert asked_in_words(wishes, units="metric") == (
        "Louder at 40 Hz; smaller; hold cost of parts; give way on level at 30 Hz"
    )
    assert asked_in_words(Wishes(levels={ROOM: 0.0283168}), units="us") == "Outer volume 1.00 ft³"


def test_a_goal_is_wished_for_in_one_way_and_of_the_jobs_own() -> None:
    """Contract: nothing is guessed where a wish says two things, nothing, or something of another job."""
    with pytest.raises(ValueError, match="cost"):
        Wishes(more=(COST,), hold=(COST,))
    with pytest.raises(ValueError, match="nothing is asked"):
        nearest_wished(TALK, here(TALK), Wishes(hold=(COST,)), OBJECTIVES)
    with pytest.raises(KeyError, match="weight_kg"):
        nearest_wished(TALK, here(TALK), Wishes(more=("weight_kg",)), OBJECTIVES)


def test_what_is_typed_is_read_in_the_users_units() -> None:
    """User's promise: with a unit or, bare, in one's own; empty is no wish; all that is wrong is told at once."""
    texts = {LOUD: "104", ROOM: " 1 1/4 ", COST: "220", DEEP: ""}
    found = read_wished(texts, source="", units="us", currency="USD")
    assert found == pytest.approx({LOUD: 104.0, ROOM: 1.25 * 0.3048**3, COST: 220.0})
    assert read_wished({ROOM: "45 L"}, source="", units="us") == pytest.approx({ROOM: 0.045})
    assert read_wished({"bevel_angles": "1", "excursion_ratio": "0.8"}, source="", units="us") == {
        "bevel_angles": 1.0, "excursion_ratio": 0.8,
    }  # fmt: skip
    with pytest.raises(InputFaults) as caught:
        read_wished({LOUD: "loud", ROOM: "45 kg", COST: "9e99"}, source="", units="metric", currency="EUR")
    assert [fault.key for fault in caught.value.faults] == [LOUD, ROOM, COST]
