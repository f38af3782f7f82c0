"""Levels of several boxes at the frequencies that their job names, with what built boxes come to, as a chart."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import altair as alt
import pandas as pd

from engine.arrays import Floats
from engine.goals import GOALS
from engine.report.ink import LETTERS, Ink
from engine.report.lines import named
from engine.report.portrait import Portrait

SHAPES = ("circle", "square", "triangle-up", "diamond", "cross")
_ROOM = 1.5  # dB above and below what is drawn


def levels_chart(
    portraits: Sequence[Portrait], bands: Sequence[Mapping[str, Floats]], keys: Sequence[str], *, title: str, ink: Ink
) -> alt.LayerChart:
    """A mark a box and level key, its letter over it, and a line from what 9 of 10 built boxes reach to what 1 does.

    ``bands`` are by key what 90 %, 50 % and 10 % of boxes built like each portrait reach, (3,) dB.
    """
    spots = []
    for portrait, band in zip(portraits, bands, strict=True):
        for key in keys:
            level = float(portrait.row.get(key, math.nan))
            if math.isfinite(level):
                safe, _, best = (float(each) for each in band.get(key, [math.nan] * 3))
                at = GOALS[key].label.removeprefix("Level at ").removesuffix(" in the vehicle")
                spots.append({"design": portrait.letter, "at": at, "level": level, "safe": safe, "best": best})
    table = pd.DataFrame(spots)
    letters = [portrait.letter for portrait in portraits]
    seats = [LETTERS.index(letter) if letter else 0 for letter in letters]
    low, high = table[["level", "safe", "best"]].min().min(), table[["level", "safe", "best"]].max().max()
    span = (math.floor(float(low) - _ROOM), math.ceil(float(high) + _ROOM))
    y = _axis("level", span, title, ink)
    x = alt.X(
        "at:N", sort=None,
        axis=alt.Axis(
            title="Pitch", labelAngle=0, labelColor=ink.text, titleColor=ink.text, grid=True, tickBand="extent"
        ),
    )  # fmt: skip
    base = alt.Chart(table).encode(x=x, xOffset=alt.XOffset("design:N", scale=alt.Scale(domain=letters)))
    colour = alt.Color("design:N", scale=alt.Scale(domain=letters, range=[ink.series[s] for s in seats]), legend=None)
    shape = alt.Shape("design:N", scale=alt.Scale(domain=letters, range=[SHAPES[s] for s in seats]), legend=None)
    rule = base.mark_rule(strokeWidth=1.5).encode(y=_axis("safe", span, title, ink), y2="best:Q", color=colour)
    points = base.mark_point(filled=True, size=70, opacity=1.0).encode(y=y, color=colour, shape=shape)
    layers = [rule.transform_filter("isValid(datum.safe)"), points]
    if len(letters) > 1:
        for letter in letters:
            own = base.transform_filter(alt.datum.design == letter).encode(y=y)
            layers += named(own, letter, ink, dx=11, fontSize=11, fontWeight="bold")
    return alt.LayerChart(layer=layers)


def _axis(field: str, span: tuple[float, float], title: str, ink: Ink) -> alt.Y:
    scale = alt.Scale(domain=list(span), nice=False, zero=False)
    return alt.Y(
        f"{field}:Q", scale=scale, axis=alt.Axis(title=title, tickCount=6, labelColor=ink.text, titleColor=ink.text)
    )
