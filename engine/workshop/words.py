"""What a drawing says in words: the box's sizes, where it stands, what is kept out, what is in it."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence

import numpy as np

from engine.arrays import Floats
from engine.openings import OPENINGS
from engine.parts import KeepOut, Space
from engine.quantities import Units, show
from engine.space import roles
from engine.space.bodies import SIDES, across, body_of
from engine.space.braces import FORMS
from engine.space.panels import Telling, called, double_baffle, length, times
from engine.workshop.design import Design

CUT_SHORT = " What finds no room in the box is drawn cut short or left out."
SAME = 1e-6  # m², sections that differ by no more are one; m, a thickness that counts as none
UPRIGHT = math.radians(0.05)  # angles below it read as 0.0°


def sizes(design: Design, units: Units) -> str:
    outer = (design.width, design.height, design.top_depth, design.bottom_depth)
    width, height, top, bottom = (length(size, units) for size in outer)
    return f"Outside {width} wide, {height} high, {top} deep at the top and {bottom} at the bottom."


def place(design: Design, space: Space, units: Units) -> str:
    low = design.low - np.array([0.0, *np.asarray(space.section).min(axis=0)])
    left, right, forward, up = (length(float(size), units) for size in (low[0], space.width - design.high[0], *low[1:]))
    return (
        f"The box stands {left} from the left end and {right} from the right end of the space, seen from the front; "
        f"{forward} forward of its rearmost plane and {up} above its lowest point."
    )


def leans(back: float, baffle: float, units: Units) -> str:
    """How a box's back and baffle stand: their angles from upright, positive where they lean forward going up, rad."""

    def lean(angle: float) -> str:
        if abs(angle) < UPRIGHT:
            return "stands upright"
        return f"leans {'forward' if angle > 0.0 else 'back'} by {show(abs(angle), 'angle', units)}"

    return f"The back {lean(back)}, the baffle {lean(baffle)}."


def kept_out(keepouts: Sequence[KeepOut], units: Units, *, numbered: bool) -> str:
    """Every keep-out; by its number in the file where that stands in the drawing because a name has no room."""
    named = []
    for number, keepout in enumerate(keepouts, start=1):
        start, end = (length(x, units) for x in keepout.across)
        named.append(f"{f'{number}, ' if numbered else ''}{keepout.name}, {start} to {end} from the left end")
    return f"Kept out: {'; '.join(named)}."


def contents(design: Design, units: Units, *, seen: str = "") -> list[str]:
    """Drivers, openings, braces, blocks and cup: paragraphs for each there is.

    ``seen`` is the panel in the drawing, whose dimensions already say where things in it are.
    """
    told = Telling(parts=design.parts, facts=design.facts, units=units, driven=design.driven, seen=seen)
    found = [*_drivers(design, told), *_baffle(told)]
    for opening in OPENINGS.records:
        if bodies := design.parts.kind(opening.name):
            first, *others = opening.told(bodies, told)
            found += [first + ("" if design.all_drawn else CUT_SHORT), *others]
    return [*found, *_braces(told), *_blocks(design, told), *_cup(told)]


def in_top(design: Design, units: Units) -> list[str]:
    """The holes in the top panel, size by size."""
    told = Telling(parts=design.parts, facts=design.facts, units=units, driven=design.driven)
    sizes: dict[str, list[Floats]] = {}
    for body in design.drawn:
        if body.panel == "top" and body.role in (roles.CUTOUT, roles.HOLE):
            hole = body.frusta[0]
            sizes.setdefault(told.length(2.0 * hole.radii[0]), []).append(hole.start)
    return [
        f"{times(len(centres), 'Hole')}⌀\u00a0{size} in the {called('top')}.{told.places('top', centres)}"
        for size, centres in sizes.items()
    ]


def _drivers(design: Design, told: Telling) -> Iterator[str]:
    driver, where = design.driver, "" if told.driven == "baffle" else f", in the {told.panel(told.driven)}"
    cutout, flange, depth = map(told.length, (driver.cutout_diameter, driver.outer_diameter, driver.mounting_depth))
    if count := len(design.parts.kind("driver")):
        figures = f"cut-out ⌀\u00a0{cutout}, flange ⌀\u00a0{flange}, mounting depth\u00a0{depth}"
        turned = "up" if told.driven in SIDES else "right, seen from the front"
        tags = f" Turn {'it' if count == 1 else 'them'} so that the terminals point {turned}."
        tags = tags if told.parts.of(roles.TERMINALS) else ""
        yield f"{times(count, 'Driver')}{driver.name}{where}, {figures}.{tags}"


def _baffle(told: Telling) -> Iterator[str]:
    """What its baffle is glued up of, and how deep flanges are sunk."""
    board, layer, recess = told.parts.board, told.parts.layer, told.parts.recess
    if layer > SAME:
        double = double_baffle(board, layer, told.units)
        yield f"{double.capitalize()}; its panel is both glued together."
    if recess > SAME:
        yield f"Flanges of what sits in the {told.panel(told.driven)} are sunk {told.length(recess)}."


def _braces(told: Telling) -> Iterator[str]:
    if bodies := [body for same in told.parts.kind("brace") for body in same]:
        places = ", ".join(told.length(across(body.solids[0])[0]) for body in bodies)
        start = "Brace: left face" if len(bodies) == 1 else "Braces, all alike: left faces"
        yield f"{start} {places} from the left edge; {FORMS[bodies[0].form].said(bodies[0], told)}."


def _blocks(design: Design, told: Telling) -> Iterator[str]:
    faces = [told.length(body.prisms[0].x[0]) for body in design.drawn if body.role is roles.BLOCK]
    if faces:
        yield f"Blocks carry the vents: left faces {', '.join(dict.fromkeys(faces))} from the left edge."


def _cup(told: Telling) -> Iterator[str]:
    for bodies in told.parts.kind("cup"):
        panel, hole = body_of(bodies, roles.HOLE).panel, body_of(bodies, roles.HOLE).frusta[0]
        flange = body_of(bodies, roles.CUP_FLANGE).frusta[0]
        inner, outer = (told.length(2.0 * ring.radii[0]) for ring in (hole, flange))
        words = f"Terminal cup: hole ⌀\u00a0{inner} in the {told.panel(panel)}, flange ⌀\u00a0{outer}."
        yield words + told.places(panel, [hole.start])
