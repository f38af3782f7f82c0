"""Boards and sheets, and the order at the saw, of a box that is built: as sections of a page and as files."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from engine.judged import JudgedDesign
from engine.quantities import Units
from engine.workshop.alike import alike
from engine.workshop.board import Box
from engine.workshop.sawing.drawing import sheet_svg
from engine.workshop.sawing.order import SawOrder, saw_order
from engine.workshop.sawing.sheets import SheetPlan, Sheets, sheets_for
from engine.workshop.sawing.words import MANUAL, about, sheet_words, steps, summary

SHEETS, AT_THE_SAW = "Boards and sheets", "At the saw"


@dataclass(frozen=True)
class Sawn:
    """A box on its sheets, and every cut from them to its boards; ``numbers`` are those of its cutting list."""

    sheets: Sheets
    order: SawOrder
    numbers: Mapping[str, int]

    def drawing(self, plan: SheetPlan, units: Units) -> str:
        """One of the sheets as SVG."""
        return sheet_svg(plan, self.sheets, self.order, self.numbers, units)


def sawn_of(box: Box, design: JudgedDesign, units: Units) -> Sawn:
    """How a box is cut, from the sheets and by the saw of its job."""
    build = design.scenario.build
    sheets = sheets_for(box.boards, build.sheets, build.cutting.usual(units), board=box.board, units=units)
    numbers = {board.name: number for number, same in enumerate(alike(box.boards), start=1) for board in same}
    return Sawn(sheets, saw_order(sheets), numbers)


def sheet_lines(cut: Sawn, design: JudgedDesign, units: Units) -> list[str]:
    """What is bought, what it costs, how well it is used."""
    scenario = design.scenario
    area = sum(piece.length * piece.width * len(piece.names) for piece in cut.sheets.pieces)
    lines = sheet_words(cut.sheets, units, currency=scenario.currency, by_area=area * scenario.stock.board_price)
    cutting = cut.sheets.cutting
    over, kerf = about(cutting.allowance, units), about(cutting.kerf, units)
    blanks = f"Sizes on the sheets are of blanks once they are ripped: {over} more wherever they are cut again after."
    return [*lines, f"{blanks} Each cut is reckoned to take a kerf of {kerf}."]


def saw_text(cut: Sawn, units: Units) -> str:
    """The order at the saw as plain text."""
    lines = [MANUAL, summary(cut.sheets, cut.order)]
    for number, step in enumerate(steps(cut.sheets, cut.order, units), start=1):
        lines += ["", f"{number}. {step.heading}"]
        lines += [f"   ! {caution}" for caution in step.cautions]
        lines += [f"   {line}" for line in step.lines]
    return "\n".join(lines) + "\n"


def cutting_files(cut: Sawn, design: JudgedDesign, units: Units) -> dict[str, str]:
    """Each sheet as a drawing, and the order at the saw as text."""
    drawn = {f"sheets/sheet-{plan.number}.svg": cut.drawing(plan, units) for plan in cut.sheets.plans}
    text = "\n".join(sheet_lines(cut, design, units)) + "\n\n" + saw_text(cut, units)
    return {"saw.txt": text, **drawn}
