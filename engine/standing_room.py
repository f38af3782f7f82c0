"""Whether any box at all could stand in a space, by a test that refuses nothing which can be built."""

from __future__ import annotations

import shapely
from shapely import Polygon

from engine.parts import KeepOut, Space

LEAST_LENGTH = 1e-9  # m
LEAST_AREA = 1e-9  # m²


def has_room(space: Space, *, board: float) -> bool:
    """Whether a box of some board thickness (m) with anything inside finds a place in the space.

    A box has at least a round bar of the board's thickness as radius within its outside.  No place for that bar, margin
    and clearances off, over any stretch of the width longer than two boards: no box.  The other way round does not
    hold, so a space that passes may still be too small.  Section and keep-outs must be simple polygons.
    """
    free, (left, right) = free_section(space), free_width(space)
    if free.is_empty or right - left <= 2.0 * board + LEAST_LENGTH:
        return False
    reaches = [(keepout, *_reach(keepout, space.margin)) for keepout in space.keepouts]
    cuts = sorted({left, right, *(end for _, *ends in reaches for end in ends if left < end < right)})
    for start in cuts:
        # Longer stretches meet the same keep-outs and more.
        end = next((cut for cut in cuts if cut - start > 2.0 * board + LEAST_LENGTH), None)
        if end is None:
            return False
        there = [keepout.section for keepout, first, last in reaches if first < end and last > start]
        taken = shapely.union_all([Polygon(section).buffer(space.margin) for section in there])
        if free.difference(taken).buffer(-board).area > LEAST_AREA:
            return True
    return False


def widest_bar(space: Space) -> float:
    """Thickness (m) of the thickest round bar, or shortest one, in the space: margin off, keep-outs left aside."""
    free, (left, right) = free_section(space), free_width(space)
    radius: float = shapely.maximum_inscribed_circle(free, tolerance=1e-5).length
    return min(2.0 * radius, right - left)


def keeps_out(keepout: KeepOut, space: Space) -> tuple[bool, bool]:
    """Whether a keep-out meets the space at all: over its width, and in its cross-section."""
    start, end = keepout.across
    common = Polygon(keepout.section).intersection(Polygon(space.section))
    return start < space.width - LEAST_LENGTH and end > LEAST_LENGTH, common.area > LEAST_AREA


def free_section(space: Space) -> Polygon:
    """The cross-section less margin and clearances."""
    rear, low, front, high = Polygon(space.section).bounds
    margin, clear = space.margin, space.clearance
    rear, front = rear + margin + clear.back, front - margin - clear.front
    low, high = low + margin + clear.bottom, high - margin - clear.top
    if rear >= front or low >= high:
        return Polygon()
    return Polygon(space.section).buffer(-margin, join_style="mitre") & shapely.box(rear, low, front, high)


def free_width(space: Space) -> tuple[float, float]:
    """From where to where a box may stand across the space."""
    clear = space.clearance
    return space.margin + clear.left, space.width - space.margin - clear.right


def _reach(keepout: KeepOut, margin: float) -> tuple[float, float]:
    return keepout.across[0] - margin, keepout.across[1] + margin
