"""The page of a given box, run headless: each test is a promise to the user."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from engine.formats.given import parse_given
from engine.formats.scenario import demo_scenarios
from engine.given import judge_given
from engine.judged import JudgedDesign
from explorer import frame
from explorer.judged_designs import JudgedDesigns
from explorer.reading import read_given
from explorer.session import Chosen
from explorer.session import searched as searched_of
from tests.explorer.pages import Opener, job_of, sound, typing, words_on

SIZES = {"outer_width": "29 1/2 in", "outer_height": "14 in", "top_depth": "11 in", "bottom_depth": "13 in"}


def on_page(editing: Opener) -> AppTest:
    test = editing()
    return test.switch_page("views/given_box.py").run()


def button(test: AppTest, label: str) -> AppTest:
    (found,) = [each for each in test.button if each.label == label]
    return found.click().run()


def test_a_box_is_typed_in_judged_and_forgotten(editing: Opener) -> None:
    """What is missing is asked for field by field; once whole, the box is measured, drawn and heard at once."""
    test = button(on_page(editing), "State a box")
    assert "Still to fill in" in test.info[0].value
    job = job_of(test)
    test.selectbox(key=f"given.kind:{job.id}:{job.revision}").set_value("closed").run()
    driver = job.document["driver"][0]["name"]
    for key, value in {"driver": driver, **SIZES}.items():
        typing(test, f"given.{key}").set_value(value).run()
    sound(test)
    assert job_of(test).document["given"] == {"kind": "closed", "driver": driver, **SIZES}
    shown = words_on(test)
    assert "between the boards" in shown
    assert "How it is built" in shown
    assert len(test.get("vega_lite_chart")) >= 5
    typing(test, "given.baffle_angle").set_value("5 deg").run()
    assert "already give it" in test.error[0].value
    button(test, "Forget this box")
    assert "given" not in job_of(test).document


def test_a_given_box_leaves_the_search_as_it_is(editing: Opener) -> None:
    """The designs found stay those of the job: no search is asked for again because a box was typed in."""
    test = on_page(editing)
    before = searched_of(job_of(test).document)
    button(test, "State a box")
    assert searched_of(job_of(test).document) == before


def test_a_high_pass_is_added_reshaped_and_taken_away(editing: Opener) -> None:
    """It starts with usual figures; one of its own Q has that and no order."""
    test = button(button(on_page(editing), "State a box"), "Add a high-pass")
    job = job_of(test)
    assert job.document["given"]["filter"] == {"kind": "highpass", "order": 2, "frequency": "25 Hz"}
    test.selectbox(key=f"given.filter.shape:{job.id}:{job.revision}").set_value("own").run()
    assert job_of(test).document["given"]["filter"]["q"] == 1.0
    button(test, "Without a high-pass")
    assert "filter" not in job_of(test).document["given"]


def test_what_another_kind_of_box_had_can_be_taken_away(editing: Opener) -> None:
    """A tuning typed for a vented box is not out of reach once the box is to be closed."""
    test = button(on_page(editing), "State a box")
    job = job_of(test)
    kind = f"given.kind:{job.id}:{job.revision}"
    test.selectbox(key=kind).set_value("vented").run()
    typing(test, "given.tuning").set_value("34 Hz").run()
    test.selectbox(key=kind).set_value("closed").run()
    assert any("a closed box has none" in each.value for each in test.error)
    typing(test, "given.tuning").set_value("").run()
    sound(test)
    assert not any("a closed box has none" in each.value for each in test.error)


def test_the_pick_of_the_front_becomes_the_given_box(editing: Opener) -> None:
    """With its sizes, parts and filter: its figures are those of the front; it can then be changed."""
    test = on_page(editing)
    job = job_of(test)
    box = {"kind": "closed", "filter": {"kind": "highpass", "order": 2, "frequency": "25 Hz"}, **SIZES}
    stated = judge_given(parse_given(job.document | {"given": box}, source=""), source="")
    job.pick = Chosen(stated.row, job.document)
    test = button(test.run(), f"Take over pick {stated.row['id']}")
    sound(test)
    given = read_given(job_of(test).document, job.source).given
    assert given is not None
    design = frame.judged_designs().given(given, job.source)
    assert isinstance(design, JudgedDesign)
    for key in ("outer_height_m", "driver_count", "net_volume_m3", "filter_hz", "f3_hz", "level_40_hz_db"):
        assert design.row[key] == pytest.approx(stated.row[key]), key


@pytest.mark.parametrize(
    "change",
    [{"count": 2}, {"filling": "full"}, {"filter": {"kind": "highpass", "order": 4, "frequency": "25 Hz"}}],
)
def test_what_is_changed_of_a_given_box_is_seen(change: dict[str, Any]) -> None:
    """No earlier box is shown in place of one that differs from it in drivers, filling or filter alone."""
    document = tomllib.loads(demo_scenarios()["van-bench"].read_text(encoding="utf-8"))
    box = {"kind": "closed", "filter": {"kind": "highpass", "order": 2, "frequency": "25 Hz"}, **SIZES}
    kept, rows = JudgedDesigns(), []
    for given in (box, box | change):
        design = kept.given(parse_given(document | {"given": given}, source=""), "")
        assert isinstance(design, JudgedDesign)
        rows.append(design.row)
    assert rows[0]["f3_hz"] != rows[1]["f3_hz"]
