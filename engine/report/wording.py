"""Figures of a front as a reader sees them: in their units, with the digits that mean something."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

from engine.acoustics.filters import SHAPES
from engine.columns import COLUMNS
from engine.facings import FACINGS
from engine.goals import GOALS
from engine.kinds import KINDS
from engine.openings import opening_of
from engine.parts import Driver
from engine.quantities import MISSING, Units, display_unit, show, show_sawn, show_shortage, show_size
from engine.scenario import Goals, Scenario
from engine.space.panels import double_baffle
from engine.words.voice import listed

FILLINGS = {
    "none": "", "lined": "lined with damping wool", "half": "half filled with damping wool",
    "full": "filled with damping wool",
}  # fmt: skip
# What a design that is turned down meets first.
MEETS = {
    "amplifier": "the amplifier gives its full voltage",
    "thermal": "the coil takes its rated power",
    "excursion": "the cone reaches Xmax",
    "vent": "the air in the vent reaches its limit",
    "passive radiator": "the passive radiator reaches its Xmax",
}
_ALL = 0.9995  # of the power
NEAR = 1.0  # m; a wall farther before a cone is no matter to it
HEAVY = 0.5e-3  # kg; less air before a cone is not worth a word
MUCH_DISTORTION = 0.10  # below it nothing is said of a tone in the bass
# What stands in a column of text, as a reader sees it where that differs.
_TEXTS = {
    "vent_kind": {"pipe": "round pipe", "none": ""},
    "filling": FILLINGS,
    "filter_shape": {shape.name: shape.label for shape in SHAPES.records} | {"none": ""},
    "vent_placement": {"none": ""},
}


def figure(key: str, value: Any, units: Units, currency: str = "") -> str:
    """One figure of a front as text with its unit; a dash where there is none."""
    column = COLUMNS[key]
    if key == "box_kind":
        return KINDS[value].short
    if column.kind == "text":
        return _TEXTS.get(key, {}).get(str(value), str(value) if isinstance(value, str) else "") or MISSING
    number = float(value)
    if not math.isfinite(number):
        return MISSING
    if key == "short_by_m":
        return show_shortage(number, units)
    match column.kind:
        case "count" | "money":
            return f"{number:.0f} {unit(key, units, currency)}".strip()
        case "ratio" | "level":
            return f"{number:.{column.digits}f} {unit(key, units, currency)}".strip()
        case "mass":
            return show(number, "mass", units, column.digits)
    return show_sawn(number, units) if column.sawn else show(number, column.kind, units)


def figure_of(row: Mapping[str, Any], key: str, units: Units, currency: str = "") -> str:
    """One figure of one design; a box without vents has no air speed in them, one without radiators no travel."""
    if key == "filter_shape" and row[key] in SHAPES:
        return SHAPES[row[key]].with_q(float(row["filter_q"]))
    if key not in row:
        return MISSING  # the level at a frequency that its job does not name
    if key in GOALS and not GOALS[key].had_by(row["box_kind"]):
        return GOALS[key].absent[0]
    return figure(key, row[key], units, currency)


def unit(key: str, units: Units, currency: str = "") -> str:
    """The unit a column is shown in; empty for plain numbers and text."""
    match COLUMNS[key].kind:
        case "text" | "count" | "ratio":
            return ""
        case "level":
            return "dB"
        case "money":
            return currency
    return display_unit(COLUMNS[key].kind, units)


def heading(key: str, units: Units, currency: str = "") -> str:
    """A column's label with its unit: "Outer depth (mm)"."""
    measure = unit(key, units, currency)
    return f"{COLUMNS[key].label} ({measure})" if measure else COLUMNS[key].label


def better_side(key: str) -> str:
    """Which way is better, in words."""
    return {"min": "lower is better", "max": "higher is better", None: ""}[COLUMNS[key].better]


def as_used(row: Mapping[str, Any], goals: Goals, units: Units) -> str:
    """How far a design is turned down and for what, as a sentence."""
    if goals.use.full_drive:
        return "It is judged at the amplifier's full power, whatever that breaks."
    share = float(row["power_share"])
    fed = f"from {show(goals.fed_from, 'frequency', units, 0)} up"
    if share > _ALL:
        return f"It takes the amplifier's full power: nothing passes a limit {fed}."
    down, power = f"{-10.0 * math.log10(share):.1f}", f"{100.0 * share:.0f} % of the amplifier's power"
    used = f"At {power}" if down == "0.0" else f"Turned down by {down} dB, to {power},"
    at = figure("gain_limited_hz", row["gain_limited_hz"], units)
    return f"{used} nothing passes a limit {fed}: {MEETS[row['gain_limited_by']]} at {at}."


def distorts(levels: Iterable[tuple[float, float]], driver: Driver, *, vented: bool, units: Units) -> str:
    """About what tones at some frequencies distort, each Hz and a ratio, and what that is from, in a sentence."""
    parts = (
        ("motor", not math.isnan(driver.bl_at_xmax)),
        ("suspension", not math.isnan(driver.cms_at_xmax)),
        ("vent", vented),
    )
    known = [f"the {name}" for name, is_known in parts if is_known]
    unknown = [f"the {name}" for name, is_known in parts[:2] if not is_known]
    lose = "loses" if len(unknown) == 1 else "lose"
    missing = f"the data sheet does not say what {listed(unknown)} {lose} at Xmax" if unknown else ""
    if not known:
        return f"Its distortion is not known: {missing}."
    if much := [(hz, ratio) for hz, ratio in levels if ratio >= MUCH_DISTORTION]:
        told = listed([f"{100.0 * ratio:.0f} % at {show(hz, 'frequency', units, 0)}" for hz, ratio in much])
        said = f"Tones distort by about {told}"
    else:
        at = listed([show(hz, "frequency", units, 0) for hz, _ in levels])
        said = f"Tones at {at} distort by less than {100.0 * MUCH_DISTORTION:.0f} %"
    return f"{said}, from {listed(known)}{f'; {missing}' if missing else ''}."


def outside(row: Mapping[str, Any], units: Units) -> str:
    """Outer dimensions in one line: width × height × depth, top and bottom."""
    keys = ("outer_width_m", "outer_height_m", "top_depth_m", "bottom_depth_m")
    width, height, top, bottom = (figure(key, row[key], units) for key in keys)
    return f"{width} wide × {height} high × {top} deep at the top, {bottom} at the bottom"


def openings(row: Mapping[str, Any], units: Units) -> str:
    """What the box breathes through, in one line: vents, passive radiators, or nothing."""
    return opening_of(row).said(row, units)


def drivers(row: Mapping[str, Any]) -> str:
    """The drivers in one line: count, name, how they stand and which way they face."""
    count, rows = int(row["driver_count"]), int(row["driver_rows"])
    facing, stand = FACINGS[row["facing"]], ""
    if count > 1:
        stand = ", side by side" if rows == 1 else f", {facing.stacked if rows == count else f'{rows} to a column'}"
    return f"{count} × {row['driver']}{stand}{facing.words}"


def baffle(row: Mapping[str, Any], scenario: Scenario, units: Units) -> str:
    """A baffle of two layers, and how deep flanges are sunk, in one line; empty where it is neither."""
    board, layer = scenario.stock.board_thickness, scenario.stock.layer_of(row["baffle"])
    recess = scenario.box.baffle_recess
    said = [double_baffle(board, layer, units)] if layer else []
    return ", ".join(said + ([f"flanges sunk {show_size(recess, units)}"] if recess else []))


def air_before(row: Mapping[str, Any], units: Units) -> str:
    """How near the nearest wall stands before a cone, and what the air in between adds to its moving mass, in one line.

    Empty where none is near.
    """
    if not float(row["cone_air_m"]) < NEAR:
        return ""
    near, air = float(row["cone_air_m"]), float(row["cone_air_kg"])
    away = show_sawn(near, units) if units == "us" else show(near, "length", units, 0)
    adds = f", which adds {show(air, 'moving_mass', units)} to each driver's moving mass" if air >= HEAVY else ""
    return f"{away} of air before the cones at least{adds}"


def filling(row: Mapping[str, Any]) -> str:
    """What is in a closed box besides air; empty where nothing is."""
    return FILLINGS.get(str(row["filling"]), "")


def high_pass(row: Mapping[str, Any], units: Units) -> str:
    """The high-pass filter in one line."""
    if (order := int(row["filter_order"])) == 0:
        return "no high-pass filter"
    shape, at = SHAPES[row["filter_shape"]].with_q(float(row["filter_q"])), figure("filter_hz", row["filter_hz"], units)
    return f"{shape} high-pass at {at}, {6 * order} dB per octave"
