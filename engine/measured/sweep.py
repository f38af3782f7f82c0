"""A sweep of impedance from the CSV file of an instrument: every line at fault is named.

Columns stand in any order where a line names them, else frequency, impedance and, if it is there, phase.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import NamedTuple

import numpy as np

from engine.arrays import Flags, Floats
from engine.document import LARGEST_FILE, MOST_POINTS, stop_at_most
from engine.errors import Fault, InputFaults, refusal
from engine.formats.instrument import COMMENT, cells_of, check_lines, number_in, shortened

FEWEST_POINTS = 12
FREQUENCIES = (0.5, 200_000.0)  # Hz, plausible in a file
IMPEDANCES = (0.02, 20_000.0)  # ohm
_SEPARATORS = ("\t", ";", ",", " ")  # of two that read a file equally well the first
_LOOKED_AT = 400  # rows, to find out what stands between columns
_IN_KILOHERTZ = 2.0  # a sweep that ends below so many Hz was none
_RADIANS = 1.7  # no phase of an impedance is larger in rad, by what noise adds; smaller ones may be either
_HALF_TURN = 0.5 * math.pi
_BEYOND = 1.1  # times a right angle, that noise and a slope of the instrument's may make of a phase


@dataclass(frozen=True, kw_only=True, eq=False)
class Sweep:
    """Impedance over frequency, (F,) each and rising: Hz, ohm, rad; ``phase`` None where the file has none.

    ``averaged`` counts the frequencies that stood there more than once.
    """

    source: str
    frequency: Floats
    magnitude: Floats
    phase: Floats | None = None
    averaged: int = 0

    def __len__(self) -> int:
        return len(self.frequency)

    def take(self, index: Flags) -> Sweep:
        """Some of its points, ``index`` (F,) flags."""
        phase = None if self.phase is None else self.phase[index]
        frequency, magnitude = self.frequency[index], self.magnitude[index]
        return replace(self, frequency=frequency, magnitude=magnitude, phase=phase)


class _Columns(NamedTuple):
    """Where in a row what stands, by its role, and what it is multiplied by; ``phase`` 0 where no unit is stated."""

    place: dict[str, int]
    scale: dict[str, float]


# What names a column, the first that fits; a heading that none fits names something else.
_ROLES = (
    ("phase", re.compile(r"phase|phi\b|φ|θ|theta|\barg|angle|°|\bdeg|\brad\b|\brad(ians?)\b|winkel")),
    ("frequency", re.compile(r"fre|hz\b|^f\b|\bf\b(?!\s*\()|ω\s*/\s*2")),
    ("real", re.compile(r"\breal|\bre\b\s*[({\[]|\bre$|\brs\b|resistance|^r\b")),
    ("imaginary", re.compile(r"imag|\bim\b|\bxs\b|reactance|^x\b")),
    ("magnitude", re.compile(r"imp|\|z\||\bz\b|zmag|mag|modul|abs|ohm|ω|betrag|amplitude|\bdb")),
)
_NAMES = {"frequency": "a frequency", "magnitude": "an impedance", "phase": "a phase",
          "real": "a real part", "imaginary": "an imaginary part"}  # fmt: skip
_CALLED = {"magnitude": "impedance", "real": "real part", "imaginary": "imaginary part"}


def read_sweep(path: Path) -> Sweep:
    """A sweep from a file, see :func:`parse_sweep`.  Raises InputFaults for a file that is none or over 1 MB too."""
    source = str(path)
    try:
        if not path.is_file():
            raise refusal(source, "no_file" if path.exists() else "no_such_file")
        if path.stat().st_size > LARGEST_FILE:
            raise refusal(source, "measurement_too_large")
        return parse_sweep(text_of(path.read_bytes()), source=source)
    except OSError as error:
        raise refusal(source, "unreadable", reason=error.strerror or str(error)) from None


def text_of(data: bytes) -> str:
    """The text of a file as instruments write it: UTF-8 or UTF-16 where a mark says so, else what Windows writes."""
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return data.decode("utf-16", errors="replace")
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("cp1252", errors="replace")


def parse_sweep(text: str, *, source: str) -> Sweep:
    """A sweep from the text of a file.

    Commas, semicolons, tabs or spaces between columns; decimals with a point, or with a comma where that separates
    nothing; lines before the first figures, and such as begin with # * % !, may name the columns and their units (Hz
    or kHz, ohm or kohm, deg or rad; without a unit Hz, ohm and deg, the last only where some phase is beyond 1.7).
    Impedance is a magnitude, with a phase or without, or a real and an imaginary part.  Rows may stand in any order;
    what stands at one frequency is averaged.  Raises InputFaults with every fault found.
    """
    numbered = [(number, line.strip()) for number, line in enumerate(text.splitlines(), start=1)]
    numbered = [(number, line) for number, line in numbered if line]
    if not numbered:
        raise refusal(source, "sweep_empty")
    figures = [(number, line) for number, line in numbered if _may_be_figures(line)]
    if not figures:
        raise refusal(source, "sweep_no_figures", value=shortened(numbered[0][1]))
    check_lines(numbered, source)
    if len(figures) > MOST_POINTS:
        raise refusal(source, "many_lines", count=len(figures), most=MOST_POINTS)
    separator = _separator(figures, source)
    first, comma = figures[0][0], separator != ","
    rows = [(number, line, _figures(line, separator, comma)) for number, line in figures]
    width = _usual([len(cells) for _, _, cells in rows])
    header = _header([line for number, line in numbered if number < first], separator, width)
    reader = _Reader(source)
    # Beyond the first figures nothing else may stand but remarks.
    for number, line in numbered:
        if number > first and line[0] not in COMMENT and not _may_be_figures(line):
            reader.fault(f"line {number}", line, "sweep_row", columns=width)
    columns = _columns(header, width, rows, reader)
    points = [point for row in rows if (point := reader.point(row, columns, width)) is not None]
    if not reader.faults and len(points) < FEWEST_POINTS:
        reader.fault("", "", "few_lines", count=len(points), least=FEWEST_POINTS)
    reader.finish()
    return _sweep(np.array(points), columns, reader)


def _may_be_figures(line: str) -> bool:
    return line.lstrip("\"'")[:1].isdigit() or line[:2].lstrip("+-.,")[:1].isdigit() or line[:3].lower() == "nan"


def _figures(line: str, separator: str, comma: bool) -> list[float | None]:
    cells = cells_of(line, separator)
    while cells and not cells[-1]:
        cells.pop()  # a separator at the end of a line separates nothing
    return [number_in(cell.strip("\"'"), comma=comma) for cell in cells]


def _separator(figures: Sequence[tuple[int, str]], source: str) -> str:
    """What stands between the columns.  Raises InputFaults where commas stand there and in numbers, as it seems."""
    some = figures[:: 1 + len(figures) // _LOOKED_AT]

    def reads(separator: str) -> int:
        read = [_figures(line, separator, separator != ",") for _, line in some]
        return sum(len(cells) > 1 and None not in cells for cells in read)

    best = max(_SEPARATORS, key=lambda sign: (reads(sign), -_SEPARATORS.index(sign)))
    if best == "," and not any("." in line for _, line in figures):
        for number, line in figures:
            if line.count(",") > 2:  # its commas may stand in its numbers
                raise refusal(source, "mixed_commas", key=f"line {number}", value=shortened(line))
    if not reads(best):
        number, line = figures[0]
        raise refusal(source, "sweep_one_column", key=f"line {number}", value=shortened(line))
    return best


def _usual(counts: Sequence[int]) -> int:
    return max(set(counts), key=counts.count)


def _header(lines: Sequence[str], separator: str, width: int) -> list[str] | None:
    """What names the columns, from the lines before the figures: one that has as many cells, units below joined to it.

    None where no line has.
    """
    found: list[list[str]] = []
    for line in reversed(lines):
        bare = line.lstrip(COMMENT + " ")
        ways = [separator, *(sign for sign in _SEPARATORS if sign != separator)]
        each = next((cells for sign in ways if len(cells := cells_of(bare, sign)) == width), None)
        if each is None:
            break
        found.append(each)
        if len(found) == 2:
            break
    if not found:
        return None
    return [" ".join(cell.strip("\"'") for cell in cells).lower() for cells in zip(*reversed(found), strict=True)]


def _role(heading: str) -> str:
    return next((role for role, sign in _ROLES if sign.search(heading)), "")


def _columns(
    header: list[str] | None, width: int, rows: Sequence[tuple[int, str, list[float | None]]], reader: _Reader
) -> _Columns:
    """What stands in which column; faults go to the reader, and are raised where nothing can be read then."""
    roles = [] if header is None else [_role(heading) for heading in header]
    if header is None or not any(roles):
        return _by_order(width, rows, reader)
    place: dict[str, int] = {}
    for number, role in enumerate(roles):
        if role in place:
            both = ", ".join(header[each] for each in (place[role], number))
            reader.fault("", both, "sweep_column_twice", role=_NAMES[role])
        elif role:
            place[role] = number
    if "frequency" in place and not {"magnitude", "real", "imaginary"} & set(place) and roles.count("") == 1:
        place["magnitude"] = roles.index("")
    if {"real", "imaginary"} <= set(place):
        place.pop("magnitude", None)
        place.pop("phase", None)
    else:
        place.pop("imaginary", None)
        if real := place.pop("real", None):
            place.setdefault("magnitude", real)
    for role in ("frequency", "magnitude"):
        if role not in place and not (role == "magnitude" and "real" in place):
            reader.fault("", ", ".join(header), "sweep_no_column", role=_NAMES[role])
    reader.finish()
    scale = {role: _unit(role, header[number]) for role, number in place.items()}
    if "magnitude" in place and re.search(r"\bdb", header[place["magnitude"]]):
        reader.fault("", header[place["magnitude"]], "sweep_decibels")
    return _Columns(place, scale)


def _unit(role: str, heading: str) -> float:
    if role == "frequency":
        return 1000.0 if "khz" in heading else 1.0
    if role == "phase":
        if re.search(r"\brad", heading):
            return 1.0
        return math.pi / 180.0 if re.search(r"deg|°|grad", heading) else 0.0
    return 1000.0 if re.search(r"\bk\s?(ohm|ω)|\bkω", heading) else 0.001 if re.search(r"\bm(ohm|ω)", heading) else 1.0


def _by_order(width: int, rows: Sequence[tuple[int, str, list[float | None]]], reader: _Reader) -> _Columns:
    """Without names: frequency, impedance and, if it is there, phase, as far as the figures agree with that."""
    if width < 2:
        raise refusal(reader.source, "sweep_one_column", key=f"line {rows[0][0]}", value=shortened(rows[0][1]))
    columns = [[cells[at] for _, _, cells in rows if len(cells) == width] for at in range(min(width, 2))]
    number, line, _ = rows[0]
    swapped = len(columns) == 2 and not _runs(columns[0]) and _runs(columns[1])
    if width > 3 or swapped:
        reader.fault(f"line {number}", line, "sweep_columns", count=width)
        reader.finish()
    names = ("frequency", "magnitude", "phase")[:width]
    scale = {"frequency": 1.0, "magnitude": 1.0, "phase": 0.0}
    return _Columns({name: at for at, name in enumerate(names)}, {name: scale[name] for name in names})


def _runs(column: Sequence[float | None]) -> bool:
    """Whether figures only rise or only fall."""
    known = np.array([each for each in column if each is not None])
    steps = np.diff(known)
    return len(known) > 1 and bool(np.all(steps >= 0.0) or np.all(steps <= 0.0))


class _Reader:
    """The faults of one file, and its rows read."""

    def __init__(self, source: str) -> None:
        self.source = source
        self.faults: list[Fault] = []

    def fault(self, key: str, text: str, code: str, **parameters: float | str) -> None:
        self.faults.append(Fault(self.source, key, shortened(text), code, parameters))
        stop_at_most(self.faults)

    def finish(self) -> None:
        if self.faults:
            raise InputFaults(self.faults)

    def point(
        self, row: tuple[int, str, list[float | None]], columns: _Columns, width: int
    ) -> tuple[float, float, float, float] | None:
        """Frequency, real part or magnitude, imaginary part or 0, phase of a row; None where it is at fault."""
        number, line, cells = row
        key = f"line {number}"
        if len(cells) < width:
            self.fault(key, line, "sweep_row", columns=width)
            return None
        found = {role: cells[at] for role, at in columns.place.items()}
        for role, value in found.items():
            if value is None:
                self.fault(f"{key}, {_CALLED.get(role, role)}", line, "sweep_no_number", role=_NAMES[role])
        if None in found.values():
            return None
        known = {role: float(value or 0.0) for role, value in found.items()}
        hz = known["frequency"] * columns.scale["frequency"]
        polar = "magnitude" in known
        size = known["magnitude"] if polar else math.hypot(known["real"], known["imaginary"])
        size *= columns.scale["magnitude" if polar else "real"]
        for role, value, (low, high) in (("frequency", hz, FREQUENCIES), ("impedance", size, IMPEDANCES)):
            # Below the least a column may still be in kHz, which is told of the whole of it.
            if value <= 0.0 or value > high or (role == "impedance" and value < low):
                self.fault(f"{key}, {role}", line, f"sweep_{role}", low=low, high=high)
                return None
        if polar:
            return hz, size, 0.0, known.get("phase", 0.0)
        return hz, size, 1.0, math.atan2(known["imaginary"], known["real"])


def _sweep(points: Floats, columns: _Columns, reader: _Reader) -> Sweep:
    """The points in order, once what only all of them tell is checked."""
    hz, size, _, phase = points[np.argsort(points[:, 0], kind="stable")].T
    if hz[-1] < _IN_KILOHERTZ or hz[0] < FREQUENCIES[0]:
        reader.fault("", "", "sweep_kilohertz", low=float(hz[0]), high=float(hz[-1]))
    known = "phase" in columns.place or "real" in columns.place
    if "phase" in columns.place:
        scale, most = columns.scale["phase"], float(np.max(np.abs(phase)))
        if not scale and most <= _RADIANS:
            reader.fault("", "", "sweep_phase_unit_missing", most=most)
        scale = scale or math.pi / 180.0
        if most * scale > _BEYOND * _HALF_TURN:
            reader.fault("", "", "sweep_phase_range", most=most)
        phase = phase * scale
    reader.finish()
    frequency, which, times = np.unique(hz, return_inverse=True, return_counts=True)

    def mean(values: Floats) -> Floats:
        return np.bincount(which, weights=values) / times

    return Sweep(
        source=reader.source, frequency=frequency, magnitude=np.exp(mean(np.log(size))),
        phase=mean(phase) if known else None, averaged=int(np.sum(times > 1)),
    )  # fmt: skip


def sweep_text(sweep: Sweep) -> str:
    """A sweep as a file that reads back alike: Hz, ohm and, where there is one, phase in degrees."""
    names = ["Frequency (Hz)", "Impedance (ohm)"]
    columns = [sweep.frequency, sweep.magnitude]
    if sweep.phase is not None:
        names, columns = [*names, "Phase (deg)"], [*columns, np.degrees(sweep.phase)]
    rows = (",".join(f"{value:.6g}" for value in row) for row in zip(*columns, strict=True))
    return "\n".join([",".join(names), *rows, ""])
