"""What every page stands in: the job at hand, the sidebar, the saving."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import streamlit as st

from engine.errors import WedgefrontError
from engine.formats.scenario import demo_scenarios, read_document
from engine.report.ink import DARK, LIGHT, Ink
from engine.scenario import Scenario
from explorer.charts import Look
from explorer.inputs import hold
from explorer.judged_designs import JudgedDesigns
from explorer.labels import plain
from explorer.open_jobs import CHANGED_ELSEWHERE, OpenJobs
from explorer.readiness import WORDS as READY_WORDS
from explorer.readiness import readiness
from explorer.reading import Reading, read
from explorer.session import DamagedJobError, Job, JobStore, as_document, new_id
from explorer.worker import Searches, SearchTask

FIRST_DEMO = "van-bench"
POLL_SECONDS = 0.7  # between two looks at what runs beside a page
UNITS = {"metric": "Metric", "us": "US customary"}
OWN_FAULT = (
    "This page broke off through a fault of wedgefront's own. What you put in is kept; "
    "the terminal that wedgefront runs in has the details."
)
_JOB = "job"
_NOTICE = "notice"


@st.cache_resource
def _open_jobs(folder: str) -> OpenJobs:
    return OpenJobs(JobStore(Path(folder)))


def open_jobs() -> OpenJobs:
    """The jobs open in this process, shared by all its tabs."""
    return _open_jobs(str(JobStore().folder))


@st.cache_resource
def searches() -> Searches:
    """The searches of this process, shared by all its pages."""
    return Searches()


def begin(name: str, scenario: Scenario, document: dict[str, Any], **how: Any) -> None:
    """Have a scenario searched, or something else worked out of it, beside the page; ``how`` as SearchTask takes it."""
    searches().start(name, SearchTask(scenario, document, ready=readiness().wait, **how))


@st.fragment(run_every=POLL_SECONDS)
def how_far(name: str, words: Callable[[float], str], key: str) -> None:
    """How far something is that is worked out beside the page and tells its share, redrawn by itself until it ends."""
    task = searches().of(name)
    if task is None or task.finished:
        st.rerun()
    share = min(task.progress or 0.0, 1.0)
    st.progress(share, text="Stopping…" if task.cancelled else words(share))
    st.button("Cancel", key=key, disabled=task.cancelled, on_click=task.cancel)


@st.cache_resource
def judged_designs() -> JudgedDesigns:
    """The designs judged in this process, shared by all its pages."""
    return JudgedDesigns()


def open_job() -> Job:
    """The job named in the address, the one at hand, or a fresh one; the address is made to name it."""
    wanted = st.query_params.get(_JOB, "")
    job: Job | None = st.session_state.get(_JOB)
    if job is None or (wanted and wanted != job.id):
        stored = _stored(wanted)
        job = stored or job or _first_job()
        if wanted and stored is None and not st.session_state.get(_NOTICE):
            notice(f"No job is stored under that address; “{plain(job.title)}” is open instead.")
        st.session_state[_JOB] = job
    elif open_jobs().refresh(job):
        notice(CHANGED_ELSEWHERE)
    if job.lost:
        notice(f"Not everything saved with this job could be read. Left out: {', '.join(job.lost)}.")
        job.lost = ()
    if wanted != job.id:
        st.query_params[_JOB] = job.id
    return job


def present_job() -> Job:
    """The job at hand, once :func:`open_job` has run."""
    job: Job = st.session_state[_JOB]
    return job


def take_up(document: dict[str, Any], source: str) -> None:
    """Go on with another document as a new job; the units stay."""
    before = st.session_state.get(_JOB)
    job = Job(id=new_id(), source=source, document=as_document(document))
    if before is not None:
        job.units = before.units
    _switch_to(open_jobs().put(job))


def go_back_to(job_id: str) -> None:
    """Go on with a stored job."""
    job = _stored(job_id)
    if job is not None:
        _switch_to(job)


def reading() -> Reading:
    """The present job's document, read."""
    job = present_job()
    return read(job.document, job.source)


def ink() -> tuple[Ink, bool]:
    """The ink that goes with the theme in use, and whether that is dark."""
    dark = st.context.theme.type == "dark"
    return (DARK if dark else LIGHT), dark


def await_ready() -> None:
    """Wait until what designs are worked out by is compiled: once after an installation that takes a while."""
    place = st.empty()
    while not readiness().wait(0.2):
        place.info(f"{READY_WORDS}; what is still missing here follows.")
    place.empty()


def look(currency: str) -> Look:
    paper, dark = ink()
    return Look(units=present_job().units, currency=currency, ink=paper, dark=dark)


def sidebar() -> None:
    """Job and units, on every page."""
    job = present_job()
    with st.sidebar:
        st.caption("JOB")
        st.markdown(f"**{plain(job.title)}**")
        hold(f"units:{job.id}", job.units)
        st.segmented_control(
            "Units",
            list(UNITS),
            format_func=lambda key: UNITS[key],
            required=True,
            key=f"units:{job.id}",
            on_change=_take_units,
            args=(job, f"units:{job.id}"),
        )


def notices() -> None:
    """What the last action has to say, once."""
    for text in st.session_state.pop(_NOTICE, []):
        st.warning(text)


def notice(text: str) -> None:
    st.session_state.setdefault(_NOTICE, []).append(text)


def save() -> None:
    """Keep the job on disk; where that fails the work goes on and the user is told."""
    try:
        open_jobs().save(present_job())
    except OSError as error:
        st.sidebar.warning(
            f"This job could not be saved in {open_jobs().store.folder}: {error.strerror or 'the disk refused'}."
        )


def _switch_to(job: Job) -> None:
    st.session_state[_JOB] = job
    st.query_params[_JOB] = job.id


def _stored(job_id: str) -> Job | None:
    if not job_id:
        return None
    try:
        return open_jobs().take(job_id)
    except DamagedJobError as damage:
        notice(
            "The saved state of this job could not be read, so it starts afresh. "
            f"Its files were put aside in {damage.kept_as}."
        )
        return None


def _first_job() -> Job:
    """The scenario named on the command line, or else a demo job; an earlier job that says the same is taken up."""
    path = demo_scenarios()[FIRST_DEMO]
    document = read_document(path)
    stated = Path(sys.argv[1]) if len(sys.argv) > 1 and sys.argv[1].endswith(".toml") else None
    if stated is not None:
        try:
            path, document = stated, as_document(read_document(stated))
        except (WedgefrontError, OSError) as error:
            notice(f"{stated.name} could not be read, so a demo job is open instead. {error}")
    earlier = open_jobs().unchanged(document)
    return earlier or open_jobs().put(Job(id=new_id(), source=path.name, document=document))


def _take_units(job: Job, key: str) -> None:
    # A page change on the heels of the first load can report the control as empty, required or not.
    job.units = st.session_state[key] or job.units
