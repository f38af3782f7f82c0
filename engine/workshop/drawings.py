"""Drawings to scale, as SVG text: of a row of the front, of a design laid out, of the space alone.

Plain technical drawing: heavy lines are edges to cut, thin ones outlines, dashes lie behind something, dots keep the
margin, dash-dot lines are axes, hatching is kept out.  Ink is as ``svg`` says.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from typing import Any

import numpy as np

from engine.parts import Driver
from engine.quantities import Units, show
from engine.scenario import Scenario
from engine.search.evaluator import SIZES, air_before
from engine.space.bodies import Assembly
from engine.space.envelope import Envelope
from engine.space.panels import length
from engine.space.wedge import Wedges
from engine.workshop.design import Design
from engine.workshop.isometric import isometric_of
from engine.workshop.panel import panel_of
from engine.workshop.picture import picture_of
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


def _section(scenario: Scenario, design: Design, units: Units) -> str:
    envelope = Envelope(scenario.space, covering=scenario.box.carpet)
    free = free_around(envelope.stretches, float(design.low[0]), float(design.high[0]))
    return section_of(design, scenario.space, free, units)


def _front(scenario: Scenario, design: Design, units: Units) -> str:
    space = scenario.space
    either_way = not space.keepouts and space.clearance.left == space.clearance.right
    notes = ["The box may as well be built as its mirror image."] if either_way else []
    return panel_of(design, units, name="front", notes=notes)


# What is drawn of a design made by :func:`design_to_draw`; lengths are written in the units.
VIEWS: dict[str, Callable[[Scenario, Design, Units], str]] = {
    "isometric": lambda scenario, design, units: isometric_of(design, scenario.space, units),
    "section": _section,
    "front": _front,
    "plan": lambda scenario, design, units: plan_of(design, scenario.space, units),
    "picture": lambda scenario, design, units: picture_of(design, scenario.space, units),
}


def front_of(parts: Assembly, driver: Driver, units: Units, *, round_over: float = 0.0, name: str = "contents") -> str:
    """The panel with the driver of any design laid out, whether its parts fit or lie over one another.

    ``parts`` are its bodies, ``driver`` what is in it.  ``name`` begins the drawing's ids: several on one page need
    several names.
    """
    return panel_of(Design(parts=parts, driver=driver, round_over=round_over), units, name=name)


def space_svg(scenario: Scenario, units: Units, *, rows: Sequence[float] = ()) -> str:
    """The space with the largest box that it holds.

    Corners are numbered as the file lists them or, where the space is given as measurements, by the row they belong to:
    ``rows`` holds the rows' heights, m.
    """
    space, board, back_angle = scenario.space, scenario.stock.board_thickness, scenario.box.back_angle
    envelope = Envelope(space, covering=scenario.box.carpet)
    saw = {"most_bevel": scenario.saw.most_bevel, "least_depth": scenario.box.least_depth}
    box, standing = envelope.largest(board=board, back_angle=back_angle, **_kept_free(scenario), **saw), None
    if envelope.is_empty:
        found = "The margin leaves nothing of this space."
    elif box is None:
        found = "No box made of this board has an inside here."
    else:
        outer = {key: np.array([getattr(box, key)]) for key in SIZES}
        layer = min(scenario.stock.layer_of(baffle) for baffle in scenario.box.baffles)
        wedge = Wedges(**outer, board=board, back_angle=back_angle, layer=layer)
        standing = Largest(wedge=wedge, place=np.array([box.x, box.y, box.z]))
        width, height, bottom, top, left = (length(getattr(box, key), units) for key in (*SIZES, "x"))
        inside = show(float(wedge.gross_volume[0]), "volume", units)
        found = (
            f"Largest box: {inside} inside before driver, vents and braces; "
            f"outside {width} wide, {height} high, {top} deep at the top and {bottom} at the bottom, {left} from the "
            "left end."
        )
    free = free_around(envelope.stretches, *(standing.across if standing else (0.0, space.width)))
    return space_of(space, free=free, box=standing, found=found, units=units, rows=rows)


def _kept_free(scenario: Scenario) -> dict[str, float]:
    """Height kept free, m, under every box of a scenario whose drivers all face down, above if they all face up."""
    ways = {"down": ("below", 0.0), "up": ("above", scenario.space.margin)}
    if len(scenario.box.facings) > 1 or scenario.box.facings[0] not in ways:
        return {}
    side, at_hand = ways[scenario.box.facings[0]]
    drivers = [candidate.driver for candidate in scenario.candidates]
    room = np.array(
        [driver.room_before(scenario.box.breathing_gap, recess=scenario.box.baffle_recess) for driver in drivers]
    )
    needed = float(air_before(np.array([driver.sd for driver in drivers]), room).min())
    return {side: max(needed - at_hand, 0.0)}
