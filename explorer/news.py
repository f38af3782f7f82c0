"""What is new, from the changelog beside this file."""

from __future__ import annotations

from pathlib import Path

import streamlit as st

CHANGELOG = Path(__file__).with_name("CHANGELOG.md")


def what_is_new() -> None:
    """A button that opens the changelog."""
    with st.popover("What is new", icon=":material/new_releases:", type="tertiary"):
        st.markdown(CHANGELOG.read_text(encoding="utf-8").replace("\n# ", "\n### ").removeprefix("# What is new\n"))
