"""Slots, passive radiators and flares as solids: a check that notices what is broken on purpose."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import cache
from typing import Any

import numpy as np
import pytest

from engine.facings import FRONT
from engine.packing.placement import SIDE, SLOT_BAFFLE, SLOT_SIDE
from engine.space import roles
from engine.space.arrangement import bodies_of
from engine.space.bodies import Assembly, Frustum
from engine.space.solids import air_volume, exact_check, frustum_solid, prism_solid, solid
from tests.space.batches import Mixed, fitting, mixed
from tests.space.test_solids import first_driver, first_vent, longer, shift_all, to
from tests.space.things import braces, changed, cup, drivers, radiators, shift, slot_of, supports, vents

X, Y, Z = np.eye(3)


@cache
def batches() -> tuple[Mixed, ...]:
    others = [mixed(3000, seed=seed, others=True) for seed in range(40, 52)]
    return (*others, *(mixed(3000, seed=seed, long_slots=True) for seed in (52, 53)))


@cache
def sound(what: str) -> tuple[Assembly, dict[str, Any]]:
    """An accepted design facing the front, with braces and a cup, and what it is checked by."""
    for batch in batches():
        laid_out, rules = batch.layout, batch.layout.rules
        if rules.cup is None or rules.cup.depth <= laid_out.wedges.board or rules.breathing_gap < 0.01:
            continue
        things = laid_out.contents
        kind = {
            "a slot through the side": (laid_out.vent_placement == SLOT_SIDE) & (laid_out.slot_turn == 0.0),
            "a slot through the baffle": laid_out.vent_placement == SLOT_BAFFLE,
            "a slot that turns": (laid_out.vent_placement == SLOT_SIDE) & (laid_out.slot_turn > laid_out.wedges.board),
            "radiators": things.sizes["radiator_count"] > 1.0,
            "flares": (laid_out.vent_placement == SIDE)
            & (things.sizes["flare_radius"] > 0.012)
            & (things.sizes["vent_count"] > 1.0),
        }[what]
        kind = kind & (things.driver("facing") == FRONT) & (laid_out.brace_count > 0)
        rows = np.flatnonzero(kind & fitting(laid_out))
        if rows.size:
            return bodies_of(laid_out, int(rows[0])), batch.surroundings
    raise AssertionError(what)


def with_slot(parts: Assembly, **changes: Any) -> Assembly:
    return changed(parts, "slot", **changes)


def first_radiator(parts: Assembly, **changes: Any) -> Assembly:
    return changed(parts, "radiator", **changes)


def radiator_to(parts: Assembly, target: Any) -> Assembly:
    body = radiators(parts)[0].body
    return first_radiator(parts, body=shift(body, to(body, target)))


def cup_down(parts: Assembly) -> Assembly:
    """The cup where the slot's first board lies."""
    board, body = slot_of(parts).boards[0], cup(parts).body
    start, end = (np.array([x, *board.section.mean(axis=0)]) for x in (body.start[0], board.x[0]))
    return changed(parts, "cup", body=replace(body, start=start, end=end))


def flange_over_mouth(parts: Assembly) -> Assembly:
    flange = drivers(parts)[0].flange
    return first_driver(parts, flange=shift(flange, to(flange, slot_of(parts).mouth.mean(axis=0))))


def no_air_beside(parts: Assembly) -> Assembly:
    outside = slot_of(parts).outside
    assert outside
    return with_slot(parts, outside=replace(outside, x=(-9.0, 0.0)))


def rim_by_rim(parts: Assembly) -> Assembly:
    rims = vents(parts)[0].rims
    other = vents(parts)[1].rims[1]
    assert isinstance(rims[1], Frustum)
    return first_vent(parts, rims=(rims[0], replace(rims[1], radii=(np.hypot(*(rims[1].end - other.end)[1:]),) * 2)))


SIDE_SLOT, BAFFLE_SLOT, TURNED = "a slot through the side", "a slot through the baffle", "a slot that turns"
BROKEN: dict[str, tuple[str, Callable[[Assembly], Assembly], tuple[str, str]]] = {
    "a driver on the board": (
        SIDE_SLOT,
        lambda parts: first_driver(
            parts,
            body=shift_all(
                drivers(parts)[0].body,
                to(drivers(parts)[0].body[-1], [parts.inner.x[0], *slot_of(parts).boards[0].section.mean(axis=0)]),
            ),
        ),
        ("driver 1", "the slot"),
    ),
    "a driver in the channel": (
        SIDE_SLOT,
        lambda parts: first_driver(
            parts,
            body=shift_all(
                drivers(parts)[0].body,
                to(drivers(parts)[0].body[-1], [slot_of(parts).free_air.x[0], *slot_of(parts).mouth.mean(axis=0)[1:]]),
            ),
        ),
        ("the air in the slot", "driver 1"),
    ),
    "a cup in the board": (SIDE_SLOT, cup_down, ("the slot", "the terminal cup")),
    "a cup in the turn": (TURNED, cup_down, ("the air in the slot", "the terminal cup")),
    "a brace across the channel": (
        SIDE_SLOT,
        lambda parts: changed(
            parts,
            "brace",
            brace=replace(braces(parts)[0], section=parts.inner.section, x=slot_of(parts).bore[1].x),
        ),
        ("the air in the slot", "brace 1"),
    ),
    "a board out of the box": (
        SIDE_SLOT,
        lambda parts: with_slot(parts, boards=shift_all(slot_of(parts).boards, 0.002 * Y)),
        ("the slot", "the inside of the box"),
    ),
    "air before the inner mouth beyond the box": (
        SIDE_SLOT,
        lambda parts: with_slot(
            parts,
            free_air=replace(slot_of(parts).free_air, x=(slot_of(parts).free_air.x[0], parts.inner.x[1] + 0.001)),
        ),
        ("the air in the slot", "the inside of the box"),
    ),
    "a flange over the mouth": (
        BAFFLE_SLOT,
        flange_over_mouth,
        ("the flange of driver 1", "the mouth of the slot"),
    ),
    "a mouth out of its panel": (
        BAFFLE_SLOT,
        lambda parts: with_slot(parts, window=shift(slot_of(parts).bore[0], -0.001 * Z)),
        ("the mouth of the slot", "the baffle panel"),
    ),
    "a mouth at the edge": (
        SIDE_SLOT,
        lambda parts: with_slot(
            parts,
            window=shift(slot_of(parts).bore[0], (parts.outer.section[0, 1] - slot_of(parts).mouth[:, 2].min()) * Z),
        ),
        ("the mouth of the slot", "the edge of the left side panel"),
    ),
    "no air beside the mouth": (
        SIDE_SLOT,
        no_air_beside,
        ("the box with the air its sides need", "the width of the space"),
    ),
    "a radiator by a driver": (
        "radiators",
        lambda parts: radiator_to(parts, 0.5 * (drivers(parts)[0].body[0].start + drivers(parts)[0].body[0].end)),
        ("driver 1", "passive radiator 1"),
    ),
    "a radiator by a radiator": (
        "radiators",
        lambda parts: radiator_to(parts, 0.5 * (radiators(parts)[1].body.start + radiators(parts)[1].body.end)),
        ("passive radiator 1", "passive radiator 2"),
    ),
    "a radiator by a brace": (
        "radiators",
        lambda parts: first_radiator(
            parts, body=shift(radiators(parts)[0].body, (braces(parts)[0].x[0] - radiators(parts)[0].x) * X)
        ),
        ("passive radiator 1", "brace 1"),
    ),
    "a radiator by the cup": (
        "radiators",
        lambda parts: radiator_to(parts, cup(parts).body.end),
        ("passive radiator 1", "the terminal cup"),
    ),
    "a radiator too deep": (
        "radiators",
        lambda parts: first_radiator(parts, body=longer(radiators(parts)[0].body, 0.5)),
        ("passive radiator 1", "the back panel"),
    ),
    "a radiator's flange over the edge": (
        "radiators",
        lambda parts: first_radiator(parts, flange=replace(radiators(parts)[0].flange, radii=(0.4, 0.4))),
        ("the flange of passive radiator 1", "the edge of the baffle panel"),
    ),
    "a radiator's flange over a driver's": (
        "radiators",
        lambda parts: first_radiator(parts, flange=replace(radiators(parts)[0].flange, radii=(0.8, 0.8))),
        ("the flange of driver 1", "the flange of passive radiator 1"),
    ),
    "a radiator's cut-out out of its panel": (
        "radiators",
        lambda parts: first_radiator(parts, cutout=replace(radiators(parts)[0].cutout, radii=(0.4, 0.4))),
        ("the cut-out of passive radiator 1", "the baffle panel"),
    ),
    "a rim by a rim": ("flares", rim_by_rim, ("vent 1", "vent 2")),
    "a rim in the side": (
        "flares",
        lambda parts: first_vent(
            parts, rims=shift_all(vents(parts)[0].rims, (parts.inner.x[1] - vents(parts)[0].inner_mouth[0]) * X)
        ),
        ("vent 1", "the right side panel"),
    ),
    "a rim over the edge": (
        "flares",
        lambda parts: first_vent(parts, mouth=replace(vents(parts)[0].frustum(roles.MOUTH), radii=(0.4, 0.4))),
        ("the mouth of vent 1", "the edge of the left side panel"),
    ),
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_broken_on_purpose_is_found(name: str) -> None:
    """Proof that the check can fail: a sound design has one thing moved, and that is what the check says."""
    what, change, (one, other) = BROKEN[name]
    parts, surroundings = sound(what)
    assert exact_check(parts, **surroundings).ok
    broken = exact_check(change(parts), **surroundings).broken
    assert any(finding.one == one and finding.other.startswith(other) for finding in broken), broken


@pytest.mark.parametrize("what", [SIDE_SLOT, BAFFLE_SLOT, TURNED, "radiators", "flares"])
def test_the_air_left_is_the_inside_less_everything(what: str) -> None:
    """Conservation: all that takes room is counted once; a rim counts round its pipe, behind the panel."""
    parts, _ = sound(what)
    inner = prism_solid(parts.inner)
    taken = sum(solid(piece).volume() for driver in drivers(parts) for piece in driver.body)
    boards = [board for brace in parts.of(roles.BRACE, roles.DOWEL) for board in brace.solids]
    taken += sum((solid(board) ^ inner).volume() for board in boards)
    taken += sum(prism_solid(block).volume() for block in supports(parts))
    taken += sum(frustum_solid(radiator.body).volume() for radiator in radiators(parts))
    if parts.kind("cup"):
        taken += (frustum_solid(cup(parts).body) ^ inner).volume()
    if parts.kind("slot"):
        taken += sum(prism_solid(piece).volume() for piece in (*slot_of(parts).boards, *slot_of(parts).bore[1:]))
    for vent in vents(parts):
        (pipe,) = vent.pipe
        assert isinstance(pipe, Frustum)
        board = parts.inner.x[0]
        taken += np.pi * vent.radius**2 * (pipe.end[0] - board)
        for rim, hidden in zip(vent.rims, (min(board, vent.rims[0].length), 0.0) if vent.rims else (), strict=True):
            taken += np.pi * (rim.radii[0] ** 2 - vent.radius**2) * (rim.length - hidden)
    assert air_volume(parts) == pytest.approx(inner.volume() - taken, rel=1e-3)
    stated = air_volume(parts, displacement={"radiator": 0.001})
    bodies = sum(frustum_solid(radiator.body).volume() for radiator in radiators(parts))
    assert stated == pytest.approx(air_volume(parts) + bodies - 0.001 * len(radiators(parts)), rel=1e-9)
