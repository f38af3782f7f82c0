"""What goes into the box: drivers, radiators, vents, braces, the terminal cup: where they lie, what room they leave.

The batch's edge of ``engine.packing``: arrays go in and come out, each design is packed by the function of its opening.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, Generic, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from engine.core.compiled import Table, in_pieces, table
from engine.openings import OPENINGS
from engine.packing.contents import Batch, Contents, Rules, Surroundings, allowances_of, drivers_of
from engine.packing.inside import SLACKS, Packed
from engine.packing.ports import Across, Port, driver_ports
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]
Kind = TypeVar("Kind", bound=np.generic)

OF_DESIGNS = ("boxes", "drivers", "around", "packed")  # tables of a batch with a row for each design


class _Column(Generic[Kind]):
    """A column of a layout, (N,), by its name."""

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, layout: Layout, owner: type | None = None) -> NDArray[Kind]:
        # Put where it is found first, the next time.
        found = layout.__dict__[self.name] = layout.column(self.name)
        return found


def _real() -> _Column[np.float64]:
    return _Column()


def _whole() -> _Column[np.int64]:
    return _Column()


def _flag() -> _Column[np.bool_]:
    return _Column()


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
    batch: Batch
    own: tuple[Table, ...]  # what each kind of opening says of its boxes besides, as in ``OPENINGS``

    net_volume = _real()  # m³
    driver_rows = _whole()  # drivers in a column along the panel
    driver_s = _real()  # centre of the first driver along its panel; in the side panel its height
    brace_count = _whole()
    brace_volume = _real()  # m³ of board
    brace_window = _real()  # part of a brace that is cut away
    vent_length = _real()  # along the centre line, from the panel's outer face to the inner mouth: what is cut
    vent_area = _real()  # m², of one vent's bore; 0 for closed boxes
    vent_acoustic_length = _real()  # m that the same counts for in a bore of ``vent_area``, without the ends
    vent_ends = _real()  # m that the air outside both mouths adds to it in a lumped model
    vent_outer_end = _real()  # m, the part of that before the outer mouth
    vent_bends = _whole()  # turns at right angles
    vent_hydraulic = _real()  # m, four times the bore's area over its perimeter
    support_count = _whole()  # blocks under each vent
    support_volume = _real()  # m³ of board in them all
    cup_y = _real()  # centre of the terminal cup in the side panel; nan where there is none
    cup_z = _real()
    end_taken = _real()  # width at the right end kept free for the cup or the turn of a slot
    least = _real()  # m, room left at the tightest limit

    # Of the openings.
    vent_placement = _whole()
    vent_where = _whole()
    vent_columns = _whole()
    vent_low = _flag()
    vent_at_back = _flag()
    vent_s = _real()
    slot_width = _real()
    slot_turn = _real()
    slot_boards = _real()
    radiator_s = _real()

    def __len__(self) -> int:
        return len(self.wedges)

    @property
    def packed(self) -> Table:
        """A row of :class:`engine.packing.inside.Packed` for each."""
        return self.batch.packed

    @property
    def names(self) -> list[str]:
        """What the packing says of each box, by name."""
        shared = (name for name in self.packed.dtype.names if name != "slacks")
        return [*shared, *dict.fromkeys(name for each in self.own for name in each.dtype.names)]

    def column(self, name: str) -> NDArray[Any]:
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
        return {name: self.packed.slacks[:, limit] for limit, name in enumerate(SLACKS)}

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
        batch, count = self.batch, len(self)
        chosen = {int(number): np.flatnonzero(self.opening == number) for number in np.unique(self.opening)}
        sizes = {number: self.sizes(number, rows) for number, rows in chosen.items()}
        most = int(max((each.number.max() for each in sizes.values()), default=0.0))
        columns = int(np.ceil(batch.drivers.number / self.driver_rows).max(initial=0.0))
        width = most + int(batch.drivers.number.max(initial=0.0))
        ports = table(Port, count * width).reshape(count, width)
        ports.opening[:, :most] = True
        braces = int(self.brace_count.max(initial=0))
        column_x, brace_x, opening_x = (np.full((count, each), np.nan) for each in (columns, braces, most))
        across = Across(column_x, brace_x, opening_x, ports)
        for number, rows in chosen.items():
            place = OPENINGS.records[number].packing.place
            in_pieces(place, len(rows), rows, batch, across, sizes[number], self.own[number])
        in_pieces(driver_ports, count, batch, across, most)
        return across

    def sizes(self, number: int, rows: Rows) -> Table:
        """A row of sizes for each of the designs ``rows`` that have the opening of that ``number``."""
        return _sizes(number, rows, self.contents, self.batch.boxes)

    def take(self, rows: Rows) -> Self:
        return replace(
            self,
            wedges=self.wedges.take(rows),
            contents=self.contents.take(rows),
            opening=self.opening[rows],
            batch=self.batch._replace(**{name: getattr(self.batch, name)[rows] for name in OF_DESIGNS}),
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
    air_behind = np.where(np.isnan(contents.rear_gap), rules.breathing_gap, contents.rear_gap)
    contents = replace(contents, rear_gap=air_behind)
    around = table(
        Surroundings,
        count,
        tuning=tuning,
        free_width=free_width,
        driver_air=driver_air,
        ahead=ahead,
        under=under,
        worth=True if worth is None else worth,
        thorough=worth is None,
    )
    drivers, allowances = drivers_of(contents, wedges.board), allowances_of(rules)
    batch = Batch(wedges.boxes, drivers, allowances, around, table(Packed, count))
    if not np.isin(contents.opening, np.arange(len(OPENINGS.records))).all():
        raise ValueError("contents with an opening of no known kind")
    own = []
    for number, packing in enumerate(each.packing for each in OPENINGS.records):
        chosen = np.flatnonzero(contents.opening == number)
        if chosen.size:
            own.append(table(packing.own, count))
            sizes = _sizes(number, chosen, contents, batch.boxes)
            in_pieces(packing.pack, len(chosen), chosen, batch, sizes, own[-1])
        else:
            own.append(np.broadcast_to(table(packing.own, 1), count, subok=True))
    return Layout(wedges=wedges, contents=contents, rules=rules, opening=contents.opening, batch=batch, own=tuple(own))


def _sizes(number: int, chosen: Rows, contents: Contents, boxes: Table) -> Table:
    sizes_of = OPENINGS.records[number].packing.sizes_of
    if len(chosen) == len(contents):
        return sizes_of(contents, boxes)
    return sizes_of(contents.take(chosen), boxes[chosen])
