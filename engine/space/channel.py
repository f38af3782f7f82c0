"""Slot vents: a channel along the bottom or the top, from side to back to baffle built of the box's own walls.

One board closes the channel towards the box.  Its outer mouth lies in the left side panel, or in the baffle
at the left end, where the air turns at once; the window is then as wide as the channel is
deep.  Where the width is too short the channel turns once more, along the right side panel, as high across
as before.  Drivers and the terminal cup keep to the box beyond the board, braces end at it.

A corner right behind the window counts for 0.01 to 0.03 depths of the channel less than a mitred one
between long legs (flow with the air before the mouth solved on a grid [C]); that is left out.
Before either mouth one height of the channel is kept free (common practice, no source).  The box
is taken to stand on a floor, which lies beside a mouth at its bottom.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.bends import MITRE_SQUARES, mitre_centre_line, mitre_length
from engine.acoustics.slots import FREE_OVER_FLUSH, full_width_end, mirrored_end
from engine.facings import DOWN, FRONT
from engine.packing.contents import Contents
from engine.space.face import Places, driver_places
from engine.space.row import BRACE_WINDOW_MOST, Row, row_of
from engine.space.vents import HIGH, LOW, SLOT_BAFFLE, SLOT_SIDE, Found, Part, Pipes, Way
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Rows = NDArray[np.intp]

NO_WAY = -1.0  # m, slack of a way that this design does not have
STEPS = 12  # of Newton's method for the length of a turn
SETTLED = 1e-9  # what is then left of the length, as a part of it


@dataclass(frozen=True)
class Channel:
    """Channels of N boxes at their bottom or top; ``k`` is the distance from the inner face of that panel, m."""

    wedges: Wedges
    height: Floats
    low: bool

    def z(self, k: Floats | float) -> Floats:
        board, high = self.wedges.board, self.wedges.outer_height
        return np.asarray(board + k + 0.0 * high if self.low else high - board - k)

    def depth(self, k: Floats | float) -> Floats:
        """Clear depth from back to baffle, (N,) m."""
        wedges = self.wedges
        return wedges.bottom_depth + wedges.taper * self.z(k) - wedges.panel_depth

    @property
    def width(self) -> Floats:
        """Mean depth of the channel, (N,) m: the other side of the slot's mouth."""
        return self.depth(0.5 * self.height)

    @property
    def area(self) -> Floats:
        return self.width * self.height

    @property
    def board_area(self) -> Floats:
        """Section of the board that closes the channel, (N,) m²."""
        return self.depth(self.height + 0.5 * self.wedges.board) * self.wedges.board

    @property
    def taken(self) -> Floats:
        """What the channel takes of the height inside, board included, (N,) m."""
        return self.height + self.wedges.board

    def leg(self, turn: Floats) -> tuple[Floats, Floats]:
        """Bore and board of a leg ``turn`` long along the right side panel, (N,) m³ each, the corner left out."""
        height, board = self.height, self.wedges.board
        upright = np.maximum(turn - board, 0.0)
        bore = height * turn * self.depth(height + 0.5 * turn)
        return bore, board * upright * self.depth(height + board + 0.5 * upright)

    def counted(self, turn: Floats) -> Floats:
        """Length that the leg counts for in a channel as deep as the one before it, (N,) m: width·∫dk/depth."""
        start, end = (np.maximum(self.depth(self.height + k), 1e-3) for k in (0.0, turn))
        growth = end / start - 1.0
        even = np.abs(growth) < 1e-6
        mean = np.where(even, 1.0 - 0.5 * growth, np.log1p(growth) / np.where(even, 1.0, growth))
        return self.width * turn / start * mean


@dataclass(frozen=True, kw_only=True)
class SlotWay:
    """One way to lay the slots of a part, arrays over its designs."""

    way: Way
    acoustic: Floats
    ends: Floats
    outer_end: Floats
    bends: Integers
    width: Floats
    turn: Floats
    boards: Floats
    brace_count: Floats
    end_taken: Floats


@dataclass(frozen=True, kw_only=True)
class Slots:
    """What came of the slots, arrays (N,), written in place; where there is none, what the box is without."""

    acoustic: Floats
    ends: Floats
    outer_end: Floats
    bends: Integers
    width: Floats
    turn: Floats
    boards: Floats
    brace_count: Floats
    end_taken: Floats  # width at the right end kept free for the cup or a turn

    @staticmethod
    def nothing(row: Row, braces: Floats) -> Slots:
        count = len(braces)
        return Slots(
            acoustic=np.full(count, np.nan),
            ends=np.full(count, np.nan),
            outer_end=np.full(count, np.nan),
            bends=np.zeros(count, dtype=np.int64),
            width=np.full(count, np.nan),
            turn=np.zeros(count),
            boards=np.zeros(count),
            brace_count=braces.copy(),
            end_taken=row.taken.copy(),
        )

    def keep(self, rows: Rows, slot: SlotWay, better: NDArray[np.bool_]) -> None:
        for field in fields(self):
            getattr(self, field.name)[rows[better]] = getattr(slot, field.name)[better]


def beyond_slot(part: Part, channel: Channel, *, in_baffle: bool) -> Places:
    """Places for one driver in what the channel leaves; off the window where it is in the same panel."""
    contents, rules, board = part.contents, part.rules, part.wedges.board
    taken, lean = channel.taken, part.wedges.baffle_slope if channel.low else -part.wedges.baffle_slope
    # Cut level through a baffle that leans, the window is nearer to the middle on one of its faces.
    window = (board + channel.height) * part.wedges.baffle_secant + board * np.maximum(-lean, 0.0)
    window = window + rules.breathing_gap
    edge = np.where((contents.facing == FRONT) & in_baffle, window, 0.0)
    return driver_places(
        part.wedges,
        part.face.less(taken, low=channel.low, facing=contents.facing),
        contents,
        gap=rules.breathing_gap,
        round_over=rules.round_over,
        taken=(taken, 0.0) if channel.low else (0.0, taken),
        window=(edge, 0.0) if channel.low else (0.0, edge),
    )


def _slot(part: Part, *, low: bool, in_baffle: bool, turned: bool) -> SlotWay:
    wedges, contents, rules, board = part.wedges, part.contents, part.rules, part.wedges.board
    channel = Channel(wedges, contents.slot_height, low)
    height, width, across = channel.height, np.maximum(channel.width, 1e-3), wedges.inner_width
    row = part.row
    if turned:
        end_taken = np.maximum(row.taken, channel.taken)
        row = row_of(wedges, contents, rules, columns=row.count, taken=end_taken)
    braces, window, plate_left = _braces(part, channel, row)
    volume = part.volume - braces
    # Through the panel: straight on, or round a corner right behind it.
    through = board * wedges.baffle_secant if in_baffle else np.full(len(wedges), board)
    corner = width if in_baffle else np.zeros(len(wedges))
    outer_end = mirrored_end(width=width, height=height, along_width=low)
    before = through - (1.0 - MITRE_SQUARES) * corner
    wanted = width * height * (rules.c / (2.0 * np.pi * part.tuning)) ** 2  # (L + ΔL)·V, m⁴
    if turned:
        turn, inner_end, existing = _turn(channel, volume=volume, wanted=wanted, before=before + outer_end)
        acoustic = before + mitre_length(legs=across - height + channel.counted(turn), height=height)
        length = through + mitre_centre_line(legs=across - height + turn, height=height)
        least, run = turn - board, np.minimum(wedges.inner_height - 2.0 * height - turn, row.slack)
        run = np.minimum(run, across - 2.0 * height - corner)
        bore, upright = channel.leg(turn)
        boards = channel.board_area * (across - height) + upright
        taken = channel.area * across + bore + boards
        run = np.where(part.sideways, NO_WAY, run)
    else:
        turn = np.zeros(len(wedges))
        inner_end = FREE_OVER_FLUSH * full_width_end(height=height, beyond=wedges.inner_height)
        section = channel.area + channel.board_area
        fixed = before + outer_end + inner_end
        at_hand = np.maximum(volume + section * fixed, 1e-6)
        root = np.sqrt(np.maximum(at_hand**2 - 4.0 * section * wanted, 0.0))
        run_inside = 2.0 * wanted / (at_hand + root) - fixed
        existing = at_hand / (2.0 * section) - 2.0 * wanted / at_hand
        acoustic, length = before + run_inside, through + run_inside
        least = run_inside - np.where(in_baffle, corner + height, 0.0)
        run = across - row.taken - run_inside - height
        boards, taken = channel.board_area * run_inside, section * run_inside
    places = beyond_slot(part, channel, in_baffle=in_baffle)
    room = np.minimum(np.minimum(places.height_slack, places.high - places.low) - part.stack, places.depth_slack)
    outside = part.ahead / wedges.baffle_secant if in_baffle else part.free_width - wedges.outer_width
    nothing = np.zeros(len(wedges))
    return SlotWay(
        way=Way(
            placement=SLOT_BAFFLE if in_baffle else SLOT_SIDE,
            where=LOW if low else HIGH,
            columns=np.ones(len(wedges)),
            low=low,
            at_back=True,
            pipes=Pipes(
                length=length,
                slack=np.minimum(np.minimum(existing, least), plate_left),
                taken=taken,
                braces=braces,
                window=window,
                blocks=nothing,
                supports=nothing,
            ),
            room=np.minimum(room, channel.width),
            run=run,
            outside=outside - height,
            driver_low=places.low,
            driver_high=places.high,
            vent_s=np.full(len(wedges), np.nan),
            inner_end=nothing,
        ),
        acoustic=acoustic,
        ends=outer_end + inner_end,
        outer_end=outer_end,
        bends=np.full(len(wedges), int(in_baffle) + int(turned)),
        width=width,
        turn=turn,
        boards=boards,
        brace_count=row.braces,
        end_taken=row.taken,
    )


def _braces(part: Part, channel: Channel, row: Row) -> tuple[Floats, Floats, Floats]:
    """Board in the braces (m³), the part of each that is cut away, and the metres by which enough is left.

    Each is cut away as much as the channel takes of it, at least, whether it ends at the channel or not.
    """
    area = np.maximum(part.wedges.inner_area, 1e-9)
    notch = np.where(row.braces > 0.0, (channel.area + channel.board_area) / area, 0.0)
    window = np.maximum(part.window, notch)
    left = np.sqrt(area) * (BRACE_WINDOW_MOST - window)
    window = np.minimum(window, BRACE_WINDOW_MOST)
    plates = row.braces * part.wedges.inner_area * part.wedges.board
    return plates * (1.0 - window), window, np.where(left < 0.0, left, np.inf)


def _turn(channel: Channel, *, volume: Floats, wanted: Floats, before: Floats) -> tuple[Floats, Floats, Floats]:
    """Length of the leg along the right side panel that tunes the box, its end, the metres by which there is one.

    ``before`` is what counts up to the channel, the outer end included, m; the inner end is that in
    a channel as deep as the one before the leg.  (L + ΔL)·V = ``wanted`` by Newton's method from no leg at
    all, which leads to the shorter of two lengths.
    """
    wedges, height, board = channel.wedges, channel.height, channel.wedges.board
    across = wedges.inner_width
    along = channel.area * across + channel.board_area * (across - height)
    legs = before + mitre_length(legs=across - height, height=height)
    end = FREE_OVER_FLUSH * full_width_end(height=height, beyond=across) * channel.width

    def at(turn: Floats) -> tuple[Floats, Floats, Floats]:
        mouth = np.maximum(channel.depth(height + turn), 1e-3)
        bore, upright = channel.leg(turn)
        return legs + channel.counted(turn) + end / mouth, volume - along - bore - upright, mouth

    turn = np.zeros(len(wedges))
    for _ in range(STEPS):
        effective, left, mouth = at(turn)
        slope = np.maximum(left * channel.width / mouth - effective * (height + board) * mouth, 1e-4)
        turn = np.clip(turn - (effective * left - wanted) / slope, 0.0, wedges.inner_height)
    effective, left, mouth = at(turn)
    missing = np.abs(wanted / np.maximum(left, 1e-6) - effective)
    return turn, end / mouth, np.where(missing > SETTLED * np.abs(effective), -missing, np.inf)


def _ways() -> Iterator[tuple[bool, bool, bool]]:
    """Every way there is (low, in the baffle, turned), the simplest to build first."""
    for turned in (False, True):
        for low in (True, False):
            for in_baffle in (False, True):
                yield low, in_baffle, turned


WAYS = tuple(_ways())


def try_slots(part: Part, rows: Rows, found: Found, slots: Slots, *, worth: NDArray[np.bool_]) -> None:
    """Try the ways one after the other on the designs (numbers ``rows``) for which none fitted yet.

    Boxes whose drivers face down have the channel at the top.  Designs that are not ``worth``
    it, because they fail for other reasons, are told by the first way alone how far they are from fitting.
    """
    tried = np.zeros(len(rows), dtype=bool)
    for low, in_baffle, turned in WAYS:
        asked = (found.slack[rows] < 0.0) & (worth | ~tried)
        chosen = np.flatnonzero(asked & ((part.contents.facing != DOWN) | (not low)))
        if chosen.size:
            tried[chosen] = True
            slot = _slot(part.take(chosen), low=low, in_baffle=in_baffle, turned=turned)
            slots.keep(rows[chosen], slot, found.keep_better(rows[chosen], slot.way))


def corners_taken(contents: Contents, found: Found, slots: Slots, *, board: float) -> tuple[Floats, Floats]:
    """Height beside the right side panel that slots leave nothing else at the bottom and the top, (N,) m each."""
    slot = np.isin(found.placement, (SLOT_SIDE, SLOT_BAFFLE))
    height = np.where(slot, contents.slot_height, 0.0)
    taken = np.where(slot, height + np.where(slots.turn > 0.0, slots.turn + height, board), 0.0)
    return np.where(found.low, taken, 0.0), np.where(found.low, 0.0, taken)
