"""Text at the door and names of files, promises to the user."""

from __future__ import annotations

import re
import unicodedata

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.file_names import MOST_BYTES, file_name, stem
from engine.markup import in_markup
from engine.plain_text import all_cleaned, cleaned, shown, unfit_in
from tests.explorer.hostile import TEXTS, UNFIT

ANY = st.text(st.characters(codec=None, exclude_categories=()))  # halves of pairs among them


@pytest.mark.parametrize("kind", [kind for kind in UNFIT if kind != "endless"])
def test_what_nobody_can_read_is_found_and_left_out(kind: str) -> None:
    assert unfit_in(UNFIT[kind])
    assert not unfit_in(cleaned(UNFIT[kind]))
    assert not unfit_in(shown(UNFIT[kind]))


@pytest.mark.parametrize("text", TEXTS.values())
def test_text_stays_as_it_is(text: str) -> None:
    assert unfit_in(text) == ""
    assert cleaned(text) == text.strip()


@given(ANY)
def test_of_any_text_what_passes_can_be_written_and_is_one_line(text: str) -> None:
    for passed in (cleaned(text), shown(text)):
        assert passed.encode("utf-8").decode("utf-8") == passed
        assert len(passed.splitlines()) <= 1
    assert all_cleaned({"a": [text]})["a"][0].encode("utf-8") is not None


@given(ANY, st.sampled_from(["pdf", "wedgefront"]))
def test_any_title_makes_a_name_that_any_disk_takes(title: str, ending: str) -> None:
    name = file_name(title, title, ending=ending, usual="job")
    bare = name.removesuffix(f".{ending}")
    assert name.endswith(f".{ending}")
    assert 0 < len(bare.encode("utf-8")) <= MOST_BYTES + 4
    assert all(unicodedata.category(sign)[0] in "LMN" or sign in "-_" for sign in bare)
    assert bare[0] not in "-_"
    assert not re.fullmatch(r"con|prn|aux|nul|com\d|lpt\d", bare, re.IGNORECASE)


@pytest.mark.parametrize("name", ["CON", "aux", "Nul", "com1", "LPT\N{SUPERSCRIPT TWO}", "conin$"])
def test_names_that_windows_keeps_get_more(name: str) -> None:
    """As Microsoft's "Naming Files, Paths, and Namespaces" lists them, which are taken with any ending [M]."""
    assert stem(name, usual="job").lower() == f"{stem(name, usual='job').lower().removesuffix('-job')}-job"
    assert file_name(name, ending="pdf", usual="job").endswith("-job.pdf")


@given(ANY)
def test_any_text_in_markup_is_text(text: str) -> None:
    told = in_markup(text)
    assert not set("<>\"'") & set(told)
    told.encode("utf-8")
