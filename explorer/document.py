"""The scenario document as the user edits it: nested tables and lists of text, by place.

A place is a tuple of keys and positions, ``("driver", 0, "fs")``; in faults the same
place reads ``driver[0].fs``.
"""

from __future__ import annotations

import math
from typing import Any

Place = tuple[str | int, ...]
Document = dict[str, Any]


def name_of(place: Place) -> str:
    """A place as faults write it."""
    text = ""
    for step in place:
        text += f"[{step}]" if isinstance(step, int) else f".{step}" if text else step
    return text


def get(document: Document, place: Place) -> Any:
    """What stands at a place; None where nothing does."""
    here: Any = document
    for step in place:
        if isinstance(step, int):
            if not isinstance(here, list) or step >= len(here):
                return None
        elif not isinstance(here, dict) or step not in here:
            return None
        here = here[step]
    return here


def put(document: Document, place: Place, value: Any) -> Document:
    """The document with a value at a place; None takes the key away.  The one given stays as it is.

    Tables and lists on the way are made where they are missing or something else stands there.
    """
    return dict(_put(document, place, value))


def _put(here: Any, place: Place, value: Any) -> Any:
    step, rest = place[0], place[1:]
    if isinstance(step, int):
        row = list(here) if isinstance(here, list) else []
        row += [None] * (step + 1 - len(row))
        row[step] = _put(row[step], rest, value) if rest else value
        return row
    table = dict(here) if isinstance(here, dict) else {}
    if rest:
        table[step] = _put(table.get(step), rest, value)
    elif value is None:
        table.pop(step, None)
    else:
        table[step] = value
    return table


def insert(document: Document, place: Place, value: Any) -> Document:
    """The document with a value put before a position of a list."""
    present = get(document, place[:-1])
    row = list(present) if isinstance(present, list) else []
    row.insert(_position(place), value)
    return put(document, place[:-1], row)


def remove(document: Document, place: Place) -> Document:
    """The document without one item of a list."""
    row = list(get(document, place[:-1]))
    del row[_position(place)]
    return put(document, place[:-1], row)


def _position(place: Place) -> int:
    last = place[-1]
    assert isinstance(last, int), "the place of an item ends with its position"
    return last


def as_text(value: Any) -> str:
    """What a field shows for a value."""
    return "" if value is None else str(value)


def as_number(text: str) -> int | float | str | None:
    """A plain number where the text is one; else the text, for the reader of the document to refuse."""
    text = text.strip()
    if not text:
        return None
    for read in (int, float):
        try:
            number = read(text)
        except ValueError:
            continue
        return number if math.isfinite(number) else text
    return text
