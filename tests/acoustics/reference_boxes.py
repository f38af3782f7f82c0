"""Boxes solved by finite elements (``reference_boxes.json``, made by ``finite_elements.py``) and what they say.

Drivers and passive radiators are as invented for the comparison: heavy enough that the air matters
as it does in practice.  Peaks are those of the electrical impedance without losses.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import brentq

from engine.acoustics.bends import MITRE_SQUARES
from engine.acoustics.slots import FREE_OVER_FLUSH, full_width_end
from engine.acoustics.vents import FLUSH_END, FREE_END
from engine.air import REFERENCE_AIR

Floats = NDArray[np.float64]
Place = tuple[float, float, float]

RECORD = Path(__file__).with_name("reference_boxes.json")
DRIVER_FS = 30.0  # Hz
AREAL_MASS = 4.0  # kg for each m² of a driver's cone, the free air on both sides in it
RADIATOR_FS = 16.0  # Hz, with the moving mass below
RADIATOR_AREAL_MASS = 12.0


@dataclass(frozen=True, kw_only=True)
class Slot:
    """A slot along the bottom, or the top, as deep as the box: sizes inside, m."""

    height: float
    board: float
    length: float  # from the left side panel's inner face to the mouth, or to the inner corner where it turns
    turn: float = 0.0  # from the bottom's inner face up to the mouth, if it turns up the right side panel
    low: bool = True
    through: str = "side"


@dataclass(frozen=True, kw_only=True)
class Plate:
    """A brace: the left face of its board, and openings (low, high, rear, front), m.

    Each is open between two heights, and from so far before the back to so far behind the baffle, horizontally.
    """

    x: float
    openings: tuple[tuple[float, float, float, float], ...]
    thickness: float = 0.018


@dataclass(frozen=True, kw_only=True)
class Box:
    """One box: sizes in m; mouths and cones as (x, y, z) in the cavity's axes."""

    name: str
    width: float
    height: float
    bottom_depth: float
    top_depth: float
    back_slope: float
    vent_kind: str = "across"
    mouths: tuple[Place, ...] = ()
    bore: float = 0.0  # radius
    outer: float = 0.0
    inside: float = 0.0
    board: float = 0.018
    cone_kind: str = "face"
    cones: tuple[Place, ...] = ()
    cone: float = 0.0  # radius
    slot: Slot | None = None
    radiator_kind: str = "face"
    radiators: tuple[Place, ...] = ()
    radiator: float = 0.0
    plates: tuple[Plate, ...] = ()

    @classmethod
    def read(cls, stated: dict[str, Any]) -> Box:
        lists = {name: tuple(map(tuple, stated.get(name, ()))) for name in ("mouths", "cones", "radiators")}
        slot = Slot(**stated["slot"]) if stated.get("slot") else None
        plates = tuple(
            Plate(**{**each, "openings": tuple(map(tuple, each["openings"]))}) for each in stated.get("plates", ())
        )
        return cls(**{**stated, **lists, "slot": slot, "plates": plates})

    @property
    def baffle_slope(self) -> float:
        return self.back_slope + (self.top_depth - self.bottom_depth) / self.height

    def depth(self, z: float) -> float:
        return self.bottom_depth + (self.top_depth - self.bottom_depth) * z / self.height

    @property
    def opened(self) -> float:
        """Area of all vents together, m²."""
        if self.slot:
            middle = 0.5 * self.slot.height
            return self.slot.height * self.depth(middle if self.slot.low else self.height - middle)
        return len(self.mouths) * math.pi * self.bore**2

    @property
    def net_volume(self) -> float:
        """Air outside the vents, their bores not counted, m³."""
        gross = self.width * self.height * 0.5 * (self.bottom_depth + self.top_depth)
        gross -= sum(self.board_in(plate) for plate in self.plates)
        if self.slot is None:
            return gross - len(self.mouths) * math.pi * self.outer**2 * self.inside
        slot, thick = self.slot, self.slot.height + self.slot.board

        def at(z: float) -> float:
            return self.depth(z if slot.low else self.height - z)

        taken = (self.width if slot.turn else slot.length) * thick * at(0.5 * thick)
        if slot.turn:
            taken += thick * (slot.turn - thick) * at(0.5 * (slot.turn + thick))
        return gross - taken

    def corners(self, opening: tuple[float, float, float, float]) -> tuple[tuple[float, float], ...]:
        """Corners (y, z) of an opening of a plate."""
        low, high, rear, front = opening
        back = [self.back_slope * z for z in (low, high)]
        return (
            (back[0] + rear, low),
            (back[0] + self.depth(low) - front, low),
            (back[1] + self.depth(high) - front, high),
            (back[1] + rear, high),
        )

    def free(self, opening: tuple[float, float, float, float]) -> float:
        """Area of an opening of a plate, m²."""
        low, high, rear, front = opening
        return (high - low) * (self.depth(0.5 * (low + high)) - rear - front)

    def board_in(self, plate: Plate) -> float:
        """Volume of a plate without its openings, the holes for pipes and the slot below it, m³."""
        start = self.plate_from
        whole = (self.height - start) * self.depth(0.5 * (self.height + start))
        holes = sum(self.passed(plate, mouth) and not self.opened_at(plate, mouth) for mouth in self.mouths)
        return plate.thickness * (whole - holes * math.pi * self.outer**2 - sum(map(self.free, plate.openings)))

    def passed(self, plate: Plate, mouth: Place) -> bool:
        """Whether the pipe that ends in a mouth passes a plate."""
        return self.vent_kind == "across" and mouth[0] > plate.x

    def opened_at(self, plate: Plate, mouth: Place) -> bool:
        """Whether it passes it within an opening."""
        return any(low < mouth[2] < high for low, high, _, _ in plate.openings)

    @property
    def plate_from(self) -> float:
        """Height that plates begin at: the board of a slot along the bottom."""
        return self.slot.height + self.slot.board if self.slot and self.slot.low else 0.0

    @property
    def outer_end(self) -> float:
        """Beyond the panel's outer face, where the finite elements have p = 0, m."""
        return FLUSH_END * (math.sqrt(self.opened / math.pi) if self.slot else self.bore)

    @property
    def vent_length(self) -> float:
        """From the panel's outer face to the inner mouth, as the air counts it, m."""
        slot = self.slot
        if slot is None:
            return self.inside + self.board
        length = slot.length + self.board
        if slot.turn:
            leg = slot.turn - slot.height
            depths = [self.depth(z if slot.low else self.height - z) for z in (slot.height, slot.turn)]
            length += self.window * leg / _log_mean(*depths) + MITRE_SQUARES * slot.height
        if slot.through == "baffle":
            length -= (1.0 - MITRE_SQUARES) * self.window
        return length

    @property
    def window(self) -> float:
        """Mean depth of a slot's channel, and width of its mouth in the baffle, m."""
        return self.opened / self.slot.height if self.slot else 0.0

    @property
    def inner_end(self) -> float:
        """Of the lumped model, m."""
        if self.slot:
            return FREE_OVER_FLUSH * full_width_end(self.slot.height, self.height)
        return FREE_END * self.bore

    @property
    def sd(self) -> float:
        return math.pi * self.cone**2

    @property
    def mms(self) -> float:
        return AREAL_MASS * self.sd

    @property
    def cms(self) -> float:
        return 1.0 / ((2.0 * math.pi * DRIVER_FS) ** 2 * self.mms)

    @property
    def radiator_sd(self) -> float:
        return math.pi * self.radiator**2

    @property
    def radiator_moving(self) -> float:
        return RADIATOR_AREAL_MASS * self.radiator_sd

    @property
    def radiator_stiffness(self) -> float:
        return (2.0 * math.pi * RADIATOR_FS) ** 2 * self.radiator_moving

    @property
    def lumped_tuning(self) -> float:
        """What the usual circuit says, Hz: a spring and a plug of air with its ends, or a radiator; nan if closed."""
        spring = REFERENCE_AIR.stiffness / self.net_volume
        if self.radiators:
            areas = len(self.radiators) * self.radiator_sd**2
            square = (spring + self.radiator_stiffness / areas) / (self.radiator_moving / areas)
        elif self.opened:
            mass = REFERENCE_AIR.rho * (self.vent_length + self.outer_end + self.inner_end) / self.opened
            square = spring / mass
        else:
            return math.nan
        return math.sqrt(square) / (2.0 * math.pi)


def _log_mean(one: float, other: float) -> float:
    """Of the depths at the ends of a leg that widens evenly: its length over this is ∫ds/depth."""
    return one if one == other else (other - one) / math.log(other / one)


@dataclass(frozen=True, kw_only=True)
class Solved:
    """A box and the poles of its air: mean p over port i is jωρ·Σ b_i·b_j/(κ² - k²)·U_j.

    Ports: all drivers alike, and all passive radiators alike.
    """

    box: Box
    unknowns: int
    squares: Floats  # κ², rad²/m²
    weights: Floats  # b, (K, 1) or (K, 2)
    modes: Floats  # of the empty closed cavity, Hz

    def at(self, frequency: Floats) -> Floats:
        """Z = p/(jωρU) of the ports in 1/m, (F, P, P)."""
        square = (2.0 * math.pi * np.atleast_1d(frequency) / REFERENCE_AIR.c) ** 2
        return np.einsum("kp,kq,fk->fpq", self.weights, self.weights, 1.0 / (self.squares - square[:, np.newaxis]))

    @property
    def tuning(self) -> float:
        """Resonance of the openings with held drivers, Hz; nan if closed."""
        if self.box.radiators:
            return float(brentq(lambda f: float(self._radiators(f)[0]), 3.0, 100.0))
        return float(np.sqrt(self.squares[0])) * REFERENCE_AIR.c / (2.0 * math.pi) if self.box.opened else math.nan

    def _radiators(self, frequency: Floats | float) -> Floats:
        """Reactance of the radiators and the air behind them over ωρ, (F,) 1/m."""
        box = self.box
        own = free_cones(
            frequency,
            area=box.radiator_sd,
            mass=box.radiator_moving,
            stiffness=box.radiator_stiffness,
            count=len(box.radiators),
        )
        return own + self.at(frequency)[:, 1, 1]

    def reactance(self, frequency: Floats | float) -> Floats:
        """Of the cones, the air and what opens the box, over ωρ, (F,) 1/m; peaks are where it comes up through 0."""
        box, z = self.box, self.at(frequency)
        air = z[:, 0, 0] - (z[:, 0, 1] ** 2 / self._radiators(frequency) if box.radiators else 0.0)
        return air + free_cones(frequency, area=box.sd, mass=box.mms, stiffness=1.0 / box.cms, count=len(box.cones))


def free_cones(frequency: Floats | float, *, area: float, mass: float, stiffness: float, count: int) -> Floats:
    """Reactance over ωρ of cones without the air that they carry on the rear side in the open, (F,) 1/m."""
    own = mass - REFERENCE_AIR.rho * 4.0 / 3.0 * math.sqrt(area / math.pi) ** 3
    omega = 2.0 * math.pi * np.atleast_1d(frequency)
    return np.asarray((own - stiffness / omega**2) / (REFERENCE_AIR.rho * count * area**2))


def peaks(reactance: Callable[[Floats | float], Floats], *, tuning: float) -> tuple[float, ...]:
    """Impedance peaks below and above the tuning, or of a closed box (``tuning`` nan) the one, Hz."""
    if math.isnan(tuning):
        trials = [np.linspace(10.0, 150.0, 400)]
    else:
        trials = [np.linspace(0.1, 1.0 - 1e-6, 200) * tuning, np.linspace(1.0 + 1e-6, 5.0, 600) * tuning]
    found = []
    for trial in trials:
        values = reactance(trial)
        first = int(np.flatnonzero((values[:-1] < 0.0) & (values[1:] >= 0.0))[0])
        found.append(float(brentq(lambda f: float(reactance(f)[0]), trial[first], trial[first + 1])))
    return tuple(found)


@cache
def solved() -> tuple[Solved, ...]:
    """Every box of the record."""
    return tuple(
        Solved(
            box=Box.read(one["box"]),
            unknowns=one["unknowns"],
            squares=np.array(one["squares"]),
            weights=np.array(one["weights"]),
            modes=np.array(one["modes"]),
        )
        for one in json.loads(RECORD.read_text(encoding="utf-8"))
    )
