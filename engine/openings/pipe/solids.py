"""Pipes as bodies: straight or with one bend, flared or not, on blocks where they lie along the width."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import replace

import numpy as np
import shapely

from engine.arrays import Floats
from engine.openings.pipe.packing import axis_of, bent_leg, bent_pitch, block_under, outlet, outlet_board
from engine.packing.face import at_face
from engine.packing.placement import BENT, BESIDE, SIDE, STRAIGHT
from engine.space import roles
from engine.space.bodies import CROSS, SAME, Bend, Body, Circle, Frustum, Path, Prism, Shape, Thing, body_of, cylinder
from engine.space.interior import Interior, round_hole

Pieces = tuple[Frustum | Bend, ...]

KIND = "pipe"
STEPS = 6  # frusta that stand for a quarter round
ALONG_BEND = 12  # points of the middle line of a bend, less one
ACROSS = np.array([1.0, 0.0, 0.0])


def bodies(box: Interior) -> list[Body]:
    """Every pipe of a box and the blocks that carry them; none where there was no place for them."""
    placement, sizes = int(box.own.vent_placement), box.opening
    if placement not in (SIDE, STRAIGHT, BENT):
        return []
    side = placement == SIDE
    board = box.board if side else float(outlet_board(box.shell, sizes))
    panel = "left side" if side else "top" if sizes.top else box.panel
    found = [
        vent(
            number + 1, pipe=_pipe(box, number, placement), bore=0.5 * sizes.inner, air_radius=0.5 * sizes.rim,
            panel=panel, passing=placement != STRAIGHT, board=board,
            flare=float(sizes.flare), air_outside=side,
            socket=(0.5 * float(sizes.socket_rim), float(sizes.socket)) if placement == BENT else (0.0, 0.0),
        )
        for number in range(int(sizes.number))
    ]  # fmt: skip
    return [body for each in found for body in each] + _blocks(box, found)


def vent(
    number: int, *, pipe: Pieces, bore: float, air_radius: float, panel: str, passing: bool, board: float,
    flare: float = 0.0, air_outside: bool = False, socket: tuple[float, float] = (0.0, 0.0),
) -> list[Body]:  # fmt: skip
    """Bodies of one vent, "vent 1" and so on, lengths in m.

    ``pipe`` is its outside piece by piece from the outer face of its ``panel`` (as thick as ``board``): a straight
    piece first and last.  ``passing``: the last lies along the width, where it may pass braces through holes in them.
    ``bore`` and ``air_radius`` are the radii of its opening and of the air kept free before its inner mouth, ``flare``
    that of the quarter round at both ends, within the length; ``socket`` radius and depth of those of its elbow, 0
    without.  ``air_outside``: the space has to leave a bore of air
    before its outer mouth, beside the box.
    """
    name, thing = f"vent {number}", Thing(KIND, number)
    first, last = _straight(pipe)
    mouth, inner, inward, onward = first.start, last.end, first.axis, last.axis
    hole = max(first.radii[0], bore + flare if flare else 0.0)
    behind, free, before = mouth + board * inward, inner + 2.0 * bore * onward, mouth - 2.0 * bore * inward
    line = np.vstack([*(_middle(piece) for piece in pipe), free])

    def body(called: str, role: roles.Role, *shapes: Shape, through: str = panel) -> Body:
        return Body(called, role, thing, shapes, through)

    found = [
        body(name, roles.PASSING_PIPE if passing else roles.PIPE, *pipe),
        body(f"the bore of {name}", roles.BORE, *(_as_wide(piece, bore) for piece in pipe)),
        body(f"the air before {name}", roles.FREE_AIR, cylinder(inner, free, air_radius), through=""),
        body(f"the hole for {name}", roles.HOLE, cylinder(mouth, behind, hole)),
        body(f"the mouth of {name}", roles.MOUTH, cylinder(behind, mouth, hole)),
        body(f"the middle of {name}", roles.MIDDLE_LINE, Path(points=line, arm=CROSS * first.radii[0])),
    ]
    if flare:
        outer_rim, inner_rim = (mouth, mouth + flare * inward), (inner - flare * onward, inner)
        found.append(body(name, roles.RIM, *(cylinder(*ends, hole) for ends in (outer_rim, inner_rim))))
        for end, way in ((mouth, inward), (inner, -onward)):
            found.append(body(f"a flare of {name}", roles.FLARE, *_quarter_round(end, way, bore, flare)))
    radius, deep = socket
    if deep > 0.0:
        ends = (first.end - deep * inward, first.end), (last.start, last.start + deep * onward)
        found.append(body(name, roles.SOCKET, *(cylinder(*each, radius) for each in ends)))
    if air_outside:
        found.append(body(f"the air outside {name}", roles.OUTSIDE_AIR, cylinder(before, mouth, bore), through=""))
    return found


def _pipe(box: Interior, number: int, placement: int) -> Pieces:
    """The outside of one pipe where the layout has it."""
    sizes, own, length = box.opening, box.own, float(box.packed.vent_length)
    radius, pitch = 0.5 * sizes.outer, sizes.rim + box.rules.gap
    if placement == SIDE:
        mouth = np.array([0.0, *axis_of(box.shell, sizes, box.rules, box.face, own, float(number))])
        return (cylinder(mouth, mouth + length * ACROSS, radius),)
    face = outlet(box.shell, sizes, box.face)
    inward = np.array([0.0, -face.up_z, face.up_y])
    level = number // int(own.vent_columns) if own.vent_where == BESIDE else 0
    along = level * pitch if placement == STRAIGHT else number * bent_pitch(sizes, box.rules)
    mouth = np.array([box.opening_x[number], *at_face(face, float(own.vent_s + along), 0.0)])
    if placement == STRAIGHT:
        return (cylinder(mouth, mouth + length * inward, radius),)
    turns = mouth + sizes.turn * inward
    centre = turns + sizes.bend * ACROSS
    turned = centre + sizes.bend * inward
    return (
        cylinder(mouth, turns, radius),
        Bend(centre=centre, first=-ACROSS, last=inward, radius=float(sizes.bend), tube_radius=radius),
        cylinder(turned, turned + bent_leg(sizes, length) * ACROSS, radius),
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
    return replace(piece, tube_radius=radius)


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


def _blocks(box: Interior, vents: Sequence[Sequence[Body]]) -> list[Body]:
    """Blocks between each pipe along the width and the panel, or the pipe, it rests on."""
    count, flare = int(box.packed.support_count), float(box.opening.flare)
    found: list[Body] = []
    for number in range(len(vents) if count else 0):
        pipes = [body_of(each, roles.FREE_AIR).frusta[0].start[1:] for each in vents]
        circles = tuple(Circle(middle, 0.5 * float(box.opening.outer)) for middle in pipes)
        section = _block(box, number, circles)
        pieces = body_of(vents[number], roles.PASSING_PIPE).rounds
        _, last = _straight(pieces)
        bent = len(pieces) > 1
        start = max(
            float(last.start[0]) + (float(box.opening.socket) if bent else 0.0), box.board, 0.0 if bent else flare
        )
        end = float(last.end[0]) - flare
        for place in range(1, count + 1):
            x = _off_braces(box, start + (end - start) * place / count - box.board, start, end)
            block = Prism(section=section, x=(x, x + box.board), circles=circles)
            thing = Thing("block", len(found) + 1)
            found.append(Body(f"support {thing.number}", roles.BLOCK, thing, (block,)))
    return found


def _off_braces(box: Interior, wanted: float, start: float, end: float) -> float:
    """Left face of a block between ``start`` and ``end`` as near as may be to where it is wanted, off braces."""
    beside = [brace + side * box.board for brace in box.brace_x for side in (-1.0, 1.0)]
    within = [x for x in beside if start <= x <= end - box.board]
    free = [x for x in (wanted, *within) if all(abs(x - brace) >= box.board - SAME for brace in box.brace_x)]
    return min(free, key=lambda x: abs(x - wanted), default=wanted)


def _block(box: Interior, number: int, pipes: Sequence[Circle]) -> Floats:
    """Section of a block under vent ``number``, hollowed out for the pipes."""
    block = block_under(box.shell, box.opening, box.rules, box.face, box.own, float(number))
    corners = shapely.Polygon(np.column_stack([block.y, block.z]))
    # On a grid far finer than any saw: a side shared with a panel would else leave points only.
    solid = shapely.intersection(corners, shapely.Polygon(box.inner), grid_size=SAME)
    solid = solid.difference(shapely.union_all([round_hole(each.centre, each.radius) for each in pipes]))
    largest = max(shapely.get_parts(solid), key=lambda piece: piece.area)
    return np.asarray(largest.exterior.coords)[:-1]


def vent_length(pipe: Body) -> float:
    """Along the middle line, from the outer face to the inner mouth, m."""
    return sum(piece.length if isinstance(piece, Frustum) else 0.5 * math.pi * piece.radius for piece in pipe.rounds)
