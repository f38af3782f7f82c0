"""What the charts of curves are made of: a design's trace, axes, lines, marks and names on them."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import altair as alt
import numpy as np
import pandas as pd

from engine.acoustics.curves import Curves
from engine.arrays import Floats
from engine.quantities import Units, show, to_display
from engine.report.ink import DASHES, LETTERS, Ink
from engine.report.names import FONT_SIZE, Names, Place

Span = tuple[float, float]  # of an axis

HEIGHT = 290
LINE_OF_TEXT = 14  # px from one mark's name to the next
ROOM_FOR_NAMES = 0.12  # of the axis between two lines, for their names


@dataclass(frozen=True, kw_only=True)
class Trace:
    """One design in the charts: its letter, and what is marked on its curves; nan where it has no such thing.

    ``xmax_m`` and ``radiator_xmax_m`` are one way; ``first_mode_hz`` is the box's first standing wave,
    ``vent_resonance_hz`` that of the vent as a pipe.  ``cabin`` says where the vehicle's gain comes from, empty
    without one.
    """

    letter: str
    f3_hz: float
    tuning_hz: float
    xmax_m: float
    vent_speed_limit_m_s: float
    vented: bool = True
    radiator_xmax_m: float = math.nan
    f3_cabin_hz: float = math.nan
    first_mode_hz: float = math.nan
    vent_resonance_hz: float = math.nan
    cabin: str = ""
    full_power: bool = False  # whether it is judged at the amplifier's full power, or turned down to one gain


@dataclass(frozen=True, kw_only=True)
class Drawing:
    """All a chart needs: curves (N, F) over ``frequency`` (F,), a trace for each of N, and how to draw.

    ``cabin_db`` (N, F) is what each design's vehicle adds to its level, nan where nothing is known of it.
    """

    curves: Curves
    cabin_db: Floats
    frequency: Floats
    traces: Sequence[Trace]
    units: Units
    ink: Ink
    hover: bool = True

    @property
    def lone(self) -> bool:
        return len(self.traces) == 1

    @property
    def in_vehicle(self) -> bool:
        """Whether any design is heard in its vehicle."""
        return any(trace.cabin for trace in self.traces)

    @property
    def has_radiators(self) -> bool:
        return any(math.isfinite(trace.radiator_xmax_m) for trace in self.traces)

    def table(self, values: Floats) -> pd.DataFrame:
        """Long form: one row for each design and frequency; what is not finite is left out of the line."""
        designs = np.repeat([trace.letter for trace in self.traces], values.shape[1])
        shown = np.where(np.isfinite(values), values, np.nan).ravel()
        frequency = np.tile(self.frequency, len(values))
        return pd.DataFrame({"design": designs, "frequency_hz": frequency, "value": shown})

    def measured(self, values: Floats, kind: str) -> Floats:
        return np.asarray(to_display(values, kind, self.units), dtype=float)

    def names(self, span: Span) -> Names:
        """The names of one chart, none of them placed yet."""
        return Names(frequencies=(float(self.frequency[0]), float(self.frequency[-1])), span=span)

    def shows(self, frequency: float) -> bool:
        """Whether a frequency lies on the axis."""
        return bool(self.frequency[0] <= frequency <= self.frequency[-1])


@dataclass(frozen=True, kw_only=True)
class Beside:
    """A second line of a lone design, (1, F) as shown, and what each of its two lines is."""

    line: Floats
    first: str
    second: str


def frequency_axis(drawing: Drawing) -> alt.X:
    ticks = [10, 15, 20, 30, 40, 60, 80, 100, 150, 200]
    span = [float(drawing.frequency[0]), float(drawing.frequency[-1])]
    axis = alt.Axis(values=ticks, title="Frequency (Hz)", format="d", labelOverlap=True, **_axis_ink(drawing.ink))
    return alt.X("frequency_hz:Q", scale=alt.Scale(type="log", domain=span, nice=False), axis=axis)


def value_axis(title: str, span: Span, ink: Ink) -> alt.Y:
    scale = alt.Scale(domain=list(span), nice=False)
    return alt.Y("value:Q", scale=scale, axis=alt.Axis(title=title, tickCount=6, **_axis_ink(ink)))


def _axis_ink(ink: Ink) -> dict[str, Any]:
    return {"labelColor": ink.text, "titleColor": ink.text}


def lines(
    drawing: Drawing, table: pd.DataFrame, *, title: str, span: Span, digits: int, beside: Beside | None = None,
    names: Names | None = None,
) -> list[alt.Chart]:  # fmt: skip
    """Each design's line with its letter; ``beside`` adds a second line to a lone one's and names both.

    Those are laid over none of the ``names`` that stand already.
    """
    ink = drawing.ink
    letters = [trace.letter for trace in drawing.traces]
    seats = [LETTERS.index(letter) if letter in LETTERS else 0 for letter in letters]
    colours, dashes = [ink.series[seat] for seat in seats], [DASHES[seat] for seat in seats]
    if beside is not None:
        table = table.assign(beside=drawing.table(beside.line)["value"])
    base = alt.Chart(table).encode(x=frequency_axis(drawing), y=value_axis(title, span, ink))
    colour = alt.Color("design:N", scale=alt.Scale(domain=letters, range=colours), legend=None)
    dash = alt.StrokeDash("design:N", scale=alt.Scale(domain=letters, range=dashes), legend=None)
    layers = [base.mark_line(clip=True, strokeWidth=2).encode(color=colour, strokeDash=dash)]
    if beside is not None:
        second = base.mark_line(clip=True, strokeWidth=2, color=ink.series[1], strokeDash=DASHES[1])
        layers += [
            second.encode(y=alt.Y("beside:Q")),
            *_names_of_two(drawing, table, beside, span, names or drawing.names(span)),
        ]
    if not drawing.lone:
        layers += _letters(drawing, table, value_axis(title, span, ink))
    if drawing.hover:
        layers += reading(base, title, digits, lone=drawing.lone, beside=beside)
    return layers


def _names_of_two(drawing: Drawing, table: pd.DataFrame, beside: Beside, span: Span, names: Names) -> list[alt.Chart]:
    """The names of a lone design's two lines, where there is room between them; on a slope on its clear side."""
    (low, high), pair = span, table[["value", "beside"]].to_numpy(float)
    seen = np.all((pair > low + 0.14 * (high - low)) & (pair < high - 0.06 * (high - low)), axis=1)
    apart = np.where(seen, np.abs(pair[:, 1] - pair[:, 0]), -1.0)
    # A name is about a third as long as the axis.
    inner = slice(round(0.35 * len(pair)), round(0.62 * len(pair)))
    if not (apart[inner] > 0.0).any():
        return []
    wide = np.flatnonzero(apart[inner] >= ROOM_FOR_NAMES * (high - low))
    first = inner.start + int(wide[-1] if len(wide) else np.argmax(apart[inner]))
    # Elsewhere only where the names of other things are in the way.
    elsewhere = np.flatnonzero(apart > 0.0)
    order = [first, *elsewhere[np.argsort(np.abs(elsewhere - first), kind="stable")]]
    layers = []
    for name, column in ((beside.first, 0), (beside.second, 1)):
        line = pair[:, column]
        upper = pair[first, column] == max(pair[first])

        def place(at: int, line: Floats = line, upper: bool = upper) -> Place:
            before, after = max(at - 1, 0), min(at + 1, len(line) - 1)
            left = upper != (line[after] > line[before])
            dx, dy = 4 if left else -4, -9 if upper else 14
            return Place(hz=float(drawing.frequency[at]), value=float(line[at]), dx=dx, dy=dy)

        layers += placed(drawing, names.stand(name, map(place, order)), name)
    return layers


def placed(drawing: Drawing, place: Place, words: str) -> list[alt.Chart]:
    """A name at its place."""
    spot = pd.DataFrame({"frequency_hz": [place.hz], "value": [place.value]})
    base = alt.Chart(spot).encode(x=frequency_axis(drawing), y=alt.Y("value:Q"))
    look = {"align": place.align, "dx": place.dx, "dy": place.dy, "baseline": "middle"}
    return named(base, words, drawing.ink, fontSize=FONT_SIZE, **look)


def _letters(drawing: Drawing, table: pd.DataFrame, y: alt.Y) -> list[alt.Chart]:
    """A letter on each line, each at a frequency of its own so that none cover each other."""
    count, points = len(drawing.traces), len(drawing.frequency)
    layers = []
    for number, trace in enumerate(drawing.traces):
        seat = LETTERS.index(trace.letter)
        at = round(points * (0.30 + 0.55 * number / max(count - 1, 1)))
        spot = table[table["design"] == trace.letter].iloc[[at]]
        base = alt.Chart(spot).encode(x=frequency_axis(drawing), y=y)
        disc = base.mark_circle(
            size=190, aria=False, opacity=1.0, color=drawing.ink.paper, stroke=drawing.ink.series[seat]
        )
        text = base.mark_text(fontSize=11, fontWeight="bold", color=drawing.ink.text, dy=0.5)
        layers += [disc, text.encode(text=alt.Text("design:N"))]
    return layers


def reading(base: alt.Chart, title: str, digits: int, *, lone: bool, beside: Beside | None = None) -> list[alt.Chart]:
    """Hover anywhere and read the nearest frequency."""
    nearest = alt.selection_point(
        name="reading", nearest=True, on="pointerover", clear="pointerout", fields=["frequency_hz"], empty=False
    )
    whose = {"value:Q": title} if beside is None else {
        "value:Q": f"{title}, {beside.first}", "beside:Q": f"{title}, {beside.second}"
    }  # fmt: skip
    tooltip = [alt.Tooltip("design:N", title="Design")] if not lone else []
    tooltip.append(alt.Tooltip("frequency_hz:Q", title="Frequency (Hz)", format=".1f"))
    tooltip += [alt.Tooltip(field, title=words, format=f".{digits}f") for field, words in whose.items()]
    opacity = alt.OpacityValue(0.0, condition={"param": nearest.name, "empty": False, "value": 1.0})
    point = base.mark_point(filled=True, aria=False, size=45, clip=True)
    point = point.encode(opacity=opacity, color=alt.Color("design:N", legend=None), tooltip=tooltip)
    return [point.add_params(nearest)]


def uprights(drawing: Drawing, marks: Sequence[tuple[float, str]], names: Names, span: Span) -> list[alt.Chart]:
    """Vertical marks, each (Hz, name) with its figure, one name below the other; none where there is no such thing."""
    layers: list[alt.Chart] = []
    shown = sorted((frequency, name) for frequency, name in marks if drawing.shows(frequency))
    for number, (frequency, name) in enumerate(shown):
        label = f"{name} {show(frequency, 'frequency', drawing.units, 1)}"
        base = alt.Chart(pd.DataFrame({"frequency_hz": [frequency]})).encode(x=frequency_axis(drawing))
        layers.append(base.mark_rule(color=drawing.ink.guide, strokeDash=[3, 3], clip=True))
        dx, down = -5 if frequency > 70.0 else 5, 10 + LINE_OF_TEXT * number
        place = names.stand(label, [Place(hz=frequency, value=span[1], dx=dx, dy=down)])
        look = {"baseline": "middle", "align": place.align, "dx": dx}
        layers += named(base.encode(y=alt.value(down)), label, drawing.ink, **look)
    return layers


def spots(drawing: Drawing, table: pd.DataFrame, marked: str, *, shape: str = "diamond") -> list[alt.Chart]:
    """A mark on each line where the ``marked`` frequency of its trace lies."""
    found = []
    for trace in drawing.traces:
        line, frequency = table.loc[table["design"] == trace.letter, "value"].to_numpy(), getattr(trace, marked)
        if drawing.shows(frequency):
            value = float(np.interp(math.log(frequency), np.log(drawing.frequency), line))
            found.append({"design": trace.letter, "frequency_hz": frequency, "value": value})
    if not found:
        return []
    marks = alt.Chart(pd.DataFrame(found)).mark_point(
        shape=shape, filled=True, aria=False, size=80, opacity=1.0, clip=True
    )
    return [marks.encode(x=frequency_axis(drawing), y=alt.Y("value:Q"), color=alt.Color("design:N", legend=None))]


def level(drawing: Drawing, value: float, label: str, names: Names) -> list[alt.Chart]:
    """A horizontal mark with its name at the right, or where another's stands there at the left or below it."""
    rule = alt.Chart(pd.DataFrame({"value": [value]})).encode(y=alt.Y("value:Q"))
    ends = float(drawing.frequency[-1]), float(drawing.frequency[0])
    places = [Place(end, value, dx, dy) for dy in (-9, 9, -23, 23) for end, dx in zip(ends, (-4, 4), strict=True)]
    rules = [rule.mark_rule(color=drawing.ink.guide, strokeDash=[3, 3])]
    return [*rules, *placed(drawing, names.stand(label, places), label)]


def named(place: alt.Chart, words: str, ink: Ink, **look: Any) -> list[alt.Chart]:
    """Words drawn twice, first as an outline in paper, so that a line behind does not cross them."""
    halo = {"color": ink.paper, "stroke": ink.paper, "strokeWidth": 4}
    return [place.mark_text(**look, **each).encode(text=alt.TextValue(words)) for each in (halo, {"color": ink.text})]


def finish(layers: list[alt.Chart]) -> alt.LayerChart:
    return alt.LayerChart(layer=layers, height=HEIGHT, width="container")


def highest(values: pd.Series[float]) -> float:
    """The highest finite value, or 1 where there is none."""
    top = values.max()
    return float(top) if np.isfinite(top) and top > 0.0 else 1.0


def ceiling(values: pd.Series[float], step: float) -> float:
    return math.ceil((highest(values) + 1.0) / step) * step
