"""Vents of round pipe: one to four of one size from the shelf, straight or with one bend, flared or not."""

from __future__ import annotations

import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.acoustics import turbulence
from engine.arrays import Floats
from engine.column import Column
from engine.document import Reader
from engine.facings import DOWN, FACINGS, UP
from engine.field import Field
from engine.openings import air
from engine.openings.pipe import solids, words
from engine.openings.pipe.packing import PACKING
from engine.openings.record import Fitting, Group, Opening, Shelf, Step, StockTable, Variable, nothing
from engine.packing.placement import BENT, DRIVERS, NONE, SIDE, STRAIGHT, TOP, USUAL
from engine.words.voice import Key, Quantity

SAME = 1e-9  # m; lengths no further apart are taken for the same
MOST_VENTS = 4  # unless the job bounds their number

# What an opening takes of each pipe, and what stands for it where there is none.
ON_SHELF = {
    **dict.fromkeys(("inner_diameter", "outer_diameter", "elbow_radius", "socket_diameter", "socket_depth"), math.nan),
    **dict.fromkeys(("flare_radius", "price"), 0.0),
}
# Of them what tells one pipe from another on a front: column by size.
_SIZES = (
    ("inner_diameter", "vent_diameter_m"), ("outer_diameter", "vent_outer_diameter_m"),
    ("flare_radius", "vent_flare_m"),
)  # fmt: skip
# Panels that a job may let them out through: the left side and the drivers' own, or the top.
OUTLETS = ("usual", "top")
# Where pipes go out, in words: with drivers in the baffle or a side, with drivers in the bottom, and through the top or
# with drivers there.
WAYS = {
    NONE: ("none", "none", "none"),
    SIDE: ("through side", "through side", "through side"),
    STRAIGHT: ("through baffle", "through bottom", "through top"),
    BENT: ("through baffle, bent", "through bottom, bent", "through top, bent"),
}


@dataclass(frozen=True, kw_only=True)
class Pipe:
    """A size of round pipe on the shelf."""

    name: str
    inner_diameter: float  # m
    outer_diameter: float  # m
    price: float = 0.0  # currency per metre
    elbow_radius: float = math.nan  # m, centre line of a quarter bend in this size; nan: none to be had
    socket_diameter: float = math.nan  # m, over the sockets of that bend; nan: it is no thicker than the pipe
    socket_depth: float = math.nan  # m
    flare_radius: float = 0.0  # m, of the quarter-round flare that both ends get; 0: cut straight


FIELDS = (
    Field("name", "text", "What the shelf calls it.", required=True),
    Field("inner_diameter", "length", "Bore, as measured.", required=True, low="15 mm", high="400 mm"),
    Field("outer_diameter", "length", "Over the wall, as measured.", required=True, low="16 mm", high="420 mm"),
    Field("elbow_radius", "length", "Of a quarter bend in this size, along its centre line; empty where there is none "
          "to be had.", low="10 mm", high="1000 mm"),
    Field("socket_diameter", "length", "Over the sockets of that bend, which is fatter there than the pipe; empty "
          "where it has none.", low="16 mm", high="500 mm"),
    Field("socket_depth", "length", "Depth of those sockets.", low="2 mm", high="300 mm"),
    Field("flare_radius", "length", "Radius of the quarter-round flares that both ends get; 0: cut straight.",
          default="0 mm", low="0 mm", high="80 mm"),
    Field("price", "price_per_length", "Price by length; needed if cost is an objective.", low=0, high=10_000),
)  # fmt: skip
LABELS = {
    "name": "Pipe", "inner_diameter": "Bore", "outer_diameter": "Outside", "elbow_radius": "Bend radius",
    "socket_diameter": "Over the bend's sockets", "socket_depth": "Depth of the sockets",
    "flare_radius": "Flare radius", "price": "Price",
}  # fmt: skip
GIVEN = (
    (Field("pipe", "text", "Name of the pipe in stock that its round vents are made of."), "Pipe"),
    (Field("vent_count", "count", "Number of pipes.", default=1, low=1, high=8), "Number of pipes"),
    (Field("pipe_outlet", "choice", "Where its pipes go out: through the left side or the drivers' panel, or through "
           "the top.", default=OUTLETS[0], choices=OUTLETS), "Pipes go out"),
    air.CUT_LENGTH,
)  # fmt: skip
VENTS = Field("vent_count", "count", "Number of vents, lowest and highest.", form="range", low=1, high=8)


def _read(reader: Reader, place: str, table: Mapping[str, Any], board: float) -> tuple[Pipe | None, dict[str, Any]]:
    before = len(reader.faults)
    values = reader.values(table, place, FIELDS)
    inner, outer, radius = (values.get(key) for key in ("inner_diameter", "outer_diameter", "elbow_radius"))
    if outer:
        over = {"outer": Key("outer_diameter"), "size": Quantity(outer, "length", figures=4)}
        if radius and radius < 0.5 * outer - SAME:
            reader.fault(f"{place}.elbow_radius", "elbow_too_tight", table["elbow_radius"], **over)
        if inner and inner >= outer:
            reader.fault(f"{place}.inner_diameter", "no_wall", table["inner_diameter"], **over)
    sockets = [key for key in ("socket_diameter", "socket_depth") if key in values]
    if sockets and radius is None and table.get("elbow_radius") is None:
        reader.fault(f"{place}.{sockets[0]}", "socket_without_bend", table[sockets[0]], bend=Key("elbow_radius"))
    elif len(sockets) == 1:
        (other,) = {"socket_diameter", "socket_depth"} - {*sockets}
        if table.get(other) is None:
            reader.fault(f"{place}.{sockets[0]}", "socket_not_whole", table[sockets[0]], other=Key(other))
    around = values.get("socket_diameter")
    if around and outer and around <= outer:
        reader.fault(f"{place}.socket_diameter", "socket_too_narrow", table["socket_diameter"], **over)
    return None if len(reader.faults) > before else Pipe(**values), values


def _pipes(scenario: Any) -> tuple[Pipe, ...]:
    return tuple(scenario.stock.listed("pipe"))


def _fittings(scenario: Any) -> list[Fitting]:
    return [Fitting(key={"pipe_outlet": each}) for each in scenario.box.pipe_outlets] if _pipes(scenario) else []


def _counts(scenario: Any) -> tuple[float, float]:
    low, high = scenario.bounds.get("vent_count", (1.0, float(MOST_VENTS)))
    return low, high


def _shelf(scenario: Any) -> Shelf:
    pipes = _pipes(scenario)
    return {name: np.array([getattr(pipe, name) for pipe in pipes] or [absent]) for name, absent in ON_SHELF.items()}


def _of(group: Group, name: str) -> Floats:
    """A size of each design's pipe, (M,)."""
    return group.shelf[name][group.variable("pipe")]


def _contents(group: Group) -> dict[str, Floats]:
    sizes = {"vent_inner": _of(group, "inner_diameter"), "vent_outer": _of(group, "outer_diameter")}
    bends = {name: _of(group, name) for name in ("elbow_radius", "socket_diameter", "socket_depth", "flare_radius")}
    # With drivers in the top that is the drivers' panel.
    top, driven = group.fitted("pipe_outlet") == "top", np.array([each.panel == "top" for each in FACINGS.records])
    sizes["vent_panels"] = np.select([top & driven[group.facing], top], [DRIVERS, TOP], USUAL).astype(float)
    return {"vent_count": group.variable("vent_count").astype(float), **sizes, **bends}


def _circuit(group: Group) -> dict[str, Floats]:
    """A pipe's outer end is flush in its panel and its inner one stands free, both rounded where it is flared."""
    bore, flare = _of(group, "inner_diameter"), _of(group, "flare_radius")
    rounded = turbulence.rounded_entry(lip=flare / bore)
    entries = (rounded, np.where(flare > 0.0, rounded, turbulence.ENTRY["free"]))
    return air.circuit(group, count=group.variable("vent_count"), entries=entries, bend=turbulence.SWEPT_BEND)


def _beside(group: Group) -> Floats:
    """One bore before mouths in the left side panel."""
    return np.where(group.laid("vent_placement") == SIDE, _of(group, "inner_diameter"), 0.0)


def _cost(group: Group) -> Floats:
    """By length; what is cut off is left out."""
    return np.asarray(group.variable("vent_count") * np.nan_to_num(group.laid("vent_length")) * _of(group, "price"))


def _way(group: Group) -> NDArray[np.str_]:
    ways = np.array([WAYS[code] for code in (NONE, SIDE, STRAIGHT, BENT)])
    top = group.laid("vent_top") | (group.facing == UP)
    return np.asarray(ways[group.laid("vent_placement"), np.where(top, 2, group.facing == DOWN)])


def _chosen(values: Mapping[str, Any], parts: Sequence[Any]) -> tuple[Sequence[Any], dict[str, Any]]:
    pipe = next(pipe for pipe in parts if pipe.name == values["pipe"])
    columns = {"vent_count": values["vent_count"], "pipe_outlet": values["pipe_outlet"]}
    return (pipe,), {**columns, **{key: getattr(pipe, name) for name, key in _SIZES}}


def _giving(group: Group) -> dict[str, Any]:
    pipe = _pipes(group.scenario)[int(group.variable("pipe")[0])]
    count = int(group.variable("vent_count")[0])
    return {"pipe": pipe.name, "vent_count": count, **group.fitting.key, **air.cut(group)}


def _settled(rows: pd.DataFrame, shelf: Shelf) -> dict[str, NDArray[Any]]:
    """The pipe is the one whose bore, outside diameter and flares come nearest."""
    apart = sum(np.abs(shelf[name] - rows[key].to_numpy(float)[:, np.newaxis]) for name, key in _SIZES)
    count = rows["vent_count"].to_numpy(float).astype(np.int64)
    return {"vent_count": count, "pipe": np.argmin(np.nan_to_num(apart, nan=1.0), axis=1)}


def _stated(row: Any, group: Group) -> dict[str, Any]:
    count, length = int(row["vent_count"]), float(group.laid("vent_length")[0])
    return {"vent_count": count, "vent_diameter": float(row["vent_diameter_m"]), "vent_length": length}


def _steps(group: Group) -> Iterator[Step]:
    within = _counts(group.scenario)
    if group.variable("vent_count")[0] > 1:
        yield Step(words="one vent fewer", changes={"vent_count": -1}, within=within)
    most = "" if "vent_count" in group.scenario.bounds else f"the search tries no more than {MOST_VENTS} vents"
    yield Step(words="one more vent", changes={"vent_count": 1}, within=within, beyond=most)
    bores, pipe = group.shelf["inner_diameter"], int(group.variable("pipe")[0])
    for other in np.flatnonzero(bores != bores[pipe]):
        size = "wider" if bores[other] > bores[pipe] else "narrower"
        name = _pipes(group.scenario)[other].name
        yield Step(words=f"a {size} pipe ({name})", changes={"pipe": int(other) - pipe})


PIPE = Opening(
    name="pipe", box_kind="vented", vent_kind="pipe", instead="pipes",
    named=lambda row: f"vented box with pipes{' through the top' if row['pipe_outlet'] == 'top' else ''}",
    table=StockTable(
        path="stock.pipe", before="terminal_cup", many=True, fields=FIELDS, labels=LABELS, title="Pipes", item="pipe",
        heading="**Pipe on the shelf**, for round vents", missing="vent_missing", read=_read,
    ),
    bounds=((VENTS, "Vents"),), given=GIVEN, chosen=_chosen, giving=_giving, built=air.BUILT,
    fittings=_fittings, key=("pipe_outlet",),
    shelf=_shelf,
    variables=(
        Variable(
            name="vent_count", words="the number of vents", choice=True, absent=0,
            span=lambda scenario: (_counts(scenario)[0] - 0.499, _counts(scenario)[1] + 0.499),
            settled=lambda drawn, scenario: np.rint(drawn).astype(np.int64),
        ),
        Variable(
            name="pipe", words="the size of pipe", choice=True, absent=0,
            span=lambda scenario: (0.0, float(max(len(_pipes(scenario)), 1))),
            settled=lambda drawn, scenario: np.minimum(drawn.astype(np.int64), len(_pipes(scenario)) - 1),
        ),
    ),
    contents=_contents, packing=PACKING, circuit=_circuit, beside=_beside, limits=(air.RESONANCE,), slacks=air.SLACKS,
    weight=nothing,  # pipe and glue are left out
    cost=_cost,
    own_columns=(
        ("vent_placement", Column("pipe_outlet", "Pipes go out", "text")),
        ("vent_count", Column("vent_diameter_m", "Vent bore", "length", digits=0, sawn=True)),
        ("vent_diameter_m", Column("vent_outer_diameter_m", "Vent outside diameter", "length", digits=0, sawn=True)),
        ("vent_outer_diameter_m", Column("vent_flare_m", "Flare radius", "length", digits=0, sawn=True)),
    ),
    columns={
        "pipe_outlet": lambda group: group.fitted("pipe_outlet"),
        "vent_count": lambda group: group.variable("vent_count"),
        "vent_diameter_m": lambda group: _of(group, "inner_diameter"),
        "vent_outer_diameter_m": lambda group: _of(group, "outer_diameter"),
        "vent_flare_m": lambda group: _of(group, "flare_radius"),
        "vent_length_m": lambda group: group.laid("vent_length"),
        "vent_placement": _way,
    },
    settled=_settled, stated=_stated, steps=_steps, said=words.said, told=words.told, bodies=solids.bodies,
)  # fmt: skip
