"""Drawings to scale, as SVG text: of a row of the front, of a design laid out, of the space alone.

Plain technical drawing: heavy lines are edges to cut, thin ones outlines, dashes lie
behind something, dots keep the margin, dash-dot lines are axes, hatching is kept out.
Ink is ``currentColor`` unless the page sets ``--drawing-ink`` or, for dimensions and their
words, ``--drawing-note``; see ``svg``.  Nothing is told by colour.

A design found for a scenario is drawn from what :func:`design_to_draw` makes of it; lengths are written in ``units``.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from engine.parts import Driver
from engine.quantities import Units, show
from engine.scenario import Scenario
from engine.search.evaluator import air_before
from engine.space.bodies import Assembly
from engine.space.envelope import Envelope, LargestBox
from engine.space.panels import length
from engine.space.wedge import Wedges
from engine.workshop.design import Design
from engine.workshop.isometric import isometric_of
from engine.workshop.panel import panel_of
from engine.workshop.plan import plan_of
from engine.workshop.room import Largest, free_around, space_of
from engine.workshop.section import section_of


def design_to_draw(scenario: Scenario, row: Mapping[str, Any], parts: Assembly) -> Design:
    """A row of a scenario's front, or of what was left out, with its solids, as something to draw."""
    return Design(
        parts=parts,
        driver=next(one.driver for one in scenario.candidates if one.driver.name == row["driver"]),
        place=np.array([float(row[key]) for key in ("box_across_m", "box_forward_m", "box_up_m")]),
        round_over=scenario.box.round_over,
        facts=row,
    )


def section_svg(scenario: Scenario, design: Design, units: Units) -> str:
    """The box in its space, cut through a driver and seen from the left end."""
    envelope = Envelope(scenario.space, covering=scenario.box.carpet)
    free = free_around(envelope.stretches, float(design.low[0]), float(design.high[0]))
    return section_of(design, scenario.space, free, units)


def front_svg(scenario: Scenario, design: Design, units: Units) -> str:
    """The panel with the driver seen square on from outside in its true size, what lies behind it in dashes."""
    space = scenario.space
    either_way = not space.keepouts and space.clearance.left == space.clearance.right
    notes = ["The box may as well be built as its mirror image."] if either_way else []
    return panel_of(design, units, name="front", notes=notes)


def plan_svg(scenario: Scenario, design: Design, units: Units) -> str:
    """The box in its space, seen from above."""
    return plan_of(design, scenario.space, units)


def isometric_svg(scenario: Scenario, design: Design, units: Units) -> str:
    """The box in its space in isometric projection, from the front right above."""
    return isometric_of(design, scenario.space, units)


VIEWS: dict[str, Callable[[Scenario, Design, Units], str]] = {
    "isometric": isometric_svg,
    "section": section_svg,
    "front": front_svg,
    "plan": plan_svg,
}


def front_of(parts: Assembly, driver: Driver, units: Units, *, round_over: float = 0.0, name: str = "contents") -> str:
    """The panel with the driver of any design laid out, whether its parts fit or lie over one another.

    ``parts`` are its bodies, ``driver`` what is in it.  ``name`` begins the drawing's
    ids, so several on one page need several names.
    """
    return panel_of(Design(parts=parts, driver=driver, round_over=round_over), units, name=name)


def space_svg(scenario: Scenario, units: Units, *, rows: Sequence[float] = ()) -> str:
    """The space with the largest box that it holds.

    Corners are numbered as the file lists them or, where the space is given as measurements,
    by the row they belong to: ``rows`` holds the rows' heights, m.
    """
    space, board = scenario.space, scenario.stock.board_thickness
    envelope = Envelope(space, covering=scenario.box.carpet)
    box = envelope.largest(board=board, back_angle=scenario.box.back_angle, below=_under(scenario))
    if envelope.is_empty:
        found = "The margin leaves nothing of this space."
    elif box is None:
        found = "No box made of this board has an inside here."
    else:
        found = (
            f"Largest box: {show(box.gross_volume, 'volume', units)} inside before driver, vents and braces; "
            f"outside {length(box.outer_width, units)} wide, {length(box.outer_height, units)} high, "
            f"{length(box.top_depth, units)} deep at the top and "
            f"{length(box.bottom_depth, units)} at the bottom, {length(box.x, units)} from the left end."
        )
    standing = None if box is None else _standing(box, board=board, back_angle=scenario.box.back_angle)
    low, high = (0.0, space.width) if standing is None else standing.across
    free = free_around(envelope.stretches, low, high)
    return space_of(space, free=free, box=standing, found=found, units=units, rows=rows)


def _under(scenario: Scenario) -> float:
    """Height kept free under every box of a scenario whose drivers all face down, m; else 0."""
    if set(scenario.box.facings) != {"down"}:
        return 0.0
    return min(air_before(candidate.driver.sd) for candidate in scenario.candidates)


def _standing(box: LargestBox, *, board: float, back_angle: float) -> Largest:
    wedge = Wedges(
        outer_width=np.array([box.outer_width]),
        outer_height=np.array([box.outer_height]),
        top_depth=np.array([box.top_depth]),
        bottom_depth=np.array([box.bottom_depth]),
        board=board,
        back_angle=back_angle,
    )
    return Largest(wedge=wedge, place=np.array([box.x, box.y, box.z]))
