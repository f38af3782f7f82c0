"""What every page stands in: the job at hand, the sidebar, the saving."""

from __future__ import annotations

import logging
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import streamlit as st
from streamlit.delta_generator import DeltaGenerator

from engine.document import written_in
from engine.errors import WedgefrontError
from engine.formats.scenario import read_document
from engine.plain_text import cleaned
from engine.report.ink import DARK, LIGHT, Ink
from engine.scenario import Scenario
from engine.untrusted import mended
from explorer.charts import Look
from explorer.generations import NewerJobError
from explorer.history import State
from explorer.job_file import digest, is_job_file, read_job
from explorer.judged_designs import JudgedDesigns
from explorer.keys import step_keys
from explorer.markdown import plain
from explorer.memory import hold, memory, said
from explorer.open_jobs import OpenJobs
from explorer.readiness import WORDS as READY_WORDS
from explorer.readiness import readiness
from explorer.reading import Reading, read
from explorer.session import (
    FRONTS_KEPT,
    ChangedElsewhereError,
    Damage,
    DamagedJobError,
    Job,
    JobStore,
    as_document,
    new_id,
)
from explorer.visits import Visit, Visits
from explorer.what_changed import what_changed
from explorer.worker import Searches, SearchTask

POLL_SECONDS = 0.7  # between two looks at what runs beside a page
UNITS = {"metric": "Metric", "us": "US customary"}
OWN_FAULT = (
    "This page broke off through a fault of wedgefront's own. What you put in is kept; "
    "the terminal that wedgefront runs in has the details."
)
OF_LATER_VERSION = (
    "This job was written by a later wedgefront, which this one cannot read. It stays as it is: update to open it."
)
CHANGED_ELSEWHERE = "This job was changed by another running wedgefront. What that wrote is open here now."
KEPT_MINE = (
    "Your own version, with what you changed here, is kept beside it as “{title}”: "
    "open it, or delete it, on the page Jobs."
)
DAMAGED: dict[Damage, str] = {
    "last": "What was saved last of this job is damaged on the disk. It is open as it was saved before that: "
    "look whether your last change is in it.",
    "front": "The designs that the last search found are damaged on the disk and were left out. What you put in, "
    "the pick, the shortlist and the notes are whole: search again to have designs again.",
    "front_before": "The designs that the last search found are damaged or gone from the disk; those of the search "
    "before it are shown instead. What you put in, the pick, the shortlist and the notes are whole: search again to "
    "have designs for the job as it is now.",
    "front_gone": f"The designs of this job's last search are no longer kept: only the last {FRONTS_KEPT} jobs "
    "searched keep theirs. All else is here: search again to have designs again.",
    "steps": "The steps to undo are damaged on the disk and were let go. All else of this job is whole.",
}
JOBS, NEW_JOB = "views/jobs.py", "views/new_job.py"
WORDS = "views/words.py"
SPACE_PARTS, TRADE_OFFS = "views/space_parts.py", "views/trade_offs.py"
_JOB = "job"
_GO = "go"
_NOTICE = "notice"
_VISIT = "visit"
_LEFT, _TAKEN_UP = "left", "taken-up"  # the job left last, by id, and one taken up until the address names it
MOST_NOTES = 20_000  # characters

_log = logging.getLogger("explorer")


@st.cache_resource(show_spinner=False)
def _open_jobs(folder: str) -> OpenJobs:
    jobs = OpenJobs(JobStore(Path(folder)))
    jobs.tidy()
    return jobs


def open_jobs() -> OpenJobs:
    """The jobs open in this process, shared by all its tabs."""
    return _open_jobs(str(JobStore().folder))


@st.cache_resource(show_spinner=False)
def _visits(folder: str) -> Visits:
    visits = Visits(_open_jobs(folder).let_go)
    visits.watch()
    return visits


def _visit(job_id: str) -> None:
    """Note that this session has a job before it; of an empty id, none."""
    _visits(str(open_jobs().store.folder)).come(memory().setdefault(_VISIT, Visit()), job_id)


@st.cache_resource(show_spinner=False)
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


@st.cache_resource(show_spinner=False)
def judged_designs() -> JudgedDesigns:
    """The designs judged in this process, shared by all its pages."""
    return JudgedDesigns()


def open_job() -> Job | None:
    """The job named in the address, the one at hand, or the one that the command line names; the address names it then.

    None where there is none: nothing is begun before somebody says what.
    """
    job = job_at_hand()
    if job is not None and not _still_there(job):
        job = None
        _leave()
    wanted = _wanted(job)
    if job is None and not wanted and _LEFT in memory():
        return None  # whose job is gone is not given that of the command line in its place
    if job is None or (wanted and wanted != job.id):
        job = _opened(wanted, job)
        if job is None:
            return None
        memory()[_JOB] = job
    if job.lost:
        notice(f"Not everything saved with this job could be read. Left out: {', '.join(job.lost)}.")
        job.lost = ()
    for damage in job.damage:
        notice(DAMAGED[damage])
    job.damage = ()
    if wanted != job.id:
        st.query_params[_JOB] = job.id
    _visit(job.id)
    return job


def _wanted(job: Job | None) -> str:
    """The id of the job that the address asks for; empty where it asks for none.

    It changes with a run of the page, never in a callback: until then it still names the job that was left, or the one
    before a job taken up, and neither is asked for.
    """
    named = st.query_params.get(_JOB, "")
    if job is None and named and named == memory().get(_LEFT):
        st.query_params.pop(_JOB)
        return ""
    if job is not None and memory().get(_TAKEN_UP) == job.id:
        if named != job.id:
            return ""
        del memory()[_TAKEN_UP]
    return named


def _opened(wanted: str, present: Job | None) -> Job | None:
    """The stored job of an id, else the one at hand, else the one of the command line."""
    stored = _stored(wanted)
    job = stored or present or _stated_job()
    if wanted and stored is None and not memory().get(_NOTICE):
        instead = "" if job is None else f"; “{plain(job.title)}” is open instead"
        notice(f"No job is stored under that address{instead}.")
    return job


def _still_there(job: Job) -> bool:
    """Whether a job at hand was neither deleted in another tab nor rewritten by a later wedgefront."""
    if not open_jobs().holds(job):
        notice(f"“{plain(job.title)}” was deleted; it can be put back below.")
        return False
    _bring_up(job)
    return open_jobs().holds(job)


def _bring_up(job: Job) -> bool:
    """Bring a job up to what another process wrote of it, and say so; whether there was such a thing.

    One that a later version wrote is not open any more then.
    """
    try:
        taken = open_jobs().refresh(job)
    except OSError as error:
        notice(
            "This job was changed by another running wedgefront, and your own version could not be kept beside that: "
            f"{error.strerror or 'the disk refused'}. It is still open here and is not saved."
        )
        return False
    if taken is None:
        return False
    told = OF_LATER_VERSION if taken.by_later_version else CHANGED_ELSEWHERE
    notice(told if taken.mine is None else f"{told} {KEPT_MINE.format(title=plain(taken.mine.title))}")
    return True


def _leave() -> None:
    """Be without the job at hand; the address names it no more from the next run on."""
    memory()[_LEFT] = memory().pop(_JOB).id
    _visit("")


def present_job() -> Job:
    """The job at hand, once :func:`open_job` has run."""
    job: Job = memory()[_JOB]
    return job


def job_at_hand() -> Job | None:
    """The job at hand; None where there is none."""
    job: Job | None = memory().get(_JOB)
    return job


def take_up(document: dict[str, Any], source: str, **more: Any) -> None:
    """Go on with another document as a new job, in the units it is written in; ``more`` is what else a Job holds.

    Raises InputFaults where no job could hold it.
    """
    stated = as_document(document, source)
    open_up(Job(id=new_id(), source=source, document=stated, **{"units": written_in(stated), **more}))


def open_up(job: Job) -> None:
    """Go on with a job; for callbacks.  The address names it from the next run on."""
    _visit(job.id)
    job = open_jobs().put(job)
    memory()[_JOB] = job
    memory()[_TAKEN_UP] = job.id
    memory()[_GO] = NEW_JOB if job.guide else TRADE_OFFS


def go_back_to(job_id: str) -> None:
    """Go on with a stored job."""
    job = _stored(job_id)
    if job is not None:
        open_up(job)


def close(job_id: str) -> None:
    """Be without the job of an id, if it is the one at hand."""
    job = job_at_hand()
    if job is not None and job.id == job_id:
        _leave()


def asked_for() -> str | None:
    """The page that the last click asked for, once."""
    page: str | None = memory().pop(_GO, None)
    return page


def go(page: str) -> None:
    """Have a page shown next; for callbacks."""
    memory()[_GO] = page


def reading() -> Reading:
    """The present job's document, read."""
    job = present_job()
    return read(job.document, job.source)


def ink() -> tuple[Ink, bool]:
    """The ink that goes with the theme in use, and whether that is dark."""
    dark = st.context.theme.type == "dark"
    return (DARK if dark else LIGHT), dark


def is_ready() -> bool:
    """Whether what designs are worked out by is compiled."""
    return readiness().wait(0.0)


def await_ready() -> None:
    """Wait until what designs are worked out by is compiled: once after an installation that takes a while."""
    place = st.empty()
    while not readiness().wait(0.2):
        place.info(f"{READY_WORDS}; what is still missing here follows.")
    place.empty()


def look(currency: str) -> Look:
    paper, dark = ink()
    return Look(units=present_job().units, currency=currency, ink=paper, dark=dark)


@contextmanager
def own_faults() -> Iterator[None]:
    """What goes wrong in here is a fault of ours: the user keeps the frame, the inputs and the other pages."""
    try:
        yield
    except Exception:
        _log.exception("a page broke off")
        st.error(OWN_FAULT)


def sidebar(menu: DeltaGenerator) -> None:
    """Job, steps back and forward, and units, on every page, in the ``menu``."""
    job = present_job()
    with st.container(key="steps-at-hand"):  # seen while the menu is shut, see standing.css
        steps(job, at_hand=True)
    with menu:
        st.caption("JOB")
        st.markdown(f"**{plain(job.title)}**")
        steps(job)
        st.segmented_control(
            "Units",
            list(UNITS),
            default=hold(f"units:{job.id}", job.units),
            format_func=lambda key: UNITS[key],
            required=True,
            key=f"units:{job.id}",
            on_change=_take_units,
            args=(job, f"units:{job.id}"),
        )
        notes(job)
        step_keys(f"keys:{job.component_id}", lambda key: _step(job, key))


def notes(job: Job) -> None:
    """What somebody wants to keep in mind about a job; it goes into its file and nowhere else."""
    with st.expander("Notes", icon=":material/edit_note:"):
        key = f"notes:{job.id}"
        st.text_area(
            "Notes", hold(key, job.notes), key=key, max_chars=MOST_NOTES, label_visibility="collapsed",
            on_change=_take_notes, args=(job, key),
            placeholder="Kept with the job and in its file; the customer does not see them.",
        )  # fmt: skip


def steps(job: Job, *, at_hand: bool = False) -> None:
    """Undo and redo of what was put in, measured, picked, narrowed down or listed: two buttons, and their keys.

    They stand in the menu and, ``at_hand``, where they are reached without it.
    """
    history = open_jobs().history(job)
    back = ahead = None
    if history.now is not None:
        back = _in_words(history.past[-1], history.now, job) if history.past else None
        ahead = _in_words(history.now, history.future[-1], job) if history.future else None
    with st.container(horizontal=True, gap="xsmall"):
        for key, words, name, keys in (("undo", back, "Undo", "Ctrl+Z"), ("redo", ahead, "Redo", "Ctrl+Shift+Z")):
            st.button(
                name,
                key=f"{key}-at-hand" if at_hand else key,
                type="tertiary",
                icon=f":material/{key}:",
                help=f"{name} {words} ({keys})" if words else f"Nothing to {key} ({keys})",
                disabled=words is None,
                on_click=_step,
                args=(job, key),
            )


def _step(job: Job, key: str) -> None:
    history = open_jobs().history(job)
    history.note(job)
    if key == "undo":
        history.undo(job)
    elif key == "redo":
        history.redo(job)


def _in_words(before: State, after: State, job: Job) -> str:
    """What one step did, in a few words."""
    if before.document != after.document:
        one, other = (read(state.document, job.source).scenario for state in (before, after))
        told = what_changed(one, other, job.units) if one is not None and other is not None else ""
        return plain(told) or "what was put in"
    if before.shortlist != after.shortlist:
        return "the shortlist"
    if before.asked != after.asked:
        return "what the customer's sheet asks and recommends"
    if before.sweeps != after.sweeps:
        return "the sweeps"
    if before.held != after.held:
        return "what is held known"
    if before.pick != after.pick:
        return f"the pick, {plain(after.pick.row['id'])}" if after.pick is not None else "the pick"
    return "the filters"


def notices() -> None:
    """What the last action has to say, once; in a place of its own, so that no field below is made anew as it goes."""
    with st.container(key="notices"):
        for text in memory().pop(_NOTICE, []):
            st.warning(text)


def notice(text: str) -> None:
    memory().setdefault(_NOTICE, []).append(text)


def save(*, settled: bool = False) -> None:
    """Keep the job on disk; where that fails the work goes on and the user is told.

    What differs from the last look is a step to be undone; once a page is drawn it is ``settled``: the page did it.
    """
    job = job_at_hand()
    if job is None:
        return
    history = open_jobs().history(job)
    if settled:
        history.settle(job)
    else:
        history.note(job)
    try:
        open_jobs().save(job)
    except (ChangedElsewhereError, NewerJobError):
        if _bring_up(job):
            st.rerun()
    except OSError as error:
        st.sidebar.warning(
            f"This job could not be saved in {open_jobs().store.folder}: {error.strerror or 'the disk refused'}."
        )


def _stored(job_id: str) -> Job | None:
    if not job_id:
        return None
    _visit(job_id)
    try:
        return open_jobs().take(job_id)
    except DamagedJobError as damage:
        notice(
            "Nothing of this job can be read any more: what was saved of it is damaged on the disk. "
            f"Its files were put aside in {damage.kept_as}. If you once saved it as a file, open that."
        )
    except NewerJobError:
        notice(OF_LATER_VERSION)
    except OSError as error:
        notice(f"This job cannot be read: {error.strerror or 'the disk refused'}. It stays as it is.")
    return None


def _stated_job() -> Job | None:
    """The job that the command line names; an earlier one that says the same or was opened from it is taken up."""
    stated = Path(sys.argv[1]) if len(sys.argv) > 1 else None
    if stated is None:
        return None
    try:
        if is_job_file(stated.name):
            earlier = open_jobs().opened_from(digest(stated.read_bytes()))
            return earlier or open_jobs().put(read_job(stated))
        document = as_document(read_document(stated), stated.name)
    except (WedgefrontError, OSError) as error:
        notice(f"{plain(stated.name)} could not be read. {plain(str(error))}")
        return None
    return of_document(document, mended(stated.name))


def of_document(document: dict[str, Any], source: str) -> Job:
    """The job that says just this: an earlier one as it was left, or a new one."""
    new = Job(id=new_id(), source=source, document=document, units=written_in(document))
    return open_jobs().unchanged(document) or open_jobs().put(new)


def _take_notes(job: Job, key: str) -> None:
    job.notes = cleaned(said(key), lines=True, most=MOST_NOTES)


def _take_units(job: Job, key: str) -> None:
    # A page change on the heels of the first load can report the control as empty, required or not.
    job.units = said(key) or job.units
