"""The order in which one box is made, step by step, with what may hurt at the step where it may.

Steps follow from the boards and parts of this box: what is not there has no step.  What is general is common practice,
no source; machines' manuals, local rules and licensed trades come first, and the steps say so.
"""

from __future__ import annotations

from engine.quantities import Units
from engine.report.blocks import Step
from engine.report.work.finishing import finishing
from engine.report.work.gluing import gluing
from engine.report.work.sawing import sawing
from engine.report.work.told import Told
from engine.scenario import Scenario
from engine.workshop.board import Box


def order_of_work(box: Box, scenario: Scenario, units: Units) -> tuple[Step, ...]:
    """The steps from board to box; wiring and set-up have pages of their own."""
    told = Told(box, scenario, units)
    return (*sawing(told), *gluing(told), *finishing(told))
