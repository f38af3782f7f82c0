"""Where the drivers and openings of laid-out boxes lie in the air inside, for its inertia.

The same places as ``arrangement.py`` gives one design, for a batch at once: drivers in their
columns between the braces, and the inner mouth of every vent.  Places are in the cavity's
axes (``engine.acoustics.cavity``): from the inner face of the left side, and from the inner
bottom back corner.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.cavity import (
    ACROSS,
    BOTTOM,
    FACE,
    SIDE,
    SLOT,
    SLOT_DOWN,
    SLOT_UP,
    SQUARE,
    UPWARD,
    Cavities,
    Ports,
)
from engine.space import vents
from engine.space.contents import DOWN, SIDEWAYS
from engine.space.face import Face, face_of, side_middle, side_panel_edge
from engine.space.layout import Layout
from engine.space.row import Company, Row, company_of, row_of
from engine.space.ways import bent_leg_depth, bent_start, bent_turn_depth, bent_turned, side_vent_at, vent_group

Floats = NDArray[np.float64]
Codes = NDArray[np.int64]
Flags = NDArray[np.bool_]


def ports_of(layout: Layout) -> tuple[Cavities, Ports]:
    """The air inside N laid-out boxes and its ports: openings first, then drivers.

    Radii of cones are those of their cut-outs, which the cone's own area replaces where it is known
    (``cavity.thin_box``).  A flared mouth counts as one as wide as its flare.  Made for
    layouts whose slacks are all ≥ 0; others get places too, some of them outside the box.
    """
    things = _Places.of(layout)
    columns = [*things.openings(), *things.drivers()]
    stacked = {name: np.stack([getattr(each, name) for each in columns], axis=-1) for name in Port.__annotations__}
    return things.cavities, Ports(**stacked)


@dataclass(frozen=True, kw_only=True)
class Port:
    """One port of each of N boxes, arrays (N,), as in ``Ports``."""

    kind: Codes
    opening: Flags
    x: Floats
    y: Floats
    z: Floats
    radius: Floats
    outer: Floats
    inside: Floats


@dataclass(frozen=True, kw_only=True)
class _Bays:
    """Bays between braces, arrays (N, B): ends from the box's left outer face, and columns of drivers in them."""

    start: Floats
    end: Floats
    columns: Codes


@dataclass(frozen=True, kw_only=True)
class _Places:
    """What is known of a batch's places."""

    layout: Layout
    row: Row
    face: Face
    corner: tuple[Floats, float]  # inner bottom back corner (y, z) in the box's own axes
    cavities: Cavities

    @classmethod
    def of(cls, layout: Layout) -> Self:
        wedges, contents = layout.wedges, layout.contents
        columns = np.ceil(contents.driver_count / layout.driver_rows)
        inner = wedges.inner_section
        return cls(
            layout=layout,
            row=row_of(wedges, contents, layout.rules, columns=columns, taken=layout.end_taken),
            face=face_of(wedges, contents.facing),
            corner=(inner[:, 0, 0], wedges.board),
            cavities=Cavities(
                width=wedges.inner_width,
                height=wedges.inner_height,
                bottom_depth=inner[:, 1, 0] - inner[:, 0, 0],
                top_depth=inner[:, 2, 0] - inner[:, 3, 0],
                back_slope=np.full(len(wedges), wedges.back_slope),
            ),
        )

    def __len__(self) -> int:
        return len(self.layout)

    @property
    def gap(self) -> float:
        return self.layout.rules.breathing_gap

    @property
    def sideways(self) -> Flags:
        return np.equal(self.layout.contents.facing, SIDEWAYS)

    def placed(self, *placements: int) -> Flags:
        found = np.zeros(len(self), dtype=bool)
        for placement in placements:
            found |= self.layout.vent_placement == placement
        return found

    @property
    def beside(self) -> Flags:
        return np.equal(self.layout.vent_where, vents.BESIDE)

    def port(self, place: tuple[Floats, Floats, Floats], *, kind: Codes, there: Flags, **sizes: Floats) -> Port:
        """A port at (x, y, z) in the box's own axes, where it is ``there``."""
        x, y, z = place
        nothing = np.zeros(len(self))
        return Port(
            kind=kind,
            opening=np.full(len(self), "outer" in sizes),
            x=x - self.layout.wedges.board,
            y=y - self.corner[0],
            z=z - self.corner[1],
            radius=np.where(there, sizes["radius"], np.nan),
            outer=sizes.get("outer", nothing),
            inside=sizes.get("inside", nothing),
        )

    # Openings

    def openings(self) -> Iterator[Port]:
        """The inner mouths of the vents or the passive radiators, one number after the other."""
        contents = self.layout.contents
        most = int(np.maximum(contents.vent_count, contents.radiator_count).max(initial=0.0))
        for number in range(most):
            found = self._vent(number)
            if number == 0 and self._slotted.any():
                found = _chosen(self._slotted, self._slot(), found)
            if contents.radiator_count.any():
                found = _chosen(contents.radiator_count > 0.0, self._radiator(number), found)
            yield found

    def _vent(self, number: int) -> Port:
        contents = self.layout.contents
        side, straight, bent = (self.placed(way) for way in (vents.SIDE, vents.STRAIGHT, vents.BENT))
        ways = []
        if side.any():
            ways.append((side, self._side_mouth(number)))
        if straight.any():
            ways.append((straight, self._straight_mouth(number)))
        if bent.any():
            ways.append((bent, self._bent_mouth(number)))
        x, y, z = np.zeros((3, len(self)))
        for here, place in ways:
            x, y, z = (np.where(here, its, mine) for its, mine in zip(place, (x, y, z), strict=True))
        square = np.where(contents.facing == DOWN, UPWARD, SQUARE)
        return self.port(
            (x, y, z),
            kind=np.where(straight, square, ACROSS),
            there=(number < contents.vent_count) & (side | straight | bent),
            radius=0.5 * contents.vent_inner + contents.flare_radius,
            outer=0.5 * contents.vent_rim,
            inside=self.layout.vent_length - self.layout.wedges.board,
        )

    @property
    def _slotted(self) -> Flags:
        return self.placed(vents.SLOT_SIDE, vents.SLOT_BAFFLE)

    def _slot(self) -> Port:
        layout, wedges = self.layout, self.layout.wedges
        height, turn = np.nan_to_num(layout.contents.slot_height), layout.slot_turn
        through = np.where(self.placed(vents.SLOT_BAFFLE), wedges.board * wedges.baffle_secant, wedges.board)
        turned = turn > 0.0
        inner = np.where(turned, wedges.inner_width - 0.5 * height, layout.vent_length - through)
        up = np.where(turned, height + turn, 0.5 * height)
        z = np.where(layout.vent_low, wedges.board + up, wedges.outer_height - wedges.board - up)
        cavity, inside = self.cavities, z - wedges.board
        depth = cavity.bottom_depth + (cavity.top_depth - cavity.bottom_depth) * inside / cavity.height
        y = self.corner[0] + cavity.back_slope * inside + 0.5 * depth
        return self.port(
            (wedges.board + inner, y, z),
            kind=np.where(turned, np.where(layout.vent_low, SLOT_UP, SLOT_DOWN), SLOT),
            there=self._slotted,
            radius=0.5 * height,
            outer=0.5 * height + wedges.board,
        )

    def _radiator(self, number: int) -> Port:
        layout, contents = self.layout, self.layout.contents
        y, z = self.face.at(layout.radiator_s, np.full(len(self), layout.wedges.board))
        return self.port(
            (self._radiator_x(number), y, z),
            kind=np.where(contents.facing == DOWN, BOTTOM, FACE),
            there=number < contents.radiator_count,
            radius=0.5 * contents.radiator_cutout,
            outer=np.zeros(len(self)),
        )

    def _side_mouth(self, number: int) -> tuple[Floats, Floats, Floats]:
        layout, wedges = self.layout, self.layout.wedges
        columns = np.maximum(layout.vent_columns, 1).astype(float)
        y, z = np.zeros((2, len(self)))
        for low in (True, False):
            for at_back in (True, False):
                here = (layout.vent_low == low) & (layout.vent_at_back == at_back)
                if here.any():
                    found = side_vent_at(
                        wedges, layout.contents, number=number, columns=columns, low=low, at_back=at_back, gap=self.gap
                    )
                    y, z = np.where(here, found[0], y), np.where(here, found[1], z)
        return layout.vent_length, y, z

    def _straight_mouth(self, number: int) -> tuple[Floats, Floats, Floats]:
        layout, contents = self.layout, self.layout.contents
        columns = np.maximum(layout.vent_columns, 1)
        level, across = np.divmod(number, columns)
        pitch = contents.vent_rim + self.gap
        s = layout.vent_s + np.where(self.beside, level * pitch, 0.0)
        y, z = self.face.at(s, layout.vent_length)
        in_group = layout.wedges.board + self.gap + 0.5 * contents.vent_rim + across * pitch
        return np.where(self.beside, in_group, self.vent_columns_x(number)), y, z

    def _bent_mouth(self, number: int) -> tuple[Floats, Floats, Floats]:
        layout, contents = self.layout, self.layout.contents
        s = layout.vent_s + number * (contents.vent_rim + self.gap)
        y, z = self.face.at(s, bent_leg_depth(contents, layout.wedges.board))
        return layout.wedges.board + self._elbow_end + self._leg, y, z

    @property
    def _elbow_end(self) -> Floats:
        """Where a bent vent has turned, from the inner face of the left side."""
        contents = self.layout.contents
        return bent_start(contents, gap=self.gap) + contents.elbow_radius

    @property
    def _leg(self) -> Floats:
        layout = self.layout
        turn = bent_turn_depth(layout.contents, layout.wedges.board)
        return layout.vent_length - turn - 0.5 * np.pi * layout.contents.elbow_radius

    def vent_columns_x(self, number: int) -> Floats:
        """Place across the width of a straight vent in a row with drivers above or below."""
        bays, contents = self.bays, self.layout.contents
        _, even = self.row.even_bay()
        there = np.arange(bays.start.shape[1]) < self._bay_count[:, np.newaxis]
        widths = np.where(there, bays.end - bays.start, -1.0)
        widest = np.arange(widths.shape[1]) == np.argmax(widths, axis=-1)[:, np.newaxis]
        vent_count = contents.vent_count.astype(np.int64)
        spread = _spread(vent_count, self._bay_count, most=widths.shape[1])
        spread = np.where((even == self._bay_count)[:, np.newaxis], spread, widest * vent_count[:, np.newaxis])
        return _column_x(
            bays.start,
            bays.end,
            spread,
            number,
            pitch=contents.vent_rim + self.gap,
            half=0.5 * contents.vent_rim + self.gap,
        )

    # Drivers

    def drivers(self) -> Iterator[Port]:
        """The drivers, column by column."""
        layout, contents, wedges = self.layout, self.layout.contents, self.layout.wedges
        edge = side_panel_edge(
            contents.inside_diameter,
            contents.outer_diameter,
            board=wedges.board,
            gap=self.gap,
            round_over=layout.rules.round_over,
        )
        on_face = np.where(contents.facing == DOWN, BOTTOM, FACE)
        for number in range(int(contents.driver_count.max(initial=0.0))):
            column, level = np.divmod(number, layout.driver_rows)
            s = layout.driver_s + level * (contents.widest + self.gap)
            y, z = self.face.at(s, np.full(len(self), wedges.board))
            x = self._driver_x(column)
            if self.sideways.any():
                x = np.where(self.sideways, wedges.outer_width - wedges.board, x)
                y, z = np.where(self.sideways, side_middle(wedges, s, edge), y), np.where(self.sideways, s, z)
            yield self.port(
                (x, y, z),
                kind=np.where(self.sideways, SIDE, on_face),
                there=number < contents.driver_count,
                radius=0.5 * contents.cutout_diameter,
            )

    # Bays

    @cached_property
    def bays(self) -> _Bays:
        """Where the columns of drivers may stand, as ``arrangement`` sets them out."""
        group = self.beside & self.placed(vents.STRAIGHT)
        run = self.beside & self.placed(vents.SIDE, vents.BENT)
        counts = self._over(self._bay_count)
        found = self._bays(self._level(counts), counts)
        if group.any():
            found = _chosen(group, self._bays_with_group(), found)
        if run.any():
            found = _chosen(run, self._bays_beside_run(counts), found)
        return found

    # Passive radiators, in the same row to the left of the drivers

    @cached_property
    def _company(self) -> Company:
        return company_of(self.row, self.layout.contents, self.layout.rules)

    @cached_property
    def _radiator_bays(self) -> tuple[_Bays, _Bays]:
        """Bays with the columns of radiators, and the same with those of drivers."""
        company, row = self._company, self.row
        bays, last = (np.nan_to_num(each).astype(np.int64) for each in (company.bays, company.driver_bays))
        last = last + np.where(self.sideways, 0, (self._bay_count - bays - last) // 2)
        first = np.maximum(self._bay_count - last, 1)
        radiators = _spread(self.layout.contents.radiator_count.astype(np.int64), first, most=self._most_bays)
        drivers = self._over(np.maximum(last, 1))
        before = self._number - first[:, np.newaxis]
        drivers = np.where(before >= 0, np.take_along_axis(drivers, np.maximum(before, 0), axis=-1), 0)
        need = 2.0 * company.half[:, np.newaxis] + (radiators - 1) * company.pitch[:, np.newaxis]
        needs = np.where(radiators > 0, need, self._needs(drivers))
        ends, at = self._bay_count - 1, np.arange(len(self))
        needs[at, ends] = np.maximum(needs[at, ends], row.last)
        there = self._number <= ends[:, np.newaxis]
        found = self._bays(_level_bays(needs, company.room, there), drivers)
        return _Bays(start=found.start, end=found.end, columns=radiators), found

    def _together_x(self, step: Floats | int, before: Floats) -> Floats:
        """Place of a column in a bay that radiators and drivers share: ``before`` it and its share of what is left."""
        count = self.layout.contents.radiator_count
        steps = count + np.where(self.sideways, 0.0, self.row.count)
        return self.row.board + before + (step + 1.0) * self._company.slack / (steps + 1.0)

    def _radiator_x(self, number: int) -> Floats:
        company, (bays, _) = self._company, self._radiator_bays
        apart = _column_x(bays.start, bays.end, bays.columns, number, pitch=company.pitch, half=company.half)
        return np.where(company.together, self._together_x(number, company.half + number * company.pitch), apart)

    def _driver_x(self, column: Codes) -> Floats:
        """Place across the width of a column of drivers, (N,)."""
        row, count = self.row, self.layout.contents.radiator_count
        x = _column_x(self.bays.start, self.bays.end, self.bays.columns, column, pitch=row.pitch, half=row.half)
        if not count.any():
            return x
        company, (_, bays) = self._company, self._radiator_bays
        apart = _column_x(bays.start, bays.end, bays.columns, column, pitch=row.pitch, half=row.half)
        before = company.half + (count - 1.0) * company.pitch + company.between + column * row.pitch
        beside = np.where(company.together, self._together_x(count + column, before), apart)
        return np.where(count > 0.0, beside, x)

    @property
    def _bay_count(self) -> Codes:
        return self.layout.brace_count + 1

    @property
    def _most_bays(self) -> int:
        return int(self._bay_count.max(initial=1))

    @property
    def _number(self) -> Codes:
        """Of each bay, (B,)."""
        return np.arange(self._most_bays)

    def _over(self, bays: Codes) -> Codes:
        """Columns of drivers over bays, (N, B); one in the side panel keeps to the last."""
        spread = _spread(self.row.count.astype(np.int64), bays, most=self._most_bays)
        last = (self._number == bays[:, np.newaxis] - 1).astype(np.int64)
        return np.where(self.sideways[:, np.newaxis], last, spread)

    def _needs(self, counts: Codes) -> Floats:
        """Width that columns need in each bay."""
        row = self.row
        need = 2.0 * row.half[:, np.newaxis] + (counts - 1) * row.pitch[:, np.newaxis]
        return np.where(counts > 0, need, 0.0)

    @property
    def _first_need(self) -> Floats:
        return np.where(self.placed(vents.BENT), bent_turned(self.layout.contents, gap=self.gap), 0.0)

    def _level(self, counts: Codes, in_first: Floats | float = 0.0) -> Floats:
        """Widths of bays, as even as what stands in them allows."""
        needs = self._needs(counts)
        needs[:, 0] = np.maximum(needs[:, 0] + in_first, self._first_need)
        last = self._bay_count - 1
        at = np.arange(len(self))
        needs[at, last] = np.maximum(needs[at, last], self.row.last)
        return _level_bays(needs, self.row.room, self._number <= last[:, np.newaxis])

    def _bays(self, widths: Floats, counts: Codes) -> _Bays:
        """Ends of the bays; braces go between them."""
        # Added up in the same order as for one design: which of two equal bays is the wider is up to rounding.
        steps = np.concatenate([np.full((len(self), 1), self.row.board), widths[:, :-1] + self.row.board], axis=-1)
        start = np.cumsum(steps, axis=-1)
        end = start + widths
        return _Bays(start=start, end=end, columns=counts)

    def _bays_with_group(self) -> _Bays:
        """Beside a group of straight vents at the left end, in a bay of their own or in one shared with drivers."""
        layout, row = self.layout, self.row
        columns = layout.vent_columns.astype(float)
        own, shared = vent_group(layout.contents, columns=columns, gap=self.gap, board=row.board)
        separate = row.own_bay(own) >= row.shared_bay(shared)
        alone = self._over(np.maximum(self._bay_count - 1, 1))
        alone = np.concatenate([np.zeros((len(self), 1), dtype=np.int64), alone[:, :-1]], axis=-1)
        turned = ~self.sideways | (row.braces == 0.0)
        together = np.where(turned[:, np.newaxis], self._fewest_first(), self._over(self._bay_count))
        counts = np.where(separate[:, np.newaxis], alone, together)
        group = np.where(separate, own, shared)
        bays = self._bays(self._level(counts, in_first=group), counts)
        bays.start[:, 0] += np.where(counts[:, 0] > 0, group, 0.0)
        return bays

    def _fewest_first(self) -> Codes:
        """Columns over bays with the least of them in the first, then empty bays, then the others in order."""
        there = self._number < self._bay_count[:, np.newaxis]
        most = np.iinfo(np.int64).max
        counts = np.sort(np.where(there, self._over(self._bay_count), most), axis=-1)
        empty = (counts == 0).sum(axis=-1)
        rows = np.flatnonzero(empty)
        first = counts[rows, empty[rows]]
        # The first filled bay goes to the left end, and the empty ones move up.
        counts[rows, empty[rows]] = 0
        counts[rows, 0] = first
        return np.where(counts == most, 0, counts)

    def _bays_beside_run(self, counts: Codes) -> _Bays:
        """Beside pipes along the width: drivers in the last bays, as far right as the spans allow where they must."""
        row, at = self.row, np.arange(len(self))
        bore = self.layout.contents.vent_inner
        bent_end = np.maximum(self._elbow_end + self._leg + bore, self._first_need + row.board)
        run = np.where(self.placed(vents.BENT), bent_end, self.layout.vent_length - row.board + bore)
        there = self._number < self._bay_count[:, np.newaxis]
        counts = np.where(there, counts, -1)
        counts = np.sort(counts, axis=-1)
        # Absent bays come first now; they belong last.
        counts = np.take_along_axis(
            counts, (self._number + (counts < 0).sum(axis=-1)[:, np.newaxis]) % len(self._number), axis=-1
        )
        counts = np.maximum(counts, 0)
        empty = ((counts == 0) & there).sum(axis=-1)
        widths = self._level(counts)
        needs = self._needs(counts)
        before = np.where(self._number < empty[:, np.newaxis], widths, 0.0).sum(axis=-1)
        short = before + empty * row.board + widths[at, empty] - needs[at, empty] < run
        if short.any():
            widths = np.where(short[:, np.newaxis], self._narrowed(needs, empty, there), widths)
        bays = self._bays(widths, counts)
        bays.start[at, empty] = np.maximum(bays.start[at, empty], row.board + run)
        return bays

    def _narrowed(self, needs: Floats, empty: Codes, there: Flags) -> Floats:
        """Widths that leave the first bay with drivers as far right as the span of the others allows."""
        row, number = self.row, self._number
        beyond = there & (number > empty[:, np.newaxis])
        others = row.room - empty * row.panel_span - row.span
        least = np.where(beyond, needs, 0.0).sum(axis=-1)
        right = _level_bays(needs, np.maximum(others, least), beyond)
        left = needs.copy()
        left[:, 0] = np.where(empty > 0, self._first_need, left[:, 0])
        left = _level_bays(left, row.room - right.sum(axis=-1), number <= empty[:, np.newaxis])
        return left + right


Batch = TypeVar("Batch", Port, _Bays)


def _chosen(here: Flags, one: Batch, other: Batch) -> Batch:
    """One batch where it is ``here``, else the other."""
    found = {}
    for field in fields(other):
        its, mine = getattr(one, field.name), getattr(other, field.name)
        found[field.name] = np.where(here[:, np.newaxis] if its.ndim > 1 else here, its, mine)
    return type(other)(**found)


def _spread(count: Codes, bays: Codes, *, most: int) -> Codes:
    """(N,) things over (N,) bays as evenly as whole things go, (N, ``most``); empty bays lie between filled ones."""
    filled = np.maximum(np.minimum(count, bays), 1)
    counts = np.zeros((len(count), most), dtype=np.int64)
    at = np.arange(len(count))
    for number in range(int(filled.max(initial=1))):
        share = count // filled + (number < count % filled)
        place = ((number + 0.5) * bays / filled).astype(np.int64)
        some = number < filled
        counts[at[some], place[some]] = share[some]
    return counts


def _level_bays(needs: Floats, room: Floats, there: Flags) -> Floats:
    """Widths of the bays (N, B) that are ``there``, together ``room`` (N,): equal, except where one needs more."""
    ordered = -np.sort(-np.where(there, needs, -np.inf), axis=-1)
    left, level = room.copy(), np.full(len(room), np.nan)
    count = there.sum(axis=-1)
    for placed in range(needs.shape[1]):
        even = left / np.maximum(count - placed, 1)
        level = np.where(np.isnan(level) & (placed < count) & (ordered[:, placed] <= even), even, level)
        left = left - np.where(placed < count, ordered[:, placed], 0.0)
    widths = np.fmax(needs, level[:, np.newaxis])
    return np.where(there, widths, 0.0)


def _column_x(start: Floats, end: Floats, counts: Codes, number: Codes | int, *, pitch: Floats, half: Floats) -> Floats:
    """Place across the width of thing ``number`` in the bays, (N,): evenly spaced, else packed in the middle."""
    passed = np.cumsum(counts, axis=-1)
    number = np.broadcast_to(np.asarray(number), (len(counts),))
    bay = np.minimum((passed <= number[:, np.newaxis]).sum(axis=-1), counts.shape[1] - 1)
    at = np.arange(len(counts))
    count = np.maximum(counts[at, bay], 1)
    within = number - (passed[at, bay] - counts[at, bay])
    share = (end[at, bay] - start[at, bay]) / count
    spacing = np.where((share >= pitch) & (0.5 * share >= half), share, pitch)
    return np.asarray(0.5 * (start[at, bay] + end[at, bay]) + (within - 0.5 * (count - 1)) * spacing)
