"""The ways of vents: their lengths, bends, supports and places, against hand-worked numbers and shapely."""

from __future__ import annotations

from functools import cache
from typing import Any

import numpy as np
import pytest
import shapely

from engine.facings import DOWN, FRONT
from engine.openings.pipe.packing import SUPPORT_SPAN, side_vent_at, sizes_of
from engine.packing.braces import FRAME
from engine.packing.face import reach_along_panel
from engine.packing.placement import BENT, BESIDE, HIGH, LOW, SIDE, STRAIGHT
from engine.space.arrangement import bodies_of
from engine.space.bodies import Bend, Frustum
from engine.space.layout import Layout
from engine.space.wedge import Wedges
from tests.acoustics.pipes import tuning_of
from tests.space.batches import BOARD, CUP, GAP, boxes, contents, contents_of, fitting, layout
from tests.space.one_by_one import allowed, drivers_in, for_each
from tests.space.singles import Floats, cuboid, driver_outline, one_driver, rear_air_outline
from tests.space.things import Vent, braces, supports, vents

PIPE = {"vent_count": 1.0, "vent_inner": 0.06, "vent_outer": 0.07}
CLEAR = 0.5 * 0.07 + GAP  # from a pipe's axis to what it keeps off

EVERY_WAY = {
    (placement, where)
    for placement, wheres in ((SIDE, (LOW, HIGH, BESIDE)), (STRAIGHT, (LOW, HIGH, BESIDE)), (BENT, (LOW, HIGH, BESIDE)))
    for where in wheres
}


@cache
def many(back_angle: float = 0.2) -> tuple[Layout, Floats]:
    """Vented boxes of all sorts and their tunings: half of them leave no air beside the box, some are tall."""
    count = 24_000
    rng = np.random.default_rng(90)
    box, things = boxes(count, seed=91, back_angle=back_angle), contents(count, seed=92, plain=False, closed=0.0)
    box = Wedges(
        outer_width=box.outer_width,
        outer_height=box.outer_height * rng.choice([1.0, 1.5], count),
        top_depth=box.top_depth,
        bottom_depth=box.bottom_depth,
        board=BOARD,
        back_angle=back_angle,
    )
    free_width = np.where(rng.random(count) < 0.5, box.outer_width + 0.12, box.outer_width)
    laid_out = layout(box, things, cup=CUP, free_width=free_width)
    return laid_out, things["tuning"]


# Lengths


def test_length_and_net_volume_agree_with_the_tuning_for_every_way() -> None:
    """Independent implementation: the acoustic side gives back the tuning; blocks, holes and cup are counted.

    Where a length exists but is shorter than the board, or the way cannot be built for
    other reasons, nothing is claimed.
    """
    laid_out, tuning = many()
    things = laid_out.contents
    real = laid_out.slacks["vent length"] > 0.0
    # The air takes the short way round a bend: ½π·(R - √(R² - a²))/2 less than its centre line.
    sweep, bore = np.nan_to_num(things.sizes["elbow_radius"]), 0.5 * things.sizes["vent_inner"]
    inside = 0.25 * np.pi * (sweep - np.sqrt(np.maximum(sweep**2 - bore**2, 0.0)))
    counted = laid_out.vent_length - np.where(laid_out.vent_placement == BENT, inside, 0.0)
    np.testing.assert_allclose(laid_out.vent_acoustic_length, counted, rtol=1e-12)
    assert np.all(laid_out.vent_bends == (laid_out.vent_placement == BENT))
    tuned = tuning_of(
        length=counted[real],
        volume=laid_out.net_volume[real],
        diameter=things.sizes["vent_inner"][real],
        count=things.sizes["vent_count"][real],
    )
    np.testing.assert_allclose(tuned, tuning[real], rtol=1e-9)
    pipes = things.sizes["vent_count"] * 0.25 * np.pi * things.sizes["vent_outer"] ** 2 * (laid_out.vent_length - BOARD)
    cup = 0.25 * np.pi * CUP.cutout_diameter**2 * (CUP.depth - BOARD)
    left = laid_out.wedges.gross_volume - things.driver("number") * things.driver("displacement") - cup - pipes
    left -= laid_out.brace_volume + laid_out.support_volume
    sizes = {name: np.nan_to_num(things.sizes[name]) for name in ("socket_diameter", "socket_depth", "vent_outer")}
    ring = 0.25 * np.pi * np.maximum(sizes["socket_diameter"] ** 2 - sizes["vent_outer"] ** 2, 0.0)
    elbows = 2.0 * things.sizes["vent_count"] * ring * sizes["socket_depth"]
    left -= np.where(laid_out.vent_placement == BENT, elbows, 0.0)
    np.testing.assert_allclose(laid_out.net_volume[real], left[real], rtol=1e-12)
    fits = fitting(laid_out)
    np.testing.assert_array_equal(laid_out.brace_volume[fits] > 0.0, laid_out.brace_count[fits] > 0)
    assert set(zip(laid_out.vent_placement[fits], laid_out.vent_where[fits], strict=True)) == EVERY_WAY
    assert np.sum(fits & (laid_out.support_count > 0)) > 100


def _length(vent: Vent) -> float:
    """Length of a pipe's centre line, piece by piece."""
    total = 0.0
    for piece in vent.pipe:
        if isinstance(piece, Frustum):
            total += float(np.linalg.norm(piece.end - piece.start))
        else:
            assert isinstance(piece, Bend)
            total += float(np.arccos(piece.first @ piece.last)) * piece.radius
    return total


def test_a_bent_pipe_is_as_long_as_its_pieces() -> None:
    """Independent implementation: board, quarter circle and leg add up along the centre line, end to end."""
    laid_out, _ = many()
    chosen = np.flatnonzero(fitting(laid_out) & (laid_out.vent_placement == BENT))
    assert chosen.size > 60
    for i in map(int, chosen[:100]):
        things = laid_out.contents
        parts = bodies_of(laid_out, i)
        for vent in vents(parts):
            assert _length(vent) == pytest.approx(laid_out.vent_length[i], abs=1e-9)
            first, bend, leg = vent.pipe
            assert isinstance(first, Frustum)
            assert isinstance(bend, Bend)
            assert isinstance(leg, Frustum)
            assert bend.radius == things.sizes["elbow_radius"][i]
            np.testing.assert_allclose(first.end, bend.centre + bend.radius * bend.first, atol=1e-12)
            np.testing.assert_allclose(leg.start, bend.centre + bend.radius * bend.last, atol=1e-12)
            np.testing.assert_allclose(vent.inner_mouth, leg.end, atol=1e-12)
            assert vent.free_air.end[0] <= parts.inner.x[1] - laid_out.end_taken[i] + 1e-9
        elbow = BOARD + GAP + 0.5 * things.sizes["vent_outer"][i] + things.sizes["elbow_radius"][i]
        assert all(brace.x[0] >= elbow - 1e-9 for brace in braces(parts))


# Bends, hand-worked


def bent(box: Wedges, **changes: float) -> Layout:
    """One driver and one pipe with a bend of 80 mm, no air beside the box."""
    things = one_driver(**{**PIPE, "elbow_radius": 0.08, "tuning": 17.0, **changes})
    return layout(box, things, free_width=box.outer_width)


def test_a_bent_vent_below_a_driver() -> None:
    """Analytic limit: a box 0.8 m wide, 0.5 m high, 0.3 m deep.

    The mouth stands a gap off floor and left side, s = 0.018 + 0.010 + 0.035.  The driver's
    flange keeps a gap off the pipe: from 0.063 + 0.158 + 0.035 + 0.010 = 0.266 up to
    0.5 - 0.018 - 0.010 - 0.141 = 0.331.
    """
    laid_out = bent(cuboid(width=0.8, height=0.5, depth=0.3))
    assert fitting(laid_out)[0]
    assert (laid_out.vent_placement[0], laid_out.vent_where[0]) == (BENT, LOW)
    assert laid_out.vent_s[0] == pytest.approx(0.063)
    assert laid_out.driver_s[0] == pytest.approx(0.266)
    assert laid_out.slacks["vent room"][0] == pytest.approx(0.331 - 0.266)
    assert laid_out.slacks["vent outside"][0] == 1.0
    leg = laid_out.vent_length[0] - 0.018 - 0.5 * np.pi * 0.08
    # A gap, half the pipe, the bend, the leg, a bore of free air; else the leg's own depth.
    across = 0.764 - (0.010 + 0.035 + 0.08 + leg + 0.06)
    deep = 0.3 - 0.018 - (0.018 + 0.08 + CLEAR)
    assert laid_out.slacks["vent run"][0] == pytest.approx(min(across, deep))
    parts = bodies_of(laid_out, 0)
    vent = vents(parts)[0]
    np.testing.assert_allclose(vent.mouth, [0.018 + 0.045, 0.3, 0.063], atol=1e-12)
    np.testing.assert_allclose(vent.inner_mouth, [0.018 + 0.045 + 0.08 + leg, 0.3 - 0.098, 0.063], atol=1e-12)


def test_a_bent_vent_beside_a_driver() -> None:
    """Analytic limit: in a box 0.36 m high vent and driver stand beside each other, the vent half way up.

    The driver takes 0.308 m from the right, the vent and the air before its mouth the rest.
    """
    laid_out = bent(cuboid(width=0.85, height=0.36, depth=0.3), tuning=20.0)
    assert (laid_out.vent_placement[0], laid_out.vent_where[0]) == (BENT, BESIDE)
    assert laid_out.vent_s[0] == pytest.approx(0.18)
    leg = laid_out.vent_length[0] - 0.018 - 0.5 * np.pi * 0.08
    inner_end = 0.010 + 0.035 + 0.08 + leg + 0.06
    deep = 0.3 - 0.018 - (0.018 + 0.08 + CLEAR)
    assert laid_out.slacks["vent run"][0] == pytest.approx(min(0.85 - 0.036 - 0.308 - inner_end, deep))
    assert fitting(laid_out)[0]


def test_a_bend_needs_depth_for_its_radius_to_the_millimetre() -> None:
    """Analytic limit: panel, bend, half the pipe, gap, panel: 0.018 + 0.16 + 0.045 + 0.018 = 0.241 m."""
    for depth, fits in ((0.2405, False), (0.2415, True)):
        laid_out = bent(cuboid(width=1.0, height=0.5, depth=depth), elbow_radius=0.16, tuning=16.0)
        assert (laid_out.vent_placement[0] == BENT and bool(fitting(laid_out)[0])) is fits


def test_without_a_bend_in_stock_nothing_is_bent() -> None:
    """Conservation: pipes without an elbow are never bent, whatever other designs of the batch have."""
    laid_out, _ = many()
    none = np.isnan(laid_out.contents.sizes["elbow_radius"])
    assert none.sum() > 1000
    assert not np.any(none & (laid_out.vent_placement == BENT))
    one = bent(cuboid(width=0.8, height=0.5, depth=0.3), elbow_radius=np.nan)
    assert not fitting(one)[0]


def test_bent_pipes_are_longer_than_their_bend() -> None:
    """Conservation: where the tuning asks for less length than board and bend take, there is no bent vent."""
    laid_out, _ = many()
    chosen = fitting(laid_out) & (laid_out.vent_placement == BENT)
    shortest = BOARD + 0.5 * np.pi * laid_out.contents.sizes["elbow_radius"]
    assert np.all(laid_out.vent_length[chosen] >= shortest[chosen])


# Straight pipes and supports


def test_straight_pipes_through_the_panel_end_at_the_span_of_a_support() -> None:
    """Common practice, no source: no pipe stands out more than 0.35 m behind its panel unsupported."""
    count = 400
    tuning = np.linspace(8.5, 20.0, count)
    box = cuboid(width=0.5, height=0.6, depth=0.75).take(np.zeros(count, dtype=np.intp))
    things = {name: np.repeat(value, count) for name, value in one_driver(**PIPE).items()}
    things["tuning"] = tuning
    laid_out = layout(box, things, free_width=0.5)
    length, straight = laid_out.vent_length, laid_out.vent_placement == STRAIGHT
    deep = 0.75 - BOARD - np.maximum(length + 0.06, length + GAP)
    run = np.minimum(deep, BOARD + 0.35 - length)
    np.testing.assert_allclose(laid_out.slacks["vent run"][straight], run[straight], atol=1e-12)
    np.testing.assert_array_equal(fitting(laid_out), straight & (length <= 0.368))
    # Too long by less than the air that is missing beside the box, it is still the best way there is.
    assert np.sum(straight & (length > 0.368) & (deep > 0.0)) > 3
    assert np.all(length[~straight] > 0.368)
    assert 0.1 < fitting(laid_out).mean() < 0.95
    assert np.all(laid_out.support_count[straight] == 0)


def test_supports_are_counted_and_measured() -> None:
    """Independent implementation: shapely measures blocks between pipe and panel, or pipe and pipe.

    One block for every 0.35 m of the pipe inside, the length counted before blocks take
    their volume, so within a hair of a whole number either count is right.
    """
    laid_out, _ = many(0.0)
    things = laid_out.contents
    chosen = fitting(laid_out) & (laid_out.support_count > 0)
    kinds = set()
    for i in map(int, np.flatnonzero(chosen)):
        pipe, count = float(things.sizes["vent_outer"][i]), int(things.sizes["vent_count"][i])
        disc = shapely.Point(0.0, 0.0).buffer(0.5 * pipe, quad_segs=256)
        below = 0.5 * pipe + GAP  # from the axis to the panel
        if laid_out.vent_placement[i] == BENT:  # behind the socket of its elbow
            below = float(things.sizes["elbow_radius"][i] + np.nan_to_num(things.sizes["socket_depth"][i]))
        on_panel = shapely.box(-0.5 * pipe, -below, 0.5 * pipe, 0.0).difference(disc).area
        other = shapely.affinity.translate(disc, 0.0, -(pipe + GAP))
        on_pipe = shapely.box(-0.5 * pipe, -pipe - GAP, 0.5 * pipe, 0.0).difference(disc).difference(other).area
        first = count if laid_out.vent_placement[i] == BENT else min(count, int(laid_out.vent_columns[i]))
        area = first * on_panel + (count - first) * on_pipe
        assert laid_out.support_volume[i] == pytest.approx(laid_out.support_count[i] * BOARD * area, rel=1e-3)
        spans = (laid_out.vent_length[i] - BOARD) / SUPPORT_SPAN
        assert abs(spans - round(spans)) < 0.01 or laid_out.support_count[i] == int(spans)
        kinds.add((int(laid_out.vent_placement[i]), first < count))
    assert {(SIDE, False), (SIDE, True), (BENT, False)} <= kinds
    bare = fitting(laid_out) & (laid_out.support_count == 0)
    assert np.all(laid_out.support_volume[bare] == 0.0)
    assert np.all(laid_out.vent_length[bare] - BOARD < SUPPORT_SPAN + 0.004)


@pytest.mark.parametrize("back_angle", [-0.2, 0.0, 0.3])
def test_supports_between_leaning_rows_are_measured_as_if_upright(back_angle: float) -> None:
    """Independent implementation: shapely measures the blocks as built; the difference is small for the box.

    Where back or baffle leans, pipes of one row stand askew over those below and the block
    between them is no longer a rectangle less two half discs: up to 15 % off, 0.04 % of the box.
    A hundred designs and more, spread over all that have blocks.
    """
    laid_out, _ = many(back_angle)
    chosen = np.flatnonzero(fitting(laid_out) & (laid_out.support_count > 0))
    assert chosen.size > 100
    for i in map(int, chosen[:: max(chosen.size // 100, 1)]):
        blocks = supports(bodies_of(laid_out, i))
        assert len(blocks) == laid_out.support_count[i] * laid_out.contents.sizes["vent_count"][i]
        volume = sum(shapely.Polygon(block.section).area * (block.x[1] - block.x[0]) for block in blocks)
        assert volume == pytest.approx(laid_out.support_volume[i], rel=0.2)
        assert abs(volume - laid_out.support_volume[i]) < 5e-4 * laid_out.net_volume[i]


# Places in the section


@pytest.mark.parametrize("back_angle", [-0.2, 0.0, 0.3])
def test_pipes_along_the_width_keep_their_gaps(back_angle: float) -> None:
    """Independent implementation: shapely finds each disc a gap inside the section and off the others."""
    laid_out, _ = many(back_angle)
    chosen = np.flatnonzero(fitting(laid_out) & (laid_out.vent_placement == SIDE))
    assert chosen.size > 200
    most = 0
    for i in map(int, chosen[:150]):
        parts = bodies_of(laid_out, i)
        room = shapely.Polygon(laid_out.wedges.inner_section[i])
        discs = [shapely.Point(vent.inner_mouth[1:]).buffer(vent.radius, quad_segs=24) for vent in vents(parts)]
        for number, disc in enumerate(discs):
            assert disc.within(room)
            assert disc.distance(room.exterior) >= GAP - 1e-9
            assert all(disc.distance(other) >= GAP - 1e-9 for other in discs[:number])
        most = max(most, len({round(float(vent.inner_mouth[2]), 6) for vent in vents(parts)}))
    assert most >= 2


def test_a_single_pipe_fits_in_the_corner_wherever_it_fits_at_that_height() -> None:
    """Independent implementation: room beside the first pipe is negative only where shapely finds no place for it."""
    count = 1500
    box, things = boxes(count, seed=93), contents(count, seed=94)
    shells = box.boxes
    pipes, fits = sizes_of(count, contents_of(things).sizes, BOARD), 0
    for low in (True, False):
        y, z, room = for_each(side_vent_at, shells, pipes, allowed(), 0.0, 1.0, low, True)
        for i in np.flatnonzero((box.violation < -0.01) & (np.abs(room) > 1e-6)):
            inner = shapely.Polygon(box.inner_section[i])
            clear = 0.5 * things["vent_outer"][i] + GAP
            left = inner.buffer(-clear, join_style="mitre", mitre_limit=1e6)
            level = shapely.LineString([(-2.0, z[i]), (2.0, z[i])])
            possible = not left.is_empty and left.buffer(1e-7).intersects(level)
            assert possible == (room[i] > 0.0)
            fits += possible
            if possible:
                assert left.intersection(level.buffer(1e-7)).bounds[0] == pytest.approx(y[i], abs=1e-6)
    assert fits > 300


def test_how_near_a_driver_comes_to_a_pipe() -> None:
    """Independent implementation: shapely moves the driver's outline outward by half the pipe and the gap."""
    count = 400
    things: dict[str, Any] = contents(count, seed=95, plain=False)
    things["rear_gap"] = np.where(np.isnan(things["rear_gap"]), GAP, things["rear_gap"])
    radius = 0.5 * things["vent_outer"]
    rng = np.random.default_rng(96)
    depth = BOARD + radius + GAP + rng.uniform(0.0, 0.25, count)
    reach = for_each(reach_along_panel, drivers_in(things), depth, radius, GAP, BOARD)
    met = 0
    for i in range(count):
        grown = shapely.union_all(
            [
                shapely.Polygon(driver_outline(things, i)).buffer(radius[i] + GAP, quad_segs=128),
                shapely.Polygon(rear_air_outline(things, i, GAP)).buffer(radius[i], quad_segs=128),
            ]
        )
        cut = grown.intersection(shapely.LineString([(0.0, depth[i]), (1.0, depth[i])]))
        lowest = grown.bounds[3]
        if abs(lowest - depth[i]) < 1e-3:
            continue
        if depth[i] > lowest:
            assert reach[i] == -np.inf
            continue
        met += 1
        assert reach[i] == pytest.approx(cut.bounds[2], abs=1e-4)
    assert 100 < met < count - 50


def test_a_stated_magnet_lets_a_driver_come_nearer_to_a_pipe() -> None:
    """Analytic limit: a pipe at the back of the floor, 0.137 m behind the baffle, beside a magnet 0.16 m wide.

    Stated 50 mm high, the magnet is what the pipe keeps off: the driver's axis is at least
    0.063 + 0.080 + 0.045 = 0.188 up, and at most 0.169 below the top.  Not stated, the
    basket counts as narrowing evenly down to the rear and is wider there.
    """
    sizes = {"magnet_diameter": 0.16, "tuning": 40.0, **PIPE}

    def room(height: float, magnet_depth: float) -> float:
        box = cuboid(width=0.36, height=height, depth=0.2)
        laid_out = layout(box, one_driver(**sizes, magnet_depth=magnet_depth), free_width=0.43)
        assert laid_out.vent_placement[0] == SIDE
        assert laid_out.vent_where[0] == LOW
        return float(laid_out.slacks["vent room"][0])

    outline = driver_outline(one_driver(**sizes), 0)
    grown = shapely.Polygon(outline).buffer(CLEAR, quad_segs=256)
    even = grown.intersection(shapely.LineString([(0.0, 0.137), (1.0, 0.137)])).bounds[2]
    assert even > 0.130
    for height in (0.350, 0.3565, 0.3575, 0.37):
        assert room(height, 0.050) == pytest.approx(height - 0.169 - 0.188)
        assert room(height, np.nan) == pytest.approx(height - 0.169 - 0.063 - even, abs=1e-5)


# Two ways to stand the same box


def test_facing_down_is_facing_front_in_the_box_laid_on_its_back() -> None:
    """Conservation: in a cuboid height and depth change places with the panel; what fits, fits either way."""
    count = 1500
    rng = np.random.default_rng(97)
    height, depth = rng.uniform(0.2, 0.6, (2, count))
    width = rng.uniform(0.35, 1.1, count)
    things = contents(count, seed=98, plain=False, closed=0.2)
    things["vent_count"] = np.minimum(things["vent_count"], 1.0)
    things["vent_inner"] = np.where(things["vent_count"] > 0, things["vent_inner"], np.nan)

    def laid(facing: int, height: Floats, depth: Floats) -> Layout:
        box = Wedges(
            outer_width=width, outer_height=height, top_depth=depth, bottom_depth=depth, board=BOARD, back_angle=0.0
        )
        return layout(box, {**things, "facing": np.full(count, facing)})

    front, down = laid(FRONT, height, depth), laid(DOWN, depth, height)
    for name in ("driver height", "driver depth", "driver row", "volume"):
        # Ribs and strips know which way is up.
        kept = (front.driver_rows == down.driver_rows) & (front.brace_form <= FRAME) & (down.brace_form <= FRAME)
        # Of what does not fit, vents may come nearest to it another way.
        kept &= front.vent_placement == down.vent_placement
        np.testing.assert_allclose(front.slacks[name][kept], down.slacks[name][kept], atol=1e-12)
    near = np.minimum(np.abs(front.least), np.abs(down.least)) < 1e-9
    np.testing.assert_array_equal(fitting(front)[~near], fitting(down)[~near])
    assert 0.05 < fitting(front).mean() < 0.9
