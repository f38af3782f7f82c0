"""Pipes through the top panel: the packing against solids, the air above, and where their mouths are in the air."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest
import shapely

from engine.acoustics.cavity import DOWNWARD, UPWARD, Cavities, Ports
from engine.acoustics.inertance import inertance
from engine.facings import DOWN, FRONT, SIDEWAYS
from engine.packing.placement import BENT, BESIDE, DRIVERS, HIGH, STRAIGHT, TOP
from engine.space import roles
from engine.space.arrangement import bodies_of
from engine.space.envelope import Envelope
from engine.space.ports import ports_of
from engine.space.solids import exact_check
from tests.acoustics.pipes import tuning_of
from tests.space.batches import Mixed, boxes, contents, fitting, layout, mixed
from tests.space.singles import cuboid, one_driver
from tests.space.spaces import SPACES, boxes_for

OF_EACH = 4
FACINGS = (FRONT, DOWN, SIDEWAYS)
PIPE = {"vent_count": 1.0, "vent_inner": 0.06, "vent_outer": 0.07, "vent_panels": TOP, "tuning": 32.0}


@pytest.fixture(scope="module")
def batches() -> list[Mixed]:
    plain = [mixed(800, seed=seed, facing=facing, top=True) for seed in (500, 502, 504) for facing in FACINGS]
    return [*plain, mixed(800, seed=500, top=True, others=True), mixed(800, seed=502, top=True, double=True)]


def test_what_the_packing_accepts_goes_together_as_solids(batches: list[Mixed]) -> None:
    """Independent implementation: straight beside drivers that face any way, bent above or beside them.

    manifold3d measures every gap and the air that is left; the mouths lie on the top, the first legs hang from it.
    """
    seen: Counter[tuple[int, int, int, bool, bool]] = Counter()
    for batch in batches:
        laid_out = batch.layout
        for i in np.flatnonzero(fitting(laid_out) & laid_out.vent_top).tolist():
            facing, flare = int(laid_out.contents.driver("facing")[i]), laid_out.contents.sizes["flare_radius"][i]
            double = bool(laid_out.wedges.front[i] > laid_out.wedges.board)
            kind = facing, int(laid_out.vent_placement[i]), int(laid_out.vent_where[i]), bool(flare > 0.0), double
            if seen[kind] == OF_EACH:
                continue
            seen[kind] += 1
            parts = bodies_of(laid_out, i)
            found = exact_check(parts, **batch.surroundings)
            assert found.ok, (kind, found.sentences("metric"))
            assert found.net_volume == pytest.approx(laid_out.net_volume[i], rel=1e-3)
            for pipe in parts.of(roles.PIPE, roles.PASSING_PIPE):
                assert pipe.panel == "top"
                assert pipe.frusta[0].start[2] == pytest.approx(float(laid_out.wedges.outer_height[i]))
                assert pipe.frusta[0].axis == pytest.approx([0.0, 0.0, -1.0])
    ways = {kind[:3] for kind in seen}
    assert {(facing, *way) for facing in FACINGS for way in ((STRAIGHT, BESIDE), (BENT, HIGH))} <= ways
    assert (FRONT, BENT, BESIDE) in ways
    assert any(kind[3] for kind in seen)
    assert any(kind[4] for kind in seen)


def test_lengths_tune_the_air_that_is_left(batches: list[Mixed]) -> None:
    """Independent implementation: the acoustic side gives back the tuning from net volume and length."""
    for batch in batches[:3]:
        laid_out, things = batch.layout, batch.layout.contents.sizes
        straight = laid_out.vent_top & (laid_out.vent_placement == STRAIGHT) & (laid_out.slacks["vent length"] > 0.0)
        tuned = tuning_of(
            length=laid_out.vent_length[straight],
            volume=laid_out.net_volume[straight],
            diameter=things["vent_inner"][straight],
            count=things["vent_count"][straight],
        )
        np.testing.assert_allclose(tuned, batch.tuning[straight], rtol=1e-9)


def test_a_bore_of_air_is_kept_above_the_mouth() -> None:
    """Common practice, hand-worked: what the space leaves above, less one bore, is the limit's room."""
    box, things = cuboid(width=0.9, height=0.4, depth=0.3), one_driver(**PIPE)
    for above, room in ((0.075, 0.015), (0.055, -0.005)):
        laid_out = layout(box, things, above=above)
        assert laid_out.vent_top[0]
        assert laid_out.slacks["vent outside"][0] == pytest.approx(room)
        assert bool(fitting(laid_out)[0]) is (room > 0.0)
    assert layout(box, things).slacks["vent outside"][0] == 1.0


def test_the_height_above_a_box_is_the_least_over_its_top() -> None:
    """Independent implementation: shapely lets the top edge rise until it leaves the free section."""
    compared = 0
    for number, each in enumerate(SPACES[::3]):
        space = replace(each, margin=0.0)
        envelope, wedges = Envelope(space), boxes_for(space, 60, back_angle=0.1, seed=number)
        sizes = ("outer_height", "top_depth", "bottom_depth")
        wedges = replace(wedges, **{name: 0.6 * getattr(wedges, name) for name in sizes})
        fit = envelope.fit(wedges)
        heights, room = envelope.above(fit, wedges), shapely.Polygon(space.section)
        top = wedges.outer_section[:, [3, 2]] + np.stack([fit.y, fit.z], axis=-1)[:, np.newaxis]
        for i in np.flatnonzero(fit.violation <= 0.0).tolist():
            (rear, level), (front, _) = top[i]
            short, beyond = (
                shapely.box(rear + 2e-6, level + 2e-6, front - 2e-6, level + heights[i] + more)
                for more in (-min(heights[i], 1e-5), 1e-3)
            )
            assert room.buffer(3e-6).contains(short)
            assert not room.contains(beyond)
            compared += 1
    assert compared > 100


def test_the_inner_mouth_is_where_the_pipe_ends(batches: list[Mixed]) -> None:
    """Conservation: the port of a straight vent is the solid's inner mouth, in the cavity's axes."""
    laid_out = batches[0].layout
    _, ports = ports_of(laid_out)
    chosen = np.flatnonzero(fitting(laid_out) & laid_out.vent_top & (laid_out.vent_placement == STRAIGHT))
    assert chosen.size > 20
    for i in chosen[:20].tolist():
        (first, *_) = bodies_of(laid_out, i).of(roles.PIPE)
        box = laid_out.wedges.boxes[i]
        assert ports.kind[i, 0] == DOWNWARD
        x, y, z = (float(each[i, 0]) for each in (ports.x, ports.y, ports.z))
        assert [x + box.board, y + box.corner, z + box.board] == pytest.approx(first.frusta[-1].end)
        assert ports.inside[i, 0] == pytest.approx(float(laid_out.vent_length[i]) - box.board)


def test_a_pipe_from_the_top_is_one_from_the_bottom_upside_down() -> None:
    """Symmetry: the air inside weighs the same in a box on its head."""
    count, rng = 30, np.random.default_rng(1)
    width, height = rng.uniform(0.4, 0.9, count), rng.uniform(0.3, 0.5, count)
    bottom, top = rng.uniform(0.12, 0.3, (2, count))
    inside = rng.uniform(0.3, 0.7, count) * height
    x, along = rng.uniform(0.2, 0.8, (2, count))
    lean = rng.uniform(-0.1, 0.1, count)

    def weighs(upside_down: bool) -> np.ndarray:
        low, high, slope = (top, bottom, -lean) if upside_down else (bottom, top, lean)
        level = height - inside if upside_down else inside
        deep = low + (high - low) / height * level
        kind = DOWNWARD if upside_down else UPWARD
        bore = 0.03
        port = Ports(
            kind=np.full((count, 1), kind), opening=np.ones((count, 1), dtype=bool),
            x=(x * width)[:, np.newaxis], y=(slope * level + (0.3 + 0.4 * along) * deep)[:, np.newaxis],
            z=level[:, np.newaxis], radius=np.full((count, 1), bore), outer=np.full((count, 1), 0.034),
            inside=inside[:, np.newaxis],
        )  # fmt: skip
        sizes = {"width": width, "height": height, "bottom_depth": low, "top_depth": high, "back_slope": slope}
        return inertance(cavities=Cavities(**sizes), ports=port, wave_number=np.full(count, 0.6)).opening

    np.testing.assert_allclose(weighs(True), weighs(False), rtol=1e-6)


def test_only_pipes_that_are_asked_to_go_through_the_top() -> None:
    """Promise to the user: a job that does not ask has none there; one that does has no others.

    Those that are kept to the drivers' own panel, as where drivers are in the top, are in no other.
    """
    box, things = boxes(2000, seed=3), contents(2000, seed=4, plain=False, closed=0.0)
    assert not layout(box, things).vent_top.any()
    for panels in (TOP, DRIVERS):
        kept = layout(box, {**things, "vent_panels": np.full(2000, panels)})
        assert (kept.vent_top == (panels == TOP)).all()
        assert set(kept.vent_placement) == {STRAIGHT, BENT}
