"""The curves of one design, or of a few laid over each other, as Altair charts.

The explorer shows them with hover; the customer's page renders them still.  A lone
design carries its marks (f3, tuning, which limit binds); several carry letters.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.acoustics.curves import Curves
from engine.acoustics.limits import LIMITS
from engine.quantities import Units, display_unit, show, to_display
from engine.report.ink import DASHES, LETTERS, Ink

Floats = NDArray[np.float64]
Maker = Callable[["Drawing"], alt.LayerChart]

FREQUENCY: Floats = np.geomspace(10.0, 200.0, 161)
HEIGHT = 290
LEAST_RUN = 0.09  # of the frequency axis: a shorter stretch under one limit goes without its name
RESPONSE_SPAN = 33.0  # dB drawn below the highest point of a response
LIMIT_WORDS = {
    "amplifier": "amplifier",
    "thermal": "driver's rated power",
    "excursion": "excursion",
    "vent": "vent air speed",
}
LIMIT_DASHES = {"amplifier": [1, 0], "thermal": [2, 2], "excursion": [7, 3], "vent": [9, 3, 2, 3]}


@dataclass(frozen=True, kw_only=True)
class Trace:
    """One design in the charts: its letter, and what is marked on its curves.

    ``tuning_hz`` is nan for a closed box; ``xmax_m`` is one way.
    """

    letter: str
    f3_hz: float
    tuning_hz: float
    xmax_m: float
    vent_speed_limit_m_s: float

    @property
    def vented(self) -> bool:
        return math.isfinite(self.tuning_hz)


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """All a chart needs: curves (N, F) over ``frequency`` (F,), a trace for each of N, and how to draw."""

    curves: Curves
    frequency: Floats
    traces: Sequence[Trace]
    units: Units
    ink: Ink
    hover: bool = True

    @property
    def lone(self) -> bool:
        return len(self.traces) == 1

    def table(self, values: Floats) -> pd.DataFrame:
        """Long form: one row for each design and frequency; what is not finite is left out of the line."""
        count, points = values.shape
        finite = np.where(np.isfinite(values), values, np.nan)
        return pd.DataFrame(
            {
                "design": np.repeat([trace.letter for trace in self.traces], points),
                "frequency_hz": np.tile(self.frequency, count),
                "value": finite.ravel(),
            }
        )

    def measured(self, values: Floats, kind: str) -> Floats:
        return np.asarray(to_display(values, kind, self.units), dtype=float)


def response(drawing: Drawing) -> alt.LayerChart:
    """Level at full drive against frequency, each f3 marked."""
    table = drawing.table(drawing.curves.spl_db)
    top = _ceiling(table["value"], 5.0)
    axis = alt.Scale(domain=[top - RESPONSE_SPAN - 5.0, top], nice=False)
    layers = _lines(drawing, table, title="Level at 1 m (dB)", scale=axis, digits=1)
    if drawing.lone:
        layers += _upright(drawing, drawing.traces[0].f3_hz, "f3")
    else:
        layers += _spots(drawing, table, [trace.f3_hz for trace in drawing.traces])
    return _finish(layers)


def maximum_output(drawing: Drawing) -> alt.LayerChart:
    """The loudest the design plays at each frequency; a lone design shows which limit binds where."""
    levels = drawing.curves.max_output_db
    table = drawing.table(levels)
    top = _ceiling(table["value"], 5.0)
    span = (top - RESPONSE_SPAN - 12.0, top)
    title = "Level at 1 m (dB)"
    if not drawing.lone:
        scale = alt.Scale(domain=list(span), nice=False)
        return _finish(_lines(drawing, table, title=title, scale=scale, digits=1))
    return _finish(_limited(drawing, table, title=title, span=span))


def excursion(drawing: Drawing) -> alt.LayerChart:
    """Cone travel, one way, against Xmax."""
    bounds = [trace.xmax_m for trace in drawing.traces]
    return _bounded(
        drawing,
        drawing.curves.excursion_peak_m,
        bounds,
        kind="length",
        title="Excursion, one way",
        name="Xmax",
    )


def vent_speed(drawing: Drawing) -> alt.LayerChart:
    """Air speed in the vents at full drive, against the limit.  Closed boxes have no line."""
    vented = np.array([trace.vented for trace in drawing.traces])
    speeds = np.where(vented[:, None], drawing.curves.vent_speed_peak_m_s, np.nan)
    bounds = [trace.vent_speed_limit_m_s for trace in drawing.traces]
    return _bounded(drawing, speeds, bounds, kind="speed", title="Vent air speed", name="limit")


def impedance(drawing: Drawing) -> alt.LayerChart:
    """Impedance at one driver's terminals; the tuning of a vented box sits in the dip between the peaks."""
    table = drawing.table(drawing.curves.impedance_ohm)
    scale = alt.Scale(domain=[0.0, 1.1 * _highest(table["value"])], nice=False)
    layers = _lines(drawing, table, title="Impedance, one driver (Ω)", scale=scale, digits=1)
    if drawing.lone:
        layers += _upright(drawing, drawing.traces[0].tuning_hz, "tuning")
    else:
        layers += _spots(drawing, table, [trace.tuning_hz for trace in drawing.traces])
    return _finish(layers)


def group_delay(drawing: Drawing) -> alt.LayerChart:
    """Group delay, high-pass included."""
    table = drawing.table(drawing.curves.group_delay_s * 1e3)
    highest = _highest(table["value"])
    scale = alt.Scale(domain=[min(0.0, float(table["value"].min())), 1.1 * highest], nice=False)
    return _finish(_lines(drawing, table, title="Group delay (ms)", scale=scale, digits=1))


CHARTS: dict[str, tuple[str, Maker]] = {
    "response": ("Response", response),
    "maximum_output": ("Maximum output", maximum_output),
    "excursion": ("Excursion", excursion),
    "vent_speed": ("Vent air speed", vent_speed),
    "impedance": ("Impedance", impedance),
    "group_delay": ("Group delay", group_delay),
}


@dataclass(frozen=True)
class Run:
    """A stretch of frequencies over which one limit binds; ``first`` and ``last`` are indices."""

    limit: str
    first: int
    last: int


def runs(codes: NDArray[np.integer[Any]], names: Sequence[str]) -> list[Run]:
    """The stretches of one design's binding limits, ``codes`` (F,) numbering ``names``."""
    breaks = np.flatnonzero(np.diff(codes)) + 1
    edges = [0, *breaks.tolist(), len(codes)]
    return [Run(names[int(codes[a])], a, b - 1) for a, b in pairwise(edges)]


def limits_in_words(drawing: Drawing, index: int = 0) -> str:
    """What holds one design's output back, from low to high frequency, as a sentence."""
    stretches = runs(drawing.curves.limited_by[index], LIMITS)
    frequency = drawing.frequency
    if len(stretches) == 1:
        return f"Output is held back by {_the(stretches[0].limit)} throughout."
    parts = [
        f"by {_the(run.limit)} up to {show(frequency[run.last], 'frequency', drawing.units, 0)}"
        for run in stretches[:-1]
    ]
    return f"Output is held back {', '.join(parts)}, and by {_the(stretches[-1].limit)} above that."


def _the(limit: str) -> str:
    return f"the {LIMIT_WORDS[limit]}" if limit in ("amplifier", "thermal") else LIMIT_WORDS[limit]


def _frequency_axis(drawing: Drawing) -> alt.X:
    ticks = [10, 15, 20, 30, 40, 60, 80, 100, 150, 200]
    return (
        alt.X("frequency_hz:Q")
        .scale(type="log", domain=[float(drawing.frequency[0]), float(drawing.frequency[-1])], nice=False)
        .axis(values=ticks, title="Frequency (Hz)", format="d", labelOverlap=True, **_axis_ink(drawing.ink))
    )


def _value_axis(title: str, scale: alt.Scale, ink: Ink) -> alt.Y:
    return alt.Y("value:Q").scale(scale).axis(title=title, tickCount=6, **_axis_ink(ink))


def _axis_ink(ink: Ink) -> dict[str, Any]:
    return {"labelColor": ink.text, "titleColor": ink.text}


def _bounded(
    drawing: Drawing, values: Floats, bounds: Sequence[float], *, kind: str, title: str, name: str
) -> alt.LayerChart:
    """Lines over a physical quantity (SI), each design's bound drawn across."""
    unit = display_unit(kind, drawing.units)
    digits = 2 if unit == "in" else 1
    table = drawing.table(drawing.measured(values, kind))
    shown = [round(float(bound), digits) for bound in drawing.measured(np.array(bounds), kind)]
    scale = alt.Scale(domain=[0.0, 1.1 * max(*shown, _highest(table["value"]))], nice=False)
    layers = _lines(drawing, table, title=f"{title} ({unit})", scale=scale, digits=digits)
    for bound in sorted(set(shown)):
        owners = ", ".join(t.letter for t, b in zip(drawing.traces, shown, strict=True) if b == bound)
        whose = f" of {owners}" if len(set(shown)) > 1 else ""
        layers += _level(drawing, bound, f"{name}{whose}, {bound:.{digits}f} {unit}")
    if table["value"].isna().all():
        words = "closed box: no vent" if drawing.lone else "closed boxes: no vents"
        layers += _remark(drawing, words, 0.5 * max(shown))
    return _finish(layers)


def _lines(drawing: Drawing, table: pd.DataFrame, *, title: str, scale: alt.Scale, digits: int) -> list[alt.Chart]:
    ink = drawing.ink
    letters = [trace.letter for trace in drawing.traces]
    seats = [LETTERS.index(letter) if letter in LETTERS else 0 for letter in letters]
    base = alt.Chart(table).encode(x=_frequency_axis(drawing), y=_value_axis(title, scale, ink))
    line = base.mark_line(clip=True, strokeWidth=2).encode(
        color=alt.Color("design:N").scale(domain=letters, range=[ink.series[seat] for seat in seats]).legend(None),
        strokeDash=alt.StrokeDash("design:N")
        .scale(domain=letters, range=[DASHES[seat] for seat in seats])
        .legend(None),
    )
    layers = [line]
    if not drawing.lone:
        layers += _letters(drawing, table, _value_axis(title, scale, ink))
    if drawing.hover:
        layers += _reading(base, title, digits, lone=drawing.lone)
    return layers


def _letters(drawing: Drawing, table: pd.DataFrame, y: alt.Y) -> list[alt.Chart]:
    """A letter on each line, each at a frequency of its own so that none cover each other."""
    count, points = len(drawing.traces), len(drawing.frequency)
    layers = []
    for number, trace in enumerate(drawing.traces):
        seat = LETTERS.index(trace.letter)
        at = round(points * (0.30 + 0.55 * number / max(count - 1, 1)))
        spot = table[table["design"] == trace.letter].iloc[[at]]
        base = alt.Chart(spot).encode(x=_frequency_axis(drawing), y=y)
        disc = base.mark_circle(size=190, opacity=1.0, color=drawing.ink.paper, stroke=drawing.ink.series[seat])
        text = base.mark_text(fontSize=11, fontWeight="bold", color=drawing.ink.text, dy=0.5)
        layers += [disc, text.encode(text="design:N")]
    return layers


def _reading(base: alt.Chart, title: str, digits: int, *, lone: bool) -> list[alt.Chart]:
    """Hover anywhere and read the nearest frequency."""
    nearest = alt.selection_point(
        name="reading",
        nearest=True,
        on="pointerover",
        clear="pointerout",
        fields=["frequency_hz"],
        empty=False,
    )
    tooltip = [
        alt.Tooltip("frequency_hz:Q", title="Frequency (Hz)", format=".1f"),
        alt.Tooltip("value:Q", title=title, format=f".{digits}f"),
    ]
    if not lone:
        tooltip.insert(0, alt.Tooltip("design:N", title="Design"))
    return [
        base.mark_point(filled=True, size=45, clip=True)
        .encode(
            opacity=alt.when(nearest).then(alt.value(1.0)).otherwise(alt.value(0.0)),
            color=alt.Color("design:N").legend(None),
            tooltip=tooltip,
        )
        .add_params(nearest)
    ]


def _limited(drawing: Drawing, table: pd.DataFrame, *, title: str, span: tuple[float, float]) -> list[alt.Chart]:
    ink = drawing.ink
    stretches = runs(drawing.curves.limited_by[0], LIMITS)
    x, y = _frequency_axis(drawing), _value_axis(title, alt.Scale(domain=list(span), nice=False), ink)
    layers = []
    for number, run in enumerate(stretches):
        part = table.iloc[run.first : run.last + 2]
        colour = ink.series[list(LIMIT_DASHES).index(run.limit)]
        dash = LIMIT_DASHES[run.limit]
        line = alt.Chart(part).mark_line(clip=True, strokeWidth=2.5, color=colour, strokeDash=dash)
        layers.append(line.encode(x=x, y=y))
        if number > 0:
            border = alt.Chart(part.head(1)).mark_rule(color=ink.guide, strokeWidth=0.7, strokeDash=[1, 3])
            layers.append(border.encode(x=x))
        if (run.last - run.first) / len(table) >= LEAST_RUN:
            stretch = table.iloc[run.first : run.last + 1]
            seen = stretch[stretch["value"] > span[0] + 4.0]
            middle = alt.Chart(seen.iloc[len(seen) // 2 :].head(1))
            for outline in _halo_and_text(ink):
                words = middle.mark_text(fontSize=11, align="left", dx=7, dy=14, **outline)
                layers.append(words.encode(x=x, y=y, text=alt.value(LIMIT_WORDS[run.limit])))
    if drawing.hover:
        named = table.assign(limit=[LIMIT_WORDS[LIMITS[c]] for c in drawing.curves.limited_by[0]])
        base = alt.Chart(named).encode(x=x, y=y)
        reading = _reading(base, title, 1, lone=True)
        layers += [reading[0].encode(color=alt.value(ink.text))]
    return layers


def _upright(drawing: Drawing, frequency: float, name: str) -> list[alt.Chart]:
    """A vertical mark with its name and frequency; nothing where there is no such frequency."""
    if not math.isfinite(frequency):
        return []
    label = f"{name} {show(frequency, 'frequency', drawing.units, 1)}"
    base = alt.Chart(pd.DataFrame({"frequency_hz": [frequency]})).encode(x=_frequency_axis(drawing))
    rule = base.mark_rule(color=drawing.ink.guide, strokeDash=[3, 3], clip=True)
    right = frequency > 90.0
    text = base.mark_text(
        align="right" if right else "left", dx=-5 if right else 5, baseline="top", color=drawing.ink.text
    )
    return [rule, text.encode(y=alt.value(4), text=alt.value(label))]


def _spots(drawing: Drawing, table: pd.DataFrame, frequencies: Sequence[float]) -> list[alt.Chart]:
    """A diamond on each line where its marked frequency lies."""
    spots = []
    for trace, frequency in zip(drawing.traces, frequencies, strict=True):
        line = table.loc[table["design"] == trace.letter, "value"].to_numpy()
        if math.isfinite(frequency):
            value = float(np.interp(math.log(frequency), np.log(drawing.frequency), line))
            spots.append({"design": trace.letter, "frequency_hz": frequency, "value": value})
    if not spots:
        return []
    marks = alt.Chart(pd.DataFrame(spots)).mark_point(shape="diamond", filled=True, size=80, opacity=1.0, clip=True)
    return [marks.encode(x=_frequency_axis(drawing), y="value:Q", color=alt.Color("design:N").legend(None))]


def _level(drawing: Drawing, value: float, label: str) -> list[alt.Chart]:
    """A horizontal mark with its name at the right."""
    base = alt.Chart(pd.DataFrame({"value": [value]})).encode(y="value:Q")
    rule = base.mark_rule(color=drawing.ink.guide, strokeDash=[3, 3])
    names = [
        base.mark_text(align="right", baseline="bottom", dy=-3, dx=-4, **outline).encode(
            x=alt.value("width"), text=alt.value(label)
        )
        for outline in _halo_and_text(drawing.ink)
    ]
    return [rule, *names]


def _halo_and_text(ink: Ink) -> tuple[dict[str, Any], dict[str, Any]]:
    """Words drawn twice, first as an outline in paper, so that a line behind does not cross them."""
    return {"color": ink.paper, "stroke": ink.paper, "strokeWidth": 4}, {"color": ink.text}


def _remark(drawing: Drawing, words: str, height: float) -> list[alt.Chart]:
    middle = float(np.sqrt(drawing.frequency[0] * drawing.frequency[-1]))
    base = alt.Chart(pd.DataFrame({"frequency_hz": [middle], "value": [height]}))
    text = base.mark_text(fontSize=13, color=drawing.ink.text)
    return [text.encode(x=_frequency_axis(drawing), y="value:Q", text=alt.value(words))]


def _finish(layers: list[alt.Chart]) -> alt.LayerChart:
    return alt.LayerChart(layer=layers).properties(height=HEIGHT, width="container")


def _highest(values: pd.Series[float]) -> float:
    """The highest finite value, or 1 where there is none."""
    top = values.max()
    return float(top) if np.isfinite(top) and top > 0.0 else 1.0


def _ceiling(values: pd.Series[float], step: float) -> float:
    return math.ceil((_highest(values) + 1.0) / step) * step
