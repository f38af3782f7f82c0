"""The box in its space, cut through a driver and seen from the left end."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.parts import Space
from engine.quantities import Units
from engine.space.arrangement import Bend, DriverSolid, Frustum, Prism, RadiatorSolid, SlotSolid, VentSolid
from engine.workshop import words
from engine.workshop.design import SIDES, Design, axis_of, is_magnet, radiator_body
from engine.workshop.keepouts import keepouts_cut, name_keepouts, stands_across
from engine.workshop.projection import SECTION, View, disc, middle_line, prism_outline, round_body, silhouette
from engine.workshop.slots import channel, clear_height, heights, leg, leg_length, line_and_air
from engine.workshop.svg import (
    APART,
    AXIS,
    COLUMN,
    CUT,
    FAINT,
    HIDDEN,
    MARGIN,
    OUTLINE,
    REACH,
    THIN,
    Line,
    Mark,
    Pen,
    Sheet,
    extent,
    framed,
    length,
)
from engine.workshop.vents import flares, outline, piece_pen

Floats = NDArray[np.float64]


def section_of(design: Design, space: Space, free: Sequence[Floats], units: Units) -> str:
    """``free`` holds the outlines (y, z) of what margin, clearances, carpet and keep-outs leave where the box is."""
    view = SECTION.placed(design.place)
    marks: list[Mark] = [Line(np.asarray(space.section), OUTLINE), *(Line(outline, MARGIN) for outline in free)]
    marks += _panels(design, view)
    marks += _inside(design, view)
    low, high = extent([*marks, *(Line(np.asarray(keepout.section), THIN) for keepout in space.keepouts)])
    more = 0.0 if design.slot is None else COLUMN * (1 + (leg(design.slot) is not None))
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
    if design.slot is not None:
        _slot_sizes(sheet, design.slot, view, right, units)
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
    if design.parts.drivers:
        keys.append((REACH, "room for the driver"))
    elif any(design.in_cut(radiator) for radiator in design.parts.radiators):
        keys.append((REACH, "room for the radiator"))
    beside = _beside(design)
    if beside:
        keys.append((HIDDEN, f"{' and '.join(beside)} beside the cut"))
    if design.parts.braces:
        keys.append((FAINT, "opening of the braces"))
    if any(not stands_across(keepout, cut, cut) for keepout in space.keepouts):
        keys.append((FAINT, "kept out beside the cut"))
    if any(stands_across(keepout, cut, cut) for keepout in space.keepouts):
        keys.append((THIN, "hatched: kept out, cut"))
    return keys


def _beside(design: Design) -> list[str]:
    """What is drawn though the cut does not pass through it."""
    cut = design.cut
    found = []
    pipes = any(piece_pen(piece, cut) == HIDDEN for vent in design.vents for piece in vent.pipe)
    if pipes or (design.slot is not None and any(not _cuts(cut, board) for board in design.slot.boards)):
        found.append("vent")
    if any(not design.in_cut(radiator) for radiator in design.parts.radiators):
        found.append("passive radiator")
    return found


def _cuts(cut: float, body: Prism) -> bool:
    return body.x[0] <= cut <= body.x[1]


def _panels(design: Design, view: View) -> list[Mark]:
    """The four panels that are cut, without what is sawn out of them where the cut passes."""
    parts, slot = design.parts, design.slot
    bores: list[Frustum | Bend] = [driver.cutout for driver in design.drivers_in_cut if driver.panel not in SIDES]
    bores += [radiator.cutout for radiator in parts.radiators if design.in_cut(radiator)]
    for vent in design.vents:
        if piece_pen(vent.pipe[0], design.cut) == OUTLINE:
            bores += [vent.pipe[0], *(piece for flare in flares(vent) for piece in flare)]
    if parts.cup is not None and piece_pen(parts.cup.body, design.cut) == OUTLINE:
        bores.append(parts.cup.body)
    sawn = [shapely.Polygon(gap) for bore in bores for gap in silhouette(view, [bore])]
    if slot is not None and slot.through not in SIDES and _cuts(design.cut, slot.bore[0]):
        sawn.append(shapely.Polygon(prism_outline(view, slot.bore[0])))
    gaps = shapely.union_all(sawn)
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
    if design.slot is not None:
        marks += _slot(design.slot, view, cut)
    for radiator in parts.radiators:
        marks += _radiator(radiator, view, in_cut=design.in_cut(radiator))
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
        marks += outline(view, vent, HIDDEN)
    for flare in flares(vent):
        if piece_pen(flare[0], cut) == OUTLINE:
            marks += round_body(view, flare, OUTLINE)
    for piece in vent.bore:
        if isinstance(piece, Frustum) and piece_pen(piece, cut) == OUTLINE:
            marks += round_body(view, [piece], THIN)
    first = vent.pipe[0]
    if vent.through in SIDES and isinstance(first, Frustum):
        marks += crossing(view, vent.mouth, first.end - first.start, vent.radius)
    else:
        marks.append(Line(view(np.vstack([middle_line(vent.pipe), vent.free_air.end])), AXIS, closed=False))
    return marks


def _slot(slot: SlotSolid, view: View, cut: float) -> list[Mark]:
    """Its boards, cut or beside the cut, and its middle line; a cross where that runs along the width only."""
    marks: list[Mark] = [
        Line(prism_outline(view, board), CUT, wash=0.16)
        if _cuts(cut, board)
        else Line(prism_outline(view, board), HIDDEN)
        for board in slot.boards
    ]
    line = view(line_and_air(slot))
    if slot.through in SIDES:
        reach = 0.5 * clear_height(slot)
        marks += [Line(np.array([line[0] - reach * arm, line[0] + reach * arm]), AXIS, False) for arm in np.eye(2)]
    if slot.through not in SIDES or leg(slot) is not None:
        marks.append(Line(line, AXIS, closed=False))
    return marks


def _slot_sizes(sheet: Sheet, slot: SlotSolid, view: View, x: float, units: Units) -> None:
    """Clear height and, a column further out, the leg of a slot."""
    panel, corner, end = heights(slot)
    foremost = float(channel(slot).section[:, 0].max())
    source = sheet.at(view(np.array([0.0, foremost, 0.0])))[0]
    along = leg(slot)
    chain = [(panel, corner, clear_height(slot))]
    if along is not None:
        chain.append((corner, end, leg_length(slot)))
    for number, (start, stop, size) in enumerate(chain):
        low, high = (sheet.at(view(np.array([0.0, 0.0, z])))[1] for z in sorted((start, stop)))
        sheet.upward(low, high, x + number * COLUMN, length(size, units), sources=(source, source))


def _radiator(radiator: RadiatorSolid, view: View, *, in_cut: bool) -> list[Mark]:
    """Cut through its axis, or in dashes beside the cut."""
    flange = round_body(view, [radiator.flange], OUTLINE if in_cut else HIDDEN, wash=0.5 if in_cut else 0.0)
    body = round_body(view, radiator_body(radiator), REACH if in_cut else HIDDEN)
    front, rear = radiator.flange.start, radiator.body.end
    axis = view(np.array([front - 0.2 * (rear - front), rear + 0.12 * (rear - front)]))
    return [*flange, *body, Line(axis, AXIS, closed=False)] if in_cut else [*flange, *body]
