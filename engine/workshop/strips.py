"""Square strips glued into the inner corners of a box, where the builder chooses to and nothing is in the way."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely
from manifold3d import Manifold

from engine.arrays import Floats
from engine.space import roles
from engine.space.bodies import Assembly, Prism
from engine.space.interior import at_height
from engine.space.solids import COARSE, prism_solid, solid
from engine.workshop.board import SAME, Board
from engine.workshop.boards import AsSet, across, lengthwise
from engine.workshop.joints import Lengthwise

SHORTEST = 0.060  # m; a shorter one holds nothing
CLEAR = 0.005  # m, off what is in the way
LEAST = 1e-9  # m³, of what two solids share
LEAST_AREA = 1e-6  # m²
FAR = 10.0  # m
_IN_THE_WAY = (
    roles.DUCT, roles.DUCT_AIR, roles.FREE_AIR, roles.BASKET, roles.MAGNET, roles.REAR_AIR, roles.TERMINALS,
    roles.SCREWS, roles.RADIATOR, roles.SLOT_BOARD, roles.PIPE, roles.PASSING_PIPE, roles.RIM, roles.SOCKET, roles.CUP,
    roles.BRACE, roles.DOWEL, roles.BLOCK,
)  # fmt: skip
# Corners of the section with the panels that meet there, the level one first.
_MEET = ((0, "bottom", "back"), (1, "bottom", "baffle"), (2, "top", "baffle"), (3, "top", "back"))
_EDGES = (("bottom", 0, 1), ("baffle", 1, 2), ("top", 2, 3), ("back", 3, 0))


def strips(parts: Assembly, side: float, as_set: AsSet) -> list[Board]:
    """Strips ``side`` m wide and high along every inner corner, in pieces where something is in the way."""
    if not side > 0.0:
        return []
    taken = [solid(shape, COARSE) for body in parts.of(*_IN_THE_WAY) for shape in body.solids]
    found = [*_along_the_width(parts, side, as_set, taken), *_along_the_sides(parts, side, taken)]
    return [_numbered(board, number) for number, board in enumerate(found, start=1)]


def _numbered(board: Board, number: int) -> Board:
    return replace(board, name=f"glue strip {number}", notes=(board.name,))


def _along_the_width(parts: Assembly, side: float, as_set: AsSet, taken: list[Manifold]) -> Iterator[Board]:
    """Those along the width; what one takes is ``taken`` from the next, as where two corners are close together."""
    whole = shapely.Polygon(parts.inner.section).buffer(SAME)
    for corner, level, leaning in _MEET:
        near, far = _lines(parts.inner.section, corner, side)
        section = np.array([*near, *far[::-1]])
        if not whole.contains(shapely.Polygon(section)):
            continue
        for low, high in _free(Prism(section=section, x=parts.inner.x), taken, 0, parts.inner.x):
            taken.append(prism_solid(Prism(section=section, x=(low, high))))
            panel = Lengthwise(near, far, (low, high))
            if level == "top":  # from front to back
                panel = Lengthwise(near[::-1], far[::-1], (low, high))
            yield lengthwise(
                f"between {level} and {leaning}", "strip", panel, thickness=side, as_set=as_set, like=level,
                face=f"against the {level}",
            )  # fmt: skip


def _lines(inner: Floats, corner: int, side: float) -> tuple[Floats, Floats]:
    """Of a strip in a corner of the section, its face on bottom or top and the one opposite, from rear to front."""
    start, rear, below = inner[corner], corner in (0, 3), corner in (0, 1)
    ends = (inner[0], inner[3]) if rear else (inner[1], inner[2])
    z = float(start[1]) + (side if below else -side)
    leaning = at_height(*ends, z)
    if rear:
        reach = max(float(start[0]), float(leaning[0])) + side
        return np.array([start, [reach, start[1]]]), np.array([leaning, [reach, z]])
    reach = min(float(start[0]), float(leaning[0])) - side
    return np.array([[reach, start[1]], start]), np.array([[reach, z], leaning])


def _along_the_sides(parts: Assembly, side: float, taken: list[Manifold]) -> Iterator[Board]:
    inner, (left, right) = parts.inner.section, parts.inner.x
    whole = shapely.Polygon(inner)
    reach = [sorted(float(each[0]) for line in _lines(inner, k, side) for each in line) for k in range(4)]
    levels = (float(inner[0, 1]) + side, float(inner[2, 1]) - side)
    # Where strips along the width leave room for one along each edge: forward of bottom and top, up of back and baffle.
    ends = {"bottom": (reach[0][-1], reach[1][0]), "top": (reach[3][-1], reach[2][0])}
    for x, name, from_left in (((left, left + side), "left side", True), ((right - side, right), "right side", False)):
        for panel, first, last in _EDGES:
            axis, (start, stop) = 1 if panel in ends else 2, ends.get(panel, levels)
            band = shapely.LineString(inner[[first, last]]).buffer(side, cap_style="flat", single_sided=True)
            piece = _between(band.intersection(whole), axis, start, stop)
            if piece is None:
                continue
            for low, high in _free(Prism(section=_corners(piece), x=x), taken, axis, (start, stop)):
                cut = _between(piece, axis, low, high)
                if cut is not None:
                    face = f"against the {name}"
                    prism = Prism(section=_corners(cut), x=x)
                    taken.append(prism_solid(prism))
                    yield across(f"between {panel} and {name}", "strip", prism, face=face, left=from_left)


def _between(shape: shapely.Geometry, axis: int, low: float, high: float) -> shapely.Polygon | None:
    """What of a convex section lies between two places along an axis of the box, m."""
    if not high - low > SHORTEST:
        return None
    box = shapely.box(low, -FAR, high, FAR) if axis == 1 else shapely.box(-FAR, low, FAR, high)
    found = shapely.intersection(shape, box)
    return found if found.geom_type == "Polygon" and found.area > LEAST_AREA else None


def _corners(shape: shapely.Polygon) -> Floats:
    return np.asarray(shape.exterior.coords)[:-1]


def _free(strip: Prism, taken: Sequence[Manifold], axis: int, ends: tuple[float, float]) -> list[tuple[float, float]]:
    """Stretches along an axis of the box where nothing is in a strip's way, those too short left out."""
    whole = prism_solid(strip)
    blocked = []
    for each in taken:
        shared = whole ^ each
        if float(shared.volume()) > LEAST:
            box = shared.bounding_box()
            blocked.append((box[axis] - CLEAR, box[axis + 3] + CLEAR))
    found, low = [], ends[0]
    for start, end in [*sorted(blocked), (ends[1], ends[1])]:
        if start - low > SHORTEST:
            found.append((low, start))
        low = max(low, end)
    return found
