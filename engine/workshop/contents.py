"""What is in the box, in words below a drawing."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.quantities import Units, show
from engine.space.arrangement import Bend, Frustum, Prism, SlotSolid
from engine.workshop.design import SIDES, Design
from engine.workshop.faces import Face
from engine.workshop.slots import across_box, clear_depth, clear_height, is_low, leg, leg_length
from engine.workshop.svg import length
from engine.workshop.words import FACES, FROM

Floats = NDArray[np.float64]

SAME = 1e-6  # m², sections that differ by no more are one


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


def radiators_in_words(design: Design, units: Units, *, seen: str = "") -> str:
    parts = design.parts
    first = parts.radiators[0]
    sizes = (
        ("cut-out ⌀", 2.0 * first.cutout.radii[0]),
        ("flange ⌀", 2.0 * first.flange.radii[0]),
        ("mounting depth", float(np.linalg.norm(first.body.end - first.cutout.start))),
    )
    named = [design.radiator] if design.radiator else []
    figures = ", ".join([*named, *(f"{name}\u00a0{length(size, units)}" for name, size in sizes)])
    where = "" if first.panel == design.driven else f", in the {FACES[first.panel][1]}"
    words = f"{_times(len(parts.radiators), 'Passive radiator')}{figures}{where}."
    if design.added_mass > 0.0:
        mass = show(design.added_mass, "mass", units, COLUMNS["radiator_added_mass_kg"].digits).replace(" ", "\u00a0")
        words += f" Add {mass} to {'its cone' if len(parts.radiators) == 1 else 'the cone of each'}."
    if first.panel == seen:
        return words
    return f"{words} {_places(design, first.panel, [radiator.cutout.start for radiator in parts.radiators], units)}"


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
    if first.rims:
        rim = 2.0 * (bore.radii[0] + first.flare_radius)
        words += (
            f" Both ends are flared by a quarter round of radius {length(first.flare_radius, units)} "
            f"to ⌀\u00a0{length(rim, units)}, within this length."
        )
    places = (
        "" if first.through == seen else f" {_places(design, first.through, [vent.mouth for vent in vents], units)}"
    )
    return f"{words}{places} Keep {diameter} of air before the inner mouth.{_cut_short(design)}"


def slot_in_words(design: Design, units: Units, *, seen: str = "") -> list[str]:
    """Its sizes, its boards, its opening."""
    slot = design.parts.slot
    assert slot is not None
    low = is_low(slot)
    high, deep = length(clear_height(slot), units), length(clear_depth(slot), units)
    sizes = (
        f"Slot vent along the {'bottom' if low else 'top'}: {high} high and {deep} deep in the clear (from back to "
        f"baffle at half its height), {length(design.length_of_vents, units)} long along its middle line from the "
        f"outer face of the {FACES[slot.through][1]}."
    )
    if leg(slot) is not None:
        sizes += (
            f" At the right end it turns square {'up' if low else 'down'} along the right side panel, {high} wide; "
            f"beyond the corner the leg is {length(leg_length(slot), units)} long."
        )
    boards = [_board(board, units, lying=not number) for number, board in enumerate(slot.boards)]
    return [
        f"{sizes} Keep {high} of air before the inner mouth.{_cut_short(design)}",
        f"Slot: {' '.join(boards)}",
        _mouth(design, slot, units, seen=seen),
    ]


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
    shares = [
        sum(shapely.Polygon(hole).area for hole in brace.holes) / shapely.Polygon(brace.section).area
        for brace in parts.braces
    ]
    cut = " or ".join(dict.fromkeys(f"{100.0 * share:.0f}\u00a0%" for share in shares))
    whole = shapely.Polygon(parts.inner.section).area
    shorter = any(shapely.Polygon(brace.section).area < whole - SAME for brace in parts.braces)
    if len(parts.braces) == 1:
        ends = " It ends at the slot's board." if shorter else ""
        return f"Brace: left face {places} from the left edge; {cut} of it is cut away{included}.{ends}"
    ends = " Those over the slot end at its board." if shorter else ""
    return f"Braces: left faces {places} from the left edge; {cut} of each is cut away{included}.{ends}"


def contents_in_words(design: Design, units: Units, *, seen: str = "") -> list[str]:
    """Drivers, radiators, vents, braces, supports and cup: a paragraph for each there is."""
    parts = design.parts
    found = [drivers_in_words(design, units)] if parts.drivers else []
    if parts.radiators:
        found.append(radiators_in_words(design, units, seen=seen))
    if parts.vents:
        found.append(vents_in_words(design, units, seen=seen))
    if parts.slot is not None:
        found += slot_in_words(design, units, seen=seen)
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


def _board(board: Prism, units: Units, *, lying: bool) -> str:
    """Where a board of a slot goes and how large it is."""
    first, last = (length(x, units) for x in board.x)
    lower, upper = (length(size, units) for size in across_box(board))
    if lying:
        sizes = f"{lower} deep" if lower == upper else f"{lower} deep at its lower and {upper} at its upper face"
        run = length(board.x[1] - board.x[0], units)
        return f"the lying board is {run} long, from {first} to {last} from the left edge, {sizes}."
    tall = length(float(np.ptp(board.section[:, 1])), units)
    sizes = f"{lower} deep" if lower == upper else f"{lower} deep at its lower and {upper} at its upper end"
    return f"The board beside the leg is {tall} high, its left face {first} from the left edge, {sizes}."


def _mouth(design: Design, slot: SlotSolid, units: Units, *, seen: str) -> str:
    """The opening to saw out."""
    face = design.face(slot.through)
    if slot.through in SIDES:
        opening = f"The slot opens in its whole section through the {FACES[slot.through][1]}"
        return f"{opening}; corners {FROM[slot.through]}: {_pairs(face, slot.mouth, units)}."
    across, up = (length(float(np.ptp([face.on(corner)[k] for corner in slot.mouth])), units) for k in (0, 1))
    opening = f"The slot opens through the {FACES[slot.through][1]}: a window {across} wide and {up} high"
    if slot.through == seen:
        return f"{opening}."
    return f"{opening}, corners {FROM[slot.through]}: {_pairs(face, slot.mouth, units)}."


def _pairs(face: Face, places: Sequence[Floats] | Floats, units: Units) -> str:
    return "; ".join(" and ".join(length(size, units) for size in face.on(place)) for place in places)


def _cut_short(design: Design) -> str:
    return "" if design.all_drawn else " What finds no room in the box is drawn cut short or left out."


def _places(design: Design, panel: str, centres: Sequence[Floats], units: Units) -> str:
    places = _pairs(design.face(panel), centres, units)
    return f"{'Centre' if len(centres) == 1 else 'Centres'} {FROM[panel]}: {places}."


def _times(count: int, name: str) -> str:
    return f"{name}: " if count == 1 else f"{name}s: {count} × "
