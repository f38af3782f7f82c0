"""Where messages stand: those of a field at the field, and what is said when this program no longer answers.

Both are matters of style sheets alone.  The toolkit opens a window of its own once its server is gone; nothing runs
here then, so what that window says has to be in the page beforehand.
"""

from __future__ import annotations

import json

import streamlit as st

from explorer import frame
from explorer.packaged import packaged

STOPPED = "wedgefront has stopped"
WHAT_TO_DO = (
    "Nothing on this page answers until it runs again. Your job is kept: start wedgefront as you did before, "
    "and this page goes on by itself."
)


def mount() -> None:
    """Put the style of messages into a page."""
    sheet = packaged("standing.css")
    paper, _ = frame.ink()
    said = {"stopped": json.dumps(STOPPED), "what-to-do": json.dumps(WHAT_TO_DO), "paper": paper.paper}
    words = f":root {{ {' '.join(f'--{name}: {value};' for name, value in said.items())} }}"
    st.html(f"<style>{words}\n{sheet}</style>")
