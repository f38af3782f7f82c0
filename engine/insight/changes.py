"""What of a job could give a little: its room, its bounds and limits, what is on its shelf, one thing at a time.

Every change only loosens: what could be built before still can, since room may be walled off, a vent left out and gain
turned down.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from engine.document import written_in
from engine.goals import GOALS
from engine.openings.pipe import MOST_VENTS, Pipe
from engine.quantities import Units, show, show_sawn
from engine.scenario import Scenario
from engine.search.families import families_of
from engine.space.sizes import OUTER

STEPS: Mapping[Units, float] = {"metric": 0.010, "us": 0.0127}  # m of room, by what a job is measured in
NEXT_AMPLIFIER = 1.5  # times the power: how far apart amplifiers on offer lie; common practice, no source
NEXT_PIPE = 1.25  # times the bore where the shelf has one size only; common practice, no source
LOOSER = 0.05  # share by which a limit is loosened
LOOSER_DB = 1.0  # dB by which one on a level is
LOOSER_HZ = 1.0  # Hz by which bounds on the tuning are
_WORDS = {
    "outer_width": "the outer width", "outer_height": "the outer height",
    "bottom_depth": "the depth at the bottom", "top_depth": "the depth at the top",
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Change:
    """A job with one thing looser: what, as code and figures for words.

    ``moved`` are the ways in which designs follow it, each by how much variables of the search grow, all of it or a
    part.
    """

    what: str
    scenario: Scenario
    amount: float = 0.0  # m of room
    limit: str = ""  # key of a goal or name of a bound
    moved: tuple[Mapping[str, float], ...] = ()

    def words(self, units: Units) -> str:
        """The change as the head of a sentence."""
        more = show_sawn(self.amount, units) if units == "us" else show(self.amount, "length", units)
        match self.what:
            case "width" | "height" | "depth":
                return f"{more} more {self.what}"
            case "size":
                return f"{more} looser bounds on {_WORDS[self.limit]}"
            case "tuning":
                return f"{LOOSER_HZ:g} Hz looser bounds on the tuning"
            case "door":
                return f"A door opening {more} wider and higher"
            case "turning":
                return f"{more} more room to turn the box behind the door"
            case "vents":
                return "One more vent"
            case "pipe":
                return f"The next larger pipe, {show_sawn(self.amount, units)} of bore"
            case "driver":
                return "One more driver"
            case "amplifier":
                return f"An amplifier of {NEXT_AMPLIFIER:g} times the power"
            case "limit":
                by = f"{LOOSER_DB:g} dB" if GOALS[self.limit].kind == "level" else f"{100.0 * LOOSER:.0f} %"
                by = "1" if GOALS[self.limit].kind == "count" else by
                return f"A limit on {GOALS[self.limit].inner_label} that is looser by {by}"
            case "air":
                return f"A limit on the air in vents that is looser by {100.0 * LOOSER:.0f} %"
        raise ValueError(f"{self.what!r} is no change")


def changes(scenario: Scenario) -> list[Change]:
    """Everything of a job that could give a little, one at a time."""
    found = [*_of_space(scenario), *_of_bounds(scenario), *_of_limits(scenario), *_of_parts(scenario)]
    own = {item.key for item in families_of(scenario).items}
    # Where a change leaves nothing that the job had, or brings nothing that it had not, there is nothing to compare.
    kept = []
    for change in found:
        families = {item.key for item in families_of(change.scenario).items}
        if own <= families and (change.what != "driver" or own < families):
            kept.append(change)
    return kept


def _of_space(scenario: Scenario) -> Iterator[Change]:
    """Room on one side: at the right end (with the keep-outs that reach there), at the top, at the front; the door."""
    step, space = STEPS[written_in(dict(scenario.document))], scenario.space
    ends = [
        replace(each, across=(each.across[0] + step, each.across[1] + step)) if each.across[1] >= space.width else each
        for each in space.keepouts
    ]
    wider = replace(space, width=space.width + step, keepouts=tuple(ends))
    higher, deeper = (replace(space, section=_swept(space.section, *way)) for way in ((0.0, step), (step, 0.0)))
    depths: tuple[Mapping[str, float], ...] = (
        {"top_depth": step, "bottom_depth": step}, {"top_depth": step}, {"bottom_depth": step},
    )  # fmt: skip
    yield Change(what="width", amount=step, scenario=replace(scenario, space=wider), moved=({"outer_width": step},))
    yield Change(what="height", amount=step, scenario=replace(scenario, space=higher), moved=({"outer_height": step},))
    yield Change(what="depth", amount=step, scenario=replace(scenario, space=deeper), moved=depths)
    if (door := space.door) is not None:
        larger = replace(space, door=replace(door, width=door.width + step, height=door.height + step))
        ways = (*({name: step} for name in ("outer_width", "outer_height")), *depths)
        yield Change(what="door", amount=step, scenario=replace(scenario, space=larger), moved=ways)
        if np.isfinite(door.turning_room):
            freer = replace(space, door=replace(door, turning_room=door.turning_room + step))
            yield Change(what="turning", amount=step, scenario=replace(scenario, space=freer), moved=ways)


def _of_bounds(scenario: Scenario) -> Iterator[Change]:
    """The bounds that a job sets on what is searched, both ends."""
    step = STEPS[written_in(dict(scenario.document))]
    for name, (low, high) in scenario.bounds.items():
        by = step if name in OUTER else LOOSER_HZ
        if name in OUTER or name == "tuning":
            looser = replace(scenario, bounds={**scenario.bounds, name: (max(low - by, 0.0), high + by)})
            what, amount = ("size", step) if name in OUTER else ("tuning", 0.0)
            yield Change(what=what, amount=amount, limit=name, scenario=looser, moved=({name: by}, {name: -by}))


def _of_limits(scenario: Scenario) -> Iterator[Change]:
    """The limits on goals, and that on the air in vents where there may be any."""
    goals = scenario.goals
    for key, limit in goals.limits.items():
        by = {"level": LOOSER_DB, "count": 1.0}.get(GOALS[key].kind, LOOSER * limit)
        limits = {**goals.limits, key: limit + GOALS[key].turn * by}
        yield Change(what="limit", limit=key, scenario=replace(scenario, goals=replace(goals, limits=limits)))
    if "vented" in scenario.box.kinds:
        faster = replace(goals, vent_speed_limit=(1.0 + LOOSER) * goals.vent_speed_limit)
        yield Change(what="air", scenario=replace(scenario, goals=faster))


def _of_parts(scenario: Scenario) -> Iterator[Change]:
    """One more vent, the next larger pipe, one more driver, the next amplifier."""
    stock, pipes = scenario.stock, scenario.stock.listed("pipe")
    if "vented" in scenario.box.kinds and pipes:
        low, high = scenario.bounds.get("vent_count", (1.0, float(MOST_VENTS)))
        more = replace(scenario, bounds={**scenario.bounds, "vent_count": (low, high + 1.0)})
        yield Change(what="vents", scenario=more, moved=({"vent_count": 1.0},))
        pipe = _next_larger(pipes)
        shelf = replace(stock, openings={**stock.openings, "pipe": (*pipes, pipe)})
        ways: tuple[Mapping[str, float], ...] = ({"pipe": 1.0}, {"pipe": float(len(pipes))})
        larger = replace(scenario, stock=shelf)
        yield Change(what="pipe", amount=pipe.inner_diameter, scenario=larger, moved=ways)
    candidates = [replace(each, counts=(*each.counts, max(each.counts) + 1)) for each in scenario.candidates]
    yield Change(what="driver", scenario=replace(scenario, candidates=tuple(candidates)))
    amplifier = scenario.amplifier
    loads = tuple((load, NEXT_AMPLIFIER * power) for load, power in amplifier.loads)
    stronger = replace(_wired_as_it_is(scenario), amplifier=replace(amplifier, loads=loads))
    yield Change(what="amplifier", scenario=stronger)


def _next_larger(pipes: Sequence[Pipe]) -> Pipe:
    """A pipe larger than the largest by as much as that is larger than the next, all its sizes in proportion."""
    bores = sorted({pipe.inner_diameter for pipe in pipes})
    times = bores[-1] / bores[-2] if len(bores) > 1 else NEXT_PIPE
    largest = max(pipes, key=lambda pipe: pipe.inner_diameter)
    sizes = ("inner_diameter", "outer_diameter", "elbow_radius", "socket_diameter", "socket_depth", "flare_radius")
    grown = {name: times * getattr(largest, name) for name in (*sizes, "price")}
    return replace(largest, name=f"next larger than {largest.name}", **grown)


def _wired_as_it_is(scenario: Scenario) -> Scenario:
    """The same job with no other load for so many of a driver than the one that it is wired to now.

    With more power another load may be nearer to what the drivers are rated for, but whoever buys it wires as before
    and turns it down.
    """
    if scenario.amplifier.each_wiring:
        return scenario
    loads = {(item.wiring.driver.name, item.wiring.count): item.wiring.load for item in families_of(scenario).items}
    candidates = tuple(
        replace(each, counts=(count,), load=loads[each.driver.name, count])
        for each in scenario.candidates
        for count in each.counts
        if (each.driver.name, count) in loads
    )
    return replace(scenario, candidates=candidates)


def _swept(section: Sequence[tuple[float, float]], forward: float, up: float) -> tuple[tuple[float, float], ...]:
    """All that a cross-section passes over as it is moved."""
    corners = np.asarray(section, dtype=float)
    moved = corners + np.array([forward, up])
    sides = [
        shapely.MultiPoint([corners[i - 1], corners[i], moved[i - 1], moved[i]]).convex_hull
        for i in range(len(corners))
    ]
    whole = shapely.union_all([shapely.Polygon(corners), shapely.Polygon(moved), *sides]).simplify(0.0)
    return tuple((float(y), float(z)) for y, z in list(whole.exterior.coords)[:-1])
