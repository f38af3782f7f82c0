"""One board square on to its named face, dimensioned: both faces' outlines, what is cut, where left and up are."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from engine.arrays import Floats
from engine.quantities import Units, bare_set_out
from engine.space.roles import Pen
from engine.workshop.board import Board
from engine.workshop.ring import sharp
from engine.workshop.svg import APART, WIDTH, Keys, Line, Mark, Sheet, spaced, wide
from engine.workshop.svg import Ring as Circle

NEAR = 5e-4  # m, places that are one on paper
SQUARE_ON = 1e-6  # m
_SMALL = 0.008  # m, of a drilled hole as it is drawn at least, so that it is seen


def board_svg(board: Board, units: Units, *, name: str) -> str:
    """The drawing; ``name`` begins its ids.  Sizes are in mm, or inches and sixteenths, without a unit."""
    sheet = Sheet(name, f"{board.name}, {board.face}", _about(board), units)
    marks = outlines(board)
    across, up = _places(board)
    left = 40.0 + max((wide(bare_set_out(each, units)) for each in up), default=0.0) + (26.0 if up else 0.0)
    sheet.fit([*marks, *cut_marks(board)], left=left, right=70.0, top=60.0, tallest=330.0)
    sheet.draw([*marks, *cut_marks(board)])
    below = _across(sheet, board, across)
    _up(sheet, board, up)
    _sizes(sheet, board, below)
    _ways(sheet, board, below)
    keys: Keys = [("cut", face_of(board))]
    notes: list[str] = []
    if _has_other(board):
        keys.append(("hidden", "other face"))
    if any(cut.operation == "recess" for cut in board.cuts):
        keys.append(("outline", "recess"))
    if any(_axes(board)):
        keys.append(("axis", "centres"))
    if any(cut.ring is not None and cut.operation == "hole" and sharp(cut.ring)[1] for cut in board.cuts):
        notes.append("Corners of the window: before rounding.")
    sheet.notes(notes, keys, below + 66.0)
    _corners(sheet, board)
    _named(sheet, board)
    return sheet.svg()


def outlines(board: Board) -> list[Mark]:
    """Its named face as sawn and, where it differs, the other one, as who stands before it sees them."""
    marks: list[Mark] = [Line(board.seen(board.profile.corners()), "cut")]
    if _has_other(board):
        marks.append(Line(board.seen(board.corners("inside")), "hidden"))
    return marks


def cut_marks(board: Board) -> list[Mark]:
    """All that is cut out of it or into it."""
    marks: list[Mark] = []
    for cut in board.cuts:
        radius = 0.5 * max(cut.diameter, _SMALL)
        marks += [_round(board.seen(place), radius, "outline") for place in cut.places]
        if cut.ring is None or cut.operation == "notch":
            continue
        pen: Pen = "cut" if cut.through else "outline" if cut.face == "outside" else "hidden"
        if (circle := cut.ring.round) is not None:
            marks.append(_round(board.seen(circle.centre), circle.radius, pen))
        else:
            marks.append(Line(board.seen(cut.ring.corners()), pen))
    for middle, radius in _axes(board):
        arms = 1.12 * radius * np.eye(2)
        marks += [Line(np.array([middle - arm, middle + arm]), "axis", closed=False) for arm in arms]
    return marks


def _round(middle: Floats, radius: float, pen: Pen) -> Mark:
    return Circle(np.asarray(middle), radius * np.eye(2), pen)


def _has_other(board: Board) -> bool:
    return bool(np.max(np.abs(board.corners("outside") - board.corners("inside"))) > SQUARE_ON)


def _axes(board: Board) -> list[tuple[Floats, float]]:
    """Centres of round holes as seen, with the radius of the widest ring round each."""
    found: list[tuple[Floats, float]] = []
    for circle in (cut.ring.round for cut in board.cuts if cut.ring is not None and cut.operation != "notch"):
        if circle is None:
            continue
        middle = board.seen(circle.centre)
        same = next((k for k, (other, _) in enumerate(found) if np.allclose(other, middle, atol=NEAR)), None)
        if same is None:
            found.append((middle, circle.radius))
        else:
            found[same] = (middle, max(found[same][1], circle.radius))
    return found


def _places(board: Board) -> tuple[list[float], list[float]]:
    """Distances that are set out from the first corner, across and up: centres of round holes, edges of others.

    Of an outline with rounded corners those are dimensioned as they are before rounding, as the table beside has them.
    """
    points: list[Floats] = []
    for cut in board.cuts:
        if cut.ring is None or cut.operation in ("recess", "notch"):
            continue
        if (circle := cut.ring.round) is not None:
            points.append(circle.centre)
        else:
            corners, radius = sharp(cut.ring)
            points += list(corners) if radius else [corners.min(axis=0), corners.max(axis=0)]
    across, up = (sorted({round(float(point[k]) / NEAR) for point in points}) for k in (0, 1))
    exact = np.array(points).reshape(-1, 2)
    nearest = [
        [float(exact[np.argmin(np.abs(exact[:, k] - NEAR * place)), k]) for place in places]
        for k, places in enumerate((across, up))
    ]
    return nearest[0], nearest[1]


def _across(sheet: Sheet, board: Board, places: Sequence[float]) -> float:
    """Distances across, written upright below the board; returns how far down they reach."""
    if not places:
        return sheet.bottom + 10.0
    at = sorted((sheet.at(board.seen(np.array([place, 0.0])))[0], bare_set_out(place, sheet.units)) for place in places)
    for x, place, figure in (labels := spaced(at)):
        sheet.rule((x, sheet.bottom + 5.0), (x, sheet.bottom + 10.0))
        sheet.rule((x, sheet.bottom + 10.0), (place, sheet.bottom + 22.0))
        sheet.text(figure, (place, sheet.bottom + 26.0), anchor="end", turned=True)
    return sheet.bottom + 26.0 + max(wide(figure) for _, _, figure in labels)


def _up(sheet: Sheet, board: Board, places: Sequence[float]) -> None:
    """Distances up, written level at the left."""
    at = sorted((sheet.at((0.0, place))[1], bare_set_out(place, sheet.units)) for place in places)
    for y, place, figure in spaced(at):
        sheet.rule((sheet.left - 5.0, y), (sheet.left - 10.0, y))
        sheet.rule((sheet.left - 10.0, y), (sheet.left - 20.0, place))
        sheet.text(figure, (sheet.left - 24.0, place), anchor="end")


def _sizes(sheet: Sheet, board: Board, below: float) -> None:
    """Its longest way across below it and, where it has another upper edge, that above it; its height at the right."""
    seen = board.seen(board.corners("outside"))
    low, high = seen.min(axis=0), seen.max(axis=0)
    lower, upper = (_level_edge(seen, float(level)) for level in (low[1], high[1]))
    ends = lower or (float(low[0]), float(high[0]))
    start, end = (sheet.at((x, low[1])) for x in ends)
    sheet.across(start, end, below + 14.0, bare_set_out(ends[1] - ends[0], sheet.units))
    if upper and np.ptp(np.subtract(upper, ends)) + abs(upper[0] - ends[0]) > NEAR:
        start, end = (sheet.at((x, high[1])) for x in upper)
        sheet.across(start, end, sheet.top - 16.0, bare_set_out(upper[1] - upper[0], sheet.units))
    bottom, top = sheet.at((high[0], low[1])), sheet.at((high[0], high[1]))
    sheet.upward(bottom, top, sheet.right + APART, bare_set_out(float(high[1] - low[1]), sheet.units))


def _level_edge(corners: Floats, level: float) -> tuple[float, float] | None:
    """From where to where an edge runs at a height; None where only a corner does."""
    there = corners[np.abs(corners[:, 1] - level) < SQUARE_ON, 0]
    return (float(there.min()), float(there.max())) if len(there) > 1 else None


def _ways(sheet: Sheet, board: Board, below: float) -> None:
    """What lies left, right, down and up of it, at the edges of the sheet."""
    left, right, down, up = board.ways
    sheet.text(f"↑ {up}", (0.5 * (sheet.left + sheet.right), 10.0))
    sheet.text(f"← {left}", (4.0, 10.0), anchor="start")
    sheet.text(f"{right} →", (WIDTH - 4.0, 10.0), anchor="end")
    sheet.text(f"↓ {down}", (0.5 * (sheet.left + sheet.right), below + 38.0))


def _corners(sheet: Sheet, board: Board) -> None:
    """Numbers of the corners, within the outline."""
    seen = board.seen(board.corners("outside"))
    for number, corner in enumerate(seen, start=1):
        x, y = sheet.at(corner)
        middle = np.array(sheet.at(seen.mean(axis=0))) - [x, y]
        way = np.sign(middle)
        places = [((x + step * way[0], y + step * way[1]), "middle") for step in (11.0, 18.0, 26.0)]
        sheet.label([str(number)], places)


def letters_of(board: Board) -> list[str]:
    """A letter for each cut of a board, in their order; after "z" come "aa", "ab" and on."""
    alphabet = "abcdefghijklmnopqrstuvwxyz"
    singles = len(alphabet)
    return [
        (alphabet[number // singles - 1] if number >= singles else "") + alphabet[number % singles]
        for number in range(len(board.cuts))
    ]


def face_of(board: Board) -> str:
    """The face that is drawn, in words."""
    return f"{board.face} face" if board.face in ("outside", "inside") else board.face


def _named(sheet: Sheet, board: Board) -> None:
    """Letters of what is cut, beside its outline or, where it is drilled, beside the first hole."""
    for letter, cut in zip(letters_of(board), board.cuts, strict=True):
        places = cut.places[:1] if cut.ring is None else cut.ring.corners()
        corners = np.array([sheet.at(place) for place in board.seen(places)])
        (left, top), (right, bottom) = corners.min(axis=0), corners.max(axis=0)
        middle, half = 0.5 * (left + right), 0.5 * (bottom - top)
        beside = [(right + 7.0, top + half), (left - 7.0, top + half), (middle, top - 9.0), (middle, bottom + 9.0)]
        within = [(middle + 0.4 * (right - middle), top + 0.6 * half)]
        order = [*beside, *within] if min(half, right - middle) < 14.0 else [*within, *beside]
        sheet.label([letter], [(place, "middle") for place in order])


def _about(board: Board) -> str:
    left, right, down, up = board.ways
    return f"{face_of(board).capitalize()} of {board.name}; left is {left}, right {right}, down {down}, up {up}."
