"""Passive radiators: cones without a motor that stand in for a vent, tuned by the mass added to them."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.arrays import Floats
from engine.column import Column
from engine.constraint import Slack
from engine.datasheet import PASSIVE_RADIATOR, SCREWS, read_radiator
from engine.document import Reader
from engine.field import Field
from engine.openings.radiator import solids, words
from engine.openings.radiator.packing import PACKING
from engine.openings.record import Fitting, Group, Limit, Opening, StockTable, nothing
from engine.parts import PassiveRadiator, room_before
from engine.words.voice import Quantity

SIZES = {"radiator_outer": "outer_diameter", "radiator_cutout": "cutout_diameter", "radiator_depth": "mounting_depth"}
MOST_EXCESS = 1e3  # of a constraint, where the mass would be absurd


@dataclass(frozen=True, kw_only=True)
class RadiatorCandidate:
    """A passive radiator to try, and how many of it."""

    radiator: PassiveRadiator
    counts: tuple[int, ...] = (1,)


LABELS = {
    "name": "Name", "counts": "How many to try", "fs": "Resonance fs", "qms": "Qms", "vas": "Vas",
    "sd": "Cone area Sd", "xmax": "Xmax, one way", "most_added": "Most that may be added",
    "outer_diameter": "Over the flange", "cutout_diameter": "Cut-out diameter", "mounting_depth": "Mounting depth",
    "front_height": "Flange and surround stand out", "displacement": "Volume it takes up inside", "mass": "Weight",
    "price": "Price", "screw_circle_diameter": "Circle of its screws", "screw_count": "Screws",
    "screw_diameter": "Thickness of a screw",
}  # fmt: skip
FIELDS = (
    Field("name", "text", "What you call it.", required=True),
    Field("counts", "count", "How many to try in one box, such as 1, 2.", form="list", default=[1], low=1, high=8),
    *PASSIVE_RADIATOR,
    Field("most_added", "added_mass", "Most mass its maker lets you screw onto one cone; empty: any.",
          low="0 g", high="3 kg"),
    Field("outer_diameter", "length", "Over the flange.", required=True, low="80 mm", high="700 mm"),
    Field("cutout_diameter", "length", "Hole in the panel.", required=True, low="60 mm", high="690 mm"),
    Field("mounting_depth", "length", "From the flange's seat to the rearmost point at rest, the mass that is added "
          "included.", required=True, low="15 mm", high="400 mm"),
    Field("front_height", "length", "How far flange and surround stand out before the panel while the cone rests.",
          low="0 mm", high="80 mm", default="12 mm"),
    Field("displacement", "volume", "Volume one radiator takes inside the box.", default="0 L", low="0 L", high="30 L"),
    Field("mass", "mass", "Weight of one radiator as bought; needed if weight is an objective.",
          low="0.05 kg", high="30 kg"),
    Field("price", "price", "Price of one radiator; needed if cost is an objective.", low=0, high=100_000),
    *SCREWS,
)  # fmt: skip

GIVEN = (
    (Field("radiator", "text", "Name of its passive radiator among those listed."), "Passive radiator"),
    (Field("radiator_count", "count", "Number of passive radiators.", default=1, low=1, high=8),
     "Number of passive radiators"),
    (Field("added_mass", "added_mass", "Mass screwed onto each passive radiator; in place of the tuning.",
           low="0 g", high="20 kg"), "Mass added to each"),
)  # fmt: skip


def _read(
    reader: Reader, place: str, table: Mapping[str, Any], board: float
) -> tuple[RadiatorCandidate | None, dict[str, Any]]:
    radiator, values = read_radiator(reader, table, place, FIELDS)
    shallow = values.get("mounting_depth", math.inf) <= board
    if shallow:
        thick = Quantity(board, "length", figures=4)
        reader.fault(f"{place}.mounting_depth", "within_board", table["mounting_depth"], board=thick)
    if shallow or radiator is None:
        return None, values
    return RadiatorCandidate(radiator=radiator, counts=tuple(sorted(values["counts"]))), values


def _chosen(values: Mapping[str, Any], parts: Sequence[Any]) -> tuple[Sequence[Any], dict[str, Any]]:
    key = {name: values[name] for name in ("radiator", "radiator_count")}
    radiator = next(each.radiator for each in parts if each.radiator.name == key["radiator"])
    return (RadiatorCandidate(radiator=radiator, counts=(key["radiator_count"],)),), key


def _fittings(scenario: Any) -> Iterator[Fitting]:
    for candidate in scenario.stock.listed("radiator"):
        for count in candidate.counts:
            key = {"radiator": candidate.radiator.name, "radiator_count": count}
            yield Fitting(part=candidate.radiator, count=count, key=key)


def _contents(group: Group) -> dict[str, Floats]:
    sizes = {name: group.part(figure) for name, figure in SIZES.items()}
    sizes["radiator_depth"] = sizes["radiator_depth"] + group.scenario.box.baffle_recess
    return {**sizes, "radiator_count": group.parts, "radiator_displacement": group.part("displacement")}


def _circuit(group: Group) -> dict[str, Floats]:
    figures = {f"radiator_{name}": group.part(name) for name in ("sd", "cms", "rms", "xmax")}
    return {**figures, "radiator_count": group.parts}


def added_mass(group: Group) -> Floats:
    """What has to be added to each passive radiator for the tuning, (M,) kg; negative: it is too heavy as it is.

    From ωb² = (1/cms + n·sd²/cab)/mass (Small 1974).
    """
    cms, sd, own = (group.part(name) for name in ("cms", "sd", "mms"))
    springs = 1.0 / cms + group.parts * sd**2 * group.scenario.air.stiffness / group.laid("net_volume")
    return np.asarray(springs / (2.0 * math.pi * group.tuning) ** 2 - own)


def _excess(parts_of_own: Floats) -> Floats:
    return np.clip(np.nan_to_num(parts_of_own, nan=-1.0), -1.0, MOST_EXCESS)


def _too_heavy(group: Group) -> Floats:
    with np.errstate(all="ignore"):
        return _excess(-added_mass(group) / group.part("mms"))


def _too_loaded(group: Group) -> Floats:
    with np.errstate(all="ignore"):
        return _excess((added_mass(group) - group.part("most_added")) / group.part("mms"))


def _before(group: Group) -> Floats:
    """What a cone needs before it anywhere, (M,) m."""
    box, sizes = group.scenario.box, {name: group.part(name) for name in ("front_height", "xmax")}
    return room_before(**sizes, gap=box.breathing_gap, recess=box.baffle_recess)


def _weight(group: Group) -> Floats:
    """As bought, with what is added to them."""
    return np.nan_to_num(group.parts * (group.part("mass") + np.maximum(added_mass(group), 0.0)))


def _stated(row: Any, group: Group) -> dict[str, Any]:
    fitting = group.fitting
    return {"radiator": fitting.part, "radiator_count": fitting.count, "added_mass": float(added_mass(group)[0])}


RADIATOR = Opening(
    name="radiator", box_kind="radiator", vent_kind="", instead="passive radiators",
    named=lambda row: f"box with {row['radiator_count']} × {row['radiator']}",
    table=StockTable(
        path="radiator", before="amplifier", many=True, fields=FIELDS, labels=LABELS, title="Passive radiators",
        heading="**Passive radiators**", item="passive radiator", missing="radiator_missing", read=_read,
    ),
    fittings=_fittings, contents=_contents, packing=PACKING, circuit=_circuit, beside=nothing, before=_before,
    limits=(
        Limit("radiator weight", "a passive radiator light enough for the tuning",
              "the passive radiators are too heavy for that tuning as they are", excess=_too_heavy),
        Limit("radiator load", "weight that the passive radiator may be loaded with",
              "the passive radiators may not be loaded with that much weight", excess=_too_loaded),
    ),
    slacks=(
        Slack("radiator height", "length of the panel for passive radiator and flange",
              "the panel is not long enough for the passive radiators there"),
        Slack("radiator depth", "depth behind the passive radiator",
              "the passive radiators would come too near the panel behind them"),
        Slack("radiator row", "width for drivers, passive radiators and braces side by side",
              "drivers, passive radiators and braces need the width"),
    ),
    weight=_weight,
    cost=lambda group: np.nan_to_num(group.parts * group.part("price")),
    key=("radiator", "radiator_count"),
    own_columns=(
        ("vent_placement", Column("radiator", "Passive radiator", "text")),
        ("radiator", Column("radiator_count", "Passive radiators", "count", digits=0)),
        ("radiator_count", words.ADDED_MASS),
    ),
    columns={
        "radiator": lambda group: group.fitted("radiator"),
        "radiator_count": lambda group: group.fitted("radiator_count"),
        words.ADDED_MASS.key: added_mass,
        "vent_placement": lambda group: "none",
    },
    giving=lambda group: {**group.fitting.key, "added_mass": float(added_mass(group)[0])},
    given=GIVEN, chosen=_chosen, built=("added_mass", words.ADDED_MASS.key),
    stated=_stated, said=words.said, told=words.told, bodies=solids.bodies,
)  # fmt: skip
