"""The box in its space, cut through a driver and seen from the left end."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.parts import KeepOut, Space
from engine.quantities import Units
from engine.space.arrangement import Bend, DriverSolid, Frustum, VentSolid
from engine.workshop import words
from engine.workshop.design import SIDES, Design, axis_of, is_magnet, stands_across
from engine.workshop.projection import SECTION, View, disc, middle_line, prism_outline, round_body, silhouette
from engine.workshop.svg import (
    APART,
    AXIS,
    CUT,
    FAINT,
    HIDDEN,
    MARGIN,
    OUTLINE,
    REACH,
    THIN,
    Frame,
    Line,
    Mark,
    Pen,
    Place,
    Sheet,
    extent,
    framed,
    hatching,
    length,
)

Floats = NDArray[np.float64]


def section_of(design: Design, space: Space, free: Sequence[Floats], units: Units) -> str:
    """``free`` holds the outlines (y, z) of what margin, clearances, carpet and keep-outs leave where the box is."""
    view = SECTION.placed(design.place)
    marks: list[Mark] = [Line(np.asarray(space.section), OUTLINE), *(Line(outline, MARGIN) for outline in free)]
    marks += _panels(design, view)
    marks += _inside(design, view)
    low, high = extent([*marks, *(Line(np.asarray(keepout.section), THIN) for keepout in space.keepouts)])
    frame = framed(low, high, left=34.0, right=76.0, top=66.0, tallest=400.0)
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
    sheet.upward(page[1][1], page[2][1], right, tall, sources=(page[1][0], page[2][0]))
    sheet.scale_bar(below + 34.0, units, ways=("← back", "front →"))
    sheet.height = below + 54.0
    numbered = name_keepouts(sheet, [np.asarray(keepout.section) for keepout in space.keepouts], space.keepouts)
    notes = [words.leans_in_words(design, units), words.place_in_words(design, space, units)]
    if numbered:
        notes.append(words.keepouts_in_words(space.keepouts, units, numbered=True))
    sheet.notes(notes, _keys(design, space, cut), below + 64.0)
    return sheet.svg()


def keepouts_cut(keepouts: Sequence[KeepOut], frame: Frame, low: float, high: float) -> list[Mark]:
    """Keep-outs between two places of the width hatched, those beside them dashed."""
    marks: list[Mark] = []
    for keepout in keepouts:
        outline = np.asarray(keepout.section)
        if stands_across(keepout, low, high):
            marks += [*hatching(outline, frame), Line(outline, OUTLINE)]
        else:
            marks.append(Line(outline, FAINT))
    return marks


def name_keepouts(sheet: Sheet, outlines: Sequence[Floats], keepouts: Sequence[KeepOut]) -> bool:
    """Names in or beside the outlines; the number where a name has no room: returns whether there is such a one."""
    found = [
        name_one(sheet, outline, [keepout.name, str(number)]) == keepout.name
        for number, (outline, keepout) in enumerate(zip(outlines, keepouts, strict=True), start=1)
    ]
    return not all(found)


def name_one(sheet: Sheet, outline: Floats, names: Sequence[str]) -> str:
    """Writes one of the names in the middle of an outline, or beside it with a line that leads there; returns it."""
    (left, low), (right, high) = sheet.at(outline.min(axis=0)), sheet.at(outline.max(axis=0))
    x, y = 0.5 * (left + right), 0.5 * (low + high)
    places: list[Place] = [
        ((x, y), "middle"),
        ((x, high - 11.0), "middle"),
        ((x, low + 11.0), "middle"),
        ((right + 6.0, y), "start"),
        ((left - 6.0, y), "end"),
        ((left, high - 11.0), "start"),
        ((right, high - 11.0), "end"),
        ((left, low + 11.0), "start"),
        ((right, low + 11.0), "end"),
        ((right + 6.0, high + 8.0), "start"),
        ((left - 6.0, high + 8.0), "end"),
        ((right + 6.0, low - 8.0), "start"),
        ((left - 6.0, low - 8.0), "end"),
    ]
    return sheet.label(names, places, of=outline)


def _keys(design: Design, space: Space, cut: float) -> list[tuple[Pen, str]]:
    keys = [(CUT, "board, cut"), (OUTLINE, "space"), (MARGIN, "margin kept free")]
    if design.parts.drivers:
        keys.append((REACH, "room for the driver"))
    if any(piece_pen(piece, design.cut) == HIDDEN for vent in design.vents for piece in vent.pipe):
        keys.append((HIDDEN, "vent beside the cut"))
    if design.parts.braces:
        keys.append((FAINT, "opening of the braces"))
    if any(not stands_across(keepout, cut, cut) for keepout in space.keepouts):
        keys.append((FAINT, "kept out beside the cut"))
    if any(stands_across(keepout, cut, cut) for keepout in space.keepouts):
        keys.append((THIN, "hatched: kept out, cut"))
    return keys


def _panels(design: Design, view: View) -> list[Mark]:
    """The four panels that are cut, without what is sawn out of them where the cut passes."""
    parts = design.parts
    bores: list[Frustum | Bend] = [driver.cutout for driver in design.drivers_in_cut if driver.panel not in SIDES]
    bores += [piece for vent in design.vents for piece in vent.pipe[:1] if piece_pen(piece, design.cut) == OUTLINE]
    if parts.cup is not None and piece_pen(parts.cup.body, design.cut) == OUTLINE:
        bores.append(parts.cup.body)
    gaps = shapely.union_all([shapely.Polygon(gap) for bore in bores for gap in silhouette(view, [bore])])
    marks: list[Mark] = []
    for panel in parts.panels:
        if panel.name not in SIDES:
            board = shapely.Polygon(prism_outline(view, panel)).difference(gaps)
            marks += [
                Line(np.asarray(piece.exterior.coords)[:-1], CUT, wash=0.16)
                for piece in shapely.get_parts(board)
                if piece.geom_type == "Polygon" and not piece.is_empty
            ]
    return marks


def _inside(design: Design, view: View) -> list[Mark]:
    parts, cut = design.parts, design.cut
    marks: list[Mark] = []
    for brace in parts.braces[:1]:
        marks += [Line(view(np.insert(hole, 0, brace.x[0], axis=1)), FAINT) for hole in brace.holes]
    for support in design.supports:
        marks.append(Line(prism_outline(view, support), OUTLINE if support.x[0] <= cut <= support.x[1] else HIDDEN))
    for vent in design.vents:
        marks += _vent(vent, view, cut)
    for driver in design.drivers_in_cut:
        marks += _driver(driver, view)
    if parts.cup is not None:
        pen = piece_pen(parts.cup.body, cut)
        marks += [*round_body(view, [parts.cup.body], pen), *round_body(view, [parts.cup.flange], pen)]
    return marks


def _driver(driver: DriverSolid, view: View) -> list[Mark]:
    """Cut through its axis: basket, then magnet; seen end on where it faces sideways."""
    end_on = driver.panel in SIDES
    marks = round_body(view, [driver.flange], HIDDEN if end_on else OUTLINE, wash=0.0 if end_on else 0.5)
    for piece in driver.body:
        marks += round_body(view, [piece], OUTLINE, wash=0.3 if is_magnet(piece) else 0.0)
    marks += round_body(view, [driver.rear_air], REACH)
    if driver.terminals is not None:
        marks.append(Line(prism_outline(view, driver.terminals), REACH))
    front, rear = axis_of(driver)
    if end_on:
        marks += crossing(view, driver.cutout.start, rear - front, driver.cutout.radii[0])
    else:
        marks.append(Line(view(np.array([front - 0.2 * (rear - front), rear + 0.12 * (rear - front)])), AXIS, False))
    return marks


def piece_pen(piece: Frustum | Bend, cut: float) -> Pen:
    """Solid where the cut passes through a round piece, dashed where it lies beside."""
    if isinstance(piece, Bend):
        ends = [piece.centre[0] + piece.radius * way[0] for way in (piece.first, piece.last)]
        reach = piece.tube_radius
    else:
        ends = [piece.start[0], piece.end[0]]
        along = abs(float(piece.end[0] - piece.start[0])) / float(np.linalg.norm(piece.end - piece.start))
        reach = max(piece.radii) * float(np.sqrt(max(1.0 - along**2, 0.0)))
    return OUTLINE if min(ends) - reach < cut < max(ends) + reach else HIDDEN


def crossing(view: View, centre: Floats, axis: Floats, radius: float) -> list[Mark]:
    """Axes of a circle seen end on, a little longer than it is wide."""
    ring = disc(view, centre, axis, radius, AXIS)
    middle = view(centre)
    reach = radius if isinstance(ring, Line) else float(np.hypot(*ring.half[0]))
    return [
        Line(np.array([middle - 1.12 * reach * arm, middle + 1.12 * reach * arm]), AXIS, closed=False)
        for arm in np.eye(2)
    ]


def _vent(vent: VentSolid, view: View, cut: float) -> list[Mark]:
    """Piece by piece where the cut passes through some of them, else as one."""
    pens = [piece_pen(piece, cut) for piece in vent.pipe]
    marks: list[Mark] = []
    if OUTLINE in pens:
        for piece, pen in zip(vent.pipe, pens, strict=True):
            marks += round_body(view, [piece], pen)
    else:
        marks += round_body(view, vent.pipe, HIDDEN)
    for piece in vent.bore:
        if isinstance(piece, Frustum) and piece_pen(piece, cut) == OUTLINE:
            marks += round_body(view, [piece], THIN)
    first = vent.pipe[0]
    if vent.through in SIDES and isinstance(first, Frustum):
        marks += crossing(view, vent.mouth, first.end - first.start, vent.radius)
    else:
        marks.append(Line(view(np.vstack([middle_line(vent.pipe), vent.free_air.end])), AXIS, closed=False))
    return marks
