"""Fields stay where they are while somebody types: promises to the user.

The browser makes anew whatever changes its place among its siblings, and with it goes what is typed there but not yet
sent, and where the cursor is.  A page is drawn once more after each field, while the next one is filled in.
"""

from __future__ import annotations

from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from engine.formats.scenario import demo_scenarios
from explorer import frame
from explorer.guide import STEPS
from tests.explorer.pages import FIRST_DEMO, Opener, job_of, part_of, quick_pick, sound

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
    test.session_state[frame._NOTICE] = ["Your pick is beaten in the changed job."]
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
