"""A closed outline on a face, of straight lines and true arcs."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

import numpy as np
import shapely

from engine.arrays import Floats, Integers
from engine.space.bodies import Circle

FINE = 1e-5  # m, between an arc and the straight pieces that stand for it
NEAR = 1e-6  # m
SHORT = 5e-5  # m, of a side
# Corners of facets drawn round a circle lie off it by a share of its radius (64 facets, see ``space.interior``).
ROUND_IT = 1.0 / math.cos(math.pi / 64.0) - 1.0
WIDEST = 0.2  # radii between neighbours on an arc: a 64th of a circle is half that
GRAZING = 10.0  # times its distance from an arc: a line that meets it only farther on is a tangent
AROUND = 3  # corners in a row on one circle that make an arc


@dataclass(frozen=True, eq=False)
class Ring:
    """A closed outline, anticlockwise: its corners (K, 2) in m and how each side from one to the next bulges, (K,).

    The bulge of a side is tan(a quarter of the angle of its arc), positive where the arc turns anticlockwise; 0 is
    straight, 1 half a circle.
    """

    points: Floats
    bulges: Floats

    @classmethod
    def straight(cls, points: Floats | Sequence[Sequence[float]]) -> Ring:
        """A polygon, in whichever sense its corners come."""
        corners = np.asarray(points, dtype=float)
        if _doubled_area(corners) < 0.0:
            corners = corners[::-1]
        return cls(corners, np.zeros(len(corners)))

    @classmethod
    def circle(cls, centre: Floats | Sequence[float], radius: float) -> Ring:
        middle, out = np.asarray(centre, dtype=float), np.array([radius, 0.0])
        return cls(np.array([middle + out, middle - out]), np.ones(2))

    @classmethod
    def through(cls, corners: Floats, circles: Sequence[Circle]) -> Ring:
        """An outline whose corners (N, 2) stand for arcs of some ``circles`` wherever several lie on or just round one.

        The arcs are those of the circles themselves: where a straight side runs into one, it ends on it.
        """
        points = np.asarray(corners, dtype=float)
        if _doubled_area(points) < 0.0:
            points = points[::-1]
        lies_on = _circle_of(points, circles)
        begins = [
            lies_on[k] != lies_on[k - 1] or _chord(points[k - 1], points[k], lies_on[k], circles)
            for k in range(len(points))
        ]
        if not any(begins) and lies_on[0] >= 0:
            whole = circles[lies_on[0]]
            return cls.circle(whole.centre, whole.radius)
        # Start where a run begins, so that none goes over the end of the list.
        first = begins.index(True) if any(begins) else 0
        points, lies_on = np.roll(points, -first, axis=0), np.roll(lies_on, -first)
        starts = [k for k, new in enumerate(np.roll(begins, -first)) if new or k == 0]
        found: list[Floats] = []
        bulges: list[float] = []
        for start, stop in zip(starts, [*starts[1:], len(points)], strict=True):
            run = points[start:stop]
            if lies_on[start] < 0 or len(run) < AROUND:
                found += list(run)
                bulges += [0.0] * len(run)
                continue
            circle = circles[lies_on[start]]
            ends = [_onto(circle, run[0], points[start - 1]), _onto(circle, run[-1], points[stop % len(points)])]
            bulges += [math.tan(_swept(circle, [ends[0], *run[1:-1], ends[1]]) / 4.0), 0.0]
            found += ends
        return cls(np.array(found), np.array(bulges))

    @cached_property
    def round(self) -> Circle | None:
        """The circle that it is; None of any other outline."""
        if len(self.points) == 2 and np.allclose(self.bulges, 1.0, atol=1e-12):
            middle = self.points.mean(axis=0)
            return Circle(middle, float(np.linalg.norm(self.points[0] - middle)))
        return None

    @cached_property
    def area(self) -> float:
        """What it encloses, m², its arcs true."""
        chords = np.linalg.norm(np.roll(self.points, -1, axis=0) - self.points, axis=1)
        turn = 4.0 * np.arctan(self.bulges)
        with np.errstate(all="ignore"):
            radius = np.where(turn == 0.0, 0.0, 0.5 * chords / np.sin(0.5 * np.abs(turn)))
        segments = 0.5 * radius**2 * (turn - np.sin(turn))
        return 0.5 * _doubled_area(self.points) + float(segments.sum())

    @property
    def length(self) -> float:
        """Round it, m."""
        chords = np.linalg.norm(np.roll(self.points, -1, axis=0) - self.points, axis=1)
        turn = np.abs(4.0 * np.arctan(self.bulges))
        with np.errstate(all="ignore"):
            return float(np.where(turn == 0.0, chords, 0.5 * chords * turn / np.sin(0.5 * turn)).sum())

    def corners(self, tolerance: float = FINE) -> Floats:
        """Points (N, 2) of a polygon whose sides keep within ``tolerance`` of it, m; corners lie on it."""
        found = []
        for start, turn, circle in self._sides:
            if circle is None:
                found.append(start[np.newaxis])
                continue
            step = 2.0 * math.acos(max(1.0 - tolerance / circle.radius, 0.0))
            turned = np.linspace(0.0, turn, max(math.ceil(abs(turn) / step), 2), endpoint=False)[:, np.newaxis]
            out = start - circle.centre
            found.append(circle.centre + np.cos(turned) * out + np.sin(turned) * np.array([-out[1], out[0]]))
        return np.concatenate(found)

    def polygon(self, tolerance: float = FINE) -> shapely.Polygon:
        return shapely.Polygon(self.corners(tolerance))

    @property
    def arcs(self) -> tuple[Circle, ...]:
        """The circle of each side that is an arc."""
        return tuple(circle for _, _, circle in self._sides if circle is not None)

    @cached_property
    def _sides(self) -> list[tuple[Floats, float, Circle | None]]:
        """Of each side where it starts, the angle that it turns by in rad, and its circle where it is an arc."""
        found: list[tuple[Floats, float, Circle | None]] = []
        for start, end, bulge in zip(self.points, np.roll(self.points, -1, axis=0), self.bulges, strict=True):
            turn, circle = 4.0 * math.atan(float(bulge)), None
            if turn != 0.0:
                chord = end - start
                centre = 0.5 * (start + end) + 0.5 / math.tan(0.5 * turn) * np.array([-chord[1], chord[0]])
                circle = Circle(centre, float(np.linalg.norm(start - centre)))
            found.append((start, turn, circle))
        return found

    def moved(self, by: Floats) -> Ring:
        return Ring(self.points + by, self.bulges)


def _doubled_area(points: Floats) -> float:
    x, y = points.T
    return float(np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y))


def _chord(one: Floats, other: Floats, place: int, circles: Sequence[Circle]) -> bool:
    """Whether two points on one circle are too far apart to be neighbours on an arc."""
    return bool(place >= 0 and np.linalg.norm(other - one) > WIDEST * circles[place].radius)


def _circle_of(points: Floats, circles: Sequence[Circle]) -> Integers:
    """Which circle each point lies on, or just outside; -1 on none."""
    found = np.full(len(points), -1)
    for place, circle in enumerate(circles):
        off = np.linalg.norm(points - circle.centre, axis=1) - circle.radius
        found[(off > -NEAR) & (off < ROUND_IT * circle.radius + NEAR) & (found < 0)] = place
    return found


def _onto(circle: Circle, point: Floats, from_: Floats) -> Floats:
    """Where the straight line from a point outside an arc to its end ``point`` meets the circle; else straight out."""
    out = point - circle.centre
    off = float(np.linalg.norm(out)) - circle.radius
    way = point - from_
    long = float(np.linalg.norm(way))
    if off > NEAR and long > NEAR:
        way = way / long
        along = float(out @ way)
        under = along**2 - float(out @ out) + circle.radius**2
        if under > 0.0:
            ahead = -along + np.array([-1.0, 1.0]) * math.sqrt(under)
            nearest = float(ahead[np.argmin(np.abs(ahead))])
            if abs(nearest) < GRAZING * off:
                return np.asarray(point + nearest * way)
    return np.asarray(circle.centre + circle.radius * out / np.linalg.norm(out))


def _swept(circle: Circle, run: Sequence[Floats]) -> float:
    """Angle that a run of points goes round a circle, rad; positive anticlockwise."""
    out = np.array(run) - circle.centre
    angles = np.unwrap(np.arctan2(out[:, 1], out[:, 0]))
    return float(angles[-1] - angles[0])


def sharp(ring: Ring) -> tuple[Floats, float]:
    """Corners of an outline as if they were sharp, and the radius they are rounded to; its own and 0 of any other."""
    arcs = ring.arcs
    radii = {round(arc.radius, 6) for arc in arcs}
    turned = ring.bulges != 0.0
    if len(radii) != 1 or 2 * turned.sum() != len(turned) or np.any(turned & np.roll(turned, 1)):
        return ring.points, 0.0
    found = []
    count = len(ring.points)
    for k in np.flatnonzero(turned):
        before, start = ring.points[k - 1], ring.points[k]
        end, after = ring.points[(k + 1) % count], ring.points[(k + 2) % count]
        ways = np.column_stack([start - before, end - after])
        if abs(float(np.linalg.det(ways))) < SHORT**2:  # half a round end
            return ring.points, 0.0
        share = np.linalg.solve(ways, end - start)
        found.append(start + share[0] * (start - before))
    return np.array(found), radii.pop()
