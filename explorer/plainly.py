"""Faults in the words of a form: what a builder sees are labels and fields, not a file's keys and brackets."""

from __future__ import annotations

import re

from engine.columns import COLUMNS
from engine.errors import Fault
from engine.field import Field
from engine.formats.fields import FIELDS, limit_field
from engine.goals import GOALS
from engine.quantities import Units
from engine.words.voice import PlainVoice, first_down
from explorer.labels import LABELS, PARTS, choice_label, item_in_words

# What to do where a whole part is missing or is none.
_PARTS = {
    "space": "fill in the space",
    "space.measured": "add at least two rows",
    "amplifier": "fill in the amplifier",
    "amplifier.load": "add at least one load",
    "driver": "add at least one driver",
    "stock": "fill in the stock",
    "stock.pipe": "add at least one pipe or a slot, or untick Vented under Boxes to try",
    "radiator": "add at least one, or untick Passive radiator under Boxes to try",
    "cabin": "state the cabin's largest inside dimension or upload a measurement, or leave the vehicle out everywhere",
}
# What to do where a field is empty; others say what their kind looks like.
_EMPTY = {
    "title": "give the job a name",
    "driver.name": "give the driver a name",
    "amplifier.name": "give the amplifier a name",
    "radiator.name": "give the passive radiator a name",
    "stock.pipe.name": "give the pipe a name",
    "space.section": "add at least three corners, or change to measurements",
    "space.keepout.name": "say what stands there",
    "space.keepout.across": "fill in from where to where across the width",
    "space.keepout.forward": "fill in from where to where forward",
    "space.keepout.up": "fill in from where to where up",
    "goals.objectives": "choose at least two goals",
    "box.kinds": "choose at least one",
    "box.facings": "choose at least one",
    "box.baffles": "choose at least one",
    "box.pipe_outlets": "choose at least one",
    "box.fillings": "choose at least one",
}
# What a file can say and a form cannot.
_OF_A_FILE = {"cabin.file": "the measurement lies in a file of its own: upload that under Vehicle"}
_SYMBOLS = {key: key.capitalize() for key in ("vas", "sd", "qes", "qms", "qts", "re", "le", "xmax", "mms", "cms", "bl")}
_SYMBOLS |= {"fs": "fs", "l2": "L2", "r2": "R2", "stated_wiring": "how the coils are joined"}
_SYMBOLS |= {f"inductance_{part}": part.capitalize() for part in ("kr", "xr", "ki", "xi")}
_SYMBOLS |= {"outer_diameter": "the diameter over the flange"}


class FormVoice(PlainVoice):
    """The words of the explorer's forms: its labels."""

    def key(self, key: str) -> str:
        if key in COLUMNS:
            return COLUMNS[key].inner_label
        if key in _SYMBOLS:
            return _SYMBOLS[key]
        label = LABELS.get(key) or next((label for place, label in LABELS.items() if place.endswith(f".{key}")), "")
        return first_down(label or key.replace("_", " "))

    def part(self, part: str) -> str:
        return f"“{PARTS[part]}”"

    def place(self, place: str) -> str:
        return re.sub(r"(?:\w+\.)?(\w+)\[(\d+)\]", lambda item: f"{item_in_words(item[1])} {int(item[2]) + 1}", place)

    def quoted(self, text: str) -> str:
        return COLUMNS[text].inner_label if text in COLUMNS else choice_label(text)


def field_at(key: str) -> Field | None:
    """The field that stands at a place as faults write it."""
    table, _, name = bare_key(key).rpartition(".")
    declared = next((field for field in FIELDS.get(table, ()) if field.key == name), None)
    return limit_field(GOALS[name]) if declared is None and table == "goals.limits" and name in GOALS else declared


def is_missing(fault: Fault) -> bool:
    """Whether nothing stands there yet: to be filled in, rather than wrong."""
    return fault.concern == "missing"


def is_apart(fault: Fault) -> bool:
    """Whether it contradicts something else that was typed, of which either may be right."""
    return fault.concern == "apart"


def plainly(fault: Fault, units: Units) -> str:
    """What is wrong and what to do, for the person at the form."""
    field, place = field_at(fault.key), bare_key(fault.key)
    words = fault.wrong(FormVoice(units))
    if fault.concern == "unknown":
        return words
    if field is None:
        return _PARTS.get(place, words) if fault.concern in ("missing", "part") else words
    if place in _OF_A_FILE:
        return _OF_A_FILE[place]
    if fault.concern in ("missing", "empty") and not fault.key.endswith("]"):
        words = _EMPTY.get(place, words)
    return "choose from the list" if fault.code == "no_choice" else words


def bare_key(key: str) -> str:
    """A place as faults write it without the numbers in it: "driver.fs" for "driver[0].fs"."""
    return re.sub(r"\[\d+\]", "", key)
