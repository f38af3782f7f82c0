"""What goes into the box: drivers, radiators, vents, braces, the terminal cup: where they lie, what room they leave.

Everything that a driver or a vent can hit, side panels and braces apart, runs the whole
width of the box.  So clearances are exact in the cross-section through an axis
(``face.py``), and the row across the width is a sum of lengths (``row.py``).

Drivers stand side by side; where the width does not allow it they stand in columns of two,
three, … along the panel, first the way with fewest in a column.  Vents take the first of
``ways.py`` that fits, slots of ``channel.py``.  The cup takes a corner of the right side panel that drivers and vents
leave, or else the end of the width is kept free for it.
"""

from __future__ import annotations

from dataclasses import dataclass, fields, replace
from typing import Any, Self

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.slots import hydraulic_diameter
from engine.acoustics.vents import BOTH_ENDS, FLUSH_END
from engine.space.channel import Slots, corners_taken, try_slots
from engine.space.contents import SIDEWAYS, Contents, Rules
from engine.space.cup import Cup, cup_place
from engine.space.face import Face, driver_places, face_of, radiator_places
from engine.space.row import Row, brace_window, company_of, row_of
from engine.space.vents import BENT, Found, Part, flares_of
from engine.space.ways import bent_short_cut, try_all
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Rows = NDArray[np.intp]

TOUCH = 1e-9  # m, what rounding may take off a length that is just enough
ROOM_ENOUGH = 1.0  # m, room reported where a limit does not apply or is far away

SLACK_WORDS = {
    "walls": "the inside between the walls",
    "volume": "air left beside drivers and braces",
    "driver height": "length of the drivers' panel for driver and flange",
    "driver depth": "depth behind the driver",
    "driver row": "width for drivers and braces side by side",
    "driver air": "air beside the box before the driver",
    "radiator height": "length of the panel for passive radiator and flange",
    "radiator depth": "depth behind the passive radiator",
    "radiator row": "width for drivers, passive radiators and braces side by side",
    "vent length": "a vent length that tunes this volume",
    "vent room": "room for the vents beside panels and drivers",
    "vent run": "length for the vents and the air before their mouths",
    "vent outside": "air before the vents' outer mouths",
    "terminal cup": "a place for the terminal cup in the right side panel",
}


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Boxes with their contents in place, arrays (N,), SI.

    ``slacks`` maps each limit (``SLACK_WORDS``) to the metres left before it binds,
    negative where it is broken; at most ``ROOM_ENOUGH``.  ``vent_length`` is nan for
    closed boxes.  Codes are numbers into ``VENT_PLACEMENTS`` and ``VENT_WHERE``.
    """

    wedges: Wedges
    contents: Contents
    rules: Rules
    net_volume: Floats  # m³
    driver_rows: Integers  # drivers in a column along the panel
    driver_s: Floats  # centre of the first driver along its panel; in the side panel its height
    brace_count: Integers
    brace_volume: Floats  # m³ of board
    brace_window: Floats  # part of a brace that is cut away
    vent_length: Floats  # along the centre line, from the panel's outer face to the inner mouth: what is cut
    vent_area: Floats  # m², of one vent's bore; 0 for closed boxes
    vent_acoustic_length: Floats  # m that the same counts for in a bore of ``vent_area``, without the ends
    vent_ends: Floats  # m that the air outside both mouths adds to it in a lumped model
    vent_outer_end: Floats  # m, the part of that before the outer mouth
    vent_bends: Integers  # turns at right angles
    vent_hydraulic: Floats  # m, four times the bore's area over its perimeter
    vent_placement: Integers
    vent_where: Integers
    vent_columns: Integers  # vents in a row along the section (side) or across the width (straight, beside)
    vent_low: NDArray[np.bool_]  # side vents fill the section from the bottom up, else from the top down
    vent_at_back: NDArray[np.bool_]  # side vents are pushed to the back, else to the baffle
    vent_s: Floats  # place along the drivers' panel of the lowest vent through it; else nan
    support_count: Integers  # blocks under each vent
    support_volume: Floats  # m³ of board in them all
    slot_width: Floats  # m, depth of a slot's channel from back to baffle; nan without a slot
    slot_turn: Floats  # m, leg of a slot along the right side panel, beyond the corner; 0 where it is straight
    slot_boards: Floats  # m³ of board that a slot is built of
    radiator_s: Floats  # centre of the passive radiators along the drivers' panel (the baffle); nan without any
    cup_y: Floats  # centre of the terminal cup in the side panel; nan where there is none
    cup_z: Floats
    end_taken: Floats  # width at the right end kept free for the cup or the turn of a slot
    slacks: dict[str, Floats]

    def __len__(self) -> int:
        return len(self.wedges)

    @property
    def violations(self) -> dict[str, Floats]:
        """Each limit as a constraint: 0 or less where it is kept, larger where it is worse, m."""
        return {name: -slack for name, slack in self.slacks.items()}

    @property
    def least(self) -> Floats:
        """Room left at the tightest limit, (N,) m."""
        least: Floats = np.min(np.stack(list(self.slacks.values())), axis=0)
        return least

    @property
    def tightest(self) -> NDArray[np.str_]:
        """Name of the limit with least room, (N,)."""
        least = np.argmin(np.stack(list(self.slacks.values())), axis=0)
        names: NDArray[np.str_] = np.array(list(self.slacks))[least]
        return names

    def take(self, rows: Rows) -> Self:
        def part(value: Any) -> Any:
            return value[rows] if isinstance(value, np.ndarray) else value

        taken = {field.name: part(getattr(self, field.name)) for field in fields(self)}
        taken |= {"wedges": self.wedges.take(rows), "contents": self.contents.take(rows)}
        taken["slacks"] = {name: slack[rows] for name, slack in self.slacks.items()}
        return replace(self, **taken)

    def put(self, rows: Rows, other: Self, better: NDArray[np.bool_]) -> None:
        """Take over ``other`` (laid out for ``rows``) where it is ``better``, in place."""
        chosen = rows[better]
        for field in fields(self):
            mine, its = getattr(self, field.name), getattr(other, field.name)
            if isinstance(mine, np.ndarray):
                mine[chosen] = its[better]
        for name, slack in self.slacks.items():
            slack[chosen] = other.slacks[name][better]


def lay_out(
    wedges: Wedges,
    contents: Contents,
    rules: Rules,
    *,
    tuning: Floats,
    free_width: Floats | float,
    driver_air: Floats | float = 0.0,
    ahead: Floats | float = np.inf,
    under: Floats | float = np.inf,
    worth: NDArray[np.bool_] | None = None,
) -> Layout:
    """Put drivers, vents or passive radiators, braces and cup into boxes and say how well they fit.

    Parameters
    ----------
    wedges, contents
        The N boxes and what is to go in; ``vent_count`` 0 for boxes without vents, whose tuning
        and vent sizes are ignored, as are the sizes of radiators where there are none.
    tuning
        Frequency the vents shall tune to as lumps of air, (N,) Hz.
    free_width
        Width the space leaves where each box stands, (N,) m; a side vent and a driver in the side
        panel need air before them in it.
    driver_air
        Air a driver in the side panel needs before it, (N,) m.
    ahead
        Free way straight ahead of the baffle, (N,) m; vents through it need air before them.
    under
        Free height under boxes whose drivers face down, (N,) m; so do vents through the bottom.
    worth
        Designs that fail for no reasons of their own, (N,): for a search, which asks what fits
        and no more.  Others are told how far they are from fitting the simplest way, and ways that
        are out of the question are not tried.  Without it every design is tried every way.

    A vent's length and the net volume depend on each other, because a pipe takes its outer
    area times its length inside from the volume: (L + ΔL)(V - n·A·(L - t)) = n·S·c²/ωb²
    (Thiele 1971 with V the volume before vents), L as the air counts it in bends and flares; a slot
    takes bore and boards.  The smaller root is taken; where there is none, the limit "vent
    length" is broken.

    Accepts only what an exact check of the solids accepts too; may refuse a few places that
    a cleverer arrangement would find.  Nothing is raised for impossible boxes.
    """
    count = len(wedges)
    vented = contents.vent_count > 0.0
    pipes = vented & ~contents.slotted
    contents = replace(
        contents.for_each(),
        vent_inner=np.where(pipes, contents.vent_inner, 0.0),
        vent_outer=np.where(pipes, contents.vent_outer, 0.0),
        flare_radius=np.where(pipes, contents.flare_radius, 0.0),
        rear_gap=np.where(np.isnan(contents.rear_gap), rules.breathing_gap, contents.rear_gap),
    )
    whole = _Batch(
        wedges=wedges,
        contents=contents,
        rules=rules,
        tuning=np.where(vented, tuning, 1.0),
        free_width=np.broadcast_to(np.asarray(free_width, dtype=float), (count,)),
        driver_air=np.broadcast_to(np.asarray(driver_air, dtype=float), (count,)),
        ahead=np.broadcast_to(np.asarray(ahead, dtype=float), (count,)),
        under=np.broadcast_to(np.asarray(under, dtype=float), (count,)),
        worth=np.ones(count, dtype=bool) if worth is None else worth,
        thorough=worth is None,
    )
    found = whole.laid_out(in_column=1, cup_apart=False)
    for in_column in range(1, int(contents.driver_count.max(initial=1.0)) + 1):
        if in_column > 1:
            rows = np.flatnonzero(_columns_may_help(found, in_column) & whole.worth)
            whole.try_again(found, rows, in_column=in_column, cup_apart=False)
        if rules.cup:
            short = (found.slacks["terminal cup"] < 0.0) & (found.driver_rows == in_column)
            rows = np.flatnonzero(short & whole.worth & (contents.facing != SIDEWAYS))
            whole.try_again(found, rows, in_column=in_column, cup_apart=True)
    return found


def _touching(slack: Floats) -> Floats:
    """Room as it is reported: what rounding makes of a length that is just enough is none, and far away is enough."""
    return np.where(np.abs(slack) < TOUCH, 0.0, np.minimum(slack, ROOM_ENOUGH))


def _columns_may_help(found: Layout, in_column: int) -> NDArray[np.bool_]:
    """Designs short of width alone, or of a place for vents or cup, that columns of so many make narrower, (N,)."""
    count = found.contents.driver_count
    fewer = np.ceil(count / in_column) < np.ceil(count / max(in_column - 1, 1))
    others = [found.slacks[name] for name in ("walls", "volume", "driver height", "driver depth", "driver air")]
    sound = np.min(np.stack(others), axis=0) >= 0.0
    turnable: NDArray[np.bool_] = (found.least < 0.0) & fewer & sound & (found.contents.facing != SIDEWAYS)
    return turnable


@dataclass(frozen=True, kw_only=True)
class _Batch:
    """Boxes to be laid out one way."""

    wedges: Wedges
    contents: Contents
    rules: Rules
    tuning: Floats
    free_width: Floats
    driver_air: Floats
    ahead: Floats
    under: Floats
    worth: NDArray[np.bool_]
    thorough: bool

    def take(self, rows: Rows) -> _Batch:
        return _Batch(
            wedges=self.wedges.take(rows),
            contents=self.contents.take(rows),
            rules=self.rules,
            tuning=self.tuning[rows],
            free_width=self.free_width[rows],
            driver_air=self.driver_air[rows],
            ahead=self.ahead[rows],
            under=self.under[rows],
            worth=self.worth[rows],
            thorough=self.thorough,
        )

    def try_again(self, found: Layout, rows: Rows, *, in_column: int, cup_apart: bool) -> None:
        """Lay some designs out another way and keep it where it leaves more room, in place."""
        if rows.size:
            other = self.take(rows).laid_out(in_column=in_column, cup_apart=cup_apart)
            found.put(rows, other, other.least > found.least[rows])

    def laid_out(self, *, in_column: int, cup_apart: bool) -> Layout:
        wedges, contents, rules = self.wedges, self.contents, self.rules
        board, gap, count = wedges.board, rules.breathing_gap, len(wedges)
        cup_depth = max(rules.cup.depth - board, 0.0) if rules.cup else 0.0
        taken = np.full(count, cup_depth + gap if cup_apart else 0.0)
        columns = np.ceil(contents.driver_count / in_column)
        row = row_of(wedges, contents, rules, columns=columns, taken=taken)
        face = face_of(wedges, contents.facing)
        driver = driver_places(wedges, face, contents, gap=gap, round_over=rules.round_over)
        sideways = contents.facing == SIDEWAYS
        in_a_column = np.where(sideways, contents.driver_count, np.minimum(contents.driver_count, float(in_column)))
        stack = (in_a_column - 1.0) * (contents.widest + gap)
        radiators = np.flatnonzero(contents.radiator_count > 0.0)
        braces, radiator_s, beside = row.braces, np.full(count, np.nan), _no_radiators(count)
        if radiators.size:
            braces = braces.copy()
            braces[radiators], radiator_s[radiators] = self.take(radiators)._radiators(
                face.take(radiators), row.take(radiators), radiators, beside
            )
        plates = braces * wedges.inner_area * board
        window = brace_window(wedges)
        cup_volume = 0.25 * np.pi * rules.cup.cutout_diameter**2 * cup_depth if rules.cup else 0.0
        volume = wedges.gross_volume - contents.driver_count * contents.driver_displacement - cup_volume
        if radiators.size:
            volume = volume - contents.radiator_count * contents.radiator_displacement
        alone = {
            "walls": -wedges.violation,
            "driver height": np.minimum(driver.height_slack, driver.high - driver.low) - stack,
            "driver depth": driver.depth_slack,
            "driver row": row.slack,
            "driver air": np.where(sideways, self.free_width - wedges.outer_width - self.driver_air, np.inf),
            **beside,
        }
        sound = self.worth & (np.min(np.stack(list(alone.values())), axis=0) >= 0.0)
        slotted = contents.slotted
        pipes = (contents.vent_count > 0.0) & ~slotted
        found, slots = Found.nothing(plates * (1.0 - window), window, driver), Slots.nothing(row, braces)
        flares = flares_of(contents, board)
        whole = Part(
            wedges=wedges,
            contents=contents,
            rules=rules,
            face=face,
            row=row,
            driver=driver,
            flares=flares,
            stack=stack,
            volume=volume,
            plates=plates,
            window=window,
            tuning=self.tuning,
            ahead=self.ahead,
            under=self.under,
            free_width=self.free_width - np.where(sideways, self.driver_air, 0.0),
        )
        worth = np.ones(count, dtype=bool) if self.thorough else sound
        if pipes.any():
            rows = np.flatnonzero(pipes)
            part = replace(whole, contents=contents.pipes_alone()).take(rows)
            try_all(part, rows, found, worth=worth[rows], thorough=self.thorough)
        if slotted.any():
            rows = np.flatnonzero(slotted)
            try_slots(whole.take(rows), rows, found, slots, worth=worth[rows])

        middle = 0.5 * (np.where(sideways, wedges.outer_height, face.length) - stack)
        driver_s = np.clip(middle, found.driver_low, np.maximum(found.driver_high - stack, found.driver_low))
        before_vents = volume - found.braces - found.supports
        slacks = {
            "walls": alone["walls"],
            "volume": np.cbrt(before_vents),
            **alone,
            "vent length": found.length_slack,
            "vent room": found.room,
            "vent run": found.run,
            "vent outside": found.outside,
        }
        cup = Cup(np.full(count, np.nan), np.full(count, np.nan), np.full(count, np.inf))
        if rules.cup:
            fits = np.flatnonzero(np.min(np.stack(list(slacks.values())), axis=0) >= -TOUCH)
            beside_it = corners_taken(contents, found, slots, board=board)
            self._place_cup(
                fits, cup, face, found, driver_s=driver_s, in_a_column=in_a_column, taken=beside_it, apart=cup_apart
            )
        slacks["terminal cup"] = cup.slack
        lost = np.where(found.placement == BENT, bent_short_cut(contents), 0.0)
        return Layout(
            wedges=wedges,
            contents=contents,
            rules=rules,
            net_volume=before_vents - found.taken,
            driver_rows=in_a_column.astype(np.int64),
            driver_s=driver_s,
            brace_count=slots.brace_count.astype(np.int64),
            brace_volume=found.braces,
            brace_window=found.window,
            vent_length=found.length,
            vent_area=np.where(slotted, slots.width * contents.slot_height, 0.25 * np.pi * contents.vent_inner**2),
            vent_acoustic_length=np.where(slotted, slots.acoustic, found.length + flares.counted - lost),
            vent_ends=np.where(pipes, BOTH_ENDS * flares.mouth, slots.ends),
            vent_outer_end=np.where(pipes, FLUSH_END * flares.mouth, slots.outer_end),
            vent_bends=np.where(pipes, found.placement == BENT, slots.bends),
            vent_hydraulic=np.where(
                pipes,
                contents.vent_inner,
                hydraulic_diameter(width=slots.width, height=contents.slot_height),
            ),
            vent_placement=found.placement,
            vent_where=found.where,
            vent_columns=found.columns,
            vent_low=found.low,
            vent_at_back=found.at_back,
            vent_s=found.vent_s,
            support_count=found.blocks,
            support_volume=found.supports,
            slot_width=slots.width,
            slot_turn=slots.turn,
            slot_boards=slots.boards,
            radiator_s=radiator_s,
            cup_y=cup.y,
            cup_z=cup.z,
            end_taken=slots.end_taken,
            slacks={name: _touching(slack) for name, slack in slacks.items()},
        )

    def _radiators(self, face: Face, row: Row, rows: Rows, beside: dict[str, Floats]) -> tuple[Floats, Floats]:
        """Braces and place along the panel where there are radiators; their limits go into ``rows`` of ``beside``."""
        rules = self.rules
        company = company_of(row, self.contents, rules)
        places = radiator_places(
            face, self.contents, board=self.wedges.board, gap=rules.breathing_gap, round_over=rules.round_over
        )
        beside["radiator height"][rows] = np.minimum(places.height_slack, places.high - places.low)
        beside["radiator depth"][rows] = places.depth_slack
        beside["radiator row"][rows] = company.slack
        return company.braces, np.clip(0.5 * face.length, places.low, places.high)

    def _place_cup(
        self,
        rows: Rows,
        cup: Cup,
        face: Face,
        found: Found,
        *,
        driver_s: Floats,
        in_a_column: Floats,
        taken: tuple[Floats, Floats],
        apart: bool,
    ) -> None:
        """Find a corner of the right side panel for the cup of the designs that fit so far, in place."""
        if not rows.size:
            return
        wedges, contents = self.wedges.take(rows), self.contents.take(rows)
        place = cup_place(
            wedges,
            contents,
            self.rules,
            face.take(rows),
            driver_s=driver_s[rows],
            in_a_column=in_a_column[rows],
            vents=found.take(rows),
            taken=(taken[0][rows], taken[1][rows]),
            apart=apart,
        )
        for mine, its in zip((cup.y, cup.z, cup.slack), (place.y, place.z, place.slack), strict=True):
            mine[rows] = its


def _no_radiators(count: int) -> dict[str, Floats]:
    return {name: np.full(count, np.inf) for name in ("radiator height", "radiator depth", "radiator row")}


def row_for(layout: Layout, i: int) -> Row:
    """The row of one design of a layout, a batch of one."""
    one = np.array([i])
    contents = layout.contents.take(one)
    columns = np.ceil(contents.driver_count / layout.driver_rows[one])
    return row_of(layout.wedges.take(one), contents, layout.rules, columns=columns, taken=layout.end_taken[one])
