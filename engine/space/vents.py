"""Vents to be placed: what is known of a batch before, what a way comes to, and the best one found.

Pipes along the width rest on a block of board for every ``SUPPORT_SPAN`` of their length
inside (common practice, no source).
"""

from __future__ import annotations

from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.flares import flared_end
from engine.acoustics.vents import BOTH_ENDS, FLUSH_END
from engine.facings import DOWN, SIDEWAYS
from engine.packing.contents import Contents, Rules
from engine.space.face import Face, Places
from engine.space.row import AROUND_HOLES, BRACE_WINDOW_MOST, Row
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Rows = NDArray[np.intp]

VENT_PLACEMENTS = (
    "none",
    "through side",
    "through baffle",
    "through baffle, bent",
    "slot through side",
    "slot through baffle",
)
VENT_WHERE = ("", "low", "high", "beside")
NONE, SIDE, STRAIGHT, BENT, SLOT_SIDE, SLOT_BAFFLE = range(6)
NOWHERE, LOW, HIGH, BESIDE = range(4)

SUPPORT_SPAN = 0.35  # m


@dataclass(frozen=True, kw_only=True)
class Flares:
    """What the flares at both ends of each pipe come to, arrays (N,)."""

    counted: Floats  # m that the air counts for both, less what they are long
    mouth: Floats  # m, radius of a straight bore with the same air before its mouth
    rims: Floats  # m³ that both rims take beside the pipe, inside the box

    def take(self, rows: Rows) -> Flares:
        return Flares(counted=self.counted[rows], mouth=self.mouth[rows], rims=self.rims[rows])


def flares_of(contents: Contents, board: float) -> Flares:
    """Flares of pipes; a rim is taken as a cylinder as wide as its flare, never less than it is.

    Seen from a bore of radius a the air before a mouth of radius a + r is a²/(a + r) times
    what it is for a bore of 1.
    """
    radius, flare = 0.5 * contents.vent_inner, contents.flare_radius
    flared = np.flatnonzero((flare > 0.0) & (radius > 0.0))
    found = Flares(counted=np.zeros(len(radius)), mouth=radius.copy(), rims=np.zeros(len(radius)))
    if flared.size:
        a, r = radius[flared], flare[flared]
        mouth = a**2 / (a + r)
        ring = 0.25 * np.pi * (contents.vent_rim[flared] ** 2 - contents.vent_outer[flared] ** 2)
        found.mouth[flared] = mouth
        found.counted[flared] = 2.0 * (flared_end(diameter=2.0 * a, flare_radius=r) - FLUSH_END * mouth - r)
        found.rims[flared] = contents.vent_count[flared] * ring * (r + np.maximum(r - board, 0.0))
    return found


@dataclass(frozen=True, kw_only=True)
class Part:
    """Designs still without a place for their vents, and all that is known of them before."""

    wedges: Wedges
    contents: Contents
    rules: Rules
    face: Face
    row: Row
    driver: Places
    flares: Flares
    stack: Floats  # length along the panel from the first driver's centre to the last one's
    volume: Floats  # m³ left by drivers and cup; braces, supports and vents are still to come off
    plates: Floats  # m³ of the braces before anything is cut away
    window: Floats  # part of a brace that its window takes
    tuning: Floats
    free_width: Floats
    ahead: Floats  # free way straight ahead of the baffle
    under: Floats  # free height under a box whose drivers face down

    def take(self, rows: NDArray[np.intp]) -> Part:
        return Part(
            wedges=self.wedges.take(rows),
            contents=self.contents.take(rows),
            rules=self.rules,
            face=self.face.take(rows),
            row=self.row.take(rows),
            driver=self.driver.take(rows),
            flares=self.flares.take(rows),
            stack=self.stack[rows],
            volume=self.volume[rows],
            plates=self.plates[rows],
            window=self.window[rows],
            tuning=self.tuning[rows],
            free_width=self.free_width[rows],
            ahead=self.ahead[rows],
            under=self.under[rows],
        )

    @property
    def gap(self) -> float:
        return self.rules.breathing_gap

    @property
    def pitch(self) -> Floats:
        return self.contents.vent_rim + self.gap

    @property
    def sideways(self) -> NDArray[np.bool_]:
        return np.equal(self.contents.facing, SIDEWAYS)

    @property
    def outside_panel(self) -> Floats:
        """Air before a mouth in the drivers' panel, or in the baffle, beyond one bore, (N,) m."""
        before_baffle = self.ahead / self.wedges.baffle_secant
        return np.where(self.contents.facing == DOWN, self.under, before_baffle) - self.contents.vent_inner

    @property
    def outside(self) -> Floats:
        """Air beside the box beyond one bore."""
        return self.free_width - self.wedges.outer_width - self.contents.vent_inner

    def columns(self, split: int) -> Floats:
        """Vents in a row: all of them, half of them or one, for ``split`` 1, 2 or 0."""
        count = self.contents.vent_count
        return np.ceil(count / split) if split else np.ones_like(count)

    def along(self, support: Floats, *, short_cut: Floats | float = 0.0) -> Pipes:
        """Pipes along the width, on blocks whose cross-sections add up to ``support`` (N,) m².

        ``short_cut`` (N,) m is what the air in a bend counts for less than its centre line.
        """
        contents, wedges = self.contents, self.wedges
        holes = AROUND_HOLES * contents.vent_count * 0.25 * np.pi * contents.vent_rim**2
        window = np.maximum(
            self.window, np.where(self.row.braces > 0.0, holes / np.maximum(wedges.inner_area, 1e-9), 0.0)
        )
        plate_left = np.sqrt(np.maximum(wedges.inner_area, 1e-9)) * (BRACE_WINDOW_MOST - window)
        window = np.minimum(window, BRACE_WINDOW_MOST)
        braces = self.plates * (1.0 - window)
        length, _, _ = self._tuned(self.volume - braces, short_cut)
        blocks = np.floor(np.maximum(length - wedges.board, 0.0) / SUPPORT_SPAN)
        supports = blocks * wedges.board * support
        length, slack, taken = self._tuned(self.volume - braces - supports, short_cut)
        slack = np.minimum(slack, np.where(plate_left < 0.0, plate_left, np.inf))
        return Pipes(length, slack, taken, braces, window, blocks, supports)

    def square(self) -> Pipes:
        """Pipes square to the panel: they meet no brace and stand on nothing."""
        braces = self.plates * (1.0 - self.window)
        length, slack, taken = self._tuned(self.volume - braces)
        nothing = np.zeros(len(length))
        return Pipes(length, slack, taken, braces, self.window, nothing, nothing)

    def _tuned(self, volume: Floats, short_cut: Floats | float = 0.0) -> tuple[Floats, Floats, Floats]:
        """Length of each vent (m), the metres by which it exists and is longer than the board, volume taken."""
        contents, board = self.contents, self.wedges.board
        count = contents.vent_count
        correction = BOTH_ENDS * self.flares.mouth + self.flares.counted - short_cut
        area = 0.25 * np.pi * contents.vent_inner**2
        solid = count * 0.25 * np.pi * contents.vent_outer**2
        wanted = count * area * (self.rules.c / (2.0 * np.pi * self.tuning)) ** 2  # (L + ΔL)·V, m⁴
        at_hand = np.maximum(volume - self.flares.rims + solid * (board + correction), 1e-6)
        root = np.sqrt(np.maximum(at_hand**2 - 4.0 * solid * wanted, 0.0))
        effective = 2.0 * wanted / (at_hand + root)
        length = effective - correction
        # Beyond the double root at_hand/(2·solid) no length tunes so low; there effective = 2·wanted/at_hand.
        existing = at_hand / (2.0 * np.maximum(solid, 1e-9)) - 2.0 * wanted / at_hand
        least = np.maximum(board, contents.flare_radius) + contents.flare_radius
        return length, np.minimum(existing, length - least), solid * (length - board) + self.flares.rims


@dataclass(frozen=True)
class Pipes:
    """What vents lying one way come to, arrays (N,)."""

    length: Floats  # m, from the panel's outer face to the inner mouth, along the centre line
    slack: Floats  # m by which such a length exists
    taken: Floats  # m³ inside
    braces: Floats  # m³ of board in the braces
    window: Floats  # part of a brace that is cut away, holes included
    blocks: Floats  # supports under each pipe
    supports: Floats  # m³ of them all


@dataclass(frozen=True, kw_only=True)
class Way:
    """One way to place the vents of a part, arrays over its designs.

    ``room`` is what is left beside panels and drivers, ``run`` along the pipes, ``outside``
    before the outer mouths, in m.
    """

    placement: int
    where: int
    columns: Floats
    low: bool
    at_back: bool
    pipes: Pipes
    room: Floats
    run: Floats
    outside: Floats
    driver_low: Floats
    driver_high: Floats
    vent_s: Floats
    inner_end: Floats  # x, m from the inner face of the left side, where the free air before the mouth ends; else 0


@dataclass(frozen=True, kw_only=True)
class Found:
    """The best way for the vents found so far, arrays (N,), written in place."""

    slack: Floats
    placement: Integers
    where: Integers
    columns: Integers
    low: NDArray[np.bool_]
    at_back: NDArray[np.bool_]
    length: Floats
    length_slack: Floats
    taken: Floats
    braces: Floats
    window: Floats
    blocks: Integers
    supports: Floats
    room: Floats
    run: Floats
    outside: Floats
    driver_low: Floats
    driver_high: Floats
    vent_s: Floats
    inner_end: Floats

    @staticmethod
    def nothing(braces: Floats, window: Floats, driver: Places) -> Found:
        count = len(braces)
        return Found(
            slack=np.full(count, -np.inf),
            placement=np.zeros(count, dtype=np.int64),
            where=np.zeros(count, dtype=np.int64),
            columns=np.zeros(count, dtype=np.int64),
            low=np.zeros(count, dtype=bool),
            at_back=np.zeros(count, dtype=bool),
            length=np.full(count, np.nan),
            length_slack=np.full(count, np.inf),
            taken=np.zeros(count),
            braces=braces,
            window=window.copy(),
            blocks=np.zeros(count, dtype=np.int64),
            supports=np.zeros(count),
            room=np.full(count, np.inf),
            run=np.full(count, np.inf),
            outside=np.full(count, np.inf),
            driver_low=driver.low.copy(),
            driver_high=driver.high.copy(),
            vent_s=np.full(count, np.nan),
            inner_end=np.zeros(count),
        )

    def take(self, rows: Rows) -> Found:
        return Found(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})

    def keep_better(self, rows: Rows, way: Way) -> NDArray[np.bool_]:
        """Take a way where nothing fitted yet and it has more room than what was found; says of which rows."""
        pipes: Pipes = way.pipes
        slack = np.minimum(np.minimum(way.room, way.run), np.minimum(way.outside, pipes.slack))
        better = (self.slack[rows] < 0.0) & (slack > self.slack[rows])
        chosen = rows[better]
        self.slack[chosen] = slack[better]
        self.placement[chosen] = way.placement
        self.where[chosen] = way.where
        self.low[chosen] = way.low
        self.at_back[chosen] = way.at_back
        # Where vents leave the drivers no place, the end of their interval is a point between.
        middle = 0.5 * (way.driver_low + way.driver_high)
        for mine, its in (
            (self.columns, way.columns),
            (self.length, pipes.length),
            (self.length_slack, pipes.slack),
            (self.taken, pipes.taken),
            (self.braces, pipes.braces),
            (self.window, pipes.window),
            (self.blocks, pipes.blocks),
            (self.supports, pipes.supports),
            (self.room, way.room),
            (self.run, way.run),
            (self.outside, way.outside),
            (self.driver_low, np.minimum(way.driver_low, middle)),
            (self.driver_high, np.maximum(way.driver_high, middle)),
            (self.vent_s, way.vent_s),
            (self.inner_end, way.inner_end),
        ):
            mine[chosen] = its[better]
        return better
