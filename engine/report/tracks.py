"""The curves of one design as plain numbers with their words, for a screen that draws them itself.

What is drawn is what :mod:`engine.report.curves` draws of a lone design, in little room: lines over frequency, bounds
across, marks at frequencies, and the same in a sentence for whoever does not see it.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import asdict, dataclass, field
from typing import Any

import numpy as np

from engine.acoustics.limits import LIMITS
from engine.arrays import Floats
from engine.quantities import Units, display_unit, show
from engine.report.curves import (
    IN_THE_OPEN,
    LIMIT_LOOKS,
    RESPONSE_SPAN,
    RINGS,
    charts_of,
    limits_in_words,
    marks_in_words,
    runs,
    title_of,
)
from engine.report.ink import LIGHT
from engine.report.lines import Drawing
from engine.report.portrait import Portrait, lay_over
from engine.words.voice import listed

TOLD_AT = (20.0, 30.0, 40.0, 60.0, 80.0)  # Hz, where a curve is told in words
WINDOW = 45.0  # dB drawn of a level
# What has a chart of its own where several designs are laid over each other -> of which chart it is the second line.
_SECOND_LINES = {"cabin_response": ("response", 1), "radiator_excursion": ("excursion", 1)}


@dataclass(frozen=True, kw_only=True)
class Line:
    """One line: a value, shown units, at each frequency; None where there is none."""

    name: str
    points: list[float | None]


@dataclass(frozen=True, kw_only=True)
class Track:
    """One chart: its ``lines`` between ``low`` and ``high`` in ``unit``.

    ``levels`` are bounds across, each a value and its words; ``marks`` are frequencies in Hz with theirs.  ``words``
    tell it to somebody who does not see it.
    """

    key: str
    tab: str
    title: str
    unit: str
    digits: int
    low: float
    high: float
    lines: list[Line]
    levels: list[tuple[float, str]] = field(default_factory=list)
    marks: list[tuple[float, str]] = field(default_factory=list)
    caption: str = ""
    words: str = ""


def tracks(portrait: Portrait, drawing: Drawing) -> list[Track]:
    """What there is to draw of a design that stands alone in ``drawing``."""
    found = [
        _response(drawing), _output(drawing), _excursion(drawing), *_vent(drawing), _impedance(drawing),
        _plain(drawing, "group_delay", "Delay", "Group delay", "ms", 1, drawing.curves.group_delay_s[0] * 1e3),
        _losses(drawing), _heat(drawing),
    ]  # fmt: skip
    name = str(portrait.row["id"])
    return [_told(track, name, drawing) for track in found]


def as_plain(portrait: Portrait, drawing: Drawing) -> dict[str, Any]:
    """The same as plain values, ready for JSON."""
    frequency = [round(float(hz), 3) for hz in drawing.frequency]
    return {"frequency": frequency, "tracks": [asdict(track) for track in tracks(portrait, drawing)]}


def charts_in_words(portraits: Sequence[Portrait], units: Units) -> dict[str, str]:
    """What each chart of :func:`engine.report.curves.charts_of` tells of designs, by its name, in a sentence or two.

    Of several designs each is told by its letter; those that have no such line are left out.
    """
    alone = [lay_over([portrait], units=units, ink=LIGHT, hover=False) for portrait in portraits]
    found = [{track.key: track for track in tracks(*pair)} for pair in zip(portraits, alone, strict=True)]
    if len(portraits) == 1:
        return {key: track.words for key, track in found[0].items()}
    together, words = lay_over(portraits, units=units, ink=LIGHT, hover=False), {}
    for name in charts_of(together):
        key, number = _SECOND_LINES.get(name, (name, 0))
        told = [
            f"{portrait.letter}: {_along(of[key].lines[number], of[key], drawing)}"
            for portrait, of, drawing in zip(portraits, found, alone, strict=True)
            if key in of and len(of[key].lines) > number
        ]
        words[name] = f"{title_of(name, together)}. {'; '.join(told)}."
    return words


def _response(drawing: Drawing) -> Track:
    trace, level = drawing.traces[0], drawing.curves.spl_db[0]
    lines = {"": level}
    if drawing.in_vehicle:
        lines = {IN_THE_OPEN: level, f"vehicle ({trace.cabin})": level + drawing.cabin_db[0]}
    top = _ceiling(lines.values())
    f3 = "f3" if not trace.cabin else f"f3, {IN_THE_OPEN}"
    marks = [(trace.f3_hz, f3), (trace.f3_cabin_hz, "f3, in the vehicle")]
    marks += zip((trace.first_mode_hz, trace.vent_resonance_hz), RINGS, strict=True)
    return _track(
        drawing, "response", "Response", "Level at 1 m" if not drawing.in_vehicle else "Level", "dB", 1, lines,
        low=top - RESPONSE_SPAN - 5.0, high=top, marks=_with_frequency(drawing, marks), caption=marks_in_words(drawing),
    )  # fmt: skip


def _output(drawing: Drawing) -> Track:
    curves = drawing.curves
    top = _ceiling([curves.max_output_db[0]])
    used = "at full power" if drawing.traces[0].full_power else "at one gain"
    borders = [
        (float(drawing.frequency[run.first]), f"{LIMIT_LOOKS[run.limit][0]} from here")
        for run in runs(curves.limited_by[0], LIMITS)[1:]
    ]
    return _track(
        drawing, "maximum_output", "Loudest", "Loudest at 1 m", "dB", 1,
        {"loudest": curves.max_output_db[0], used: curves.spl_db[0]},
        low=top - WINDOW, high=top, marks=borders, caption=limits_in_words(drawing),
    )  # fmt: skip


def _excursion(drawing: Drawing) -> Track:
    curves, trace = drawing.curves, drawing.traces[0]
    cone = drawing.measured(curves.excursion_peak_m[0], "length")
    bounds, lines = {"Xmax": trace.xmax_m}, {"": cone}
    if drawing.has_radiators:
        lines = {
            "driver": cone,
            "passive radiator": drawing.measured(curves.radiator_excursion_peak_m[0], "length"),
        }
        bounds = {"Xmax of the driver": trace.xmax_m, "Xmax of the passive radiator": trace.radiator_xmax_m}
    return _bounded(drawing, "excursion", "Excursion", "Excursion, one way", "length", lines, bounds)


def _vent(drawing: Drawing) -> list[Track]:
    trace = drawing.traces[0]
    if not trace.vented:
        return []
    speed = drawing.measured(drawing.curves.vent_speed_peak_m_s[0], "speed")
    bounds = {"limit": trace.vent_speed_limit_m_s}
    return [_bounded(drawing, "vent_speed", "Vent air", "Vent air speed, peak", "speed", {"": speed}, bounds)]


def _impedance(drawing: Drawing) -> Track:
    values = drawing.curves.impedance_ohm[0]
    return _plain(
        drawing, "impedance", "Impedance", "Impedance, one driver", "Ω", 1, values,
        marks=_with_frequency(drawing, [(drawing.traces[0].tuning_hz, "tuning")]),
    )  # fmt: skip


def _losses(drawing: Drawing) -> Track:
    return _plain(
        drawing, "compression", "Losses", "Taken by heat and fast air", "dB", 2, drawing.curves.compression_db[0]
    )


def _heat(drawing: Drawing) -> Track:
    kind = "temperature_difference"
    values, unit = drawing.measured(drawing.curves.coil_rise_k[0], kind), display_unit(kind, drawing.units)
    return _plain(drawing, "coil_rise", "Coil heat", "Coil above the air", unit, 0, values)


def _plain(
    drawing: Drawing, key: str, tab: str, title: str, unit: str, digits: int, values: Floats, **more: Any
) -> Track:
    """A line that stands on its own, from nought up."""
    top = 1.1 * max(_highest(values), 10.0**-digits)
    low = min(0.0, max(_lowest(values), -0.5 * top))
    return _track(drawing, key, tab, title, unit, digits, {"": values}, low=low, high=top, **more)


def _bounded(
    drawing: Drawing, key: str, tab: str, title: str, kind: str, lines: dict[str, Floats], bounds: dict[str, float]
) -> Track:
    unit = display_unit(kind, drawing.units)
    digits = 2 if unit == "in" else 1
    levels = []
    for name, bound in bounds.items():
        shown = float(drawing.measured(np.array(bound), kind))
        if math.isfinite(shown):
            levels.append((shown, f"{name} {shown:.{digits}f} {unit}"))
    top = 1.1 * max(*(_highest(values) for values in lines.values()), *(value for value, _ in levels), 10.0**-digits)
    return _track(drawing, key, tab, title, unit, digits, lines, low=0.0, high=top, levels=levels)


def _track(
    drawing: Drawing, key: str, tab: str, title: str, unit: str, digits: int, lines: dict[str, Floats], *,
    low: float, high: float, levels: Sequence[tuple[float, str]] = (), marks: Sequence[tuple[float, str]] = (),
    caption: str = "",
) -> Track:  # fmt: skip
    kept = [(float(hz), name) for hz, name in marks if math.isfinite(hz) and drawing.shows(hz)]
    drawn = [Line(name=name, points=_values(values, digits + 1)) for name, values in lines.items()]
    return Track(
        key=key, tab=tab, title=title, unit=unit, digits=digits, low=low, high=high, lines=drawn,
        levels=list(levels), marks=kept, caption=caption,
    )  # fmt: skip


def _told(track: Track, name: str, drawing: Drawing) -> Track:
    """A chart with its words: "Level at 1 m of D0421: 98.1 dB at 30 Hz …"."""
    said = [(f"{line.name} " if line.name else "") + _along(line, track, drawing) for line in track.lines]
    beside = [words for _, words in (*track.levels, *track.marks)]
    words = f"{track.title} of {name}: {'; '.join(said)}." + (f" {', '.join(beside)}." if beside else "")
    return Track(**{**vars(track), "words": words})


def _along(line: Line, track: Track, drawing: Drawing) -> str:
    """A line in words: "98.1 dB at 30 Hz, 101.4 dB at 40 Hz"."""
    places = [int(np.argmin(np.abs(np.log(drawing.frequency / hz)))) for hz in TOLD_AT]
    told = [
        f"{value:.{track.digits}f} {track.unit} at {show(hz, 'frequency', drawing.units, 0)}"
        for hz, value in zip(TOLD_AT, (line.points[place] for place in places), strict=True)
        if value is not None
    ]
    return listed(told)


def _with_frequency(drawing: Drawing, marks: Sequence[tuple[float, str]]) -> list[tuple[float, str]]:
    """Marks that say where they are: "f3 33 Hz"."""
    finite = [(hz, name) for hz, name in marks if math.isfinite(hz)]
    return [(hz, f"{name} {show(hz, 'frequency', drawing.units, 0)}") for hz, name in finite]


def _values(values: Floats, digits: int) -> list[float | None]:
    return [round(float(value), digits) if math.isfinite(value) else None for value in values]


def _highest(values: Floats) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.max()) if len(finite) else 0.0


def _lowest(values: Floats) -> float:
    finite = values[np.isfinite(values)]
    return float(finite.min()) if len(finite) else 0.0


def _ceiling(lines: Any) -> float:
    return float(5.0 * math.ceil(max(_highest(values) for values in lines) / 5.0 + 0.2))
