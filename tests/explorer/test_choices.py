"""Choosing from a front, promises to the user: filters keep what they say, the few drawn stand for all."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from engine.columns import COLUMNS
from explorer.choices import (
    clicked,
    from_shown,
    kept,
    measurable,
    representative,
)

OBJECTIVES = ["f3_hz", "output_db", "excursion_ratio", "vent_speed_m_s"]


def test_filters_keep_exactly_what_lies_between_their_ends(front: pd.DataFrame) -> None:
    mask = kept(front, {"f3_hz": [30.0, 35.0], "box_kind": ["vented"]})
    expected = front["f3_hz"].between(30.0, 35.0) & (front["box_kind"] == "vented")
    assert mask.tolist() == expected.tolist()
    assert 0 < mask.sum() < len(front)


def test_an_open_end_and_an_unknown_column_filter_nothing(front: pd.DataFrame) -> None:
    assert kept(front, {}).all()
    assert kept(front, {"f3_hz": [None, None], "left_over_from_before": [1, 2]}).all()
    assert kept(front, {"f3_hz": [None, 35.0]}).sum() == (front["f3_hz"] <= 35.0).sum()


def test_the_drawn_few_hold_the_ends_of_the_front(front: pd.DataFrame) -> None:
    drawn = front.iloc[representative(front, OBJECTIVES, most=60)]
    assert len(drawn) == 60
    for key in OBJECTIVES:
        assert drawn[key].min() == front[key].min()
        assert drawn[key].max() == front[key].max()


def test_the_drawn_few_are_the_same_each_time_and_spread_better_than_chance(front: pd.DataFrame) -> None:
    first = representative(front, OBJECTIVES, most=60)
    assert first.tolist() == representative(front, OBJECTIVES, most=60).tolist()
    values = front[OBJECTIVES].to_numpy()
    scaled = (values - values.min(axis=0)) / np.ptp(values, axis=0)

    def widest_gap(chosen: np.ndarray) -> float:
        apart = np.linalg.norm(scaled[:, None] - scaled[chosen][None], axis=2)
        return float(apart.min(axis=1).max())

    chance = np.random.default_rng(1).choice(len(front), 60, replace=False)
    assert widest_gap(first) < 0.7 * widest_gap(chance)


def test_a_small_front_is_drawn_whole(front: pd.DataFrame) -> None:
    assert representative(front.head(20), OBJECTIVES).tolist() == list(range(20))


def test_equal_designs_do_not_stall_the_choice(front: pd.DataFrame) -> None:
    same = pd.concat([front.head(3)] * 200, ignore_index=True)
    assert len(representative(same, OBJECTIVES, most=50)) <= 50


@pytest.mark.parametrize(
    ("event", "design"),
    [
        ({"selection": {"pick": [{"id": "D0003"}]}}, "D0003"),
        ({"selection": {"pick": [{"id": "gone"}, {"id": "D0004"}]}}, "D0004"),
        ({"selection": {"pick": [{"id": "gone"}]}}, None),
        ({"selection": {"pick": []}}, None),
        ({"selection": {}}, None),
        (None, None),
    ],
)
def test_a_click_means_a_design_that_is_still_on_the_front(front: pd.DataFrame, event: object, design: str) -> None:
    assert clicked(event, front) == design


def test_a_value_as_shown_goes_back_to_si() -> None:
    assert from_shown(10.0, COLUMNS["outer_width_m"], "us") == pytest.approx(0.254)
    assert from_shown(0.8, COLUMNS["excursion_ratio"], "us") == 0.8


def test_columns_that_do_not_differ_or_are_empty_get_no_axis(front: pd.DataFrame) -> None:
    keys = measurable(front)
    assert "outer_depth_m" not in keys
    assert "cost" not in keys
    assert set(OBJECTIVES) <= set(keys)
