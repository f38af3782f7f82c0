"""The openings of a box: one record each, in the order in which families and variables follow each other."""

from __future__ import annotations

from typing import Any

from engine.openings.none import NONE
from engine.openings.pipe import PIPE
from engine.openings.radiator import RADIATOR
from engine.openings.record import Limit, Opening, Variable
from engine.openings.slot import SLOT
from engine.registry import Registry

OPENINGS: Registry[Opening] = Registry(NONE, PIPE, SLOT, RADIATOR)


def variables() -> list[Variable]:
    """The variables of every opening, in order."""
    return [variable for opening in OPENINGS.records for variable in opening.variables]


def limits() -> dict[str, Limit]:
    """The constraints that openings have of their own, by name."""
    return {limit.name: limit for opening in OPENINGS.records for limit in opening.limits}


def making(box_kind: str) -> list[Opening]:
    """The openings that make a kind of box."""
    return [opening for opening in OPENINGS.records if opening.box_kind == box_kind]


def opening_of(row: Any) -> Opening:
    """The opening of a row of a front.  Raises KeyError where no opening makes such a box."""
    for opening in making(row["box_kind"]):
        if opening.vent_kind == row["vent_kind"]:
            return opening
    raise KeyError(f"no opening makes a box of kind {row['box_kind']!r} with a vent of kind {row['vent_kind']!r}")


@OPENINGS.followed
def _check() -> None:
    """No two openings share a variable or pass for each other on the front.  Raises ValueError where they do."""
    shown = [(opening.box_kind, opening.vent_kind) for opening in OPENINGS.records]
    for each in ([variable.name for variable in variables()], shown):
        if len(set(each)) < len(each):
            raise ValueError(f"two openings have the same of {each}")


added = OPENINGS.added
