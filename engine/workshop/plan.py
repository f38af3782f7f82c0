"""The box in its space, seen from above."""

from __future__ import annotations

import numpy as np

from engine.arrays import Floats
from engine.parts import Space
from engine.quantities import Units
from engine.space.bodies import across
from engine.space.panels import rectangle
from engine.workshop import keepouts, words
from engine.workshop.design import Design
from engine.workshop.panel import through
from engine.workshop.projection import ABOVE, lift, outlines
from engine.workshop.svg import APART, COLUMN, Keys, Line, Mark, Sheet, wide

SHORT = 5e-4  # m, gaps that are not worth a dimension


def plan_of(design: Design, space: Space, units: Units) -> str:
    """Space and keep-outs at their widest, the box with its upper edges heavy and its inside at half height."""
    sizes, title = words.sizes(design, units), "The box in its space, seen from above"
    sheet = Sheet("plan", title, f"{sizes} {words.place(design, space, units)}", units)
    kept_out, room = keepouts.from_above(space.keepouts), keepouts.seen_from_above(space.section, (0.0, space.width))
    around = [Line(outline, "outline") for outline in (room, *kept_out)]
    box = [*_inside(design), *_box(design), *through(design, "top", ABOVE.placed(design.place))]
    sheet.fit([*box, *around], left=34.0, right=44.0 + 2.0 * COLUMN, top=34.0, tallest=330.0)
    sheet.draw([Line(room, "outline"), *keepouts.hatched(kept_out, sheet), *box])
    below = _dimensions(sheet, design, room)
    sheet.scale_bar(below + 34.0, ways=("↑ back", "↓ front"))
    sheet.height = below + 54.0
    holes = words.in_top(design, units)
    notes = [sizes, *holes, *keepouts.explained(sheet, kept_out, space.keepouts, always=True)]
    upper = f"upper edges of the box{', holes in its top' if holes else ''}"
    keys: Keys = [("cut", upper), ("outline", "lower edges, space"), ("hidden", "inside, hidden")]
    keys.append(("axis", "axis"))
    if space.keepouts:
        keys.append(("thin", "hatched: kept out at some height"))
    sheet.notes(notes, keys, below + 64.0)
    return sheet.svg()


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
            marks.append(Line(view(ends), "outline" if sticks_out else "hidden", closed=False))
        if sticks_out:
            sides = [np.array([(x, upper, 0.0), (x, lower, 0.0)]) for x in across]
            marks += [Line(view(ends), "outline", closed=False) for ends in sides]
    top = np.array([(x, y, 0.0) for x, y in rectangle(*across, top_rear, top_front)])
    return [*marks, Line(view(top), "cut")]


def _inside(design: Design) -> list[Mark]:
    view, parts = ABOVE.placed(design.place), design.parts
    section = parts.inner.section
    middle = 0.5 * (section[[0, 1]] + section[[3, 2]])  # rear and front at half height
    marks: list[Mark] = []
    for ends in (parts.inner.x, *(across(brace.solids[0]) for brace in design.braces)):
        left, right = (lift(middle, x) for x in ends)
        marks.append(Line(view(np.concatenate([left, right[::-1]])), "hidden"))
    for body in design.drawn:
        if pen := body.role.above:
            marks += outlines(view, body, design.flares(body), pen)
    return marks


def _dimensions(sheet: Sheet, design: Design, room: Floats) -> float:
    """Width and the gaps beside it below, depths at the right; returns how far down they reach."""
    at, (low, high), row = sheet.at, (design.low, design.high), sheet.bottom + APART
    left, right = (at((x, -high[1])) for x in (low[0], high[0]))  # the box's front corners
    for along in design.dimensions("plan"):
        start, end = (at((low[0] + x, -high[1])) for x in along.ends)
        sheet.across(start, end, row, along.words + sheet.length(along.ends[1] - along.ends[0]))
        row += APART
    sheet.across(left, right, row, sheet.length(design.width))
    ends = room[:, 0].min(), room[:, 0].max()
    first, last = (at((x, room[:, 1].min())) for x in ends)
    gaps = (float(low[0] - ends[0]), float(ends[1] - high[0]))
    row += APART if max(gaps) > SHORT else 0.0
    if gaps[0] > SHORT:
        sheet.across(first, left, row, sheet.length(gaps[0]))
    if gaps[1] > SHORT:
        spans = (first[0], left[0]), (right[0], last[0])
        said = [wide(sheet.length(gap)) for gap in gaps]
        # Words too long for their gap stand under the box, from either side.
        under = [
            length if length >= end - start - 6.0 else 0.0 for length, (start, end) in zip(said, spans, strict=True)
        ]
        if gaps[0] > SHORT and sum(under) > right[0] - left[0] - 24.0:
            row += APART  # no room for both in one
        sheet.across(right, last, row, sheet.length(gaps[1]), beyond="start")
    section, column = design.parts.outer.section + design.place[1:], sheet.right + APART
    for name, corners, size in (("top", (2, 3), design.top_depth), ("bottom", (1, 0), design.bottom_depth)):
        near, far = (at((high[0], -section[corner, 0])) for corner in corners)
        sheet.upward(near, far, column, f"{name} {sheet.length(size)}")
        column += COLUMN
    return row
