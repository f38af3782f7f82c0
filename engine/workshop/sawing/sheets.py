"""Boards onto stock sheets and offcuts: which sheets, and what lies where on them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

from engine.parts import Cutting, SheetStock
from engine.quantities import Units
from engine.workshop.board import Board
from engine.workshop.sawing.blanks import Blank, Slot, blanks_of, narrow
from engine.workshop.sawing.levels import NODES, Bin, Direction, Lay, Level, Packing, Stock, pack
from engine.workshop.sawing.pieces import Piece, pieces_of

Across = Literal["length", "width"]  # which way levels run: cut across the sheet's length, or along it
USUAL: dict[Units, SheetStock] = {"metric": SheetStock(), "us": SheetStock(length=8 * 0.3048, width=4 * 0.3048)}
NEAR = 1e-3  # m, between the thickness of a board as measured and that of a sheet by name
MOST_SHEETS = 50  # of one sort for one box


@dataclass(frozen=True)
class Placed:
    """A blank on its sheet, m from the sheet's lower left corner, its length along x.

    ``along``: it lies with its own length along that of the sheet.  ``level`` counts the sheet's; in a level the
    blanks that are ``ripped`` lie side by side and go to the saw in one, the others are broken out one by one.
    """

    blank: Blank
    x: float
    y: float
    along: bool
    level: int
    ripped: bool

    @property
    def size(self) -> tuple[float, float]:
        return (self.blank.length, self.blank.width) if self.along else (self.blank.width, self.blank.length)


@dataclass(frozen=True)
class SheetPlan:
    """One sheet with what is cut from it: ``levels`` are (from, to) in m, along x where ``across`` is "length"."""

    stock: SheetStock
    number: int  # among all, from 1
    thickness: float
    across: Across
    levels: tuple[tuple[float, float], ...]
    placed: tuple[Placed, ...]
    missing: bool = False  # more than there are

    @property
    def area(self) -> float:
        return self.stock.length * self.stock.width

    @property
    def filled(self) -> float:
        """Area of the blanks on it, m²."""
        return sum(each.blank.length * each.blank.width for each in self.placed)

    def rest(self, cutting: Cutting) -> tuple[float, float]:
        """Size in m of the offcut beyond its levels, (0, 0) where that is nothing."""
        whole, other = (
            (self.stock.length, self.stock.width) if self.across == "length" else (self.stock.width, self.stock.length)
        )
        left = whole - cutting.trim - self.levels[-1][1] - cutting.kerf
        return (left, other - 2.0 * cutting.trim) if left > 0.0 else (0.0, 0.0)


@dataclass(frozen=True)
class Group:
    """All boards of one thickness, and how well they lie."""

    thickness: float
    packing: Packing
    assumed: bool  # no sheet of that thickness is stated: the usual size is taken


@dataclass(frozen=True)
class Sheets:
    """Sheets for a box."""

    pieces: tuple[Piece, ...]
    plans: tuple[SheetPlan, ...]
    groups: tuple[Group, ...]
    too_large: tuple[str, ...]  # boards that fit on no sheet
    cutting: Cutting

    @property
    def cost(self) -> float:
        """Of whole sheets and offcuts begun; nan where a price is not told."""
        return math.fsum(plan.stock.price for plan in self.plans)

    @property
    def filled(self) -> float:
        """Share of the sheets begun that blanks take."""
        area = sum(plan.area for plan in self.plans)
        return sum(plan.filled for plan in self.plans) / area if area else 0.0

    @property
    def gap(self) -> float:
        """By what share levels take more of sheets than the least that is proved, all thicknesses together."""
        used = math.fsum(group.packing.used for group in self.groups)
        return used / math.fsum(group.packing.used_bound for group in self.groups) - 1.0


def sheets_for(
    boards: Sequence[Board],
    stock: Sequence[SheetStock],
    cutting: Cutting,
    *,
    board: float,
    units: Units = "metric",
    nodes: int = NODES,
) -> Sheets:
    """Boards onto sheets, the cheapest ones first and then as little of them as can be.

    ``board`` is the thickness that a sheet without one has, m.  Where none is stated a common one is taken, of whole
    feet for somebody who thinks in US ``units``.  With no ``nodes`` the best shelves stand.
    """
    pieces = pieces_of(boards, cutting)
    plans: list[SheetPlan] = []
    groups: list[Group] = []
    too_large: list[str] = []
    for thickness in sorted({piece.thickness for piece in pieces}, reverse=True):
        own = [each for each in stock if _is_of(each, thickness, board)]
        assumed = not own
        own = own or [replace(USUAL[units], thickness=thickness)]
        chosen = [piece for piece in pieces if piece.thickness == thickness]
        fitting = [piece for piece in chosen if _fits(piece, own, cutting)]
        too_large += [name for piece in chosen if piece not in fitting for name in piece.names]
        if fitting:
            found, packing = _laid(fitting, own, cutting, nodes=nodes)
            plans += [
                replace(plan, number=len(plans) + at, thickness=thickness)
                for at, plan in enumerate(_called(found), start=1)
            ]
            groups.append(Group(thickness, packing, assumed))
    return Sheets(pieces, tuple(plans), tuple(groups), tuple(too_large), cutting)


def _called(plans: Sequence[SheetPlan]) -> Iterator[SheetPlan]:
    """Plans in which each board of a sort goes by its own name, in the order in which they lie."""
    names: dict[str, Iterator[str]] = {}

    def named(slot: Slot) -> Slot:
        left = names.setdefault(slot.piece.name, iter(slot.piece.names))
        return replace(slot, piece=replace(slot.piece, names=(next(left),)))

    for plan in plans:
        placed = tuple(
            replace(each, blank=replace(each.blank, slots=tuple(map(named, each.blank.slots)))) for each in plan.placed
        )
        yield replace(plan, placed=placed)


def _is_of(sheet: SheetStock, thickness: float, board: float) -> bool:
    own = board if math.isnan(sheet.thickness) else sheet.thickness
    return abs(own - thickness) <= NEAR


def _fits(piece: Piece, stock: Sequence[SheetStock], cutting: Cutting) -> bool:
    (blank,) = blanks_of([replace(piece, names=piece.names[:1])], cutting, longest=0.0)
    lays = _lays([blank], [piece], cutting)
    return any(one.takes(lay, spare=cutting.allowance) for one in _bins(stock, cutting) for lay in lays)


def _bins(stock: Sequence[SheetStock], cutting: Cutting) -> list[Bin]:
    """Every sort of sheet, with its levels across its length and along it."""
    told = all(not math.isnan(sheet.price) for sheet in stock)
    bins = []
    for sort, sheet in enumerate(stock):
        long, wide = sheet.length - 2.0 * cutting.trim, sheet.width - 2.0 * cutting.trim
        price = sheet.price if told else sheet.length * sheet.width
        grains: dict[str, tuple[Direction, Direction]] = {
            "none": ("", ""),
            "length": ("deep", "long"),
            "width": ("long", "deep"),
        }
        across, along = grains[sheet.grain]
        count = sheet.count or MOST_SHEETS
        bins += [Bin(sort, long, wide, price, count, across), Bin(sort, wide, long, price, count, along)]
    return bins


def _lays(blanks: Sequence[Blank], pieces: Sequence[Piece], cutting: Cutting) -> list[Lay]:
    """Blanks in both ways round: side by side along a level, to be ripped, or broken out across it."""
    lays = []
    for at, blank in enumerate(blanks):
        covers = [0] * len(pieces)
        for slot in blank.slots:
            covers[slot.sort] += 1
        piece = blank.slots[0].piece
        # What is ripped off as a narrow strip leaves enough beside it to be guided.
        beside = cutting.kerf + cutting.narrowest if narrow(piece, cutting) and not piece.bevelled else 0.0
        ways: tuple[Direction, Direction] = ("deep", "long") if piece.grain == "length" else ("long", "deep")
        grain = ways if piece.grain else ("", "")
        wide = blank.width + beside
        lays.append(Lay(tuple(covers), blank.length, wide, grain[0], 2 * at))
        lays.append(Lay(tuple(covers), wide + cutting.allowance, blank.length, grain[1], 2 * at + 1))
    return lays


def _laid(
    pieces: Sequence[Piece], stock: Sequence[SheetStock], cutting: Cutting, *, nodes: int
) -> tuple[list[SheetPlan], Packing]:
    longest = max(max(sheet.length, sheet.width) for sheet in stock) - 2.0 * cutting.trim - cutting.allowance
    blanks = blanks_of(pieces, cutting, longest=longest)
    lays, demand = _lays(blanks, pieces, cutting), [len(piece.names) for piece in pieces]
    bins = _bins(stock, cutting)
    packing = pack(lays, demand, Stock(tuple(bins), cutting.kerf, cutting.allowance), nodes=nodes)
    if packing is None:  # there are not enough: more of each are taken, and told
        more = [replace(one, count=MOST_SHEETS) for one in bins]
        packing = pack(lays, demand, Stock(tuple(more), cutting.kerf, cutting.allowance), nodes=nodes)
        assert packing is not None  # every piece fits on a sheet of some sort
    plans = []
    counts: dict[int, int] = {}
    laid = _together(packing.levels, blanks, {lay.key: lay for lay in lays}, cutting)
    for place in sorted({(level.bin, level.copy) for level in laid}):
        levels = [level for level in laid if (level.bin, level.copy) == place]
        sort = bins[place[0]].sheet
        counts[sort] = counts.get(sort, 0) + 1
        missing = bool(stock[sort].count) and counts[sort] > stock[sort].count
        plans.append(
            _plan(stock[sort], "length" if place[0] % 2 == 0 else "width", levels, blanks, cutting, missing=missing)
        )
    return plans, packing


def _together(
    levels: Sequence[Level], blanks: Sequence[Blank], lays: Mapping[int, Lay], cutting: Cutting
) -> list[Level]:  # fmt: skip
    """Levels with short boards of one sort parted off one strip, where that is as long as the one each would need.

    Levels stay as deep as they are, so no sheet is used worse for it.
    """
    rows = {
        (blank.slots[0].sort, len(blank.slots)): at
        for at, blank in enumerate(blanks)
        if not blank.chained and len({slot.sort for slot in blank.slots}) == 1 and blank.length <= cutting.shortest
    }
    found = [list(level.lays) for level in levels]
    for sort in sorted({sort for sort, count in rows if count > 1}):
        alone = rows.get((sort, 1))
        places = [(k, lay) for k, lays_ in enumerate(found) for lay in lays_ if lay.key // 2 == alone]
        # Those that make their level as deep as it is stay.
        places.sort(key=lambda place: sum(lay.deep >= place[1].deep for lay in found[place[0]]) > 1)
        while len(places) > 1:
            free = [place for place in places[1:] if sum(lay.deep >= place[1].deep for lay in found[place[0]]) > 1]
            count = next((n for n in range(len(free) + 1, 1, -1) if (sort, n) in rows), 0)
            if not count:
                break
            (level, kept), *_ = places
            found[level][found[level].index(kept)] = lays[2 * rows[sort, count] + kept.key % 2]
            for place in free[: count - 1]:
                found[place[0]].remove(place[1])
            gone = [places[0], *free[: count - 1]]
            for place in gone:
                places.remove(place)
    return [replace(level, lays=tuple(kept)) for level, kept in zip(levels, found, strict=True)]


def _plan(
    stock: SheetStock, across: Across, levels: Sequence[Level], blanks: Sequence[Blank], cutting: Cutting, *,
    missing: bool,
) -> SheetPlan:  # fmt: skip
    """Levels in a row from the sheet's corner, the deepest first; in each what is ripped comes first, widest first."""
    placed: list[Placed] = []
    edges: list[tuple[float, float]] = []
    start = cutting.trim
    for number, level in enumerate(sorted(levels, key=lambda level: -level.deep)):
        edges.append((start, start + level.deep))
        at = cutting.trim
        for lay in sorted(level.lays, key=lambda lay: (lay.key % 2, -lay.long, lay.key)):
            ripped = lay.key % 2 == 0
            x, y = (start, at) if across == "length" else (at, start)
            placed.append(Placed(blanks[lay.key // 2], x, y, ripped == (across == "length"), number, ripped))
            at += lay.long + cutting.kerf
        start += level.deep + cutting.kerf
    return SheetPlan(stock, 0, 0.0, across, tuple(edges), tuple(placed), missing)
