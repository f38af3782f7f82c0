"""What is in the box, in words below a drawing."""

from __future__ import annotations

import shapely

from engine.openings import OPENINGS
from engine.quantities import Units
from engine.space.bodies import BLOCK, BRACE, CUP_FLANGE, FREE_AIR, HOLE, SIDES, body_of
from engine.space.panels import Telling, times
from engine.workshop.design import Design

CUT_SHORT = " What finds no room in the box is drawn cut short or left out."
SAME = 1e-6  # m², sections that differ by no more are one


def contents_in_words(design: Design, units: Units, *, seen: str = "") -> list[str]:
    """Drivers, openings, braces, blocks and cup: paragraphs for each there is.

    ``seen`` is the panel in the drawing, whose dimensions already say where things in it are.
    """
    told = Telling(parts=design.parts, facts=design.facts, units=units, driven=design.driven, seen=seen)
    found = drivers_in_words(design, told)
    for opening in OPENINGS.records:
        if bodies := design.parts.kind(opening.name):
            first, *others = opening.told(bodies, told)
            found += [first + ("" if design.all_drawn else CUT_SHORT), *others]
    return [*found, *braces_in_words(told), *blocks_in_words(design, told), *cup_in_words(told)]


def drivers_in_words(design: Design, told: Telling) -> list[str]:
    count, driver = len(design.parts.kind("driver")), design.driver
    if not count:
        return []
    sizes = (
        ("cut-out ⌀", driver.cutout_diameter),
        ("flange ⌀", driver.outer_diameter),
        ("mounting depth", driver.mounting_depth),
    )
    figures = ", ".join(f"{name}\u00a0{told.length(size)}" for name, size in sizes)
    where = "" if told.driven == "baffle" else f", in the {told.panel(told.driven)}"
    return [f"{times(count, 'Driver')}{driver.name}{where}, {figures}."]


def braces_in_words(told: Telling) -> list[str]:
    braces = [body.prisms[0] for body in told.parts.of(BRACE)]
    if not braces:
        return []
    places = ", ".join(told.length(brace.x[0]) for brace in braces)
    through_sides = {body.thing for body in told.parts.of(HOLE) if body.panel in SIDES}
    air = [body for body in told.parts.of(FREE_AIR) if body.thing in through_sides]
    passed = any(body.frusta[0].end[0] > braces[0].x[0] for body in air)
    included = ", the holes for the pipes included" if passed else ""
    shares = [
        sum(shapely.Polygon(hole).area for hole in brace.holes) / shapely.Polygon(brace.section).area
        for brace in braces
    ]
    cut = " or ".join(dict.fromkeys(f"{100.0 * share:.0f}\u00a0%" for share in shares))
    whole = shapely.Polygon(told.parts.inner.section).area
    shorter = any(shapely.Polygon(brace.section).area < whole - SAME for brace in braces)
    if len(braces) == 1:
        ends = " It ends at the slot's board." if shorter else ""
        return [f"Brace: left face {places} from the left edge; {cut} of it is cut away{included}.{ends}"]
    ends = " Those over the slot end at its board." if shorter else ""
    return [f"Braces: left faces {places} from the left edge; {cut} of each is cut away{included}.{ends}"]


def blocks_in_words(design: Design, told: Telling) -> list[str]:
    blocks = [body.prisms[0] for body in design.drawn if body.role is BLOCK]
    places = ", ".join(dict.fromkeys(told.length(block.x[0]) for block in blocks))
    return [f"Blocks carry the vents: left faces {places} from the left edge."] if blocks else []


def cup_in_words(told: Telling) -> list[str]:
    found = []
    for bodies in told.parts.kind("cup"):
        hole, flange = body_of(bodies, HOLE), body_of(bodies, CUP_FLANGE).frusta[0]
        start, radius = hole.frusta[0].start, hole.frusta[0].radii[0]
        words = (
            f"Terminal cup: hole ⌀\u00a0{told.length(2.0 * radius)} in the {told.panel(hole.panel)}, "
            f"flange ⌀\u00a0{told.length(2.0 * flange.radii[0])}."
        )
        found.append(words + told.places(hole.panel, [start]))
    return found
