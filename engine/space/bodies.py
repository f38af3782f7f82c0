"""What stands in a box: a list of bodies, each with a shape, a role (``roles``), and the thing it belongs to.

Axes of the box: x from the outer face of the left side panel across the width, y and z as in ``wedge``.  Lengths in m.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np

from engine.arrays import Floats
from engine.packing.contents import SCREW_REACH, wood_round_screws
from engine.space import roles
from engine.space.roles import Role

SIDES = ("left side", "right side")
UPSIDE_DOWN = {"bottom": "top", "top": "bottom"}  # panels that change places in a box on its head
SAME = 1e-9  # m


class Circle(NamedTuple):
    """In the cross-section: centre (y, z) and radius, m."""

    centre: Floats
    radius: float


@dataclass(frozen=True, kw_only=True)
class Prism:
    """A plate or body of constant cross-section (y, z), corners (K, 2), between two places across the width.

    Where the outline or a hole is round, its corners lie on one of ``circles`` or just outside it.
    """

    section: Floats
    x: tuple[float, float]
    holes: tuple[Floats, ...] = ()
    circles: tuple[Circle, ...] = ()

    def upside_down(self, origin: Floats) -> Prism:
        section, *holes = (_turned(ring, origin[1:])[::-1] for ring in (self.section, *self.holes))
        circles = tuple(Circle(_turned(each.centre, origin[1:]), each.radius) for each in self.circles)
        return replace(self, section=section, holes=tuple(holes), circles=circles)

    @cached_property
    def walls(self) -> tuple[Floats, Floats]:
        """Outward unit normals (K, 3) and limits (K,) of a convex one: inside are the points with n·p ≤ limit."""
        corners = self.section
        along = np.roll(corners, -1, axis=0) - corners
        turn = np.sign(np.sum(corners[:, 0] * np.roll(corners[:, 1], -1) - np.roll(corners[:, 0], -1) * corners[:, 1]))
        normals = turn * np.column_stack([np.zeros(len(along)), along[:, 1], -along[:, 0]])
        normals /= np.linalg.norm(normals, axis=1, keepdims=True)
        limits = np.sum(normals[:, 1:] * corners, axis=1)
        ends = np.array([[-1.0, 0.0, 0.0], [1.0, 0.0, 0.0]])
        return np.concatenate([normals, ends]), np.concatenate([limits, [-self.x[0], self.x[1]]])


@dataclass(frozen=True, kw_only=True)
class Frustum:
    """A round body between two centres (x, y, z); a cylinder where the radii are the same."""

    start: Floats  # (3,)
    end: Floats  # (3,)
    radii: tuple[float, float]

    def upside_down(self, origin: Floats) -> Frustum:
        return replace(self, start=_turned(self.start, origin), end=_turned(self.end, origin))

    @property
    def length(self) -> float:
        return float(np.linalg.norm(self.end - self.start))

    @property
    def axis(self) -> Floats:
        """Unit vector from start to end."""
        return np.asarray((self.end - self.start) / np.linalg.norm(self.end - self.start))


@dataclass(frozen=True, kw_only=True)
class Bend:
    """A quarter bend of round pipe: a tube of ``tube_radius`` round an arc of ``radius``.

    The arc runs from ``centre + radius·first`` to ``centre + radius·last``, unit vectors square to each other.
    """

    centre: Floats  # (3,)
    first: Floats  # (3,)
    last: Floats  # (3,)
    radius: float  # m, of the centre line
    tube_radius: float  # m

    def upside_down(self, origin: Floats) -> Bend:
        nowhere = np.zeros(3)
        first, last = (_turned(way, nowhere) for way in (self.first, self.last))
        return replace(self, centre=_turned(self.centre, origin), first=first, last=last)


@dataclass(frozen=True, kw_only=True)
class Path:
    """A line to be drawn through points (K, 3); seen end on a cross with arms as long as ``arm``, m."""

    points: Floats
    arm: float

    def upside_down(self, origin: Floats) -> Path:
        return replace(self, points=_turned(self.points, origin))


def _turned(points: Floats, origin: Floats) -> Floats:
    """Points (..., y, z) of a box on its head where its ``origin`` comes to lie when it stands, z then upwards."""
    sign = np.ones(points.shape[-1])
    sign[-1] = -1.0
    return np.asarray(origin + sign * points)


Solid = Prism | Frustum | Bend
Shape = Solid | Path


def cylinder(start: Floats, end: Floats, radius: float) -> Frustum:
    return Frustum(start=start, end=end, radii=(radius, radius))


def across(shape: Solid) -> tuple[float, float]:
    """From where to where across the width a solid reaches, m."""
    if isinstance(shape, Prism):
        return shape.x
    if isinstance(shape, Bend):
        ends = [float(shape.centre[0] + shape.radius * way[0]) for way in (shape.first, shape.last)]
        return min(ends) - shape.tube_radius, max(ends) + shape.tube_radius
    reach = max(shape.radii) * float(np.sqrt(max(1.0 - float(shape.axis[0]) ** 2, 0.0)))
    return float(min(shape.start[0], shape.end[0])) - reach, float(max(shape.start[0], shape.end[0])) + reach


class Thing(NamedTuple):
    """What bodies belong to: "driver" 1, "pipe" 2; openings are called as their records are."""

    kind: str
    number: int = 1


@dataclass(frozen=True)
class Body:
    """Pieces of one role that belong to one thing.  Bodies of one ``name`` are measured as one."""

    name: str  # in a sentence: "driver 1", "the air before vent 2"
    role: Role
    thing: Thing
    shapes: tuple[Shape, ...]
    panel: str = ""  # that it goes through or is mounted in
    form: str = ""  # which it has, of a brace

    def upside_down(self, *, rear: float, height: float) -> Body:
        """It in a box ``height`` m high that was on its head and now stands: its origin is then the upper back corner,
        ``rear`` m before the lower one.
        """
        origin = np.array([0.0, rear, height])
        shapes = tuple(shape.upside_down(origin) for shape in self.shapes)
        return replace(self, shapes=shapes, panel=UPSIDE_DOWN.get(self.panel, self.panel))

    @property
    def solids(self) -> tuple[Solid, ...]:
        return (*self.prisms, *self.rounds)

    @property
    def rounds(self) -> tuple[Frustum | Bend, ...]:
        return tuple(shape for shape in self.shapes if isinstance(shape, Frustum | Bend))

    @property
    def frusta(self) -> tuple[Frustum, ...]:
        return tuple(shape for shape in self.shapes if isinstance(shape, Frustum))

    @property
    def prisms(self) -> tuple[Prism, ...]:
        return tuple(shape for shape in self.shapes if isinstance(shape, Prism))

    @property
    def paths(self) -> tuple[Path, ...]:
        return tuple(shape for shape in self.shapes if isinstance(shape, Path))


@dataclass(frozen=True, kw_only=True)
class Assembly:
    """A box: its outside, its inside, and every body of it."""

    outer: Prism
    inner: Prism
    bodies: tuple[Body, ...]
    layer: float = 0.0  # m, how much thicker than its board the baffle is
    recess: float = 0.0  # m, that flanges of drivers and passive radiators are sunk into their panel

    @property
    def board(self) -> float:
        return self.inner.x[0] - self.outer.x[0]

    def thickness(self, panel: str) -> float:
        """Of a panel, m."""
        return self.board + (self.layer if panel == "baffle" else 0.0)

    def of(self, *wanted: Role) -> tuple[Body, ...]:
        return tuple(body for body in self.bodies if body.role in wanted)

    def kind(self, name: str) -> tuple[tuple[Body, ...], ...]:
        """Bodies of each thing of one kind, thing by thing."""
        return tuple(bodies for thing, bodies in self.things.items() if thing.kind == name)

    @cached_property
    def things(self) -> dict[Thing, tuple[Body, ...]]:
        found: dict[Thing, tuple[Body, ...]] = {}
        for body in self.bodies:
            found[body.thing] = (*found.get(body.thing, ()), body)
        return found


def body_of(bodies: Iterable[Body], role: Role) -> Body:
    """The body with a role among those of a thing.  Raises StopIteration where there is none."""
    return next(body for body in bodies if body.role is role)


FLANGE_THICKNESS = 0.005  # m, for pictures only
SEATED = 1e-5  # m, depth of a seat, so that it is a solid
CROSS = 1.12  # of an axis seen end on, in radii


def seat(
    name: str, thing: Thing, role: Role, axis: tuple[Floats, Floats, Floats], *, panel: str, board: float,
    hole: float, flange: float, wood: float, recess: float = 0.0,
) -> list[Body]:  # fmt: skip
    """Flange (of a ``role``) with its screws, cut-out and axis of a ``thing`` in a ``panel`` as thick as ``board``.

    ``name`` is what it is called in a sentence; ``axis`` the centre of its cut-out on the panel's outer face, the unit
    vector from there into the box, and its rearmost point, (3,) each; ``hole`` and ``flange`` are radii, m.  ``wood``
    is what its screws keep off joints, m; 0 where nothing is asked of them; ``recess`` how deep the flange is sunk, m.
    """
    face, inward, rear = axis
    back = face + recess * inward
    front = back - FLANGE_THICKNESS * inward
    pieces: tuple[tuple[str, Role, Shape], ...] = (
        ("flange", role, cylinder(front, back, flange)),
        ("cut-out", roles.CUTOUT, cylinder(face, face + board * inward, hole)),
        ("axis", roles.AXIS, Path(points=np.array([front, rear]), arm=CROSS * hole)),
    )
    found = [Body(f"the {part} of {name}", its_role, thing, (shape,), panel) for part, its_role, shape in pieces]
    return found + screwed_on(name, thing, axis, panel=panel, board=board, hole=hole, flange=flange, wood=wood)


def screwed_on(
    name: str, thing: Thing, axis: tuple[Floats, Floats, Floats], *, panel: str, board: float, hole: float,
    flange: float, wood: float,
) -> list[Body]:  # fmt: skip
    """What a flange screwed on round a hole takes of its panel; parameters as for :func:`seat`."""
    if not wood > 0.0:
        return []
    face, inward, _ = axis
    radius = float(wood_round_screws(2.0 * hole, 2.0 * flange, wood))
    seated = cylinder(face, face + SEATED * inward, flange)
    screws = cylinder(face, face + (board + SCREW_REACH) * inward, radius)
    return [
        Body(f"the seat of {name}", roles.SEAT, thing, (seated,), panel),
        Body(f"the screw circle of {name}", roles.SCREWS, thing, (screws,), panel),
    ]


def outer_corners(prism: Prism, outer: Prism) -> Floats:
    """Corners of a prism through a panel that lie on the box's outer face, (K, 3), in order round it."""
    if prism.x[0] <= outer.x[0] + SAME or prism.x[1] >= outer.x[1] - SAME:
        x = prism.x[0] if prism.x[0] <= outer.x[0] + SAME else prism.x[1]
        return np.column_stack([np.full(len(prism.section), x), prism.section])
    edges = np.roll(outer.section, -1, axis=0) - outer.section
    normals = np.column_stack([edges[:, 1], -edges[:, 0]]) / np.linalg.norm(edges, axis=1, keepdims=True)
    off = np.abs(np.sum((prism.section[:, np.newaxis] - outer.section) * normals, axis=2))  # from each side, (K, 4)
    side = int(np.argmin(np.sort(off, axis=0)[1]))
    low, high = prism.section[np.sort(np.argsort(off[:, side], kind="stable")[:2])]
    left, right = prism.x
    return np.array([(left, *low), (right, *low), (right, *high), (left, *high)])


@dataclass(frozen=True, kw_only=True)
class Dimension:
    """A size that an opening adds to a drawing: upright beside the section, or across below the plan."""

    view: Literal["section", "plan"]
    ends: tuple[float, float]  # z in the section, x in the plan, m
    source: float = 0.0  # y that its lines come from in the section, m
    words: str = ""  # before the figure
