"""A change of theme, light or dark, seen while a page stands: what is drawn in its colours is then drawn anew."""

from __future__ import annotations

import streamlit as st

from explorer import frame
from explorer.packaged import packaged

_component = st.components.v2.component(
    "wedgefront_theme",
    html='<div class="paper" aria-hidden="true"></div>',
    css=packaged("theme.css"),
    js=packaged("theme.js"),
)


def mount() -> None:
    """Have the page run again when its theme becomes another than the one it was drawn in; takes no room."""
    _, dark = frame.ink()
    with st.container(key="unseen-theme"):
        _component(key="theme", data={"dark": dark}, on_changed_change=lambda: None)
