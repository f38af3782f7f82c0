"""Boards and sheets, and the order at the saw, of a design on the page Build sheet."""

from __future__ import annotations

from functools import partial

import streamlit as st

from engine.judged import JudgedDesign
from engine.report.build_sheet import to_buy_section
from engine.report.cutting import saw_text, sheet_lines
from engine.report.sheet import file_name
from engine.workshop.sawing.words import AT_IT, MANUAL, several, steps, summary
from explorer import blocks, panels
from explorer.boards import box_now, sawn_now
from explorer.markdown import plain
from explorer.session import Job
from explorer.take_away import of_drawing, take_away

PICTURE = 620  # px, at most


def to_buy(design: JudgedDesign, job: Job) -> None:
    """What is bought, in amounts that follow from the box and its sheets."""
    if (cut := sawn_now(design, job)) is not None and (found := box_now(design, job)) is not None:
        measured, box = found
        blocks.show(to_buy_section(box, measured, cut, job.units).blocks)


def boards_and_sheets(design: JudgedDesign, job: Job) -> None:
    """Sheets with what lies on them, what they cost and how well they are used."""
    if (cut := sawn_now(design, job)) is None:
        return
    st.markdown("\n".join(f"- {plain(line)}" for line in sheet_lines(cut, design, job.units)))
    for plan in cut.sheets.plans:
        seen = f"Sheet {plan.number}: {'; '.join(several(each.blank.names) for each in plan.placed)}"
        svg = cut.drawing(plan, job.units)
        with st.container(width=PICTURE):
            panels.show_svg(svg, seen)
            take_away([of_drawing(f"Sheet {plan.number}", partial(str, svg))], key=f"sheet:{plan.number}")


def at_the_saw(design: JudgedDesign, job: Job) -> None:
    """Every cut in order, each setting once."""
    if (cut := sawn_now(design, job)) is None:
        return
    panels.caution(plain(MANUAL))
    st.markdown(plain(summary(cut.sheets, cut.order)))
    for number, step in enumerate(steps(cut.sheets, cut.order, job.units), start=1):
        st.markdown(f"#### {number}. {plain(step.heading)}")
        for caution in step.cautions:
            panels.caution(plain(caution))
        st.markdown("\n".join(map(_point, step.lines)))
    st.download_button(
        "Order at the saw, Text", lambda: saw_text(cut, job.units), key="saw:txt",
        file_name=file_name(job.title, f"{design.row['id']} saw", "txt"), mime="text/plain",
        icon=":material/download:", on_click="ignore",
    )  # fmt: skip


def _point(line: str) -> str:
    """A line as a point of a list, what is cut at a setting below it."""
    return f"  - {plain(line.removeprefix(AT_IT))}" if line.startswith(AT_IT) else f"- {plain(line)}"
