"""The box in its space as somebody sees it who is not going to build it: what shows from outside, and outer sizes."""

from __future__ import annotations

import numpy as np

from engine.arrays import Floats
from engine.parts import Space
from engine.quantities import Units
from engine.space.bodies import outer_corners
from engine.space.panels import panel_face
from engine.workshop import words
from engine.workshop.design import Design
from engine.workshop.isometric import FAR, dimensions, kept_out, room_behind, standing
from engine.workshop.projection import ISOMETRIC, View, disc, edges, lift, square_on
from engine.workshop.svg import TEXT, Line, Mark, Sheet

# What shows on a panel from outside, and how dark it is; holes that are cut to screw something over them do not show.
_DARK = {"driver flange": 0.42, "radiator flange": 0.24, "bore": 0.85, "window": 0.85}
_SURROUND = 0.82  # of a flange's diameter, about where its cone begins; common practice, no source
_CONE = 0.3
# A face is darker the more it turns away from the light, which falls from the front left above.
_LIGHT = np.array([-0.3, 0.5, 0.8])
_BRIGHT, _SHADE = 0.03, 0.18
_LARGE = 21.0  # text


def picture_of(design: Design, space: Space, units: Units) -> str:
    """The outside of the box, shaded, in the measured space, from the front right above; nothing that is inside."""
    title = "The box in the measured space, from the front right above"
    sheet = Sheet("picture", title, f"{words.sizes(design, units)} {words.place(design, space, units)}", units)
    marks = room_behind(design, space)
    around = [mark for keepout in space.keepouts for mark in kept_out(design, keepout)]
    marks += [mark for mark in around if mark.pen != "faint"]  # what the box hides does not show
    marks += [*_faces(design), *_on_faces(design)]
    sheet.fit(marks, left=FAR, right=FAR + 74.0, top=14.0, tallest=300.0)
    sheet.draw(marks)
    dimensions(sheet, design)
    sheet.height = sheet.bottom + FAR
    # It is printed small.
    return sheet.svg().replace(f'font-size="{TEXT:g}"', f'font-size="{_LARGE:g}"', 1)


def _faces(design: Design) -> list[Mark]:
    """The faces turned to who looks, the lighter the more they face up."""
    section, across = standing(design)
    view = ISOMETRIC
    marks: list[Mark] = []
    end = np.array([1.0, 0.0, 0.0])
    faces: list[tuple[Floats, Floats]] = [(lift(section, across[1]), end)]
    for edge in edges(section, across):
        if edge.ends[0, 0] == edge.ends[1, 0] == across[0]:  # the left end's edge, drawn on to the right end's
            opposite = edge.ends[::-1] + np.array([across[1] - across[0], 0.0, 0.0])
            faces.append((np.concatenate([edge.ends, opposite]), edge.normals[1]))
    for corners, normal in faces:
        if view.shows(normal):
            away = 0.5 * (1.0 - float(normal @ _LIGHT) / float(np.linalg.norm(_LIGHT)))
            marks.append(Line(view(corners), "cut", wash=round(_BRIGHT + _SHADE * away, 3)))
    return marks


def _on_faces(design: Design) -> list[Mark]:
    """Flanges with their cones and the mouths of vents, on the panels that show."""
    view = ISOMETRIC.placed(design.place)
    marks: list[Mark] = []
    for body in design.drawn:
        wash = _DARK.get(body.role.name)
        if wash is None:
            continue
        outward = square_on(panel_face(design.parts, body.panel)).eye
        if not view.shows(outward):
            continue
        for ring in body.frusta[:1]:
            marks += _round(view, ring.start, outward, ring.radii[0], wash=wash, cone=body.role.mounted)
        marks += [
            Line(view(lifted), "outline", wash=wash)
            for lifted in (outer_corners(prism, design.parts.outer) for prism in body.prisms)
        ]
    return marks


def _round(view: View, centre: Floats, outward: Floats, radius: float, *, wash: float, cone: bool) -> list[Mark]:
    flange = [disc(view, centre, outward, radius, "outline", wash=wash)]
    return [*flange, disc(view, centre, outward, _SURROUND * radius, "thin", wash=_CONE)] if cone else flange
