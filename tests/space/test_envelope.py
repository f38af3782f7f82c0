"""Boxes in spaces against shapely, which knows nothing of slabs, runs or slopes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely.affinity import translate

from engine.parts import Space
from engine.space.envelope import MITRE_LIMIT, Envelope, Floats
from engine.space.wedge import Wedges

BOARD = 0.018
WIDTH = 1.0


def boxes_for(space: Space, count: int, *, back_angle: float, seed: int) -> Wedges:
    """Random boxes about as large as the space, so that some fit and some do not."""
    rng = np.random.default_rng(seed)
    left, low, right, high = shapely.Polygon(space.section).bounds
    return Wedges(
        outer_width=rng.uniform(0.3, 1.05, count) * space.width,
        outer_height=rng.uniform(0.15, 1.0, count) * (high - low),
        top_depth=rng.uniform(0.05, 0.8, count) * (right - left),
        bottom_depth=rng.uniform(0.05, 0.8, count) * (right - left),
        board=BOARD,
        back_angle=back_angle,
    )


def convex_space(seed: int, margin: float) -> Space:
    rng = np.random.default_rng(seed)
    hull = shapely.MultiPoint(rng.uniform(0.0, [0.7, 0.6], (9, 2))).convex_hull
    return Space(section=tuple(map(tuple, np.asarray(hull.exterior.coords)[:-1])), width=WIDTH, margin=margin)


def crooked_space(seed: int, margin: float) -> Space:
    """A simple polygon with corners that point inward: corners in order of angle, at random distances."""
    rng = np.random.default_rng(seed)
    angle = np.sort(rng.uniform(0.0, 2.0 * np.pi, 10)) + np.linspace(0.0, 1e-3, 10)
    distance = rng.uniform(0.12, 0.5, 10)
    corners = np.stack([distance * np.cos(angle), distance * np.sin(angle)], axis=1)
    return Space(section=tuple(map(tuple, corners)), width=WIDTH, margin=margin)


def placed(wedges: Wedges, y: Floats, z: Floats) -> NDArray[np.object_]:
    shapes: NDArray[np.object_] = shapely.polygons(wedges.outer_section + np.stack([y, z], axis=-1)[:, np.newaxis, :])
    return shapes


SPACES = [convex_space(seed, margin) for seed, margin in enumerate([0.0, 0.01, 0.02, 0.03] * 4)] + [
    crooked_space(seed, margin) for seed, margin in enumerate([0.0, 0.01, 0.02] * 10, start=100)
]


@pytest.mark.parametrize("back_angle", [0.0, 0.25, -0.3])
def test_boxes_that_fit_lie_in_the_space_with_the_margin_all_round(back_angle: float) -> None:
    """Independent implementation: shapely measures each box against the space as the user drew it."""
    fitting = 0
    for number, space in enumerate(SPACES):
        polygon = shapely.Polygon(space.section)
        envelope = Envelope(space)
        if envelope.is_empty:
            continue
        wedges = boxes_for(space, 300, back_angle=back_angle, seed=number)
        fit = envelope.fit(wedges)
        fits = np.flatnonzero(fit.violation <= 0.0)
        fitting += fits.size
        boxes = placed(wedges.take(fits), fit.y[fits], fit.z[fits])
        spill = shapely.area(shapely.difference(boxes, polygon))
        assert np.all(spill < 1e-9)
        assert np.all(shapely.distance(boxes, polygon.exterior) >= space.margin - 1e-9)
        assert np.all(wedges.outer_width[fits] <= space.width - 2.0 * space.margin)
    assert fitting > 1000


@pytest.mark.parametrize("back_angle", [0.0, 0.25])
def test_no_place_is_missed_and_none_lies_lower(back_angle: float) -> None:
    """Independent implementation: a scan of the whole space with shapely finds no place where none was found.

    Nor does it find a lower one than the one found.  The scan's own polygon is the space
    moved in by the margin, and a millionth of a metre more so that a place which only
    touches does not count against rounding.
    """
    refused, scanned = 0, 0
    for number, space in enumerate(SPACES[::2]):
        free = shapely.Polygon(space.section).buffer(-space.margin - 1e-6, join_style="mitre", mitre_limit=MITRE_LIMIT)
        envelope = Envelope(space)
        if envelope.is_empty:
            continue
        wedges = boxes_for(space, 12, back_angle=back_angle, seed=number)
        narrow = wedges.outer_width <= envelope.free_width
        fit = envelope.fit(wedges)
        shapely.prepare(free)
        left, low, right, high = free.bounds
        y, z = (grid.ravel() for grid in np.meshgrid(np.linspace(left, right, 45), np.linspace(low, high, 45)))
        for one in np.flatnonzero(narrow):
            corners = wedges.outer_section[one]
            where = shapely.polygons(corners + np.stack([y, z], axis=1)[:, np.newaxis, :])
            found = shapely.contains(free, where)
            scanned += 1
            if fit.violation[one] > 0.0:
                refused += 1
                assert not found.any()
            elif found.any():
                assert z[found].min() >= fit.z[one] - 1e-9
    assert refused > 0.2 * scanned
    assert scanned - refused > 0.1 * scanned


def test_a_box_rests_where_a_trough_is_as_wide_as_it() -> None:
    """Analytic limit: in a V with sides of 45° a box of depth d rests at height d/2 above the tip."""
    trough = Space(section=((0.0, 0.0), (0.5, 0.5), (0.5, 1.0), (-0.5, 1.0), (-0.5, 0.5)), width=1.0)
    depth = np.array([0.1, 0.3, 0.777, 0.9999])
    boxes = Wedges(
        outer_width=np.full(4, 0.5),
        outer_height=np.full(4, 0.4),
        top_depth=depth,
        bottom_depth=depth,
        board=BOARD,
        back_angle=0.0,
    )
    fit = Envelope(trough).fit(boxes)
    np.testing.assert_allclose(fit.z, 0.5 * depth, atol=1e-9)
    np.testing.assert_allclose(fit.y, -0.5 * depth, atol=1e-9)
    assert np.all(fit.violation <= 0.0)


def test_a_box_stands_on_a_step_where_the_well_is_too_narrow() -> None:
    """Analytic limit: a well 0.2 m wide beside a step 0.25 m high."""
    step = Space(section=((0.0, 0.0), (0.2, 0.0), (0.2, 0.25), (0.6, 0.25), (0.6, 0.7), (0.0, 0.7)), width=1.0)
    depth = np.array([0.2, 0.2 + 1e-6, 0.6, 0.6 + 1e-6])
    boxes = Wedges(
        outer_width=np.full(4, 0.5),
        outer_height=np.full(4, 0.4),
        top_depth=depth,
        bottom_depth=depth,
        board=BOARD,
        back_angle=0.0,
    )
    fit = Envelope(step).fit(boxes)
    np.testing.assert_allclose(fit.z[:3], [0.0, 0.25, 0.25])
    np.testing.assert_allclose(fit.y[:3], 0.0)
    np.testing.assert_array_equal(fit.violation <= 0.0, [True, True, True, False])
    assert fit.violation[3] == pytest.approx(1e-6, abs=1e-9)


def test_corners_a_rounding_apart_do_not_cut_a_room_in_two() -> None:
    """Analytic limit: a level at mid height whose two ends differ in the last digits."""
    off = 0.2 + 1e-16 + 2e-17
    section = ((0.0, 0.0), (0.4, 0.0), (0.4, np.nextafter(0.2, 1.0)), (0.5, off), (0.5, 0.5), (0.0, 0.5), (0.0, 0.2))
    box = Wedges(
        outer_width=np.array([0.5]),
        outer_height=np.array([0.45]),
        top_depth=np.array([0.4]),
        bottom_depth=np.array([0.4]),
        board=BOARD,
        back_angle=0.0,
    )
    fit = Envelope(Space(section=section, width=1.0)).fit(box)
    assert fit.violation[0] <= 0.0
    assert fit.z[0] == 0.0


def test_two_wells_are_both_tried() -> None:
    """Analytic limit: a U with a shallow narrow leg behind and a deep wide one in front."""
    section = ((0.0, 0.2), (0.2, 0.2), (0.2, 0.5), (0.3, 0.5), (0.3, 0.0), (0.7, 0.0), (0.7, 0.8), (0.0, 0.8))
    depth = np.array([0.15, 0.35, 0.5])
    boxes = Wedges(
        outer_width=np.full(3, 0.5),
        outer_height=np.full(3, 0.25),
        top_depth=depth,
        bottom_depth=depth,
        board=BOARD,
        back_angle=0.0,
    )
    fit = Envelope(Space(section=section, width=1.0)).fit(boxes)
    np.testing.assert_allclose(fit.y, [0.3, 0.3, 0.0])
    np.testing.assert_allclose(fit.z, [0.0, 0.0, 0.5])


def test_the_worse_a_box_fits_the_larger_its_violation() -> None:
    """Conservation: violations grow without jumps as a box grows in width, height or depth."""
    space = SPACES[1]
    steps = np.linspace(0.2, 1.3, 400)
    for grow in ("outer_width", "outer_height", "bottom_depth", "top_depth"):
        sizes = {
            "outer_width": np.full(400, 0.5),
            "outer_height": np.full(400, 0.2),
            "bottom_depth": np.full(400, 0.2),
            "top_depth": np.full(400, 0.2),
        }
        sizes[grow] = steps * (1.0 if grow == "outer_width" else 0.8)
        violation = Envelope(space).fit(Wedges(**sizes, board=BOARD, back_angle=0.0)).violation
        assert violation[0] <= 0.0 < violation[-1]
        broken = violation > 0.0
        assert np.all(np.diff(violation[broken]) >= 0.0)
        assert np.diff(violation[broken]).max() < 0.02
        assert violation[broken][0] < 0.02


def test_margin_that_leaves_nothing_is_empty() -> None:
    """Analytic limit: a margin of half the width of a strip."""
    strip = ((0.0, 0.0), (0.3, 0.0), (0.3, 0.1), (0.0, 0.1))
    assert not Envelope(Space(section=strip, width=1.0, margin=0.049)).is_empty
    nothing = Envelope(Space(section=strip, width=1.0, margin=0.051))
    assert nothing.is_empty
    assert nothing.largest(board=BOARD, back_angle=0.0) is None
    assert np.all(nothing.fit(boxes_for(SPACES[0], 5, back_angle=0.0, seed=1)).violation > 0.0)
    assert Envelope(Space(section=strip, width=0.05, margin=0.03)).is_empty


def test_margin_may_cut_a_space_in_two() -> None:
    """Analytic limit: two rooms with a passage narrower than twice the margin between them."""
    section = (
        (0.0, 0.0),
        (0.3, 0.0),
        (0.3, 0.1),
        (0.4, 0.1),
        (0.4, 0.0),
        (0.9, 0.0),
        (0.9, 0.3),
        (0.4, 0.3),
        (0.4, 0.13),
        (0.3, 0.13),
        (0.3, 0.3),
        (0.0, 0.3),
    )
    envelope = Envelope(Space(section=section, width=1.0, margin=0.02))
    assert len(envelope.outlines) == 2
    depth = np.array([0.2, 0.4, 0.6])
    boxes = Wedges(
        outer_width=np.full(3, 0.5),
        outer_height=np.full(3, 0.2),
        top_depth=depth,
        bottom_depth=depth,
        board=BOARD,
        back_angle=0.0,
    )
    fit = envelope.fit(boxes)
    np.testing.assert_allclose(fit.y[:2], [0.02, 0.42])
    np.testing.assert_array_equal(fit.violation <= 0.0, [True, True, False])


def test_door_lets_a_box_through_by_its_two_smaller_sizes() -> None:
    """Analytic limit: either way round, in metres."""
    boxes = Wedges(
        outer_width=np.array([1.0, 1.0, 1.0]),
        outer_height=np.array([0.4, 0.5, 0.4]),
        top_depth=np.array([0.2, 0.2, 0.38]),
        bottom_depth=np.array([0.3, 0.3, 0.38]),
        board=BOARD,
        back_angle=0.0,
    )
    space = Space(section=SPACES[0].section, width=1.0, door=(0.45, 0.35))
    np.testing.assert_allclose(Envelope(space).door_violation(boxes), [-0.05, 0.05, 0.03])
    np.testing.assert_array_equal(Envelope(SPACES[0]).door_violation(boxes), 0.0)


@pytest.mark.parametrize("back_angle", [0.0, 0.2])
def test_largest_box_fits_and_nothing_larger_is_found(back_angle: float) -> None:
    """Independent implementation: against a climb by random steps that only asks ``fit``."""
    rng = np.random.default_rng(3)
    for space in (*SPACES[:6], *SPACES[16:24]):
        envelope = Envelope(space)
        best = envelope.largest(board=BOARD, back_angle=back_angle)
        if best is None:
            continue
        sizes = np.array([best.outer_height, best.top_depth, best.bottom_depth])
        itself = _wedges(sizes[np.newaxis], envelope.free_width, back_angle)
        fit = envelope.fit(itself)
        assert fit.violation[0] <= 1e-9
        assert itself.violation[0] <= 1e-9
        assert itself.gross_volume[0] == pytest.approx(best.gross_volume, rel=1e-9)
        tried = np.concatenate([sizes * rng.uniform(0.3, 1.7, (20_000, 3)), rng.uniform(0.04, 0.7, (20_000, 3))])
        found, most = sizes, 0.0
        for step in (0.1, 0.03, 0.01, 0.003, 0.001, 0.0003):
            wedges = _wedges(tried, envelope.free_width, back_angle)
            sound = (envelope.fit(wedges).violation <= 0.0) & (wedges.violation <= 0.0)
            volume = np.where(sound, wedges.gross_volume, 0.0)
            if volume.max() > most:
                most, found = float(volume.max()), tried[int(np.argmax(volume))]
            tried = found + rng.normal(0.0, step, (10_000, 3)) * 0.5
        assert most <= best.gross_volume * (1.0 + 1e-4)
        assert most >= best.gross_volume * 0.97


def _wedges(sizes: Floats, width: float, back_angle: float) -> Wedges:
    return Wedges(
        outer_width=np.full(len(sizes), width),
        outer_height=np.ascontiguousarray(sizes[:, 0]),
        top_depth=np.ascontiguousarray(sizes[:, 1]),
        bottom_depth=np.ascontiguousarray(sizes[:, 2]),
        board=BOARD,
        back_angle=back_angle,
    )


def test_largest_box_of_a_rectangle_fills_it() -> None:
    """Analytic limit: width × height × depth of the free space, less the board."""
    space = Space(section=((0.0, 0.0), (0.5, 0.0), (0.5, 0.4), (0.0, 0.4)), width=1.0, margin=0.01)
    box = Envelope(space).largest(board=0.02, back_angle=0.0)
    assert box is not None
    assert box.gross_volume == pytest.approx((0.98 - 0.04) * (0.38 - 0.04) * (0.48 - 0.04), rel=1e-9)
    assert (box.y, box.z) == pytest.approx((0.01, 0.01))


def test_largest_box_is_none_where_the_board_fills_the_space() -> None:
    """Analytic limit."""
    space = Space(section=((0.0, 0.0), (0.5, 0.0), (0.5, 0.03), (0.0, 0.03)), width=1.0)
    assert Envelope(space).largest(board=0.018, back_angle=0.0) is None


def test_mirrored_space_holds_the_same_boxes() -> None:
    """Symmetry: corners given the other way round change nothing."""
    for space in SPACES[:20:3]:
        turned = Space(section=space.section[::-1], width=space.width, margin=space.margin)
        boxes = boxes_for(space, 200, back_angle=0.1, seed=2)
        one, other = Envelope(space).fit(boxes), Envelope(turned).fit(boxes)
        np.testing.assert_allclose(one.violation, other.violation, atol=1e-9)
        shifted = Space(
            section=tuple(
                map(
                    tuple,
                    np.asarray(translate(shapely.Polygon(space.section), 0.3, 0.2).exterior.coords)[:-1],
                )
            ),
            width=space.width,
            margin=space.margin,
        )
        moved = Envelope(shifted).fit(boxes)
        np.testing.assert_allclose(moved.violation, one.violation, atol=1e-9)


def test_one_many_and_shuffled_agree_and_inputs_stay() -> None:
    """Conservation: a row's place does not depend on its neighbours, and nothing is written to the inputs."""
    space = SPACES[20]
    boxes = boxes_for(space, 1000, back_angle=0.2, seed=9)
    before = {
        name: getattr(boxes, name).copy() for name in ("outer_width", "outer_height", "top_depth", "bottom_depth")
    }
    envelope = Envelope(space)
    fit = envelope.fit(boxes)
    for name, value in before.items():
        np.testing.assert_array_equal(getattr(boxes, name), value)
    order = np.random.default_rng(1).permutation(1000)
    shuffled = envelope.fit(boxes.take(order))
    for name in ("y", "z", "violation"):
        np.testing.assert_array_equal(getattr(shuffled, name), getattr(fit, name)[order])
        for row in (0, 137, 999):
            assert getattr(envelope.fit(boxes.take(np.array([row]))), name)[0] == getattr(fit, name)[row]
