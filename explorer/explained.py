"""The glossary on the pages: a word that is linked, or the question mark of its field, opens what it means.

Meanings are :mod:`engine.words.glossary`'s; the small window they open in is the browser's (``explained.js``).
"""

from __future__ import annotations

import streamlit as st

from engine.words.glossary import TERMS, Term, term_at
from explorer.labels import sentence
from explorer.markdown import Markdown, plain
from explorer.packaged import packaged

_MARK = "#word-"


_component = st.components.v2.component(
    "wedgefront_explained",
    html='<div class="word" popover="auto" role="dialog" aria-labelledby="name"></div>',
    css=packaged("explained.css"),
    js=packaged("explained.js"),
)


def mount() -> None:
    """Have the words of a page explained; once on every page, where nothing of it is seen."""
    words = {key: [each.name, each.meaning, said_by(each)] for key, each in TERMS.items()}
    with st.container(key="unseen-words"):
        _component(key="explained", data={"mark": _MARK, "words": words})


def said_by(term: Term) -> str:
    """Where a word is defined, as a line of its own; empty where it is common use."""
    return sentence(term.source) if term.source else ""


def linked(label: str, place: str) -> Markdown:
    """A label as Markdown, a link to what it means where the field or column at a place needs that."""
    term = term_at(place)
    return plain(label) if term is None else Markdown(f"[{plain(label)}]({_MARK}{term.key})")


def word(key: str, label: str = "") -> str:
    """A word in running text, linked to what it means.  Raises KeyError where there is none of that key."""
    return f"[{plain(label or TERMS[key].name)}]({_MARK}{TERMS[key].key})"


def hint(text: str, place: str) -> str:
    """The hint of a field; what its question mark opens is said in it."""
    term = term_at(place)
    return text if term is None else f"{text}\n\n*Click for what “{term.name}” means.*"


def mark(place: str) -> str:
    """What the key of a field's container starts with, so that its question mark opens the word; see the script."""
    term = term_at(place)
    return "" if term is None else f"word-{term.key}--"
