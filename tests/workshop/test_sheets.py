"""Boards on sheets: every plan is cut up again by a checker that knows only rectangles."""

from __future__ import annotations

import math
import random

import pytest

from engine.parts import Cutting, SheetStock
from engine.workshop.sawing.levels import Bin, Lay, Stock, least_area, pack, shelves
from engine.workshop.sawing.sheets import SheetPlan, Sheets, sheets_for
from tests.workshop.carcass import carcass, plate

KERF = 0.0032
NEAR = 2e-5  # m
OFFCUT = SheetStock(name="offcut", length=1.0, width=0.5, price=0.0, count=1)
Box = tuple[float, float, float, float]  # left, low, right, high


def guillotined(boxes: list[Box], area: Box, kerf: float) -> float | None:
    """Area left over when edge-to-edge cuts alone free every box from an area, kerfs off; None where none can."""
    left, low, right, high = area
    if not boxes:
        return (right - left) * (high - low)
    if len(boxes) == 1 and all(abs(a - b) < 1e-7 for a, b in zip(boxes[0], area, strict=True)):
        return 0.0
    for axis in (0, 1):
        for at in sorted({box[axis + 2] for box in boxes} | {box[axis] - kerf for box in boxes}):
            if not area[axis] + 1e-7 < at + kerf or not at < area[axis + 2] - 1e-7:
                continue
            before = [box for box in boxes if box[axis + 2] <= at + 1e-7]
            after = [box for box in boxes if box[axis] >= at + kerf - 1e-7]
            if len(before) + len(after) < len(boxes) or (not before and at < area[axis] + 1e-7):
                continue
            first = (left, low, at, high) if axis == 0 else (left, low, right, at)
            start = min(at + kerf, area[axis + 2])
            second = (start, low, right, high) if axis == 0 else (left, start, right, high)
            if (len(before), len(after)) in ((len(boxes), 0), (0, len(boxes))) and _same(first, second, area):
                continue
            parts = guillotined(before, first, kerf), guillotined(after, second, kerf)
            if None not in parts:
                return math.fsum(part for part in parts if part is not None)
    return None


def _same(first: Box, second: Box, area: Box) -> bool:
    return any(max(abs(a - b) for a, b in zip(each, area, strict=True)) < 1e-7 for each in (first, second))


def boxes_of(plan: SheetPlan) -> list[Box]:
    return [(each.x, each.y, each.x + each.size[0], each.y + each.size[1]) for each in plan.placed]


def check(sheets: Sheets) -> None:
    cutting = sheets.cutting
    for plan in sheets.plans:
        trim, boxes = cutting.trim, boxes_of(plan)
        usable = (trim, trim, plan.stock.length - trim, plan.stock.width - trim)
        for n, one in enumerate(boxes):
            assert one[0] >= usable[0] - 1e-9
            assert one[1] >= usable[1] - 1e-9
            assert one[2] <= usable[2] + NEAR
            assert one[3] <= usable[3] + NEAR
            for other in boxes[:n]:
                gaps = (one[0] - other[2], other[0] - one[2], one[1] - other[3], other[1] - one[3])
                assert max(gaps) >= cutting.kerf - 1e-7
        left = guillotined(boxes, (*usable[:2], usable[2] + NEAR, usable[3] + NEAR), cutting.kerf)
        assert left is not None
        whole = (usable[2] - usable[0]) * (usable[3] - usable[1])
        kerfs = whole + NEAR * sum(usable) - plan.filled - left  # what is neither piece nor offcut was sawdust
        assert 0.0 <= kerfs <= cutting.kerf * (2 * len(boxes) + 2) * (plan.stock.length + plan.stock.width)
    packed = sorted(slot.piece.name for plan in sheets.plans for each in plan.placed for slot in each.blank.slots)
    assert packed == sorted(name for p in sheets.pieces for name in p.names if name not in sheets.too_large)


JOBS = {
    "upright back": carcass(0.9, 0.42, 0.3, 0.18),
    "leaning back": carcass(0.62, 0.5, 0.42, 0.22, lean=math.radians(18.0)),
    "with small parts": [
        *carcass(0.7, 0.36, 0.34, 0.2), *(plate(f"brace {k}", 0.31, 0.25) for k in (1, 2)),
        *(plate(f"block {k}", 0.08, 0.06) for k in (1, 2, 3, 4)), plate("strip", 0.5, 0.03),
    ],
    "a layer of another thickness": [*carcass(0.8, 0.4, 0.3, 0.2), plate("layer", 0.76, 0.39, 0.012, "layer")],
}  # fmt: skip


@pytest.mark.parametrize("job", JOBS)
def test_every_sheet_comes_apart_by_edge_to_edge_cuts_and_no_area_is_lost(job: str) -> None:
    """Conservation, by an independent recursion on the rectangles; grain and narrow sheets among the stock."""
    for stock in (
        [],
        [SheetStock(grain="length")],
        [
            SheetStock(length=1.25, width=1.0, price=20.0),
            SheetStock(name="offcut", length=1.0, width=0.5, price=0.0, count=1),
        ],
    ):
        sheets = sheets_for(JOBS[job], stock, Cutting(), board=0.018)
        check(sheets)
        for group in sheets.groups:
            packing = group.packing
            assert (packing.price, packing.used) <= packing.shelves
            assert packing.area_bound <= packing.used_bound <= packing.used


def test_a_sheet_cut_into_levels_is_put_together_again() -> None:
    """Known optimum by construction: rectangles that a sheet of levels was cut into fill it without rest."""
    draw = random.Random(7)
    for _ in range(4):
        sizes, deep_left = [], 2000
        while deep_left > 0:
            deep = min(draw.randrange(300, 900, 10), deep_left)
            deep = deep_left if deep_left - deep < 200 else deep
            long_left = 1000
            while long_left > 0:
                long = draw.randrange(200, 600, 10)
                long = long_left if long_left - long < 150 else min(long, long_left)
                sizes.append((deep, long))
                long_left -= long
            deep_left -= deep
        lays = []
        for at, (deep, long) in enumerate(sizes):
            covers = tuple(int(at == other) for other in range(len(sizes)))
            sizes_m = deep * 1e-3, long * 1e-3
            lays += [Lay(covers, *sizes_m, "", 2 * at), Lay(covers, *sizes_m[::-1], "", 2 * at + 1)]
        stock = Stock((Bin(0, 2.0, 1.0, 1.0, 9),), 0.0)
        found = pack(lays, [1] * len(sizes), stock)
        assert found is not None
        assert found.price == pytest.approx(1.0)
        assert found.used == pytest.approx(2.0, rel=1e-6)
        assert found.used_bound == pytest.approx(2.0, rel=1e-6)


def test_shelves_are_first_fit_by_falling_depth() -> None:
    """Independent implementation: worked out by hand after Coffman, Garey, Johnson and Tarjan 1980."""
    sizes = [(5, 6), (4, 5), (4, 4), (3, 4), (1, 1)]
    lays = [Lay((1,), deep, long, "", at) for at, (deep, long) in enumerate(sizes)]
    found = shelves(lays, Stock((Bin(0, 20.0, 10.0, 1.0, 9),), 0.0), (0,))
    assert found is not None
    assert [[lay.key for lay in level.lays] for level in found] == [[0, 2], [1, 3, 4]]


def test_bounds_are_never_above_what_is_found() -> None:
    """Analytic limit: random rectangles; the proved least lies between the areas and the plan, and shelves above it."""
    draw = random.Random(3)
    for count in (3, 6, 9):
        lays = []
        for at in range(count):
            covers = tuple(int(at == other) for other in range(count))
            deep, long = draw.uniform(0.1, 0.9), draw.uniform(0.1, 0.9)
            lays += [Lay(covers, deep, long, "", 2 * at), Lay(covers, long, deep, "", 2 * at + 1)]
        stock = Stock((Bin(0, 2.4, 1.2, 30.0, 9), Bin(0, 1.2, 2.4, 30.0, 9)), KERF)
        found = pack(lays, [1] * count, stock)
        assert found is not None
        assert least_area(lays, [1] * count) == pytest.approx(found.area_bound)
        assert found.area_bound <= found.used_bound <= found.used <= found.shelves[1]


def test_offcuts_go_before_sheets_that_cost() -> None:
    """Common practice: what is there and free is used first."""
    offcut = SheetStock(name="offcut", length=1.2, width=1.1, price=0.0, count=2)
    sheets = sheets_for(JOBS["upright back"], [SheetStock(price=60.0), offcut], Cutting(), board=0.018)
    assert {plan.stock.name for plan in sheets.plans} == {"offcut"}
    assert sheets.cost == 0.0


def test_what_is_missing_or_too_large_is_told() -> None:
    """Promise to the user: too few sheets and boards larger than all of them are named, not dropped."""
    few = sheets_for(JOBS["upright back"], [SheetStock(length=1.0, width=0.6, count=1)], Cutting(), board=0.018)
    assert sum(plan.missing for plan in few.plans) == len(few.plans) - 1
    small = sheets_for(JOBS["upright back"], [SheetStock(length=0.8, width=0.5)], Cutting(), board=0.018)
    assert set(small.too_large) == {"bottom", "top", "back", "baffle"}


def test_grain_runs_level_round_the_box() -> None:
    """Common practice: across in baffle, back, top and bottom, forward in the sides."""
    sheets = sheets_for(JOBS["upright back"], [SheetStock(grain="length")], Cutting(), board=0.018)
    for plan in sheets.plans:
        for each in plan.placed:
            piece = each.blank.slots[0].piece
            if piece.name in ("bottom", "top", "back", "baffle"):  # as long as the box is wide
                assert each.along
            else:
                assert each.along == (piece.grain == "length")


def test_the_same_boards_give_the_same_plan() -> None:
    """Promise to the user."""
    one, other = (sheets_for(JOBS["with small parts"], [], Cutting(), board=0.018) for _ in range(2))
    assert one == other


def test_the_checker_finds_what_no_edge_to_edge_cut_frees() -> None:
    """Analytic limit: five rectangles round a middle one, the smallest pattern that is not guillotine."""
    wheel = [
        (0.0, 0.0, 2.0, 1.0),
        (2.0, 0.0, 3.0, 2.0),
        (1.0, 2.0, 3.0, 3.0),
        (0.0, 1.0, 1.0, 3.0),
        (1.0, 1.0, 2.0, 2.0),
    ]
    assert guillotined(wheel, (0.0, 0.0, 3.0, 3.0), 0.0) is None
    assert guillotined(wheel[:2], (0.0, 0.0, 3.0, 3.0), 0.0) == pytest.approx(5.0)
