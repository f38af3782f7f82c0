"""A job's picture: its space from the side with the box picked in it."""

from __future__ import annotations

import json
from functools import lru_cache

import streamlit as st

from engine.errors import InputFaults
from engine.insight.reasons import balanced
from engine.workshop.small import small_section
from explorer import panels
from explorer.demo_fronts import stored_front
from explorer.reading import for_drawing
from explorer.session import Document, Row, row_of


def picture(document: Document, row: Row | None, alt: str) -> None:
    """The space of a job with the box of a row in it; words where the space cannot be read yet."""
    drawn = _drawn(json.dumps(document), json.dumps(row))
    if drawn:
        panels.show_svg(drawn, alt)
    else:
        st.caption("No space measured yet")


@lru_cache(maxsize=200)
def _drawn(document: str, row: str) -> str:
    scenario = for_drawing(json.loads(document))
    if scenario is None:
        return ""
    try:
        return small_section(scenario.space, json.loads(row))
    except (KeyError, TypeError, ValueError):  # a pick of another version
        return small_section(scenario.space, None)


@lru_cache(maxsize=20)
def demo_pick(name: str) -> Row | None:
    """The design that a demo's stored front opens with; None where that is another version's."""
    try:
        run = stored_front(name)
    except (OSError, InputFaults):
        return None
    return row_of(run.front, balanced(run.front, tuple(run.record["objectives"])))
