"""As built: the finished box measured, what it turned out to be, and what to do about it."""

from __future__ import annotations

import json
from collections.abc import Sequence

import pandas as pd
import streamlit as st

from engine.errors import InputFaults, WedgefrontError
from engine.judged import JudgedDesign
from engine.kinds import KINDS
from engine.measured.names import PRIORS
from engine.measured.sweep import parse_sweep, sweep_text, text_of
from engine.measured.verdict import AsBuilt, invented
from engine.quantities import NotAQuantity, parse, with_unit
from engine.report import measured
from engine.report.wording import drivers, figure
from explorer import frame, panels
from explorer.as_built import AMOUNTS, Checks, amount_of, with_measured_driver
from explorer.explained import linked
from explorer.markdown import plain, text_table
from explorer.memory import hold, memory, said
from explorer.plain_sight import named
from explorer.plainly import FormVoice
from explorer.session import Chosen, Job, searched
from explorer.specs import spec_of
from explorer.take_away import of_spec, take_away
from explorer.uploads import LARGEST, say_why_not, taken, wrong_in_words

WHY_NOT = "sweep-why-not"
OTHERS = "as-built-others"
INVENTED = "invented.csv"
_OF = {
    "box": "The finished box", "free": "One driver alone, in free air", "loaded": "The same with a mass on its cone",
    "closed": "The same in a closed test box",
}  # fmt: skip
_ASKED = {"loaded": "Mass on the cone", "closed": "Volume of air in the test box, driver in it"}


@st.cache_resource(show_spinner=False)
def checks() -> Checks:
    return Checks()


def page() -> None:
    job = frame.present_job()
    st.header("As built")
    if job.pick is None:
        st.info("Pick the design that was built on Trade-offs: its finished box is held against it here.")
        st.page_link("views/trade_offs.py", label="Go to Trade-offs", icon=":material/scatter_plot:")
        return
    frame.await_ready()
    design = panels.judged(job.pick, job)
    if design is None:
        st.warning("The pick comes from a scenario that this version no longer reads.")
        return
    st.caption(
        "Measure the impedance of the finished box once, and this page says what it is tuned to, what to cut or "
        "add, how it plays, and what the driver really is."
    )
    row = design.row
    tuned = f", tuned to {figure('tuning_hz', row['tuning_hz'], job.units)}" if KINDS[row["box_kind"]].tuned else ""
    st.markdown(
        f"**{plain(row['id'])}: {KINDS[row['box_kind']].label}, {plain(drivers(row))}**{tuned}. "
        f"Sweeps are taken at its terminals, wired as designed: {plain(row['wiring'])}."
    )
    panels.older_than_the_job(design, job)
    given, came = st.columns([2, 3], gap="large")
    with given:
        inputs(job, design)
    with came:
        done = result(job, job.pick, design)
    # Over the whole width: beside the form tables would be too narrow to read.
    if done is not None:
        figures(job, design, done)
        the_others(job, job.pick, done)


def inputs(job: Job, design: JudgedDesign) -> None:
    st.subheader("Sweeps")
    slot(job, "box")
    if "box" not in job.sweeps:
        st.button(
            "Try it with an invented sweep", key="invented", type="tertiary", icon=":material/science:",
            on_click=take_invented, args=(job, design),
        )  # fmt: skip
    say_why_not(WHY_NOT)
    with st.expander("The driver alone, for Vas", icon=":material/speaker:", expanded=len(job.sweeps) > 1):
        for line in measured.VAS_HOW_TO:
            st.markdown(line)
        for of in ("free", "loaded", "closed"):
            slot(job, of)
    with st.expander("How to measure", icon=":material/help:"):
        st.markdown("\n".join(f"{number}. {line}" for number, line in enumerate(measured.HOW_TO, start=1)))
        panels.caution(measured.CAUTIONS)
    with st.expander("What is held known", icon=":material/lock:"):
        st.caption("The sweeps tell as much as they can. What you hold here stays as data sheet and drawing have it.")
        names = [name for name in measured.FIGURES if name in PRIORS and name not in ("le", "n", "l2", "r2")]
        key = f"held:{job.id}"
        st.multiselect(
            "Hold", names, hold(key, [name for name in names if name in job.held]), key=key, placeholder="Nothing",
            format_func=lambda name: measured.FIGURES[name][0], on_change=take_held, args=(job, key),
        )  # fmt: skip


def slot(job: Job, of: str) -> None:
    """One sweep: the file that is here, or a place to put it."""
    if of in job.sweeps:
        with st.container(border=True):
            points = job.sweeps[of]["text"].count("\n") - 1
            st.markdown(f"**{_OF[of]}**  \n{plain(job.sweeps[of]['name'])}, {points} points")
            if of in AMOUNTS:
                amount(job, of)
            st.button(named("Remove", _OF[of]), key=f"remove:{of}", type="tertiary", on_click=forget, args=(job, of))
        return
    key = f"sweep:{of}:{job.id}:{job.revision}"
    st.file_uploader(
        f"{_OF[of]}: a sweep as a file", type=["csv", "txt", "tsv", "dat"], key=key, max_upload_size=LARGEST,
        on_change=take_upload, args=(job, of, key),
        help="Frequency and impedance, perhaps phase, as the instrument writes them: any separator, decimal point or "
        "comma, in any order where a line names the columns.",
    )  # fmt: skip


def amount(job: Job, of: str) -> None:
    key = f"amount:{of}:{job.id}:{job.revision}"
    example = "50 g" if of == "loaded" else "30 L"
    stated = hold(key, job.sweeps[of]["amount"])
    st.text_input(_ASKED[of], stated, key=key, placeholder=example, on_change=take_amount, args=(job, of, key))
    if amount_of(job, of) is None:
        st.caption(
            f":material/error: Expected an amount with its unit, such as {example}; without it this is left out."
        )


def take_upload(job: Job, of: str, key: str) -> None:
    """Keep an uploaded sweep with the job, or say line by line what is wrong with it."""
    found = taken(key, WHY_NOT, job.units, lambda data, name: parse_sweep(text_of(data), source=name))
    if found is not None:
        keep(job, of, found[0], sweep_text(found[1]))


def take_invented(job: Job, design: JudgedDesign) -> None:
    keep(job, "box", INVENTED, sweep_text(invented(design)))


def keep(job: Job, of: str, name: str, text: str) -> None:
    job.sweeps = {**job.sweeps, of: {"name": name, "amount": "", "text": text}}


def forget(job: Job, of: str) -> None:
    memory()[WHY_NOT] = []
    job.sweeps = {key: each for key, each in job.sweeps.items() if key != of}


def take_amount(job: Job, of: str, key: str) -> None:
    stated = said(key)
    try:
        parse(with_unit(stated, AMOUNTS[of], job.units), AMOUNTS[of])
        stated = with_unit(stated, AMOUNTS[of], job.units)
    except NotAQuantity:
        pass  # it is told beside the field
    job.sweeps = {**job.sweeps, of: {**job.sweeps[of], "amount": stated}}


def take_held(job: Job, key: str) -> None:
    job.held = list(said(key))


def result(job: Job, chosen: Chosen, design: JudgedDesign) -> AsBuilt | None:
    """What the sweeps come to, or why nothing; gives what does."""
    st.subheader("What was built")
    if not {"box", "free"} & set(job.sweeps):
        st.info("Add a sweep of the finished box, or of its driver alone, and the answer stands here.")
        return None
    with st.spinner("Reading the sweeps …"):
        done = checks().of(job, chosen, design)
    if isinstance(done, InputFaults):
        told = "\n".join(f"- {line}" for line in wrong_in_words(done.faults, job.units))
        st.error(f"No figure comes of this:\n{told}")
        return None
    if isinstance(done, WedgefrontError):
        st.error(plain(done.told(FormVoice(job.units))))
        return None
    first, *rest = measured.told(done, job.units)
    if job.sweeps.get("box", {}).get("name") == INVENTED:
        panels.caution("The sweep is invented, to show what a real one comes to. Go by none of these figures.")
    st.markdown(f"**{plain(first)}**")
    st.markdown("\n".join(f"- {plain(line)}" for line in rest))
    paper, _ = frame.ink()
    spec = spec_of(measured.chart(done, paper))
    said = plain(measured.seen(done, job.units))
    st.markdown(f"**{linked('Impedance, measured over foreseen', 'impedance')}**")
    st.vega_lite_chart(spec, width="stretch", key="as-built", alt=f"Impedance, measured and foreseen. {said}")
    st.caption(said)
    take_away([of_spec("Impedance as built", spec, paper)], key="as-built")
    return done


def figures(job: Job, design: JudgedDesign, done: AsBuilt) -> None:
    """Every figure found, and what the box plays beside what was promised."""
    st.subheader("Figures")
    table(measured.HEADINGS, measured.parameters(done, job.units))
    if done.fit.box is not None:
        st.subheader("How it plays")
        headings, rows = measured.standing(done, job.units, design.scenario.currency)
        st.markdown("\n".join(f"- {plain(line)}" for line in measured.limits_told(done, job.units)))
        table(headings, rows)


def table(headings: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """Figures side by side, none broken from its unit."""
    kept = [[row[0], *(_unbroken(cell) for cell in row[1:])] for row in rows]
    text_table(pd.DataFrame(kept, columns=list(headings)), hide_index=True)


def _unbroken(cell: str) -> str:
    """A cell's figures with their units, which may be broken between two of them."""
    return " to ".join(part.replace(" ", "\N{NO-BREAK SPACE}") for part in cell.split(" to "))


def the_others(job: Job, chosen: Chosen, done: AsBuilt) -> None:
    st.subheader("The job's other designs")
    found = job.found
    if found is not None and searched(found.document) == searched(chosen.document):
        key, asked = f"{OTHERS}:{job.id}", json.dumps([job.sweeps, job.held, chosen.row["id"]], sort_keys=True)
        st.button(
            "Judge the front with the driver as measured", key="others", icon=":material/refresh:",
            on_click=lambda: memory().__setitem__(key, asked),
        )  # fmt: skip
        if memory().get(key) == asked:
            with st.spinner("Judging the front again …"):
                others = checks().others(job, chosen, found, done)
            st.markdown("\n".join(f"- {plain(line)}" for line in measured.others_told(done, others, job.units)))
    st.button(
        "Put the measured driver into the job", key="take-driver", icon=":material/add:", on_click=take_driver,
        args=(job, done),
        help="Its figures take the place of the data sheet's; searches then go by them. Undo takes it back.",
    )  # fmt: skip


def take_driver(job: Job, done: AsBuilt) -> None:
    """The figures measured in place of those of the data sheet; a step that undo takes back."""
    job.document = with_measured_driver(job.document, done, job.units)
    job.revision += 1
    frame.notice("The driver of the job now has the figures measured. Searches go by them; Undo takes it back.")


page()
