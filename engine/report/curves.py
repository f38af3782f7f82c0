"""The curves of one design, or of a few laid over each other, as Altair charts.

The explorer shows them with hover; the customer's page renders them still.  A lone
design carries its marks (f3, tuning, which limit binds) and has its two lines of a kind, such as in half
space and in the vehicle, in one chart; several carry letters and have a chart for each.
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

from engine.acoustics.limits import LIMITS
from engine.quantities import display_unit, show
from engine.report.lines import (
    Beside,
    Drawing,
    Floats,
    ceiling,
    finish,
    frequency_axis,
    halo_and_text,
    highest,
    level,
    lines,
    reading,
    spots,
    uprights,
    value_axis,
)

Maker = Callable[[Drawing], alt.LayerChart]

LEAST_RUN = 0.09  # of the frequency axis: a shorter stretch under one limit goes without its name
RESPONSE_SPAN = 33.0  # dB drawn below the highest point of a response
MARK_ROOM = 0.07  # of the level axis, for the name of one mark
LEAST_LOSS = 1.0  # dB that the chart of losses reaches at the least
LEAST_RISE = 10.0  # K that the chart of the coil's heat reaches at the least
LIMIT_WORDS = {
    "amplifier": "amplifier",
    "thermal": "driver's rated power",
    "excursion": "excursion",
    "vent": "vent air speed",
    "passive radiator": "passive radiator",
}
LIMIT_DASHES = {
    "amplifier": [1, 0],
    "thermal": [2, 2],
    "excursion": [7, 3],
    "vent": [9, 3, 2, 3],
    "passive radiator": [14, 4],
}
IN_THE_OPEN = "half space"
RINGS = {"standing wave in the box": "▲", "vent as a pipe": "▼"}  # what rings by itself -> its mark among several


def response(drawing: Drawing) -> alt.LayerChart:
    """Level at full drive against frequency, each f3 marked, and where box and vent ring by themselves."""
    levels = drawing.curves.spl_db
    if drawing.lone and drawing.in_vehicle:
        trace = drawing.traces[0]
        beside = Beside(line=levels + drawing.cabin_db, first=IN_THE_OPEN, second=f"vehicle ({trace.cabin})")
        return _response(drawing, levels, beside=beside)
    return _response(drawing, levels)


def cabin_response(drawing: Drawing) -> alt.LayerChart:
    """The same in the vehicle, of several designs."""
    return _response(drawing, drawing.curves.spl_db + drawing.cabin_db, cabin=True)


def _response(drawing: Drawing, levels: Floats, *, beside: Beside | None = None, cabin: bool = False) -> alt.LayerChart:
    table = drawing.table(levels)
    top = max(ceiling(drawing.table(values)["value"], 5.0) for values in (levels, beside.line if beside else levels))
    marks = _marks(drawing, 0) if drawing.lone else []
    # Room over the lines for the names of the marks, which stand one below the other.
    names = sum(drawing.shows(frequency) for frequency, _ in marks)
    room = MARK_ROOM * names if names > 1 else 0.0
    span = RESPONSE_SPAN + 5.0
    axis = alt.Scale(domain=[top - span, top + span * room / (1.0 - room)], nice=False)
    title = "Level (dB)" if cabin or beside else "Level at 1 m (dB)"
    layers = lines(drawing, table, title=title, scale=axis, digits=1, beside=beside)
    if drawing.lone:
        return finish(layers + uprights(drawing, marks))
    layers += spots(drawing, table, [trace.f3_cabin_hz if cabin else trace.f3_hz for trace in drawing.traces])
    modes = [trace.first_mode_hz for trace in drawing.traces]
    pipes = [trace.vent_resonance_hz for trace in drawing.traces]
    layers += spots(drawing, table, modes, shape="triangle-up") + spots(drawing, table, pipes, shape="triangle-down")
    return finish(layers)


def _marks(drawing: Drawing, index: int) -> list[tuple[float, str]]:
    """What is marked on a design's response: (Hz, name)."""
    trace = drawing.traces[index]
    return [
        (trace.f3_hz, "f3" if not trace.cabin else f"f3, {IN_THE_OPEN},"),
        (trace.f3_cabin_hz, "f3, in the vehicle,"),
        *_resonances(drawing, index),
    ]


def _resonances(drawing: Drawing, index: int) -> list[tuple[float, str]]:
    trace = drawing.traces[index]
    return list(zip((trace.first_mode_hz, trace.vent_resonance_hz), RINGS, strict=True))


def marks_in_words(drawing: Drawing) -> str:
    """What belongs to the response and does not stand on its chart, and what its triangles mean; may be empty."""
    told = []
    for index, trace in enumerate(drawing.traces):
        owner = f"{trace.letter}: " if not drawing.lone else ""
        beyond = [
            f"{name.rstrip(',')} at {show(frequency, 'frequency', drawing.units, 0)}"
            for frequency, name in _marks(drawing, index)
            if math.isfinite(frequency) and not drawing.shows(frequency)
        ]
        if beyond:
            told.append(owner + ", ".join(beyond))
    words = f"Outside the chart – {'; '.join(told)}." if told else ""
    everyone = range(len(drawing.traces))
    shown = [name for index in everyone for hz, name in _resonances(drawing, index) if drawing.shows(hz)]
    rings = [f"{sign if not drawing.lone else ''} {name}".strip() for name, sign in RINGS.items() if name in shown]
    if rings:
        words = f"Marked, but not in the curves: {', '.join(rings)}. {words}".strip()
    return words


def maximum_output(drawing: Drawing) -> alt.LayerChart:
    """The loudest the design plays at each frequency; a lone design shows which limit binds where."""
    levels = drawing.curves.max_output_db
    table = drawing.table(levels)
    top = ceiling(table["value"], 5.0)
    span = (top - RESPONSE_SPAN - 12.0, top)
    title = "Level at 1 m (dB)"
    if not drawing.lone:
        scale = alt.Scale(domain=list(span), nice=False)
        return finish(lines(drawing, table, title=title, scale=scale, digits=1))
    return finish(_limited(drawing, table, title=title, span=span))


def excursion(drawing: Drawing) -> alt.LayerChart:
    """Cone travel, one way, against Xmax; a lone design's passive radiators beside its own cones."""
    curves, radiators = drawing.curves, [trace.radiator_xmax_m for trace in drawing.traces]
    bounds = [trace.xmax_m for trace in drawing.traces]
    both = drawing.lone and drawing.has_radiators
    return _bounded(
        drawing,
        curves.excursion_peak_m,
        bounds,
        kind="length",
        title="Excursion, one way",
        name="Xmax of the driver" if both else "Xmax",
        second=(curves.radiator_excursion_peak_m, radiators[0]) if both else None,
    )


def radiator_excursion(drawing: Drawing) -> alt.LayerChart:
    """Travel of the passive radiators, one way, against their own Xmax.  Other boxes have no line."""
    bounds = [trace.radiator_xmax_m for trace in drawing.traces]
    moving = np.where(np.isfinite(bounds)[:, np.newaxis], drawing.curves.radiator_excursion_peak_m, np.nan)
    return _bounded(drawing, moving, bounds, kind="length", title="Excursion, one way", name="Xmax")


def vent_speed(drawing: Drawing) -> alt.LayerChart:
    """Air speed in the vents at full drive, against the limit.  Other boxes have no line."""
    vented = np.array([trace.vented for trace in drawing.traces])
    speeds = np.where(vented[:, None], drawing.curves.vent_speed_peak_m_s, np.nan)
    bounds = [trace.vent_speed_limit_m_s if trace.vented else math.nan for trace in drawing.traces]
    return _bounded(drawing, speeds, bounds, kind="speed", title="Vent air speed", name="limit")


def impedance(drawing: Drawing) -> alt.LayerChart:
    """Impedance at one driver's terminals, cold; the tuning of box and opening sits in the dip between the peaks."""
    table = drawing.table(drawing.curves.impedance_ohm)
    scale = alt.Scale(domain=[0.0, 1.1 * highest(table["value"])], nice=False)
    layers = lines(drawing, table, title="Impedance, one driver (Ω)", scale=scale, digits=1)
    if drawing.lone:
        layers += uprights(drawing, [(drawing.traces[0].tuning_hz, "tuning")])
    else:
        layers += spots(drawing, table, [trace.tuning_hz for trace in drawing.traces])
    return finish(layers)


def group_delay(drawing: Drawing) -> alt.LayerChart:
    """Group delay, high-pass included."""
    table = drawing.table(drawing.curves.group_delay_s * 1e3)
    top = 1.1 * highest(table["value"])
    # Where a passive radiator falls silent the delay runs off downward; what is of use stands above.
    scale = alt.Scale(domain=[min(0.0, max(float(table["value"].min()), -0.5 * top)), top], nice=False)
    return finish(lines(drawing, table, title="Group delay (ms)", scale=scale, digits=1))


def compression(drawing: Drawing) -> alt.LayerChart:
    """What a hot coil, rushing air and a cone far from rest take from the level at the largest drive."""
    table = drawing.table(drawing.curves.compression_db)
    least = min(0.0, 1.1 * float(table["value"].min()))
    scale = alt.Scale(domain=[least, max(LEAST_LOSS, 1.1 * highest(table["value"]))], nice=False)
    return finish(lines(drawing, table, title="Taken from the level (dB)", scale=scale, digits=2))


def coil_rise(drawing: Drawing) -> alt.LayerChart:
    """How much warmer the coil becomes under a long steady tone."""
    kind = "temperature_difference"
    table = drawing.table(drawing.measured(drawing.curves.coil_rise_k, kind))
    least = float(drawing.measured(np.array(LEAST_RISE), kind))
    scale = alt.Scale(domain=[0.0, max(least, 1.1 * highest(table["value"]))], nice=False)
    title = f"Coil above the air ({display_unit(kind, drawing.units)})"
    return finish(lines(drawing, table, title=title, scale=scale, digits=0))


CHARTS: dict[str, tuple[str, Maker]] = {
    "response": ("Response", response),
    "cabin_response": ("Response in the vehicle", cabin_response),
    "maximum_output": ("Maximum output", maximum_output),
    "excursion": ("Excursion", excursion),
    "radiator_excursion": ("Excursion of the passive radiators", radiator_excursion),
    "vent_speed": ("Vent air speed", vent_speed),
    "impedance": ("Impedance", impedance),
    "group_delay": ("Group delay", group_delay),
    "compression": ("What full power takes away", compression),
    "coil_rise": ("Heat in the coil", coil_rise),
}


def charts_of(drawing: Drawing) -> dict[str, tuple[str, Maker]]:
    """The charts that have something to show: no vent air where there is no vent."""
    shown = dict(CHARTS)
    if drawing.lone or not drawing.in_vehicle:
        del shown["cabin_response"]
    if drawing.lone or not drawing.has_radiators:
        del shown["radiator_excursion"]
    if not any(trace.vented for trace in drawing.traces):
        del shown["vent_speed"]
    return shown


def title_of(name: str, drawing: Drawing) -> str:
    """A chart's title; whether a vehicle's gain was measured belongs to it."""
    title = CHARTS[name][0]
    origins = {trace.cabin for trace in drawing.traces if trace.cabin}
    return f"{title} ({', '.join(sorted(origins))})" if name == "cabin_response" else title


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
    if limit == "passive radiator":
        return "the passive radiator's Xmax"
    return f"the {LIMIT_WORDS[limit]}" if limit in ("amplifier", "thermal") else LIMIT_WORDS[limit]


def _bounded(
    drawing: Drawing,
    values: Floats,
    bounds: Sequence[float],
    *,
    kind: str,
    title: str,
    name: str,
    second: tuple[Floats, float] | None = None,
) -> alt.LayerChart:
    """Lines over a physical quantity (SI), each design's bound (nan: none) drawn across.

    ``second`` is the same of a lone design's passive radiators, with their own bound.
    """
    unit = display_unit(kind, drawing.units)
    digits = 2 if unit == "in" else 1
    table = drawing.table(drawing.measured(values, kind))
    shown = [round(float(bound), digits) for bound in drawing.measured(np.array(bounds), kind)]
    marks = {bound: name for bound in shown if math.isfinite(bound)}
    tops, beside = [*marks, highest(table["value"])], None
    if second is not None:
        moving, bounding = (drawing.measured(np.asarray(each), kind) for each in second)
        beside = Beside(line=moving, first="driver", second="passive radiator")
        own = round(float(bounding), digits)
        tops += [own, highest(drawing.table(moving)["value"])]
        marks[own] = "Xmax of both" if own in marks else "Xmax of the passive radiator"
    scale = alt.Scale(domain=[0.0, 1.1 * max(tops)], nice=False)
    layers = lines(drawing, table, title=f"{title} ({unit})", scale=scale, digits=digits, beside=beside)
    for bound, words in sorted(marks.items()):
        owners = ", ".join(t.letter for t, b in zip(drawing.traces, shown, strict=True) if b == bound)
        whose = f" of {owners}" if second is None and len(marks) > 1 else ""
        layers += level(drawing, bound, f"{words}{whose}, {bound:.{digits}f} {unit}")
    return finish(layers)


def _limited(drawing: Drawing, table: pd.DataFrame, *, title: str, span: tuple[float, float]) -> list[alt.Chart]:
    ink = drawing.ink
    stretches = runs(drawing.curves.limited_by[0], LIMITS)
    x, y = frequency_axis(drawing), value_axis(title, alt.Scale(domain=list(span), nice=False), ink)
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
            for outline in halo_and_text(ink):
                words = middle.mark_text(fontSize=11, align="left", dx=7, dy=14, **outline)
                layers.append(words.encode(x=x, y=y, text=alt.value(LIMIT_WORDS[run.limit])))
    if drawing.hover:
        named = table.assign(limit=[LIMIT_WORDS[LIMITS[c]] for c in drawing.curves.limited_by[0]])
        base = alt.Chart(named).encode(x=x, y=y)
        layers += [reading(base, title, 1, lone=True)[0].encode(color=alt.value(ink.text))]
    return layers
