"""A recommended filter in the job, promises to the user: the next search may use it, and nothing else changes."""

from __future__ import annotations

import math
from typing import Any

import pytest

from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.judged import Recommendation
from engine.scenario import FilterChoice
from explorer.advice import tries, with_filter


def advised_of(*, order: int = 3, shape: str = "butterworth", q: float = math.nan) -> Recommendation:
    return Recommendation(
        needed=True,
        order=order,
        shape=shape,
        q=q,
        hz=27.3,
        f3_without=31.2,
        f3_with=32.0,
        turned_down_db=2.1,
        levels=((30.0, 95.0, 96.0),),
    )


@pytest.fixture
def document() -> dict[str, Any]:
    return read_document(demo_scenarios()["van-bench"])


def filters_of(document: dict[str, Any]) -> tuple[FilterChoice, ...]:
    return parse_scenario(document, source="").filters


@pytest.mark.parametrize(
    "advised", [advised_of(), advised_of(order=4, shape="linkwitz-riley"), advised_of(order=2, shape="own", q=1.4)]
)
def test_a_new_kind_of_filter_is_added_in_a_narrow_range(document: dict[str, Any], advised: Recommendation) -> None:
    before = filters_of(document)
    changed = with_filter(document, before, advised)
    after = filters_of(changed)
    assert after[: len(before)] == before
    added = after[-1]
    assert (added.order, added.shape) == (advised.order, advised.shape)
    assert added.frequency == pytest.approx((0.95 * 27.3, 1.05 * 27.3), abs=0.06)
    assert not tries(before, advised)
    assert tries(after, advised)
    assert {key: changed[key] for key in changed if key != "filter"} == {
        key: document[key] for key in document if key != "filter"
    }


def test_a_filter_of_the_kind_that_is_tried_has_its_range_opened(document: dict[str, Any]) -> None:
    document["filter"] = [{"kind": "none"}, {"kind": "highpass", "order": 3, "frequency": ["18 Hz", "22 Hz"]}]
    changed = with_filter(document, filters_of(document), advised_of())
    assert changed["filter"][1]["frequency"] == ["18.0 Hz", "28.7 Hz"]
    assert len(changed["filter"]) == 2
    assert document["filter"][1]["frequency"] == ["18 Hz", "22 Hz"]


def test_a_job_without_filters_goes_on_being_tried_without_one(document: dict[str, Any]) -> None:
    document.pop("filter", None)
    changed = with_filter(document, filters_of(document), advised_of())
    assert [choice.order for choice in filters_of(changed)] == [0, 3]


def test_filters_of_another_q_are_another_kind() -> None:
    own = FilterChoice(order=2, shape="own", q=1.0, frequency=(20.0, 30.0))
    assert tries((own,), advised_of(order=2, shape="own", q=1.0))
    assert not tries((own,), advised_of(order=2, shape="own", q=1.4))
