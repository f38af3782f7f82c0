"""Search: start it, show it growing, take over what it came to."""

from __future__ import annotations

from typing import Any

import streamlit as st

from engine.goals import GOALS
from engine.kinds import KINDS
from engine.quantities import Units
from engine.report import shortages
from engine.report.wording import figure_of
from engine.search.runs import Progress
from engine.words.voice import listed
from explorer import frame, live
from explorer.charts import scatter
from explorer.demo_fronts import found_for
from explorer.labels import plain, sentence, thousands
from explorer.narrowing import clear_filters
from explorer.reading import lines
from explorer.session import Job, SearchResult, searched
from explorer.specs import Spec, spec_of
from explorer.worker import LiveTask, SearchTask

GROWN = 1.2  # times the designs tried when it was last drawn
NO_WIRING = "no way of joining the coils gives a load that the amplifier may drive"


def take_in(job: Job) -> None:
    """Take over the outcome of a search that has ended; start the first one by itself.

    A demo job shows the front that came with it until then.  Where the job has been changed the front follows.
    """
    if live.take_over(job):
        job.revision += 1  # sliders reach over the new front
        st.rerun()
    if frame.searches().of(job.id) is None and to_be_searched(job) and frame.reading().scenario is not None:
        if job.found is None:
            job.found = found_for(job.document)
            if job.found is not None:
                clear_filters(job)
                live.pick_all_rounder(job)
        start(job)
    live.keep_up(job)


def to_be_searched(job: Job) -> bool:
    """Whether a search starts by itself: the job has no front yet, or only the short one that came with a demo."""
    return job.found is None or (job.found.came_with_demo and not job.changed_since_search)


def start(job: Job) -> None:
    scenario = frame.reading().scenario
    if scenario is not None:
        frame.begin(job.id, scenario, job.document)


def search_bar(job: Job) -> None:
    """What the search is doing or came to, and the button to run it."""
    task = frame.searches().of(job.id)
    reading = frame.reading()
    if reading.faults:
        count = len(lines(reading.faults, job.units))
        things = "1 thing" if count == 1 else f"{count} things"
        st.warning(f"{things} in the job must be put right before a search can run.")
        st.page_link("views/space_parts.py", label="Go to Space & parts", icon=":material/straighten:")
        return
    if task is not None and not task.finished:
        progress(job)
        if isinstance(task, LiveTask):
            st.caption("Until it ends or you stop it, the designs below are those of the job as it was.")
            return
        if searched(task.document) != searched(job.document):
            st.info(
                "This search answers the job as it was before your last change; the front follows when it has ended."
            )
        if job.found is not None:
            st.caption(below_in_words(job.found))
        return
    if task is not None and task.failure:
        st.error(live.failure_in_words(task.failure, job.units))
        st.page_link("views/space_parts.py", label="Change it on Space & parts", icon=":material/straighten:")
    with st.container(horizontal=True, vertical_alignment="center"):
        if job.found is not None:
            st.markdown(outcome_words(job.found), width="stretch")
        label = "Search" if job.found is None else "Search again"
        kind: Any = "primary" if job.found is None or job.changed_since_search else "secondary"
        st.button(label, key="search", type=kind, icon=":material/search:", on_click=start, args=(job,))
    if job.found is not None:
        if words := live.since(job):
            st.markdown(f"{words} The front as it was stands faintly behind.")
        left_out(job.found, job.units)
    if job.changed_since_search:
        st.warning("The job has been changed since this search: the designs below answer the earlier one.")


def below_in_words(found: SearchResult) -> str:
    """What the designs on show are while a search runs."""
    if not found.came_with_demo:
        return "Until it ends, the designs below are those of the search before."
    return (
        f"So that there is something to look at, the {thousands(len(found.front))} designs below came with this demo, "
        f"found among {thousands(found.record['evaluations'])} tried. When the search ends, its own take their place; "
        "what you put on the shortlist stays."
    )


def outcome_words(found: SearchResult) -> str:
    """What a search came to, in a line."""
    record = found.record
    ended = " The search was stopped early." if record["stopped_by"] == "cancelled" else ""
    return (
        f"**{thousands(len(found.front))} designs**, none of them beaten on everything by another "
        f"– {thousands(record['evaluations'])} tried in {record['seconds']:.0f} s.{ended}"
    )


def left_out(found: SearchResult, units: Units) -> None:
    """What was asked for and is not on the front, with the reason."""
    unwired = [f"{name}: {NO_WIRING}" for name in found.record.get("drivers_without_wiring", [])]
    reasons = [*(shortages.left_out(entry, units) for entry in found.record.get("left_out", [])), *unwired]
    if reasons:
        with st.expander("Not on the front", icon=":material/block:"):
            st.markdown("\n".join(f"- {plain(sentence(reason))}" for reason in reasons))


@st.fragment(run_every=frame.POLL_SECONDS)
def progress(job: Job) -> None:
    """The running search, redrawn by itself until it ends."""
    task = frame.searches().of(job.id)
    if task is None or task.finished:
        st.rerun()
    if isinstance(task, LiveTask):
        task.looked()
        now = task.await_front(live.SOON)
    else:
        now = task.progress
    if now is None:
        text, share = "Getting ready…", 0.0
    else:
        text = f"Searching: {thousands(now.evaluations)} of {thousands(now.budget)} designs tried"
        share = now.share
    st.progress(share, text="Stopping…" if task.cancelled else text)
    st.button("Cancel and keep what was found", key="cancel", disabled=task.cancelled, on_click=task.cancel)
    if now is not None and now.front_size:
        growing(job, task, now)


def growing(job: Job, task: SearchTask, now: Progress) -> None:
    """The front as it stands while the search goes on, and the box that it would open with."""

    def made() -> tuple[str, Spec]:
        found = now.front()
        view = live.view_of(found, task.base if isinstance(task, LiveTask) else None, task.scenario)
        best, look = view.best, view.scene.look
        told = [f"{GOALS[key].label} {figure_of(best, key, look.units, look.currency)}" for key in view.objectives]
        drivers = f"{best['driver_count']} × {plain(best['driver'])}"
        words = f"Best so far, all in all: {KINDS[best['box_kind']].label.lower()}, {drivers}. {listed(told)}."
        if isinstance(task, LiveTask):
            words = f"{live.in_words(task.before, task.scenario, task.base, found)}\n\n{words}"
        return words, spec_of(scatter(view.scene, **view.axes, objectives=view.objectives))

    # Drawn anew when a fifth more has been tried: drawing takes its time from the search.
    drawn = live.drawn_of(task, "growing", (now.evaluations, now.front_size), job.units, GROWN, make=made)
    st.markdown(drawn.words)
    st.vega_lite_chart(
        drawn.chart, width="stretch", key=f"growing:{job.id}", alt="The front so far, two objectives against each other"
    )
