"""What a builder owns: drivers, passive radiators, an amplifier, board; what he has measured."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import Any, Literal

import numpy as np

from engine.air import REFERENCE_AIR
from engine.arrays import Floats, Number
from engine.quantities import Units

CoilWiring = Literal["series", "parallel"]
CoilMetal = Literal["copper", "aluminium"]

# Rise of a coil at the driver's rated power that its thermal resistance is estimated from where
# none is stated.  Common practice, no source: coils are made for about 200 °C.
RATED_RISE = 150.0  # K
# How far flange and surround stand out before their panel where a part does not say.  Common practice, no source.
STANDS_OUT = 0.012  # m

# Crest factors, dB: of the noise that stands for programme in IEC 60268-1 and 60268-5 (from memory), and of a tone.
USUAL_CREST = 6.0
TONE_CREST = 3.0


def room_before(*, front_height: Number, xmax: Number, gap: float, recess: float) -> Floats:
    """Free way in m that cones need before their panel: flange and surround, their travel, and a ``gap`` to breathe.

    Sunk into the panel by a ``recess`` they stand out so much less; all in m.
    """
    return np.asarray(np.maximum(front_height + xmax - recess, 0.0) + gap)


@dataclass(frozen=True, kw_only=True)
class _Cone:
    """What hangs in its suspension, a driver's cone or a passive radiator's, as its data sheet states it: SI, free air.

    Compliance and mass take ρc² of the reference air, because that is the air data sheets are measured in (Small 1972).
    """

    name: str
    fs: float  # Hz
    qms: float
    vas: float  # m³
    sd: float  # m²
    xmax: float  # m, one-way peak
    outer_diameter: float = math.nan  # m, over the flange
    cutout_diameter: float = math.nan  # m
    mounting_depth: float = math.nan  # m, from the flange's seat to the rearmost point, added mass included
    front_height: float = STANDS_OUT  # m, of flange and surround before the panel, cone at rest
    displacement: float = 0.0  # m³, volume taken inside the box
    mass: float = 0.0  # kg, as bought
    price: float = 0.0  # in the scenario's currency
    screw_circle_diameter: float = math.nan  # m, that the flange's screws lie on; nan or 0: as is usual
    screw_count: int = 0
    screw_diameter: float = math.nan  # m

    @property
    def cms(self) -> float:
        """Suspension compliance, m/N."""
        return self.vas / (REFERENCE_AIR.stiffness * self.sd**2)

    @property
    def mms(self) -> float:
        """Moving mass with air load and nothing added, kg."""
        return 1.0 / ((2.0 * math.pi * self.fs) ** 2 * self.cms)

    def room_before(self, gap: float, *, recess: float = 0.0) -> float:
        """Free way in m that it needs before its panel, see :func:`room_before`."""
        return float(room_before(front_height=self.front_height, xmax=self.xmax, gap=gap, recess=recess))

    @property
    def rms(self) -> float:
        """Mechanical resistance, N s/m; added mass leaves it as it is."""
        return 2.0 * math.pi * self.fs * self.mms / self.qms


@dataclass(frozen=True, kw_only=True)
class Driver(_Cone):
    """One driver (Thiele/Small parameters).

    ``re``, ``le``, ``l2``, ``r2`` are those of the whole driver with its coils joined as ``stated_wiring`` says;
    ``coil_impedance`` is the nominal impedance of one coil.

    ``inductance_exponent`` is the n of Leach 2002, |Z| ∝ ωⁿ with the reactance of ``le`` at 1 kHz (½: Vanderkooy 1989;
    1: ``le`` as it is).  Wright 1990 states the coil as kr·ω^xr + j·ki·ω^xi in its place, and ``le`` is then 0.
    """

    qes: float
    re: float  # ohm
    le: float = 0.0  # H
    l2: float = 0.0  # H, lossy second section of the coil
    r2: float = 0.0  # ohm, parallel to l2
    rated_power: float  # W, continuous
    coils: int = 1
    coil_impedance: float = 4.0  # ohm, nominal, one coil
    stated_wiring: CoilWiring = "parallel"
    magnet_diameter: float = math.nan  # m
    magnet_depth: float = math.nan  # m, height of the magnet; nan: the basket is taken to narrow all the way down
    rear_gap: float = math.nan  # m, air the vent in the pole needs behind it; nan: the box's breathing gap
    terminal_depth: float = math.nan  # m, from the flange's seat to the terminals' far end; nan: within the basket
    screw_angle: float = math.nan  # rad, from the terminals round to the next screw; nan: midway between two
    thermal_resistance: float = math.nan  # K/W from coil to air; nan: estimated; 0: the coil stays cold
    coil_metal: CoilMetal = "copper"
    bl_at_xmax: float = math.nan  # share of the force factor left at xmax; nan: constant
    cms_at_xmax: float = math.nan  # share of the compliance left at xmax; nan: constant
    inductance_exponent: float = 1.0
    inductance_kr: float = 0.0  # ohm at 1 rad/s
    inductance_xr: float = 0.0
    inductance_ki: float = 0.0  # ohm at 1 rad/s
    inductance_xi: float = 0.0

    @property
    def warmth(self) -> float:
        """Thermal resistance from coil to air, K/W: the stated one, or what 150 K at rated power make."""
        return RATED_RISE / self.rated_power if math.isnan(self.thermal_resistance) else self.thermal_resistance

    @property
    def qts(self) -> float:
        return self.qes * self.qms / (self.qes + self.qms)

    @property
    def bl(self) -> float:
        """Force factor, T m."""
        return math.sqrt(2.0 * math.pi * self.fs * self.mms * self.re / self.qes)


@dataclass(frozen=True, kw_only=True)
class PassiveRadiator(_Cone):
    """A driver without a motor, with no mass added."""

    most_added: float = math.inf  # kg, what its maker lets one add


@dataclass(frozen=True, kw_only=True)
class Amplifier:
    """Stated power at each load, and the lowest load it is allowed to drive.

    ``crest_factor`` is that of the music it plays, peak over mean power in dB; 3 dB is a long tone.
    """

    name: str
    loads: tuple[tuple[float, float], ...]  # (ohm, W), ascending in ohm
    lowest_load: float  # ohm
    crest_factor: float = USUAL_CREST  # dB
    each_wiring: bool = False  # whether every wiring that is allowed is tried, or the one of most power


@dataclass(frozen=True, kw_only=True)
class TerminalCup:
    """The cup that takes the cable through a panel: a round hole with a flange outside and a cup inside."""

    cutout_diameter: float  # m
    flange_diameter: float  # m
    depth: float  # m, from the panel's outer face to the cup's rearmost point
    room: float = 0.040  # m, kept before it outside for plug and cable; common practice, no source


@dataclass(frozen=True, kw_only=True)
class Saw:
    """How far a builder's saw tilts, and in what steps angles and sizes are set.

    A common table saw tilts to 45° (common practice, no source).
    """

    most_bevel: float = math.radians(45.0)  # rad from vertical
    angle_step: float = math.radians(0.5)  # rad
    size_step: float = 1e-3  # m


SAW = Saw()
GRAINS = ("none", "length", "width")  # which way it runs on a sheet
FLUSHED = ("none", "sides", "layers", "both")


@dataclass(frozen=True, kw_only=True)
class SheetStock:
    """Sheets or offcuts of one size, m.  What is not stated is that of a common sheet; common practice, no source."""

    name: str = "sheet"
    length: float = 2.440
    width: float = 1.220
    thickness: float = math.nan  # by name; nan: the box's board
    price: float = math.nan  # of one, in the job's currency; nan: not told
    count: int = 0  # how many there are; 0: as many as it takes
    grain: str = GRAINS[0]


@dataclass(frozen=True, kw_only=True)
class Cutting:
    """How boards are cut, m.  Defaults are common practice, no source; the manual of the saw comes first."""

    kerf: float = 0.0032
    trim: float = 0.005  # off each edge of a sheet, so that cutting starts from clean straight edges
    allowance: float = 0.003  # that a blank is larger wherever it is cut again
    shortest: float = 0.300  # of a piece ripped along the fence
    narrowest: float = 0.050  # between fence and blade
    reach: float = 0.760  # of the fence from the blade
    sled: float = 0.600  # widest piece that a crosscut sled takes
    depth: float = 0.050  # of board that the blade cuts through while tilted to 45 degrees
    flushed: str = FLUSHED[0]  # what is left over-size and trimmed flush once it is glued
    flush: float = 0.003  # by how much
    shared: bool = True  # whether boards may lie bevel to bevel in one strip
    stated: frozenset[str] = frozenset()  # which of these a job states; the others are those of common practice

    def usual(self, units: Units) -> Cutting:
        """What holds for somebody who measures in ``units``: round sizes there wherever none is stated."""
        if units == "metric":
            return self
        sizes: dict[str, Any] = {key: size for key, size in CUTTING_US.items() if key not in self.stated}
        return replace(self, **sizes)


CUTTING = Cutting()
# In round inches what is not stated; m.
CUTTING_US = {
    "kerf": 0.125 * 0.0254, "trim": 0.25 * 0.0254, "allowance": 0.125 * 0.0254, "shortest": 12 * 0.0254,
    "narrowest": 2 * 0.0254, "reach": 30 * 0.0254, "sled": 24 * 0.0254, "depth": 2 * 0.0254, "flush": 0.125 * 0.0254,
}  # fmt: skip


@dataclass(frozen=True, kw_only=True)
class Stock:
    """Board and fittings on the shelf.

    ``openings`` has what a job lists for each opening, by the name of that: sizes of pipe, the slot, radiators.
    """

    board_thickness: float  # m
    board_density: float = 740.0  # kg/m³
    board_price: float = 0.0  # currency per m²
    baffle_layer: float = math.nan  # m, second layer of a double baffle; nan: as thick as the board
    brace_span: float = math.nan  # m, widest unsupported width of a panel; nan: what the board's thickness allows
    openings: Mapping[str, tuple[Any, ...]] = field(default_factory=dict)
    terminal_cup: TerminalCup | None = None

    def layer_of(self, baffle: str) -> float:
        """How much thicker than the board that one of :data:`engine.scenario.BAFFLES` is, m."""
        if baffle != "double":
            return 0.0
        return self.board_thickness if math.isnan(self.baffle_layer) else self.baffle_layer

    def listed(self, opening: str) -> tuple[Any, ...]:
        """What is there for an opening; empty where that is nothing."""
        return self.openings.get(opening, ())


@dataclass(frozen=True, kw_only=True)
class KeepOut:
    """Something in the space that stays where it is: a prism over part of the width.

    ``section`` holds the corners (y forward, z up) of its cross-section in m, in order;
    ``across`` the places x, in m from the left end of the space, between which it stands.
    """

    name: str
    section: tuple[tuple[float, float], ...]
    across: tuple[float, float]


@dataclass(frozen=True, kw_only=True)
class Clearances:
    """Room in m kept on one side of the box beyond the margin: for trim, a seat's travel, a hand."""

    back: float = 0.0
    front: float = 0.0
    bottom: float = 0.0
    top: float = 0.0
    left: float = 0.0
    right: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Openness:
    """Share of what bounds the space on a side that air can pass into the cabin, 0 to 1: seat, trim, what is above."""

    front: float = 0.0
    top: float = 1.0
    left: float = 0.0
    right: float = 0.0


@dataclass(frozen=True, kw_only=True)
class Door:
    """The opening the box must pass, and the room behind it to turn it, in m."""

    width: float
    height: float
    turning_room: float = math.inf  # widest circle in which the box can be turned on its way to its place


@dataclass(frozen=True, kw_only=True)
class Space:
    """The free volume in the vehicle.

    ``section`` holds the corners (y forward, z up) of its cross-section, in metres, in order; it is swept over
    ``width`` across the vehicle.  x runs across from the left end, seen by somebody who faces the baffle.  ``margin``
    is kept free all round, of walls and of ``keepouts``.
    """

    section: tuple[tuple[float, float], ...]
    width: float
    margin: float = 0.0
    clearance: Clearances = Clearances()
    openness: Openness = Openness()
    keepouts: tuple[KeepOut, ...] = ()
    door: Door | None = None
