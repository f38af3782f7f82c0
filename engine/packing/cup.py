"""A place for the terminal cup: one of the corners of the right side panel.

The cup is taken as a cylinder along the width, its flange as a disc on the panel.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from engine.core.compiled import compiled
from engine.facings import SIDEWAYS
from engine.packing.box import Box, side_middle, side_panel_edge, side_room
from engine.packing.contents import Allowances, wood_round_screws
from engine.packing.face import driver_edge, on_face, reach_along_panel
from engine.packing.inside import CUP, Given, Packed

CORNERS = 4  # the lower ones and the rear ones first


class Cup(NamedTuple):
    """Centre of the cup in the section and the room it has there, m."""

    y: float
    z: float
    slack: float


@compiled
def cup_at(box: Box, rules: Allowances, corner: int, taken_low: float, taken_high: float) -> Cup:
    """The cup in a corner of the right side panel; ``taken`` is the height inside that a slot takes at either end."""
    wood = wood_round_screws(rules.cup_cutout, rules.cup_flange, rules.wood)
    edge = side_panel_edge(rules.cup_cutout, rules.cup_flange, wood, box.board, rules.gap, rules.round_over)
    inside = box.board + max(0.5 * rules.cup_cutout + rules.gap, wood)
    low, high = max(edge, inside + taken_low), max(edge, inside + taken_high)
    z = low if corner < 2 else box.outer_height - high
    y = z * box.back_slope + edge * box.back_secant
    depth = side_room(box, z, edge)
    if corner % 2 == 1:
        y += max(depth, 0.0)
    return Cup(y, z, min(depth, box.outer_height - low - high))


@compiled
def cup_beside_drivers(given: Given, y: float, z: float, first: float, count: float) -> float:
    """Distance in m by which a cup at (y, z) clears ``count`` drivers, wherever across the width they stand.

    ``first`` is the place of the first along their panel, or its height in the side panel.
    """
    box, driver, rules = given.box, given.driver, given.rules
    pitch, clear = driver.widest + rules.gap, np.inf
    if driver.facing == SIDEWAYS:
        edge = driver_edge(box, driver, rules)
        between = max(
            0.5 * (driver.inside + rules.cup_cutout) + rules.gap, 0.5 * (driver.flange + rules.cup_flange) + rules.gap
        )
        for number in range(int(count)):
            centre = first + number * pitch
            clear = min(clear, np.hypot(side_middle(box, centre, edge) - y, centre - z) - between)
        return clear
    s, depth = on_face(given.face, y, z)
    reach = reach_along_panel(driver, depth, 0.5 * rules.cup_cutout, rules.gap, box.front)
    for number in range(int(count)):
        clear = min(clear, abs(s - (first + number * pitch)) - reach)
    return clear


@compiled
def keep_cup(packed: Packed, cup: Cup) -> bool:
    """Take over a place where it has more room than the one before; says whether the cup now has enough."""
    if not cup.slack <= packed.slacks[CUP]:
        packed.cup_y, packed.cup_z, packed.slacks[CUP] = cup.y, cup.z, cup.slack
    return bool(packed.slacks[CUP] >= 0.0)


@compiled
def place_cup(
    given: Given, in_a_column: float, cup_apart: bool, taken_low: float, taken_high: float, packed: Packed
) -> None:
    """The first corner with a place for the cup beside drivers; else the least bad one.

    ``cup_apart`` says that the end of the width is free of drivers, so only the panel itself has to be
    large enough.
    """
    packed.slacks[CUP] = -np.inf
    for corner in range(CORNERS):
        cup = cup_at(given.box, given.rules, corner, taken_low, taken_high)
        slack = cup.slack
        if not cup_apart:
            slack = min(slack, cup_beside_drivers(given, cup.y, cup.z, packed.driver_s, in_a_column))
        if keep_cup(packed, Cup(cup.y, cup.z, slack)):
            break
