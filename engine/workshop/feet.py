"""Feet of a box that faces down: boards on edge under its corners that give the height its drivers need."""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np
import shapely

from engine.space import roles
from engine.space.bodies import Assembly, Prism
from engine.workshop.board import Board
from engine.workshop.boards import across

LENGTHS = (0.080, 0.070, 0.060, 0.050, 0.040, 0.030)  # m, tried in this order; common practice, no source
OFF_FLANGE = 0.005  # m


def feet(parts: Assembly, height: float) -> Iterator[Board]:
    """Four of a ``height`` in m, within the box's back, baffle and sides as they would go on downwards; none at 0.

    As long as flanges in the bottom leave room for, and where that is too little as short as is still of use.
    """
    if not height > 0.0:
        return
    corners, board, width = parts.outer.section, parts.board, parts.outer.x[1]
    rear, front = (
        (float(low[0]), float(low[0] - height * (high[0] - low[0]) / (high[1] - low[1])))
        for low, high in ((corners[0], corners[3]), (corners[1], corners[2]))
    )
    start, end = max(rear), min(front)
    xs = ((0.0, board), (width - board, width))
    long = next((each for each in LENGTHS if _clear(parts, start, end, each, xs)), LENGTHS[-1])
    ends = ((start, start + long), (end - long, end))
    for number, (x, (back, ahead)) in enumerate(((x, y) for x in xs for y in ends), start=1):
        section = np.array([(back, -height), (ahead, -height), (ahead, 0.0), (back, 0.0)])
        yield across(f"foot {number}", "foot", Prism(section=section, x=x), face="left face")


def _clear(parts: Assembly, start: float, end: float, long: float, xs: tuple[tuple[float, float], ...]) -> bool:
    if end - start < 2.0 * long:
        return False
    feet = [shapely.box(x[0], y, x[1], y + long) for x in xs for y in (start, end - long)]
    mounted = (body for body in parts.of(roles.DRIVER_FLANGE, roles.RADIATOR_FLANGE) if body.panel == "bottom")
    flanges = [flange for body in mounted for flange in body.frusta]
    room = [shapely.Point(each.end[:2]).buffer(each.radii[0] + OFF_FLANGE) for each in flanges]
    return not any(foot.intersects(disc) for foot in feet for disc in room)
