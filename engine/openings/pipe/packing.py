"""Round vents: the ways they can lie in a box, each tried in turn until one fits.

A vent through the left side panel lies along the width; its pipe passes braces through
holes.  Such vents stack in rows at the bottom or the top, or stand in the part of the width
that the drivers leave.  A vent through the drivers' own panel (the baffle, if the drivers
are in a side panel) stands square to it, or turns once, right behind the panel, and lies
along the width.  Where the job lets vents out through the top panel they hang straight down from it beside
the drivers, or turn once and lie along the width under it, above the drivers or beside them.  Every vent has
one bore of free air before its inner mouth, and one bore before its outer mouth: beside the box, ahead of the
baffle or above the top (common practice, no source).

Pipes along the width rest on a block of board for every ``SUPPORT_SPAN`` of their length inside; straight
pipes through the drivers' panel are no longer inside than what needs no block (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, NamedTuple

import numpy as np

from engine.acoustics.bends import elbow_centre_line, elbow_length
from engine.acoustics.cavity import ACROSS, DOWNWARD, SQUARE, UPWARD
from engine.acoustics.flares import flared_end
from engine.acoustics.vents import BOTH_ENDS, FLUSH_END
from engine.core.compiled import Table, compiled, table
from engine.facings import DOWN, SIDEWAYS
from engine.packing import bays, inside
from engine.packing.bays import Counts, Floats
from engine.packing.box import Box
from engine.packing.braces import Brace, Zone, no_pipes
from engine.packing.contents import Allowances, Driver, Surroundings
from engine.packing.cup import CORNERS, Cup, cup_at, cup_beside_drivers, keep_cup
from engine.packing.face import (
    Face,
    Places,
    at_face,
    clear,
    driver_places,
    face_less,
    on_face,
    places,
    reach_along_panel,
    top_face,
    within,
)
from engine.packing.inside import Given, Packed, Stage, begin, brace_for, judge, keep_braces, row_across, settle
from engine.packing.loops import packing, placing
from engine.packing.opening import OpeningPacking
from engine.packing.placement import BENT, BESIDE, HIGH, LOW, NONE, NOWHERE, SIDE, STRAIGHT, TOP, USUAL
from engine.packing.ports import Across, put_port
from engine.packing.row import Row, even_bay, own_bay, room_of, shared_bay, slack_beside_run, slack_beyond

SUPPORT_SPAN = 0.35  # m
NO_WAY = -1.0  # m, slack of a way that this design does not have
SPLITS = ((1, 1), (2, 3), (0, 2))  # how vents are put in rows, and from how many on that is something new


class Pipe(NamedTuple):
    """The vents of one design, all alike, m; ``elbow`` is nan where there is no bend in this size of pipe."""

    number: float
    inner: float  # diameter
    outer: float  # diameter
    rim: float  # widest part: itself or the rim of its flares
    flare: float  # radius of the quarter round at both ends
    elbow: float  # radius of the centre line
    socket_rim: float  # widest part of a bent one: that or the sockets of its elbow
    socket: float  # depth of those sockets
    sockets: float  # m³ that those of all vents take beside the pipe
    turn: float  # depth behind the panel's outer face at which a bent pipe starts to turn
    bend: float  # that radius, or half the rim
    sweep: float  # centre line of the bend
    short_cut: float  # by how much the air in a bend counts for less than that; 0 where there is none
    counted: float  # that the air counts for both flares, less what they are long
    mouth: float  # radius of a straight bore with the same air before its mouth
    ring: float  # m² that a flare is wider than the pipe; 0 without flares
    top: bool  # they go out through the top panel, else through the drivers' panel or, if they may, the left side
    side: bool


class Piped:
    """What a box has besides; numbers as in ``engine.packing.placement``."""

    vent_placement: int = NONE
    vent_where: int = NOWHERE
    vent_columns: int = 0  # vents in a row along the section (side) or across the width (straight, beside)
    vent_low: bool = False  # side vents fill the section from the bottom up, else from the top down
    vent_at_back: bool = False  # side vents are pushed to the back, else to the baffle
    vent_top: bool = False  # straight and bent ones go through the top panel, else through the drivers'
    vent_s: float = np.nan  # m, place along that panel of the first vent through it
    inner_end: float = 0.0  # x, m from the left side's inner face, where the free air before the mouth ends
    slack: float = -np.inf  # m, room of the best way so far


def sizes_of(designs: int, sizes: Mapping[str, Any], front: Any) -> Table:
    """A row of :class:`Pipe` for each design.

    A flare's rim is taken as a cylinder as wide as the flare, never less than it is.  Seen from a bore of radius
    a the air before a mouth of radius a + r is a²/(a + r) times what it is for a bore of 1.  A bent pipe turns
    behind the baffle, flare and socket, and so deep that the rim at the other end clears it.
    """
    count, inner, outer, flare = (sizes[name] for name in ("vent_count", "vent_inner", "vent_outer", "flare_radius"))
    elbow, rim = sizes["elbow_radius"], np.maximum(outer, inner + 2.0 * flare)
    around, socket = sizes["socket_diameter"], np.nan_to_num(sizes["socket_depth"])
    socket_rim = np.where(socket > 0.0, np.maximum(rim, np.nan_to_num(around)), rim)
    ring_around = 0.25 * np.pi * (socket_rim**2 - outer**2)
    none = np.isnan(elbow)
    bend, stated = np.where(none, 0.5 * rim, elbow), np.where(none, 0.0, elbow)
    radius = 0.5 * inner
    mouth, counted, ring = radius.copy(), np.zeros(designs), np.zeros(designs)
    flared = np.flatnonzero(flare > 0.0)
    if flared.size:
        a, r = radius[flared], flare[flared]
        mouth[flared] = a**2 / (a + r)
        counted[flared] = 2.0 * (flared_end(diameter=2.0 * a, flare_radius=r) - FLUSH_END * mouth[flared] - r)
        ring[flared] = 0.25 * np.pi * (rim[flared] ** 2 - outer[flared] ** 2)
    return table(
        Pipe,
        designs,
        number=count,
        inner=inner,
        outer=outer,
        rim=rim,
        flare=flare,
        elbow=elbow,
        socket_rim=socket_rim,
        socket=socket,
        sockets=count * 2.0 * socket * ring_around,
        turn=np.maximum(np.maximum(front, flare) + socket, front + 0.5 * socket_rim - stated),
        bend=bend,
        sweep=elbow_centre_line(radius=bend),
        short_cut=elbow_centre_line(radius=stated) - elbow_length(radius=stated, diameter=inner),
        counted=counted,
        mouth=mouth,
        ring=ring,
        top=sizes["vent_panels"] == TOP,
        side=sizes["vent_panels"] == USUAL,
    )


@compiled
def outlet(box: Box, pipe: Pipe, face: Face) -> Face:
    """The panel that straight and bent vents go through: the top, or the drivers' panel ``face``."""
    return top_face(box) if pipe.top else face


@compiled
def outlet_board(box: Box, pipe: Pipe) -> float:
    """Its thickness, m."""
    return box.board if pipe.top else box.front


# Lengths


class Lengths(NamedTuple):
    """What vents lying one way come to."""

    length: float  # m, from the panel's outer face to the inner mouth, along the centre line
    slack: float  # m by which such a length exists
    taken: float  # m³ inside
    brace: Brace
    air: float  # m, what it leaves the air beyond what is needed
    blocks: float  # supports under each pipe
    supports: float  # m³ of them all


@compiled
def _tuned(
    through: float, pipe: Pipe, rules: Allowances, tuning: float, volume: float, bent: bool
) -> tuple[float, float, float, float]:
    """Length of each vent, by how much it exists, by how much it is longer than its panel, m; volume taken (m³).

    A vent's length and the net volume depend on each other, because a pipe takes its outer
    area times its length inside, behind the t m it goes ``through``: (L + ΔL)(V - n·A·(L - t)) = n·S·c²/ωb²
    (Thiele 1971 with V the volume before vents), L as the air counts it in bends and flares.  The smaller
    root is taken.  The sockets of the elbows of ``bent`` ones take volume besides.
    """
    short_cut, sockets = (pipe.short_cut, pipe.sockets) if bent else (0.0, 0.0)
    correction = BOTH_ENDS * pipe.mouth + pipe.counted - short_cut
    area = 0.25 * np.pi * (pipe.inner * pipe.inner)
    solid = pipe.number * 0.25 * np.pi * (pipe.outer * pipe.outer)
    per_turn = rules.c / (2.0 * np.pi * tuning)
    wanted = pipe.number * area * (per_turn * per_turn)  # (L + ΔL)·V, m⁴
    rims = pipe.number * pipe.ring * (pipe.flare + max(pipe.flare - through, 0.0))
    at_hand = max(volume - rims - sockets + solid * (through + correction), 1e-6)
    root = np.sqrt(max(at_hand * at_hand - 4.0 * solid * wanted, 0.0))
    length = 2.0 * wanted / (at_hand + root) - correction
    # Beyond the double root at_hand/(2·solid) no length tunes so low; there the effective one is 2·wanted/at_hand.
    existing = at_hand / (2.0 * max(solid, 1e-9)) - 2.0 * wanted / at_hand
    least = max(through, pipe.flare) + pipe.flare
    return length, existing, length - least, solid * (length - through) + rims + sockets


@compiled
def _lengths(given: Given, pipe: Pipe, stage: Stage, zone: Zone, support: float, bent: bool, through: float) -> Lengths:
    """Vents ``through`` m of panel that pass braces in a ``zone``, on blocks of ``support`` m² altogether."""
    box, rules, row, tuning = given.box, given.rules, stage.row, given.around.tuning
    vent_air = pipe.number * 0.25 * np.pi * (pipe.inner * pipe.inner) * rules.vent_excess
    start, end = box.board, box.outer_height - box.board
    brace, air = brace_for(given, row.braces, row.columns, start, end, zone, vent_air)
    volume = stage.volume - row.braces * brace.board * box.board
    length, existing, beyond, taken = _tuned(through, pipe, rules, tuning, volume, bent)
    blocks, supports = 0.0, 0.0
    if support > 0.0:
        blocks = np.floor(max(length - through, 0.0) / SUPPORT_SPAN)
    if blocks > 0.0:
        supports = blocks * box.board * support
        length, existing, beyond, taken = _tuned(through, pipe, rules, tuning, volume - supports, bent)
    return Lengths(length, min(existing, beyond), taken, brace, air, blocks, supports)


@compiled
def _side_zone(box: Box, pipe: Pipe, rules: Allowances, columns: float, low: bool, at_back: bool) -> Zone:
    """Where vents along the width pass the braces."""
    pitch, first = pipe.rim + rules.gap, box.board + rules.gap
    levels, beside = np.ceil(pipe.number / columns), min(columns, pipe.number) - 1.0
    tall = (levels - 1.0) * pitch + pipe.rim
    lowest = first if low else box.outer_height - first - tall
    deep = rules.gap + pipe.rim + beside * pitch / (box.back_secant if at_back else box.baffle_secant)
    rear, front = (deep, np.inf) if at_back else (np.inf, deep)
    return Zone(pipe.number, pipe.rim, lowest, lowest + tall, rear, front)


@compiled
def _bent_zone(box: Box, driver: Driver, pipe: Pipe, rules: Allowances, face: Face, vent_s: float) -> Zone:
    """Where the second legs of bent vents pass them, the first ``vent_s`` along its panel ``face``."""
    deep, radius = pipe.turn + pipe.bend, 0.5 * pipe.rim
    _, one = at_face(face, vent_s, deep)
    _, other = at_face(face, vent_s + (pipe.number - 1.0) * bent_pitch(pipe, rules), deep)
    front = np.inf if driver.facing == DOWN or pipe.top else deep + radius - box.front
    return Zone(pipe.number, pipe.rim, min(one, other) - radius, max(one, other) + radius, np.inf, front)


@compiled
def _columns(pipe: Pipe, split: int) -> float:
    """Vents in a row: all of them, half of them or one, for ``split`` 1, 2 or 0."""
    return np.ceil(pipe.number / split) if split > 0 else 1.0


@compiled
def _outside_panel(box: Box, driver: Driver, pipe: Pipe, around: Surroundings) -> float:
    """Air before a mouth in the drivers' panel, in the baffle or in the top, beyond one bore, m."""
    before: float = around.under if driver.facing == DOWN else around.ahead / box.baffle_secant
    if pipe.top:
        before = around.above
    return before - pipe.inner


class Lie(NamedTuple):
    """One way to place the vents, m.

    ``room`` is what is left beside panels and drivers, ``run`` along the pipes, ``outside`` before the outer
    mouths.
    """

    placement: int
    where: int
    columns: float
    low: bool
    at_back: bool
    room: float
    run: float
    outside: float
    driver_low: float
    driver_high: float
    vent_s: float
    inner_end: float


@compiled
def _keep_better(
    given: Given, pipe: Pipe, stage: Stage, lie: Lie, lengths: Lengths, packed: Packed, own: Piped
) -> None:
    """Take one that has more room than the one found before it."""
    box = given.box
    slack = min(min(lie.room, lie.run), min(lie.outside, min(lengths.slack, lengths.air)))
    if not slack > own.slack:
        return
    own.slack = slack
    own.vent_placement, own.vent_where, own.vent_columns = lie.placement, lie.where, int(lie.columns)
    own.vent_low, own.vent_at_back, own.vent_top = lie.low, lie.at_back, pipe.top
    own.vent_s, own.inner_end = lie.vent_s, lie.inner_end
    packed.vent_length = lengths.length
    packed.slacks[inside.VENT_LENGTH], packed.slacks[inside.VENT_ROOM] = lengths.slack, lie.room
    packed.slacks[inside.VENT_RUN], packed.slacks[inside.VENT_OUTSIDE] = lie.run, lie.outside
    packed.opening_volume = lengths.taken
    keep_braces(box, stage.row.braces, box.board, box.outer_height - box.board, lengths.brace, lengths.air, packed)
    packed.support_count, packed.support_volume = int(lengths.blocks), lengths.supports
    # Where vents leave the drivers no place, the end of their interval is a point between.
    middle = 0.5 * (lie.driver_low + lie.driver_high)
    packed.driver_low, packed.driver_high = min(lie.driver_low, middle), max(lie.driver_high, middle)


# Through the side, along the width


@compiled
def side_vent_at(
    box: Box, pipe: Pipe, rules: Allowances, number: float, columns: float, low: bool, at_back: bool
) -> tuple[float, float, float]:
    """Centre (y, z) of a vent along the width, and the room left beside it, m each.

    Vents fill rows of ``columns`` from the bottom up (``low``) or the top down, each row
    from the back or from the baffle.
    """
    away, pitch = 0.5 * pipe.rim + rules.gap, pipe.rim + rules.gap
    level = np.floor(number / columns)
    along = (number - level * columns) * pitch
    floor, ceiling = box.board + away, box.outer_height - box.board - away
    z = floor + level * pitch if low else ceiling - level * pitch
    rear = z * box.back_slope + (box.board + away) * box.back_secant
    front = box.bottom_depth + z * box.baffle_slope - (box.front + away) * box.baffle_secant
    room = min(front - rear - along, ceiling - z if low else z - floor)
    return (rear + along if at_back else front - along), z, room


class Block(NamedTuple):
    """Section of a block that carries a vent, its corners (y, z) in order, m."""

    y: tuple[float, float, float, float]
    z: tuple[float, float, float, float]


@compiled
def block_at(box: Box, pipe: Pipe, rules: Allowances, number: float, columns: float, low: bool, at_back: bool) -> Block:
    """The block that carries a vent along the width.

    It stands on a panel, or on the pipe in the row before, is as wide as the pipe and reaches
    to its axis; what pipes and panels take of it is cut away.
    """
    radius = 0.5 * pipe.outer
    y, z, _ = side_vent_at(box, pipe, rules, number, columns, low, at_back)
    base_y, base_z = y, box.board if low else box.outer_height - box.board
    if number >= columns:
        base_y, base_z, _ = side_vent_at(box, pipe, rules, number - columns, columns, low, at_back)
    return Block((base_y - radius, base_y + radius, y + radius, y - radius), (base_z, base_z, z, z))


@compiled
def _beside_block(box: Box, driver: Driver, rules: Allowances, face: Face, block: Block) -> tuple[float, float]:
    """Places s nearest to which a driver stands clear of a block, below it and above it, m.

    The outline of the driver's section, moved outward by the gap, keeps its corners here instead of
    having them rounded.
    """
    gap, hole, magnet, neck, end = rules.gap, 0.5 * driver.cutout, 0.5 * driver.magnet, driver.neck, driver.reach
    taper = (hole - magnet) / max(neck - box.front, 1e-6) if neck > box.front else 0.0
    aside = gap * np.sqrt(1.0 + taper * taper)
    # Pieces of the outline: from and to which depth, half the width at either.
    pieces = (
        (box.front - gap, neck + gap, hole + gap * taper + aside, magnet - gap * taper + aside),
        (neck - gap, end + gap, magnet + gap, magnet + gap),
        (end, end + driver.rear_gap, magnet, magnet),
    )
    below, above = np.inf, -np.inf
    for corner in range(4):
        after = (corner + 1) % 4
        s, depth = on_face(face, block.y[corner], block.z[corner])
        next_s, next_depth = on_face(face, block.y[after], block.z[after])
        slope = 0.0 if next_depth == depth else (next_s - s) / (next_depth - depth)
        for start, stop, wide, narrow in pieces:
            if max(min(depth, next_depth), start) < min(max(depth, next_depth), stop):
                for end_depth in (depth, next_depth):
                    met = min(max(end_depth, start), stop)
                    at = s + (met - depth) * slope
                    half = wide + (met - start) / max(stop - start, 1e-9) * (narrow - wide)
                    below, above = min(below, at - half), max(above, at + half)
    return below, above


@compiled
def _try_side(
    given: Given,
    pipe: Pipe,
    stage: Stage,
    low: bool,
    at_back: bool,
    beside: bool,
    split: int,
    packed: Packed,
    own: Piped,
) -> None:
    """Vents along the width, in rows from the bottom or the top, each row from the back or from the baffle."""
    box, driver, rules, face = given.box, given.driver, given.rules, given.face
    diameter, columns = pipe.outer, _columns(pipe, split)
    on_panel = diameter * (0.5 * pipe.rim + rules.gap) - 0.125 * np.pi * (diameter * diameter)
    on_pipe = diameter * (pipe.rim + rules.gap) - 0.25 * np.pi * (diameter * diameter)
    at_panel = min(columns, pipe.number)
    support = at_panel * on_panel + (pipe.number - at_panel) * on_pipe
    outside = stage.free_width - box.outer_width - pipe.inner
    if not outside > own.slack:
        return
    zone = _side_zone(box, pipe, rules, columns, low, at_back)
    lengths = _lengths(given, pipe, stage, zone, support, False, box.board)
    inner_end = lengths.length - box.board + pipe.inner
    run = box.inner_width - stage.row.taken - inner_end
    if beside:
        run = min(run, slack_beside_run(stage.row, inner_end))
    room = np.inf
    if not min(min(run, outside), min(lengths.slack, lengths.air)) > own.slack:
        return
    driver_low, driver_high = stage.driver.low, stage.driver.high
    above = at_back if driver.facing == DOWN else low
    for number in range(int(pipe.number)):
        y, z, beside_it = side_vent_at(box, pipe, rules, float(number), columns, low, at_back)
        room = min(room, beside_it)
        if not beside:
            s, depth = on_face(face, y, z)
            reach = reach_along_panel(driver, depth, 0.5 * pipe.rim, rules.gap, box.front)
            if above:
                driver_low = max(driver_low, s + reach)
            else:
                driver_high = min(driver_high, s - reach)
    if not beside:
        tightest = min(min(room, run), min(outside, min(lengths.slack, lengths.air)))
        if lengths.blocks > 0.0 and min(tightest, driver_high - driver_low - stage.stack) >= 0.0:
            for number in range(int(pipe.number)):
                block = block_at(box, pipe, rules, float(number), columns, low, at_back)
                nearest, farthest = _beside_block(box, driver, rules, face, block)
                if above:
                    driver_low = max(driver_low, farthest)
                else:
                    driver_high = min(driver_high, nearest)
        room = NO_WAY if driver.facing == SIDEWAYS else min(room, driver_high - driver_low - stage.stack)
    where = BESIDE if beside else (LOW if low else HIGH)
    lie = Lie(SIDE, where, columns, low, at_back, room, run, outside, driver_low, driver_high, np.nan, inner_end)
    _keep_better(given, pipe, stage, lie, lengths, packed, own)


# Through the drivers' panel or the top, square to it


@compiled
def _straight_places(box: Box, pipe: Pipe, rules: Allowances, face: Face, length: float) -> Places:
    """Places for one vent through the panel, the free air before its mouth included."""
    radius = 0.5 * pipe.rim
    limits = within(face, radius + rules.round_over, radius + rules.round_over)
    limits = clear(limits, face, radius, 0.0, rules.gap)
    limits = clear(limits, face, radius, length, rules.gap)
    limits = clear(limits, face, radius, length + pipe.inner, 0.0)
    return places(limits, face)


@compiled
def vent_group(pipe: Pipe, rules: Allowances, board: float, columns: float) -> tuple[float, float]:
    """Width that columns of vents take in a bay of their own, and in one shared with drivers, m."""
    own = rules.gap + columns * (pipe.rim + rules.gap)
    return own, own + max(0.5 * (board - rules.gap), 0.0)


@compiled
def _clear_of_drivers(
    driver: Driver, rim: float, rules: Allowances, stage: Stage, low: bool, edge: float
) -> tuple[float, float, float]:
    """Where drivers may stand above (``low``) or below vents in the same panel, and the room they then have, m.

    ``edge`` is the place s of the row of vents next to the drivers, ``rim`` how wide they are.
    """
    apart = 0.5 * (driver.widest + rim) + rules.gap
    driver_low, driver_high = stage.driver.low, stage.driver.high
    if low:
        driver_low = max(driver_low, edge + apart)
    else:
        driver_high = min(driver_high, edge - apart)
    room = NO_WAY if driver.facing == SIDEWAYS else driver_high - driver_low - stage.stack
    return driver_low, driver_high, room


@compiled
def _try_straight(given: Given, pipe: Pipe, stage: Stage, where: int, split: int, packed: Packed, own: Piped) -> None:
    """Vents through the panel: in a group at the left end (``BESIDE``), or in one row below or above the drivers.

    That row is in the drivers' own panel.
    """
    box, driver, rules, around = given.box, given.driver, given.rules, given.around
    face, through = outlet(box, pipe, given.face), outlet_board(box, pipe)
    lengths = _lengths(given, pipe, stage, no_pipes(), 0.0, False, through)
    found = _straight_places(box, pipe, rules, face, lengths.length)
    driver_low, driver_high = stage.driver.low, stage.driver.high
    if where == BESIDE:
        columns = _columns(pipe, split)
        own_width, shared = vent_group(pipe, rules, box.board, columns)
        stack = (np.ceil(pipe.number / columns) - 1.0) * (pipe.rim + rules.gap)
        across = max(own_bay(stage.row, own_width), shared_bay(stage.row, shared))
        room = found.high - found.low - stack
        vent_s = max(found.low, min(0.5 * face.length - 0.5 * stack, found.high - stack))
    else:
        bay, even = even_bay(stage.row)
        columns = np.ceil(pipe.number / even)
        across = bay - rules.gap - columns * (pipe.rim + rules.gap)
        vent_s = found.low if where == LOW else found.high
        driver_low, driver_high, room = _clear_of_drivers(driver, pipe.rim, rules, stage, where == LOW, vent_s)
    room = min(min(across, found.height_slack), room)
    run = min(found.depth_slack, SUPPORT_SPAN - (lengths.length - through))
    outside = _outside_panel(box, driver, pipe, around)
    lie = Lie(STRAIGHT, where, columns, where != HIGH, False, room, run, outside, driver_low, driver_high, vent_s, 0.0)
    _keep_better(given, pipe, stage, lie, lengths, packed, own)


# Through the drivers' panel or the top, turned once, along the width


@compiled
def bent_start(pipe: Pipe, rules: Allowances) -> float:
    """Place x of a bent vent's outer mouth from the inner face of the left side, m."""
    return rules.gap + 0.5 * pipe.socket_rim


@compiled
def bent_turned(pipe: Pipe, rules: Allowances) -> float:
    """Place x from which on a bent vent, rim and socket too, lies along the width, from the same face, m."""
    return bent_start(pipe, rules) + max(pipe.bend + pipe.socket, 0.5 * pipe.socket_rim)


@compiled
def bent_pitch(pipe: Pipe, rules: Allowances) -> float:
    """Distance between the middles of neighbouring bent vents, m."""
    return pipe.socket_rim + rules.gap


@compiled
def bent_leg(pipe: Pipe, length: float) -> float:
    """Length of a bent pipe's second leg, m."""
    return length - pipe.turn - pipe.sweep


@compiled
def _try_bent(given: Given, pipe: Pipe, stage: Stage, where: int, packed: Packed, own: Piped) -> None:
    """Each pipe turns right behind the panel; the second legs lie along the width, one beside the other.

    Under the top and not beside the drivers (``HIGH``) they leave drivers the box below them.
    """
    box, driver, rules, around = given.box, given.driver, given.rules, given.around
    face, through = outlet(box, pipe, given.face), outlet_board(box, pipe)
    outer, radius, bend, turn = pipe.outer, 0.5 * pipe.socket_rim, pipe.bend, pipe.turn
    support = pipe.number * (outer * (turn - through + bend) - 0.125 * np.pi * (outer * outer))
    edge = radius + rules.round_over
    limits = within(face, edge, edge)
    limits = clear(limits, face, radius, 0.0, rules.gap)
    limits = clear(limits, face, radius, turn, rules.gap)
    limits = clear(limits, face, 0.0, turn + bend, radius + rules.gap)
    found = places(limits, face)
    stack = (pipe.number - 1.0) * bent_pitch(pipe, rules)
    vent_s = found.low if where == LOW else found.high - stack
    if where == BESIDE:
        vent_s = max(found.low, min(0.5 * face.length - 0.5 * stack, found.high - stack))
    zone = _bent_zone(box, driver, pipe, rules, face, vent_s)
    lengths = _lengths(given, pipe, stage, zone, support, True, through)
    leg = bent_leg(pipe, lengths.length)
    inner_end, turned = bent_start(pipe, rules) + bend + leg + pipe.inner, bent_turned(pipe, rules)
    run = box.inner_width - stage.row.taken - inner_end
    room = min(found.height_slack, found.high - found.low - stack)
    driver_low, driver_high = stage.driver.low, stage.driver.high
    if where == BESIDE:
        run = min(run, slack_beside_run(stage.row, max(inner_end, turned + box.board)))
    elif pipe.top:
        taken = turn + bend + radius - box.board
        below = face_less(given.face, driver.facing, taken, False)
        left = driver_places(box, below, driver, rules, 0.0, taken, 0.0, 0.0)
        driver_low, driver_high = left.low, left.high
        height = min(left.height_slack, left.high - left.low) - stage.stack
        room = min(min(room, slack_beyond(stage.row, turned)), min(height, left.depth_slack))
    else:
        low = where == LOW
        beside = found.low + stack if low else found.high - stack
        driver_low, driver_high, clear_room = _clear_of_drivers(driver, 2.0 * radius, rules, stage, low, beside)
        room = min(min(room, clear_room), slack_beyond(stage.row, turned))
    outside = _outside_panel(box, driver, pipe, around)
    run = min(run, found.depth_slack)
    lie = Lie(BENT, where, 1.0, where != HIGH, False, room, run, outside, driver_low, driver_high, vent_s, inner_end)
    slack = min(lengths.slack, leg - pipe.flare - pipe.socket)
    known = Lengths(lengths.length, slack, lengths.taken, lengths.brace, lengths.air, lengths.blocks, lengths.supports)
    _keep_better(given, pipe, stage, lie, known, packed, own)


# All of it


@compiled
def _may_lie(given: Given, pipe: Pipe, stage: Stage, placement: int) -> bool:
    """Whether vents lying so are not out of the question, whatever the details."""
    box, driver, rules, around = given.box, given.driver, given.rules, given.around
    panel = outlet_board(box, pipe)
    if placement == STRAIGHT:
        square = _lengths(given, pipe, stage, no_pipes(), 0.0, False, panel)
        supported = SUPPORT_SPAN - (square.length - panel) >= 0.0
        tuned = min(square.slack, square.air) >= 0.0
        return tuned and supported and _outside_panel(box, driver, pipe, around) >= 0.0
    # Where pipes pass them braces may be anything between none and whole plates.
    bent = placement == BENT
    through = panel if bent else box.board
    least = stage.volume - stage.row.braces * box.inner_area * box.board
    shortest, existing, _, _ = _tuned(through, pipe, rules, around.tuning, stage.volume, bent)
    longest, _, beyond, _ = _tuned(through, pipe, rules, around.tuning, least, bent)
    if not min(existing, beyond) >= 0.0:
        return False
    if placement == BENT:
        turns = longest - panel >= pipe.sweep
        return turns and _outside_panel(box, driver, pipe, around) >= 0.0
    fits = shortest - box.board + pipe.inner <= box.inner_width
    return fits and stage.free_width - box.outer_width - pipe.inner >= 0.0


@compiled
def _try_top(given: Given, pipe: Pipe, stage: Stage, packed: Packed, own: Piped) -> None:
    """The same of vents through the top panel."""
    thorough = given.around.thorough
    _try_straight(given, pipe, stage, BESIDE, 1, packed, own)
    if own.slack >= 0.0 or not (stage.sound or thorough):
        return
    if thorough or _may_lie(given, pipe, stage, STRAIGHT):
        for split, least in SPLITS:
            if own.slack < 0.0 and split != 1 and pipe.number >= least:
                _try_straight(given, pipe, stage, BESIDE, split, packed, own)
    if np.isnan(pipe.elbow):
        return
    if own.slack < 0.0 and (thorough or _may_lie(given, pipe, stage, BENT)):
        for where in (HIGH, BESIDE):
            if own.slack < 0.0:
                _try_bent(given, pipe, stage, where, packed, own)


@compiled
def _try_ways(given: Given, pipe: Pipe, stage: Stage, packed: Packed, own: Piped) -> None:
    """Try the ways one after the other, the simplest to build first, until one fits.

    A design that fails for other reasons is told by the first way alone how far its vents are
    from fitting.  Unless it is to be ``thorough``, ways that are out of the question are passed over;
    what fits is the same.
    """
    thorough = given.around.thorough
    if pipe.top:
        _try_top(given, pipe, stage, packed, own)
        return
    if pipe.side:
        _try_side(given, pipe, stage, True, True, False, 1, packed, own)
    else:
        _try_straight(given, pipe, stage, BESIDE, 1, packed, own)
    if own.slack >= 0.0 or not (stage.sound or thorough):
        return
    if pipe.side and (thorough or _may_lie(given, pipe, stage, SIDE)):
        for beside in (False, True):
            for low in (True, False):
                for split, least in SPLITS:
                    for at_back in (True, False):
                        if own.slack < 0.0 and pipe.number >= least and (at_back or not beside):
                            _try_side(given, pipe, stage, low, at_back, beside, split, packed, own)
    if own.slack < 0.0 and (thorough or _may_lie(given, pipe, stage, STRAIGHT)):
        for split, least in SPLITS:
            if own.slack < 0.0 and pipe.number >= least:
                _try_straight(given, pipe, stage, BESIDE, split, packed, own)
        for where in (LOW, HIGH):
            if own.slack < 0.0:
                _try_straight(given, pipe, stage, where, 1, packed, own)
    if np.isnan(pipe.elbow):
        return
    if own.slack < 0.0 and (thorough or _may_lie(given, pipe, stage, BENT)):
        for where in (LOW, HIGH, BESIDE):
            if own.slack < 0.0:
                _try_bent(given, pipe, stage, where, packed, own)


@compiled
def _off_outline(y: float, z: float, block: Block) -> float:
    """Distance in m of a point from the edges of a block's section."""
    nearest = np.inf
    for corner in range(4):
        after = (corner + 1) % 4
        along_y, along_z = block.y[after] - block.y[corner], block.z[after] - block.z[corner]
        from_y, from_z = y - block.y[corner], z - block.z[corner]
        squared = max(along_y * along_y + along_z * along_z, 1e-12)
        part = min(max((from_y * along_y + from_z * along_z) / squared, 0.0), 1.0)
        nearest = min(nearest, np.hypot(from_y - part * along_y, from_z - part * along_z))
    return nearest


@compiled
def block_under(box: Box, pipe: Pipe, rules: Allowances, face: Face, own: Piped, number: float) -> Block:
    """The block that carries a vent of a packed box, along the width."""
    if own.vent_placement == SIDE:
        columns = float(max(own.vent_columns, 1))
        return block_at(box, pipe, rules, number, columns, own.vent_low, own.vent_at_back)
    radius, s = 0.5 * pipe.outer, own.vent_s + number * bent_pitch(pipe, rules)
    panel, through, deep = outlet(box, pipe, face), outlet_board(box, pipe), pipe.turn + pipe.bend
    y0, z0 = at_face(panel, s - radius, through)
    y1, z1 = at_face(panel, s + radius, through)
    y2, z2 = at_face(panel, s + radius, deep)
    y3, z3 = at_face(panel, s - radius, deep)
    return Block((y0, y1, y2, y3), (z0, z1, z2, z3))


@compiled
def axis_of(box: Box, pipe: Pipe, rules: Allowances, face: Face, own: Piped, number: float) -> tuple[float, float]:
    """Place (y, z) of the part of a vent that lies along the width, m."""
    if own.vent_placement == SIDE:
        columns = float(max(own.vent_columns, 1))
        y, z, _ = side_vent_at(box, pipe, rules, number, columns, own.vent_low, own.vent_at_back)
        return y, z
    panel = outlet(box, pipe, face)
    return at_face(panel, own.vent_s + number * bent_pitch(pipe, rules), pipe.turn + pipe.bend)


@compiled
def _cup_beside_vents(given: Given, pipe: Pipe, y: float, z: float, packed: Packed, own: Piped) -> float:
    """Distance in m by which a cup at (y, z) clears the vents and the air before their inner mouths."""
    box, rules, face = given.box, given.rules, given.face
    cup, gap, clear_by = 0.5 * rules.cup_cutout, rules.gap, np.inf
    ends_before = box.inner_width - max(rules.cup_depth - box.board, 0.0) - gap - own.inner_end
    s, depth = on_face(outlet(box, pipe, face), y, z)
    for number in range(int(pipe.number)):
        if own.vent_placement == STRAIGHT:
            level = np.floor(number / max(own.vent_columns, 1)) if own.vent_where == BESIDE else 0.0
            aside = abs(s - (own.vent_s + level * (pipe.rim + gap))) - 0.5 * pipe.rim
            beyond = depth - packed.vent_length - pipe.inner
            off = np.hypot(aside, beyond) if aside > 0.0 and beyond > 0.0 else max(aside, beyond)
            distance = off - cup - gap
        else:
            at_y, at_z = axis_of(box, pipe, rules, face, own, float(number))
            distance = np.hypot(at_y - y, at_z - z) - (0.5 * (pipe.rim + rules.cup_cutout) + gap)
            if packed.support_count > 0:
                block = block_under(box, pipe, rules, face, own, float(number))
                distance = min(distance, _off_outline(y, z, block) - cup - gap)
            distance = max(distance, ends_before)
        clear_by = min(clear_by, distance)
    return clear_by


@compiled
def _attempt(given: Given, pipe: Pipe, in_column: int, cup_apart: bool, packed: Packed, own: Piped) -> None:
    stage = begin(given, in_column, cup_apart, 0.0, packed)
    own.vent_placement, own.vent_where, own.vent_columns = NONE, NOWHERE, 0
    own.vent_low = own.vent_at_back = own.vent_top = False
    own.vent_s, own.inner_end, own.slack = np.nan, 0.0, -np.inf
    _try_ways(given, pipe, stage, packed, own)
    bent = own.vent_placement == BENT
    packed.vent_area, packed.vent_hydraulic = 0.25 * np.pi * (pipe.inner * pipe.inner), pipe.inner
    packed.vent_acoustic_length = packed.vent_length + pipe.counted - (pipe.short_cut if bent else 0.0)
    packed.vent_ends, packed.vent_outer_end = BOTH_ENDS * pipe.mouth, FLUSH_END * pipe.mouth
    packed.vent_bends = 1 if bent else 0
    if settle(given, stage, packed) and given.rules.cup:
        packed.slacks[inside.CUP] = -np.inf
        for corner in range(CORNERS):
            cup = cup_at(given.box, given.rules, corner, 0.0, 0.0)
            slack, first = cup.slack, packed.driver_s
            if not cup_apart:
                drivers = cup_beside_drivers(given, cup.y, cup.z, first, stage.in_a_column)
                slack = min(min(slack, drivers), _cup_beside_vents(given, pipe, cup.y, cup.z, packed, own))
            if keep_cup(packed, Cup(cup.y, cup.z, slack)):
                break
    judge(packed)


# Across the width


@compiled
def _with_group(
    row: Row, driver: Driver, pipe: Pipe, rules: Allowances, own: Piped, braces: int, brace_x: Floats
) -> tuple[Floats, Floats, Counts]:
    """Bays beside a group of straight vents at the left end, in a bay of their own or in one shared with drivers."""
    alone, shared = vent_group(pipe, rules, row.board, float(own.vent_columns))
    # The roomier of the two ways, as the search judged it.
    if own_bay(row, alone) >= shared_bay(row, shared):
        counts, group = np.zeros(braces + 1, dtype=np.int64), alone
        beyond = bays.columns_over(row, driver.facing, max(braces, 1))
        for bay in range(braces):
            counts[bay + 1] = beyond[bay]
    else:
        counts, group = bays.columns_over(row, driver.facing, braces + 1), shared
        if driver.facing != SIDEWAYS or row.braces == 0.0:
            # The least of them in the first bay, then empty ones, then the others in order.
            empty = bays.fewest_first(counts)
            counts[0], counts[empty] = counts[empty], counts[0]
    left, right = bays.stand_braces(bays.widths_for(row, counts, room_of(row), 0.0, group), row.board, brace_x)
    if counts[0] > 0:
        left[0] += group
    return left, right, counts


@compiled
def _beside_run(
    row: Row, facing: int, run: float, first: float, braces: int, brace_x: Floats
) -> tuple[Floats, Floats, Counts]:
    """Bays beside pipes along the width: drivers in the last, as far right as the spans allow where they must.

    ``run`` is what the pipes need, ``first`` the width of the first bay, m.
    """
    counts, end = bays.columns_over(row, facing, braces + 1), braces + 1
    empty, room = bays.fewest_first(counts), room_of(row)
    widths = bays.widths_for(row, counts, room, first, 0.0)
    before, needed_first = 0.0, bays.needed(counts[empty], row.half, row.pitch)
    for bay in range(empty):
        before += widths[bay]
    if before + empty * row.board + widths[empty] - needed_first < run:
        # Narrow the bays beyond the first drivers' as far as the span of the others allows.
        needs, beyond, narrowed = np.zeros(end), 0.0, 0.0
        for bay in range(empty + 1, end):
            needs[bay] = bays.needed(counts[bay], row.half, row.pitch)
            beyond += needs[bay]
        others = room - (empty * row.panel_span + row.span)
        bays.level_bays(needs, empty + 1, end, max(others, beyond), widths)
        for bay in range(empty + 1, end):
            narrowed += widths[bay]
        needs[empty] = needed_first
        if empty > 0:
            needs[0] = first
        bays.level_bays(needs, 0, empty + 1, room - narrowed, widths)
    left, right = bays.stand_braces(widths, row.board, brace_x)
    left[empty] = max(left[empty], row.board + run)
    return left, right, counts


@compiled
def _stand(given: Given, pipe: Pipe, packed: Packed, own: Piped, i: int, across: Across) -> None:
    """``opening_x`` is where straight and bent vents have their outer mouths, across the width."""
    column_x, brace_x, opening_x = across.column_x[i], across.brace_x[i], across.opening_x[i]
    box, driver, rules, face = given.box, given.driver, given.rules, given.face
    row, braces, pitch = row_across(given, packed), packed.brace_count, pipe.rim + rules.gap
    placement, beside = own.vent_placement, own.vent_where == BESIDE
    leg_end = bent_start(pipe, rules) + pipe.bend + bent_leg(pipe, packed.vent_length)
    if beside and placement == STRAIGHT:
        left, right, counts = _with_group(row, driver, pipe, rules, own, braces, brace_x)
    elif beside and placement == BENT:
        first = bent_turned(pipe, rules)
        run = max(leg_end + pipe.inner, first + row.board)
        left, right, counts = _beside_run(row, driver.facing, run, first, braces, brace_x)
    elif beside:
        run = packed.vent_length - row.board + pipe.inner
        left, right, counts = _beside_run(row, driver.facing, run, 0.0, braces, brace_x)
    else:
        counts = bays.columns_over(row, driver.facing, braces + 1)
        first = bent_turned(pipe, rules) if placement == BENT else 0.0
        left, right = bays.stand_braces(bays.widths_for(row, counts, room_of(row), first, 0.0), row.board, brace_x)
    bays.stand_drivers(row, driver.facing, left, right, 0, counts, column_x)
    if placement == STRAIGHT and not beside:
        _stand_in_a_row(row, pipe, rules, left, right, opening_x)
    for number in range(int(pipe.number)):
        if placement == STRAIGHT:
            level = number // own.vent_columns if beside else 0
            if beside:
                opening_x[number] = row.board + rules.gap + 0.5 * pipe.rim + (number % own.vent_columns) * pitch
            x, kind = opening_x[number], UPWARD if driver.facing == DOWN else SQUARE
            if pipe.top:
                kind = DOWNWARD
            y, z = at_face(outlet(box, pipe, face), own.vent_s + level * pitch, packed.vent_length)
        else:
            kind = ACROSS
            y, z = axis_of(box, pipe, rules, face, own, float(number))
            if placement == BENT:
                opening_x[number], x = row.board + bent_start(pipe, rules), row.board + leg_end
            else:
                x = packed.vent_length
        port = across.ports[i, number]
        put_port(box, port, kind, True, x, y, z, 0.5 * pipe.inner + pipe.flare)
        port.outer = 0.5 * pipe.rim
        port.inside = packed.vent_length - (row.board if placement == SIDE else outlet_board(box, pipe))


@compiled
def _stand_in_a_row(row: Row, pipe: Pipe, rules: Allowances, left: Floats, right: Floats, opening_x: Floats) -> None:
    """Vents in one row above or below the drivers: spread over equal bays, else all in the widest."""
    _, even = even_bay(row)
    vents, widest = int(pipe.number), 0
    counts = bays.spread(vents, len(left))
    if int(even) != len(left):
        for bay in range(len(left)):
            counts[bay] = 0
            if right[bay] - left[bay] > right[widest] - left[widest]:
                widest = bay
        counts[widest] = vents
    bays.stand(left, right, 0, counts, 0.5 * pipe.rim + rules.gap, pipe.rim + rules.gap, opening_x)


PACKING = OpeningPacking(sizes_of=sizes_of, own=Piped, pack=packing(_attempt), place=placing(_stand))
