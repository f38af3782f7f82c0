"""The customer's sheet, its second page: charts and a table of figures with what built boxes reach, in plain words."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

import pandas as pd

from engine.arrays import Floats
from engine.goals import GOALS, Goal, level_key, levels_among
from engine.insight.tolerance import spread
from engine.quantities import Units
from engine.report.compared import guessed
from engine.report.curves import CHARTS
from engine.report.ink import LIGHT
from engine.report.levels import levels_chart
from engine.report.pictures import chart_svg
from engine.report.portrait import Portrait, lay_over
from engine.report.wording import figure, figure_of

CHART_WIDTH, CHART_HEIGHT = 330, 215
DECIBELS = (
    "Loudness is in decibels (dB): 3 dB more is a clear step, 10 dB more sounds about twice as loud. "
    "Pitch is in hertz (Hz): the lower, the deeper."
)
BUILT = (
    "Small figures: of ten boxes built like this from such drivers, nine are at least as good as the first, "
    "one as the second."
)


@dataclass(frozen=True, kw_only=True)
class Chart:
    title: str
    caption: str
    svg: str


@dataclass(frozen=True)
class Cell:
    """A figure, beneath it what built boxes come to, and whether it is the best of its line."""

    figure: str
    band: str = ""
    best: bool = False


@dataclass(frozen=True)
class Line:
    """One line of the table: a question in plain words, what the figure says, a cell a box."""

    label: str
    small: str
    cells: tuple[Cell, ...]


def bands_of(portraits: Sequence[Portrait], tolerance: Mapping[str, float] | None) -> list[dict[str, Floats]]:
    """By goal what 90 %, 50 % and 10 % of boxes built like each reach, (3,); those of one job in one go."""
    found: dict[str, dict[str, Floats]] = {}
    for evaluator in dict.fromkeys(portrait.design.evaluator for portrait in portraits):
        own = [portrait for portrait in portraits if portrait.design.evaluator is evaluator]
        known = evaluator.scenario.tolerance if tolerance is None else tolerance
        built = spread(evaluator, pd.DataFrame([dict(each.row) for each in own]), exact=True, tolerance=known)
        for number, portrait in enumerate(own):
            found[portrait.letter] = {key: built.band(key)[number] for key in built.figures}
    return [found[portrait.letter] for portrait in portraits]


def charts_of(portraits: Sequence[Portrait], bands: Sequence[Mapping[str, Floats]], units: Units) -> list[Chart]:
    """Levels and responses laid over each other."""
    drawing = lay_over(portraits, units=units, ink=LIGHT, hover=False)
    # What rings by itself is no matter of the customer's.
    quiet = [replace(trace, first_mode_hz=math.nan, vent_resonance_hz=math.nan) for trace in drawing.traces]
    drawing = replace(drawing, traces=quiet)
    cabin = all(portrait.cabin for portrait in portraits)
    keys = list(dict.fromkeys(
        level_key(hz, cabin=cabin) for portrait in portraits for hz in portrait.scenario.goals.levels
    ))  # fmt: skip
    where = "in the vehicle" if cabin else "at 1 m in the open"
    guess = " (estimate)" if any(guessed(GOALS[key], each.scenario) for key in keys for each in portraits) else ""
    levels = levels_chart(portraits, bands, keys, title="Loudness (dB)", ink=LIGHT)
    name = "cabin_response" if cabin and not drawing.lone else "response"
    response = CHARTS[name][1](drawing)
    of_all = "each box" if len(portraits) > 1 else "the box"
    mark = "the small diamond (f3) is" if len(portraits) > 1 else "an upright line (f3) is"
    return [
        Chart(
            title=f"How loud at {'three pitches' if len(keys) == 3 else 'each pitch'}, {where}{guess}",
            caption="Higher is louder. The line through a mark: of ten boxes built like it nine come out above its "
            "lower end, one above its upper.",
            svg=chart_svg(levels, width=CHART_WIDTH, height=CHART_HEIGHT),
        ),
        Chart(
            title=f"From the lowest tones up{f', {where}' if name == 'cabin_response' else ''} (response)",
            caption=f"Loudness against pitch, as {of_all} is used. Where a line falls away at the left, the deep bass "
            f"fades; {mark} where it has lost half its power.",
            svg=chart_svg(response, width=CHART_WIDTH, height=CHART_HEIGHT),
        ),
    ]


def lines_of(
    portraits: Sequence[Portrait], bands: Sequence[Mapping[str, Floats]], prices: Sequence[str], units: Units
) -> list[Line]:
    """The table, goal by goal; of prices (empty: none is known) a line at the end if there are any."""
    lines, said = [], set()
    for key in goals_told(portraits):
        goal = GOALS[key]
        cells = [
            _cell(portrait, band, key, units) if goal.had_by(portrait.row["box_kind"]) else Cell(goal.absent[0])
            for portrait, band in zip(portraits, bands, strict=True)
        ]
        values = [goal.turn * float(portrait.row.get(key, math.nan)) for portrait in portraits]
        best = min((value for value in values if math.isfinite(value)), default=math.nan)
        shared = len(portraits) > 1 and not all(value == best for value in values)
        told = [
            Cell(cell.figure, cell.band, best=shared and value == best)
            for cell, value in zip(cells, values, strict=True)
        ]
        label, small = goal.meaning
        named = f"{label} (f3)" if "f3" in goal.label else label
        guess = any(guessed(goal, portrait.scenario) for portrait in portraits)
        small = f"{small} – an estimate" if guess else small
        lines.append(Line(named, "" if small in said else small, tuple(told)))
        said.add(small)
    return [*lines, Line("Price", "", tuple(Cell(price or "ask us") for price in prices))] if any(prices) else lines


def goals_told(portraits: Sequence[Portrait]) -> list[str]:
    """The goals in the table: levels, where each plays evenly, room and weight, and what else was sought."""
    levels = [key for portrait in portraits for key in levels_among(portrait.row)]
    in_open = [key for key in levels if not GOALS[key].moves_with]
    in_vehicle = [key for key in levels if GOALS[key].moves_with]
    sought = [key for portrait in portraits for key in portrait.scenario.goals.objectives]
    keys = dict.fromkeys([*in_open, *in_vehicle, "f3_hz", "outer_volume_m3", "weight_kg", *sought])
    keys.pop("cost", None)  # the price
    return [key for key in keys if any(math.isfinite(float(each.row.get(key, math.nan))) for each in portraits)]


def _cell(portrait: Portrait, band: Mapping[str, Floats], key: str, units: Units) -> Cell:
    currency = portrait.scenario.currency
    shown = figure_of(portrait.row, key, units, currency) + _remark(portrait, GOALS[key])
    if key not in band:
        return Cell(shown)
    safe, _, best = (figure(key, float(each), units, currency) for each in band[key])
    return Cell(shown) if safe == best else Cell(shown, f"{safe} to {best}")


def _remark(portrait: Portrait, goal: Goal) -> str:
    """That a design goes past a limit, where it is judged at full power."""
    if goal.mark is None or not float(portrait.row[goal.key]) > goal.mark.most(portrait.scenario.goals) + goal.noticed:
        return ""
    return f" – {goal.mark.beyond}"


def explained(portraits: Sequence[Portrait]) -> list[str]:
    """What the figures mean, and where the reckoning behind them ends."""
    said = [
        DECIBELS,
        BUILT,
    ]
    ends = [(each.letter, " ".join(each.design.model_ends)) for each in portraits if each.design.model_ends]
    said += [f"{letter}: {words}" if len(portraits) > 1 else words for letter, words in ends]
    return said


def rests_on(portraits: Sequence[Portrait]) -> str:
    """What the figures rest on, in small print."""
    ways = {}
    for goals in (portrait.scenario.goals for portrait in portraits):
        if goals.use.full_drive:
            ways["full"] = "Figures are at the amplifier's full power, whatever limits that breaks."
        else:
            fed = f"from {goals.fed_from:g} Hz up"
            ways[fed] = f"Each box is turned down, one setting of the gain, until it passes no limit {fed}."
    return f"All figures are calculated, not measured. {' '.join(ways.values())} {_vehicle(portraits)}"


def _vehicle(portraits: Sequence[Portrait]) -> str:
    """What levels in the vehicle rest on."""
    origins = {portrait.cabin for portrait in portraits}
    if origins == {""}:
        return "Levels are at 1 m in half space (a box on open ground), without the vehicle's own gain."
    words = {
        "estimate": " Figures in the vehicle are estimated from the cabin's size: a real one differs by several dB.",
        "measured": " Figures in the vehicle rest on what was measured in it.",
        "": "",
    }
    return "Levels are at 1 m in half space (a box on open ground), unless they say “in the vehicle”." + "".join(
        words[origin] for origin in sorted(origins)
    )
