"""One brace: which form is taken, what it leaves free, what it is made of."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray

from engine.packing.box import Box, clear_depth
from engine.packing.braces import (
    CORNER,
    DOWELS,
    FRAME,
    RIB,
    RIM,
    RIM_PART,
    STRIPS,
    Zone,
    air_needed,
    brace_of,
    frame_of,
    no_pipes,
    rib_of,
    sticks_of,
)
from engine.space.wedge import Wedges
from tests.space.batches import BOARD, GAP, SPAN, boxes

Floats = NDArray[np.float64]


def inside(box: Wedges, row: int) -> shapely.Polygon:
    return shapely.Polygon(box.inner_section[row])


def ends_of(one: Box) -> tuple[float, float]:
    return one.board, one.outer_height - one.board


def between(section: shapely.Polygon, low: float, high: float) -> shapely.Polygon:
    return section.intersection(shapely.box(-9.0, low, 9.0, high))


@pytest.mark.parametrize("back_angle", [-0.2, 0.0, 0.35])
def test_a_frame_keeps_its_rim_all_round(back_angle: float) -> None:
    """Independent implementation: shapely shrinks the section by the rim and rounds the corners that are left."""
    box = boxes(300, seed=87, back_angle=back_angle)
    exact = none = 0
    for row in np.flatnonzero(box.violation < -0.01):
        one, section = box.boxes[row], inside(box, row)
        start, end = ends_of(one)
        found = frame_of(one, start, end, no_pipes())
        across = max(RIM * BOARD, RIM_PART * float(clear_depth(one, 0.5 * (start + end))))
        tall = max(RIM * BOARD, RIM_PART * (end - start))
        low_rear, low_front, high_front, high_rear = box.inner_section[row]
        back, baffle = high_rear - low_rear, high_front - low_front
        # Higher than the box, so that only back and baffle take from it.
        sides = shapely.Polygon([low_rear - back, low_front - baffle, high_front + baffle, high_rear + back])
        if not sides.is_valid:
            continue  # back and baffle would meet just beyond the box
        left = between(sides.buffer(-across, join_style="mitre", mitre_limit=1e6), start + tall, end - tall)
        rounded = left.buffer(-CORNER, join_style="mitre", mitre_limit=1e6).buffer(CORNER, quad_segs=64)
        if not found.free:
            none += 1
            # A triangle may be left of so narrow a window, or nothing.
            assert rounded.is_empty or len(rounded.buffer(-CORNER).exterior.coords) < 5 or rounded.area < 0.01
            continue
        assert found.free <= rounded.area + 5e-6
        assert found.board + found.free == pytest.approx(section.area, abs=1e-9)
        if found.low == start + tall and found.high == end - tall:
            exact += 1
            assert found.free == pytest.approx(rounded.area, abs=1e-6)
    assert exact > 100
    assert none > 5


def test_pipes_have_holes_of_their_own_off_the_window() -> None:
    """Conservation: what is board, window and holes adds up; a board's thickness between holes and window."""
    box = boxes(300, seed=91)
    apart = 0
    for row in np.flatnonzero(box.violation < -0.1):
        one, section = box.boxes[row], inside(box, row)
        start, end = ends_of(one)
        zone = Zone(2.0, 0.06, start + GAP, start + GAP + 0.06, np.inf, np.inf)
        found = frame_of(one, start, end, zone)
        holes = 2.0 * np.pi * 0.03**2
        if found.free:
            apart += 1
            assert found.low >= zone.high + BOARD - 1e-12
            assert found.board + found.free + holes == pytest.approx(section.area, abs=1e-9)
            beside = Zone(2.0, 0.06, start + GAP, end - GAP, 0.07, np.inf)
            narrower = frame_of(one, start, end, beside)
            assert narrower.free == 0.0 or narrower.rear >= (0.07 + BOARD) * one.back_secant - 1e-12
    assert apart > 100


def test_ribs_strips_and_dowels_leave_what_they_do_not_take() -> None:
    """Independent implementation: shapely cuts the section; the rib leaves the half with more air."""
    box = boxes(200, seed=92)
    for row in np.flatnonzero(box.violation < -0.03):
        one, section = box.boxes[row], inside(box, row)
        start, end = ends_of(one)
        halves = [between(section, *ends).area for ends in ((start, 0.5 * (start + end)), (0.5 * (start + end), end))]
        rib = rib_of(one, start, end, no_pipes(), GAP)
        assert rib.free == pytest.approx(max(halves), abs=1e-9)
        assert rib.board == pytest.approx(min(halves), abs=1e-9)
        for form, tall in ((STRIPS, 3.0 * BOARD), (DOWELS, BOARD)):
            sticks = sticks_of(one, start, end, no_pipes(), GAP, SPAN, form)
            deepest = max(float(clear_depth(one, start)), float(clear_depth(one, end)))
            assert (sticks.free > 0.0) == (deepest <= SPAN)
            if not sticks.free:
                continue
            count = sticks.pieces
            # Back and baffle are within the span between them.
            assert (end - start) / (count + 1) <= SPAN + 1e-9
            places = sticks.low + np.arange(1, count + 1) * (sticks.high - sticks.low) / (count + 1)
            taken = sum(between(section, z - 0.5 * tall, z + 0.5 * tall).area for z in places)
            assert sticks.free == pytest.approx(section.area - taken, abs=1e-9)
            assert sticks.board == pytest.approx(taken if form == STRIPS else 0.25 * np.pi * taken, abs=1e-9)


def test_the_stiffest_form_with_enough_air_is_taken() -> None:
    """Promise: in order of stiffness, by what the air needs; where none has enough, that with most, and it is short."""
    box = boxes(300, seed=93, deepest=0.3)
    seen = set()
    for row in np.flatnonzero(box.violation < -0.03):
        one = box.boxes[row]
        start, end = ends_of(one)
        options = [frame_of(one, start, end, no_pipes()), rib_of(one, start, end, no_pipes(), GAP)]
        options += [sticks_of(one, start, end, no_pipes(), GAP, SPAN, form) for form in (STRIPS, DOWELS)]
        for needed in (0.0, 0.01, 0.02, 0.04, 0.08, 1.0):
            found, slack = brace_of(one, start, end, no_pipes(), GAP, SPAN, needed)
            enough = [each for each in options if each.free > 0.0 and each.free >= needed]
            if enough:
                assert found == enough[0]
                assert slack >= 0.0
                seen.add(found.form)
            else:
                assert slack < 0.0
                assert found.free == max(each.free for each in options)
    assert seen == {FRAME, RIB, STRIPS, DOWELS}


def test_what_is_needed_follows_from_the_share_beyond() -> None:
    """Analytic limit: one driver in one of two bays sends half of its air past, of three two thirds; so vents."""
    assert air_needed(1.0, 1.0, 0.02, 0.0) == pytest.approx(0.01)
    assert air_needed(2.0, 1.0, 0.03, 0.0) == pytest.approx(0.02)
    assert air_needed(1.0, 2.0, 0.02, 0.01) == pytest.approx(0.015)
