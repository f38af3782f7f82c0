"""Faults in the words of a form: what a builder sees are labels and fields, not a file's keys and brackets."""

from __future__ import annotations

import re

from engine.columns import COLUMNS
from engine.document import Field
from engine.errors import Fault
from engine.fields import FIELDS
from engine.quantities import KINDS, Units, expected, parse, show
from engine.words.voice import Voice
from explorer.labels import LABELS, PARTS, item_in_words

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
_PART_OTHERWISE = "what the file says here cannot be read: fill in the fields of this part"
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
    "box.fillings": "choose at least one",
}
# What a file can say and a form cannot.
_OF_A_FILE = {"cabin.file": "the measurement lies in a file of its own: upload that under Vehicle"}
_ROW = re.compile(r"row \d+: (.*)")
_COMMA = re.compile(r"([+-]?\d+),(\d+)(.*)")
_SYMBOLS = {key: key.capitalize() for key in ("vas", "sd", "qes", "qms", "qts", "re", "le", "xmax", "mms", "cms", "bl")}
_SYMBOLS |= {"l2": "L2", "r2": "R2", "stated_wiring": "how the coils are joined"}
_SYMBOLS |= {f"inductance_{part}": part.capitalize() for part in ("kr", "xr", "ki", "xi")}
_SYMBOLS |= {"outer_diameter": "the diameter over the flange"}
_SIMPLER = {
    "a bare number: expected": "add the unit: expected",
    "a plain number without a unit, without quotes": "a plain number without a unit",
    "a whole number, without quotes": "a whole number",
    ", in quotes": "",
    "text in quotes": "some text",
    "a range [lowest, highest], each": "the lowest and the highest, each",
    "a list in square brackets, each": "one or more, with commas between them, each",
    "two in square brackets, each": "two, each",
    "a list of corners, each a pair of lengths [forward, up]": "corners, each with two lengths, forward and up,",
    "a pair of lengths [forward, up]": "two lengths, forward and up,",
    '["0 mm", "480 mm"]': "0 mm and 480 mm",
    "finite number": "number",
    "section (corners) or measured (rows of measurements)": "corners or measurements",
    " tables": " of them",
}


class FormVoice(Voice):
    """The words of a form: labels in place of keys, no brackets and no quotes."""

    def key(self, key: str) -> str:
        return _label(key) or key

    def part(self, part: str) -> str:
        return f"“{PARTS[part]}”"


def field_at(key: str) -> Field | None:
    """The field that stands at a place as faults write it."""
    table, _, name = _bare(key).rpartition(".")
    return next((field for field in FIELDS.get(table, ()) if field.key == name), None)


def is_missing(fault: Fault) -> bool:
    """Whether nothing stands there yet: to be filled in, rather than wrong."""
    return fault.expected.startswith("is missing") or fault.value == '""'


def is_stray(fault: Fault) -> bool:
    """Whether the place itself is none that a job has."""
    return fault.expected.startswith("is not a key here")


def plainly(fault: Fault, units: Units) -> str:
    """What is wrong and what to do, for the person at the form."""
    field, place = field_at(fault.key), _bare(fault.key)
    if is_stray(fault):
        return "a job has no such field: drop it or rename it"
    if field is None:
        of_whole_part = is_missing(fault) or re.search(r"expected one .*table", fault.expected)
        return _PARTS.get(place, _PART_OTHERWISE) if of_whole_part else without_keys(fault.expected)
    if place in _OF_A_FILE:
        return _OF_A_FILE[place]
    if (
        place in _EMPTY
        and not fault.key.endswith("]")
        and (is_missing(fault) or fault.value == "[]" or "at least two" in fault.expected)
    ):
        return _EMPTY[place]
    if fault.expected.startswith("is missing: expected") or fault.value == '""':
        return f"fill in {_looks_like(field)}"
    if fault.expected.startswith("is missing: "):
        return f"fill it in; {without_keys(fault.expected.removeprefix('is missing: '))}"
    if field.kind == "choice":
        return "choose from the list"
    comma = _COMMA.fullmatch(fault.value)
    if comma:
        return _with_point(*comma.groups())
    of_row = _ROW.fullmatch(fault.expected)
    if of_row:  # the form has these words beside the row
        return _figures_in_units(of_row[1], units)
    return without_keys(_in_units(fault.expected, field, units))


def without_keys(text: str) -> str:
    """A message of the engine with labels for keys, and without the signs that only a file needs."""
    for theirs, ours in _SIMPLER.items():
        text = text.replace(theirs, ours)
    text = re.sub(r"\[+([a-z.]+)\]+", lambda match: f"“{PARTS.get(match[1], match[1])}”", text)
    text = re.sub(r'"([^"]*)"', lambda match: _label(match[1]) or match[1], text)
    text = re.sub(r"(?:\w+\.)?(\w+)\[(\d+)\]", lambda match: f"{item_in_words(match[1])} {int(match[2]) + 1}", text)
    return re.sub(r"\b[a-z]\w*(?:\.\w+)*\b", lambda match: _label(match[0]) or match[0], text)


def _label(key: str) -> str:
    """What a key that stands in a message is called; nothing where it is an ordinary word."""
    if key in COLUMNS and "_" in key:
        return COLUMNS[key].inner_label
    if key in _SYMBOLS:
        return _SYMBOLS[key]
    if "." not in key and "_" not in key:
        return ""
    found = LABELS.get(key) or next((label for place, label in LABELS.items() if place.endswith(f".{key}")), "")
    return found[:1].lower() + found[1:]


def _bare(key: str) -> str:
    return re.sub(r"\[\d+\]", "", key)


def _looks_like(field: Field) -> str:
    if field.form == "range":
        return "both ends"
    if field.kind == "text":
        return "some text"
    if field.kind in ("count", "ratio"):
        return "a whole number" if field.kind == "count" else "a plain number"
    return "this" if field.kind == "choice" else without_keys(expected(field.kind))


def _with_point(whole: str, rest: str, unit: str) -> str:
    if len(rest) == 3:
        return f"write {whole}.{rest}{unit} with a point, or {whole}{rest}{unit} without the comma"
    return f"write {whole}.{rest}{unit} with a point"


def _in_units(text: str, field: Field, units: Units) -> str:
    """The plausible range within a message, in the user's units."""
    if field.kind not in KINDS or not isinstance(field.low, str):
        return text
    low, high = (show(parse(bound, field.kind), field.kind, units) for bound in (field.low, field.high))
    return text.replace(f"{field.low} to {field.high}", f"{low} to {high}")


def _figures_in_units(text: str, units: Units) -> str:
    """A message of the engine, which shows lengths in mm, with them in the user's units."""
    return re.sub(r"\d+(?:\.\d+)? mm\b", lambda match: show(parse(match[0], "length"), "length", units), text)
