"""Editing the scenario by place, promise to the user: what is typed arrives there and nowhere else."""

from __future__ import annotations

import copy

import pytest

from explorer.document import as_number, get, insert, name_of, put, remove

DOCUMENT = {
    "title": "Bench",
    "space": {"section": [["0 mm", "0 mm"], ["400 mm", "0 mm"]], "width": "1200 mm"},
    "driver": [{"name": "Ten", "fs": "28 Hz"}, {"name": "Twelve"}],
}


def test_a_place_reads_as_it_does_in_a_fault() -> None:
    assert name_of(("driver", 0, "fs")) == "driver[0].fs"
    assert name_of(("space", "section", 2, 1)) == "space.section[2][1]"


def test_put_changes_one_place_and_leaves_the_given_document_alone() -> None:
    before = copy.deepcopy(DOCUMENT)
    changed = put(DOCUMENT, ("driver", 1, "fs"), "25 Hz")
    assert before == DOCUMENT
    assert get(changed, ("driver", 1, "fs")) == "25 Hz"
    assert get(changed, ("driver", 0)) == DOCUMENT["driver"][0]


def test_put_makes_what_is_missing_on_the_way() -> None:
    assert put({}, ("goals", "limits", "f3_hz"), "45 Hz") == {"goals": {"limits": {"f3_hz": "45 Hz"}}}
    assert put({}, ("amplifier", "load", 0, "power"), "300 W") == {"amplifier": {"load": [{"power": "300 W"}]}}


def test_put_survives_a_document_of_the_wrong_shape() -> None:
    assert put({"space": "wide"}, ("space", "width"), "1 m") == {"space": {"width": "1 m"}}


def test_an_emptied_field_goes_out_of_the_document() -> None:
    assert "width" not in put(DOCUMENT, ("space", "width"), None)["space"]


def test_items_are_inserted_and_removed_where_asked() -> None:
    longer = insert(DOCUMENT, ("space", "section", 1), ["200 mm", "0 mm"])
    assert [corner[0] for corner in longer["space"]["section"]] == ["0 mm", "200 mm", "400 mm"]
    assert remove(longer, ("space", "section", 1)) == DOCUMENT
    assert insert({}, ("filter", 0), {"kind": "none"}) == {"filter": [{"kind": "none"}]}


@pytest.mark.parametrize(
    ("typed", "meant"),
    [("7", 7), ("0.45", 0.45), ("", None), (" 2 ", 2), ("about 3", "about 3"), ("nan", "nan")],
)
def test_plain_numbers_become_numbers_and_anything_else_stays_text_for_the_reader_to_refuse(
    typed: str, meant: object
) -> None:
    assert as_number(typed) == meant


def test_what_is_not_there_is_none() -> None:
    assert get(DOCUMENT, ("driver", 5, "fs")) is None
    assert get(DOCUMENT, ("title", "fs")) is None
