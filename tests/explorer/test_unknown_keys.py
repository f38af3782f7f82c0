"""Keys that belong nowhere, promise to the user: each can be dropped or renamed, and then is no fault any more."""

from __future__ import annotations

from typing import Any

import pytest

from engine.formats.scenario import demo_scenarios, read_document
from explorer.document import put
from explorer.reading import read
from explorer.unknown_keys import drop, rename, unknown_keys

DEMO = read_document(demo_scenarios()["van-bench"])


@pytest.mark.parametrize(
    "place",
    [
        ("titel",),
        ("space", "widht"),
        ("driver", 0, "a.b[0]"),
        ("stock", "pipe", 0, "x"),
        ("stock", "cup"),
        ("space", "sides"),
    ],
)
def test_a_key_that_no_job_has_is_found_and_can_be_dropped(place: tuple[str | int, ...]) -> None:
    document = put(DEMO, place, "1")
    (unknown,) = unknown_keys(document)
    assert unknown.place == place
    assert read(document, "").faults
    assert drop(document, unknown) == DEMO


def test_a_misspelt_key_can_be_renamed_to_the_empty_field_it_is_meant_for() -> None:
    document: dict[str, Any] = {**DEMO, "titel": DEMO["title"]}
    del document["title"]
    (unknown,) = unknown_keys(document)
    assert (unknown.meant, unknown.label) == ("title", "Title")
    assert rename(document, unknown) == DEMO


def test_keys_of_rows_and_keep_outs_are_found_in_their_place() -> None:
    document = put(DEMO, ("space", "keepout"), [{"name": "arch", "acros": ["0 mm", "9 mm"]}])
    document = put(document, ("space", "measured"), [{"height": "0 mm", "dept": "9 mm"}])
    assert {(unknown.place, unknown.label) for unknown in unknown_keys(document)} == {
        (("space", "keepout", 0, "acros"), "Place across"),
        (("space", "measured", 0, "dept"), "Depth"),
    }


def test_what_a_filter_that_is_none_cannot_have_is_found() -> None:
    document = {**DEMO, "filter": [{"kind": "none", "order": 2}]}
    assert [unknown.place for unknown in unknown_keys(document)] == [("filter", 0, "order")]


@pytest.mark.parametrize("name", list(demo_scenarios()))
def test_a_sound_job_has_none(name: str) -> None:
    assert unknown_keys(read_document(demo_scenarios()[name])) == []
