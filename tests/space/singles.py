"""One driver of invented sizes, boxes without slant, and sections in shapely, built without the engine's formulas."""

from __future__ import annotations

from typing import Any

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.facings import DOWN
from engine.space.wedge import Wedges
from tests.space.batches import BOARD
from tests.space.test_wedge import wedges

Floats = NDArray[np.float64]

FAR = 5.0  # m
PANELS = ("bottom", "baffle", "top", "back")  # from corner to corner of the outer section


def one_driver(**changes: float) -> dict[str, Any]:
    """A 12 in driver of invented sizes in a closed box, one row."""
    sizes: dict[str, float] = {
        "outer_diameter": 0.316,
        "cutout_diameter": 0.282,
        "magnet_diameter": 0.17,
        "mounting_depth": 0.15,
        "magnet_depth": np.nan,
        "rear_gap": np.nan,
        "terminal_depth": np.nan,
        "driver_displacement": 0.0025,
        "driver_count": 1.0,
        "vent_count": 0.0,
        "vent_inner": np.nan,
        "vent_outer": np.nan,
        "elbow_radius": np.nan,
        "tuning": np.nan,
    }
    facing = int(changes.pop("facing", 0))
    return {
        "facing": np.array([facing]),
        **{name: np.array([float(value)]) for name, value in {**sizes, **changes}.items()},
    }


def cuboid(*, width: float = 0.39, height: float = 0.4, depth: float = 0.3) -> Wedges:
    return wedges(width=width, height=height, top=depth, bottom=depth, board=BOARD)


def beyond(box: Wedges, row: int, panel: str) -> shapely.Polygon:
    """All that lies on the far side of a panel's inner face: a half plane, cut off far away."""
    number = PANELS.index(panel)
    corners = box.outer_section[row]
    start, end = corners[number], corners[(number + 1) % 4]
    along = (end - start) / np.linalg.norm(end - start)
    inward = np.array([-along[1], along[0]])
    face = [start + box.board * inward - FAR * along, end + box.board * inward + FAR * along]
    return shapely.Polygon([*face, *(point - FAR * inward for point in reversed(face))])


def frame(box: Wedges, row: int, facing: int) -> tuple[Floats, Floats, Floats, float, tuple[str, str, str]]:
    """Origin of the drivers' panel, unit vectors along it and inward, its length, and the panels it can meet.

    Those are the panels at its lower and upper end and the one across.
    """
    corners = box.outer_section[row]
    start, end = (corners[0], corners[1]) if facing == DOWN else (corners[1], corners[2])
    others = ("back", "baffle", "top") if facing == DOWN else ("bottom", "top", "back")
    length = float(np.linalg.norm(end - start))
    along = (end - start) / length
    return start, along, np.array([-along[1], along[0]]), length, others


def driver_outline(things: dict[str, Any], row: int) -> Floats:
    """Outline (s, d) of a driver's section, its axis at s = 0: cut-out, basket, magnet."""
    hole, magnet = 0.5 * things["cutout_diameter"][row], 0.5 * things["magnet_diameter"][row]
    reach = things["mounting_depth"][row]
    stated = things["magnet_depth"][row]
    neck = reach if np.isnan(stated) else reach - stated
    right = [(hole, 0.0), (hole, BOARD), (magnet, neck), (magnet, reach)]
    return np.array([*right, *((-s, d) for s, d in reversed(right))])


def rear_air_outline(things: dict[str, Any], row: int, usual: float) -> Floats:
    """Outline (s, d) of the air behind the magnet; ``usual`` where it is not stated."""
    magnet, reach = 0.5 * things["magnet_diameter"][row], things["mounting_depth"][row]
    air = usual if np.isnan(things["rear_gap"][row]) else things["rear_gap"][row]
    return np.array([(-magnet, reach), (magnet, reach), (magnet, reach + air), (-magnet, reach + air)])


def set_at(outline: Floats, s: Floats, origin: Floats, along: Floats, inward: Floats) -> NDArray[np.object_]:
    """An outline (s, d) as polygons in the section, slid to each of the places ``s`` along the panel."""
    corners = origin + (s[:, None, None] + outline[None, :, :1]) * along + outline[None, :, 1:] * inward
    polygons: NDArray[np.object_] = shapely.polygons(corners)
    return polygons


def scan(box: Wedges, things: dict[str, Any], row: int, *, facing: int, steps: int) -> Floats:
    """Places s along the drivers' panel where the flange lies within its outer face."""
    length = frame(box, row, facing)[3]
    flange = 0.5 * things["outer_diameter"][row]
    return np.linspace(flange, length - flange, steps) if length > 2.0 * flange else np.zeros(0)


def driver_sections(
    box: Wedges, things: dict[str, Any], row: int, s: Floats, *, facing: int, gap: float
) -> tuple[Floats, NDArray[np.object_]]:
    """Those of the places ``s`` where a driver keeps its clearances, and its sections there.

    The body keeps ``gap`` to the panels round it; the air behind it only lies inside.
    """
    origin, along, inward, _, others = frame(box, row, facing)
    sections = set_at(driver_outline(things, row), s, origin, along, inward)
    air = set_at(rear_air_outline(things, row, gap), s, origin, along, inward)
    kept = np.ones(len(s), dtype=bool)
    for panel in others:
        outside = beyond(box, row, panel)
        kept &= (shapely.distance(sections, outside) >= gap) & (shapely.area(shapely.intersection(air, outside)) < 1e-9)
    return s[kept], sections[kept]
