"""What cannot be built in a job: the nearest of each kind of box, driver, count and facing."""

from __future__ import annotations

from collections.abc import Sequence

import streamlit as st

from engine.facings import FACINGS
from engine.judged import JudgedDesign
from engine.openings import opening_of
from engine.quantities import Units
from engine.report import shortages
from engine.report.wording import openings, outside
from engine.search.nearest import NothingFeasible
from explorer import frame
from explorer.labels import sentence
from explorer.markdown import plain
from explorer.panels import contenders_of, show_svg
from explorer.session import Chosen, Document, Job, Row, rows_of

VIEWS = {
    "section": "The nearest design in its space, from the side; parts may overlap",
    "front": "The nearest design, from the front; parts may overlap",
}


def nothing_feasible(job: Job, document: Document, failure: NothingFeasible) -> None:
    """Of a search of ``document`` that found nothing: what each kind is short of, and the nearest drawn."""
    st.subheader("What stands in the way")
    st.markdown("\n".join(f"- {plain(sentence(shortages.left_out(entry, job.units)))}" for entry in failure.left_out))
    st.markdown("**The nearest of each**")
    one_of(job, document, rows_of(failure.misfits), key="nothing")


def one_of(job: Job, document: Document, rows: Sequence[Row], *, key: str = "misfit") -> None:
    """One of the nearest misfits of a job as it stands in ``document``, chosen by its name.

    ``key`` tells one such choice on a page from another.
    """
    names = [_name(row) for row in rows]
    chosen = st.segmented_control(
        "What cannot be built",
        list(range(len(names))),
        format_func=lambda number: plain(names[number]),
        default=0,
        required=True,
        key=f"{key}:{job.id}:{job.revision}",
        label_visibility="collapsed",
    )
    design = frame.judged_designs().of(Chosen(rows[int(chosen or 0)], document), job.source)
    if design is not None:
        _misfit(design, document, job.units)


def _name(row: Row) -> str:
    """What a design that cannot be built was to be."""
    return f"{opening_of(row).named(row)}, {int(row['driver_count'])} × {row['driver']}{FACINGS[row['facing']].words}"


def _misfit(design: JudgedDesign, document: Document, units: Units) -> None:
    """The nearest of a kind that cannot be built: what it is short of, and its picture."""
    row = design.row
    verb, short = shortages.misses(row, units)
    words, *pictures = st.columns([2, 2, 3])
    with words:
        st.markdown(f"{verb} **{plain(short)}**.\n\n{outside(row, units)}; {plain(openings(row, units))}")
        for rival in contenders_of(document):
            if (rival.driver.name, rival.count, rival.facing) == (row["driver"], row["driver_count"], row["facing"]):
                st.markdown(f"**In the largest closed box here**  \n{plain(shortages.fits_in_words(rival, units))}")
    for place, (view, alt) in zip(pictures, VIEWS.items(), strict=True):
        with place:
            show_svg(design.drawing(view, units), alt)
