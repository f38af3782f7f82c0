"""No opening: the closed box."""

from __future__ import annotations

from engine.openings.none.packing import PACKING
from engine.openings.record import Fitting, Opening, nothing

NONE = Opening(
    name="none",
    box_kind="closed",
    vent_kind="",
    fittings=lambda scenario: [Fitting(filling=filling) for filling in scenario.box.fillings],
    contents=lambda group: {},
    packing=PACKING,
    circuit=lambda group: {},
    beside=nothing,
    weight=nothing,
    cost=nothing,
    columns={"vent_placement": lambda group: "none"},
    stated=lambda row, group: {},
    named=lambda row: "closed box",
    instead="no opening",
    said=lambda row, units: "no vent",
    bodies=lambda box: [],
    told=lambda things, told: [],
)
