"""The cross-section changed over as text, promise to the user: the same space, and typed text kept where it can be."""

from __future__ import annotations

from typing import Any

import pytest
from shapely import Polygon

from engine.errors import Refusal
from engine.formats.scenario import demo_scenarios, read_document
from engine.outline import Measured, corners_of
from engine.quantities import parse
from explorer.shape import (
    START,
    as_corners,
    as_measured,
    corner_between,
    heights_of,
    is_blank,
    row_between,
    row_on_top,
)

ROWS = [
    {"height": "0 mm", "depth": "20 1/2 in"},
    {"height": "300 mm", "back": "40 mm", "depth": "400 mm"},
    {"height": "0.5 m", "back": "6 cm", "depth": "0 mm"},
]


def polygon(corners: list[list[str]]) -> Polygon:
    return Polygon([[parse(side, "length") for side in corner] for corner in corners])


def rows_as_polygon(rows: list[dict[str, str]]) -> Polygon:
    texts = [{"back": "0 mm", **row} for row in rows]
    return Polygon(corners_of([Measured(**{key: parse(text, "length") for key, text in row.items()}) for row in texts]))


def test_measurements_become_their_corners_in_the_words_they_were_typed() -> None:
    assert as_corners(ROWS, "metric") == [
        ["20 1/2 in", "0 mm"],
        ["440 mm", "300 mm"],
        ["60 mm", "0.5 m"],
        ["40 mm", "300 mm"],
        ["0 mm", "0 mm"],
    ]
    assert as_corners(ROWS, "us")[1] == ["17.322835 in", "300 mm"]


@pytest.mark.parametrize("name", list(demo_scenarios()))
@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_demo_s_space_can_be_told_by_rows_and_told_back(name: str, units: Any) -> None:
    """Figures worked out are rounded to six decimals: the outline moves by less than a thousandth of a millimetre."""
    section = read_document(demo_scenarios()[name])["space"].get("section")
    if section is None:
        section = as_corners(read_document(demo_scenarios()[name])["space"]["measured"], units)
    rows = as_measured(section, units)
    assert rows_as_polygon(rows).symmetric_difference(polygon(section)).area < 1e-6
    assert polygon(as_corners(rows, units)).symmetric_difference(polygon(section)).area < 1e-6


def test_corners_become_rows_in_the_words_they_were_typed() -> None:
    corners = [["0 mm", "0 mm"], ["9 in", "0 mm"], ["110 mm", "48 cm"], ["0 mm", "48 cm"]]
    assert as_measured(corners, "metric") == [
        {"height": "0 mm", "depth": "9 in"},
        {"height": "48 cm", "depth": "110 mm"},
    ]


@pytest.mark.parametrize("typed", [None, "round", 3, [3], [{}], [{"height": "0 mm", "depth": "wide"}], [["1 mm"]]])
def test_what_cannot_be_read_is_not_changed_over(typed: Any) -> None:
    for change in (as_corners, as_measured):
        with pytest.raises(Refusal, match="fill in every field"):
            change(typed, "metric")


def test_corners_that_no_rows_can_tell_say_why() -> None:
    deep = [["0 mm", "0 mm"], ["500 mm", "0 mm"], ["500 mm", "400 mm"], ["300 mm", "100 mm"], ["0 mm", "400 mm"]]
    with pytest.raises(Refusal, match="turns back at a height of 100 mm"):
        as_measured(deep, "metric")


def test_what_is_put_between_lies_on_the_outline() -> None:
    assert row_between(ROWS, 1, "metric") == {"height": "150 mm", "back": "20 mm", "depth": "460.35 mm"}
    assert row_between([ROWS[0], {}], 1, "metric") == {}
    assert corner_between([["0 mm", "0 mm"], ["10 mm", "0 mm"], ["0 mm", "8 mm"]], 0, "metric") == ["0 mm", "4 mm"]
    assert corner_between([], 0, "metric") == ["", ""]
    assert row_on_top(ROWS) == {"back": "6 cm", "depth": "0 mm"}
    assert row_on_top([]) == {}


def test_nothing_typed_yet() -> None:
    assert all(is_blank(typed) for typed in (None, [], START, [["", ""], ["", ""]]))
    assert not any(is_blank(typed) for typed in (ROWS, [["", "1 mm"]], "round", [{"height": "1 mm"}]))


def test_heights_are_told_where_all_rows_can_be_read() -> None:
    """Conservation: in m, row by row; none for corners, nor while a field is empty."""
    rows = [{"height": "0 mm", "depth": "230 mm"}, {"height": "20 in", "depth": "110 mm"}]
    assert heights_of(rows) == [0.0, pytest.approx(0.508)]
    assert heights_of([*rows, {"height": "600 mm"}]) == []
    assert heights_of(None) == []
