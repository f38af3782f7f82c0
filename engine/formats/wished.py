"""Levels that somebody wishes for in goals, as typed: text with units to SI, all faults at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.document import Reader
from engine.field import Field
from engine.formats.fields import limit_field
from engine.goals import GOALS
from engine.quantities import NotAQuantity, Units, split, unit_of


def read_wished(
    texts: Mapping[str, str], *, source: str, units: Units, currency: str = "", place: str = ""
) -> dict[str, float]:
    """What is wished for by goal, SI; goals whose text is empty are left out.

    A number without a unit is in that of the ``units`` system, or in the job's ``currency``.  Raises InputFaults, each
    fault at its goal's key under ``place``.
    """
    reader = Reader(source)
    reader.currency = currency or None
    found = {}
    for key, text in texts.items():
        if not text.strip():
            continue
        field = limit_field(GOALS[key])
        at = f"{place}.{key}" if place else key
        value = reader.value(_stated(text.strip(), field, units, currency), at, field)
        if value is not None:
            found[key] = float(value)
    reader.finish({})
    return found


def _stated(text: str, field: Field, units: Units, currency: str) -> Any:
    """A text as it would stand in a job: with its unit, or a plain number where that is due."""
    try:
        stated = split(text)
    except NotAQuantity:
        return text
    if stated.unit:
        return text
    if not field.is_quantity:
        return int(stated.number) if stated.number.denominator == 1 else float(stated.number)
    if field.kind == "price":
        return f"{text} {currency}" if currency else text
    return f"{text} {unit_of(field.kind, units).text}"
