"""The drivers' panel as a frame, and the places a driver has in it, against shapely in the section."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from engine.facings import DOWN, FRONT, SIDEWAYS
from engine.packing.face import at_face, driver_places, face_of, on_face
from engine.space.wedge import Wedges
from tests.space.batches import BOARD, GAP, boxes, contents, layout
from tests.space.one_by_one import allowed, drivers_in, for_each, stacked
from tests.space.singles import beyond, cuboid, driver_sections, frame, one_driver, scan

ANGLES = pytest.mark.parametrize("back_angle", [-0.25, 0.0, 0.2, 0.45])
FACINGS = pytest.mark.parametrize("facing", [FRONT, DOWN])
MARGIN = 2e-3  # m, a scan's step and a little: nearer to a limit than that a scan says nothing


def places_of(box: Wedges, things: dict[str, Any], *, round_over: float = 0.0) -> Any:
    """Where a driver may stand in each box, the fields of ``Places`` as arrays."""
    shells, found = box.boxes, drivers_in(things)
    faces = [face_of(shell, driver.facing) for shell, driver in zip(shells, found, strict=True)]
    rules, nothing = allowed(round_over=round_over), 0.0
    rows = zip(shells, faces, found, strict=True)
    return stacked([driver_places(*row, rules, nothing, nothing, nothing, nothing) for row in rows])


# The frame


@ANGLES
@FACINGS
def test_planes_are_the_inner_faces_of_the_panels(back_angle: float, facing: int) -> None:
    """Independent implementation: shapely measures how far random points lie before or behind each panel."""
    count = 150
    box = boxes(count, seed=11, back_angle=back_angle)
    face = for_each(face_of, box.boxes, np.full(count, facing))
    faces = [face_of(shell, facing) for shell in box.boxes]
    rng = np.random.default_rng(12)
    y, z = rng.uniform(-0.3, 0.8, count), rng.uniform(-0.2, 0.8, count)
    s, d = stacked([on_face(*row) for row in zip(faces, y, z, strict=True)])
    for row in range(count):
        others = frame(box, row, facing)[4]
        for plane, panel in zip((face.low, face.high, face.opposite), others, strict=True):
            outside = beyond(box, row, panel)
            point = shapely.Point(y[row], z[row])
            signed = shapely.distance(point, outside) - (
                shapely.distance(point, outside.exterior) if shapely.within(point, outside) else 0.0
            )
            assert plane.limit[row] - plane.along[row] * s[row] - plane.inward[row] * d[row] == pytest.approx(
                signed, abs=1e-9
            )


@ANGLES
@FACINGS
def test_a_place_on_the_panel_and_the_point_there_are_one(back_angle: float, facing: int) -> None:
    """Independent implementation: projection on the panel with plain vectors; `at` undoes `of`."""
    count = 200
    box = boxes(count, seed=13, back_angle=back_angle)
    face = for_each(face_of, box.boxes, np.full(count, facing))
    faces = [face_of(shell, facing) for shell in box.boxes]
    rng = np.random.default_rng(14)
    y, z = rng.uniform(-0.3, 0.8, count), rng.uniform(-0.2, 0.8, count)
    s, d = stacked([on_face(*row) for row in zip(faces, y, z, strict=True)])
    back = stacked([at_face(*row) for row in zip(faces, s, d, strict=True)])
    np.testing.assert_allclose(back, (y, z), atol=1e-12)
    for row in range(count):
        origin, along, inward, length, _ = frame(box, row, facing)
        offset = np.array([y[row], z[row]]) - origin
        assert (s[row], d[row]) == pytest.approx((offset @ along, offset @ inward), abs=1e-12)
        assert face.length[row] == pytest.approx(length)


@ANGLES
def test_a_box_stood_on_its_head_mirrors_the_places(back_angle: float) -> None:
    """Conservation: bottom and top change places, the back leans the other way, s runs from the other end."""
    count = 500
    box = boxes(count, seed=15, back_angle=back_angle)
    turned = Wedges(
        outer_width=box.outer_width,
        outer_height=box.outer_height,
        top_depth=box.bottom_depth,
        bottom_depth=box.top_depth,
        board=BOARD,
        back_angle=-back_angle,
    )
    things = contents(count, seed=16, plain=False)
    things["facing"] = np.where(things["facing"] == DOWN, FRONT, things["facing"])
    one, other = places_of(box, things), places_of(turned, things)
    length = for_each(face_of, box.boxes, things["facing"]).length
    length = np.where(things["facing"] == SIDEWAYS, box.outer_height, length)
    np.testing.assert_allclose(one.height_slack, other.height_slack, atol=1e-12)
    np.testing.assert_allclose(one.depth_slack, other.depth_slack, atol=1e-12)
    np.testing.assert_allclose(one.low, length - other.high, atol=1e-9)


# Drivers in the baffle and the bottom


@ANGLES
@FACINGS
def test_places_are_those_a_scan_finds(back_angle: float, facing: int) -> None:
    """Independent implementation: a driver's section is slid along its panel and measured with shapely.

    Magnets and the air behind them are stated for most.  Where the scan finds places they
    are one interval with the ends that were computed; where it finds none the driver is refused.
    """
    count, steps = 120, 400
    box = boxes(count, seed=41, back_angle=back_angle)
    things = contents(count, seed=42, plain=False)
    things["facing"] = np.full(count, facing)
    found = places_of(box, things)
    slack = np.minimum(found.height_slack, found.depth_slack)
    sound = box.violation < -0.02
    assert 0.1 < (slack[sound] >= 0.0).mean() < 0.95
    for row in map(int, np.flatnonzero(sound & (np.abs(slack) > MARGIN))):
        s = scan(box, things, row, facing=facing, steps=steps)
        s, _ = driver_sections(box, things, row, s, facing=facing, gap=GAP)
        if not s.size:
            assert slack[row] < 0.0 or found.high[row] - found.low[row] < MARGIN
            continue
        assert slack[row] > 0.0
        assert found.low[row] == pytest.approx(s[0], abs=MARGIN)
        assert found.high[row] == pytest.approx(s[-1], abs=MARGIN)
        assert s.size >= round((s[-1] - s[0]) / np.min(np.diff(s), initial=1.0)) + 1


def test_a_driver_pushed_beyond_its_places_is_noticed() -> None:
    """Proof that checks can fail: 1 mm within the ends of its places a driver is clear, 1 mm beyond it is not."""
    count = 300
    box, things = boxes(count, seed=43), contents(count, seed=44, plain=False)
    things["facing"] = np.full(count, FRONT)
    found = places_of(box, things)
    fits = np.flatnonzero((found.depth_slack > 0.0) & (found.high - found.low > 2e-3))
    assert fits.size > 30
    for row in map(int, fits):
        low, high = found.low[row], found.high[row]
        flange, length = 0.5 * things["outer_diameter"][row], frame(box, row, FRONT)[3]
        inside, outside = np.array([low + 1e-3, high - 1e-3]), np.array([low - 1e-3, high + 1e-3])
        outside = outside[(outside >= flange) & (outside <= length - flange)]
        assert driver_sections(box, things, row, inside, facing=FRONT, gap=GAP)[0].size == 2
        assert driver_sections(box, things, row, outside, facing=FRONT, gap=GAP)[0].size == 0


@FACINGS
@pytest.mark.parametrize(("stated", "behind"), [(np.nan, GAP), (0.0, GAP), (0.030, 0.030)])
def test_air_behind_the_magnet_binds_where_it_is_more_than_the_gap(facing: int, stated: float, behind: float) -> None:
    """Analytic limit: panel, driver, air, panel add up to the depth; the pole's vent may need more than the gap."""
    box = cuboid(height=0.4, depth=0.4)
    room = layout(box, one_driver(facing=facing, rear_gap=stated)).slacks["driver depth"][0]
    assert room == pytest.approx(0.4 - BOARD - 0.15 - behind)


def test_a_magnet_wider_than_the_hole_counts_where_it_begins() -> None:
    """Analytic limit: behind a small hole the magnet needs its own height, and less of a leaning panel.

    A baffle at 45° over an upright back, the driver down: going in it comes nearer the
    baffle's inner face; half a magnet 0.10 m wide at its rear, 0.12 m deep, is what touches.
    """
    box = Wedges(
        outer_width=np.array([0.5]),
        outer_height=np.array([0.3]),
        top_depth=np.array([0.2]),
        bottom_depth=np.array([0.5]),
        board=BOARD,
        back_angle=0.0,
    )
    things = one_driver(facing=DOWN, outer_diameter=0.2, cutout_diameter=0.16, magnet_diameter=0.2, mounting_depth=0.12)
    found = places_of(box, things)
    # The inner face of the baffle: y + z = 0.5 - 0.018·√2; the gap shifts it by 0.01·√2.
    rear = 0.5 - (BOARD + GAP) * np.sqrt(2.0) - 0.12 - 0.1
    air = 0.5 - BOARD * np.sqrt(2.0) - (0.12 + GAP) - 0.1
    assert found.high[0] == pytest.approx(min(rear, air))
    assert found.low[0] == pytest.approx(BOARD + GAP + 0.1)


@FACINGS
def test_round_over_keeps_flanges_off_the_edges_by_its_radius(facing: int) -> None:
    """Analytic limit: a flange that lies within the outer face loses the radius at either end, no more."""
    box = cuboid(height=0.4, depth=0.4)
    things = one_driver(facing=facing, outer_diameter=0.38)
    for radius in (0.0, 0.003, 0.009):
        room = layout(box, things, round_over=radius).slacks["driver height"][0]
        assert room == pytest.approx(0.4 - 0.38 - 2.0 * radius)
    # A small flange lies well inside and loses nothing.
    small = one_driver(facing=facing)
    rooms = [layout(box, small, round_over=radius).slacks["driver height"][0] for radius in (0.0, 0.009)]
    assert rooms[0] == rooms[1]


def test_terminals_never_cost_room() -> None:
    """Conservation: solder tags lie behind the basket's rim, within the driver's own place."""
    count = 500
    box, things = boxes(count, seed=45), contents(count, seed=46, plain=False)
    without = {**things, "terminal_depth": np.full(count, np.nan)}
    one, other = layout(box, things), layout(box, without)
    assert np.isfinite(things["terminal_depth"]).mean() > 0.5
    for name, slack in one.slacks.items():
        np.testing.assert_array_equal(slack, other.slacks[name])


# Drivers in the side panel


def side_region(box: Wedges, things: dict[str, Any], row: int, *, round_over: float = 0.0) -> shapely.Polygon:
    """Where the centre of a driver in the side panel may lie: hole clear of the panels, flange on the panel."""
    outer = shapely.Polygon(box.outer_section[row])
    inside = 0.5 * max(things["cutout_diameter"][row], things["magnet_diameter"][row])
    flange = 0.5 * things["outer_diameter"][row] + round_over
    mitred = {"join_style": "mitre", "mitre_limit": 1e6}
    kept = outer.buffer(-(BOARD + GAP + inside), **mitred)
    return kept.intersection(outer.buffer(-flange, **mitred))


@ANGLES
@pytest.mark.parametrize("round_over", [0.0, 0.012])
def test_heights_in_the_side_panel_are_those_where_the_disc_fits(back_angle: float, round_over: float) -> None:
    """Independent implementation: the heights over which a disc fits in the section, from shapely's buffers."""
    count = 600
    box = boxes(count, seed=47, back_angle=back_angle)
    things = contents(count, seed=48, plain=False)
    things["facing"] = np.full(count, SIDEWAYS)
    found = places_of(box, things, round_over=round_over)
    width = box.outer_width - 2 * BOARD - things["mounting_depth"] + BOARD
    behind = np.where(np.isnan(things["rear_gap"]), GAP, np.maximum(things["rear_gap"], GAP))
    accepted = 0
    for row in map(int, np.flatnonzero(box.violation < -0.01)):
        region = side_region(box, things, row, round_over=round_over)
        slack = min(found.height_slack[row], found.depth_slack[row])
        if region.is_empty or width[row] < behind[row]:
            assert slack < 1e-5  # so small a region shapely's buffer loses
            continue
        _, low, _, high = region.bounds
        assert slack > -1e-9
        assert (found.low[row], found.high[row]) == pytest.approx((low, high), abs=1e-7)
        accepted += 1
    assert accepted > 50


def test_several_in_the_side_panel_stand_one_above_the_other() -> None:
    """Independent implementation: shapely's region for the centres decides; discs and flanges keep their gap."""
    count = 900
    box, things = boxes(count, seed=49, deepest=0.9), contents(count, seed=50, closed=1.0, plain=False)
    things["facing"] = np.full(count, SIDEWAYS)
    laid_out = layout(box, things, driver_air=0.02)
    pitch = np.maximum(things["outer_diameter"], np.maximum(things["cutout_diameter"], things["magnet_diameter"])) + GAP
    several = 0
    sound = (box.violation < 0.0) & (laid_out.slacks["driver depth"] > 0.0)
    for row in map(int, np.flatnonzero(sound)):
        region = side_region(box, things, row)
        if region.is_empty:
            assert laid_out.slacks["driver height"][row] < 0.0
            continue
        _, low, _, high = region.bounds
        stack = (things["driver_count"][row] - 1.0) * pitch[row]
        assert laid_out.slacks["driver height"][row] == pytest.approx(min(high - low - stack, 1.0), abs=1e-7)
        first = laid_out.driver_s[row]
        if laid_out.slacks["driver height"][row] >= 0.0:
            several += things["driver_count"][row] > 1
            assert low - 1e-9 <= first
            assert first + stack <= high + 1e-9
            assert laid_out.driver_rows[row] == things["driver_count"][row]
    assert several > 25


def test_a_driver_in_the_side_needs_width_behind_and_air_before_it() -> None:
    """Analytic limit: across the box panel, driver, air and panel; beside it the air asked for."""
    box = cuboid(width=0.30, height=0.4, depth=0.4)
    laid_out = layout(box, one_driver(facing=SIDEWAYS, rear_gap=0.02), free_width=0.36, driver_air=0.05)
    assert laid_out.slacks["driver row"][0] == pytest.approx(0.30 - BOARD - 0.15 - 0.02)
    assert laid_out.slacks["driver air"][0] == pytest.approx(0.36 - 0.30 - 0.05)
    assert laid_out.slacks["driver height"][0] == pytest.approx(0.4 - 2 * BOARD - 2 * GAP - 0.282)
    front = layout(box, one_driver(), free_width=0.30, driver_air=0.05)
    assert front.slacks["driver air"][0] == 1.0
