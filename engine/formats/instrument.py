"""What text files of measuring instruments have in common: lines, cells, numbers as people write them."""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Iterable

from engine.errors import refusal
from engine.plain_text import shown

COMMENT = "#*%!"  # what a line that is none of figures may begin with
LONGEST_LINE = 5_000  # signs; rows of figures are far shorter
_LONGEST = 60  # signs of a line that a message shows


def check_lines(lines: Iterable[tuple[int, str]], source: str) -> None:
    """Refuse lines, each with its number, that are longer than any row of figures.  Raises InputFaults."""
    for number, line in lines:
        if len(line) > LONGEST_LINE:
            raise refusal(source, "line_too_long", key=f"line {number}", value=shortened(line), most=LONGEST_LINE)


def cells_of(line: str, separator: str) -> list[str]:
    """The cells of a line; of ``separator`` " " any white space stands between them."""
    if separator == " ":
        return line.split()
    try:
        return [cell.strip() for cell in next(csv.reader(io.StringIO(line), delimiter=separator), [""])]
    except csv.Error:  # a cell longer than any number, in quotes that are not closed
        return [line]


def is_header(cells: list[str]) -> bool:
    """Whether a row holds names: neither of its first two cells begins as a number would."""
    return all(cell and not (cell[0].isdigit() or cell[0] in "+-.,") for cell in cells[:2])


def number_in(text: str, *, comma: bool) -> float | None:
    """A finite number, its decimal sign a comma too where that is free; None where it is none."""
    if comma and "." not in text:
        text = text.replace(",", ".")
    try:
        value = float(text)
    except ValueError:
        return None
    return value if math.isfinite(value) and "_" not in text else None


def shortened(text: str) -> str:
    """A line as a message shows it."""
    return shown(text, most=_LONGEST)
