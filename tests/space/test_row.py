"""Drivers, vents and braces across the width: spans, bays and the windows of braces."""

from __future__ import annotations

from collections.abc import Callable
from functools import cache
from itertools import product
from typing import Any

import numpy as np
import pytest

from engine.facings import DOWN, SIDEWAYS
from engine.packing.bays import level_bays
from engine.packing.row import Row, own_bay, panel_span, room_of, row_of, row_slack, shared_bay
from engine.space.arrangement import bodies_of
from engine.space.layout import Layout
from engine.space.wedge import Wedges
from tests.space.batches import BOARD, CUP, GAP, SPAN, boxes, contents, fitting, layout
from tests.space.one_by_one import allowed, drivers_in, stacked
from tests.space.singles import Floats, cuboid, one_driver
from tests.space.things import braces, drivers

CUP_BEHIND = CUP.depth - BOARD + GAP  # m, width the cup takes behind its panel


def row_in(box: Wedges, things: dict[str, Any], *, taken: float = 0.0, cup: bool = False) -> Any:
    """The row of each box, the fields of ``Row`` as arrays."""
    return stacked(rows_in(box, things, taken=taken, cup=cup))


def rows_in(box: Wedges, things: dict[str, Any], *, taken: float = 0.0, cup: bool = False) -> list[Row]:
    rules = allowed(cup=cup)
    found = zip(box.boxes, drivers_in(things), strict=True)
    return [row_of(shell, driver, rules, driver.number, taken) for shell, driver in found]


def asked(rows: list[Row], function: Callable[[Row], float]) -> Floats:
    """A figure of each row."""
    return np.array([function(row) for row in rows])


@cache
def with_cup() -> tuple[Layout, tuple[int, ...], tuple[int, ...]]:
    """Designs that fit: with the cup beside drivers and vents, and with the end of the width kept free for it."""
    count = 20_000
    box, things = boxes(count, seed=81, deepest=0.40), contents(count, seed=82, plain=False, closed=0.6)
    laid_out = layout(box, things, cup=CUP, driver_air=0.02)
    fits = fitting(laid_out)
    apart = np.flatnonzero(fits & (laid_out.end_taken > 0.0))
    beside = np.flatnonzero(fits & (laid_out.end_taken == 0.0))
    return laid_out, tuple(beside[:150].tolist()), tuple(apart[:150].tolist())


# Spans and braces


@pytest.mark.parametrize(
    ("board", "span"), [(0.018, 0.4), (0.0045, 0.2), (0.0405, 0.6), (0.012, 0.4 * np.sqrt(2.0 / 3.0))]
)
def test_span_goes_with_the_root_of_the_thickness(board: float, span: float) -> None:
    """Analytic limit: the lowest resonance of a thin plate goes with thickness over span squared (Leissa 1969).

    That 18 mm board goes unsupported over 0.4 m is common practice, no source.
    """
    assert panel_span(board) == pytest.approx(span, rel=1e-12)


@pytest.mark.parametrize(("inner", "braces"), [(0.3999, 0), (0.4001, 1), (0.8179, 1), (0.8181, 2), (1.2361, 3)])
def test_braces_stand_no_further_apart_than_the_span(inner: float, braces: int) -> None:
    """Analytic limit: n bays of 0.4 m and n - 1 braces of 18 mm between the side panels."""
    assert row_in(cuboid(width=inner + 2 * BOARD), one_driver()).braces[0] == braces


def test_as_many_braces_as_it_takes() -> None:
    """Independent implementation: braces are added one by one until panels and drivers have what they need."""
    count = 1500
    box, things = boxes(count, seed=83), contents(count, seed=84)
    things["driver_count"] = np.random.default_rng(1).integers(1, 7, count).astype(float)
    rows = rows_in(box, things)
    row, slack = stacked(rows), asked(rows, row_slack)
    for i in range(count):
        flange, hole = things["outer_diameter"][i], things["cutout_diameter"][i]
        inside = max(hole, things["magnet_diameter"][i])
        wide, pitch = max(inside + 2 * GAP, flange + GAP - BOARD), max(flange, inside) + GAP
        span = max(SPAN, wide)
        inner, columns = box.outer_width[i] - 2 * BOARD, int(things["driver_count"][i])
        braces = 0
        while True:
            fullest = -(-columns // (braces + 1))
            even = (inner - braces * BOARD) / (braces + 1)
            if even <= span + 1e-9 and wide + (fullest - 1) * pitch <= span + 1e-9:
                break
            braces += 1
        assert row.braces[i] == braces
        filled = min(columns, braces + 1)
        left = inner - braces * BOARD - filled * wide - (columns - filled) * pitch
        assert slack[i] == pytest.approx(left, abs=1e-12)


@pytest.mark.parametrize("apart", [False, True])
def test_no_bay_is_wider_than_the_span(apart: bool) -> None:
    """Conservation: between braces there is at most the span, or what one driver needs; the cup's end counts in.

    Every driver keeps its distance from the ends of its bay and from its neighbours.
    """
    laid_out, beside, kept_free = with_cup()
    chosen = kept_free if apart else beside
    assert len(chosen) > 20
    most = 0
    for i in chosen:
        parts = bodies_of(laid_out, i)
        things = laid_out.contents
        assert len(braces(parts)) == laid_out.brace_count[i]
        most = max(most, len(braces(parts)))
        right = parts.inner.x[1] - laid_out.end_taken[i]
        ends = [parts.inner.x[0], *(end for brace in braces(parts) for end in brace.x), right]
        bays = np.array(ends).reshape(-1, 2)
        if things.driver("facing")[i] == SIDEWAYS:
            needed = things.driver("reach")[i] + max(things.driver("rear_gap")[i], GAP) - BOARD
        else:
            needed = max(things.driver("inside")[i] + 2 * GAP, things.driver("flange")[i] + GAP - BOARD)
        widths = bays[:, 1] - bays[:, 0]
        assert np.all(widths >= -1e-9)
        assert widths.max() <= max(SPAN, needed) + 1e-9
        assert widths[-1] + laid_out.end_taken[i] <= max(SPAN, needed + laid_out.end_taken[i]) + 1e-9
        if things.driver("facing")[i] == SIDEWAYS:
            continue
        for driver in drivers(parts):
            inside = 0.5 * things.driver("inside")[i] + GAP
            assert any(start + inside <= driver.x + 1e-9 and driver.x <= end - inside + 1e-9 for start, end in bays)
        columns = np.unique(np.round([driver.x for driver in drivers(parts)], 9))
        assert len(columns) == np.ceil(things.driver("number")[i] / laid_out.driver_rows[i])
        assert np.all(np.diff(columns) >= things.driver("flange")[i] + GAP - 1e-8)
    assert most >= 2


def test_braces_are_as_even_as_their_needs_allow() -> None:
    """Conservation: bays fill the width, none falls short of its need, and none is wider than it must be."""
    rng = np.random.default_rng(5)
    for _ in range(300):
        needs = rng.uniform(0.0, 0.5, rng.integers(1, 6))
        room = float(needs.sum() + rng.uniform(0.0, 0.6))
        widths = np.empty(len(needs))
        level_bays(needs, 0, len(needs), room, widths)
        assert widths.sum() == pytest.approx(room)
        assert np.all(widths >= needs - 1e-12)
        above = widths > needs + 1e-9
        assert not above.any() or np.ptp(widths[above]) < 1e-9
        assert not above.any() or np.all(widths[~above] >= widths[above].max() - 1e-9)


@pytest.mark.parametrize(("radius", "half"), [(0.0, 0.154), (0.014, 0.154), (0.030, 0.158 + 0.012)])
def test_rounded_edges_keep_flanges_off_the_ends_of_the_width(radius: float, half: float) -> None:
    """Analytic limit: half the flange and the radius from the outer face, of which the side panel gives 18 mm."""
    room = layout(cuboid(), one_driver(), round_over=radius).slacks["driver row"][0]
    assert room == pytest.approx(0.39 - 2 * BOARD - 2.0 * half)


# Columns


@pytest.mark.parametrize(
    ("width", "height", "rows"),
    [
        # One above the other: 0.344 m wide; twice 0.169 m and a pitch of 0.326 m high.
        (0.3445, 0.6645, 2),
        (0.3435, 0.6645, 0),
        (0.3445, 0.6635, 0),
        # Side by side: a brace between them, 0.018 · 3 + 0.308 · 2 wide; 0.338 m high.
        (0.6705, 0.3385, 1),
        (0.6695, 0.3385, 0),
        (0.6705, 0.3375, 0),
        # Where both ways fit, side by side.
        (0.6705, 0.6645, 1),
    ],
)
def test_two_drivers_stand_one_above_the_other_or_side_by_side(width: float, height: float, rows: int) -> None:
    """Analytic limit: sums of lengths, to the millimetre; 0 where neither way fits.

    Holes of 0.282 m keep 10 mm off the panels, flanges of 0.316 m keep 10 mm off each other.
    """
    laid_out = layout(cuboid(width=width, height=height), one_driver(driver_count=2.0))
    assert (laid_out.driver_rows[0] if fitting(laid_out)[0] else 0) == rows
    if rows:
        placed = drivers(bodies_of(laid_out, 0))
        places = np.array([driver.flange.end for driver in placed])
        assert np.linalg.norm(places[0] - places[1]) >= 0.326 - 1e-9
        assert bool(abs(places[0][0] - places[1][0]) < 1e-9) is (rows == 2)


def test_drivers_facing_down_stand_one_behind_the_other() -> None:
    """Analytic limit: the same sums along the bottom panel of a deep low box."""
    for depth, fits in ((0.6635, False), (0.6645, True)):
        box = cuboid(width=0.3445, height=0.3, depth=depth)
        laid_out = layout(box, one_driver(driver_count=2.0, facing=DOWN))
        assert bool(fitting(laid_out)[0]) is fits
        assert not fits or laid_out.driver_rows[0] == 2


# Vents in bays


@pytest.mark.parametrize(
    ("group", "own", "shared"),
    [
        # A box of 0.764 m inside: one brace, bays of 0.746 m together; the driver needs 0.308 m.
        (0.20, 0.400 - 0.308, 0.400 - 0.508),
        (0.08, 0.400 - 0.308, 0.400 - 0.388),
        (0.35, 0.400 - 0.350, 0.400 - 0.658),
        (0.45, 0.746 - 0.308 - 0.450 - 0.062, 0.400 - 0.758),
    ],
)
def test_room_for_a_group_in_its_own_bay_and_beside_a_driver(group: float, own: float, shared: float) -> None:
    """Analytic limit: the narrower of what the bays have together and what the span allows one of them."""
    (row,) = rows_in(cuboid(width=0.764 + 2 * BOARD), one_driver())
    expected = own if group < 0.4 else 0.4 - group
    assert own_bay(row, group) == pytest.approx(expected)
    assert shared_bay(row, group) == pytest.approx(shared)


def test_a_group_is_accepted_only_where_some_widths_of_bays_hold_it() -> None:
    """Independent implementation: every way to share drivers out over the bays is tried, in whole columns."""
    count = 400
    box, things = boxes(count, seed=85), contents(count, seed=86)
    things["driver_count"] = np.random.default_rng(2).integers(1, 5, count).astype(float)
    group = np.random.default_rng(3).uniform(0.05, 0.4, count)
    rows = rows_in(box, things, cup=True)
    row, whole, plain = stacked(rows), asked(rows, room_of), asked(rows, row_slack)
    own, shared = (stacked([bay(*each) for each in zip(rows, group, strict=True)]) for bay in (own_bay, shared_bay))
    found = {"own": 0, "shared": 0, "plain": 0, "missed": 0}
    for i in range(count):
        columns, bays = int(row.columns[i]), int(row.braces[i]) + 1
        wide, pitch, room, span = 2 * row.half[i], row.pitch[i], float(whole[i]), float(row.span[i])
        possible = {"own": False, "shared": False, "plain": False}
        for counts in product(range(columns + 1), repeat=bays):
            if sum(counts) != columns:
                continue
            needs = [wide + (some - 1) * pitch if some else 0.0 for some in counts]
            needs[-1] = max(needs[-1], float(row.last[i]))
            possible["plain"] |= sum(needs) <= room and max(needs) <= span + 1e-9
            needs[0] += group[i]
            if sum(needs) <= room and max(needs) <= span + 1e-9:
                possible["shared" if counts[0] else "own"] = True
        for name, slack in (("own", own[i]), ("shared", shared[i]), ("plain", plain[i])):
            found[name] += slack >= 0.0
            found["missed"] += possible[name] and slack < 0.0
            assert slack < 0.0 or possible[name]
    assert min(found["own"], found["shared"], found["plain"]) > 40
    # What packing drivers closer than evenly would make room for besides.
    assert found["missed"] <= 0.05 * sum(found[name] for name in ("own", "shared", "plain"))


def test_a_bay_without_drivers_is_never_wider_than_the_span() -> None:
    """User's promise: a driver wider than the span has its own width, and no other panel goes unsupported for it."""
    for width in np.linspace(0.5, 1.2, 36):
        laid_out = layout(cuboid(width=float(width)), one_driver(), brace_span=0.2)
        if laid_out.least[0] < 0.0:
            continue
        parts = bodies_of(laid_out, 0)
        ends = [parts.inner.x[0], *(end for brace in braces(parts) for end in brace.x), parts.inner.x[1]]
        for left, right in zip(ends[0::2], ends[1::2], strict=True):
            holds = any(left < driver.x < right for driver in drivers(parts))
            assert right - left <= (0.308 + 1e-9 if holds else 0.2 + 1e-9)
