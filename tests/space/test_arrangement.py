"""Accepted layouts as solids, checked with a geometry kernel that knows nothing of the fast formulas."""

from __future__ import annotations

from functools import cache
from itertools import combinations

import numpy as np
import pytest
import trimesh
from manifold3d import CrossSection, FillRule, Manifold, OpType

from engine.space.arrangement import Arrangement, Frustum, Prism, arrangement
from engine.space.layout import BRACE_WINDOW, VENT_PLACEMENTS, VENT_WHERE, Layout
from tests.space.batches import FREE_WIDTH, GAP, SPAN, boxes, contents, fitting, layout

OF_EACH_KIND = 10
SEGMENTS = 96
ROUNDING = 1e-4  # m, between a circle and its 96 corners: 1 - cos(π/96) of 0.16 m
KINDS = [("none", "")] + [(name, where) for name in VENT_PLACEMENTS[1:] for where in VENT_WHERE[1:]]


def prism_solid(prism: Prism) -> Manifold:
    section = CrossSection([prism.section], FillRule.NonZero) - CrossSection(list(prism.holes), FillRule.NonZero)
    solid = Manifold.extrude(section, prism.x[1] - prism.x[0])
    # Extruded along the third axis: turn (y, z, x) into (x, y, z).
    return solid.transform(np.array([[0.0, 0.0, 1.0, prism.x[0]], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]]))


def frustum_solid(frustum: Frustum) -> Manifold:
    axis = frustum.end - frustum.start
    length = float(np.linalg.norm(axis))
    axis = axis / length
    helper = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    side = np.cross(axis, helper)
    side /= np.linalg.norm(side)
    turned = np.stack([side, np.cross(axis, side), axis, frustum.start], axis=1)
    return Manifold.cylinder(length, *frustum.radii, circular_segments=SEGMENTS).transform(turned)


@cache
def accepted(back_angle: float) -> tuple[Layout, tuple[int, ...]]:
    """Some accepted designs of every kind of vent placement."""
    count = 12_000
    laid_out = layout(boxes(count, seed=31, back_angle=back_angle), contents(count, seed=32))
    chosen: list[int] = []
    for placement, where in KINDS:
        kind = laid_out.vent_placement == VENT_PLACEMENTS.index(placement)
        kind &= laid_out.vent_where == VENT_WHERE.index(where)
        chosen += np.flatnonzero(kind & fitting(laid_out))[:OF_EACH_KIND].tolist()
    return laid_out, tuple(chosen)


@cache
def arranged(back_angle: float) -> tuple[tuple[int, Arrangement], ...]:
    laid_out, chosen = accepted(back_angle)
    return tuple((i, arrangement(laid_out, i)) for i in chosen)


ANGLES = pytest.mark.parametrize("back_angle", [-0.15, 0.0, 0.3])


@ANGLES
def test_every_kind_of_placement_is_among_those_checked(back_angle: float) -> None:
    """Guards the evidence: the other tests here are about all kinds, not only the commonest."""
    laid_out, chosen = accepted(back_angle)
    kinds = {(int(laid_out.vent_placement[i]), int(laid_out.vent_where[i])) for i in chosen}
    assert len(kinds) == len(KINDS)
    assert len(chosen) > 50
    assert {int(laid_out.contents.driver_count[i]) for i in chosen} == {1, 2, 3}
    assert {int(laid_out.contents.vent_count[i]) for i in chosen} == {0, 1, 2, 3, 4}
    assert max(int(laid_out.brace_count[i]) for i in chosen) >= 2


@ANGLES
def test_nothing_meets_anything_and_clearances_are_kept(back_angle: float) -> None:
    """Independent implementation: manifold3d finds no two solids in one place and measures the gaps."""
    for _, parts in arranged(back_angle):
        bodies = [frustum_solid(driver.body) for driver in parts.drivers]
        flanges = [frustum_solid(driver.flange) for driver in parts.drivers]
        pipes = [frustum_solid(vent.pipe) for vent in parts.vents]
        air = [frustum_solid(vent.free_air) for vent in parts.vents]
        braces = [prism_solid(brace) for brace in parts.braces]
        panels = {panel.name: prism_solid(panel) for panel in parts.panels}
        for one, other in [*combinations(bodies, 2), *combinations(pipes, 2)]:
            assert one.min_gap(other, 0.1) >= GAP - ROUNDING
        for one, other in combinations(flanges, 2):
            assert one.min_gap(other, 0.1) >= GAP - ROUNDING
        for body in bodies:
            for name, panel in panels.items():
                assert name == "baffle" or body.min_gap(panel, 0.1) >= GAP - ROUNDING
            for other in [*pipes, *braces]:
                assert body.min_gap(other, 0.1) >= GAP - ROUNDING
            for other in air:
                assert (body ^ other).volume() < 1e-9
        for vent, pipe, zone in zip(parts.vents, pipes, air, strict=True):
            for name, panel in panels.items():
                if name != vent.through:
                    assert pipe.min_gap(panel, 0.1) >= GAP - ROUNDING
                assert (zone ^ panel).volume() < 1e-9
            for brace in braces:
                assert (pipe ^ brace).volume() < 1e-9
                assert (zone ^ brace).volume() < 1e-9
            for flange in flanges:
                assert vent.through != "baffle" or pipe.min_gap(flange, 0.1) > 0.0
            for other in pipes:
                assert other is pipe or (zone ^ other).volume() < 1e-9


@ANGLES
def test_everything_lies_inside_the_box(back_angle: float) -> None:
    """Independent implementation: what sticks out of the inner wedge has no volume."""
    for _, parts in arranged(back_angle):
        inner, outer = prism_solid(parts.inner), prism_solid(parts.outer)
        inside = [driver.body for driver in parts.drivers] + [vent.free_air for vent in parts.vents]
        for shape in inside:
            assert (frustum_solid(shape) - inner).volume() < 1e-9
        for vent in parts.vents:
            through = next(prism_solid(panel) for panel in parts.panels if panel.name == vent.through)
            assert (frustum_solid(vent.pipe) - (inner + through)).volume() < 1e-9
            assert vent.outside is None or parts.outer.x[1] - vent.outside.start[0] <= FREE_WIDTH + 1e-9
        for brace in parts.braces:
            assert (prism_solid(brace) - inner).volume() < 1e-9
        baffle = next(prism_solid(panel) for panel in parts.panels if panel.name == "baffle")
        face = outer - inner
        for driver in parts.drivers:
            # Pressed into the board by its own thickness the flange lies wholly in the box's shell.
            depth = driver.flange.end - driver.flange.start
            seat = Frustum(
                name="seat", start=driver.flange.end, end=driver.flange.end + depth, radii=driver.flange.radii
            )
            assert (frustum_solid(seat) - face).volume() < 1e-9
            assert (frustum_solid(driver.cutout) - baffle).volume() < 1e-9


@ANGLES
def test_panels_and_inside_make_up_the_box(back_angle: float) -> None:
    """Independent implementation: trimesh and manifold3d against outer, gross and board volume."""
    laid_out, chosen = accepted(back_angle)
    for i, parts in arranged(back_angle)[::4]:
        assert i in chosen
        wedges = laid_out.wedges
        for prism, volume in ((parts.outer, wedges.outer_volume[i]), (parts.inner, wedges.gross_volume[i])):
            corners = np.array([[x, *corner] for x in prism.x for corner in prism.section])
            assert trimesh.convex.convex_hull(corners).volume == pytest.approx(volume, rel=1e-6)
        panels = [prism_solid(panel) for panel in parts.panels]
        assert sum(panel.volume() for panel in panels) == pytest.approx(wedges.board_volume[i], rel=1e-6)
        for one, other in combinations([*panels, prism_solid(parts.inner)], 2):
            assert (one ^ other).volume() < 1e-9
        whole = Manifold.batch_boolean([*panels, prism_solid(parts.inner)], OpType.Add)
        assert whole.volume() == pytest.approx(wedges.outer_volume[i], rel=1e-6)


@ANGLES
def test_net_volume_is_what_the_solids_leave(back_angle: float) -> None:
    """Independent implementation: inner wedge less drivers, pipes (outer) and braces, within 0.1 %."""
    laid_out, _ = accepted(back_angle)
    for i, parts in arranged(back_angle):
        left = prism_solid(parts.inner)
        for shape in (*(driver.body for driver in parts.drivers), *(vent.pipe for vent in parts.vents)):
            left -= frustum_solid(shape)
        for brace in parts.braces:
            left -= prism_solid(brace)
        assert left.volume() == pytest.approx(laid_out.net_volume[i], rel=1e-3)


@ANGLES
def test_braces_leave_no_panel_unsupported(back_angle: float) -> None:
    """Conservation: no bay is wider than the span or one driver needs; a brace keeps 40 % of its plate."""
    laid_out, _ = accepted(back_angle)
    for i, parts in arranged(back_angle):
        assert len(parts.braces) == laid_out.brace_count[i]
        assert len(parts.drivers) == laid_out.contents.driver_count[i]
        assert len(parts.vents) == laid_out.contents.vent_count[i]
        things = laid_out.contents
        needed = max(things.inside_diameter[i] + 2 * GAP, things.outer_diameter[i] + GAP - laid_out.wedges.board)
        ends = [parts.inner.x[0], *(end for brace in parts.braces for end in brace.x), parts.inner.x[1]]
        widths = np.diff(ends)[::2]
        assert np.all(widths >= -1e-9)
        assert widths.max() <= max(SPAN, needed) + 1e-9
        for brace in parts.braces:
            plate = prism_solid(Prism(name="plate", section=brace.section, x=brace.x)).volume()
            assert prism_solid(brace).volume() == pytest.approx((1.0 - BRACE_WINDOW) * plate, rel=1e-3)


def test_a_driver_slid_too_far_down_is_noticed() -> None:
    """Proof that the checks can fail: slid down by its clearance and a gap, a driver meets the bottom."""
    laid_out, _ = accepted(0.0)
    caught = 0
    for i, parts in arranged(0.0):
        slope = float(laid_out.wedges.baffle_slope[i])
        panel = next(prism_solid(panel) for panel in parts.panels if panel.name == "bottom")
        for driver in parts.drivers:
            gap = frustum_solid(driver.body).min_gap(panel, 1.0)
            lowered = frustum_solid(driver.body).translate((0.0, -slope * (gap + GAP), -(gap + GAP)))
            caught += (lowered ^ panel).volume() > 1e-9
    assert caught == sum(len(parts.drivers) for _, parts in arranged(0.0))
