"""The page of a given box, run headless: each test is a promise to the user."""

from __future__ import annotations

from streamlit.testing.v1 import AppTest

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
