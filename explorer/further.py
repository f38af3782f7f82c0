"""What stands below the picking surface: more of the pick, and of the front as a whole, one part at a time.

Only the part that is chosen is worked out, so that a click on the surface waits for none of them.
"""

from __future__ import annotations

from collections.abc import Callable

import streamlit as st

from engine.judged import JudgedDesign
from engine.scenario import Scenario
from explorer import panels
from explorer.groups import against, one_against_another
from explorer.markdown import plain
from explorer.memory import hold, memory, said
from explorer.pricing import price_of_space, worth_of_limits
from explorer.searching import left_out
from explorer.session import Job, SearchResult
from explorer.sure_front import sure_front

Part = Callable[[], None]


def of_the_pick(job: Job, found: SearchResult, design: JudgedDesign) -> None:
    """More about the pick."""

    def why() -> None:
        panels.wired(design)
        panels.where_the_model_stops(design)
        panels.reasons(design, job.units)
        worth_of_limits(job, found, design)

    def space() -> None:
        panels.drawings(design, job.units)
        panels.clearances(design, job.units)

    parts: dict[str, Part] = {
        "Why it is there": why,
        "All curves": lambda: panels.curves_of(design, job.units),
        "How sure": lambda: panels.how_sure(job, design),
        "High-pass": lambda: panels.high_pass_advice(job, design),
        "In its space": space,
        "Files": lambda: panels.files_of(job, design),
    }
    st.subheader(f"More about {plain(design.row['id'])}", anchor=False)
    one_of(parts, "More about the pick", f"pick-part:{job.id}")


def of_the_front(job: Job, found: SearchResult, scenario: Scenario) -> None:
    """More about the front as a whole."""
    parts: dict[str, Part] = {
        "Driver against driver": lambda: against(job, found, scenario),
        "One against another": lambda: one_against_another(job, found, scenario),
        "Price of space": lambda: price_of_space(job, found, scenario),
        "As boxes are built": lambda: sure_front(job, found, scenario),
        "Not on the front": lambda: left_out(found, job.units),
    }
    st.subheader("More about the front", anchor=False)
    one_of(parts, "More about the front", f"front-part:{job.id}")


def one_of(parts: dict[str, Part], label: str, key: str) -> None:
    """One of several parts, the first unless another is chosen; which one outlives a visit to another page."""
    kept = f"{key}:kept"
    chosen = memory().get(kept)
    chosen = chosen if chosen in parts else next(iter(parts))
    st.segmented_control(
        label,
        list(parts),
        default=hold(key, chosen),
        key=key,
        required=True,
        label_visibility="collapsed",
        on_change=lambda: memory().update({kept: said(key)}),
    )
    parts[chosen]()
