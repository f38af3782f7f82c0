"""Text on pages: the one place where words that are not ours are kept from having an effect as Markdown.

Streamlit's Markdown has more than the common one: ``:red[…]``, ``$…$``, ``:material/…:``.  A stroke before most signs
takes the meaning from them.  Icons, addresses, arrows and dashes are looked for in the finished text all the same, so
those get a sign of no width into them, which nobody sees.

Labels, hints, options of radio buttons and pills, and cells of tables are Markdown too; options of a select box, what
stands in a field, descriptions of pictures and charts are not.
"""

from __future__ import annotations

import re
from typing import Any

import pandas as pd
import streamlit as st

_SIGNS = str.maketrans({sign: f"\\{sign}" for sign in r"\`*_{}[]<>()#+-.!|$~:&="})
_JOINER = "\N{WORD JOINER}"
_BREAKS = re.compile(r"[ \t]*[\r\n]\s*")
# Where something is made of finished text: :icon:, https://, www., name@place, arrows, dashes, ≤.
_FOUND_LATER = re.compile(r"(?<=:)(?=[\w+/-]+:|//)|(?<=www)(?=\.)|(?=@)|(?<=[-<>~=])(?=[-<>=])", re.IGNORECASE)


class Markdown(str):
    """Text in which Markdown counts, of our own making."""

    __slots__ = ()


def plain(text: str) -> Markdown:
    r"""User text as one line of Markdown, without any effect.

    >>> plain("a_b: [x](y)")
    'a\\_b\\: \\[x\\]\\(y\\)'
    """
    return Markdown(_FOUND_LATER.sub(_JOINER, _BREAKS.sub(" ", text)).translate(_SIGNS))


def text_table(cells: pd.DataFrame, **how: Any) -> None:
    """A table as Streamlit draws it; what in its cells and headings is not :class:`Markdown` has no effect."""
    shown = cells.map(_cell)
    shown.columns = pd.Index([_cell(name) for name in cells.columns])
    if shown.index.dtype == object:
        shown.index = pd.Index([_cell(name) for name in cells.index])
    st.table(shown, **how)


def _cell(content: object) -> object:
    return plain(content) if isinstance(content, str) and not isinstance(content, Markdown) else content
