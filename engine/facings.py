"""Which way the drivers of a box may face."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.registry import Registry

FRONT, DOWN, SIDEWAYS, UP = range(4)  # the codes, as numbers that the compiler can hold


@dataclass(frozen=True, kw_only=True)
class Facing:
    """A panel for the drivers."""

    name: str
    code: int  # its number in arrays and compiled geometry
    panel: str
    choice: str  # in a form
    words: str  # what follows the drivers' name
    stacked: str = "one above the other"  # how drivers above each other in their column lie
    # The side of the box at which cones need free air before them because a wall or the floor may be there; one that
    # faces down stands on feet as high as that, and above one that faces up it is kept free.
    air: Literal["none", "below", "above", "right"]


FACINGS = Registry(
    Facing(name="front", code=FRONT, panel="baffle", choice="Front (baffle)", words="", air="none"),
    Facing(name="down", code=DOWN, panel="bottom", choice="Down (bottom)", words=", facing down", air="below",
           stacked="one behind the other"),
    Facing(name="side", code=SIDEWAYS, panel="right side", choice="Side (right)", words=", facing sideways",
           air="right"),
    Facing(name="up", code=UP, panel="top", choice="Up (top)", words=", facing up", air="above",
           stacked="one behind the other"),
)  # fmt: skip
if [facing.code for facing in FACINGS.records] != list(range(len(FACINGS))):
    raise ValueError("expected facings in the order of their codes")
