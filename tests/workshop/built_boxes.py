"""Boxes of the demos' fronts as they are built, one of each way for its air, for tests of what a workshop gets."""

from __future__ import annotations

from functools import cache

import pandas as pd

from engine.build import box_of
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.judged import JudgedDesign
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
    front = stored_front(demo).front
    mask = pd.Series(True, index=front.index)
    for key, value in wanted.items():
        mask &= front[key] == value
    scenario = read_scenario(demo_scenarios()[demo])
    designs = (JudgedDesign.of(scenario, front.loc[place].to_dict()) for place in front.index[mask])
    boxes = ((design, box_of(design, joints=joints)) for design in designs)
    return next(found for found in boxes if name != "pipes" or any(board.role == "block" for board in found[1].boards))
