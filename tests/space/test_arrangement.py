"""Accepted layouts as solids, checked with a geometry kernel that knows nothing of the fast formulas.

``python -m tests.benchmarks.agreement`` does the same for ten thousand designs, and tries to build refused ones.
"""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from functools import cache
from itertools import combinations

import numpy as np
import pytest
import trimesh
from manifold3d import Manifold, OpType

from engine.facings import DOWN, FRONT, SIDEWAYS
from engine.packing.placement import BENT, BESIDE, HIGH, LOW, NONE, NOWHERE, SIDE, SLOT_BAFFLE, SLOT_SIDE, STRAIGHT
from engine.space import roles
from engine.space.arrangement import bodies_of
from engine.space.bodies import Assembly, Frustum, Solid
from engine.space.layout import Layout
from engine.space.solids import exact_check, prism_solid, solid
from tests.benchmarks.agreement import can_be_built
from tests.space.batches import Mixed, fitting, mixed
from tests.space.things import braces, drivers, panels, radiators, supports, vents

OF_EACH_KIND = 7
OF_EACH_TRAIT = 5
BATCHES = 40
IN_A_BATCH = 600
# Drivers in the side panel leave vents only the width beside them.
KINDS = [(facing, NONE, NOWHERE) for facing in (FRONT, DOWN, SIDEWAYS)]
KINDS += [(facing, placement, BESIDE) for facing in (FRONT, DOWN, SIDEWAYS) for placement in (SIDE, STRAIGHT, BENT)]
KINDS += [
    (facing, placement, where)
    for facing in (FRONT, DOWN)
    for placement in (SIDE, STRAIGHT, BENT)
    for where in (LOW, HIGH)
]
KINDS += [
    (facing, placement, where)
    for facing in (FRONT, DOWN, SIDEWAYS)
    for placement in (SLOT_SIDE, SLOT_BAFFLE)
    for where in (LOW, HIGH)
    if facing != DOWN or where == HIGH
]


@dataclass(frozen=True)
class Made:
    """An accepted design and its solids."""

    batch: Mixed
    i: int
    kind: tuple[int, int, int]
    traits: frozenset[str]
    parts: Assembly


def kind_of(laid_out: Layout, i: int) -> tuple[int, int, int]:
    return int(laid_out.contents.driver("facing")[i]), int(laid_out.vent_placement[i]), int(laid_out.vent_where[i])


def traits_of(laid_out: Layout, i: int) -> frozenset[str]:
    """What is uncommon about a design."""
    rules, sideways = laid_out.rules, laid_out.contents.driver("facing")[i] == SIDEWAYS
    traits = {
        "drivers in columns": laid_out.driver_rows[i] > 1 and not sideways,
        "drivers above each other in the side": laid_out.driver_rows[i] > 1 and sideways,
        "cup": rules.cup is not None,
        "cup over a slot that turns": rules.cup is not None and laid_out.slot_turn[i] > 0.0,
        "slot that turns": laid_out.slot_turn[i] > 0.0,
        "slot through the baffle that turns": laid_out.slot_turn[i] > 0.0 and laid_out.vent_placement[i] == SLOT_BAFFLE,
        "slot and braces": laid_out.slot_width[i] > 0.0 and laid_out.brace_count[i] > 0,
        "radiators in one bay with drivers": laid_out.radiator_s[i] > 0.0 and laid_out.brace_count[i] == 0,
        "several radiators": laid_out.radiator_s[i] > 0.0 and laid_out.contents.sizes["radiator_count"][i] > 1,
        "radiators, driver in the side": laid_out.radiator_s[i] > 0.0 and sideways,
        "radiators, drivers in columns": laid_out.radiator_s[i] > 0.0 and laid_out.driver_rows[i] > 1 and not sideways,
        "flares": laid_out.contents.sizes["flare_radius"][i] > 0.0,
        "flares deeper than the board": laid_out.contents.sizes["flare_radius"][i] > laid_out.wedges.board,
        "flares on bends": laid_out.contents.sizes["flare_radius"][i] > 0.0 and laid_out.vent_placement[i] == BENT,
        "flares and supports": laid_out.contents.sizes["flare_radius"][i] > 0.0 and laid_out.support_count[i] > 0,
        "cup kept apart": laid_out.end_taken[i] > 0.0 and laid_out.slot_turn[i] == 0.0,
        "cup beside vents on blocks": rules.cup is not None and laid_out.support_count[i] > 0,
        "supports": laid_out.support_count[i] > 0,
        "several braces": laid_out.brace_count[i] > 1,
        "terminals": laid_out.contents.driver("terminal_depth")[i] > laid_out.wedges.board,
        "no gap": rules.breathing_gap == 0.0,
        "edges rounded as deep as the board": rules.round_over == laid_out.wedges.board,
    }
    return frozenset(name for name, there in traits.items() if there)


TRAITS = (
    "drivers in columns",
    "drivers above each other in the side",
    "cup",
    "cup over a slot that turns",
    "slot that turns",
    "slot through the baffle that turns",
    "slot and braces",
    "radiators in one bay with drivers",
    "several radiators",
    "radiators, driver in the side",
    "radiators, drivers in columns",
    "flares",
    "flares deeper than the board",
    "flares on bends",
    "flares and supports",
    "cup kept apart",
    "cup beside vents on blocks",
    "supports",
    "several braces",
    "terminals",
    "no gap",
    "edges rounded as deep as the board",
)


@cache
def made() -> tuple[Made, ...]:
    """Some accepted designs of every kind, and some with every trait, out of random ones."""
    found: list[Made] = []
    seen: Counter[object] = Counter()
    batches = [mixed(IN_A_BATCH, seed=seed) for seed in range(500, 500 + BATCHES)]
    batches += [mixed(IN_A_BATCH, seed=seed, others=True) for seed in range(600, 630)]
    batches += [mixed(IN_A_BATCH, seed=seed, long_slots=True) for seed in range(700, 715)]
    # Bends at the front end of a bottom panel are the last way to be tried, for want of all others.
    batches += [mixed(3000, seed=seed, facing=DOWN, air_beside=False) for seed in (903, 922, 944)]
    for batch in batches:
        laid_out = batch.layout
        for i in np.flatnonzero(fitting(laid_out)).tolist():
            kind, traits = kind_of(laid_out, i), traits_of(laid_out, i)
            if seen[kind] < OF_EACH_KIND or any(seen[trait] < OF_EACH_TRAIT for trait in traits):
                found.append(Made(batch, i, kind, traits, bodies_of(laid_out, i)))
                seen.update([kind, *traits])
    return tuple(found)


def test_every_kind_and_trait_is_among_those_checked() -> None:
    """Guards the evidence: the other tests here are about all kinds, not only the commonest."""
    kinds = Counter(one.kind for one in made())
    assert set(kinds) == set(KINDS)
    assert min(kinds.values()) >= 3
    traits = Counter(trait for one in made() for trait in one.traits)
    assert {trait for trait in TRAITS if traits[trait] < 3} == set()
    assert len(made()) >= 250
    contents = [(one.batch.layout.contents, one.i) for one in made()]
    assert {int(things.driver("number")[i]) for things, i in contents} == {1, 2, 3}
    assert {int(things.sizes["vent_count"][i]) for things, i in contents} == {0, 1, 2, 3, 4}
    slopes = [one.batch.layout.wedges.baffle_slope[one.i] for one in made()]
    assert min(slopes) < -0.3
    assert max(slopes) > 0.3


def test_the_solids_keep_every_distance_and_the_net_volume() -> None:
    """Independent implementation: manifold3d measures every gap, and the air that is left, within 0.1 %."""
    for one in made():
        found = exact_check(one.parts, **one.batch.surroundings)
        assert found.ok, (one.kind, one.i, found.sentences("metric"))
        assert found.net_volume == pytest.approx(one.batch.layout.net_volume[one.i], rel=1e-3)


def test_everything_lies_inside_the_box() -> None:
    """Independent implementation: what the kernel cuts off outside the inner wedge has no volume."""
    for one in made()[::3]:
        parts = one.parts
        inner = prism_solid(parts.inner)
        inside: list[Solid] = [
            piece for driver in drivers(parts) for piece in (*driver.body, *driver.shapes(roles.REAR_AIR))
        ]
        inside += [vent.free_air for vent in vents(parts)]
        inside += [*(board for brace in parts.of(roles.BRACE) for board in brace.prisms), *supports(parts)]
        inside += [driver.terminals for driver in drivers(parts) if driver.terminals]
        for shape in inside:
            if not isinstance(shape, Frustum) or np.any(shape.start != shape.end):
                assert (solid(shape) - inner).volume() < 1e-8
        for vent in vents(parts):
            through = prism_solid(panels(parts)[vent.through])
            for piece in vent.pipe:
                assert (solid(piece) - (inner + through)).volume() < 1e-7


def test_panels_and_inside_make_up_the_box() -> None:
    """Independent implementation: trimesh and manifold3d against outer, gross and board volume."""
    for one in made()[::10]:
        wedges, i, parts = one.batch.layout.wedges, one.i, one.parts
        for prism, volume in ((parts.outer, wedges.outer_volume[i]), (parts.inner, wedges.gross_volume[i])):
            corners = np.array([[x, *corner] for x in prism.x for corner in prism.section])
            assert trimesh.convex.convex_hull(corners).volume == pytest.approx(volume, rel=1e-6)
        boards = [prism_solid(panel) for panel in panels(parts).values()]
        assert sum(panel.volume() for panel in boards) == pytest.approx(wedges.board_volume[i], rel=1e-6)
        for a, b in combinations([*boards, prism_solid(parts.inner)], 2):
            assert (a ^ b).volume() < 1e-9
        whole = Manifold.batch_boolean([*boards, prism_solid(parts.inner)], OpType.Add)
        assert whole.volume() == pytest.approx(wedges.outer_volume[i], rel=1e-6)


def test_braces_leave_no_panel_unsupported() -> None:
    """Conservation: no bay is wider than the span, or than one driver (and the cup kept apart) needs."""
    for one in made():
        laid_out, i, parts = one.batch.layout, one.i, one.parts
        things, rules, board = laid_out.contents, laid_out.rules, laid_out.wedges.board
        gap = rules.breathing_gap
        needed = max(
            things.driver("inside")[i] + 2.0 * gap,
            things.driver("flange")[i] + max(gap - board, 2.0 * (rules.round_over - board)),
        )
        if rules.wood > 0.0:
            screws = 0.5 * (things.driver("cutout")[i] + things.driver("flange")[i]) + 2.0 * rules.wood
            needed = max(needed, things.driver("flange")[i], screws)
        if one.kind[0] == SIDEWAYS:
            needed = things.driver("reach")[i] - board + max(things.driver("rear_gap")[i], gap)
        if rules.cup:
            needed = max(needed, rules.cup.depth - board + gap)
        if radiators(parts):
            hole, outer = things.sizes["radiator_cutout"][i], things.sizes["radiator_outer"][i]
            off_edges = max(gap - board, 2.0 * (rules.round_over - board))
            needed = max(needed, hole + 2.0 * gap, outer + off_edges)
            if rules.wood > 0.0:
                needed = max(needed, outer, 0.5 * (hole + outer) + 2.0 * rules.wood)
        ends = [parts.inner.x[0], *(end for brace in braces(parts) for end in brace.x), parts.inner.x[1]]
        widths = np.diff(ends)[::2]
        assert np.all(widths >= -1e-9)
        assert widths.max() <= max(rules.brace_span, needed + laid_out.end_taken[i]) + 1e-9


def test_braces_have_the_volume_that_they_count_for() -> None:
    """Conservation: the solids of all braces together, within the box, and the air that passes them beside the pipes.

    Forms of all sorts are among them.
    """
    forms = set()
    for one in made():
        layout, i, inner = one.batch.layout, one.i, prism_solid(one.parts.inner)
        found = [body for body in one.parts.bodies if body.thing.kind == "brace"]
        assert len(found) == layout.brace_count[i]
        volumes = [sum(float((inner ^ solid(shape)).volume()) for shape in body.solids) for body in found]
        assert sum(volumes) == pytest.approx(layout.brace_volume[i], rel=2e-3)
        forms |= {body.form for body in found}
    assert len(forms) >= 3


def test_there_is_as_much_of_everything_as_was_asked_for() -> None:
    """Conservation: drivers, vents, braces, blocks and the cup are all there, each vent as long as it has to be."""
    for one in made():
        laid_out, i, parts = one.batch.layout, one.i, one.parts
        assert len(panels(parts)) == 6
        assert len(drivers(parts)) == laid_out.contents.driver("number")[i]
        slotted = one.kind[1] in (SLOT_SIDE, SLOT_BAFFLE)
        assert len(vents(parts)) == (0 if slotted else laid_out.contents.sizes["vent_count"][i])
        assert len(parts.kind("slot")) == slotted
        assert len(radiators(parts)) == laid_out.contents.sizes["radiator_count"][i]
        assert all(len(vent.rims) == (2 if laid_out.contents.sizes["flare_radius"][i] else 0) for vent in vents(parts))
        assert len(braces(parts)) == laid_out.brace_count[i]
        assert len(supports(parts)) == laid_out.support_count[i] * len(vents(parts))
        assert len(parts.kind("cup")) == (laid_out.rules.cup is not None)
        for vent in vents(parts):
            straight = [piece for piece in vent.pipe if isinstance(piece, Frustum)]
            length = sum(float(np.linalg.norm(piece.end - piece.start)) for piece in straight)
            if len(vent.pipe) > 1:
                length += 0.5 * np.pi * laid_out.contents.sizes["elbow_radius"][i]
            assert length == pytest.approx(laid_out.vent_length[i], rel=1e-9)


def test_blocks_carry_the_pipes() -> None:
    """User's promise: every block touches the pipe it carries, and a panel or the pipe of the row before."""
    carried = [one for one in made() if supports(one.parts)]
    assert len(carried) >= 10
    for one in carried:
        pipes = [solid(vent.pipe[-1]) for vent in vents(one.parts)]
        boards = [prism_solid(panel) for panel in panels(one.parts).values()]
        for number, support in enumerate(supports(one.parts)):
            block = prism_solid(support)
            own = number * len(pipes) // len(supports(one.parts))
            assert block.min_gap(pipes[own], 0.01) < 2e-4
            others = [*boards, *(pipe for other, pipe in enumerate(pipes) if other != own)]
            assert min(block.min_gap(other, 0.01) for other in others) < 2e-4


def test_the_second_search_finds_most_of_what_the_first_accepts() -> None:
    """Independent implementation: places tried one by one with shapely build designs of every facing too."""
    known = [one for one in made() if one.kind[1] in (SIDE, STRAIGHT, BENT) and "flares" not in one.traits]
    chosen = list({one.kind[:2]: one for one in known}.values())  # one of every facing and way of the vents
    assert len(chosen) >= 8
    assert {one.kind[0] for one in chosen} == {FRONT, DOWN, SIDEWAYS}
    assert np.mean([can_be_built(one.batch, one.i) for one in chosen]) >= 0.7
