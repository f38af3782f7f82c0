"""Designs of a shortlist compared: in words, and which figures are told of them."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from engine.acoustics.cabin import EstimatedCabin
from engine.columns import COLUMNS
from engine.goals import GOALS, Goal, levels_among
from engine.insight.reasons import differences, run_on
from engine.quantities import Units
from engine.report.portrait import Portrait
from engine.scenario import Scenario

FIGURES = (
    "driver", "driver_count", "facing", "baffle", "wiring", "load_ohm", "amplifier_power_w", "box_kind", "filling",
    "outer_width_m", "outer_height_m", "top_depth_m", "bottom_depth_m", "net_volume_m3",
    "tuning_hz", "tuning_within_hz", "vent_count", "vent_kind", "vent_diameter_m", "vent_flare_m", "slot_height_m",
    "slot_width_m", "vent_length_m", "vent_placement", "radiator", "radiator_count", "radiator_added_mass_kg",
    "cone_air_m", "cone_air_kg", "brace_count", "brace_form", "brace_free_m2",
    "filter_shape", "filter_hz", "power_share", "gain_limited_by", "gain_limited_hz",
    "f3_hz", "f3_box_hz", "f3_cabin_hz", "output_db", "output_cabin_db",
    "excursion_ratio", "radiator_ratio", "vent_speed_m_s", "coil_rise_k", "compression_db",
    "first_mode_hz", "vent_resonance_hz", "model_to_hz",
    "outer_volume_m3", "outer_depth_m", "weight_kg", "cost",
)  # fmt: skip


def beside(first: Portrait, other: Portrait, units: Units) -> str:
    """What sets one design apart from another: kind and sound, then strain, then size and cost.

    Mean output is left out where it was taken over different music bands.
    """
    rows = [pd.Series(dict(portrait.row)) for portrait in (first, other)]
    if bands_differ([first, other]):
        for row in rows:
            row[[goal.key for goal in GOALS.records if goal.over_band]] = math.nan
    groups = differences(*rows, units=units, currency=first.scenario.currency)
    sentences = [f"{other.letter} {run_on(group)}." for group in groups.values() if group]
    if not sentences:
        return f"Beside {first.letter}, {other.letter} is much the same."
    return f"Beside {first.letter}, {' '.join(sentences)}"


def bands_differ(portraits: Sequence[Portrait]) -> bool:
    return len({portrait.scenario.goals.music_band for portrait in portraits}) > 1


def figures_told(portraits: Sequence[Portrait]) -> list[str]:
    """The columns that are told of designs, in order; a goal that has no place of its own comes last."""
    keys = [*FIGURES, *(key for key in GOALS if key not in FIGURES)]
    levels = [key for portrait in portraits for key in levels_among(portrait.row)]
    keys[keys.index("f3_hz") : keys.index("f3_hz")] = dict.fromkeys(levels)
    return keys


def label_of(key: str, scenarios: Sequence[Scenario]) -> str:
    """A column's label; what is an estimate for any of the designs' scenarios says so."""
    estimate = key in GOALS and any(guessed(GOALS[key], each) for each in scenarios)
    return f"{COLUMNS[key].label} – estimate" if estimate else COLUMNS[key].label


def guessed(goal: Goal, scenario: Scenario) -> bool:
    """Whether a figure rests on an estimate of the vehicle."""
    return "cabin" in goal.needs and isinstance(scenario.cabin, EstimatedCabin)
