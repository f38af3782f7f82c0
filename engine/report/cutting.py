"""Boards and sheets, and the order at the saw, of a box that is built: as sections of a page and as files."""

from __future__ import annotations

from dataclasses import dataclass

from engine.judged import JudgedDesign
from engine.quantities import Units
from engine.workshop.board import Box
from engine.workshop.sawing.drawing import sheet_svg
from engine.workshop.sawing.order import SawOrder, saw_order
from engine.workshop.sawing.sheets import Sheets, sheets_for
from engine.workshop.sawing.words import MANUAL, about, sheet_words, steps, summary

SHEETS, AT_THE_SAW = "Boards and sheets", "At the saw"


@dataclass(frozen=True)
class Cut:
    """A box on its sheets, and every cut from them to its boards."""

    sheets: Sheets
    order: SawOrder


def cut_of(box: Box, design: JudgedDesign, units: Units) -> Cut:
    """How a box is cut, from the sheets and by the saw of its job."""
    build = design.scenario.build
    sheets = sheets_for(box.boards, build.sheets, build.cutting, board=box.board, units=units)
    return Cut(sheets, saw_order(sheets))


def sheet_lines(cut: Cut, design: JudgedDesign, units: Units) -> list[str]:
    """What is bought, what it costs, how well it is used."""
    scenario = design.scenario
    area = sum(piece.length * piece.width * len(piece.names) for piece in cut.sheets.pieces)
    lines = sheet_words(cut.sheets, units, currency=scenario.currency, by_area=area * scenario.stock.board_price)
    cutting = cut.sheets.cutting
    over, kerf = about(cutting.allowance, units), about(cutting.kerf, units)
    blanks = f"Sizes on the sheets are of blanks: rectangles with {over} more wherever they are cut again."
    return [*lines, f"{blanks} Each cut is reckoned to take a kerf of {kerf}."]


def saw_text(cut: Cut, units: Units) -> str:
    """The order at the saw as plain text."""
    lines = [MANUAL, summary(cut.sheets, cut.order)]
    for number, step in enumerate(steps(cut.sheets, cut.order, units), start=1):
        lines += ["", f"{number}. {step.heading}"]
        lines += [f"   ! {caution}" for caution in step.cautions]
        lines += [f"   {line}" for line in step.lines]
    return "\n".join(lines) + "\n"


def cutting_files(box: Box, design: JudgedDesign, units: Units) -> dict[str, str]:
    """Each sheet as a drawing, and the order at the saw as text."""
    cut = cut_of(box, design, units)
    cutting = cut.sheets.cutting
    drawn = {f"sheets/sheet-{plan.number}.svg": sheet_svg(plan, cutting, units) for plan in cut.sheets.plans}
    text = "\n".join(sheet_lines(cut, design, units)) + "\n\n" + saw_text(cut, units)
    return {"saw.txt": text, **drawn}
