"""What is to go into a box: drivers, vents, the terminal cup, with the sizes that decide whether they fit."""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Self

import numpy as np
from numpy.typing import NDArray

from engine.parts import TerminalCup

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Rows = NDArray[np.intp]

FACINGS = ("front", "down", "side")  # the baffle, the bottom panel, the right side panel
FRONT, DOWN, SIDEWAYS = range(3)

TERMINAL_WIDTH = 0.040  # m, over the solder tags of a driver, common practice, no source


@dataclass(frozen=True, kw_only=True)
class Contents:
    """What is to go into each box, arrays (N,), lengths in m.

    ``facing`` is a number into ``FACINGS``.  Optional sizes are nan where they are not
    stated: ``magnet_depth`` (the driver is then taken to narrow evenly down to its rear),
    ``terminal_depth`` (within the basket) and ``elbow_radius`` (no bend in this size of pipe).
    """

    facing: Integers
    outer_diameter: Floats
    cutout_diameter: Floats
    magnet_diameter: Floats
    mounting_depth: Floats
    magnet_depth: Floats
    rear_gap: Floats  # air behind the magnet
    terminal_depth: Floats
    driver_displacement: Floats  # m³, one driver
    driver_count: Floats
    vent_count: Floats  # 0 for closed boxes
    vent_inner: Floats
    vent_outer: Floats
    elbow_radius: Floats

    def __len__(self) -> int:
        return len(self.facing)

    def take(self, rows: Rows) -> Self:
        return type(self)(**{field.name: getattr(self, field.name)[rows] for field in fields(self)})

    @property
    def inside_diameter(self) -> Floats:
        """Widest part of a driver behind its panel."""
        return np.maximum(self.cutout_diameter, self.magnet_diameter)

    @property
    def widest(self) -> Floats:
        """Widest part of a driver, flange included."""
        return np.maximum(self.outer_diameter, self.inside_diameter)

    def reach(self, board: float) -> Floats:
        """Depth of a driver behind the panel's outer face, never less than the board."""
        return np.maximum(self.mounting_depth, board)

    def neck(self, board: float) -> Floats:
        """Depth at which the basket has narrowed to the magnet."""
        return np.maximum(self.reach(board) - np.nan_to_num(self.magnet_depth), board)


@dataclass(frozen=True, kw_only=True)
class Rules:
    """What is kept free and what is given, the same for every box of a batch, lengths in m."""

    breathing_gap: float
    brace_span: float  # widest unsupported width of a panel
    c: float  # m/s
    round_over: float = 0.0  # radius of rounded outer edges, kept free of flanges
    cup: TerminalCup | None = None
