"""The largest box, against climbs that only ask whether a box fits."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from engine.arrays import Floats
from engine.parts import Clearances, KeepOut, Space
from engine.space.envelope import Envelope
from engine.space.wedge import Wedges
from tests.space.spaces import BOARD, SPACES, furnished_space


@pytest.mark.parametrize("back_angle", [0.0, 0.2])
def test_largest_box_fits_and_nothing_larger_is_found(back_angle: float) -> None:
    """Independent implementation: against a climb by random steps that only asks ``fit``."""
    rng = np.random.default_rng(3)
    for space in (*SPACES[:6], *SPACES[16:24]):
        envelope = Envelope(space)
        best = envelope.largest(board=BOARD, back_angle=back_angle)
        if best is None:
            continue
        sizes = np.array([best.outer_height, best.top_depth, best.bottom_depth])
        itself = _wedges(sizes[np.newaxis], envelope.extent[0], back_angle)
        fit = envelope.fit(itself)
        assert fit.violation[0] <= 1e-9
        assert itself.violation[0] <= 1e-9
        assert itself.gross_volume[0] == pytest.approx(best.gross_volume, rel=1e-9)
        tried = np.concatenate([sizes * rng.uniform(0.3, 1.7, (20_000, 3)), rng.uniform(0.04, 0.7, (20_000, 3))])
        found, most = sizes, 0.0
        for step in (0.1, 0.03, 0.01, 0.003, 0.001, 0.0003):
            wedges = _wedges(tried, envelope.extent[0], back_angle)
            sound = (envelope.fit(wedges).violation <= 0.0) & (wedges.violation <= 0.0)
            volume = np.where(sound, wedges.gross_volume, 0.0)
            if volume.max() > most:
                most, found = float(volume.max()), tried[int(np.argmax(volume))]
            tried = found + rng.normal(0.0, step, (10_000, 3)) * 0.5
        assert most <= best.gross_volume * (1.0 + 1e-4)
        assert most >= best.gross_volume * 0.97


@pytest.mark.parametrize(("most_bevel", "least_depth"), [(0.1, 0.0), (math.pi / 4.0, 0.04), (0.2, 0.06)])
def test_the_largest_box_can_be_sawn(most_bevel: float, least_depth: float) -> None:
    """Independent implementation: as before, of boxes that slant no further and are deep enough."""
    rng = np.random.default_rng(4)
    for space in (*SPACES[:4], *SPACES[16:20]):
        envelope = Envelope(space)
        best = envelope.largest(board=BOARD, back_angle=0.0, most_bevel=most_bevel, least_depth=least_depth)
        if best is None:
            continue
        sizes = np.array([best.outer_height, best.top_depth, best.bottom_depth])
        itself = _wedges(sizes[np.newaxis], envelope.extent[0], 0.0)
        assert envelope.fit(itself).violation[0] <= 1e-9
        assert abs(itself.lean[0]) <= most_bevel + 1e-9
        assert itself.thin_end[0] >= least_depth - 1e-9
        tried, most = np.abs(sizes + rng.normal(0.0, 0.1, (20_000, 3))), 0.0
        for step in (0.1, 0.03, 0.01, 0.003, 0.001, 0.0003):
            tried[:, 0] = np.maximum(tried[:, 0], 0.01)
            wedges = _wedges(tried, envelope.extent[0], 0.0)
            sound = (envelope.fit(wedges).violation <= 0.0) & (wedges.violation <= 0.0)
            sound &= (np.abs(wedges.lean) <= most_bevel) & (wedges.thin_end >= least_depth)
            volume = np.where(sound, wedges.gross_volume, 0.0)
            if volume.max() > most:
                most, sizes = float(volume.max()), tried[int(np.argmax(volume))]
            tried = np.abs(sizes + rng.normal(0.0, step, (10_000, 3)) * 0.5)
        assert most <= best.gross_volume * (1.0 + 1e-4)


def _wedges(sizes: Floats, width: float, back_angle: float) -> Wedges:
    return Wedges(
        outer_width=np.full(len(sizes), width),
        outer_height=np.ascontiguousarray(sizes[:, 0]),
        top_depth=np.ascontiguousarray(sizes[:, 1]),
        bottom_depth=np.ascontiguousarray(sizes[:, 2]),
        board=BOARD,
        back_angle=back_angle,
    )


def test_largest_box_of_a_rectangle_fills_it() -> None:
    """Analytic limit: width × height × depth of the free space, less the board."""
    space = Space(section=((0.0, 0.0), (0.5, 0.0), (0.5, 0.4), (0.0, 0.4)), width=1.0, margin=0.01)
    box = Envelope(space).largest(board=0.02, back_angle=0.0)
    assert box is not None
    assert box.gross_volume == pytest.approx((0.98 - 0.04) * (0.38 - 0.04) * (0.48 - 0.04), rel=1e-9)
    assert (box.y, box.z) == pytest.approx((0.01, 0.01))


def test_largest_box_is_none_where_the_board_fills_the_space() -> None:
    """Analytic limit."""
    space = Space(section=((0.0, 0.0), (0.5, 0.0), (0.5, 0.03), (0.0, 0.03)), width=1.0)
    assert Envelope(space).largest(board=0.018, back_angle=0.0) is None


@pytest.mark.parametrize(("back_angle", "below"), [(0.0, 0.0), (0.2, 0.03), (-0.1, 0.08)])
def test_nothing_larger_is_found_beside_keep_outs(back_angle: float, below: float) -> None:
    """Independent implementation: a climb over width, height and depths that only asks ``fit``."""
    rng = np.random.default_rng(8)
    found_any, aside = 0, 0
    for seed in range(300, 306):
        space = replace(furnished_space(seed, margin=0.01), clearance=Clearances(front=0.02, left=0.03))
        envelope = Envelope(space, covering=0.003)
        best = envelope.largest(board=BOARD, back_angle=back_angle, below=below)
        widths = np.array([stretch.width for stretch in envelope.stretches])
        if best is None:
            continue
        found_any += 1
        sizes = np.array([best.outer_height, best.top_depth, best.bottom_depth])
        itself = _wedges(sizes[np.newaxis], best.outer_width, back_angle)
        assert itself.violation[0] <= 1e-8
        assert itself.gross_volume[0] == pytest.approx(best.gross_volume, rel=1e-9)
        assert envelope.fit(itself, below=below).violation[0] <= 1e-8
        stands_in = [stretch for stretch in envelope.stretches if stretch.low == best.x]
        assert any(stretch.width == best.outer_width for stretch in stands_in)
        aside += best.outer_width < widths.max()
        most = 0.0
        for width in widths:
            tried = rng.uniform(0.04, 0.7, (10_000, 3))
            found, most_here = sizes, 0.0
            for step in (0.1, 0.03, 0.01, 0.003, 0.001, 0.0003):
                wedges = _wedges(np.concatenate([tried, found[np.newaxis]]), float(width), back_angle)
                sound = (envelope.fit(wedges, below=below).violation <= 0.0) & (wedges.violation <= 0.0)
                volume = np.where(sound, wedges.gross_volume, 0.0)
                if volume.max() > most_here:
                    most_here = float(volume.max())
                    found = np.concatenate([tried, found[np.newaxis]])[int(np.argmax(volume))]
                tried = found + rng.normal(0.0, step, (2_000, 3)) * 0.5
            most = max(most, most_here)
        assert most <= best.gross_volume * (1.0 + 1e-4)
        assert most >= best.gross_volume * 0.97
    assert found_any > 3
    assert aside > 0


def test_largest_box_stands_beside_an_arch_or_above_it_whichever_holds_more() -> None:
    """Analytic limit: an arch at the left end, narrow and high, then wide and low."""
    section = ((0.0, 0.0), (0.5, 0.0), (0.5, 0.4), (0.0, 0.4))
    for across, height, outer_width, z in ((0.1, 0.2, 0.9, 0.0), (0.6, 0.1, 1.0, 0.1)):
        arch = KeepOut(
            name="arch", section=((0.0, 0.0), (0.5, 0.0), (0.5, height), (0.0, height)), across=(0.0, across)
        )
        box = Envelope(Space(section=section, width=1.0, keepouts=(arch,))).largest(board=0.02, back_angle=0.0)
        assert box is not None
        assert (box.x, box.y, box.z) == pytest.approx((1.0 - outer_width, 0.0, z))
        assert box.outer_width == pytest.approx(outer_width)
        assert box.gross_volume == pytest.approx((outer_width - 0.04) * (0.36 - z) * 0.46, rel=1e-9)


def test_a_keep_out_outside_the_space_does_not_change_the_largest_box() -> None:
    """Analytic limit."""
    for space in SPACES[17:22]:
        outside = KeepOut(name="far", section=((2.0, 0.0), (2.5, 0.0), (2.5, 1.0)), across=(0.2, 0.6))
        one = Envelope(space).largest(board=BOARD, back_angle=0.1)
        other = Envelope(replace(space, keepouts=(outside,))).largest(board=BOARD, back_angle=0.1)
        assert one is not None
        assert other is not None
        assert other.gross_volume == pytest.approx(one.gross_volume, rel=1e-6)
        assert (other.x, other.outer_width) == pytest.approx((one.x, one.outer_width))


def test_back_and_baffle_of_the_largest_box_do_not_cross() -> None:
    """Analytic limit: a section as wide as a door above and a slit below, parted by a sharp nose before it.

    The straight line along nose and front corner, best for the depth at mid height, would
    pass behind the back at the bottom.
    """
    section = ((0.0, 0.0), (0.5, 0.0), (0.5, 0.1), (0.1, 0.2), (2.0, 0.6), (0.0, 0.6))
    envelope = Envelope(Space(section=section, width=1.0))
    for below in (0.0, 0.15):
        box = envelope.largest(board=0.01, back_angle=0.0, below=below)
        assert box is not None
        wedge = _wedges(np.array([[box.outer_height, box.top_depth, box.bottom_depth]]), 1.0, 0.0)
        assert envelope.fit(wedge, below=below).violation[0] <= 1e-8
        rng = np.random.default_rng(2)
        anywhere = rng.uniform(0.0, [0.6, 2.0, 0.5], (100_000, 3))
        near = np.array([box.outer_height, box.top_depth, box.bottom_depth]) * rng.uniform(0.8, 1.4, (100_000, 3))
        tried = _wedges(np.concatenate([anywhere, near]), 1.0, 0.0)
        sound = (envelope.fit(tried, below=below).violation <= 0.0) & (tried.violation <= 0.0)
        assert tried.gross_volume[sound].max() <= box.gross_volume * (1.0 + 1e-4)
        assert tried.gross_volume[sound].max() >= box.gross_volume * 0.85


def test_room_below_costs_a_cuboid_its_height() -> None:
    """Analytic limit: a rectangle of 0.5 × 0.4 m with 60 mm kept free below."""
    space = Space(section=((0.0, 0.0), (0.5, 0.0), (0.5, 0.4), (0.0, 0.4)), width=1.0)
    box = Envelope(space).largest(board=0.02, back_angle=0.0, below=0.06)
    assert box is not None
    assert (box.z, box.outer_height) == pytest.approx((0.06, 0.34))
    assert box.gross_volume == pytest.approx(0.96 * 0.30 * 0.46, rel=1e-9)
