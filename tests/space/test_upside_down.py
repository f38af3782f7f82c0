"""Boxes whose drivers face up: the mirror images of boxes whose drivers face down, and what is above them."""

from __future__ import annotations

from dataclasses import fields
from functools import cache

import numpy as np
import pytest
import shapely

from engine.facings import DOWN, UP
from engine.openings import OPENINGS
from engine.parts import KeepOut, Space
from engine.space import roles
from engine.space.arrangement import bodies_of
from engine.space.bodies import outer_corners
from engine.space.envelope import Envelope
from engine.space.free import MITRE_LIMIT
from engine.space.layout import Layout
from engine.space.ports import ports_of
from engine.space.solids import air_volume, exact_check
from engine.space.wedge import Wedges
from tests.space.batches import Mixed, fitting, layout, mixed
from tests.space.spaces import SPACES, boxes_for, placed

COUNT = 600


@cache
def both() -> tuple[tuple[Mixed, Layout], ...]:
    """Random boxes with drivers facing down, and the same ones on their heads with drivers facing up."""
    found = []
    for seed in (911, 912, 913):
        down = mixed(COUNT, seed=seed, facing=DOWN, others=seed < 913, long_slots=seed == 913)
        rules = {each.name: getattr(down.layout.rules, each.name) for each in fields(down.layout.rules)}
        air = {name: down.surroundings[name] for name in ("free_width", "driver_air")}
        things = {**down.contents, "tuning": down.tuning, "facing": np.full(COUNT, UP)}
        found.append((down, layout(down.layout.wedges.upside_down, things, **rules, **air)))
    return tuple(found)


def test_drivers_that_face_up_are_packed_as_those_that_face_down_in_the_mirror() -> None:
    """Conservation: every figure of the packing, every place across, the air inside and its ports, to the last bit."""
    for down, up in both():
        for name in up.packed.dtype.names:
            np.testing.assert_array_equal(up.packed[name], down.layout.packed[name])
        for name in ("column_x", "brace_x", "opening_x"):
            np.testing.assert_array_equal(getattr(up.across, name), getattr(down.layout.across, name))
        (air, ports), (its_air, its_ports) = ports_of(up), ports_of(down.layout)
        for each in fields(air):
            np.testing.assert_array_equal(getattr(air, each.name), getattr(its_air, each.name))
        for mine, its in zip(ports, its_ports, strict=True):
            np.testing.assert_array_equal(mine, its)


def test_their_solids_keep_every_distance_and_are_the_mirror_image() -> None:
    """Independent implementation: manifold3d measures every gap of boxes that stand as they will be built.

    Conservation: volumes, names and panels, bottom and top changed places.
    """
    seen: dict[tuple[int, int], int] = {}
    for down, up in both():
        for i in np.flatnonzero(fitting(up)).tolist():
            kind = int(up.opening[i]), int(up.vent_placement[i])
            seen[kind] = seen.get(kind, 0) + 1
            if seen[kind] > 6:
                continue
            parts, mirrored = bodies_of(up, i), bodies_of(down.layout, i)
            found = exact_check(parts, **down.surroundings)
            assert found.ok, (kind, i, found.sentences("metric"))
            assert found.net_volume == pytest.approx(up.net_volume[i], rel=1e-3)
            assert air_volume(parts) == pytest.approx(air_volume(mirrored), rel=1e-6)
            assert {body.name for body in parts.bodies} == {body.name for body in mirrored.bodies}
            cutouts = parts.of(roles.CUTOUT)
            assert {body.panel for body in cutouts} == {"top"}
            height = up.wedges.outer_height[i]
            for hole in (body.frusta[0] for body in cutouts):
                assert hole.start[2] == pytest.approx(height, abs=1e-12)
                assert hole.end[2] == pytest.approx(height - parts.board, abs=1e-12)
            for window in parts.of(roles.WINDOW):
                corners = outer_corners(window.prisms[0], parts.outer)
                assert np.ptp(corners, axis=0).max() > 0.01
    assert {OPENINGS.records[opening].name for opening, _ in seen} == {"none", "pipe", "slot", "radiator"}
    assert len(seen) >= 6


@pytest.mark.parametrize("back_angle", [0.0, 0.25, -0.3])
def test_what_is_kept_free_above_lies_in_the_space_and_is_measured(back_angle: float) -> None:
    """Independent implementation: shapely draws boxes on upwards, and lines straight up from their tops."""
    measured = 0
    for number, space in enumerate(SPACES):
        envelope = Envelope(space)
        if envelope.is_empty:
            continue
        wedges = boxes_for(space, 120, back_angle=back_angle, seed=number)
        fit, plain = envelope.fit(wedges, above=0.06), envelope.fit(wedges)
        fits = np.flatnonzero(fit.violation <= 0.0)
        assert (plain.violation[fits] <= 0.0).all()
        assert (plain.z[fits] <= fit.z[fits] + 1e-9).all()
        fit, wedges = fit.take(fits), wedges.take(fits)
        free = shapely.Polygon(space.section).buffer(-space.margin, join_style="mitre", mitre_limit=MITRE_LIMIT)
        places = wedges.top_depth[:, np.newaxis] * np.array([0.0, 0.1, 0.5, 0.9, 1.0])
        ways = envelope.over(fit, wedges, places) - space.margin
        least = envelope.above(fit, wedges) - space.margin
        assert (least <= ways.min(axis=1) + 1e-5).all()
        for i, rear in enumerate(fit.y + wedges.outer_height * wedges.back_slope):
            top = fit.z[i] + wedges.outer_height[i]
            ends = [(rear, wedges.back_slope), (rear + wedges.top_depth[i], wedges.baffle_slope[i])]
            higher = _drawn_on(ends, top, 0.06)
            if higher.is_valid:  # back and baffle do not cross
                assert free.buffer(1e-7).covers(higher)
                measured += 1
            for place, way in list(zip(places[i], ways[i], strict=True))[1:-1]:
                line = shapely.LineString([(rear + place, top), (rear + place, top + 9.0)])
                line = line.intersection(free.buffer(1e-9))
                first = min(shapely.get_parts(line), key=lambda piece: piece.bounds[1])
                assert way == pytest.approx(first.length, abs=1e-4)
    assert measured > 300


def _drawn_on(ends: list[tuple[float, float]], top: float, by: float) -> shapely.Polygon:
    """What lies between two lines upwards from a height; ``ends`` are y where each begins, and its slope."""
    (rear, back), (front, baffle) = ends
    return shapely.Polygon([(rear, top), (front, top), (front + baffle * by, top + by), (rear + back * by, top + by)])


def test_a_keepout_above_counts() -> None:
    """User's promise: what hangs over the box leaves it less air; what stands beside it does not."""
    section = ((0.0, 0.0), (0.6, 0.0), (0.6, 0.5), (0.0, 0.5))
    beam = KeepOut(name="beam", section=((0.2, 0.3), (0.3, 0.3), (0.3, 0.5), (0.2, 0.5)), across=(0.0, 1.0))
    size = {"outer_width": 0.5, "outer_height": 0.2, "top_depth": 0.4, "bottom_depth": 0.4}
    wedges = Wedges(**{name: np.array([value]) for name, value in size.items()}, board=0.018, back_angle=0.0)
    for keepouts, height in (((), 0.3), ((beam,), 0.1)):
        envelope = Envelope(Space(section=section, width=1.0, keepouts=keepouts))
        assert envelope.above(envelope.fit(wedges), wedges) == pytest.approx([height], abs=1e-6)
        assert (envelope.fit(wedges, above=height + 0.01).violation > 0.0).all()
        assert (envelope.fit(wedges, above=height - 1e-6).violation <= 0.0).all()


@pytest.mark.parametrize("back_angle", [0.0, 0.25])
def test_the_largest_box_with_air_above_is_that_of_the_space_on_its_head(back_angle: float) -> None:
    """Conservation: it fits where it is said to stand, with the air above and not with more; no other is larger."""
    for space in SPACES[::3]:
        envelope = Envelope(space)
        if envelope.is_empty:
            continue
        found = envelope.largest(board=0.018, back_angle=back_angle, above=0.05)
        without = envelope.largest(board=0.018, back_angle=back_angle)
        if found is None or without is None:
            assert found is None
            continue
        assert found.gross_volume < without.gross_volume
        outer = {name: np.array([getattr(found, name)]) for name in (
            "outer_width", "outer_height", "top_depth", "bottom_depth")}  # fmt: skip
        wedges = Wedges(**outer, board=0.018, back_angle=back_angle)
        assert wedges.gross_volume == pytest.approx([found.gross_volume], rel=1e-6)
        box = placed(wedges, np.array([found.y]), np.array([found.z]))[0]
        assert shapely.Polygon(space.section).buffer(1e-6).contains(box)
        assert envelope.fit(wedges, above=0.05 - 1e-6).violation <= 1e-6
        assert envelope.fit(wedges, above=0.06).violation > 0.0
