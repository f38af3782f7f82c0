"""Every body of one laid-out design: what all boxes have, and what its opening is made of."""

from __future__ import annotations

from engine.openings import OPENINGS
from engine.space.arrangement import assembled, interior_of
from engine.space.bodies import Assembly
from engine.space.layout import Layout


def bodies_of(layout: Layout, i: int) -> Assembly:
    """Every body of design ``i`` of a layout; made for designs whose slacks are all ≥ 0."""
    box, opening = interior_of(layout, i), OPENINGS.records[int(layout.opening[i])]
    return assembled(box, opening.bodies(box))
