"""The front as a table: one row a design, columns with unit suffixes, and the way back from a row."""

from __future__ import annotations

import math
from typing import Any

import moocore
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.acoustics.figures import FIGURES_GRID
from engine.acoustics.limits import LIMITS
from engine.acoustics.validity import Validity, flags, validity
from engine.arrays import Floats
from engine.columns import COLUMNS, columns_at
from engine.goals import GOALS, goals_at
from engine.search.evaluator import SIZES, Designs, Evaluator, Judgement
from engine.search.families import Key, key_columns
from engine.search.shortfall import shortest
from engine.space.braces import FORMS

# What settles the order of equals.
EQUALS = (*(f"{name}_m" for name in SIZES), "tuning_hz", "filter_order", "filter_hz", "weight_kg")


def worked_out(evaluator: Evaluator, designs: Designs) -> tuple[pd.DataFrame, NDArray[np.bool_]]:
    """Every figure but the id of a batch of designs as the front has them, of those that keep every limit.

    And which they are, (N,).  What a search judges roughly is worked out on the fine grid and exactly at full power,
    so some of what it took for feasible is not.
    """
    judgement = evaluator.judge(designs, frequency=FIGURES_GRID, exact=True)
    right = judgement.feasible
    kept = np.flatnonzero(right)
    return judged(evaluator, designs.take(kept), judgement.take(kept)), right


def table(evaluator: Evaluator, frame: pd.DataFrame) -> pd.DataFrame:
    """The front of designs that are :func:`worked_out`: those that none of them beats, numbered.

    Deepest f3 first.  Figures that do not apply to a design (a closed box's vent) are empty.
    """
    frame = frame.sort_values(["f3_hz", "output_db", *EQUALS], kind="stable", ignore_index=True)
    frame = frame[undominated(frame, evaluator.scenario.goals.objectives)].reset_index(drop=True)
    return _numbered(evaluator, frame, "D")


def misfits(evaluator: Evaluator, designs: Designs) -> pd.DataFrame:
    """Designs that cannot be built, each with what it is short of, in the columns of the front."""
    judgement = evaluator.judge(designs, exact=True, hear_all=True)
    return _numbered(evaluator, judged(evaluator, designs, judgement), "N")


def _numbered(evaluator: Evaluator, frame: pd.DataFrame, letter: str) -> pd.DataFrame:
    frame.insert(0, "id", numbers(len(frame), letter))
    return frame[columns_at(evaluator.levels)]


def numbers(count: int, letter: str) -> list[str]:
    """What so many rows are called, one after the other."""
    width = max(4, len(str(count)))
    return [f"{letter}{number:0{width}d}" for number in range(1, count + 1)]


def judged(evaluator: Evaluator, designs: Designs, judgement: Judgement) -> pd.DataFrame:
    """Every column but the id of a batch of judged designs, in their order; figures only of those heard."""
    families, family, layout, fit = evaluator.families, designs.family, judgement.layout, judgement.fit
    sound, systems, heard = judgement.figures, judgement.acoustics.systems, judgement.of_all
    rows = judgement.heard
    filtered = families.filter_order[family] > 0
    keys = [item.columns for item in families.items]

    def text(values: list[str]) -> NDArray[np.object_]:
        all_rows = np.full(len(designs), "", dtype=object)
        all_rows[judgement.heard] = values
        return all_rows

    def named(place: str) -> NDArray[np.object_]:
        """A part of each family's key."""
        return np.array([key[place] for key in keys], dtype=object)[family]

    short_of, short_by = shortest(judgement.constraints)
    limits = validity_of(evaluator, judgement)
    columns: dict[str, Any] = {
        "box_kind": named("box_kind"),
        "driver": named("driver"),
        "driver_count": families.wiring("count")[family].astype(int),
        "driver_rows": layout.driver_rows,
        "facing": named("facing"),
        "baffle": named("baffle"),
        "wiring": np.array([item.wiring.words for item in families.items])[family],
        "load_ohm": families.wiring("load")[family],
        "amplifier_power_w": families.wiring("power")[family],
        **{f"{name}_m": getattr(designs, name) for name in SIZES},
        "back_angle_deg": math.degrees(evaluator.scenario.box.back_angle),
        # As the key of that name has it: positive where the baffle leans back.
        "baffle_angle_deg": 0.0 - np.degrees(evaluator.bevel(judgement.wedges)),
        "gross_volume_m3": judgement.wedges.gross_volume,
        "net_volume_m3": layout.net_volume,
        "tuning_hz": heard(systems.tuning),
        "tuning_within_hz": heard(limits.tuning_within),
        "tuning_lumped_hz": designs.tuning,
        "vent_kind": named("vent_kind"),
        **evaluator.columns(designs, layout),
        "notch_hz": heard(systems.notch_hz),
        "filling": named("filling"),
        "filter_order": families.filter_order[family],
        "filter_shape": named("filter_shape"),
        "filter_q": np.where(filtered, named("filter_q").astype(float), 0.0),
        "filter_hz": np.where(filtered, designs.filter_hz, np.nan),
        "f3_box_hz": heard(sound.f3_box),
        "vent_mach": heard(np.where(systems.vent_count > 0.0, sound.vent_mach, np.nan)),
        "coil_rise_k": heard(sound.coil_rise),
        "compression_db": heard(sound.compression_db),
        "brace_count": layout.brace_count,
        "brace_form": np.array(["", *FORMS], dtype=object)[layout.brace_form],
        "brace_free_m2": layout.brace_free,
        "brace_air_m_s": heard(np.where(layout.brace_count[rows] > 0, evaluator.brace_speed(judgement), np.nan)),
        "support_count": layout.support_count,
        "output_limited_by": text([LIMITS[int(code)] for code in sound.limited_by]),
        "model_to_hz": heard(limits.model_to_hz),
        "first_mode_hz": heard(limits.first_mode_hz),
        "vent_resonance_hz": heard(limits.vent_resonance_hz),
        "beyond_model": text(flags(limits)),
        "box_across_m": evaluator.across(designs, judgement.wedges, fit, layout),
        "box_forward_m": fit.y,
        "box_up_m": fit.z,
        "cone_air_m": judgement.cone_air,
        "cone_air_kg": heard(judgement.acoustics.outside.driver * systems.count * systems.sd**2),
        "short_of": short_of,
        "short_by_m": short_by,
        "power_share": heard(sound.gain**2),
        "gain_limited_by": text([LIMITS[int(code)] for code in sound.gain_limit]),
        "gain_limited_hz": heard(sound.gain_hz),
        **{goal.key: goal.figure(evaluator, designs, judgement) for goal in goals_at(evaluator.levels)},
    }
    return pd.DataFrame({key: _stored(key, values) for key, values in columns.items()})


def _stored(key: str, values: Any) -> Any:
    """Figures rounded to the digits that their column keeps; text and counts as they are."""
    return np.round(values, COLUMNS[key].stored) if np.asarray(values).dtype.kind == "f" else values


def undominated(frame: pd.DataFrame, objectives: tuple[str, ...]) -> NDArray[np.bool_]:
    """Rows that no other row beats, (N,); of rows with equal objectives the first."""
    return np.asarray(moocore.is_nondominated(turned(frame, objectives)))


def turned(frame: pd.DataFrame, objectives: tuple[str, ...]) -> Floats:
    """Objectives of a front, (N, k), turned so that less is better."""
    return np.column_stack([GOALS[key].turn * frame[key].to_numpy(float) for key in objectives])


def keys_of(rows: pd.DataFrame) -> list[Key]:
    """The key of the family of each row of a front."""
    made = {name: {"count": int, "ratio": float}.get(COLUMNS[name].kind, str) for name in key_columns()}
    return list(zip(*(map(make, rows[name].tolist()) for name, make in made.items()), strict=True))


def designs_of(evaluator: Evaluator, rows: pd.DataFrame) -> Designs:
    """Rows of a front back to designs.  Raises KeyError where the job has no such family."""
    family = np.array([evaluator.families.by_key[key] for key in keys_of(rows)], dtype=np.int64)
    return Designs(
        family=family,
        **{name: rows[f"{name}_m"].to_numpy(float) for name in SIZES},
        tuning=rows["tuning_lumped_hz"].to_numpy(float),
        filter_hz=np.nan_to_num(rows["filter_hz"].to_numpy(float)),
        openings=evaluator.settled(family, rows),
    )


def validity_of(evaluator: Evaluator, judgement: Judgement) -> Validity:
    """Where the model stops, of the designs heard."""
    layout = judgement.layout.take(judgement.heard)
    return validity(
        judgement.acoustics.systems,
        judgement.figures,
        largest_dimension=largest_dimension(judgement),
        vent_length=layout.vent_acoustic_length + layout.vent_ends,
        music_band=evaluator.scenario.goals.music_band,
        first_mode=judgement.acoustics.inside.first_mode,
        outside=judgement.acoustics.outside.opening,
    )


def largest_dimension(judgement: Judgement) -> Floats:
    """Inside width, height or depth of the designs heard, whichever is largest, m."""
    wedges = judgement.wedges.take(judgement.heard)
    deep = wedges.outer_depth - 2.0 * wedges.board - wedges.layer
    inside = [wedges.inner_width, wedges.inner_height, deep]
    return np.asarray(np.max(inside, axis=0))
