"""The panel that carries the drivers, as a frame to place things in: along it and square to it.

A place is given by s, metres along the panel's outer face from its lower (or rear) edge,
and by the depth d behind that face.  The inner faces of the three panels round it are
half planes in these coordinates, so whatever is kept clear of them shifts linearly with s
and the places of a body are an interval.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from engine.core.compiled import compiled
from engine.facings import DOWN, SIDEWAYS
from engine.packing.box import Box, side_panel_edge, side_room
from engine.packing.contents import SCREW_REACH, Allowances, Driver, wood_round_screws


class Plane(NamedTuple):
    """The inner face of a panel: the inside is along·s + inward·d ≤ limit; a unit normal."""

    along: float
    inward: float
    limit: float


class Face(NamedTuple):
    """A mounting panel.

    The origin is the point (y, z) where s = 0, ``up`` the unit vector along s; the inside lies to its left.
    ``low`` and ``high`` are the panels at either end, ``opposite`` the one across.
    """

    origin_y: float
    origin_z: float
    up_y: float
    up_z: float
    length: float
    low: Plane
    high: Plane
    opposite: Plane


@compiled
def _plane(y: float, z: float, limit: float, origin_y: float, up_y: float, up_z: float) -> Plane:
    """A plane with outward normal (y, z) in the frame whose origin is (``origin_y``, 0)."""
    return Plane(y * up_y + z * up_z, z * up_y - y * up_z, limit - y * origin_y)


@compiled
def face_of(box: Box, facing: int) -> Face:
    """The baffle, or the bottom panel where drivers face down; sideways drivers leave the baffle to vents."""
    lean, secant = box.back_secant, box.baffle_secant
    top = box.outer_height - box.board
    if facing == DOWN:
        return Face(
            0.0,
            0.0,
            1.0,
            0.0,
            box.bottom_depth,
            _plane(-1.0 / lean, box.back_slope / lean, -box.board, 0.0, 1.0, 0.0),
            _plane(1.0 / secant, -box.baffle_slope / secant, box.bottom_depth / secant - box.front, 0.0, 1.0, 0.0),
            _plane(0.0, 1.0, top, 0.0, 1.0, 0.0),
        )
    y, up_y, up_z = box.bottom_depth, box.baffle_slope / secant, 1.0 / secant
    return Face(
        y,
        0.0,
        up_y,
        up_z,
        box.outer_height * secant,
        _plane(0.0, -1.0, -box.board, y, up_y, up_z),
        _plane(0.0, 1.0, top, y, up_y, up_z),
        _plane(-1.0 / lean, box.back_slope / lean, -box.board, y, up_y, up_z),
    )


@compiled
def top_face(box: Box) -> Face:
    """The top panel, for vents; s runs from the baffle to the back."""
    lean, secant, high = box.back_secant, box.baffle_secant, box.outer_height
    y = box.bottom_depth + high * box.baffle_slope
    at_baffle = box.bottom_depth / secant - box.front + box.baffle_slope / secant * high
    return Face(
        y,
        high,
        -1.0,
        0.0,
        box.bottom_depth + box.taper * high,
        _plane(1.0 / secant, -box.baffle_slope / secant, at_baffle, y, -1.0, 0.0),
        _plane(-1.0 / lean, box.back_slope / lean, -box.board - box.back_slope / lean * high, y, -1.0, 0.0),
        _plane(0.0, -1.0, high - box.board, y, -1.0, 0.0),
    )


@compiled
def _nearer(plane: Plane, by: float) -> Plane:
    return Plane(plane.along, plane.inward, plane.limit - by)


@compiled
def face_less(face: Face, facing: int, taken: float, low: bool) -> Face:
    """The same in a box whose bottom (``low``) or top is nearer by ``taken`` m."""
    bottom, top, opposite = face.low, face.high, face.opposite
    if facing == DOWN:
        if not low:
            opposite = _nearer(opposite, taken)
    elif low:
        bottom = _nearer(bottom, taken)
    else:
        top = _nearer(top, taken)
    return Face(face.origin_y, face.origin_z, face.up_y, face.up_z, face.length, bottom, top, opposite)


@compiled
def on_face(face: Face, y: float, z: float) -> tuple[float, float]:
    """Place (s, d) of a point of the section, m."""
    y, z = y - face.origin_y, z - face.origin_z
    return y * face.up_y + z * face.up_z, z * face.up_y - y * face.up_z


@compiled
def at_face(face: Face, s: float, d: float) -> tuple[float, float]:
    """Point (y, z) of the section at a place (s, d), m."""
    return face.origin_y + s * face.up_y - d * face.up_z, face.origin_z + s * face.up_z + d * face.up_y


class Limits(NamedTuple):
    """How far along a panel something may stand, low ≤ s ≤ high, and how deep: reach at s = 0."""

    low: float
    high: float
    reach: float


class Places(NamedTuple):
    """Where something may stand along a panel: low ≤ s ≤ high, m; one point where it fits nowhere."""

    low: float
    high: float
    height_slack: float
    depth_slack: float


@compiled
def within(face: Face, low_edge: float, high_edge: float) -> Limits:
    """Limits for a body that keeps its axis that far inside the ends of the outer face, m."""
    return Limits(low_edge, face.length - high_edge, np.inf)


@compiled
def clear(limits: Limits, face: Face, half: float, depth: float, gap: float) -> Limits:
    """The same for a body that is ``half`` wide to either side at ``depth`` and keeps ``gap`` to the panels there, m.

    Between two of its depths the body is no wider than the straight line between them, so the
    depths given decide about straight panels.
    """
    at_low, at_high, across = -face.low.along, face.high.along, face.opposite
    return Limits(
        max(limits.low, (face.low.inward * depth + at_low * half - face.low.limit + gap) / at_low),
        min(limits.high, (face.high.limit - gap - at_high * half - face.high.inward * depth) / at_high),
        min(limits.reach, across.limit - gap - abs(across.along) * half - across.inward * depth),
    )


@compiled
def places(limits: Limits, face: Face) -> Places:
    """Where a body within these limits may stand."""
    height_slack = limits.high - limits.low
    middle = 0.5 * (limits.low + limits.high)
    low, high = min(limits.low, middle), max(limits.high, middle)
    lean = face.opposite.along  # the opposite panel comes nearer with growing s where this is positive
    depth_slack = limits.reach - lean * (low if lean > 0.0 else high)
    travel = max(depth_slack, 0.0) / max(abs(lean), 1e-12)
    if lean > 0.0:
        high = min(high, low + travel)
    else:
        low = max(low, high - travel)
    return Places(low, high, height_slack, depth_slack)


@compiled
def driver_places(
    box: Box,
    face: Face,
    driver: Driver,
    rules: Allowances,
    taken_low: float,
    taken_high: float,
    window_low: float,
    window_high: float,
) -> Places:
    """Places for one driver: in the baffle or the bottom along s, in the side panel by the height z, m.

    ``taken`` is the height inside that a slot takes at bottom and top, which ``face`` is less already;
    ``window`` what its mouth takes at either end of the panel for flanges.
    """
    if driver.facing == SIDEWAYS:
        return _in_side_panel(box, driver, rules, taken_low, taken_high)
    gap, hole, magnet, flange = rules.gap, 0.5 * driver.cutout, 0.5 * driver.magnet, 0.5 * driver.flange
    edge = flange_edge(box, driver.facing, rules)
    limits = within(face, flange + max(edge, window_low), flange + max(edge, window_high))
    limits = off_joints(limits, face, driver.cutout, driver.flange, box.front, rules.wood)
    limits = clear(limits, face, hole, 0.0, gap)
    limits = clear(limits, face, hole, box.front, gap)
    limits = clear(limits, face, magnet, driver.neck, gap)
    limits = clear(limits, face, magnet, driver.reach, gap)
    limits = clear(limits, face, magnet, driver.reach + driver.rear_gap, 0.0)
    return places(limits, face)


@compiled
def flange_edge(box: Box, facing: int, rules: Allowances) -> float:
    """Distance in m that flanges keep from the ends of their panel's outer face: off round edges and off joints.

    The baffle stands between bottom and top, whose edges show beside it.
    """
    if facing == DOWN or not rules.wood > 0.0:
        return rules.round_over
    return max(rules.round_over, box.board * box.baffle_secant)


@compiled
def off_joints(limits: Limits, face: Face, cutout: float, flange: float, board: float, wood: float) -> Limits:
    """Limits for a flange whose screws keep ``wood`` m off what is glued on behind its panel."""
    if not wood > 0.0:
        return limits
    radius = wood_round_screws(cutout, flange, wood)
    limits = clear(limits, face, radius, 0.0, 0.0)
    return clear(limits, face, radius, board + SCREW_REACH, 0.0)


@compiled
def driver_edge(box: Box, driver: Driver, rules: Allowances) -> float:
    """Distance in m that a driver's centre in the side panel keeps from the panels' outer faces."""
    wood = wood_round_screws(driver.cutout, driver.flange, rules.wood)
    return side_panel_edge(driver.inside, driver.flange, wood, box.board, rules.gap, rules.round_over)


@compiled
def _in_side_panel(box: Box, driver: Driver, rules: Allowances, taken_low: float, taken_high: float) -> Places:
    """Heights z for a driver in the side panel, midway between back and baffle.

    The depth left for it there changes linearly with z.  ``depth_slack`` is of that depth
    or of the width behind it, whichever is less.
    """
    edge = driver_edge(box, driver, rules)
    wood = wood_round_screws(driver.cutout, driver.flange, rules.wood)
    inside = box.board + max(0.5 * driver.inside + rules.gap, wood)
    low, high = max(edge, inside + taken_low), box.outer_height - max(edge, inside + taken_high)
    height_slack = high - low
    middle = 0.5 * (low + high)
    low, high = min(low, middle), max(high, middle)
    slack = side_room(box, high if box.taper > 0.0 else low, edge)
    travel = max(slack, 0.0) / max(abs(box.taper), 1e-12)
    if box.taper > 0.0:
        low = max(low, high - travel)
    else:
        high = min(high, low + travel)
    behind = box.inner_width - sideways_room(driver, box.board, rules.gap)
    return Places(low, high, height_slack, min(slack, behind))


@compiled
def sideways_room(driver: Driver, board: float, gap: float) -> float:
    """Width inside the box that a driver in the side panel takes, with the air behind it, m."""
    return driver.reach + max(driver.rear_gap, gap) - board


@compiled
def reach_along_panel(driver: Driver, depth: float, radius: float, gap: float, board: float) -> float:
    """How near along the panel a driver may come to a round thing along the width, m; -inf where it passes.

    Distance in s between the driver's axis and the thing's centre, which lies ``depth``
    behind the panel, when basket and magnet are just ``gap`` from it, and the air behind
    the magnet touches it: the outline of the driver's section moved outward.
    """
    hole, magnet, rear = 0.5 * driver.cutout, 0.5 * driver.magnet, driver.reach
    reach = max(
        _reach_of(board, driver.neck, hole, magnet, depth, radius + gap),
        _reach_of(rear, rear + driver.rear_gap, magnet, magnet, depth, radius),
    )
    if driver.neck < rear:
        reach = max(reach, _reach_of(driver.neck, rear, magnet, magnet, depth, radius + gap))
    return reach


@compiled
def _reach_of(start: float, end: float, wide: float, narrow: float, depth: float, clear: float) -> float:
    """The same for a body that narrows evenly from half a width ``wide`` at ``start`` to ``narrow`` at ``end``."""
    taper = (wide - narrow) / max(end - start, 1e-6)
    touched = min(max(depth - clear * taper / np.sqrt(1.0 + taper * taper), start), end)
    squared = clear * clear - (depth - touched) * (depth - touched)
    return wide - (touched - start) * taper + np.sqrt(squared) if squared > 0.0 else -np.inf
