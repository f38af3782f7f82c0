"""Keep-outs as they are drawn, cut and from above, and their names on the page."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from engine.parts import KeepOut
from engine.space.panels import rectangle
from engine.workshop.svg import FAINT, OUTLINE, Frame, Line, Mark, Place, Sheet, hatching

Floats = NDArray[np.float64]


def stands_across(keepout: KeepOut, low: float, high: float) -> bool:
    """Whether a keep-out stands somewhere between two places of the width; they may be one."""
    if low == high:
        return keepout.across[0] <= low <= keepout.across[1]
    return keepout.across[0] < high and low < keepout.across[1]


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


def seen_from_above(section: Floats | Sequence[Sequence[float]], across: tuple[float, float]) -> Floats:
    """Corners (4, 2) of what a prism over a section covers, in the axes of the page."""
    rear, front = np.asarray(section)[:, 0].min(), np.asarray(section)[:, 0].max()
    return rectangle(across[0], across[1], -front, -rear)


def keepouts_above(keepouts: Sequence[KeepOut], outlines: Sequence[Floats], frame: Frame) -> list[Mark]:
    marks: list[Mark] = []
    for _, outline in zip(keepouts, outlines, strict=True):
        marks += [*hatching(outline, frame), Line(outline, OUTLINE)]
    return marks
