"""What is drawn: one design with its solids, where it stands, and its panels as faces to measure on."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property
from typing import Any, Literal

import numpy as np
import shapely

from engine.arrays import Floats
from engine.openings import OPENINGS
from engine.parts import Driver
from engine.space import bodies, roles

IN_LINE = 1e-6  # m
LOOSE = 0.15  # m, how far out of the box a vent is drawn that does not fit into it
STUMP = 1e-3  # m, what is left at least of a pipe that is cut short


@dataclass(frozen=True, kw_only=True)
class Design:
    """One design: its solids in the box's axes, and what else a drawing of it says.

    ``place`` is the box's outer bottom back left corner in the space (x, y, z), m.  ``facts`` are what the front
    states about it, a row by columns; empty for a design that stands in none, which is described by its solids.
    """

    parts: bodies.Assembly
    driver: Driver
    place: Floats = field(default_factory=lambda: np.zeros(3))
    round_over: float = 0.0  # m
    facts: Mapping[str, Any] = field(default_factory=dict)

    @property
    def braces(self) -> tuple[bodies.Body, ...]:
        return self.parts.of(roles.BRACE, roles.DOWEL)

    @property
    def width(self) -> float:
        return self.parts.outer.x[1] - self.parts.outer.x[0]

    @property
    def height(self) -> float:
        return float(np.ptp(self._corners[:, 1]))

    @property
    def bottom_depth(self) -> float:
        return float(self._corners[1, 0] - self._corners[0, 0])

    @property
    def top_depth(self) -> float:
        return float(self._corners[2, 0] - self._corners[3, 0])

    @property
    def depth(self) -> float:
        """From the rearmost to the foremost point, m."""
        return float(np.ptp(self._corners[:, 0]))

    @property
    def _corners(self) -> Floats:
        return self.parts.outer.section

    @property
    def leans(self) -> tuple[float, float]:
        """Angles of back and baffle from upright, positive where they lean forward going up, rad.

        The baffle's is what the saw is set to, where that is known.
        """
        corners = self._corners
        back, baffle = (math.atan2(*map(float, side)) for side in (corners[3] - corners[0], corners[2] - corners[1]))
        sawn = self.facts.get("baffle_angle_deg")
        return back, baffle if sawn is None else -math.radians(float(sawn))

    @property
    def low(self) -> Floats:
        """Least coordinates of the box in the space, (3,)."""
        return np.array([self.parts.outer.x[0], *self._corners.min(axis=0)]) + self.place

    @property
    def high(self) -> Floats:
        """Greatest coordinates of the box in the space, (3,)."""
        return np.array([self.parts.outer.x[1], *self._corners.max(axis=0)]) + self.place

    @property
    def cutouts(self) -> tuple[bodies.Body, ...]:
        """Of drivers, then of what is mounted beside them."""
        return self.parts.of(roles.CUTOUT)

    @property
    def cut(self) -> float:
        """Where the section is taken, m from the left outer face: through something mounted, or in the middle."""
        across = [float(body.frusta[0].start[0]) for body in self.cutouts if body.panel not in bodies.SIDES]
        return across[0] if across else 0.5 * sum(self.parts.outer.x)

    def passes(self, shape: bodies.Solid) -> bool:
        """Whether the section passes through a solid."""
        low, high = bodies.across(shape)
        return low <= self.cut <= high if isinstance(shape, bodies.Prism) else low < self.cut < high

    @cached_property
    def seats(self) -> dict[bodies.Thing, Literal["cut", "beside", "end on"]]:
        """Whether the section passes through the axis of each mounted thing, beside it, or shows it end on."""
        found: dict[bodies.Thing, Literal["cut", "beside", "end on"]] = {}
        for body in self.cutouts:
            in_line = abs(float(body.frusta[0].start[0]) - self.cut) < IN_LINE
            found[body.thing] = "end on" if body.panel in bodies.SIDES else "cut" if in_line else "beside"
        return found

    @property
    def driven(self) -> str:
        """Name of the panel that the drivers are in."""
        return next((body.panel for body in self.cutouts if body.thing.kind == "driver"), "baffle")

    def flares(self, body: bodies.Body) -> list[bodies.Body]:
        """Those of the vent that a body belongs to, as they are drawn."""
        return [other for other in self.drawn if other.thing == body.thing and other.role is roles.FLARE]

    def dimensions(self, view: Literal["section", "plan"]) -> list[bodies.Dimension]:
        """Sizes that openings add to a drawing."""
        drawn = replace(self.parts, bodies=self.drawn)
        vents = [(opening, own) for opening in OPENINGS.records for own in drawn.kind(opening.name)]
        return [size for opening, own in vents for size in opening.dimensions(own) if size.view == view]

    # What does not fit reaches out of the box, perhaps far.

    @cached_property
    def drawn(self) -> tuple[bodies.Body, ...]:
        """Bodies as they are drawn: nothing that begins far off the box, nothing much beyond it."""
        return tuple(body for own in self.parts.things.values() for body in self._kept(own))

    @property
    def all_drawn(self) -> bool:
        return all(map(self._fits, self.parts.things.values()))

    def _fits(self, own: Sequence[bodies.Body]) -> bool:
        """Whether a thing reaches nowhere far out of the box."""
        return all(self._near(shape) for body in own if body.role.trimmed for shape in body.solids)

    @cached_property
    def _around(self) -> tuple[Floats, Floats]:
        return self.low - self.place - LOOSE, self.high - self.place + LOOSE

    def _holds(self, point: Floats) -> bool:
        low, high = self._around
        return bool(np.all((point > low) & (point < high)))

    def _near(self, shape: bodies.Solid) -> bool:
        low, high = self._around
        if isinstance(shape, bodies.Prism):
            inside = np.all((shape.section >= low[1:]) & (shape.section <= high[1:]))
            return bool(shape.x[0] >= low[0] and shape.x[1] <= high[0] and inside)
        if isinstance(shape, bodies.Bend):
            return True
        return self._holds(shape.start) and self._share(shape.start, shape.end) >= 1.0

    def _share(self, start: Floats, end: Floats) -> float:
        """Part of the way between two points after which it leaves what is drawn."""
        way = end - start
        low, high = self._around
        with np.errstate(divide="ignore", invalid="ignore"):
            shares = np.where(way > 0.0, (high - start) / way, (low - start) / way)
        return float(np.min(shares[way != 0.0], initial=np.inf))

    def _kept(self, own: Sequence[bodies.Body]) -> list[bodies.Body]:
        """What is drawn of a thing; of one that reaches far out of the box nothing where it begins out there."""
        if self._fits(own):
            # Where parts lie over one another nothing may be left of a block.
            most = self.parts.outer.x[1] + LOOSE
            real = [all(len(each.section) > 2 and each.x[1] <= most for each in body.prisms) for body in own]
            return [body for body, is_real in zip(own, real, strict=True) if is_real or body.role is not roles.BLOCK]
        kept = []
        for body in own:
            shapes = [self._cut_off(shape) for shape in body.shapes]
            if all(shape is not None for shape in shapes):
                kept.append(replace(body, shapes=tuple(shape for shape in shapes if shape is not None)))
            elif body.role.trimmed:
                return []
        return kept

    def _cut_off(self, shape: bodies.Shape) -> bodies.Shape | None:
        if isinstance(shape, bodies.Prism):
            return shape if self._near(shape) else self._cut_prism(shape)
        if isinstance(shape, bodies.Frustum):
            return replace(shape, end=self._as_far(shape.start, shape.end)) if self._holds(shape.start) else None
        if isinstance(shape, bodies.Path):
            points, whole = [shape.points[0]], True
            for point in shape.points[1:]:
                points.append(self._as_far(points[-1], point) if whole else points[-1])
                whole = whole and points[-1] is point
            return replace(shape, points=np.array(points))
        return shape

    def _as_far(self, start: Floats, end: Floats) -> Floats:
        share, way = self._share(start, end), end - start
        return end if share >= 1.0 else np.asarray(start + max(share, STUMP / float(np.linalg.norm(way))) * way)

    def _cut_prism(self, prism: bodies.Prism) -> bodies.Prism | None:
        low, high = self._around
        x = max(prism.x[0], float(low[0])), min(prism.x[1], float(high[0]))
        section = shapely.make_valid(shapely.Polygon(prism.section)).intersection(shapely.box(*low[1:], *high[1:]))
        if x[0] >= x[1] or section.geom_type != "Polygon" or section.is_empty:
            return None
        return replace(prism, x=x, section=np.asarray(section.exterior.coords)[:-1])
