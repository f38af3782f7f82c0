"""What to measure, drawn: the space from the side and from the front, a driver from the side.

The space is drawn with the figures put in as soon as all can be read, and before that with made-up ones.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from engine.outline import Measured
from engine.quantities import Units
from engine.workshop.svg import APART, COLUMN, LINE, PAD, Line, Mark, Sheet, hatching

DEPTHS = (0.33, 0.20)  # m, at the floor and at the top of the space that is made up
HEIGHT = 0.42  # m
TALLEST = 210.0  # page units


def side_to_measure(rows: Sequence[Measured] | None, count: int, units: Units) -> str:
    """The space from the side: at each of ``count`` heights a level depth, by the number of its row.

    ``rows`` are the measurements, from the floor up; None where not all can be read.
    """
    drawn = rows if rows and len(rows) == count else made_up(count)
    height, deepest = max(row.height for row in drawn), max(row.back + row.depth for row in drawn)
    sheet = Sheet(
        "measure-side", "The space from the side, with what to measure",
        "At each height, the depth from what is behind level forward to what is in front, and the height above the "
        "floor.", units,
    )  # fmt: skip
    back = [(row.back, row.height) for row in drawn]
    front = [(row.back + row.depth, row.height) for row in drawn]
    thick = 0.06 * max(height, deepest)
    walls = [
        [*back, *((-thick, z) for _, z in reversed(back))],
        [*front, *((deepest + thick, z) for _, z in reversed(front))],
        [(-thick, 0.0), (deepest + thick, 0.0), (deepest + thick, -thick), (-thick, -thick)],
    ]
    outlines = [np.asarray(wall, dtype=float) for wall in walls]
    marks: list[Mark] = [Line(outline, "thin") for outline in outlines]
    sheet.fit(marks, left=34.0 + COLUMN, right=34.0, top=PAD + LINE, tallest=TALLEST)
    for outline in outlines[:2]:
        sheet.draw(hatching(outline, sheet.frame))
    sheet.draw([Line(np.asarray(side, dtype=float), "cut", closed=False) for side in (back, front)])
    sheet.draw([Line(np.asarray([(-thick, 0.0), (deepest + thick, 0.0)]), "cut", closed=False)])
    for number, row in enumerate(drawn, start=1):
        inset = 0.0 if 1 < number < count else (0.04 if number == 1 else -0.04) * height
        start, end = sheet.at((row.back, row.height + inset)), sheet.at((row.back + row.depth, row.height + inset))
        _arrow(sheet, start, end)
        sheet.text(f"depth {number}", (0.5 * (start[0] + end[0]), start[1] - 10.0))
        if number > 1:
            x = sheet.left - 12.0 - (number - 2) * 0.55 * COLUMN
            low, high = sheet.at((0.0, 0.0)), sheet.at((0.0, row.height))
            _arrow(sheet, (x, low[1]), (x, high[1]))
            sheet.text(f"height {number}", (x - 10.0, 0.5 * (low[1] + high[1])), turned=True)
    sheet.text("behind", (sheet.left + 4.0, sheet.bottom + 14.0), anchor="start")
    sheet.text("in front", (sheet.right - 4.0, sheet.bottom + 14.0), anchor="end")
    sheet.height = sheet.bottom + 14.0 + LINE
    return sheet.svg()


def made_up(count: int) -> list[Measured]:
    """Rows of a plain wedge, at so many heights."""
    shares = np.linspace(0.0, 1.0, count)
    return [
        Measured(height=float(HEIGHT * share), back=0.0, depth=float(DEPTHS[0] + (DEPTHS[1] - DEPTHS[0]) * share))
        for share in shares
    ]


def width_to_measure(units: Units) -> str:
    """The space from the front: its free width, at the narrowest place."""
    sheet = Sheet(
        "measure-width", "The space from the front, with what to measure",
        "The free width, level, at the narrowest place.", units,
    )  # fmt: skip
    left = np.array([(-0.1, 0.0), (0.0, 0.0), (0.03, 0.12), (0.03, 0.2), (0.0, 0.32), (-0.1, 0.32)])
    right = np.array([(1.1, 0.0), (1.0, 0.0), (0.96, 0.1), (0.96, 0.22), (1.0, 0.32), (1.1, 0.32)])
    floor = np.array([(-0.1, 0.0), (1.1, 0.0)])
    sheet.fit([Line(left, "thin"), Line(right, "thin")], left=PAD, right=PAD, top=PAD, tallest=130.0)
    for side in (left, right):
        sheet.draw([*hatching(side, sheet.frame), Line(side[:-1], "cut", closed=False)])
    sheet.draw([Line(floor, "cut", closed=False)])
    start, end = sheet.at((0.03, 0.16)), sheet.at((0.96, 0.16))
    _arrow(sheet, start, end)
    sheet.text("free width, at the narrowest place", (0.5 * (start[0] + end[0]), start[1] - 10.0))
    sheet.height = sheet.bottom + PAD
    return sheet.svg()


def driver_to_measure(units: Units) -> str:
    """A driver from the side, face up: what of its size a box has to know."""
    sheet = Sheet(
        "measure-driver", "A driver from the side, with what to measure",
        "Over the flange, the cut-out, the magnet with its boot, and the mounting depth behind the flange.", units,
    )  # fmt: skip
    outer, hole, magnet, deep, height = 0.131, 0.117, 0.075, 0.13, 0.05
    flange = np.array([(-outer, 0.0), (outer, 0.0), (outer, 0.008), (-outer, 0.008)])
    basket = np.array([(-hole, 0.0), (hole, 0.0), (magnet, height - deep), (-magnet, height - deep)])
    motor = np.array([(-magnet, height - deep), (magnet, height - deep), (magnet, -deep), (-magnet, -deep)])
    cone = np.array([(-0.094, 0.008), (-0.02, -0.045), (0.02, -0.045), (0.094, 0.008)])
    board = [np.array([(side * hole, 0.0), (side * 0.19, 0.0), (side * 0.19, -0.018), (side * hole, -0.018)])
             for side in (-1.0, 1.0)]  # fmt: skip
    parts: list[Mark] = [Line(each, "outline") for each in (flange, basket, motor)]
    boards: list[Mark] = [Line(each, "thin") for each in board]
    sheet.fit([*parts, *boards], left=PAD, right=PAD + COLUMN, top=3.0 * APART, tallest=190.0)
    for each in board:
        sheet.draw(hatching(each, sheet.frame))
    sheet.draw([*boards, *parts, Line(cone, "thin", closed=False)])

    def at(x: float, y: float) -> tuple[float, float]:
        return sheet.at((x, y))

    sheet.across(at(-outer, 0.008), at(outer, 0.008), sheet.top - 1.6 * APART, "over the flange")
    sheet.across(at(-hole, 0.0), at(hole, 0.0), sheet.top - 0.6 * APART, "cut-out")
    sheet.across(at(-magnet, -deep), at(magnet, -deep), sheet.bottom + APART, "magnet")
    sheet.upward(at(0.19, -deep), at(0.19, 0.0), sheet.right + 8.0, "mounting depth")
    sheet.text("board", (at(-0.155, 0.0)[0], at(0.0, -0.018)[1] + 12.0))
    sheet.height = sheet.bottom + APART + PAD
    return sheet.svg()


def _arrow(sheet: Sheet, start: tuple[float, float], end: tuple[float, float]) -> None:
    """A dimension inside the drawing: a line with a tick at either end."""
    sheet.rule(start, end)
    for x, y in (start, end):
        sheet.rule((x - 4.0, y + 4.0), (x + 4.0, y - 4.0), "outline")
