"""What can be said of a driver before anything is tried: whether any wiring drives it, whether any box could hold it.

Nothing that can be built is refused here; what passes may still be too large.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
import shapely

from engine.arrays import Floats
from engine.facings import FACINGS
from engine.parts import Driver
from engine.scenario import Candidate, Scenario
from engine.search.families import wired
from engine.standing_room import free_section, free_width

STEP = math.radians(0.1)  # of the slants that a baffle is tried at
DIRECTIONS = 90  # that widths are compared in, beside those of the section's own sides
TOUCH = 1e-6  # m, what is too large by less is not


@dataclass(frozen=True)
class TooLarge:
    """No box in the space holds a driver: by how many metres at least it is too large for its ``place``."""

    place: str  # "width" or "section" of the space
    by: float


def unwired(scenario: Scenario, candidate: Candidate) -> tuple[int, ...]:
    """The counts of a driver that no wiring lets the amplifier drive."""
    return tuple(count for count in candidate.counts if not wired(candidate, count, scenario.amplifier))


def too_large(scenario: Scenario, driver: Driver) -> TooLarge | None:
    """Why no box that the space could hold has room for one of a driver, whichever way it faces; None if one may.

    Flange, magnet and the board behind that lie within the box, and the box within the space less its margin and
    clearances, so their section is no wider in any direction than that of the space, and their flange no wider than
    the space.  Keep-outs, gaps and all else that a box has to keep are left aside.
    """
    found = [_too_large(scenario, driver, facing) for facing in scenario.box.facings]
    least = min(found, key=lambda each: each.by)
    return least if least.by > TOUCH else None


def _too_large(scenario: Scenario, driver: Driver, facing: str) -> TooLarge:
    """By how much a driver that faces one way is too large at least; 0 or less where it may fit."""
    space, board = scenario.space, scenario.stock.board_thickness
    section, (left, right) = free_section(space), free_width(space)
    deep = driver.mounting_depth + scenario.box.baffle_recess
    if FACINGS[facing].panel == "right side":
        circle: float = shapely.maximum_inscribed_circle(section, tolerance=1e-5).length
        across = TooLarge("width", deep + board - (right - left))
        inside = TooLarge("section", driver.outer_diameter - 2.0 * (circle + 1e-5))
    else:
        most = scenario.saw.most_bevel
        leans = np.arange(-most, most + STEP, STEP) if FACINGS[facing].panel == "baffle" else np.array([math.pi / 2.0])
        across = TooLarge("width", driver.outer_diameter - (right - left))
        inside = TooLarge(
            "section", _beyond(np.asarray(section.convex_hull.exterior.coords), driver, deep, board, leans)
        )
    return max(across, inside, key=lambda each: each.by)


def _beyond(corners: Floats, driver: Driver, deep: float, board: float, leans: Floats) -> float:
    """How much wider a driver's section is than a convex one, in the direction where that is most, at its best lean.

    Between two leans tried it may be narrower by its extent times half a step, which is taken off.
    """
    sides = np.diff(corners, axis=0)
    angle = np.concatenate(
        [np.arctan2(-sides[:, 0], sides[:, 1]), np.linspace(0.0, math.pi, DIRECTIONS, endpoint=False)]
    )
    over = corners @ np.array([np.cos(angle), np.sin(angle)])
    free = over.max(axis=0) - over.min(axis=0)
    # Along the axis and along the panel, of a driver that leans: (leans, directions).
    turned = angle[np.newaxis, :] - leans[:, np.newaxis]
    axial, along = np.cos(turned), np.abs(np.sin(turned))
    flange, magnet = 0.5 * driver.outer_diameter, 0.5 * driver.magnet_diameter
    ahead = np.maximum(flange * along, magnet * along + board - deep * axial)
    behind = np.maximum(flange * along, magnet * along + board + deep * axial)
    extent = math.hypot(deep + board, 2.0 * flange)
    return float((ahead + behind - free).max(axis=1).min()) - extent * 0.5 * STEP
