"""Boxes in spaces against shapely, which knows nothing of slabs, runs or slopes."""

from __future__ import annotations

import numpy as np
import pytest
import shapely
from shapely.affinity import translate

from engine.parts import Space
from engine.space.envelope import Envelope
from engine.space.free import MITRE_LIMIT
from engine.space.wedge import Wedges
from tests.space.spaces import BOARD, SPACES, boxes_for, placed


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
        narrow = wedges.outer_width <= envelope.extent[0]
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
    assert len(envelope.stretches[0].outlines) == 2
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


def test_a_section_turned_round_or_moved_holds_the_same_boxes() -> None:
    """Symmetry: corners given the other way round, or all moved, change nothing."""
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
