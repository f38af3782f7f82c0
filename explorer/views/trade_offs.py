"""Trade-offs: search, look over the front, pick a design and see how it plays."""

from __future__ import annotations

import streamlit as st

from explorer import frame, panels
from explorer.further import of_the_front, of_the_pick
from explorer.narrowing import drop_strange_filters
from explorer.picking import judged_now
from explorer.reading import read
from explorer.searching import search_bar, take_in

# The decision is to fit into one screen: less room round the page than Streamlit leaves.
CLOSE = """<style>
[data-testid="stMainBlockContainer"] { padding: 3.75rem 1.6rem 2rem; }
[data-testid="stMainBlockContainer"] > [data-testid="stVerticalBlock"] { gap: 0.4rem; }
[data-testid="stMainBlockContainer"] h2 { font-size: 1.4rem; padding: 0; }
[data-testid="stMainBlockContainer"] h3 { font-size: 1.2rem; }
.st-key-with-the-pick [data-testid="stColumn"]:first-child { min-width: 11rem; }
</style>"""


def page() -> None:
    job = frame.present_job()
    st.html(CLOSE)
    take_in(job)
    if job.found is not None:
        drop_strange_filters(job, job.found.front)
    search_bar(job)
    if job.found is None:
        return
    scenario = read(job.found.document, job.source).scenario
    if scenario is None:
        return
    # The front itself needs nothing worked out; what follows does.
    if not frame.is_ready():
        frame.await_ready()
        st.rerun()
    design = None if job.pick is None else judged_now(job, job.pick)
    if design is not None:
        panels.caution(panels.HEARING)
        of_the_pick(job, job.found, design)
    of_the_front(job, job.found, scenario)


page()
