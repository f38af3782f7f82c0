"""What a design has to keep: one record a constraint, with what it means to whoever reads of it.

Those of the box stand here, those of an opening in its record; a limit on a goal is made from the goal.  The packing
knows its slacks by these names.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from engine.goals import GOALS, Goal
from engine.openings import OPENINGS
from engine.packing.inside import SLACKS
from engine.quantities import MISSING, Units, show
from engine.registry import Registry

LIMIT = "limit {}"  # what the limit on a goal is called


@dataclass(frozen=True, kw_only=True)
class Constraint:
    """One thing that a design has to keep.

    Attributes
    ----------
    name :
        In judgements, in the front's column ``short_of`` and in the record of a search.
    short_of :
        What a design that breaks it is short of.
    blocks :
        What forbids a step that would break it, as the end of a sentence that goes on from "but".
    in_metres :
        Whether it is a length that a design is short of.
    heard :
        Whether it is known only of designs that fit.
    slack :
        Whether the packing says how much is left of it.
    voids :
        Whether a design that breaks it is no box at all.
    goal :
        The goal that it is a limit on, if it is one.
    """

    name: str
    short_of: str
    blocks: str
    in_metres: bool = False
    heard: bool = False
    slack: bool = False
    voids: bool = False
    goal: Goal | None = None

    def __post_init__(self) -> None:
        if not (self.short_of and self.blocks):
            raise ValueError(f"the constraint {self.name!r} is not whole: words are missing")


BOX: Registry[Constraint] = Registry(
    Constraint(
        name="space",
        short_of="room in the space's cross-section or width",
        blocks="the space ends there",
        in_metres=True,
    ),
    Constraint(
        name="door",
        short_of="room in the door opening or behind it",
        blocks="the box would no longer pass the door opening",
        in_metres=True,
    ),
    Constraint(
        name="walls",
        short_of="the inside between the walls",
        blocks="the panels would meet inside",
        in_metres=True,
        slack=True,
        voids=True,
    ),
    Constraint(
        name="volume",
        short_of="air left beside drivers and braces",
        blocks="drivers and braces would fill the box",
        in_metres=True,
        slack=True,
    ),
    Constraint(
        name="driver height",
        short_of="length of the drivers' panel for driver and flange",
        blocks="the panel is not long enough for the driver there",
        in_metres=True,
        slack=True,
    ),
    Constraint(
        name="driver depth",
        short_of="depth behind the driver",
        blocks="the magnet would come too near the panel behind it",
        in_metres=True,
        slack=True,
    ),
    Constraint(
        name="driver row",
        short_of="width for drivers and braces side by side",
        blocks="the drivers and braces need the width",
        in_metres=True,
        slack=True,
    ),
    Constraint(
        name="driver air",
        short_of="air beside the box before the driver",
        blocks="the space leaves too little air beside the box before the driver",
        in_metres=True,
        slack=True,
    ),
    Constraint(
        name="terminal cup",
        short_of="a place for the terminal cup in the right side panel",
        blocks="the terminal cup would find no place in the side panel",
        in_metres=True,
        slack=True,
    ),
    Constraint(
        name="tuning",
        short_of="a tuning within its bounds",
        blocks="the bound you set on the tuning stops it",
        heard=True,
    ),
    Constraint(
        name="f3",
        short_of="bass: its response never comes up to its reference level",
        blocks="it would then never come up to its reference level below 200 Hz",
        heard=True,
    ),
)
added = BOX.added

CONSTRAINTS: dict[str, Constraint] = {}


def limit_on(goal: Goal) -> Constraint:
    """The limit on a goal."""
    words = f"the limit on {goal.inner_label}"
    return Constraint(
        name=LIMIT.format(goal.key), short_of=words, blocks=f"it would pass {words}", heard=True, goal=goal
    )


def _of_openings() -> Iterator[Constraint]:
    for opening in OPENINGS.records:
        for slack in opening.slacks:
            yield Constraint(
                name=slack.name,
                short_of=slack.short_of,
                blocks=slack.blocks,
                in_metres=True,
                slack=True,
                voids=slack.voids,
            )
        for limit in opening.limits:
            yield Constraint(name=limit.name, short_of=limit.short_of, blocks=limit.blocks)


@OPENINGS.followed
@GOALS.followed
@BOX.followed
def _fill() -> None:
    """All of them; openings may share one, but none may mean two things."""
    found: dict[str, Constraint] = {}
    for constraint in (*BOX.records, *_of_openings(), *map(limit_on, GOALS.records)):
        if found.setdefault(constraint.name, constraint) != constraint:
            raise ValueError(f"there are two constraints {constraint.name!r}")
    if unknown := set(SLACKS) - {constraint.name for constraint in found.values() if constraint.slack}:
        raise ValueError(f"the packing has slacks that are no constraints: {unknown}")
    CONSTRAINTS.clear()
    CONSTRAINTS.update(found)


@dataclass(frozen=True, kw_only=True)
class Shortfall:
    """A broken constraint, as a parameter of a message and as a search's record has it.

    ``by`` is in m where the constraint is.  Of a limit on a goal ``limit`` is what was asked and ``reached`` what the
    design comes to, SI; None where there is no such figure.
    """

    constraint: str
    by: float
    limit: float | None = None
    reached: float | None = None

    def told(self, units: Units) -> str:
        """As something to be short of, with by how much."""
        constraint = CONSTRAINTS[self.constraint]
        if constraint.goal is not None:
            limit, reached = (_shown(figure, constraint.goal.kind, units) for figure in (self.limit, self.reached))
            return f"{constraint.short_of}, {limit} (it comes to {reached})"
        return (
            f"{constraint.short_of} ({show(self.by, 'length', units)})" if constraint.in_metres else constraint.short_of
        )


def _shown(value: float | None, kind: str, units: Units) -> str:
    if value is None:
        return MISSING
    if kind == "level":
        return f"{value:.1f} dB"
    return f"{value:.2f}" if kind in ("ratio", "money") else show(value, kind, units)
