"""What is said of passive radiators: in a list of figures, and to whoever builds them in."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np

from engine.column import Column
from engine.quantities import Units, show, small_mass
from engine.space import roles
from engine.space.bodies import Body, body_of
from engine.space.panels import Telling, times

ADDED_MASS = Column("radiator_added_mass_kg", "Mass added to each radiator", "added_mass", digits=0, stored=5)


def said(row: Any, units: Units) -> str:
    """Count, name, what is added to each cone, in one line."""
    count, added = int(row["radiator_count"]), small_mass(float(row[ADDED_MASS.key]), units)
    each = "its cone" if count == 1 else "each cone"
    return f"{count} × {row['radiator']}, " + (f"{added} added to {each}" if added else "as bought")


def told(radiators: Sequence[Sequence[Body]], tell: Telling) -> list[str]:
    """Count, name, sizes, mass to add and places of the radiators, a paragraph."""
    cutouts = [body_of(each, roles.CUTOUT) for each in radiators]
    first, flange = cutouts[0].frusta[0], body_of(radiators[0], roles.RADIATOR_FLANGE).frusta[0]
    panel = cutouts[0].panel
    rear = next((body.frusta[0].end for body in radiators[0] if body.role is roles.RADIATOR), first.end)
    sizes = (
        ("cut-out ⌀", 2.0 * first.radii[0]),
        ("flange ⌀", 2.0 * flange.radii[0]),
        ("mounting depth", float(np.linalg.norm(rear - first.start))),
    )
    name, mass = str(tell.facts.get("radiator", "")), float(tell.facts.get(ADDED_MASS.key, 0.0))
    figures = ", ".join([*([name] if name else []), *(f"{what}\u00a0{tell.length(size)}" for what, size in sizes)])
    where = "" if panel == tell.driven else f", in the {tell.panel(panel)}"
    words = f"{times(len(radiators), 'Passive radiator')}{figures}{where}."
    if mass > 0.0:
        added = show(mass, "added_mass", tell.units).replace(" ", "\u00a0")
        words += f" Add {added} to {'its cone' if len(radiators) == 1 else 'the cone of each'}."
    return [words + tell.places(panel, [cutout.frusta[0].start for cutout in cutouts])]
