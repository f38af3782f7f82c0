"""One panel seen square on from outside in its true size, with what lies behind it in dashes."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.quantities import Units
from engine.space.bodies import (
    BRACE,
    CROSS,
    CUTOUT,
    FLARE,
    HOLE,
    MAGNET,
    PASSING_PIPE,
    PIPE,
    SIDES,
    WINDOW,
    Frustum,
    Prism,
    outer_corners,
)
from engine.space.panels import FACES, FROM, Face, length, rectangle
from engine.workshop import contents, words
from engine.workshop.design import Design
from engine.workshop.keepouts import name_one
from engine.workshop.projection import cross, disc, prism_outline, round_body, square_on, tube
from engine.workshop.svg import (
    APART,
    AXIS,
    CUT,
    FAINT,
    HIDDEN,
    OUTLINE,
    PENS,
    ROUNDED,
    Line,
    Mark,
    Pen,
    Sheet,
    extent,
    framed,
    spaced,
    wide,
)

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
    title, _ = FACES[panel]
    about = f"{words.sizes_in_words(design, units)} {words.leans_in_words(design, units)}"
    sheet = Sheet(name, title, about, frame)
    sheet.draw(marks)

    bottom = frame.at(low)[1]
    deepest, left_of = bottom, frame.at(low)[0]
    centres = [face.on(centre) for centre in _holes(design, panel)]
    if centres:
        deepest = _places_across(sheet, face, centres, bottom, units)
        _places_up(sheet, centres, left_of, units)
    below = deepest + 36.0
    _sizes(sheet, design, face, below, frame.at(high), units)
    sheet.scale_bar(below + 30.0, units)
    lines = [_about_places(design, panel, units), *contents.contents_in_words(design, units, seen=panel), *notes]
    sheet.notes(lines, _keys(design), below + 58.0)
    here = [body for body in design.drawn if body.panel == panel]
    for body in (body for body in here if body.role is CUTOUT):
        _inside_ring(sheet, face, body.frusta[0], f"⌀\u00a0{length(2.0 * body.frusta[0].radii[0], units)}")
    for body in (body for body in here if body.role.label):
        reach = body.frusta[0].radii[0]
        middle = square_on(face)(body.frusta[0].end)
        name_one(sheet, rectangle(-reach, reach, -reach, reach) + middle, [body.role.label])
    return sheet.svg()


def _holes(design: Design, panel: str) -> list[Floats]:
    """Centres (x, y, z) on the outer face of everything round that goes through a panel, corners of windows."""
    found: list[Floats] = []
    for body in (body for body in design.drawn if body.panel == panel):
        if body.role in (CUTOUT, HOLE):
            found.append(body.frusta[0].start)
        elif body.role is WINDOW:
            found += list(outer_corners(body.prisms[0], design.parts.outer))
    return found


def _inside_ring(sheet: Sheet, face: Face, ring: Frustum, said: str) -> None:
    """Words in a hole above or below its middle, where there is room."""
    reach = ring.radii[0] * sheet.frame.scale
    x, y = sheet.at(square_on(face)(ring.start))
    heights = [
        share * reach for share in (0.8, -0.8, 0.45, -0.45) if wide(said) < 1.9 * reach * (1.0 - share**2) ** 0.5
    ]
    sheet.label([said], [((x, y + height), "middle") for height in heights])


def _keys(design: Design) -> list[tuple[Pen, str]]:
    keys = [(CUT, "edge to cut"), (OUTLINE, "flange, bore"), (HIDDEN, "behind"), (AXIS, "axis")]
    if design.parts.of(BRACE) and design.driven in SIDES:
        keys.append((FAINT, "opening of the braces"))
    if design.round_over > 0.0:
        keys.append((ROUNDED, "edges rounded up to here"))
    return keys


def _about_places(design: Design, panel: str, units: Units) -> str:
    window = any(body.role is WINDOW and body.panel == panel for body in design.drawn)
    edges = " and edges" if window else ""
    where = f"Centres{edges} are {FROM[panel]}."
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
    view = square_on(face)
    marks: list[Mark] = [Line(face.seen(face.inner), HIDDEN)]
    for brace in (body.prisms[0] for body in design.parts.of(BRACE)):
        if panel in SIDES:
            marks += [Line(view(np.insert(hole, 0, brace.x[0], axis=1)), FAINT) for hole in brace.holes]
        else:
            low, high = _meets(brace, face)
            across = rectangle(brace.x[0] - face.corner[0], brace.x[1] - face.corner[0], low, high)
            marks.append(Line(face.seen(across), HIDDEN))
    for body in design.drawn:
        through = body.panel == panel
        pen = PENS[body.role.other] if body.role.other else None
        if body.role in (PIPE, PASSING_PIPE):
            flares = design.own(body, FLARE)
            if not through:
                marks += tube(view, body.rounds, [piece for flare in flares for piece in flare.frusta], HIDDEN)
            elif len(body.rounds) > 1:
                inner = [piece for flare in flares[1:] for piece in flare.rounds]
                marks += round_body(view, [*body.rounds[1:], *inner], HIDDEN)
        elif pen and (body.role is MAGNET or not through):
            marks += [mark for piece in body.rounds for mark in round_body(view, [piece], pen)]
            marks += [Line(prism_outline(view, prism), pen) for prism in body.prisms]
            marks += [Line(view(path.points), pen, closed=False) for path in body.paths]
    return marks


def _meets(brace: Prism, face: Face) -> tuple[float, float]:
    """From where to where up a panel a brace touches it: less than all of it where a slot is in between."""
    inside = face.inner[:, 1]
    corners = np.insert(brace.section, 0, brace.x[0], axis=1)
    depth = (corners - face.corner) @ square_on(face).eye
    touching = (corners - face.corner)[depth > depth.max() - TOUCH] @ face.up
    return max(float(inside.min()), float(touching.min())), min(float(inside.max()), float(touching.max()))


def _through(design: Design, panel: str) -> list[Mark]:
    """What goes through the panel: rings of drivers, vents and cup, the windows of ducts."""
    view = square_on(design.face(panel))
    marks: list[Mark] = []
    for thing in design.parts.things:
        own = [body for body in design.drawn if body.thing == thing and body.panel == panel]
        # Of rings as wide as each other, such as a pipe without flares and its hole, the last one.
        rings = {body.frusta[0].radii[0]: body for body in own if body.role.own and body.frusta}
        for hole in (body for body in own if body.role in (CUTOUT, HOLE)):
            marks += cross(view, hole.frusta[0].start, CROSS * max(rings), AXIS)
        for radius, body in rings.items():
            if pen := body.role.own:
                marks.append(disc(view, body.frusta[0].start, view.eye, radius, PENS[pen]))
        for window in (body for body in own if body.role is WINDOW):
            marks.append(Line(view(outer_corners(window.prisms[0], design.parts.outer)), CUT))
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
