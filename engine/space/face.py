"""The panel that carries the drivers, as a frame to place things in: along it and square to it.

A place is given by s, metres along the panel's outer face from its lower (or rear) edge,
and by the depth d behind that face.  The inner faces of the three panels round it are
half planes in these coordinates, so whatever is kept clear of them shifts linearly with s
and the places of a body are an interval.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Self

import numpy as np
from numpy.typing import NDArray

from engine.facings import DOWN, SIDEWAYS
from engine.packing.contents import Contents
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Rows = NDArray[np.intp]


@dataclass(frozen=True, kw_only=True)
class Plane:
    """The inner face of a panel: the inside is along·s + inward·d ≤ limit, arrays (N,); a unit normal."""

    along: Floats
    inward: Floats
    limit: Floats

    def take(self, rows: Rows) -> Plane:
        return Plane(along=self.along[rows], inward=self.inward[rows], limit=self.limit[rows])

    def nearer(self, by: Floats) -> Plane:
        return replace(self, limit=self.limit - by)


@dataclass(frozen=True, kw_only=True)
class Face:
    """Mounting panels of N boxes.

    ``origin`` (N, 2) is the point (y, z) where s = 0, ``up`` (N, 2) the unit vector along
    s; the inside lies to its left.  ``low`` and ``high`` are the panels at either end,
    ``opposite`` the one across.
    """

    origin: Floats
    up: Floats
    length: Floats
    low: Plane
    high: Plane
    opposite: Plane

    def take(self, rows: Rows) -> Face:
        return Face(
            origin=self.origin[rows],
            up=self.up[rows],
            length=self.length[rows],
            low=self.low.take(rows),
            high=self.high.take(rows),
            opposite=self.opposite.take(rows),
        )

    def less(self, taken: Floats, *, facing: Integers, low: bool) -> Face:
        """The same in boxes whose bottom (``low``) or top is nearer by ``taken`` (N,) m."""
        along_bottom = facing == DOWN
        if low:
            return replace(self, low=self.low.nearer(np.where(along_bottom, 0.0, taken)))
        return replace(
            self,
            high=self.high.nearer(np.where(along_bottom, 0.0, taken)),
            opposite=self.opposite.nearer(np.where(along_bottom, taken, 0.0)),
        )

    def of(self, y: Floats, z: Floats) -> tuple[Floats, Floats]:
        """Places (s, d) of points of the section, (N,) m."""
        y, z = y - self.origin[:, 0], z - self.origin[:, 1]
        return y * self.up[:, 0] + z * self.up[:, 1], z * self.up[:, 0] - y * self.up[:, 1]

    def at(self, s: Floats, d: Floats) -> tuple[Floats, Floats]:
        """Points (y, z) of the section at places (s, d), (N,) m."""
        y = self.origin[:, 0] + s * self.up[:, 0] - d * self.up[:, 1]
        z = self.origin[:, 1] + s * self.up[:, 1] + d * self.up[:, 0]
        return y, z


def face_of(wedges: Wedges, facing: Integers) -> Face:
    """The baffle, or the bottom panel where drivers face down; sideways drivers leave the baffle to vents."""
    count, board = len(wedges), wedges.board
    zero, one = np.zeros(count), np.ones(count)
    secant, slope = wedges.baffle_secant, wedges.baffle_slope
    back_secant = np.hypot(1.0, wedges.back_slope)
    down = facing == DOWN
    # Outward normals (y, z) and limits of the four inner faces.
    floor = (zero, -one, -board * one)
    ceiling = (zero, one, wedges.outer_height - board)
    back = (-one / back_secant, wedges.back_slope / back_secant * one, -board * one)
    front = (one / secant, -slope / secant, wedges.bottom_depth / secant - board)
    origin = np.stack([np.where(down, 0.0, wedges.bottom_depth), zero], axis=-1)
    up = np.stack([np.where(down, 1.0, slope / secant), np.where(down, 0.0, 1.0 / secant)], axis=-1)

    def plane(of_front: tuple[Floats, Floats, Floats], of_bottom: tuple[Floats, Floats, Floats]) -> Plane:
        y, z, limit = (np.where(down, b, f) for f, b in zip(of_front, of_bottom, strict=True))
        return Plane(
            along=y * up[:, 0] + z * up[:, 1],
            inward=z * up[:, 0] - y * up[:, 1],
            limit=limit - y * origin[:, 0] - z * origin[:, 1],
        )

    return Face(
        origin=origin,
        up=up,
        length=np.where(down, wedges.bottom_depth, wedges.outer_height * secant),
        low=plane(floor, back),
        high=plane(ceiling, front),
        opposite=plane(back, ceiling),
    )


@dataclass(frozen=True, kw_only=True)
class Places:
    """Where something may stand along a panel: low ≤ s ≤ high, (N,) m; one point where it fits nowhere."""

    low: Floats
    high: Floats
    height_slack: Floats
    depth_slack: Floats

    def take(self, rows: Rows) -> Self:
        return type(self)(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})


@dataclass(frozen=True)
class End:
    """A level of a body: half its width along s, its depth, and the gap it keeps to the panels, m."""

    half: Floats
    depth: Floats
    gap: Floats | float


def places(face: Face, *, ends: tuple[End, ...], edge: Floats, high_edge: Floats | None = None) -> Places:
    """Places along a panel for a body made of ``ends``, itself ``edge`` inside the ends of the outer face.

    Between two of its ends the body is no wider than the straight line between them, so the
    ends alone decide about straight panels.  ``high_edge`` is for the upper end if it is another.
    """
    low, high = edge, face.length - (edge if high_edge is None else high_edge)
    reach = np.full(len(edge), np.inf)
    for end in ends:
        at_low, at_high = -face.low.along, face.high.along
        low = np.maximum(low, (face.low.inward * end.depth + at_low * end.half - face.low.limit + end.gap) / at_low)
        high = np.minimum(
            high, (face.high.limit - end.gap - at_high * end.half - face.high.inward * end.depth) / at_high
        )
        across = face.opposite
        reach = np.minimum(reach, across.limit - end.gap - np.abs(across.along) * end.half - across.inward * end.depth)
    height_slack = high - low
    middle = 0.5 * (low + high)
    low, high = np.minimum(low, middle), np.maximum(high, middle)
    lean = face.opposite.along  # the opposite panel comes nearer with growing s where this is positive
    roomiest = np.where(lean > 0.0, low, high)
    depth_slack = reach - lean * roomiest
    travel = np.maximum(depth_slack, 0.0) / np.maximum(np.abs(lean), 1e-12)
    return Places(
        low=np.where(lean > 0.0, low, np.maximum(low, high - travel)),
        high=np.where(lean > 0.0, np.minimum(high, low + travel), high),
        height_slack=height_slack,
        depth_slack=depth_slack,
    )


Both = tuple[Floats | float, Floats | float]


def driver_places(
    wedges: Wedges,
    face: Face,
    contents: Contents,
    *,
    gap: float,
    round_over: float,
    taken: Both = (0.0, 0.0),
    window: Both = (0.0, 0.0),
) -> Places:
    """Places for one driver: in the baffle or the bottom along s, in the side panel by the height z.

    ``taken`` is the height inside that a slot takes at bottom and top, which ``face`` is less already;
    ``window`` what its mouth takes at either end of the panel for flanges.
    """
    board = wedges.board
    hole, magnet = 0.5 * contents.cutout_diameter, 0.5 * contents.magnet_diameter
    reach, neck = contents.reach(board), contents.neck(board)
    zero = np.zeros(len(wedges))
    ends = (
        End(hole, zero, gap),
        End(hole, zero + board, gap),
        End(magnet, neck, gap),
        End(magnet, reach, gap),
        End(magnet, reach + contents.rear_gap, 0.0),
    )
    flange = 0.5 * contents.outer_diameter
    low_edge, high_edge = (flange + np.maximum(round_over, end) for end in window)
    found = places(face, ends=ends, edge=low_edge, high_edge=high_edge)
    sideways = contents.facing == SIDEWAYS
    if not sideways.any():
        return found
    beside = _in_side_panel(wedges, contents, gap=gap, round_over=round_over, taken=taken)
    return Places(
        **{
            field.name: np.where(sideways, getattr(beside, field.name), getattr(found, field.name))
            for field in fields(Places)
        }
    )


def radiator_places(face: Face, contents: Contents, *, board: float, gap: float, round_over: float) -> Places:
    """Places s for one passive radiator, a body as wide as its cut-out, in the drivers' panel or the baffle."""
    hole, reach = 0.5 * contents.radiator_cutout, np.maximum(contents.radiator_depth, board)
    ends = (End(hole, np.zeros(len(hole)), gap), End(hole, reach, gap))
    return places(face, ends=ends, edge=0.5 * contents.radiator_outer + round_over)


def side_panel_edge(
    diameter: Floats | float, flange: Floats | float, *, board: float, gap: float, round_over: float
) -> Floats:
    """Distance in m that the centre of a round hole in the side panel keeps from the panels' outer faces."""
    return np.maximum(board + 0.5 * np.asarray(diameter) + gap, 0.5 * np.asarray(flange) + round_over)


def _in_side_panel(wedges: Wedges, contents: Contents, *, gap: float, round_over: float, taken: Both) -> Places:
    """Heights z for a driver in the side panel, midway between back and baffle.

    The depth left for it there changes linearly with z.  ``depth_slack`` is of that depth
    or of the width behind it, whichever is less.
    """
    board = wedges.board
    edge = side_panel_edge(
        contents.inside_diameter, contents.outer_diameter, board=board, gap=gap, round_over=round_over
    )
    inside = board + 0.5 * contents.inside_diameter + gap
    low, high = np.maximum(edge, inside + taken[0]), wedges.outer_height - np.maximum(edge, inside + taken[1])
    height_slack = high - low
    middle = 0.5 * (low + high)
    low, high = np.minimum(low, middle), np.maximum(high, middle)
    roomiest = np.where(wedges.taper > 0.0, high, low)
    slack = side_room(wedges, roomiest, edge)
    travel = np.maximum(slack, 0.0) / np.maximum(np.abs(wedges.taper), 1e-12)
    behind = wedges.inner_width - sideways_room(contents, board=board, gap=gap)
    return Places(
        low=np.where(wedges.taper > 0.0, np.maximum(low, high - travel), low),
        high=np.where(wedges.taper > 0.0, high, np.minimum(high, low + travel)),
        height_slack=height_slack,
        depth_slack=np.minimum(slack, behind),
    )


def side_room(wedges: Wedges, z: Floats, edge: Floats) -> Floats:
    """Depth left at height z between centres kept ``edge`` off back and off baffle, (N,) m."""
    back_secant = np.hypot(1.0, wedges.back_slope)
    room: Floats = wedges.bottom_depth + wedges.taper * z - edge * (wedges.baffle_secant + back_secant)
    return room


def side_middle(wedges: Wedges, z: Floats, edge: Floats) -> Floats:
    """Depth y midway between those centres, (N,) m."""
    rear = wedges.back_slope * z + edge * np.hypot(1.0, wedges.back_slope)
    middle: Floats = rear + 0.5 * side_room(wedges, z, edge)
    return middle


def sideways_room(contents: Contents, *, board: float, gap: float) -> Floats:
    """Width inside the box that a driver in the side panel takes, with the air behind it, (N,) m."""
    return contents.reach(board) + np.maximum(contents.rear_gap, gap) - board
