"""What a little more room, a looser limit or the next part would buy, worked out once somebody asks.

Of the whole front, and of the pick.
"""

from __future__ import annotations

from collections.abc import Callable
from functools import partial
from typing import Any

import pandas as pd
import streamlit as st

from engine.goals import GOALS
from engine.insight.price import Price, figure_of, in_units, prices
from engine.insight.worth import Worth, in_sentences, worths
from engine.judged import JudgedDesign
from engine.scenario import Scenario
from explorer import frame
from explorer.chart_words import bars_in_words
from explorer.charts import Look, bars
from explorer.helpers import helpers_for
from explorer.markdown import plain
from explorer.memory import memory
from explorer.session import Job, SearchResult
from explorer.specs import spec_of
from explorer.take_away import of_spec, take_away


def price_of_space(job: Job, found: SearchResult, scenario: Scenario) -> None:
    """What a little more room, a looser limit or the next part buys along the front, once somebody asks."""
    st.subheader("What a little more would buy")

    def priced(job: Scenario, **how: Any) -> list[Price]:
        return prices(job, helpers=helpers_for(job.evaluations), **how)

    told = _worked_out(f"{job.id}:price", "price", "", priced, found, scenario)
    if told is None:
        st.caption("The job and each small change of it are searched together, all with the job's own effort.")
        return
    look = frame.look(scenario.currency)
    st.markdown("\n".join(f"- {plain(price.told(look.units, look.currency))}" for price in told))
    charts = {}
    # One below the other, since the changes' names take half of the width.
    for key in scenario.goals.objectives:
        table = price_table(told, key, look)
        chart = charts[GOALS[key].label] = spec_of(bars(table, key, look))
        words = bars_in_words(table, GOALS[key].inner_label)
        st.vega_lite_chart(chart, width="stretch", key=f"price:{key}:{job.id}", alt=words)
    take_away([of_spec(f"What it buys: {label}", chart, look.ink) for label, chart in charts.items()], key="price")
    st.caption(
        "Along the front: the mean over its designs, one goal or another, all else as it was. At its best: the best in "
        "each goal. The lines show how sure that is: the most that one repeat by itself, or half of the effort, tells "
        "otherwise. Longer searches find more: it buys at least this."
    )


def worth_of_limits(job: Job, found: SearchResult, design: JudgedDesign) -> None:
    """What each limit that stops the pick is worth, once somebody asks."""
    name = str(design.row["id"])

    def worked(job: Scenario, *, evaluations: None, **how: Any) -> list[Worth]:
        return worths(job, design.row, helpers=helpers_for(job.evaluations), **how)

    with st.container(border=True):
        st.markdown(f"**What the limits of {plain(name)} are worth**")
        told = _worked_out(f"{job.id}:worth:{name}", "worth", name, worked, found, design.scenario)
        if told is None:
            st.caption("Each limit is loosened by a step, the box improved near by, all other goals kept as good.")
            return
        sentences = in_sentences(told, job.units, design.scenario.currency)
        st.markdown("\n".join(f"- {plain(sentence)}" for sentence in sentences))


def _worked_out(
    name: str, kept: str, design: str, search: Callable[..., Any], found: SearchResult, scenario: Scenario
) -> Any:
    """What is asked of a front, or of a ``design`` of it, once it has been worked out; the session has it as ``kept``.

    None until then: there is a button that has it worked out, or how far that is.
    """
    searches = frame.searches()
    task = searches.of(name)
    if task is not None and task.finished:
        if isinstance(task.failure, str):
            st.error(task.failure)
        elif task.failure or not (task.outcome or task.cancelled):
            st.warning("No design that can be built was found, so there is none to price more room by.")
        elif task.outcome:  # none where it was cancelled before anything was done
            memory()[kept] = (found, design, task.outcome)
        searches.drop(name)
    elif task is not None:
        frame.how_far(name, lambda _: "Searching the job and each change of it", f"cancel-{kept}")
        return None
    last = memory().get(kept)
    if last is not None and last[0] is found and last[1] == design:
        return last[2]
    begin = partial(frame.begin, name, scenario, found.document, search=search)
    st.button("Work it out", key=f"start-{kept}", on_click=begin)
    return None


def price_table(told: list[Price], key: str, look: Look) -> pd.DataFrame:
    """What each change buys in one goal, as its picture takes it."""
    rows = []
    for price in told:
        for where, gained in (("along the front", price.along), ("at its best", price.ends)):
            gain, unsure = in_units(gained, key, look.units)
            text = figure_of(gained, key, look.units)
            words = {"change": price.change.words(look.units), "where": where, "text": text}
            rows.append({**words, "gain": gain, "least": max(gain - unsure, 0.0), "most": gain + unsure})
    return pd.DataFrame(rows)
