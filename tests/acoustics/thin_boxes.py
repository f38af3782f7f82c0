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
    Inertance,
    Ports,
)
from engine.acoustics.thin_box import ThinBox, thin_box
from engine.acoustics.windows import Braces, Openings, edges, opening_inertance
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


def braces_of(box: Box) -> Braces:
    """A batch of one: its plates, over the layer beyond a slot."""
    if not box.plates:
        return Braces.none(1)
    start = box.plate_from
    mean = 0.5 * (box.depth(start) + box.top_depth)
    lean = box.back_slope + 0.5 * (box.top_depth - box.bottom_depth) / box.height
    secant = math.hypot(1.0, lean)
    tall = box.height - start
    weights = []
    for plate in box.plates:
        parts = []
        for low, high, rear, front in plate.openings:
            deep = box.depth(0.5 * (low + high))
            area = box.free((low, high, rear, front))
            pipes = [mouth for mouth in box.mouths if box.passed(plate, mouth) and low < mouth[2] < high]
            area -= len(pipes) * math.pi * box.outer**2
            parts.append(((low - start) / tall, (high - start) / tall, rear / deep, 1.0 - front / deep, area))
        openings = Openings(*(np.array(each, dtype=float) for each in zip(*parts, strict=True)))
        weights.append(opening_inertance(openings, tall * secant, mean / secant, plate.thickness, edges()))
    x = np.array([[plate.x + 0.5 * plate.thickness for plate in box.plates]])
    return Braces(x=x, inertance=np.array([weights]))


def thin(box: Box, outside: Inertance | None = None) -> ThinBox:
    """The figures of one box, (1,) each, in the open or with the air ``outside`` it."""

    def one(value: float) -> Floats:
        return np.array([float(value)])

    return thin_box(
        cavities=cavity_of(box),
        ports=ports_of(box),
        braces=braces_of(box),
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
        outside=outside,
    )
