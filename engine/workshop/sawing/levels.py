"""Rectangles onto sheets by guillotine cuts: levels across a sheet, in each level one thing beside the other.

A level runs from edge to edge, so that the first cuts go right through and the second ones right through a level; what
a level holds may be several boards, cut apart later.  The model is that of level packing (Lodi, Martello and Vigo 2004,
"Models and bounds for two-dimensional level packing problems", J. Comb. Optim. 8, after Lodi and Monaci 2003, "Integer
linear programming models for 2-staged two-dimensional knapsack problems", Math. Program. 94): a level belongs to the
deepest thing in it.  That one thing may stand for several boards in a row is the third stage of Puchinger and Raidl
2007 ("Models and algorithms for three-stage two-dimensional bin packing", EJOR 183).  Solved by HiGHS through
``scipy.optimize.milp``, limited by the count of its nodes rather than by seconds, so that one job gives one plan.
"""

from __future__ import annotations

import math
import time
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import product
from typing import Literal, NamedTuple

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, linprog, milp
from scipy.sparse import csr_array

from engine.arrays import Floats

Direction = Literal["", "deep", "long"]

NODES = 300  # of branch and bound; the demos' boxes need fewer than ten
SECONDS = 60.0  # after which the shelves stand: only a machine that hangs gets there
HAIR = 1e-7  # m
EASE = 1e-5  # m, and share of a price: what the solver's whole numbers may be off by, and no saw cuts
LESS = 1e-5  # m² or money: no plan is changed for less
UNIT = 2e-4  # m, of lengths in the knapsack
ROUNDS = 60  # of pricing levels
FILLINGS = 2_000  # sets of boards in one level, beyond which not every one is looked at


@dataclass(frozen=True)
class Lay:
    """One way in which some boards may lie in a level.

    ``covers`` counts the boards of each sort in it, ``deep`` is its extent in the direction in which levels follow each
    other and ``long`` that along the level, m; ``grain`` is the one that the grain has to run in, if it matters.
    ``key`` is the caller's.
    """

    covers: tuple[int, ...]
    deep: float
    long: float
    grain: Direction = ""
    key: int = 0

    @property
    def area(self) -> float:
        return self.deep * self.long


@dataclass(frozen=True)
class Bin:
    """A kind of sheet with its levels in one direction: usable sizes in m, its price, how many there are.

    ``sheet`` is the sort of sheet that it is one use of: two bins of one sort share its ``count``.
    """

    sheet: int
    deep: float
    long: float
    price: float
    count: int
    grain: Direction = ""

    def takes(self, lay: Lay, *, spare: float) -> bool:
        apart = lay.grain and self.grain and lay.grain != self.grain
        return not apart and lay.deep <= self.deep + HAIR and lay.long <= self.long - spare + HAIR


@dataclass(frozen=True)
class Level:
    """A level in the ``copy``-th sheet of a bin: the deepest thing first."""

    bin: int
    copy: int
    lays: tuple[Lay, ...]

    @property
    def deep(self) -> float:
        return self.lays[0].deep


@dataclass(frozen=True)
class Packing:
    """Levels on sheets, and what is known of how good that is.

    ``price`` is that of the sheets begun, ``used`` the area in m² that levels take from them, kerfs included; each has
    the least that is proved to be possible, by the solver (in this model) and by areas alone.  ``missing`` is how many
    sheets more than counted are taken, ``shelves`` are price and area of the shelf packing it started from.
    """

    levels: tuple[Level, ...]
    price: float
    used: float
    price_bound: float
    used_bound: float
    area_bound: float
    shelves: tuple[float, float]
    missing: int = 0

    @property
    def gap(self) -> float:
        """By what share more is used than the least that is proved."""
        return self.used / self.used_bound - 1.0 if self.used_bound > 0.0 else 0.0


@dataclass(frozen=True)
class Stock:
    """What is packed on: bins, the kerf between any two things, what is kept free at the end of each level, m."""

    bins: tuple[Bin, ...]
    kerf: float
    spare: float = 0.0

    def room(self, level: Level) -> float:
        """What is left along a level."""
        taken = sum(lay.long + self.kerf for lay in level.lays)
        return self.bins[level.bin].long + self.kerf - self.spare - taken

    def worth(self, levels: Iterable[Level]) -> tuple[float, float]:
        """Price of the sheets begun and area in m² that levels take from them."""
        levels = tuple(levels)
        begun = {(level.bin, level.copy) for level in levels}
        price = sum(self.bins[number].price for number, _ in sorted(begun))
        used = sum((level.deep + self.kerf) * self.bins[level.bin].long for level in levels)
        return round(price, 9), round(used, 9)

    def missing(self, levels: Iterable[Level]) -> int:
        begun = {(level.bin, level.copy) for level in levels}
        sheets = [self.bins[number].sheet for number, _ in begun]
        counts = {one.sheet: one.count for one in self.bins}
        return sum(max(sheets.count(sheet) - count, 0) for sheet, count in counts.items())


def shelves(lays: Sequence[Lay], stock: Stock, order: Sequence[int]) -> tuple[Level, ...] | None:
    """First fit by falling depth (Coffman, Garey, Johnson and Tarjan 1980), for sheets: the plain way.

    Each of ``lays`` goes into the first level that takes it, else a new one on the first sheet begun that has room,
    else one on a new sheet, of the bins in this ``order``.  None where something finds no place.
    """
    levels: list[Level] = []
    free: dict[tuple[int, int], float] = {}
    for lay in sorted(lays, key=lambda lay: (-lay.deep, -lay.long, lay.key)):
        for at, level in enumerate(levels):
            fits = stock.bins[level.bin].takes(lay, spare=stock.spare) and lay.long <= stock.room(level) + HAIR
            if fits and lay.deep <= level.deep:
                levels[at] = Level(level.bin, level.copy, (*level.lays, lay))
                break
        else:
            begun = [place for place in free if free[place] >= lay.deep - HAIR]
            place = next((p for p in begun if stock.bins[p[0]].takes(lay, spare=stock.spare)), None)
            if place is None:
                place = _new_sheet(lay, stock, order, free)
            if place is None:
                return None
            free[place] = free.get(place, stock.bins[place[0]].deep) - lay.deep - stock.kerf
            levels.append(Level(*place, (lay,)))
    return tuple(levels)


def _new_sheet(
    lay: Lay, stock: Stock, order: Sequence[int], free: dict[tuple[int, int], float]
) -> tuple[int, int] | None:
    for number in order:
        sort = stock.bins[number].sheet
        begun = sum(stock.bins[taken].sheet == sort for taken, _ in free)
        if begun < stock.bins[number].count and stock.bins[number].takes(lay, spare=stock.spare):
            return number, begun
    return None


def least_price(area: float, bins: Sequence[Bin]) -> float:
    """The least that sheets of so much area in all cost: a bound that knows nothing of shapes."""
    sorts = {one.sheet: one for one in bins}
    own = list(sorts.values())
    found = milp(
        [one.price for one in own],
        constraints=LinearConstraint([[one.deep * one.long for one in own]], lb=area - HAIR),
        integrality=np.ones(len(own), dtype=int),
        bounds=Bounds(0, [one.count for one in own]),
    )
    return round(float(found.fun or 0.0), 9) if found.x is not None else math.inf


def least_area(lays: Sequence[Lay], demand: Sequence[int]) -> float:
    """The least area in m² that so many boards of each sort take, however they lie."""
    covers = np.array([lay.covers for lay in lays]).T
    found = milp([lay.area for lay in lays], constraints=LinearConstraint(covers, demand, np.inf))
    return round(float(found.fun or 0.0), 9)


def pack(lays: Sequence[Lay], demand: Sequence[int], stock: Stock, *, nodes: int = NODES) -> Packing | None:
    """The cheapest sheets for boards, then the least of them used, the rest staying in one piece.

    ``demand`` is the count of boards of each sort, which ``lays`` cover.  None where they find no place.
    """
    start = _start(lays, demand, stock)
    if start is None:
        return None
    bins = stock.bins
    area = least_area(lays, demand)
    best, (price, used) = start, stock.worth(start)
    price_bound, used_bound = least_price(area, bins), area
    if nodes:
        model = _Model(lays, demand, stock, best)
        used_bound = max(used_bound, round(model.bound(price), 9))
        aims: tuple[Literal["price", "area"], ...] = ("price", "area")
        for weighed in aims[price <= price_bound + LESS :]:
            whole = weighed == "area" and model.complete(used - used_bound)
            found, least = model.better(weighed, most_price=price, nodes=nodes)
            if found is not None and stock.worth(found) < (price, used):
                best, (price, used) = found, stock.worth(found)
            if whole:
                used_bound = max(used_bound, round(least, 9))
    return Packing(
        levels=best, price=price, used=used, price_bound=min(price_bound, price), used_bound=min(used_bound, used),
        area_bound=area, shelves=stock.worth(start), missing=stock.missing(best),
    )  # fmt: skip


def _start(lays: Sequence[Lay], demand: Sequence[int], stock: Stock) -> tuple[Level, ...] | None:
    """The best shelves of some dozens: boards by themselves or together, turned or not, on sheets in any order."""
    cheap = sorted(range(len(stock.bins)), key=lambda n: (stock.bins[n].price, n))
    orders = [(first, *(n for n in cheap if n != first)) for first in cheap]
    best: tuple[tuple[float, float], tuple[Level, ...]] | None = None
    for together, deep in product((True, False), (True, False)):
        chosen = _cover(lays, demand, stock, together=together, deep=deep)
        if chosen is None:
            continue
        for order in orders:
            levels = shelves(chosen, stock, order)
            if levels is not None and (best is None or stock.worth(levels) < best[0]):
                best = stock.worth(levels), levels
    return best[1] if best else None


def _cover(lays: Sequence[Lay], demand: Sequence[int], stock: Stock, *, together: bool, deep: bool) -> list[Lay] | None:
    """Lays that have every board in one: as many in one as there are or as few, the deep way round or the long one."""
    fitting = [lay for lay in lays if any(one.takes(lay, spare=stock.spare) for one in stock.bins)]
    sign = -1 if deep else 1
    fitting.sort(key=lambda lay: (sum(lay.covers) * (-1 if together else 1), sign * lay.deep, lay.key))
    left, chosen = list(demand), []
    for lay in fitting:
        while all(need <= there for need, there in zip(lay.covers, left, strict=True)):
            chosen.append(lay)
            left = [there - need for need, there in zip(lay.covers, left, strict=True)]
    return None if any(left) else chosen


class _Model:
    """Which levels to cut from which kind of sheet: a programme whose columns are levels, priced as they are needed.

    Gilmore and Gomory 1965, "Multistage cutting stock problems of two and more dimensions", Oper. Res. 13: the linear
    programme over all levels is solved with the few that its prices ask for, which a knapsack along the level finds.
    Its value bounds what any levels use; whole numbers of the levels met on the way make the plan.  Where there are few
    boards every level is known that could make a better one, and the plan is the best there is.
    """

    def __init__(self, lays: Sequence[Lay], demand: Sequence[int], stock: Stock, start: Sequence[Level]) -> None:
        self.stock, self.demand, self.lays = stock, demand, lays
        self.cuts: dict[tuple[int, tuple[Lay, ...]], None] = {(level.bin, level.lays): None for level in start}
        self.prices: tuple[Floats, Floats] | None = None  # of boards and of sheets, when no level is worth more

    def bound(self, most_price: float) -> float:
        """The least area in m² that levels take, in fractions of levels and sheets, at no more than a price."""
        bins, count = self.stock.bins, len(self.stock.bins)
        best = 0.0
        for _ in range(ROUNDS):
            rows, low, high = self._rows(list(range(count)), most_price)
            areas = self._areas(list(range(count)))
            equal = np.array(low) == np.array(high)
            found = linprog(areas, A_eq=rows[equal], b_eq=np.array(high)[equal], A_ub=rows[~equal],
                            b_ub=np.array(high)[~equal], method="highs")  # fmt: skip
            if found.x is None:
                return best
            worth, fits = found.eqlin.marginals, found.ineqlin.marginals[:count]
            before, least = len(self.cuts), 0.0
            for number, one in enumerate(bins):
                for lays in self._asked_for(number, worth):
                    deep = max(lay.deep for lay in lays) + self.stock.kerf
                    gain = sum(float(np.dot(worth, lay.covers)) for lay in lays) - deep * (one.long - fits[number])
                    if gain > LESS:
                        self.cuts[number, lays] = None
                        least = max(least, gain / (deep * one.long))
            # Farley 1990: prices scaled down until no level is worth more than it takes bound the programme too.
            value = float(found.fun or 0.0)
            best = max(best, value / (1.0 + least))
            if len(self.cuts) == before:
                self.prices = worth, fits
                return value
        return best

    def _asked_for(self, number: int, worth: Floats) -> list[tuple[Lay, ...]]:
        """The most worthy level of each depth in a bin, each board the way round in which it takes least of it."""
        home, kerf, spare = self.stock.bins[number], self.stock.kerf, self.stock.spare
        room = int((home.long - spare + kerf) / UNIT + 1e-6)
        fitting = sorted(
            (lay for lay in self.lays if home.takes(lay, spare=spare)), key=lambda lay: (lay.deep, lay.key)
        )
        found: dict[tuple[Lay, ...], None] = {}
        for deep in sorted({lay.deep for lay in fitting}):
            shortest: dict[tuple[int, ...], Lay] = {}
            for lay in fitting:
                if lay.deep <= deep and (lay.covers not in shortest or lay.long < shortest[lay.covers].long):
                    shortest[lay.covers] = lay
            useful = [(lay, float(np.dot(worth, lay.covers))) for lay in shortest.values()]
            taken = _knapsack(
                [
                    (lay, value, ceil_of(lay.long + kerf))
                    for lay, value in useful
                    if value > LESS
                    for _ in range(self._most(lay))
                ],
                room,
            )
            if taken:
                found[tuple(sorted(taken, key=lambda lay: (-lay.deep, -lay.long, lay.key)))] = None
        return list(found)

    def _most(self, lay: Lay) -> int:
        return min(n // c for n, c in zip(self.demand, lay.covers, strict=True) if c)

    def complete(self, slack: float) -> bool:
        """Whether every level is known that a plan may hold which takes less than ``slack`` m² above the bound.

        Those are the levels that take no more than that above what the last prices make of them.
        """
        if self.prices is None:
            return False
        worth, fits = self.prices
        for number, home in enumerate(self.stock.bins):
            found = _fillings(self.lays, self.demand, self.stock, number)
            if found is None:
                return False
            for lays in found:
                deep = lays[0].deep + self.stock.kerf
                value = sum(float(np.dot(worth, lay.covers)) for lay in lays)
                if deep * (home.long - fits[number]) - value <= slack + LESS:
                    self.cuts[number, lays] = None
        return True

    def better(
        self, weighed: Literal["price", "area"], *, most_price: float, nodes: int
    ) -> tuple[tuple[Level, ...] | None, float]:
        """The plan in whole levels of least price, or least area at no more than a price; None where none is found.

        With it the least that the levels known allow.
        """
        bins = self.stock.bins
        sheets = []
        for number, one in enumerate(bins):
            paid = math.floor(most_price / one.price + LESS) if one.price > 0.0 else one.count
            sheets += [number] * min(one.count, paid, sum(self.demand))
        rows, low, high = self._rows(sheets, most_price)
        weights = self._prices(sheets) if weighed == "price" else self._areas(sheets)
        began = time.monotonic()
        found = milp(
            weights,
            constraints=LinearConstraint(csr_array(rows), low, high),
            integrality=np.ones(len(weights), dtype=int),
            bounds=Bounds(0.0, np.where(np.arange(len(weights)) < len(weights) - len(sheets), max(self.demand), 1.0)),
            options={"node_limit": nodes, "time_limit": SECONDS, "mip_rel_gap": 1e-6},
        )
        if found.x is None or time.monotonic() - began > SECONDS:
            return None, 0.0
        copies = [sheets[:k].count(number) for k, number in enumerate(sheets)]
        times = zip(self._columns(sheets), np.rint(found.x).astype(int).tolist(), strict=False)
        levels = [Level(sheets[k], copies[k], lays) for (lays, k), often in times for _ in range(often)]
        plan = tuple(sorted(levels, key=lambda level: (level.bin, level.copy, -level.deep)))
        return plan, float(found.mip_dual_bound or 0.0)

    def _columns(self, sheets: Sequence[int]) -> list[tuple[tuple[Lay, ...], int]]:
        """Every level known, on every sheet that it may be cut from."""
        return [(lays, k) for k, number in enumerate(sheets) for home, lays in self.cuts if home == number]

    def _areas(self, sheets: Sequence[int]) -> Floats:
        """What levels take of sheets, m²."""
        kerf, bins = self.stock.kerf, self.stock.bins
        areas = [(lays[0].deep + kerf) * bins[sheets[k]].long for lays, k in self._columns(sheets)]
        return np.array(areas + [0.0] * len(sheets))

    def _prices(self, sheets: Sequence[int]) -> Floats:
        """What sheets cost."""
        return np.array([0.0] * len(self._columns(sheets)) + [self.stock.bins[number].price for number in sheets])

    def _rows(self, sheets: Sequence[int], most_price: float) -> tuple[Floats, list[float], list[float]]:
        """Levels fit on their sheet; sheets are counted, and paid for; every board is cut."""
        bins, kerf, columns = self.stock.bins, self.stock.kerf, self._columns(sheets)
        size = len(columns) + len(sheets)
        begun = np.eye(size)[len(columns) :]
        deep = np.array([lays[0].deep + kerf for lays, _ in columns] + [0.0] * len(sheets))
        homes = np.array([k for _, k in columns] + [-1] * len(sheets))
        rows = [np.where(homes == k, deep, 0.0) - (bins[n].deep + kerf) * begun[k] for k, n in enumerate(sheets)]
        high = [EASE] * len(rows)
        for sort in sorted({one.sheet for one in bins}):
            rows.append(sum((begun[k] for k, n in enumerate(sheets) if bins[n].sheet == sort), np.zeros(size)))
            high.append(next(one.count for one in bins if one.sheet == sort))
        if most_price < math.inf:
            rows.append(self._prices(sheets))
            high.append(most_price * (1.0 + EASE) + LESS)
        for k, number in enumerate(sheets):
            if k and sheets[k - 1] == number:
                rows.append(begun[k] - begun[k - 1])
                high.append(0.0)
        low = [-np.inf] * len(rows)
        covers = np.array([np.sum([lay.covers for lay in lays], axis=0) for lays, _ in columns]).T
        rows += [np.concatenate([each, np.zeros(len(sheets))]) for each in covers]
        return np.array(rows), low + list(self.demand), high + list(self.demand)


class _Filled(NamedTuple):
    """A level as far as it is filled: how deep, how long with a kerf after each thing, with what."""

    deep: float
    long: float
    lays: tuple[Lay, ...]


def _fillings(lays: Sequence[Lay], demand: Sequence[int], stock: Stock, number: int) -> list[tuple[Lay, ...]] | None:
    """What levels of a bin may hold, of all with the same boards the one least deep; None where that is too much."""
    home, kerf = stock.bins[number], stock.kerf
    room = home.long + kerf - stock.spare + HAIR
    fitting = sorted((lay for lay in lays if home.takes(lay, spare=stock.spare)), key=lambda lay: (-lay.deep, lay.key))
    known: dict[tuple[int, ...], list[_Filled]] = {(0,) * len(demand): [_Filled(0.0, 0.0, ())]}
    for lay in fitting:
        for _ in range(min(n // c for n, c in zip(demand, lay.covers, strict=True) if c)):
            grown: dict[tuple[int, ...], list[_Filled]] = {}
            for covers, filled in known.items():
                more = tuple(has + own for has, own in zip(covers, lay.covers, strict=True))
                if all(has <= needs for has, needs in zip(more, demand, strict=True)):
                    longer = [each for each in filled if each.long + lay.long + kerf <= room]
                    grown.setdefault(more, []).extend(
                        _Filled(max(each.deep, lay.deep), each.long + lay.long + kerf, (*each.lays, lay))
                        for each in longer
                    )
            for covers, found in grown.items():
                known[covers] = _unbeaten([*known.get(covers, []), *found])
            if len(known) > FILLINGS:
                return None
    return [min(filled, key=lambda each: each.deep).lays for covers, filled in known.items() if any(covers) and filled]


def _unbeaten(filled: list[_Filled]) -> list[_Filled]:
    """Those that no other is both as shallow and as short as."""
    kept: list[_Filled] = []
    for each in sorted(filled, key=lambda each: each[:2]):
        if not kept or each.long < kept[-1].long - HAIR:
            kept.append(each)
    return kept


def ceil_of(length: float) -> int:
    """A length in whole units of the knapsack, never less than it is."""
    return math.ceil(length / UNIT - 1e-6)


def _knapsack(things: Sequence[tuple[Lay, float, int]], room: int) -> list[Lay]:
    """The things of most worth that go into a room together: (what, worth, size) each, sizes in whole units."""
    best = np.zeros(room + 1)
    taken = np.zeros((len(things), room + 1), dtype=bool)
    for at, (_, worth, size) in enumerate(things):
        if size <= room:
            better = best[: room + 1 - size] + worth
            taken[at, size:] = better > best[size:] + HAIR
            best[size:] = np.where(taken[at, size:], better, best[size:])
    chosen, left = [], room
    for at in range(len(things) - 1, -1, -1):
        if taken[at, left]:
            chosen.append(things[at][0])
            left -= things[at][2]
    return chosen
