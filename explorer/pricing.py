"""What a little more room, a looser limit or the next part would buy, worked out once somebody asks.

Of the whole front, and of the pick.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pandas as pd
import streamlit as st

from engine.goals import GOALS
from engine.insight.price import Price, figure_of, in_units, prices
from engine.insight.worth import in_sentences, worths
from engine.judged import JudgedDesign
from engine.scenario import Scenario
from explorer import frame
from explorer.charts import Look, bars
from explorer.helpers import helpers_for
from explorer.labels import plain
from explorer.readiness import readiness
from explorer.session import Job, SearchResult
from explorer.specs import spec_of
from explorer.worker import SearchTask


@dataclass(frozen=True)
class Told:
    """How far it is, as a running task tells it."""

    share: float


def price_of_space(job: Job, found: SearchResult, scenario: Scenario) -> None:
    """What a little more room, a looser limit or the next part buys along the front, once somebody asks."""
    st.subheader("What a little more would buy")

    def priced(job: Scenario, *, cancelled: Callable[[], bool], progress: Callable[[Told], None], **_: Any) -> Any:
        how: dict[str, Any] = {"cancelled": cancelled, "helpers": helpers_for(job.evaluations)}
        return prices(job, progress=lambda share: progress(Told(share)), **how)

    if not _worked_out(f"{job.id}:price", "price", found, priced, found, scenario):
        st.caption("The job and each small change of it are searched together, all with the job's own effort.")
        return
    look, told = frame.look(scenario.currency), st.session_state["price"][1]
    st.markdown("\n".join(f"- {plain(price.told(look.units, look.currency))}" for price in told))
    # One below the other, since the changes' names take half of the width.
    for key in scenario.goals.objectives:
        chart = spec_of(bars(price_table(told, key, look), key, look))
        st.vega_lite_chart(
            chart, width="stretch", key=f"price:{key}:{job.id}", alt=f"What each change buys: {GOALS[key].label}"
        )
    st.caption(
        "Along the front: the mean over its designs, one goal or another, all else as it was. At its best: the best in "
        "each goal. The lines show how sure that is: the most that one repeat by itself, or half of the effort, tells "
        "otherwise. Longer searches find more: it buys at least this."
    )


def worth_of_limits(job: Job, found: SearchResult, design: JudgedDesign) -> None:
    """What each limit that stops the pick is worth, once somebody asks."""
    name = str(design.row["id"])

    def worked(job: Scenario, *, cancelled: Callable[[], bool], progress: Callable[[Told], None], **_: Any) -> Any:
        how: dict[str, Any] = {"cancelled": cancelled, "helpers": helpers_for(job.evaluations)}
        return worths(job, design.row, progress=lambda share: progress(Told(share)), **how)

    with st.container(border=True):
        st.markdown(f"**What the limits of {plain(name)} are worth**")
        if not _worked_out(f"{job.id}:worth:{name}", "worth", (found, name), worked, found, design.scenario):
            st.caption("Each limit is loosened by a step, the box improved near by, all other goals kept as good.")
            return
        told = in_sentences(st.session_state["worth"][1], job.units, design.scenario.currency)
        st.markdown("\n".join(f"- {plain(sentence)}" for sentence in told))


def _worked_out(
    name: str, kept: str, of: Any, search: Callable[..., Any], found: SearchResult, scenario: Scenario
) -> bool:
    """Whether what is asked has been worked out and lies in the session as ``kept``, ``of`` what it is for.

    Else there is a button that has it worked out, or how far that is.
    """
    searches = frame.searches()
    task = searches.of(name)
    if task is not None and task.finished:
        if isinstance(task.failure, str):
            st.error(task.failure)
        elif task.failure or not (task.outcome or task.cancelled):
            st.warning("No design that can be built was found, so there is none to price more room by.")
        elif task.outcome:  # none where it was cancelled before anything was done
            st.session_state[kept] = (of, task.outcome)
        searches.drop(name)
    elif task is not None:
        progress_of(name, kept)
        return False
    last = st.session_state.get(kept)
    if last is not None and _same(last[0], of):
        return True
    st.button("Work it out", key=f"start-{kept}", on_click=_start, args=(name, search, found, scenario))
    return False


def _same(one: Any, other: Any) -> bool:
    """Whether something is of the very same front, and of the same design of it."""
    if isinstance(one, tuple) and isinstance(other, tuple):
        return one[0] is other[0] and one[1:] == other[1:]
    return one is other


def _start(name: str, search: Callable[..., Any], found: SearchResult, scenario: Scenario) -> None:
    """Work something out beside whatever else runs."""
    frame.searches().start(name, SearchTask(scenario, found.document, search=search, ready=readiness().wait))


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


@st.fragment(run_every=frame.POLL_SECONDS)
def progress_of(name: str, kept: str) -> None:
    """How far something is that is being worked out, redrawn until it is."""
    task = frame.searches().of(name)
    if task is None or task.finished:
        st.rerun()
    share = 0.0 if task.progress is None else min(task.progress.share, 1.0)
    st.progress(share, text="Searching the job and each change of it")
    st.button("Cancel", key=f"cancel-{kept}", disabled=task.cancelled, on_click=task.cancel)
