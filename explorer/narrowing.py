"""Narrow a front down: filters by name and by range, kept with the job, and what passes them."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any, TypeVar

import numpy as np
import pandas as pd
import streamlit as st
from numpy.typing import NDArray

from engine.columns import COLUMNS
from engine.goals import GOALS
from engine.quantities import Units
from engine.report.wording import heading
from engine.scenario import Goals
from explorer.charts import Look
from explorer.choices import (
    decimals,
    displayed,
    from_shown,
    kept,
    measurable,
    slider_scale,
)
from explorer.inputs import hold
from explorer.labels import CHOICES, thousands
from explorer.session import DRIVERS, Job

Made = TypeVar("Made")

VENTS = "vent_kind"
VENT_NAMES = {"": "No vent", "pipe": "Pipe", "slot": "Slot"}
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


def remembered(job: Job, name: str, *asked: Any, make: Callable[[], Made]) -> Made:
    """What ``make`` makes of the designs that pass, kept while front, filters and ``asked`` stay the same."""
    wanted = (job.filters.copy(), *asked)
    last = st.session_state.get(name)
    if last is None or last[0] is not job.found or last[1] != wanted:
        last = st.session_state[name] = (job.found, wanted, make())
    made: Made = last[2]
    return made


def filters(job: Job, front: pd.DataFrame, keys: list[str], look: Look, asked: Goals) -> None:
    """Range sliders and kinds; what they say is kept in SI with the job."""
    st.caption("KEEP DESIGNS WITH")
    for key, names in named(front).items():
        options = sorted(names.unique())
        if len(options) > 1:
            widget = f"filter:{key}:{job.id}:{job.revision}"
            hold(widget, [option for option in options if option in job.filters.get(key, options)])
            st.pills(
                FILTER_NAMES[key],
                options,
                selection_mode="multi",
                format_func=partial(option_name, key),
                key=widget,
                on_change=take_kinds,
                args=(job, key, widget, options),
            )
    within_the_model(job, front)
    for key in measurable(front):  # what all share narrows nothing
        if key in keys:
            range_slider(job, front, key, look)
    with st.container(horizontal=True):
        st.button(
            "Within limits",
            key="within-limits",
            help="Only designs that stay within every Xmax and the vent air speed limit",
            on_click=stay_within_limits,
            args=(job, asked),
        )
        st.button("Clear", key="clear-filters", disabled=not job.filters, on_click=clear_filters, args=(job,))


def option_name(key: str, option: str) -> str:
    """What a filter by name calls one of its options."""
    if key == DRIVERS:
        return option
    return VENT_NAMES[option] if key == VENTS else CHOICES[option]


def within_the_model(job: Job, front: pd.DataFrame) -> None:
    """Leave out what the model does not fully cover, where that tells designs apart."""
    covered = int((front[BEYOND] == "").sum())
    if covered == len(front):
        return
    widget = f"filter:{BEYOND}:{job.id}:{job.revision}"
    hold(widget, BEYOND in job.filters)
    st.toggle(
        "Only designs the model fully covers",
        key=widget,
        disabled=covered == 0 and BEYOND not in job.filters,
        help=f"{thousands(covered)} of {thousands(len(front))}. The others pass a limit of the model: air too fast, a "
        "cone beyond Xmax, a standing wave or a vent's own resonance within the music band.",
        on_change=take_covered,
        args=(job, widget),
    )


def take_covered(job: Job, widget: str) -> None:
    job.filters.pop(BEYOND, None)
    if st.session_state[widget]:
        job.filters[BEYOND] = [""]


def range_slider(job: Job, front: pd.DataFrame, key: str, look: Look) -> None:
    column = COLUMNS[key]
    low, high, step = slider_scale(front[key], column, look.units)
    value = [low, high]
    for end, bound in enumerate(job.filters.get(key, [None, None])):
        if bound is not None:
            shown = round(float(displayed(bound, column, look.units)), decimals(step))
            value[end] = min(max(shown, low), high)
    widget = f"filter:{key}:{look.units}:{job.id}:{job.revision}"
    hold(widget, (value[0], value[1]))
    st.slider(
        heading(key, look.units, look.currency),
        low,
        high,
        step=step,
        format=f"%.{decimals(step)}f",
        key=widget,
        on_change=take_range,
        args=(job, key, widget, (low, high), look.units),
    )


def take_kinds(job: Job, key: str, widget: str, options: list[str]) -> None:
    wanted = list(st.session_state[widget])
    job.filters.pop(key, None)
    if len(wanted) < len(options):
        job.filters[key] = wanted


def take_range(job: Job, key: str, widget: str, ends: tuple[float, float], units: Units) -> None:
    """Keep a slider's range in SI; an end left at its stop is open."""
    from_slider = st.session_state[widget]
    bounds = [
        None if value == stop else from_shown(value, COLUMNS[key], units)
        for value, stop in zip(from_slider, ends, strict=True)
    ]
    job.filters.pop(key, None)
    if bounds != [None, None]:
        job.filters[key] = bounds


def stay_within_limits(job: Job, asked: Goals) -> None:
    """Keep what breaks neither an Xmax nor the vent air speed limit, beside the other filters."""
    for goal in GOALS.records:
        if goal.mark is not None:
            most = goal.mark.most(asked) + goal.noticed  # the front keeps rounded figures, and many stand at the limit
            low, high = job.filters.get(goal.key, [None, None])
            job.filters[goal.key] = [low, most if high is None else min(high, most)]
    job.revision += 1


def clear_filters(job: Job) -> None:
    """Open every filter, the widgets' own memory included."""
    job.filters = {}
    job.revision += 1
