"""The table of measurements: the outline it stands for, the row that cannot be, and the way back from corners."""

from __future__ import annotations

import itertools
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import Polygon

from engine import polygon
from engine.errors import Refusal
from engine.outline import Measured, RowFault, corners_of, faults_of, places_of, rows_of
from engine.words.faults import what_is_wrong
from engine.words.voice import Voice


def table(*rows: tuple[float, float, float]) -> list[Measured]:
    """Rows from (height, back, depth) in mm."""
    return [Measured(height=h / 1000, back=b / 1000, depth=d / 1000) for h, b, d in rows]


def said(fault: RowFault) -> str:
    return what_is_wrong(*fault.finding, Voice("metric"))


def told(rows: list[Measured]) -> list[tuple[int | None, str]]:
    return [(fault.row, fault.key) for fault in faults_of(rows)]


def test_two_rows_are_a_wedge() -> None:
    """Analytic limit: 300 mm at the floor and 200 mm at 400 mm are a trapezium of 0.1 m²."""
    corners = corners_of(table((0, 0, 300), (400, 0, 200)))
    assert corners == ((0.3, 0.0), (0.2, 0.4), (0.0, 0.4), (0.0, 0.0))
    assert Polygon(corners).area == pytest.approx(0.1, rel=1e-12)


def test_the_back_wall_stands_in_where_it_is_said_to() -> None:
    """Analytic limit: the front is as far forward as back and depth together."""
    corners = corners_of(table((0, 0, 500), (300, 40, 400), (500, 60, 300)))
    sides = [(0.5, 0.0), (0.44, 0.3), (0.36, 0.5), (0.06, 0.5), (0.04, 0.3), (0.0, 0.0)]
    assert [pytest.approx(corner, rel=1e-12) for corner in sides] == list(corners)


def test_a_level_ledge_is_two_rows_of_one_height() -> None:
    """Analytic limit: a step of 100 mm at half height; where the back goes straight on it has one corner there."""
    rows = table((0, 0, 400), (200, 0, 400), (200, 0, 300), (400, 0, 300))
    corners = corners_of(rows)
    assert corners == ((0.4, 0.0), (0.4, 0.2), (0.3, 0.2), (0.3, 0.4), (0.0, 0.4), (0.0, 0.2), (0.0, 0.0))
    assert Polygon(corners).area == pytest.approx(0.4 * 0.2 + 0.3 * 0.2, rel=1e-12)


def test_a_point_at_either_end_is_one_corner() -> None:
    """Analytic limit: depth 0 at the floor and at the top leaves a rhomb of four corners."""
    rows = table((0, 100, 0), (200, 0, 200), (400, 100, 0))
    assert places_of(rows) == [(0, "front"), (1, "front"), (2, "front"), (1, "back")]
    assert Polygon(corners_of(rows)).area == pytest.approx(0.04, rel=1e-12)


@pytest.mark.parametrize(
    ("rows", "at", "words"),
    [
        (((0, 0, 300),), (None, ""), "expected at least two rows"),
        (((0, 0, 0), (400, 0, 0)), (None, ""), "the rows enclose no area"),
        (
            ((0, 0, 300), (3000, 0, 300), (200, 0, 300), (400, 0, 300)),
            (1, "height"),
            "row 2: expected a height from 0 mm (row 1) to 200 mm (row 3)",
        ),
        (((0, 0, 300), (400, 0, 300), (200, 0, 300)), (2, "height"), "row 3: expected a height of at least 400 mm"),
        (((400, 0, 300), (0, 0, 300), (200, 0, 300)), (0, "height"), "row 1: expected a height of at most 0 mm"),
        (
            ((0, 0, 300), (200, 0, 300), (12, 0, 300), (400, 0, 300)),
            (2, "height"),
            "to 400 mm (row 4); were inches typed as millimetres?",
        ),
        (((0, 0, 300), (200, 0, 0), (400, 0, 300)), (1, "depth"), "row 2: a depth of 0 mm would cut the space in two"),
        (
            ((0, 0, 300), (200, 0, 300), (200, 400, 200), (400, 400, 200)),
            (2, "back"),
            "from 400 mm to 600 mm forward does not meet that row's from 0 mm to 300 mm",
        ),
        (
            ((0, 400, 300), (200, 400, 300), (200, 0, 400), (400, 0, 200)),
            (2, "depth"),
            "from 0 mm to 400 mm forward does not meet that row's from 400 mm to 700 mm",
        ),
        (
            ((0, 0, 300), (200, 0, 300), (200, 0, 250), (200, 0, 200), (400, 0, 300)),
            (3, "height"),
            "a level ledge is two rows",
        ),
        (((0, 0, 300), (200, 0, 300), (200, 0, 300), (400, 0, 300)), (2, "height"), "says the same: leave it out"),
        (((0, 0, 300), (0, 0, 200), (400, 0, 300)), (1, "height"), "nothing lies below them"),
        (((0, 0, 300), (400, 0, 200), (400, 0, 300)), (2, "height"), "nothing lies above them"),
        (
            ((0, 0, 520), (200, 0, 20), (400, 0, 480)),
            (1, "depth"),
            "row 2: rows 1 and 3 lead to about 500 mm here; were inches typed as millimetres?",
        ),
        (((0, 0, 40), (200, 0, 1016), (400, 0, 40)), (1, "depth"), "were millimetres typed as inches?"),
        (((0, 0, 500), (200, 0, 10), (400, 0, 0)), (1, "depth"), "lead to about 250 mm here"),
    ],
)
def test_the_row_that_cannot_be_is_pointed_at(
    rows: tuple[tuple[float, float, float], ...], at: tuple[int | None, str], words: str
) -> None:
    """User's promise: one measurement is wrong, one fault names its row and what would do."""
    (fault,) = faults_of(table(*rows))
    assert (fault.row, fault.key) == at
    assert words in said(fault)


def test_a_good_row_close_to_one_in_inches_is_not_blamed() -> None:
    """User's promise: of two depths that do not go together the one further off is named, whichever is typed wrong."""
    assert told(table((0, 0, 500), (195, 0, 500), (200, 0, 20), (400, 0, 500))) == [(2, "depth")]
    assert told(table((0, 0, 20), (195, 0, 20), (200, 0, 508), (400, 0, 20))) == [(2, "depth")]


def test_inches_at_a_ledge_are_told_from_the_ledge() -> None:
    """User's promise: a depth far below that on both sides is asked about, the jump of the ledge itself is not."""
    assert told(table((0, 0, 230), (200, 0, 170), (200, 0, 6), (480, 0, 130))) == [(2, "depth")]
    assert told(table((0, 0, 500), (200, 0, 500), (200, 0, 20), (400, 0, 20))) == []
    assert told(table((0, 0, 20), (200, 0, 20), (200, 0, 500), (400, 0, 500))) == []


@pytest.mark.parametrize("ratio", [12.0, 19.0, 32.0, 60.0])
def test_a_narrow_place_that_is_no_slip_of_units_passes(ratio: float) -> None:
    """Proof that checks can fail: only the factor of an inch to a millimetre is asked about."""
    assert faults_of(table((0, 0, 500), (200, 0, 500 / ratio), (400, 0, 500))) == []


def test_a_waist_measured_close_below_and_above_passes() -> None:
    """User's promise: the way out that the message names is one."""
    assert told(table((0, 0, 500), (200, 0, 20), (400, 0, 500))) == [(1, "depth")]
    assert told(table((0, 0, 500), (190, 0, 22), (200, 0, 20), (210, 0, 22), (400, 0, 500))) == []


def test_every_impossible_row_is_told_at_once() -> None:
    """User's promise: two heights out of order are two faults; two depths of 0 in between as well."""
    assert told(table((0, 0, 300), (900, 0, 300), (100, 0, 300), (800, 0, 300), (200, 0, 300), (300, 0, 300))) == [
        (1, "height"),
        (3, "height"),
    ]
    assert told(table((0, 0, 300), (100, 0, 0), (200, 0, 300), (300, 0, 0), (400, 0, 300))) == [
        (1, "depth"),
        (3, "depth"),
    ]


def test_rows_beside_one_that_cannot_be_read_are_held_to_their_order() -> None:
    """User's promise: a slip in one row does not hide that another is out of order, and invents no other fault."""
    low, odd, high, top = table((0, 0, 300), (900, 0, 0), (200, 0, 300), (300, 0, 300))
    assert [(fault.row, fault.key) for fault in faults_of([low, None, odd, high, top])] == [(2, "height")]
    assert faults_of([None, odd, None]) == []


LENGTHS = st.integers(0, 600).map(lambda mm: mm / 1000)
ROWS = st.lists(st.builds(Measured, height=LENGTHS, back=LENGTHS, depth=LENGTHS), min_size=2, max_size=7).map(
    lambda rows: sorted(rows, key=lambda row: row.height)
)


@given(ROWS)
def test_rows_without_faults_make_a_simple_polygon(rows: list[Measured]) -> None:
    """Independent implementation: what the table's own checks let pass, the check of corners finds sound too."""
    if not faults_of(rows):
        corners = corners_of(rows)
        assert polygon.faults_of(corners) == []
        assert Polygon(corners).is_valid


@given(ROWS)
def test_the_area_is_that_of_the_stretches_between_rows(rows: list[Measured]) -> None:
    """Conservation: the outline holds what its trapezia hold, row to row."""
    if not faults_of(rows):
        stretches = sum(0.5 * (a.depth + b.depth) * (b.height - a.height) for a, b in itertools.pairwise(rows))
        assert Polygon(corners_of(rows)).area == pytest.approx(stretches, rel=1e-9, abs=1e-12)


@given(ROWS, st.integers(0, 20), st.booleans())
def test_corners_lead_back_to_their_rows(rows: list[Measured], start: int, turned: bool) -> None:
    """Conservation: rows to corners to rows is nothing, wherever the corners start and whichever way they go."""
    if faults_of(rows):
        return
    corners = list(corners_of(rows))
    start %= len(corners)
    corners = corners[start:] + corners[:start]
    again = rows_of(corners[::-1] if turned else corners)
    assert [(row.height, row.back, row.depth) for row in again] == [
        pytest.approx((row.height, row.back, row.depth), abs=1e-12) for row in rows
    ]


def test_corners_at_different_heights_are_rows_in_between() -> None:
    """Analytic limit: a back that leans 182 mm over 500 mm stands in 109.2 mm at 300 mm."""
    corners = ((0.0, 0.0), (0.52, 0.0), (0.52, 0.3), (0.48, 0.5), (0.182, 0.5))
    rows = rows_of(corners)
    assert [row.height for row in rows] == [0.0, 0.3, 0.5]
    assert rows[1].back == pytest.approx(0.1092, rel=1e-12)
    assert Polygon(corners_of(rows)).symmetric_difference(Polygon(corners)).area < 1e-12


U_SHAPE = ((0, 0), (0.5, 0), (0.5, 0.4), (0.4, 0.4), (0.4, 0.1), (0.1, 0.1), (0.1, 0.4), (0, 0.4))
HOOK = ((0, 0), (0.5, 0), (0.5, 0.5), (0.3, 0.5), (0.3, 0.2), (0.4, 0.2), (0.4, 0.1), (0.0, 0.1))


@pytest.mark.parametrize(
    ("corners", "words"),
    [
        (U_SHAPE, "turns back at a height of 100 mm"),
        (U_SHAPE[::-1], "turns back at a height of 100 mm"),
        (((-0.1, 0), (0.5, 0), (0.5, 0.4)), "corner 1 lies behind the rearmost point"),
        (((0, 0), (0.5, -0.05), (0.5, 0.4)), "corner 2 lies below the floor"),
    ],
)
def test_corners_that_no_rows_can_tell(corners: tuple[tuple[float, float], ...], words: str) -> None:
    """User's promise: the reason is said, and where."""
    with pytest.raises(Refusal, match=words):
        rows_of(corners)


def test_a_hook_whose_every_height_is_one_stretch_can_be_told() -> None:
    """Analytic limit: a step on the front and one on the back, area by hand."""
    rows = rows_of(HOOK)
    assert faults_of(rows) == []
    assert Polygon(corners_of(rows)).area == pytest.approx(0.5 * 0.1 + 0.1 * 0.1 + 0.2 * 0.3, rel=1e-9)


def test_a_top_row_below_the_one_before_is_no_slip_of_units_where_inches_would_be_absurd() -> None:
    """User's promise: 500 after 700 is out of order; 500 inches would be higher than any vehicle."""
    rows = [Measured(height=height, back=0.0, depth=0.3) for height in (0.0, 0.7, 0.5)]
    (fault,) = faults_of(rows)
    assert "inches" not in said(fault)
    assert "list the rows from the floor up" in said(fault)
    rows[2] = Measured(height=0.030, back=0.0, depth=0.3)
    (fault,) = faults_of(rows)
    assert "were inches typed as millimetres?" in said(fault)


@pytest.mark.parametrize(
    ("rows", "at"),
    [
        (((0, 0, 230), (240, 0, 170), (480, 0, 4.3)), 2),
        (((0, 0, 9), (240, 0, 170), (480, 0, 110)), 0),
        (((0, 0, 230), (240, 0, 170), (480, 0, 30)), None),
        (((0, 0, 230), (240, 0, 170), (480, 0, 0)), None),
        (((0, 0, 230), (240, 0, 110), (480, 0, 4)), None),
    ],
)
def test_inches_in_the_lowest_or_highest_row_are_asked_about(rows: Any, at: int | None) -> None:
    """User's promise: an end row 25 times too shallow for the line of its neighbours; a real tip is let pass."""
    faults = faults_of(table(*rows))
    assert [fault.row for fault in faults] == ([] if at is None else [at])
    assert all("were inches typed as millimetres?" in said(fault) for fault in faults)
