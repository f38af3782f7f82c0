"""What goes into the box: drivers, radiators, vents, braces, the terminal cup: where they lie, what room they leave.

The batch's edge of ``engine.packing``: arrays go in and come out, each design is packed by the function of its opening.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import NDArray

from engine.core.compiled import Table, in_pieces, table
from engine.openings import OPENINGS
from engine.packing.box import Box
from engine.packing.contents import Contents, Rules, Surroundings, allowances_of, drivers_of
from engine.packing.inside import SLACKS, Packed
from engine.packing.opening import OpeningPacking
from engine.packing.ports import Port, driver_ports
from engine.packing.row import BRACE_RIM, BRACE_WINDOW_MOST
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]


class _Reals:
    """A column of floats of a layout, (N,)."""

    kind: type = float

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def column(self, layout: Layout) -> NDArray[np.generic]:
        return layout.column(self.name).astype(self.kind)

    def __get__(self, layout: Layout, owner: type | None = None) -> Floats:
        return self.column(layout)  # type: ignore[return-value]


class _Wholes(_Reals):
    kind = int

    def __get__(self, layout: Layout, owner: type | None = None) -> Integers:  # type: ignore[override]
        return self.column(layout)  # type: ignore[return-value]


class _Yeses(_Reals):
    kind = bool

    def __get__(self, layout: Layout, owner: type | None = None) -> Flags:  # type: ignore[override]
        return self.column(layout)  # type: ignore[return-value]


@dataclass(frozen=True)
class Across:
    """Where what stands in N boxes has its places across the width, m from the left outer face; nan beyond the last.

    A driver in a side panel has none; ``opening_x`` are the centres of passive radiators and of the outer mouths of
    vents through the drivers' panel, and where a slot's channel ends.
    """

    column_x: Floats  # (N, C) of columns of drivers
    brace_x: Floats  # (N, B) left faces
    opening_x: Floats  # (N, M)
    ports: Table  # (N, M + D) of ``engine.packing.ports.Port``: openings, then drivers


@dataclass(frozen=True, kw_only=True)
class Layout:
    """Boxes with their contents in place, arrays (N,), SI.

    ``slacks`` maps each limit (``SLACKS``) to the metres left before it binds,
    negative where it is broken; at most ``ROOM_ENOUGH``.  ``vent_length`` is nan for
    closed boxes.  Codes of vents are those of ``engine.packing.placement``.
    """

    wedges: Wedges
    contents: Contents
    rules: Rules
    opening: Integers  # number into ``OPENINGS``
    packed: Table  # a row of ``engine.packing.inside.Packed`` for each
    own: tuple[Table, ...]  # what each kind of opening says of its boxes besides, as in ``OPENINGS``

    net_volume = _Reals()  # m³
    driver_rows = _Wholes()  # drivers in a column along the panel
    driver_s = _Reals()  # centre of the first driver along its panel; in the side panel its height
    brace_count = _Wholes()
    brace_volume = _Reals()  # m³ of board
    brace_window = _Reals()  # part of a brace that is cut away
    vent_length = _Reals()  # along the centre line, from the panel's outer face to the inner mouth: what is cut
    vent_area = _Reals()  # m², of one vent's bore; 0 for closed boxes
    vent_acoustic_length = _Reals()  # m that the same counts for in a bore of ``vent_area``, without the ends
    vent_ends = _Reals()  # m that the air outside both mouths adds to it in a lumped model
    vent_outer_end = _Reals()  # m, the part of that before the outer mouth
    vent_bends = _Wholes()  # turns at right angles
    vent_hydraulic = _Reals()  # m, four times the bore's area over its perimeter
    support_count = _Wholes()  # blocks under each vent
    support_volume = _Reals()  # m³ of board in them all
    cup_y = _Reals()  # centre of the terminal cup in the side panel; nan where there is none
    cup_z = _Reals()
    end_taken = _Reals()  # width at the right end kept free for the cup or the turn of a slot
    least = _Reals()  # m, room left at the tightest limit

    # Of the openings.
    vent_placement = _Wholes()
    vent_where = _Wholes()
    vent_columns = _Wholes()
    vent_low = _Yeses()
    vent_at_back = _Yeses()
    vent_s = _Reals()
    slot_width = _Reals()
    slot_turn = _Reals()
    slot_boards = _Reals()
    radiator_s = _Reals()

    def __len__(self) -> int:
        return len(self.wedges)

    @property
    def names(self) -> list[str]:
        """What the packing says of each box, by name."""
        shared = (name for name in self.packed.dtype.names if name != "slacks")
        return [*shared, *dict.fromkeys(name for each in self.own for name in each.dtype.names)]

    def column(self, name: str) -> NDArray[np.generic]:
        """What the packing says of each box by that name, (N,): shared by all, or some openings' own."""
        if name in self.packed.dtype.names:
            return np.asarray(self.packed[name])
        told = [(number, each[name]) for number, each in enumerate(self.own) if name in each.dtype.names]
        if not told:
            raise AttributeError(f"no opening says anything of {name}")
        found = told[0][1]
        for number, values in told[1:]:
            found = np.where(self.opening == number, values, found)
        return np.asarray(found)

    @cached_property
    def slacks(self) -> dict[str, Floats]:
        return {name: self.packed.slacks[:, limit].copy() for limit, name in enumerate(SLACKS)}

    @property
    def violations(self) -> dict[str, Floats]:
        """Each limit as a constraint: 0 or less where it is kept, larger where it is worse, m."""
        return {name: -slack for name, slack in self.slacks.items()}

    @property
    def tightest(self) -> NDArray[np.str_]:
        """Name of the limit with least room, (N,)."""
        names: NDArray[np.str_] = np.array(SLACKS)[np.argmin(self.packed.slacks, axis=1)]
        return names

    @cached_property
    def across(self) -> Across:
        """Places across the width; made for boxes whose slacks are all ≥ 0, others get some outside the box too."""
        contents, count = self.contents, len(self)
        openings = np.max([each.packing.count(contents) for each in OPENINGS.records], axis=0)
        most = int(openings.max(initial=0.0))
        columns = np.ceil(contents.driver_count / self.packed.driver_rows)
        column_x = np.full((count, int(columns.max(initial=0.0))), np.nan)
        brace_x = np.full((count, int(self.packed.brace_count.max(initial=0))), np.nan)
        opening_x = np.full((count, most), np.nan)
        width = most + int(contents.driver_count.max(initial=0.0))
        ports = table(Port, count * width).reshape(count, width)
        ports.opening[:, :most] = True
        boxes, drivers, rules = (
            boxes_of(self.wedges),
            drivers_of(contents, self.wedges.board),
            allowances_of(self.rules),
        )
        for number, opening in enumerate(OPENINGS.records):
            chosen = np.flatnonzero(self.opening == number)
            if chosen.size:
                sizes = _sizes(opening.packing, chosen, contents, boxes, self.rules)
                found = (column_x, brace_x, opening_x, ports, sizes, self.own[number])
                in_pieces(opening.packing.place, len(chosen), chosen, boxes, drivers, rules, self.packed, *found)
        in_pieces(driver_ports, count, boxes, drivers, rules, self.packed, column_x, ports, most)
        return Across(column_x, brace_x, opening_x, ports)

    def take(self, rows: Rows) -> Self:
        return replace(
            self,
            wedges=self.wedges.take(rows),
            contents=self.contents.take(rows),
            opening=self.opening[rows],
            packed=self.packed[rows],
            own=tuple(each[rows] for each in self.own),
        )


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

    Returns
    -------
    Layout
        Where a vent has no length that tunes the box, the limit "vent length" is broken.

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
    around = table(
        Surroundings,
        count,
        tuning=np.where(vented, tuning, 1.0),
        free_width=free_width,
        driver_air=driver_air,
        ahead=ahead,
        under=under,
        worth=True if worth is None else worth,
        thorough=worth is None,
    )
    boxes, drivers, allowances = boxes_of(wedges), drivers_of(contents, wedges.board), allowances_of(rules)
    packed, opening = table(Packed, count), np.full(count, -1)
    own = []
    for number, kind in enumerate(each.packing for each in OPENINGS.records):
        told = kind.chosen(contents) if contents.opening is None else contents.opening == number
        chosen = np.flatnonzero(told)
        opening[chosen] = number
        own.append(table(kind.own, count))
        if chosen.size:
            sizes = _sizes(kind, chosen, contents, boxes, rules)
            in_pieces(kind.pack, len(chosen), chosen, boxes, drivers, allowances, around, packed, sizes, own[-1])
    if (opening < 0).any():
        raise ValueError("contents with an opening of no known kind")
    return Layout(wedges=wedges, contents=contents, rules=rules, opening=opening, packed=packed, own=tuple(own))


def _sizes(packing: OpeningPacking, chosen: Rows, contents: Contents, boxes: Table, rules: Rules) -> Table:
    """The sizes of the openings of the ``chosen`` designs; gathering them costs as much as packing, so not for all."""
    if len(chosen) == len(contents):
        return packing.sizes_of(contents, boxes, rules)
    return packing.sizes_of(contents.take(chosen), boxes[chosen], rules)


def boxes_of(wedges: Wedges) -> Table:
    """A row of ``engine.packing.box.Box`` for each of a batch of boxes."""
    board = wedges.board
    return table(
        Box,
        len(wedges),
        outer_width=wedges.outer_width,
        outer_height=wedges.outer_height,
        bottom_depth=wedges.bottom_depth,
        board=board,
        back_slope=wedges.back_slope,
        back_secant=wedges.back_secant,
        baffle_slope=wedges.baffle_slope,
        baffle_secant=wedges.baffle_secant,
        taper=wedges.taper,
        panel_depth=wedges.panel_depth,
        inner_width=wedges.inner_width,
        inner_height=wedges.inner_height,
        inner_area=wedges.inner_area,
        gross_volume=wedges.gross_volume,
        violation=wedges.violation,
        window=brace_window(wedges),
        corner=wedges.inner_section[:, 0, 0],
    )


def brace_window(wedges: Wedges) -> Floats:
    """Part of a brace that its window takes, (N,): what is left inside a rim on all four sides."""
    rim = BRACE_RIM * wedges.board
    depth = 0.5 * (wedges.top_depth + wedges.bottom_depth) - wedges.panel_depth
    inside = np.maximum(depth - rim * (wedges.back_secant + wedges.baffle_secant), 0.0)
    window = np.maximum(wedges.inner_height - 2.0 * rim, 0.0) * inside
    return np.minimum(window / np.maximum(wedges.inner_area, 1e-9), BRACE_WINDOW_MOST)
