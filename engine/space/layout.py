"""What goes into the box: drivers, radiators, vents, braces, the terminal cup: where they lie, what room they leave.

The batch's edge of ``engine.packing``: arrays go in and come out, each design is packed by the function of its opening.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from functools import cache, cached_property
from typing import Any, Generic, Self, TypeVar

import numpy as np
from numpy.typing import NDArray

from engine.core.compiled import Table, dtype_of, in_pieces, rows_of, table
from engine.openings import OPENINGS
from engine.packing.contents import Batch, Contents, Rules, Surroundings
from engine.packing.inside import SLACKS, Packed
from engine.packing.ports import Across, Port, driver_ports
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Flags = NDArray[np.bool_]
Rows = NDArray[np.intp]
Kind = TypeVar("Kind", bound=np.generic)

# What tells one arrangement of the same contents from another.
ARRANGED = ("driver_rows", "brace_count", "brace_form", "support_count", "vent_placement", "vent_where", "vent_columns",
            "vent_low", "vent_at_back", "vent_top", "vent_bends")  # fmt: skip


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

    ``wedges`` stand as they are used; what is packed (``batch``, ``own``, ``across``) is in the axes of
    ``batch.boxes``, which are upside down where drivers face up.

    ``slacks`` maps each limit (``SLACKS``) to the metres left before it binds,
    negative where it is broken; at most ``ROOM_ENOUGH``.  ``vent_length`` is nan for
    closed boxes.  Codes of vents are those of ``engine.packing.placement``.
    """

    wedges: Wedges
    contents: Contents
    rules: Rules
    batch: Batch
    sizes: dict[int, Table]  # of openings by their number in ``OPENINGS``: rows of those that designs have
    own: dict[int, Table]  # and what they say of their boxes besides

    net_volume = _real()  # m³
    driver_rows = _whole()  # drivers in a column along the panel
    driver_s = _real()  # centre of the first driver along its panel; in the side panel its height
    brace_count = _whole()
    brace_volume = _real()  # m³ of board
    brace_form = _whole()  # as in ``engine.packing.braces``
    brace_free = _real()  # m² that each leaves the air beside pipes; nan without braces
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
    vent_top = _flag()
    slot_width = _real()
    slot_turn = _real()
    slot_boards = _real()
    radiator_s = _real()

    def __len__(self) -> int:
        return len(self.wedges)

    @property
    def opening(self) -> Integers:
        """The number of each one's opening in ``OPENINGS``."""
        return self.contents.opening

    @property
    def packed(self) -> Table:
        """A row of :class:`engine.packing.inside.Packed` for each."""
        return self.batch.packed

    @property
    def names(self) -> list[str]:
        """What the packing says of each box, by name."""
        shared = (name for name in self.packed.dtype.names if name != "slacks")
        return [*shared, *dict.fromkeys(name for each in _own_rows() for name in each.dtype.names)]

    def column(self, name: str) -> NDArray[Any]:
        """What the packing says of each box by that name, (N,): shared by all, or some openings' own."""
        if name in self.packed.dtype.names:
            return np.asarray(self.packed[name])
        absent = next((each[name] for each in _own_rows() if name in each.dtype.names), None)
        if absent is None:
            raise AttributeError(f"no opening says anything of {name}")
        found = np.repeat(absent, len(self))
        for number, told in self.own.items():
            if name in told.dtype.names:
                found = np.where(self.opening == number, told[name], found)
        return np.asarray(found)

    @cached_property
    def slacks(self) -> dict[str, Floats]:
        return {name: self.packed.slacks[:, limit] for limit, name in enumerate(SLACKS)}

    @property
    def violations(self) -> dict[str, Floats]:
        """Each limit as a constraint: 0 or less where it is kept, larger where it is worse, m."""
        return dict(zip(SLACKS, -self.packed.slacks.T, strict=True))

    @property
    def tightest(self) -> NDArray[np.str_]:
        """Name of the limit with least room, (N,)."""
        names: NDArray[np.str_] = np.array(SLACKS)[np.argmin(self.packed.slacks, axis=1)]
        return names

    @cached_property
    def across(self) -> Across:
        """Places across the width; made for boxes whose slacks are all ≥ 0, others get some outside the box too."""
        batch, count = self.batch, len(self)
        chosen = {number: np.flatnonzero(self.opening == number) for number in self.own}
        numbers = [self.sizes[number].number[rows].max(initial=0.0) for number, rows in chosen.items()]
        most = int(max(numbers, default=0.0))
        drivers = self.contents.driver("number")
        columns = int(np.ceil(drivers / self.driver_rows).max(initial=0.0))
        width = most + int(drivers.max(initial=0.0))
        ports = table(Port, count * width).reshape(count, width)
        ports.opening[:, :most] = True
        braces = int(self.brace_count.max(initial=0))
        column_x, brace_x, opening_x = (np.full((count, each), np.nan) for each in (columns, braces, most))
        across = Across(column_x, brace_x, opening_x, ports)
        for number, rows in chosen.items():
            place = OPENINGS.records[number].packing.place
            in_pieces(place, len(rows), rows, batch, self.sizes[number], self.own[number], across)
        in_pieces(driver_ports, count, batch, across, most)
        return across

    def with_vents_longer_by(self, length: float) -> Layout:
        """The same with every vent cut so much longer, m, or shorter."""
        packed = self.packed.copy()
        packed.vent_length += length
        packed.vent_acoustic_length += length
        longer = replace(self, batch=self.batch._replace(packed=packed))
        longer.__dict__["arrangement"] = self.arrangement  # that stays, and here it is found first
        return longer

    @cached_property
    def arrangement(self) -> Integers:
        """What tells how contents lie, (len(ARRANGED), N)."""
        return np.stack([self.column(name) for name in ARRANGED]).astype(np.int64)

    def arranged_as(self, drawn: Layout) -> Layout:
        """The same boxes, but with contents that lie otherwise than in ``drawn``, of as many, put as they lie there.

        Their volume is what the walls now leave them.
        """
        differ = np.any(self.arrangement != drawn.arrangement, axis=0)
        if not (other := np.flatnonzero(differ)).size:
            return self
        packed = self.packed.copy()
        packed[other] = drawn.packed[other]
        packed.net_volume[other] += (self.wedges.gross_volume - drawn.wedges.gross_volume)[other]
        own = {number: rows.copy() for number, rows in self.own.items()}
        for number, rows in own.items():
            rows[other] = drawn.own[number][other]
        return replace(self, batch=self.batch._replace(packed=packed), own=own)

    def take(self, rows: Rows) -> Self:
        batch = self.batch
        found = replace(
            self,
            wedges=self.wedges.take(rows),
            contents=self.contents.take(rows),
            batch=batch._replace(
                boxes=rows_of(batch.boxes, rows),
                which=batch.which[rows],
                around=Surroundings(*(each[rows] for each in batch.around)),
                packed=rows_of(batch.packed, rows),
            ),
            sizes={number: rows_of(each, rows) for number, each in self.sizes.items()},
            own={number: rows_of(each, rows) for number, each in self.own.items()},
        )
        if "across" in self.__dict__:
            places = {name: each[rows] for name, each in self.across._asdict().items() if name != "ports"}
            found.__dict__["across"] = Across(**places, ports=rows_of(self.across.ports, rows))
        return found


@cache
def _own_rows() -> list[Table]:
    """What openings say of a box that has another one, a row each."""
    return [table(each.packing.own, 1) for each in OPENINGS.records]


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
    above: Floats | float = np.inf,
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
        Free height under boxes whose drivers face down, or above those whose drivers face up, (N,) m; vents beside them
        need air before them too.
    above
        Free height above the top panel, (N,) m; so do vents through that.
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
    figures = [np.full(count, each, dtype=float) for each in (tuning, free_width, driver_air, ahead, under, above)]
    flags = [np.full(count, each, dtype=bool) for each in (worth is None or worth, worth is None)]
    around = Surroundings(*figures, *flags)
    boxes = wedges.boxes
    if (turned := np.flatnonzero(contents.driver("upside_down"))).size:
        boxes = boxes.copy()
        boxes[turned] = wedges.take(turned).upside_down.boxes
    packed = np.empty(count, dtype=dtype_of(Packed)).view(np.recarray)
    batch = Batch(boxes, contents.drivers, contents.which, rules.allowances, around, packed)
    sizes, own, known = {}, {}, 0
    for number, packing in enumerate(each.packing for each in OPENINGS.records):
        chosen = np.flatnonzero(contents.opening == number)
        if chosen.size:
            sizes[number] = packing.sizes_of(count, contents.sizes, wedges.front)
            own[number] = table(packing.own, count)
            in_pieces(packing.pack, len(chosen), chosen, batch, sizes[number], own[number])
        known += len(chosen)
    if known < count:
        raise ValueError("contents with an opening of no known kind")
    return Layout(wedges=wedges, contents=contents, rules=rules, batch=batch, sizes=sizes, own=own)
