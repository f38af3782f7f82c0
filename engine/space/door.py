"""Whether a box goes through the door opening and can be turned behind it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import combinations, product

import numpy as np

from engine.parts import Door
from engine.space.runs import TOUCH, Floats
from engine.space.wedge import Wedges

PAIRS = tuple(combinations(range(4), 2))  # of a section's corners
DIAGONALS = ((0, 2), (1, 3))  # farthest apart of a rectangle's corners, whatever the direction


def door_violation(wedges: Wedges, door: Door, *, covering: float) -> Floats:
    """How much boxes are too big for a door, (N,) m; 0 or less where they pass.

    The box is moved straight through the opening, turned about its direction of travel as
    suits it best, in one of two ways:

    lengthwise
        its section must go through the opening;
    flat
        moved in the plane of its section, its thinnest side towards the sill: a rectangle
        of its outer width by the least width of its section must go through.

    For these ways the answer whether it passes is exact.  Tilting it while it is halfway
    through, which lets a longer box round a corner, is left out.  To turn it on its way, a
    circle must hold the same rectangle: the box is turned about the axis square to its
    width and its least thickness, and ``hypot(width, thickness)`` may not exceed
    ``door.turning_room``.  The covering (m) is taken to wrap round the edges, which adds twice
    its thickness in every direction.

    Where a box does not pass, the violation is the least it exceeds the opening by in width
    or height at any angle, or what it exceeds the turning room by if that is more.
    """
    width, height = door.width - 2.0 * covering, door.height - 2.0 * covering
    section = wedges.outer_section
    thickness = least_width(section)
    broad_side = _rectangles(wedges.outer_width, thickness)
    turning = np.hypot(wedges.outer_width, thickness) + 2.0 * covering - door.turning_room
    through = np.minimum(_level_overrun(section, width, height), _level_overrun(broad_side, width, height))
    for shape, pairs in ((broad_side, DIAGONALS), (section, PAIRS)):
        rows = np.flatnonzero(through > np.maximum(turning, 0.0))
        through[rows] = np.minimum(through[rows], _least_overrun(shape[rows], pairs, width, height))
    violation: Floats = np.maximum(through, turning) - TOUCH
    return violation


def least_width(section: Floats) -> Floats:
    """The least distance of two parallel lines that hold a convex section (N, 4, 2) between them, (N,) m.

    It is found with one of the lines along a side of the section.
    """
    least = np.full(len(section), np.inf)
    for one, other in PAIRS:
        along = section[:, other] - section[:, one]
        y, z, length = _directed(*along.T)
        least = np.where(length > TOUCH, np.minimum(least, _spread(section, -z, y)), least)
    return least


def _rectangles(width: Floats, height: Floats) -> Floats:
    zero = np.zeros_like(width)
    y, z = np.stack([zero, width, width, zero], axis=-1), np.stack([zero, zero, height, height], axis=-1)
    return np.stack([y, z], axis=-1)


def _spread(section: Floats, y: Floats, z: Floats) -> Floats:
    """How far sections (N, 4, 2) reach along the directions (y, z), (N,)."""
    along = [section[:, corner, 0] * y + section[:, corner, 1] * z for corner in range(4)]
    highest = np.maximum(np.maximum(along[0], along[1]), np.maximum(along[2], along[3]))
    lowest = np.minimum(np.minimum(along[0], along[1]), np.minimum(along[2], along[3]))
    spread: Floats = highest - lowest
    return spread


def _level_overrun(section: Floats, width: float, height: float) -> Floats:
    """By how much sections exceed an opening without being turned, either way round, (N,) m."""
    level, upright = np.ones(len(section)), np.zeros(len(section))
    deep, high = _spread(section, level, upright), _spread(section, upright, level)
    overrun: Floats = np.minimum(
        np.maximum(deep - width, high - height),
        np.maximum(deep - height, high - width),
    )
    return overrun


def _least_overrun(section: Floats, pairs: Sequence[tuple[int, int]], width: float, height: float) -> Floats:
    """By how much convex sections (N, 4, 2) exceed an opening, turned as suits them best, (N,) m.

    ``pairs`` of corners are those that can be farthest apart in some direction.  With the
    opening turned by θ, the width a section takes is the largest |d·u(θ)| and the height
    the largest |d×u(θ)| of the ways d from one corner of a pair to the other.  The larger
    overrun is least either where one of the two is least, with two corners level, or where
    both are the same; all these angles are tried.
    """
    ways = [(section[:, other] - section[:, one]).T for one, other in pairs]
    least = np.full(len(section), np.inf)
    for y, z in _angles(ways, width - height):
        here = np.maximum(_spread(section, y, z) - width, _spread(section, -z, y) - height)
        least = np.minimum(least, here)
    return least


def _angles(ways: list[Floats], difference: float) -> Iterator[tuple[Floats, Floats]]:
    """Directions u along or across a way, or in which |d·u| - |e×u| is ``difference`` for two ways d, e."""
    for way in ways:
        y, z, _ = _directed(*way)
        yield y, z
        yield -z, y
    for (y, z), (other_y, other_z), sign in product(ways, ways, (1.0, -1.0)):
        # d·u ∓ e×u = a·cos θ + b·sin θ; turning u round by half a turn gives the other signs.
        a, b, length = _directed(y + sign * other_z, z - sign * other_y)
        along = np.clip(difference / length, -1.0, 1.0)
        across = np.sqrt(1.0 - along**2)
        yield a * along - b * across, b * along + a * across
        yield a * along + b * across, b * along - a * across


def _directed(y: Floats, z: Floats) -> tuple[Floats, Floats, Floats]:
    """Unit vectors in the direction of (y, z), any where that has no length, and its length."""
    length = np.hypot(y, z)
    some = length > TOUCH
    length = np.where(some, length, TOUCH)
    return np.where(some, y / length, 1.0), np.where(some, z / length, 0.0), length
