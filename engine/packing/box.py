"""One box as the packing takes it: its sizes and slants, worked out for a batch by ``engine.space.wedge``."""

from __future__ import annotations

from typing import NamedTuple

from engine.core.compiled import compiled


class Box(NamedTuple):
    """A box, lengths in m; slopes are metres forward per metre of height."""

    outer_width: float
    outer_height: float
    bottom_depth: float
    board: float
    back_slope: float
    back_secant: float  # 1/cos of the back's lean
    baffle_slope: float
    baffle_secant: float
    taper: float  # depth gained per metre of height
    panel_depth: float  # taken by back and baffle together, measured horizontally
    inner_width: float
    inner_height: float
    inner_area: float  # m², of the section
    gross_volume: float  # m³
    violation: float  # by which walls overlap
    window: float  # part of a brace that may be cut away inside its rim
    corner: float  # y of the inner bottom back corner


def depth_at(box: Box, z: float) -> float:
    """Clear depth from back to baffle at height ``z`` above the box's lower face, m; of a table of boxes too."""
    return box.bottom_depth + box.taper * z - box.panel_depth


clear_depth = compiled(depth_at)


@compiled
def side_panel_edge(diameter: float, flange: float, board: float, gap: float, round_over: float) -> float:
    """Distance in m that the centre of a round hole in the side panel keeps from the panels' outer faces."""
    return max(board + 0.5 * diameter + gap, 0.5 * flange + round_over)


@compiled
def side_room(box: Box, z: float, edge: float) -> float:
    """Depth left at height ``z`` between centres kept ``edge`` off back and off baffle, m."""
    return box.bottom_depth + box.taper * z - edge * (box.baffle_secant + box.back_secant)


@compiled
def side_middle(box: Box, z: float, edge: float) -> float:
    """Depth y midway between those centres, m."""
    return z * box.back_slope + edge * box.back_secant + 0.5 * side_room(box, z, edge)
