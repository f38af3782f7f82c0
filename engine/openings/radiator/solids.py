"""Passive radiators as bodies, beside the drivers in the same panel."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from engine.space.bodies import (
    RADIATOR,
    RADIATOR_FLANGE,
    SAME,
    Body,
    Thing,
    cylinder,
    seat,
)
from engine.space.interior import Interior

Floats = NDArray[np.float64]

KIND = "radiator"


def bodies(box: Interior) -> list[Body]:
    """Every passive radiator of a box."""
    s, reach = box.laid["radiator_s"], max(box.size("radiator_depth"), box.board)
    hole, outer = (0.5 * box.size(name) for name in ("radiator_cutout", "radiator_outer"))
    return [
        body
        for number, x in enumerate(box.opening_x, start=1)
        for body in radiator(
            number,
            box.on_panel(x, s, 0.0),
            box.inward,
            panel=box.panel,
            hole=hole,
            flange=outer,
            reach=reach,
            board=box.board,
        )
    ]


def radiator(
    number: int, face: Floats, inward: Floats, *, panel: str, hole: float, flange: float, reach: float, board: float
) -> list[Body]:
    """Bodies of one passive radiator, "passive radiator 1" and so on.

    Its cut-out is centred on ``face`` (x, y, z) of a ``panel`` as thick as ``board``, from where ``inward`` points
    into the box; ``hole`` and ``flange`` are radii, ``reach`` is its depth behind the panel's outer face, m.
    """
    name, thing, behind, rear = (
        f"passive radiator {number}", Thing(KIND, number), face + board * inward, face + reach * inward
    )  # fmt: skip
    found = seat(
        name, thing, RADIATOR_FLANGE, face=face, inward=inward, panel=panel, board=board,
        hole=hole, flange=flange, rear=rear,
    )  # fmt: skip
    if reach > board + SAME:  # nothing of one no deeper than the board lies behind it
        body = cylinder(behind, rear, hole)
        found.append(Body(name=name, role=RADIATOR, thing=thing, shapes=(body,), panel=panel))
    return found
