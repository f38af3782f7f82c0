"""The space alone: its section with the largest box in it, and where across the width things lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from engine.arrays import Floats
from engine.parts import Space
from engine.quantities import Units
from engine.space.free import Stretch
from engine.space.panels import length
from engine.space.wedge import Wedges
from engine.workshop import keepouts, words
from engine.workshop.design import IN_LINE
from engine.workshop.svg import APART, PAD, Keys, Line, Mark, Sheet


def free_around(stretches: Sequence[Stretch], low: float, high: float) -> Sequence[Floats]:
    """Outlines (y, z) of the section left free between two places of the width.

    Of several stretches that reach so far the roomiest is taken; where none does, because the box fits nowhere, the one
    that covers most of the way.
    """

    def worth(stretch: Stretch) -> tuple[float, float]:
        covered = min(stretch.high, high) - max(stretch.low, low)
        return round(covered, 9), float(stretch.free.area)

    return max(stretches, key=worth).outlines if stretches else []


@dataclass(frozen=True, kw_only=True)
class Largest:
    """A box standing in the space: its sizes, and its outer bottom back left corner ``place`` (x, y, z), m."""

    wedge: Wedges  # one
    place: Floats

    @property
    def across(self) -> tuple[float, float]:
        return float(self.place[0]), float(self.place[0] + self.wedge.outer_width[0])

    @property
    def outer(self) -> Floats:
        """Corners (y, z) of its section in the space, (4, 2)."""
        return np.asarray(self.wedge.outer_section[0] + self.place[1:])

    @property
    def inner(self) -> Floats:
        return np.asarray(self.wedge.inner_section[0] + self.place[1:])

    def seen_from_above(self) -> list[Mark]:
        """Its outermost edges, and its inside at half height."""
        (left, right), board, inner = self.across, self.wedge.board, self.inner
        half_way = 0.5 * (inner[[0, 1]] + inner[[3, 2]])
        return [
            Line(keepouts.seen_from_above(self.outer, self.across), "outline", wash=0.08),
            Line(keepouts.seen_from_above(half_way, (left + board, right - board)), "hidden"),
        ]


def space_of(
    space: Space, *, free: Sequence[Floats], box: Largest | None, found: str, units: Units, rows: Sequence[float] = ()
) -> str:
    """Section above, plan below.

    ``free`` outlines (y, z) what is left of the section; ``found`` says what fits; ``rows`` are the heights of the
    measurements that the section is given by, if it is.
    """
    corners, sections, title = np.asarray(space.section), keepouts.sections(space.keepouts), "The measured space and"
    deep, tall, wide = (length(float(size), units) for size in (*np.ptp(corners, axis=0), space.width))
    sheet = Sheet("space", f"{title} the largest box in it", f"{deep} deep, {tall} high, {wide} wide. {found}", units)
    marks = [Line(outline, "cut") for outline in (corners, *sections)]
    sheet.fit(marks, left=44.0, right=76.0, top=40.0, tallest=360.0)
    _section(sheet, space, free, box, rows)
    (left, bottom), (right, top) = sheet.at(corners.min(axis=0)), sheet.at(corners.max(axis=0))
    below = sheet.bottom + APART
    sheet.across((left, bottom), (right, bottom), below + 8.0, deep)
    sheet.upward((right, bottom), (right, top), sheet.right + APART + 8.0, tall)
    sheet.scale_bar(below + 42.0, ways=("← back", "front →"))
    section_frame = sheet.frame
    below = _strip(sheet, space, box, below + 84.0, wide)
    sheet.height = below + 20.0
    numbered = keepouts.named(sheet, keepouts.from_above(space.keepouts), space.keepouts)
    sheet.frame = section_frame
    numbered |= keepouts.named(sheet, sections, space.keepouts)
    told = [words.kept_out(space.keepouts, units, numbered=numbered)] if space.keepouts else []
    sheet.notes([found, *told], _keys(space, box, "rows" if rows else "corners"), below + 30.0)
    return sheet.svg()


def _section(sheet: Sheet, space: Space, free: Sequence[Floats], box: Largest | None, rows: Sequence[float]) -> None:
    """The section, with numbers outside its corners: in the order of the file, or those of the rows at their heights.

    At a ledge two rows share a height, and its corners bear both numbers.
    """
    corners = np.asarray(space.section)
    marks = keepouts.cut(space.keepouts, sheet, *(box.across if box else (0.0, space.width)))
    marks += [Line(corners, "cut"), *(Line(outline, "margin") for outline in free)]
    if box is not None:
        marks += [Line(box.outer, "outline", wash=0.08), Line(box.inner, "hidden")]
    sheet.draw(marks)
    for place, corner in enumerate(corners, start=1):
        at = [str(row) for row, height in enumerate(rows, start=1) if abs(height - float(corner[1])) < IN_LINE]
        x, y = sheet.at(corner)
        away = corner - corners.mean(axis=0)
        away = away / max(float(np.hypot(*away)), 1e-9)
        sheet.text(", ".join(at) or str(place), (x + 14.0 * float(away[0]), y - 14.0 * float(away[1])))


def _strip(sheet: Sheet, space: Space, box: Largest | None, top: float, wide: str) -> float:
    """The space from above, to a scale of its own; returns how far down it reaches."""
    room, outlines = keepouts.seen_from_above(space.section, (0.0, space.width)), keepouts.from_above(space.keepouts)
    sheet.text("From above, to a scale of its own:", (PAD, top), anchor="start")
    marks = [Line(outline, "cut") for outline in (room, *outlines)]
    sheet.fit(marks, left=44.0, right=76.0, top=top + 40.0, tallest=200.0)
    sheet.draw([*keepouts.hatched(outlines, sheet), marks[0], *(box.seen_from_above() if box else [])])
    below = sheet.bottom + APART
    left, right = (sheet.at((x, 0.0))[0] for x in (0.0, space.width))
    sheet.across((left, sheet.bottom), (right, sheet.bottom), below + 8.0, wide)
    sheet.scale_bar(below + 42.0, ways=("↑ back", "↓ front"))
    return below + 42.0


def _keys(space: Space, box: Largest | None, numbered: str) -> Keys:
    keys: Keys = [("cut", f"space, its {numbered} numbered"), ("margin", "margin kept free")]
    if box is not None:
        keys += [("outline", "largest box"), ("hidden", "its inside")]
    if space.keepouts:
        keys.append(("thin", "hatched: kept out"))
        if box is not None:
            keys.append(("faint", "kept out beside the box"))
    return keys
