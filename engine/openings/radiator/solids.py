"""Passive radiators as bodies, beside the drivers in the same panel."""

from __future__ import annotations

from engine.arrays import Floats
from engine.core.compiled import Table
from engine.openings.radiator.packing import Radiators
from engine.space import roles
from engine.space.bodies import SAME, Body, Thing, cylinder, seat
from engine.space.interior import Interior

KIND = "radiator"


def bodies(box: Interior) -> list[Body]:
    """Every passive radiator of a box."""
    found: list[Body] = []
    for number, x in enumerate(box.opening_x, start=1):
        face = box.on_panel(x, box.own.radiator_s)
        found += radiator(
            number, face, box.inward, box.opening, panel=box.panel, board=box.front, wood=float(box.rules.wood),
            recess=float(box.rules.recess),
        )  # fmt: skip
    return found


def radiator(
    number: int, face: Floats, inward: Floats, sizes: Radiators | Table, *, panel: str, board: float,
    wood: float = 0.0, recess: float = 0.0,
) -> list[Body]:  # fmt: skip
    """Bodies of one passive radiator, "passive radiator 1" and so on.

    Its cut-out is centred on ``face`` (x, y, z) of a ``panel`` as thick as ``board``, from where ``inward`` points
    into the box.  ``wood`` and ``recess`` are as for :func:`engine.space.bodies.seat`.  Lengths in m.
    """
    name, thing, hole, flange = (
        f"passive radiator {number}", Thing(KIND, number), 0.5 * sizes.cutout, 0.5 * sizes.flange
    )  # fmt: skip
    axis = (face, inward, face + sizes.reach * inward)
    found = seat(
        name, thing, roles.RADIATOR_FLANGE, axis, panel=panel, board=board, hole=hole, flange=flange, wood=wood,
        recess=recess,
    )  # fmt: skip
    if sizes.reach > board + SAME:  # nothing of one no deeper than the board lies behind it
        found.append(Body(name, roles.RADIATOR, thing, (cylinder(face + board * inward, axis[2], hole),), panel))
    return found
