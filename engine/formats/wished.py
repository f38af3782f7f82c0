"""Levels that somebody wishes for in goals, as typed: text with units to SI, all faults at once."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from engine.document import Reader
from engine.field import Field
from engine.formats.fields import limit_field
from engine.goals import GOALS
from engine.quantities import NotAQuantity, Units, split, with_unit


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
    if field.is_quantity:
        return with_unit(text, field.kind, units, currency=currency)
    try:
        number = split(text)
    except NotAQuantity:
        return text
    whole = number.number.denominator == 1
    return text if number.unit else int(number.number) if whole else float(number.number)
