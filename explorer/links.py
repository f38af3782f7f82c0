"""The page as a link: what of a view stands in the address, and how an address opens the same view again.

A link names the job on this machine, the page, the pick, the axes and the filters.  Whatever in an address does not fit
the job is left out and told.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from hashlib import sha256
from urllib.parse import urlencode, urlsplit, urlunsplit

import streamlit as st

from engine.columns import COLUMNS
from explorer import frame
from explorer.session import DRIVERS, Job, choose

JOB, PICK, AXES, FILTER = "job", "pick", ("x", "y", "colour", "shape"), "only-"
_SPAN = ".."

Query = Mapping[str, Sequence[str]]


def address_of(job: Job, here: str) -> str:
    """The address of the view that a job shows, on the page that is at the address ``here``."""
    base = urlsplit(here)
    return urlunsplit((base.scheme, base.netloc, base.path, urlencode(query_of(job), doseq=True), ""))


def query_of(job: Job) -> dict[str, list[str]]:
    """What stands behind the ? of a link to a job's view."""
    told = {JOB: [job.id]}
    if job.pick is not None and job.found is not None and choose(job.found, job.pick.row["id"]) == job.pick:
        told[PICK] = [f"{job.pick.row['id']}.{_mark(job.pick.row)}"]
    told |= {axis: [key] for axis, key in job.axes.items() if axis in AXES}
    for key, wanted in job.filters.items():
        span = _SPAN.join("" if end is None else str(end) for end in wanted)
        told[FILTER + key] = wanted if _is_text(key) else [span]
    return told


def is_view(query: Query) -> bool:
    """Whether an address says more than which job."""
    return any(name in (PICK, *AXES) or name.startswith(FILTER) for name in query)


def take_view(job: Job, query: Query) -> list[str]:
    """Make a job show what an address says; returns what of it is left out, in words."""
    lost: list[str] = []
    axes = {axis: query[axis][-1] for axis in AXES if query.get(axis)}
    job.axes |= {axis: key for axis, key in axes.items() if key in COLUMNS}
    if set(axes.values()) - set(COLUMNS):
        lost.append("an axis")
    filters = {name.removeprefix(FILTER): list(values) for name, values in query.items() if name.startswith(FILTER)}
    read = {key: _filter(key, values) for key, values in filters.items()}
    job.filters = {key: wanted for key, wanted in read.items() if wanted is not None}
    if len(job.filters) < len(filters):
        lost.append("a filter")
    if query.get(PICK):
        name, _, mark = query[PICK][-1].partition(".")
        chosen = None if job.found is None else choose(job.found, name)
        if chosen is not None and _mark(chosen.row) == mark:
            job.pick = chosen
        else:
            lost.append("the pick, which is not on the front any more")
    job.revision += 1
    return lost


def follow(job: Job) -> None:
    """Where the address says a view, show it; from then on the job says what is shown."""
    query = {name: st.query_params.get_all(name) for name in st.query_params}
    if not is_view(query):
        return
    if lost := take_view(job, query):
        frame.notice(f"Not all of the linked view is there any more. Left out: {', '.join(lost)}.")
    for name in query:
        if name != JOB:
            del st.query_params[name]


def share(job: Job) -> None:
    """The link to the present view, to copy."""
    with st.popover("Link to this view", icon=":material/link:", type="tertiary"):
        st.caption("Opens this job on this machine with the same page, pick, axes and filters.")
        st.code(address_of(job, st.context.url or ""), language=None, wrap_lines=True)


def _filter(key: str, values: Sequence[str]) -> list[object] | None:
    """A filter as a job holds it; None where it is none."""
    if key not in (*COLUMNS, DRIVERS):
        return None
    if _is_text(key):
        return list(values)
    ends = values[-1].split(_SPAN) if values else []
    try:
        read = [None if end == "" else float(end) for end in ends]
    except ValueError:
        return None
    return [*read] if len(read) == 2 and all(end is None or math.isfinite(end) for end in read) else None


def _is_text(key: str) -> bool:
    return key == DRIVERS or COLUMNS[key].kind == "text"


def _mark(row: Mapping[str, object]) -> str:
    """Tells a design from another of the same number on a later front."""
    return sha256(repr(sorted((key, str(value)) for key, value in row.items())).encode()).hexdigest()[:8]
