"""One box packed: what every opening's packing is made of, in the order in which it is used.

An opening tries one way after the other to stand drivers and cup (:func:`next_attempt`).  For each it
takes what is settled whatever the opening (:func:`begin`), finds a place for itself, writes what it takes of the
box into :class:`Packed`, and closes (:func:`settle`, a cup, :func:`judge`).

Everything that a driver or a vent can hit, side panels and braces apart, runs the whole
width of the box.  So clearances are exact in the cross-section through an axis
(``face.py``), and the row across the width is a sum of lengths (``row.py``).

Drivers stand side by side; where the width does not allow it they stand in columns of two,
three, … along the panel, first the way with fewest in a column.  The cup takes a corner of the right side panel
that drivers and vents leave, or else the end of the width is kept free for it.
"""

from __future__ import annotations

from typing import Annotated, NamedTuple

import numpy as np

from engine.core.compiled import compiled
from engine.facings import SIDEWAYS
from engine.packing.bays import Floats, columns_over, stand_braces, stand_drivers, widths_for
from engine.packing.box import Box
from engine.packing.braces import NO_BRACE, Brace, Zone, air_needed, brace_of, no_pipes
from engine.packing.contents import Allowances, Driver, Surroundings
from engine.packing.face import Face, Places, driver_places
from engine.packing.row import Row, room_of, row_of, row_slack

TOUCH = 1e-9  # m, what rounding may take off a length that is just enough
ROOM_ENOUGH = 1.0  # m, room reported where a limit does not apply or is far away

# What a box may be short of, by the names of its constraints (:mod:`engine.constraints`), in the order of the codes.
SLACKS = (
    "walls",
    "volume",
    "driver height",
    "driver depth",
    "driver row",
    "driver air",
    "radiator height",
    "radiator depth",
    "radiator row",
    "vent length",
    "vent room",
    "vent run",
    "vent outside",
    "terminal cup",
    "brace air",
    "cup outside",
)
(
    WALLS,
    VOLUME,
    DRIVER_HEIGHT,
    DRIVER_DEPTH,
    DRIVER_ROW,
    DRIVER_AIR,
    RADIATOR_HEIGHT,
    RADIATOR_DEPTH,
    RADIATOR_ROW,
    VENT_LENGTH,
    VENT_ROOM,
    VENT_RUN,
    VENT_OUTSIDE,
    CUP,
    BRACE_AIR,
    CUP_OUTSIDE,
) = range(len(SLACKS))
LIMITS = len(SLACKS)


class Packed:
    """A box with its contents in place, m; see ``engine.space.layout.Layout`` for the fields that it shares."""

    slacks: Annotated[Floats, LIMITS]  # m left at each limit, negative where it is broken
    least: float  # of them
    net_volume: float  # m³
    driver_rows: int
    driver_s: float
    driver_low: float  # between these the opening leaves a column of drivers its place
    driver_high: float
    brace_count: int
    brace_volume: float  # m³
    brace_form: int  # as in ``engine.packing.braces``, with the sizes of its ``Brace``
    brace_start: float  # heights between which braces stand
    brace_end: float
    brace_low: float
    brace_high: float
    brace_rear: float
    brace_front: float
    brace_pieces: int
    brace_free: float  # m² that each leaves the air beside pipes; nan without braces
    support_count: int
    support_volume: float  # m³
    opening_volume: float  # m³ that the opening takes inside, supports not counted
    vent_length: float
    vent_area: float  # m²
    vent_acoustic_length: float
    vent_ends: float
    vent_outer_end: float
    vent_bends: int
    vent_hydraulic: float
    cup_y: float
    cup_z: float
    end_taken: float  # width at the right end kept free for the cup or the opening


class Given(NamedTuple):
    """What is given of one design: rows of its batch, and the panel that carries its drivers."""

    box: Box
    driver: Driver
    rules: Allowances
    around: Surroundings
    face: Face


class Stage(NamedTuple):
    """What is settled about a box before its opening is placed, m."""

    row: Row
    driver: Places
    in_a_column: float
    stack: float  # length along the panel from the first driver's centre to the last one's
    volume: float  # m³ left by drivers and cup; braces, supports and opening are still to come off
    free_width: float  # beside box and driver
    sound: bool  # nothing is broken so far: worth trying ways for the opening


@compiled
def brace_for(
    given: Given, braces: float, columns: float, start: float, end: float, zone: Zone, openings: float
) -> tuple[Brace, float]:
    """What each of so many braces between two heights is, and what air it leaves beyond what is needed, m.

    ``openings`` is the area at which all their air would pass a brace just as fast as it may, m².
    """
    if braces == 0.0:
        return Brace(NO_BRACE, start, end, 0.0, 0.0, 0, 0.0, np.nan), np.inf
    needed = air_needed(braces, columns, given.driver.stirred, openings)
    return brace_of(given.box, start, end, zone, given.rules.gap, given.rules.brace_span, needed)


@compiled
def keep_braces(box: Box, braces: float, start: float, end: float, brace: Brace, air: float, packed: Packed) -> None:
    """Write what :func:`brace_for` found."""
    packed.brace_count, packed.brace_volume = int(braces), braces * brace.board * box.board
    packed.brace_form, packed.brace_pieces = brace.form, brace.pieces
    packed.brace_start, packed.brace_end = start, end
    packed.brace_low, packed.brace_high = brace.low, brace.high
    packed.brace_rear, packed.brace_front = brace.rear, brace.front
    packed.brace_free, packed.slacks[BRACE_AIR] = brace.free, air


@compiled
def stand_whole_braces(given: Given, braces: float, columns: float, openings: float, packed: Packed) -> None:
    """Braces from bottom to top that no pipe passes."""
    box = given.box
    start, end = box.board, box.outer_height - box.board
    brace, air = brace_for(given, braces, columns, start, end, no_pipes(), openings)
    keep_braces(box, braces, start, end, brace, air, packed)


@compiled
def begin(given: Given, in_column: int, cup_apart: bool, displaced: float, packed: Packed) -> Stage:
    """Drivers ``in_column`` along the panel, braces and row; ``cup_apart`` keeps the end of the width for the cup.

    ``displaced`` is what is mounted besides and takes of the volume, m³.  Writes
    ``packed`` as it stands without an opening.
    """
    box, driver, rules, around = given.box, given.driver, given.rules, given.around
    cup_depth = max(rules.cup_depth - box.board, 0.0) if rules.cup else 0.0
    taken = cup_depth + rules.gap if cup_apart else 0.0
    row = row_of(box, driver, rules, np.ceil(driver.number / in_column), taken)
    found = driver_places(box, given.face, driver, rules, 0.0, 0.0, 0.0, 0.0)
    in_a_column, driver_air, slack_air = min(driver.number, float(in_column)), 0.0, np.inf
    if driver.facing == SIDEWAYS:
        in_a_column, driver_air = driver.number, around.driver_air
        slack_air = around.free_width - box.outer_width - driver_air
    # On the right of the box, before a driver in the side panel or the cup.
    beside = max(driver_air, rules.cup_room if rules.cup else 0.0)
    stack = (in_a_column - 1.0) * (driver.widest + rules.gap)
    cup_volume = 0.25 * np.pi * rules.cup_cutout * rules.cup_cutout * cup_depth
    volume = box.gross_volume - driver.number * driver.displacement - cup_volume - displaced
    for limit in range(LIMITS):
        packed.slacks[limit] = np.inf
    height, width = min(found.height_slack, found.high - found.low) - stack, row_slack(row)
    packed.slacks[WALLS], packed.slacks[DRIVER_AIR] = -box.violation, slack_air
    packed.slacks[DRIVER_HEIGHT], packed.slacks[DRIVER_DEPTH] = height, found.depth_slack
    if rules.cup:
        packed.slacks[CUP_OUTSIDE] = around.free_width - box.outer_width - rules.cup_room
    packed.slacks[DRIVER_ROW] = width
    broken = (
        box.violation > 0.0
        or min(slack_air, packed.slacks[CUP_OUTSIDE]) < 0.0
        or height < 0.0
        or found.depth_slack < 0.0
        or width < 0.0
    )
    sound = around.worth and not broken
    packed.driver_rows = int(in_a_column)
    packed.driver_low, packed.driver_high = found.low, found.high
    stand_whole_braces(given, row.braces, row.columns, 0.0, packed)
    packed.support_count, packed.support_volume, packed.opening_volume = 0, 0.0, 0.0
    packed.vent_length = packed.vent_acoustic_length = packed.vent_hydraulic = np.nan
    packed.vent_ends = packed.vent_outer_end = packed.cup_y = packed.cup_z = np.nan
    packed.vent_area, packed.vent_bends = 0.0, 0
    packed.end_taken = row.taken
    return Stage(row, found, in_a_column, stack, volume, around.free_width - beside, sound)


@compiled
def row_across(given: Given, packed: Packed) -> Row:
    """The row of a box that is packed."""
    columns = np.ceil(given.driver.number / packed.driver_rows)
    return row_of(given.box, given.driver, given.rules, columns, packed.end_taken)


@compiled
def stand_evenly(given: Given, packed: Packed, brace_x: Floats, column_x: Floats) -> None:
    """Braces and columns of drivers of a packed box, as even as they go, where nothing else stands in its row."""
    row, facing = row_across(given, packed), given.driver.facing
    counts = columns_over(row, facing, packed.brace_count + 1)
    left, right = stand_braces(widths_for(row, counts, room_of(row), 0.0, 0.0), row.board, brace_x)
    stand_drivers(row, facing, left, right, 0, counts, column_x)


@compiled
def settle(given: Given, stage: Stage, packed: Packed) -> bool:
    """Stand the drivers in what the opening leaves them and add up volumes; says whether all fits so far."""
    length = given.box.outer_height if given.driver.facing == SIDEWAYS else given.face.length
    highest = max(packed.driver_high - stage.stack, packed.driver_low)
    packed.driver_s = min(max(0.5 * (length - stage.stack), packed.driver_low), highest)
    before_opening = stage.volume - packed.brace_volume - packed.support_volume
    packed.slacks[VOLUME] = np.cbrt(before_opening)
    packed.net_volume = before_opening - packed.opening_volume
    least = np.inf
    for limit in range(LIMITS):
        least = min(least, packed.slacks[limit])
    return least >= -TOUCH


@compiled
def judge(packed: Packed) -> None:
    """Room as it is reported: what rounding makes of a length that is just enough is none, far away is enough."""
    least = np.inf
    for limit in range(LIMITS):
        slack = packed.slacks[limit]
        slack = 0.0 if abs(slack) < TOUCH else min(slack, ROOM_ENOUGH)
        packed.slacks[limit] = slack
        least = min(least, slack)
    packed.least = least


@compiled
def next_attempt(given: Given, packed: Packed, in_column: int, cup_apart: bool) -> tuple[int, bool]:
    """The next way to stand drivers and cup after the last one: how many in a column, and the cup apart or not.

    ``packed`` is the best so far; no drivers in a column: that is it.
    """
    driver = given.driver
    if not given.around.worth or driver.facing == SIDEWAYS:
        return 0, False
    if given.rules.cup and not cup_apart and packed.slacks[CUP] < 0.0 and packed.driver_rows == in_column:
        return in_column, True
    for more in range(in_column + 1, int(driver.number) + 1):
        if _columns_may_help(driver, packed, more):
            return more, False
    return 0, False


@compiled
def _columns_may_help(driver: Driver, packed: Packed, in_column: int) -> bool:
    """Whether it is short of width alone, or of a place for opening or cup, and columns of so many are fewer."""
    if not packed.least < 0.0 or np.ceil(driver.number / in_column) >= np.ceil(driver.number / (in_column - 1)):
        return False
    least = min(packed.slacks[WALLS], packed.slacks[VOLUME])
    least = min(min(least, packed.slacks[DRIVER_AIR]), min(packed.slacks[DRIVER_HEIGHT], packed.slacks[DRIVER_DEPTH]))
    return bool(least >= 0.0)
