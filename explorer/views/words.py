"""Words: everything that the pages take for granted, explained as a builder would."""

from __future__ import annotations

import streamlit as st

from engine.words.glossary import TOPICS, Term
from explorer import frame
from explorer.explained import said_by
from explorer.markdown import plain


def page() -> None:
    if frame.job_at_hand() is None:  # else the menu leads back
        st.page_link(frame.JOBS, label="Jobs", icon=":material/arrow_back:")
    st.header("Words")
    wanted = st.text_input("Find a word", placeholder="such as tuning", key="wanted-word").strip().casefold()
    found = {
        topic: [term for term in terms if wanted in f"{term.name} {term.meaning}".casefold()]
        for topic, terms in TOPICS.items()
    }
    if not any(found.values()):
        st.info("None of the words here is or speaks of that.")
    for topic, terms in found.items():
        if terms:
            st.subheader(topic, anchor=False)
            st.markdown("\n\n".join(map(told, terms)))


def told(term: Term) -> str:
    """A word, what it means, and who defined it."""
    source = f" *{plain(said_by(term))}*" if term.source else ""
    return f"**{plain(term.name)}**  \n{plain(term.meaning)}{source}"


page()
