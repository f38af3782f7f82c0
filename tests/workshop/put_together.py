"""A box put together again from ``box.json`` alone, by nothing of the product: an independent reader.

Boards are the hulls of their two faces less their cuts, which go through along their axes.  Everything is measured with
manifold3d.  Round things have flat sides here: what they may be off by is ``SLIVER`` of a volume.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from functools import cached_property
from itertools import combinations
from pathlib import Path
from typing import Any

import numpy as np
from manifold3d import CrossSection, FillRule, Manifold

SIDES_OF = ("outside", "inside")
INSIDE = ("brace", "slot", "block", "strip")
SIDES = 96  # of a circle
BEYOND = 1.0  # m, that a cut reaches on either side of where it is stated
SEAL = 2e-5  # m: faces no further apart touch
POCKET = 1e-5  # m³
OVERLAP = 2e-7  # m³ that two solids may share: facets of round ones


def extruded(points: np.ndarray, axis: np.ndarray, start: float, end: float) -> Manifold:
    """A flat outline moved along an axis from one way to another, m; the axis need not be square to it."""
    corners = np.asarray(points, dtype=float)
    middle = corners.mean(axis=0)
    spread = corners - middle
    normal = np.linalg.svd(spread)[2][-1]
    first = spread[0] / np.linalg.norm(spread[0])
    second = np.cross(normal, first)
    flat = np.column_stack([spread @ first, spread @ second])
    x, y = flat.T
    if np.sum(x * np.roll(y, -1) - np.roll(x, -1) * y) < 0.0:
        second = -second
        flat[:, 1] *= -1.0
    way = np.asarray(axis, dtype=float)
    prism = Manifold.extrude(CrossSection([flat], FillRule.Positive), 1.0)
    turned = np.column_stack([first, second, (end - start) * way, middle + start * way])
    return prism.transform(turned)


def cylinder(start: np.ndarray, end: np.ndarray, radii: tuple[float, float]) -> Manifold:
    start, end = np.asarray(start, dtype=float), np.asarray(end, dtype=float)
    way = end - start
    long = float(np.linalg.norm(way))
    axis = way / long
    helper = np.eye(3)[int(np.argmin(np.abs(axis)))]
    one = np.cross(axis, helper)
    one /= np.linalg.norm(one)
    turned = np.column_stack([one, np.cross(axis, one), axis, start])
    return Manifold.cylinder(long, radii[0], radii[1], circular_segments=SIDES).transform(turned)


def hull(*faces: Any) -> Manifold:
    return Manifold.hull_points(np.concatenate([np.asarray(face, dtype=float) for face in faces]))


def cut_out(cut: dict[str, Any]) -> Manifold:
    axis = np.asarray(cut["axis"], dtype=float)
    if cut["kind"] == "circle":
        centre, radius = np.asarray(cut["center"], dtype=float), 0.5 * cut["diameter_m"]
        return cylinder(centre - BEYOND * axis, centre + BEYOND * axis, (radius, radius))
    assert cut["kind"] == "outline"
    return extruded(cut["points"], axis, -BEYOND, BEYOND)


def solid_of(stated: dict[str, Any]) -> Manifold:
    if stated["kind"] == "frustum":
        radii = (0.5 * stated["start_diameter_m"], 0.5 * stated["end_diameter_m"])
        return cylinder(stated["start"], stated["end"], radii)
    assert stated["kind"] == "outline"
    return extruded(stated["points"], stated["axis"], 0.0, stated["length_m"])


def shared(one: Manifold, other: Manifold) -> float:
    """Volume that two solids share, m³."""
    a, b = one.bounding_box(), other.bounding_box()
    if any(a[k] >= b[k + 3] or b[k] >= a[k + 3] for k in range(3)):
        return 0.0
    return max(float((one ^ other).volume()), 0.0)


@dataclass(frozen=True)
class PutTogether:
    """A box as its file says it is."""

    document: dict[str, Any]

    @classmethod
    def read(cls, path: Path) -> PutTogether:
        return cls(json.loads(path.read_text(encoding="utf-8")))

    @cached_property
    def blanks(self) -> dict[str, Manifold]:
        """Boards before anything is cut."""
        return {board["name"]: hull(board["outside"], board["inside"]) for board in self.document["boards"]}

    @cached_property
    def boards(self) -> dict[str, Manifold]:
        found = {}
        for board in self.document["boards"]:
            solid = self.blanks[board["name"]]
            for cut in board["cuts"]:
                solid -= cut_out(cut)
            found[board["name"]] = solid
        return found

    @cached_property
    def parts(self) -> dict[str, list[Manifold]]:
        return {part["name"]: [solid_of(each) for each in part["solids"]] for part in self.document["parts"]}

    def role(self, *roles: str) -> list[str]:
        return [board["name"] for board in self.document["boards"] if board["role"] in roles]

    @cached_property
    def over_all(self) -> tuple[np.ndarray, np.ndarray]:
        """Least and greatest corner of the box, feet not."""
        corners = [
            point
            for board in self.document["boards"]
            if board["role"] in ("shell", "layer")
            for side in ("outside", "inside")
            for point in board[side]
        ]
        return np.min(corners, axis=0), np.max(corners, axis=0)

    @cached_property
    def inside_volume(self) -> float:
        """What the shell leaves of the box over all, without the boards inside, m³; parts not."""
        shell = self.role("shell", "layer")
        corners = [board[side] for board in self.document["boards"] if board["name"] in shell for side in SIDES_OF]
        inside = float(hull(*corners).volume()) - sum(float(self.blanks[name].volume()) for name in shell)
        return inside - sum(float(self.boards[name].volume()) for name in self.role(*INSIDE))

    @cached_property
    def bodies_of_air(self) -> list[float]:
        """Volumes of the bodies of air in the shell, openings in it shut, parts out, the largest first, m³."""
        low, high = self.over_all
        room = Manifold.cube(tuple((high - low + 0.2).tolist())).translate(tuple((low - 0.1).tolist()))
        around = float(room.volume())
        for name in self.role("shell", "layer"):
            room -= grown(self.blanks[name])
        for name in self.role(*INSIDE):
            room -= self.boards[name]
        pieces = sorted((float(piece.volume()) for piece in room.decompose()), reverse=True)
        assert pieces[0] > 0.1 * around, "the air round the box comes first"
        return [volume for volume in pieces[1:] if volume > POCKET]

    def overlaps(self) -> list[tuple[str, str, float]]:
        """Boards that share a place with boards, parts with boards, and how much of it, m³."""
        found = []
        for (one, a), (other, b) in combinations(self.boards.items(), 2):
            found.append((one, other, shared(a, b)))
        for name, solids in self.parts.items():
            for board, b in self.boards.items():
                found.append((name, board, sum(shared(solid, b) for solid in solids)))
        for (one, first), (other, second) in combinations(self.parts.items(), 2):
            found.append((one, other, sum(shared(a, b) for a in first for b in second)))
        return [each for each in found if each[2] > OVERLAP]

    def thickness_errors(self) -> list[float]:
        """How far each board's faces are from flat, parallel and its thickness apart, m."""
        return [_off(board) for board in self.document["boards"]]


def grown(solid: Manifold) -> Manifold:
    """A convex solid a little larger all round, so that faces which touch leave no gap."""
    low, high = np.array(solid.bounding_box()[:3]), np.array(solid.bounding_box()[3:])
    middle = 0.5 * (low + high)
    scale = 1.0 + 2.0 * SEAL / (high - low)
    return solid.translate(tuple(-middle)).scale(tuple(scale)).translate(tuple(middle))


def _off(board: dict[str, Any]) -> float:
    outside, inside = np.array(board["outside"]), np.array(board["inside"])
    assert outside.shape == inside.shape, "both faces have the same corners"
    normal = np.linalg.svd(outside - outside.mean(axis=0))[2][-1]
    flat = np.abs((outside - outside[0]) @ normal).max()
    apart = np.abs(np.abs((inside - outside[0]) @ normal) - board["thickness_m"]).max()
    return float(max(flat, apart))
