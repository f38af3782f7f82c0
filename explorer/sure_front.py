"""How sure a front is: what it comes to as 9 of 10 built boxes reach it, worked out once somebody asks."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import altair as alt
import numpy as np
import pandas as pd
import streamlit as st

from engine.columns import COLUMNS
from engine.goals import GOALS
from engine.insight.tolerance import SAMPLES, Spread, robust, spread_in_parts
from engine.report.sure import FRONT_HEADINGS, front_best, front_told
from engine.report.wording import figure
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from explorer import frame, panels
from explorer.chart_words import front_in_words, marked
from explorer.charts import Look, Scene, described, plotted, spans, whiskers
from explorer.choices import displayed, representative, usual_axes, worth_an_axis
from explorer.helpers import helpers_for
from explorer.labels import thousands
from explorer.markdown import plain, text_table
from explorer.memory import hold, memory, said
from explorer.narrowing import passing, remembered
from explorer.session import Job, SearchResult
from explorer.specs import Spec, spec_of
from explorer.take_away import of_spec, take_away

DRAWN = 150  # designs: each has two lines besides
SAID = (
    f"Boxes and drivers come out a little off drawing and data sheet. Here each design is built {SAMPLES} times over, "
    "its board, cuts, drivers and air a little different each time, at the gain of the drawing."
)


def sure_front(job: Job, found: SearchResult, scenario: Scenario) -> None:
    """The front as 9 of 10 built boxes reach it, with bands, once it is asked for."""
    st.subheader("How sure the front is")
    st.caption(SAID)
    now = frame.reading().scenario
    tolerance = (scenario if now is None else now).tolerance
    name, widget = f"{job.id}:sure", f"sure:{job.id}:{job.revision}"
    take_over(name)
    wanted = hold(widget, memory().get("sure_wanted") == job.id)
    st.toggle("As 9 of 10 built boxes reach it", wanted, key=widget, on_change=take_wish, args=(job, name, widget))
    if not wanted:
        return
    last = memory().get("sure")
    if last is not None and last[0] is found and last[1] == tolerance:
        shown(job, found, scenario, last[2], tolerance)
        return
    if frame.searches().of(name) is None:
        start_sure(name, found, scenario, tolerance)
    count = len(found.front)

    def words(share: float) -> str:
        return f"Built {SAMPLES} times over: {thousands(round(share * count))} of {thousands(count)} designs"

    frame.how_far(name, words, "cancel-sure")


def take_wish(job: Job, name: str, widget: str) -> None:
    """Switched on or off; off, what is being worked out is given up."""
    memory()["sure_wanted"] = job.id if said(widget) else ""
    if not said(widget):
        frame.searches().drop(name)


def take_over(name: str) -> None:
    """Keep what has been worked out, or say why nothing came of it."""
    task = frame.searches().of(name)
    if task is None or not task.finished:
        return
    if task.failure is not None:
        st.error(str(task.failure))
    if task.failure is not None or task.cancelled:
        memory()["sure_wanted"] = ""
    else:
        memory()["sure"] = task.outcome
    frame.searches().drop(name)


def start_sure(name: str, found: SearchResult, scenario: Scenario, tolerance: Mapping[str, float]) -> None:
    """Build the front beside whatever else runs."""

    def built(
        job: Scenario, *, progress: Callable[[float], None], cancelled: Callable[[], bool], **_: Any
    ) -> tuple[SearchResult, Mapping[str, float], Spread]:
        front, parts, done = found.front, [], 0
        helpers = helpers_for(len(front) * SAMPLES)
        for part in spread_in_parts(Evaluator(job), front, helpers=helpers, tolerance=tolerance):
            parts.append(part)
            done += len(part.fits)
            progress(done / len(front))
            if cancelled():
                break
        return found, tolerance, Spread.together(parts)

    frame.begin(name, scenario, found.document, search=built)


def shown(job: Job, found: SearchResult, scenario: Scenario, built: Spread, tolerance: Mapping[str, float]) -> None:
    """The front as built, of what passes the filters: sentences, picture, and the best of each goal."""
    look, goals = frame.look(scenario.currency), scenario.goals
    passed = passing(found.front, job.filters)
    front, built = found.front[passed], built.take(passed)
    safe = robust(front, built, goals)
    st.markdown("  \n".join(plain(each) for each in front_told(safe, built, goals, look.units)))
    if safe.front.empty:
        return
    keys = worth_an_axis(front, goals.objectives)
    objectives = [key for key in goals.objectives if key in keys]
    axes = usual_axes(keys, objectives, job.axes)
    x, y = axes["x"], axes["y"]
    marks = panels.marks(job)

    def made() -> Spec:
        few = representative(safe.front, objectives, most=DRAWN)
        marked = np.flatnonzero(safe.front["id"].isin(list(marks)))
        few = np.union1d(few, marked)
        return spec_of(picture(safe.front.iloc[few], front.iloc[safe.rows[few]], built.take(safe.rows[few]),
                               x=x, y=y, objectives=objectives, look=look, marks=marks))  # fmt: skip

    chart, key = remembered(job, "sure-picture", tolerance, x, y, look, marks, make=made), f"sure-front:{job.id}"
    left, right = st.columns([8, 5], gap="medium")
    with left:
        st.vega_lite_chart(
            chart, width="stretch", key=key, selection_mode=["pick"], on_select=lambda: panels.take_click(job, key),
            alt=front_in_words(safe.front, x, y, look, marks=marked(marks), what="What 9 of 10 built boxes reach"),
        )  # fmt: skip
        st.caption(
            "Each mark is what 9 of 10 boxes built like a design are at least as good as; its lines end at what 1 of "
            "10 reaches, and the faint dot is the drawing. Click one to see it; hover to read it."
        )
        take_away([of_spec("The front as built", chart, look.ink)], key="sure-front")
    with right:
        rows = front_best(front, safe, built, goals.objectives, look.units, look.currency)
        text_table(pd.DataFrame(rows, columns=["", *FRONT_HEADINGS]), border="horizontal", hide_index=True)
        st.caption("By how much boxes and drivers differ is set under Space & parts, Tolerances.")


def picture(
    safe: pd.DataFrame, drawn: pd.DataFrame, built: Spread, *, x: str, y: str, objectives: list[str], look: Look,
    marks: Mapping[str, str],
) -> alt.LayerChart:  # fmt: skip
    """Designs at the figures that 9 of 10 boxes reach, with bands and chances when hovered over; their rows agree."""
    keys = list(dict.fromkeys([x, y, *objectives]))
    table = plotted(safe, keys, look, marks)
    few = {key: built.band(key)[:, 2] if key in built.figures else safe[key].to_numpy(float) for key in (x, y)}
    for axis, key in (("x", x), ("y", y)):
        for what, values in (("few", few[key]), ("drawn", drawn[key].to_numpy(float))):
            table[f"{axis}_{what}"] = np.asarray(displayed(values, COLUMNS[key], look.units))
    for key in objectives:
        if key in built.figures:
            band = built.band(key)
            table[f"{key}_text"] = [
                " | ".join(figure(key, each, look.units, look.currency) for each in one) for one in band
            ]
    table["held"] = built.held
    table["fit_text"] = [f"{100 * share:.0f} of 100" for share in built.fit]
    chances = [chance for chance in built.chances if (chance.share < 1.0).any()]
    for chance in chances:
        table[f"hold_{chance.key}"] = [f"{100 * share:.0f} of 100" for share in chance.share]
    table["lower_text"] = [f"{lower:.1f} dB lower" for lower in built.lower_db()]
    told = [alt.Tooltip("fit_text:N", title="Go in")]
    told += [alt.Tooltip(f"hold_{chance.key}:N", title=f"Keep: {GOALS[chance.key].label}") for chance in chances]
    told += [alt.Tooltip("lower_text:N", title="9 of 10 keep all at")]
    ends = {key: pd.concat([safe[key], drawn[key], pd.Series(few[key])], ignore_index=True) for key in (x, y)}
    scene = Scene(frame=table, spans=spans(pd.DataFrame(ends), [x, y], look.units), look=look)
    return whiskers(scene, x=x, y=y, hold="held", shown=[*described(look, objectives), *told])
