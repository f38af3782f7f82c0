"""What tells the designs of a front apart by a name rather than a figure, and how each name is drawn."""

from __future__ import annotations

from functools import partial
from typing import Any

import pandas as pd

from engine.kinds import KINDS
from engine.report.ink import Ink
from explorer.narrowing import FILTER_NAMES, VENTS

TRAITS = ("box_kind", VENTS, "driver", "driver_count")  # what colour and shape may tell, beside figures
TRAIT_NAMES = {"box_kind": "Kind of box", VENTS: "Vent", "driver": "Driver", "driver_count": "How many drivers"}
MARKS = ("circle", "square", "triangle-up", "diamond", "triangle-down", "cross")  # those of surface_scale.js
THIRDS = (("triangle-up", "best third"), ("circle", "middle third"), ("triangle-down", "worst third"))  # likewise


def trait_name(key: str) -> str:
    """What a trait is called."""
    return TRAIT_NAMES.get(key, FILTER_NAMES.get(key, key))


def options_of(key: str, names: pd.Series[Any]) -> list[str]:
    """The options of a trait among the names of designs, in the order in which they take colours and marks."""
    return sorted(names.astype(str).unique(), key=partial(_rank, key))


def option_name(key: str, option: str) -> str:
    """What one option of a trait is called."""
    if key == "box_kind":
        return KINDS[option].choice
    return option.capitalize() or "No vent" if key == VENTS else option


def colour_of(number: int, ink: Ink) -> str:
    """The colour of an option by its place among the others."""
    return ink.series[number] if number < len(ink.series) else ink.guide


def mark_of(key: str, option: str, number: int) -> str:
    """The mark of an option, by its place among the others; a kind of box has its own."""
    if key == "box_kind" and option in KINDS:
        return KINDS[option].mark
    return MARKS[min(number, len(MARKS) - 1)]


def _rank(key: str, option: str) -> tuple[Any, ...]:
    if key == "box_kind":
        return (list(KINDS).index(option), "") if option in KINDS else (len(list(KINDS)), option)
    return (int(option), "") if option.isdigit() else (0, option)
