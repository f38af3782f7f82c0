"""A slot vent measured off its solids: its middle line and its sizes in the clear."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.space.arrangement import Prism, SlotSolid

Floats = NDArray[np.float64]

LEVEL = 1e-6  # m


def channel(slot: SlotSolid) -> Prism:
    """What runs along the width."""
    return slot.bore[1]


def leg(slot: SlotSolid) -> Prism | None:
    """What runs along the right side panel, if the slot turns."""
    return slot.bore[2] if len(slot.bore) > 2 else None


def is_low(slot: SlotSolid) -> bool:
    """Whether the slot lies along the bottom, so that its leg goes up; else along the top, and down."""
    return bool(slot.boards[0].section[:, 1].mean() > channel(slot).section[:, 1].mean())


def clear_height(slot: SlotSolid) -> float:
    return float(np.ptp(channel(slot).section[:, 1]))


def clear_depth(slot: SlotSolid) -> float:
    """At half its height, m."""
    return float(shapely.Polygon(channel(slot).section).area) / max(clear_height(slot), LEVEL)


def heights(slot: SlotSolid) -> tuple[float, float, float]:
    """Where its panel, its clear height and its leg end, z in m; the last two are the same without a leg."""
    levels = channel(slot).section[:, 1]
    along = leg(slot)
    ends = levels if along is None else np.concatenate([levels, along.section[:, 1]])
    if is_low(slot):
        return float(levels.min()), float(levels.max()), float(ends.max())
    return float(levels.max()), float(levels.min()), float(ends.min())


def leg_length(slot: SlotSolid) -> float:
    """Of the leg along the right side panel beyond the corner, m; 0 for a slot that runs straight."""
    _, corner, end = heights(slot)
    return abs(end - corner)


def middle_line(slot: SlotSolid) -> Floats:
    """From the middle of the outer mouth to that of the inner one, mitred where it turns, (K, 3)."""
    run, along, mouth = channel(slot), leg(slot), slot.mouth.mean(axis=0)
    points = [mouth]
    if slot.through == "baffle":
        points.append(_at(_middle(run), float(mouth[0])))
    if along is None:
        points.append(_at(_middle(run), run.x[1]))
    else:
        x = 0.5 * (along.x[0] + along.x[1])
        points += [_at(place, x) for place in (_middle(run), _end(along, up=is_low(slot)))]
    return np.array(points)


def slot_length(slot: SlotSolid) -> float:
    """Along the middle line, from the outer face to the inner mouth, m."""
    # Its steps go along the axes; that the middle of a leg drifts where back or baffle lean does not count.
    return float(np.abs(np.diff(middle_line(slot), axis=0)).max(axis=1).sum())


def line_and_air(slot: SlotSolid) -> Floats:
    """The middle line as far as air is kept free before the inner mouth, (K, 3)."""
    line, air = middle_line(slot), slot.free_air
    end = _at(_middle(air), air.x[1]) if leg(slot) is None else _at(_end(air, up=is_low(slot)), float(line[-1, 0]))
    return np.vstack([line, end])


def across_box(board: Prism) -> tuple[float, float]:
    """Size of a board from back to baffle at its lower and at its upper end, m."""
    levels = board.section[:, 1]
    low, high = (
        float(np.ptp(board.section[np.abs(levels - level) < LEVEL, 0])) for level in (levels.min(), levels.max())
    )
    return low, high


def within(slot: SlotSolid, low: Floats, high: Floats) -> SlotSolid | None:
    """The same cut off where it reaches far out of a box that it does not fit into; None if nothing is left of it."""
    parts = [*slot.boards, *slot.bore, slot.free_air]
    left = [_cut_off(part, low, high) for part in parts]
    if all(mine is part for mine, part in zip(left, parts, strict=True)):
        return slot
    if any(part is None for part in left):
        return None
    kept = [part for part in left if part is not None]
    boards, bore = kept[: len(slot.boards)], kept[len(slot.boards) : -1]
    return replace(slot, boards=tuple(boards), bore=tuple(bore), free_air=kept[-1])


def _cut_off(part: Prism, low: Floats, high: Floats) -> Prism | None:
    if part.x[0] >= low[0] and part.x[1] <= high[0] and np.all((part.section >= low[1:]) & (part.section <= high[1:])):
        return part
    x = max(part.x[0], float(low[0])), min(part.x[1], float(high[0]))
    around = shapely.box(*low[1:], *high[1:])
    section = shapely.make_valid(shapely.Polygon(part.section)).intersection(around)
    if x[0] >= x[1] or section.geom_type != "Polygon" or section.is_empty:
        return None
    return replace(part, x=x, section=np.asarray(section.exterior.coords)[:-1])


def _at(place: Floats, x: float) -> Floats:
    return np.array([x, *place])


def _middle(body: Prism) -> Floats:
    """Of a section: halfway between back and baffle at half its height, (2,)."""
    low, high = body.section.min(axis=0), body.section.max(axis=0)
    return _between(body, 0.5 * float(low[1] + high[1]))


def _end(body: Prism, *, up: bool) -> Floats:
    """The middle of the upper or lower end of a section, (2,)."""
    levels = body.section[:, 1]
    return _between(body, float(levels.max() if up else levels.min()))


def _between(body: Prism, z: float) -> Floats:
    """Halfway between back and baffle at a height, (2,)."""
    corners = np.vstack([body.section, body.section[:1]])
    at = [
        low[0] + (z - low[1]) / (high[1] - low[1]) * (high[0] - low[0])
        for low, high in pairwise(corners)
        if min(low[1], high[1]) <= z <= max(low[1], high[1]) and abs(high[1] - low[1]) > LEVEL
    ]
    return np.array([0.5 * (min(at) + max(at)), z]) if at else np.array([float(body.section[:, 0].mean()), z])
