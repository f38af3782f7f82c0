"""What laid-out boxes have round them where they stand: the air before their cones and before their vents' mouths.

What bounds the space, and a keep-out beside a box, are walls; how much of them is open is the space's own figure.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.cavity import BOTTOM, FACE, SIDE, SLOT, Ports
from engine.acoustics.gap import SQUARE, Mouths, radius_of
from engine.acoustics.strip import ABOVE, AHEAD, BELOW, LEFT, RIGHT, Niche
from engine.arrays import Floats, Indices
from engine.facings import DOWN
from engine.packing.placement import SIDE as THROUGH_SIDE
from engine.packing.placement import SLOT_SIDE
from engine.space.envelope import Envelope, Fit
from engine.space.layout import Layout
from engine.space.wedge import Wedges

TOUCHING = 1e-3  # m, stands for the layer where a box touches a wall
NOTHING_NEAR = 10.0  # m
SIDES = {FACE: AHEAD, BOTTOM: BELOW, SIDE: RIGHT}  # where cones face in a box that is not upside down
PARTS = (-1.0, 0.0, 1.0)  # of a cone's radius, where the way before it is looked at


@dataclass(frozen=True, kw_only=True)
class Surroundings:
    """What N boxes stand in, and what moves air there.

    ``before_drivers`` and ``before_radiators`` (N,) are the least free ways square to the panel before one of their
    cones, m; inf where there is none.
    """

    niche: Niche
    mouths: Mouths
    before_drivers: Floats
    before_radiators: Floats

    def take(self, rows: Indices) -> Self:
        return type(self)(
            niche=self.niche.take(rows),
            mouths=self.mouths.take(rows),
            before_drivers=self.before_drivers[rows],
            before_radiators=self.before_radiators[rows],
        )


def surroundings_of(
    envelope: Envelope,
    layout: Layout,
    fit: Fit,
    ports: Ports,
    *,
    sd: Floats,
    radiator_sd: Floats,
    across: Floats,
    below: Floats,
) -> Surroundings:
    """The surroundings of N boxes that stand where ``fit`` put them, ``across`` (N,) m from the space's left end.

    ``ports`` are those of ``ports_of``; ``sd`` and ``radiator_sd`` (N,) are of one cone, m²; ``below`` is the height
    kept free under each box, m.  Above it is what the space leaves.
    """
    wedges, boxes = layout.wedges, layout.wedges.boxes
    secant = boxes.baffle_secant
    cones = np.sqrt(np.where(ports.opening, _column(radiator_sd), _column(sd)) / np.pi)
    on_left = np.maximum(across - fit.x_low + envelope.space.margin, TOUCHING)
    mouths = _mouths(layout, ports, cones, on_left)
    cone = np.isfinite(ports.radius) & (ports.kind >= FACE) & (ports.kind <= SIDE)
    beside = fit.x_high + envelope.space.margin - across - wedges.outer_width

    before = np.select(
        [cone & (mouths.side == side) for side in (BELOW, RIGHT)], [_column(below), _column(beside)], np.inf
    )
    in_baffle = cone & (mouths.side == AHEAD)
    for part in PARTS:
        level = np.where(in_baffle, (mouths.up + part * ports.radius) / _column(secant), 0.0)
        way = envelope.ahead(fit, wedges, level) / _column(secant)
        before = np.where(in_baffle, np.minimum(before, way), before)
    # The layer before the baffle: between the middle of what moves air in it and the baffle's upper edge.
    height = wedges.outer_height
    moved = np.isfinite(ports.radius) & (mouths.side == AHEAD)
    middle = np.where(moved, mouths.up, 0.0).sum(axis=1) / np.maximum(moved.sum(axis=1), 1) / secant
    levels = np.stack([np.where(moved.any(axis=1), middle, 0.5 * height), height], axis=1)
    ahead = np.maximum(envelope.ahead(fit, wedges, levels) / _column(secant), TOUCHING)
    above = max(z for _, z in envelope.space.section) - fit.z - height
    if (up := np.flatnonzero((mouths.side == ABOVE).any(axis=1))).size:
        on_top = np.isfinite(ports.radius[up]) & (mouths.side[up] == ABOVE)
        ways = _over(envelope, fit.take(up), wedges.take(up), mouths.up[up], on_top, ports.radius[up])
        above[up] = ways.min(axis=1)
        before[up] = np.where(cone[up], np.minimum(before[up], ways), before[up])
    fits = fit.violation <= 0.0

    def free(depth: Floats) -> Floats:
        """Of boxes that fit, the layer on a side; the others, that stand nowhere, have nothing near by."""
        return np.where(fits, np.maximum(depth, TOUCHING), NOTHING_NEAR)

    return Surroundings(
        niche=Niche(
            width=wedges.outer_width,
            height=height * secant,
            depth=0.5 * (wedges.bottom_depth + wedges.top_depth),
            bottom=wedges.bottom_depth,
            ahead=free(_log_mean(ahead[:, 0], ahead[:, 1])),
            left=free(on_left),
            right=free(beside),
            above=free(above),
            below=np.maximum(below, TOUCHING),
        ),
        mouths=mouths,
        before_drivers=np.where(ports.opening, np.inf, before).min(axis=1, initial=np.inf),
        before_radiators=np.where(ports.opening, before, np.inf).min(axis=1, initial=np.inf),
    )


def _over(
    envelope: Envelope, fit: Fit, wedges: Wedges, up: Floats, on_top: NDArray[np.bool_], radius: Floats
) -> Floats:
    """Free ways straight up from what is in the top, ``up`` from its rear edge, (N, P) m; inf for other ports."""
    ways = [envelope.over(fit, wedges, np.where(on_top, up + part * radius, 0.0)) for part in PARTS]
    return np.where(on_top, np.min(ways, axis=0), np.inf)


def _mouths(layout: Layout, ports: Ports, cones: Floats, on_left: Floats) -> Mouths:
    """Cones and outer mouths where they meet the air outside, vents where their panel is: the drivers', left or top.

    ``on_left`` (N,) is the air on the left of the box, over which the layer above it reaches, m.

    A slot, straight or turned, leaves at the left end of bottom or top: its mouth in the side panel is as long as the
    channel is deep there, and so is its window in the baffle.
    """
    boxes, packed, on_head = layout.wedges.boxes, layout.batch.boxes, _column(layout.contents.driver("upside_down"))
    cone, slot = (ports.kind >= FACE) & (ports.kind <= SIDE), ports.kind >= SLOT
    panel = np.where(_column(layout.contents.driver("facing") == DOWN) & ~slot, BELOW, AHEAD)
    panel = np.where(_column(layout.vent_top), ABOVE, panel)
    vents = np.where(_column(np.isin(layout.vent_placement, (THROUGH_SIDE, SLOT_SIDE))), LEFT, panel)
    side = np.select([ports.kind == kind for kind in SIDES], list(SIDES.values()), vents)
    # In the axes of the box as it stands, along its baffle and from its back.
    x, y, z = ports.x + _column(boxes.board), ports.y + _column(packed.corner), ports.z + _column(boxes.board)
    low = _column(layout.vent_low) ^ on_head
    if on_head.any():
        height = _column(boxes.outer_height)
        side = np.where(on_head & (side == BELOW), ABOVE, side)
        y, z = np.where(on_head, y + height * layout.wedges.back_slope, y), np.where(on_head, height - z, z)
    up = ((y - _column(boxes.bottom_depth)) * _column(boxes.baffle_slope) + z) / _column(boxes.baffle_secant)
    forward = y - _column(boxes.back_slope) * z
    outer = np.full_like(x, np.nan)
    outer[:, : layout.across.opening_x.shape[1]] = layout.across.opening_x
    x = np.where(ports.opening & ~cone, outer, x)
    radius = np.where(cone & np.isfinite(ports.radius), cones, ports.radius)
    sides = np.stack([SQUARE * radius] * 2)
    if slot.any():
        high, long = 2.0 * ports.radius, np.broadcast_to(_column(layout.slot_width), x.shape)
        level = np.where(low, ports.radius, _column(layout.wedges.inner_height) - ports.radius)
        level = level + _column(boxes.board)
        middle = 0.5 * (_column(boxes.bottom_depth) + _column(boxes.taper) * level)
        x, z, forward = (
            np.where(slot, own, usual)
            for own, usual in ((_column(boxes.board) + 0.5 * long, x), (level, z), (middle, forward))
        )
        up = np.where(slot, level * _column(boxes.baffle_secant), up)
        sides = np.where(slot, np.stack([long, high]), sides)
        radius = np.where(slot, radius_of(width=long, height=high), radius)
    lies = [side == each for each in (AHEAD, BELOW, ABOVE)]
    # Above the box from the left end of the space and from the upper edge of the back.
    over, rear = x + _column(on_left), _column(layout.wedges.back_slope * boxes.outer_height)
    return Mouths(
        side=side,
        opening=ports.opening,
        along=np.select(lies, [x, x, over], forward),
        up=np.select(lies, [up, y, y - rear], z),
        length=sides[0],
        height=sides[1],
        radius=radius,
    )


def _column(values: Any) -> Any:
    return values[:, np.newaxis]


def _log_mean(one: Floats, other: Floats) -> Floats:
    """Depth of the even layer that resists as does one whose depth goes from one to the other evenly."""
    ratio = other / one
    even = np.abs(ratio - 1.0) < 1e-6
    return np.asarray(np.where(even, one, one * (ratio - 1.0) / np.log(np.where(even, 2.0, ratio))))
