"""What is said of a slot: in a list of figures, and to whoever builds it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
import shapely

from engine.openings.slot.solids import LEVEL, height, is_low, levels, slot_length
from engine.quantities import Units, show_sawn
from engine.space import roles
from engine.space.bodies import SIDES, Body, Prism, body_of, outer_corners
from engine.space.panels import FROM, Telling, panel_face

# By what stands in a front's column of its placement.
THROUGH = {"slot through side": "through the left side", "slot through baffle": "through the baffle"}


def said(row: Any, units: Units) -> str:
    """Clear height and depth, length, way out and turn, in one line."""
    high, deep, long = (show_sawn(float(row[key]), units) for key in ("slot_height_m", "slot_width_m", "vent_length_m"))
    turned = ", turning the corner along the right side" if float(row["slot_turn_m"]) > 0.0 else ""
    through = THROUGH[row["vent_placement"]]
    return f"1 slot of the box's own board, {high} high × {deep} deep, {long} long, {through}{turned}"


def told(slots: Sequence[Sequence[Body]], tell: Telling) -> list[str]:
    """Its sizes, its boards, its opening, a paragraph each."""
    (bodies,) = slots
    boards, duct, window = (body_of(bodies, role) for role in (roles.SLOT_BOARD, roles.DUCT, roles.WINDOW))
    low, run = is_low(boards.prisms[0], duct.prisms[0]), duct.prisms[0]
    high, deep, long = map(
        tell.length,
        (
            height(run),
            float(shapely.Polygon(run.section).area) / max(height(run), LEVEL),
            float(tell.facts.get("vent_length_m", slot_length(bodies))),
        ),
    )
    sizes = (
        f"Slot vent along the {'bottom' if low else 'top'}: {high} high and {deep} deep in the clear (from back to "
        f"baffle at half its height), {long} long along its middle line from the "
        f"outer face of the {tell.panel(window.panel)}."
    )
    if len(duct.prisms) > 1:
        _, corner, end = levels(duct.prisms, low=low)
        sizes += (
            f" At the right end it turns square {'up' if low else 'down'} along the right side panel, {high} wide; "
            f"beyond the corner the leg is {tell.length(abs(end - corner))} long."
        )
    said = [_board(board, tell, lying=not number) for number, board in enumerate(boards.prisms)]
    return [f"{sizes} Keep {high} of air before the inner mouth.", f"Slot: {' '.join(said)}", _mouth(window, tell)]


def _board(board: Prism, tell: Telling, *, lying: bool) -> str:
    """Where a board of a slot goes and how large it is."""
    z = board.section[:, 1]
    ends = [board.section[np.abs(z - level) < LEVEL, 0] for level in (z.min(), z.max())]
    lower, upper = (tell.length(float(np.ptp(end))) for end in ends)
    where = "face" if lying else "end"
    sizes = f"{lower} deep" if lower == upper else f"{lower} deep at its lower and {upper} at its upper {where}"
    first, last, long, tall = map(tell.length, (*board.x, board.x[1] - board.x[0], float(np.ptp(z))))
    if lying:
        return f"the lying board is {long} long, from {first} to {last} from the left edge, {sizes}."
    return f"The board beside the leg is {tall} high, its left face {first} from the left edge, {sizes}."


def _mouth(window: Body, tell: Telling) -> str:
    """The opening to saw out."""
    panel, corners = window.panel, outer_corners(window.prisms[0], tell.parts.outer)
    if panel in SIDES:
        where = f"in its whole section through the {tell.panel(panel)}"
        return f"The slot opens {where}; corners {FROM[panel]}: {tell.pairs(panel, corners)}."
    across, up = map(tell.length, np.ptp([panel_face(tell.parts, panel).on(corner) for corner in corners], axis=0))
    opening = f"The slot opens through the {tell.panel(panel)}: a window {across} wide and {up} high"
    if panel == tell.seen:
        return f"{opening}."
    return f"{opening}, corners {FROM[panel]}: {tell.pairs(panel, corners)}."
