"""One design checked as solids: what stands too near to what, what sticks out, what air is left.

A check of its own: it takes the finished arrangement and measures it with a geometry kernel
(manifold3d), by none of the formulas that found the places.

Round things are made of flat facets, drawn round the true shape and never more than
``FACET`` off it, so a distance measured here is at most two facets short of the true one.
``TOLERANCE`` covers that, and nothing a builder could measure.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property
from itertools import combinations, product

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold
from numpy.typing import NDArray

from engine.quantities import Units, show
from engine.space.arrangement import (
    Arrangement,
    Bend,
    DriverSolid,
    Frustum,
    Prism,
    RadiatorSolid,
    SlotSolid,
    VentSolid,
)

Floats = NDArray[np.float64]
Shape = Prism | Frustum | Bend

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
    parts: Arrangement,
    *,
    gap: float,
    round_over: float = 0.0,
    free_width: float = math.inf,
    driver_air: float = 0.0,
    displacement: float | None = None,
    radiator_displacement: float | None = None,
) -> Inspection:
    """Measure one arrangement.

    Parameters
    ----------
    gap
        Distance in m that baskets, passive radiators, pipes, the boards of a slot and the terminal cup keep from
        each other and from panels, that baskets, radiators, straight pipes and the cup keep from braces, and
        flanges from each other and from vents in the same panel.  Pipes along the width pass braces
        through holes and touch their own supports; a slot touches panels and braces.
    round_over
        Radius in m of the box's outer edges; flanges and mouths stay off it.
    free_width, driver_air
        Width in m the space leaves where the box stands, and the air in m a driver in the side
        panel needs before it in that width.
    displacement, radiator_displacement
        m³ one driver and one radiator take in the box by their data sheets; without it, their solids are taken.
    """
    check = _Check(parts, gap=gap, round_over=round_over, free_width=free_width, driver_air=driver_air)
    return Inspection(
        findings=tuple(check.findings()),
        net_volume=air_volume(parts, displacement=displacement, radiator_displacement=radiator_displacement),
    )


def air_volume(
    parts: Arrangement, *, displacement: float | None = None, radiator_displacement: float | None = None
) -> float:
    """Air in the box in m³: the inside less drivers, radiators, vents with their bore, braces, supports and cup.

    What two of them share is taken off twice; a design that keeps its distances has no such place.
    ``displacement`` in m³ stands for the solid of each driver where it is given, ``radiator_displacement``
    for that of each radiator.
    """
    shapes: list[Shape] = [piece for vent in parts.vents for piece in vent.pipe]
    shapes += [*parts.braces, *parts.supports]
    if parts.slot:
        shapes += [*parts.slot.boards, *parts.slot.bore]
    if radiator_displacement is None:
        shapes += [radiator.body for radiator in parts.radiators]
    if parts.cup:
        shapes.append(parts.cup.body)
    if displacement is None:
        shapes += [piece for driver in parts.drivers for piece in driver.body]
    inner = prism_solid(parts.inner)
    # Piece by piece: the kernel is surest of two solids, and many of these touch.
    taken = sum(float((inner ^ solid(shape)).volume()) for shape in shapes)
    for vent in parts.vents:
        # Of a rim what lies round its pipe; the pipe's end at it is straight.
        ends = (vent.pipe[0], vent.pipe[-1])
        taken += sum(
            float((inner ^ (solid(rim) - solid(end))).volume()) for rim, end in zip(vent.rims, ends, strict=False)
        )
    stated = (displacement or 0.0) * len(parts.drivers) + (radiator_displacement or 0.0) * len(parts.radiators)
    return float(inner.volume()) - taken - stated


# Solids


def solid(shape: Shape) -> Manifold:
    if isinstance(shape, Prism):
        return prism_solid(shape)
    return frustum_solid(shape) if isinstance(shape, Frustum) else bend_solid(shape)


def prism_solid(prism: Prism) -> Manifold:
    section = CrossSection([prism.section], FillRule.NonZero) - CrossSection(list(prism.holes), FillRule.NonZero)
    extruded = Manifold.extrude(section, prism.x[1] - prism.x[0])
    # Extruded along the third axis: turn (y, z, x) into (x, y, z).
    return extruded.transform(np.array([[0.0, 0.0, 1.0, prism.x[0]], [1.0, 0.0, 0.0, 0.0], [0.0, 1.0, 0.0, 0.0]]))


def segments(radius: float) -> int:
    """Flat facets round a circle that keep within ``FACET`` of it: r/cos(π/n) - r ≈ r·π²/2n²."""
    return max(LEAST_SEGMENTS, math.ceil(math.pi * math.sqrt(radius / (2.0 * FACET))))


def frustum_solid(frustum: Frustum) -> Manifold:
    length, axis = float(np.linalg.norm(frustum.end - frustum.start)), _axis(frustum)
    count = segments(max(frustum.radii))
    around = 1.0 / math.cos(math.pi / count)
    start, end = (radius * around for radius in frustum.radii)
    turned = np.column_stack([*_square_to(axis), axis, frustum.start])
    return Manifold.cylinder(length, start, end, circular_segments=count).transform(turned)


def bend_solid(bend: Bend) -> Manifold:
    count = segments(bend.tube_radius)
    steps = max(math.ceil(segments(bend.radius + bend.tube_radius) / 4), 4)
    around = 1.0 / math.cos(math.pi / (4.0 * steps))
    tube = CrossSection.circle(bend.tube_radius / math.cos(math.pi / count), count).translate((bend.radius, 0.0))
    turned = np.column_stack([bend.first, bend.last, np.cross(bend.first, bend.last), bend.centre])
    return Manifold.revolve(tube.scale((around, 1.0)), steps, 90.0).transform(turned)


def _axis(frustum: Frustum) -> Floats:
    """Unit vector from start to end."""
    axis = frustum.end - frustum.start
    result: Floats = axis / np.linalg.norm(axis)
    return result


def _square_to(axis: Floats) -> tuple[Floats, Floats]:
    """Two unit vectors square to ``axis`` and to each other, right-handed with it."""
    helper = np.array([1.0, 0.0, 0.0]) if abs(axis[0]) < 0.9 else np.array([0.0, 1.0, 0.0])
    side = np.cross(axis, helper)
    side /= np.linalg.norm(side)
    return side, np.cross(axis, side)


# Measuring


@dataclass(frozen=True)
class Body:
    """A named thing made of one piece or several."""

    name: str
    shapes: tuple[Shape, ...]

    @cached_property
    def pieces(self) -> tuple[Manifold, ...]:
        return tuple(solid(shape) for shape in self.shapes)

    @cached_property
    def corners(self) -> Floats:
        """Corners of all pieces, (K, 3) m."""
        return np.concatenate([np.empty((0, 3)), *(_corners(piece) for piece in self.pieces)])


def distance(one: Body, other: Body, *, at_most: float) -> float:
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
    across = normals @ _axis(disc)
    bounding = np.abs(across) < SIDE_BY_SIDE
    steep = np.sqrt(1.0 - across[bounding] ** 2)
    return float(np.min((limits - normals @ disc.end)[bounding] / steep)) - max(disc.radii)


def _hole_inside(hole: Frustum, prism: Prism) -> float:
    """Distance in m from a round hole through a panel to the panel's narrow sides."""
    other_end = replace(hole, start=hole.end, end=hole.start)
    return min(_disc_inside(disc, prism) for disc in (hole, other_end))


# Rules


def _is_along(vent: VentSolid) -> bool:
    """Whether a vent's last piece lies along the width, where it may pass braces."""
    return bool(abs(_axis(vent.free_air)[0]) > SIDE_BY_SIDE)


def _widest(shape: Shape) -> float:
    return max(shape.radii) if isinstance(shape, Frustum) else 0.0


def _body(name: str, *shapes: Shape) -> Body:
    return Body(name, shapes)


class _Check:
    """The rules, each as findings about the solids of one arrangement."""

    def __init__(
        self, parts: Arrangement, *, gap: float, round_over: float, free_width: float, driver_air: float
    ) -> None:
        self.parts = parts
        self.gap = gap
        self.round_over = round_over
        self.free_width = free_width
        self.driver_air = driver_air
        self.panels = [_body(f"the {panel.name} panel", panel) for panel in parts.panels]
        self.board = parts.inner.x[0] - parts.outer.x[0]
        self.panel_of = {panel.name: panel for panel in parts.panels}
        self.braces = [_body(brace.name, brace) for brace in parts.braces]
        self.supports = [_body(support.name, support) for support in parts.supports]
        self.drivers = [Body(f"driver {number}", driver.body) for number, driver in enumerate(parts.drivers, start=1)]
        self.radiators = [_body(radiator.body.name, radiator.body) for radiator in parts.radiators]
        self.mounted: list[tuple[Body, DriverSolid | RadiatorSolid]] = [
            *zip(self.drivers, parts.drivers, strict=True),
            *zip(self.radiators, parts.radiators, strict=True),
        ]
        self.pipes = [
            Body(f"vent {number}", (*vent.pipe, *vent.rims)) for number, vent in enumerate(parts.vents, start=1)
        ]
        self.slot = [Body("the slot", parts.slot.boards)] if parts.slot else []
        self.channel = [Body("the air in the slot", (*parts.slot.bore, parts.slot.free_air))] if parts.slot else []
        self.along = [pipe for pipe, vent in zip(self.pipes, parts.vents, strict=True) if _is_along(vent)]
        self.square = [pipe for pipe in self.pipes if pipe not in self.along]
        self.cup = [_body("the terminal cup", parts.cup.body)] if parts.cup else []
        self.rear_air = [
            _body(f"the air behind driver {number}", driver.rear_air)
            for number, driver in enumerate(parts.drivers, start=1)
            if np.any(driver.rear_air.start != driver.rear_air.end)
        ]
        self.terminals = [
            _body(f"the terminals of driver {number}", driver.terminals)
            for number, driver in enumerate(parts.drivers, start=1)
            if driver.terminals
        ]
        self.free_air = [
            _body(f"the air before vent {number}", vent.free_air) for number, vent in enumerate(parts.vents, start=1)
        ]

    def findings(self) -> Iterator[Finding]:
        yield from self._solid_things()
        yield from self._free_places()
        yield from self._on_panels()
        yield from self._within()
        yield from self._beside()

    def _solid_things(self) -> Iterator[Finding]:
        gap, pipes, cup = self.gap, self.pipes, self.cup
        drivers = [*self.drivers, *self.radiators]
        yield from self._apart(combinations(drivers, 2), gap)
        yield from self._apart(product(drivers, [*pipes, *self.slot, *self.braces, *self.supports, *cup]), gap)
        yield from self._apart(product(self.slot, cup), gap)
        yield from self._apart(product(self.slot, [*pipes, *self.braces]), 0.0)
        yield from self._apart(combinations(pipes, 2), gap)
        yield from self._apart(product(pipes, cup), gap)
        yield from self._apart(product(self.square, self.braces), gap)
        yield from self._apart(product(self.along, self.braces), 0.0)
        yield from self._apart(product(pipes, self.supports), 0.0)
        yield from self._apart(product(cup, [*self.braces, *self.supports]), gap)
        yield from self._apart(combinations([*self.braces, *self.supports], 2), 0.0)
        for basket, driver in self.mounted:
            yield from self._apart(product([basket], self._panels_but(driver.panel)), gap)
        for pipe, vent in zip(pipes, self.parts.vents, strict=True):
            yield from self._apart(product([pipe], self._panels_but(vent.through)), gap)
        if self.parts.cup:
            yield from self._apart(product(cup, self._panels_but(self.parts.cup.panel)), gap)

    def _free_places(self) -> Iterator[Finding]:
        """Air and room for tags that nothing solid may take; air may lie in air."""
        others = [*self.pipes, *self.slot, *self.braces, *self.supports, *self.cup, *self.radiators]
        free = [*self.rear_air, *self.terminals]
        yield from self._apart(product(free, others), 0.0)
        yield from self._apart(product(self.rear_air, self.panels), 0.0)
        yield from self._apart(product(self.channel, [*self.drivers, *free, *others]), 0.0)
        yield from self._apart(combinations(self.terminals, 2), 0.0)
        for basket in self.drivers:
            # Tags stand beside their own basket, and the air behind a magnet touches it.
            strangers = [place for place in free if not place.name.endswith(f" {basket.name}")]
            yield from self._apart(product([basket], strangers), 0.0)
        yield from self._apart(product(self.free_air, self.drivers), 0.0)
        yield from self._apart(product(self.free_air, [*others, *self.panels, *self.terminals]), 0.0)
        for terminals, driver in zip(self.terminals, self.parts.drivers, strict=False):
            yield from self._apart(product([terminals], self._panels_but(driver.panel)), 0.0)

    def _on_panels(self) -> Iterator[Finding]:
        """Flanges and mouths on a panel's outer face, holes in the panel."""
        seats = [(f"the flange of {body.name}", driver.flange, driver.panel) for body, driver in self.mounted]
        holes = [(f"the cut-out of {body.name}", driver.cutout, driver.panel) for body, driver in self.mounted]
        if self.parts.cup:
            seats.append(("the flange of the terminal cup", self.parts.cup.flange, self.parts.cup.panel))
            holes.append(("the hole for the terminal cup", self.parts.cup.body, self.parts.cup.panel))
        for (name, one, panel), (other_name, other, other_panel) in combinations(seats, 2):
            if panel == other_panel:
                yield from self._apart([(_body(name, one), _body(other_name, other))], self.gap)
        for name, disc, panel in seats:
            for pipe, vent in zip(self.pipes, self.parts.vents, strict=True):
                if vent.through == panel:
                    yield from self._apart([(_body(name, disc), pipe)], self.gap)
            slot = self.parts.slot
            if slot and slot.through == panel:
                yield from self._apart([(_body(name, disc), _body("the mouth of the slot", slot.bore[0]))], self.gap)
            yield self._off_edges(name, disc, panel)
        for name, hole, panel in holes:
            inside = _hole_inside(self._through(hole), self.panel_of[panel])
            yield Finding(name, f"the {panel} panel", 0.0, min(inside, LOOK), inside=True)
        for pipe, vent in zip(self.pipes, self.parts.vents, strict=True):
            first = max((vent.pipe[0], *vent.rims[:1]), key=_widest)
            assert isinstance(first, Frustum)
            mouth = replace(first, start=first.end, end=first.start)
            yield self._off_edges(f"the mouth of {pipe.name}", mouth, vent.through)
            inside = _hole_inside(self._through(first), self.panel_of[vent.through])
            yield Finding(f"the hole for {pipe.name}", f"the {vent.through} panel", 0.0, min(inside, LOOK), inside=True)
        if self.parts.slot:
            yield from self._slot_mouth(self.parts.slot)

    def _slot_mouth(self, slot: SlotSolid) -> Iterator[Finding]:
        """Whether a slot's mouth lies in its panel, and off the box's rounded edges."""
        name, panel = "the mouth of the slot", f"the {slot.through} panel"
        inside = _depth_inside(_corners(solid(slot.bore[0])), self.panel_of[slot.through])
        yield Finding(name, panel, 0.0, min(inside, LOOK), inside=True)
        normals, limits = _walls(self.parts.outer)
        off = limits - slot.mouth @ normals.T
        # The panel's own outer face, in which all corners lie, is no edge.
        edges = float(np.min(off[:, np.max(np.abs(off), axis=0) > TOLERANCE]))
        yield Finding(name, f"the edge of {panel}", self.round_over, min(edges, self.round_over + LOOK), inside=True)

    def _off_edges(self, name: str, disc: Frustum, panel: str) -> Finding:
        """Whether a disc on the outer face of a panel (its end lies there) keeps off the box's rounded edges."""
        inside = _disc_inside(disc, self.parts.outer)
        return Finding(
            name, f"the edge of the {panel} panel", self.round_over, min(inside, self.round_over + LOOK), inside=True
        )

    def _through(self, tube: Frustum) -> Frustum:
        """The part in the panel of a straight tube that starts on the panel's outer face."""
        return replace(tube, end=tube.start + self.board * _axis(tube))

    def _beyond(self, piece: Shape, mouth: Floats) -> list[Shape]:
        """What of a piece lies behind the panel, if any; one that starts at the outer ``mouth`` passes the panel."""
        if not isinstance(piece, Frustum) or np.any(piece.start != mouth):
            return [piece]
        longer = np.linalg.norm(piece.end - piece.start) > self.board + TOLERANCE
        return [replace(piece, start=piece.start + self.board * _axis(piece))] if longer else []

    def _within(self) -> Iterator[Finding]:
        inner = self.parts.inner
        solid_things = [*self.drivers, *self.radiators, *self.slot, *self.braces, *self.supports]
        for body in [*solid_things, *self.rear_air, *self.terminals, *self.free_air]:
            yield self._inside(body.name, body.corners, inner)
        if self.parts.slot:
            channel = Body("the air in the slot", (*self.parts.slot.bore[1:], self.parts.slot.free_air))
            yield self._inside(channel.name, channel.corners, inner)
        pipes = [(body.name, body.shapes) for body in self.pipes]
        cup = [("the terminal cup", (self.parts.cup.body,))] if self.parts.cup else []
        for name, (first, *rest) in [*pipes, *cup]:
            assert isinstance(first, Frustum)
            beyond = [piece for each in (first, *rest) for piece in self._beyond(each, first.start)]
            yield self._inside(name, Body(name, tuple(beyond)).corners, inner)

    def _inside(self, name: str, corners: Floats, inner: Prism) -> Finding:
        return Finding(name, "the inside of the box", 0.0, min(_depth_inside(corners, inner), LOOK), inside=True)

    def _beside(self) -> Iterator[Finding]:
        """Whether the space leaves the air that a driver or vents in the sides of the box need."""
        left = max((float(-vent.outside.start[0]) for vent in self.parts.vents if vent.outside), default=0.0)
        if self.parts.slot and self.parts.slot.outside:
            left = max(left, -self.parts.slot.outside.x[0])
        right = self.driver_air if any(driver.panel == "right side" for driver in self.parts.drivers) else 0.0
        room = self.free_width - (self.parts.outer.x[1] + left + right)
        if left or right:
            name = "the box with the air its sides need"
            yield Finding(name, "the width of the space", 0.0, min(room, LOOK), inside=True)

    def _panels_but(self, name: str) -> list[Body]:
        return [panel for panel in self.panels if panel.name != f"the {name} panel"]

    def _apart(self, pairs: Iterable[tuple[Body, Body]], required: float) -> Iterator[Finding]:
        for one, other in pairs:
            yield Finding(one.name, other.name, required, distance(one, other, at_most=required + LOOK))
