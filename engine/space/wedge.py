"""The box's own geometry: outer sizes and board thickness to volumes, angles and corners.

The box is a prism of ``outer_width`` whose cross-section is a quadrilateral.  Its own axes start at the outer bottom
back corner: y forward, z up.  Bottom and top are horizontal; the back leans by ``back_angle`` from the vertical
(positive where it leans forward going up) and the baffle runs straight from the bottom's front edge to the top's.  A
slanted panel of thickness t takes t/cos θ of depth, θ its lean from the vertical.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from engine.arrays import Floats
from engine.core.compiled import Table, in_pieces, table
from engine.packing.box import Box, measure


class _Figure:
    """A figure that :func:`~engine.packing.box.measure` finds for every box, (N,)."""

    def __set_name__(self, owner: type, name: str) -> None:
        self.name = name

    def __get__(self, wedges: Wedges, owner: type) -> Floats:
        return np.asarray(wedges.boxes[self.name])


@dataclass(frozen=True, kw_only=True)
class Wedges:
    """A batch of boxes, arrays (N,), lengths in m, angles in rad, |back_angle| < π/2.

    ``top_depth`` and ``bottom_depth`` are outer depths measured horizontally.  A ``layer`` makes the baffle so much
    thicker than the board, (N,) or the same for all.  Impossible sizes (walls that meet) raise
    nothing: ``violation`` is positive and the volume is 0 or that of the part which is not inside out.
    """

    outer_width: Floats
    outer_height: Floats
    top_depth: Floats
    bottom_depth: Floats
    board: float
    back_angle: float
    layer: Floats | float = 0.0  # of the baffle, outside the first

    baffle_slope = _Figure()  # forward run of the baffle per metre of height; negative where the baffle leans back
    baffle_secant = _Figure()  # 1/cos of the baffle's angle
    inner_width = _Figure()
    inner_height = _Figure()
    inner_area = _Figure()  # of the cross-section, m², never negative
    front = _Figure()  # thickness of the baffle, its second layer included
    gross_volume = _Figure()  # between the panels, m³
    thin_end = _Figure()  # depth inside at the bottom or the top, whichever is less, m
    violation = _Figure()  # how far walls overlap: positive where two of them meet and leave no inside

    def __len__(self) -> int:
        return len(self.outer_width)

    def take(self, index: NDArray[np.bool_] | NDArray[np.intp]) -> Wedges:
        outer = ("outer_width", "outer_height", "top_depth", "bottom_depth")
        layer = np.broadcast_to(self.layer, len(self))[index]
        return replace(self, **{name: getattr(self, name)[index] for name in outer}, layer=layer)

    @cached_property
    def back_slope(self) -> float:
        """Forward run of the back per metre of height."""
        return math.tan(self.back_angle)

    @cached_property
    def back_secant(self) -> float:
        """1/cos of the back's angle."""
        return math.hypot(1.0, self.back_slope)

    @cached_property
    def boxes(self) -> Table:
        """A row of :class:`~engine.packing.box.Box` for each."""
        outer = (self.outer_width, self.outer_height, self.bottom_depth, self.top_depth)
        sizes = np.array([*outer, np.broadcast_to(self.layer, len(self))], dtype=float)
        found = table(Box, len(self))
        # So little is done for each that other threads would cost more than they do.
        lean = (self.back_slope, self.back_secant)
        in_pieces(measure, len(self), sizes, float(self.board), lean, found, threads=1)
        return found

    @property
    def upside_down(self) -> Wedges:
        """The same boxes on their heads: bottom and top change places, and the back leans the other way."""
        return replace(self, top_depth=self.bottom_depth, bottom_depth=self.top_depth, back_angle=-self.back_angle)

    @cached_property
    def outer_volume(self) -> Floats:
        """Volume over the panels, (N,) m³."""
        return self.outer_width * self.outer_height * 0.5 * (self.top_depth + self.bottom_depth)

    @property
    def lean(self) -> Floats:
        """Of the baffle from upright, (N,) rad; positive where it leans forward going up."""
        return np.arctan(self.baffle_slope)

    @property
    def board_volume(self) -> Floats:
        """Volume of the six panels before holes are cut, (N,) m³."""
        return self.outer_volume - self.gross_volume

    @property
    def layer_face(self) -> Floats:
        """Area of a second layer of the baffle, which lies between sides, bottom and top, (N,) m²; 0 without one."""
        area = np.maximum(self.inner_width, 0.0) * np.maximum(self.inner_height, 0.0) * self.baffle_secant
        return np.where(np.asarray(self.layer) > 0.0, area, 0.0)

    @cached_property
    def outer_depth(self) -> Floats:
        """Depth from the rearmost to the foremost point, the lean of the box included, (N,) m."""
        rise = self.outer_height * self.back_slope
        return np.maximum(self.bottom_depth, rise + self.top_depth) - np.minimum(rise, 0.0)

    @property
    def outer_section(self) -> Floats:
        """Outer corners (y, z): bottom back, bottom front, top front, top back, (N, 4, 2) m."""
        zero, rise = np.zeros(len(self)), self.outer_height * self.back_slope
        y = [zero, self.bottom_depth, rise + self.top_depth, rise]
        z = [zero, zero, self.outer_height, self.outer_height]
        return np.stack([np.stack(y, axis=-1), np.stack(z, axis=-1)], axis=-1)

    @property
    def inner_section(self) -> Floats:
        """Inner corners (y, z) in the same order as the outer ones, (N, 4, 2) m."""
        low, high = np.full(len(self), self.board), self.outer_height - self.board
        back, front = self.board * self.back_secant, self.bottom_depth - self.front * self.baffle_secant
        rear_low, rear_high = (z * self.back_slope + back for z in (low, high))
        front_low, front_high = (front + z * self.baffle_slope for z in (low, high))
        y = [rear_low, front_low, front_high, rear_high]
        return np.stack([np.stack(y, axis=-1), np.stack([low, low, high, high], axis=-1)], axis=-1)
