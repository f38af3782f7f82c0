"""The explorer's entry: pages and the frame they share."""

from __future__ import annotations

import logging
from pathlib import Path

import streamlit as st

from explorer import explained, frame, links, news, standing
from explorer.readiness import readiness

HERE = Path(__file__).parent
_log = logging.getLogger("explorer")

st.set_page_config(page_title="wedgefront", page_icon=str(HERE / "icon.svg"), layout="wide")

readiness()  # begins in the background
links.follow(frame.open_job())
frame.save()  # what the last click changed, before the page takes its time
# The folder is not called "pages": Streamlit would list its files by itself until the script has run once.
page = st.navigation(
    [
        st.Page("views/space_parts.py", title="Space & parts", icon=":material/straighten:", url_path="space-parts"),
        st.Page("views/trade_offs.py", title="Trade-offs", icon=":material/scatter_plot:", default=True),
        st.Page("views/given_box.py", title="A given box", icon=":material/square_foot:", url_path="given-box"),
        st.Page("views/shortlist.py", title="Shortlist", icon=":material/format_list_bulleted:"),
        st.Page("views/words.py", title="Words", icon=":material/menu_book:", url_path="words"),
    ]
)
standing.mount()
explained.mount()
frame.sidebar()
with st.sidebar:
    links.share(frame.present_job())
    news.what_is_new()
frame.notices()
try:
    page.run()
except Exception:
    # What goes wrong on a page is a fault of ours: the user keeps the frame, the inputs and the other pages.
    _log.exception("a page broke off")
    st.error(frame.OWN_FAULT)
finally:
    frame.save()
