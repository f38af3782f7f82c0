"""Whether a box goes through the door opening and can be turned behind it."""

from __future__ import annotations

import math
from typing import NamedTuple

import numpy as np

from engine.arrays import Floats
from engine.core.compiled import borrowing, compiled, in_pieces
from engine.parts import Door
from engine.space.runs import TOUCH
from engine.space.wedge import Wedges

DIAGONALS = ((0, 2), (1, 3))  # farthest apart of a rectangle's corners, whatever the direction
PAIRS = (*DIAGONALS, (0, 1), (0, 3), (1, 2), (2, 3))  # of a section's corners


class Vector(NamedTuple):
    """A corner of a section or a way from one to another, m; or a direction."""

    y: float
    z: float


Section = tuple[Vector, Vector, Vector, Vector]  # corners: bottom back, bottom front, top front, top back


class Opening(NamedTuple):
    """A door as the bare box meets it, the covering taken off; m."""

    width: float
    height: float
    turning_room: float


def door_violation(wedges: Wedges, door: Door, *, covering: float) -> Floats:
    """How much boxes are too big for a door, (N,) m; 0 or less where they pass.

    The box is moved straight through the opening, turned about its direction of travel as suits it best, in one of two
    ways: lengthwise, when its section must go through the opening, or flat, moved in the plane of its section with its
    thinnest side towards the sill, when a rectangle of its outer width by its section's least width must go through.

    For these ways the answer whether it passes is exact.  Tilting it while it is halfway through, which lets a longer
    box round a corner, is left out.  To turn it on its way, a circle must hold the same rectangle: the box is turned
    about the axis square to its width and its least thickness, and ``hypot(width, thickness)`` may not exceed
    ``door.turning_room``.  The covering (m) is taken to wrap round the edges, which adds twice its thickness in every
    direction.  Where a box does not pass, the violation is the least it exceeds the opening by in width or height at
    any angle, or what it exceeds the turning room by if that is more.
    """
    taken = 2.0 * covering
    opening = Opening(door.width - taken, door.height - taken, door.turning_room - taken)
    violation = np.empty(len(wedges))
    in_pieces(_pass, len(wedges), wedges.outer_width, wedges.outer_section, opening, violation)
    return violation


@borrowing
def _pass(start: int, stop: int, widths: Floats, corners: Floats, opening: Opening, violation: Floats) -> None:
    """By how much boxes of some ``widths`` (N,) and sections (N, 4, 2) are too big for an opening: ``violation``."""
    for row in range(start, stop):
        violation[row] = _too_big(widths[row], section_of(corners[row]), opening)


@borrowing
def section_of(corners: Floats) -> Section:
    """A section whose corners (4, 2) are given in order."""
    a, b, c, d = corners[0], corners[1], corners[2], corners[3]
    return Vector(a[0], a[1]), Vector(b[0], b[1]), Vector(c[0], c[1]), Vector(d[0], d[1])


@compiled
def _too_big(width: float, section: Section, opening: Opening) -> float:
    thickness = least_width(section)
    broad_side = (Vector(0.0, 0.0), Vector(width, 0.0), Vector(width, thickness), Vector(0.0, thickness))
    turning = math.hypot(width, thickness) - opening.turning_room
    through = min(_level_overrun(section, opening), _level_overrun(broad_side, opening))
    if through > max(turning, 0.0):
        through = min(through, _least_overrun(broad_side, len(DIAGONALS), opening))
    if through > max(turning, 0.0):
        through = min(through, _least_overrun(section, len(PAIRS), opening))
    return max(through, turning) - TOUCH


@compiled
def least_width(section: Section) -> float:
    """The least distance of two parallel lines that hold a convex section between them, m.

    It is found with one of the lines along a side of the section.
    """
    least = math.inf
    for pair in range(len(PAIRS)):
        u, length = _directed(_side(section, pair))
        if length > TOUCH:
            least = min(least, _spread(section, Vector(-u.z, u.y)))
    return least


@compiled
def _side(section: Section, pair: int) -> Vector:
    """From one corner of a pair to the other."""
    one, other = section[PAIRS[pair][0]], section[PAIRS[pair][1]]
    return Vector(other.y - one.y, other.z - one.z)


@compiled
def _spread(section: Section, along: Vector) -> float:
    """How far a section reaches along a direction."""
    lowest, highest = math.inf, -math.inf
    for corner in section:
        reach = corner.y * along.y + corner.z * along.z
        lowest, highest = min(lowest, reach), max(highest, reach)
    return highest - lowest


@compiled
def _level_overrun(section: Section, opening: Opening) -> float:
    """By how much a section exceeds an opening without being turned, either way round, m."""
    deep, high = _spread(section, Vector(1.0, 0.0)), _spread(section, Vector(0.0, 1.0))
    return min(max(deep - opening.width, high - opening.height), max(deep - opening.height, high - opening.width))


@compiled
def _least_overrun(section: Section, pairs: int, opening: Opening) -> float:
    """By how much a convex section exceeds an opening, turned as suits it best, m.

    The first ``pairs`` of corners are those that can be farthest apart in some direction.  With the opening turned by
    θ, the width a section takes is the largest |d·u(θ)| and the height the largest |d×u(θ)| of the ways d from one
    corner of a pair to the other.  The larger overrun is least either where one of the two is least, with two corners
    level, or where both are the same, |d·u| - |e×u| being what the opening's sides differ by for two ways d, e; all
    these angles are tried.
    """
    least = math.inf
    for one in range(pairs):
        d = _side(section, one)
        u, _ = _directed(d)
        least = min(least, _overrun(section, u, opening), _overrun(section, Vector(-u.z, u.y), opening))
        for other in range(pairs):
            e = _side(section, other)
            for sign in (1.0, -1.0):
                # d·u ∓ e×u = a·cos θ + b·sin θ; turning u round by half a turn gives the other signs.
                u, length = _directed(Vector(d.y + sign * e.z, d.z - sign * e.y))
                cos = min(max((opening.width - opening.height) / length, -1.0), 1.0)
                sin = math.sqrt(1.0 - cos * cos)
                here = _overrun(section, Vector(u.y * cos - u.z * sin, u.z * cos + u.y * sin), opening)
                there = _overrun(section, Vector(u.y * cos + u.z * sin, u.z * cos - u.y * sin), opening)
                least = min(least, here, there)
    return least


@compiled
def _overrun(section: Section, u: Vector, opening: Opening) -> float:
    """By how much a section exceeds an opening turned so that its width lies along ``u``."""
    return max(_spread(section, u) - opening.width, _spread(section, Vector(-u.z, u.y)) - opening.height)


@compiled
def _directed(along: Vector) -> tuple[Vector, float]:
    """The unit vector along a way and the way's length; any direction for one that has none."""
    length = math.hypot(along.y, along.z)
    if length > TOUCH:
        return Vector(along.y / length, along.z / length), length
    return Vector(1.0, 0.0), TOUCH
