"""The data sheet of a driver or of a passive radiator: read, and held against itself.

A sheet that states mms, cms, bl or qts beside fs, vas, sd, re, qes and qms says some things twice.
Small (1972) ties them together; where they disagree, something was mistyped.  What it leaves out and follows from the
rest is worked out.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection, Mapping, Sequence
from dataclasses import fields
from typing import Any, NamedTuple, TypeVar

from engine.derived import (
    as_stated,
    compliance,
    derived_of,
    force_factor,
    moving_mass,
    resonance,
    springy_air,
    total_q,
)
from engine.document import Reader
from engine.field import Field
from engine.parts import Driver, PassiveRadiator
from engine.quantities import half_unit, split
from engine.words.voice import Deviation, Key, Keys, Quantity, as_measured

Cone = TypeVar("Cone", Driver, PassiveRadiator)

THIELE_SMALL = (
    Field("fs", "frequency", "Resonance frequency in free air.", "5 Hz", "500 Hz", required=True),
    Field("qes", "ratio", "Electrical Q at fs.", 0.05, 5, required=True),
    Field("qms", "ratio", "Mechanical Q at fs.", 0.3, 50, required=True),
    Field("vas", "volume", "Volume of air as springy as the suspension.", "0.5 L", "1000 L", required=True),
    Field("sd", "area", "Effective cone area, half the surround included.", "20 cm^2", "3000 cm^2", required=True),
    Field("re", "resistance", "DC resistance, coils joined as the sheet has them.", "0.1 ohm", "100 ohm",
          required=True),
    Field("le", "inductance", "Coil inductance, coils joined as the sheet has them.", "0 mH", "50 mH", required=True),
    Field("l2", "inductance", "Second inductance of a lossy coil, in series with Le, if the sheet gives one; goes with "
          "R2.", "0 mH", "100 mH"),
    Field("r2", "resistance", "Resistance parallel to L2.", "0 ohm", "1000 ohm"),
    Field("xmax", "length", "One-way linear excursion; halve a peak-to-peak figure.", "0.5 mm", "80 mm", required=True),
    Field("rated_power", "power", "Continuous (RMS) power rating, not the peak one.", "1 W", "10000 W", required=True),
)  # fmt: skip

# What a driver does at full power; hardly any sheet has all of it, so none of it must be stated.
FULL_POWER = (
    Field("thermal_resistance", "thermal_resistance", "From the voice coil to the air, coil to magnet and magnet to "
          "air added. 0 K/W: the coil stays cold.",
          "0 K/W", "20 K/W"),
    Field("coil_metal", "choice", "What the voice coil is wound of; copper-clad aluminium counts as aluminium.",
          default="copper", choices=("copper", "aluminium")),
    Field("bl_at_xmax", "ratio",
          "Share of the force factor left at Xmax, such as 0.82; empty: it is taken as constant.", 0.3, 1.05),
    Field("cms_at_xmax", "ratio", "Share of the compliance left at Xmax, such as 0.75; empty: it is taken as constant.",
          0.2, 1.2),
    Field("inductance_exponent", "ratio", "Exponent of a lossy coil (Leach 2002): 1 is a plain inductance, 0.5 a "
          "semi-inductance, most coils are at 0.6 to 0.8; Le is then what its reactance at 1 kHz comes to.", 0.5, 1,
          default=1),
    *(
        Field(f"inductance_{part}", "ratio",
              f"{part[0].upper()}{part[1]} of a coil measured (Wright 1990), {words}; Le is then 0 mH.", low, high)
        for part, low, high, words in (
            ("kr", 0, 100, "resistance in ohm at 1 rad/s"),
            ("xr", 0.3, 1.2, "the exponent that goes with Kr"),
            ("ki", 0, 100, "reactance in ohm at 1 rad/s"),
            ("xi", 0.3, 1.2, "the exponent that goes with Ki"),
        )
    ),
)  # fmt: skip

# How a flange is screwed on; hardly any sheet states all of it, and what is left out is as is usual.
SCREWS = (
    Field("screw_circle_diameter", "length", "Circle that the screws of the flange lie on, between the middles of "
          "opposite ones; without it midway between hole and edge.", "60 mm", "690 mm"),
    Field("screw_count", "count", "Screws of the flange; without it 4, 6 or 8 by its size.", 3, 24),
    Field("screw_diameter", "length", "Thickness of those screws; without it 4, 5 or 6 mm by the flange's size.",
          "2 mm", "10 mm"),
)  # fmt: skip

# Of a passive radiator; what it measures is asked only where a box is built around it.
PASSIVE_RADIATOR = (
    Field("fs", "frequency", "Resonance frequency in free air with no mass added.", "5 Hz", "80 Hz", required=True),
    Field("qms", "ratio", "Mechanical Q at fs.", 1, 50, required=True),
    Field("vas", "volume", "Volume of air as springy as the suspension.", "1 L", "1000 L", required=True),
    Field("sd", "area", "Effective cone area, half the surround included.", "30 cm^2", "3000 cm^2", required=True),
    Field("xmax", "length", "One-way excursion it is made for; halve a peak-to-peak figure.", "2 mm", "80 mm",
          required=True),
)  # fmt: skip

# Stated beside the figures above they say the same thing twice; the two are held against each other.
CROSS_CHECKED = (
    Field("qts", "ratio", "Total Q; only checked against Qes and Qms.", 0.04, 5),
    Field("mms", "moving_mass", "Moving mass with air load; only checked against the rest.", "2 g", "2000 g"),
    Field("cms", "compliance", "Suspension compliance; only checked against the rest.", "0.005 mm/N", "5 mm/N"),
    Field("bl", "force_factor", "Force factor; only checked against the rest.", "0.5 T m", "100 T m"),
)  # fmt: skip

# Printed sheets are rounded along the way and measured in parts; 3 % apart is an honest sheet
# (the project's choice: a slipped digit nearly always does more).
ROUNDING_FLOOR = 0.03
# ρc² is 1.18·345² in one laboratory and 1.2041·343.2² in the next: Vas differs by a factor 1.0098.
AIR_ALLOWANCE = 0.01
# A plain number loses its trailing zeros in TOML (0.40 is 0.4), and Q is printed to two decimals at least.
FINEST_RATIO_PLACE = 0.005
LEAST_MOVING_MASS, MOST_MOVING_MASS = 0.002, 2.0  # kg, cone of a 4-inch driver to that of a 24-inch one
_EXTRA = tuple(field.key for field in CROSS_CHECKED)


class Relation(NamedTuple):
    """``target`` follows from ``given``; ``air`` says whether ρc² comes into it.

    Where one of ``unless`` is stated another relation says the same more directly.
    """

    target: str
    given: tuple[str, ...]
    formula: Callable[..., float]
    air: bool = False
    unless: tuple[str, ...] = ()

    @property
    def keys(self) -> tuple[str, ...]:
        return (self.target, *self.given)


# Small 1972, "Direct-radiator loudspeaker system analysis", J. Audio Eng. Soc. 20(5): the definitions of
# Qts, fs, Vas and Qes.
_MOVING_MASS = Relation(
    "mms", ("fs", "vas", "sd"), lambda fs, vas, sd: moving_mass(fs, compliance(vas, sd)), air=True, unless=("cms",)
)
RELATIONS = (
    Relation("qts", ("qes", "qms"), total_q),
    Relation("fs", ("mms", "cms"), resonance),
    Relation("vas", ("cms", "sd"), springy_air, air=True),
    _MOVING_MASS,
    Relation("bl", ("fs", "mms", "re", "qes"), force_factor),
    Relation("bl", ("fs", "cms", "re", "qes"),
             lambda fs, cms, re, qes: force_factor(fs, moving_mass(fs, cms), re, qes), unless=("mms",)),
    Relation("bl", ("fs", "vas", "sd", "re", "qes"),
             lambda fs, vas, sd, re, qes: force_factor(fs, moving_mass(fs, compliance(vas, sd)), re, qes),
             air=True, unless=("mms", "cms")),
)  # fmt: skip


def relations_for(stated: Collection[str]) -> list[Relation]:
    """The relations that the stated figures over-determine."""
    known = set(stated)
    return [each for each in RELATIONS if known.issuperset(each.keys) and known.isdisjoint(each.unless)]


def read_driver(
    reader: Reader, table: Mapping[str, Any], path: str, fields_: Sequence[Field]
) -> tuple[Driver | None, dict[str, Any]]:
    """A driver from its table, and every value of the table that reads well.

    Beside each key on its own, the figures are held against each other: the relations of :func:`relations_for`, the
    size of hole and magnet, the resistance of the coils, the ways to state an inductance.  The tolerance of a relation
    is the larger of 3 % and what rounding explains: half a unit of the last printed place of every figure in it,
    carried through the formula, plus 1 % where ρc² comes into it.  The driver is None if anything in the table is at
    fault; the reader has the faults.
    """
    sheet = _Sheet(reader, table, path, fields_)
    sheet.check_relations()
    sheet.check_moving_mass()
    sheet.check_sizes()
    sheet.check_coils()
    sheet.check_inductance()
    return sheet.part(Driver), sheet.values


def read_radiator(
    reader: Reader, table: Mapping[str, Any], path: str, fields_: Sequence[Field]
) -> tuple[PassiveRadiator | None, dict[str, Any]]:
    """A passive radiator from its table, and every value of the table that reads well.

    Held against itself are the mass that fs, vas and sd imply, and the sizes of hole and cone.  The radiator
    is None if anything in the table is at fault; the reader has the faults.
    """
    sheet = _Sheet(reader, table, path, fields_)
    sheet.check_moving_mass()
    sheet.check_sizes()
    return sheet.part(PassiveRadiator), sheet.values


class _Sheet:
    """One data sheet as it stands (``table``) and as it reads in SI (``values``)."""

    def __init__(self, reader: Reader, table: Mapping[str, Any], path: str, fields_: Sequence[Field]) -> None:
        self.kinds = {field.key: field.kind for field in fields_}
        asked = {field.key for field in fields_ if field.required}
        derived = {key: as_stated(each.value, self.kinds[key]) for key, each in derived_of(table, fields_).items()}
        self.reader, self.path = reader, path
        self.stated = [key for key in table if table[key] is not None]
        self.table = {**table, **{key: text for key, text in derived.items() if key in asked}}
        self.sound_before = len(reader.faults)
        self.values = reader.values(self.table, path, fields_)

    def part(self, make: type[Cone]) -> Cone | None:
        """What the sheet is of; None if anything was at fault."""
        if len(self.reader.faults) > self.sound_before:
            return None
        known = {field.name for field in fields(make)}
        return make(**{key: value for key, value in self.values.items() if key in known})

    def fault(self, key: str, code: str, **parameters: Any) -> None:
        self.reader.fault(f"{self.path}.{key}", code, self.table.get(key), **parameters)

    def check_relations(self) -> None:
        """Name each relation that fails, by how much, and its figures that no other relation clears."""
        stated = [key for key in self.values if key in self.stated]
        verdicts = [(relation, *self.compare(relation)) for relation in relations_for(stated)]
        sound = {key for relation, _, fits in verdicts if fits for key in relation.keys}
        for relation, follows, fits in verdicts:
            if fits:
                continue
            suspects = [key for key in relation.keys if key not in sound]
            self.fault(
                relation.target,
                "sheet_disagrees_on" if 0 < len(suspects) < len(relation.keys) else "sheet_disagrees",
                given=Keys(relation.given),
                follows=self.figure(relation.target, follows),
                deviation=Deviation(follows / self.values[relation.target] - 1.0),
                suspects=Keys(suspects),
                extra=Keys(key for key in relation.keys if key in _EXTRA),
            )

    def compare(self, relation: Relation) -> tuple[float, bool]:
        """What the relation gives for its target, and whether the stated value is within tolerance of it."""
        given = {key: self.values[key] for key in relation.given}
        follows = relation.formula(**given)
        moved = [given | {key: value + self.half_place(key)} for key, value in given.items()]
        spread = sum(abs(relation.formula(**each) - follows) for each in moved)
        rounding = (spread + self.half_place(relation.target)) / follows
        apart = abs(self.values[relation.target] / follows - 1.0)
        return follows, apart <= max(ROUNDING_FLOOR, rounding + (AIR_ALLOWANCE if relation.air else 0.0))

    def half_place(self, key: str) -> float:
        stated = self.table[key]
        return half_unit(stated, self.kinds[key]) if isinstance(stated, str) else FINEST_RATIO_PLACE

    def figure(self, key: str, value: float) -> Quantity | str:
        """A value to three significant digits; a quantity with the unit that the key was typed in."""
        stated = self.table[key]
        if not isinstance(stated, str):
            return f"{value:.3g}"
        return Quantity(value, self.kinds[key], figures=3, unit=split(stated).unit)

    def check_moving_mass(self) -> None:
        """A wrong unit of Vas or Sd shows in the mass they imply."""
        if "mms" in self.values or not all(key in self.values for key in _MOVING_MASS.given):
            return
        mass = _MOVING_MASS.formula(**{key: self.values[key] for key in _MOVING_MASS.given})
        if not LEAST_MOVING_MASS <= mass <= MOST_MOVING_MASS:
            least, most = (Quantity(each, "moving_mass", 4, "g") for each in (LEAST_MOVING_MASS, MOST_MOVING_MASS))
            said = Quantity(mass, "moving_mass", 3, "g")
            self.fault("vas", "moving_mass", given=Keys(_MOVING_MASS.given), mass=said, least=least, most=most)

    def check_sizes(self) -> None:
        """A driver must pass through its hole and cover it."""
        values = self.values
        outer, cutout, magnet = (values.get(f"{part}_diameter") for part in ("outer", "cutout", "magnet"))
        if outer and cutout and cutout >= outer:
            self.fault("cutout_diameter", "driver_falls_through", outer=Key("outer_diameter"), size=as_measured(outer))
        if cutout and magnet and magnet > cutout:
            hole = {"cutout": Key("cutout_diameter"), "size": as_measured(cutout)}
            self.fault("magnet_diameter", "magnet_through_hole", **hole)
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
        said = {"coils": coils, "wiring": wiring, "each": Quantity(each, "resistance", 4), "low": 0.5 * nominal}
        said |= {"nominal": Quantity(nominal, "resistance", 3), "high": Quantity(1.1 * nominal, "resistance", 3)}
        suspects = Keys(("re", "coil_impedance", "stated_wiring") if coils > 1 else ("re", "coil_impedance"))
        self.fault("re", "coils_nominal" if coils > 1 else "coil_nominal", **said, suspects=suspects)
