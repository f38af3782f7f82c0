"""What a build is made of: boards with their corners, edges and cuts, and what is bought and goes in.

Axes of the box, m: x across from the left end seen from the front, y forward, z up, from its outer left lower rear
corner.  They are left-handed, as those of ``space.bodies``.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import Any, Literal, NamedTuple

import numpy as np
import shapely

from engine.arrays import Floats
from engine.quantities import Units, show
from engine.space.bodies import Circle, Prism, Solid
from engine.workshop.ring import FINE, Ring

Role = Literal["shell", "layer", "brace", "slot", "block", "foot", "strip"]
PartRole = Literal["driver", "radiator", "pipe", "cup", "dowel"]
Operation = Literal["hole", "notch", "recess", "drill"]
Side = Literal["outside", "inside"]
LEAST_EDGE = 0.010  # m, of board between a cut and an edge, below which it is told; common practice, no source
SAME = 1e-6  # m
GRID = 1e-7  # m, that outlines are cut on, so that no cut along an edge leaves a hair
SQUARE = 1e-4  # rad; no saw is set closer


@dataclass(frozen=True, kw_only=True)
class Edge:
    """One edge of a board, from one of its corners to the next.

    ``bevel`` is as a saw is set, rad from square, at most its most: positive where the outside face reaches further
    than the inside one, so that its long point lies on the outside, negative the other way round, 0 where it is square.
    ``true`` is the angle between the finished faces, from which it may be off by what glue fills.
    """

    side: str  # of the board, seen square on to its outside face: "lower", "left", …; words of its own on each board
    bevel: float = 0.0  # rad
    true: float = 0.0  # rad
    meets: str = ""  # the board that it lies against; none where it is free
    round_over: float = 0.0  # m, radius to which its outer corner is rounded once the box is glued


@dataclass(frozen=True, kw_only=True, eq=False)
class Cut:
    """What is cut into a board, or out of it.

    Places are on the outside face, across and up from its first corner, m; what is worked from the inside face is
    stated square through the board onto the outside one.  A hole or notch has an outline (``ring``), a recess too; what
    is drilled has ``places`` (N, 2) of ``diameter``, on a circle of ``circle`` m where they are the screws of a flange.

    ``axis`` (3,) runs into the board, along the walls of the cut: not square to the face where those lean.
    """

    name: str  # "driver 1", "window", "screws of driver 1"
    operation: Operation
    axis: Floats  # (3,), of unit length
    ring: Ring | None = None
    places: Floats = field(default_factory=lambda: np.empty((0, 2)))
    diameter: float = math.nan  # m, of what is drilled
    circle: float = math.nan  # m, diameter of the circle that screws lie on
    depth: float = math.nan  # m; nan where it goes through
    face: Side = "outside"  # that it is worked from
    passes: str = ""  # what goes through it or is fixed there
    lean: float = 0.0  # rad, of its walls from square to the face, as a jigsaw is set

    @property
    def through(self) -> bool:
        return math.isnan(self.depth)

    @property
    def outlines(self) -> tuple[Ring, ...]:
        """Outlines of all that it cuts on the outside face."""
        holes = tuple(Ring.circle(place, 0.5 * self.diameter) for place in self.places)
        return holes if self.ring is None else (self.ring, *holes)


class Caution(NamedTuple):
    """What somebody who builds should know of a board: a size that is less than is usual, or more than the saw does."""

    code: Literal["edge", "bevel", "small"]
    board: str
    about: str  # the cut or the edge
    value: float  # m; rad of a bevel
    limit: float

    def sentence(self, units: Units) -> str:
        if self.code == "bevel":
            degrees = [f"{math.degrees(angle):.1f}°" for angle in (self.value, self.limit)]
            return f"{self.board}: its {self.about} edge is bevelled by {degrees[0]}, the saw tilts to {degrees[1]}"
        value, limit = (show(size, "length", units, 1 if units == "metric" else 2) for size in (self.value, self.limit))
        if self.code == "small":
            return f"{self.board}: only {value} {self.about}; less than {limit} is held by no hand at a saw"
        return (
            f"{self.board}: {value} of board left between {self.about} and its edge, {limit} are usual: saw and screw "
            "there with care, or glue a strip behind it where nothing stands in its way"
        )


@dataclass(frozen=True, kw_only=True, eq=False)
class Board:
    """One board: the hull of its two faces less what is cut out of it.

    ``outside`` and ``inside`` are those faces, (K, 3) each, corners in the same order, a flat convex outline; of a
    panel the outside is the box's, of all else the one that ``face`` names.  Edge k runs from corner k to the next.
    ``ways`` says where left, right, down and up of it lie in the box, seen square on to its outside face with
    ``across`` and ``up`` as they are, whichever is nearer to whom looks: ``mirrored`` where across then runs to the
    left.
    """

    name: str
    role: Role
    thickness: float  # m, as measured
    outside: Floats
    inside: Floats
    edges: tuple[Edge, ...]
    cuts: tuple[Cut, ...] = ()
    face: str = "outside"
    ways: tuple[str, str, str, str]  # left, right, down, up, as it is seen
    mirrored: bool = False
    datum: str  # from where places on it are measured
    notes: tuple[str, ...] = ()

    @cached_property
    def across(self) -> Floats:
        """Unit vector along the first edge, (3,)."""
        way = self.outside[1] - self.outside[0]
        return np.asarray(way / np.linalg.norm(way))

    @cached_property
    def inward(self) -> Floats:
        """Unit vector square to its faces from the outside one to the inside one, (3,)."""
        normal = np.cross(self.across, self.outside[-1] - self.outside[0])
        normal /= np.linalg.norm(normal)
        return np.asarray(normal * np.sign(normal @ (self.inside[0] - self.outside[0])))

    @cached_property
    def up(self) -> Floats:
        """Unit vector in its face, square to ``across``, towards the board, (3,)."""
        way = self.outside[-1] - self.outside[0]
        way = way - (way @ self.across) * self.across
        return np.asarray(way / np.linalg.norm(way))

    def on(self, points: Floats) -> Floats:
        """Points (…, 3) square onto its outside face: (across, up) from its first corner, (…, 2)."""
        return np.asarray((np.asarray(points) - self.outside[0]) @ np.column_stack([self.across, self.up]))

    def at(self, places: Floats, depth: float = 0.0) -> Floats:
        """Places (…, 2) on its outside face, or ``depth`` m behind it, in the box, (…, 3)."""
        lifted = np.asarray(places) @ np.array([self.across, self.up])
        return np.asarray(self.outside[0] + lifted + depth * self.inward)

    def seen(self, places: Floats) -> Floats:
        """Places on its outside face as who stands before it sees them."""
        return np.asarray(places * [-1.0, 1.0] if self.mirrored else places)

    def corners(self, side: Side) -> Floats:
        """Corners of one of its faces before anything is cut, (K, 2), places on the outside face."""
        return self.on(self.outside if side == "outside" else self.inside)

    def outline(self, side: Side) -> Ring:
        """One of its faces before anything is cut."""
        return Ring.straight(self.corners(side))

    @cached_property
    def profile(self) -> Ring:
        """The outside face as it is sawn and cut, notches taken off it."""
        whole = shapely.Polygon(self.corners("outside"))
        circles: list[Circle] = []
        for cut in self.cuts:
            if cut.operation == "notch" and cut.ring is not None:
                whole = shapely.difference(whole, cut.ring.polygon(), grid_size=GRID)
                circles += cut.ring.arcs
        if not circles and shapely.equals(whole, shapely.Polygon(self.corners("outside"))):
            return self.outline("outside")
        piece = max(shapely.get_parts(whole), key=lambda each: float(each.area))
        return Ring.through(np.asarray(piece.exterior.coords)[:-1], circles)

    @property
    def long_side(self) -> Side:
        """The face that holds the long points: the larger one; the outside one where both are alike."""
        large = self.outline("inside").area > self.outline("outside").area + SAME**2
        return "inside" if large else "outside"

    @cached_property
    def blank(self) -> tuple[float, float]:
        """Length and width of the smallest rectangle that it can be sawn from, bevels included, m."""
        both = shapely.MultiPoint(np.concatenate([self.corners("outside"), self.corners("inside")]))
        hull = np.asarray(both.convex_hull.exterior.coords)
        sizes = []
        for way in np.diff(hull, axis=0):
            long = np.linalg.norm(way)
            if long > SAME:
                along = way / long
                spans = np.ptp(hull @ np.array([along, [-along[1], along[0]]]).T, axis=0)
                sizes.append((float(spans.max()), float(spans.min())))
        return min(sizes, key=lambda size: size[0] * size[1])

    @cached_property
    def shape(self) -> Literal["rectangle", "trapezoid", "other"]:
        """What its outside face is before anything is cut."""
        corners = self.corners("outside")
        if len(corners) != 4:
            return "other"
        ways = np.roll(corners, -1, axis=0) - corners
        ways /= np.linalg.norm(ways, axis=1, keepdims=True)
        turned = [float(ways[k, 0] * ways[k + 2, 1] - ways[k, 1] * ways[k + 2, 0]) for k in (0, 1)]
        if all(abs(turn) < SQUARE for turn in turned) and abs(float(ways[0] @ ways[1])) < SQUARE:
            return "rectangle"
        return "trapezoid" if any(abs(turn) < SQUARE for turn in turned) else "other"

    def beside(self, cut: Cut) -> float:
        """Least board left between what is cut and its edges, as deep as that goes, m; a notch is open to one."""
        near, far = self.corners("outside"), self.corners("inside")
        share = 1.0 if cut.through else min(cut.depth / self.thickness, 1.0)
        edges = [shapely.Polygon(corners).exterior for corners in (near, near + share * (far - near))]
        return min(float(edge.distance(ring.polygon())) for edge in edges for ring in cut.outlines)

    @cached_property
    def volume(self) -> float:
        """What it takes up, m³; walls of cuts counted as square."""
        faces = [shapely.Polygon(self.corners(side)) for side in ("outside", "inside")]
        middle = shapely.Polygon(0.5 * (self.corners("outside") + self.corners("inside")))
        whole = self.thickness / 6.0 * (faces[0].area + 4.0 * middle.area + faces[1].area)
        return float(whole) - self.thickness * sum(
            ring.area for cut in self.cuts if cut.through for ring in cut.outlines
        )

    @cached_property
    def area(self) -> float:
        """Of its outside face, holes and notches off, m²."""
        whole = shapely.Polygon(self.corners("outside"))
        gone = [ring.polygon(FINE) for cut in self.cuts if cut.through for ring in cut.outlines]
        return float(whole.difference(shapely.union_all(gone)).area)


@dataclass(frozen=True, kw_only=True, eq=False)
class Part:
    """Something bought, or cut from something round: its solids, bends of pipe among them.

    ``length`` is that of a piece to be cut, along its middle line, m; nan of what is bought whole.  ``straight`` has
    the lengths of straight pieces to saw, m: of a pipe with an elbow those before and behind it, to the ends of its
    sockets.
    """

    name: str
    role: PartRole
    solids: tuple[Solid, ...]
    length: float = math.nan
    straight: tuple[float, ...] = ()


@dataclass(frozen=True, kw_only=True)
class Chamber:
    """A body of air: the ``inside`` with all boards off and parts not, and what is left of it, m³."""

    inside_volume: float
    net_volume: float
    drivers: int
    vents: int
    radiators: int


@dataclass(frozen=True, kw_only=True, eq=False)
class Box:
    """A design as it is built."""

    boards: tuple[Board, ...]
    parts: tuple[Part, ...]
    chambers: tuple[Chamber, ...]
    row: Mapping[str, Any]  # of the front, as judged with the board as measured
    title: str  # of the job
    joints: str  # a name of :data:`engine.workshop.joints.JOINTS`
    board: float  # m, thickness as measured
    layer: float  # m, of a second layer of the baffle; 0 without one
    outer: Prism  # over the boards, feet not
    place: Floats  # (3,) of the box's origin in the space, m
    last: str  # the board that closes it
    cautions: tuple[Caution, ...] = ()

    def board_called(self, name: str) -> Board:
        return next(board for board in self.boards if board.name == name)
