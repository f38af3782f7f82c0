"""The columns of a front: one registry that drives every table, chart, slider and sentence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.goals import GOALS, Goal, Said


@dataclass(frozen=True)
class Column:
    """How one column of the front is named, measured and shown.

    ``kind`` is a kind of quantity known to :mod:`engine.quantities`, or one of
    ``text``, ``count``, ``ratio``, ``level`` (dB).  ``better`` says which way is better,
    if either is; ``least_step`` is the smallest difference worth a word.  ``stored`` is how
    many decimals (SI) the front keeps: finer than the model is good for, coarse enough
    that two designs nobody could tell apart are one.  ``said`` is how a difference is said, if it is.
    """

    key: str
    label: str
    kind: str
    better: Literal["min", "max"] | None = None
    digits: int = 1
    least_step: float = 0.0
    stored: int = 6
    said: Said | None = None

    @classmethod
    def of(cls, goal: Goal) -> Column:
        """The column of a goal."""
        return cls(
            goal.key,
            goal.label,
            goal.kind,
            goal.better,
            digits=goal.digits,
            least_step=goal.least_step,
            stored=goal.stored,
            said=goal.said,
        )

    @property
    def inner_label(self) -> str:
        """The label as it stands inside a sentence."""
        return self.label[:1].lower() + self.label[1:]


_FIXED = (
    Column("id", "Design", "text"),
    Column("box_kind", "Box", "text"),
    Column("driver", "Driver", "text"),
    Column("driver_count", "Drivers", "count", digits=0),
    Column("driver_rows", "Drivers in a column", "count", digits=0),
    Column("facing", "Drivers face", "text"),
    Column("wiring", "Wiring", "text"),
    Column("load_ohm", "Load on the amplifier", "resistance", digits=1),
    Column("amplifier_power_w", "Amplifier power", "power", digits=0),
    Column(
        "outer_width_m",
        "Outer width",
        "length",
        digits=0,
        least_step=0.005,
        said=Said(higher="is {} wider", lower="is {} narrower", about="build", rank=1),
    ),
    Column(
        "outer_height_m",
        "Outer height",
        "length",
        digits=0,
        least_step=0.005,
        said=Said(higher="is {} taller", lower="is {} lower", about="build", rank=2),
    ),
    Column("top_depth_m", "Outer depth at the top", "length", digits=0, least_step=0.005),
    Column("bottom_depth_m", "Outer depth at the bottom", "length", digits=0, least_step=0.005),
    Column("back_angle_deg", "Lean of the back", "ratio", digits=1),
    Column("gross_volume_m3", "Gross volume", "volume", digits=1, least_step=0.0005, stored=7),
    Column(
        "net_volume_m3",
        "Net volume",
        "volume",
        digits=1,
        least_step=0.0005,
        stored=7,
        said=Said(higher="holds {} more air", lower="holds {} less air", about="build", rank=4),
    ),
    Column("filling", "Filling", "text"),
    Column("tuning_hz", "Tuning", "frequency", digits=1, least_step=0.5, stored=2),
    Column("tuning_lumped_hz", "Tuning without the air's inertia", "frequency", digits=1, stored=1),
    Column("vent_kind", "Kind of vent", "text"),
    Column("vent_count", "Vents", "count", digits=0),
    Column("vent_diameter_m", "Vent bore", "length", digits=0),
    Column("vent_outer_diameter_m", "Vent outside diameter", "length", digits=0),
    Column("slot_width_m", "Slot width", "length", digits=0),
    Column("slot_height_m", "Slot height", "length", digits=0),
    Column("slot_turn_m", "Slot's turn along the side", "length", digits=0),
    Column("vent_flare_m", "Flare radius", "length", digits=0),
    Column("vent_length_m", "Vent length", "length", digits=0),
    Column("vent_placement", "Vent placement", "text"),
    Column("radiator", "Passive radiator", "text"),
    Column("radiator_count", "Passive radiators", "count", digits=0),
    Column("radiator_added_mass_kg", "Mass added to each radiator", "mass", digits=3, stored=5),
    Column("notch_hz", "Radiator's notch", "frequency", digits=1, stored=2),
    Column("filter_shape", "High-pass shape", "text"),
    Column("filter_order", "High-pass order", "count", digits=0),
    Column("filter_q", "High-pass Q", "ratio", digits=2, stored=4),
    Column("filter_hz", "High-pass frequency", "frequency", digits=1, least_step=0.5, stored=2),
    Column("f3_box_hz", "f3 without the high-pass", "frequency", digits=1, stored=2),
    Column("compression_db", "Worst compression", "level", digits=1, stored=2),
    Column("coil_rise_k", "Coil's rise", "temperature_difference", digits=0, stored=1),
    Column("vent_mach", "Vent Mach number", "ratio", digits=3, stored=5),
    Column("brace_count", "Braces", "count", digits=0),
    Column("support_count", "Blocks under each vent", "count", digits=0),
    Column("box_across_m", "Box from the left end of the space", "length", digits=0),
    Column("box_forward_m", "Box forward of the rearmost point", "length", digits=0),
    Column("box_up_m", "Box above the floor", "length", digits=0),
    Column("short_of", "Short of", "text"),
    Column("short_by_m", "Short by", "length", digits=1),
    Column("output_limited_by", "Output most often limited by", "text"),
    Column("first_mode_hz", "First standing wave in the box", "frequency", digits=0, stored=1),
    Column("vent_resonance_hz", "Vent's own resonance", "frequency", digits=0, stored=1),
    Column("model_to_hz", "Model holds up to", "frequency", digits=0, stored=1),
    Column("beyond_model", "Beyond the model", "text"),
)

COLUMNS: dict[str, Column] = {}


@GOALS.followed
def _fill() -> None:
    """The columns in the order of the table, each goal's where it says."""
    columns = list(_FIXED)
    for goal in GOALS.records:
        keys = [column.key for column in columns]
        if goal.key in keys or goal.after not in keys:
            raise ValueError(f"the goal {goal.key!r} has no place of its own among the columns")
        columns.insert(keys.index(goal.after) + 1, Column.of(goal))
    COLUMNS.clear()
    COLUMNS.update((column.key, column) for column in columns)
