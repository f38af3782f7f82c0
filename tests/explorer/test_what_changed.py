"""What is another in a job, in words that come from the records of its fields (promises to the user)."""

from __future__ import annotations

import copy
from typing import Any

import pandas as pd
import pytest

from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.quantities import Units, parse
from explorer.document import Place, put
from explorer.what_changed import TOLD, what_changed, what_it_did

Document = dict[str, Any]


@pytest.fixture
def document() -> Document:
    return read_document(demo_scenarios()["van-bench"])


def changed(document: Document, *changes: tuple[Place, Any], units: Units = "metric") -> str:
    after = copy.deepcopy(document)
    for place, value in changes:
        after = put(after, place, value)
    return what_changed(parse_scenario(document, source=""), parse_scenario(after, source=""), units)


@pytest.mark.parametrize(
    ("place", "value", "units", "words"),
    [
        (("space", "width"), "1230 mm", "metric", "Free width 30 mm more (1230 mm)"),
        (("space", "width"), "46 in", "us", "Free width 1 1/4 in less (46 in)"),
        (("amplifier", "load", 0, "power"), "250 W", "metric", "Power of load 4 Ω 250 W instead of 300 W"),
        (("box", "kinds"), ["closed"], "metric", "Boxes to try: Closed instead of Closed, Vented"),
        (("goals", "limits"), {"weight_kg": "25 kg"}, "metric", "Limit on weight 25 kg"),
        (("goals", "limits"), {"weight_kg": "25 kg"}, "us", "Limit on weight 55.12 lb"),
        (("bounds",), {"outer_width": ["400 mm", "800 mm"]}, "metric", "Outer width 400 mm to 800 mm"),
    ],
)
def test_one_change_is_said_with_what_it_was(
    document: Document, place: Place, value: Any, units: Units, words: str
) -> None:
    document.pop("bounds", None)
    document.get("goals", {}).pop("limits", None)
    document["box"]["kinds"] = ["closed", "vented"]
    document["space"]["width"] = "1200 mm" if units == "metric" else "47 1/4 in"
    document["amplifier"]["load"][0] |= {"impedance": "4 ohm", "power": "300 W"}
    document["amplifier"]["load"] = document["amplifier"]["load"][:1]
    assert changed(document, (place, value), units=units) == words


def test_a_section_is_told_by_its_extent(document: Document) -> None:
    corners = document["space"]["section"]
    deeper = [[f"{1e3 * parse(y, 'length') + 30 * (parse(y, 'length') > 0.15):g} mm", z] for y, z in corners]
    assert changed(document, (("space", "section"), deeper)) == "Depth of the space 30 mm more"
    bent = [*corners[:2], ["180 mm", "100 mm"], *corners[2:]]
    assert changed(document, (("space", "section"), bent)) == "Another cross-section of the space"


def test_parts_that_came_and_went_are_named(document: Document) -> None:
    one = document["driver"][0]
    two = {**document, "driver": [one, {**one, "name": "another"}]}
    assert changed(document, (("driver",), two["driver"])) == "Driver another is new"
    assert changed(two, (("driver",), [one])) == "Driver another is gone"


def test_what_no_search_goes_by_is_no_change(document: Document) -> None:
    assert changed(document, (("title",), "Another name"), (("about",), "A note")) == ""
    assert changed(document, (("tolerance",), {"temperature": "12 K"})) == ""
    width = parse(document["space"]["width"], "length")
    assert changed(document, (("space", "width"), f"{100.0 * width:g} cm")) == ""  # the same, written otherwise


def test_of_many_changes_the_first_are_told(document: Document) -> None:
    sides = ("back", "front", "bottom", "top", "left", "right")
    document["space"]["clearance"] = {}
    text = changed(document, *((("space", "clearance", side), "3 mm") for side in sides))
    assert text.count(";") == TOLD - 1
    assert text.endswith("and 3 more changes")


def test_what_it_did_names_goals_whose_best_has_moved() -> None:
    before = pd.DataFrame({"box_kind": "closed", "f3_hz": [40.0, 35.0], "weight_kg": [12.0, 14.0], "cost": [1.0, 2.0]})
    after = pd.DataFrame({"box_kind": "closed", "f3_hz": [41.0, 33.5], "weight_kg": [12.5, 14.0], "cost": [1.0, 3.0]})
    told = what_it_did(before, after, ("f3_hz", "weight_kg", "cost"), "metric", "EUR")
    assert "33.5 Hz instead of 35.0 Hz (better)" in told
    assert "12.5 kg instead of 12.0 kg (worse)" in told
    assert "cost" not in told
    assert what_it_did(before, before, ("f3_hz",), "us", "") == "No goal's best has moved by what can be told apart."
