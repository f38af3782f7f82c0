"""Sizes that a job holds against its space, door and saw: what no box can have is refused before a search.

Each test refuses only what cannot be: the rest of the box is taken as small as can be, so a job that passes may still
hold sizes that no box of a search comes to.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from engine.document import Reader
from engine.scenario import Scenario
from engine.space.envelope import Envelope
from engine.space.free import Stretch
from engine.space.runs import TOUCH
from engine.space.sizes import BOTTOM, HEIGHT, LEAN, OUTER, TOP, WIDTH, missing, outer_sizes, stated_way
from engine.space.wedge import Wedges
from engine.words.voice import Key, Quantity, as_measured

NEAREST = 1e-3  # m between the sides of a box as narrow as can be


def check_held(reader: Reader, scenario: Scenario, stated: Mapping[str, Any]) -> None:
    """Tell the reader of sizes that no box can have; ``stated`` is the table ``held`` as it was written."""
    held, board, saw = scenario.held, scenario.stock.board_thickness, scenario.saw
    envelope = Envelope(scenario.space, covering=scenario.box.carpet)
    if not held or envelope.is_empty:  # what leaves nothing of the space is told of by itself
        return
    wrong = len(reader.faults)
    if abs(held.get(LEAN, 0.0)) > saw.most_bevel + TOUCH:
        tilt = Quantity(saw.most_bevel, "angle", figures=3)
        reader.fault(f"held.{LEAN}", "steeper_than_saw", stated[LEAN], most=tilt, saw=Key("saw.most_bevel"))
    shallow = scenario.box.least_depth - TOUCH
    for key in (key for key in (BOTTOM[1], TOP[1]) if held.get(key, math.inf) < shallow):
        least = as_measured(scenario.box.least_depth)
        reader.fault(f"held.{key}", "held_too_thin", stated[key], least=least, at=Key("box.least_depth"))
    for ways in (ways for ways in (WIDTH, HEIGHT) if held.get(ways[0], math.inf) <= 2.0 * board):
        reader.fault(f"held.{ways[0]}", "walls_meet", stated[ways[0]], board=as_measured(board))
    walls = _walls(scenario)
    over = {key: held[key] + walls[key] for key in held if key in walls}
    for key, size in over.items():
        most = max(_room(stretch, key) for stretch in envelope.stretches)
        if size > most + TOUCH:
            reader.fault(f"held.{key}", "held_beyond_space", stated[key], most=as_measured(most - walls[key]))
    width = next((key for key in WIDTH if key in held), None)
    if width is not None and scenario.space.door is not None:
        most = scenario.space.door.turning_room - 2.0 * scenario.box.carpet - walls[width]
        if held[width] > most + TOUCH:
            reader.fault(f"held.{width}", "held_beyond_door", stated[width], most=as_measured(most))
    if len(reader.faults) > wrong:
        return
    lacking = min(
        max(size - _room(stretch, key) for key, size in over.items()) if over else 0.0 for stretch in envelope.stretches
    )
    if lacking > TOUCH:
        reader.fault("held", "held_without_place", by=Quantity(lacking, "length"))
    elif all(ways == WIDTH for ways in missing(held)):
        _check_section(reader, scenario, envelope)


def _walls(scenario: Scenario) -> dict[str, float]:
    """What the panels add to each held length at the least, m."""
    board = scenario.stock.board_thickness
    layer = min(scenario.stock.layer_of(baffle) for baffle in scenario.box.baffles)
    deep = board / math.cos(scenario.box.back_angle) + board + layer
    ends = dict.fromkeys((WIDTH[1], HEIGHT[1]), 2.0 * board)
    return (
        dict.fromkeys((WIDTH[0], HEIGHT[0], BOTTOM[0], TOP[0]), 0.0) | ends | dict.fromkeys((BOTTOM[1], TOP[1]), deep)
    )


def _room(stretch: Stretch, key: str) -> float:
    """What a stretch of the space leaves a size at the most, m: its width, its tallest run, its widest level line."""
    if key in WIDTH:
        return stretch.width
    return stretch.tallest if key in HEIGHT else max(run.first.widest for run in stretch.runs)


def _check_section(reader: Reader, scenario: Scenario, envelope: Envelope) -> None:
    """A section held whole, with the width that is held or hardly any, must be one box that goes in and can be sawn."""
    told = []
    board, back_angle = scenario.stock.board_thickness, scenario.box.back_angle
    width = {} if stated_way(WIDTH, scenario.held) else {WIDTH[1]: NEAREST}
    for baffle in scenario.box.baffles:
        layer = scenario.stock.layer_of(baffle)
        outer = outer_sizes({**scenario.held, **width}, board=board, back_angle=back_angle, layer=layer)
        whole = {name: outer[name] for name in OUTER}
        wedge = Wedges(**whole, board=board, back_angle=back_angle, layer=layer)
        if (fault := _wrong_with(wedge, scenario, envelope)) is None:
            return
        told.append(fault)
    code, parameters = told[0]
    reader.fault("held", code, **parameters)


def _wrong_with(wedge: Wedges, scenario: Scenario, envelope: Envelope) -> tuple[str, dict[str, Any]] | None:
    """What keeps one box from being sawn or from standing in the space: a fault's code and what it says."""
    board, saw = scenario.stock.board_thickness, scenario.saw
    if not wedge.violation[0] < 0.0:
        return "walls_meet", {"board": as_measured(board)}
    tilted = abs(float(wedge.baffle_slope[0])) - math.tan(saw.most_bevel)
    if tilted * float(wedge.outer_height[0]) > 0.5 * saw.size_step + TOUCH:
        lean, most = (Quantity(each, "angle", figures=3) for each in (abs(float(wedge.lean[0])), saw.most_bevel))
        return "held_too_steep", {"lean": lean, "most": most, "saw": Key("saw.most_bevel")}
    if float(wedge.thin_end[0]) < scenario.box.least_depth - TOUCH:
        return "held_too_thin", {"least": as_measured(scenario.box.least_depth), "at": Key("box.least_depth")}
    if (by := float(envelope.fit(wedge).violation[0])) > TOUCH:
        return "held_without_place", {"by": Quantity(by, "length")}
    if (by := float(envelope.door_violation(wedge)[0])) > TOUCH:
        return "held_not_through_door", {"by": Quantity(by, "length")}
    return None
