"""Text in cells of CSV files, promises to the user: no name becomes a formula, and none is lost."""

from __future__ import annotations

import pandas as pd
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.formats.cells import csv_text, guarded, unguarded
from engine.formats.front import csv_text as front_text
from engine.formats.front import parse_table
from tests.explorer.conftest import invented_front

NAMES = ["=1+1", "+49 30", "-x", "@SUM(A1)", "\t=1", "\r=1", "'=x", "''+1", "'quoted", "compact 8", ""]


@pytest.mark.parametrize("name", NAMES)
def test_no_cell_begins_like_a_formula_and_reads_back(name: str) -> None:
    assert guarded(name)[:1] not in ("=", "+", "-", "@", "\t", "\r")
    assert unguarded(guarded(name)) == name


@given(st.text())
def test_any_text_reads_back(text: str) -> None:
    assert unguarded(guarded(text)) == text


def test_numbers_stay_numbers() -> None:
    assert csv_text(pd.DataFrame({"=a": ["-1"], "b": [-1.5]})) == "'=a,b\n'-1,-1.5\n"


def test_a_front_with_such_a_driver_reads_back() -> None:
    front = invented_front(4)
    front["driver"] = ["=HYPERLINK(1)", "@a", "'-b", "Ten"]
    text = front_text(front)
    assert ",=HYPERLINK" not in text
    assert parse_table(text)["driver"].tolist() == front["driver"].tolist()
