"""What is to go into a box: drivers, vents or passive radiators, the terminal cup, with the sizes that decide."""

from __future__ import annotations

from dataclasses import dataclass, field, fields, replace
from functools import cached_property
from typing import Self

import numpy as np
from numpy.typing import NDArray

from engine.facings import DOWN, FRONT, SIDEWAYS
from engine.parts import TerminalCup

__all__ = ["DOWN", "FRONT", "SIDEWAYS", "TERMINAL_WIDTH", "Contents", "Rules"]

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Rows = NDArray[np.intp]

TERMINAL_WIDTH = 0.040  # m, over the solder tags of a driver, common practice, no source


def _none() -> Floats:
    return np.zeros(())


def _unstated() -> Floats:
    return np.full((), np.nan)


@dataclass(frozen=True, kw_only=True)
class Contents:
    """What is to go into each box, arrays (N,), lengths in m.

    ``facing`` is the code of one of ``FACINGS``.  Optional sizes are nan where they are not
    stated: ``magnet_depth`` (the driver is then taken to narrow evenly down to its rear),
    ``terminal_depth`` (within the basket), ``elbow_radius`` (no bend in this size of pipe) and
    ``slot_height`` (the vents are pipes).  A slot is one vent and has no use for the pipe's
    sizes.  Passive radiators go into boxes without vents.  What has a default may be one
    number for all boxes, an array without axes.
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
    flare_radius: Floats = field(default_factory=_none)  # of the quarter round at both ends of a pipe
    slot_height: Floats = field(default_factory=_unstated)  # in the clear
    radiator_count: Floats = field(default_factory=_none)
    radiator_outer: Floats = field(default_factory=_unstated)  # over the flange
    radiator_cutout: Floats = field(default_factory=_unstated)
    radiator_depth: Floats = field(default_factory=_unstated)  # added mass included
    radiator_displacement: Floats = field(default_factory=_none)  # m³, one radiator

    def __len__(self) -> int:
        return len(self.facing)

    def take(self, rows: Rows) -> Self:
        values = {each: getattr(self, each) for each in NAMES}
        return type(self)(**{each: value[rows] if value.ndim else value for each, value in values.items()})

    def for_each(self) -> Self:
        """The same with every field an array (N,)."""
        return type(self)(**{each: np.broadcast_to(getattr(self, each), self.facing.shape) for each in NAMES})

    def pipes_alone(self) -> Self:
        """The same for boxes that all have pipes, without what is of no use to them."""
        return replace(
            self,
            slot_height=_unstated(),
            radiator_count=_none(),
            radiator_outer=_unstated(),
            radiator_cutout=_unstated(),
            radiator_depth=_unstated(),
            radiator_displacement=_none(),
        )

    @cached_property
    def vent_rim(self) -> Floats:
        """Widest part of a pipe: itself or the rim of its flares."""
        return np.maximum(self.vent_outer, self.vent_inner + 2.0 * self.flare_radius)

    @property
    def slotted(self) -> NDArray[np.bool_]:
        """Whether the vent is a slot, (N,)."""
        return (self.vent_count > 0.0) & ~np.isnan(self.slot_height)

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


NAMES = tuple(each.name for each in fields(Contents))


@dataclass(frozen=True, kw_only=True)
class Rules:
    """What is kept free and what is given, the same for every box of a batch, lengths in m."""

    breathing_gap: float
    brace_span: float  # widest unsupported width of a panel
    c: float  # m/s
    round_over: float = 0.0  # radius of rounded outer edges, kept free of flanges
    cup: TerminalCup | None = None
