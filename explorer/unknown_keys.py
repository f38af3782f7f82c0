"""What stands in a document and belongs nowhere in a job, such as a mistyped key of an uploaded file."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice
from typing import Any

from engine.document import nearest
from engine.formats.fields import FIELDS, TABLES
from engine.goals import levels_among
from explorer.document import Document, Place, get, put
from explorer.labels import LABELS

MOST = 50


@dataclass(frozen=True)
class UnknownKey:
    """A key that belongs nowhere, and the empty field that it may be meant for."""

    place: Place
    meant: str = ""  # the key it is likely a misspelling of
    label: str = ""  # what that field is called on the page

    @property
    def key(self) -> str:
        return str(self.place[-1])


def unknown_keys(document: Document) -> list[UnknownKey]:
    """The keys of a document that no table of a job has; no more than somebody would go through."""
    return list(islice(_within(document, "", ()), MOST))


def drop(document: Document, unknown: UnknownKey) -> Document:
    return put(document, unknown.place, None)


def rename(document: Document, unknown: UnknownKey) -> Document:
    """The document with the value of an unknown key at the one it is meant for."""
    value = get(document, unknown.place)
    return put(drop(document, unknown), (*unknown.place[:-1], unknown.meant), value)


def _within(table: dict[str, Any], path: str, place: Place) -> Iterator[UnknownKey]:
    inner = {sub.key: sub for sub in TABLES.get(path, ())}
    known = [field.key for field in FIELDS[path]] + (levels_among(table) if path == "goals.limits" else [])
    if path == "filter" and table.get("kind") == "none":
        known = ["kind"]
    for key, value in table.items():
        below = f"{path}.{key}" if path else key
        if key in inner:
            items = enumerate(value) if inner[key].many and isinstance(value, list) else [(None, value)]
            for number, item in items:
                if isinstance(item, dict):
                    yield from _within(item, below, (*place, key) if number is None else (*place, key, number))
        elif key not in known:
            meant = next(iter(nearest(key, [other for other in known if other not in table])), "")
            label = LABELS.get(f"{path}.{meant}" if path else meant, meant)
            yield UnknownKey((*place, key), meant, label)
