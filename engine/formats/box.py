"""``box.json``: a box as it is built, from which anybody can put it together again.

Lengths in m, volumes in m³, axes as the file says (left-handed, as x runs to the right of who faces the baffle).
``cuts`` go right through their board along ``axis``; what does not (recesses, and what is drilled for screws) stands
under ``worked`` and takes nothing of the inside.
"""

from __future__ import annotations

import json
import math
from collections.abc import Mapping
from itertools import pairwise
from typing import Any

import numpy as np

from engine.arrays import Floats
from engine.space.bodies import Bend, Frustum, Prism, Solid
from engine.workshop.board import Board, Box, Chamber, Cut, Part

NAME = "box.json"
AXES = (
    "x across from the left end seen from the front, y forward, z up, "
    "origin at the box's outer left lower rear corner, m"
)
PLACES = 9  # decimals of lengths
ALONG_BEND = 16  # straight pieces of a quarter bend


def box_document(box: Box) -> dict[str, Any]:
    """A box as the file has it."""
    return {
        "job": box.title,
        "design": {key: _plain(value) for key, value in box.row.items()},
        "axes": AXES,
        "joints": box.joints,
        "board_thickness_m": _plain(box.board),
        "baffle_layer_m": _plain(box.layer),
        "place_m": _numbers(box.place),
        "last": box.last,
        "boards": [_board(board) for board in box.boards],
        "parts": [_part(part) for part in box.parts],
        "chambers": [_chamber(chamber) for chamber in box.chambers],
    }


def box_text(box: Box, more: Mapping[str, Any] | None = None) -> str:
    """The file's text; ``more`` goes to its end."""
    return json.dumps({**box_document(box), **(more or {})}, indent=1, allow_nan=False, ensure_ascii=False) + "\n"


def _board(board: Board) -> dict[str, Any]:
    through = {cut: cut.operation in ("hole", "notch") and cut.through for cut in board.cuts}
    return {
        "name": board.name,
        "role": board.role,
        "thickness_m": _plain(board.thickness),
        "outside": _numbers(board.outside),
        "inside": _numbers(board.inside),
        "outside_is": board.face,
        "edges": [
            {
                "side": edge.side,
                "bevel_deg": round(math.degrees(edge.bevel), 4) + 0.0,
                "meets": edge.meets,
                "round_over_m": _plain(edge.round_over),
            }
            for edge in board.edges
        ],
        "cuts": [_cut(board, cut) for cut in board.cuts if through[cut]],
        "worked": [_worked(board, cut) for cut in board.cuts if not through[cut]],
    }


def _cut(board: Board, cut: Cut) -> dict[str, Any]:
    assert cut.ring is not None, "what is cut through has an outline"
    named = {"name": cut.name, "axis": _numbers(cut.axis)}
    if (circle := cut.ring.round) is not None:
        centre = _numbers(board.at(circle.centre))
        return {"kind": "circle", "center": centre, "diameter_m": _plain(2.0 * circle.radius), **named}
    return {"kind": "outline", "points": _numbers(board.at(cut.ring.corners())), **named}


def _worked(board: Board, cut: Cut) -> dict[str, Any]:
    found: dict[str, Any] = {"name": cut.name, "operation": cut.operation, "axis": _numbers(cut.axis)}
    if cut.ring is not None and (circle := cut.ring.round) is not None:
        found |= {"center": _numbers(board.at(circle.centre)), "diameter_m": _plain(2.0 * circle.radius)}
    if len(cut.places):
        found |= {"centers": _numbers(board.at(cut.places)), "diameter_m": _plain(cut.diameter)}
    return found | {"depth_m": _plain(cut.depth)}


def _part(part: Part) -> dict[str, Any]:
    solids = [each for solid in part.solids for each in _solids(solid)]
    return {"name": part.name, "role": part.role, "length_m": _plain(part.length), "solids": solids}


def _solids(solid: Solid) -> list[dict[str, Any]]:
    if isinstance(solid, Prism):
        points = np.insert(solid.section, 0, solid.x[0], axis=1)
        length = _plain(solid.x[1] - solid.x[0])
        return [{"kind": "outline", "points": _numbers(points), "axis": [1.0, 0.0, 0.0], "length_m": length}]
    if isinstance(solid, Frustum):
        return [_frustum(solid.start, solid.end, solid.radii)]
    return _bent(solid)


def _bent(bend: Bend) -> list[dict[str, Any]]:
    """A bend as short straight pieces, each as wide as it."""
    turns = np.linspace(0.0, 0.5 * math.pi, ALONG_BEND + 1)
    ways = np.outer(np.cos(turns), bend.first) + np.outer(np.sin(turns), bend.last)
    points = bend.centre + bend.radius * ways
    radii = (bend.tube_radius, bend.tube_radius)
    return [_frustum(start, end, radii) for start, end in pairwise(points)]


def _frustum(start: Floats, end: Floats, radii: tuple[float, float]) -> dict[str, Any]:
    first, last = (_plain(2.0 * radius) for radius in radii)
    ends = {"start": _numbers(start), "end": _numbers(end)}
    return {"kind": "frustum", **ends, "start_diameter_m": first, "end_diameter_m": last}


def _chamber(chamber: Chamber) -> dict[str, Any]:
    return {
        "inside_volume_m3": _plain(chamber.inside_volume),
        "net_volume_m3": _plain(chamber.net_volume),
        "drivers": chamber.drivers,
        "vents": chamber.vents,
        "radiators": chamber.radiators,
    }


def _numbers(values: Floats) -> list[Any]:
    return list((np.round(values, PLACES) + 0.0).tolist())


def _plain(value: Any) -> Any:
    """A value as JSON has it: nothing for what is no number, no more decimals than lengths have."""
    if isinstance(value, np.generic):
        value = value.item()
    if isinstance(value, float):
        return round(value, PLACES) + 0.0 if math.isfinite(value) else None
    return value
