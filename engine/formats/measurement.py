"""A cabin's measured transfer function from a CSV file: every line at fault is named."""

from __future__ import annotations

from pathlib import Path

import numpy as np

from engine.acoustics.cabin import MeasuredCabin
from engine.document import MOST_POINTS, read_text, stop_at_most
from engine.errors import BLANK, Fault, InputFaults, refusal
from engine.formats.instrument import cells_of, check_lines, is_header, number_in, shortened

FEWEST_POINTS = 5
FREQUENCIES = (1.0, 100_000.0)  # Hz, plausible in a file
LEVELS = (-80.0, 80.0)  # dB, plausible in a file
_BASS = (200.0, 40.0)  # Hz, a file that begins above the first or ends below the second says nothing of bass

_FREQUENCY_NAMES = ("frequency", "freq", "hz", "frequency_hz", "f", "frequency (hz)", "frequency [hz]")
_LEVEL_NAMES = ("db", "gain", "gain_db", "level", "level_db", "magnitude", "gain (db)", "level (db)", "level [db]")


def read_cabin(path: Path) -> MeasuredCabin:
    """A measured cabin from a CSV file of frequency in Hz and level in dB.

    Two columns a row, a comma, semicolon or tab between them; a semicolon or tab leaves the comma free as decimal sign,
    and where it might be either the file is refused.  Empty lines and lines that start with # or * are passed over, and
    so is one line of names before the first numbers, but dB and Hz must then not be the wrong way round.  Columns after
    the second, such as a phase, are not read.  Raises InputFaults with every fault of the file: missing, too large, not
    text, too few points, what is no number or no plausible one, frequencies that do not rise or are no bass.
    """
    return parse_cabin(read_text(path, "measurement_too_large"), source=str(path))


def parse_cabin(text: str, *, source: str) -> MeasuredCabin:
    """The same from text already read; see :func:`read_cabin`."""
    numbered = enumerate(map(str.strip, text.splitlines()), start=1)
    lines = [(number, line) for number, line in numbered if line and line[0] not in "#*"]
    if not lines:
        raise refusal(source, "measurement_empty")
    check_lines(lines, source)
    if len(lines) > MOST_POINTS + 1:  # one of names
        raise refusal(source, "many_lines", count=len(lines), most=MOST_POINTS)
    separator = next((sign for sign in ("\t", ";") if any(sign in line for _, line in lines)), ",")
    rows = [(number, line, cells_of(line, separator)) for number, line in lines]
    figures = [row for row in rows if not is_header(row[2])]
    if separator == "," and not any("." in line for _, line, _ in figures):
        for number, line, cells in figures:
            if len(cells) > 2:  # its commas may stand in its numbers
                raise refusal(source, "mixed_commas", key=f"line {number}", value=shortened(line))
    faults: list[Fault] = []
    points: list[tuple[int, float, float]] = []

    def fault(key: str, text: str, code: str, **parameters: float) -> None:
        faults.append(Fault(source, key, shortened(text), code, parameters))
        stop_at_most(faults)

    for place, (number, line, cells) in enumerate(rows):
        key = f"line {number}"
        if place == 0 and is_header(cells):
            if "khz" in cells[0].lower():
                fault(key, line, "in_kilohertz")
            elif cells[0].lower() in _LEVEL_NAMES or (len(cells) > 1 and cells[1].lower() in _FREQUENCY_NAMES):
                fault(key, line, "columns_swapped")
            continue
        if len(cells) < 2:
            fault(key, line, "few_columns")
            continue
        pair = []
        for cell, (name, (low, high)) in zip(cells, (("frequency", FREQUENCIES), ("level", LEVELS)), strict=False):
            value = number_in(cell, comma=separator != ",")
            if value is not None and low <= value <= high:
                pair.append(value)
                continue
            is_khz = name == "frequency" and value is not None and 0.0 < value < low
            code = "no_frequency_but_kilohertz" if is_khz else f"no_{name}"
            fault(f"{key}, {name}", cell or BLANK, code, low=low, high=high)
        if len(pair) == 2:
            if points and pair[0] <= points[-1][1]:
                fault(f"{key}, frequency", cells[0], "line_not_rising", before=points[-1][1], line=points[-1][0])
            points.append((number, pair[0], pair[1]))
    if len(points) < FEWEST_POINTS and not faults:
        fault("", "", "few_lines", count=len(points), least=FEWEST_POINTS)
    if not faults and (points[0][1] > _BASS[0] or points[-1][1] < _BASS[1]):
        fault("", "", "no_bass", low=points[0][1], high=points[-1][1])
    if faults:
        raise InputFaults(faults)
    _, frequency, level = np.array(points).T
    return MeasuredCabin(frequency=frequency, level_db=level, source=source)
