"""One thing that a design has to keep."""

from __future__ import annotations

from dataclasses import dataclass

from engine.goals import Goal


@dataclass(frozen=True)
class Constraint:
    """One thing that a design has to keep, and what it means to whoever reads of it."""

    name: str  # in judgements, in the front's column ``short_of`` and in the record of a search
    short_of: str  # what a design that breaks it is short of
    blocks: str  # what forbids a step that would break it, as the end of a sentence that goes on from "but"
    in_metres: bool = False  # whether it is a length that a design is short of
    heard: bool = False  # whether it is known only of designs that fit
    voids: bool = False  # whether a design that breaks it is no box at all
    eased_by_tuning: bool = False  # whether a higher tuning leaves more of what it asks for
    goal: Goal | None = None  # that it is a limit on, if it is one

    def __post_init__(self) -> None:
        if not (self.name and self.short_of and self.blocks):
            raise ValueError(f"the constraint {self.name!r} is not whole: words are missing")


@dataclass(frozen=True)
class Slack(Constraint):
    """A constraint of which the packing says how much is left, m; it knows its slacks by their names."""

    in_metres: bool = True
