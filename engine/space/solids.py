"""One design checked as solids: what stands too near to what, what sticks out, what air is left.

A check of its own: it measures the finished bodies with a geometry kernel (manifold3d), by none of the formulas that
found the places.  Round things are made of flat facets, drawn round the true shape and never more than ``FACET`` off
it, so a distance measured here is at most two facets short of the true one; ``TOLERANCE`` covers that.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, product

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold

from engine.arrays import Floats
from engine.quantities import Units, show
from engine.space import roles
from engine.space.bodies import Assembly, Bend, Body, Frustum, Prism, Solid, across, outer_corners

FACET = 2e-5  # m, between a round thing and its facets, at most
TOLERANCE = 5e-5  # m, by which a limit may seem broken and still be kept
LOOK = 0.005  # m beyond what is needed; anything farther away is measured no further
LEAST_SEGMENTS = 16
COARSE = 1e-3  # m, the same where nothing is measured
POCKET = 1e-5  # m³, of air that no body of air is made of
SIDE_BY_SIDE = 0.999  # cosine from which on two directions count as one


@dataclass(frozen=True)
class Finding:
    """A distance between two things: the ``required`` one and the ``measured`` one, in m.

    Nothing is measured beyond ``required + LOOK``.  Where two share a place, ``measured`` is less the mean thickness of
    that place.  With ``inside``, ``one`` shall lie in ``other``, ``required`` off its walls or edges; ``measured`` is
    negative by what sticks out.
    """

    one: str
    other: str
    required: float
    measured: float
    inside: bool = False

    @property
    def margin(self) -> float:
        return self.measured - self.required

    def sentence(self, units: Units) -> str:
        sizes, digits = (self.measured, self.required, -self.measured), 1 if units == "metric" else 2
        measured, required, over = (show(size, "length", units, digits) for size in sizes)
        if self.inside and self.measured < 0.0:
            return f"{self.one} sticks out of {self.other} by {over}"
        if self.inside:
            return f"{self.one} keeps {measured} to {self.other}; {required} are needed"
        if self.measured > 0.0:
            return f"{self.one} and {self.other} are {measured} apart; {required} are needed"
        need = f"; {required} between them are needed" if self.required else ""
        return f"{self.one} and {self.other} are in the same place{need}"


@dataclass(frozen=True)
class Inspection:
    """What the check of one design found."""

    findings: tuple[Finding, ...]
    net_volume: float  # m³ of air
    bodies_of_air: tuple[float, ...]  # m³ each, the largest first: what is meant to be one chamber is one

    @property
    def broken(self) -> tuple[Finding, ...]:
        return tuple(finding for finding in self.findings if finding.margin < -TOLERANCE)

    @property
    def ok(self) -> bool:
        return not self.broken and len(self.bodies_of_air) == 1

    def sentences(self, units: Units) -> list[str]:
        """What is wrong, worst first."""
        found = [finding.sentence(units) for finding in sorted(self.broken, key=lambda finding: finding.margin)]
        if len(self.bodies_of_air) > 1:
            parts = " and ".join(show(each, "volume", units) for each in self.bodies_of_air)
            found.insert(0, f"the air in the box is in {len(self.bodies_of_air)} parts, {parts}")
        return found


def exact_check(
    parts: Assembly, *, gap: float, round_over: float = 0.0, free_width: float = math.inf, driver_air: float = 0.0,
    displacement: Mapping[str, float] | None = None,
) -> Inspection:  # fmt: skip
    """Measure the bodies of one design, lengths in m.

    Bodies keep ``gap`` from others by their roles (``Role.gap_to``); flanges and mouths stay off the box's outer edges
    by their radius ``round_over``.  ``free_width`` is what the space leaves where the box stands, ``driver_air`` what a
    driver in the side panel needs before it in that width.  ``displacement`` is as in :func:`air_volume`.
    """
    check = _Check(parts=parts, gap=gap, round_over=round_over, free_width=free_width, driver_air=driver_air)
    return Inspection(
        findings=tuple(check.findings()),
        net_volume=air_volume(parts, displacement=displacement),
        bodies_of_air=bodies_of_air(parts),
    )


def air_volume(parts: Assembly, *, displacement: Mapping[str, float] | None = None) -> float:
    """Air in the box in m³: the inside less everything whose role takes air, vents with their bore.

    What two of them share is taken off twice; a design that keeps its distances has no such place.
    ``displacement`` in m³ stands for the solids of each thing of a kind that it names.
    """
    stated = displacement or {}
    inner = prism_solid(parts.inner)
    taken = sum(stated.get(thing.kind, 0.0) for thing in parts.things)
    for body in parts.bodies:
        if body.thing.kind in stated or not body.role.takes_air:
            continue
        # Piece by piece: the kernel is surest of two solids, and many of these touch.
        for piece in map(solid, body.solids):
            if body.role in (roles.RIM, roles.SOCKET):  # what of it lies round its pipe
                for own in (own for own in parts.things[body.thing] if own.name == body.name and own is not body):
                    for pipe in map(solid, own.solids):
                        piece -= pipe
            whole = _depth_inside(_corners([piece]), parts.inner) >= 0.0
            taken += float((piece if whole else inner ^ piece).volume())
    return float(inner.volume()) - taken


def bodies_of_air(parts: Assembly) -> tuple[float, ...]:
    """Volumes in m³ of the separate bodies of air in the box, the largest first; pockets below ``POCKET`` left out.

    Round things have coarse facets here, drawn round them by up to ``COARSE``: all that they could do is to close a gap
    that narrow.
    """
    air = prism_solid(parts.inner)
    for body in parts.bodies:
        for shape in body.solids if body.role.takes_air else ():
            air -= solid(shape, COARSE)
    volumes = sorted((float(piece.volume()) for piece in air.decompose()), reverse=True)
    return tuple(volume for volume in volumes if volume > POCKET)


def solid(shape: Solid, facet: float = FACET) -> Manifold:
    """The body of a shape; the facets of a round one keep within ``facet`` of it, m."""
    if isinstance(shape, Prism):
        return prism_solid(shape)
    return frustum_solid(shape, facet) if isinstance(shape, Frustum) else bend_solid(shape, facet)


def prism_solid(prism: Prism) -> Manifold:
    section = CrossSection([prism.section], FillRule.NonZero) - CrossSection(list(prism.holes), FillRule.NonZero)
    extruded = Manifold.extrude(section, prism.x[1] - prism.x[0])
    # Extruded along the third axis: turn (y, z, x) into (x, y, z).
    return extruded.transform(np.array([[0.0, 0.0, 1.0, prism.x[0]], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]]))


def segments(radius: float, facet: float = FACET) -> int:
    """Flat facets round a circle that keep within ``facet`` of it: r/cos(π/n) - r ≈ r·π²/2n²."""
    return max(LEAST_SEGMENTS, math.ceil(math.pi * math.sqrt(radius / (2.0 * facet))))


def frustum_solid(frustum: Frustum, facet: float = FACET) -> Manifold:
    axis = frustum.axis
    count = segments(max(frustum.radii), facet)
    around = 1.0 / math.cos(math.pi / count)
    start, end = (radius * around for radius in frustum.radii)
    turned = np.column_stack([*_square_to(axis), axis, frustum.start])
    return Manifold.cylinder(frustum.length, start, end, circular_segments=count).transform(turned)


def bend_solid(bend: Bend, facet: float = FACET) -> Manifold:
    count = segments(bend.tube_radius, facet)
    steps = max(math.ceil(segments(bend.radius + bend.tube_radius, facet) / 4), 4)
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


@dataclass(frozen=True)
class Measured:
    """Bodies of one name, which are measured as one; ``body`` is the one whose role counts."""

    body: Body
    shapes: tuple[Solid, ...]

    @cached_property
    def pieces(self) -> tuple[Manifold, ...]:
        return tuple(solid(shape) for shape in self.shapes)

    @cached_property
    def boxed(self) -> tuple[tuple[Manifold, tuple[float, ...]], ...]:
        """Each piece, and its least x, y and z and its greatest."""
        return tuple((piece, piece.bounding_box()) for piece in self.pieces)

    @cached_property
    def corners(self) -> Floats:
        return _corners(self.pieces)


def measured(bodies: Iterable[Body]) -> list[Measured]:
    """Bodies by their names, in the order of roles; what is no solid is left out."""
    named: dict[str, list[Body]] = {}
    for body in sorted(bodies, key=lambda body: roles.RANK[body.role.name]):
        if body.solids:
            named.setdefault(body.name, []).append(body)
    return [Measured(same[0], tuple(shape for body in same for shape in body.solids)) for same in named.values()]


def distance(one: Measured, other: Measured, *, at_most: float) -> float:
    """Least distance in m, no more than ``at_most``; negative where they share a place (its mean thickness)."""
    least = at_most
    for (a, around), (b, other_around) in product(one.boxed, other.boxed):
        # Bounding boxes are never farther apart than the solids.
        ways = (max(around[k] - other_around[k + 3], other_around[k] - around[k + 3], 0.0) for k in range(3))
        apart = math.hypot(*ways)
        if apart >= least and apart > 0.0:
            continue
        between = float(a.min_gap(b, at_most))
        if between <= 0.0:
            shared = a ^ b
            area = float(shared.surface_area())
            between = -2.0 * max(float(shared.volume()), 0.0) / area if area > 0.0 else 0.0
        least = min(least, between)
    return least


def _corners(pieces: Iterable[Manifold]) -> Floats:
    """Corners of pieces, (K, 3) m."""
    found = [np.asarray(piece.to_mesh64().vert_properties, dtype=float)[:, :3] for piece in pieces]
    return np.concatenate([np.empty((0, 3)), *found])


def _depth_inside(corners: Floats, prism: Prism) -> float:
    """Distance in m from the outermost of some points to the walls of a convex prism; negative outside."""
    normals, limits = prism.walls
    return float(np.min(limits - corners @ normals.T)) if len(corners) else LOOK


def _disc_inside(disc: Frustum, prism: Prism) -> float:
    """Distance in m from a disc's rim to the edges of the face of a convex prism that it lies in."""
    normals, limits = prism.walls
    across = normals @ disc.axis
    bounding = np.abs(across) < SIDE_BY_SIDE
    steep = np.sqrt(1.0 - across[bounding] ** 2)
    return float(np.min((limits - normals @ disc.end)[bounding] / steep)) - max(disc.radii)


@dataclass(frozen=True, kw_only=True)
class _Check:
    """The rules, each as findings about the bodies of one design."""

    parts: Assembly
    gap: float
    round_over: float
    free_width: float
    driver_air: float

    def findings(self) -> Iterator[Finding]:
        things = measured(self.parts.bodies)
        for one, other in combinations(things, 2):
            required = self._required(one.body, other.body)
            if required is not None:
                between = distance(one, other, at_most=required + LOOK)
                yield Finding(one.body.name, other.body.name, required, between)
        for each in things:
            yield from self._alone(each)
        yield from self._beside()

    def _required(self, one: Body, other: Body) -> float | None:
        """Distance that two bodies keep; None where it is not measured."""
        role, own_panel = one.role, other.role is roles.PANEL and other.panel == one.panel
        if (one.thing == other.thing and not role.with_own) or own_panel:
            return None
        if role.on_face and one.panel != other.panel:
            return None
        if other.role.name in role.gap_to:
            return self.gap
        return 0.0 if other.role.name in role.clear_of else None

    def _alone(self, each: Measured) -> Iterator[Finding]:
        """Where a body lies: inside the box, in its panel, off the box's edges."""
        name, role, outer = each.body.name, each.body.role, self.parts.outer
        if role.within:
            corners = each.corners if role.within == "box" else self._behind_panel(each)
            inside = _depth_inside(corners, self.parts.inner)
            yield Finding(name, "the inside of the box", 0.0, min(inside, LOOK), inside=True)
        if not (role.in_panel or role.off_edges):
            return
        (shape,) = each.shapes
        assert not isinstance(shape, Bend)
        on_panel = f"the {each.body.panel} panel"
        if role.in_panel:
            (panel,) = (body.prisms[0] for body in self.parts.of(roles.PANEL) if body.panel == each.body.panel)
            if isinstance(shape, Frustum):  # to the panel's narrow sides, at both of its ends
                turned = replace(shape, start=shape.end, end=shape.start)
                inside = min(_disc_inside(end, panel) for end in (shape, turned))
            else:
                inside = _depth_inside(each.corners, panel)
            yield Finding(name, on_panel, 0.0, min(inside, LOOK), inside=True)
        if role.off_edges:
            if isinstance(shape, Frustum):
                off = _disc_inside(shape, outer)
            else:
                normals, limits = outer.walls
                apart = limits - outer_corners(shape, outer) @ normals.T
                # The panel's own outer face, in which all corners of the mouth lie, is no edge.
                off = float(np.min(apart[:, np.max(np.abs(apart), axis=0) > TOLERANCE]))
            most = self.round_over + LOOK
            yield Finding(name, f"the edge of {on_panel}", self.round_over, min(off, most), inside=True)

    def _behind_panel(self, each: Measured) -> Floats:
        """Corners of what lies behind the panel of things that start on its outer face."""
        first = each.shapes[0]
        assert isinstance(first, Frustum)
        board, pieces = self.parts.thickness(each.body.panel), []
        for shape in each.shapes:
            if not isinstance(shape, Frustum) or np.any(shape.start != first.start):
                pieces.append(shape)
            elif shape.length > board + TOLERANCE:
                pieces.append(replace(shape, start=shape.start + board * shape.axis))
        return _corners(solid(piece) for piece in pieces)

    def _beside(self) -> Iterator[Finding]:
        """Whether the space leaves the air that drivers and vents in the sides of the box need."""
        low, high = self.parts.outer.x
        airs = [across(shape) for body in self.parts.of(roles.OUTSIDE_AIR) for shape in body.solids]
        left = max((low - start for start, _ in airs), default=0.0)
        right = max((end - high for _, end in airs), default=0.0)
        driven = any(body.panel == "right side" for bodies in self.parts.kind("driver") for body in bodies)
        beside = max(left, 0.0) + max(right, self.driver_air if driven else 0.0, 0.0)
        if beside:
            room = min(self.free_width - (high + beside), LOOK)
            yield Finding("the box with the air its sides need", "the width of the space", 0.0, room, inside=True)
