"""Figures of a front as a reader sees them: in their units, with the digits that mean something."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from engine.columns import COLUMNS
from engine.quantities import MISSING, Units, display_unit, show

FACINGS = {"front": "", "down": ", facing down", "side": ", facing sideways"}
BOX_KINDS = {"closed": "Closed box", "vented": "Vented box"}


def figure(key: str, value: Any, units: Units, currency: str = "") -> str:
    """One figure of a front as text with its unit; a dash where there is none."""
    column = COLUMNS[key]
    if column.kind == "text":
        return str(value) if isinstance(value, str) and value else MISSING
    number = float(value)
    if not math.isfinite(number):
        return MISSING
    match column.kind:
        case "count":
            return f"{number:.0f}"
        case "ratio":
            return f"{number:.{column.digits}f}"
        case "level":
            return f"{number:.{column.digits}f} dB"
        case "money":
            return f"{number:.0f} {currency}".strip()
    return show(number, column.kind, units)


def figure_of(row: Mapping[str, Any], key: str, units: Units, currency: str = "") -> str:
    """One figure of one design; a closed box has no air speed in a vent."""
    if key == "vent_speed_m_s" and row["box_kind"] == "closed":
        return "no vent"
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


def outside(row: Mapping[str, Any], units: Units) -> str:
    """Outer dimensions in one line: width × height × depth, top and bottom."""
    width, height, top, bottom = (
        figure(key, row[key], units) for key in ("outer_width_m", "outer_height_m", "top_depth_m", "bottom_depth_m")
    )
    return f"{width} wide × {height} high × {top} deep at the top, {bottom} at the bottom"


def vents(row: Mapping[str, Any], units: Units) -> str:
    """The vents in one line: count, bore, length."""
    count = int(row["vent_count"])
    if count == 0:
        return "no vent"
    bore, length = (
        figure("vent_diameter_m", row["vent_diameter_m"], units),
        figure("vent_length_m", row["vent_length_m"], units),
    )
    each = "" if count == 1 else " each"
    way, _, bent = str(row["vent_placement"]).partition(", ")
    through = way.replace("through side", "through left side").replace("through ", "through the ")
    turned = ", with one bend" if bent else ""
    return f"{count} vent{'' if count == 1 else 's'}, {bore} bore × {length} long{each}, {through}{turned}"


def drivers(row: Mapping[str, Any]) -> str:
    """The drivers in one line: count, name, how they stand and which way they face."""
    count, rows = int(row["driver_count"]), int(row["driver_rows"])
    stand = ""
    if count > 1:
        stand = ", side by side" if rows == 1 else ", one above the other" if rows == count else f", {rows} to a column"
    if row["facing"] == "down":
        stand = stand.replace("one above the other", "one behind the other")
    return f"{count} × {row['driver']}{stand}{FACINGS[row['facing']]}"


def high_pass(row: Mapping[str, Any], units: Units) -> str:
    """The high-pass filter in one line."""
    order = int(row["filter_order"])
    if order == 0:
        return "no high-pass filter"
    return f"high-pass filter at {figure('filter_hz', row['filter_hz'], units)}, {6 * order} dB per octave"
