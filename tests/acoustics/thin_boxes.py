"""Boxes of the record (``reference_boxes.py``) as the model under test sees them, one by one."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.cavity import (
    ACROSS,
    BOTTOM,
    FACE,
    SIDE,
    SLOT,
    SLOT_DOWN,
    SLOT_UP,
    SQUARE,
    UPWARD,
    Cavities,
    Ports,
    ThinBox,
    thin_box,
)
from tests.acoustics.reference_boxes import Box

Floats = NDArray[np.float64]
KINDS = {"across": ACROSS, "square": SQUARE, "upward": UPWARD, "face": FACE, "bottom": BOTTOM, "side": SIDE}


def cavity_of(box: Box) -> Cavities:
    """A batch of one."""
    names = ("width", "height", "bottom_depth", "top_depth", "back_slope")
    return Cavities(**{name: np.array([getattr(box, name)]) for name in names})


def ports_of(box: Box) -> Ports:
    """A batch of one: openings first, then drivers."""
    rows: list[tuple[float, ...]] = []  # kind, opening, x, y, z, radius, outer, inside
    rows += [(KINDS[box.vent_kind], 1, *mouth, box.bore, box.outer, box.inside) for mouth in box.mouths]
    if box.slot:
        slot = box.slot
        half = 0.5 * slot.height
        kind, x, z = SLOT, slot.length, half
        if slot.turn:
            kind, x, z = SLOT_UP if slot.low else SLOT_DOWN, box.width - half, slot.turn
        z = z if slot.low else box.height - z
        y = box.back_slope * z + 0.5 * box.depth(z)
        rows.append((kind, 1, x, y, z, half, half + slot.board, 0.0))
    rows += [(KINDS[box.radiator_kind], 1, *place, box.radiator, 0.0, 0.0) for place in box.radiators]
    rows += [(KINDS[box.cone_kind], 0, *place, box.cone, 0.0, 0.0) for place in box.cones]
    kind, opening, *others = (np.array([column]) for column in zip(*rows, strict=True))
    names = ("x", "y", "z", "radius", "outer", "inside")
    return Ports(kind=kind.astype(np.int64), opening=opening.astype(bool), **dict(zip(names, others, strict=True)))


def thin(box: Box) -> ThinBox:
    """The figures of one box, (1,) each."""

    def one(value: float) -> Floats:
        return np.array([float(value)])

    return thin_box(
        cavities=cavity_of(box),
        ports=ports_of(box),
        tuning=one(box.lumped_tuning),
        volume=one(box.net_volume),
        vent_length=one(box.vent_length),
        vent_area=one(box.opened / max(len(box.mouths), 1)),
        vent_count=one(1 if box.slot else len(box.mouths)),
        sd=one(box.sd),
        driver_count=one(len(box.cones)),
        radiator_sd=one(box.radiator_sd if box.radiators else math.nan),
        radiator_count=one(len(box.radiators)),
        radiator_moving=one(box.radiator_moving if box.radiators else math.nan),
        outer_end=one(box.outer_end),
    )
