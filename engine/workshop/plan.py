"""The box in its space, seen from above."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from engine.parts import Space
from engine.quantities import Units
from engine.space.bodies import BRACE, FLARE, PASSING_PIPE, PIPE
from engine.space.panels import length, rectangle
from engine.workshop import words
from engine.workshop.design import Design
from engine.workshop.keepouts import keepouts_above, name_keepouts, seen_from_above
from engine.workshop.projection import ABOVE, lift, prism_outline, round_body, tube
from engine.workshop.svg import (
    APART,
    AXIS,
    COLUMN,
    CUT,
    HIDDEN,
    OUTLINE,
    PENS,
    THIN,
    Line,
    Mark,
    Pen,
    Sheet,
    extent,
    framed,
)

Floats = NDArray[np.float64]

SHORT = 5e-4  # m, gaps that are not worth a dimension


def plan_of(design: Design, space: Space, units: Units) -> str:
    """Space and keep-outs at their widest, the box with its upper edges heavy and its inside at half height."""
    box = _box(design)
    outlines = [seen_from_above(keepout.section, keepout.across) for keepout in space.keepouts]
    room = seen_from_above(space.section, (0.0, space.width))
    inside = _inside(design)
    low, high = extent([*box, *inside, Line(room, OUTLINE), *(Line(outline, OUTLINE) for outline in outlines)])
    frame = framed(low, high, left=34.0, right=44.0 + 2.0 * COLUMN, top=34.0, tallest=330.0)
    sheet = Sheet(
        "plan",
        "The box in its space, seen from above",
        f"{words.sizes_in_words(design, units)} {words.place_in_words(design, space, units)}",
        frame,
    )
    sheet.draw([Line(room, OUTLINE), *keepouts_above(space.keepouts, outlines, frame), *inside, *box])
    below = _dimensions(sheet, design, room, low, high, units)
    sheet.scale_bar(below + 34.0, units, ways=("↑ back", "↓ front"))
    sheet.height = below + 54.0
    numbered = name_keepouts(sheet, outlines, space.keepouts)
    notes = [words.sizes_in_words(design, units)]
    if space.keepouts:
        notes.append(words.keepouts_in_words(space.keepouts, units, numbered=numbered))
    sheet.notes(notes, _keys(space), below + 64.0)
    return sheet.svg()


def _keys(space: Space) -> list[tuple[Pen, str]]:
    keys = [
        (CUT, "upper edges of the box"),
        (OUTLINE, "lower edges, space"),
        (HIDDEN, "inside, hidden"),
        (AXIS, "axis"),
    ]
    if space.keepouts:
        keys.append((THIN, "hatched: kept out at some height"))
    return keys


def _box(design: Design) -> list[Mark]:
    """The six faces' edges; lower ones are dashed where the top covers them."""
    view = ABOVE.placed(design.place)
    section, across = design.parts.outer.section, design.parts.outer.x
    (rear, front), (top_rear, top_front) = section[:2, 0], section[[3, 2], 0]
    marks: list[Mark] = []
    for lower, upper, outward in ((rear, top_rear, -1.0), (front, top_front, 1.0)):
        sticks_out = outward * (lower - upper) > SHORT
        if abs(lower - upper) > SHORT:
            ends = np.array([(x, lower, 0.0) for x in across])
            marks.append(Line(view(ends), OUTLINE if sticks_out else HIDDEN, closed=False))
        if sticks_out:
            ends_of_sides = [np.array([(x, upper, 0.0), (x, lower, 0.0)]) for x in across]
            marks += [Line(view(ends), OUTLINE, closed=False) for ends in ends_of_sides]
    top = np.array([(x, y, 0.0) for x, y in rectangle(across[0], across[1], top_rear, top_front)])
    return [*marks, Line(view(top), CUT)]


def _inside(design: Design) -> list[Mark]:
    view, parts = ABOVE.placed(design.place), design.parts
    section = parts.inner.section
    middle = 0.5 * (section[[0, 1]] + section[[3, 2]])  # rear and front at half height
    marks: list[Mark] = []
    for across in (parts.inner.x, *(brace.prisms[0].x for brace in parts.of(BRACE))):
        corners = [lift(middle, x) for x in across]
        marks.append(Line(view(np.concatenate([corners[0], corners[1][::-1]])), HIDDEN))
    for body in design.drawn:
        if body.role.above is None:
            continue
        pen = PENS[body.role.above]
        if body.role in (PIPE, PASSING_PIPE):
            flares = [piece for flare in design.own(body, FLARE) for piece in flare.frusta]
            marks += tube(view, body.rounds, flares, pen)
        else:
            marks += [mark for piece in body.rounds for mark in round_body(view, [piece], pen)]
        marks += [Line(prism_outline(view, prism), pen) for prism in body.prisms]
        marks += [Line(view(path.points), pen, closed=False) for path in body.paths]
    return marks


def _dimensions(sheet: Sheet, design: Design, room: Floats, low: Floats, high: Floats, units: Units) -> float:
    """Width and the gaps beside it below, depths at the right; returns how far down they reach."""
    at, section, place = sheet.at, design.parts.outer.section, design.place
    left, right = (at((float(x), 0.0))[0] for x in (design.low[0], design.high[0]))
    front = at((0.0, -float(design.high[1])))[1]
    row = at(low)[1] + APART
    for along in design.dimensions("plan"):
        start, end = (at((float(design.low[0]) + x, 0.0))[0] for x in along.ends)
        said = along.words + length(along.ends[1] - along.ends[0], units)
        sheet.across(start, end, row, said, sources=(front, front))
        row += APART
    sheet.across(left, right, row, length(design.width, units), sources=(front, front))
    ends = room[:, 0].min(), room[:, 0].max()
    bottom = at((0.0, float(room[:, 1].min())))[1]
    gaps = (float(design.low[0] - ends[0]), float(ends[1] - design.high[0]))
    row += APART if max(gaps) > SHORT else 0.0
    if gaps[0] > SHORT:
        sheet.across(at((ends[0], 0.0))[0], left, row, length(gaps[0], units), sources=(bottom, front))
    if gaps[1] > SHORT:
        words_go = "end" if gaps[1] * sheet.frame.scale > 60.0 else "start"
        end = at((ends[1], 0.0))[0]
        sheet.across(right, end, row, length(gaps[1], units), sources=(front, bottom), beyond=words_go)
    column = at(high)[0] + APART
    for (rear, fore), size in (((3, 2), design.top_depth), ((0, 1), design.bottom_depth)):
        near, far = (at((0.0, -float(section[corner, 0] + place[1])))[1] for corner in (fore, rear))
        sheet.upward(near, far, column, f"{'top' if rear else 'bottom'} {length(size, units)}", sources=(right, right))
        column += COLUMN
    return row
