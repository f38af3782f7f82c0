"""Fields stay where they are while somebody types: promises to the user.

The browser makes anew whatever changes its place among its siblings, and with it goes what is typed there but not yet
sent, and where the cursor is.  A page is drawn once more after each field, while the next one is filled in.
"""

from __future__ import annotations

from types import SimpleNamespace
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from engine.formats.scenario import demo_scenarios
from explorer import frame, inputs, uploads
from explorer.document import get, put
from explorer.guide import STEPS
from explorer.inputs import Form
from explorer.labels import field_of
from explorer.reading import Faults
from tests.explorer.pages import FIRST_DEMO, Opener, functions_of, job_of, part_of, quick_pick, remembered, sound

GROUPS = ("Space", "Drivers", "Passive radiators", "Amplifier", "Box", "Signal chain", "Stock", "Vehicle", "Goals",
          "Tolerances", "Job")  # fmt: skip
WRONG = "no quantity at all"


def places(test: AppTest) -> dict[str, tuple[int, ...]]:
    """Of each text field on the page its way down from the top, by its key."""
    found: dict[str, tuple[int, ...]] = {}

    def below(node: Any, way: tuple[int, ...]) -> None:
        for number, child in getattr(node, "children", {}).items():
            if child.type in ("text_input", "text_area"):
                found[child.key] = (*way, number)
            below(child, (*way, number))

    below(test.main, ())
    return found


def stay(test: AppTest) -> None:
    """Fill in each field wrongly, one after the other, and then empty each: no other one ever moves."""
    before = places(test)
    assert before
    for text in (WRONG, ""):
        for key in before:
            if key in places(test):  # what another field asks for is gone once that says something else
                test.text_input(key=key).set_value(text).run()
            sound(test)
            now = places(test)
            assert {other: now[other] for other in before if other in now} == {
                other: way for other, way in before.items() if other in now
            }, key


@pytest.mark.parametrize("group", GROUPS)
def test_on_space_and_parts(editing: Opener, group: str) -> None:
    test = editing(demo_scenarios()[FIRST_DEMO])
    assert tuple(option.content for option in part_of(test).proto.options) == GROUPS
    part_of(test).set_value(group).run()
    stay(test)


@pytest.mark.parametrize("step", STEPS)
def test_on_a_new_job(opened: Opener, step: str) -> None:
    test = opened(None)
    next(button for button in test.button if button.label == "New job").click().run()
    test.button(key=f"step:{step}").click().run()
    assert job_of(test).guide == step
    stay(test)


def test_as_a_notice_comes_and_goes(editing: Opener) -> None:
    """As when the pick is beaten in a job that was changed."""
    test = editing()
    before = places(test)
    remembered(test)[frame._NOTICE] = ["Your pick is beaten in the changed job."]
    test.run()
    assert [warning.value for warning in test.warning] == ["Your pick is beaten in the changed job."]
    assert places(test) == before
    test.run()
    assert not test.warning
    assert places(test) == before


def test_on_a_given_box(opened_searched: Any) -> None:
    test = opened_searched()
    quick_pick(test, "level_30_hz_db")
    test.switch_page("views/given_box.py").run()
    next(button for button in test.button if button.label.startswith("Take over pick")).click().run()
    sound(test)
    stay(test)


def test_of_the_boards_as_measured(opened_searched: Any) -> None:
    test = opened_searched()
    quick_pick(test, "level_30_hz_db")
    test.switch_page("views/build_sheet.py").run()
    test.segmented_control(key=f"build-part:{job_of(test).id}").set_value("Boards and sheets").run()
    stay(test)


def test_only_what_was_typed_is_put_in(editing: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    """A browser still reports fields that an undo has taken from the page: what they showed does not come back."""
    job, place, key = job_of(editing()), ("space", "width"), "width"
    form, document = Form(job, Faults()), job.document
    said = {key: "700 mm"}
    monkeypatch.setattr(inputs, "hold", lambda _, value: value)
    monkeypatch.setattr(inputs, "said", said.get)
    form._show(key, said[key])
    form._take_text(place, key, field_of("space", "width"))
    assert job.document is document
    said[key] = "650 mm"
    form._take_text(place, key, field_of("space", "width"))
    assert get(job.document, place) == "650 mm"
    said[key] = "700 mm"  # typed back before the page was drawn again
    form._take_text(place, key, field_of("space", "width"))
    assert get(job.document, place) == "700 mm"
    form._show(key, "closed")
    said[key] = "closed"
    form._take(("box", "kinds"), key)
    assert get(job.document, ("box", "kinds")) != "closed"


def test_a_file_reported_again_is_not_taken_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """As it goes with the page that it opened: there would be two jobs of it.  Put in anew, it is a new one."""
    kept, said = dict[str, Any](), dict[str, Any]()
    monkeypatch.setattr(uploads, "memory", lambda: kept)
    monkeypatch.setattr(uploads, "said", said.get)
    one, other = (SimpleNamespace(file_id=name) for name in "ab")
    assert uploads.uploaded("file") is None
    said["file"] = one
    assert [uploads.uploaded("file"), uploads.uploaded("file")] == [one, None]
    said["file"] = other
    assert [uploads.uploaded("file"), uploads.uploaded("file")] == [other, None]
    said["file"] = None
    assert uploads.uploaded("file") is None
    said["file"] = one
    assert uploads.uploaded("file") is one


def test_a_choice_reported_again_as_it_is_changes_nothing(editing: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is typed stays, and no field is drawn anew: units, the form of the cross-section, pipes, a job's name."""
    job = job_of(editing())
    job.document = put(job.document, ("space", "measured"), [{"height": "0 mm", "depth": "300 mm"}])
    before = (job.document, job.units, job.revision)
    monkeypatch.setattr(frame, "said", lambda _: job.units)
    frame._take_units(job, "units")
    functions_of("new_job", said=lambda _: job.units)["take_units"](job, "units")
    functions_of("new_job", said=lambda _: ["75 mm pipe"])["take_pipes"](job, "pipes", ["75 mm pipe"])
    functions_of("space_parts", said=lambda _: "measured")["change_over"](job, "way", "measured")
    functions_of("space_parts", said=lambda _: None)["change_over"](job, "way", "measured")
    functions_of("jobs", said=lambda _: job.title)["rename"](job.id, "name")
    assert (job.document, job.units, job.revision) == before
