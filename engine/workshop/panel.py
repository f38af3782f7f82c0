"""One panel seen square on from outside in its true size, with what lies behind it in dashes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.quantities import Units
from engine.space.arrangement import Frustum, Prism
from engine.workshop import contents, words
from engine.workshop.design import SIDES, Design, holes, is_magnet, radiator_body
from engine.workshop.faces import Face, rectangle
from engine.workshop.keepouts import name_one
from engine.workshop.projection import disc, middle_line, prism_outline, round_body
from engine.workshop.section import crossing
from engine.workshop.slots import line_and_air
from engine.workshop.svg import (
    APART,
    AXIS,
    CUT,
    FAINT,
    HIDDEN,
    OUTLINE,
    ROUNDED,
    Line,
    Mark,
    Pen,
    Sheet,
    extent,
    framed,
    length,
    spaced,
    wide,
)
from engine.workshop.vents import flares, outline

Floats = NDArray[np.float64]

TOUCH = 1e-6  # m


def panel_of(design: Design, units: Units, *, name: str, notes: Sequence[str] = ()) -> str:
    """The panel that the drivers are in.  Parts may overlap one another and reach over the panel's edges."""
    panel = design.driven
    face = design.face(panel)
    outline = face.seen(face.outline)
    marks = [Line(outline, CUT), *_rounding(design, outline), *_behind(design, panel, face), *_through(design, panel)]
    low, high = extent(marks)
    sides = panel in SIDES
    frame = framed(low, high, left=96.0, right=64.0, top=66.0 if sides else 26.0, tallest=330.0)
    title, _ = words.FACES[panel]
    about = f"{words.sizes_in_words(design, units)} {words.leans_in_words(design, units)}"
    sheet = Sheet(name, title, about, frame)
    sheet.draw(marks)

    bottom = frame.at(low)[1]
    deepest, left_of = bottom, frame.at(low)[0]
    centres = [face.on(centre) for centre in holes(design, panel)]
    if centres:
        deepest = _places_across(sheet, face, centres, bottom, units)
        _places_up(sheet, centres, left_of, units)
    below = deepest + 36.0
    _sizes(sheet, design, face, below, frame.at(high), units)
    sheet.scale_bar(below + 30.0, units)
    lines = [_about_places(design, panel, units), *contents.contents_in_words(design, units, seen=panel), *notes]
    sheet.notes(lines, _keys(design), below + 58.0)
    for driver in design.parts.drivers:
        _inside_ring(sheet, face, driver.cutout, f"⌀\u00a0{length(2.0 * driver.cutout.radii[0], units)}")
    for radiator in design.parts.radiators:
        if radiator.panel == panel:
            _inside_ring(sheet, face, radiator.cutout, f"⌀\u00a0{length(2.0 * radiator.cutout.radii[0], units)}")
    for radiator in design.parts.radiators:
        if radiator.panel == panel:
            reach = radiator.flange.radii[0]
            name_one(sheet, rectangle(-reach, reach, -reach, reach) + face.view(radiator.flange.end), ["passive"])
    return sheet.svg()


def _inside_ring(sheet: Sheet, face: Face, ring: Frustum, said: str) -> None:
    """Words in a hole above or below its middle, where there is room."""
    reach = ring.radii[0] * sheet.frame.scale
    x, y = sheet.at(face.view(ring.start))
    heights = [
        share * reach for share in (0.8, -0.8, 0.45, -0.45) if wide(said) < 1.9 * reach * (1.0 - share**2) ** 0.5
    ]
    sheet.label([said], [((x, y + height), "middle") for height in heights])


def _keys(design: Design) -> list[tuple[Pen, str]]:
    keys = [(CUT, "edge to cut"), (OUTLINE, "flange, bore"), (HIDDEN, "behind"), (AXIS, "axis")]
    if design.parts.braces and design.driven in SIDES:
        keys.append((FAINT, "opening of the braces"))
    if design.round_over > 0.0:
        keys.append((ROUNDED, "edges rounded up to here"))
    return keys


def _about_places(design: Design, panel: str, units: Units) -> str:
    edges = " and edges" if design.slot is not None and design.slot.through == panel else ""
    where = f"Centres{edges} are {words.FROM[panel]}."
    if panel != "baffle":
        return f"{words.sizes_in_words(design, units)} {where}"
    up = length(float(np.linalg.norm(design.parts.outer.section[2] - design.parts.outer.section[1])), units)
    high = length(design.height, units)
    return where if up == high else f"The length {up} is along the slope; the box is {high} high. {where}"


def _rounding(design: Design, outline: Floats) -> list[Mark]:
    if design.round_over <= 0.0:
        return []
    flat = shapely.Polygon(outline).buffer(-design.round_over, join_style="mitre")
    return [
        Line(np.asarray(piece.exterior.coords)[:-1], ROUNDED)
        for piece in shapely.get_parts(flat)
        if piece.geom_type == "Polygon" and not piece.is_empty
    ]


def _behind(design: Design, panel: str, face: Face) -> list[Mark]:
    parts, view = design.parts, face.view
    marks: list[Mark] = [Line(face.seen(face.inner), HIDDEN)]
    for brace in parts.braces:
        if panel in SIDES:
            marks += [Line(view(np.insert(hole, 0, brace.x[0], axis=1)), FAINT) for hole in brace.holes]
        else:
            low, high = _meets(brace, face)
            across = rectangle(brace.x[0] - face.corner[0], brace.x[1] - face.corner[0], low, high)
            marks.append(Line(face.seen(across), HIDDEN))
    marks += [Line(prism_outline(view, support), HIDDEN) for support in design.supports]
    for vent in design.vents:
        if vent.through == panel:
            inner = [piece for flare in flares(vent)[1:] for piece in flare]
            marks += round_body(view, [*vent.pipe[1:], *inner], HIDDEN) if len(vent.pipe) > 1 else []
        else:
            marks += outline(view, vent, HIDDEN)
            marks.append(Line(view(np.vstack([middle_line(vent.pipe), vent.free_air.end])), AXIS, closed=False))
    if design.slot is not None:
        pieces = [*design.slot.boards, *(design.slot.bore[:1] if design.slot.through != panel else ())]
        marks += [Line(prism_outline(view, piece), HIDDEN) for piece in pieces]
        marks.append(Line(view(line_and_air(design.slot)), AXIS, closed=False))
    for driver in parts.drivers:
        for piece in filter(is_magnet, driver.body):
            marks += round_body(view, [piece], HIDDEN)
    for radiator in parts.radiators:
        if radiator.panel != panel:
            for part in (radiator.flange, *radiator_body(radiator)):
                marks += round_body(view, [part], HIDDEN)
    if parts.cup is not None and parts.cup.panel != panel:
        marks += round_body(view, [parts.cup.body], HIDDEN)
    return marks


def _meets(brace: Prism, face: Face) -> tuple[float, float]:
    """From where to where up a panel a brace touches it: less than all of it where a slot is in between."""
    inside = face.inner[:, 1]
    corners = np.insert(brace.section, 0, brace.x[0], axis=1)
    depth = (corners - face.corner) @ face.view.eye
    touching = (corners - face.corner)[depth > depth.max() - TOUCH] @ face.up
    return max(float(inside.min()), float(touching.min())), min(float(inside.max()), float(touching.max()))


def _through(design: Design, panel: str) -> list[Mark]:
    """What goes through the panel: drivers, vents, the cup."""
    parts, view = design.parts, design.face(panel).view
    marks: list[Mark] = []
    for vent in design.vents:
        if vent.through == panel:
            inward = vent.pipe[0].end - vent.mouth if isinstance(vent.pipe[0], Frustum) else view.eye
            bore = vent.bore[0].radii[0] if isinstance(vent.bore[0], Frustum) else vent.radius
            hole = max([vent.radius, *(flare[0].radii[0] for flare in flares(vent)[:1])])
            marks += crossing(view, vent.mouth, inward, hole)
            marks += [disc(view, vent.mouth, inward, hole, CUT), disc(view, vent.mouth, inward, bore, OUTLINE)]
            if hole > vent.radius:
                marks.append(disc(view, vent.mouth, inward, vent.radius, HIDDEN))
    if design.slot is not None and design.slot.through == panel:
        marks.append(Line(view(design.slot.mouth), CUT))
    for cone in design.cones:
        if cone.panel == panel:
            marks += crossing(view, cone.cutout.start, view.eye, cone.flange.radii[0])
            marks += round_body(view, [cone.flange], OUTLINE) + round_body(view, [cone.cutout], CUT)
    cup = parts.cup
    if cup is not None and cup.panel == panel:
        marks += crossing(view, cup.body.start, view.eye, cup.flange.radii[0])
        marks += round_body(view, [cup.flange], OUTLINE) + round_body(view, [cup.body], CUT)
    return marks


def _places_across(
    sheet: Sheet, face: Face, centres: Sequence[tuple[float, float]], bottom: float, units: Units
) -> float:
    """Distances of centres across the panel, written upright below; returns how far down they reach."""
    places = sorted({round(across, 6) for across, _ in centres}, reverse=face.mirrored)
    at = [sheet.at(face.seen(np.array([place, 0.0])))[0] for place in places]
    labels = spaced([(x, length(place, units)) for x, place in zip(at, places, strict=True)])
    for x, place, figure in labels:
        sheet.rule((x, bottom + 5.0), (x, bottom + 10.0))
        sheet.rule((x, bottom + 10.0), (place, bottom + 22.0))
        sheet.text(figure, (place, bottom + 26.0), anchor="end", turned=True)
    return bottom + 26.0 + max(wide(figure) for _, _, figure in labels)


def _places_up(sheet: Sheet, centres: Sequence[tuple[float, float]], left: float, units: Units) -> None:
    """Distances of centres up the panel, written level at the left."""
    heights = sorted({round(up, 6) for _, up in centres}, reverse=True)
    for y, place, figure in spaced([(sheet.at((0.0, up))[1], length(up, units)) for up in heights]):
        sheet.rule((left - 5.0, y), (left - 10.0, y))
        sheet.rule((left - 10.0, y), (left - 20.0, place))
        sheet.text(figure, (left - 24.0, place), anchor="end")


def _sizes(sheet: Sheet, design: Design, face: Face, below: float, corner: tuple[float, float], units: Units) -> None:
    """The panel's own sizes: across below it and, on a side, above it; upright at the right."""
    page = [sheet.at(place) for place in face.seen(face.outline)]
    if face.mirrored:  # as seen, from the left: lower two, then upper two
        page = [page[1], page[0], page[3], page[2]]
    right, above = corner
    wide_below = float(np.ptp(face.outline[:2, 0]))
    sheet.across(page[0][0], page[1][0], below, length(wide_below, units), sources=(page[0][1], page[1][1]))
    if design.driven in SIDES:
        top = length(design.top_depth, units)
        sheet.across(page[3][0], page[2][0], above - APART, top, sources=(page[3][1], page[2][1]))
    tall = length(float(np.ptp(face.outline[:, 1])), units)
    sheet.upward(page[1][1], page[2][1], right + APART, tall, sources=(page[1][0], page[2][0]))
