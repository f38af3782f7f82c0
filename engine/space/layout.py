"""What goes into the box: drivers, vents and braces, where they lie and what room they leave.

Everything that a driver or a vent can hit, side panels and braces apart, runs the whole
width of the box.  So clearances are exact in the cross-section through an axis, and the
row across the width is a sum of lengths (``row.py``).

On the baffle a place is given by s, metres up the outer face from its lower edge, and by
the depth d behind that face.  A driver is taken as the cut-out through the baffle and the frustum from
there to its magnet at its full mounting depth.  Sliding it along the baffle changes every
clearance linearly, so its places are an interval of s.

A vent through a side panel lies along the width; its pipe passes braces through holes.
Vents stack in rows at the bottom or the top, or stand in the part of the width that the
drivers leave.  A vent through the baffle stands square to it, beside, below or above the
drivers.  Every vent has one bore of free air before its inner mouth, and one bore beside
the box before the outer mouth of a side vent (common practice, no source).
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from typing import Self

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.vents import BOTH_ENDS
from engine.space.row import Row, row_of
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Rows = NDArray[np.intp]

VENT_PLACEMENTS = ("none", "through side", "through baffle")
VENT_WHERE = ("", "low", "high", "beside")
NONE, SIDE, BAFFLE = range(3)
NOWHERE, LOW, HIGH, BESIDE = range(4)

BRACE_WINDOW = 0.6  # part of a brace that is cut away, common practice, no source
ROOM_ENOUGH = 1.0  # m, room reported where a limit does not apply or is far away

SLACK_WORDS = {
    "walls": "the inside between the walls",
    "volume": "air left beside drivers and braces",
    "driver height": "height of the baffle for driver and flange",
    "driver depth": "depth behind the driver to the back",
    "driver row": "width for drivers and braces side by side",
    "vent length": "a vent length that tunes this volume",
    "vent room": "room for the vents beside panels and drivers",
    "vent run": "length for the vents and the air before their mouths",
    "vent outside": "air beside the box before the vents' outer mouths",
}


@dataclass(frozen=True, kw_only=True)
class Contents:
    """What is to go into each box, arrays (N,), lengths in m."""

    outer_diameter: Floats
    cutout_diameter: Floats
    magnet_diameter: Floats
    mounting_depth: Floats
    driver_displacement: Floats  # m³, one driver
    driver_count: Floats
    vent_count: Floats  # 0 for closed boxes
    vent_inner: Floats
    vent_outer: Floats

    def take(self, rows: Rows) -> Self:
        return type(self)(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})

    @property
    def inside_diameter(self) -> Floats:
        """Widest part of a driver behind the baffle."""
        return np.maximum(self.cutout_diameter, self.magnet_diameter)


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Boxes with their contents in place, arrays (N,), SI.

    ``slacks`` maps each limit (``SLACK_WORDS``) to the metres left before it binds,
    negative where it is broken; at most ``ROOM_ENOUGH``.  ``vent_length`` is nan for
    closed boxes.  Codes are numbers into ``VENT_PLACEMENTS`` and ``VENT_WHERE``.
    """

    wedges: Wedges
    contents: Contents
    breathing_gap: float
    brace_span: float
    net_volume: Floats  # m³
    brace_count: Integers
    brace_volume: Floats  # m³ of board
    vent_length: Floats  # from the panel's outer face to the inner mouth
    vent_placement: Integers
    vent_where: Integers
    vent_columns: Integers  # vents in a row along the section (side) or across the width (baffle, beside)
    vent_low: NDArray[np.bool_]  # side vents fill the section from the bottom up, else from the top down
    vent_at_back: NDArray[np.bool_]  # side vents are pushed to the back, else to the baffle
    driver_s: Floats  # centre of the drivers up the outer face of the baffle
    vent_s: Floats  # the same for vents through the baffle: the lowest of them; else nan
    slacks: dict[str, Floats]

    def __len__(self) -> int:
        return len(self.wedges)

    @property
    def violations(self) -> dict[str, Floats]:
        """Each limit as a constraint: 0 or less where it is kept, larger where it is worse, m."""
        return {name: -slack for name, slack in self.slacks.items()}

    @property
    def tightest(self) -> NDArray[np.str_]:
        """Name of the limit with least room, (N,)."""
        least = np.argmin(np.stack(list(self.slacks.values())), axis=0)
        names: NDArray[np.str_] = np.array(list(self.slacks))[least]
        return names


def lay_out(
    wedges: Wedges,
    *,
    outer_diameter: Floats,
    cutout_diameter: Floats,
    magnet_diameter: Floats,
    mounting_depth: Floats,
    driver_displacement: Floats,
    driver_count: Floats | Integers,
    vent_count: Floats | Integers,
    vent_inner: Floats,
    vent_outer: Floats,
    tuning: Floats,
    breathing_gap: float,
    brace_span: float,
    free_width: float,
    c: float,
    filling: Floats | float = 1.0,
) -> Layout:
    """Put drivers, vents and braces into boxes and say how well they fit.

    Parameters
    ----------
    wedges
        The N boxes.
    outer_diameter, cutout_diameter, magnet_diameter, mounting_depth, driver_displacement
        Of one driver, (N,): over the flange, of the hole, of the magnet, from the flange's
        seat to the rearmost point (m), volume taken (m³).
    driver_count, vent_count
        Whole numbers, (N,); ``vent_count`` 0 for closed boxes, whose ``tuning``,
        ``vent_inner`` and ``vent_outer`` are ignored.
    vent_inner, vent_outer
        Bore and outer diameter of the pipe, (N,) m.
    tuning
        Frequency the vents shall tune to, (N,) Hz.
    breathing_gap
        Air kept free round baskets, magnets and vents, m.
    brace_span
        Widest unsupported width of a panel, m.
    free_width
        Width the space leaves, m; a side vent needs air before its outer mouth in it.
    c, filling
        Speed of sound in m/s; factor on the box's compliance.

    A vent's length and the net volume depend on each other, because a pipe takes its outer
    area times its length inside from the volume: (L + ΔL)(V - n·A·(L - t)) = n·S·c²/(ωb²·filling)
    (Thiele 1971 with V the volume before vents).  The smaller root is taken; where there is
    none, the limit "vent length" is broken.

    Accepts only what an exact check accepts too; may refuse a few places that a cleverer
    arrangement would find.  Nothing is raised for impossible boxes.
    """
    count = np.asarray(driver_count, dtype=float)
    vents = np.asarray(vent_count, dtype=float)
    vented = vents > 0.0
    contents = Contents(
        outer_diameter=outer_diameter,
        cutout_diameter=cutout_diameter,
        magnet_diameter=magnet_diameter,
        mounting_depth=mounting_depth,
        driver_displacement=driver_displacement,
        driver_count=count,
        vent_count=vents,
        vent_inner=np.where(vented, vent_inner, 0.0),
        vent_outer=np.where(vented, vent_outer, 0.0),
    )
    row = row_of(
        inner_width=wedges.inner_width,
        board=wedges.board,
        brace_span=brace_span,
        outer_diameter=outer_diameter,
        inside_diameter=contents.inside_diameter,
        count=count,
        gap=breathing_gap,
    )
    brace_volume = row.braces * (1.0 - BRACE_WINDOW) * wedges.inner_area * wedges.board
    before_vents = wedges.gross_volume - count * driver_displacement - brace_volume
    length, length_slack, taken = _vent_length(
        before_vents, contents, tuning=np.where(vented, tuning, 1.0), board=wedges.board, c=c, filling=filling
    )
    driver = _driver_places(wedges, contents, breathing_gap)
    found = _Found.nothing(len(wedges), driver)
    open_rows = np.flatnonzero(vented)
    for placing in (_side_low, _side_high, _side_beside, _baffle_beside, _baffle_low, _baffle_high):
        if not open_rows.size:
            break
        part = _Part(
            wedges=wedges.take(open_rows),
            contents=contents.take(open_rows),
            row=row.take(open_rows),
            driver=driver.take(open_rows),
            length=length[open_rows],
            gap=breathing_gap,
            free_width=free_width,
        )
        for option in placing(part):
            found.keep_better(open_rows, option)
        open_rows = open_rows[found.slack[open_rows] < 0.0]

    middle = 0.5 * wedges.outer_height * wedges.baffle_secant
    slacks = {
        "walls": -wedges.violation,
        "volume": np.cbrt(before_vents),
        "driver height": driver.height_slack,
        "driver depth": driver.depth_slack,
        "driver row": row.slack,
        "vent length": np.where(vented, length_slack, np.inf),
        "vent room": found.room,
        "vent run": found.run,
        "vent outside": found.outside,
    }
    return Layout(
        wedges=wedges,
        contents=contents,
        breathing_gap=breathing_gap,
        brace_span=brace_span,
        net_volume=before_vents - np.where(vented, taken, 0.0),
        brace_count=row.braces.astype(np.int64),
        brace_volume=brace_volume,
        vent_length=np.where(vented, length, np.nan),
        vent_placement=found.placement,
        vent_where=found.where,
        vent_columns=found.columns,
        vent_low=found.low,
        vent_at_back=found.at_back,
        driver_s=np.clip(middle, found.driver_low, found.driver_high),
        vent_s=found.vent_s,
        slacks={name: np.minimum(slack, ROOM_ENOUGH) for name, slack in slacks.items()},
    )


def _vent_length(
    before_vents: Floats,
    contents: Contents,
    *,
    tuning: Floats,
    board: float,
    c: float,
    filling: Floats | float,
) -> tuple[Floats, Floats, Floats]:
    """Length of each vent (m), the metres by which it exists and is longer than the board, volume taken."""
    count = contents.vent_count
    correction = BOTH_ENDS * 0.5 * contents.vent_inner
    area = 0.25 * np.pi * contents.vent_inner**2
    solid = count * 0.25 * np.pi * contents.vent_outer**2
    wanted = count * area * (c / (2.0 * np.pi * tuning)) ** 2 / filling  # (L + ΔL)·V, m⁴
    at_hand = np.maximum(before_vents + solid * (board + correction), 1e-6)
    root = np.sqrt(np.maximum(at_hand**2 - 4.0 * solid * wanted, 0.0))
    effective = 2.0 * wanted / (at_hand + root)
    length = effective - correction
    # Beyond the double root at_hand/(2·solid) no length tunes so low; there effective = 2·wanted/at_hand.
    existing = at_hand / (2.0 * np.maximum(solid, 1e-9)) - 2.0 * wanted / at_hand
    return length, np.minimum(existing, length - board), solid * (length - board)


@dataclass(frozen=True, kw_only=True)
class _Places:
    """Where something may stand along the baffle: low ≤ s ≤ high, (N,) m; one point where it fits nowhere."""

    low: Floats
    high: Floats
    height_slack: Floats
    depth_slack: Floats

    def take(self, rows: Rows) -> _Places:
        return _Places(
            low=self.low[rows],
            high=self.high[rows],
            height_slack=self.height_slack[rows],
            depth_slack=self.depth_slack[rows],
        )

    @property
    def slack(self) -> Floats:
        return np.minimum(self.height_slack, self.depth_slack)


def _places(wedges: Wedges, *, ends: tuple[tuple[Floats, Floats, float], ...], gap: float, edge: Floats) -> _Places:
    """Places along the baffle for a body whose section has the given ``ends``.

    Each end is (half width, depth behind the outer face, gap to keep to the back).  The
    body stays ``gap`` clear of bottom and top and ``edge`` inside the ends of the outer face.
    """
    slope, secant, board = wedges.baffle_slope, wedges.baffle_secant, wedges.board
    cosine = 1.0 / secant
    low, high = edge, wedges.outer_height * secant - edge
    back_cosine = np.cos(wedges.back_angle)
    sine = (slope - wedges.back_slope) * cosine * back_cosine  # of the angle between baffle and back
    cosine_between = (1.0 + slope * wedges.back_slope) * cosine * back_cosine
    behind = np.full(len(wedges), -np.inf)
    for half, depth, back_gap in ends:
        low = np.maximum(low, (board + gap) * secant - depth * slope + half)
        high = np.minimum(high, (wedges.outer_height - board - gap) * secant - depth * slope - half)
        behind = np.maximum(behind, half * np.abs(sine) + depth * cosine_between + board + back_gap)
    height_slack = high - low
    middle = 0.5 * (low + high)
    low, high = np.minimum(low, middle), np.maximum(high, middle)
    roomiest = np.where(sine > 0.0, high, low)
    depth_slack = wedges.bottom_depth * back_cosine + roomiest * sine - behind
    reach = np.maximum(depth_slack, 0.0) / np.maximum(np.abs(sine), 1e-12)
    return _Places(
        low=np.where(sine > 0.0, np.maximum(low, high - reach), low),
        high=np.where(sine > 0.0, high, np.minimum(high, low + reach)),
        height_slack=height_slack,
        depth_slack=depth_slack,
    )


def _driver_places(wedges: Wedges, contents: Contents, gap: float) -> _Places:
    reach = np.maximum(contents.mounting_depth, wedges.board)
    hole = 0.5 * contents.cutout_diameter
    at_face, at_baffle = (hole, np.zeros(len(wedges)), gap), (hole, np.full(len(wedges), wedges.board), gap)
    at_rear = (0.5 * contents.magnet_diameter, reach, gap)
    return _places(wedges, ends=(at_face, at_baffle, at_rear), gap=gap, edge=0.5 * contents.outer_diameter)


@dataclass(frozen=True, kw_only=True)
class _Part:
    """The designs still without a place for their vents."""

    wedges: Wedges
    contents: Contents
    row: Row
    driver: _Places
    length: Floats
    gap: float
    free_width: float

    @property
    def run(self) -> Floats:
        """From the panel's inner face to the end of the free air before the mouth."""
        return self.length - self.wedges.board + self.contents.vent_inner

    @property
    def pitch(self) -> Floats:
        return self.contents.vent_outer + self.gap

    @property
    def outside(self) -> Floats:
        return self.free_width - self.wedges.outer_width - self.contents.vent_inner

    def columns(self) -> list[Floats]:
        """Numbers of vents in a row to try: all, half of them, one."""
        count = self.contents.vent_count
        tries = [count]
        if count.max() > 2:
            tries.append(np.ceil(count / 2.0))
        if count.max() > 1:
            tries.append(np.ones_like(count))
        return tries


@dataclass(frozen=True, kw_only=True)
class _Option:
    """One way to place the vents of a part, arrays over its designs."""

    placement: int
    where: int
    columns: Floats
    low: bool
    at_back: bool
    room: Floats
    run: Floats
    outside: Floats | float
    driver_low: Floats
    driver_high: Floats
    vent_s: Floats | float


@dataclass(frozen=True, kw_only=True)
class _Found:
    """The best place for the vents found so far, arrays (N,), written in place."""

    slack: Floats
    placement: Integers
    where: Integers
    columns: Integers
    low: NDArray[np.bool_]
    at_back: NDArray[np.bool_]
    room: Floats
    run: Floats
    outside: Floats
    driver_low: Floats
    driver_high: Floats
    vent_s: Floats

    @staticmethod
    def nothing(count: int, driver: _Places) -> _Found:
        return _Found(
            slack=np.full(count, -np.inf),
            placement=np.zeros(count, dtype=np.int64),
            where=np.zeros(count, dtype=np.int64),
            columns=np.zeros(count, dtype=np.int64),
            low=np.zeros(count, dtype=bool),
            at_back=np.zeros(count, dtype=bool),
            room=np.full(count, np.inf),
            run=np.full(count, np.inf),
            outside=np.full(count, np.inf),
            driver_low=driver.low.copy(),
            driver_high=driver.high.copy(),
            vent_s=np.full(count, np.nan),
        )

    def keep_better(self, rows: Rows, option: _Option) -> None:
        """Take an option where nothing fitted yet and it has more room than what was found."""
        slack = np.minimum(np.minimum(option.room, option.run), option.outside)
        better = (self.slack[rows] < 0.0) & (slack > self.slack[rows])
        chosen = rows[better]
        self.slack[chosen] = slack[better]
        for name in ("placement", "where", "columns", "low", "at_back", "room", "run", "outside", "vent_s"):
            value = getattr(option, name)
            getattr(self, name)[chosen] = value[better] if isinstance(value, np.ndarray) else value
        # Where vents leave the drivers no place, the end of their interval is a point between.
        middle = 0.5 * (option.driver_low + option.driver_high)
        self.driver_low[chosen] = np.minimum(option.driver_low, middle)[better]
        self.driver_high[chosen] = np.maximum(option.driver_high, middle)[better]


def side_vent_at(
    wedges: Wedges, contents: Contents, *, number: int, columns: Floats, low: bool, at_back: bool, gap: float
) -> tuple[Floats, Floats, Floats]:
    """Centre (y, z) of a vent along the width, and the room left beside it, (N,) m each.

    Vents fill rows of ``columns`` from the bottom up (``low``) or the top down, each row
    from the back or from the baffle.
    """
    clear = 0.5 * contents.vent_outer + gap
    pitch = contents.vent_outer + gap
    level = np.floor(number / columns)
    along = (number - level * columns) * pitch
    floor = wedges.board + clear
    ceiling = wedges.outer_height - wedges.board - clear
    z = floor + level * pitch if low else ceiling - level * pitch
    rear = z * wedges.back_slope + (wedges.board + clear) * np.hypot(1.0, wedges.back_slope)
    front = wedges.bottom_depth + z * wedges.baffle_slope - (wedges.board + clear) * wedges.baffle_secant
    room = np.minimum(front - rear - along, ceiling - z if low else z - floor)
    return (rear + along if at_back else front - along), z, room


def _side_options(part: _Part, *, low: bool, beside: bool) -> Iterator[_Option]:
    """Vents along the width, in rows from the bottom or the top."""
    wedges, contents, driver = part.wedges, part.contents, part.driver
    sine = wedges.baffle_slope / wedges.baffle_secant
    cosine = 1.0 / wedges.baffle_secant
    run = wedges.inner_width - part.run
    if beside:
        run = np.minimum(run, part.row.slack_beside_run(part.run))
    for columns in part.columns():
        for at_back in (True,) if beside else (True, False):
            room = np.full(len(wedges), np.inf)
            driver_low, driver_high = driver.low, driver.high
            for number in range(int(contents.vent_count.max())):
                there = number < contents.vent_count
                y, z, beside_it = side_vent_at(
                    wedges, contents, number=number, columns=columns, low=low, at_back=at_back, gap=part.gap
                )
                room = np.where(there, np.minimum(room, beside_it), room)
                if beside:
                    continue
                s = (y - wedges.bottom_depth) * sine + z * cosine
                depth = z * sine - (y - wedges.bottom_depth) * cosine
                reach = _reach_along_baffle(wedges, contents, depth=depth, gap=part.gap)
                reach = np.where(there, reach, -np.inf)
                if low:
                    driver_low = np.maximum(driver_low, s + reach)
                else:
                    driver_high = np.minimum(driver_high, s - reach)
            yield _Option(
                placement=SIDE,
                where=BESIDE if beside else LOW if low else HIGH,
                columns=columns,
                low=low,
                at_back=at_back,
                room=room if beside else np.minimum(room, driver_high - driver_low),
                run=run,
                outside=part.outside,
                driver_low=driver_low,
                driver_high=driver_high,
                vent_s=np.nan,
            )


def _reach_along_baffle(wedges: Wedges, contents: Contents, *, depth: Floats, gap: float) -> Floats:
    """How near along the baffle a driver may come to a vent along the width, (N,) m; -inf where it passes.

    Distance in s between the driver's axis and the vent's centre, which lies ``depth``
    behind the baffle, when the frustum is just ``gap`` from the pipe: the frustum's
    outline moved outward by the pipe's radius and the gap.
    """
    clear = 0.5 * contents.vent_outer + gap
    at_baffle = 0.5 * contents.cutout_diameter
    end = np.maximum(contents.mounting_depth, wedges.board + 1e-6)
    taper = (at_baffle - 0.5 * contents.magnet_diameter) / (end - wedges.board)
    touched = np.clip(depth - clear * taper / np.sqrt(1.0 + taper**2), wedges.board, end)
    squared = clear**2 - (depth - touched) ** 2
    reach = at_baffle - (touched - wedges.board) * taper + np.sqrt(np.maximum(squared, 0.0))
    return np.where(squared > 0.0, reach, -np.inf)


def _side_low(part: _Part) -> Iterator[_Option]:
    return _side_options(part, low=True, beside=False)


def _side_high(part: _Part) -> Iterator[_Option]:
    return _side_options(part, low=False, beside=False)


def _side_beside(part: _Part) -> Iterator[_Option]:
    yield from _side_options(part, low=True, beside=True)
    yield from _side_options(part, low=False, beside=True)


def _baffle_vent_places(part: _Part) -> _Places:
    """Places for one vent through the baffle, the free air before its mouth included."""
    radius = 0.5 * part.contents.vent_outer
    at_face = np.zeros(len(part.wedges))
    at_mouth, at_end = part.length, part.length + part.contents.vent_inner
    ends = ((radius, at_face, part.gap), (radius, at_mouth, part.gap), (radius, at_end, 0.0))
    return _places(part.wedges, ends=ends, gap=part.gap, edge=radius)


def vent_group(contents: Contents, *, columns: Floats, gap: float, board: float) -> tuple[Floats, Floats]:
    """Width that columns of vents take in a bay of their own, and in one shared with drivers."""
    own = gap + columns * (contents.vent_outer + gap)
    return own, own + max(0.5 * (board - gap), 0.0)


def _baffle_beside(part: _Part) -> Iterator[_Option]:
    places = _baffle_vent_places(part)
    middle = 0.5 * part.wedges.outer_height * part.wedges.baffle_secant
    for columns in part.columns():
        own, shared = vent_group(part.contents, columns=columns, gap=part.gap, board=part.wedges.board)
        stack = (np.ceil(part.contents.vent_count / columns) - 1.0) * part.pitch
        across = np.maximum(part.row.own_bay(own), part.row.shared_bay(shared))
        yield _Option(
            placement=BAFFLE,
            where=BESIDE,
            columns=columns,
            low=True,
            at_back=False,
            room=np.minimum(np.minimum(across, places.height_slack), places.high - places.low - stack),
            run=places.depth_slack,
            outside=np.inf,
            driver_low=part.driver.low,
            driver_high=part.driver.high,
            vent_s=np.maximum(places.low, np.minimum(middle - 0.5 * stack, places.high - stack)),
        )


def _baffle_options(part: _Part, *, low: bool) -> Iterator[_Option]:
    """Vents through the baffle in one row below or above the drivers."""
    contents = part.contents
    places = _baffle_vent_places(part)
    bay, bays = part.row.even_bay()
    in_a_bay = np.ceil(contents.vent_count / bays)
    across = bay - part.gap - in_a_bay * part.pitch
    widest = np.maximum(contents.outer_diameter, contents.inside_diameter)
    apart = 0.5 * (widest + contents.vent_outer) + part.gap
    driver_low = np.maximum(part.driver.low, places.low + apart) if low else part.driver.low
    driver_high = part.driver.high if low else np.minimum(part.driver.high, places.high - apart)
    yield _Option(
        placement=BAFFLE,
        where=LOW if low else HIGH,
        columns=in_a_bay,
        low=low,
        at_back=False,
        room=np.minimum(np.minimum(across, places.height_slack), driver_high - driver_low),
        run=places.depth_slack,
        outside=np.inf,
        driver_low=driver_low,
        driver_high=driver_high,
        vent_s=places.low if low else places.high,
    )


def _baffle_low(part: _Part) -> Iterator[_Option]:
    return _baffle_options(part, low=True)


def _baffle_high(part: _Part) -> Iterator[_Option]:
    return _baffle_options(part, low=False)
