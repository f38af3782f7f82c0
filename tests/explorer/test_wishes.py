"""Wishes beside the pick as their user meets them: one click a sentence, a figure for each goal, steps back again."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from functools import partial

import pytest
from streamlit.testing.v1 import AppTest

from engine.formats.scenario import demo_scenarios
from engine.search.runs import Run
from explorer.demo_fronts import stored_front
from explorer.worker import SearchTask
from tests.explorer.pages import PATIENCE, Opener, job_of, sound

DEMO = "roadster"


@pytest.fixture
def talking(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[], AppTest]]:
    """Open a demo job on the front that comes with it; its search waits for the end of the test."""
    over = threading.Event()

    def held(*_: object, **__: object) -> Run:
        over.wait(PATIENCE)
        return stored_front(DEMO)

    monkeypatch.setattr("explorer.frame.SearchTask", partial(SearchTask, search=held))

    def open_page() -> AppTest:
        test = opened(demo_scenarios()[DEMO])
        sound(test)
        return test

    yield open_page
    over.set()


def picked(test: AppTest) -> str:
    pick = job_of(test).pick
    assert pick is not None
    return str(pick.row["id"])


def said(test: AppTest) -> str:
    return "\n".join(str(info.value) for info in test.info)


def test_one_click_goes_to_the_next_box_and_back_again(talking: Callable[[], AppTest]) -> None:
    """User's promise: one click a sentence; what it costs is said; filters and what is held are kept; steps back."""
    test = talking()
    first = picked(test)
    test.button(key="wish:level_40_hz_db").click().run()
    sound(test)
    second = picked(test)
    assert second != first
    assert "**Louder at 40 Hz**" in said(test)
    assert f"than {first}" in said(test)
    job = job_of(test)
    volume = float(job.pick.row["outer_volume_m3"]) if job.pick else 0.0
    test.pills(key=f"wish-hold:{job.id}").set_value(["outer_volume_m3"]).run()
    test.button(key="wish:level_30_hz_db").click().run()
    sound(test)
    third = picked(test)
    assert job.pick is not None
    assert third == second or float(job.pick.row["outer_volume_m3"]) <= volume + 0.00025
    assert "hold outer volume" in said(test)
    while picked(test) != first:
        test.button(key="wish-back").click().run()
        sound(test)
    assert not [button for button in test.button if button.key == "wish-back"]


def test_a_goal_is_held_or_may_give_way_and_never_both(talking: Callable[[], AppTest]) -> None:
    """User's promise: what was said last counts."""
    test = talking()
    job = job_of(test)
    test.pills(key=f"wish-hold:{job.id}").set_value(["outer_volume_m3", "level_30_hz_db"]).run()
    test.pills(key=f"wish-give:{job.id}").set_value(["outer_volume_m3"]).run()
    sound(test)
    assert test.pills(key=f"wish-hold:{job.id}").value == ["level_30_hz_db"]
    assert test.pills(key=f"wish-give:{job.id}").value == ["outer_volume_m3"]


def test_a_figure_is_typed_for_each_and_what_is_none_stands_at_its_field(talking: Callable[[], AppTest]) -> None:
    """User's promise: figures are told in the user's units, faults stand at their fields and nothing moves."""
    test = talking()
    job, first = job_of(test), picked(test)
    test.text_input(key=f"level:level_40_hz_db:{job.id}").set_value("loud")
    test.text_input(key=f"level:outer_volume_m3:{job.id}").set_value("30 L")
    find = next(button for button in test.button if button.label == "Find the nearest")
    find.click().run()
    sound(test)
    assert picked(test) == first
    assert [text.value for text in test.markdown if str(text.value).startswith(":red[")]
    test.text_input(key=f"level:level_40_hz_db:{job.id}").set_value("")
    next(button for button in test.button if button.label == "Find the nearest").click().run()
    sound(test)
    assert "**Outer volume 1\\.06 ft³**" in said(test)  # the job is one in inches
    assert job.pick is not None
    assert float(job.pick.row["outer_volume_m3"]) <= 0.030 + 0.00025


def test_filters_are_kept_and_named_where_they_stop_a_wish(talking: Callable[[], AppTest]) -> None:
    """User's promise: no wish leads out of the filters; where they stop it, it is said so."""
    test = talking()
    job = job_of(test)
    assert job.pick is not None
    job.filters["outer_volume_m3"] = [float(job.pick.row["outer_volume_m3"]) - 0.0001, None]
    test.button(key="wish:outer_volume_m3").click().run()
    sound(test)
    assert "the filters keep no such box" in said(test)
