"""Invented drivers, pipes and boxes for the tests of layouts."""

from __future__ import annotations

import inspect
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from engine.arrays import Floats
from engine.facings import FRONT
from engine.openings import OPENINGS
from engine.packing.contents import Contents, Rules, drivers_of
from engine.packing.placement import TOP
from engine.parts import TerminalCup
from engine.space.layout import Layout, lay_out
from engine.space.wedge import Wedges

GAP = 0.010
BOARD = 0.018
SPAN = 0.4
FREE_WIDTH = 1.15
C = 343.2
CUP = TerminalCup(cutout_diameter=0.054, flange_diameter=0.080, depth=0.055)
CUPS = (
    CUP,
    TerminalCup(cutout_diameter=0.1, flange_diameter=0.13, depth=0.09),
    TerminalCup(cutout_diameter=0.03, flange_diameter=0.05, depth=0.01),  # within the board
)
# Sizes of openings where a design has another one.
ABSENT = {
    **dict.fromkeys(("vent_count", "vent_inner", "vent_outer", "flare_radius", "vent_panels"), 0.0),
    **dict.fromkeys(("radiator_count", "radiator_displacement"), 0.0),
    **dict.fromkeys(
        (
            "elbow_radius",
            "socket_diameter",
            "socket_depth",
            "slot_height",
            "radiator_outer",
            "radiator_cutout",
            "radiator_depth",
        ),
        np.nan,
    ),
}
DRIVER = [name for name in inspect.signature(drivers_of).parameters if name not in ("board", "breathing_gap")]
SIZES = ("outer_diameter", "cutout_diameter", "magnet_diameter", "mounting_depth")

# Over the flange, cut-out, magnet, mounting depth.
DRIVERS = np.array(
    [
        [0.212, 0.184, 0.120, 0.098],
        [0.270, 0.236, 0.145, 0.128],
        [0.316, 0.282, 0.175, 0.150],
        [0.300, 0.180, 0.200, 0.110],
    ]
)
# Over the flange, cut-out, mounting depth.
RADIATORS = np.array([[0.150, 0.120, 0.050], [0.212, 0.184, 0.080], [0.270, 0.236, 0.095], [0.316, 0.282, 0.120]])
# Bore and outer diameter.
PIPES = np.array([[0.0525, 0.0603], [0.0779, 0.0889], [0.1022, 0.1143]])


def frustum_volume(one: Floats, other: Floats, length: Floats) -> Floats:
    """Volume between two discs of diameters ``one`` and ``other``."""
    result: Floats = np.pi * length / 12.0 * (one**2 + one * other + other**2)
    return result


def contents(count: int, *, seed: int, closed: float = 0.2, plain: bool = True, board: Any = BOARD) -> dict[str, Any]:
    """Random contents for ``count`` boxes; a driver takes the volume of its frustum.

    ``plain`` drivers face the front and state no more than their outer sizes; otherwise every
    facing, stated magnets, terminals and air behind them, and pipes with bends are among them.
    """
    rng = np.random.default_rng(seed)
    outer, cutout, magnet, depth = DRIVERS[rng.integers(0, len(DRIVERS), count)].T
    bore, pipe = PIPES[rng.integers(0, len(PIPES), count)].T
    nothing = np.full(count, np.nan)
    things = {
        "facing": np.zeros(count, dtype=np.int64),
        "outer_diameter": outer.copy(),
        "cutout_diameter": cutout.copy(),
        "magnet_diameter": magnet.copy(),
        "mounting_depth": depth.copy(),
        "magnet_depth": nothing.copy(),
        "rear_gap": nothing.copy(),
        "terminal_depth": nothing.copy(),
        "driver_displacement": frustum_volume(cutout, magnet, depth - board),
        "driver_count": rng.integers(1, 4, count).astype(float),
        "stirred": np.random.default_rng(seed + 1000).uniform(0.0, 0.03, count),
        "vent_count": np.where(rng.random(count) < closed, 0, rng.integers(1, 5, count)).astype(float),
        "vent_inner": bore.copy(),
        "vent_outer": pipe.copy(),
        "elbow_radius": nothing.copy(),
        "tuning": rng.uniform(25.0, 60.0, count),
    }
    if plain:
        return things

    def some(values: Floats) -> Floats:
        return np.where(rng.random(count) < 0.7, values, np.nan)

    things["facing"] = rng.choice(3, count, p=(0.5, 0.25, 0.25))
    things["magnet_depth"] = some(rng.uniform(0.2, 0.5, count) * depth)
    things["rear_gap"] = some(rng.uniform(0.0, 0.03, count))
    things["terminal_depth"] = some(rng.uniform(0.4, 0.7, count) * depth)
    things["elbow_radius"] = some(rng.uniform(0.6, 1.3, count) * pipe)
    with_sockets = (rng.random(count) < 0.3) & ~np.isnan(things["elbow_radius"])
    things["socket_diameter"] = np.where(with_sockets, rng.uniform(1.05, 1.3, count) * pipe, np.nan)
    things["socket_depth"] = np.where(with_sockets, rng.uniform(0.015, 0.06, count), np.nan)
    neck = depth - np.nan_to_num(things["magnet_depth"])
    things["driver_displacement"] = frustum_volume(cutout, magnet, neck - board) + frustum_volume(
        magnet, magnet, depth - neck
    )
    return things


def among_others(things: dict[str, Any], *, seed: int, board: Any = BOARD) -> dict[str, Any]:
    """The same, some of the pipes with flares, some of the boxes with slots or with passive radiators instead."""
    count, bore = len(things["facing"]), things["vent_inner"]
    rng, things = np.random.default_rng(seed), dict(things)
    things["flare_radius"] = np.where(rng.random(count) < 0.3, rng.uniform(0.1, 0.4, count) * bore, 0.0)
    kind = rng.random(count)
    slotted, beside = (kind < 0.2) & (things["vent_count"] > 0.0), kind > 0.86
    things["slot_height"] = np.where(slotted, rng.uniform(0.012, 0.06, count), np.nan)
    things["vent_count"] = np.where(beside, 0.0, np.where(slotted, 1.0, things["vent_count"]))
    flange, hole, deep = RADIATORS[rng.integers(0, len(RADIATORS), count)].T
    things["radiator_count"] = np.where(beside, rng.integers(1, 4, count), 0).astype(float)
    things["radiator_outer"], things["radiator_cutout"], things["radiator_depth"] = flange, hole, deep
    things["radiator_displacement"] = frustum_volume(hole, hole, deep - board)
    return things


def boxes(count: int, *, seed: int, back_angle: float = 0.2, deepest: float = 0.55, board: float = BOARD) -> Wedges:
    rng = np.random.default_rng(seed)
    return Wedges(
        outer_width=rng.uniform(0.35, 1.15, count),
        outer_height=rng.uniform(0.28, 0.6, count),
        top_depth=rng.uniform(0.08, 0.9 * deepest, count),
        bottom_depth=rng.uniform(0.08, deepest, count),
        board=board,
        back_angle=back_angle,
    )


def contents_of(things: dict[str, Any], *, board: Any = BOARD, gap: float = GAP) -> Contents:
    """Contents from sizes by name: each design has drivers of its own and the opening whose sizes are stated."""
    count = len(things["facing"])
    sizes = {name: np.broadcast_to(things.get(name, absent), count) for name, absent in ABSENT.items()}
    slotted = (sizes["vent_count"] > 0.0) & ~np.isnan(sizes["slot_height"])
    stated = (sizes["radiator_count"] > 0.0, slotted, sizes["vent_count"] > 0.0)
    opening = np.select(stated, [list(OPENINGS).index(name) for name in ("radiator", "slot", "pipe")], 0)
    stated = {name.removeprefix("driver_"): values for name, values in things.items()}
    own = {name: stated[name if name != "number" else "count"] for name in DRIVER if name != "stirred"}
    own["stirred"] = stated.get("stirred", 0.0)
    drivers = drivers_of(**own, board=board, breathing_gap=gap)
    return Contents(drivers=drivers, which=np.arange(count), opening=opening, sizes=sizes)


def layout(wedges: Wedges, things: dict[str, Any], **changes: Any) -> Layout:
    """Lay out ``things`` (contents and tuning) by the usual rules; ``changes`` are to those or to what is kept free."""
    rules: dict[str, Any] = {"breathing_gap": GAP, "brace_span": SPAN, "c": C}
    rules.update({name: changes.pop(name) for name in list(changes) if name in Rules.__dataclass_fields__})
    settings = {"free_width": FREE_WIDTH, **changes}
    found = contents_of(things, board=wedges.front, gap=rules["breathing_gap"])
    return lay_out(wedges, found, Rules(**rules), tuning=things["tuning"], **settings)


def take(things: dict[str, Any], rows: Any) -> dict[str, Any]:
    return {name: value[rows] for name, value in things.items()}


def fitting(laid_out: Layout) -> NDArray[np.bool_]:
    kept: NDArray[np.bool_] = np.max(np.stack(list(laid_out.violations.values())), axis=0) <= 0.0
    return kept


@dataclass(frozen=True)
class Mixed:
    """Designs of every kind by one set of random rules; ``empty`` are the same boxes with next to nothing in."""

    layout: Layout
    empty: Layout
    contents: dict[str, Any]
    tuning: Floats
    surroundings: dict[str, float]  # what the check of solids is told


def mixed(
    count: int,
    *,
    seed: int,
    facing: int | None = None,
    air_beside: bool = True,
    others: bool = False,
    long_slots: bool = False,
    double: bool = False,
    top: bool = False,
) -> Mixed:
    """Random designs; of one ``facing`` if that is given, all as wide as the space without ``air_beside``.

    Pipes with bends vent them; with ``others`` flares, slots and passive radiators are among
    them, and with ``long_slots`` nothing but slots, many of them too long for the width.  ``double``: all face the
    front, in baffles of two layers with flanges sunk into them.  ``top``: all pipes go out through the top panel.
    """
    rng = np.random.default_rng(seed)
    board = float(rng.choice([0.012, 0.015, 0.018, 0.022, 0.025]))
    rules: dict[str, Any] = {
        "breathing_gap": float(rng.choice([0.0, 0.005, 0.010, 0.010, 0.020, 0.035])),
        "brace_span": float(rng.choice([0.25, 0.4, 0.6])),
        "round_over": float(rng.choice([0.0, 0.006, board])),
        "cup": (None, *CUPS)[rng.integers(1 + len(CUPS))],
        "cup_room": 0.04 * (seed % 3 == 1),
        "wood": 0.01 * (seed % 3 == 2),
    }
    air = {"free_width": float(rng.choice([0.9, 1.15, 1.4])), "driver_air": float(rng.choice([0.0, 0.03]))}
    deepest = float(rng.choice([0.4, 0.55, 0.7]))
    wedges = boxes(count, seed=seed + 1000, back_angle=float(rng.uniform(-0.35, 0.45)), deepest=deepest, board=board)
    # No box is wider than the space that it stands in.
    widest = np.minimum(wedges.outer_width, air["free_width"])
    wedges = replace(wedges, outer_width=widest if air_beside else np.full(count, air["free_width"]))
    thick: Any = board
    if double:
        facing = FRONT
        thick, rules["recess"] = board + rng.choice([0.009, 0.018, board], count), 0.006
        wedges = replace(wedges, layer=thick - board)
    things = contents(count, seed=seed, plain=False, board=thick, closed=0.1)
    if facing is not None:
        things["facing"] = np.full(count, facing)
    if others:
        things = among_others(things, seed=seed + 2000, board=thick)
    if top:
        things["vent_panels"] = np.full(count, TOP)
    if long_slots:
        things["vent_count"] = np.ones(count)
        things.update(slot_height=rng.uniform(0.03, 0.08, count), tuning=rng.uniform(20.0, 45.0, count))
    nothing = {**things, "facing": np.zeros(count, dtype=np.int64), "vent_count": np.zeros(count)}
    nothing.pop("radiator_count", None)
    nothing.update(driver_count=np.ones(count), **dict.fromkeys(SIZES, np.full(count, 0.001)))
    sizes = {name: value for name, value in things.items() if name != "tuning"}
    return Mixed(
        layout=layout(wedges, things, **rules, **air),
        empty=layout(wedges, nothing, **{**rules, "cup": None}, **air),
        contents=sizes,
        tuning=things["tuning"],
        surroundings={"gap": rules["breathing_gap"], "round_over": rules["round_over"], **air},
    )
