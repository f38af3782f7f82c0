"""Choosing from a front: what the filters keep, which designs to draw, what a click meant.

Plain functions of a front; no page code.  Filters hold SI values, so a change of units
changes nothing: ``{"f3_hz": [None, 41.5], "box_kind": ["vented"]}``; None is an open end.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.column import Column
from engine.columns import COLUMNS
from engine.goals import GOALS, levels_among
from engine.quantities import Units, from_display, to_display

DRAWN_MOST = 400
AXES = ("x", "y", "colour")
PLAIN_KINDS = frozenset({"text", "count", "ratio", "level", "money"})


def displayed(values: Any, column: Column, units: Units) -> Any:
    """SI values of a column in the user's units; plain numbers stay."""
    return values if column.kind in PLAIN_KINDS else to_display(values, column.kind, units)


def from_shown(value: float, column: Column, units: Units) -> float:
    """A value in the user's units back in SI."""
    return value if column.kind in PLAIN_KINDS else float(from_display(value, column.kind, units))


def measurable(front: pd.DataFrame) -> list[str]:
    """The columns worth an axis or a slider: those with a better side that differ within the front."""
    keys = [*levels_among(map(str, front.columns)), *(key for key in GOALS if key in front)]
    return [key for key in keys if np.ptp(front[key].to_numpy(dtype=float)) > 0.0]


def kept(front: pd.DataFrame, filters: Mapping[str, Sequence[Any]]) -> NDArray[np.bool_]:
    """Which rows pass every filter, (n,).  A filter on a column the front lacks is no filter."""
    passed = np.ones(len(front), dtype=bool)
    for key, wanted in filters.items():
        if key not in front:
            continue
        if COLUMNS[key].kind == "text":
            passed &= front[key].isin(list(wanted)).to_numpy()
        else:
            values = front[key].to_numpy(dtype=float)
            low, high = wanted
            if low is not None:
                passed &= values >= low
            if high is not None:
                passed &= values <= high
    return passed


def representative(front: pd.DataFrame, objectives: Sequence[str], *, most: int = DRAWN_MOST) -> NDArray[np.intp]:
    """Positions of at most ``most`` rows spread over the objectives, in the front's own order.

    Starts from the best and worst on each objective, then adds the row farthest from all
    those chosen until enough are (greedy farthest point; ties go to the first row), so the
    same front gives the same rows.
    """
    count = len(front)
    if count <= most:
        return np.arange(count)
    values = front[list(objectives)].to_numpy(dtype=float)
    low, high = values.min(axis=0), values.max(axis=0)
    points = (values - low) / np.where(high > low, high - low, 1.0)
    chosen = sorted({int(i) for i in np.concatenate([points.argmin(axis=0), points.argmax(axis=0)])})
    distance = np.full(count, np.inf)
    for position in chosen:
        distance = np.minimum(distance, ((points - points[position]) ** 2).sum(axis=1))
    while len(chosen) < most:
        farthest = int(distance.argmax())
        if distance[farthest] <= 0.0:
            break
        chosen.append(farthest)
        distance = np.minimum(distance, ((points - points[farthest]) ** 2).sum(axis=1))
    return np.array(sorted(chosen), dtype=np.intp)


def clicked(event: Any, front: pd.DataFrame) -> str | None:
    """The design a chart event points at, if it is on the front; else None."""
    if not event:
        return None
    points = event["selection"].get("pick", [])
    known = set(front["id"])
    return next((point["id"] for point in points if point.get("id") in known), None)


def worth_an_axis(front: pd.DataFrame, objectives: tuple[str, ...]) -> list[str]:
    """The columns for axes and sliders; of two that differ by the same for all only one."""
    pairs = {key: GOALS[key].moves_with for key in map(str, front.columns) if key in GOALS and GOALS[key].moves_with}
    spare = {other if key in objectives else key for key, other in pairs.items()}
    keys = [key for key in measurable(front) if key not in spare or key in objectives]
    return keys or list(objectives)


def usual_axes(keys: list[str], objectives: list[str], chosen: Mapping[str, str] | None = None) -> dict[str, str]:
    """What stands across, up and as colour, of ``keys``: what somebody has ``chosen`` if it is among them.

    Else objectives: levels mostly go together, so what they cost comes first.
    """
    levels = levels_among(objectives)
    spare = [*(key for key in objectives if key not in levels), *levels, *keys]
    present = {axis: key for axis, key in (chosen or {}).items() if key in keys}
    return {axis: present.get(axis, spare[min(place, len(spare) - 1)]) for place, axis in enumerate(AXES)}
