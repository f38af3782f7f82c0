"""Solids seen along parallel rays: which point goes where on the page, what shows and what is behind.

The axes of the space, x across, y towards who faces the baffle and z up, are left-handed;
crossed vectors have the other sign than in a textbook.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from itertools import pairwise
from typing import NamedTuple, Self

import numpy as np
import shapely

from engine.arrays import Floats
from engine.space import roles
from engine.space.bodies import Bend, Body, Frustum, Prism
from engine.space.panels import Face
from engine.space.roles import Pen
from engine.workshop.svg import Line, Mark, Ring, closed_pieces

AROUND = 48  # places round a ring that stand for it in an outline
ALONG = 12  # rings along a quarter bend
EDGE_ON = 1e-9  # m


@dataclass(frozen=True)
class View:
    """A parallel projection: the directions (x, y, z) that run right and up on the page.

    ``origin`` is the point of the solids that falls on the page's (0, 0).
    """

    right: Floats
    up: Floats
    origin: Floats = field(default_factory=lambda: np.zeros(3))

    def __call__(self, points: Floats | Sequence[Sequence[float]]) -> Floats:
        """Points (..., 3) on the page, (..., 2)."""
        return np.asarray((np.asarray(points, dtype=np.float64) - self.origin) @ np.stack([self.right, self.up]).T)

    @cached_property
    def eye(self) -> Floats:
        """The direction towards who looks, of unit length."""
        across = -_crossed(self.right, self.up)
        return np.asarray(across / np.linalg.norm(across))

    def placed(self, place: Floats) -> Self:
        """The same view of solids whose own origin stands at ``place``."""
        return replace(self, origin=self.origin - place)

    def shows(self, normal: Floats) -> bool:
        """Whether a face with this outward normal is turned towards who looks."""
        return bool(self.eye @ normal > 1e-9)


ACROSS, FORWARD, UP = np.eye(3)
SECTION = View(FORWARD, UP)  # from the left end
ABOVE = View(ACROSS, -FORWARD)  # back edge at the top of the page
# From the front right above, the three axes 120 degrees apart on the page and drawn at the same scale:
# lengths along them are true, sqrt(3/2) of what the eye sees.
ISOMETRIC = View(
    np.array([math.cos(math.pi / 6.0), -math.cos(math.pi / 6.0), 0.0]),
    np.array([-math.sin(math.pi / 6.0), -math.sin(math.pi / 6.0), 1.0]),
)


def square_on(face: Face) -> View:
    """A panel square on from outside, the corner that places on it are measured from at (0, 0)."""
    return View(-face.across if face.mirrored else face.across, face.up, face.corner)


def disc(view: View, centre: Floats, axis: Floats, radius: float, pen: Pen, *, wash: float = 0.0) -> Mark:
    """A circle about ``axis``, as it is seen; a line where it is seen edge on."""
    one, other = _square_to(axis, view.eye)
    half = radius * (view(np.array([one, other])) - view(np.zeros(3)))
    if abs(float(half[0, 0] * half[1, 1] - half[0, 1] * half[1, 0])) < EDGE_ON * radius:
        longer = half[int(np.argmax(np.hypot(half[:, 0], half[:, 1])))]
        return Line(np.array([view(centre) - longer, view(centre) + longer]), pen, closed=False)
    return Ring(view(centre), half, pen, wash)


def round_body(view: View, pieces: Sequence[Frustum | Bend], pen: Pen, *, wash: float = 0.0) -> list[Mark]:
    """The outline of a body made of round pieces; rings where a single one is seen end on."""
    first = pieces[0]
    alone = first if len(pieces) == 1 and isinstance(first, Frustum) else None
    if alone and np.linalg.norm(view(alone.end) - view(alone.start)) < EDGE_ON:
        axis, radii = alone.end - alone.start, dict.fromkeys(alone.radii)
        return [disc(view, alone.start, axis, radius, pen, wash=wash) for radius in radii]
    return [Line(ring, pen, wash=wash) for ring in silhouette(view, pieces)]


def silhouette(view: View, pieces: Sequence[Frustum | Bend]) -> list[Floats]:
    """Corners (K, 2) of the outline of round pieces taken together, piece by piece of it."""
    turn = np.linspace(0.0, 2.0 * math.pi, AROUND, endpoint=False)
    hulls = []
    for piece in pieces:
        rings = []
        for centre, axis, radius in _rings(piece):
            one, other = _square_to(axis, view.eye)
            rings.append(view(centre + radius * (np.outer(np.cos(turn), one) + np.outer(np.sin(turn), other))))
        hulls += [shapely.MultiPoint(np.concatenate(pair)).convex_hull for pair in pairwise(rings)]
    joined = shapely.union_all([hull for hull in hulls if hull.geom_type == "Polygon"])
    return closed_pieces(shapely.simplify(shapely.get_parts(joined), 1e-7))


def tube(view: View, pipe: Sequence[Frustum | Bend], flares: Sequence[Frustum], pen: Pen) -> list[Mark]:
    """The outside of a pipe and its flares as one; straight and seen end on, the pipe's ring and the rim's."""
    marks, first = round_body(view, pipe, pen), pipe[0]
    if not flares:
        return marks
    if len(pipe) > 1 or isinstance(first, Bend) or np.linalg.norm(_crossed(first.axis, view.eye)) > EDGE_ON:
        return round_body(view, [*flares, *pipe], pen)
    return [*marks, disc(view, first.start, first.axis, flares[0].radii[0], pen)]


def outlines(view: View, body: Body, flares: Sequence[Body], pen: Pen) -> list[Mark]:
    """A body piece by piece, of a pipe its outside with its ``flares``."""
    if body.role in (roles.PIPE, roles.PASSING_PIPE):
        return tube(view, body.rounds, [piece for flare in flares for piece in flare.frusta], pen)
    marks = [mark for piece in body.rounds for mark in round_body(view, [piece], pen)]
    marks += [Line(prism_outline(view, prism), pen) for prism in body.prisms]
    return [*marks, *(Line(view(path.points), pen, closed=False) for path in body.paths)]


def cross(view: View, centre: Floats, arm: float, pen: Pen) -> list[Mark]:
    """Level and upright arms through a point (x, y, z)."""
    middle = view(centre)
    return [Line(np.array([middle - arm * way, middle + arm * way]), pen, closed=False) for way in np.eye(2)]


def prism_outline(view: View, prism: Prism) -> Floats:
    """Corners (K, 2) of what a prism covers: its section itself, or the hull of its corners."""
    ends = [view(lift(prism.section, x)) for x in prism.x]
    if np.allclose(ends[0], ends[1], atol=EDGE_ON):
        return ends[0]
    hull = shapely.MultiPoint(np.concatenate(ends)).convex_hull
    return np.asarray(hull.exterior.coords)[:-1] if hull.geom_type == "Polygon" else np.asarray(hull.coords)


def board_edges(view: View, brace: Body, side: int) -> list[Mark]:
    """Edges of a brace's boards and of what is cut out of them, on its left (0) or right side (1); its dowels."""
    rings = [lift(ring, plate.x[side]) for plate in brace.prisms for ring in (plate.section, *plate.holes)]
    dowels = [mark for piece in brace.frusta for mark in round_body(view, [piece], "faint")]
    return [*(Line(view(ring), "faint") for ring in rings), *dowels]


def lift(section: Floats | Sequence[Sequence[float]], x: float) -> Floats:
    """Points (y, z) of a section at a place across the width, (K, 3)."""
    points = np.asarray(section, dtype=np.float64)
    return np.column_stack([np.full(len(points), x), points])


class Edge(NamedTuple):
    """An edge of a prism: its ends (2, 3), and the outward normals of the two faces that meet in it."""

    ends: Floats
    normals: tuple[Floats, Floats]


def edges(section: Floats | Sequence[Sequence[float]], x: tuple[float, float]) -> list[Edge]:
    """All edges of a prism over a section (K, 2) in either sense of rotation."""
    corners = np.asarray(section, dtype=np.float64)
    if not shapely.Polygon(corners).exterior.is_ccw:
        corners = corners[::-1]
    following = np.roll(corners, -1, axis=0)
    runs = following - corners
    outward = np.column_stack([np.zeros(len(runs)), runs[:, 1], -runs[:, 0]])
    outward /= np.maximum(np.linalg.norm(outward, axis=1, keepdims=True), 1e-12)
    found = []
    for k, pair in enumerate(zip(corners, following, strict=True)):
        found += [Edge(lift(pair, place), (end, outward[k])) for place, end in ((x[0], -ACROSS), (x[1], ACROSS))]
        found.append(Edge(np.concatenate([lift(pair[:1], place) for place in x]), (outward[k - 1], outward[k])))
    return found


def _rings(piece: Frustum | Bend) -> list[tuple[Floats, Floats, float]]:
    """Centre, axis and radius of rings along a piece."""
    if isinstance(piece, Frustum):
        ends = zip((piece.start, piece.end), piece.radii, strict=True)
        return [(centre, piece.end - piece.start, radius) for centre, radius in ends]
    rings = []
    for angle in np.linspace(0.0, 0.5 * math.pi, ALONG + 1):
        across, along = math.cos(angle), math.sin(angle)
        centre = piece.centre + piece.radius * (across * piece.first + along * piece.last)
        rings.append((centre, across * piece.last - along * piece.first, piece.tube_radius))
    return rings


def _crossed(one: Floats, other: Floats) -> Floats:
    """Two vectors (3,) crossed; NumPy's own, made for batches, takes ten times as long for two."""
    (x, y, z), (u, v, w) = one.tolist(), other.tolist()
    return np.array([y * w - z * v, z * u - x * w, x * v - y * u])


def _square_to(axis: Floats, eye: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors square to an axis and to each other, the first square to the line of sight too.

    So the first is the true half-width of what is seen, whichever way the axis points.
    """
    one = _crossed(axis, eye)
    if float(np.linalg.norm(one)) < 1e-9 * float(np.linalg.norm(axis)):
        one = _crossed(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    one = one / np.linalg.norm(one)
    other = _crossed(axis, one)
    return one, other / np.linalg.norm(other)
