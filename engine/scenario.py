"""One job: the space, what is at hand, and what is asked of a design."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from engine.acoustics.cabin import Cabin
from engine.acoustics.filters import NO_CHAIN, Chain
from engine.acoustics.gain import Use
from engine.air import REFERENCE_AIR, Air
from engine.goals import USUAL_LEVELS, default_objectives
from engine.parts import CUTTING, SAW, Amplifier, Cutting, Driver, Saw, SheetStock, Space, Stock
from engine.tolerances import usual
from engine.wiring import COIL_JOINS, DRIVER_JOINS


@dataclass(frozen=True, kw_only=True)
class Candidate:
    """A driver to try, and how many of it."""

    driver: Driver
    counts: tuple[int, ...] = (1,)
    coil_wirings: tuple[str, ...] = COIL_JOINS  # how coils may be joined, and drivers
    driver_wirings: tuple[str, ...] = DRIVER_JOINS
    load: float = math.nan  # ohm, that it has to come to; nan: any


BAFFLES = ("single", "double")  # a double one is a second layer of board glued on outside


JOINT_ORDERS = ("sides over all", "baffle over all")  # records of them: engine.workshop.joints


@dataclass(frozen=True, kw_only=True)
class Build:
    """How a pick is built; a search goes by none of it."""

    joints: str = JOINT_ORDERS[0]
    board_thickness: float = math.nan  # m, as measured once it is bought; nan: the stock's
    baffle_layer: float = math.nan  # m, of a double baffle, likewise
    glue_strip: float = 0.0  # m, side of square strips glued into the inner corners; 0: none
    sheets: tuple[SheetStock, ...] = ()  # none: those of a common size
    cutting: Cutting = CUTTING


@dataclass(frozen=True, kw_only=True)
class BoxChoices:
    """What is given of the box before the search: kinds, lean, losses, clearances.

    ``fillings`` are names in :data:`engine.acoustics.filling.FILLINGS`, tried in closed boxes only.
    """

    kinds: tuple[str, ...] = ("closed", "vented")
    facings: tuple[str, ...] = ("front",)
    baffles: tuple[str, ...] = BAFFLES[:1]
    pipe_outlets: tuple[str, ...] = ("usual",)  # in :data:`engine.openings.pipe.OUTLETS`
    baffle_recess: float = 0.0  # m that flanges of drivers and passive radiators are sunk into their panel
    back_angle: float = 0.0  # rad from vertical, positive where the back leans forward going up
    fillings: tuple[str, ...] = ("none",)
    ql: float = 7.0  # leakage Q of boxes that are not closed
    breathing_gap: float = 0.010  # m, air kept free around basket, magnet and vents
    carpet: float = 0.0  # m, thickness of what covers the box outside
    round_over: float = 0.0  # m, radius of its rounded outer edges; flanges stay off them
    joint_distance: float = 0.010  # m of wood from screws of flanges to joints; 0: anything goes; common practice
    least_depth: float = 0.040  # m, inside from back to baffle, where that is least; common practice, no source


@dataclass(frozen=True, kw_only=True)
class FilterChoice:
    """An infrasonic high-pass to try: ``order`` 0 is none, ``frequency`` a range in Hz, ``q`` that of shape "own"."""

    order: int = 0
    frequency: tuple[float, float] = (0.0, 0.0)
    shape: str = "butterworth"
    q: float = math.nan


DRIVES = ("held", "full power")
# What is tried where a job lists no filter.
USUAL_FILTERS = (
    FilterChoice(),
    FilterChoice(order=2, frequency=(15.0, 50.0)),
    FilterChoice(order=4, frequency=(15.0, 50.0)),
)


@dataclass(frozen=True, kw_only=True)
class Goals:
    """What is asked of the design, and how it is used.

    ``fed_from`` is the lowest frequency that it is fed and ``levels`` are where its level is told, Hz.  Designs are
    turned down to the one gain at which they hold their limits ("held"), or judged at "full power".
    """

    fed_from: float = 20.0
    levels: tuple[float, ...] = USUAL_LEVELS
    drive: str = DRIVES[0]
    music_band: tuple[float, float] = (25.0, 80.0)  # Hz
    vent_speed_limit: float = 17.0  # m/s, peak
    objectives: tuple[str, ...] = field(default_factory=default_objectives)
    limits: dict[str, float] = field(default_factory=dict)  # objective -> worst value accepted

    @property
    def use(self) -> Use:
        """How designs are used, as the acoustics take it."""
        return Use(fed_from=self.fed_from, levels=self.levels, full_drive=self.drive == "full power")


@dataclass(frozen=True, kw_only=True)
class Scenario:
    """A whole job.

    ``bounds`` maps a variable of the search to (lowest, highest); ``held`` has sizes that every box has exactly, by the
    names of :mod:`engine.space.sizes`, m and rad.  ``only`` keeps the search to part of what the job allows: a column
    that names a family, and the value that it has to have.  ``chain`` and ``cabin`` are the same for every design;
    without a cabin nothing is said of the vehicle.
    """

    title: str
    about: str = ""
    space: Space
    box: BoxChoices
    candidates: tuple[Candidate, ...]
    amplifier: Amplifier
    stock: Stock
    saw: Saw = SAW
    build: Build = Build()
    filters: tuple[FilterChoice, ...] = USUAL_FILTERS
    chain: Chain = NO_CHAIN
    cabin: Cabin | None = None
    goals: Goals = Goals()
    bounds: dict[str, tuple[float, float]] = field(default_factory=dict)
    held: Mapping[str, float] = field(default_factory=dict)
    only: Mapping[str, str | int] = field(default_factory=dict)
    air: Air = REFERENCE_AIR
    currency: str = ""
    evaluations: int = 200_000
    tolerance: Mapping[str, float] = field(default_factory=usual)  # deviations of what is built, SI
    document: Mapping[str, Any] = field(default_factory=dict, compare=False, repr=False)  # that it was read from
    digest: str = ""  # of the document it was read from, without what a search does not go by
