"""What is drawn, and what is said, while a job is still being written."""

from __future__ import annotations

from typing import Any

from engine.formats.scenario import demo_scenarios, read_document
from explorer.plainly import is_apart, is_missing
from explorer.reading import for_drawing, read

SPACE = {
    "width": "4 ft",
    "margin": "1/4 in",
    "measured": [{"height": "0 in", "depth": "9 in"}, {"height": "20 in", "depth": "4 in"}],
}


def test_a_space_alone_is_drawn_with_a_plain_box() -> None:
    """User's promise: what somebody else's job says of its box, such as a leaning back, does not show in this one."""
    scenario = for_drawing({"space": SPACE})
    assert scenario is not None
    assert scenario.box.back_angle == 0.0
    assert scenario.box.carpet == 0.0


def test_a_box_that_is_stated_is_drawn_as_stated_and_one_at_fault_as_a_plain_one() -> None:
    """User's promise: as far as it can be read."""
    stated = for_drawing({"space": SPACE, "box": {"back_angle": "12 deg"}})
    assert stated is not None
    assert stated.box.back_angle > 0.2
    at_fault = for_drawing({"space": SPACE, "box": {"back_angle": "12 mm"}})
    assert at_fault is not None
    assert at_fault.box.back_angle == 0.0


def a_job(**changes: Any) -> dict[str, Any]:
    """A demo job with some figures of its first driver changed; None takes one away."""
    document = read_document(demo_scenarios()["van-bench"])
    sheet = {**document["driver"][0], **changes}
    kept = {key: value for key, value in sheet.items() if value is not None}
    return {**document, "driver": [kept, *document["driver"][1:]]}


def test_a_sheet_that_contradicts_itself_is_told_calmly() -> None:
    """User's promise: either figure may be right, so none of them is called wrong."""
    faults = read(a_job(fs="41 Hz", mms="130 g"), "").faults
    assert faults
    assert all(map(is_apart, faults))


def test_a_sheet_half_typed_is_not_held_against_itself() -> None:
    """User's promise: nobody is scolded before there is enough to compare."""
    faults = read(a_job(fs="41 Hz", mms="130 g", xmax=None), "").faults
    assert {fault.key for fault in faults} == {"driver[0].xmax"}
    assert all(map(is_missing, faults))
