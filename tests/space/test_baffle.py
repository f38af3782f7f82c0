"""Baffles of two layers: the packing against solids, and what the layer does against exact geometry."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import shapely

from engine.arrays import Floats
from engine.openings.pipe.solids import vent_length
from engine.packing.inside import ROOM_ENOUGH
from engine.packing.placement import BENT, SIDE, SLOT_BAFFLE, STRAIGHT
from engine.space import roles
from engine.space.arrangement import bodies_of
from engine.space.bodies import FLANGE_THICKNESS
from engine.space.solids import exact_check
from engine.space.wedge import Wedges
from tests.space.batches import Mixed, boxes, contents, fitting, layout, mixed

SEEDS = (4, 6, 9)
LAYER = 0.012


@pytest.fixture(scope="module")
def batches() -> list[Mixed]:
    return [mixed(700, seed=seed, others=True, double=True) for seed in SEEDS] + [
        mixed(500, seed=12, long_slots=True, double=True)
    ]


def test_what_the_packing_accepts_goes_together_as_solids(batches: list[Mixed]) -> None:
    """Independent check: measured as solids, with every way to lie through the baffle among them."""
    seen: set[int] = set()
    for batch in batches:
        laid_out = batch.layout
        for i in np.flatnonzero(fitting(laid_out))[:60].tolist():
            found = exact_check(bodies_of(laid_out, i), **batch.surroundings)
            assert found.ok, found.sentences("metric")
            assert found.net_volume == pytest.approx(laid_out.net_volume[i], rel=0.006)
            seen.add(int(laid_out.vent_placement[i]))
    assert {SIDE, STRAIGHT, BENT, SLOT_BAFFLE} <= seen


def test_pipes_are_as_long_as_they_tune_and_the_layer_is_no_inside(batches: list[Mixed]) -> None:
    """Conservation: the length that is cut is that of the solids, the layer's and the first board's holes included."""
    checked = 0
    for batch in batches:
        laid_out = batch.layout
        through = np.isin(laid_out.vent_placement, (STRAIGHT, BENT)) & fitting(laid_out)
        for i in np.flatnonzero(through)[:10].tolist():
            parts = bodies_of(laid_out, i)
            for pipe in parts.of(roles.PIPE, roles.PASSING_PIPE):
                assert vent_length(pipe) == pytest.approx(float(laid_out.vent_length[i]), abs=1e-9)
            (hole, *_) = parts.of(roles.HOLE)
            assert hole.frusta[0].length == pytest.approx(float(laid_out.wedges.front[i]))
            checked += 1
    assert checked


def test_a_layer_takes_its_thickness_of_the_depth_square_to_the_baffle() -> None:
    """Exact geometry: area of the layer between the other panels times its thickness is what the inside loses."""
    single = boxes(200, seed=3)
    double = replace(single, layer=LAYER)
    sound = (single.violation < -LAYER * single.baffle_secant) & (double.violation < 0.0)
    lost = (single.gross_volume - double.gross_volume)[sound]
    assert lost == pytest.approx((double.layer_face * LAYER)[sound], rel=1e-9)
    assert double.board_volume[sound] == pytest.approx((single.board_volume[sound] + lost), rel=1e-9)
    np.testing.assert_allclose(double.outer_section, single.outer_section)
    front = single.inner_section[:, 1:3, 0] - double.inner_section[:, 1:3, 0]
    np.testing.assert_allclose(front, LAYER * single.baffle_secant[:, np.newaxis].repeat(2, axis=1), atol=1e-12)


def driver_depth(wedges: Wedges) -> Floats:
    """Room behind the drivers of closed boxes, all with the same drivers."""
    return layout(wedges, contents(len(wedges), seed=8, closed=1.0)).slacks["driver depth"]


def test_a_box_deeper_by_the_layer_holds_the_same_and_drivers_reach_less_far_in() -> None:
    """Analytic limit: upright, on a box as much deeper, a second layer leaves the inside and drivers reach less."""
    upright = replace(boxes(300, seed=8, back_angle=0.0), board=0.018)
    upright = replace(upright, top_depth=upright.bottom_depth)
    deeper = replace(
        upright, top_depth=upright.top_depth + LAYER, bottom_depth=upright.bottom_depth + LAYER, layer=LAYER
    )
    np.testing.assert_allclose(deeper.gross_volume, upright.gross_volume, rtol=1e-12)
    before, after = driver_depth(upright), driver_depth(deeper)
    shown = (before > 0.0) & (after < ROOM_ENOUGH)
    np.testing.assert_allclose((after - before)[shown], LAYER, atol=1e-9)
    assert shown.sum() > 20


def test_flanges_are_sunk_and_the_drawings_layer_lies_in_the_baffle() -> None:
    """Promise to the user: what is built is what is drawn."""
    batch = mixed(400, seed=6, others=False, double=True)
    i = int(np.flatnonzero(fitting(batch.layout))[0])
    parts, wedges = bodies_of(batch.layout, i), batch.layout.wedges
    (layer,) = parts.of(roles.LAYER)
    (baffle,) = (panel for panel in parts.of(roles.PANEL) if panel.panel == "baffle")
    shape, (left, right) = shapely.Polygon(layer.prisms[0].section), layer.prisms[0].x
    thick = float(wedges.front[i]) - wedges.board
    assert shape.area * (right - left) == pytest.approx(float(wedges.layer_face[i]) * thick, rel=1e-9)
    assert shape.difference(shapely.Polygon(baffle.prisms[0].section).buffer(1e-9)).is_empty
    for flange in parts.of(roles.DRIVER_FLANGE):
        (hole,) = (body for body in parts.of(roles.CUTOUT) if body.thing == flange.thing)
        sunk = (flange.frusta[0].end - hole.frusta[0].start) @ hole.frusta[0].axis
        assert sunk == pytest.approx(0.006)
        assert flange.frusta[0].length == pytest.approx(FLANGE_THICKNESS)
    assert parts.recess == 0.006
