"""What charts of a front tell, in words for whoever does not see them: plain functions, no page code."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.goals import GOALS
from engine.quantities import Units, show
from engine.report.wording import figure_of
from engine.words.voice import first_down, first_up, listed
from explorer.charts import Look
from explorer.labels import thousands

TOLD_AT = (15.0, 20.0, 30.0, 40.0, 60.0, 80.0)  # Hz, where a vehicle's gain is told


def front_in_words(
    front: pd.DataFrame, x: str, y: str, look: Look, *, marks: Mapping[str, str] | None = None, what: str = "Front"
) -> str:
    """A front on two axes: how many designs, the best on either axis and what it has on the other, what is marked.

    ``marks`` are words for designs by id, such as "pick D0421"; of those that are not on the front nothing is said.
    """
    told = [f"{what}: {_axis(x)} against {_axis(y)}, {designs(len(front))}.", reached(front, x, y, look)]
    for name, words in (marks or {}).items():
        rows = front[front["id"] == name]
        if len(rows):
            told.append(f"{first_up(words)}: {figures_in_words(rows.iloc[0], (x, y), look)}.")
    return " ".join(filter(None, told))


def reached(front: pd.DataFrame, x: str, y: str, look: Look) -> str:
    """The best design on either of two axes, each with what it has on the other."""
    if front.empty:
        return ""
    pairs = ((x, y), (y, x)) if x != y else ((x, x),)
    told = []
    for key, other in pairs:
        best: Any = front.iloc[int((GOALS[key].turn * front[key]).to_numpy(float).argmin())]
        beside = f" with {figures_in_words(best, (other,), look)}" if other != key else ""
        told.append(f"{GOALS[key].best} {figure_of(best, key, look.units, look.currency)}{beside}.")
    return " ".join(told)


def marked(marks: Mapping[str, str]) -> dict[str, str]:
    """The marks of a chart as they are said: "pick D0421", "A on the shortlist, D0044"."""
    return {
        name: f"pick {name}" if words == "pick" else f"{words} on the shortlist, {name}"
        for name, words in marks.items()
    }


def bars_in_words(table: pd.DataFrame, title: str) -> str:
    """What each change buys in one goal; ``table`` as :func:`explorer.charts.bars` takes it."""
    told = []
    for change, rows in table.groupby("change", sort=False):
        told.append(f"{change}: {listed([f'{row.text} {row.where}' for row in rows.itertuples()])}")
    return f"What each change buys, {title}. {'; '.join(told)}."


def gain_in_words(frequency: NDArray[np.float64], gain_db: NDArray[np.float64], units: Units, origin: str) -> str:
    """What a vehicle adds, (F,) in dB over ``frequency`` (F,) in Hz; ``origin`` says where that is from."""
    told = [
        f"{float(np.interp(np.log(hz), np.log(frequency), gain_db)):.1f} dB at {show(hz, 'frequency', units, 0)}"
        for hz in TOLD_AT
        if frequency[0] <= hz <= frequency[-1]
    ]
    return f"What the vehicle adds ({origin}): {listed(told)}."


def designs(count: int) -> str:
    """How many designs."""
    return "1 design" if count == 1 else f"{thousands(count)} designs"


def _axis(key: str) -> str:
    """A goal in a sentence, as short as it stands over a column of the table."""
    return first_down(GOALS[key].heading.replace("\n", " "))


def figures_in_words(row: Any, keys: Sequence[str], look: Look) -> str:
    """Some goals' figures of a design, as they go on in a sentence."""
    return listed([f"{_axis(key)} {figure_of(row, key, look.units, look.currency)}" for key in keys])
