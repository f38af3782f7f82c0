"""The solids of one design: their shapes against formulas, and a check that notices what is broken on purpose."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest
import trimesh
from hypothesis import given
from hypothesis import strategies as st

from engine.facings import DOWN, FRONT, SIDEWAYS
from engine.packing.placement import BENT, BESIDE, SIDE, STRAIGHT
from engine.space import roles
from engine.space.arrangement import bodies_of
from engine.space.bodies import Assembly, Bend, Body, Frustum, Prism, Thing
from engine.space.solids import (
    FACET,
    TOLERANCE,
    Finding,
    Inspection,
    Measured,
    air_volume,
    bend_solid,
    distance,
    exact_check,
    frustum_solid,
    prism_solid,
)
from tests.space.batches import CUP, FREE_WIDTH, GAP, boxes, contents, fitting, layout
from tests.space.things import braces, changed, cup, drivers, moved, shift, supports, vents

X, Y, Z = np.eye(3)
FACETS = 2.0 * FACET  # m, between two round things, at most


def cylinder(start: Any, end: Any, radius: float) -> Measured:
    tube = Frustum(start=np.array(start, dtype=float), end=np.array(end, dtype=float), radii=(radius, radius))
    return thing("tube", (tube,))


def thing(name: str, shapes: tuple[Any, ...]) -> Measured:
    return Measured(Body(name=name, role=roles.BLOCK, thing=Thing("block"), shapes=shapes), shapes)


def block(y: tuple[float, float], z: tuple[float, float], x: tuple[float, float] = (0.0, 1.0)) -> Prism:
    section = np.array([[y[0], z[0]], [y[1], z[0]], [y[1], z[1]], [y[0], z[1]]])
    return Prism(section=section, x=x)


def quarter(*, radius: float, tube: float) -> Bend:
    return Bend(centre=np.zeros(3), first=-X, last=Z, radius=radius, tube_radius=tube)


# Shapes


@given(st.floats(0.02, 0.3), st.floats(0.02, 0.3), st.floats(0.01, 0.5))
def test_a_frustum_has_the_volume_of_the_formula(one: float, other: float, length: float) -> None:
    """Analytic limit: π·l·(R² + R·r + r²)/3; the facets lie outside, by no more than their own measure."""
    solid = frustum_solid(Frustum(start=np.zeros(3), end=length * (X + Y) / math.sqrt(2.0), radii=(one, other)))
    exact = math.pi * length * (one**2 + one * other + other**2) / 3.0
    largest = max(one, other)
    assert (
        exact * (1.0 - 1e-9)
        <= solid.volume()
        <= exact * (1.0 + 2.5 * FACET / min(one, other) * largest / min(one, other))
    )


def test_round_things_stay_within_a_facet_of_the_true_shape() -> None:
    """Proof of the stated bound: corners of a cylinder stand off its true surface by at most ``FACET``, outward."""
    for radius in (0.005, 0.026, 0.057, 0.158, 0.25):
        solid = frustum_solid(Frustum(start=np.zeros(3), end=X, radii=(radius, radius)))
        corners = np.asarray(solid.to_mesh64().vert_properties)[:, 1:3]
        off = np.hypot(*corners.T) - radius
        assert np.all((off > 0.0) & (off <= 1.01 * FACET))
    assert 2.0 * FACET < TOLERANCE


def test_a_prism_with_holes_has_the_volume_of_its_section() -> None:
    """Analytic limit: area of the section less that of the holes, times the length."""
    plate = block((0.1, 0.5), (0.0, 0.3), (0.2, 0.218))
    window = np.array([[0.2, 0.1], [0.3, 0.1], [0.3, 0.2], [0.2, 0.2]])
    solid = prism_solid(replace(plate, holes=(window,)))
    assert solid.volume() == pytest.approx((0.4 * 0.3 - 0.01) * 0.018, rel=1e-7)
    np.testing.assert_allclose(solid.bounding_box(), (0.2, 0.1, 0.0, 0.218, 0.5, 0.3), atol=1e-7)


@given(st.floats(0.02, 0.06), st.floats(1.1, 3.0))
def test_a_bend_has_the_volume_of_pappus(tube: float, ratio: float) -> None:
    """Published: Pappus' theorem, area of the tube times the length of the path of its centre, π·r²·π/2·R."""
    solid = bend_solid(quarter(radius=ratio * tube, tube=tube))
    exact = math.pi * tube**2 * 0.5 * math.pi * ratio * tube
    assert solid.volume() == pytest.approx(exact, rel=4.0 * FACET / tube)


def test_a_bend_starts_and_ends_where_it_says() -> None:
    """Analytic limit: the ends of a quarter bend from -x to z lie square to x and to z."""
    low = np.array(bend_solid(quarter(radius=0.1, tube=0.03)).bounding_box())
    np.testing.assert_allclose(low, (-0.13, -0.03, 0.0, 0.0, 0.03, 0.13), atol=FACETS)


def test_trimesh_finds_the_same_volumes() -> None:
    """Independent implementation: trimesh, from the same kind of primitive and from the bend's own mesh."""
    ours = frustum_solid(Frustum(start=np.zeros(3), end=0.3 * Z, radii=(0.05, 0.05)))
    theirs = trimesh.creation.cylinder(radius=0.05, height=0.3, sections=720)
    assert ours.volume() == pytest.approx(theirs.volume, rel=1e-3)
    torus = trimesh.creation.torus(major_radius=0.1, minor_radius=0.03, major_sections=400, minor_sections=200)
    assert 4.0 * bend_solid(quarter(radius=0.1, tube=0.03)).volume() == pytest.approx(torus.volume, rel=1e-3)
    mesh = bend_solid(quarter(radius=0.1, tube=0.03)).to_mesh64()
    assert trimesh.Trimesh(np.asarray(mesh.vert_properties)[:, :3], np.asarray(mesh.tri_verts)).is_watertight


# Distances


def test_distance_of_a_cylinder_from_a_plane() -> None:
    """Analytic limit: height of the axis less the radius, however the cylinder is turned about its axis."""
    floor = thing("floor", (block((-1.0, 1.0), (-0.1, 0.0)),))
    for turn in np.linspace(0.0, 1.0, 7):
        along = np.array([math.cos(turn), math.sin(turn), 0.0])
        tube = cylinder(0.5 * X + 0.08 * Z, 0.5 * X + 0.08 * Z + 0.3 * along, 0.05)
        assert distance(tube, floor, at_most=0.1) == pytest.approx(0.03, abs=FACETS)
        assert distance(tube, floor, at_most=0.1) <= 0.03 + 1e-9


@given(st.floats(0.0, 1.5), st.floats(0.0, 0.04))
def test_distance_of_crossing_and_parallel_cylinders(angle: float, apart: float) -> None:
    """Analytic limit: least distance of the axes less both radii, at any angle between them."""
    along = np.array([math.cos(angle), math.sin(angle), 0.0])
    one = cylinder(-0.3 * X, 0.3 * X, 0.05)
    other = cylinder((0.08 + apart) * Z - 0.3 * along, (0.08 + apart) * Z + 0.3 * along, 0.03)
    assert distance(one, other, at_most=0.1) == pytest.approx(apart, abs=2.0 * FACETS)


def test_distance_of_a_bend_from_planes() -> None:
    """Analytic limit: the outside of a bend is R + r from its centre, the inside R - r."""
    elbow = thing("elbow", (quarter(radius=0.1, tube=0.03),))
    wall = thing("wall", (block((-1.0, 1.0), (-1.0, 1.0), (-0.3, -0.15)),))
    rod = cylinder(-Y, Y, 0.02)
    assert distance(elbow, wall, at_most=0.1) == pytest.approx(0.02, abs=FACETS)
    assert distance(elbow, rod, at_most=0.1) == pytest.approx(0.05, abs=FACETS)


def test_distance_looks_no_further_than_it_is_told_and_is_negative_in_one_place() -> None:
    """Conservation: far apart gives the limit; sharing a place gives less than 0, by about its thickness."""
    floor = thing("floor", (block((-1.0, 1.0), (-0.1, 0.0)),))
    assert distance(thing("far", (block((0.0, 0.1), (0.3, 0.4)),)), floor, at_most=0.01) == 0.01
    sunk = thing("sunk", (block((0.0, 0.1), (-0.002, 0.1)),))
    assert distance(sunk, floor, at_most=0.01) == pytest.approx(-0.002, rel=0.05)
    laid = thing("laid", (block((0.0, 0.1), (0.0, 0.1)),))
    assert distance(laid, floor, at_most=0.01) == pytest.approx(0.0, abs=1e-9)
    both = thing("both", (*laid.shapes, *sunk.shapes))
    assert distance(both, floor, at_most=0.01) == distance(sunk, floor, at_most=0.01)


# The check of a design


@cache
def sound(facing: int, placement: int, where: int, braces: int = 0, supports: int = 0, cup: bool = True) -> Assembly:
    """An accepted design of one kind, with at least so many braces and supports."""
    count = 20_000
    laid_out = layout(
        boxes(count, seed=51), contents(count, seed=52, plain=False), cup=CUP if cup else None, round_over=0.006
    )
    kind = (laid_out.contents.driver("facing") == facing) & (laid_out.vent_placement == placement)
    kind &= (laid_out.vent_where == where) & (laid_out.brace_count >= braces) & (laid_out.support_count >= supports)
    kind &= (laid_out.contents.driver("number") >= 2) & ~np.isnan(laid_out.contents.driver("terminal_depth"))
    kind &= (laid_out.contents.sizes["vent_count"] >= 2) & (laid_out.contents.driver("rear_gap") > 0.0)
    return bodies_of(laid_out, int(np.flatnonzero(kind & fitting(laid_out))[0]))


def inspect(parts: Assembly, **changes: Any) -> Inspection:
    return exact_check(parts, **{"gap": GAP, "round_over": 0.006, "free_width": FREE_WIDTH, **changes})


def shift_all(shapes: tuple[Any, ...], by: Any) -> tuple[Any, ...]:
    return tuple(shift(shape, by) for shape in shapes)


def longer(tube: Frustum, by: float) -> Frustum:
    return replace(tube, end=tube.end + by * (tube.end - tube.start) / np.linalg.norm(tube.end - tube.start))


def first_driver(parts: Assembly, **changes: Any) -> Assembly:
    return changed(parts, "driver", **changes)


def first_vent(parts: Assembly, **changes: Any) -> Assembly:
    return changed(parts, "pipe", **changes)


def to(things: Any, target: Any) -> Any:
    """The way from the first of some round things to another."""
    return np.asarray(target) - 0.5 * (things.start + things.end)


Break = Callable[[Assembly], Assembly]
LOW_SIDE = {"facing": FRONT, "placement": SIDE, "where": 1, "braces": 1}
IN_BAFFLE = {"facing": FRONT, "placement": STRAIGHT, "where": BESIDE}


def near_bottom(parts: Assembly) -> Assembly:
    driver = drivers(parts)[0]
    return first_driver(parts, body=shift_all(driver.body, -driver.body[0].start[2] * Z))


def outside(parts: Assembly) -> Assembly:
    driver = drivers(parts)[0]
    return first_driver(parts, body=shift_all(driver.body, 3.0 * Y))


def beside_next(parts: Assembly) -> Assembly:
    one, other = drivers(parts)[:2]
    return first_driver(
        parts, body=shift_all(one.body, to(one.body[0], 0.5 * (other.body[0].start + other.body[0].end)))
    )


def flange_by_flange(parts: Assembly) -> Assembly:
    one, other = drivers(parts)[:2]
    apart = float(np.linalg.norm(other.flange.end - one.flange.end))
    return first_driver(parts, flange=replace(one.flange, radii=(apart - other.flange.radii[0] - 0.5 * GAP,) * 2))


def long_pipe(parts: Assembly) -> Assembly:
    (pipe,) = vents(parts)[0].pipe
    assert isinstance(pipe, Frustum)
    return first_vent(parts, pipe=(longer(pipe, parts.inner.x[1] - pipe.end[0] - 0.5 * GAP),))


def pipe_by_pipe(parts: Assembly) -> Assembly:
    one, other = (vent.pipe[0] for vent in vents(parts)[:2])
    assert isinstance(one, Frustum)
    assert isinstance(other, Frustum)
    way = other.start - one.start
    gap = np.linalg.norm(way) - one.radii[0] - other.radii[0]
    return first_vent(parts, pipe=(shift(one, way / np.linalg.norm(way) * (gap - 0.5 * GAP)),))


def brace_by_driver(parts: Assembly) -> Assembly:
    brace = braces(parts)[0]
    x = drivers(parts)[0].x
    return changed(parts, "brace", brace=replace(brace, x=(x, x + brace.x[1] - brace.x[0])))


def flange_over_mouth(parts: Assembly) -> Assembly:
    flange = drivers(parts)[0].flange
    apart = min(float(np.linalg.norm(vent.mouth - flange.end)) - vent.radius for vent in vents(parts))
    return first_driver(parts, flange=replace(flange, radii=(apart - 0.5 * GAP,) * 2))


def with_cup(parts: Assembly, by: Any = (0.0, 0.0, 0.0), deeper: float = 0.0) -> Assembly:
    """The cup moved, hole and all, and so much deeper."""
    elsewhere = moved(parts, "cup", by)
    return changed(elsewhere, "cup", body=longer(cup(elsewhere).body, deeper))


def cup_at(parts: Assembly, target: Any) -> Assembly:
    by = np.asarray(target) - cup(parts).body.start
    return with_cup(parts, (0.0, by[1], by[2]), deeper=float(abs(by[0])))


def cup_flange_by_driver(parts: Assembly) -> Assembly:
    flange, other = cup(parts).flange, drivers(parts)[0].flange
    apart = float(np.linalg.norm(flange.end - other.end))
    return changed(parts, "cup", flange=replace(flange, radii=(apart - other.radii[0] - 0.5 * GAP,) * 2))


def support_by(target: Callable[[Assembly], Any]) -> Break:
    def elsewhere(parts: Assembly) -> Assembly:
        support = supports(parts)[0]
        centre = np.array([0.5 * sum(support.x), *support.section.mean(axis=0)])
        return moved(parts, "block", np.asarray(target(parts)) - centre)

    return elsewhere


BROKEN: dict[str, tuple[dict[str, int], Break, tuple[str, str]]] = {
    "a driver by a panel": (LOW_SIDE, near_bottom, ("driver 1", "the bottom panel")),
    "a driver out of the box": (LOW_SIDE, outside, ("driver 1", "the inside of the box")),
    "a driver by a driver": (LOW_SIDE, beside_next, ("driver 1", "driver 2")),
    "a driver by a brace": (LOW_SIDE, brace_by_driver, ("driver 1", "brace 1")),
    "a driver by a vent": (
        LOW_SIDE,
        lambda parts: first_driver(
            parts,
            body=shift_all(
                drivers(parts)[0].body, to(drivers(parts)[0].body[-1], vents(parts)[0].inner_mouth - GAP * X)
            ),
        ),
        ("driver 1", "vent 1"),
    ),
    "a driver in the air of a vent": (
        LOW_SIDE,
        lambda parts: first_driver(
            parts, body=shift_all(drivers(parts)[0].body, to(drivers(parts)[0].body[-1], vents(parts)[0].free_air.end))
        ),
        ("the air before vent 1", "driver 1"),
    ),
    "flanges side by side": (LOW_SIDE, flange_by_flange, ("the flange of driver 1", "the flange of driver 2")),
    "a flange over the edge": (
        LOW_SIDE,
        lambda parts: first_driver(parts, flange=replace(drivers(parts)[0].flange, radii=(0.4, 0.4))),
        ("the flange of driver 1", "the edge of the baffle panel"),
    ),
    "a flange over a mouth": (IN_BAFFLE, flange_over_mouth, ("the flange of driver 1", "vent")),
    "a cut-out out of its panel": (
        LOW_SIDE,
        lambda parts: first_driver(parts, cutout=replace(drivers(parts)[0].cutout, radii=(0.4, 0.4))),
        ("the cut-out of driver 1", "the baffle panel"),
    ),
    "air behind a magnet that meets the back": (
        LOW_SIDE,
        lambda parts: first_driver(parts, rear_air=longer(drivers(parts)[0].frustum(roles.REAR_AIR), 0.5)),
        ("the air behind driver 1", "the back panel"),
    ),
    "terminals by a brace": (
        LOW_SIDE,
        lambda parts: first_driver(
            parts, terminals=shift(drivers(parts)[0].terminals, (braces(parts)[0].x[0] - drivers(parts)[0].x) * X)
        ),
        ("the terminals of driver 1", "brace 1"),
    ),
    "terminals in the next driver": (
        LOW_SIDE,
        lambda parts: first_driver(
            parts, terminals=shift(drivers(parts)[0].terminals, (drivers(parts)[1].x - drivers(parts)[0].x) * X)
        ),
        ("driver 2", "the terminals of driver 1"),
    ),
    "a pipe too long": (LOW_SIDE, long_pipe, ("vent 1", "the right side panel")),
    "a pipe by a pipe": (LOW_SIDE, pipe_by_pipe, ("vent 1", "vent 2")),
    "air before a mouth that meets the far side": (
        LOW_SIDE,
        lambda parts: first_vent(parts, free_air=longer(vents(parts)[0].free_air, 1.0)),
        ("the air before vent 1", "the right side panel"),
    ),
    "a mouth over the edge": (
        IN_BAFFLE,
        lambda parts: moved(parts, "pipe", (vents(parts)[0].radius - vents(parts)[0].mouth[0]) * X),
        ("the mouth of vent 1", "the edge of the baffle panel"),
    ),
    "a vent's hole out of its panel": (
        IN_BAFFLE,
        lambda parts: moved(parts, "pipe", -vents(parts)[0].mouth[0] * X),
        ("the hole for vent 1", "the baffle panel"),
    ),
    "a straight pipe by a brace": (
        {**IN_BAFFLE, "braces": 1},
        lambda parts: moved(parts, "brace", (vents(parts)[0].mouth[0] - braces(parts)[0].x[0]) * X),
        ("vent 1", "brace 1"),
    ),
    "an elbow by the left side": (
        {"facing": FRONT, "placement": BENT, "where": BESIDE},
        lambda parts: first_vent(parts, pipe=shift_all(vents(parts)[0].pipe, -0.5 * GAP * X)),
        ("vent 1", "the left side panel"),
    ),
    "a brace without a hole for the pipe": (
        {**LOW_SIDE, "supports": 1},
        lambda parts: changed(parts, "brace", brace=replace(braces(parts)[0], holes=())),
        ("vent 1", "brace 1"),
    ),
    "a brace that leaves the box": (
        LOW_SIDE,
        lambda parts: moved(parts, "brace", 0.002 * Y),
        ("brace 1", "the inside of the box"),
    ),
    "a support by a driver": (
        {**LOW_SIDE, "supports": 1},
        support_by(lambda parts: drivers(parts)[0].body[-1].end),
        ("driver 1", "support 1"),
    ),
    "a support in a strange pipe": (
        {**LOW_SIDE, "supports": 1},
        support_by(lambda parts: 0.5 * (vents(parts)[1].mouth + vents(parts)[1].inner_mouth)),
        ("vent 2", "support 1"),
    ),
    "a support in a brace": (
        {**LOW_SIDE, "supports": 1},
        lambda parts: moved(parts, "block", (braces(parts)[0].x[0] + 0.004 - supports(parts)[0].x[0]) * X),
        ("brace 1", "support 1"),
    ),
    "a cup by a vent": (
        LOW_SIDE,
        lambda parts: cup_at(parts, vents(parts)[0].inner_mouth - 0.05 * X),
        ("vent 1", "the terminal cup"),
    ),
    "a cup by a driver": (
        LOW_SIDE,
        lambda parts: cup_at(parts, drivers(parts)[-1].body[-1].end),
        ("driver 2", "the terminal cup"),
    ),
    "a cup by a panel": (LOW_SIDE, lambda parts: with_cup(parts, -0.08 * Z), ("the terminal cup", "the bottom panel")),
    "a cup by a brace": (
        LOW_SIDE,
        lambda parts: with_cup(parts, deeper=parts.outer.x[1] - braces(parts)[-1].x[1] - CUP.depth - 0.5 * GAP),
        ("the terminal cup", "brace"),
    ),
    "a cup's hole out of the panel": (
        LOW_SIDE,
        lambda parts: with_cup(parts, -0.5 * Y),
        ("the hole for the terminal cup", "the right side panel"),
    ),
    "a cup's flange over the edge": (
        LOW_SIDE,
        lambda parts: with_cup(parts, -0.5 * Y),
        ("the flange of the terminal cup", "the edge of the right side panel"),
    ),
    "a cup's flange by a driver's": (
        {"facing": SIDEWAYS, "placement": STRAIGHT, "where": BESIDE},
        cup_flange_by_driver,
        ("the flange of driver 1", "the flange of the terminal cup"),
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_broken_on_purpose_is_found(name: str) -> None:
    """Proof that the check can fail: a sound design has one thing moved, and that is what the check says."""
    kind, change, (one, other) = BROKEN[name]
    parts = sound(**kind)
    assert inspect(parts).ok
    broken = inspect(change(parts)).broken
    assert any(finding.one == one and finding.other.startswith(other) for finding in broken)


def test_more_gap_rounding_or_air_than_there_is_are_found() -> None:
    """Proof that the check can fail: it goes by the rules it is given."""
    parts = sound(**LOW_SIDE)
    assert not inspect(parts, gap=0.05).ok
    assert {finding.other for finding in inspect(parts, round_over=0.1).broken} >= {"the edge of the left side panel"}
    bore = vents(parts)[0].bore[0]
    assert isinstance(bore, Frustum)
    needed = parts.outer.x[1] + 2.0 * bore.radii[0]
    assert inspect(parts, free_width=needed + 1e-6).ok
    (short,) = inspect(parts, free_width=needed - 0.001).broken
    assert short.measured == pytest.approx(-0.001, abs=1e-9)
    beside = sound(facing=SIDEWAYS, placement=STRAIGHT, where=BESIDE)
    assert inspect(beside, driver_air=FREE_WIDTH - beside.outer.x[1] - 1e-6).ok
    assert not inspect(beside, driver_air=FREE_WIDTH - beside.outer.x[1] + 1e-3).ok


def test_every_rule_that_measures_something_has_been_broken() -> None:
    """Guards the evidence: each kind of finding a design can have is among those broken on purpose."""

    def kind(one: str, other: str) -> tuple[str, str]:
        plain = [" ".join(word for word in text.split() if not word.isdigit()) for text in (one, other)]
        panels = ("left side", "right side", "bottom", "top", "back", "baffle")
        for panel in panels:
            plain = [text.replace(f"the {panel} panel", "a panel") for text in plain]
        return plain[0], plain[1]

    broken = {kind(*pair) for _, _, pair in BROKEN.values()}
    solid_things = {"driver", "vent", "brace", "support", "the terminal cup"}
    found = set()
    for facing, placement, where in (
        (FRONT, SIDE, 1),
        (DOWN, SIDE, 1),
        (SIDEWAYS, STRAIGHT, BESIDE),
        (FRONT, BENT, BESIDE),
    ):
        for finding in inspect(sound(facing=facing, placement=placement, where=where)).findings:
            one, other = kind(finding.one, finding.other)
            if finding.required > 0.0 and one in solid_things:
                found.add((one, other))
    assert found <= broken | {("the terminal cup", "support")}


def test_sentences_give_both_figures_in_the_reader_s_units() -> None:
    """User's promise: what is too near, how near it is and how near it may be; worst first."""
    near = Finding("driver 1", "vent 2", 0.010, 0.0063)
    assert near.sentence("metric") == "driver 1 and vent 2 are 6.3 mm apart; 10.0 mm are needed"
    assert near.sentence("us") == "driver 1 and vent 2 are 0.25 in apart; 0.39 in are needed"
    same = Finding("driver 1", "brace 2", 0.010, -0.02)
    assert same.sentence("metric") == "driver 1 and brace 2 are in the same place; 10.0 mm between them are needed"
    out = Finding("vent 1", "the inside of the box", 0.0, -0.004, inside=True)
    assert out.sentence("metric") == "vent 1 sticks out of the inside of the box by 4.0 mm"
    edge = Finding("the flange of driver 1", "the edge of the baffle panel", 0.006, 0.002, inside=True)
    assert edge.sentence("metric").endswith("keeps 2.0 mm to the edge of the baffle panel; 6.0 mm are needed")
    kept = Finding("vent 1", "vent 2", 0.010, 0.010 - 0.9 * TOLERANCE)
    inspection = Inspection((near, kept, same), 0.05, (0.05,))
    assert not inspection.ok
    assert min(finding.margin for finding in inspection.findings) == pytest.approx(-0.03)
    assert inspection.sentences("metric") == [same.sentence("metric"), near.sentence("metric")]
    apart = Inspection((), 0.05, (0.03, 0.02))
    assert not apart.ok
    assert apart.sentences("metric") == ["the air in the box is in 2 parts, 30.0 L and 20.0 L"]


def test_air_with_the_stated_displacement_differs_by_the_driver_alone() -> None:
    """Conservation: the drivers' solids and what the data sheet says of them are exchanged, nothing else."""
    parts = sound(**LOW_SIDE)
    bodies = sum(frustum_solid(piece).volume() for driver in drivers(parts) for piece in driver.body)
    stated = 0.003
    left = air_volume(parts, displacement={"driver": stated}) + stated * len(drivers(parts))
    assert left == pytest.approx(air_volume(parts) + bodies, rel=1e-9)
    assert inspect(parts, displacement={"driver": stated}).net_volume == air_volume(
        parts, displacement={"driver": stated}
    )
