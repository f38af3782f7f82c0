"""Shortlist: up to five picks laid over each other, compared in words, made into a sheet for the customer."""

from __future__ import annotations

import pandas as pd
import streamlit as st

from engine.kinds import KINDS
from engine.quantities import MISSING
from engine.report.compared import beside, figures_told, label_of
from engine.report.curves import marks_in_words, title_of
from engine.report.ink import LETTERS
from engine.report.portrait import Portrait, lay_over
from engine.report.wording import drivers, figure_of, openings, outside
from explorer import frame, panels, specs
from explorer.customer import customer_sheet
from explorer.explained import linked
from explorer.hearing import hear
from explorer.markdown import plain, text_table
from explorer.plain_sight import named
from explorer.session import Job, searched
from explorer.take_away import of_curves, take_away

# As many side by side as are wide enough to be read.
ABREAST = """<style>
.st-key-shortlist-cards { display: grid; grid-template-columns: repeat(auto-fill, minmax(min(14rem, 100%), 1fr)); }
.st-key-shortlist-cards > div { width: auto; height: auto; }
</style>"""


def page() -> None:
    job = frame.present_job()
    st.header("Shortlist")
    if not job.shortlist:
        st.info("Nothing here yet. Pick a design on Trade-offs and add it: up to five stand side by side here.")
        st.page_link("views/trade_offs.py", label="Go to Trade-offs", icon=":material/scatter_plot:")
        return
    frame.await_ready()
    designs = frame.judged_designs().all_of(job.shortlist, job.source)
    shown = [
        (chosen, Portrait(design, letter))
        for letter, chosen, design in zip(LETTERS, job.shortlist, designs, strict=False)
        if design is not None
    ]
    portraits = [portrait for _, portrait in shown]
    if len(portraits) < len(job.shortlist):
        st.warning("Some designs here come from a scenario that this version no longer reads; they are left out.")
    cards(job, portraits)
    in_words(job, portraits)
    curves(job, portraits)
    panels.caution(panels.HEARING)
    hear({portrait.letter: portrait.design for portrait in portraits}, units=job.units, key=job.id)
    figures(job, portraits)
    customer_sheet(job, shown)
    drawings(job, portraits)


def cards(job: Job, portraits: list[Portrait]) -> None:
    st.html(ABREAST)
    with st.container(key="shortlist-cards"):
        for portrait in portraits:
            card(job, portrait)


def card(job: Job, portrait: Portrait) -> None:
    """One design: what it is, and what can be done with it here."""
    place = LETTERS.index(portrait.letter)
    with st.container(border=True):
        row = portrait.row
        st.markdown(f"#### {portrait.letter}\n**{KINDS[row['box_kind']].label}, {plain(drivers(row))}**")
        st.markdown(f"{outside(row, job.units)}; {plain(openings(row, job.units))}")
        if searched(job.shortlist[place].document) != searched(job.document):
            st.caption(":material/history: Found before you changed the job.")
        with st.container(horizontal=True, gap="xsmall"):
            if place:  # the first has none before it, whether cards stand side by side or one below the other
                label = f"Put {portrait.letter} before {LETTERS[place - 1]}"
                st.button(label, key=f"left:{place}", type="tertiary", on_click=move, args=(job, place))
            label = named("Remove", portrait.letter)
            st.button(label, key=f"remove:{place}", type="tertiary", on_click=remove, args=(job, place))


def in_words(job: Job, portraits: list[Portrait]) -> None:
    if len(portraits) < 2:
        return
    st.subheader("How they differ")
    first = portraits[0]
    lines = [f"- {plain(beside(first, other, job.units))}" for other in portraits[1:]]
    st.markdown("\n".join(lines))


def curves(job: Job, portraits: list[Portrait]) -> None:
    st.subheader("Curves over each other")
    paper, _ = frame.ink()
    drawing = lay_over(portraits, units=job.units, ink=paper, hover=True)
    for pair in panels.in_pairs(list(specs.curves(tuple(portraits), job.units, paper).items())):
        for column, (name, (spec, told)) in zip(st.columns(2), pair, strict=False):
            title = title_of(name, drawing)
            column.markdown(f"**{linked(title, name)}**")
            column.vega_lite_chart(spec, width="stretch", key=f"shortlist:{name}", alt=told)
            if name == "response" and (words := marks_in_words(drawing)):
                column.caption(words)
    take_away(of_curves(portraits, job.units), key="shortlist")


def figures(job: Job, portraits: list[Portrait]) -> None:
    st.subheader("Figures")
    scenarios = [portrait.scenario for portrait in portraits]
    rows = {
        label_of(key, scenarios): {
            portrait.letter: figure_of(portrait.row, key, job.units, portrait.scenario.currency)
            for portrait in portraits
        }
        for key in figures_told(portraits)
    }
    table = pd.DataFrame.from_dict(rows, orient="index")
    text_table(table[(table != MISSING).any(axis=1)])


def drawings(job: Job, portraits: list[Portrait]) -> None:
    st.subheader("In the space")
    for portrait in portraits:
        st.markdown(f"**{portrait.letter}**")
        panels.drawings(portrait.design, job.units, portrait.letter)


def move(job: Job, place: int) -> None:
    """Swap with the one before; letters follow places."""
    job.shortlist[place - 1], job.shortlist[place] = job.shortlist[place], job.shortlist[place - 1]


def remove(job: Job, place: int) -> None:
    del job.shortlist[place]


page()
