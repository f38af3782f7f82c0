"""The space alone: its section with the largest box in it, and where across the width things lie."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.parts import Space
from engine.quantities import Units
from engine.space.free import Stretch
from engine.space.panels import length
from engine.space.wedge import Wedges
from engine.workshop import words
from engine.workshop.design import IN_LINE
from engine.workshop.keepouts import keepouts_above, keepouts_cut, name_keepouts, seen_from_above
from engine.workshop.svg import (
    APART,
    CUT,
    FAINT,
    HIDDEN,
    MARGIN,
    OUTLINE,
    PAD,
    THIN,
    Line,
    Mark,
    Pen,
    Sheet,
    extent,
    framed,
)

Floats = NDArray[np.float64]


def free_around(stretches: Sequence[Stretch], low: float, high: float) -> Sequence[Floats]:
    """Outlines (y, z) of the section left free between two places of the width.

    Of several stretches that reach so far the roomiest is taken; where none does, because
    the box fits nowhere, the one that covers most of the way.
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

    def seen_from_above(self) -> list[Mark]:
        """Its outermost edges, and its inside at half height."""
        left, right = self.across
        board, inner = self.wedge.board, self.wedge.inner_section[0] + self.place[1:]
        half_way = 0.5 * (inner[[0, 1]] + inner[[3, 2]])
        return [
            Line(seen_from_above(self.wedge.outer_section[0] + self.place[1:], self.across), OUTLINE, wash=0.08),
            Line(seen_from_above(half_way, (left + board, right - board)), HIDDEN),
        ]


def space_of(
    space: Space,
    *,
    free: Sequence[Floats],
    box: Largest | None,
    found: str,
    units: Units,
    rows: Sequence[float] = (),
) -> str:
    """Section above, plan below.

    ``free`` outlines (y, z) what is left of the section; ``found`` says what fits; ``rows``
    are the heights of the measurements that the section is given by, if it is.
    """
    corners = np.asarray(space.section)
    low, high = extent([Line(corners, CUT), *(Line(np.asarray(item.section), CUT) for item in space.keepouts)])
    deep, tall = (length(float(size), units) for size in np.ptp(corners, axis=0))
    sheet = Sheet(
        "space",
        "The measured space and the largest box in it",
        f"{deep} deep, {tall} high, {length(space.width, units)} wide. {found}",
        framed(low, high, left=44.0, right=76.0, top=40.0, tallest=360.0),
    )
    _section(sheet, space, free, box, rows)
    at = sheet.at
    (left, bottom), (right, top) = at(corners.min(axis=0)), at(corners.max(axis=0))
    lowest, outer = at(low)[1], at(high)[0]
    sheet.across(left, right, lowest + APART + 8.0, deep, sources=(bottom, bottom))
    sheet.upward(bottom, top, outer + APART + 8.0, tall, sources=(right, right))
    sheet.scale_bar(lowest + APART + 42.0, units, ways=("← back", "front →"))
    section_frame = sheet.frame
    below = _strip(sheet, space, box, lowest + APART + 84.0, units)
    sheet.height = below + 20.0
    from_above = [seen_from_above(item.section, item.across) for item in space.keepouts]
    numbered = name_keepouts(sheet, from_above, space.keepouts)
    sheet.frame = section_frame
    numbered |= name_keepouts(sheet, [np.asarray(item.section) for item in space.keepouts], space.keepouts)
    notes = [found]
    if space.keepouts:
        notes.append(words.keepouts_in_words(space.keepouts, units, numbered=numbered))
    sheet.notes(notes, _keys(space, box, "rows" if rows else "corners"), below + 30.0)
    return sheet.svg()


def _section(sheet: Sheet, space: Space, free: Sequence[Floats], box: Largest | None, rows: Sequence[float]) -> None:
    corners = np.asarray(space.section)
    low, high = box.across if box is not None else (0.0, space.width)
    marks: list[Mark] = keepouts_cut(space.keepouts, sheet.frame, low, high)
    marks += [Line(corners, CUT), *(Line(outline, MARGIN) for outline in free)]
    if box is not None:
        marks.append(Line(box.wedge.outer_section[0] + box.place[1:], OUTLINE, wash=0.08))
        marks.append(Line(box.wedge.inner_section[0] + box.place[1:], HIDDEN))
    sheet.draw(marks)
    _number_corners(sheet, corners, rows)


def _strip(sheet: Sheet, space: Space, box: Largest | None, top: float, units: Units) -> float:
    """The space from above, to a scale of its own; returns how far down it reaches."""
    room = seen_from_above(space.section, (0.0, space.width))
    outlines = [seen_from_above(item.section, item.across) for item in space.keepouts]
    low, high = extent([Line(outline, CUT) for outline in [room, *outlines]])
    sheet.text("From above, to a scale of its own:", (PAD, top), anchor="start")
    sheet.frame = framed(low, high, left=44.0, right=76.0, top=top + 40.0, tallest=200.0)
    marks: list[Mark] = [*keepouts_above(space.keepouts, outlines, sheet.frame), Line(room, CUT)]
    if box is not None:
        marks += box.seen_from_above()
    sheet.draw(marks)
    bottom = sheet.at(low)[1]
    left, right = (sheet.at((x, 0.0))[0] for x in (0.0, space.width))
    sheet.across(left, right, bottom + APART + 8.0, length(space.width, units), sources=(bottom, bottom))
    sheet.scale_bar(bottom + APART + 42.0, units, ways=("↑ back", "↓ front"))
    return bottom + APART + 42.0


def _keys(space: Space, box: Largest | None, numbered: str) -> list[tuple[Pen, str]]:
    keys = [(CUT, f"space, its {numbered} numbered"), (MARGIN, "margin kept free")]
    if box is not None:
        keys += [(OUTLINE, "largest box"), (HIDDEN, "its inside")]
    if space.keepouts:
        keys.append((THIN, "hatched: kept out"))
        if box is not None:
            keys.append((FAINT, "kept out beside the box"))
    return keys


def _number_corners(sheet: Sheet, corners: Floats, rows: Sequence[float]) -> None:
    """Numbers outside the corners of the space, in the order of the file, or those of the rows at their heights.

    At a ledge two rows share a height, and its corners bear both numbers.
    """
    middle = corners.mean(axis=0)
    for place, corner in enumerate(corners, start=1):
        at = [str(row) for row, height in enumerate(rows, start=1) if abs(height - float(corner[1])) < IN_LINE]
        number = ", ".join(at) or str(place)
        x, y = sheet.at(corner)
        away = corner - middle
        away = away / max(float(np.hypot(*away)), 1e-9)
        sheet.text(number, (x + 14.0 * float(away[0]), y - 14.0 * float(away[1])))
