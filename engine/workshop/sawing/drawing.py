"""A sheet with what is cut from it, as SVG."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from engine.parts import Cutting
from engine.quantities import Units, bare_set_out
from engine.space import panels
from engine.words.voice import listed
from engine.workshop.sawing.order import SawOrder, letter
from engine.workshop.sawing.sheets import Placed, SheetPlan, Sheets
from engine.workshop.sawing.words import several, size
from engine.workshop.svg import COLUMN, LINE, PAD, Line, Mark, Sheet, hatching

TALLEST = 520.0


def sheet_svg(plan: SheetPlan, sheets: Sheets, order: SawOrder, numbers: Mapping[str, int], units: Units) -> str:
    """One sheet to scale, its longer side across: boards by name and size, first cuts heavy, offcuts hatched.

    ``numbers`` are those of boards in the cutting list, which stand for them where a name has no room.
    """
    cutting = sheets.cutting
    parts = {placed: rough.part for rough in order.roughs if rough.sheet == plan.number for placed in rough.placed}
    stock, name = plan.stock, f"sheet-{plan.number}"
    title = f"Sheet {plan.number}: {stock.name}, {_two(stock.length, stock.width, units)}"
    held = "; ".join(f"{several(each.blank.names)}, {_sizes(each, units)}" for each in plan.placed)
    sheet = Sheet(name, title, f"Pieces on it, from its left edge: {held}.", units)
    outline = panels.rectangle(0.0, stock.length, 0.0, stock.width)
    marks: list[Mark] = [Line(outline, "outline")]
    sheet.fit(marks, left=PAD, right=COLUMN, top=COLUMN, tallest=TALLEST)
    sheet.height = sheet.bottom + COLUMN
    for free in offcuts(plan, cutting):
        sheet.draw(hatching(free, sheet.frame))
    sheet.draw(marks)
    if cutting.trim:
        trim, edges = cutting.trim, (stock.length - cutting.trim, stock.width - cutting.trim)
        sheet.draw([Line(panels.rectangle(trim, edges[0], trim, edges[1]), "faint")])
    for level, (start, end) in enumerate(plan.levels):
        for at in (start, end):
            ends = [(at, 0.0), (at, stock.width)] if plan.across == "length" else [(0.0, at), (stock.length, at)]
            sheet.draw([Line(np.array(ends), "cut", closed=False)])
        middle = 0.5 * (start + end)
        if plan.across == "length":
            x, y = sheet.at((middle, 0.0))
            sheet.text(letter(level), (x, y + LINE))
        else:
            x, y = sheet.at((0.0, middle))
            sheet.text(letter(level), (x - 10.0, y))
    keys: list[str] = []
    for each in plan.placed:
        _draw(sheet, each, parts[each], keys, numbers, units)
    (left, top), (right, bottom) = sheet.at((0.0, stock.width)), sheet.at((stock.length, 0.0))
    sheet.across((left, top), (right, top), top - 18.0, size(stock.length, units))
    sheet.upward((right, bottom), (right, top), right + 12.0, size(stock.width, units))
    grain = {"none": "", "length": "Grain along its length.", "width": "Grain along its width."}[stock.grain]
    about = (
        "Letters: strips, cut first, along the heavy lines. Numbers: boards of the cutting list. "
        "Hatched: offcuts. White: waste."
    )
    lines = [*keys, *([grain] if grain else []), about]
    sheet.notes(lines, [], bottom + 2.0 * LINE)
    return sheet.svg()


def _draw(
    sheet: Sheet, placed: Placed, part: str, keys: list[str], numbers: Mapping[str, int], units: Units
) -> None:  # fmt: skip
    """A blank with a line between boards that share it, and its name, or numbers that stand for it below."""
    wide, high = placed.size
    corners = panels.rectangle(placed.x, placed.x + wide, placed.y, placed.y + high)
    sheet.draw([Line(corners, "outline", wash=0.06)])
    for slot in placed.blank.slots[1:]:
        across = placed.blank.chained
        at = (slot.rims[0].outside if across else slot.u) + (placed.y if across == placed.along else 0.0)
        if across == placed.along:
            ends = [(placed.x, at), (placed.x + wide, at)]
        else:
            from_low = at + placed.x if across else placed.x + at
            ends = [(from_low, placed.y), (from_low, placed.y + high)]
        if not across and not placed.along:
            at = placed.y + high - slot.u
            ends = [(placed.x, at), (placed.x + wide, at)]
        sheet.draw([Line(np.array(ends), "hidden", closed=False)])
    middle = sheet.at((placed.x + 0.5 * wide, placed.y + 0.5 * high))
    words = several(placed.blank.names)
    (left, top), (right, bottom) = sheet.at((placed.x, placed.y + high)), sheet.at((placed.x + wide, placed.y))
    fits = 0.6 * 14.0 * len(words) < right - left - 6.0
    if fits and bottom - top > 2.2 * LINE and 0.6 * 14.0 * len(_sizes(placed, units)) < right - left - 6.0:
        sheet.text(words, (middle[0], middle[1] - 0.5 * LINE))
        sheet.text(_sizes(placed, units), (middle[0], middle[1] + 0.5 * LINE))
        return
    own = list(dict.fromkeys(numbers[name] for name in placed.blank.names))
    for slot in placed.blank.slots:
        u = slot.u + 0.5 * slot.piece.length
        v = 0.5 * (min(slot.rims[0][:2]) + max(slot.rims[1][:2]))
        place = (placed.x + u, placed.y + v) if placed.along else (placed.x + v, placed.y + high - u)
        sheet.text(str(numbers[slot.piece.name]), sheet.at(place))
    keys.append(f"{listed([str(number) for number in own])}: {words}, {_sizes(placed, units)}, from part {part}.")


def _sizes(placed: Placed, units: Units) -> str:
    return _two(placed.blank.length, placed.blank.width, units)


def _two(long: float, wide: float, units: Units) -> str:
    """Two sizes with their unit once: there is little room on a drawing."""
    unit = "mm" if units == "metric" else "in"
    return f"{bare_set_out(long, units)} × {bare_set_out(wide, units)} {unit}".replace(" ", "\u00a0")


def offcuts(plan: SheetPlan, cutting: Cutting) -> list[np.ndarray[tuple[int, ...], np.dtype[np.float64]]]:
    """Outlines (4, 2) in m of what is left whole: beyond the levels, and at the end of each."""
    long = plan.across == "length"
    whole, other = (plan.stock.length, plan.stock.width) if long else (plan.stock.width, plan.stock.length)
    found: list[tuple[float, float, float, float]] = []
    for number, (start, end) in enumerate(plan.levels):
        inside = [each for each in plan.placed if each.level == number]
        last = max((each.y + each.size[1]) if long else (each.x + each.size[0]) for each in inside)
        found.append((start, end, last + cutting.kerf, other - cutting.trim))
    found.append((plan.levels[-1][1] + cutting.kerf, whole - cutting.trim, cutting.trim, other - cutting.trim))
    kept = [(a, b, c, d) for a, b, c, d in found if b - a > cutting.kerf and d - c > cutting.kerf]
    return [panels.rectangle(*(box if long else (box[2], box[3], box[0], box[1]))) for box in kept]
