"""Build sheet: what the workshop needs of one design, section by section."""

from __future__ import annotations

from collections.abc import Callable
from functools import partial

import streamlit as st

from engine.judged import JudgedDesign
from engine.kinds import KINDS
from engine.report.cutting import AT_THE_SAW, SHEETS
from engine.report.ink import LETTERS
from engine.report.set_up import TITLE as SET_UP
from engine.report.wording import drivers, openings, outside
from explorer import frame, panels
from explorer.boards import boards, files, how_built, views, work
from explorer.cutting import at_the_saw, boards_and_sheets, to_buy
from explorer.further import one_of
from explorer.markdown import plain
from explorer.memory import hold, said
from explorer.session import Chosen, Job
from explorer.set_up import set_up

# What stands on it, one at a time, in this order.
SECTIONS: dict[str, Callable[[JudgedDesign, Job], None]] = {
    "Views": views,
    "To buy": to_buy,
    "Panels": boards,
    SHEETS: boards_and_sheets,
    AT_THE_SAW: at_the_saw,
    "Order of work": work,
    SET_UP: set_up,
    "Files": files,
}


def page() -> None:
    job = frame.present_job()
    st.header("Build sheet")
    choices = designs(job)
    if not choices:
        st.info("Nothing to build yet. Pick a design on Trade-offs, or put some on the shortlist.")
        st.page_link(frame.TRADE_OFFS, label="Go to Trade-offs", icon=":material/scatter_plot:")
        return
    chosen = choices[choose(job, list(choices))]
    frame.await_ready()
    design = panels.judged(chosen, job)
    if design is None:
        st.warning("This design comes from a scenario that this version no longer reads.")
        return
    row = design.row
    kind = f"**{KINDS[row['box_kind']].label}, {plain(drivers(row))}**"
    st.markdown(f"{kind}  \n{outside(row, job.units)}; {plain(openings(row, job.units))}")
    panels.older_than_the_job(design, job)
    how_built(job, double=str(row["baffle"]) == "double")
    one_of(
        {title: partial(_section, title, design, job) for title in SECTIONS}, "Part of the build sheet",
        f"build-part:{job.id}",
    )  # fmt: skip


def _section(title: str, design: JudgedDesign, job: Job) -> None:
    st.subheader(title)
    SECTIONS[title](design, job)


def designs(job: Job) -> dict[str, Chosen]:
    """The designs that it can be of, by what they are called: the pick, then the shortlist's others."""
    found = {} if job.pick is None else {f"The pick, {job.pick.row['id']}": job.pick}
    for letter, chosen in zip(LETTERS, job.shortlist, strict=False):
        if chosen != job.pick:
            found[f"{letter} of the shortlist, {chosen.row['id']}"] = chosen
    return found


def choose(job: Job, names: list[str]) -> str:
    """Which of them; the pick at first."""
    if len(names) == 1:
        st.caption(plain(names[0]))
        return names[0]
    key = f"build:{job.id}"
    if said(key) not in names:
        hold(key, names[0])
    return st.selectbox("Design", names, key=key)


page()
