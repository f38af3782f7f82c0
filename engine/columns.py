"""The columns of a front: one registry that drives every table, chart, slider and sentence."""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from engine.column import Column, Said
from engine.goals import GOALS, goals_at, level_goal
from engine.openings import OPENINGS
from engine.registry import OnDemand
from engine.steps import PLACES

_WIDER = Said("is {} wider", "is {} narrower", "build", 1)
_TALLER = Said("is {} taller", "is {} lower", "build", 2)
_MORE_AIR = Said("holds {} more air", "holds {} less air", "build", 4)
_SAWN: dict[str, Any] = {"digits": 0, "least_step": 0.005, "stored": PLACES, "sawn": True}
_FIXED = (
    Column("id", "Design", "text"),
    Column("box_kind", "Box", "text"),
    Column("driver", "Driver", "text"),
    Column("driver_count", "Drivers", "count", digits=0),
    Column("driver_rows", "Drivers in a column", "count", digits=0),
    Column("facing", "Drivers face", "text"),
    Column("baffle", "Baffle", "text"),
    Column("wiring", "Wiring", "text"),
    Column("load_ohm", "Load on the amplifier", "resistance", digits=1),
    Column("amplifier_power_w", "Amplifier power", "power", digits=0),
    Column("outer_width_m", "Outer width", "length", **_SAWN, said=_WIDER),
    Column("outer_height_m", "Outer height", "length", **_SAWN, said=_TALLER),
    Column("top_depth_m", "Outer depth at the top", "length", **_SAWN),
    Column("bottom_depth_m", "Outer depth at the bottom", "length", **_SAWN),
    Column("back_angle_deg", "Lean of the back", "ratio", digits=1),
    Column("baffle_angle_deg", "Lean of the baffle", "ratio", digits=1, stored=2),
    Column("gross_volume_m3", "Gross volume", "volume", digits=1, least_step=0.0005, stored=7),
    Column("net_volume_m3", "Net volume", "volume", digits=1, least_step=0.0005, stored=7, said=_MORE_AIR),
    Column("filling", "Filling", "text"),
    Column("tuning_hz", "Tuning", "frequency", digits=1, least_step=0.5, stored=2),
    Column("tuning_within_hz", "Tuning good to within", "frequency", digits=1, stored=2),
    Column("tuning_lumped_hz", "Tuning without the air's inertia", "frequency", digits=1, stored=1),
    Column("vent_kind", "Kind of vent", "text"),
    Column("vent_count", "Vents", "count", digits=0),
    Column("vent_length_m", "Vent length", "length", digits=0, sawn=True),
    Column("vent_placement", "Vent placement", "text"),
    Column("notch_hz", "Radiator's notch", "frequency", digits=1, stored=2),
    Column("filter_shape", "High-pass shape", "text"),
    Column("filter_order", "High-pass order", "count", digits=0),
    Column("filter_q", "High-pass Q", "ratio", digits=2, stored=4),
    Column("filter_hz", "High-pass frequency", "frequency", digits=1, least_step=0.5, stored=2),
    Column("f3_box_hz", "f3 without the high-pass", "frequency", digits=1, stored=2),
    Column("power_share", "Share of the amplifier's power used", "ratio", digits=2, least_step=0.02, stored=4),
    Column("gain_limited_by", "Gain limited by", "text"),
    Column("gain_limited_hz", "Gain limited at", "frequency", digits=0, stored=1),
    Column("compression_db", "Worst compression", "level", digits=1, stored=2),
    Column("coil_rise_k", "Coil's rise", "temperature_difference", digits=0, stored=1),
    Column("vent_mach", "Vent Mach number", "ratio", digits=3, stored=5),
    Column("brace_count", "Braces", "count", digits=0),
    Column("brace_form", "Form of braces", "text"),
    Column("brace_free_m2", "Free for the air at a brace", "area", digits=0),
    Column("brace_air_m_s", "Air speed past a brace", "speed", digits=1, stored=3),
    Column("support_count", "Blocks under each vent", "count", digits=0),
    Column("box_across_m", "Box from the left end of the space", "length", digits=0, sawn=True),
    Column("box_forward_m", "Box forward of the rearmost point", "length", digits=0, sawn=True),
    Column("box_up_m", "Box above the floor", "length", digits=0, sawn=True),
    Column("cone_air_m", "Air before the cones", "length", digits=0, sawn=True),
    Column("cone_air_kg", "What that air adds to a driver's cone", "moving_mass", digits=0, stored=5),
    Column("short_of", "Short of", "text"),
    Column("short_by_m", "Short by", "length", digits=1, stored=9),
    Column("output_limited_by", "Output most often limited by", "text"),
    Column("first_mode_hz", "First standing wave in the box", "frequency", digits=0, stored=1),
    Column("vent_resonance_hz", "Vent's own resonance", "frequency", digits=0, stored=1),
    Column("model_to_hz", "Model holds up to", "frequency", digits=0, stored=1),
    Column("beyond_model", "Beyond the model", "text"),
)

# Beside these, those of levels at the frequencies that a job names.
COLUMNS: OnDemand[Column] = OnDemand(level_goal)


@GOALS.followed
@OPENINGS.followed
def _fill() -> None:
    """The columns in the order of the table, those of each opening and each goal where it says."""
    columns = list(_FIXED)
    own = [each for opening in OPENINGS.records for each in opening.own_columns]
    for after, column in [*own, *((goal.after, goal) for goal in GOALS.records)]:
        keys = [each.key for each in columns]
        if column.key in keys or after not in keys:
            raise ValueError(f"the column {column.key!r} has no place of its own among the columns")
        columns.insert(keys.index(after) + 1, column)
    unknown = {key for opening in OPENINGS.records for key in opening.columns} - {each.key for each in columns}
    if unknown:
        raise ValueError(f"no such columns: {', '.join(sorted(unknown))}")
    COLUMNS.clear()
    COLUMNS.update((column.key, column) for column in columns)


def columns_at(levels: Iterable[float]) -> list[str]:
    """The columns of the front of a job that names these frequencies, Hz, in the order of the table."""
    keys = list(COLUMNS)
    for goal in reversed(goals_at(levels)):
        if goal.key not in keys:
            keys.insert(keys.index(goal.after) + 1, goal.key)
    return keys
