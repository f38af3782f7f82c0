"""The terminal cup in its corner of the right side panel, against shapely in the section."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely

from engine.facings import SIDEWAYS
from engine.packing.placement import BENT, SIDE, STRAIGHT
from engine.space.arrangement import bodies_of
from engine.space.bodies import Assembly, Frustum
from engine.space.layout import Layout
from tests.space.batches import BOARD, CUP, GAP, boxes, contents, fitting, layout
from tests.space.singles import (
    Floats,
    cuboid,
    driver_outline,
    frame,
    one_driver,
    rear_air_outline,
    set_at,
)
from tests.space.things import braces, cup, drivers, vents

BEHIND = CUP.depth - BOARD + GAP  # m, width behind the panel that the cup takes
EDGE = BOARD + 0.5 * CUP.cutout_diameter + GAP  # m, its centre from the outer faces; more than half its flange
ROUND_OVER = 0.006
PITCH_MAKERS = ("outer_diameter", "cutout_diameter", "magnet_diameter")

SMALL = {"outer_diameter": 0.106, "cutout_diameter": 0.09, "magnet_diameter": 0.06, "mounting_depth": 0.04}


@cache
def with_cup(back_angle: float) -> tuple[Layout, dict[str, Any]]:
    count = 16_000
    box = boxes(count, seed=101, back_angle=back_angle, deepest=0.45)
    things = contents(count, seed=102, plain=False, closed=0.3)
    return layout(box, things, cup=CUP, round_over=ROUND_OVER, driver_air=0.02), things


# Places, hand-worked


def test_the_cup_takes_the_corner_away_from_the_driver() -> None:
    """Analytic limit: a driver high in the baffle of a deep box leaves both corners at the back.

    Both are as roomy; the lower one is taken: a gap off floor and back.
    """
    laid_out = layout(cuboid(width=0.5, height=0.6, depth=0.5), one_driver(), cup=CUP)
    assert fitting(laid_out)[0]
    assert laid_out.end_taken[0] == 0.0
    assert (laid_out.cup_y[0], laid_out.cup_z[0]) == pytest.approx((EDGE, EDGE))
    parts = bodies_of(laid_out, 0)
    assert cup(parts) is not None
    assert cup(parts).panel == "right side"
    np.testing.assert_allclose(cup(parts).body.start, [0.5, EDGE, EDGE], atol=1e-12)
    np.testing.assert_allclose(cup(parts).body.end, [0.5 - CUP.depth, EDGE, EDGE], atol=1e-12)


def test_without_a_cup_nothing_is_kept_for_it() -> None:
    """Analytic limit: no cup in stock, no place, no volume, no width taken."""
    laid_out = layout(cuboid(width=0.5, height=0.6, depth=0.5), one_driver())
    assert np.isnan(laid_out.cup_y[0])
    assert laid_out.end_taken[0] == 0.0
    assert laid_out.slacks["terminal cup"][0] == 1.0
    other = layout(cuboid(width=0.5, height=0.6, depth=0.5), one_driver(), cup=CUP)
    volume = 0.25 * np.pi * 0.054**2 * (0.055 - 0.018)
    assert laid_out.net_volume[0] - other.net_volume[0] == pytest.approx(volume)


@pytest.mark.parametrize(("depth", "fits"), [(0.1095, False), (0.1105, True)])
def test_a_panel_too_narrow_for_the_cup_is_refused_to_the_millimetre(depth: float, fits: bool) -> None:
    """Analytic limit: twice board, gap and half the hole make 0.110 m; the small driver itself has room."""
    laid_out = layout(cuboid(width=0.4, height=0.5, depth=depth), one_driver(**SMALL), cup=CUP)
    others = np.min([slack[0] for name, slack in laid_out.slacks.items() if name != "terminal cup"])
    assert others > 0.0
    assert bool(laid_out.slacks["terminal cup"][0] >= 0.0) is fits
    assert bool(fitting(laid_out)[0]) is fits


@pytest.mark.parametrize(("radius", "least"), [(0.0, 0.110), (0.015, 0.110), (0.020, 0.120), (0.025, 0.130)])
def test_round_over_keeps_the_cups_flange_off_the_edges(radius: float, least: float) -> None:
    """Analytic limit: from half the flange and the radius being more than 0.055 m on, they decide."""
    for depth, fits in ((least - 5e-4, False), (least + 5e-4, True)):
        box = cuboid(width=0.4, height=0.5, depth=depth)
        laid_out = layout(box, one_driver(**SMALL), cup=CUP, round_over=radius)
        assert bool(laid_out.slacks["terminal cup"][0] >= 0.0) is fits


@pytest.mark.parametrize(("width", "fits"), [(0.3905, False), (0.3915, True)])
def test_where_drivers_fill_the_section_the_end_of_the_width_is_kept_free(width: float, fits: bool) -> None:
    """Analytic limit: two boards, 0.308 m for the driver and 0.047 m for the cup make 0.391 m.

    In a box 0.36 m high and 0.2 m deep the basket comes within half the cup's hole and a gap
    of every corner; without a cup the box might be 0.344 m wide.
    """
    box = cuboid(width=width, height=0.36, depth=0.2)
    laid_out = layout(box, one_driver(magnet_diameter=0.282), cup=CUP)
    assert bool(fitting(laid_out)[0]) is fits
    assert bool(fitting(layout(cuboid(width=0.3445, height=0.36, depth=0.2), one_driver(magnet_diameter=0.282)))[0])
    if fits:
        assert laid_out.end_taken[0] == pytest.approx(BEHIND)
        assert laid_out.slacks["driver row"][0] == pytest.approx(width - 0.391)
        parts = bodies_of(laid_out, 0)
        assert cup(parts) is not None
        assert drivers(parts)[0].x + 0.141 + GAP <= width - CUP.depth - GAP + 1e-9


# Against shapely


def _disc(centre: Floats | tuple[float, float], diameter: float) -> shapely.Polygon:
    return shapely.Point(*centre).buffer(0.5 * diameter, quad_segs=64)


def _driver_shapes(
    laid_out: Layout, things: dict[str, Any], i: int, parts: Assembly
) -> list[tuple[shapely.Polygon, float]]:
    """Sections of the drivers with the gap they keep, and of the air behind them."""
    facing, rows = int(things["facing"][i]), int(laid_out.driver_rows[i])
    pitch = max(float(things[name][i]) for name in PITCH_MAKERS) + GAP
    places = laid_out.driver_s[i] + pitch * np.arange(rows)
    if facing == SIDEWAYS:
        inside = max(things["cutout_diameter"][i], things["magnet_diameter"][i])
        centres = [driver.cutout.start for driver in drivers(parts)]
        return [(_disc((float(y), float(z)), inside), GAP) for _, y, z in centres]
    origin, along, inward, _, _ = frame(laid_out.wedges, i, facing)
    bodies = set_at(driver_outline(things, i), places, origin, along, inward)
    air = set_at(rear_air_outline(things, i, GAP), places, origin, along, inward)
    return [(body, GAP) for body in bodies] + [(zone, 0.0) for zone in air]


def _vent_shapes(laid_out: Layout, i: int, parts: Assembly) -> list[tuple[shapely.Polygon, float]]:
    """Sections of the vents that reach into the cup's part of the width, with the gap they keep."""
    shapes = []
    right = laid_out.wedges.outer_width[i] - CUP.depth - GAP
    for vent in vents(parts):
        diameter = 2.0 * vent.radius
        if laid_out.vent_placement[i] == STRAIGHT:
            ends = np.array([vent.mouth[1:], vent.free_air.end[1:]])
            shapes.append((shapely.LineString(ends).buffer(vent.radius, cap_style="flat"), GAP))
        elif vent.free_air.end[0] > right:
            shapes.append((_disc(vent.inner_mouth[1:], diameter), GAP))
    return shapes


@pytest.mark.parametrize("back_angle", [-0.2, 0.0, 0.3])
def test_the_cup_is_clear_of_everything(back_angle: float) -> None:
    """Independent implementation: shapely measures the cup against panels, drivers and vents in the section.

    Where the end of the width is kept free for it, drivers and vents end before it instead.
    """
    laid_out, things = with_cup(back_angle)
    chosen = np.flatnonzero(fitting(laid_out))
    assert chosen.size > 300
    kinds: set[tuple[int, bool]] = set()
    facings: set[int] = set()
    for i in map(int, chosen[::8]):
        parts = bodies_of(laid_out, i)
        y, z = float(laid_out.cup_y[i]), float(laid_out.cup_z[i])
        hole, flange = _disc((y, z), CUP.cutout_diameter), _disc((y, z), CUP.flange_diameter + 2.0 * ROUND_OVER)
        inner, outer = (shapely.Polygon(s[i]) for s in (laid_out.wedges.inner_section, laid_out.wedges.outer_section))
        assert hole.within(inner)
        assert hole.distance(inner.exterior) >= GAP - 1e-9
        assert flange.within(outer.buffer(1e-9))
        kinds.add((int(laid_out.vent_placement[i]), bool(laid_out.end_taken[i])))
        facings.add(int(things["facing"][i]))
        if laid_out.end_taken[i]:
            _ends_before(laid_out, i, parts)
            continue
        for shape, gap in _driver_shapes(laid_out, things, i, parts) + _vent_shapes(laid_out, i, parts):
            assert hole.distance(shape) >= gap - 1e-9
            assert not gap or not hole.intersects(shape)
            assert hole.intersection(shape).area < 1e-9
        if things["facing"][i] == SIDEWAYS:
            for driver in drivers(parts):
                other = _disc(driver.cutout.start[1:], float(things["outer_diameter"][i]))
                assert _disc((y, z), CUP.flange_diameter).distance(other) >= GAP - 1e-9
    assert {(SIDE, False), (STRAIGHT, False)} <= kinds
    assert facings == {0, 1, 2}


def _ends_before(laid_out: Layout, i: int, parts: Assembly) -> None:
    """Drivers and vents of a design end a gap before the cup's part of the width."""
    before = float(laid_out.wedges.outer_width[i]) - CUP.depth - GAP + 1e-9
    half = 0.5 * float(laid_out.contents.driver("inside")[i])
    assert all(driver.x + half <= before for driver in drivers(parts))
    for vent in vents(parts):
        last = vent.pipe[-1]
        assert isinstance(last, Frustum)
        assert last.end[0] <= before
        if laid_out.vent_placement[i] in (SIDE, BENT):
            assert vent.free_air.end[0] <= before
        else:
            assert last.start[0] + vent.radius <= before
    assert all(brace.x[1] <= before for brace in braces(parts))


def test_designs_kept_apart_are_clear_of_the_cup() -> None:
    """Conservation: in low and shallow boxes, where drivers leave no corner, everything ends before the cup."""
    count = 8000
    box = boxes(count, seed=103, deepest=0.36)
    things = contents(count, seed=104, plain=False, closed=0.5)
    laid_out = layout(box, things, cup=CUP, driver_air=0.02)
    chosen = np.flatnonzero(fitting(laid_out) & (laid_out.end_taken > 0.0))
    assert chosen.size > 15
    assert np.all(things["facing"][chosen] != SIDEWAYS)
    for i in map(int, chosen):
        _ends_before(laid_out, i, bodies_of(laid_out, i))


def test_a_cup_in_the_drivers_corner_is_noticed() -> None:
    """Proof that checks can fail: moved to the middle of the drivers, the cup meets them."""
    laid_out, things = with_cup(0.0)
    chosen = np.flatnonzero(fitting(laid_out) & (laid_out.end_taken == 0.0))[:60]
    for i in map(int, chosen):
        shape, _ = _driver_shapes(laid_out, things, i, bodies_of(laid_out, i))[0]
        middle = shape.centroid
        assert _disc((middle.x, middle.y), CUP.cutout_diameter).intersects(shape)


def test_little_is_refused_that_has_a_corner() -> None:
    """Independent implementation: of the designs refused for the cup, shapely finds all four corners taken.

    Sideways drivers' discs and the pipes along the width are what is measured against.
    """
    laid_out, things = with_cup(0.3)
    others = np.min(np.stack([slack for name, slack in laid_out.slacks.items() if name != "terminal cup"]), axis=0)
    refused = np.flatnonzero((others >= 0.0) & (laid_out.slacks["terminal cup"] < -1e-6))
    refused = refused[laid_out.end_taken[refused] == 0.0]
    assert refused.size > 10
    edge = max(EDGE, 0.5 * CUP.flange_diameter + ROUND_OVER)
    for i in map(int, refused):
        outer = shapely.Polygon(laid_out.wedges.outer_section[i])
        corners: Floats = np.asarray(outer.buffer(-edge, join_style="mitre", mitre_limit=1e6).exterior.coords)[:-1]
        if len(corners) != 4:
            continue
        parts = bodies_of(laid_out, i)
        shapes = _driver_shapes(laid_out, things, i, parts) + _vent_shapes(laid_out, i, parts)
        for corner in corners:
            hole = _disc(corner, CUP.cutout_diameter)
            overlap = 0.0
            if things["facing"][i] == SIDEWAYS:
                flanges = [np.hypot(*(driver.cutout.start[1:] - corner)) for driver in drivers(parts)]
                overlap = 0.5 * (things["outer_diameter"][i] + CUP.flange_diameter) + GAP - min(flanges)
            assert overlap > 0.0 or any(hole.distance(shape) < max(gap, 1e-9) + 1e-6 for shape, gap in shapes)
