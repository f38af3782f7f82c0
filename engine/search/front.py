"""The front as a table: one row a design, columns with unit suffixes, and the way back from a row."""

from __future__ import annotations

import io
import json
import math
from pathlib import Path
from typing import Any

import moocore
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.acoustics.curves import Curves, curves
from engine.acoustics.figures import FIGURES_GRID
from engine.acoustics.limits import LIMITS, max_output
from engine.columns import COLUMNS
from engine.design_file import StatedDesign
from engine.errors import Fault, InputFaults
from engine.files import write_whole
from engine.parts import Driver
from engine.scenario import Scenario
from engine.search.problem import Bench, Designs, Judgement
from engine.search.shortfall import shortest
from engine.space.arrangement import arrangement
from engine.space.contents import DOWN, FACINGS
from engine.space.layout import Layout
from engine.space.solids import Inspection, exact_check
from engine.space.vents import VENT_PLACEMENTS
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]

SIZES = ("outer_width_m", "outer_height_m", "top_depth_m")  # what settles the order of equals


def table(bench: Bench, designs: Designs) -> pd.DataFrame:
    """The front of a batch of designs: those that none of them beats, with every figure, on the fine grid.

    Deepest f3 first, numbered in that order.  Figures that do not apply to a design (a
    closed box's vent) are empty.
    """
    judgement = bench.judge(designs, frequency=FIGURES_GRID)
    kept = judgement.feasible
    if not kept.all():
        # The fine grid may find a dip that the coarse one missed by a hair.
        designs = designs.take(kept)
        judgement = bench.judge(designs, frequency=FIGURES_GRID)
    frame = judged(bench, designs, judgement)
    frame = frame.sort_values(["f3_hz", "output_db", *SIZES], kind="stable", ignore_index=True)
    frame = frame[undominated(frame, bench.scenario.goals.objectives)].reset_index(drop=True)
    return _numbered(frame, "D")


def misfits(bench: Bench, designs: Designs) -> pd.DataFrame:
    """Designs that cannot be built, each with what it is short of, in the columns of the front."""
    return _numbered(judged(bench, designs, bench.judge(designs, hear_all=True)), "N")


def _numbered(frame: pd.DataFrame, letter: str) -> pd.DataFrame:
    width = max(4, len(str(len(frame))))
    frame.insert(0, "id", [f"{letter}{number:0{width}d}" for number in range(1, len(frame) + 1)])
    return frame[list(COLUMNS)]


def judged(bench: Bench, designs: Designs, judgement: Judgement) -> pd.DataFrame:
    """Every column but the id of a batch of judged designs, in their order; figures only of those heard."""
    families = bench.families
    family = designs.family
    vented = families.vented[family]
    filtered = families.filter_order[family] > 0
    names = np.array([item.wiring.driver.name for item in families.items])
    layout, heard = judgement.layout, judgement.heard

    def figure(values: Floats) -> Floats:
        all_rows = np.full(len(designs), np.nan)
        all_rows[heard] = values
        return all_rows

    limited_by = np.full(len(designs), "", dtype=object)
    limited_by[heard] = _mostly_limited_by(bench, designs.take(heard), layout.net_volume[heard])
    short_of, short_by = shortest(judgement.constraints)
    frame = pd.DataFrame(
        {
            "box_kind": np.where(vented, "vented", "closed"),
            "driver": names[family],
            "driver_count": families.wiring("count")[family].astype(int),
            "driver_rows": layout.driver_rows,
            "facing": np.array(FACINGS)[families.facing[family]],
            "wiring": np.array([item.wiring.words for item in families.items])[family],
            "load_ohm": families.wiring("load")[family],
            "amplifier_power_w": families.wiring("power")[family],
            "outer_width_m": designs.outer_width,
            "outer_height_m": designs.outer_height,
            "top_depth_m": designs.top_depth,
            "bottom_depth_m": designs.bottom_depth,
            "back_angle_deg": math.degrees(bench.scenario.box.back_angle),
            "gross_volume_m3": judgement.wedges.gross_volume,
            "net_volume_m3": layout.net_volume,
            "tuning_hz": np.where(vented, designs.tuning, np.nan),
            "vent_count": designs.vent_count,
            "vent_diameter_m": np.where(vented, bench.pipe_bore[designs.pipe], np.nan),
            "vent_outer_diameter_m": np.where(vented, bench.pipe_outer[designs.pipe], np.nan),
            "vent_length_m": np.where(vented, layout.vent_length, np.nan),
            "vent_placement": _placements(layout),
            "filter_order": families.filter_order[family],
            "filter_hz": np.where(filtered, designs.filter_hz, np.nan),
            "f3_hz": figure(judgement.figures.f3),
            "f3_box_hz": figure(judgement.figures.f3_box),
            "output_db": figure(judgement.figures.output_db),
            "excursion_ratio": figure(judgement.figures.excursion_ratio),
            "vent_speed_m_s": figure(judgement.figures.vent_speed),
            "vent_mach": np.where(vented, figure(judgement.figures.vent_mach), np.nan),
            "outer_volume_m3": judgement.wedges.outer_volume,
            "outer_depth_m": judgement.wedges.outer_depth,
            "weight_kg": bench.weight(designs, judgement),
            "cost": bench.cost(designs, judgement) if bench.scenario.currency else np.nan,
            "brace_count": layout.brace_count,
            "support_count": layout.support_count,
            "output_limited_by": limited_by,
            "box_across_m": bench.across(designs, judgement.wedges, judgement.fit, layout),
            "box_forward_m": judgement.fit.y,
            "box_up_m": judgement.fit.z,
            "short_of": short_of,
            "short_by_m": short_by,
        }
    )
    return frame.round({key: COLUMNS[key].stored for key in frame.columns})


def undominated(frame: pd.DataFrame, objectives: tuple[str, ...]) -> NDArray[np.bool_]:
    """Rows that no other row beats, (N,); of rows with equal objectives the first."""
    turned = [frame[key].to_numpy(float) * (-1.0 if COLUMNS[key].better == "max" else 1.0) for key in objectives]
    return np.asarray(moocore.is_nondominated(np.column_stack(turned)))


def designs_of(bench: Bench, rows: pd.DataFrame) -> Designs:
    """Rows of a front back to designs."""
    orders = rows["filter_order"].astype(int)
    counts = rows["driver_count"].astype(int)
    keys = zip(rows["box_kind"], rows["driver"], counts, rows["facing"], orders, strict=True)
    vented = (rows["box_kind"] == "vented").to_numpy()
    bore = rows["vent_diameter_m"].to_numpy(float)
    outer = rows["vent_outer_diameter_m"].to_numpy(float)
    apart = np.abs(bench.pipe_bore - bore[:, np.newaxis]) + np.abs(bench.pipe_outer - outer[:, np.newaxis])
    return Designs(
        family=np.array([bench.families.by_key[key] for key in keys]),
        outer_width=rows["outer_width_m"].to_numpy(float),
        outer_height=rows["outer_height_m"].to_numpy(float),
        bottom_depth=rows["bottom_depth_m"].to_numpy(float),
        top_depth=rows["top_depth_m"].to_numpy(float),
        tuning=rows["tuning_hz"].to_numpy(float),
        vent_count=rows["vent_count"].to_numpy(float).astype(np.int64),
        pipe=np.where(vented, np.argmin(np.nan_to_num(apart, nan=1.0), axis=1), 0),
        filter_hz=np.nan_to_num(rows["filter_hz"].to_numpy(float)),
    )


def layout_of(scenario: Scenario, rows: pd.DataFrame) -> tuple[Wedges, Layout]:
    """Geometry of rows of a front: the boxes, and what lies where inside them."""
    bench = Bench(scenario)
    designs = designs_of(bench, rows)
    wedges = bench.wedges(designs)
    return wedges, bench.layout(designs, wedges, bench.fit(designs, wedges))


def inspect(scenario: Scenario, row: pd.Series) -> Inspection:
    """One row of a front checked as solids, with the clearances the scenario asks for."""
    bench = Bench(scenario)
    designs = designs_of(bench, row.to_frame().T)
    wedges = bench.wedges(designs)
    fit = bench.fit(designs, wedges)
    return exact_check(
        arrangement(bench.layout(designs, wedges, fit), 0),
        gap=scenario.box.breathing_gap,
        round_over=scenario.box.round_over,
        free_width=float(fit.x_high[0] - fit.x_low[0]),
        driver_air=float(bench.driver_air(designs)[0]),
        displacement=float(bench.families.driver("displacement")[designs.family[0]]),
    )


def curves_of(scenario: Scenario, rows: pd.DataFrame, frequency: Floats) -> Curves:
    """Every curve of rows of a front over ``frequency`` (F,), each (N, F)."""
    bench = Bench(scenario)
    systems = bench.systems(designs_of(bench, rows), net_volume=rows["net_volume_m3"].to_numpy(float))
    return curves(systems, frequency=frequency, vent_speed_limit=scenario.goals.vent_speed_limit)


def stated_design(scenario: Scenario, row: pd.Series) -> StatedDesign:
    """One row of a front as the design that ``wedgefront evaluate`` reads."""
    bench = Bench(scenario)
    family = bench.families.items[int(designs_of(bench, row.to_frame().T).family[0])]
    vented = row["box_kind"] == "vented"
    driver: Driver = family.wiring.driver
    return StatedDesign(
        driver=driver,
        count=family.wiring.count,
        voltage=family.wiring.voltage,
        box_kind=family.box_kind,
        volume=float(row["net_volume_m3"]),
        ql=scenario.box.ql if vented else math.inf,
        vent_count=int(row["vent_count"]),
        vent_diameter=float(row["vent_diameter_m"]) if vented else None,
        tuning=float(row["tuning_hz"]) if vented else None,
        filter_order=family.filter.order,
        filter_hz=float(row["filter_hz"]) if family.filter.order else 0.0,
        air=scenario.air,
        vent_speed_limit=scenario.goals.vent_speed_limit,
        music_band=scenario.goals.music_band,
    )


def csv_text(front: pd.DataFrame) -> str:
    """The front as CSV: text that reads back to the same number, empty where a figure does not apply."""
    buffer = io.StringIO()
    front.to_csv(buffer, index=False, lineterminator="\n")
    return buffer.getvalue()


def write_front(front: pd.DataFrame, left_out: pd.DataFrame, record: dict[str, Any], folder: Path) -> None:
    """Write ``front.csv``, ``left_out.csv`` and ``run.json`` into ``folder``, all or none.  Raises OSError."""
    write_whole(
        {
            folder / "front.csv": csv_text(front),
            folder / "left_out.csv": csv_text(left_out),
            folder / "run.json": json.dumps(record, indent=2, allow_nan=False) + "\n",
        }
    )


def read_front(path: Path) -> pd.DataFrame:
    """Read a ``front.csv``.  Raises InputFaults where columns are missing."""
    # Only what is not text may be empty: a driver may be called NA.
    empty = {key: [""] for key, column in COLUMNS.items() if column.kind != "text"}
    frame = pd.read_csv(path, keep_default_na=False, na_values=empty)
    missing = [key for key in COLUMNS if key not in frame.columns]
    if missing:
        raise InputFaults([Fault(str(path), key, "", "expected a column of this name") for key in missing])
    return frame


def _placements(layout: Layout) -> NDArray[np.str_]:
    """Where vents go out, in words; the drivers' own panel is the bottom where they face down."""
    of_bottom = np.array([each.replace("baffle", "bottom") for each in VENT_PLACEMENTS])
    down = layout.contents.facing == DOWN
    return np.where(down, of_bottom[layout.vent_placement], np.array(VENT_PLACEMENTS)[layout.vent_placement])


def _mostly_limited_by(bench: Bench, designs: Designs, net_volume: Floats) -> list[str]:
    """Which limit binds most often over the music band."""
    low, high = bench.scenario.goals.music_band
    band = np.geomspace(low, high, 48)
    systems = bench.systems(designs, net_volume=net_volume)
    speed = bench.scenario.goals.vent_speed_limit
    # In blocks, so that the arrays of a large front stay in the cache.
    blocks = [
        max_output(systems.take(slice(start, start + 1000)), frequency=band, vent_speed_limit=speed)[1]
        for start in range(0, len(systems), 1000)
    ]
    if not blocks:
        return []
    binding = np.concatenate(blocks)
    counts = np.stack([(binding == code).sum(axis=1) for code in range(len(LIMITS))])
    return [LIMITS[code] for code in counts.argmax(axis=0)]
