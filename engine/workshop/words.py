"""What a drawing says in words below it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.parts import KeepOut, Space
from engine.quantities import Units, show
from engine.space.arrangement import Bend, Frustum
from engine.workshop.design import SIDES, Design
from engine.workshop.svg import length

Floats = NDArray[np.float64]

FACES = {
    "baffle": ("Baffle seen square on", "baffle"),
    "bottom": ("Bottom panel seen square on from outside, that is from below", "bottom panel"),
    "top": ("Top panel seen square on from outside", "top panel"),
    "back": ("Back panel seen square on from outside", "back panel"),
    "left side": ("Left side panel seen square on from outside", "left side panel"),
    "right side": ("Right side panel seen square on from outside", "right side panel"),
}
FROM = {
    "baffle": "from the left and the lower edge",
    "back": "from the left end (seen from the front) and the lower edge",
    "bottom": "from the left and the rear edge",
    "top": "from the left and the rear edge",
    "left side": "from the lower rear corner, forward and up",
    "right side": "from the lower rear corner, forward and up",
}


def sizes_in_words(design: Design, units: Units) -> str:
    return (
        f"Outside {length(design.width, units)} wide, {length(design.height, units)} high, "
        f"{length(design.top_depth, units)} deep at the top and {length(design.bottom_depth, units)} at the bottom."
    )


def place_in_words(design: Design, space: Space, units: Units) -> str:
    left, forward, up = design.low - np.array([0.0, *np.asarray(space.section).min(axis=0)])
    right = space.width - design.high[0]
    return (
        f"The box stands {length(float(left), units)} from the left end and {length(float(right), units)} from the "
        f"right end of the space, seen from the front; {length(float(forward), units)} forward of its rearmost plane "
        f"and {length(float(up), units)} above its lowest point."
    )


def leans_in_words(design: Design, units: Units) -> str:
    def lean(angle: float) -> str:
        if abs(angle) < 5e-4:
            return "stands upright"
        return f"leans {'forward' if angle > 0.0 else 'back'} by {show(abs(angle), 'angle', units)}"

    back, baffle = design.leans
    return f"From upright, the back {lean(back)} and the baffle {lean(baffle)}."


def drivers_in_words(design: Design, units: Units) -> str:
    driver = design.driver
    sizes = (
        ("cut-out ⌀", driver.cutout_diameter),
        ("flange ⌀", driver.outer_diameter),
        ("mounting depth", driver.mounting_depth),
    )
    figures = ", ".join(f"{name}\u00a0{length(size, units)}" for name, size in sizes)
    where = "" if design.driven == "baffle" else f", in the {FACES[design.driven][1]}"
    return f"{_times(len(design.parts.drivers), 'Driver')}{driver.name}{where}, {figures}."


def vents_in_words(design: Design, units: Units, *, seen: str = "") -> str:
    """``seen`` is the panel in the drawing, whose dimensions already say where its vents are."""
    vents = design.parts.vents
    first = vents[0]
    bore = first.bore[0]
    assert isinstance(bore, Frustum)
    diameter = length(2.0 * bore.radii[0], units)
    words = (
        f"{_times(len(vents), 'Vent')}bore ⌀\u00a0{diameter}, pipe ⌀\u00a0{length(2.0 * first.radius, units)}, "
        f"{length(design.length_of_vents, units)} long from the outer face{_bends(design, units)}, "
        f"through the {FACES[first.through][1]} and square to it."
    )
    places = (
        "" if first.through == seen else f" {_places(design, first.through, [vent.mouth for vent in vents], units)}"
    )
    short = "" if design.all_drawn else " What finds no room in the box is drawn cut short or left out."
    return f"{words}{places} Keep {diameter} of air before the inner mouth.{short}"


def cup_in_words(design: Design, units: Units, *, seen: str = "") -> str:
    cup = design.parts.cup
    assert cup is not None
    words = (
        f"Terminal cup: hole ⌀\u00a0{length(2.0 * cup.body.radii[0], units)} in the {FACES[cup.panel][1]}, "
        f"flange ⌀\u00a0{length(2.0 * cup.flange.radii[0], units)}."
    )
    return words if cup.panel == seen else f"{words} {_places(design, cup.panel, [cup.body.start], units)}"


def braces_in_words(design: Design, units: Units) -> str:
    parts = design.parts
    places = ", ".join(length(brace.x[0], units) for brace in parts.braces)
    first = parts.braces[0].x[0]
    passed = any(vent.through in SIDES and vent.free_air.end[0] > first for vent in parts.vents)
    included = ", the holes for the pipes included" if passed else ""
    brace = parts.braces[0]
    share = sum(shapely.Polygon(hole).area for hole in brace.holes) / shapely.Polygon(brace.section).area
    cut = f"{100.0 * share:.0f}\u00a0%"
    if len(parts.braces) == 1:
        return f"Brace: left face {places} from the left edge; {cut} of it is cut away{included}."
    return f"Braces: left faces {places} from the left edge; {cut} of each is cut away{included}."


def keepouts_in_words(keepouts: Sequence[KeepOut], units: Units, *, numbered: bool) -> str:
    """Every keep-out; by its number in the file where that stands in the drawing because a name has no room."""
    named = "; ".join(
        f"{f'{number}, ' if numbered else ''}{keepout.name}, {length(keepout.across[0], units)} to "
        f"{length(keepout.across[1], units)} from the left end"
        for number, keepout in enumerate(keepouts, start=1)
    )
    return f"Kept out: {named}."


def contents_in_words(design: Design, units: Units, *, seen: str = "") -> list[str]:
    """Drivers, vents, braces, supports and cup: a paragraph for each there is."""
    parts = design.parts
    found = [drivers_in_words(design, units)] if parts.drivers else []
    if parts.vents:
        found.append(vents_in_words(design, units, seen=seen))
    if parts.braces:
        found.append(braces_in_words(design, units))
    if design.supports:
        places = ", ".join(dict.fromkeys(length(support.x[0], units) for support in design.supports))
        found.append(f"Blocks carry the vents: left faces {places} from the left edge.")
    if parts.cup is not None:
        found.append(cup_in_words(design, units, seen=seen))
    return found


def _bends(design: Design, units: Units) -> str:
    pieces = design.parts.vents[0].pipe
    bends = [piece for piece in pieces if isinstance(piece, Bend)]
    if not bends:
        return ""
    straight = [length(float(np.linalg.norm(p.end - p.start)), units) for p in pieces if isinstance(p, Frustum)]
    return (
        f" along its middle line: {straight[0]} straight, a quarter bend of radius {length(bends[0].radius, units)}, "
        f"{straight[-1]} straight"
    )


def _places(design: Design, panel: str, centres: Sequence[Floats], units: Units) -> str:
    face = design.face(panel)
    places = "; ".join(" and ".join(length(size, units) for size in face.on(centre)) for centre in centres)
    return f"{'Centre' if len(centres) == 1 else 'Centres'} {FROM[panel]}: {places}."


def _times(count: int, name: str) -> str:
    return f"{name}: " if count == 1 else f"{name}s: {count} × "
