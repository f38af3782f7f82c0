"""What a workshop prints and loads: the build sheet, full-size templates, a DXF for each board that differs."""

from __future__ import annotations

import io
import zipfile
from collections.abc import Mapping
from datetime import date

from engine.judged import JudgedDesign
from engine.quantities import Units
from engine.report.blocks import Named
from engine.report.build_sheet import build_sheet_of, build_sheet_pdf
from engine.report.cutting import Sawn
from engine.report.templates_pdf import templates_pdf
from engine.report.typeset import Paper
from engine.workshop.board import Box
from engine.workshop.board_files import dxf_files
from engine.workshop.patterns import templates_of

DXF = "dxf"  # the folder of the boards' outlines


def files_to_build_from(
    box: Box, design: JudgedDesign, cut: Sawn, units: Units, *, paper: Paper, written: date
) -> dict[str, bytes]:
    """Every file by its name in the folder; the same design, units, paper and date give the same bytes."""
    return {
        "build-sheet.pdf": build_sheet_pdf(build_sheet_of(box, design, cut, units, written=written), paper),
        "templates.pdf": templates_of_build(box, units, paper, written),
        **outlines(box, written),
    }


def templates_of_build(box: Box, units: Units, paper: Paper, written: date) -> bytes:
    job = Named(job=box.title, design=str(box.row["id"]), written=written).named
    return templates_pdf(templates_of(box, units), job=job, written=written, paper=paper)


def zipped(files: Mapping[str, bytes]) -> bytes:
    """Files as one archive, the same bytes for the same files."""
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(zipfile.ZipInfo(name), content, zipfile.ZIP_DEFLATED)
    return out.getvalue()


def outlines(box: Box, written: date) -> dict[str, bytes]:
    """DXF files by their names in the folder."""
    found = dxf_files(box, design=str(box.row["id"]), written=written)
    return {f"{DXF}/{name}": drawing for name, drawing in found.items()}
