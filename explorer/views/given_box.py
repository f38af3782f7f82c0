"""A given box: sizes and parts typed in, and what the box made of them holds, plays and lacks."""

from __future__ import annotations

import tomllib
from typing import Any, Literal

import pandas as pd
import streamlit as st

from engine.errors import WedgefrontError
from engine.formats.fields import SIZES
from engine.judged import JudgedDesign
from engine.kinds import KINDS
from engine.openings import making
from engine.report.given import boxes_in_words, missed_in_words, sizes_in_words
from explorer import frame, panels
from explorer.document import get, put
from explorer.inputs import Form
from explorer.markdown import plain, text_table
from explorer.plainly import FormVoice, is_missing
from explorer.reading import GivenReading, lines, read, read_given
from explorer.session import Job

PLACE = ("given",)
FILTER = (*PLACE, "filter")
START = {"kind": "highpass", "order": 2, "frequency": "25 Hz"}


def page() -> None:
    job = frame.present_job()
    st.header("A given box")
    st.caption(
        "A box that exists, or that somebody asks for: type its sizes, outside or inside, and what goes into it. "
        "Drivers, amplifier, pipes and board are those of the job."
    )
    if not isinstance(get(job.document, PLACE), dict):
        with st.container(horizontal=True):
            st.button("State a box", type="primary", on_click=begin, args=(job,))
            pick_button(job, "secondary")
        return
    reading = read_given(job.document, job.source)
    form_side, result_side = st.columns([4, 5], gap="large")
    with form_side:
        fields(Form(job, reading))
    with result_side:
        design = result(job, reading)
    # Over the whole width: beside the form charts and drawings would be too narrow to read.
    if design is not None:
        st.subheader("How it plays")
        panels.curves_of(design, job.units)
        st.subheader("How it is built")
        panels.drawings(design, job.units)


def pick_button(job: Job, kind: Literal["secondary", "tertiary"]) -> None:
    """A way to begin with the pick of the front, where there is one."""
    if job.pick is not None and read(job.pick.document, job.source).scenario is not None:
        words = f"Take over pick {plain(job.pick.row['id'])}"
        st.button(words, key="take-pick", type=kind, on_click=take_pick, args=(job,))


def take_pick(job: Job) -> None:
    """The pick as the given box, by all that a design file says of it."""
    design = None if job.pick is None else panels.judged(job.pick, job)
    if design is not None:
        set_to(job, PLACE, tomllib.loads(design.file)[PLACE[0]])


def begin(job: Job) -> None:
    """An empty box of the first kind that the job tries."""
    kinds = get(job.document, ("box", "kinds"))
    kind = kinds[0] if isinstance(kinds, list) and kinds and kinds[0] in KINDS else next(iter(KINDS))
    set_to(job, PLACE, {"kind": kind})


def set_to(job: Job, place: tuple[str, ...], value: Any) -> None:
    job.document = put(job.document, place, value)
    job.revision += 1


def fields(form: Form) -> None:
    """What is typed, kind by kind of box."""
    job, table = form.job, PLACE[0]
    form.fields(table, ("kind", "driver", "count", "load", "facing", "baffle"), PLACE)
    st.markdown("**Sizes** – each outside or inside; of depths and lean any two")
    *measured, lean = (field.key for field in SIZES)
    form.fields(table, (*measured, lean, "inside_volume"), PLACE)
    kind = get(job.document, (*PLACE, "kind"))
    own = [field.key for opening in (making(kind) if kind in KINDS else ()) for field, _ in opening.given]
    asked = ["filling"]
    if kind in KINDS and KINDS[kind].tuned:
        asked = ["tuning", *dict.fromkeys(own)]
        st.markdown("**What it breathes through** – its tuning, or what is built for it")
    form.fields(table, asked, PLACE)
    if others := [fault.key.rpartition(".")[2] for fault in form.reading.faults if fault.code == "not_of_this_kind"]:
        st.markdown("**What this kind of box has not** – leave it empty")
        form.fields(table, others, PLACE)
    if get(job.document, FILTER) is None:
        st.button("Add a high-pass", on_click=set_to, args=(job, FILTER, START))
    else:
        st.markdown("**High-pass**")
        shape = get(job.document, (*FILTER, "shape"))
        form.fields("given.filter", ("shape", "q" if shape == "own" else "order", "frequency"), FILTER, across=3)
        st.button("Without a high-pass", type="tertiary", on_click=set_to, args=(job, FILTER, None))
    form.faults(PLACE)
    with st.container(horizontal=True):
        pick_button(job, "tertiary")
        st.button("Forget this box", type="tertiary", on_click=set_to, args=(job, PLACE, None))


def result(job: Job, reading: GivenReading) -> JudgedDesign | None:
    """What the box comes to, or what is still to be filled in; gives the box where it is one."""
    if reading.given is None:
        listing = "\n".join(f"- {line}" for line in lines(reading.faults, job.units))
        if all(is_missing(fault) for fault in reading.faults):
            st.info(f"Still to fill in:\n{listing}")
        else:
            st.error(f"To put right – what you typed is kept:\n{listing}")
        return None
    frame.await_ready()
    found = frame.judged_designs().given(reading.given, job.source)
    if isinstance(found, WedgefrontError):
        st.error(plain(found.told(FormVoice(job.units))))
        return None
    box(job, found)
    return found


def box(job: Job, design: JudgedDesign) -> None:
    outside, inside = sizes_in_words(design, job.units)
    columns = ["", "Width", "Height", "Depth at the top", "Depth at the bottom"]
    table = pd.DataFrame([["Outside", *outside], ["Inside", *inside]], columns=columns)
    table = table.replace(" ", "\N{NO-BREAK SPACE}", regex=True)  # a figure is not broken from its unit
    text_table(table, border="horizontal", hide_index=True)
    st.markdown("\n".join(f"- {plain(line)}" for line in boxes_in_words(design, job.units)))
    if missed := missed_in_words(design, job.units):
        st.warning("It cannot be built or used so:\n" + "\n".join(f"- {plain(line)}" for line in missed))
    else:
        st.success("It can be built so: every clearance is kept.")
    panels.summary(dict(design.row), design.scenario, job.units)
    panels.goals(dict(design.row), design.scenario, job.units)
    panels.where_the_model_stops(design)


page()
