"""A catalogue: drivers as CSV, a line each, in place of those of a job; every fault of both files is named."""

from __future__ import annotations

import csv
import io
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any, NamedTuple

from engine import document, quantities
from engine.document import Document, read_text, written_in
from engine.errors import Fault, InputFaults, refusal
from engine.field import Field
from engine.formats.fields import BUILT_TABLE, FIELDS, GIVEN_TABLE
from engine.formats.scenario import parse_scenario
from engine.quantities import NotAQuantity
from engine.scenario import Scenario
from engine.words.voice import Wanted, Where

DRIVERS = "driver"  # the tables of a job that a catalogue stands in place of
MOST_COLUMNS = 200
MOST_DRIVERS = 2_000
_HEADING = re.compile(r"([^(\[]+?)\s*[(\[]\s*([^)\]]+?)\s*[)\]]")
_WITH_COMMA = re.compile(r"[+-]?\d+,\d+(?![\d,]).*")
_WHOLE, _PLAIN = re.compile(r"[+-]?\d{1,18}"), re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d{1,3})?")
# Of a cell nothing is said of quotes: what stands there is no text of a TOML file.
_AS_OF_CELLS = {
    "number_in_quotes": "no_number",
    "number_with_decimal_comma": "decimal_comma",
    "number_with_comma_of_thousands": "comma_of_thousands",
}


class _Column(NamedTuple):
    """A column: its name as it stands, the driver's field that it is, and the unit of its bare numbers."""

    heading: str
    field: Field | None
    key: str
    unit: str = ""
    spoilt: bool = False  # there is something wrong with its heading


class _Line(NamedTuple):
    """A driver: the line that it begins on, and its table as a job would have it."""

    number: int
    table: dict[str, Any]


def read_catalogue(scenario: Path, drivers: Path) -> Scenario:
    """The job of a scenario file with the drivers of a CSV file in place of its own, of which it needs none.

    The first line names the columns, which are the fields of ``[[driver]]``; a unit may stand behind a name, such as
    ``fs (Hz)``, and counts for the bare numbers below it.  Cells are parted by commas, semicolons or tabs, as the first
    line is; with either of the latter the decimal sign may be a comma.  Several values in a cell have commas,
    semicolons or spaces between them.  Empty cells state nothing, and lines that are empty or start with # are passed
    over.

    Raises InputFaults with every fault of both files, those of the catalogue with line and column.
    """
    job = document.read_document(scenario)
    lines, columns, faults = _lines(drivers)
    stated: Document = {key: value for key, value in job.items() if key not in (DRIVERS, GIVEN_TABLE, BUILT_TABLE)}
    stated[DRIVERS] = [line.table for line in lines]
    try:
        read = parse_scenario(stated, source=str(scenario), folder=scenario.parent, most_drivers=len(lines))
    except InputFaults as wrong:
        faults += _placed(wrong.faults, str(drivers), lines, columns)
    if faults:
        order = [column.heading for column in columns]
        theirs = [fault for fault in faults if fault.source == str(drivers)]
        theirs.sort(key=lambda fault: _place_of(fault, order))
        raise InputFaults([*(fault for fault in faults if fault not in theirs), *theirs], written_in(job))
    return read


def job_with(scenario: Scenario, names: Sequence[str]) -> Document:
    """The document of a job with those of its drivers alone that are called so, in that order."""
    tables = {table["name"]: table for table in scenario.document[DRIVERS]}
    return {**scenario.document, DRIVERS: [tables[name] for name in names]}


def _lines(path: Path) -> tuple[list[_Line], list[_Column], list[Fault]]:
    """The drivers of a catalogue, its columns, and what is wrong with the file itself."""
    source, text = str(path), read_text(path, "file_too_large")
    if (count := text.count("\n")) > 2 * MOST_DRIVERS:  # half of them may be remarks
        raise refusal(source, "too_many_lines", count=count, most=MOST_DRIVERS)
    rows = [row for row in _rows(source, text) if any(row[1]) and not row[1][0].startswith("#")]
    if len(rows) < 2:
        raise refusal(source, "catalogue_empty")
    (top, headings), *below = rows
    if len(headings) > MOST_COLUMNS:
        raise refusal(source, "too_many_columns", key=f"line {top}", count=len(headings), most=MOST_COLUMNS)
    if len(below) > MOST_DRIVERS:
        raise refusal(source, "too_many_lines", count=len(below), most=MOST_DRIVERS)
    columns, faults = _columns(source, top, headings)
    comma = _separator(text) != ","
    lines = []
    for number, cells in below:
        if len(cells) > len(columns) and any(cells[len(columns) :]):
            said = {"count": len(cells), "columns": len(columns)}
            faults.append(Fault(source, f"line {number}", cells[len(columns)][:60], "too_many_cells", said))
            document.stop_at_most(faults)
        pairs = zip(columns, cells, strict=False)
        lines.append(_Line(number, {column.key: _value(column, cell, comma) for column, cell in pairs if cell}))
    return lines, columns, faults


def _rows(source: str, text: str) -> Iterator[tuple[int, list[str]]]:
    """The lines of a CSV text as cells, each with its number.  Raises InputFaults where it is none."""
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=_separator(text), skipinitialspace=True, strict=True)
    number = 1
    try:
        for cells in reader:
            yield number, [" ".join(cell.split()) for cell in cells]
            number = reader.line_num + 1
    except csv.Error as error:
        raise refusal(source, "no_csv", line=number, reason=str(error)) from None


def _separator(text: str) -> str:
    """What parts the cells, by the first line that is not passed over."""
    first = next((line for line in text.splitlines() if line.strip(" \t;,") and not line.lstrip().startswith("#")), "")
    return next((sign for sign in ("\t", ";") if sign in first), ",")


def _columns(source: str, line: int, headings: Sequence[str]) -> tuple[list[_Column], list[Fault]]:
    """What stands in each column, and what is wrong with their names."""
    known = {field.key: field for field in FIELDS[DRIVERS]}
    columns: list[_Column] = []
    faults: list[Fault] = []
    while headings and not headings[-1]:
        headings = headings[:-1]
    for place, heading in enumerate(headings, start=1):
        name, unit = heading, ""
        if match := _HEADING.fullmatch(heading):
            name, unit = match.groups()
        key = re.sub(r"[\s-]+", "_", name.strip().lower())
        field = known.get(key)
        where, before = f"line {line}, column {place}", len(faults)
        if not heading:
            faults.append(Fault(source, where, "", "column_unnamed"))
        elif any(key == column.key for column in columns):
            faults.append(Fault(source, where, heading, "column_twice"))
            key = heading = f"{heading} again"
        elif unit and field is not None:
            try:
                _check_unit(unit, field)
            except NotAQuantity as wrong:
                said = {"wanted": Wanted(field), **wrong.parameters}
                faults.append(Fault(source, where, heading, wrong.code, said))
        columns.append(_Column(heading, field, key, unit, len(faults) > before))
    return columns, faults


def _check_unit(unit: str, field: Field) -> None:
    """Raise NotAQuantity where a unit is none of a field."""
    if not field.is_quantity:
        raise NotAQuantity("no_number" if field.kind in ("ratio", "count") else "no_text")
    quantities.parse(f"1 {unit}", field.kind)


def _value(column: _Column, cell: str, comma: bool) -> Any:
    """What a cell says, as a job's file would have it."""
    field = column.field
    if field is None or field.kind == "text":
        return cell
    if field.form == "list":
        return [_single(field, item, "") for item in re.split(r"[,;\s]+", cell) if item]
    if comma and "." not in cell and _WITH_COMMA.fullmatch(cell):
        cell = cell.replace(",", ".")
    return _single(field, cell, column.unit)


def _single(field: Field, text: str, unit: str) -> Any:
    if field.is_quantity:
        return f"{text} {unit}" if unit and re.search(r"\d\s*\.?$", text) else text
    if field.kind == "count" and _WHOLE.fullmatch(text):
        return int(text)
    return float(text) if field.kind == "ratio" and _PLAIN.fullmatch(text) else text


def _placed(faults: Sequence[Fault], source: str, lines: Sequence[_Line], columns: Sequence[_Column]) -> list[Fault]:
    """Faults of a job's drivers as faults of the catalogue's lines and columns, what all lines lack said once."""
    headings = {column.key: column.heading for column in columns}
    spoilt = {column.key for column in columns if column.spoilt}
    found: dict[tuple[str, ...], Fault] = {}
    for fault in faults:
        if fault.code == "too_many_faults":
            fault = replace(fault, source=source)
        if (place := re.fullmatch(rf"{DRIVERS}\[(\d+)\](?:\.([^\[]+))?.*", fault.key)) is None:
            found[(fault.source, fault.key, fault.code)] = fault
            continue
        key, line = place[2] or "", lines[int(place[1])]
        if key in spoilt:
            continue
        lacks, unknown = key not in headings, fault.concern == "unknown"
        where = f"line {line.number}, {headings.get(key, key)}"
        parameters = {name: _as_line(value, lines) for name, value in fault.parameters.items()}
        code = _AS_OF_CELLS.get(fault.code, fault.code)
        if code == "no_number" and code != fault.code:
            parameters = {"wanted": parameters["wanted"]}
        moved = replace(fault, source=source, key=where, code=code, parameters=parameters)
        if lacks or unknown:
            moved = replace(moved, key=f"column {headings.get(key, key)}", value="")
        found.setdefault((source, moved.key, code), moved)
    return list(found.values())


def _as_line(value: Any, lines: Sequence[_Line]) -> Any:
    """A place that a sentence names, where it is one of a driver."""
    place = re.fullmatch(rf"{DRIVERS}\[(\d+)\].*", value) if isinstance(value, Where) else None
    return value if place is None else Where(f"line {lines[int(place[1])].number}")


def _place_of(fault: Fault, headings: Sequence[str]) -> tuple[int, int]:
    """Line and column of a fault of a catalogue, to sort by; what is of all lines comes first."""
    line, _, heading = fault.key.partition(", ")
    number = re.fullmatch(r"line (\d+)", line)
    return int(number[1]) if number else 0, headings.index(heading) if heading in headings else 0
