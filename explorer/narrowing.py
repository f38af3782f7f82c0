"""Narrow a front down: filters by name and by range, kept with the job, and what passes them."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

import numpy as np
import pandas as pd
from numpy.typing import NDArray

from engine.goals import GOALS
from engine.scenario import Goals
from explorer.choices import kept
from explorer.memory import memory
from explorer.session import DRIVERS, Job

Made = TypeVar("Made")

VENTS = "vent_kind"
FILTER_NAMES = {"box_kind": "Box", VENTS: "Vent", DRIVERS: "Drivers"}
BEYOND = "beyond_model"


def named(front: pd.DataFrame) -> dict[str, pd.Series[str]]:
    """What designs are told apart by in words: filter -> a name for each row."""
    counts = front["driver_count"].astype(int).astype(str)
    told: dict[str, pd.Series[str]] = {"box_kind": front["box_kind"], DRIVERS: counts + " × " + front["driver"]}
    # Boxes tell vented from unvented; only pipes beside slots need more.
    return told | {VENTS: front[VENTS]} if {"pipe", "slot"} <= set(front[VENTS]) else told


def passing(front: pd.DataFrame, wanted: dict[str, list[Any]]) -> NDArray[np.bool_]:
    """Which rows pass every filter, those by name included, (n,)."""
    passed = kept(front, wanted)
    for key, names in named(front).items():
        if key in wanted:
            passed &= names.isin(wanted[key]).to_numpy()
    return passed


def drop_strange_filters(job: Job, front: pd.DataFrame) -> None:
    """A filter by names of which the front has none would only hide everything."""
    for key, names in named(front).items():
        present = set(names)
        wanted = job.filters.get(key, [])
        if wanted and not present & set(wanted):
            del job.filters[key]


def made_once(name: str, of: object, *asked: Any, make: Callable[[], Made]) -> Made:
    """What ``make`` makes of something, kept by a name while that and ``asked`` stay the same."""
    last = memory().get(name)
    if last is None or last[0] is not of or last[1] != asked:
        last = memory()[name] = (of, asked, make())
    made: Made = last[2]
    return made


def remembered(job: Job, name: str, *asked: Any, make: Callable[[], Made]) -> Made:
    """What ``make`` makes of the designs that pass, kept while front, filters and ``asked`` stay the same."""
    return made_once(name, job.found, job.filters.copy(), *asked, make=make)


def stay_within_limits(job: Job, asked: Goals) -> None:
    """Keep what breaks neither an Xmax nor the vent air speed limit, beside the other filters."""
    for goal in GOALS.records:
        if goal.mark is not None:
            most = goal.mark.most(asked) + goal.noticed  # the front keeps rounded figures, and many stand at the limit
            low, high = job.filters.get(goal.key, [None, None])
            job.filters[goal.key] = [low, most if high is None else min(high, most)]


def clear_filters(job: Job) -> None:
    """Open every filter."""
    job.filters = {}
