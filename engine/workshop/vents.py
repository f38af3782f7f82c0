"""Pipes of vents as they are drawn: the flares at their ends, their outsides, whether the cut passes through them."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray

from engine.space.arrangement import Bend, Frustum, VentSolid
from engine.workshop.projection import View, disc, round_body
from engine.workshop.svg import HIDDEN, OUTLINE, Mark, Pen

Floats = NDArray[np.float64]

STEPS = 6  # frusta that stand for a quarter round


def flares(vent: VentSolid) -> tuple[list[Frustum], ...]:
    """The opening of each flare in pieces from its rim to where the pipe is as wide as its bore, outer end first."""
    first, last = vent.bore[0], vent.bore[-1]
    if not (vent.rims and isinstance(first, Frustum) and isinstance(last, Frustum)):
        return ()
    ends = [(first.start, first.end - first.start), (last.end, last.start - last.end)][: len(vent.rims)]
    return tuple(_quarter_round(rim, way, first.radii[0], vent.flare_radius) for rim, way in ends)


def vent_length(vent: VentSolid) -> float:
    """Along the middle line, from the outer face to the inner mouth, m."""
    return sum(
        float(np.linalg.norm(piece.end - piece.start)) if isinstance(piece, Frustum) else 0.5 * math.pi * piece.radius
        for piece in vent.pipe
    )


def outline(view: View, vent: VentSolid, pen: Pen) -> list[Mark]:
    """The outside of a whole vent as one: with its flares, seen end on with its rims."""
    marks = round_body(view, vent.pipe, pen)
    pieces = [piece for flare in flares(vent) for piece in flare]
    if not pieces:
        return marks
    if len(vent.pipe) == 1 and isinstance(vent.pipe[0], Frustum):
        way = vent.pipe[0].end - vent.pipe[0].start
        if np.linalg.norm(np.cross(way, view.eye)) < 1e-9:
            return [*marks, disc(view, vent.mouth, way, pieces[0].radii[0], pen)]
    return round_body(view, [*pieces, *vent.pipe], pen)


def piece_pen(piece: Frustum | Bend, cut: float) -> Pen:
    """Solid where the cut passes through a round piece, dashed where it lies beside."""
    if isinstance(piece, Bend):
        ends = [piece.centre[0] + piece.radius * way[0] for way in (piece.first, piece.last)]
        reach = piece.tube_radius
    else:
        ends = [piece.start[0], piece.end[0]]
        along = abs(float(piece.end[0] - piece.start[0])) / float(np.linalg.norm(piece.end - piece.start))
        reach = max(piece.radii) * float(np.sqrt(max(1.0 - along**2, 0.0)))
    return OUTLINE if min(ends) - reach < cut < max(ends) + reach else HIDDEN


def _quarter_round(rim: Floats, way: Floats, bore: float, radius: float) -> list[Frustum]:
    """From the middle of a rim the way the air goes in."""
    way = way / np.linalg.norm(way)
    turned = np.linspace(0.0, 0.5 * math.pi, STEPS + 1)
    depths, across = radius * (1.0 - np.cos(turned)), bore + radius * (1.0 - np.sin(turned))
    return [
        Frustum(
            name="flare",
            start=rim + depths[k] * way,
            end=rim + depths[k + 1] * way,
            radii=(float(across[k]), float(across[k + 1])),
        )
        for k in range(STEPS)
    ]
