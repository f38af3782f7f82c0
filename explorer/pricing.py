"""What a little more room, a looser limit or more power would buy, worked out once somebody asks."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import pandas as pd
import streamlit as st

from engine.goals import GOALS
from engine.insight.price import Price, prices
from engine.scenario import Scenario
from explorer import frame
from explorer.charts import Look, bars
from explorer.labels import plain
from explorer.readiness import readiness
from explorer.session import Job, SearchResult
from explorer.specs import spec_of
from explorer.worker import SearchTask


def price_of_space(job: Job, found: SearchResult, scenario: Scenario) -> None:
    """What a little more room, a looser limit or more power buys along the front, once somebody asks."""
    st.subheader("What a little more would buy")
    searches, name = frame.searches(), f"{job.id}:price"
    task = searches.of(name)
    if task is not None and task.finished:
        if isinstance(task.failure, str):
            st.error(task.failure)
        elif task.failure or not (task.outcome or task.cancelled):
            st.warning("No design that can be built was found, so there is none to price more room by.")
        elif task.outcome:  # none where it was cancelled before the first seed was done
            st.session_state["priced"] = (found, task.outcome)
        searches.drop(name)
    elif task is not None:
        price_progress(name)
        return
    last = st.session_state.get("priced")
    if last is None or last[0] is not found:
        st.caption("The job and each small change of it are searched with equal effort, from several seeds.")
        st.button("Work it out", key="price", on_click=start_price, args=(name, found, scenario))
        return
    look, told = frame.look(scenario.currency), last[1]
    st.markdown("\n".join(f"- {plain(price.told(look.units, look.currency))}" for price in told))
    # One below the other, since the changes' names take half of the width.
    for key in scenario.goals.objectives:
        chart = spec_of(bars(price_table(told, key, look), key, look))
        st.vega_lite_chart(
            chart, width="stretch", key=f"price:{key}:{job.id}", alt=f"What each change buys: {GOALS[key].label}"
        )
    st.caption(
        "Along the front: the mean over its designs, one goal or another, all else as it was. At its best: the best in "
        "each goal. The lines show how far the seeds are from their mean. "
        "Longer searches find more: it buys at least this."
    )


def price_table(told: list[Price], key: str, look: Look) -> pd.DataFrame:
    """What each change buys in one goal, as its picture takes it."""
    rows = []
    for price in told:
        for where, at_end in (("along the front", False), ("at its best", True)):
            gain, spread = price.in_units(key, look.units, at_end=at_end)
            text = price.figure(key, look.units, at_end=at_end)
            words = {"change": price.change.words(look.units), "where": where, "text": text}
            rows.append({**words, "gain": gain, "least": gain - spread, "most": gain + spread})
    return pd.DataFrame(rows)


def start_price(name: str, found: SearchResult, scenario: Scenario) -> None:
    """Work out what a little more buys, beside whatever else runs."""

    def priced(job: Scenario, *, cancelled: Callable[[], bool], **_: Any) -> list[Price]:
        return prices(job, cancelled=cancelled)

    frame.searches().start(name, SearchTask(scenario, found.document, search=priced, ready=readiness().wait))


@st.fragment(run_every=frame.POLL_SECONDS)
def price_progress(name: str) -> None:
    """The prices being worked out, redrawn until they are."""
    task = frame.searches().of(name)
    if task is None or task.finished:
        st.rerun()
    st.caption("Searching the job and each change of it…")
    st.button("Cancel", key="cancel-price", disabled=task.cancelled, on_click=task.cancel)
