"""The six panels of a box: their outer faces to measure on, their names in words."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.arrays import Floats
from engine.quantities import Units, show_sawn, show_set_out, show_size
from engine.space.bodies import SIDES, Assembly

SEEN = {
    "baffle": "",
    "bottom": " from outside, that is from below",
    "top": " from outside, that is from above",
}  # square on; the others " from outside"
FROM = {
    "baffle": "from the left and the lower edge",
    "back": "from the left end (seen from the front) and the lower edge",
    "bottom": "from the left and the rear edge",
    "top": "from the left and the front edge",
    **dict.fromkeys(SIDES, "from the lower rear corner, forward and up"),
}
# Corners of the section that a panel runs between: from its lower edge, the bottom from the rear, the top from the
# front.
_CORNERS = {"bottom": (0, 1), "top": (2, 3), "back": (0, 3), "baffle": (1, 2)}


@dataclass(frozen=True)
class Face:
    """The outer face of a panel, with the corner that places on it are measured from.

    Places are (across, up): from the left or, on the sides, from the rear; up the panel or, on the bottom, forward, on
    the top back: so is it seen by who faces the baffle.
    """

    corner: Floats  # (3,)
    across: Floats  # (3,), of unit length
    up: Floats  # (3,), of unit length
    mirrored: bool  # seen from outside, ``across`` runs to the left
    outline: Floats  # (K, 2)
    inner: Floats  # (K, 2), where the inside begins behind it

    def on(self, point: Floats) -> tuple[float, float]:
        """Where the foot of a point (x, y, z) lies on the face."""
        return float((point - self.corner) @ self.across), float((point - self.corner) @ self.up)

    def seen(self, places: Floats) -> Floats:
        """Places on the face as who stands before it sees them."""
        return places * [-1.0, 1.0] if self.mirrored else places


def double_baffle(board: float, layer: float, units: Units) -> str:
    """A baffle with a second ``layer`` outside its ``board``, m, in words."""
    thick, outer = show_size(board, units), show_size(layer, units)
    return f"double baffle, 2 × {thick}" if thick == outer else f"double baffle, {outer} outside on {thick}"


def panel_face(parts: Assembly, panel: str) -> Face:
    """The outer face of a panel by its name."""
    corners, inner, (left, right) = parts.outer.section, parts.inner, parts.outer.x
    if panel in SIDES:
        mirrored = panel == "right side"
        corner = np.array([right if mirrored else left, *corners[0]])
        _, across, up = np.eye(3)
        return Face(corner, across, up, mirrored, corners - corners[0], inner.section - corners[0])
    ends = _CORNERS[panel]
    low, high = (np.array([left, *corners[k]]) for k in ends)
    long = float(np.linalg.norm(high - low))
    along = (high - low) / long
    start, end = (float((np.array([left, *inner.section[k]]) - low) @ along) for k in ends)
    outline = rectangle(0.0, right - left, 0.0, long)
    inside = rectangle(inner.x[0] - left, inner.x[1] - left, start, end)
    return Face(low, np.array([1.0, 0.0, 0.0]), along, panel == "back", outline, inside)


def rectangle(left: float, right: float, low: float, high: float) -> Floats:
    return np.array([(left, low), (right, low), (right, high), (left, high)])


@dataclass(frozen=True, kw_only=True)
class Telling:
    """How what is in a box is said: the box, its row of the front, who reads it.

    ``facts`` are what the front states about it (a row, by column), empty for a box that is in none.
    ``seen`` is the panel in the drawing that the words go with, whose dimensions already say where things are.
    """

    parts: Assembly
    facts: Mapping[str, Any]
    units: Units
    driven: str  # panel that the drivers are in
    seen: str = ""

    def length(self, value: float) -> str:
        return length(value, self.units)

    def panel(self, name: str) -> str:
        return called(name)

    def pairs(self, panel: str, points: Sequence[Floats] | Floats) -> str:
        """Places of points (x, y, z) on a panel, as they are set out."""
        face = panel_face(self.parts, panel)
        return "; ".join(
            " and ".join(show_set_out(size, self.units).replace(" ", "\u00a0") for size in face.on(point))
            for point in points
        )

    def places(self, panel: str, centres: Sequence[Floats]) -> str:
        """Where centres lie, as a sentence after a space; nothing where the drawing says it."""
        if panel == self.seen:
            return ""
        return f" {'Centre' if len(centres) == 1 else 'Centres'} {FROM[panel]}: {self.pairs(panel, centres)}."


def called(panel: str) -> str:
    return panel if panel == "baffle" else f"{panel} panel"


def length(value: float, units: Units) -> str:
    """A length whose unit stays on the same line."""
    return show_sawn(value, units).replace(" ", "\u00a0")


def times(count: int, name: str) -> str:
    """How a paragraph about one or several of a kind begins."""
    return f"{name}: " if count == 1 else f"{name}s: {count} × "
