"""Boards, order of work and files of a design on the page Build sheet."""

from __future__ import annotations

from collections.abc import Callable
from datetime import date, datetime
from functools import lru_cache

import streamlit as st

from engine.build import built
from engine.errors import InputFaults
from engine.formats.box import NAME, box_text
from engine.formats.fields import FIELDS
from engine.judged import JudgedDesign
from engine.quantities import Units
from engine.report.blocks import Caution, Steps
from engine.report.build_sheet import (
    board_page,
    build_sheet_of,
    build_sheet_pdf,
    cutting_list,
    pipe_sections,
    views_section,
    warnings,
)
from engine.report.cutting import Sawn, sawn_of
from engine.report.order_of_work import order_of_work
from engine.report.sheet import file_name
from engine.report.typeset import Paper
from engine.report.work.cautions import GENERAL
from engine.scenario import Build
from engine.workshop.alike import alike, names_of
from engine.workshop.board import Box
from explorer import blocks, panels
from explorer.inputs import Form
from explorer.markdown import plain
from explorer.memory import memory
from explorer.plainly import plainly
from explorer.reading import build_now, read
from explorer.session import Job

_PAPERS: dict[Paper, str] = {"a4": "A4", "letter": "Letter"}
_HERE = ("build",)  # of the job's document
KEPT = "cut"  # the last design that was cut, with how
AS_FOUND = (
    "Something in the job cannot be read as it stands, so this is the box as the job had it built when the design was "
    "found. Put that right before you saw."
)


@lru_cache(maxsize=4)
def box_for(design: JudgedDesign, build: Build) -> tuple[JudgedDesign, Box]:
    """A design as it is built.  Raises InputFaults where the board as measured leaves its parts no room."""
    return built(design, build)


def how_built(job: Job, *, double: bool) -> None:
    """Joints, the board as measured and glue strips, as the job has them: everything on the page goes by these.

    The second layer is asked for where the baffle is ``double``, or the job states it.
    """
    reading = read(job.document, job.source)
    form = Form(job, reading)
    stated = job.document.get("build", {})
    keys = [field.key for field in FIELDS["build"] if field.key != "baffle_layer" or double or "baffle_layer" in stated]
    form.fields("build", keys, _HERE, across=len(keys))
    form.faults(_HERE)
    if reading.scenario is None:
        panels.caution(AS_FOUND)


def views(design: JudgedDesign, job: Job) -> None:
    """The box in its space, from the side, from above and square on, with the board as measured."""
    if (found := box_now(design, job)) is not None:
        measured, _ = found
        blocks.show(views_section(measured, job.units).blocks)


def boards(design: JudgedDesign, job: Job) -> None:
    """The cutting list, then one board at a time, then the pipes."""
    if (found := box_now(design, job)) is None:
        return
    _, box = found
    blocks.show((cutting_list(box, job.units), *warnings(box, job.units)))
    groups = alike(box.boards)
    names = [f"{number}. {names_of(same)}" for number, same in enumerate(groups, start=1)]
    chosen = st.selectbox("Board", names, key=f"board:{job.id}")
    number = names.index(chosen) + 1
    blocks.show((board_page(box, groups[number - 1], number, job.units),))
    for pipes in pipe_sections(box, job.units):
        st.markdown(f"**{pipes.title}**")
        blocks.show(pipes.blocks)


def work(design: JudgedDesign, job: Job) -> None:
    """The steps from board to box."""
    if (found := box_now(design, job)) is not None:
        measured, box = found
        blocks.show(
            (
                Caution(GENERAL),
                Steps(order_of_work(box, measured.scenario, job.units)),
            )
        )


def files(design: JudgedDesign, job: Job) -> None:
    """Everything to print, to load and to keep; each made when it is asked for."""
    if (cut := sawn_now(design, job)) is None or (found := box_now(design, job)) is None:
        return
    st.markdown(
        "The build sheet has all of this page on paper. Templates are full size: print them at 100 % and check the "
        "rulers on every page. DXF is in millimetres, a file for each board that differs, kerf not compensated."
    )
    measured, box = found
    today = datetime.now().astimezone().date()
    offered: list[tuple[str, str, str, str, Callable[[], bytes | str]]] = []
    for paper, name in _PAPERS.items():
        printed = _Printed(measured, box, cut, job.units, paper, today)
        offered.append((f"Build sheet, {name}", f"build sheet {name}", "pdf", "application/pdf", printed.sheet))
        offered.append((f"Templates, {name}", f"templates {name}", "pdf", "application/pdf", printed.templates))
    outlines = _Printed(measured, box, cut, job.units, "a4", today).outlines
    offered.append(("Boards, DXF", "boards", "zip", "application/zip", outlines))
    offered.append((NAME, "box", "json", "application/json", lambda: box_text(box)))
    with st.container(horizontal=True):
        for label, stem, ending, mime, make in offered:
            st.download_button(
                label, make, file_name=file_name(job.title, f"{design.row['id']} {stem}", ending), mime=mime,
                key=f"build:{stem}", icon=":material/download:", on_click="ignore",
            )  # fmt: skip


def box_now(design: JudgedDesign, job: Job) -> tuple[JudgedDesign, Box] | None:
    """The design, judged with the board as measured, and its box; nothing, and why, where that cannot be built."""
    try:
        return box_for(design, build_now(design, job))
    except InputFaults as error:
        panels.caution(plain("; ".join(plainly(fault, job.units) for fault in error.faults)))
        return None


def sawn_now(design: JudgedDesign, job: Job) -> Sawn | None:
    """How it is cut, worked out once; None, and why, where it has no room for the board as measured."""
    asked = (design.scenario.digest, str(design.row["id"]), build_now(design, job), job.units)
    kept = memory().get(KEPT)
    if kept is None or kept[0] != asked:
        if (found := box_now(design, job)) is None:
            return None
        measured, box = found
        kept = memory()[KEPT] = (asked, sawn_of(box, measured, job.units))
    cut: Sawn = kept[1]
    return cut


class _Printed:
    """What is made of a box when somebody asks for it.  DXF takes a second to load, so not before."""

    def __init__(
        self, design: JudgedDesign, box: Box, cut: Sawn, units: Units, paper: Paper, written: date
    ) -> None:  # fmt: skip
        self.design, self.box, self.cut, self.units, self.paper, self.written = design, box, cut, units, paper, written

    def sheet(self) -> bytes:
        return build_sheet_pdf(
            build_sheet_of(self.box, self.design, self.cut, self.units, written=self.written), self.paper
        )

    def templates(self) -> bytes:
        from engine.report.build_files import templates_of_build

        return templates_of_build(self.box, self.units, self.paper, self.written)

    def outlines(self) -> bytes:
        from engine.report.build_files import outlines, zipped

        return zipped(outlines(self.box, self.written))
