"""The data sheet of a driver or of a passive radiator: read, and held against itself.

A sheet that states mms, cms, bl or qts beside fs, vas, sd, re, qes and qms says some things twice.
Small (1972) ties them together; where they disagree, something was mistyped.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, fields
from typing import Any

from engine.air import REFERENCE_AIR
from engine.document import Reader
from engine.field import Field
from engine.parts import Driver, PassiveRadiator
from engine.quantities import half_unit, split
from engine.words.voice import Deviation, Key, Keys, Quantity

THIELE_SMALL = (
    Field("fs", "frequency", "Resonance frequency in free air.", required=True, low="5 Hz", high="500 Hz"),
    Field("qes", "ratio", "Electrical Q at fs.", required=True, low=0.05, high=5),
    Field("qms", "ratio", "Mechanical Q at fs.", required=True, low=0.3, high=50),
    Field("vas", "volume", "Volume of air as springy as the suspension.", required=True, low="0.5 L", high="1000 L"),
    Field(
        "sd", "area", "Effective cone area, half the surround included.", required=True, low="20 cm^2", high="3000 cm^2"
    ),
    Field(
        "re",
        "resistance",
        "DC resistance with the coils joined as stated_wiring says.",
        required=True,
        low="0.1 ohm",
        high="100 ohm",
    ),
    Field(
        "le",
        "inductance",
        "Coil inductance, coils joined as stated_wiring says.",
        required=True,
        low="0 mH",
        high="50 mH",
    ),
    Field(
        "l2",
        "inductance",
        "Second inductance of a lossy coil model, if the sheet gives one; goes with r2.",
        low="0 mH",
        high="100 mH",
    ),
    Field("r2", "resistance", "Resistance parallel to l2.", low="0 ohm", high="1000 ohm"),
    Field(
        "xmax",
        "length",
        "One-way linear excursion; halve a peak-to-peak figure.",
        required=True,
        low="0.5 mm",
        high="80 mm",
    ),
    Field(
        "rated_power",
        "power",
        "Continuous (RMS) power rating, not the peak one.",
        required=True,
        low="1 W",
        high="10000 W",
    ),
)

# What a driver does at full power; hardly any sheet has all of it, so none of it must be stated.
FULL_POWER = (
    Field(
        "thermal_resistance",
        "thermal_resistance",
        "From the voice coil to the air, coil to magnet and magnet to air added. Empty: estimated, as if the coil "
        "rose by 150 K at rated power. 0 K/W: it stays cold.",
        low="0 K/W",
        high="20 K/W",
    ),
    Field(
        "coil_metal",
        "choice",
        "What the voice coil is wound of; copper-clad aluminium counts as aluminium.",
        default="copper",
        choices=("copper", "aluminium"),
    ),
    Field(
        "bl_at_xmax",
        "ratio",
        "Share of the force factor left at Xmax, such as 0.82; empty: it is taken as constant.",
        low=0.3,
        high=1.05,
    ),
    Field(
        "cms_at_xmax",
        "ratio",
        "Share of the compliance left at Xmax, such as 0.75; empty: it is taken as constant.",
        low=0.2,
        high=1.2,
    ),
    Field(
        "inductance_exponent",
        "ratio",
        "Exponent of a lossy coil (Leach): 1 is a plain inductance, 0.5 a semi-inductance, most coils are at "
        "0.6 to 0.8; le is then what its reactance at 1 kHz comes to.",
        default=1,
        low=0.5,
        high=1,
    ),
    *(
        Field(
            f"inductance_{part}",
            "ratio",
            f"{part[0].upper()}{part[1]} of Wright's coil model, {words}; le is then 0 mH.",
            low=low,
            high=high,
        )
        for part, low, high, words in (
            ("kr", 0, 100, "resistance in ohm at 1 rad/s"),
            ("xr", 0.3, 1.2, "the exponent that goes with Kr"),
            ("ki", 0, 100, "reactance in ohm at 1 rad/s"),
            ("xi", 0.3, 1.2, "the exponent that goes with Ki"),
        )
    ),
)

# Of a passive radiator; what it measures is asked only where a box is built around it.
PASSIVE_RADIATOR = (
    Field(
        "fs",
        "frequency",
        "Resonance frequency in free air with no mass added.",
        required=True,
        low="5 Hz",
        high="80 Hz",
    ),
    Field("qms", "ratio", "Mechanical Q at fs.", required=True, low=1, high=50),
    Field("vas", "volume", "Volume of air as springy as the suspension.", required=True, low="1 L", high="1000 L"),
    Field(
        "sd", "area", "Effective cone area, half the surround included.", required=True, low="30 cm^2", high="3000 cm^2"
    ),
    Field(
        "xmax",
        "length",
        "One-way excursion it is made for; halve a peak-to-peak figure.",
        required=True,
        low="2 mm",
        high="80 mm",
    ),
)

# Stated beside the figures above they say the same thing twice; the two are held against each other.
CROSS_CHECKED = (
    Field("qts", "ratio", "Total Q; only checked against qes and qms.", low=0.04, high=5),
    Field("mms", "mass", "Moving mass with air load; only checked against the rest.", low="2 g", high="2000 g"),
    Field(
        "cms", "compliance", "Suspension compliance; only checked against the rest.", low="0.005 mm/N", high="5 mm/N"
    ),
    Field("bl", "force_factor", "Force factor; only checked against the rest.", low="0.5 T m", high="100 T m"),
)

# Printed sheets are rounded along the way and measured in parts; 3 % apart is an honest sheet
# (the project's choice: a slipped digit nearly always does more).
ROUNDING_FLOOR = 0.03
# ρc² is 1.18·345² in one laboratory and 1.2041·343.2² in the next: Vas differs by a factor 1.0098.
AIR_ALLOWANCE = 0.01
# A plain number loses its trailing zeros in TOML (0.40 is 0.4), and Q is printed to two decimals at least.
FINEST_RATIO_PLACE = 0.005
LEAST_MOVING_MASS, MOST_MOVING_MASS = 0.002, 2.0  # kg, cone of a 4-inch driver to that of a 24-inch one
_EXTRA = tuple(field.key for field in CROSS_CHECKED)
_FIGURES = {"mass": 3, "least": 4, "most": 4}  # significant ones told of a moving mass and of its plausible range


@dataclass(frozen=True)
class Relation:
    """``target`` follows from ``given``; ``air`` says whether ρc² comes into it."""

    target: str
    given: tuple[str, ...]
    formula: Callable[..., float]
    air: bool = False

    @property
    def keys(self) -> tuple[str, ...]:
        return (self.target, *self.given)


def _omega(fs: float) -> float:
    return 2.0 * math.pi * fs


def _compliance(vas: float, sd: float) -> float:
    return vas / (REFERENCE_AIR.stiffness * sd**2)


def _force_factor(fs: float, mms: float, re: float, qes: float) -> float:
    return math.sqrt(_omega(fs) * mms * re / qes)


# Small 1972, "Direct-radiator loudspeaker system analysis", J. Audio Eng. Soc. 20(5): the definitions of
# Qts, Vas, fs, Qes.  Which of them apply depends on what the sheet states, most direct first.
_TOTAL_Q = Relation("qts", ("qes", "qms"), lambda qes, qms: qes * qms / (qes + qms))
_RESONANCE = Relation("fs", ("mms", "cms"), lambda mms, cms: 1.0 / (2.0 * math.pi * math.sqrt(mms * cms)))
_VOLUME = Relation("vas", ("cms", "sd"), lambda cms, sd: REFERENCE_AIR.stiffness * sd**2 * cms, air=True)
_MASS = Relation(
    "mms", ("fs", "vas", "sd"), lambda fs, vas, sd: 1.0 / (_omega(fs) ** 2 * _compliance(vas, sd)), air=True
)
_FORCE_BY_MASS = Relation("bl", ("fs", "mms", "re", "qes"), _force_factor)
_FORCE_BY_SPRING = Relation(
    "bl",
    ("fs", "cms", "re", "qes"),
    lambda fs, cms, re, qes: _force_factor(fs, 1.0 / (_omega(fs) ** 2 * cms), re, qes),
)
_FORCE_BY_VOLUME = Relation(
    "bl",
    ("fs", "vas", "sd", "re", "qes"),
    lambda fs, vas, sd, re, qes: _force_factor(fs, 1.0 / (_omega(fs) ** 2 * _compliance(vas, sd)), re, qes),
    air=True,
)


def relations_for(stated: Mapping[str, Any]) -> list[Relation]:
    """The relations that the stated figures over-determine."""
    mms, cms = "mms" in stated, "cms" in stated
    found = [
        (_TOTAL_Q, True),
        (_RESONANCE, mms and cms),
        (_VOLUME, cms),
        (_MASS, mms and not cms),
        (_FORCE_BY_MASS, mms),
        (_FORCE_BY_SPRING, cms and not mms),
        (_FORCE_BY_VOLUME, not mms and not cms),
    ]
    return [relation for relation, fits in found if fits and all(key in stated for key in relation.keys)]


def read_driver(
    reader: Reader, table: Mapping[str, Any], path: str, fields_: Sequence[Field]
) -> tuple[Driver | None, dict[str, Any]]:
    """A driver from its table, and every value of the table that reads well.

    Beside each key on its own, the figures are held against each other: the relations of
    :func:`relations_for`, the size of hole and magnet, the resistance of the coils, the ways to state
    an inductance.  The tolerance of a relation is the larger of 3 % and what rounding explains: half a unit of
    the last printed place of every figure in it, carried through the formula, plus 1 % where
    ρc² comes into it.

    The driver is None if anything in the table is at fault; the reader has the faults.
    """
    before = len(reader.faults)
    values = reader.values(table, path, fields_)
    sheet = _Sheet(reader, path, table, values, {field.key: field.kind for field in fields_})
    sheet.check_relations()
    sheet.check_moving_mass()
    sheet.check_sizes()
    sheet.check_coils()
    sheet.check_inductance()
    if len(reader.faults) > before:
        return None, values
    known = {field.name for field in fields(Driver)}
    return Driver(**{key: value for key, value in values.items() if key in known}), values


def read_radiator(
    reader: Reader, table: Mapping[str, Any], path: str, fields_: Sequence[Field]
) -> tuple[PassiveRadiator | None, dict[str, Any]]:
    """A passive radiator from its table, and every value of the table that reads well.

    Held against itself are the mass that fs, vas and sd imply, and the sizes of hole and cone.  The radiator
    is None if anything in the table is at fault; the reader has the faults.
    """
    before = len(reader.faults)
    values = reader.values(table, path, fields_)
    sheet = _Sheet(reader, path, table, values, {field.key: field.kind for field in fields_})
    sheet.check_moving_mass()
    sheet.check_sizes()
    if len(reader.faults) > before:
        return None, values
    known = {field.name for field in fields(PassiveRadiator)}
    return PassiveRadiator(**{key: value for key, value in values.items() if key in known}), values


@dataclass(frozen=True)
class _Sheet:
    """One driver's table as it stands (``table``) and as it reads in SI (``values``)."""

    reader: Reader
    path: str
    table: Mapping[str, Any]
    values: Mapping[str, Any]
    kinds: Mapping[str, str]

    def fault(self, key: str, code: str, **parameters: Any) -> None:
        self.reader.fault(f"{self.path}.{key}", code, self.table.get(key), **parameters)

    def check_relations(self) -> None:
        stated = {key: value for key, value in self.values.items() if self.table.get(key) is not None}
        verdicts = [(relation, *self.compare(relation)) for relation in relations_for(stated)]
        sound = {key for relation, _, fits in verdicts if fits for key in relation.keys}
        for relation, follows, fits in verdicts:
            if not fits:
                self.report(relation, follows, sound)

    def compare(self, relation: Relation) -> tuple[float, bool]:
        """What the relation gives for its target, and whether the stated value is within tolerance of it."""
        given = {key: self.values[key] for key in relation.given}
        follows = relation.formula(**given)
        spread = sum(
            abs(relation.formula(**(given | {key: value + self.half_place(key)})) - follows)
            for key, value in given.items()
        )
        rounding = (spread + self.half_place(relation.target)) / follows
        apart = abs(self.values[relation.target] / follows - 1.0)
        return follows, apart <= max(ROUNDING_FLOOR, rounding + (AIR_ALLOWANCE if relation.air else 0.0))

    def half_place(self, key: str) -> float:
        stated = self.table[key]
        return half_unit(stated, self.kinds[key]) if isinstance(stated, str) else FINEST_RATIO_PLACE

    def report(self, relation: Relation, follows: float, sound: set[str]) -> None:
        """Name the relation, by how much it fails, and the figures that no other relation clears."""
        target = relation.target
        suspects = [key for key in relation.keys if key not in sound]
        is_cleared = len(suspects) not in (0, len(relation.keys))
        self.fault(
            target,
            "sheet_disagrees_on" if is_cleared else "sheet_disagrees",
            given=Keys(relation.given),
            follows=self.figure(target, follows),
            deviation=Deviation(follows / self.values[target] - 1.0),
            suspects=Keys(suspects),
            extra=Keys(key for key in relation.keys if key in _EXTRA),
        )

    def figure(self, key: str, value: float) -> Quantity | str:
        """A value to three significant digits; a quantity with the unit that the key was typed in."""
        stated = self.table[key]
        if not isinstance(stated, str):
            return f"{value:.3g}"
        return Quantity(value, self.kinds[key], figures=3, unit=split(stated).unit)

    def check_moving_mass(self) -> None:
        """A wrong unit of Vas or Sd shows in the mass they imply."""
        if "mms" in self.values or not all(key in self.values for key in _MASS.given):
            return
        mass = _MASS.formula(**{key: self.values[key] for key in _MASS.given})
        if not LEAST_MOVING_MASS <= mass <= MOST_MOVING_MASS:
            said = {"mass": mass, "least": LEAST_MOVING_MASS, "most": MOST_MOVING_MASS}
            masses = {key: Quantity(value, "mass", figures=_FIGURES[key], unit="g") for key, value in said.items()}
            self.fault("vas", "moving_mass", given=Keys(_MASS.given), **masses)

    def check_sizes(self) -> None:
        """A driver must pass through its hole and cover it."""
        values = self.values
        outer, cutout, magnet = (values.get(f"{part}_diameter") for part in ("outer", "cutout", "magnet"))
        if outer and cutout and cutout >= outer:
            self.fault("cutout_diameter", "driver_falls_through", outer=Key("outer_diameter"), size=_size(outer))
        if cutout and magnet and magnet > cutout:
            self.fault("magnet_diameter", "magnet_through_hole", cutout=Key("cutout_diameter"), size=_size(cutout))
        if outer and values.get("sd", 0.0) >= math.pi / 4.0 * outer**2:
            most = self.figure("sd", math.pi / 4.0 * outer**2)
            self.fault("sd", "cone_beyond_flange", outer=Key("outer_diameter"), area=most)

    def check_inductance(self) -> None:
        """A coil is stated in one way: le with l2 and r2, le with Leach's exponent, or Wright's numbers."""
        values = self.values
        for one, other in (("l2", "r2"), ("inductance_kr", "inductance_xr"), ("inductance_ki", "inductance_xi")):
            for has, lacks in ((one, other), (other, one)):
                if values.get(has) and not values.get(lacks):
                    self.fault(lacks, "goes_together", one=Key(one), other=Key(other))
        lossy = [key for key in ("l2", "r2") if values.get(key)]
        bent = values.get("inductance_exponent", 1.0) != 1.0
        if bent and lossy:
            self.fault("inductance_exponent", "losses_twice", lossy=Keys(lossy))
        wright = [key for key in ("inductance_kr", "inductance_ki") if values.get(key)]
        if not wright:
            return
        if values.get("le"):
            self.fault("le", "coil_twice", nothing=Quantity(0.0, "inductance", figures=1), wright=Keys(wright))
        for key in [*lossy, "inductance_exponent"] if bent else lossy:
            self.fault(key, "coil_otherwise", wright=Keys(wright))

    def check_coils(self) -> None:
        """Re of the wiring stated must suit the nominal impedance of the coils.

        A coil's DC resistance is 0.7 to 0.95 of its nominal impedance (common practice, no
        source); 0.5 to 1.1 leaves room, and two coils joined the other way are a factor 4 off.
        """
        if not all(key in self.values for key in ("re", "coils", "coil_impedance", "stated_wiring")):
            return
        coils, wiring, each = (self.values[key] for key in ("coils", "stated_wiring", "coil_impedance"))
        nominal = each * (coils if wiring == "series" else 1.0 / coils)
        if 0.5 * nominal <= self.values["re"] <= 1.1 * nominal:
            return
        self.fault(
            "re",
            "coils_nominal" if coils > 1 else "coil_nominal",
            coils=coils,
            wiring=wiring,
            each=Quantity(each, "resistance", figures=4),
            nominal=Quantity(nominal, "resistance", figures=3),
            low=0.5 * nominal,
            high=Quantity(1.1 * nominal, "resistance", figures=3),
            suspects=Keys(("re", "coil_impedance", "stated_wiring") if coils > 1 else ("re", "coil_impedance")),
        )


def _size(length: float) -> Quantity:
    """A size as stated, to the last digit that anybody measures."""
    return Quantity(length, "length", figures=4)
