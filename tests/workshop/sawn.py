"""A saw that does what it is told, on solids, and knows nothing of how the cuts were thought out.

What is cut lies on a table.  It is turned until the stated face is up and the stated edge at the fence, and cut by a
blade that leans away from the fence; the kerf is gone.  Solids are manifold3d's.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import permutations

import numpy as np
from manifold3d import Manifold

from engine.workshop.sawing.order import Rough, SawCut, SawOrder
from engine.workshop.sawing.sheets import Sheets

OVER = np.diag([1.0, -1.0, -1.0])  # about its length
ROUND = np.diag([-1.0, -1.0, 1.0])  # half round on the table


def _turned(solid: Manifold, turn: np.ndarray) -> Manifold:
    return solid.transform(np.column_stack([turn, np.zeros(3)]))


def _split(solid: Manifold, normal: Sequence[float], at: float, kerf: float) -> tuple[Manifold, Manifold]:
    """What lies before a plane normal·p = at, and what lies a kerf behind it."""
    way = np.asarray(normal) / np.linalg.norm(normal)
    offset = at / float(np.linalg.norm(normal))
    return solid.trim_by_plane((-way).tolist(), -offset), solid.trim_by_plane(way.tolist(), offset + kerf)


def lies(how: SawCut) -> np.ndarray:
    """How what is cut at the fence is turned from how it lay on the sheet."""
    turn = np.eye(3) if how.up else OVER
    return ROUND @ turn if (how.against == "low") != how.up else turn


def cut(solid: Manifold, how: SawCut, *, kerf: float, allowance: float, length: float) -> tuple[Manifold, Manifold]:
    """The part that is kept and the rest."""
    if how.phase == "marks":
        return _to_marks(solid, how, kerf=kerf, length=length)
    turn = np.eye(3) if how.up else OVER
    if how.phase in ("square", "length"):
        box = _turned(solid, turn).bounding_box()
        if how.phase == "square":
            at = box[0] + allowance if how.against == "start" else -(box[3] - allowance)
            kept, rest = _split(_turned(solid, turn), (-1.0, 0.0, 0.0) if how.against == "start" else (1.0, 0.0, 0.0),
                                -at, 0.0)  # fmt: skip
        else:
            kept, rest = _split(_turned(solid, turn), (1.0, 0.0, 0.0), box[0] + how.distance, kerf)
        return _turned(kept, turn.T), _turned(rest, turn.T)
    turn = lies(how)
    placed = _turned(solid, turn)
    _, fence, _, _, _, top = placed.bounding_box()
    slope = math.tan(how.tilt)
    # The blade passes v = fence + distance at the top and leans away from the fence going up.
    at = fence + how.distance - top * slope
    kept, rest = _split(placed, (0.0, 1.0, -slope), at, kerf)
    return _turned(kept, turn.T), _turned(rest, turn.T)


def _to_marks(solid: Manifold, how: SawCut, *, kerf: float, length: float) -> tuple[Manifold, Manifold]:
    assert how.line is not None
    box = solid.bounding_box()
    corner = np.array([box[0] if how.against == "start" else box[3] - length, box[1]])
    start, end = np.asarray(how.line.start) + corner, np.asarray(how.line.end) + corner
    run = (end - start) / np.linalg.norm(end - start)
    out = np.array([run[1], -run[0]])  # the board is on the left of the line
    slope = -math.tan(how.line.bevel)  # the inside reaches less far where the bevel is positive
    normal = (out[0], out[1], slope)
    return _split(solid, normal, float(out @ start) + slope * box[5], kerf)


def blank_of(rough: Rough, thickness: float) -> Manifold:
    return Manifold.cube([rough.length, rough.width, thickness])


def sawn(sheets: Sheets, order: SawOrder) -> list[tuple[str, Manifold]]:
    """What comes of the cuts, by the name of the board that each piece was cut for."""
    cutting = sheets.cutting
    lengths = {name: piece.length for piece in sheets.pieces for name in piece.names}
    parts = {rough.part: blank_of(rough, rough.placed[0].blank.thickness) for rough in order.roughs}
    owner: dict[str, str] = {}
    for setting in order.settings:
        for how in setting.cuts:
            name = how.boards[0]
            solid = parts.pop(how.part)
            kept, rest = cut(solid, how, kerf=cutting.kerf, allowance=cutting.allowance, length=lengths[name])
            assert kept.volume() > 0.0, how
            parts[how.keeps] = kept
            owner[how.keeps] = name
            if how.leaves:
                assert rest.volume() > 0.0, how
                parts[how.leaves] = rest
    return [(owner[part], solid) for part, solid in parts.items()]


def corners(solid: Manifold) -> np.ndarray:
    points = np.asarray(solid.to_mesh().vert_properties)[:, :3].astype(float)
    kept: list[np.ndarray] = []
    for point in points:
        if all(np.linalg.norm(point - other) > 1e-5 for other in kept):
            kept.append(point)
    return np.array(kept)


def apart(one: np.ndarray, other: np.ndarray) -> float:
    """How far corners lie from another body's when both are moved onto each other, never mirrored; m."""
    if len(one) != len(other):
        return math.inf
    best = math.inf
    first = one[:3] if np.linalg.norm(np.cross(one[1] - one[0], one[2] - one[0])) > 1e-9 else one[[0, 1, 3]]
    sides = [np.linalg.norm(first[i] - first[j]) for i, j in ((0, 1), (1, 2), (2, 0))]
    for chosen in permutations(range(len(other)), 3):
        second = other[list(chosen)]
        own = [np.linalg.norm(second[i] - second[j]) for i, j in ((0, 1), (1, 2), (2, 0))]
        if np.abs(np.subtract(own, sides)).max() > 1e-3:
            continue
        a, b = first - first.mean(axis=0), second - second.mean(axis=0)
        left, _, right = np.linalg.svd(a.T @ b)
        turn = left @ np.diag([1.0, 1.0, np.sign(np.linalg.det(left @ right))]) @ right
        moved = (one - first.mean(axis=0)) @ turn + second.mean(axis=0)
        far = max(float(np.linalg.norm(other - point, axis=1).min()) for point in moved)
        best = min(best, far)
    return best
