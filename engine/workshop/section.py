"""The box in its space, cut through a driver and seen from the left end."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely

from engine.arrays import Floats
from engine.parts import Space
from engine.quantities import Units
from engine.space import roles
from engine.space.bodies import SIDES, Body, Prism, Solid
from engine.space.roles import Look
from engine.workshop import keepouts, words
from engine.workshop.design import Design
from engine.workshop.projection import (
    EDGE_ON,
    SECTION,
    View,
    board_edges,
    cross,
    outlines,
    prism_outline,
    round_body,
    silhouette,
)
from engine.workshop.svg import APART, COLUMN, Keys, Line, Mark, Sheet, closed_pieces


def section_of(design: Design, space: Space, free: Sequence[Floats], units: Units) -> str:
    """``free`` holds the outlines (y, z) of what margin, clearances, carpet and keep-outs leave where the box is."""
    view, leans = SECTION.placed(design.place), words.leans(*design.leans, units)
    sheet = Sheet("section", "Section of the box in its space", f"{words.sizes(design, units)} {leans}", units)
    marks: list[Mark] = [Line(np.asarray(space.section), "outline"), *(Line(outline, "margin") for outline in free)]
    marks += [*_panels(design, view), *_inside(design, view)]
    kept_out, sizes = keepouts.sections(space.keepouts), design.dimensions("section")
    more, cut = COLUMN * len(sizes), float(design.place[0]) + design.cut
    around = [*marks, *(Line(outline, "thin") for outline in kept_out)]
    sheet.fit(around, left=34.0, right=76.0 + more, top=66.0, tallest=400.0)
    sheet.draw([*keepouts.cut(space.keepouts, sheet, cut, cut), *marks])

    page = [sheet.at(corner) for corner in view(np.insert(design.parts.outer.section, 0, 0.0, axis=1))]
    above, below, right = sheet.top - APART, sheet.bottom + APART, sheet.right + APART
    top, bottom, tall = (sheet.length(size) for size in (design.top_depth, design.bottom_depth, design.height))
    sheet.across(page[3], page[2], above, top)
    sheet.across(page[0], page[1], below, bottom)
    for number, size in enumerate(sizes):
        low, high = (sheet.at(view(np.array([0.0, size.source, z]))) for z in size.ends)
        sheet.upward(low, high, right + number * COLUMN, size.words + sheet.length(size.ends[1] - size.ends[0]))
    sheet.upward(page[1], page[2], right + more, tall)
    sheet.scale_bar(below + 34.0, ways=("← back", "front →"))
    sheet.height = below + 54.0
    told = keepouts.explained(sheet, kept_out, space.keepouts, always=False)
    sheet.notes([leans, words.place(design, space, units), *told], _keys(design, space, cut), below + 64.0)
    return sheet.svg()


def _keys(design: Design, space: Space, cut: float) -> Keys:
    keys: Keys = [("cut", "board, cut"), ("outline", "space"), ("margin", "margin kept free")]
    beside, room = [], ""
    for body in design.drawn:
        for look in (_look(design, body, shape) for shape in body.solids):
            if body.role.room_words and look and look.pen == "reach":
                room = room or body.role.room_words
            if body.role.beside_words and look is body.role.beside:
                beside.append(body.role.beside_words)
    if room:
        keys.append(("reach", f"room for the {room}"))
    if beside:
        keys.append(("hidden", f"{' and '.join(dict.fromkeys(beside))} beside the cut"))
    if design.braces:
        keys.append(("faint", "braces"))
    through = {keepouts.stands_across(keepout, cut, cut) for keepout in space.keepouts}
    if False in through:
        keys.append(("faint", "kept out beside the cut"))
    if True in through:
        keys.append(("thin", "hatched: kept out, cut"))
    return keys


def _look(design: Design, body: Body, shape: Solid) -> Look | None:
    """How the section shows a piece; None where it does not."""
    role = body.role
    if not role.mounted:
        return role.cut if design.passes(shape) else role.beside
    return {"cut": role.cut, "beside": role.beside, "end on": role.end_on}[design.seats[body.thing]]


def _panels(design: Design, view: View) -> list[Mark]:
    """The four panels that are cut, without what is sawn out of them where the cut passes."""
    sawn: list[Floats] = []
    for body in (body for body in design.drawn if body.role.sawn):
        # Of a pipe what passes the panel: its first piece.
        for shape in body.solids if body.role is roles.FLARE else body.solids[:1]:
            if design.seats[body.thing] == "cut" if body.role.mounted else design.passes(shape):
                sawn += [prism_outline(view, shape)] if isinstance(shape, Prism) else silhouette(view, [shape])
    gaps = shapely.union_all([shapely.Polygon(outline) for outline in sawn])
    shown = [panel for panel in design.parts.of(roles.PANEL, roles.LAYER) if panel.panel not in SIDES]
    boards = {panel.name: shapely.Polygon(prism_outline(view, panel.prisms[0])) for panel in shown}
    for layer in design.parts.of(roles.LAYER):
        boards["the baffle panel"] = boards["the baffle panel"].difference(boards[layer.name])
    left = [board.difference(gaps) for board in boards.values()]
    return [Line(outline, "cut", wash=0.16) for each in left for outline in closed_pieces(each)]


def _inside(design: Design, view: View) -> list[Mark]:
    marks: list[Mark] = []
    for brace in design.braces[:1]:
        marks += board_edges(view, brace, 0)
    for body in (body for body in design.drawn if body.role is not roles.PANEL):
        role = body.role
        if role in (roles.AXIS, roles.MIDDLE_LINE):
            marks += _axis(design, body, view)
        elif role in (roles.PIPE, roles.PASSING_PIPE) and not any(design.passes(piece) for piece in body.rounds):
            marks += outlines(view, body, design.flares(body), "hidden")
        elif role is roles.FLARE:
            marks += round_body(view, body.rounds, "outline") if design.passes(body.rounds[0]) else []
        else:
            for shape in body.frusta if role is roles.BORE else body.solids:
                if look := _look(design, body, shape):
                    if isinstance(shape, Prism):
                        marks.append(Line(prism_outline(view, shape), look.pen, wash=look.wash))
                    else:
                        marks += round_body(view, [shape], look.pen, wash=look.wash)
    return marks


def _axis(design: Design, body: Body, view: View) -> list[Mark]:
    """An axis or a middle line: a cross where it is seen end on, and the line where it shows."""
    path = body.paths[0]
    seen = view(path.points)
    end_on = float(np.hypot(*(seen[1] - seen[0]))) < EDGE_ON
    marks = cross(view, path.points[0], path.arm, "axis") if end_on else []
    if body.role is roles.AXIS:
        if design.seats[body.thing] == "beside":
            return []
        start, end = seen
        seen = np.array([start - 0.2 * (end - start), end + 0.12 * (end - start)])
    shows = float(np.ptp(seen, axis=0).max()) > EDGE_ON
    return [*marks, Line(seen, "axis", closed=False)] if shows else marks
