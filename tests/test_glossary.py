"""The glossary, promises to the user: what a builder may not know is explained, once, where it stands."""

from __future__ import annotations

import re

import pytest

from engine.columns import COLUMNS
from engine.datasheet import CROSS_CHECKED, THIELE_SMALL
from engine.formats.fields import FIELDS, TABLES
from engine.goals import level_key
from engine.report.curves import CHARTS
from engine.words.glossary import TERMS, TOPICS, term_at

EVERY = [term for terms in TOPICS.values() for term in terms]


@pytest.mark.parametrize(
    "key",
    ["f3", "tuning", "xmax", "group-delay", "leakage", "qts", "vas", "port-air-speed", "sensitivity", "high-pass"],
)
def test_what_builders_ask_for_is_there(key: str) -> None:
    assert TERMS[key].meaning.endswith(".")


def test_every_word_stands_where_there_is_such_a_thing() -> None:
    fields = {f"{table}.{field.key}" if table else field.key for table, each in FIELDS.items() for field in each}
    inner = {f"{table}.{each.key}".lstrip(".") for table, tables in TABLES.items() for each in tables}
    assert {place for term in EVERY for place in term.places} <= fields | inner | set(COLUMNS) | set(CHARTS)


def test_every_figure_of_a_data_sheet_is_explained() -> None:
    assert all(term_at(f"driver.{field.key}") for field in (*THIELE_SMALL, *CROSS_CHECKED))


def test_what_is_said_of_a_table_holds_for_its_fields() -> None:
    assert term_at("space.openness.front") is TERMS["openness"]
    assert term_at(level_key(30)) is TERMS["level"]
    assert term_at("driver.name") is None


def test_each_word_is_explained_once_and_in_sentences() -> None:
    assert len({term.key for term in EVERY}) == len(EVERY) == len({term.meaning for term in EVERY})
    for term in EVERY:
        assert re.fullmatch(r"[a-z0-9]+(-[a-z0-9]+)*", term.key)  # a part of an address and of a class
        assert re.match(r"[A-Z0-9]", term.meaning), term.key
        assert "  " not in term.meaning


def test_every_chart_is_explained() -> None:
    assert all(map(term_at, CHARTS))
