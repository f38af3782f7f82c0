"""Drawings of designs made by hand: to scale, whole, legible, whatever faces where."""

from __future__ import annotations

import dataclasses
import math
import re
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from engine.openings.pipe.solids import vent_length
from engine.parts import Space
from engine.quantities import Units, show_sawn
from engine.space import roles
from engine.space.envelope import Envelope
from engine.workshop.drawings import front_of
from engine.workshop.isometric import isometric_of
from engine.workshop.panel import panel_of
from engine.workshop.plan import plan_of
from engine.workshop.room import Largest, free_around, space_of
from tests.space.things import Vent, braces, cup, drivers, radiators, vents
from tests.workshop.boxes import DESIGNS, HOSTILE, SPACE, jumbled
from tests.workshop.pieces import straight_vent, wedge_of
from tests.workshop.reading import (
    HEAVY,
    MEDIUM,
    SVG,
    circles,
    ellipses,
    heavy,
    page,
    paths,
    scale,
    words_of,
)
from tests.workshop.views import VIEWS, check, section


def length_of(vent: Vent) -> float:
    return vent_length(next(body for body in vent.bodies if body.role in (roles.PIPE, roles.PASSING_PIPE)))


EACH = pytest.mark.parametrize("name", DESIGNS)
UNITS = pytest.mark.parametrize("units", ["metric", "us"])


SEEN = pytest.mark.parametrize("view", VIEWS)


def room(space: Space, units: Units) -> str:
    wedge = wedge_of(width=0.9, height=0.5, top=0.3, bottom=0.25)
    box = Largest(wedge=wedge, place=np.array([0.2, 0.14, 0.02]))
    free = free_around(Envelope(space).stretches, *box.across)
    return space_of(space, free=free, box=box, found="This box.", units=units)


@UNITS
@SEEN
@EACH
def test_every_view_is_whole_and_legible(name: str, view: str, units: Units) -> None:
    """Conservation: in both units, with keep-outs and without."""
    for space in (SPACE, dataclasses.replace(SPACE, keepouts=())):
        check(VIEWS[view](DESIGNS[name], space, units))


@UNITS
def test_the_space_is_whole_and_legible(units: Units) -> None:
    """Conservation: with keep-outs, without, and with nothing in it."""
    for space in (SPACE, dataclasses.replace(SPACE, keepouts=())):
        check(room(space, units))
        check(space_of(space, free=[], box=None, found="Nothing.", units=units))


@SEEN
@EACH
def test_the_box_is_to_scale(name: str, view: str) -> None:
    """Conservation: what is drawn, measured with the scale bar, is as large as the box."""
    design = DESIGNS[name]
    svg = VIEWS[view](design, SPACE, "metric")
    size = np.ptp(heavy(svg), axis=0) / scale(svg)
    slope = float(np.linalg.norm(design.parts.outer.section[2] - design.parts.outer.section[1]))
    if view == "section":
        np.testing.assert_allclose(size, [design.depth, design.height], atol=2e-4)
    elif view == "plan":
        np.testing.assert_allclose(size, [design.width, design.top_depth], atol=2e-4)
    elif view == "front":
        panel = {
            "baffle": (design.width, slope),
            "bottom": (design.width, design.bottom_depth),
            "right side": (design.depth, design.height),
        }[design.driven]
        np.testing.assert_allclose(np.ptp(paths(svg)[0][3], axis=0) / scale(svg), panel, atol=2e-4)
    else:
        lengths = {
            (round(math.degrees(math.atan2(way[1], way[0])) % 180.0), round(float(np.hypot(*way)) / scale(svg), 3))
            for width, _, _, points in paths(svg)
            if width == HEAVY
            for way in [points[1] - points[0]]
        }
        # On the page, where down is positive, x falls to the right by 30° and y falls to the left by 30°.
        assert (30, round(design.width, 3)) in lengths
        assert {(150, round(depth, 3)) for depth in (design.top_depth, design.bottom_depth)} <= lengths


@UNITS
@EACH
def test_outer_sizes_are_written(name: str, units: Units) -> None:
    """Conservation: the box's sizes stand in every view that shows them, in the user's units."""
    design = DESIGNS[name]
    written = {view: words_of(draw(design, SPACE, units)) for view, draw in VIEWS.items()}
    shown = {
        "section": (design.height, design.top_depth, design.bottom_depth),
        "plan": (design.width, design.top_depth, design.bottom_depth, design.low[0], SPACE.width - design.high[0]),
        "isometric": (design.width, design.height, design.depth),
        "front": (design.height,),
    }
    for view, sizes in shown.items():
        for size in sizes:
            assert show_sawn(float(size), units) in written[view]
    assert show_sawn(design.driver.cutout_diameter, units) in written["front"]
    if vents(design.parts):
        assert show_sawn(length_of(vents(design.parts)[0]), units) in written["front"]


@EACH
def test_everything_in_the_panel_is_drawn_once_at_its_place(name: str) -> None:
    """Independent implementation: rings on the panel, counted and measured from its own edges."""
    design = DESIGNS[name]
    parts, svg = design.parts, panel_of(design, "metric", name="front")
    rings, by = circles(svg), scale(svg)
    panel = paths(svg)[0][3]
    for driver in drivers(parts):
        for diameter in (design.driver.outer_diameter, design.driver.cutout_diameter):
            same = rings[np.isclose(2.0 * rings[:, 2] / by, diameter, atol=2e-4)]
            assert len(same) == len(drivers(parts))
        x, y, z = driver.cutout.start
        up = (panel[:, 1].max() - same[:, 1]) / by
        if design.driven == "baffle":
            across = (same[:, 0] - panel[:, 0].min()) / by
            slope = parts.outer.section[2] - parts.outer.section[1]
            place = (x, float((np.array([y, z]) - parts.outer.section[1]) @ slope / np.linalg.norm(slope)))
        elif design.driven == "bottom":
            across = (same[:, 0] - panel[:, 0].min()) / by
            place = (x, y)
        else:  # the right side, seen from the right: its rear edge is at the right
            across = (panel[0, 0] - same[:, 0]) / by
            place = (y, z)
        assert np.any(np.hypot(across - place[0], up - place[1]) < 3e-4)
    for radius in (0.11, 0.098):
        same = rings[np.isclose(rings[:, 2] / by, radius, atol=1e-4)]
        assert len(same) == sum(radiator.panel == design.driven for radiator in radiators(parts))
    through = [vent for vent in vents(parts) if vent.through == design.driven]
    for radius in {vent.radius for vent in through}:
        assert np.sum(np.isclose(rings[:, 2] / by, radius, atol=1e-4)) == len(through)
    if parts.kind("cup") and cup(parts).panel == design.driven:
        assert np.sum(np.isclose(rings[:, 2] / by, cup(parts).flange.radii[0], atol=1e-4)) == 1


@EACH
def test_everything_is_drawn_once_in_the_plan(name: str) -> None:
    """Conservation: an axis for each driver, radiator and vent, a rectangle for each brace."""
    parts = DESIGNS[name].parts
    svg = plan_of(DESIGNS[name], SPACE, "metric")
    axes = len(drivers(parts)) + len(radiators(parts)) + len(vents(parts)) + len(parts.kind("slot"))
    assert sum(dashes == "14 4 3 4" for _, dashes, _, _ in paths(svg)) == axes
    board = parts.inner.x[0]
    widths = [
        float(np.ptp(points[:, 0])) / scale(svg) for _, dashes, _, points in paths(svg) if dashes and len(points) == 4
    ]
    assert sum(math.isclose(width, board, abs_tol=1e-4) for width in widths) >= len(braces(parts))


@EACH
def test_rings_show_in_the_isometric_where_their_panel_does(name: str) -> None:
    """Conservation: two rings each for drivers, radiators, vents and cup; solid on baffle, right side and top alone."""
    parts = DESIGNS[name].parts
    svg = isometric_of(DESIGNS[name], SPACE, "metric")
    panels = [cutout.panel for cutout in DESIGNS[name].cutouts] + [vent.through for vent in vents(parts)]
    panels += [cup(parts).panel] if parts.kind("cup") else []
    seen = sum(panel in ("baffle", "right side", "top") for panel in panels)
    assert len(ellipses(svg, dashed=False)) == 2 * seen
    assert len(ellipses(svg, dashed=True)) >= 2 * (len(panels) - seen)
    widest = max(
        [driver.flange.radii[0] for driver in drivers(parts) if driver.panel in ("baffle", "right side")], default=0.0
    )
    if widest:
        # A circle is as wide as it is, √(3/2) times over, however its face leans.
        assert ellipses(svg, dashed=False)[:, 2].max() / scale(svg) == pytest.approx(math.sqrt(1.5) * widest, rel=2e-3)


def test_bends_are_as_long_as_their_pieces() -> None:
    """Analytic limit: straight pieces and a quarter of a circle."""
    [vent] = vents(DESIGNS["bent through baffle"].parts)
    assert length_of(vent) == pytest.approx(0.12 + 0.5 * math.pi * 0.08 + 0.2)


def test_keepouts_are_hatched_only_where_the_cut_passes() -> None:
    """Conservation: the same keep-out moved along the width, from the cut to beside it."""
    design = DESIGNS["down-firing"]
    jack = SPACE.keepouts[1]
    cut = float(design.place[0]) + design.cut

    def strokes(across: tuple[float, float]) -> int:
        space = dataclasses.replace(SPACE, keepouts=(dataclasses.replace(jack, across=across),))
        return sum(not closed and width == 0.8 for width, _, closed, _ in paths(section(design, space, "metric")))

    assert strokes((cut - 0.05, cut + 0.05)) > 10
    assert strokes((cut + 0.05, cut + 0.1)) == 0


def test_a_keepout_behind_the_box_is_dashed_and_one_before_it_is_not() -> None:
    """Independent implementation: before a baffle that leans back, behind, on either side."""
    design = DESIGNS["front-firing"]  # from y = 0.02 to 0.42 at the bottom, to 0.314 at the top

    def dashed(section: tuple[tuple[float, float], ...], across: tuple[float, float]) -> bool:
        def strokes(space: Space) -> int:
            return sum(dashes == "4 3" for _, dashes, _, _ in paths(isometric_of(design, space, "metric")))

        post = dataclasses.replace(SPACE.keepouts[0], section=section, across=across)
        return strokes(dataclasses.replace(SPACE, keepouts=(post,))) > strokes(dataclasses.replace(SPACE, keepouts=()))

    before = ((0.37, 0.35), (0.47, 0.35), (0.47, 0.42), (0.37, 0.42))
    behind = ((0.0, 0.3), (0.015, 0.3), (0.015, 0.4), (0.0, 0.4))
    assert before[0][0] < design.high[1]
    assert not dashed(before, (0.3, 0.6))
    assert dashed(behind, (0.3, 0.6))
    assert not dashed(((0.1, 0.1), (0.2, 0.1), (0.2, 0.2), (0.1, 0.2)), (design.high[0], SPACE.width))
    assert dashed(((0.3, 0.0), (0.4, 0.0), (0.4, 0.1), (0.3, 0.1)), (0.0, design.low[0]))


def test_the_driver_stands_where_its_panel_is_sawn_out() -> None:
    """Conservation: in the section the driven panel is in two pieces, the three others and a slot's board in one."""
    for name, design in DESIGNS.items():
        svg = section(design, SPACE, "metric")
        boards = [points for width, _, closed, points in paths(svg) if closed and width == HEAVY]
        radiating = any(radiator.panel == "baffle" for radiator in radiators(design.parts))
        sawn = design.driven != "right side" or radiating
        assert len(boards) == 4 + sawn + len(design.parts.kind("slot")), name


def test_a_driver_facing_sideways_is_seen_end_on() -> None:
    """Conservation: in the section, rings of its flange, basket and magnet about one centre."""
    design = DESIGNS["side-firing"]
    svg = section(design, SPACE, "metric")
    rings = circles(svg)
    for diameter in (design.driver.outer_diameter, design.driver.cutout_diameter, design.driver.magnet_diameter):
        assert np.any(np.isclose(2.0 * rings[:, 2] / scale(svg), diameter, atol=2e-4))


def test_rounded_edges_are_marked() -> None:
    """Conservation: a line inside the panel's edges by the radius, none where there is none."""
    design = DESIGNS["bent through baffle"]
    svg = panel_of(design, "metric", name="front")
    panel = paths(svg)[0][3]
    [inset] = [points for _, dashes, closed, points in paths(svg) if closed and dashes == "11 3"]
    np.testing.assert_allclose((np.ptp(panel, axis=0) - np.ptp(inset, axis=0)) / scale(svg), 0.024, atol=1e-4)
    plain = panel_of(dataclasses.replace(design, round_over=0.0), "metric", name="front")
    assert "rounded" not in words_of(plain)


@UNITS
def test_what_does_not_fit_is_drawn_all_the_same(units: Units) -> None:
    """User's promise: a design whose parts lie over one another, to show why it is none."""
    design = jumbled()
    svg = front_of(design.parts, design.driver, units, name="three")
    check(svg)
    rings = circles(svg, width=MEDIUM)
    assert (
        np.sum(np.isclose(2.0 * rings[:, 2] / scale(svg, 0.1 if units == "metric" else 0.1016), 0.262, atol=1e-3)) == 3
    )
    assert 'id="three-title"' in svg


def test_a_vent_far_too_long_is_cut_short_and_said_to_be() -> None:
    """User's promise: the box stays large in its drawing; the length that is wanted stands in the words."""
    design = jumbled()
    [vent] = vents(design.parts)
    endless = straight_vent("left side", vent.mouth, np.array([1.0, 0.0, 0.0]), length=5000.0)
    bodies = [body for body in design.parts.bodies if body.thing.kind != "pipe"]
    parts = dataclasses.replace(design.parts, bodies=(*bodies, *endless))
    svg = front_of(parts, design.driver, "metric")
    check(svg)
    assert np.ptp(paths(svg)[0][3][:, 0]) > 0.3 * page(svg)[0]
    assert "5000000 mm" in words_of(svg)
    assert "cut short" in words_of(svg)
    assert "cut short" not in words_of(front_of(design.parts, design.driver, "metric"))


def test_drawings_on_one_page_share_no_id() -> None:
    """Conservation: all five, and one of a design that does not fit."""
    design = DESIGNS["front-firing"]
    drawn = [draw(design, SPACE, "metric") for draw in VIEWS.values()]
    drawn += [room(SPACE, "metric"), front_of(design.parts, design.driver, "metric")]
    ids = re.findall(r'\bid="([^"]+)"', "".join(drawn))
    assert len(ids) == len(set(ids)) == 12


def test_names_cannot_break_a_drawing() -> None:
    """Conservation: names of drivers and keep-outs are text, whatever they are made of and however long."""
    for hostile in (HOSTILE, "m" * 300, "wide name " * 30):
        keepouts = tuple(dataclasses.replace(keepout, name=hostile) for keepout in SPACE.keepouts)
        space = dataclasses.replace(SPACE, keepouts=keepouts)
        for design in DESIGNS.values():
            named = dataclasses.replace(design, driver=dataclasses.replace(design.driver, name=hostile))
            for draw in VIEWS.values():
                svg = draw(named, space, "metric")
                check(svg)
                assert "<b" not in svg
                assert hostile[:9].strip() in words_of(svg) or draw is isometric_of
        check(room(space, "metric"))


def test_a_name_without_room_leaves_its_number() -> None:
    """User's promise: a keep-out whose name fits nowhere is told by the number that the words below explain."""
    keepouts = tuple(
        dataclasses.replace(keepout, name=f"{'long ' * 30}{number}") for number, keepout in enumerate(SPACE.keepouts)
    )
    svg = plan_of(DESIGNS["front-firing"], dataclasses.replace(SPACE, keepouts=keepouts), "metric")
    labels = ["".join(text.itertext()) for text in ET.fromstring(svg).iter(f"{SVG}text")]
    assert {"1", "2", "3"} <= set(labels)
