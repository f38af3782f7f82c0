"""Pipes as bodies: straight or with one bend, flared or not, on blocks where they lie along the width."""

from __future__ import annotations

import math
from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.openings.pipe.packing import axis_of, bent_leg, block_under
from engine.packing.placement import BENT, BESIDE, SIDE, STRAIGHT
from engine.space.bodies import (
    BLOCK,
    BORE,
    FLARE,
    FREE_AIR,
    HOLE,
    MIDDLE_LINE,
    MOUTH,
    OUTSIDE_AIR,
    PASSING_PIPE,
    PIPE,
    RIM,
    SAME,
    Bend,
    Body,
    Frustum,
    Path,
    Prism,
    Role,
    Shape,
    Thing,
    body_of,
    cylinder,
)
from engine.space.interior import Interior, round_hole

Floats = NDArray[np.float64]
Pieces = tuple[Frustum | Bend, ...]

KIND = "pipe"
STEPS = 6  # frusta that stand for a quarter round
ALONG_BEND = 12  # points of the middle line of a bend, less one
CROSS = 1.12  # of an axis seen end on, in radii
ACROSS = np.array([1.0, 0.0, 0.0])


def bodies(box: Interior) -> list[Body]:
    """Every pipe of a box and the blocks that carry them; none where there was no place for them."""
    placement = int(box.laid["vent_placement"])
    if placement not in (SIDE, STRAIGHT, BENT):
        return []
    vents = [
        vent(
            number + 1,
            pipe=_pipe(box, number, placement),
            bore=0.5 * box.size("vent_inner"),
            air_radius=0.5 * box.size("vent_rim"),
            panel="left side" if placement == SIDE else box.panel,
            passing=placement != STRAIGHT,
            board=box.board,
            flare=box.size("flare_radius"),
            air_outside=placement == SIDE,
        )
        for number in range(int(box.contents.vent_count[0]))
    ]
    return [body for found in vents for body in found] + _blocks(box, vents)


def vent(
    number: int,
    *,
    pipe: Pieces,
    bore: float,
    air_radius: float,
    panel: str,
    passing: bool,
    board: float,
    flare: float = 0.0,
    air_outside: bool = False,
) -> list[Body]:
    """Bodies of one vent.

    Parameters
    ----------
    number
        It is called "vent 1" and so on.
    pipe
        Its outside piece by piece from the outer face of its ``panel``: a straight piece first and last.
    bore, air_radius
        Radius of its opening, and of the air kept free before its inner mouth, m.
    passing
        Whether its last piece lies along the width, where it may pass braces through holes in them.
    board
        Thickness of the panel, m.
    flare
        Radius of the quarter round at both ends, within the length, m; 0 for none.
    air_outside
        Whether the space has to leave a bore of air before its outer mouth, beside the box.
    """
    name, thing = f"vent {number}", Thing(KIND, number)
    first, last = _straight(pipe)
    mouth, inner, inward, onward = first.start, last.end, first.axis, last.axis
    hole = max(first.radii[0], bore + flare if flare else 0.0)
    behind, free, before = mouth + board * inward, inner + 2.0 * bore * onward, mouth - 2.0 * bore * inward
    line = np.vstack([*(_middle(piece) for piece in pipe), free])

    def body(called: str, role: Role, *shapes: Shape, through: str = panel) -> Body:
        return Body(name=called, role=role, thing=thing, shapes=shapes, panel=through)

    found = [
        body(name, PASSING_PIPE if passing else PIPE, *pipe),
        body(f"the bore of {name}", BORE, *(_as_wide(piece, bore) for piece in pipe)),
        body(f"the air before {name}", FREE_AIR, cylinder(inner, free, air_radius), through=""),
        body(f"the hole for {name}", HOLE, cylinder(mouth, behind, hole)),
        body(f"the mouth of {name}", MOUTH, cylinder(behind, mouth, hole)),
        body(f"the middle of {name}", MIDDLE_LINE, Path(points=line, arm=CROSS * first.radii[0])),
    ]
    if flare:
        outer_rim, inner_rim = (mouth, mouth + flare * inward), (inner - flare * onward, inner)
        found.append(body(name, RIM, *(cylinder(*ends, hole) for ends in (outer_rim, inner_rim))))
        for end, way in ((mouth, inward), (inner, -onward)):
            found.append(body(f"a flare of {name}", FLARE, *_quarter_round(end, way, bore, flare)))
    if air_outside:
        found.append(body(f"the air outside {name}", OUTSIDE_AIR, cylinder(before, mouth, bore), through=""))
    return found


def _pipe(box: Interior, number: int, placement: int) -> Pieces:
    """The outside of one pipe where the layout has it."""
    laid, length, radius = box.laid, box.laid["vent_length"], 0.5 * box.size("vent_outer")
    pitch = box.size("vent_rim") + box.gap
    if placement == SIDE:
        mouth = np.array([0.0, *axis_of(box.shell, box.opening, box.rules, box.face, box.own, float(number))])
        return (cylinder(mouth, mouth + length * ACROSS, radius),)
    if placement == STRAIGHT:
        level = number // int(laid["vent_columns"]) if int(laid["vent_where"]) == BESIDE else 0
        mouth = box.on_panel(box.opening_x[number], laid["vent_s"] + level * pitch, 0.0)
        return (cylinder(mouth, mouth + length * box.inward, radius),)
    bend, turn = float(box.opening.bend), float(box.opening.turn)
    mouth = box.on_panel(box.opening_x[number], laid["vent_s"] + number * pitch, 0.0)
    turns = mouth + turn * box.inward
    centre = turns + bend * ACROSS
    turned = centre + bend * box.inward
    leg = bent_leg(box.opening, length)
    return (
        cylinder(mouth, turns, radius),
        Bend(centre=centre, first=-ACROSS, last=box.inward, radius=bend, tube_radius=radius),
        cylinder(turned, turned + leg * ACROSS, radius),
    )


def _straight(pipe: Pieces) -> tuple[Frustum, Frustum]:
    """Its first and its last piece."""
    first, last = pipe[0], pipe[-1]
    if not (isinstance(first, Frustum) and isinstance(last, Frustum)):
        raise TypeError("a pipe begins and ends with a straight piece")
    return first, last


def _as_wide(piece: Frustum | Bend, radius: float) -> Frustum | Bend:
    if isinstance(piece, Frustum):
        return cylinder(piece.start, piece.end, radius)
    return Bend(centre=piece.centre, first=piece.first, last=piece.last, radius=piece.radius, tube_radius=radius)


def _middle(piece: Frustum | Bend) -> Floats:
    """Points (K, 3) along the middle of a piece."""
    if isinstance(piece, Frustum):
        return np.array([piece.start, piece.end])
    turns = np.linspace(0.0, 0.5 * math.pi, ALONG_BEND + 1)
    ways = np.outer(np.cos(turns), piece.first) + np.outer(np.sin(turns), piece.last)
    points: Floats = piece.centre + piece.radius * ways
    return points


def _quarter_round(rim: Floats, way: Floats, bore: float, radius: float) -> list[Frustum]:
    """The opening of a flare from the middle of its rim the way the air goes in."""
    turned = np.linspace(0.0, 0.5 * math.pi, STEPS + 1)
    depths, wide = radius * (1.0 - np.cos(turned)), bore + radius * (1.0 - np.sin(turned))
    return [
        Frustum(start=rim + depths[k] * way, end=rim + depths[k + 1] * way, radii=(float(wide[k]), float(wide[k + 1])))
        for k in range(STEPS)
    ]


# Blocks


def _blocks(box: Interior, vents: Sequence[Sequence[Body]]) -> list[Body]:
    """Blocks between each pipe along the width and the panel, or the pipe, it rests on."""
    count = int(box.laid["support_count"])
    found: list[Body] = []
    for number in range(len(vents) if count else 0):
        section = _block(box, number, [body_of(each, FREE_AIR).frusta[0].start for each in vents])
        pieces, flare = body_of(vents[number], PASSING_PIPE).shapes, box.size("flare_radius")
        last = pieces[-1]
        assert isinstance(last, Frustum)
        start = max(float(last.start[0]), box.board, flare if len(pieces) == 1 else 0.0)
        end = float(last.end[0]) - flare
        for place in range(1, count + 1):
            x = _off_braces(box, start + (end - start) * place / count - box.board, start, end)
            name, block = f"support {len(found) + 1}", Prism(section=section, x=(x, x + box.board))
            found.append(Body(name=name, role=BLOCK, thing=Thing("block", len(found) + 1), shapes=(block,)))
    return found


def _off_braces(box: Interior, wanted: float, start: float, end: float) -> float:
    """Left face of a block between ``start`` and ``end`` as near as may be to where it is wanted, off braces."""
    beside = [brace + side * box.board for brace in box.brace_x for side in (-1.0, 1.0)]
    within = [x for x in beside if start <= x <= end - box.board]
    free = [x for x in (wanted, *within) if all(abs(x - brace) >= box.board - SAME for brace in box.brace_x)]
    return min(free, key=lambda x: abs(x - wanted), default=wanted)


def _block(box: Interior, number: int, inner_mouths: Sequence[Floats]) -> Floats:
    """Section of a block under vent ``number``, hollowed out for the pipes."""
    radius = 0.5 * box.size("vent_outer")
    block = block_under(box.shell, box.opening, box.rules, box.face, box.own, float(number))
    corners = np.column_stack([block.y, block.z])
    pipes = [round_hole(mouth[1:], radius) for mouth in inner_mouths]
    # On a grid far finer than any saw: a side shared with a panel would else leave points only.
    solid = shapely.intersection(shapely.Polygon(corners), shapely.Polygon(box.inner), grid_size=SAME)
    solid = solid.difference(shapely.union_all(pipes))
    largest = max(shapely.get_parts(solid), key=lambda piece: piece.area)
    return np.asarray(largest.exterior.coords)[:-1]


def vent_length(pipe: Body) -> float:
    """Along the middle line, from the outer face to the inner mouth, m."""
    return sum(piece.length if isinstance(piece, Frustum) else 0.5 * math.pi * piece.radius for piece in pipe.rounds)
