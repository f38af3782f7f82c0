"""Words on the pages: linked where they stand, and none of the toolkit's where this program no longer answers."""

from __future__ import annotations

from importlib.resources import files

from engine.words.glossary import TERMS
from explorer.explained import hint, linked, mark, said_by, word
from explorer.standing import STOPPED, WHAT_TO_DO


def test_a_label_leads_to_what_it_means() -> None:
    """User's promise: one click."""
    assert linked("Worst vent air speed", "vent_speed_m_s") == "[Worst vent air speed](#word-port-air-speed)"
    assert linked("f3 [Hz]", "f3_hz") == r"[f3 \[Hz\]](#word-f3)"
    assert linked("Box", "box_kind") == "Box"
    assert word("group-delay") == "[Group delay](#word-group-delay)"


def test_the_question_mark_of_a_field_says_what_it_opens() -> None:
    """User's promise."""
    assert hint("Electrical Q at fs.", "driver.qes").endswith("*Click for what “Qts, Qes, Qms” means.*")
    assert mark("driver.qes") == "word-qts--"
    assert hint("What you call it.", "driver.name") == "What you call it."
    assert mark("driver.name") == ""


def test_a_source_is_a_sentence() -> None:
    """User's promise: where a word is defined is told, from memory where it is."""
    assert said_by(TERMS["fs"]) == "Thiele 1971 and Small 1972 to 1974, from memory."
    assert said_by(TERMS["keep-out"]) == ""


def test_nothing_is_said_of_servers_when_the_program_has_stopped() -> None:
    """User's promise; that it is this which is seen is tried in a browser."""
    for words in ("server", "streamlit", "connection", "terminal", "traceback"):
        assert words not in f"{STOPPED} {WHAT_TO_DO}".lower()
    assert "--what-to-do" in files("explorer").joinpath("standing.css").read_text(encoding="utf-8")
