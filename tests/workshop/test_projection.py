"""Solids on the page: where points fall, what shows, how wide round things are."""

from __future__ import annotations

import math

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from scipy.spatial import ConvexHull

from engine.space.bodies import Bend, Frustum
from engine.space.panels import panel_face
from engine.workshop.design import Design
from engine.workshop.isometric import box_edges
from engine.workshop.projection import ABOVE, ACROSS, ISOMETRIC, SECTION, UP, View, disc, lift, silhouette, square_on
from engine.workshop.svg import Line, Ring
from tests.workshop.boxes import DESIGNS
from tests.workshop.pieces import DRIVER, arranged, wedge_of

Floats = NDArray[np.float64]
EACH = pytest.mark.parametrize("name", DESIGNS)


def corners_of(design: Design) -> Floats:
    return np.concatenate([lift(design.parts.outer.section, x) for x in design.parts.outer.x])


@EACH
def test_corners_fall_where_turning_the_box_puts_them(name: str) -> None:
    """Independent implementation: turned 45° about the vertical, tipped by atan(1/√2), seen from the front."""
    corners = corners_of(DESIGNS[name])
    right_handed = corners * [1.0, -1.0, 1.0]  # y away from who looks, as in a textbook
    turn, tip = math.radians(-45.0), math.atan(1.0 / math.sqrt(2.0))
    about_z = np.array([[math.cos(turn), -math.sin(turn), 0.0], [math.sin(turn), math.cos(turn), 0.0], [0.0, 0.0, 1.0]])
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, math.cos(tip), -math.sin(tip)], [0.0, math.sin(tip), math.cos(tip)]])
    turned = right_handed @ about_z.T @ about_x.T
    np.testing.assert_allclose(ISOMETRIC(corners), turned[:, [0, 2]] * math.sqrt(1.5), atol=1e-12)


def test_lengths_along_the_axes_are_to_one_scale() -> None:
    """Analytic limit: 1 along each axis, √(3/2) of what the eye sees; the axes 120° apart."""
    axes = ISOMETRIC(np.eye(3))
    np.testing.assert_allclose(np.hypot(axes[:, 0], axes[:, 1]), 1.0, rtol=1e-12)
    np.testing.assert_allclose(axes @ axes.T, np.where(np.eye(3) > 0.0, 1.0, -0.5), atol=1e-12)
    np.testing.assert_allclose(ISOMETRIC.eye, np.ones(3) / math.sqrt(3.0), atol=1e-12)
    # √(2/3) of its length is left of a line along an axis, seen square to its direction of sight.
    foreshortened = np.linalg.norm(np.eye(3) - np.outer(np.eye(3) @ ISOMETRIC.eye, ISOMETRIC.eye), axis=1)
    np.testing.assert_allclose(foreshortened * math.sqrt(1.5), 1.0, rtol=1e-12)


@pytest.mark.parametrize(
    ("view", "eye"),
    [(SECTION, (-1, 0, 0)), (ABOVE, (0, 0, 1)), (View(ACROSS, UP), (0, 1, 0))],
    ids=["section", "above", "before"],
)
def test_views_are_seen_from_where_they_say(view: View, eye: tuple[int, int, int]) -> None:
    """Conservation: no view shows the mirror image of what is there."""
    np.testing.assert_allclose(view.eye, eye)


def test_panels_are_seen_from_outside() -> None:
    """Conservation: who looks at a panel square on stands outside, and lengths on it are true."""
    for design in DESIGNS.values():
        middle = corners_of(design).mean(axis=0)
        for panel in ("baffle", "back", "bottom", "top", "left side", "right side"):
            face = panel_face(design.parts, panel)
            assert (face.corner - middle) @ square_on(face).eye > 0.0, panel
            np.testing.assert_allclose(square_on(face).right @ square_on(face).up, 0.0, atol=1e-12)
            np.testing.assert_allclose(np.linalg.norm([square_on(face).right, square_on(face).up], axis=1), 1.0)


@pytest.mark.parametrize("back", [-30.0, 0.0, 20.0, 50.0])
@pytest.mark.parametrize("baffle", [-60.0, -20.0, 0.0, 30.0, 44.0, 46.0, 60.0])
def test_what_shows_is_what_nothing_lies_before(back: float, baffle: float) -> None:
    """Independent implementation: an edge is hidden if a step from it towards the eye leads into the solid."""
    rise = 0.3
    top = 1.2 + rise * (math.tan(math.radians(baffle)) - math.tan(math.radians(back)))
    wedge = wedge_of(width=0.5, height=rise, top=top, bottom=1.2, back_angle=math.radians(back))
    design = Design(parts=arranged(wedge, drivers=()), driver=DRIVER)
    hull = ConvexHull(corners_of(design))
    where = {tuple(np.round(ISOMETRIC(corner), 9)): corner for corner in corners_of(design)}
    marks = box_edges(design)
    assert len(marks) == 12
    shown = []
    for mark in marks:
        assert isinstance(mark, Line)
        ends = np.array([where[tuple(np.round(point, 9))] for point in mark.points])
        step = ends.mean(axis=0) + 1e-4 * np.ones(3) / math.sqrt(3.0)
        inside = bool(np.all(hull.equations[:, :3] @ step + hull.equations[:, 3] < -1e-9))
        assert (mark.pen == "cut") == (not inside)
        shown.append(not inside)
    # Right side and top always show; with neither, one or both of back and baffle that is so many edges.
    assert sum(shown) in (7, 9, 11)


def test_a_baffle_leaning_forward_past_the_line_of_sight_is_hidden() -> None:
    """Analytic limit: seen from (1, 1, 1), a face whose normal is (0, cos θ, -sin θ) shows for θ < 45°."""
    for degrees, shows in ((44.0, True), (46.0, False)):
        lean = math.radians(degrees)
        assert ISOMETRIC.shows(np.array([0.0, math.cos(lean), -math.sin(lean)])) is shows


def test_circles_on_the_faces_of_a_cube_are_ellipses() -> None:
    """Analytic limit: half-axes √(3/2)·r and √(1/2)·r, the longer square to the third axis."""
    for axis in np.eye(3):
        ring = disc(ISOMETRIC, np.zeros(3), axis, 2.0, "outline")
        assert isinstance(ring, Ring)
        turn, radii, _ = np.linalg.svd(ring.half.T)
        np.testing.assert_allclose(radii, 2.0 * np.sqrt([1.5, 0.5]), rtol=1e-12)
        assert turn[:, 0] @ ISOMETRIC(axis) == pytest.approx(0.0, abs=1e-12)


def test_round_bodies_have_their_true_width() -> None:
    """Analytic limit: a cylinder and a quarter bend square on, and a cylinder at a slant."""
    pipe = Frustum(start=np.array([0.0, 0.1, 0.2]), end=np.array([0.5, 0.1, 0.2]), radii=(0.04, 0.04))
    [outline] = silhouette(ABOVE, [pipe])
    np.testing.assert_allclose(np.ptp(outline, axis=0), [0.5, 0.08], atol=1e-9)
    assert shapely.Polygon(outline).area == pytest.approx(0.5 * 0.08, rel=1e-9)
    [slanted] = silhouette(ISOMETRIC, [pipe])
    square = np.array([math.sin(math.radians(30.0)), math.cos(math.radians(30.0))])  # to the projected axis
    assert np.ptp(slanted @ square) == pytest.approx(math.sqrt(1.5) * 0.08, rel=1e-9)
    bend = Bend(
        centre=np.zeros(3),
        first=np.array([-1.0, 0.0, 0.0]),
        last=np.array([0.0, -1.0, 0.0]),
        radius=0.2,
        tube_radius=0.04,
    )
    [turned] = silhouette(ABOVE, [bend])
    assert shapely.Polygon(turned).area == pytest.approx(0.08 * 0.5 * math.pi * 0.2, rel=5e-3)


def test_a_circle_seen_edge_on_is_a_line_and_end_on_a_circle() -> None:
    """Analytic limit."""
    edge = disc(ABOVE, np.zeros(3), np.array([0.0, 1.0, 0.0]), 0.1, "outline")
    assert isinstance(edge, Line)
    np.testing.assert_allclose(np.ptp(edge.points, axis=0), [0.2, 0.0], atol=1e-12)
    ring = disc(View(ACROSS, UP), np.zeros(3), np.array([0.0, 1.0, 0.0]), 0.1, "outline")
    assert isinstance(ring, Ring)
    np.testing.assert_allclose(np.linalg.svd(ring.half)[1], [0.1, 0.1], rtol=1e-12)
