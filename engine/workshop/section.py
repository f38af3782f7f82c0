"""The box in its space, cut through a driver and seen from the left end."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.parts import Space
from engine.quantities import Units
from engine.space.bodies import (
    AXIS,
    BORE,
    BRACE,
    FLARE,
    MIDDLE_LINE,
    PANEL,
    PASSING_PIPE,
    PIPE,
    SIDES,
    Body,
    Look,
    Prism,
    Solid,
)
from engine.space.panels import length
from engine.workshop import words
from engine.workshop.design import Design
from engine.workshop.keepouts import keepouts_cut, name_keepouts, stands_across
from engine.workshop.projection import EDGE_ON, SECTION, View, cross, prism_outline, round_body, silhouette, tube
from engine.workshop.svg import (
    APART,
    COLUMN,
    CUT,
    FAINT,
    HIDDEN,
    MARGIN,
    OUTLINE,
    PENS,
    REACH,
    THIN,
    Line,
    Mark,
    Pen,
    Sheet,
    extent,
    framed,
)

Floats = NDArray[np.float64]


def section_of(design: Design, space: Space, free: Sequence[Floats], units: Units) -> str:
    """``free`` holds the outlines (y, z) of what margin, clearances, carpet and keep-outs leave where the box is."""
    view = SECTION.placed(design.place)
    marks: list[Mark] = [Line(np.asarray(space.section), OUTLINE), *(Line(outline, MARGIN) for outline in free)]
    marks += _panels(design, view)
    marks += _inside(design, view)
    low, high = extent([*marks, *(Line(np.asarray(keepout.section), THIN) for keepout in space.keepouts)])
    sizes = design.dimensions("section")
    more = COLUMN * len(sizes)
    frame = framed(low, high, left=34.0, right=76.0 + more, top=66.0, tallest=400.0)
    cut = float(design.place[0]) + design.cut
    kept_out = keepouts_cut(space.keepouts, frame, cut, cut)
    sheet = Sheet(
        "section",
        "Section of the box in its space",
        f"{words.sizes_in_words(design, units)} {words.leans_in_words(design, units)}",
        frame,
    )
    sheet.draw([*kept_out, *marks])

    page = [sheet.at(corner) for corner in view(np.insert(design.parts.outer.section, 0, 0.0, axis=1))]
    above, below = sheet.at(high)[1] - APART, sheet.at(low)[1] + APART
    top, bottom, tall = (length(size, units) for size in (design.top_depth, design.bottom_depth, design.height))
    sheet.across(page[3][0], page[2][0], above, top, sources=(page[3][1], page[2][1]))
    sheet.across(page[0][0], page[1][0], below, bottom, sources=(page[0][1], page[1][1]))
    right = sheet.at(high)[0] + APART
    for number, size in enumerate(sizes):
        ends = [sheet.at(view(np.array([0.0, 0.0, z])))[1] for z in size.ends]
        source = sheet.at(view(np.array([0.0, size.source, 0.0])))[0]
        said = size.words + length(size.ends[1] - size.ends[0], units)
        sheet.upward(ends[0], ends[1], right + number * COLUMN, said, sources=(source, source))
    sheet.upward(page[1][1], page[2][1], right + more, tall, sources=(page[1][0], page[2][0]))
    sheet.scale_bar(below + 34.0, units, ways=("← back", "front →"))
    sheet.height = below + 54.0
    numbered = name_keepouts(sheet, [np.asarray(keepout.section) for keepout in space.keepouts], space.keepouts)
    notes = [words.leans_in_words(design, units), words.place_in_words(design, space, units)]
    if numbered:
        notes.append(words.keepouts_in_words(space.keepouts, units, numbered=True))
    sheet.notes(notes, _keys(design, space, cut), below + 64.0)
    return sheet.svg()


def _keys(design: Design, space: Space, cut: float) -> list[tuple[Pen, str]]:
    keys = [(CUT, "board, cut"), (OUTLINE, "space"), (MARGIN, "margin kept free")]
    if reserved := _reserved(design):
        keys.append((REACH, f"room for the {reserved}"))
    beside = _beside(design)
    if beside:
        keys.append((HIDDEN, f"{' and '.join(beside)} beside the cut"))
    if design.parts.of(BRACE):
        keys.append((FAINT, "opening of the braces"))
    if any(not stands_across(keepout, cut, cut) for keepout in space.keepouts):
        keys.append((FAINT, "kept out beside the cut"))
    if any(stands_across(keepout, cut, cut) for keepout in space.keepouts):
        keys.append((THIN, "hatched: kept out, cut"))
    return keys


def _cut_or_beside(design: Design, body: Body, shape: Solid) -> Look | None:
    """How the section shows a piece; None where it does not."""
    role = body.role
    if not role.mounted:
        return role.cut if design.passes(shape) else role.beside
    return {"cut": role.cut, "beside": role.beside, "end on": role.end_on}[design.seats[body.thing]]


def _solids(body: Body) -> tuple[Solid, ...]:
    return (*body.prisms, *body.rounds)


def _beside(design: Design) -> list[str]:
    """What is drawn though the cut does not pass through it."""
    named = (body for body in design.drawn if body.role.beside_words)
    beside = (
        body.role.beside_words
        for body in named
        if any(_cut_or_beside(design, body, shape) is body.role.beside for shape in _solids(body))
    )
    return list(dict.fromkeys(beside))


def _reserved(design: Design) -> str:
    """For whom room is kept where the section shows it."""
    rooms = (
        body.role.room_words
        for body in design.drawn
        for shape in _solids(body)
        if body.role.room_words and (look := _cut_or_beside(design, body, shape)) and look.pen == "reach"
    )
    return next(rooms, "")


def _panels(design: Design, view: View) -> list[Mark]:
    """The four panels that are cut, without what is sawn out of them where the cut passes."""
    sawn: list[Floats] = []
    for body in (body for body in design.drawn if body.role.sawn):
        # Of a pipe what passes the panel: its first piece.
        for shape in _solids(body) if body.role is FLARE else _solids(body)[:1]:
            if design.seats[body.thing] == "cut" if body.role.mounted else design.passes(shape):
                sawn += [prism_outline(view, shape)] if isinstance(shape, Prism) else silhouette(view, [shape])
    gaps = shapely.union_all([shapely.Polygon(outline) for outline in sawn])
    marks: list[Mark] = []
    for panel in design.parts.of(PANEL):
        if panel.panel not in SIDES:
            board = shapely.Polygon(prism_outline(view, panel.prisms[0])).difference(gaps)
            marks += [
                Line(np.asarray(piece.exterior.coords)[:-1], CUT, wash=0.16)
                for piece in shapely.get_parts(board)
                if piece.geom_type == "Polygon" and not piece.is_empty
            ]
    return marks


def _inside(design: Design, view: View) -> list[Mark]:
    marks: list[Mark] = []
    for brace in design.parts.of(BRACE)[:1]:
        plate = brace.prisms[0]
        marks += [Line(view(np.insert(hole, 0, plate.x[0], axis=1)), FAINT) for hole in plate.holes]
    for body in (body for body in design.drawn if body.role is not PANEL):
        if body.role in (AXIS, MIDDLE_LINE):
            marks += _axis(design, body, view)
        elif body.role in (PIPE, PASSING_PIPE) and not any(design.passes(piece) for piece in body.rounds):
            flares = [piece for flare in design.own(body, FLARE) for piece in flare.frusta]
            marks += tube(view, body.rounds, flares, HIDDEN)
        elif body.role is FLARE:
            marks += round_body(view, body.rounds, OUTLINE) if design.passes(body.rounds[0]) else []
        else:
            for shape in body.frusta if body.role is BORE else _solids(body):
                if look := _cut_or_beside(design, body, shape):
                    pen = PENS[look.pen]
                    if isinstance(shape, Prism):
                        marks.append(Line(prism_outline(view, shape), pen, wash=look.wash))
                    else:
                        marks += round_body(view, [shape], pen, wash=look.wash)
    return marks


def _axis(design: Design, body: Body, view: View) -> list[Mark]:
    """An axis or a middle line: a cross where it is seen end on, and the line where it shows."""
    path = body.paths[0]
    seen = view(path.points)
    end_on = float(np.hypot(*(seen[1] - seen[0]))) < EDGE_ON
    marks = cross(view, path.points[0], path.arm, PENS["axis"]) if end_on else []
    if body.role is AXIS:
        if design.seats[body.thing] == "beside":
            return []
        start, end = seen
        seen = np.array([start - 0.2 * (end - start), end + 0.12 * (end - start)])
    shows = float(np.ptp(seen, axis=0).max()) > EDGE_ON
    return [*marks, Line(seen, PENS["axis"], closed=False)] if shows else marks
