"""The space drawn while the rest of the job is still to be written."""

from __future__ import annotations

from explorer.reading import for_drawing

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
