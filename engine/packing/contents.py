"""What is to go into a box: drivers, vents or passive radiators, the terminal cup, with the sizes that decide."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from typing import Any, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from engine.core.compiled import Table, table
from engine.parts import TerminalCup

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Rows = NDArray[np.intp]

TERMINAL_WIDTH = 0.040  # m, over the solder tags of a driver, common practice, no source


@dataclass(frozen=True, kw_only=True)
class Contents:
    """What is to go into each box, arrays (N,), lengths in m.

    ``facing`` is the code of one of ``FACINGS``.  Optional sizes are nan where they are not
    stated: ``magnet_depth`` (the driver is then taken to narrow evenly down to its rear) and
    ``terminal_depth`` (within the basket).  ``opening`` is a number into ``engine.openings.OPENINGS``;
    ``sizes`` has what openings say of theirs, by name, with anything where a design has another opening.
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
    opening: Integers
    sizes: Mapping[str, Floats]

    def __len__(self) -> int:
        return len(self.facing)

    def take(self, rows: Rows) -> Self:
        values: dict[str, Any] = {each.name: getattr(self, each.name)[rows] for each in fields(self)[:-1]}
        return replace(self, **values, sizes={name: value[rows] for name, value in self.sizes.items()})

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


class Driver(NamedTuple):
    """The drivers of one design, all alike, lengths in m; depths are behind their panel's outer face."""

    facing: int
    number: float
    flange: float  # diameter
    cutout: float  # diameter
    magnet: float  # diameter
    inside: float  # widest behind the panel
    widest: float  # flange included
    reach: float  # depth of the rear, never less than the board
    neck: float  # depth at which the basket has narrowed to the magnet
    rear_gap: float  # air behind the magnet
    displacement: float  # m³, one driver


class Allowances(NamedTuple):
    """``Rules`` as the packing takes them, one row for every box of a batch; sizes of the cup are 0 without one."""

    gap: float
    brace_span: float
    c: float  # m/s
    round_over: float
    cup: bool
    cup_cutout: float
    cup_flange: float
    cup_depth: float


class Surroundings(NamedTuple):
    """What one box is asked for and what lies round it, m."""

    tuning: float  # Hz, as lumps of air; 1 where there is none
    free_width: float  # that the space leaves where the box stands
    driver_air: float  # that a driver in the side panel needs before it
    ahead: float  # free way straight ahead of the baffle
    under: float  # free height under a box whose drivers face down
    worth: bool  # fails for no reasons of its own
    thorough: bool  # a misfit too is to be told how near each way comes


class Batch(NamedTuple):
    """Designs as compiled loops take them: tables with a row for each, but one row of ``rules``."""

    boxes: Table
    drivers: Table
    rules: Table
    around: Table
    packed: Table


def drivers_of(contents: Contents, board: float) -> Table:
    """A row of :class:`Driver` for each design."""
    return table(
        Driver,
        len(contents),
        facing=contents.facing,
        number=contents.driver_count,
        flange=contents.outer_diameter,
        cutout=contents.cutout_diameter,
        magnet=contents.magnet_diameter,
        inside=contents.inside_diameter,
        widest=contents.widest,
        reach=contents.reach(board),
        neck=contents.neck(board),
        rear_gap=contents.rear_gap,
        displacement=contents.driver_displacement,
    )


def allowances_of(rules: Rules) -> Table:
    """The one row of :class:`Allowances`."""
    cup = rules.cup
    return table(
        Allowances,
        1,
        gap=rules.breathing_gap,
        brace_span=rules.brace_span,
        c=rules.c,
        round_over=rules.round_over,
        cup=cup is not None,
        cup_cutout=cup.cutout_diameter if cup else 0.0,
        cup_flange=cup.flange_diameter if cup else 0.0,
        cup_depth=cup.depth if cup else 0.0,
    )
