"""Keep-outs, clearances and covering, against shapely and numbers worked by hand."""

from __future__ import annotations

from dataclasses import replace
from functools import cache
from itertools import pairwise

import numpy as np
import pytest
import shapely
from numpy.typing import NDArray
from shapely.affinity import translate

from engine.arrays import Floats
from engine.parts import Clearances, KeepOut, Space
from engine.space.envelope import Envelope
from engine.space.free import MITRE_LIMIT
from engine.space.wedge import Wedges
from tests.space.spaces import BOARD, boxes_for, convex_space, crooked_space, furnished_space, placed

SIDES = Clearances(back=0.02, front=0.05, bottom=0.01, top=0.03, left=0.06, right=0.02)
COVERING = 0.004
FURNISHED = [
    replace(
        furnished_space(seed, margin=(0.0, 0.01, 0.02)[seed % 3]),
        clearance=SIDES if seed % 4 > 1 else Clearances(),
    )
    for seed in range(200, 232)
]
ROOM = ((0.0, 0.0), (0.5, 0.0), (0.5, 0.4), (0.0, 0.4))


@cache
def furnished(number: int, *, covering: float = 0.0) -> Envelope:
    """One of them made ready, for all tests: none changes it."""
    return Envelope(FURNISHED[number], covering=covering)


def true_section(space: Space, left: float, right: float, kept_free: float) -> shapely.Geometry:
    """The section as drawn, less the keep-outs that are too near a box which stands from ``left`` to ``right``."""
    free = shapely.Polygon(space.section)
    for keepout in space.keepouts:
        start, end = keepout.across
        is_right_of_box = start >= right + kept_free + space.clearance.right - 1e-9
        is_left_of_box = end <= left - kept_free - space.clearance.left + 1e-9
        if not (is_right_of_box or is_left_of_box):
            free = free.difference(shapely.Polygon(keepout.section))
    return free


def reached(boxes: NDArray[np.object_], clearance: Clearances) -> list[NDArray[np.object_]]:
    """Boxes drawn out as far as each clearance reaches, one list for each side."""
    moves = [(clearance.front, 0.0), (-clearance.back, 0.0), (0.0, clearance.top), (0.0, -clearance.bottom)]
    drawn = []
    for y, z in moves:
        moved = shapely.transform(boxes, lambda corners, y=y, z=z: corners + np.array([y, z]))
        drawn.append(shapely.convex_hull(shapely.union(boxes, moved)))
    return drawn


def with_room_below(wedges: Wedges, below: Floats) -> Wedges:
    """Boxes drawn on downwards as far as back and baffle have not met."""
    with np.errstate(divide="ignore"):
        meet = np.where(wedges.boxes.taper > 0.0, wedges.bottom_depth / wedges.boxes.taper, np.inf)
    down = np.minimum(below, meet)
    return replace(
        wedges,
        outer_height=wedges.outer_height + down,
        bottom_depth=np.maximum(wedges.bottom_depth - wedges.boxes.taper * down, 0.0),
    )


@pytest.mark.parametrize(("back_angle", "reach"), [(0.0, 0.0), (0.25, 0.06), (-0.3, 0.12)])
def test_boxes_that_fit_keep_clear_of_everything(back_angle: float, reach: float) -> None:
    """Independent implementation: shapely measures each box against section and keep-outs as drawn.

    Wherever it stands between the two ends it was promised: margin and covering all round,
    the clearances and the room below it in straight lines.
    """
    fitting, moved_aside = 0, 0
    for number, space in enumerate(FURNISHED):
        envelope = furnished(number, covering=COVERING)
        kept_free = space.margin + COVERING
        wedges = boxes_for(space, 150, back_angle=back_angle, seed=number)
        below = np.random.default_rng(number).uniform(0.0, reach, 150)
        fit = envelope.fit(wedges, below=below)
        fits = np.flatnonzero(fit.violation <= 0.0)
        fitting += fits.size
        moved_aside += np.count_nonzero(fit.stretch[fits] > 0)
        drawn = with_room_below(wedges, below)
        down = drawn.outer_height - wedges.outer_height
        boxes = placed(drawn, fit.y - down * wedges.back_slope, fit.z - down)
        for one in fits:
            width, shapes = wedges.outer_width[one], np.concatenate(reached(boxes[one : one + 1], space.clearance))
            for left in (fit.x_low[one], fit.x_high[one] - width, 0.5 * (fit.x_low[one] + fit.x_high[one] - width)):
                assert left >= kept_free + space.clearance.left - 1e-9
                assert left + width <= space.width - kept_free - space.clearance.right + 1e-9
                free = true_section(space, left, left + width, kept_free)
                assert shapely.area(shapely.difference(shapes, free)).max() < 1e-8
                assert shapely.distance(shapes, free.boundary).min() >= kept_free - 1e-9
    assert fitting > 300
    assert moved_aside > 30


def test_no_place_beside_the_keep_outs_is_missed() -> None:
    """Independent implementation: a scan over x, y and z with shapely finds no place where none was found.

    Nor a lower one in the same stretch than the one found.  The scan keeps a millionth of
    a metre more, so that a place which only touches does not count against rounding.
    """
    refused, scanned = 0, 0
    for number, space in enumerate(FURNISHED[::2]):
        envelope = furnished(2 * number, covering=COVERING)
        kept_free = space.margin + COVERING
        wedges = boxes_for(space, 10, back_angle=0.1, seed=number)
        fit = envelope.fit(wedges)
        first, last = kept_free + space.clearance.left, space.width - kept_free - space.clearance.right
        for one in range(10):
            width, corners = wedges.outer_width[one], wedges.outer_section[one]
            if first + width > last:
                assert fit.violation[one] > 0.0
                continue
            scanned += 1
            refused += int(fit.violation[one] > 0.0)
            fits = fit.violation[one] <= 0.0
            sections = {true_section(space, x, x + width, kept_free) for x in np.linspace(first, last - width, 40)}
            if fits:
                sections = {true_section(space, fit.x_low[one], fit.x_low[one] + width, kept_free)}
            for section in sections:
                free = section.buffer(-kept_free - 1e-6, join_style="mitre", mitre_limit=MITRE_LIMIT)
                if free.is_empty:
                    continue
                shapely.prepare(free)
                left, low, right, high = free.bounds
                y, z = (grid.ravel() for grid in np.meshgrid(np.linspace(left, right, 35), np.linspace(low, high, 35)))
                where = shapely.polygons(corners + np.stack([y, z], axis=1)[:, np.newaxis, :])
                found = np.flatnonzero(shapely.contains(free, where))
                drawn = reached(where[found], space.clearance)
                found = found[np.all([shapely.contains(free, shape) for shape in drawn], axis=0)]
                if fits and found.size:
                    assert z[found].min() >= fit.z[one] - 1e-9
                elif not fits:
                    assert not found.size
    assert refused > 0.2 * scanned
    assert scanned - refused > 0.1 * scanned


def test_the_widest_stretch_that_holds_a_box_is_taken() -> None:
    """Conservation: in a space that consists of one stretch only, the same answer or none."""
    seen = 0
    for number, space in enumerate(FURNISHED):
        envelope = furnished(number)
        wedges = boxes_for(space, 300, back_angle=0.1, seed=number)
        fit = envelope.fit(wedges)
        alone = []
        for stretch in envelope.stretches:
            only = Envelope(space)
            only.stretches = (stretch,)
            alone.append(only.fit(wedges))
        violations = np.array([one.violation for one in alone]).reshape(-1, 300)
        if not len(alone):
            assert envelope.is_empty
            continue
        fits = violations <= 0.0
        np.testing.assert_array_equal(fit.violation <= 0.0, fits.any(axis=0))
        expected = np.where(fits.any(axis=0), fits.argmax(axis=0), fit.stretch)
        np.testing.assert_array_equal(fit.stretch, expected)
        np.testing.assert_allclose(fit.violation, violations[expected, np.arange(300)], atol=1e-12)
        nearest = violations.min(axis=0)
        np.testing.assert_allclose(fit.violation[nearest > 0.0], nearest[nearest > 0.0], atol=1e-12)
        np.testing.assert_array_equal(fit.x_low, [envelope.stretches[i].low for i in expected])
        np.testing.assert_array_equal(fit.x_high, [envelope.stretches[i].high for i in expected])
        for name in ("y", "z"):
            values = np.array([getattr(one, name) for one in alone])
            np.testing.assert_allclose(getattr(fit, name), values[expected, np.arange(300)], atol=1e-12)
        widths = [stretch.width for stretch in envelope.stretches]
        assert all(one >= other - 1e-9 for one, other in pairwise(widths))
        seen += len(widths) > 1
    assert seen > 15


def cuboids(*, width: list[float], height: list[float], depth: list[float]) -> Wedges:
    return Wedges(
        outer_width=np.array(width),
        outer_height=np.array(height),
        top_depth=np.array(depth),
        bottom_depth=np.array(depth),
        board=BOARD,
        back_angle=0.0,
    )


def test_beside_or_above_a_wheel_arch() -> None:
    """Analytic limit: an arch 0.2 m wide and 0.15 m high at the left end, margin 10 mm."""
    arch = KeepOut(name="wheel arch", section=((0.0, 0.0), (0.5, 0.0), (0.5, 0.15), (0.0, 0.15)), across=(0.0, 0.2))
    envelope = Envelope(Space(section=ROOM, width=1.0, margin=0.01, keepouts=(arch,)))
    ends = [(stretch.low, stretch.high) for stretch in envelope.stretches]
    np.testing.assert_allclose(ends, [(0.01, 0.99), (0.21, 0.99)])
    boxes = cuboids(width=[0.98, 0.78, 0.78, 0.79], height=[0.23, 0.23, 0.38, 0.38], depth=[0.48] * 4)
    fit = envelope.fit(boxes)
    np.testing.assert_allclose(fit.z[:3], [0.16, 0.16, 0.01])
    np.testing.assert_allclose(fit.x_low[:3], [0.01, 0.01, 0.21])
    np.testing.assert_array_equal(fit.violation <= 0.0, [True, True, True, False])
    assert fit.violation[3] == pytest.approx(0.01, abs=1e-9)


def test_both_sides_of_a_hump_in_the_middle() -> None:
    """Analytic limit: a hump from 0.4 to 0.6 m, its clearances left and right of it, the margin of 10 mm on top."""
    hump = KeepOut(name="tunnel", section=((0.0, 0.0), (0.5, 0.0), (0.5, 0.1), (0.0, 0.1)), across=(0.4, 0.6))
    space = Space(section=ROOM, width=1.0, margin=0.01, keepouts=(hump,), clearance=Clearances(left=0.05, right=0.02))
    stretches = Envelope(space).stretches
    ends = [(stretch.low, stretch.high) for stretch in stretches]
    np.testing.assert_allclose(ends, [(0.06, 0.97), (0.06, 0.37), (0.66, 0.97)])
    np.testing.assert_allclose([stretch.free.bounds[1] for stretch in stretches], [0.11, 0.01, 0.01])
    carpeted = Envelope(space, covering=0.005).stretches
    np.testing.assert_allclose([(s.low, s.high) for s in carpeted], [(0.065, 0.965), (0.065, 0.365), (0.665, 0.965)])
    np.testing.assert_allclose(carpeted[0].free.bounds, [0.015, 0.115, 0.485, 0.385])


def test_over_under_before_and_beside_a_bolt_in_mid_air() -> None:
    """Analytic limit: a bolt of 20 mm square through the room from 0.3 to 0.35 m, margin 10 mm."""
    bolt = KeepOut(name="bolt", section=((0.1, 0.2), (0.12, 0.2), (0.12, 0.22), (0.1, 0.22)), across=(0.3, 0.35))
    envelope = Envelope(Space(section=ROOM, width=1.0, margin=0.01, keepouts=(bolt,)))
    assert len(envelope.stretches[0].outlines) == 2
    boxes = cuboids(
        width=[0.9, 0.9, 0.9, 0.6, 0.9], height=[0.18, 0.16, 0.3, 0.3, 0.3], depth=[0.4, 0.48, 0.36, 0.4, 0.4]
    )
    fit = envelope.fit(boxes)
    np.testing.assert_array_equal(fit.violation <= 0.0, [True, True, True, True, False])
    np.testing.assert_allclose(fit.y[:4], [0.01, 0.01, 0.13, 0.01])
    np.testing.assert_allclose(fit.z[:4], 0.01)
    np.testing.assert_allclose(fit.x_low[:4], [0.01, 0.01, 0.01, 0.36])
    assert fit.violation[4] == pytest.approx(0.04, abs=1e-9)


def test_keep_outs_that_fill_the_space_leave_it_empty() -> None:
    """Analytic limit: all of it by one, half each by two, and all but 20 mm with margins of 10 mm."""
    large = ((-0.1, -0.1), (0.6, -0.1), (0.6, 0.5), (-0.1, 0.5))
    whole = KeepOut(name="whole", section=large, across=(0.0, 1.0))
    halves = (replace(whole, across=(0.0, 0.5)), replace(whole, across=(0.5, 1.2)))
    most = replace(whole, across=(0.02, 1.0))
    boxes = cuboids(width=[0.1], height=[0.1], depth=[0.1])
    for keepouts, margin in (((whole,), 0.0), (halves, 0.0), ((most,), 0.01)):
        envelope = Envelope(Space(section=ROOM, width=1.0, margin=margin, keepouts=keepouts))
        assert envelope.is_empty
        assert envelope.extent == (0.0, 0.0, 0.0)
        assert envelope.largest(board=BOARD, back_angle=0.0) is None
        fit = envelope.fit(boxes)
        assert fit.violation[0] > 0.0
        assert fit.stretch[0] == -1
    assert not Envelope(Space(section=ROOM, width=1.0, margin=0.005, keepouts=(most,))).is_empty


def test_keep_outs_outside_change_nothing() -> None:
    """Analytic limit: before the section, beyond the width, above the roof."""
    outside = (
        KeepOut(name="before", section=((0.6, 0.0), (0.8, 0.0), (0.8, 0.3)), across=(0.2, 0.4)),
        KeepOut(name="beyond", section=ROOM, across=(1.1, 1.3)),
        KeepOut(name="above", section=((0.0, 0.4), (0.5, 0.4), (0.5, 0.6)), across=(0.5, 0.9)),
    )
    space = Space(section=ROOM, width=1.0, margin=0.01)
    bare, furnished = Envelope(space), Envelope(replace(space, keepouts=outside))
    assert len(furnished.stretches) == 1
    assert furnished.extent == pytest.approx(bare.extent)
    boxes = boxes_for(space, 200, back_angle=0.1, seed=5)
    np.testing.assert_allclose(furnished.fit(boxes).violation, bare.fit(boxes).violation, atol=1e-9)


@pytest.mark.parametrize("seed", range(6))
def test_clearance_in_a_section_without_overhangs_is_a_move(seed: int) -> None:
    """Independent implementation: a convex section loses what it loses when cut with itself moved."""
    space = convex_space(seed, 0.01)
    free = Envelope(space).stretches[0].free
    moves = {"front": (-0.07, 0.0), "back": (0.07, 0.0), "top": (0.0, -0.07), "bottom": (0.0, 0.07)}
    for side, move in moves.items():
        cleared = Envelope(replace(space, clearance=Clearances(**{side: 0.07}))).stretches[0].free
        assert cleared.symmetric_difference(free.intersection(translate(free, *move))).area < 1e-9


@pytest.mark.parametrize("seed", range(100, 106))
def test_clearance_of_a_point_is_a_free_way_of_that_length(seed: int) -> None:
    """Independent implementation: points of a crooked section, each with its straight ways drawn."""
    space = crooked_space(seed, 0.01)
    whole, cleared = Envelope(space), Envelope(replace(space, clearance=replace(SIDES, left=0.0, right=0.0)))
    free, left = whole.stretches[0].free, cleared.stretches[0].free
    rng = np.random.default_rng(seed)
    low, high = np.array(free.bounds[:2]), np.array(free.bounds[2:])
    points = rng.uniform(low, high, (4000, 2))
    ways = [
        shapely.linestrings(np.stack([points, points + move], axis=1))
        for move in ((SIDES.front, 0.0), (-SIDES.back, 0.0), (0.0, SIDES.top), (0.0, -SIDES.bottom))
    ]
    kept = np.all([shapely.contains(free, way) for way in ways], axis=0)
    dots = shapely.points(points)
    off_edge = shapely.distance(dots, left.boundary) > 1e-7
    np.testing.assert_array_equal(shapely.contains(left, dots)[off_edge], kept[off_edge])
    assert 50 < np.count_nonzero(kept) < 3000


def test_clearances_worked_by_hand() -> None:
    """Analytic limit: each side of a room of 1.0 × 0.5 × 0.4 m by itself, margin 10 mm and carpet 5 mm."""
    space = Space(section=ROOM, width=1.0, margin=0.01, clearance=SIDES)
    stretch = Envelope(space, covering=0.005).stretches[0]
    assert (stretch.low, stretch.high) == pytest.approx((0.075, 0.965))
    assert stretch.free.bounds == pytest.approx((0.035, 0.025, 0.435, 0.355))
    assert stretch.free.area == pytest.approx(0.4 * 0.33)


def test_room_below_a_box_lifts_it() -> None:
    """Analytic limit: a cuboid by what it needs; a wedge into a trough as far as its sides fit."""
    boxes = cuboids(width=[0.5, 0.5], height=[0.2, 0.35], depth=[0.3, 0.3])
    fit = Envelope(Space(section=ROOM, width=1.0)).fit(boxes, below=np.array([0.08, 0.08]))
    np.testing.assert_allclose(fit.z[0], 0.08)
    np.testing.assert_array_equal(fit.violation <= 0.0, [True, False])
    assert fit.violation[1] == pytest.approx(0.03, abs=1e-9)
    # A triangle that stands on its tip, sides of 45°: a wedge with the same lean sinks down to its own depth.
    trough = Space(section=((0.0, 0.0), (0.5, 0.5), (-0.5, 0.5)), width=1.0)
    wedge = Wedges(
        outer_width=np.array([0.5]),
        outer_height=np.array([0.2]),
        top_depth=np.array([0.6]),
        bottom_depth=np.array([0.2]),
        board=BOARD,
        back_angle=-0.25 * np.pi,
    )
    for below in (0.0, 0.05, 0.1):
        fit = Envelope(trough).fit(wedge, below=below)
        assert fit.violation[0] <= 0.0
        np.testing.assert_allclose([fit.y[0], fit.z[0]], [-0.1, 0.1], atol=1e-9)
    lifted = Envelope(trough).fit(wedge, below=0.15)
    assert lifted.z[0] > 0.1


def test_a_mirrored_space_gives_mirrored_places() -> None:
    """Symmetry: keep-outs and clearances left and right changed over."""
    for number, space in enumerate(FURNISHED):
        mirrored = replace(
            space,
            keepouts=tuple(
                replace(keepout, across=(space.width - keepout.across[1], space.width - keepout.across[0]))
                for keepout in space.keepouts
            ),
            clearance=replace(space.clearance, left=space.clearance.right, right=space.clearance.left),
        )
        one, other = furnished(number), Envelope(mirrored)
        ends = sorted((stretch.low, stretch.high) for stretch in one.stretches)
        turned = sorted((space.width - stretch.high, space.width - stretch.low) for stretch in other.stretches)
        np.testing.assert_allclose(ends, turned, atol=1e-12)
        boxes = boxes_for(space, 200, back_angle=0.1, seed=number)
        fit, mirror_fit = one.fit(boxes), other.fit(boxes)
        np.testing.assert_allclose(fit.violation, mirror_fit.violation, atol=1e-9)
        fits = fit.violation <= 0.0
        np.testing.assert_allclose(fit.x_low[fits], space.width - mirror_fit.x_high[fits], atol=1e-9)
        np.testing.assert_allclose(fit.z[fits], mirror_fit.z[fits], atol=1e-9)


def test_no_piece_of_the_free_section_is_lost() -> None:
    """Regression pin: three keep-outs in one section whose clearances cut it into pieces within pieces."""

    def metres(*corners: tuple[float, float]) -> tuple[tuple[float, float], ...]:
        return tuple((y / 1000.0, z / 1000.0) for y, z in corners)

    outlines = (
        ((168.9, 323.9), (163.5, 373.9), (152.5, 373.9), (147, 323.9), (152.5, 273.8), (163.5, 273.8)),
        ((151.4, 218.4), (239.7, 236.6), (177.9, 309.4)),
        ((128.6, 46.5), (207.2, 61.6), (152.1, 121.9)),
    )
    spans = ((0.2538, 0.4492), (0.3306, 0.5264), (0.4944, 0.5395))
    keepouts = tuple(
        KeepOut(name=f"block {number}", section=metres(*outline), across=across)
        for number, (outline, across) in enumerate(zip(outlines, spans, strict=True))
    )
    walls = metres((0, 64.5), (51.4, 64.5), (64.2, 0), (256.8, 0), (205.4, 215), (231.1, 429.9), (0, 429.9))
    plain = Space(section=walls, width=0.9717, keepouts=keepouts)
    cleared = replace(plain, clearance=Clearances(back=0.005, top=0.025))
    areas = []
    for space in (plain, cleared):
        (whole,) = [each for each in Envelope(space).stretches if each.low < 1e-6 and each.high > 0.9717 - 1e-6]
        areas.append(whole.free.area)
    # 5 mm off the back and 25 mm off the top of walls and keep-outs are some 20 mm by the section's height and width.
    assert 0.5 * areas[0] < areas[1] < areas[0]
