"""The cross-section of the space as it is typed: from measurements to corners and back, and what lies between two.

What was typed is kept as text wherever it goes over unchanged; only what is worked out is
written anew, in the user's units.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine import outline, polygon
from engine.errors import Refusal
from engine.outline import Measured
from engine.quantities import NotAQuantity, Units, display_unit, parse, to_display

Corner = list[str]
Row = dict[str, str]

DIGITS = 6  # decimals of a figure worked out: far finer than anybody measures
START: list[Row] = [{"height": "0 mm"}, {}]


def is_blank(listed: Any) -> bool:
    """Whether nothing has been typed yet into corners or rows."""
    return listed in (None, [], START) or (isinstance(listed, list) and all(corner == ["", ""] for corner in listed))


def as_corners(measured: Any, units: Units) -> list[Corner]:
    """The corners that a table of measurements stands for.  Raises Refusal."""
    rows = [_row(row) for row in _items(measured)]
    if outline.faults_of(rows):
        raise Refusal("outline_unfinished")
    corners = []
    for number, side in outline.places_of(rows):
        row, text = rows[number], measured[number]
        if side == "back":
            y = text.get("back", "0 mm")
        else:
            y = text["depth"] if row.back == 0.0 else write(row.front, units)
        corners.append([y, text["height"]])
    return corners


def as_measured(section: Any, units: Units) -> list[Row]:
    """The table of measurements that tells the same as corners.  Raises Refusal."""
    corners = [_corner(corner) for corner in _items(section)]
    if polygon.faults_of(corners):
        raise Refusal("outline_unfinished")
    typed = {
        value: text
        for corner, texts in zip(corners, section, strict=True)
        for value, text in zip(corner, texts, strict=True)
    }

    def text_of(value: float) -> str:
        return typed.get(value) or write(value, units)

    return [
        {"height": text_of(row.height)}
        | ({"back": text_of(row.back)} if row.back else {})
        | {"depth": text_of(row.depth) if row.back == 0.0 else write(row.depth, units)}
        for row in outline.rows_of(corners)
    ]


def corner_between(section: Any, number: int, units: Units) -> Corner:
    """A new corner before a corner, in the middle of the side there, so that the outline stays; else an empty one."""
    try:
        one, other = (_corner(section[at % len(section)]) for at in (number - 1, number))
    except (Refusal, ZeroDivisionError):
        return ["", ""]
    return [write(0.5 * (a + b), units) for a, b in zip(one, other, strict=True)]


def row_between(measured: Any, number: int, units: Units) -> Row:
    """A new row before a row, halfway up from the one below it, so that the outline stays; else an empty one."""
    try:
        below, above = _row(measured[number - 1]), _row(measured[number])
    except Refusal:
        return {}
    back = 0.5 * (below.back + above.back)
    return (
        {"height": write(0.5 * (below.height + above.height), units)}
        | ({"back": write(back, units)} if back else {})
        | {"depth": write(0.5 * (below.depth + above.depth), units)}
    )


def row_on_top(measured: Any) -> Row:
    """A new highest row, as deep as the one below it, its height yet to be filled in."""
    last = measured[-1] if measured and isinstance(measured[-1], dict) else {}
    return {key: last[key] for key in ("back", "depth") if key in last}


def heights_of(measured: Any) -> list[float]:
    """Heights of rows, m; none where there are no rows or not all can be read."""
    try:
        return [_row(row).height for row in _items(measured)]
    except Refusal:
        return []


def write(value: float, units: Units) -> str:
    """A length worked out, as text for a field."""
    return f"{round(to_display(value, 'length', units), DIGITS):.12g} {display_unit('length', units)}"


def _items(listed: Any) -> list[Any]:
    if isinstance(listed, list):
        return listed
    raise Refusal("outline_unfinished")


def _row(row: Any) -> Measured:
    """A row as numbers.  Raises Refusal."""
    if isinstance(row, Mapping):
        texts = {key: row.get(key, default) for key, default in (("height", ""), ("back", "0 mm"), ("depth", ""))}
        return Measured(**{key: _length(text) for key, text in texts.items()})
    raise Refusal("outline_unfinished")


def _corner(corner: Any) -> tuple[float, float]:
    """A corner as numbers.  Raises Refusal."""
    if isinstance(corner, list) and len(corner) == 2:
        return _length(corner[0]), _length(corner[1])
    raise Refusal("outline_unfinished")


def _length(text: Any) -> float:
    try:
        return parse(str(text), "length")
    except NotAQuantity:
        raise Refusal("outline_unfinished") from None
