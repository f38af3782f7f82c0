"""A box as pieces to be built: every board, cut-out, pipe and block, with where it lies.

Axes of the box, as in ``bodies``.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass, replace

import numpy as np

from engine.arrays import Floats
from engine.space import roles
from engine.space.bodies import Assembly, Bend, Body, Frustum

# What is cut, bought or kept open; clearances, axes and what lies inside a driver are none of it.
BUILT_OF = (
    roles.PANEL, roles.BRACE, roles.DOWEL, roles.SLOT_BOARD, roles.BLOCK, roles.PIPE, roles.PASSING_PIPE,
    roles.CUTOUT, roles.HOLE, roles.WINDOW,
)  # fmt: skip

Points = tuple[tuple[float, float], ...]


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One piece, lengths in m: a prism by its ``section`` or something round by the ``centres`` of its ends.

    ``across`` is where it begins and ends across the width; of something round that is where its ends' centres lie.
    """

    name: str
    panel: str = ""
    across: tuple[float, float]
    section: Points = ()
    centres: Points = ()
    diameters: tuple[float, float] | None = None
    bend_radius: float | None = None

    def is_at(self, other: Piece, *, within: float) -> bool:
        """Whether another piece is as large and in the same place, to ``within`` m."""
        mine, its = self._sizes, other._sizes
        return len(mine) == len(its) and bool(np.all(np.abs(np.subtract(mine, its)) <= within))

    @property
    def _sizes(self) -> list[float]:
        plain = [size for point in (*self.section, *self.centres) for size in point]
        return [*self.across, *plain, *(self.diameters or ()), *([self.bend_radius] if self.bend_radius else [])]


def pieces_of(parts: Assembly) -> list[Piece]:
    """Every piece of a box; those of one name are numbered from the second on."""
    found: list[Piece] = []
    counts: Counter[str] = Counter()
    for piece in (piece for body in parts.of(*BUILT_OF) for piece in _pieces(body)):
        counts[piece.name] += 1
        number = counts[piece.name]
        found.append(replace(piece, name=f"{piece.name}, {number}") if number > 1 else piece)
    return found


def _pieces(body: Body) -> Iterator[Piece]:
    for prism in body.prisms:
        yield Piece(name=body.name, panel=body.panel, across=prism.x, section=_points(prism.section))
        for hole in prism.holes:
            yield Piece(name=f"opening of {body.name}", across=prism.x, section=_points(hole))
    yield from (_round(body, shape) for shape in body.rounds)


def _round(body: Body, shape: Frustum | Bend) -> Piece:
    bend = None
    if isinstance(shape, Bend):
        start, end = (shape.centre + shape.radius * way for way in (shape.first, shape.last))
        radii, bend = (shape.tube_radius, shape.tube_radius), shape.radius
    else:
        start, end, radii = shape.start, shape.end, shape.radii
    return Piece(
        name=body.name,
        panel=body.panel,
        across=(float(start[0]), float(end[0])),
        centres=_points(np.array([start[1:], end[1:]])),
        diameters=(2.0 * float(radii[0]), 2.0 * float(radii[1])),
        bend_radius=bend,
    )


def _points(corners: Floats) -> Points:
    return tuple((float(y), float(z)) for y, z in corners)
