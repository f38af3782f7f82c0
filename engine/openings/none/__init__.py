"""No opening: the closed box."""

from __future__ import annotations

from engine.openings.none.packing import PACKING
from engine.openings.record import Fitting, Opening, nothing

NONE = Opening(
    name="none",
    box_kind="closed",
    vent_kind="",
    tuned=False,
    table=None,
    bounds=(),
    fittings=lambda scenario: [Fitting(filling=filling) for filling in scenario.box.fillings],
    shelf=lambda scenario: {},
    variables=(),
    contents=lambda group: {},
    packing=PACKING,
    circuit=lambda group: {},
    beside=nothing,
    limits=(),
    weight=nothing,
    cost=nothing,
    key=(),
    own_columns=(),
    columns={"vent_placement": lambda group: "none"},
    settled=lambda rows, shelf: {},
    stated=lambda row, group: {},
    steps=lambda group: (),
    named=lambda row: "closed box",
    instead="no opening",
    said=lambda row, units: "no vent",
    bodies=lambda box: [],
    dimensions=lambda bodies: [],
    told=lambda things, told: [],
)
