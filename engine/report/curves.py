"""The curves of one design, or of a few laid over each other, as Altair charts.

The explorer shows them with hover; the customer's page renders them still.  A lone
design carries its marks (f3, tuning, which limit binds) and has its two lines of a kind, such as in half
space and in the vehicle, in one chart; several carry letters and have a chart for each.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any, NamedTuple

import altair as alt
import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.acoustics.limits import LIMITS
from engine.arrays import Floats
from engine.quantities import display_unit, show
from engine.report import lines as draw
from engine.report.lines import Beside, Drawing, Trace, ceiling, finish, highest, lines
from engine.report.names import Names, Place

Maker = Callable[[Drawing], alt.LayerChart]

LEAST_RUN = 0.09  # of the frequency axis: a shorter stretch under one limit goes without its name
RESPONSE_SPAN = 33.0  # dB drawn below the highest point of a response
MARK_ROOM = 0.07  # of the level axis, for the name of one mark
LEAST_LOSS = 1.0  # dB that the chart of losses reaches at the least
LEAST_RISE = 10.0  # K that the chart of the coil's heat reaches at the least
# What may hold the output back: on the chart, in a sentence, its dash.
LIMIT_LOOKS = {
    "amplifier": ("amplifier", "the amplifier", [1, 0]),
    "thermal": ("driver's rated power", "the driver's rated power", [2, 2]),
    "excursion": ("excursion", "excursion", [7, 3]),
    "vent": ("vent air speed", "vent air speed", [9, 3, 2, 3]),
    "passive radiator": ("passive radiator", "the passive radiator's Xmax", [14, 4]),
}
IN_THE_OPEN = "half space"
RINGS = {"standing wave in the box": "▲", "vent as a pipe": "▼"}  # what rings by itself -> its mark among several


def response(drawing: Drawing) -> alt.LayerChart:
    """Level at the gain against frequency, each f3 marked, and where box and vent ring by themselves."""
    levels = drawing.curves.spl_db
    if drawing.lone and drawing.in_vehicle:
        origin = drawing.traces[0].cabin
        beside = Beside(line=_in_cabin(drawing), first=IN_THE_OPEN, second=f"vehicle ({origin})")
        return _response(drawing, levels, beside=beside)
    return _response(drawing, levels)


def _in_cabin(drawing: Drawing) -> Floats:
    return drawing.curves.spl_db + drawing.cabin_db


def _response(drawing: Drawing, levels: Floats, *, beside: Beside | None = None, cabin: bool = False) -> alt.LayerChart:
    table = drawing.table(levels)
    top = max(ceiling(drawing.table(values)["value"], 5.0) for values in (levels, beside.line if beside else levels))
    marks = _marks(drawing.traces[0]) if drawing.lone else []
    # Room over the lines for the names of the marks, which stand one below the other, and for that of the upper line.
    names = sum(drawing.shows(frequency) for frequency, _ in marks) + (beside is not None)
    room, below = MARK_ROOM * names if names > 1 else 0.0, RESPONSE_SPAN + 5.0
    span = (top - below, top + below * room / (1.0 - room))
    title = "Level (dB)" if cabin or beside else "Level at 1 m (dB)"
    standing = drawing.names(span)
    upright = draw.uprights(drawing, marks, standing, span)
    layers = lines(drawing, table, title=title, span=span, digits=1, beside=beside, names=standing)
    if drawing.lone:
        return finish(layers + upright)
    layers += draw.spots(drawing, table, "f3_cabin_hz" if cabin else "f3_hz")
    layers += draw.spots(drawing, table, "first_mode_hz", shape="triangle-up")
    return finish(layers + draw.spots(drawing, table, "vent_resonance_hz", shape="triangle-down"))


def _marks(trace: Trace) -> list[tuple[float, str]]:
    """What is marked on a design's response: (Hz, name)."""
    alone = "f3" if not trace.cabin else f"f3, {IN_THE_OPEN},"
    return [(trace.f3_hz, alone), (trace.f3_cabin_hz, "f3, in the vehicle,"), *_resonances(trace)]


def _resonances(trace: Trace) -> list[tuple[float, str]]:
    return list(zip((trace.first_mode_hz, trace.vent_resonance_hz), RINGS, strict=True))


def marks_in_words(drawing: Drawing) -> str:
    """What belongs to the response and does not stand on its chart, and what its triangles mean; may be empty."""
    told = []
    for trace in drawing.traces:
        beyond = [
            f"{name.rstrip(',')} at {show(frequency, 'frequency', drawing.units, 0)}"
            for frequency, name in _marks(trace)
            if math.isfinite(frequency) and not drawing.shows(frequency)
        ]
        if beyond:
            told.append(("" if drawing.lone else f"{trace.letter}: ") + ", ".join(beyond))
    words = f"Outside the chart – {'; '.join(told)}." if told else ""
    shown = {name for trace in drawing.traces for hz, name in _resonances(trace) if drawing.shows(hz)}
    rings = [name if drawing.lone else f"{sign} {name}" for name, sign in RINGS.items() if name in shown]
    return f"Marked, but not in the curves: {', '.join(rings)}. {words}".strip() if rings else words


def maximum_output(drawing: Drawing) -> alt.LayerChart:
    """The loudest that designs play at each frequency; a lone one shows which limit binds where, and its level."""
    table = drawing.table(drawing.curves.max_output_db)
    top = ceiling(table["value"], 5.0)
    title, span = "Level at 1 m (dB)", (top - RESPONSE_SPAN - 12.0, top)
    if drawing.lone:
        return finish(_limited(drawing, table, title, span))
    return finish(lines(drawing, table, title=title, span=span, digits=1))


def excursion(drawing: Drawing) -> alt.LayerChart:
    """Cone travel, one way, against Xmax; a lone design's passive radiators beside its own cones."""
    curves, traces, title = drawing.curves, drawing.traces, "Excursion, one way"
    both = drawing.lone and drawing.has_radiators
    second = (curves.radiator_excursion_peak_m, traces[0].radiator_xmax_m) if both else None
    name, bounds = "Xmax of the driver" if both else "Xmax", [trace.xmax_m for trace in traces]
    return _bounded(drawing, curves.excursion_peak_m, bounds, kind="length", title=title, name=name, second=second)


def radiator_excursion(drawing: Drawing) -> alt.LayerChart:
    """Travel of the passive radiators, one way, against their own Xmax.  Other boxes have no line."""
    bounds = [trace.radiator_xmax_m for trace in drawing.traces]
    moving = np.where(np.isfinite(bounds)[:, np.newaxis], drawing.curves.radiator_excursion_peak_m, np.nan)
    return _bounded(drawing, moving, bounds, kind="length", title="Excursion, one way", name="Xmax")


def vent_speed(drawing: Drawing) -> alt.LayerChart:
    """Air speed in the vents, against the limit.  Other boxes have no line."""
    vented = np.array([trace.vented for trace in drawing.traces])
    speeds = np.where(vented[:, None], drawing.curves.vent_speed_peak_m_s, np.nan)
    bounds = [trace.vent_speed_limit_m_s if trace.vented else math.nan for trace in drawing.traces]
    return _bounded(drawing, speeds, bounds, kind="speed", title="Vent air speed", name="limit")


def impedance(drawing: Drawing) -> alt.LayerChart:
    """Impedance at one driver's terminals, cold; the tuning of box and opening sits in the dip between the peaks."""
    table = drawing.table(drawing.curves.impedance_ohm)
    span = (0.0, 1.1 * highest(table["value"]))
    layers = lines(drawing, table, title="Impedance, one driver (Ω)", span=span, digits=1)
    if drawing.lone:
        tuning = [(drawing.traces[0].tuning_hz, "tuning")]
        return finish(layers + draw.uprights(drawing, tuning, drawing.names(span), span))
    return finish(layers + draw.spots(drawing, table, "tuning_hz"))


def group_delay(drawing: Drawing) -> alt.LayerChart:
    """Group delay, high-pass included."""
    table = drawing.table(drawing.curves.group_delay_s * 1e3)
    top = 1.1 * highest(table["value"])
    # Where a passive radiator falls silent the delay runs off downward; what is of use stands above.
    span = (min(0.0, max(float(table["value"].min()), -0.5 * top)), top)
    return finish(lines(drawing, table, title="Group delay (ms)", span=span, digits=1))


def compression(drawing: Drawing) -> alt.LayerChart:
    """What a hot coil, rushing air and a cone far from rest take from the level at the largest drive."""
    table = drawing.table(drawing.curves.compression_db)
    span = (min(0.0, 1.1 * float(table["value"].min())), max(LEAST_LOSS, 1.1 * highest(table["value"])))
    return finish(lines(drawing, table, title="Taken from the level (dB)", span=span, digits=2))


def coil_rise(drawing: Drawing) -> alt.LayerChart:
    """How much warmer the coil becomes under a long steady tone."""
    kind = "temperature_difference"
    table = drawing.table(drawing.measured(drawing.curves.coil_rise_k, kind))
    span = (0.0, max(float(drawing.measured(np.array(LEAST_RISE), kind)), 1.1 * highest(table["value"])))
    title = f"Coil above the air ({display_unit(kind, drawing.units)})"
    return finish(lines(drawing, table, title=title, span=span, digits=0))


CHARTS: dict[str, tuple[str, Maker]] = {
    "response": ("Response", response),
    "cabin_response": ("Response in the vehicle", lambda drawing: _response(drawing, _in_cabin(drawing), cabin=True)),
    "maximum_output": ("Maximum output", maximum_output),
    "excursion": ("Excursion", excursion),
    "radiator_excursion": ("Excursion of the passive radiators", radiator_excursion),
    "vent_speed": ("Vent air speed", vent_speed),
    "impedance": ("Impedance", impedance),
    "group_delay": ("Group delay", group_delay),
    "compression": ("What heat and fast air take away", compression),
    "coil_rise": ("Heat in the coil", coil_rise),
}


def charts_of(drawing: Drawing) -> dict[str, tuple[str, Maker]]:
    """The charts that have something to show: no vent air where there is no vent."""
    shown = {
        "cabin_response": not drawing.lone and drawing.in_vehicle,
        "radiator_excursion": not drawing.lone and drawing.has_radiators,
        "vent_speed": any(trace.vented for trace in drawing.traces),
    }
    return {name: chart for name, chart in CHARTS.items() if shown.get(name, True)}


def title_of(name: str, drawing: Drawing) -> str:
    """A chart's title; whether a vehicle's gain was measured belongs to it."""
    title = CHARTS[name][0]
    origins = {trace.cabin for trace in drawing.traces if trace.cabin}
    return f"{title} ({', '.join(sorted(origins))})" if name == "cabin_response" else title


class Run(NamedTuple):
    """A stretch of frequencies over which one limit binds; ``first`` and ``last`` are indices."""

    limit: str
    first: int
    last: int


def runs(codes: NDArray[np.integer[Any]], names: Sequence[str]) -> list[Run]:
    """The stretches of one design's binding limits, ``codes`` (F,) numbering ``names``."""
    breaks = np.flatnonzero(np.diff(codes)) + 1
    return [Run(names[int(codes[a])], a, b - 1) for a, b in pairwise([0, *breaks.tolist(), len(codes)])]


def limits_in_words(drawing: Drawing) -> str:
    """What holds the first design's output back, from low to high frequency, as a sentence."""
    *lower, highest = runs(drawing.curves.limited_by[0], LIMITS)
    if not lower:
        return f"Output is held back by {LIMIT_LOOKS[highest.limit][1]} throughout."
    ends = [show(drawing.frequency[run.last], "frequency", drawing.units, 0) for run in lower]
    parts = [f"by {LIMIT_LOOKS[run.limit][1]} up to {end}" for run, end in zip(lower, ends, strict=True)]
    return f"Output is held back {', '.join(parts)}, and by {LIMIT_LOOKS[highest.limit][1]} above that."


def _bounded(
    drawing: Drawing, values: Floats, bounds: Sequence[float], *, kind: str, title: str, name: str,
    second: tuple[Floats, float] | None = None,
) -> alt.LayerChart:  # fmt: skip
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
    span = (0.0, 1.1 * max(tops))
    levels, names = [], drawing.names(span)
    for bound, words in sorted(marks.items()):
        owners = ", ".join(t.letter for t, b in zip(drawing.traces, shown, strict=True) if b == bound)
        whose = f" of {owners}" if second is None and len(marks) > 1 else ""
        levels += draw.level(drawing, bound, f"{words}{whose}, {bound:.{digits}f} {unit}", names)
    named = f"{title} ({unit})"
    return finish(lines(drawing, table, title=named, span=span, digits=digits, beside=beside, names=names) + levels)


def _limited(drawing: Drawing, table: pd.DataFrame, title: str, span: draw.Span) -> list[alt.Chart]:
    ink, binding = drawing.ink, drawing.curves.limited_by[0]
    x, y, names = draw.frequency_axis(drawing), draw.value_axis(title, span, ink), drawing.names(span)
    layers = []
    for number, run in enumerate(runs(binding, LIMITS)):
        words, _, dash = LIMIT_LOOKS[run.limit]
        part, colour = table.iloc[run.first : run.last + 2], ink.series[list(LIMIT_LOOKS).index(run.limit)]
        line = alt.Chart(part).mark_line(clip=True, strokeWidth=2.5, color=colour, strokeDash=dash)
        layers.append(line.encode(x=x, y=y))
        if number > 0:
            border = alt.Chart(part.head(1)).mark_rule(color=ink.guide, strokeWidth=0.7, strokeDash=[1, 3])
            layers.append(border.encode(x=x))
        if (run.last - run.first) / len(table) >= LEAST_RUN:
            stretch = table.iloc[run.first : run.last + 1]
            seen = stretch[stretch["value"] > span[0] + 4.0]
            layers += _named_along(drawing, seen, len(seen) // 2, words, names)
    used = drawing.table(drawing.curves.spl_db)
    line = alt.Chart(used).encode(x=x, y=y).mark_line(clip=True, strokeWidth=1.2, color=ink.guide)
    beyond = int((used["frequency_hz"] <= 100.0).sum())
    name = "at full power" if drawing.traces[0].full_power else "at one gain"
    return [
        line,
        *layers,
        *_named_along(drawing, used, beyond, name, names),
        *_read(drawing, table, title, span),
    ]


def _named_along(drawing: Drawing, line: pd.DataFrame, first: int, words: str, names: Names) -> list[alt.Chart]:
    """A name below a line, at its ``first`` point or as near to it as there is room; nothing without a point."""
    finite = np.flatnonzero(np.isfinite(line["value"].to_numpy(float)))
    order = finite[np.argsort(np.abs(finite - first), kind="stable")]
    points = line[["frequency_hz", "value"]].to_numpy(float)[order]
    places = [Place(hz, value, 5, 14) for hz, value in points.tolist()]
    return draw.placed(drawing, names.stand(words, places), words) if places else []


def _read(drawing: Drawing, table: pd.DataFrame, title: str, span: draw.Span) -> list[alt.Chart]:
    """What hovering over a lone design's maximum output tells: its level and the limit that binds."""
    if not drawing.hover:
        return []
    limits = [LIMIT_LOOKS[LIMITS[code]][0] for code in drawing.curves.limited_by[0]]
    x, y = draw.frequency_axis(drawing), draw.value_axis(title, span, drawing.ink)
    base = alt.Chart(table.assign(limit=limits)).encode(x=x, y=y)
    return [draw.reading(base, title, 1, lone=True)[0].encode(color=alt.ColorValue(drawing.ink.text))]
