"""Which way the drivers of a box may face."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.registry import Registry

FRONT, DOWN, SIDEWAYS = range(3)  # the codes, as numbers that the compiler can hold


@dataclass(frozen=True, kw_only=True)
class Facing:
    """A panel for the drivers.

    ``code`` is its number in arrays and compiled geometry, ``choice`` its name in a form, ``words`` what follows the
    drivers' name, ``stacked`` how drivers above each other in their column lie.  ``air`` is the side of the box at
    which cones need free air before them because a wall or the floor may be there.
    """

    name: str
    code: int
    panel: str
    choice: str
    words: str
    stacked: str
    air: Literal["none", "below", "right"]


FACINGS = Registry(
    Facing(name="front", code=FRONT, panel="baffle", choice="Front (baffle)", words="",
           stacked="one above the other", air="none"),
    # It stands on feet as high as the air that is needed.
    Facing(name="down", code=DOWN, panel="bottom", choice="Down (bottom)", words=", facing down",
           stacked="one behind the other", air="below"),
    Facing(name="side", code=SIDEWAYS, panel="right side", choice="Side (right)", words=", facing sideways",
           stacked="one above the other", air="right"),
)  # fmt: skip
if [facing.code for facing in FACINGS.records] != list(range(len(FACINGS))):
    raise ValueError("expected facings in the order of their codes")
