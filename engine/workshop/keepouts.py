"""Keep-outs as they are drawn, cut and from above, and their names on the page."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from engine.arrays import Floats
from engine.parts import KeepOut
from engine.space.panels import rectangle
from engine.workshop import words
from engine.workshop.svg import Line, Mark, Place, Sheet, hatching


def stands_across(keepout: KeepOut, low: float, high: float) -> bool:
    """Whether a keep-out stands somewhere between two places of the width; they may be one."""
    start, end = keepout.across
    return start <= low <= end if low == high else start < high and low < end


def sections(keepouts: Sequence[KeepOut]) -> list[Floats]:
    """Their outlines (y, z)."""
    return [np.asarray(keepout.section) for keepout in keepouts]


def from_above(keepouts: Sequence[KeepOut]) -> list[Floats]:
    return [seen_from_above(keepout.section, keepout.across) for keepout in keepouts]


def seen_from_above(section: Floats | Sequence[Sequence[float]], across: tuple[float, float]) -> Floats:
    """Corners (4, 2) of what a prism over a section covers, in the axes of the page."""
    y = np.asarray(section)[:, 0]
    return rectangle(*across, -y.max(), -y.min())


def cut(keepouts: Sequence[KeepOut], sheet: Sheet, low: float, high: float) -> list[Mark]:
    """Keep-outs between two places of the width hatched, those beside them dashed."""
    marks: list[Mark] = []
    for keepout, outline in zip(keepouts, sections(keepouts), strict=True):
        through = stands_across(keepout, low, high)
        marks += hatched([outline], sheet) if through else [Line(outline, "faint")]
    return marks


def hatched(outlines: Sequence[Floats], sheet: Sheet) -> list[Mark]:
    return [mark for outline in outlines for mark in (*hatching(outline, sheet.frame), Line(outline, "outline"))]


def explained(sheet: Sheet, outlines: Sequence[Floats], keepouts: Sequence[KeepOut], *, always: bool) -> list[str]:
    """Writes their names on the sheet; what is to be said of them below it, where a name has no room or ``always``."""
    numbered = named(sheet, outlines, keepouts)
    return [words.kept_out(keepouts, sheet.units, numbered=numbered)] if numbered or (always and keepouts) else []


def named(sheet: Sheet, outlines: Sequence[Floats], keepouts: Sequence[KeepOut]) -> bool:
    """Names in or beside the outlines; the number where a name has no room: returns whether there is such a one."""
    found = [
        name_one(sheet, outline, [keepout.name, str(number)]) == keepout.name
        for number, (outline, keepout) in enumerate(zip(outlines, keepouts, strict=True), start=1)
    ]
    return not all(found)


def name_one(sheet: Sheet, outline: Floats, names: Sequence[str]) -> str:
    """Writes one of the names in the middle of an outline, or beside it with a line that leads there; returns it."""
    (left, low), (right, high) = sheet.at(outline.min(axis=0)), sheet.at(outline.max(axis=0))
    x, y, above, below = 0.5 * (left + right), 0.5 * (low + high), high - 11.0, low + 11.0
    within, beside = ((left, "start"), (right, "end")), ((right + 6.0, "start"), (left - 6.0, "end"))
    places: list[Place] = [((x, level), "middle") for level in (y, above, below)]
    for levels, sides in (((y,), beside), ((above, below), within), ((high + 8.0, low - 8.0), beside)):
        places += [((at, level), anchor) for level in levels for at, anchor in sides]
    return sheet.label(names, places, of=outline)
