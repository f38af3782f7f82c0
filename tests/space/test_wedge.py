"""The box's own geometry against practice, limits and an independent geometry library."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely

from engine.arrays import Floats
from engine.space.wedge import Wedges

INCH = 0.0254
CUBIC_FOOT = 12.0**3 * INCH**3


def wedges(
    *,
    width: float | Floats,
    height: float | Floats,
    top: float | Floats,
    bottom: float | Floats,
    board: float = 0.018,
    back_angle: float = 0.0,
) -> Wedges:
    sizes = np.broadcast_arrays(
        *(np.atleast_1d(np.asarray(size, dtype=float)) for size in (width, height, top, bottom))
    )
    return Wedges(
        outer_width=sizes[0].copy(),
        outer_height=sizes[1].copy(),
        top_depth=sizes[2].copy(),
        bottom_depth=sizes[3].copy(),
        board=board,
        back_angle=back_angle,
    )


def from_inside(*, width: float, height: float, top: float, bottom: float, board: float) -> Wedges:
    """The box with an upright back whose inside has these sizes."""
    slope = (top - bottom) / height
    secant = np.sqrt(1.0 + slope**2)
    panels = board * (1.0 + secant)
    return wedges(
        width=width + 2.0 * board,
        height=height + 2.0 * board,
        top=top + slope * board + panels,
        bottom=bottom - slope * board + panels,
        board=board,
    )


def random_wedges(count: int, *, back_angle: float, seed: int = 5) -> Wedges:
    """Boxes of all sorts, upside-down wedges and boxes without an inside among them."""
    rng = np.random.default_rng(seed)
    return wedges(
        width=rng.uniform(0.05, 1.2, count),
        height=rng.uniform(0.05, 0.7, count),
        top=rng.uniform(0.01, 0.5, count),
        bottom=rng.uniform(0.01, 0.5, count),
        back_angle=back_angle,
    )


@pytest.mark.parametrize("board", [0.75 * INCH, 0.5 * INCH, 1e-6])
def test_shallow_wedge_of_practice_has_1_05_cubic_feet(board: float) -> None:
    """Common practice, no source: inside 28 in wide, 18.5 in high, 5 in deep below and 2 in above."""
    box = from_inside(width=28.0 * INCH, height=18.5 * INCH, top=2.0 * INCH, bottom=5.0 * INCH, board=board)
    assert box.gross_volume[0] / CUBIC_FOOT == pytest.approx(1.05, abs=0.005)
    corners = box.inner_section[0] / INCH
    assert corners[1, 0] - corners[0, 0] == pytest.approx(5.0, abs=1e-9)
    assert corners[2, 0] - corners[3, 0] == pytest.approx(2.0, abs=1e-9)


def test_low_wedge_of_practice_needs_51_4_inches_of_width() -> None:
    """Common practice, no source: the same section 12 in high needs 51.4 in inside for 1.25 ft³."""
    box = from_inside(width=51.4 * INCH, height=12.0 * INCH, top=2.0 * INCH, bottom=5.0 * INCH, board=0.75 * INCH)
    assert box.gross_volume[0] / CUBIC_FOOT == pytest.approx(1.25, abs=0.005)
    needed = 1.25 * CUBIC_FOOT / box.inner_area[0] / INCH
    assert needed == pytest.approx(51.4, abs=0.05)


def test_without_lean_or_slant_it_is_a_cuboid() -> None:
    """Analytic limit."""
    box = wedges(width=0.8, height=0.4, top=0.3, bottom=0.3, board=0.02)
    assert box.gross_volume[0] == pytest.approx(0.76 * 0.36 * 0.26, rel=1e-12)
    assert box.outer_volume[0] == pytest.approx(0.8 * 0.4 * 0.3, rel=1e-12)
    assert box.outer_depth[0] == pytest.approx(0.3)
    assert box.baffle_slope[0] == 0.0
    assert box.violation[0] == pytest.approx(-0.26)


def test_thin_board_leaves_the_outer_volume() -> None:
    """Analytic limit: t → 0."""
    box = wedges(width=0.8, height=0.4, top=0.1, bottom=0.3, board=1e-9, back_angle=0.3)
    assert box.gross_volume[0] == pytest.approx(box.outer_volume[0], rel=1e-7)
    assert box.outer_volume[0] == pytest.approx(0.8 * 0.4 * 0.2, rel=1e-12)


def test_upside_down_and_front_to_back_hold_the_same() -> None:
    """Symmetry: turning a box over, or swapping back and baffle, changes no volume."""
    one = wedges(width=0.8, height=0.4, top=0.15, bottom=0.35, back_angle=0.25)
    turned = wedges(width=0.8, height=0.4, top=0.35, bottom=0.15, back_angle=-0.25)
    swapped = wedges(width=0.8, height=0.4, top=0.15, bottom=0.35, back_angle=-math.atan(one.baffle_slope[0]))
    for other in (turned, swapped):
        assert other.gross_volume[0] == pytest.approx(one.gross_volume[0], rel=1e-12)
        assert other.outer_depth[0] == pytest.approx(one.outer_depth[0], rel=1e-12)
        assert other.violation[0] == pytest.approx(one.violation[0], rel=1e-9)


@pytest.mark.parametrize("back_angle", [-0.4, 0.0, 0.2, 0.5])
def test_inside_is_the_outer_section_moved_in_by_the_board(back_angle: float) -> None:
    """Independent implementation: shapely offsets the outer section; with t in place of t/cos θ it fails."""
    boxes = random_wedges(400, back_angle=back_angle)
    sound = np.flatnonzero(boxes.violation < -1e-3)
    assert sound.size > 100
    outer = shapely.polygons(boxes.outer_section[sound])
    inner = shapely.buffer(outer, -boxes.board, join_style="mitre", mitre_limit=1e6)
    expected = shapely.area(inner) * (boxes.outer_width[sound] - 2.0 * boxes.board)
    np.testing.assert_allclose(boxes.gross_volume[sound], expected, rtol=1e-9)
    np.testing.assert_allclose(
        shapely.area(shapely.polygons(boxes.inner_section[sound])), shapely.area(inner), rtol=1e-9
    )
    np.testing.assert_allclose(boxes.outer_volume[sound], shapely.area(outer) * boxes.outer_width[sound], rtol=1e-12)
    bounds = shapely.bounds(outer)
    np.testing.assert_allclose(boxes.outer_depth[sound], bounds[:, 2] - bounds[:, 0], rtol=1e-12)

    careless = (boxes.outer_width - 2 * boxes.board) * (boxes.outer_height - 2 * boxes.board)
    careless = careless * (0.5 * (boxes.top_depth + boxes.bottom_depth) - 2 * boxes.board)
    assert np.median(careless[sound] / expected) > 1.005


@pytest.mark.parametrize("back_angle", [-0.4, 0.0, 0.3])
def test_walls_meet_exactly_where_shapely_loses_the_inner_quadrilateral(back_angle: float) -> None:
    """Independent implementation: a violation wherever the offset section is no whole quadrilateral."""
    boxes = random_wedges(600, back_angle=back_angle, seed=6)
    inner = shapely.buffer(shapely.polygons(boxes.outer_section), -boxes.board, join_style="mitre", mitre_limit=1e6)
    whole = np.abs(shapely.area(inner) - shapely.area(shapely.polygons(boxes.inner_section))) < 1e-9
    whole &= shapely.area(inner) > 0.0
    whole &= boxes.inner_width > 0.0
    clear = np.abs(boxes.violation) > 1e-6
    np.testing.assert_array_equal((boxes.violation < 0.0)[clear], whole[clear])
    assert 0.1 < whole.mean() < 0.95


def test_impossible_boxes_are_graded_not_raised() -> None:
    """Conservation: the worse a box, the larger its violation, and its volume is never negative."""
    depth = np.linspace(0.06, -0.2, 14)
    boxes = wedges(width=0.5, height=0.4, top=depth, bottom=0.3)
    assert np.all(np.diff(boxes.violation) > 0.0)
    assert np.all(boxes.gross_volume >= 0.0)
    flat = wedges(width=0.5, height=np.array([0.05, 0.03, 0.0, -0.1]), top=0.2, bottom=0.3)
    assert np.all(np.isfinite(flat.violation))
    assert np.all(flat.violation[1:] > 0.0)
    assert np.all(flat.gross_volume[1:] == 0.0)


def test_one_many_and_shuffled_agree() -> None:
    """Conservation: a row's figures do not depend on its neighbours."""
    boxes = random_wedges(1000, back_angle=0.2)
    order = np.random.default_rng(1).permutation(1000)
    shuffled = boxes.take(order)
    alone = boxes.take(np.array([137]))
    for name in (
        "gross_volume",
        "outer_volume",
        "board_volume",
        "outer_depth",
        "baffle_slope",
        "violation",
        "inner_section",
    ):
        whole = getattr(boxes, name)
        np.testing.assert_array_equal(getattr(shuffled, name), whole[order])
        np.testing.assert_array_equal(getattr(alone, name)[0], whole[137])
