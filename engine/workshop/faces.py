"""A panel's outer face: where places on it are measured from and how it is seen square on."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from engine.workshop.projection import View

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Face:
    """The outer face of a panel, with the corner that places on it are measured from.

    Places are (across, up): from the left or, on the sides, from the rear; and up the panel
    or, on bottom and top, forward.
    """

    corner: Floats  # (3,)
    across: Floats  # (3,), of unit length
    up: Floats  # (3,), of unit length
    mirrored: bool  # seen from outside, ``across`` runs to the left
    outline: Floats  # (K, 2)
    inner: Floats  # (K, 2), where the inside begins behind it

    @property
    def view(self) -> View:
        """The panel square on from outside, its corner at (0, 0)."""
        return View(-self.across if self.mirrored else self.across, self.up, self.corner)

    def on(self, point: Floats) -> tuple[float, float]:
        """Where the foot of a point (x, y, z) lies on the face."""
        return float((point - self.corner) @ self.across), float((point - self.corner) @ self.up)

    def seen(self, places: Floats) -> Floats:
        """Places on the face as ``view`` has them."""
        return places * [-1.0, 1.0] if self.mirrored else places


def rectangle(left: float, right: float, low: float, high: float) -> Floats:
    return np.array([(left, low), (right, low), (right, high), (left, high)])
