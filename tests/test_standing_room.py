"""Whether any box could stand in a space: never refused where one can."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st
from shapely import box

from engine.parts import Clearances, KeepOut, Space
from engine.standing_room import has_room, keeps_out, widest_bar

BLOCK = ((0.0, 0.0), (0.4, 0.0), (0.4, 0.3), (0.0, 0.3))


def block(across: tuple[float, float], forward: tuple[float, float], up: tuple[float, float]) -> KeepOut:
    (rear, front), (low, high) = forward, up
    return KeepOut(name="k", across=across, section=((rear, low), (front, low), (front, high), (rear, high)))


def test_a_box_needs_more_than_two_boards_each_way() -> None:
    """Analytic limit: 60 mm across hold a box of 29 mm board and none of 30 mm."""
    for space in (
        Space(section=((0.0, 0.0), (0.06, 0.0), (0.06, 0.3), (0.0, 0.3)), width=0.5),
        Space(section=BLOCK, width=0.06),
        Space(section=BLOCK, width=0.5, margin=0.12),
        Space(section=BLOCK, width=0.5, clearance=Clearances(left=0.22, right=0.22)),
        Space(section=BLOCK, width=0.5, clearance=Clearances(back=0.2, front=0.14)),
    ):
        assert has_room(space, board=0.029)
        assert not has_room(space, board=0.03)


def test_a_margin_or_clearance_that_takes_everything() -> None:
    """Analytic limit."""
    assert not has_room(Space(section=BLOCK, width=0.5, margin=0.15), board=0.0)
    assert not has_room(Space(section=BLOCK, width=0.5, clearance=Clearances(bottom=0.2, top=0.1)), board=0.0)
    assert not has_room(Space(section=BLOCK, width=0.5, clearance=Clearances(left=0.5)), board=0.0)


def test_keep_outs_side_by_side_leave_what_lies_between() -> None:
    """Analytic limit: 100 mm between two full blocks, less a margin of 10 mm beside each, hold 39 mm board, not 40."""
    walls = (block((0.0, 0.2), (0.0, 0.4), (0.0, 0.3)), block((0.3, 0.5), (0.0, 0.4), (0.0, 0.3)))
    space = Space(section=BLOCK, width=0.5, margin=0.01, keepouts=walls)
    assert has_room(space, board=0.039)
    assert not has_room(space, board=0.04)


def test_a_box_may_reach_over_several_short_stretches() -> None:
    """Analytic limit: shelves of 20 mm each leave 200 mm above them, though no stretch between ends is long."""
    shelves = tuple(block((0.02 * i, 0.02 * i + 0.02), (0.0, 0.4), (0.0, 0.1)) for i in range(25))
    assert has_room(Space(section=BLOCK, width=0.5, keepouts=shelves), board=0.04)
    assert not has_room(Space(section=BLOCK, width=0.5, keepouts=shelves), board=0.11)


PLACES = st.lists(st.integers(0, 12), min_size=2, max_size=2, unique=True).map(sorted)
BLOCKS = st.lists(st.tuples(PLACES, PLACES, PLACES), max_size=4)


@given(BLOCKS, PLACES, PLACES, PLACES)
def test_a_space_with_a_box_in_it_is_never_refused(
    blocks: list[tuple[list[int], list[int], list[int]]], x: list[int], y: list[int], z: list[int]
) -> None:
    """Independent implementation: an upright box that meets no keep-out, by comparing bounds, has room."""
    section = tuple(box(0.0, 0.0, 1.2, 1.2).exterior.coords)[:-1]
    keepouts = tuple(block(*((low / 10, high / 10) for low, high in sides)) for sides in blocks)
    space = Space(section=section, width=1.2, keepouts=keepouts)
    apart = all(any(a[1] <= b[0] or b[1] <= a[0] for a, b in zip((x, y, z), sides, strict=True)) for sides in blocks)
    if apart:
        least = min(high - low for low, high in (x, y, z)) / 10
        assert has_room(space, board=0.49 * least)


def test_the_widest_bar() -> None:
    """Analytic limit: the circle in a right triangle of 300, 400 and 500 mm has a radius of 100 mm."""
    triangle = ((0.0, 0.0), (0.4, 0.0), (0.0, 0.3))
    assert widest_bar(Space(section=triangle, width=1.0)) == pytest.approx(0.2, abs=1e-4)
    assert widest_bar(Space(section=triangle, width=0.15, margin=0.01)) == pytest.approx(0.13, abs=1e-9)


def test_where_a_keep_out_lies() -> None:
    """Analytic limit: touching is outside."""
    space = Space(section=BLOCK, width=0.5)
    assert keeps_out(block((0.4, 0.6), (0.3, 0.5), (0.2, 0.4)), space) == (True, True)
    assert keeps_out(block((0.5, 0.6), (0.3, 0.5), (0.2, 0.4)), space) == (False, True)
    assert keeps_out(block((0.4, 0.6), (0.4, 0.5), (0.2, 0.4)), space) == (True, False)
