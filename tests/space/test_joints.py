"""Flanges and screws off joints, elbows with their sockets, room for the plug: hand-worked, and against the solids."""

from __future__ import annotations

import numpy as np
import pytest
import shapely

from engine.facings import DOWN, FRONT, SIDEWAYS
from engine.packing.contents import SCREW_REACH
from engine.packing.placement import BENT
from engine.space import roles
from engine.space.arrangement import bodies_of
from engine.space.solids import exact_check
from engine.space.wedge import Wedges
from tests.space.batches import BOARD, CUP, GAP, among_others, contents, fitting, layout, mixed
from tests.space.singles import cuboid, one_driver
from tests.space.test_ways import PIPE
from tests.space.things import drivers, moved, vents

WOOD = 0.010
FLANGE, HOLE = 0.158, 0.141  # radii of one_driver
SCREWS = 0.5 * (FLANGE + HOLE) + WOOD


@pytest.mark.parametrize(
    ("facing", "edge"),
    [
        # The joint beside the baffle shows at its outer face, and the flange keeps off it.
        (FRONT, BOARD + max(FLANGE, SCREWS, HOLE + GAP)),
        (DOWN, max(FLANGE, BOARD + max(SCREWS, HOLE + GAP))),
        (SIDEWAYS, max(FLANGE, BOARD + max(SCREWS, HOLE + GAP))),
    ],
)
@pytest.mark.parametrize("wood", [WOOD, 0.040])
def test_a_flange_and_its_screws_keep_off_joints(facing: int, edge: float, wood: float) -> None:
    """Analytic limit: what is left of a panel 0.4 m long is 0.4 m less twice the place nearest to its end."""
    box = cuboid(width=0.6, height=0.4, depth=0.4)
    laid_out = layout(box, one_driver(facing=facing), wood=wood)
    edge = edge if wood == WOOD else BOARD + 0.5 * (FLANGE + HOLE) + wood
    assert laid_out.slacks["driver height"][0] == pytest.approx(0.4 - 2.0 * edge)


def test_across_the_width_too() -> None:
    """Analytic limit: a baffle between side panels holds flange and screws; without the rule half a gap is enough."""
    for wood, half in (
        (0.0, FLANGE - 0.5 * (BOARD - GAP)),
        (WOOD, max(FLANGE, SCREWS)),
        (0.03, 0.5 * (FLANGE + HOLE) + 0.03),
    ):
        just = cuboid(width=2.0 * (BOARD + half) + 1e-6)
        assert layout(just, one_driver(), wood=wood).slacks["driver row"][0] == pytest.approx(1e-6, abs=1e-9)


def test_the_solids_notice_a_flange_on_a_joint_and_a_screw_in_one() -> None:
    """Broken on purpose: a driver moved to the side panel until its flange, then its screws, lie on the joint."""
    laid_out = layout(cuboid(width=0.6), one_driver(), wood=WOOD)
    assert fitting(laid_out)[0]
    parts = bodies_of(laid_out, 0)
    assert exact_check(parts, gap=GAP).ok
    for reach, name in ((FLANGE, "the seat of driver 1"), (SCREWS, "the screw circle of driver 1")):
        away = drivers(parts)[0].x - BOARD - reach
        for far, broken in ((-0.0005, False), (0.0005, True)):
            elsewhere = moved(parts, "driver", np.array([-(away + far), 0.0, 0.0]))
            found = exact_check(elsewhere, gap=0.0).broken
            assert any(each.one == name and "panel" in each.other for each in found) is broken


def test_however_thin_a_box_s_end_its_screws_have_room_behind_the_board() -> None:
    """Against the solids: of wedges thinner than 40 mm at an end, those that fit have every screw and 10 mm of wood
    round it clear of back, bottom and top as deep as it reaches; so the least depth need not grow with flanges.
    """
    count, rng = 1500, np.random.default_rng(11)
    thin, deep = rng.uniform(0.045, 0.080, count), rng.uniform(0.25, 0.55, count)
    upside = rng.random(count) < 0.5
    box = Wedges(
        outer_width=rng.uniform(0.5, 1.15, count),
        outer_height=rng.uniform(0.4, 0.7, count),
        top_depth=np.where(upside, deep, thin),
        bottom_depth=np.where(upside, thin, deep),
        board=BOARD,
        back_angle=0.1,
    )
    things = among_others(contents(count, seed=12), seed=13)
    laid_out = layout(box, things, wood=WOOD)
    fits = np.flatnonzero(fitting(laid_out) & (box.thin_end < 0.04))
    assert len(fits) > 100
    for number in fits:
        inside = shapely.Polygon(box.inner_section[number]).buffer(1e-6)
        for body in bodies_of(laid_out, int(number)).of(roles.SCREWS):
            (shape,) = body.frusta
            inward = (shape.end - shape.start) / shape.length
            along = np.array([-inward[2], inward[1]])
            ends = [shape.end[1:] + way * shape.radii[0] * along for way in (-1.0, 1.0)]
            assert inside.covers(shapely.LineString(ends)), (number, body.name)


def test_screws_are_asked_for_only_where_wood_is() -> None:
    """Promise to the user: 0 mm lets flanges lie over joints, and nothing is checked of their screws."""
    parts = bodies_of(layout(cuboid(width=0.6), one_driver(), cup=CUP), 0)
    assert not parts.of(roles.SCREWS, roles.SEAT)
    parts = bodies_of(layout(cuboid(width=0.6), one_driver(), cup=CUP, wood=WOOD), 0)
    assert [body.name for body in parts.of(roles.SCREWS)] == [
        "the screw circle of driver 1", "the screw circle of the terminal cup",
    ]  # fmt: skip
    assert all(body.frusta[0].length == pytest.approx(BOARD + SCREW_REACH) for body in parts.of(roles.SCREWS))


def test_the_plug_has_its_room_beside_the_box() -> None:
    """Conservation: what the plug needs is what a box may be narrower than the space by, and no more."""
    box = cuboid(width=0.6)
    laid_out = layout(box, one_driver(), cup=CUP, cup_room=0.04, free_width=0.65)
    assert laid_out.slacks["cup outside"][0] == pytest.approx(0.01)
    assert layout(box, one_driver(), cup_room=0.04, free_width=0.6).slacks["cup outside"][0] == 1.0
    tight = layout(box, one_driver(), cup=CUP, cup_room=0.04, free_width=0.63)
    assert tight.slacks["cup outside"][0] == pytest.approx(-0.01)
    parts = bodies_of(laid_out, 0)
    assert exact_check(parts, gap=GAP, free_width=0.65).ok
    assert not exact_check(parts, gap=GAP, free_width=0.63).ok


def test_an_elbow_is_as_fat_as_its_sockets() -> None:
    """Analytic limit: a pipe of 70 mm with sockets of 84 mm, 30 mm deep.

    The mouth stands half a socket and a gap off floor and side; the pipe turns 30 mm behind the board; two rings of
    30 mm come off the volume.
    """
    box = cuboid(width=0.8, height=0.5, depth=0.3)
    things = one_driver(**{**PIPE, "elbow_radius": 0.08, "tuning": 17.0})
    plain = layout(box, things, free_width=0.8)
    sockets = {"socket_diameter": np.array([0.084]), "socket_depth": np.array([0.030])}
    fat = layout(box, {**things, **sockets}, free_width=0.8)
    assert fitting(plain)[0]
    assert fitting(fat)[0]
    assert plain.vent_placement[0] == fat.vent_placement[0] == BENT
    assert fat.vent_s[0] - plain.vent_s[0] == pytest.approx(0.5 * (0.084 - things["vent_outer"][0]))
    (pipe,) = fat.sizes.values()
    assert pipe["turn"][0] == pytest.approx(BOARD + 0.030)
    ring = 0.25 * np.pi * (0.084**2 - things["vent_outer"][0] ** 2)
    assert pipe["sockets"][0] == pytest.approx(2.0 * 0.030 * ring)
    parts = bodies_of(fat, 0)
    displaced = {"driver": float(things["driver_displacement"][0])}
    found = exact_check(parts, gap=GAP, free_width=0.8, displacement=displaced)
    assert found.ok
    assert found.net_volume == pytest.approx(fat.net_volume[0], rel=1e-3)
    (own,) = vents(parts)
    assert len(own.shapes(roles.SOCKET)) == 2
    # Longer for the same tuning, since the sockets take volume.
    assert fat.vent_length[0] > plain.vent_length[0]


@pytest.mark.parametrize("seed", [4, 5])
def test_what_is_accepted_keeps_its_distances_as_solids(seed: int) -> None:
    """Independent implementation: random boxes with joints, sockets and plugs, measured by a geometry kernel."""
    batch = mixed(1_500, seed=seed, others=True)
    rows = np.flatnonzero(fitting(batch.layout))[:25]
    assert len(rows) == 25
    for i in rows.tolist():
        found = exact_check(bodies_of(batch.layout, i), **batch.surroundings)
        assert found.ok, found.sentences("metric")
