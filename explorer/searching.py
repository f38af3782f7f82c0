"""Search: start it, show it growing, take over what it came to."""

from __future__ import annotations

from typing import Any

import pandas as pd
import streamlit as st

from engine.quantities import Units
from engine.report import shortages
from engine.search.nearest import NothingFeasible
from engine.search.runs import Progress
from explorer import frame, live, panels
from explorer.demo_fronts import found_for
from explorer.labels import sentence, thousands
from explorer.markdown import plain
from explorer.memory import memory
from explorer.misfits import nothing_feasible
from explorer.narrowing import clear_filters
from explorer.picking import growing_surface, on_the_surface, to_take_along
from explorer.readiness import WORDS as READY_WORDS
from explorer.reading import lines, read
from explorer.session import Job, SearchResult, searched
from explorer.take_away import take_away
from explorer.wishes import wishes
from explorer.worker import LiveTask, SearchTask

GROWN = 1.2  # times the designs tried when it was last drawn
FAULTS_TOLD = 4  # of what is at fault; Space & parts has them all
TITLE = "Trade-offs"
SEEN, GROWING = "seen-under-way", "growing"
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
    """What the search is doing or came to, the button to run it, and the surface with what it found."""
    task = frame.searches().of(job.id)
    reading = frame.reading()
    if reading.faults:
        wrong = lines(reading.faults, job.units)
        things = "1 thing" if len(wrong) == 1 else f"{len(wrong)} things"
        with st.container(horizontal=True):
            st.header(TITLE, width="content")
        listing = [f"- {line}" for line in wrong[:FAULTS_TOLD]]
        listing += [f"- and {len(wrong) - FAULTS_TOLD} more"] * (len(wrong) > FAULTS_TOLD)
        st.warning("\n".join([f"{things} in the job must be put right before a search can run:", *listing]))
        st.page_link("views/space_parts.py", label="Go to Space & parts", icon=":material/straighten:")
        surface_of(job)
        return
    if task is not None and not task.finished:
        under_way(job)
        return
    outcome(job)
    if task is not None and task.failure:
        st.error(live.failure_in_words(task.failure, job.units))
        st.page_link("views/space_parts.py", label="Change it on Space & parts", icon=":material/straighten:")
        if isinstance(task.failure, NothingFeasible):
            nothing_feasible(job, task.document, task.failure)
    surface_of(job)


def outcome(job: Job) -> None:
    """The heading, with what the last search came to and the button for another."""
    with st.container(horizontal=True, vertical_alignment="center"):
        st.header(TITLE, width="content")
        st.markdown("" if job.found is None else outcome_words(job.found), width="stretch")
        label = "Search" if job.found is None else "Search again"
        kind: Any = "primary" if job.found is None or job.changed_since_search else "secondary"
        st.button(label, key="search", type=kind, icon=":material/search:", on_click=start, args=(job,))
    if job.found is not None and (words := live.since(job)):
        st.markdown(f"{words} The front as it was stands faintly behind.")
    if job.changed_since_search:
        st.warning("The job has been changed since this search: the designs below answer the earlier one.")


def surface_of(job: Job, grown: pd.DataFrame | None = None) -> None:
    """The front found, to pick from, and what is done with a pick."""
    if job.found is None:
        return
    scenario = read(job.found.document, job.source).scenario
    if scenario is None:
        st.warning("These designs were found with a scenario this version no longer reads. Search again.")
        return
    on_the_surface(job, job.found, scenario, grown)
    if job.pick is not None:
        with st.container(key="with-the-pick"):
            left, right = st.columns([1, 4], vertical_alignment="top")
        with left:
            panels.shortlist_button(job)
            if items := to_take_along(job, job.found, scenario):
                take_away(items, key="front")
        with right:
            wishes(job, job.found, scenario)


@st.fragment(run_every=frame.POLL_SECONDS)
def under_way(job: Job) -> None:
    """The running search and the front so far, redrawn by itself until it ends."""
    task = frame.searches().of(job.id)
    if task is None or task.finished:
        st.rerun()
    seen = memory().get(SEEN)
    memory()[SEEN] = picked = (job.id, job.pick, len(job.shortlist), repr(job.filters))
    if seen is not None and seen[0] == job.id and seen != picked:
        st.rerun()  # what stands below follows
    now = progress(job, task)
    if isinstance(task, LiveTask):
        st.caption(
            "Until it ends or you stop it, what stands below the picture is of the job as it was; so are faint marks."
        )
    elif searched(task.document) != searched(job.document):
        st.info("This search answers the job as it was before your last change; the front follows when it has ended.")
    elif job.found is not None:
        st.caption(below_in_words(job.found))
    grown = None if now is None or not now.front_size else grown_front(job, task, now)
    if grown is not None and (job.found is None or isinstance(task, LiveTask)):
        growing_surface(job, task, grown)
    else:
        surface_of(job, grown)


def below_in_words(found: SearchResult) -> str:
    """What the designs on show are while a search runs."""
    if not found.came_with_demo:
        return "Until it ends, the designs below are those of the search before."
    return (
        f"The {thousands(len(found.front))} designs below came with this demo, found among "
        f"{thousands(found.record['evaluations'])} tried; those of the full search take their place when it ends."
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
        st.markdown("\n".join(f"- {plain(sentence(reason))}" for reason in reasons))
    else:
        st.markdown("Every kind of box and every driver that was asked for is on the front or beaten by what is.")


def progress(job: Job, task: SearchTask) -> Progress | None:
    """How far a search is, and the button to end it."""
    if isinstance(task, LiveTask):
        task.looked()
        now = task.await_front(live.SOON)
    else:
        now = task.progress
    if now is None:
        text, share = "Getting ready…" if frame.is_ready() else f"{READY_WORDS}.", 0.0
    else:
        text = f"Searching: {thousands(now.evaluations)} of {thousands(now.budget)} designs tried"
        share = now.share
    with st.container(horizontal=True, vertical_alignment="center"):
        st.header(TITLE, width="content")
        st.progress(share, text="Stopping…" if task.cancelled else text)
        st.button("Cancel and keep what was found", key="cancel", disabled=task.cancelled, on_click=task.cancel)
    return now


def grown_front(job: Job, task: SearchTask, now: Progress) -> pd.DataFrame:
    """The front as it stands, taken anew when a fifth more has been tried: drawing takes its time from the search."""
    last = memory().get(GROWING)
    stamp = (now.evaluations, now.front_size)
    if last is None or last[0] is not task or live.has_grown(last[1], stamp, GROWN):
        last = memory()[GROWING] = (task, stamp, now.front())
    front: pd.DataFrame = last[2]
    return front
