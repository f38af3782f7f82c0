"""A place for the terminal cup: one of the corners of the right side panel.

The cup is taken as a cylinder along the width, its flange as a disc on the panel.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.facings import SIDEWAYS
from engine.packing.contents import Contents, Rules
from engine.space.face import Face, side_middle, side_panel_edge, side_room
from engine.space.vents import BENT, BESIDE, SIDE, STRAIGHT, Found
from engine.space.ways import bent_leg_depth, block_at, reach_along_panel, side_vent_at
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class Cup:
    """Centre of the cup in the section and the room it has there, (N,) m."""

    y: Floats
    z: Floats
    slack: Floats


def cup_place(
    wedges: Wedges,
    contents: Contents,
    rules: Rules,
    face: Face,
    *,
    driver_s: Floats,
    in_a_column: Floats,
    vents: Found,
    taken: tuple[Floats, Floats],
    apart: bool,
) -> Cup:
    """The first corner with a place for the cup, the lower ones and the rear ones first; else the least bad one.

    ``taken`` is the height inside that slots leave nothing else at bottom and top.  ``apart`` says
    that the end of the width is free of drivers and pipes, so only the panel itself has to be large enough.
    """
    cup = rules.cup
    assert cup is not None
    gap, board = rules.breathing_gap, wedges.board
    edge = side_panel_edge(cup.cutout_diameter, cup.flange_diameter, board=board, gap=gap, round_over=rules.round_over)
    back_secant = np.hypot(1.0, wedges.back_slope)
    best = Cup(np.zeros(len(wedges)), np.zeros(len(wedges)), np.full(len(wedges), -np.inf))
    inside = board + 0.5 * cup.cutout_diameter + gap
    low, high = (np.maximum(edge, inside + there) for there in taken)
    for z in (low, wedges.outer_height - high):
        rear = z * wedges.back_slope + edge * back_secant
        depth = side_room(wedges, z, edge)
        room = np.minimum(depth, wedges.outer_height - low - high)
        for y in (rear, rear + np.maximum(depth, 0.0)):
            rows = np.flatnonzero(best.slack < 0.0)
            if not rows.size:
                return best
            slack = room[rows]
            if not apart:
                there = (wedges.take(rows), contents.take(rows), rules, face.take(rows), y[rows], z[rows])
                beside = _beside_drivers(*there, driver_s=driver_s[rows], in_a_column=in_a_column[rows])
                slack = np.minimum(slack, beside)
                slack = np.minimum(slack, _beside_vents(*there, vents=vents.take(rows)))
            more = slack > best.slack[rows]
            for mine, its in ((best.y, y[rows]), (best.z, z[rows]), (best.slack, slack)):
                mine[rows[more]] = its[more]
    return best


def _beside_drivers(
    wedges: Wedges,
    contents: Contents,
    rules: Rules,
    face: Face,
    y: Floats,
    z: Floats,
    *,
    driver_s: Floats,
    in_a_column: Floats,
) -> Floats:
    """Distance in m by which a cup at (y, z) clears the drivers, wherever across the width they stand."""
    cup = rules.cup
    assert cup is not None
    gap, board = rules.breathing_gap, wedges.board
    s, depth = face.of(y, z)
    radius = np.full(len(wedges), 0.5 * cup.cutout_diameter)
    reach = reach_along_panel(contents, depth=depth, radius=radius, gap=gap, board=board)
    sideways = contents.facing == SIDEWAYS
    edge = side_panel_edge(
        contents.inside_diameter, contents.outer_diameter, board=board, gap=gap, round_over=rules.round_over
    )
    between = np.maximum(
        0.5 * (contents.inside_diameter + cup.cutout_diameter) + gap,
        0.5 * (contents.outer_diameter + cup.flange_diameter) + gap,
    )
    clear = np.full(len(wedges), np.inf)
    for number in range(int(in_a_column.max())):
        there = number < in_a_column
        centre = driver_s + number * (contents.widest + gap)
        beside = np.hypot(side_middle(wedges, centre, edge) - y, centre - z) - between
        clear = np.where(there, np.minimum(clear, np.where(sideways, beside, np.abs(s - centre) - reach)), clear)
    return clear


def _beside_vents(
    wedges: Wedges, contents: Contents, rules: Rules, face: Face, y: Floats, z: Floats, *, vents: Found
) -> Floats:
    """Distance in m by which a cup at (y, z) clears the vents and the air before their inner mouths."""
    cup = rules.cup
    assert cup is not None
    gap, board = rules.breathing_gap, wedges.board
    between = 0.5 * (contents.vent_rim + cup.cutout_diameter) + gap
    clear = np.full(len(wedges), np.inf)
    ends_before = wedges.inner_width - max(cup.depth - board, 0.0) - gap - vents.inner_end
    for number in range(int(contents.vent_count.max(initial=0.0))):
        there = number < contents.vent_count
        for placement in (SIDE, STRAIGHT, BENT):
            rows = there & (vents.placement == placement)
            if not rows.any():
                continue
            if placement == STRAIGHT:
                distance = _off_straight(contents, rules, face, y, z, number=number, vents=vents)
            else:
                at_y, at_z = _vent_axis(wedges, contents, rules, face, number=number, placement=placement, vents=vents)
                distance = np.hypot(at_y - y, at_z - z) - between
                carried = np.flatnonzero(rows & (vents.blocks > 0))
                if carried.size:
                    corners = _block(
                        wedges.take(carried),
                        contents.take(carried),
                        rules,
                        face.take(carried),
                        number=number,
                        placement=placement,
                        vents=vents.take(carried),
                    )
                    off = _off_outline(y[carried], z[carried], *corners) - 0.5 * cup.cutout_diameter - gap
                    distance[carried] = np.minimum(distance[carried], off)
                distance = np.maximum(distance, ends_before)
            clear = np.where(rows, np.minimum(clear, distance), clear)
    return clear


def _vent_axis(
    wedges: Wedges,
    contents: Contents,
    rules: Rules,
    face: Face,
    *,
    number: int,
    placement: int,
    vents: Found,
) -> tuple[Floats, Floats]:
    """Place (y, z) of the part of a vent that lies along the width."""
    if placement == BENT:
        s = vents.vent_s + number * (contents.vent_rim + rules.breathing_gap)
        return face.at(s, np.nan_to_num(bent_leg_depth(contents, wedges.board)))
    y, z = np.zeros(len(wedges)), np.zeros(len(wedges))
    columns = np.maximum(vents.columns, 1).astype(float)
    for low in (True, False):
        for at_back in (True, False):
            rows = (vents.low == low) & (vents.at_back == at_back)
            if rows.any():
                at = side_vent_at(
                    wedges, contents, number=number, columns=columns, low=low, at_back=at_back, gap=rules.breathing_gap
                )
                y, z = np.where(rows, at[0], y), np.where(rows, at[1], z)
    return y, z


def _block(
    wedges: Wedges,
    contents: Contents,
    rules: Rules,
    face: Face,
    *,
    number: int,
    placement: int,
    vents: Found,
) -> tuple[Floats, Floats]:
    """Corners (y, z), each (N, 4) m, of the block that carries a vent along the width."""
    gap, board = rules.breathing_gap, wedges.board
    if placement == BENT:
        radius, s = 0.5 * contents.vent_outer, vents.vent_s + number * (contents.vent_rim + gap)
        deep = np.nan_to_num(bent_leg_depth(contents, board))
        near = np.full(len(wedges), board)
        ends = ((s - radius, near), (s + radius, near), (s + radius, deep), (s - radius, deep))
        found = [face.at(along, depth) for along, depth in ends]
        return np.stack([y for y, _ in found], axis=-1), np.stack([z for _, z in found], axis=-1)
    y, z = np.zeros((len(wedges), 4)), np.zeros((len(wedges), 4))
    columns = np.maximum(vents.columns, 1).astype(float)
    for low in (True, False):
        for at_back in (True, False):
            rows = ((vents.low == low) & (vents.at_back == at_back))[:, None]
            if rows.any():
                at = block_at(wedges, contents, number=number, columns=columns, low=low, at_back=at_back, gap=gap)
                y, z = np.where(rows, at[0], y), np.where(rows, at[1], z)
    return y, z


def _off_outline(y: Floats, z: Floats, corner_y: Floats, corner_z: Floats) -> Floats:
    """Distance in m of points (N,) from the edges of outlines with corners (N, K)."""
    along_y, along_z = np.roll(corner_y, -1, axis=1) - corner_y, np.roll(corner_z, -1, axis=1) - corner_z
    from_y, from_z = y[:, None] - corner_y, z[:, None] - corner_z
    squared = np.maximum(along_y**2 + along_z**2, 1e-12)
    part = np.clip((from_y * along_y + from_z * along_z) / squared, 0.0, 1.0)
    nearest: Floats = np.min(np.hypot(from_y - part * along_y, from_z - part * along_z), axis=1)
    return nearest


def _off_straight(
    contents: Contents, rules: Rules, face: Face, y: Floats, z: Floats, *, number: int, vents: Found
) -> Floats:
    """Distance in m by which a cup clears a vent square to the panel, its free air included."""
    cup = rules.cup
    assert cup is not None
    s, depth = face.of(y, z)
    level = np.floor(number / np.maximum(vents.columns, 1)) * (vents.where == BESIDE)
    axis = vents.vent_s + level * (contents.vent_rim + rules.breathing_gap)
    aside = np.abs(s - axis) - 0.5 * contents.vent_rim
    beyond = depth - vents.length - contents.vent_inner
    apart = np.where((aside > 0.0) & (beyond > 0.0), np.hypot(aside, beyond), np.maximum(aside, beyond))
    clear: Floats = apart - 0.5 * cup.cutout_diameter - rules.breathing_gap
    return clear
