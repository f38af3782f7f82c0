"""What is to go into a box: drivers, vents or passive radiators, the terminal cup, with the sizes that decide."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace
from functools import cached_property
from typing import Any, NamedTuple, Self

import numpy as np
from numpy.typing import NDArray

from engine.core.compiled import Table, compiled, table
from engine.facings import DOWN, UP
from engine.parts import TerminalCup

Floats = NDArray[np.float64]
Integers = NDArray[np.int64]
Rows = NDArray[np.intp]

TERMINAL_WIDTH = 0.040  # m, over the solder tags of a driver, common practice, no source
# Common practice, no source: screws of a flange lie midway between its edge and the hole, and they or their nuts stand
# out so far behind the board.
SCREW_REACH = 0.010  # m
SCREW_HOLD = 0.010  # m of board that screws of a flange need behind it, common practice, no source


@dataclass(frozen=True, kw_only=True)
class Contents:
    """What is to go into each box: which of the ``drivers`` (a row of :class:`Driver` for each set), arrays (N,).

    ``opening`` is a number into ``engine.openings.OPENINGS``; ``sizes`` has what openings say of theirs, by name, with
    anything where a design has another opening.
    """

    drivers: Table
    which: Integers
    opening: Integers
    sizes: Mapping[str, Floats]

    def __len__(self) -> int:
        return len(self.which)

    def driver(self, name: str) -> NDArray[Any]:
        """A field of each design's :class:`Driver`, (N,)."""
        return np.asarray(self.drivers[name][self.which])

    def take(self, rows: Rows) -> Self:
        sizes = {name: values[rows] for name, values in self.sizes.items()}
        return replace(self, which=self.which[rows], opening=self.opening[rows], sizes=sizes)


@dataclass(frozen=True, kw_only=True)
class Rules:
    """What is kept free and what is given, the same for every box of a batch, lengths in m."""

    breathing_gap: float
    brace_span: float  # widest unsupported width of a panel
    c: float  # m/s
    round_over: float = 0.0  # radius of rounded outer edges, kept free of flanges
    cup: TerminalCup | None = None
    vent_excess: float = 1.0  # speed that air may have in a vent over what it may have past a brace
    cup_room: float = 0.0  # beside the box, for the plug
    wood: float = 0.0  # between screws of flanges and joints; 0: flanges and their screws may lie over joints
    recess: float = 0.0  # that flanges of drivers and radiators are sunk into their panel

    @cached_property
    def allowances(self) -> Table:
        """The one row of :class:`Allowances`."""
        row = (self.breathing_gap, self.brace_span, self.c, self.round_over, self.vent_excess, self.wood)
        cup = self.cup
        sizes = (cup.cutout_diameter, cup.flange_diameter, cup.depth, self.cup_room) if cup else (0.0, 0.0, 0.0, 0.0)
        found = table(Allowances, 1)
        found[0] = (*row, cup is not None, *sizes, self.recess)
        return found


class Driver(NamedTuple):
    """The drivers of one design, all alike, lengths in m; depths are behind their panel's outer face."""

    facing: int  # of ``FACINGS``, in the box as it is packed
    number: float
    flange: float  # diameter
    cutout: float  # diameter
    magnet: float  # diameter
    inside: float  # widest behind the panel
    widest: float  # flange included
    reach: float  # depth of the rear, never less than the panel
    neck: float  # depth at which the basket has narrowed to the magnet
    rear_gap: float  # air behind the magnet
    terminal_depth: float  # nan where it is within the basket
    displacement: float  # m³, one driver
    stirred: float  # m² at which the air of all of them would pass a brace just as fast as it may
    upside_down: bool = False  # it is packed on its head: drivers that face up then face down


class Allowances(NamedTuple):
    """``Rules`` as the packing takes them, one row for every box of a batch; sizes of the cup are 0 without one."""

    gap: float
    brace_span: float
    c: float  # m/s
    round_over: float
    vent_excess: float
    wood: float
    cup: bool
    cup_cutout: float
    cup_flange: float
    cup_depth: float
    cup_room: float  # beside the box
    recess: float


class Surroundings(NamedTuple):
    """What one box is asked for and what lies round it, m; of a batch, arrays (N,)."""

    tuning: Any  # Hz, as lumps of air; anything where there is none
    free_width: Any  # that the space leaves where the box stands
    driver_air: Any  # that a driver in the side panel needs before it
    ahead: Any  # free way straight ahead of the baffle
    under: Any  # free height before drivers that face down, or up in a box packed upside down
    above: Any  # free height above the top panel
    worth: Any  # fails for no reasons of its own
    thorough: Any  # a misfit too is to be told how near each way comes


class Batch(NamedTuple):
    """Designs as compiled loops take them: a row for each, but one row of ``rules``."""

    boxes: Table
    drivers: Table  # a row for each set of drivers
    which: Integers  # of them each design has
    rules: Table
    around: Surroundings
    packed: Table


@compiled
def wood_round_screws(cutout: float, flange: float, wood: float) -> float:
    """Radius in m of the disc of board that a flange's screws need, ``wood`` m round them; 0 where none is asked."""
    return 0.25 * (cutout + flange) + wood if wood > 0.0 else 0.0


def drivers_of(
    *,
    facing: Integers,
    number: Floats,
    outer_diameter: Floats,
    cutout_diameter: Floats,
    magnet_diameter: Floats,
    mounting_depth: Floats,
    magnet_depth: Floats,
    rear_gap: Floats,
    terminal_depth: Floats,
    displacement: Floats,
    board: Floats | float,
    breathing_gap: float,
    stirred: Floats | float = 0.0,
) -> Table:
    """A row of :class:`Driver` for each set of drivers, arrays (K,), lengths in m.

    ``facing`` is the code of one of ``FACINGS``, ``board`` the thickness of their panel.  A box whose drivers face up
    is the mirror image of one whose drivers face down, and packed as that.  Optional sizes are nan where they are not
    stated: ``magnet_depth`` (the driver is then taken to narrow evenly down to its rear), ``rear_gap``
    (the ``breathing_gap`` then) and ``terminal_depth`` (within the basket).  ``stirred`` is the area of a brace's
    opening that all drivers of a set need, if they send their air past it, m².
    """
    inside, reach = np.maximum(cutout_diameter, magnet_diameter), np.maximum(mounting_depth, board)
    return table(
        Driver,
        len(facing),
        facing=np.where(facing == UP, DOWN, facing),
        number=number,
        flange=outer_diameter,
        cutout=cutout_diameter,
        magnet=magnet_diameter,
        inside=inside,
        widest=np.maximum(outer_diameter, inside),
        reach=reach,
        neck=np.maximum(reach - np.nan_to_num(magnet_depth), board),
        rear_gap=np.where(np.isnan(rear_gap), breathing_gap, rear_gap),
        terminal_depth=terminal_depth,
        displacement=displacement,
        stirred=stirred,
        upside_down=facing == UP,
    )
