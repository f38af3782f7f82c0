"""Boxes of the demos as they are built, one of each way for its air, for tests of what a workshop gets."""

from __future__ import annotations

from functools import cache

import pandas as pd

from engine.build import box_of
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document, read_scenario
from engine.judged import JudgedDesign
from engine.scenario import Scenario
from engine.search.runs import run
from engine.workshop.board import Box
from explorer.demo_fronts import stored_front

# Demo, what its row says, joint order.
CHOSEN = {
    "slot": ("hatch-seat-back", {"vent_placement": "slot through side"}, "sides over all"),
    "pipes": ("hatch-seat-back", {"vent_placement": "through side", "brace_form": "framed window"}, "sides over all"),
    "elbow": ("hatch-seat-back", {"vent_placement": "through baffle, bent"}, "baffle over all"),
    "strips": ("van-bench", {"brace_form": "strips"}, "sides over all"),
    "dowels": ("roadster", {"brace_form": "dowels"}, "sides over all"),
    "radiator": ("van-bench", {"box_kind": "radiator"}, "sides over all"),
}


@cache
def built_box(name: str) -> tuple[JudgedDesign, Box]:
    """One of ``CHOSEN``: the first design of that front for which this is so; with pipes, one that needs blocks."""
    demo, wanted, joints = CHOSEN[name]
    scenario, front = searched(demo, wanted["box_kind"]) if "box_kind" in wanted else stored(demo)
    mask = pd.Series(True, index=front.index)
    for key, value in wanted.items():
        mask &= front[key] == value
    designs = (JudgedDesign.of(scenario, front.loc[place].to_dict()) for place in front.index[mask])
    boxes = ((design, box_of(design, joints=joints)) for design in designs)
    return next(found for found in boxes if name != "pipes" or any(board.role == "block" for board in found[1].boards))


def stored(demo: str) -> tuple[Scenario, pd.DataFrame]:
    """A demo and the front that comes with it."""
    return read_scenario(demo_scenarios()[demo]), stored_front(demo).front


def searched(demo: str, kind: str) -> tuple[Scenario, pd.DataFrame]:
    """A demo that asks for one kind of box, which others may beat, and a quick front of it."""
    document = read_document(demo_scenarios()[demo])
    document["box"]["kinds"] = [kind]
    scenario = parse_scenario(document, source=f"{demo}.toml")
    return scenario, run(scenario, evaluations=8_192).front
