"""One panel seen square on from outside in its true size, with what lies behind it in dashes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from engine.arrays import Floats
from engine.quantities import Units
from engine.space import roles
from engine.space.bodies import CROSS, SIDES, Frustum, Prism, outer_corners
from engine.space.panels import FROM, SEEN, Face, called, panel_face, rectangle
from engine.workshop import words
from engine.workshop.design import Design
from engine.workshop.keepouts import name_one
from engine.workshop.projection import View, board_edges, cross, disc, outlines, round_body, square_on
from engine.workshop.svg import APART, Keys, Line, Mark, Sheet, closed_pieces, spaced, wide

TOUCH = 1e-6  # m


def panel_of(design: Design, units: Units, *, name: str, notes: Sequence[str] = ()) -> str:
    """The panel that the drivers are in.  Parts may overlap one another and reach over the panel's edges."""
    panel, sizes = design.driven, words.sizes(design, units)
    face = panel_face(design.parts, panel)
    title = f"{called(panel).capitalize()} seen square on{SEEN.get(panel, ' from outside')}"
    sheet = Sheet(name, title, f"{sizes} {words.leans(*design.leans, units)}", units)
    edge = Line(face.seen(face.outline), "cut")
    marks: list[Mark] = [edge]
    if design.round_over > 0.0:
        flat = shapely.Polygon(edge.points).buffer(-design.round_over, join_style="mitre")
        marks += [Line(outline, "rounded") for outline in closed_pieces(flat)]
    marks += [*_behind(design, panel, face), *through(design, panel, square_on(face))]
    sheet.fit(marks, left=118.0, right=64.0, top=66.0 if panel in SIDES else 26.0, tallest=330.0)
    sheet.draw(marks)
    centres, deepest = [face.on(centre) for centre in _holes(design, panel)], sheet.bottom
    if centres:
        deepest = _places_across(sheet, face, centres)
        _places_up(sheet, centres)
    below = deepest + 36.0
    _sizes(sheet, design, face, below)
    sheet.scale_bar(below + 30.0)
    keys: Keys = [("cut", "edge to cut"), ("outline", "flange, bore"), ("hidden", "behind"), ("axis", "axis")]
    if design.braces and panel in SIDES:
        keys.append(("faint", "braces"))
    if design.round_over > 0.0:
        keys.append(("rounded", "edges rounded up to here"))
    about = _about_places(sheet, design, panel, sizes)
    sheet.notes([about, *words.contents(design, units, seen=panel), *notes], keys, below + 58.0)
    here = [body for body in design.drawn if body.panel == panel]
    for ring in (body.frusta[0] for body in here if body.role is roles.CUTOUT):
        _inside_ring(sheet, face, ring)
    for body in (body for body in here if body.role.label):
        reach = body.frusta[0].radii[0]
        around = rectangle(-reach, reach, -reach, reach) + square_on(face)(body.frusta[0].end)
        name_one(sheet, around, [body.role.label])
    return sheet.svg()


def _holes(design: Design, panel: str) -> list[Floats]:
    """Centres (x, y, z) on the outer face of everything round that goes through a panel, corners of windows."""
    found: list[Floats] = []
    for body in (body for body in design.drawn if body.panel == panel):
        if body.role in (roles.CUTOUT, roles.HOLE):
            found.append(body.frusta[0].start)
        elif body.role is roles.WINDOW:
            found += list(outer_corners(body.prisms[0], design.parts.outer))
    return found


def _inside_ring(sheet: Sheet, face: Face, ring: Frustum) -> None:
    """A hole's diameter in it, above or below its middle, where there is room."""
    said, reach = f"⌀\u00a0{sheet.length(2.0 * ring.radii[0])}", ring.radii[0] * sheet.frame.scale
    x, y = sheet.at(square_on(face)(ring.start))
    shares = [share for share in (0.8, -0.8, 0.45, -0.45) if wide(said) < 1.9 * reach * (1.0 - share**2) ** 0.5]
    sheet.label([said], [((x, y + share * reach), "middle") for share in shares])


def _about_places(sheet: Sheet, design: Design, panel: str, sizes: str) -> str:
    window = any(body.role is roles.WINDOW and body.panel == panel for body in design.drawn)
    where = f"Centres{' and edges' if window else ''} are {FROM[panel]}."
    if panel != "baffle":
        return f"{sizes} {where}"
    up = sheet.length(float(np.linalg.norm(design.parts.outer.section[2] - design.parts.outer.section[1])))
    high = sheet.length(design.height)
    return where if up == high else f"The length {up} is along the slope; the box is {high} high. {where}"


def _behind(design: Design, panel: str, face: Face) -> list[Mark]:
    view = square_on(face)
    marks: list[Mark] = [Line(face.seen(face.inner), "hidden")]
    for brace in design.braces:
        if panel in SIDES:
            marks += board_edges(view, brace, 0)
            continue
        for plate in brace.prisms:
            if meets := _meets(plate, face, design.parts.thickness(panel)):
                left, right = (x - face.corner[0] for x in plate.x)
                marks.append(Line(face.seen(rectangle(left, right, *meets)), "hidden"))
        marks += [mark for piece in brace.frusta for mark in round_body(view, [piece], "hidden")]
    for body in design.drawn:
        pen, flares = body.role.other, design.flares(body)
        if pen and (body.panel != panel or body.role is roles.MAGNET):
            marks += outlines(view, body, flares, pen)
        elif body.role in (roles.PIPE, roles.PASSING_PIPE) and len(body.rounds) > 1:
            inner = [piece for flare in flares[1:] for piece in flare.frusta]
            marks += round_body(view, [*body.rounds[1:], *inner], "hidden")
    return marks


def _meets(brace: Prism, face: Face, board: float) -> tuple[float, float] | None:
    """From where to where up a panel as thick as ``board`` a brace touches it; None where it does not."""
    inside = face.inner[:, 1]
    corners = np.insert(brace.section, 0, brace.x[0], axis=1) - face.corner
    depth = corners @ square_on(face).eye
    if depth.max() < -board - TOUCH:
        return None
    touching = corners[depth > depth.max() - TOUCH] @ face.up
    return max(float(inside.min()), float(touching.min())), min(float(inside.max()), float(touching.max()))


def through(design: Design, panel: str, view: View) -> list[Mark]:
    """What goes through a panel that is seen square on: rings of drivers, vents and cup, the windows of ducts."""
    marks: list[Mark] = []
    for thing in design.parts.things:
        own = [body for body in design.drawn if body.thing == thing and body.panel == panel]
        # Of rings as wide as each other, such as a pipe without flares and its hole, the last one.
        rings = {body.frusta[0].radii[0]: body for body in own if body.role.own and body.frusta}
        for hole in (body for body in own if body.role in (roles.CUTOUT, roles.HOLE)):
            marks += cross(view, hole.frusta[0].start, CROSS * max(rings), "axis")
        for radius, body in rings.items():
            if pen := body.role.own:
                marks.append(disc(view, body.frusta[0].start, view.eye, radius, pen))
        for window in (body for body in own if body.role is roles.WINDOW):
            marks.append(Line(view(outer_corners(window.prisms[0], design.parts.outer)), "cut"))
    return marks


def _places_across(sheet: Sheet, face: Face, centres: Sequence[tuple[float, float]]) -> float:
    """Distances of centres across the panel, written upright below; returns how far down they reach."""
    places = sorted({round(across, 6) for across, _ in centres}, reverse=face.mirrored)
    at = [sheet.at(face.seen(np.array([place, 0.0])))[0] for place in places]
    labels = spaced([(x, sheet.length(place)) for x, place in zip(at, places, strict=True)])
    for x, place, figure in labels:
        sheet.rule((x, sheet.bottom + 5.0), (x, sheet.bottom + 10.0))
        sheet.rule((x, sheet.bottom + 10.0), (place, sheet.bottom + 22.0))
        sheet.text(figure, (place, sheet.bottom + 26.0), anchor="end", turned=True)
    return sheet.bottom + 26.0 + max(wide(figure) for _, _, figure in labels)


def _places_up(sheet: Sheet, centres: Sequence[tuple[float, float]]) -> None:
    """Distances of centres up the panel, written level at the left."""
    heights = sorted({round(up, 6) for _, up in centres}, reverse=True)
    for y, place, figure in spaced([(sheet.at((0.0, up))[1], sheet.length(up)) for up in heights]):
        sheet.rule((sheet.left - 5.0, y), (sheet.left - 10.0, y))
        sheet.rule((sheet.left - 10.0, y), (sheet.left - 20.0, place))
        sheet.text(figure, (sheet.left - 24.0, place), anchor="end")


def _sizes(sheet: Sheet, design: Design, face: Face, below: float) -> None:
    """The panel's own sizes: across below it and, on a side, above it; upright at the right."""
    page = [sheet.at(place) for place in face.seen(face.outline)]
    if face.mirrored:  # as seen, from the left: lower two, then upper two
        page = [page[1], page[0], page[3], page[2]]
    low, tall = (sheet.length(float(np.ptp(size))) for size in (face.outline[:2, 0], face.outline[:, 1]))
    sheet.across(page[0], page[1], below, low)
    if design.driven in SIDES:
        sheet.across(page[3], page[2], sheet.top - APART, sheet.length(design.top_depth))
    sheet.upward(page[1], page[2], sheet.right + APART, tall)
