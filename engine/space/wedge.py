"""The box's own geometry: outer sizes and board thickness to volumes, angles and corners.

The box is a prism of ``outer_width`` whose cross-section is a quadrilateral.  Its own axes
start at the outer bottom back corner: y forward, z up.  Bottom and top are horizontal;
the back leans by ``back_angle`` from the vertical (positive where it leans forward going
up) and the baffle runs straight from the bottom's front edge to the top's.  A slanted
panel of thickness t takes t/cos θ of depth, θ its lean from the vertical.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


@dataclass(frozen=True, kw_only=True)
class Wedges:
    """A batch of boxes, arrays (N,), lengths in m, angles in rad, |back_angle| < π/2.

    ``top_depth`` and ``bottom_depth`` are outer depths measured horizontally.  Impossible
    sizes (walls that meet) raise nothing: ``violation`` is positive and the volume is 0
    or that of the part which is not inside out.
    """

    outer_width: Floats
    outer_height: Floats
    top_depth: Floats
    bottom_depth: Floats
    board: float
    back_angle: float

    def __len__(self) -> int:
        return len(self.outer_width)

    def take(self, index: NDArray[np.bool_] | NDArray[np.intp]) -> Wedges:
        return Wedges(
            outer_width=self.outer_width[index],
            outer_height=self.outer_height[index],
            top_depth=self.top_depth[index],
            bottom_depth=self.bottom_depth[index],
            board=self.board,
            back_angle=self.back_angle,
        )

    @cached_property
    def back_slope(self) -> float:
        """Forward run of the back per metre of height."""
        return math.tan(self.back_angle)

    @cached_property
    def back_secant(self) -> float:
        """1/cos of the back's angle."""
        return math.hypot(1.0, self.back_slope)

    @cached_property
    def taper(self) -> Floats:
        """Depth gained per metre of height, (N,); a box lower than its board is taken as high as that."""
        return (self.top_depth - self.bottom_depth) / np.maximum(self.outer_height, self.board)

    @cached_property
    def baffle_slope(self) -> Floats:
        """Forward run of the baffle per metre of height, (N,); negative where the baffle leans back."""
        return self.back_slope + self.taper

    @cached_property
    def baffle_secant(self) -> Floats:
        """1/cos of the baffle's angle, (N,)."""
        return np.sqrt(1.0 + self.baffle_slope**2)

    @cached_property
    def panel_depth(self) -> Floats:
        """Depth taken by back and baffle together, measured horizontally, (N,) m."""
        return self.board * (self.back_secant + self.baffle_secant)

    @cached_property
    def inner_width(self) -> Floats:
        return self.outer_width - 2.0 * self.board

    @cached_property
    def inner_height(self) -> Floats:
        return self.outer_height - 2.0 * self.board

    @cached_property
    def inner_area(self) -> Floats:
        """Area of the inner cross-section, (N,) m², never negative."""
        depth = 0.5 * (self.top_depth + self.bottom_depth) - self.panel_depth
        return np.maximum(self.inner_height, 0.0) * np.maximum(depth, 0.0)

    @cached_property
    def gross_volume(self) -> Floats:
        """Volume between the panels, (N,) m³: (W-2t)(H-2t)((Db+Dt)/2 - t/cos θback - t/cos θbaffle)."""
        return np.maximum(self.inner_width, 0.0) * self.inner_area

    @cached_property
    def outer_volume(self) -> Floats:
        """Volume over the panels, (N,) m³."""
        return self.outer_width * self.outer_height * 0.5 * (self.top_depth + self.bottom_depth)

    @property
    def board_volume(self) -> Floats:
        """Volume of the six panels before holes are cut, (N,) m³."""
        return self.outer_volume - self.gross_volume

    @cached_property
    def outer_depth(self) -> Floats:
        """Depth from the rearmost to the foremost point, the lean of the box included, (N,) m."""
        rise = self.outer_height * self.back_slope
        return np.maximum(self.bottom_depth, rise + self.top_depth) - np.minimum(rise, 0.0)

    @cached_property
    def violation(self) -> Floats:
        """How far walls overlap, (N,) m: positive where two of them meet and leave no inside."""
        change = self.taper * self.board
        at_bottom = self.bottom_depth + change - self.panel_depth
        at_top = self.top_depth - change - self.panel_depth
        tightest = np.minimum(np.minimum(at_bottom, at_top), np.minimum(self.inner_width, self.inner_height))
        return -tightest

    @property
    def outer_section(self) -> Floats:
        """Outer corners (y, z): bottom back, bottom front, top front, top back, (N, 4, 2) m."""
        zero = np.zeros(len(self))
        rise = self.outer_height * self.back_slope
        y = np.stack([zero, self.bottom_depth, rise + self.top_depth, rise], axis=-1)
        z = np.stack([zero, zero, self.outer_height, self.outer_height], axis=-1)
        return np.stack([y, z], axis=-1)

    @property
    def inner_section(self) -> Floats:
        """Inner corners (y, z) in the same order as the outer ones, (N, 4, 2) m."""
        low = np.full(len(self), self.board)
        high = self.outer_height - self.board
        back = self.board * self.back_secant
        front = self.bottom_depth - self.board * self.baffle_secant
        y = np.stack(
            [
                low * self.back_slope + back,
                front + low * self.baffle_slope,
                front + high * self.baffle_slope,
                high * self.back_slope + back,
            ],
            axis=-1,
        )
        z = np.stack([low, low, high, high], axis=-1)
        return np.stack([y, z], axis=-1)
