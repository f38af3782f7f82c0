"""Slots, passive radiators and flares in designs made by hand: drawn where they are, described for who builds them."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from engine.quantities import Units, show_sawn, show_set_out
from engine.space import roles
from engine.space.bodies import Assembly
from engine.workshop.design import Design
from engine.workshop.drawings import front_of
from engine.workshop.isometric import isometric_of
from engine.workshop.panel import panel_of
from tests.space.things import slot_of, vents
from tests.workshop.boxes import DESIGNS, SPACE
from tests.workshop.pieces import between, slot_in, wedge_of
from tests.workshop.reading import HEAVY, MEDIUM, circles, page, paths, scale, words_of
from tests.workshop.views import VIEWS, check, section

UNITS = pytest.mark.parametrize("units", ["metric", "us"])
SLOTTED = ("slot through side", "slot that turns", "slot under the top")


@UNITS
def test_a_slot_is_described_for_who_builds_it(units: Units) -> None:
    """Independent implementation: sizes out of the numbers that the designs were made of, in the words of the panel."""

    def size(metres: float) -> str:
        return show_sawn(metres, units)

    straight, turned, high = (words_of(VIEWS["front"](DESIGNS[name], SPACE, units)) for name in SLOTTED)
    inner = DESIGNS["slot through side"].parts.inner.section
    depth = between(inner, 0.018 + 0.02, 0.2)[:2, 0]
    assert f"along the bottom: {size(0.04)} high and {size(float(np.ptp(depth)))} deep" in straight
    assert f"{size(0.7)} long along its middle line from the outer face of the left side panel" in straight
    assert f"board is {size(0.682)} long, from {size(0.018)} to {size(0.7)}" in straight
    assert "turns" not in straight
    assert "from the slot's board on" in straight
    # Through the baffle: level through the board, half the depth, then from the window's middle to the leg's, up it.
    parts = DESIGNS["slot that turns"].parts
    middle = 0.018 + 0.5 * 0.035
    outer, front = (between(each.section, middle, 0.2)[:2, 0] for each in (parts.outer, parts.inner))
    in_and_along = outer[1] - 0.5 * (front[0] + front[1]) + (0.72 - middle) - (0.018 + 0.08)
    assert f"{size(float(in_and_along) + 0.5 * 0.035 + 0.2)} long" in turned
    assert f"turns square up along the right side panel, {size(0.035)} wide" in turned
    assert f"the leg is {size(0.2)} long" in turned
    assert f"beside the leg is {size(0.182)} high" in turned
    assert f"through the baffle: a window {size(0.16)} wide" in turned
    assert "Slot vent along the top" in high
    assert "turns square down" in high
    assert f"{size(0.8 - 0.018 - 0.015 + 0.015 + 0.12)} long along its middle line" in high


@pytest.mark.parametrize("name", SLOTTED)
def test_a_slots_board_is_cut_where_it_is(name: str) -> None:
    """Conservation: in the section a heavy outline as thick as a board, the slot's height from its panel."""
    design = DESIGNS[name]
    svg = section(design, SPACE, "metric")
    by = scale(svg)
    boards = [points for width, _, closed, points in paths(svg) if closed and width == HEAVY]
    level = max(boards[-1][:, 1]) if name != "slot under the top" else min(boards[-1][:, 1])
    assert np.ptp(boards[-1][:, 1]) / by == pytest.approx(0.018, abs=2e-4)
    everything = np.concatenate(boards)[:, 1]
    panel = everything.max() if name != "slot under the top" else everything.min()
    height = np.ptp(slot_of(design.parts).bore[1].section[:, 1])
    assert abs(panel - level) / by == pytest.approx(0.018 + height, abs=2e-4)
    words = words_of(svg)
    assert show_sawn(float(height), "metric") in words
    if name == "slot that turns":
        assert "200 mm" in words


def test_the_mouth_of_a_slot_is_sawn_out_of_its_panel() -> None:
    """Conservation: a heavy window in the baffle, its corners at their places; solid in the isometric."""
    design = DESIGNS["slot that turns"]
    svg = panel_of(design, "metric", name="front")
    panel = paths(svg)[0][3]
    [window] = [points for width, _, closed, points in paths(svg)[1:] if closed and width == HEAVY]
    left, low = panel[:, 0].min(), panel[:, 1].max()
    np.testing.assert_allclose(np.ptp(window[:, 0]) / scale(svg), 0.16, atol=2e-4)
    assert (window[:, 0].min() - left) / scale(svg) == pytest.approx(0.018, abs=2e-4)
    rise = math.hypot(1.0, 0.06 / 0.46)
    assert (low - window[:, 1].max()) / scale(svg) == pytest.approx(0.018 * rise, abs=2e-4)
    assert np.ptp(window[:, 1]) / scale(svg) == pytest.approx(0.035 * rise, abs=2e-4)
    for name, solid in (("slot that turns", True), ("slot through side", False)):
        drawn = paths(isometric_of(DESIGNS[name], SPACE, "metric"))
        mouths = [dashes for width, dashes, closed, points in drawn if closed and len(points) == 4 and width <= MEDIUM]
        assert ("" in mouths) == solid


def test_a_brace_over_a_slot_starts_at_its_board() -> None:
    """Conservation: in the panel the brace is shorter by the slot's height and its board, along the slope."""
    design = DESIGNS["slot through side"]
    svg = panel_of(design, "metric", name="front")
    bare = panel_of(dataclasses.replace(design, parts=without_slot(design)), "metric", name="front")

    def brace(drawn: str) -> float:
        upright = [
            points
            for _, dashes, closed, points in paths(drawn)
            if dashes == "7 4" and closed and math.isclose(np.ptp(points[:, 0]) / scale(drawn), 0.018, abs_tol=2e-4)
        ]
        return float(np.ptp(upright[0][:, 1])) / scale(drawn)

    slope = math.hypot(1.0, (0.4 - 0.25 - 0.44 * math.tan(0.1)) / 0.44)
    assert brace(bare) - brace(svg) == pytest.approx((0.04 + 0.018) * slope, abs=5e-4)


def without_slot(design: Design) -> Assembly:
    parts = design.parts
    whole = [
        dataclasses.replace(body, shapes=(dataclasses.replace(body.prisms[0], section=parts.inner.section),))
        if body.role is roles.BRACE
        else body
        for body in parts.bodies
        if body.thing.kind != "slot"
    ]
    return dataclasses.replace(parts, bodies=tuple(whole))


@UNITS
def test_radiators_are_described_with_the_mass_to_add(units: Units) -> None:
    """Conservation: count, name, sizes, and three decimals of mass; none where none is added."""
    words = words_of(VIEWS["front"](DESIGNS["radiators"], SPACE, units))
    assert "Passive radiators: 2 × flat 8" in words
    for size in (0.196, 0.22, 0.06):
        assert show_sawn(size, units) in words
    assert f"Add {'85 g' if units == 'metric' else '3.0 oz'} to the cone of each." in words
    alone = words_of(VIEWS["front"](DESIGNS["radiator, side-firing"], SPACE, units))
    assert "Add" not in alone
    assert "in the baffle" in alone
    assert f"{show_set_out(0.3, units)} and {show_set_out(0.2, units)}" in alone


def test_a_radiator_beside_the_cut_is_dashed_and_one_in_it_is_not() -> None:
    """Conservation: beside a driver that is cut; alone in the baffle while the driver faces sideways."""
    beside = words_of(section(DESIGNS["radiators"], SPACE, "metric"))
    assert "passive radiator beside the cut" in beside
    assert DESIGNS["radiator, side-firing"].cut == 0.3
    assert "passive radiator beside" not in words_of(section(DESIGNS["radiator, side-firing"], SPACE, "metric"))


@UNITS
def test_flares_are_drawn_and_said(units: Units) -> None:
    """Analytic limit: rims a flare wider than the bore at either side; the area of a quarter round cut through."""
    design = DESIGNS["flared pipes"]
    svg = VIEWS["front"](design, SPACE, units)
    rims = circles(svg)[:, 2] / scale(svg, 0.1 if units == "metric" else 0.1016)
    assert np.sum(np.isclose(rims, 0.0355 + 0.02, atol=1e-4)) == 1
    assert f"quarter round of radius {show_sawn(0.02, units)} to ⌀ {show_sawn(0.111, units)}" in words_of(svg)
    for vent in vents(design.parts):
        outer, inner = (body.frusta for body in vent.bodies if body.role is roles.FLARE)
        for flare, end in ((outer, vent.mouth), (inner, vent.inner_mouth)):
            np.testing.assert_allclose(flare[0].start, end, atol=1e-12)
            assert sum(float(np.linalg.norm(piece.end - piece.start)) for piece in flare) == pytest.approx(0.02)
            area = sum(float(np.linalg.norm(piece.end - piece.start)) * sum(piece.radii) for piece in flare)
            # Of the square beside the bore, on both its sides, a quarter circle is left of the board.
            assert area == pytest.approx(0.02 * 0.111 - 0.5 * math.pi * 0.02**2, rel=5e-3)


def test_a_slot_far_too_long_is_cut_short_and_said_to_be() -> None:
    """User's promise: as with pipes, the box stays large in its drawing."""
    design = DESIGNS["slot through side"]
    wedge = wedge_of(width=0.9, height=0.44, top=0.25, bottom=0.4, back_angle=0.1)
    endless = slot_in(wedge, height=0.04, end=5000.0, through="left side")
    kept = [body for body in design.parts.bodies if body.thing.kind != "slot"]
    svg = front_of(dataclasses.replace(design.parts, bodies=(*kept, *endless)), design.driver, "metric")
    check(svg)
    assert np.ptp(paths(svg)[0][3][:, 0]) > 0.3 * page(svg)[0]
    assert "5000000 mm" in words_of(svg)
    assert "cut short" in words_of(svg)
    assert "cut short" not in words_of(front_of(design.parts, design.driver, "metric"))
