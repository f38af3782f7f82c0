"""What the command line prints: tables and sentences for a person at a terminal."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from pathlib import Path

import pandas as pd
from rich import box
from rich.console import RenderableType
from rich.table import Table

from engine.quantities import MISSING, Units, show
from engine.report.wording import figure, unit
from engine.scenario import Scenario
from engine.search.insight import BEST_NAMES, balanced, extremes, why
from engine.search.runs import Run

# The figures of one design, in the order a builder asks for them: key, label, kind of quantity.
_EVALUATED = (
    ("f3_hz", "-3 dB frequency (f3)", "frequency"),
    ("f3_box_hz", "f3 without the high-pass", "frequency"),
    ("tuning_hz", "Tuning", "frequency"),
    ("vent_length_m", "Vent length", "length"),
    ("output_db", "Mean maximum output over the music band", "level"),
    ("reference_db", "Level well above f3 at full drive, 1 m, half space", "level"),
    ("excursion_ratio", "Worst excursion / Xmax, 10-200 Hz", "ratio"),
    ("excursion_worst_hz", "  at", "frequency"),
    ("vent_speed_m_s", "Worst vent air speed, 10-200 Hz", "speed"),
    ("vent_speed_worst_hz", "  at", "frequency"),
)

_HEADINGS = {
    "f3_hz": "f3",
    "output_db": "Maximum\noutput",
    "excursion_ratio": "Excursion\n/ Xmax",
    "vent_speed_m_s": "Vent air\nspeed",
    "outer_volume_m3": "Outer\nvolume",
    "outer_depth_m": "Outer\ndepth",
    "weight_kg": "Weight",
    "cost": "Cost",
}

_LIMITED_BY = {
    "amplifier": "the amplifier",
    "thermal": "the driver's rated power",
    "excursion": "Xmax",
    "vent": "air speed in the vent",
}

_NO_VENT = "A closed box has no vent to blow."

_HEARING = (
    "These levels can damage hearing within minutes: measure and listen with protection "
    "(NIOSH recommends no more than 15 minutes a day at 100 dBA)."
)


def _amount(value: object, kind: str, units: Units) -> str:
    """A figure of an evaluated design as text; a dash where it does not apply."""
    if not isinstance(value, float):
        return MISSING
    if kind == "ratio":
        return f"{value:.2f}"
    return f"{value:.1f} dB" if kind == "level" else show(value, kind, units)


def evaluation_table(result: Mapping[str, object], *, units: Units) -> Table:
    """The figures of one evaluated design."""
    table = Table(show_header=False, box=None, pad_edge=False)
    for key, label, kind in _EVALUATED:
        shown = _amount(result[key], kind, units)
        if key == "f3_hz" and result[key] is None:
            shown = f"none: {result['f3_reason']}"
        table.add_row(label, shown)
    table.caption = _HEARING
    table.caption_justify = "left"
    return table


def search_report(scenario: Scenario, result: Run, *, units: Units, folder: Path) -> Iterator[RenderableType]:
    """The front in a few lines: its ends, a balanced design, and why each is where it is."""
    front, record = result.front, result.record
    objectives = scenario.goals.objectives
    ended = "" if record["stopped_by"] == "budget" else " (stopped early)"
    yield (
        f"[bold]{scenario.title}[/bold]: {record['evaluations']:,} designs tried in {record['seconds']:.1f} s"
        f"{ended}. "
        f"{len(front):,} stand on the front: none of them is beaten on everything."
    )
    unwired = record["drivers_without_wiring"]
    if unwired:
        yield f"Left out: {', '.join(unwired)}; no wiring of the coils gives a load the amplifier may drive."
    ends = extremes(front, objectives)
    middle = balanced(front, objectives)
    named = [*((BEST_NAMES[key], position) for key, position in ends.items()), ("Balanced", middle)]
    yield _picks_table(front, named, scenario, units)
    yield "[bold]Why each is where it is[/bold]"
    for place, (name, position) in enumerate(named):
        row = front.iloc[position]
        limit = _LIMITED_BY[row["output_limited_by"]]
        yield f"{name} ({row['id']}): output is limited by {limit} over most of the music band."
        sentences = why(scenario, row)
        # An end is explained by what keeps it from going further, the balanced design on every objective.
        told = sentences.values() if position == middle else [sentences.get(objectives[place], _NO_VENT)]
        for sentence in told:
            yield f"  {sentence}"
    yield f"Written: {folder / 'front.csv'} (all {len(front):,} designs) and {folder / 'run.json'}."
    yield _HEARING


def _picks_table(front: pd.DataFrame, named: list[tuple[str, int]], scenario: Scenario, units: Units) -> Table:
    size_unit = unit("outer_width_m", units)
    table = Table(box=box.SIMPLE_HEAD, pad_edge=False, header_style="bold")
    for heading in (
        "",
        "Box",
        f"Outside, {size_unit}\nwidth × height\n× depth top/bottom",
        f"Vents, {size_unit}\ncount × bore\nlength",
    ):
        table.add_column(heading, no_wrap=True)
    for key in scenario.goals.objectives:
        table.add_column(_HEADINGS[key], justify="right", no_wrap=True)

    def plain(key: str, row: pd.Series) -> str:
        return figure(key, row[key], units).removesuffix(size_unit).strip()

    for name, position in named:
        row = front.iloc[position]
        vents = MISSING
        if row["vent_count"]:
            vents = f"{row['vent_count']} × {plain('vent_diameter_m', row)}\n{plain('vent_length_m', row)}"
        table.add_row(
            f"{name}\n{row['id']}",
            f"{row['box_kind']}\n{row['driver_count']} × {row['driver']}",
            f"{plain('outer_width_m', row)} × {plain('outer_height_m', row)}\n"
            f"× {plain('top_depth_m', row)}/{plain('bottom_depth_m', row)}",
            vents,
            *(figure(key, row[key], units, scenario.currency) for key in scenario.goals.objectives),
            end_section=True,
        )
    return table
