"""Trade-offs: search, look over the front, pick a design and see how it plays."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd
import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from engine.goals import GOALS
from engine.insight.reasons import balanced, extremes
from engine.kinds.radiator import RADIATOR
from engine.report.wording import figure_of
from engine.scenario import Scenario
from engine.search.practice import weighed
from explorer import frame, panels
from explorer.charts import Look, Scene, parallel, plotted, scatter, spans
from explorer.choices import representative, usual_axes, worth_an_axis
from explorer.groups import against, one_against_another
from explorer.inputs import hold
from explorer.labels import thousands
from explorer.live import behind
from explorer.narrowing import drop_strange_filters, filters, passing, remembered
from explorer.pricing import price_of_space, worth_of_limits
from explorer.reading import read
from explorer.searching import search_bar, take_in
from explorer.session import Job, pick
from explorer.specs import Spec, spec_of
from explorer.sure_front import sure_front
from explorer.take_away import of_spec, take_away
from explorer.wishes import wishes

AXIS_NAMES = {"x": "Across", "y": "Up", "colour": "Colour"}


def page() -> None:
    job = frame.present_job()
    st.header("Trade-offs")
    take_in(job)
    search_bar(job)
    if job.found is None:
        return
    scenario = read(job.found.document, job.source).scenario
    if scenario is None:
        st.warning("These designs were found with a scenario this version no longer reads. Search again.")
        return
    drop_strange_filters(job, job.found.front)
    places = front_view(job, job.found.front, scenario)
    if places is None:
        return
    # The front itself needs nothing worked out; what follows does.
    frame.await_ready()
    design = None if job.pick is None else frame.judged_designs().of(job.pick, job.source)
    if design is not None:
        with places.model_ends:
            panels.wired(design)
            panels.where_the_model_stops(design)
        with places.reasons:
            panels.reasons(design, job.units)
            worth_of_limits(job, job.found, design)
    against(job, job.found, scenario)
    one_against_another(job, job.found, scenario)
    price_of_space(job, job.found, scenario)
    sure_front(job, job.found, scenario)
    if design is not None:
        panels.pick_view(job, design)


@dataclass(frozen=True)
class Places:
    """Where on the page what is worked out of the pick belongs."""

    model_ends: DeltaGenerator
    reasons: DeltaGenerator


def front_view(job: Job, front: pd.DataFrame, scenario: Scenario) -> Places | None:
    """The charts over the front, with the filters in the sidebar; None where the filters keep nothing."""
    look = frame.look(scenario.currency)
    keys = worth_an_axis(front, scenario.goals.objectives)
    with st.sidebar:
        filters(job, front, keys, look, scenario.goals)
    passed = front[passing(front, job.filters)]
    # A goal that is the same everywhere, such as vent air where all boxes are closed, is none to trade.
    objectives = [key for key in scenario.goals.objectives if key in keys]
    if passed.empty:
        st.info(
            f"None of {thousands(len(front))} designs passes all the filters. Loosen one, or clear them in the sidebar."
        )
        return None
    marks = panels.marks(job)
    drawn = few(job, passed, objectives, marks)
    count_line(front, passed, drawn)
    st.markdown("Start with one of these, or narrow the ranges at the left:")
    quick_picks(job, passed, tuple(objectives), look)
    chosen = axes(job, keys, objectives, look)

    def both() -> tuple[Spec, Spec]:
        scene = Scene(
            frame=plotted(drawn, keys, look, marks),
            spans=spans(passed, keys, look.units),
            look=look,
            behind=behind(job.previous, objectives, [chosen["x"], chosen["y"]], look),
        )
        front = scatter(scene, **chosen, objectives=objectives)
        return spec_of(front), spec_of(parallel(scene, objectives, colour=chosen["colour"]))

    scattered, side_by_side = remembered(job, "charts", keys, objectives, look, marks, chosen, make=both)
    left, right = st.columns([8, 5], gap="medium")
    with left:
        st.vega_lite_chart(
            scattered,
            width="stretch",
            key=f"scatter:{job.id}",
            on_select=lambda: panels.take_click(job, f"scatter:{job.id}"),
            selection_mode=["pick"],
            alt="Designs of the front, two objectives against each other",
        )
        st.caption("Each mark is a design. Click one to see it; hover to read it.")
    with right:
        model_ends = panels.pick_card(job)
        assert job.found is not None
        wishes(job, job.found, scenario)
    reasons = st.container()
    st.subheader("All goals side by side")
    st.vega_lite_chart(
        side_by_side,
        width="stretch",
        key=f"parallel:{job.id}",
        on_select=lambda: panels.take_click(job, f"parallel:{job.id}"),
        selection_mode=["pick"],
        alt="Every objective on an axis of its own; best at the top",
    )
    dotted = ", those with a passive radiator dotted" if (drawn["box_kind"] == RADIATOR.name).any() else ""
    st.caption(
        f"Each line is a design, better higher up; closed boxes are dashed{dotted}. Click a dot to pick its design."
    )
    here = {"The front": scattered, "All goals side by side": side_by_side}
    take_away([of_spec(label, spec, look.ink) for label, spec in here.items()], key="front")
    return Places(model_ends, reasons)


def few(job: Job, passed: pd.DataFrame, objectives: list[str], marks: dict[str, str]) -> pd.DataFrame:
    """The designs to draw: those that stand for all that passed, and the marked ones in any case.

    The choice is kept while front and filters stay the same, so that a click is quick.
    """
    places = remembered(job, "few", objectives, make=lambda: representative(passed, objectives))
    marked = passed["id"].isin(list(marks)).to_numpy().nonzero()[0]
    return passed.iloc[np.union1d(places, marked)]


def count_line(front: pd.DataFrame, passed: pd.DataFrame, drawn: pd.DataFrame) -> None:
    def number(table: pd.DataFrame) -> str:
        return thousands(len(table))

    words = f"**{number(passed)} of {number(front)} designs kept**"
    if len(drawn) < len(passed):
        words += f" – {number(drawn)} drawn, spread evenly over them"
    st.markdown(words)


def axes(job: Job, keys: list[str], objectives: list[str], look: Look) -> dict[str, str]:
    """Which columns go where; the user's choice is kept with the job."""
    chosen = {}
    for column, (axis, present) in zip(st.columns(3), usual_axes(keys, objectives, job.axes).items(), strict=True):
        key = f"axis:{axis}:{job.id}:{job.revision}"
        hold(key, present)
        chosen[axis] = column.selectbox(
            AXIS_NAMES[axis],
            keys,
            format_func=look.title,
            key=key,
            on_change=take_axis,
            args=(job, axis, key),
        )
    return chosen


def quick_picks(job: Job, front: pd.DataFrame, objectives: tuple[str, ...], look: Look) -> None:
    """Ways into the front for those who would rather not aim at a dot."""
    places = {"balanced": balanced(front, objectives), **extremes(front, objectives)}
    with st.container(horizontal=True):
        for key, place in places.items():
            row = front.iloc[place]
            why = weighed(front.iloc[[place]]) if key == "balanced" else None
            st.button(quick_label(key, row, look), key=f"quick:{key}", help=why, on_click=pick, args=(job, row["id"]))


def quick_label(key: str, row: Any, look: Look) -> str:
    if key == "balanced":
        return "Balanced"
    return f"{GOALS[key].best}: {figure_of(row, key, look.units, look.currency)}"


def take_axis(job: Job, axis: str, key: str) -> None:
    job.axes[axis] = st.session_state[key]


page()
