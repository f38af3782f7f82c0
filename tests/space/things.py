"""The bodies of an assembly thing by thing, to be measured and moved about by tests."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.space import roles
from engine.space.bodies import Assembly, Bend, Body, Frustum, Prism, across, outer_corners
from engine.space.roles import Role

Floats = NDArray[np.float64]


@dataclass(frozen=True)
class One:
    """The bodies of one thing."""

    bodies: tuple[Body, ...]

    def shapes(self, *roles: Role) -> tuple[Any, ...]:
        return tuple(shape for body in self.bodies if body.role in roles for shape in body.shapes)

    def frustum(self, *roles: Role) -> Frustum:
        found = self.shapes(*roles)[0]
        assert isinstance(found, Frustum)
        return found

    @property
    def panel(self) -> str:
        return next(body.panel for body in self.bodies if body.role in (roles.CUTOUT, roles.HOLE, roles.WINDOW))

    @property
    def cutout(self) -> Frustum:
        return self.frustum(roles.CUTOUT)

    @property
    def flange(self) -> Frustum:
        return self.frustum(roles.DRIVER_FLANGE, roles.RADIATOR_FLANGE, roles.CUP_FLANGE)

    @property
    def x(self) -> float:
        return float(self.cutout.start[0])


class Driver(One):
    @property
    def body(self) -> tuple[Frustum, ...]:
        return self.shapes(roles.BASKET, roles.MAGNET)

    @property
    def rear_air(self) -> Frustum | None:
        return next(iter(self.shapes(roles.REAR_AIR)), None)

    @property
    def terminals(self) -> Prism | None:
        return next(iter(self.shapes(roles.TERMINALS)), None)


class Radiator(One):
    @property
    def body(self) -> Frustum:
        return self.frustum(roles.RADIATOR)


class Cup(One):
    @property
    def body(self) -> Frustum:
        return self.frustum(roles.CUP)


class Vent(One):
    @property
    def pipe(self) -> tuple[Frustum | Bend, ...]:
        return self.shapes(roles.PIPE, roles.PASSING_PIPE)

    @property
    def bore(self) -> tuple[Frustum | Bend, ...]:
        return self.shapes(roles.BORE)

    @property
    def rims(self) -> tuple[Frustum, ...]:
        return self.shapes(roles.RIM)

    @property
    def free_air(self) -> Frustum:
        return self.frustum(roles.FREE_AIR)

    @property
    def through(self) -> str:
        return self.panel

    @property
    def radius(self) -> float:
        """Outer radius of the pipe, m."""
        return self.frustum(roles.PIPE, roles.PASSING_PIPE).radii[0]

    @property
    def mouth(self) -> Floats:
        """Centre of the outer mouth (x, y, z)."""
        return self.frustum(roles.PIPE, roles.PASSING_PIPE).start

    @property
    def inner_mouth(self) -> Floats:
        return self.free_air.start


@dataclass(frozen=True)
class Slot(One):
    outer: Prism

    @property
    def boards(self) -> tuple[Prism, ...]:
        return self.shapes(roles.SLOT_BOARD)

    @property
    def bore(self) -> tuple[Prism, ...]:
        """Through the panel, along the width, along the right side."""
        return (*self.shapes(roles.WINDOW), *self.shapes(roles.DUCT))

    @property
    def free_air(self) -> Prism:
        found = self.shapes(roles.DUCT_AIR)[0]
        assert isinstance(found, Prism)
        return found

    @property
    def mouth(self) -> Floats:
        """Corners of the outer mouth, (4, 3)."""
        return outer_corners(self.bore[0], self.outer)

    @property
    def through(self) -> str:
        return self.panel

    @property
    def outside(self) -> Prism | None:
        return next(iter(self.shapes(roles.OUTSIDE_AIR)), None)


def drivers(parts: Assembly) -> tuple[Driver, ...]:
    return tuple(map(Driver, parts.kind("driver")))


def radiators(parts: Assembly) -> tuple[Radiator, ...]:
    return tuple(map(Radiator, parts.kind("radiator")))


def vents(parts: Assembly) -> tuple[Vent, ...]:
    return tuple(map(Vent, parts.kind("pipe")))


def slot_of(parts: Assembly) -> Slot:
    """Of a box that has one."""
    (bodies,) = parts.kind("slot")
    return Slot(bodies, parts.outer)


def cup(parts: Assembly) -> Cup:
    """Of a box that has one."""
    (bodies,) = parts.kind("cup")
    return Cup(bodies)


def braces(parts: Assembly) -> tuple[Prism, ...]:
    """The first board of each brace; of dowels the board whose place they take."""
    return tuple(
        body.prisms[0] if body.prisms else Prism(section=parts.inner.section, x=across(body.rounds[0]))
        for body in parts.of(roles.BRACE, roles.DOWEL)
    )


def supports(parts: Assembly) -> tuple[Prism, ...]:
    return tuple(body.prisms[0] for body in parts.of(roles.BLOCK))


def panels(parts: Assembly) -> dict[str, Prism]:
    return {body.panel: body.prisms[0] for body in parts.of(roles.PANEL)}


# What a test calls a body of a thing, and its roles.
ROLES = {
    "body": (roles.BASKET, roles.MAGNET, roles.RADIATOR, roles.CUP),
    "cutout": (roles.CUTOUT,),
    "hole": (roles.HOLE,),
    "flange": (roles.DRIVER_FLANGE, roles.RADIATOR_FLANGE, roles.CUP_FLANGE),
    "rear_air": (roles.REAR_AIR,),
    "terminals": (roles.TERMINALS,),
    "pipe": (roles.PIPE, roles.PASSING_PIPE),
    "rims": (roles.RIM,),
    "mouth": (roles.MOUTH,),
    "free_air": (roles.FREE_AIR, roles.DUCT_AIR),
    "boards": (roles.SLOT_BOARD,),
    "duct": (roles.DUCT,),
    "window": (roles.WINDOW,),
    "outside": (roles.OUTSIDE_AIR,),
    "brace": (roles.BRACE,),
    "block": (roles.BLOCK,),
}


def changed(parts: Assembly, kind: str, /, number: int = 1, **shapes: Any) -> Assembly:
    """The same with other shapes for bodies of one thing: one shape or several, in the order of its bodies."""
    left = {name: list(value) if isinstance(value, tuple | list) else [value] for name, value in shapes.items()}

    def other(body: Body) -> Body:
        if body.thing.kind != kind or body.thing.number != number:
            return body
        for name, given in left.items():
            if body.role in ROLES[name]:
                taken = tuple(given.pop(0) for _ in body.shapes)
                return replace(body, shapes=taken)
        return body

    found = replace(parts, bodies=tuple(other(body) for body in parts.bodies))
    assert not any(left.values()), f"no body of {kind} {number} takes {sorted(name for name in left if left[name])}"
    return found


def moved(parts: Assembly, kind: str, by: Any, *, number: int = 1) -> Assembly:
    """The same with one thing moved by (x, y, z)."""
    bodies = tuple(
        replace(body, shapes=tuple(shift(shape, by) for shape in body.shapes))
        if body.thing.kind == kind and body.thing.number == number
        else body
        for body in parts.bodies
    )
    return replace(parts, bodies=bodies)


def shift(shape: Any, by: Any) -> Any:
    """A shape moved by (x, y, z)."""
    if isinstance(shape, Prism):
        return replace(shape, x=(shape.x[0] + by[0], shape.x[1] + by[0]), section=shape.section + np.asarray(by)[1:])
    if isinstance(shape, Bend):
        return replace(shape, centre=shape.centre + by)
    if isinstance(shape, Frustum):
        return replace(shape, start=shape.start + by, end=shape.end + by)
    return replace(shape, points=shape.points + by)
