"""A slot vent of the box's own board, along its bottom or top."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np

from engine.acoustics import turbulence
from engine.arrays import Floats
from engine.column import Column
from engine.document import Reader
from engine.field import Field
from engine.openings import air
from engine.openings.record import Fitting, Group, Opening, Step, StockTable, Variable, nothing
from engine.openings.slot import solids, words
from engine.openings.slot.packing import PACKING
from engine.packing.placement import NONE, SLOT_BAFFLE, SLOT_SIDE
from engine.steps import stepped, whole_steps

STEP = 1e-3  # m, that "why" makes a slot higher or lower by

# Where slots go out, in words; they keep off the panel of drivers that face down.
WAYS = {NONE: "none", SLOT_SIDE: "slot through side", SLOT_BAFFLE: "slot through baffle"}


@dataclass(frozen=True, kw_only=True)
class Slot:
    """A slot vent made of the box's own board, along its bottom or top."""

    height: tuple[float, float]  # m, lowest and highest clear height to try


FIELDS = (
    Field("height", "length", "Clear height of slot vents made of the box's own board, lowest and highest to try.",
          form="range", required=True, low="15 mm", high="120 mm"),
)  # fmt: skip

GIVEN = (
    (Field("slot_height", "length", "Clear height of its slot of the box's own board.", low="5 mm", high="300 mm"),
     "Clear height of the slot"),
    air.CUT_LENGTH,
)  # fmt: skip


def _read(reader: Reader, place: str, table: Mapping[str, Any], board: float) -> tuple[Slot | None, dict[str, Any]]:
    values = reader.values(table, place, FIELDS)
    return Slot(**values) if "height" in values else None, values


def _slots(scenario: Any) -> tuple[Slot, ...]:
    """The one in stock, or none."""
    return tuple(scenario.stock.listed("slot"))


def _chosen(values: Mapping[str, Any], parts: Sequence[Any]) -> tuple[Sequence[Any], dict[str, Any]]:
    height = values["slot_height"]
    return (Slot(height=(height, height)),), {"slot_height_m": height}


def _span(scenario: Any) -> tuple[float, float]:
    for slot in _slots(scenario):
        return whole_steps(*slot.height, scenario.saw.size_step)
    return 0.0, 1.0


def _circuit(group: Group) -> dict[str, Floats]:
    """A slot's inner end lies against a panel on three sides, so both ends are taken as flush."""
    entries = (turbulence.rounded_entry(lip=0.0), turbulence.ENTRY["flush"])
    return air.circuit(group, count=np.ones(len(group)), entries=entries, bend=turbulence.MITRED_BEND)


def _beside(group: Group) -> Floats:
    """One clear height before a mouth in the left side panel."""
    return np.where(group.laid("vent_placement") == SLOT_SIDE, group.variable("slot_height"), 0.0)


def _stated(row: Any, group: Group) -> dict[str, Any]:
    width, length = (float(group.laid(name)[0]) for name in ("slot_width", "vent_length"))
    return {"vent_count": 1, "vent_width": width, "vent_height": float(row["slot_height_m"]), "vent_length": length}


def _steps(group: Group) -> Iterator[Step]:
    (slot,) = _slots(group.scenario)
    stock = "your stock sets the slot's lowest and highest"
    for name, change in (("a higher slot", STEP), ("a lower slot", -STEP)):
        yield Step(words=name, changes={"slot_height": change}, within=slot.height, beyond=stock)


SLOT = Opening(
    name="slot", box_kind="vented", vent_kind="slot", named=lambda row: "vented box with a slot", instead="a slot",
    table=StockTable(
        path="stock.slot", before="terminal_cup", many=False, fields=FIELDS, labels={"height": "Clear height"},
        title="Slot", item="slot", missing="vent_missing", read=_read,
        heading="**Slot of the box's own board**, as a vent along the bottom or top – empty for none",
    ),
    fittings=lambda scenario: [Fitting()] if _slots(scenario) else [],
    variables=(
        Variable(
            name="slot_height", words="the slot's height", choice=False, absent=np.nan, span=_span,
            settled=lambda drawn, scenario: stepped(drawn, scenario.saw.size_step),
        ),
    ),
    contents=lambda group: {"vent_count": np.ones(len(group)), "slot_height": group.variable("slot_height")},
    packing=PACKING, circuit=_circuit, beside=_beside, limits=(air.RESONANCE,), slacks=air.SLACKS,
    weight=nothing, cost=nothing,  # its boards are board like the rest
    own_columns=(
        ("vent_outer_diameter_m", Column("slot_width_m", "Slot width", "length", digits=0, sawn=True)),
        ("slot_width_m", Column("slot_height_m", "Slot height", "length", digits=0, sawn=True)),
        ("slot_height_m", Column("slot_turn_m", "Slot's turn along the side", "length", digits=0, sawn=True)),
    ),
    columns={
        "vent_count": lambda group: np.ones(len(group)),
        "slot_width_m": lambda group: group.laid("slot_width"),
        "slot_height_m": lambda group: group.variable("slot_height"),
        "slot_turn_m": lambda group: group.laid("slot_turn"),
        "vent_length_m": lambda group: group.laid("vent_length"),
        "vent_placement": lambda group: [WAYS[int(code)] for code in group.laid("vent_placement")],
    },
    given=GIVEN, chosen=_chosen, built=air.BUILT,
    giving=lambda group: {"slot_height": float(group.variable("slot_height")[0]), **air.cut(group)},
    settled=lambda rows, shelf: {"slot_height": rows["slot_height_m"].to_numpy(float)}, stated=_stated, steps=_steps,
    said=words.said, told=words.told, bodies=solids.bodies, dimensions=solids.dimensions,
)  # fmt: skip
