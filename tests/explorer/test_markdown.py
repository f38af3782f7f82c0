"""Text as Markdown, promises to the user: whatever a name is made of, the page shows it and does nothing else."""

from __future__ import annotations

from pathlib import Path

import pandas as pd
import pytest
import streamlit as st
from playwright.sync_api import Browser

from explorer.markdown import Markdown, plain, text_table
from tests.explorer.browsing import served
from tests.explorer.hostile import TEXTS

JOINER = "\N{WORD JOINER}"
NAMES = [text for text in TEXTS.values() if "  " not in text]

# How each is found in the page: one element for each name, whose text must be the name.
WHERE = {
    "text": "[data-testid=stMarkdown] [data-testid=stMarkdownContainer]",
    "label": "[data-testid=stButton] [data-testid=stMarkdownContainer]",
    "option": "[data-testid=stRadio] label:has(input) [data-testid=stMarkdownContainer]",
    "cell": "[data-testid=stTable] td",
    "heading": "[data-testid=stTable] th",
    "hint": "[data-testid=stCaptionContainer]",
}


def page() -> None:
    """Every name in every kind of place; run by the test as a page of its own."""
    for name in NAMES:
        st.markdown(plain(name))
        st.caption(plain(name))
        st.button(plain(name))
    st.radio("Names", [plain(name) for name in NAMES])
    text_table(pd.DataFrame([NAMES], columns=NAMES), hide_index=True)
    st.markdown("all is drawn", key="done")


def test_what_is_ours_in_a_table_counts() -> None:
    """A cell of Markdown is left as it is, text and figures are not taken for any."""
    assert isinstance(plain("x"), Markdown)
    assert plain("a_b\n  c") == "a\\_b c"
    assert plain(":red[x]").replace(JOINER, "") == "\\:red\\[x\\]"


@pytest.mark.parametrize("name", NAMES)
def test_nothing_is_lost(name: str) -> None:
    """Without strokes and signs of no width it is the name."""
    told = plain(name).replace(JOINER, "")
    signs = iter(told)
    undone = [next(signs) if sign == "\\" else sign for sign in signs]
    assert "".join(undone) == name


def test_in_a_browser_names_are_shown_as_they_are(tmp_path: Path, browser: Browser) -> None:
    """Read in a real browser: each place's text is the name, and no element is in it but its paragraph."""
    script = tmp_path / "page.py"
    script.write_text("from tests.explorer.test_markdown import page\npage()\n")
    with served(tmp_path, script=script) as address:
        view = browser.new_page()
        asked: list[str] = []
        view.on("request", lambda request: asked.append(request.url))
        view.goto(address)
        view.get_by_text("all is drawn").wait_for()
        for kind, where in WHERE.items():
            view.locator(where).nth(len(NAMES) - 1).wait_for(state="attached")
            found = view.locator(where).evaluate_all(
                "all => all.map(each => [each.innerText, [...each.querySelectorAll('*')]"
                ".map(inner => inner.tagName).filter(tag => tag !== 'P' && tag !== 'DIV').join(' ')])"
            )
            shown = [text.replace(JOINER, "").strip() for text, _ in found if text.strip() != "all is drawn"]
            assert shown == NAMES, kind
            assert {tags for _, tags in found} == {""}, kind
        assert view.evaluate("window.hit") is None
        assert not [url for url in asked if not url.startswith((address, address.replace("http", "ws"), "data:"))]
        view.close()
