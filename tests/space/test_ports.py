"""Where drivers and openings lie in the air of a box: the batch against the exact arrangement of each design."""

from __future__ import annotations

from collections import Counter
from functools import cache

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.acoustics.cavity import SLOT, SLOT_DOWN, SLOT_UP, Cavities, Ports
from engine.acoustics.thin_box import thin_box
from engine.packing.placement import NONE, SLOT_BAFFLE, SLOT_SIDE
from engine.space.arrangement import bodies_of
from engine.space.bodies import Assembly
from engine.space.layout import Layout
from engine.space.ports import ports_of
from tests.space.batches import fitting, mixed
from tests.space.things import drivers, radiators, slot_of, vents

Floats = NDArray[np.float64]
IN_A_BATCH = 600
SAME = 1e-9  # m


@cache
def layouts() -> tuple[Layout, ...]:
    """Random designs of every kind: pipes straight, bent and flared, slots, passive radiators, closed."""
    batches = [mixed(IN_A_BATCH, seed=seed, others=seed % 3 > 0) for seed in range(600, 616)]
    batches += [mixed(IN_A_BATCH, seed=seed, long_slots=True) for seed in range(620, 624)]
    return tuple(batch.layout for batch in batches)


def exact(layout: Layout, i: int) -> tuple[Floats, Assembly]:
    """Centres (P, 3) of openings, then drivers, in the cavity's axes, and the arrangement they are from."""
    parts = bodies_of(layout, i)
    corner = np.array([layout.wedges.board, layout.wedges.inner_section[i, 0, 0], layout.wedges.board])
    found = [vent.inner_mouth for vent in vents(parts)]
    if parts.kind("slot"):
        air = slot_of(parts).free_air
        (left, right), (y, z) = air.x, air.section.mean(axis=0)
        found.append(np.array([left, y, z]))
        if layout.slot_turn[i] > 0.0:
            edge = np.argmin if layout.vent_low[i] else np.argmax
            level = air.section[edge(air.section[:, 1]), 1]
            y = air.section[np.isclose(air.section[:, 1], level), 0].mean()
            found[-1] = np.array([0.5 * (left + right), y, level])
    found += [radiator.cutout.end for radiator in radiators(parts)]
    found += [driver.cutout.end for driver in drivers(parts)]
    return np.array(found) - corner, parts


def test_every_port_is_where_the_arrangement_has_it() -> None:
    """Independent implementation: hundreds of designs of every kind against their solids, to a nanometre."""
    seen: Counter[tuple[int, ...]] = Counter()
    for layout in layouts():
        _, ports = ports_of(layout)
        rare = (layout.contents.sizes["radiator_count"] > 0.0) | (layout.slot_turn > 0.0)
        some = np.arange(len(layout)) % 4 == 0
        for i in np.flatnonzero(fitting(layout) & (rare | some)).tolist():
            there = np.isfinite(ports.radius[i])
            found = np.stack([ports.x[i], ports.y[i], ports.z[i]], axis=-1)[there]
            expected, parts = exact(layout, i)
            contents = layout.contents
            kind = tuple(int(each[i]) for each in (contents.driver("facing"), layout.vent_placement, layout.vent_where))
            assert len(found) == len(expected), (kind, i)
            assert np.abs(found - expected).max() < SAME, (kind, i, found, expected)
            openings = len(vents(parts)) + len(radiators(parts)) + len(parts.kind("slot"))
            assert ports.opening[i][there].sum() == openings
            assert ports.opening[i][there][:openings].all()
            seen[kind] += 1
            seen["radiators", len(radiators(parts))] += 1
            seen["turned", bool(layout.slot_turn[i] > 0.0)] += 1
    print(seen)
    assert len({kind[:2] for kind in seen if len(kind) == 3}) >= 14
    assert min(seen["radiators", 1], seen["radiators", 2], seen["radiators", 3], seen["turned", True]) >= 10
    assert seen.total() > 3 * 600


def test_the_cavity_is_the_inside() -> None:
    """Conservation: width × height × mean depth is the volume between the panels."""
    for layout in layouts():
        cavity, _ = ports_of(layout)
        sound = layout.wedges.violation < 0.0
        volume = cavity.width * cavity.height * 0.5 * (cavity.bottom_depth + cavity.top_depth)
        assert volume[sound] == pytest.approx(layout.wedges.gross_volume[sound], rel=1e-9)


def test_sizes_and_kinds() -> None:
    """Geometry: a slot's halves are its channel and its board; a flared mouth counts as wide as its flare."""
    for layout in layouts()[::5]:
        fits = fitting(layout)
        _, ports = ports_of(layout)
        slots = fits & np.isin(layout.vent_placement, (SLOT_SIDE, SLOT_BAFFLE))
        if slots.any():
            assert np.isin(ports.kind[slots, 0], (SLOT, SLOT_UP, SLOT_DOWN)).all()
            assert 2.0 * ports.radius[slots, 0] == pytest.approx(layout.contents.sizes["slot_height"][slots])
            assert ports.outer[slots, 0] - ports.radius[slots, 0] == pytest.approx(layout.wedges.board)
        pipes = fits & ~slots & (layout.vent_placement != NONE)
        if pipes.any():
            wide = 0.5 * layout.contents.sizes["vent_inner"] + layout.contents.sizes["flare_radius"]
            assert ports.radius[pipes, 0] == pytest.approx(wide[pipes])


def heard(layout: Layout, cavity: Cavities, ports: Ports, fits: NDArray[np.bool_]) -> Floats:
    nothing = np.full(len(layout), np.nan)
    found = thin_box(
        cavities=cavity.take(fits),
        ports=ports.take(fits),
        tuning=np.full(fits.sum(), 35.0),
        volume=layout.net_volume[fits],
        vent_length=layout.vent_acoustic_length[fits],
        vent_area=layout.vent_area[fits],
        vent_count=layout.contents.sizes["vent_count"][fits],
        sd=np.full(fits.sum(), 0.03),
        driver_count=layout.contents.driver("number")[fits],
        radiator_sd=nothing[fits],
        radiator_count=np.zeros(fits.sum()),
        radiator_moving=nothing[fits],
        outer_end=layout.vent_outer_end[fits],
    )
    return np.stack([found.tuning, found.volume, found.mutual, found.air_mass, found.first_mode], axis=-1)


def test_a_layout_is_heard() -> None:
    """User's promise: every design that can be built has true figures, less than a third below the lumped tuning."""
    for layout in layouts()[::5]:
        fits = fitting(layout) & (layout.contents.sizes["vent_count"] > 0.0)
        cavity, ports = ports_of(layout)
        figures = heard(layout, cavity, ports, fits)
        assert np.isfinite(figures).all()
        spring = (layout.net_volume * (layout.vent_acoustic_length + layout.vent_ends))[fits]
        area = (layout.contents.sizes["vent_count"] * layout.vent_area)[fits]
        ratio = figures[:, 0] / (layout.rules.c / (2.0 * np.pi) * np.sqrt(area / spring))
        print(np.quantile(ratio, [0.0, 0.05, 0.5, 0.95, 1.0]))
        assert ratio.min() > 0.67
        assert ratio.max() < 1.03
        assert np.median(ratio) < 1.0


def test_no_row_depends_on_another() -> None:
    """Conservation: half a batch has the ports it had in the whole."""
    for layout in layouts()[::5]:
        rows = np.arange(0, len(layout), 2)
        some = layout.take(rows)
        fits = fitting(some)
        (_, whole), (_, half) = ports_of(layout), ports_of(some)
        for name in ("x", "y", "z", "radius"):
            mine, its = getattr(whole, name)[rows][fits], getattr(half, name)[fits]
            there = np.isfinite(whole.radius[rows][fits][:, : its.shape[1]])
            assert np.array_equal(mine[:, : its.shape[1]][there], its[there])
