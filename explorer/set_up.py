"""Wiring and set-up of a design on the page Build sheet."""

from __future__ import annotations

import json
from functools import partial

import pandas as pd
import streamlit as st

from engine.judged import JudgedDesign
from engine.report.set_up import Part, parts_of, text_lines
from engine.report.sheet import file_name
from explorer import panels
from explorer.markdown import plain, text_table
from explorer.session import Job
from explorer.take_away import of_drawing, take_away

PICTURE = 520  # px, at most
FIGURE = 8  # letters at most, with its unit


def set_up(design: JudgedDesign, job: Job) -> None:
    """All parts, and files of them."""
    parts = parts_of(design, job.units)
    for part in parts:
        st.markdown(f"#### {part.title}")
        show(part)
    files = {
        "Text": ("txt", "text/plain", lambda: "\n".join(text_lines(parts))),
        "JSON": ("json", "application/json", lambda: json.dumps(design.set_up.as_json(), indent=1)),
    }
    with st.container(horizontal=True):
        for label, (ending, mime, make) in files.items():
            st.download_button(
                f"Wiring and set-up, {label}",
                make,
                file_name=file_name(job.title, f"{design.row['id']} set-up", ending),
                mime=mime,
                key=f"set-up:{ending}",
                icon=":material/download:",
                on_click="ignore",
            )


def show(part: Part) -> None:
    """One part: cautions first, then what is done."""
    for caution in part.cautions:
        panels.caution(plain(caution))
    _lines(part.lines)
    if part.picture:
        with st.container(width=PICTURE):
            panels.show_svg(part.picture, part.seen)
            take_away([of_drawing(part.seen, partial(str, part.picture))], key=f"set-up:{part.title}")
    if part.steps:
        st.markdown("\n".join(f"{number}. {plain(step)}" for number, step in enumerate(part.steps, start=1)))
    _lines(part.after)
    if part.heading:
        table = pd.DataFrame(part.rows, columns=[each or " " for each in part.heading])
        text_table(table.map(_cell), border="horizontal", hide_index=True)
    if part.note:
        st.caption(plain(part.note))


def _lines(lines: tuple[str, ...]) -> None:
    for line in lines:
        st.markdown(plain(line))


def _cell(words: str) -> str:
    """What stands in a table: a figure is not broken from its unit."""
    return words.replace(" ", "\N{NO-BREAK SPACE}") if len(words) <= FIGURE else words
