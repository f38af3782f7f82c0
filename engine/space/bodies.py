"""What stands in a box: a list of bodies, each with a shape, a role, and the thing it belongs to.

A role is a record from a closed set.  It says how drawings draw a body, what the exact check
(``solids``) keeps it clear of, and whether it takes air.  Nobody who draws or checks knows what a driver,
a pipe or a slot is made of; its own file does.

Axes of the box: x from the outer face of the left side panel across the width, y and z as in ``wedge``.  Lengths in m.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
Pen = Literal["cut", "outline", "thin", "hidden", "faint", "axis", "reach"]

SIDES = ("left side", "right side")
SAME = 1e-9  # m

# Shapes


@dataclass(frozen=True, kw_only=True)
class Prism:
    """A plate or body of constant cross-section (y, z), corners (K, 2), between two places across the width."""

    section: Floats
    x: tuple[float, float]
    holes: tuple[Floats, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Frustum:
    """A round body between two centres (x, y, z); a cylinder where the radii are the same."""

    start: Floats  # (3,)
    end: Floats  # (3,)
    radii: tuple[float, float]

    @property
    def length(self) -> float:
        return float(np.linalg.norm(self.end - self.start))

    @property
    def axis(self) -> Floats:
        """Unit vector from start to end."""
        axis: Floats = (self.end - self.start) / np.linalg.norm(self.end - self.start)
        return axis


@dataclass(frozen=True, kw_only=True)
class Bend:
    """A quarter bend of round pipe: a tube of ``tube_radius`` round an arc of ``radius``.

    The arc runs from ``centre + radius·first`` to ``centre + radius·last``; ``first`` and
    ``last`` are unit vectors square to each other.
    """

    centre: Floats  # (3,)
    first: Floats  # (3,)
    last: Floats  # (3,)
    radius: float  # m, of the centre line
    tube_radius: float  # m


@dataclass(frozen=True, kw_only=True)
class Path:
    """A line to be drawn through points (K, 3); seen end on a cross with arms as long as ``arm``, m."""

    points: Floats
    arm: float


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


# Roles


class Look(NamedTuple):
    """A line, and the share of ink that fills what is inside it."""

    pen: Pen
    wash: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Role:
    """What a body is for: how it is drawn, what it keeps clear of.

    A drawing leaves out what has no look in it.  ``gap_to`` names roles that it stays a breathing gap away from,
    ``clear_of`` those that it may touch but not share a place with.  Bodies of one thing, and a body and
    the panel it goes through, are not measured against each other.
    """

    name: str

    cut: Look | None = None  # in a section through it; ``mounted``: through the axis of what it belongs to
    beside: Look | None = None  # in a section that passes beside it
    end_on: Look | None = None  # in a section, of what is mounted in a side panel
    above: Pen | None = None  # seen from above
    own: Pen | None = None  # square on to the panel that it goes through
    other: Pen | None = None  # square on to another panel
    inside: Pen | None = None  # in the isometric, behind the panels
    outside: Pen | None = None  # in the isometric, on the panel that it goes through where that shows
    mounted: bool = False  # part of something round in a panel
    sawn: bool = False  # a section through it shows no board there
    label: str = ""  # written in it, square on to its panel
    beside_words: str = ""  # what is drawn though the section passes beside it
    room_words: str = ""  # what room is kept for where it is drawn

    gap_to: frozenset[str] = frozenset()
    clear_of: frozenset[str] = frozenset()
    on_face: bool = False  # measured only against what goes through the same panel
    with_own: bool = False  # measured against bodies of its own thing too
    within: Literal["", "box", "behind panel"] = ""  # what of it has to lie inside the box
    in_panel: bool = False  # lies within the narrow sides of the panel that it goes through
    off_edges: bool = False  # keeps off the box's rounded edges
    takes_air: bool = False
    trimmed: bool = False  # where it reaches far out of a box, its thing is drawn cut short


def _names(*names: str) -> frozenset[str]:
    return frozenset(names)


_FITTED = _names("radiator", "slot board", "pipe", "passing pipe", "cup", "brace", "block")
_ON_FACE = _names("driver flange", "radiator flange", "cup flange", "pipe", "passing pipe", "window")

DRIVER_FLANGE = Role(
    name="driver flange", mounted=True, on_face=True, off_edges=True, gap_to=_ON_FACE,
    cut=Look("outline", 0.5), end_on=Look("hidden"), above="hidden", own="outline", outside="outline",
)  # fmt: skip
RADIATOR_FLANGE = Role(
    name="radiator flange", mounted=True, on_face=True, off_edges=True, gap_to=_ON_FACE, label="passive",
    beside_words="passive radiator", cut=Look("outline", 0.5), beside=Look("hidden"), end_on=Look("hidden"),
    above="hidden", own="outline", other="hidden", outside="outline",
)  # fmt: skip
CUP_FLANGE = Role(
    name="cup flange", on_face=True, off_edges=True, gap_to=_ON_FACE,
    cut=Look("outline"), beside=Look("hidden"), above="hidden", own="outline", outside="outline",
)  # fmt: skip
DUCT = Role(  # between boards: it touches them and panels
    name="duct", within="box", with_own=True, takes_air=True, trimmed=True,
    clear_of=_FITTED | _names("basket", "magnet", "rear air", "terminals"),
)  # fmt: skip
DUCT_AIR = Role(  # before its inner mouth
    name="duct air", within="box", with_own=True, trimmed=True, clear_of=DUCT.clear_of
)
FREE_AIR = Role(  # before the inner mouth of a pipe
    name="free air", within="box", with_own=True, clear_of=_FITTED | _names("basket", "magnet", "terminals", "panel")
)
BASKET = Role(
    name="basket", mounted=True, within="box", takes_air=True,
    cut=Look("outline"), end_on=Look("outline"), above="hidden", inside="faint",
    gap_to=_FITTED | _names("basket", "magnet", "panel"), clear_of=_names("rear air", "terminals"),
)  # fmt: skip
MAGNET = Role(
    name="magnet", mounted=True, within="box", takes_air=True,
    cut=Look("outline", 0.3), end_on=Look("outline", 0.3), above="hidden", other="hidden",
    inside="faint", gap_to=BASKET.gap_to, clear_of=BASKET.clear_of,
)  # fmt: skip
REAR_AIR = Role(  # behind a magnet
    name="rear air", mounted=True, within="box", room_words="driver",
    cut=Look("reach"), end_on=Look("reach"), clear_of=_FITTED | _names("panel"),
)  # fmt: skip
TERMINALS = Role(  # room for the solder tags beside a basket
    name="terminals", mounted=True, within="box", room_words="driver",
    cut=Look("reach"), end_on=Look("reach"), clear_of=_FITTED | _names("terminals", "panel"),
)  # fmt: skip
RADIATOR = Role(
    name="radiator", mounted=True, within="box", takes_air=True,
    room_words="radiator", cut=Look("reach"), beside=Look("hidden"), end_on=Look("hidden"),
    above="hidden", other="hidden", inside="faint",
    gap_to=_FITTED | _names("panel"),
)  # fmt: skip
SLOT_BOARD = Role(
    name="slot board", within="box", takes_air=True, trimmed=True, beside_words="vent",
    cut=Look("cut", 0.16), beside=Look("hidden"), above="hidden", other="hidden", inside="faint",
    gap_to=_names("cup"), clear_of=_names("pipe", "passing pipe", "brace"),
)  # fmt: skip
PIPE = Role(
    name="pipe", within="behind panel", takes_air=True, trimmed=True, sawn=True, beside_words="vent",
    cut=Look("outline"), beside=Look("hidden"), above="hidden", own="hidden", other="hidden", inside="faint",
    gap_to=_names("pipe", "passing pipe", "cup", "panel", "brace"), clear_of=_names("block"),
)  # fmt: skip
PASSING_PIPE = Role(  # along the width, through holes in braces, on blocks
    name="passing pipe", within="behind panel", takes_air=True, trimmed=True, sawn=True, beside_words="vent",
    cut=PIPE.cut, beside=PIPE.beside, above="hidden", own="hidden", other="hidden", inside="faint",
    gap_to=PIPE.gap_to - {"brace"}, clear_of=_names("brace", "block"),
)  # fmt: skip
RIM = Role(name="rim", within="behind panel", takes_air=True)  # of a flare, as a cylinder as wide as it gets
CUP = Role(
    name="cup", within="behind panel", takes_air=True, sawn=True,
    cut=Look("outline"), beside=Look("hidden"), above="hidden", other="hidden", inside="faint",
    gap_to=_names("brace", "block", "panel"),
)  # fmt: skip
BRACE = Role(name="brace", within="box", takes_air=True, clear_of=_names("brace", "block"))
BLOCK = Role(  # carries a pipe
    name="block", within="box", takes_air=True, clear_of=_names("block"),
    cut=Look("outline"), beside=Look("hidden"), above="hidden", other="hidden", inside="faint",
)  # fmt: skip
PANEL = Role(name="panel", cut=Look("cut", 0.16))
CUTOUT = Role(  # of what is mounted
    name="cut-out", mounted=True, sawn=True, in_panel=True, own="cut", outside="outline"
)
HOLE = Role(name="hole", in_panel=True, own="cut", outside="outline")  # round, for what passes a panel
WINDOW = Role(  # the mouth of a duct in its panel
    name="window", sawn=True, in_panel=True, off_edges=True, trimmed=True,
    above="hidden", own="cut", other="hidden", outside="outline",
)  # fmt: skip
MOUTH = Role(name="mouth", off_edges=True)  # of a pipe, on the outer face
BORE = Role(name="bore", cut=Look("thin"), own="outline", outside="outline")
FLARE = Role(name="flare", sawn=True, cut=Look("outline"))  # the quarter round at an end of a bore
AXIS = Role(  # of what is mounted
    name="axis", mounted=True, cut=Look("axis"), end_on=Look("axis"), above="axis"
)
MIDDLE_LINE = Role(
    name="middle line", cut=Look("axis"), above="axis", other="axis"
)  # of a vent, with the air before it
OUTSIDE_AIR = Role(name="outside air")  # beside the box, before a mouth

# In the order in which pairs are named: "the air before vent 1 and driver 1".
ROLES = (
    DRIVER_FLANGE, RADIATOR_FLANGE, CUP_FLANGE, DUCT, DUCT_AIR, FREE_AIR, BASKET, MAGNET, REAR_AIR, TERMINALS,
    RADIATOR, SLOT_BOARD, PIPE, PASSING_PIPE, RIM, CUP, BRACE, BLOCK, PANEL,
    CUTOUT, HOLE, WINDOW, MOUTH, BORE, FLARE, AXIS, MIDDLE_LINE, OUTSIDE_AIR,
)  # fmt: skip
RANK = {role.name: rank for rank, role in enumerate(ROLES)}
_UNKNOWN = {name for role in ROLES for name in role.gap_to | role.clear_of} - RANK.keys()
if len(RANK) != len(ROLES) or _UNKNOWN:
    raise RuntimeError(f"roles of bodies: two of one name, or none of {sorted(_UNKNOWN)}")


# Bodies


class Thing(NamedTuple):
    """What bodies belong to: "driver" 1, "pipe" 2; openings are called as their records are."""

    kind: str
    number: int = 1


@dataclass(frozen=True, kw_only=True)
class Body:
    """Pieces of one role that belong to one thing.  Bodies of one ``name`` are measured as one."""

    name: str  # in a sentence: "driver 1", "the air before vent 2"
    role: Role
    thing: Thing
    shapes: tuple[Shape, ...]
    panel: str = ""  # that it goes through or is mounted in

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

    @property
    def board(self) -> float:
        return self.inner.x[0] - self.outer.x[0]

    def of(self, *roles: Role) -> tuple[Body, ...]:
        return tuple(body for body in self.bodies if body.role in roles)

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
CROSS = 1.12  # of an axis seen end on, in radii


def seat(
    name: str, thing: Thing, role: Role, *, face: Floats, inward: Floats, panel: str, board: float,
    hole: float, flange: float, rear: Floats,
) -> list[Body]:  # fmt: skip
    """Flange, cut-out and axis of what is mounted in a panel.

    Parameters
    ----------
    name, thing, role
        What it is called in a sentence, what it is, and the role of its flange.
    face, inward
        Centre (3,) of its cut-out on the panel's outer face, and the unit vector from there into the box.
    panel, board
        Name and thickness of the panel.
    hole, flange
        Radii of cut-out and flange, m.
    rear
        Its rearmost point on the axis, (3,).
    """
    front = face - FLANGE_THICKNESS * inward
    shapes: tuple[tuple[str, Role, Shape], ...] = (
        ("flange", role, cylinder(front, face, flange)),
        ("cut-out", CUTOUT, cylinder(face, face + board * inward, hole)),
        ("axis", AXIS, Path(points=np.array([front, rear]), arm=CROSS * hole)),
    )
    return [
        Body(name=f"the {part} of {name}", role=part_role, thing=thing, shapes=(shape,), panel=panel)
        for part, part_role, shape in shapes
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
    (left, right) = prism.x
    return np.array([[left, *low], [right, *low], [right, *high], [left, *high]])


@dataclass(frozen=True, kw_only=True)
class Dimension:
    """A size that an opening adds to a drawing: upright beside the section, or across below the plan."""

    view: Literal["section", "plan"]
    ends: tuple[float, float]  # z in the section, x in the plan, m
    source: float = 0.0  # y that its lines come from in the section, m
    words: str = ""  # before the figure
