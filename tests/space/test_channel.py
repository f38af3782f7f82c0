"""Slot vents built of the box's own board: lengths, volumes, and the channel among everything else."""

from __future__ import annotations

import math
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest
import shapely
from scipy.integrate import quad
from scipy.optimize import brentq

from engine.acoustics.slots import FREE_OVER_FLUSH, full_width_end, mirrored_end
from engine.facings import DOWN, FRONT, SIDEWAYS
from engine.packing.placement import SLOT_BAFFLE, SLOT_SIDE
from engine.space.arrangement import bodies_of
from engine.space.bodies import Assembly, Prism
from engine.space.layout import Layout
from engine.space.solids import prism_solid
from engine.space.wedge import Wedges
from tests.space.batches import BOARD, CUP, GAP, C, among_others, contents, fitting, layout, mixed
from tests.space.singles import cuboid, one_driver
from tests.space.things import braces, panels, slot_of

WIDE, TALL, DEEP, HEIGHT = 0.7, 0.5, 0.25, 0.03
INNER = (WIDE - 2.0 * BOARD, TALL - 2.0 * BOARD, DEEP - 2.0 * BOARD)
SMALL = {
    "outer_diameter": 0.2,
    "cutout_diameter": 0.18,
    "magnet_diameter": 0.1,
    "mounting_depth": 0.09,
    "driver_displacement": 0.001,
}


def slotted(*, tuning: float, width: float = WIDE, height: float = HEIGHT, **changes: Any) -> Layout:
    """A small driver and a slot in a box without slant; ``changes`` are to rules or surroundings."""
    facing = changes.pop("facing", FRONT)
    things = one_driver(**SMALL, facing=facing, vent_count=1.0, slot_height=height, tuning=tuning)
    return layout(cuboid(width=width, height=TALL, depth=DEEP), things, **changes)


def in_a_cuboid(laid_out: Layout, *, through: float, corner: float) -> tuple[float, float]:
    """Length of the slot of ``slotted`` by hand: beyond the panel, and in a leg along the right side panel."""
    width, height, depth = laid_out.wedges.outer_width[0] - 2.0 * BOARD, HEIGHT, INNER[2]
    braces = laid_out.brace_volume[0]
    volume = width * INNER[1] * depth - 0.001 - braces
    outer = float(mirrored_end(width=depth, height=height, along_width=True))
    square = 1.0 - 2.0 * math.log(2.0) / math.pi
    wanted = depth * height * (C / (2.0 * math.pi * laid_out_tuning(laid_out))) ** 2
    section = depth * (height + BOARD)

    def straight(run: float) -> float:
        end = FREE_OVER_FLUSH * full_width_end(height, INNER[1])
        effective = through + square * corner + (run - corner) + outer + end
        return float(effective * (volume - section * run) - wanted)

    def turned(leg: float) -> float:
        end = FREE_OVER_FLUSH * full_width_end(height, width)
        effective = through + square * corner + (width - height - corner) + square * height + leg + outer + end
        boards = depth * BOARD * (width - height) + depth * BOARD * (leg - BOARD)
        return float(effective * (volume - depth * height * (width + leg) - boards) - wanted)

    if laid_out.slot_turn[0]:
        return width, float(brentq(turned, BOARD, INNER[1]))
    return float(brentq(straight, 0.0, width)), 0.0


def laid_out_tuning(laid_out: Layout) -> float:
    """Lumped tuning of a laid-out box by its own figures."""
    effective = laid_out.vent_acoustic_length[0] + laid_out.vent_ends[0]
    return float(C / (2.0 * math.pi) * np.sqrt(laid_out.vent_area[0] / (effective * laid_out.net_volume[0])))


@pytest.mark.parametrize(
    ("tuning", "width", "surroundings", "placement", "turned"),
    [
        (28.0, WIDE, {}, SLOT_SIDE, False),
        (32.0, 0.4, {}, SLOT_SIDE, True),
        (28.0, WIDE, {"free_width": WIDE}, SLOT_BAFFLE, False),
        (34.0, 0.4, {"free_width": 0.4}, SLOT_BAFFLE, True),
    ],
)
def test_the_length_in_a_cuboid_is_the_one_by_hand(
    tuning: float, width: float, surroundings: dict[str, float], placement: int, turned: bool
) -> None:
    """Analytic limit: depth and section are the same all along, so the law is solved with a few products."""
    laid_out = slotted(tuning=tuning, width=width, **surroundings)
    assert fitting(laid_out)[0], laid_out.tightest
    assert laid_out.vent_placement[0] == placement
    assert (laid_out.slot_turn[0] > 0.0) == turned
    assert laid_out_tuning(laid_out) == pytest.approx(tuning, rel=1e-8)
    depth = INNER[2]
    assert laid_out.slot_width[0] == pytest.approx(depth)
    assert laid_out.vent_area[0] == pytest.approx(depth * HEIGHT)
    assert laid_out.vent_hydraulic[0] == pytest.approx(2.0 * depth * HEIGHT / (depth + HEIGHT))
    corner = depth if placement == SLOT_BAFFLE else 0.0
    run, leg = in_a_cuboid(laid_out, through=BOARD, corner=corner)
    assert laid_out.slot_turn[0] == pytest.approx(leg, abs=1e-7)
    assert laid_out.vent_length[0] == pytest.approx(BOARD + run + leg, abs=1e-7)
    assert laid_out.vent_bends[0] == int(placement == SLOT_BAFFLE) + int(turned)
    boards = depth * BOARD * (run if not turned else run - HEIGHT + leg - BOARD)
    assert laid_out.slot_boards[0] == pytest.approx(boards, abs=1e-9)


def test_the_driver_moves_up_by_the_channel() -> None:
    """Analytic limit: lowest and highest place of a driver beside a channel at the bottom, and one at the top."""
    without = layout(cuboid(width=WIDE, height=0.3, depth=DEEP), one_driver(**SMALL))
    things = one_driver(**SMALL, vent_count=1.0, slot_height=HEIGHT, tuning=28.0)
    beside = layout(cuboid(width=WIDE, height=0.3, depth=DEEP), things)
    moved = without.slacks["driver height"][0] - beside.slacks["vent room"][0]
    # The flange has more room at the edges than the body has between the panels, by its own share.
    assert without.slacks["driver height"][0] == pytest.approx(0.3 - 2.0 * (BOARD + GAP) - 0.18)
    assert moved == pytest.approx(HEIGHT + BOARD)
    assert beside.driver_s[0] >= BOARD + HEIGHT + BOARD + GAP + 0.09 - 1e-12


@pytest.mark.parametrize(("free", "room"), [(HEIGHT + 0.001, 0.001), (HEIGHT - 0.001, -0.001)])
def test_one_height_of_air_before_the_outer_mouth(free: float, room: float) -> None:
    """Analytic limit: beside the box for a mouth in its side; where that is too little the baffle has it."""
    laid_out = slotted(tuning=28.0, free_width=WIDE + free)
    assert (laid_out.vent_placement[0] == SLOT_SIDE) == (room > 0.0)
    if room > 0.0:
        assert laid_out.slacks["vent outside"][0] == pytest.approx(room)
    none = slotted(tuning=28.0, free_width=WIDE, ahead=HEIGHT - 0.001)
    assert none.slacks["vent outside"][0] == pytest.approx(-0.001)
    assert slotted(tuning=28.0, free_width=WIDE, ahead=HEIGHT + 0.001).vent_placement[0] == SLOT_BAFFLE


def test_a_box_that_faces_down_has_its_slot_at_the_top_and_one_with_a_driver_in_its_side_does_not_turn() -> None:
    """User's promise: where the channel may lie."""
    kinds = set()
    for seed in range(6):
        laid_out = mixed(1500, seed=seed, long_slots=True).layout
        fits = fitting(laid_out)
        facing = laid_out.contents.driver("facing")
        assert not np.any(laid_out.vent_low[fits & (facing == DOWN)])
        assert not np.any(laid_out.slot_turn[fits & (facing == SIDEWAYS)])
        kinds |= set(zip(facing[fits].tolist(), laid_out.vent_low[fits].tolist(), strict=True))
    assert kinds == {(FRONT, True), (FRONT, False), (DOWN, False), (SIDEWAYS, True), (SIDEWAYS, False)}


def many(seed: int) -> list[tuple[Layout, int, Assembly, float]]:
    """Accepted designs with slots of every sort, their solids and tunings."""
    batch = mixed(3000, seed=seed, long_slots=True)
    laid_out = batch.layout
    fits = np.flatnonzero(fitting(laid_out))
    turned = fits[laid_out.slot_turn[fits] > 0.0]
    rows = np.unique(np.concatenate([fits[:40], turned]))
    return [(laid_out, i, bodies_of(laid_out, i), float(batch.tuning[i])) for i in rows.tolist()]


@pytest.mark.parametrize("seed", [21, 22, 23])
def test_lengths_and_volumes_are_those_of_the_solids(seed: int) -> None:
    """Independent implementation: centre line, ∫dl/section and board measured on the solids give tuning and volume."""
    found = many(seed)
    assert sum(laid_out.slot_turn[i] > 0.0 for laid_out, i, _, _ in found) >= 3
    square = 1.0 - 2.0 * math.log(2.0) / math.pi
    for laid_out, i, parts, tuning in found:
        slot = slot_of(parts)
        assert slot
        height, width = laid_out.contents.sizes["slot_height"][i], laid_out.slot_width[i]
        hole, along, *leg = slot.bore
        area = shapely.Polygon(along.section).area
        assert area == pytest.approx(laid_out.vent_area[i], rel=1e-9)
        in_baffle = slot.through == "baffle"
        if in_baffle:
            through = float(np.ptp(hole.section[:2, 0]))
            assert hole.x[1] - hole.x[0] == pytest.approx(width)
        else:
            through = hole.x[1] - hole.x[0]
        run = along.x[1] - along.x[0]
        cut, counted = through + run, through + run - (1.0 - square) * (width if in_baffle else 0.0)
        if leg:
            z = leg[0].section[:, 1]
            turn = float(np.ptp(z))

            def depth(at: float, section: Any = leg[0].section) -> float:
                low, high = section[1, 0] - section[0, 0], section[2, 0] - section[3, 0]
                return float(low + (at - section[0, 1]) / np.ptp(section[:, 1]) * (high - low))

            part, _ = quad(lambda at, depth=depth: 1.0 / depth(at), float(z.min()), float(z.max()))
            cut += turn
            counted += width * part - (1.0 - square) * height
        assert laid_out.vent_length[i] == pytest.approx(cut, rel=1e-9)
        assert laid_out.vent_acoustic_length[i] == pytest.approx(counted, rel=1e-6)
        boards = sum(prism_solid(board).volume() for board in slot.boards)
        assert laid_out.slot_boards[i] == pytest.approx(boards, rel=1e-6)
        effective = laid_out.vent_acoustic_length[i] + laid_out.vent_ends[i]
        tuned = C / (2.0 * math.pi) * math.sqrt(area / (effective * laid_out.net_volume[i]))
        assert tuned == pytest.approx(tuning, rel=1e-8)


def test_the_channel_is_closed_but_for_its_mouths() -> None:
    """Independent implementation: points just off the bore lie in a board or a panel, or before one of its mouths."""
    before_mouths = 0
    for _, _, parts, _ in many(24)[:40]:
        slot = slot_of(parts)
        assert slot
        for piece in slot.bore:
            for point in _just_off(piece):
                if any(_holds(other, point) for other in slot.bore if other is not piece):
                    continue
                beyond = _holds(slot.free_air, point) or not _holds(parts.outer, point)
                assert beyond or any(_holds(wall, point) for wall in (*slot.boards, *panels(parts).values())), (
                    slot,
                    point,
                )
                before_mouths += beyond
    assert before_mouths > 80


def _just_off(piece: Prism) -> Iterator[tuple[float, float, float]]:
    """Points a tenth of a millimetre off the faces of a prism, some on each."""
    outline = shapely.Polygon(piece.section)
    inside, outside = outline.buffer(-1e-4, join_style="mitre"), outline.buffer(1e-4, join_style="mitre")
    for part in (0.01, 0.3, 0.7, 0.99):
        x = piece.x[0] + part * (piece.x[1] - piece.x[0])
        for along in np.linspace(0.01, 0.98, 23):
            point = outside.exterior.interpolate(along, normalized=True)
            yield x, point.x, point.y
    for along in np.linspace(0.0, 0.9, 7):
        point = inside.exterior.interpolate(along, normalized=True)
        for x in (piece.x[0] - 1e-4, piece.x[1] + 1e-4):
            yield x, point.x, point.y


def _holds(piece: Prism, point: tuple[float, float, float]) -> bool:
    x, y, z = point
    return piece.x[0] <= x <= piece.x[1] and shapely.Polygon(piece.section).covers(shapely.Point(y, z))


def test_braces_end_at_the_channel() -> None:
    """User's promise: no brace stands in the slot or in the air before its mouth, and none of them is cut in two."""
    crossed = 0
    for laid_out, _, parts, _ in many(25):
        slot = slot_of(parts)
        assert slot
        for brace in braces(parts):
            plate = prism_solid(brace)
            for piece in (*slot.bore[1:], slot.free_air):
                assert (plate ^ prism_solid(piece)).volume() < 1e-9
            crossed += len(brace.section) == 4 and not np.array_equal(brace.section, parts.inner.section)
            rings = [shapely.Polygon(brace.section, [hole]) for hole in brace.holes]
            assert all(ring.is_valid for ring in rings)
        assert laid_out.brace_count.dtype == np.int64
    assert crossed > 10


def test_a_slot_and_a_cup_share_the_right_side_panel() -> None:
    """User's promise: a cup stands clear of the channel and of what turns up along its panel."""
    laid_out = slotted(tuning=32.0, width=0.4, cup=CUP)
    assert laid_out.slot_turn[0] > 0.0
    assert fitting(laid_out)[0]
    top = BOARD + HEIGHT + laid_out.slot_turn[0] + HEIGHT
    assert laid_out.cup_z[0] - 0.5 * CUP.cutout_diameter >= top + GAP - 1e-9
    straight = slotted(tuning=28.0, cup=CUP)
    assert straight.slot_turn[0] == 0.0
    assert straight.cup_z[0] - 0.5 * CUP.cutout_diameter >= 2.0 * BOARD + HEIGHT + GAP - 1e-9


RULES = ("breathing_gap", "brace_span", "round_over", "cup", "cup_room", "wood")


def test_pipes_and_slots_in_one_batch_are_what_they_are_alone() -> None:
    """Conservation: boxes with pipes, a slot, radiators or nothing do not depend on their neighbours."""
    batch = mixed(400, seed=31, others=True)
    laid_out = batch.layout
    names = laid_out.names
    for row in range(0, 400, 7):
        one = np.array([row])
        things = {name: value[one] for name, value in batch.contents.items()}
        alone = layout(
            laid_out.wedges.take(one),
            {**things, "tuning": batch.tuning[one]},
            free_width=batch.surroundings["free_width"],
            driver_air=batch.surroundings["driver_air"],
            **{name: getattr(laid_out.rules, name) for name in RULES},
        )
        for name in names:
            np.testing.assert_allclose(alone.column(name)[0], laid_out.column(name)[row], rtol=1e-9, err_msg=name)
        for name, slack in alone.slacks.items():
            assert slack[0] == pytest.approx(laid_out.slacks[name][row], abs=1e-12)


def test_impossible_boxes_are_refused_in_numbers() -> None:
    """Conservation: no exception, no warning, no nan; a channel higher or deeper than the box breaks a limit."""
    rng, count = np.random.default_rng(2), 3000
    box = Wedges(
        outer_width=rng.uniform(-0.1, 0.3, count),
        outer_height=rng.uniform(-0.1, 0.4, count),
        top_depth=rng.uniform(-0.2, 0.3, count),
        bottom_depth=rng.uniform(-0.2, 0.3, count),
        board=BOARD,
        back_angle=0.2,
    )
    laid_out = layout(box, among_others(contents(count, seed=9, plain=False), seed=10))
    assert all(np.all(np.isfinite(slack)) for slack in laid_out.slacks.values())
    assert not np.any(fitting(laid_out) & (box.violation > 0.0))
