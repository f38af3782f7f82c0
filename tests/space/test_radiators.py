"""Passive radiators beside the drivers: their places along the panel and across the width."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
import shapely

from engine.facings import DOWN, FACINGS, FRONT, SIDEWAYS
from engine.space.arrangement import bodies_of
from engine.space.layout import Layout
from engine.space.wedge import Wedges
from tests.space.batches import BOARD, CUP, GAP, SPAN, among_others, boxes, contents, fitting, layout, mixed
from tests.space.singles import beyond, cuboid, frame, one_driver, set_at
from tests.space.things import braces, drivers, radiators

RADIATOR = {"radiator_outer": 0.212, "radiator_cutout": 0.184, "radiator_depth": 0.08, "radiator_displacement": 0.0013}
SMALL = {"outer_diameter": 0.2, "cutout_diameter": 0.18, "magnet_diameter": 0.1, "mounting_depth": 0.09}


def with_radiators(count: float, *, width: float, facing: int = FRONT, **changes: Any) -> Layout:
    drivers = changes.pop("driver_count", 1.0)
    things = one_driver(**SMALL, **RADIATOR, radiator_count=count, driver_count=drivers, facing=facing)
    return layout(cuboid(width=width, height=0.4, depth=0.3), things, **changes)


@pytest.mark.parametrize(
    ("name", "room"),
    [
        ("radiator height", 0.4 - 2.0 * (BOARD + GAP) - 0.184),
        ("radiator depth", 0.3 - BOARD - GAP - 0.08),
    ],
)
def test_room_in_a_cuboid_is_a_difference_of_lengths(name: str, room: float) -> None:
    """Analytic limit: the body keeps the gap to bottom, top and back."""
    assert with_radiators(1.0, width=0.45).slacks[name][0] == pytest.approx(room)
    assert layout(cuboid(), one_driver()).slacks[name][0] == 1.0


# Half widths from the centre to the end of a bay: body and gap, or half of what flanges need across a brace.
HALF = max(0.5 * 0.184 + GAP, 0.5 * 0.212 + 0.5 * (GAP - BOARD))
DRIVER_HALF = max(0.5 * 0.18 + GAP, 0.5 * 0.2 + 0.5 * (GAP - BOARD))


@pytest.mark.parametrize(
    ("count", "drivers", "inner", "braces", "need"),
    [
        # In one bay: halves at the ends, flanges a gap apart between.
        (1.0, 1.0, 0.399, 0, HALF + 0.5 * (0.212 + 0.2) + GAP + DRIVER_HALF),
        # Wider than the span: a brace between radiators and driver.
        (1.0, 1.0, 0.5, 1, 2.0 * HALF + 2.0 * DRIVER_HALF + BOARD),
        # Two radiators do not share a bay of 0.4 m with room at both ends, but for the gap between their flanges.
        (2.0, 1.0, 0.7, 2, 4.0 * HALF + 2.0 * DRIVER_HALF + 2.0 * BOARD),
        (1.0, 2.0, 0.7, 2, 2.0 * HALF + 4.0 * DRIVER_HALF + 2.0 * BOARD),
    ],
)
def test_the_row_adds_up(count: float, drivers: float, inner: float, braces: int, need: float) -> None:
    """Analytic limit: widths side by side in a box without slant."""
    laid_out = with_radiators(count, width=inner + 2.0 * BOARD, driver_count=drivers)
    assert laid_out.brace_count[0] == braces
    assert laid_out.slacks["radiator row"][0] == pytest.approx(inner - need)
    assert laid_out.slacks["driver row"][0] >= laid_out.slacks["radiator row"][0]


@pytest.mark.parametrize("facing", range(len(FACINGS)), ids=FACINGS)
def test_a_row_without_room_to_spare_is_as_exact_as_its_slack(facing: int) -> None:
    """Analytic limit: with the width cut down to what is needed, the solids touch their clearances and no more."""
    wide = with_radiators(2.0, width=0.9, facing=facing)
    assert fitting(wide)[0]
    width = 0.9 - wide.slacks["radiator row"][0]
    tight = with_radiators(2.0, width=width + 1e-9, facing=facing)
    while tight.brace_count[0] != wide.brace_count[0]:
        wide, width = tight, width - tight.slacks["radiator row"][0]
        tight = with_radiators(2.0, width=width + 1e-9, facing=facing)
    assert tight.slacks["radiator row"][0] == pytest.approx(0.0, abs=1e-6)
    parts = bodies_of(tight, 0)
    x = [radiator.x for radiator in radiators(parts)]
    assert x[0] >= BOARD + 0.092 + GAP - 1e-6
    assert np.all(np.diff(x) >= 0.212 + GAP - 1e-6)
    if facing != SIDEWAYS:
        assert drivers(parts)[0].x <= width - BOARD - 0.09 - GAP + 1e-6


def test_places_are_those_a_scan_finds() -> None:
    """Independent implementation: the body's section slid along the panel and measured with shapely."""
    count = 150
    box = boxes(count, seed=71)
    things = among_others(contents(count, seed=72, plain=False), seed=73)
    things = {**things, "vent_count": np.zeros(count), "radiator_count": np.ones(count)}
    laid_out = layout(box, things)
    slack = np.minimum(laid_out.slacks["radiator height"], laid_out.slacks["radiator depth"])
    sound = box.violation < -0.02
    assert 0.1 < (slack[sound] >= 0.0).mean() < 0.95
    for row in map(int, np.flatnonzero(sound & (np.abs(slack) > 2e-3))):
        facing = int(things["facing"][row])
        s = places_in(box, things, row, facing=facing)
        if slack[row] < 0.0:
            assert not s.size
        else:
            middle = 0.5 * frame(box, row, facing)[3]
            nearest = s[np.argmin(np.abs(s - middle))]
            assert laid_out.radiator_s[row] == pytest.approx(nearest, abs=2e-3)


def places_in(box: Wedges, things: dict[str, Any], row: int, *, facing: int) -> Any:
    origin, along, inward, length, others = frame(box, row, facing)
    flange, hole = (0.5 * things[f"radiator_{size}"][row] for size in ("outer", "cutout"))
    deep = things["radiator_depth"][row]
    if length < 2.0 * flange:
        return np.zeros(0)
    s = np.linspace(flange, length - flange, 600)
    outline = np.array([(hole, 0.0), (hole, deep), (-hole, deep), (-hole, 0.0)])
    sections = set_at(outline, s, origin, along, inward)
    kept = np.ones(len(s), dtype=bool)
    for panel in others:
        kept &= shapely.distance(sections, beyond(box, row, panel)) >= GAP
    return s[kept]


def test_radiators_stand_left_of_the_drivers_and_take_their_volume() -> None:
    """User's promise, and conservation: the volume is that of the box less what each thing takes."""
    seen = set()
    for seed in range(80, 88):
        batch = mixed(1500, seed=seed, others=True)
        laid_out, things = batch.layout, batch.layout.contents
        rows = np.flatnonzero(fitting(laid_out) & (things.sizes["radiator_count"] > 0.0))
        for i in rows[:25].tolist():
            parts = bodies_of(laid_out, i)
            facing = int(things.driver("facing")[i])
            seen.add((facing, len(radiators(parts)), len(drivers(parts))))
            assert all(radiator.panel == ("bottom" if facing == DOWN else "baffle") for radiator in radiators(parts))
            right = max(radiator.x + radiator.cutout.radii[0] for radiator in radiators(parts))
            for driver in drivers(parts):
                assert right < (driver.x - driver.cutout.radii[0] if facing != SIDEWAYS else driver.body[-1].end[0])
            cup = laid_out.rules.cup
            behind = max(cup.depth - laid_out.wedges.board, 0.0) if cup else 0.0
            left = laid_out.wedges.gross_volume[i] - laid_out.brace_volume[i]
            left -= things.driver("number")[i] * things.driver("displacement")[i]
            left -= things.sizes["radiator_count"][i] * things.sizes["radiator_displacement"][i]
            left -= 0.25 * np.pi * cup.cutout_diameter**2 * behind if cup else 0.0
            assert laid_out.net_volume[i] == pytest.approx(left, rel=1e-12)
    assert {facing for facing, _, _ in seen} == {FRONT, DOWN, SIDEWAYS}
    assert {count for _, count, _ in seen} == {1, 2, 3}


def test_a_cup_and_an_unbraced_panel_count_as_ever() -> None:
    """Conservation: where the end of the width is kept for the cup, the row is as much shorter."""
    plain = with_radiators(2.0, width=0.9)
    kept = with_radiators(2.0, width=0.9, cup=CUP)
    assert fitting(plain)[0]
    assert fitting(kept)[0]
    parts = bodies_of(plain, 0)
    ends = [parts.inner.x[0], *(x for brace in braces(parts) for x in brace.x), parts.inner.x[1]]
    assert max(np.diff(ends)[::2]) <= SPAN + 1e-9
