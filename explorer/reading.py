"""The scenario as the user is writing it: text in, a scenario or its faults out."""

from __future__ import annotations

import json
from collections.abc import Iterable
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from engine.errors import Fault, InputFaults
from engine.scenario import Scenario, demo_scenarios, parse_scenario, read_document
from explorer.labels import name_in_words, plain


@dataclass(frozen=True)
class Reading:
    """What a document comes to: a scenario, or every fault in it."""

    scenario: Scenario | None
    faults: tuple[Fault, ...] = ()

    def under(self, *keys: str) -> tuple[Fault, ...]:
        """The faults at or under any of these places: "driver[0]" covers "driver[0].fs"."""
        return tuple(fault for fault in self.faults if _under(fault.key, keys))


def read(document: dict[str, Any], source: str) -> Reading:
    """Read a document; nothing is raised."""
    return _read(json.dumps(document, ensure_ascii=False), source)


@lru_cache(maxsize=256)
def _read(text: str, source: str) -> Reading:
    try:
        return Reading(parse_scenario(json.loads(text), source=source))
    except InputFaults as error:
        return Reading(None, error.faults)


def for_drawing(document: dict[str, Any]) -> Scenario | None:
    """A scenario to draw the document's space from while other parts are still at fault.

    Space, board and box are the document's as far as they can be read; parts that a
    drawing of the space does not show are a demo job's.
    """
    demo = read_document(next(iter(demo_scenarios().values())))
    for tables in (("space", "stock", "box"), ("space", "stock"), ("space",)):
        reading = read({**demo, **{table: document[table] for table in tables if table in document}}, "")
        if reading.scenario is not None and "space" in document:
            return reading.scenario
    return None


def _under(key: str, places: Iterable[str]) -> bool:
    return any(key == place or key.startswith((f"{place}.", f"{place}[")) for place in places)


def in_words(fault: Fault) -> str:
    """A fault as a builder reads it beside the field: where, what stands there, what should."""
    if not fault.key:
        return plain(fault.expected)
    label = name_in_words(fault.key)
    name = f"**{label}** (`{fault.key}`)" if label else f"`{fault.key}`"
    found = "" if fault.value in ("", '""') else f" – “{plain(fault.value)}”"
    return f"{name}{found}: {plain(fault.expected)}"
