"""What is said of pipes: in a list of figures, and to whoever builds them."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from engine.openings.pipe.solids import vent_length
from engine.quantities import Units, show_sawn
from engine.space import roles
from engine.space.bodies import Bend, Body, body_of
from engine.space.panels import Telling, times

# By what stands in a front's column of their placement.
THROUGH = {
    "through side": "through the left side",
    "through baffle": "through the baffle",
    "through bottom": "through the bottom",
    "through top": "through the top",
    "through baffle, bent": "through the baffle, with one bend",
    "through bottom, bent": "through the bottom, with one bend",
    "through top, bent": "through the top, with one bend",
}


def said(row: Any, units: Units) -> str:
    """Count, bore, length, way out, bends and flares, in one line."""
    count, flare = int(row["vent_count"]), float(row["vent_flare_m"])
    bore, length = (show_sawn(float(row[key]), units) for key in ("vent_diameter_m", "vent_length_m"))
    vents, each = ("1 vent", "") if count == 1 else (f"{count} vents", " each")
    flared = f", both ends flared {show_sawn(flare, units)}" if flare > 0.0 else ""
    return f"{vents}, {bore} bore × {length} long{each}, {THROUGH[row['vent_placement']]}{flared}"


def told(vents: Sequence[Sequence[Body]], tell: Telling) -> list[str]:
    """Count, bore, length, way out, flares and places of the vents, a paragraph."""
    first = vents[0]
    pipe = next(body for body in first if body.role in (roles.PIPE, roles.PASSING_PIPE))
    bore = tell.length(2.0 * body_of(first, roles.BORE).frusta[0].radii[0])
    long = tell.length(float(tell.facts.get("vent_length_m", vent_length(pipe))))
    words = (
        f"{times(len(vents), 'Vent')}bore ⌀\u00a0{bore}, pipe ⌀\u00a0{tell.length(2.0 * pipe.frusta[0].radii[0])}, "
        f"{long} long from the outer face{_bends(pipe, tell)}, through the {tell.panel(pipe.panel)} and square to it."
    )
    flares = [body for body in first if body.role is roles.FLARE]
    if flares:
        narrow, wide = (flares[0].frusta[k].radii[k] for k in (-1, 0))
        words += (
            f" Both ends are flared by a quarter round of radius {tell.length(wide - narrow)} "
            f"to ⌀\u00a0{tell.length(2.0 * wide)}, within this length."
        )
    places = tell.places(pipe.panel, [body_of(each, roles.HOLE).frusta[0].start for each in vents])
    above = " and as much above the top" if pipe.panel == "top" else ""
    return [f"{words}{places} Keep {bore} of air before the inner mouth{above}."]


def _bends(pipe: Body, tell: Telling) -> str:
    bends = [piece for piece in pipe.rounds if isinstance(piece, Bend)]
    if not bends:
        return ""
    straight = [tell.length(piece.length) for piece in pipe.frusta]
    return (
        f" along its middle line: {straight[0]} straight, a quarter bend of radius {tell.length(bends[0].radius)}, "
        f"{straight[-1]} straight"
    )
