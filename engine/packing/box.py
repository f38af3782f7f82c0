"""One box as the packing takes it: its sizes and slants."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np

from engine.core.compiled import Table, compiled


class Box:
    """A box, lengths in m; slopes are metres forward per metre of height.

    Impossible sizes (walls that meet) have a ``violation`` and the volume of the part that is not inside out.
    """

    outer_width: float
    outer_height: float
    bottom_depth: float
    board: float
    front: float  # thickness of the baffle, its second layer included
    back_slope: float
    back_secant: float  # 1/cos of the back's lean
    baffle_slope: float  # negative where the baffle leans back
    baffle_secant: float
    taper: float  # depth gained per metre of height; a box lower than its board is taken as high as that
    panel_depth: float  # taken by back and baffle together, measured horizontally
    inner_width: float
    inner_height: float
    inner_area: float  # m², of the section, never negative
    gross_volume: float  # m³ between the panels: (W-2t)(H-2t)((Db+Dt)/2 - t/cos θback - tfront/cos θbaffle)
    thin_end: float  # m from back to baffle inside, at the bottom or the top, whichever is less
    violation: float  # by which walls overlap: positive where two of them meet and leave no inside
    corner: float  # y of the inner bottom back corner


@compiled
def measure(start: int, stop: int, sizes: Table, board: float, lean: tuple[float, float], boxes: Table) -> None:
    """Work out ``boxes`` from ``start`` to ``stop`` of ``sizes`` (5, N): outer width, height, bottom and top depth, and
    how thick a second layer of the baffle is, m.

    ``lean`` is the slope of the back and its secant.
    """
    back_slope, back_secant = lean
    for i in range(start, stop):
        box, width, height, bottom, top = boxes[i], sizes[0, i], sizes[1, i], sizes[2, i], sizes[3, i]
        layer = sizes[4, i]
        box.outer_width, box.outer_height, box.bottom_depth, box.board = width, height, bottom, board
        box.front = board + layer
        box.back_slope, box.back_secant = back_slope, back_secant
        box.taper = (top - bottom) / max(height, board)
        box.baffle_slope = back_slope + box.taper
        box.baffle_secant = np.sqrt(1.0 + box.baffle_slope * box.baffle_slope)
        box.panel_depth = board * (back_secant + box.baffle_secant) + layer * box.baffle_secant
        box.inner_width, box.inner_height = width - 2.0 * board, height - 2.0 * board
        depth = 0.5 * (top + bottom) - box.panel_depth
        box.inner_area = max(box.inner_height, 0.0) * max(depth, 0.0)
        box.gross_volume = max(box.inner_width, 0.0) * box.inner_area
        at_bottom = bottom + box.taper * board - box.panel_depth
        at_top = top - box.taper * board - box.panel_depth
        box.thin_end = min(at_bottom, at_top)
        box.violation = -min(box.thin_end, min(box.inner_width, box.inner_height))
        box.corner = board * back_slope + board * back_secant


def depth_at(box: Box, z: Any) -> Any:
    """Clear depth from back to baffle at height ``z`` above the box's lower face, m; of a table of boxes too."""
    return box.bottom_depth + box.taper * z - box.panel_depth


clear_depth: Callable[[Box, float], float] = compiled(depth_at)


@compiled
def side_panel_edge(diameter: float, flange: float, wood: float, board: float, gap: float, round_over: float) -> float:
    """Distance in m that the centre of a round hole in the side panel keeps from the panels' outer faces.

    ``wood`` is the radius of what its screws need, off the panels that are glued on behind.
    """
    return max(board + max(0.5 * diameter + gap, wood), 0.5 * flange + round_over)


@compiled
def side_room(box: Box, z: float, edge: float) -> float:
    """Depth left at height ``z`` between centres kept ``edge`` off back and off baffle, m."""
    layer = (box.front - box.board) * box.baffle_secant
    return box.bottom_depth + box.taper * z - edge * (box.baffle_secant + box.back_secant) - layer


@compiled
def side_middle(box: Box, z: float, edge: float) -> float:
    """Depth y midway between those centres, m."""
    return z * box.back_slope + edge * box.back_secant + 0.5 * side_room(box, z, edge)
