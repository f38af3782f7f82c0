"""The explorer's entry: pages and the frame they share."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

from explorer import explained, frame, links, live, news, plain_sight, standing, theme
from explorer.readiness import readiness

HERE = Path(__file__).parent

st.set_page_config(page_title="wedgefront", page_icon=str(HERE / "icon.svg"), layout="wide")

readiness()  # begins in the background
job = frame.open_job()
if job is not None:
    links.follow(job)
# The folder is not called "pages": Streamlit would list its files by itself until the script has run once.
jobs = st.Page(frame.JOBS, title="Jobs", icon=":material/folder_open:", url_path="jobs")
words = st.Page(frame.WORDS, title="Words", icon=":material/menu_book:", url_path="words")
inputs = st.Page(frame.SPACE_PARTS, title="Space & parts", icon=":material/straighten:", url_path="space-parts")
following = [inputs, st.Page(frame.TRADE_OFFS, title="Trade-offs", icon=":material/scatter_plot:", default=True)]
page = st.navigation(
    [
        jobs,
        st.Page(
            frame.NEW_JOB,
            title="New job",
            icon=":material/add:",
            url_path="new-job",
            visibility="visible" if job is not None and job.guide else "hidden",
        ),
        *following,
        st.Page("views/shortlist.py", title="Shortlist", icon=":material/format_list_bulleted:"),
        st.Page("views/build_sheet.py", title="Build sheet", icon=":material/carpenter:", url_path="build-sheet"),
        st.Page("views/as_built.py", title="As built", icon=":material/monitor_heart:", url_path="as-built"),
        st.Page("views/given_box.py", title="A given box", icon=":material/square_foot:", url_path="given-box"),
        words,
    ],
    position="hidden" if job is None else "sidebar",
)
if job is not None and page in following:
    live.begin_early(job)
frame.save()  # what the last click changed, before the page takes its time
if wanted := frame.asked_for():
    st.switch_page(wanted, query_params=None if job is None else {"job": job.id})
if job is not None:
    with st.sidebar:
        menu, front = st.container(), st.container()
    if page is inputs:
        # Before all else: whoever changes something looks at what becomes of the front.
        with front, frame.own_faults():
            live.beside(job)
plain_sight.plain_sight()
standing.mount()
explained.mount()
theme.mount()
if job is not None:
    frame.sidebar(menu)
    with menu:
        links.share(job)
        news.what_is_new()
elif page not in (jobs, words):
    st.switch_page(jobs)  # every other page is one of a job
frame.notices()
try:
    with frame.own_faults():
        page.run()
finally:
    frame.save(settled=True)
