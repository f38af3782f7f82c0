"""One design checked as solids: what stands too near to what, what sticks out, what air is left.

A check of its own: it takes the finished arrangement and measures it with a geometry kernel
(manifold3d), by none of the formulas that found the places.

Round things are made of flat facets, drawn round the true shape and never more than
``FACET`` off it, so a distance measured here is at most two facets short of the true one.
``TOLERANCE`` covers that, and nothing a builder could measure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, product

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold
from numpy.typing import NDArray

from engine.quantities import Units, show
from engine.space.bodies import (
    OUTSIDE_AIR,
    PANEL,
    RANK,
    RIM,
    Assembly,
    Bend,
    Body,
    Frustum,
    Prism,
    Role,
    Solid,
    across,
    outer_corners,
)

Floats = NDArray[np.float64]

FACET = 2e-5  # m, between a round thing and its facets, at most
TOLERANCE = 5e-5  # m, by which a limit may seem broken and still be kept
LOOK = 0.005  # m beyond what is needed; anything farther away is measured no further
LEAST_SEGMENTS = 16
SIDE_BY_SIDE = 0.999  # cosine from which on two directions count as one


@dataclass(frozen=True)
class Finding:
    """A distance between two things: the ``required`` one and the ``measured`` one, in m.

    Nothing is measured beyond ``required + LOOK``.  Where two share a place, ``measured`` is
    less the mean thickness of that place.  With ``inside``, ``one`` shall lie in ``other``,
    ``required`` off its walls or edges; ``measured`` is negative by what sticks out.
    """

    one: str
    other: str
    required: float
    measured: float
    inside: bool = False

    @property
    def margin(self) -> float:
        return self.measured - self.required

    @property
    def kept(self) -> bool:
        return self.margin >= -TOLERANCE

    def sentence(self, units: Units) -> str:
        measured, required = (show(value, "length", units, _digits(units)) for value in (self.measured, self.required))
        over = show(-self.measured, "length", units, _digits(units))
        if self.inside and self.measured < 0.0:
            return f"{self.one} sticks out of {self.other} by {over}"
        if self.inside:
            return f"{self.one} keeps {measured} to {self.other}; {required} are needed"
        if self.measured > 0.0:
            return f"{self.one} and {self.other} are {measured} apart; {required} are needed"
        need = f"; {required} between them are needed" if self.required else ""
        return f"{self.one} and {self.other} are in the same place{need}"


def _digits(units: Units) -> int:
    return 1 if units == "metric" else 2


@dataclass(frozen=True)
class Inspection:
    """What the check of one design found."""

    findings: tuple[Finding, ...]
    net_volume: float  # m³ of air

    @property
    def broken(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if not finding.kept)

    @property
    def ok(self) -> bool:
        return not self.broken

    @property
    def least(self) -> float:
        """Least margin of all in m; things made to touch, such as a pipe and its hole, have none."""
        return min(finding.margin for finding in self.findings)

    def sentences(self, units: Units) -> list[str]:
        """What is wrong, worst first."""
        return [finding.sentence(units) for finding in sorted(self.broken, key=lambda finding: finding.margin)]


def exact_check(
    parts: Assembly,
    *,
    gap: float,
    round_over: float = 0.0,
    free_width: float = math.inf,
    driver_air: float = 0.0,
    displacement: Mapping[str, float] | None = None,
) -> Inspection:
    """Measure the bodies of one design.

    Parameters
    ----------
    gap
        Distance in m that bodies keep from others by their roles (``Role.gap_to``).
    round_over
        Radius in m of the box's outer edges; flanges and mouths stay off it.
    free_width, driver_air
        Width in m the space leaves where the box stands, and the air in m a driver in the side
        panel needs before it in that width.
    displacement
        m³ that one thing of a kind ("driver") takes in the box by its data sheet; of other kinds the solids count.
    """
    check = _Check(parts, gap=gap, round_over=round_over, free_width=free_width, driver_air=driver_air)
    return Inspection(
        findings=tuple(check.findings()),
        net_volume=air_volume(parts, displacement=displacement),
    )


def air_volume(parts: Assembly, *, displacement: Mapping[str, float] | None = None) -> float:
    """Air in the box in m³: the inside less everything whose role takes air, vents with their bore.

    What two of them share is taken off twice; a design that keeps its distances has no such place.
    ``displacement`` in m³ stands for the solids of each thing of a kind that it names.
    """
    stated = displacement or {}
    inner = prism_solid(parts.inner)
    taken = sum(stated.get(thing.kind, 0.0) for thing in parts.things)
    for thing, bodies in parts.things.items():
        if thing.kind in stated:
            continue
        for body in (body for body in bodies if body.role.takes_air):
            # Piece by piece: the kernel is surest of two solids, and many of these touch.
            for piece in solids_of(body):
                if body.role is RIM:  # what of it lies round its pipe
                    for own in (own for own in bodies if own.name == body.name and own is not body):
                        for pipe in solids_of(own):
                            piece -= pipe
                taken += float((inner ^ piece).volume())
    return float(inner.volume()) - taken


# Solids


def solid(shape: Solid) -> Manifold:
    if isinstance(shape, Prism):
        return prism_solid(shape)
    return frustum_solid(shape) if isinstance(shape, Frustum) else bend_solid(shape)


def solids_of(body: Body) -> list[Manifold]:
    return [solid(shape) for shape in (*body.prisms, *body.rounds)]


def prism_solid(prism: Prism) -> Manifold:
    section = CrossSection([prism.section], FillRule.NonZero) - CrossSection(list(prism.holes), FillRule.NonZero)
    extruded = Manifold.extrude(section, prism.x[1] - prism.x[0])
    # Extruded along the third axis: turn (y, z, x) into (x, y, z).
    return extruded.transform(np.array([[0.0, 0.0, 1.0, prism.x[0]], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]]))


def segments(radius: float) -> int:
    """Flat facets round a circle that keep within ``FACET`` of it: r/cos(π/n) - r ≈ r·π²/2n²."""
    return max(LEAST_SEGMENTS, math.ceil(math.pi * math.sqrt(radius / (2.0 * FACET))))


def frustum_solid(frustum: Frustum) -> Manifold:
    axis = frustum.axis
    count = segments(max(frustum.radii))
    around = 1.0 / math.cos(math.pi / count)
    start, end = (radius * around for radius in frustum.radii)
    turned = np.column_stack([*_square_to(axis), axis, frustum.start])
    return Manifold.cylinder(frustum.length, start, end, circular_segments=count).transform(turned)


def bend_solid(bend: Bend) -> Manifold:
    count = segments(bend.tube_radius)
    steps = max(math.ceil(segments(bend.radius + bend.tube_radius) / 4), 4)
    around = 1.0 / math.cos(math.pi / (4.0 * steps))
    tube = CrossSection.circle(bend.tube_radius / math.cos(math.pi / count), count).translate((bend.radius, 0.0))
    turned = np.column_stack([bend.first, bend.last, np.cross(bend.first, bend.last), bend.centre])
    return Manifold.revolve(tube.scale((around, 1.0)), steps, 90.0).transform(turned)


def _square_to(axis: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors square to ``axis`` and to each other, right-handed with it."""
    helper = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    side = np.cross(axis, helper)
    side /= np.linalg.norm(side)
    return side, np.cross(axis, side)


# Measuring


@dataclass(frozen=True)
class Measured:
    """Bodies of one name, which are measured as one; ``body`` is the one whose role counts."""

    body: Body
    shapes: tuple[Solid, ...]

    @property
    def role(self) -> Role:
        return self.body.role

    @property
    def name(self) -> str:
        return self.body.name

    @cached_property
    def pieces(self) -> tuple[Manifold, ...]:
        return tuple(solid(shape) for shape in self.shapes)

    @cached_property
    def corners(self) -> Floats:
        """Corners of all pieces, (K, 3) m."""
        return _all_corners(self.pieces)


def measured(bodies: Iterable[Body]) -> list[Measured]:
    """Bodies by their names, in the order of roles; what is no solid is left out."""
    named: dict[str, list[Body]] = {}
    for body in sorted(bodies, key=lambda body: RANK[body.role.name]):
        if body.prisms or body.rounds:
            named.setdefault(body.name, []).append(body)
    return [
        Measured(same[0], tuple(shape for body in same for shape in (*body.prisms, *body.rounds)))
        for same in named.values()
    ]


def distance(one: Measured, other: Measured, *, at_most: float) -> float:
    """Least distance in m, no more than ``at_most``; negative where they share a place (its mean thickness)."""
    least = at_most
    for a, b in product(one.pieces, other.pieces):
        apart = _boxes_apart(a, b)
        if apart >= least and apart > 0.0:
            continue
        between = float(a.min_gap(b, at_most))
        least = min(least, between if between > 0.0 else -_thickness(a ^ b))
    return least


def _boxes_apart(a: Manifold, b: Manifold) -> float:
    """Distance between bounding boxes, never more than that between the solids."""
    one, other = np.reshape(a.bounding_box(), (2, 3)), np.reshape(b.bounding_box(), (2, 3))
    apart = np.maximum(np.maximum(one[0] - other[1], other[0] - one[1]), 0.0)
    return float(np.linalg.norm(apart))


def _thickness(piece: Manifold) -> float:
    """Mean thickness in m of a thin solid: its volume over half its surface."""
    area = float(piece.surface_area())
    return 2.0 * max(float(piece.volume()), 0.0) / area if area > 0.0 else 0.0


def _all_corners(pieces: Iterable[Manifold]) -> Floats:
    return np.concatenate([np.empty((0, 3)), *(_corners(piece) for piece in pieces)])


def _corners(piece: Manifold) -> Floats:
    corners: Floats = np.asarray(piece.to_mesh64().vert_properties, dtype=float)[:, :3]
    return corners


def _walls(prism: Prism) -> tuple[Floats, Floats]:
    """Outward unit normals (K, 3) and limits (K,) of a convex prism: inside are the points with n·p ≤ limit."""
    corners = prism.section
    along = np.roll(corners, -1, axis=0) - corners
    turn = np.sign(np.sum(corners[:, 0] * np.roll(corners[:, 1], -1) - np.roll(corners[:, 0], -1) * corners[:, 1]))
    normals = turn * np.column_stack([np.zeros(len(along)), along[:, 1], -along[:, 0]])
    normals /= np.linalg.norm(normals, axis=1, keepdims=True)
    limits = np.sum(normals[:, 1:] * corners, axis=1)
    ends = np.array([[-1.0, 0.0, 0.0], [1.0, 0.0, 0.0]])
    return np.concatenate([normals, ends]), np.concatenate([limits, [-prism.x[0], prism.x[1]]])


def _depth_inside(corners: Floats, prism: Prism) -> float:
    """Distance in m from the outermost of some points to the walls of a convex prism; negative outside."""
    normals, limits = _walls(prism)
    return float(np.min(limits - corners @ normals.T)) if len(corners) else LOOK


def _disc_inside(disc: Frustum, prism: Prism) -> float:
    """Distance in m from a disc's rim to the edges of the face of a convex prism that it lies in."""
    normals, limits = _walls(prism)
    across = normals @ disc.axis
    bounding = np.abs(across) < SIDE_BY_SIDE
    steep = np.sqrt(1.0 - across[bounding] ** 2)
    return float(np.min((limits - normals @ disc.end)[bounding] / steep)) - max(disc.radii)


def _hole_inside(hole: Frustum, prism: Prism) -> float:
    """Distance in m from a round hole through a panel to the panel's narrow sides."""
    other_end = replace(hole, start=hole.end, end=hole.start)
    return min(_disc_inside(disc, prism) for disc in (hole, other_end))


# Rules


class _Check:
    """The rules, each as findings about the bodies of one design."""

    def __init__(self, parts: Assembly, *, gap: float, round_over: float, free_width: float, driver_air: float) -> None:
        self.parts = parts
        self.gap = gap
        self.round_over = round_over
        self.free_width = free_width
        self.driver_air = driver_air
        self.measured = measured(parts.bodies)
        self.panel_of = {body.panel: body.prisms[0] for body in parts.of(PANEL)}

    def findings(self) -> Iterator[Finding]:
        for one, other in combinations(self.measured, 2):
            required = self._required(one.body, other.body)
            if required is not None:
                yield Finding(one.name, other.name, required, distance(one, other, at_most=required + LOOK))
        for each in self.measured:
            yield from self._alone(each)
        yield from self._beside()

    def _required(self, one: Body, other: Body) -> float | None:
        """Distance that two bodies keep; None where it is not measured."""
        role, own_panel = one.role, other.role is PANEL and other.panel == one.panel
        if (one.thing == other.thing and not role.with_own) or own_panel:
            return None
        if role.on_face and one.panel != other.panel:
            return None
        if other.role.name in role.gap_to:
            return self.gap
        return 0.0 if other.role.name in role.clear_of else None

    def _alone(self, each: Measured) -> Iterator[Finding]:
        """Where a body lies: inside the box, in its panel, off the box's edges."""
        role, panel = each.role, each.body.panel
        if role.within == "box":
            yield _inside(each.name, "the inside of the box", each.corners, self.parts.inner)
        elif role.within == "behind panel":
            yield _inside(each.name, "the inside of the box", self._behind_panel(each), self.parts.inner)
        if role.in_panel or role.off_edges:
            (shape,) = each.shapes
            assert not isinstance(shape, Bend)
            on_panel = f"the {panel} panel"
            if role.in_panel:
                within = self.panel_of[panel]
                inside = (
                    _hole_inside(shape, within) if isinstance(shape, Frustum) else _depth_inside(each.corners, within)
                )
                yield Finding(each.name, on_panel, 0.0, min(inside, LOOK), inside=True)
            if role.off_edges:
                off = (
                    _disc_inside(shape, self.parts.outer)
                    if isinstance(shape, Frustum)
                    else _corners_off_edges(shape, self.parts.outer)
                )
                edge = f"the edge of {on_panel}"
                yield Finding(each.name, edge, self.round_over, min(off, self.round_over + LOOK), inside=True)

    def _behind_panel(self, each: Measured) -> Floats:
        """Corners of what lies behind the panel of things that start on its outer face."""
        first = each.shapes[0]
        assert isinstance(first, Frustum)
        board, pieces = self.parts.board, []
        for shape in each.shapes:
            if not isinstance(shape, Frustum) or np.any(shape.start != first.start):
                pieces.append(shape)
            elif shape.length > board + TOLERANCE:
                pieces.append(replace(shape, start=shape.start + board * shape.axis))
        return _all_corners(solid(piece) for piece in pieces)

    def _beside(self) -> Iterator[Finding]:
        """Whether the space leaves the air that drivers and vents in the sides of the box need."""
        low, high = self.parts.outer.x
        airs = [across(shape) for body in self.parts.of(OUTSIDE_AIR) for shape in (*body.prisms, *body.rounds)]
        left = max((low - start for start, _ in airs), default=0.0)
        right = max((end - high for _, end in airs), default=0.0)
        driven = any(body.panel == "right side" for bodies in self.parts.kind("driver") for body in bodies)
        beside = max(left, 0.0) + max(right, self.driver_air if driven else 0.0, 0.0)
        if beside:
            room = self.free_width - (high + beside)
            yield Finding(
                "the box with the air its sides need", "the width of the space", 0.0, min(room, LOOK), inside=True
            )


def _inside(name: str, other: str, corners: Floats, prism: Prism) -> Finding:
    return Finding(name, other, 0.0, min(_depth_inside(corners, prism), LOOK), inside=True)


def _corners_off_edges(prism: Prism, outer: Prism) -> float:
    """Distance in m from the corners of a mouth on the outer face of its panel to the edges of that face."""
    normals, limits = _walls(outer)
    off = limits - outer_corners(prism, outer) @ normals.T
    # The panel's own outer face, in which all corners lie, is no edge.
    return float(np.min(off[:, np.max(np.abs(off), axis=0) > TOLERANCE]))
