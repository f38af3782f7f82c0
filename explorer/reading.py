"""The scenario as the user is writing it: text in, a scenario or its faults out."""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

from engine.acoustics.cabin import Cabin
from engine.errors import A_TABLE, NO_ITEMS, TABLES, Fault, InputFaults
from engine.formats.given import Given, parse_given
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.judged import JudgedDesign
from engine.quantities import Units
from engine.scenario import Build, Scenario
from explorer.labels import name_in_words
from explorer.markdown import plain
from explorer.plainly import FormVoice, is_apart, is_missing, plainly
from explorer.session import Job

OUTLINE = ("section", "measured", "width", "margin")  # what a space is drawn from at the least


@dataclass(frozen=True, kw_only=True)
class Faults:
    """Every fault that was found in a document."""

    faults: tuple[Fault, ...] = ()

    def under(self, *keys: str) -> tuple[Fault, ...]:
        """The faults at or under any of these places: "driver[0]" covers "driver[0].fs"."""
        return tuple(fault for fault in self.faults if _under(fault.key, keys))


@dataclass(frozen=True, kw_only=True)
class Reading(Faults):
    """What a document comes to: a scenario, or every fault in it."""

    scenario: Scenario | None = None


@dataclass(frozen=True, kw_only=True)
class GivenReading(Faults):
    """What a document's given box comes to, or every fault in it and in the parts of the job that it is made of."""

    given: Given | None = None


def read(document: dict[str, Any], source: str) -> Reading:
    """Read a document; nothing is raised."""
    return _read(json.dumps(document, ensure_ascii=False), source)


@lru_cache(maxsize=256)
def _read(text: str, source: str) -> Reading:
    try:
        return Reading(scenario=parse_scenario(json.loads(text), source=source))
    except InputFaults as error:
        return Reading(faults=_due(error.faults))


def build_now(design: JudgedDesign, job: Job) -> Build:
    """How the job says now that designs are built; as the design's own says where it cannot be read."""
    scenario = read(job.document, job.source).scenario
    return design.scenario.build if scenario is None else scenario.build


def read_given(document: dict[str, Any], source: str) -> GivenReading:
    """Read the box that a document gives; nothing is raised."""
    return _read_given(json.dumps(document, ensure_ascii=False), source)


@lru_cache(maxsize=64)
def _read_given(text: str, source: str) -> GivenReading:
    try:
        return GivenReading(given=parse_given(json.loads(text), source=source))
    except InputFaults as error:
        return GivenReading(faults=_due(error.faults))


def for_drawing(document: dict[str, Any]) -> Scenario | None:
    """A scenario to draw the document's space from while other parts are still at fault.

    Space, board and box are the document's as far as they can be read, the space without
    what stands in it where that is at fault, the box a plain one where it is at fault or not
    stated; parts that a drawing of the space does not show are a demo job's.
    """
    if not isinstance(document.get("space"), dict):
        return None
    demo = {**read_document(next(iter(demo_scenarios().values()))), "box": {}}
    outline = {key: value for key, value in document["space"].items() if key in OUTLINE}
    for tables in (("stock", "box"), ("stock",), ()):
        parts: dict[str, Any] = {table: document[table] for table in tables if table in document}
        for space in (document["space"], outline):
            scenario = read({**demo, **parts, "space": space}, "").scenario
            if scenario is not None:
                return scenario
    return None


def cabin_of(document: dict[str, Any]) -> Cabin | None:
    """What a document says of the vehicle's cabin, whatever else is at fault in it; None where that is nothing."""
    if document.get("cabin") is None:
        return None
    demo = read_document(next(iter(demo_scenarios().values())))
    said: dict[str, Any] = {table: document[table] for table in ("cabin", "air") if table in document}
    for parts in (said, {"cabin": document["cabin"]}):
        scenario = read({**demo, **parts}, "").scenario
        if scenario is not None:
            return scenario.cabin
    return None


def _due(faults: Sequence[Fault]) -> tuple[Fault, ...]:
    """The faults without what contradicts itself in a driver, pipe or load that is not filled in yet."""
    unfinished = {_item(fault) for fault in faults if is_missing(fault)} - {""}
    return tuple(fault for fault in faults if not (is_apart(fault) and _item(fault) in unfinished))


def _item(fault: Fault) -> str:
    """The item of a list that a fault is in: "driver[0]"; empty where it is in none."""
    found = re.match(r".*\[\d+\](?=\.)", fault.key)
    return found[0] if found else ""


def _under(key: str, places: Iterable[str]) -> bool:
    return any(key == place or key.startswith((f"{place}.", f"{place}[")) for place in places)


def in_words(fault: Fault, units: Units) -> str:
    """A fault as a builder reads it: where, what stands there, what should."""
    words = plain(plainly(fault, units))
    if not fault.key:
        return words
    name = plain(name_in_words(fault.key))
    value = fault.found(FormVoice(units))
    untold = is_missing(fault) or value in ("", NO_ITEMS, A_TABLE, TABLES)
    found = "" if untold else f" – “{plain(value)}”"
    return f"**{name}**{found}: {words}"


def lines(faults: Sequence[Fault], units: Units) -> list[str]:
    """All faults, one line each; what is still empty in one driver, pipe or load makes one line together."""
    told: dict[str | Fault, list[Fault]] = {}
    for fault in faults:
        told.setdefault((is_missing(fault) and _item(fault)) or fault, []).append(fault)
    return [
        f"**{name_in_words(item)}**: {len(group)} fields to fill in"
        if isinstance(item, str) and len(group) > 1
        else in_words(group[0], units)
        for item, group in told.items()
    ]
