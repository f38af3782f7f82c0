"""What goes into a box and is no board: drivers, passive radiators, pipes, the terminal cup, dowels; as solids."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping

from engine.space import roles
from engine.space.bodies import Assembly, Body, Frustum, Thing, body_of, cylinder
from engine.workshop.board import Part, PartRole
from engine.workshop.holes import called

PLAY = 0.0005  # m, between a basket and its cut-out
_PIPES = (roles.PIPE, roles.PASSING_PIPE)
_SOLID = {
    "driver": (roles.BASKET, roles.MAGNET),
    "radiator": (roles.RADIATOR,),
    "cup": (roles.CUP,),
    "pipe": (*_PIPES, roles.RIM, roles.SOCKET),
}

_ROLES: dict[str, PartRole] = {"driver": "driver", "radiator": "radiator", "cup": "cup"}


def parts_of(parts: Assembly, stands_out: Mapping[str, float]) -> Iterator[Part]:
    """Every one; ``stands_out`` is how far flanges of each kind of thing stand out before their panel, m."""
    for thing, bodies in parts.things.items():
        if thing.kind in _SOLID:
            yield _part(thing, bodies, stands_out.get(thing.kind, 0.0))
    for body in parts.of(roles.DOWEL):
        for number, dowel in enumerate(body.frusta, start=1):
            name = body.name if len(body.frusta) == 1 else f"{body.name}, dowel {number}"
            yield Part(
                name=name,
                role="dowel",
                solids=(_round_throughout(parts, dowel),),
                length=dowel.length,
                straight=(dowel.length,),
            )


def _part(thing: Thing, bodies: tuple[Body, ...], stands_out: float) -> Part:
    solids = [shape for body in bodies if body.role in _SOLID[thing.kind] for shape in body.solids]
    if thing.kind == "pipe":
        pipe = next(body for body in bodies if body.role in _PIPES)
        long = sum(
            piece.length if isinstance(piece, Frustum) else 0.5 * math.pi * piece.radius for piece in pipe.rounds
        )
        straight = tuple(piece.length for piece in pipe.rounds if isinstance(piece, Frustum))
        return Part(name=called(thing), role="pipe", solids=tuple(solids), length=long, straight=straight)
    flange = next(
        body for body in bodies if body.role in (roles.DRIVER_FLANGE, roles.RADIATOR_FLANGE, roles.CUP_FLANGE)
    ).frusta[0]
    if thing.kind != "cup":  # what of a basket is in its cut-out
        hole = body_of(bodies, roles.CUTOUT).frusta[0]
        solids.insert(0, cylinder(hole.start, hole.end, hole.radii[0] - PLAY))
        if stands_out > 0.0:
            solids.append(cylinder(hole.start - stands_out * hole.axis, hole.start, flange.radii[0]))
    else:
        solids.append(flange)
    return Part(name=called(thing), role=_ROLES[thing.kind], solids=tuple(solids))


def _round_throughout(parts: Assembly, dowel: Frustum) -> Frustum:
    """A dowel without its ends, which are cut to the lean of back and baffle, m."""
    inner, twice = parts.inner.section, 2.0 * dowel.radii[0]
    ends = ((inner[0], inner[3]), (inner[1], inner[2]))
    rear, front = (twice * abs(float((high[0] - low[0]) / (high[1] - low[1]))) for low, high in ends)
    return cylinder(dowel.start + rear * dowel.axis, dowel.end - front * dowel.axis, dowel.radii[0])
