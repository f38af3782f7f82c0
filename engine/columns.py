"""The columns of a front: one registry that drives every table, chart, slider and sentence."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Better = Literal["min", "max"]


@dataclass(frozen=True)
class Column:
    """How one column of the front is named, measured and shown.

    ``kind`` is a kind of quantity known to :mod:`engine.quantities`, or one of
    ``text``, ``count``, ``ratio``, ``level`` (dB).  ``better`` says which way is better,
    if either is; ``least_step`` is the smallest difference worth a word.  ``stored`` is how
    many decimals (SI) the front keeps: finer than the model is good for, coarse enough
    that two designs nobody could tell apart are one.
    """

    key: str
    label: str
    kind: str
    better: Better | None = None
    digits: int = 1
    least_step: float = 0.0
    stored: int = 6

    @property
    def inner_label(self) -> str:
        """The label as it stands inside a sentence."""
        return self.label[:1].lower() + self.label[1:]


_ALL = (
    Column("id", "Design", "text"),
    Column("box_kind", "Box", "text"),
    Column("driver", "Driver", "text"),
    Column("driver_count", "Drivers", "count", digits=0),
    Column("driver_rows", "Drivers in a column", "count", digits=0),
    Column("facing", "Drivers face", "text"),
    Column("wiring", "Wiring", "text"),
    Column("load_ohm", "Load on the amplifier", "resistance", digits=1),
    Column("amplifier_power_w", "Amplifier power", "power", digits=0),
    Column("outer_width_m", "Outer width", "length", digits=0, least_step=0.005),
    Column("outer_height_m", "Outer height", "length", digits=0, least_step=0.005),
    Column("top_depth_m", "Outer depth at the top", "length", digits=0, least_step=0.005),
    Column("bottom_depth_m", "Outer depth at the bottom", "length", digits=0, least_step=0.005),
    Column("back_angle_deg", "Lean of the back", "ratio", digits=1),
    Column("gross_volume_m3", "Gross volume", "volume", digits=1, least_step=0.0005, stored=7),
    Column("net_volume_m3", "Net volume", "volume", digits=1, least_step=0.0005, stored=7),
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
    Column("f3_hz", "-3 dB frequency (f3)", "frequency", "min", digits=1, least_step=0.5, stored=2),
    Column("f3_box_hz", "f3 without the high-pass", "frequency", digits=1, stored=2),
    Column("f3_cabin_hz", "f3 in the vehicle", "frequency", "min", digits=1, least_step=0.5, stored=2),
    Column("output_db", "Mean maximum output", "level", "max", digits=1, least_step=0.3, stored=2),
    Column("output_cabin_db", "Mean maximum output in the vehicle", "level", "max", least_step=0.3, stored=2),
    Column("compression_db", "Worst compression", "level", digits=1, stored=2),
    Column("coil_rise_k", "Coil's rise", "temperature_difference", digits=0, stored=1),
    Column("excursion_ratio", "Worst excursion / Xmax", "ratio", "min", digits=2, least_step=0.03, stored=4),
    Column("radiator_ratio", "Worst radiator excursion / Xmax", "ratio", "min", digits=2, least_step=0.03, stored=4),
    Column("vent_speed_m_s", "Worst vent air speed", "speed", "min", digits=1, least_step=0.5, stored=3),
    Column("vent_mach", "Vent Mach number", "ratio", digits=3, stored=5),
    Column("outer_volume_m3", "Outer volume", "volume", "min", digits=1, least_step=0.001, stored=7),
    Column("outer_depth_m", "Outer depth", "length", "min", digits=0, least_step=0.003),
    Column("weight_kg", "Weight", "mass", "min", digits=1, least_step=0.3, stored=3),
    Column("cost", "Cost of parts", "money", "min", digits=0, least_step=1.0, stored=2),
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

COLUMNS: dict[str, Column] = {column.key: column for column in _ALL}
OBJECTIVES: tuple[str, ...] = tuple(column.key for column in _ALL if column.better is not None)
DEFAULT_OBJECTIVES: tuple[str, ...] = ("f3_hz", "output_db", "excursion_ratio", "vent_speed_m_s")
