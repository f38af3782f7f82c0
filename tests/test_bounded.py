"""Readers of what somebody uploads or names are bounded, promises to the user: a clear message, and soon.

How soon is measured by ``python -m tests.benchmarks.hostile``.
"""

from __future__ import annotations

import tomllib
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from engine import document
from engine.document import MOST_FAULTS, MOST_POINTS, parse_document, write_document
from engine.errors import InputFaults
from engine.formats.catalogue import read_catalogue
from engine.formats.measurement import parse_cabin
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.measured.sweep import parse_sweep
from explorer.unknown_keys import MOST, unknown_keys
from tests.hostile import DOCUMENTS, FAULTY, FIGURES, JOB, TABLES


def faults_of(read: Callable[[], Any]) -> InputFaults:
    with pytest.raises(InputFaults) as raised:
        read()
    return raised.value


@pytest.mark.parametrize("name", DOCUMENTS)
def test_a_document_that_is_none_is_refused_with_one_message(name: str) -> None:
    found = faults_of(lambda: parse_document(DOCUMENTS[name], source="x.toml"))
    assert len(found.faults) == 1
    assert len(str(found)) < 300


@pytest.mark.parametrize("name", FAULTY)
def test_of_what_is_nearly_all_at_fault_no_more_is_told_than_anybody_reads(name: str) -> None:
    stated = parse_document(FAULTY[name], source="x.toml")
    found = faults_of(lambda: parse_scenario(stated, source="x.toml"))
    assert len(found.faults) <= MOST_FAULTS + 1
    assert len(str(found)) < 60_000
    assert len(unknown_keys(stated)) <= MOST


def test_reading_stops_where_all_is_at_fault() -> None:
    name = "9000 unknown keys in 90 drivers"
    found = faults_of(lambda: parse_scenario(parse_document(FAULTY[name], source="x.toml"), source="x.toml"))
    assert found.faults[-1].code == "too_many_faults"


def test_a_known_key_is_looked_for_a_few_times_only(monkeypatch: pytest.MonkeyPatch) -> None:
    """Comparing words takes half a millisecond each."""
    looked = []
    monkeypatch.setattr(document, "nearest", lambda word, known: looked.append(word) or [])
    stated = parse_document(FAULTY["9000 unknown keys in 90 drivers"], source="x.toml")
    faults_of(lambda: parse_scenario(stated, source="x.toml"))
    assert len(looked) < 3 * document.MOST_SUGGESTED


@pytest.mark.parametrize("name", TABLES)
def test_a_catalogue_that_is_none_is_refused(name: str, tmp_path: Path) -> None:
    path = tmp_path / "drivers.csv"
    path.write_text(TABLES[name])
    found = faults_of(lambda: read_catalogue(demo_scenarios()["van-bench"], path))
    assert len(found.faults) <= MOST_FAULTS + 1
    assert {fault.source for fault in found.faults} == {str(path)}


@pytest.mark.parametrize("name", FIGURES)
@pytest.mark.parametrize("parse", [parse_cabin, parse_sweep])
def test_figures_that_are_none_are_refused(name: str, parse: Callable[..., Any]) -> None:
    found = faults_of(lambda: parse(FIGURES[name], source="x.csv"))
    assert len(found.faults) <= MOST_FAULTS + 1


def test_bounds_leave_room_for_the_largest_job() -> None:
    """A curve of the most points, the most drivers, as the program itself writes them."""
    stated = read_document(demo_scenarios()["van-bench"])
    (driver,) = stated["driver"][:1]
    stated["driver"] = [{**driver, "name": f"driver {number}"} for number in range(document.MOST_ITEMS)]
    curve = [[f"{10 + number} Hz", "1 dB"] for number in range(MOST_POINTS)]
    text = write_document(stated)
    assert parse_document(text, source="x.toml") == tomllib.loads(text)
    document.check_bounds({**stated, "cabin": {"curve": curve}}, "x.toml")


def test_an_upload_made_to_break_the_page_is_told_of(state_directory: Path) -> None:
    """Promise: a sentence on the page, and the page as it was."""
    page = AppTest.from_string(_PAGE, default_timeout=60)
    for text in (DOCUMENTS["a key of 3000 parts"], DOCUMENTS["a number of 20000 digits"], DOCUMENTS["80000 tables"]):
        page.session_state["text"] = text
        page.run()
        assert not page.exception
        assert "was not opened" in page.warning[0].value
        assert len(page.warning[0].value) < 300
    page.session_state["text"] = JOB
    page.run()
    assert not page.warning


_PAGE = """
from types import SimpleNamespace
import streamlit as st
from explorer import frame
import importlib.util, pathlib
source = pathlib.Path(frame.__file__).with_name("views") / "jobs.py"
lines = source.read_text().rstrip().removesuffix("page()")
space = {"__name__": "jobs"}
exec(compile(lines, str(source), "exec"), space)
text = st.session_state["text"].encode()
st.session_state["open-file"] = SimpleNamespace(getvalue=lambda: text, name="job.toml", file_id=text)
space["open_file"]()
frame.notices()
"""
