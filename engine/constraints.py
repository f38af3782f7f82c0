"""What a design has to keep: one record a constraint.

Those of the box stand here, those of an opening in its record; a limit on a goal is made from the goal.
"""

from __future__ import annotations

from dataclasses import dataclass

from engine.constraint import Constraint, Slack
from engine.goals import GOALS, Goal
from engine.openings import OPENINGS
from engine.packing.inside import SLACKS
from engine.quantities import MISSING, Units, show, show_shortage
from engine.registry import OnDemand, Registry

LIMIT = "limit {}"  # what the limit on a goal is called

BOX: Registry[Constraint] = Registry(
    Constraint("space", "room in the space's cross-section or width", "the space ends there", in_metres=True),
    Constraint("door", "room in the door opening or behind it", "the box would no longer pass the door opening",
               in_metres=True),
    Constraint("slant", "a baffle no steeper than the saw tilts", "the saw tilts no further"),
    Constraint("thin end", "depth inside at the box's thin end", "the box would be too thin inside at one end",
               in_metres=True),
    Slack("walls", "the inside between the walls", "the panels would meet inside", voids=True),
    Slack("volume", "air left beside drivers and braces", "drivers and braces would fill the box"),
    Slack("driver height", "length of the drivers' panel for driver and flange",
          "the panel is not long enough for the driver there"),
    Slack("driver depth", "depth behind the driver", "the magnet would come too near the panel behind it"),
    Slack("driver row", "width for drivers and braces side by side", "the drivers and braces need the width"),
    Slack("driver air", "air beside the box before the driver",
          "the space leaves too little air beside the box before the driver"),
    Constraint("cone air", "air before the cones", "the space would leave the cones too little air before them",
               in_metres=True),
    Slack("terminal cup", "a place for the terminal cup in the right side panel",
          "the terminal cup would find no place in the side panel"),
    Slack("cup outside", "room beside the box for the plug in its terminal cup",
          "the space leaves too little room beside the box for the plug in its terminal cup"),
    Slack("brace air", "air past the braces", "no brace would leave the air enough room to pass"),
    Constraint("brace speed", "air past the braces: it moves faster there than it may in a vent",
               "the air would pass the braces faster than it may move in a vent", heard=True),
    Constraint("tuning", "a tuning within its bounds", "the bound you set on the tuning stops it", heard=True),
    Constraint("f3", "bass: its response never comes up to its reference level",
               "it would then never come up to its reference level below 200 Hz", heard=True),
)  # fmt: skip
added = BOX.added


def _made(name: str) -> Constraint | None:
    """The limit on a goal that there are too many of to list."""
    key = name.removeprefix(LIMIT.format(""))
    return limit_on(GOALS[key]) if key != name and key in GOALS else None


CONSTRAINTS: OnDemand[Constraint] = OnDemand(_made)


def limit_on(goal: Goal) -> Constraint:
    """The limit on a goal."""
    words = f"the limit on {goal.inner_label}"
    return Constraint(LIMIT.format(goal.key), words, f"it would pass {words}", heard=True, goal=goal)


@OPENINGS.followed
@GOALS.followed
@BOX.followed
def _fill() -> None:
    """All of them; openings may share one, but none may mean two things."""
    own = [each for opening in OPENINGS.records for each in (*opening.slacks, *opening.limits)]
    found: dict[str, Constraint] = {}
    for constraint in (*BOX.records, *own, *map(limit_on, GOALS.records)):
        if found.setdefault(constraint.name, constraint) != constraint:
            raise ValueError(f"there are two constraints {constraint.name!r}")
    if unknown := {name for name in SLACKS if not isinstance(found.get(name), Slack)}:
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
        return constraint.short_of + (f" ({show_shortage(self.by, units)})" if constraint.in_metres else "")


def _shown(value: float | None, kind: str, units: Units) -> str:
    if value is None:
        return MISSING
    if kind == "level":
        return f"{value:.1f} dB"
    if kind == "count":
        return f"{value:.0f}"
    return f"{value:.2f}" if kind in ("ratio", "money") else show(value, kind, units)
