"""A catalogue as CSV: read as a job's drivers are, and refused with every fault in it, by line and column."""

from __future__ import annotations

from pathlib import Path

import pytest

from engine.errors import InputFaults
from engine.formats.catalogue import job_with, read_catalogue
from engine.formats.scenario import demo_scenarios, parse_scenario, read_scenario
from tests.invented_drivers import COLUMNS, catalogue_text, invented_drivers

ROADSTER = demo_scenarios()["roadster"]
ROWS = invented_drivers(3)


def written(folder: Path, text: str, *, encoding: str = "utf-8") -> Path:
    path = folder / "drivers.csv"
    path.write_text(text, encoding=encoding)
    return path


def faults(path: Path) -> list[str]:
    with pytest.raises(InputFaults) as caught:
        read_catalogue(ROADSTER, path)
    return str(caught.value).splitlines()


def test_drivers_are_read_as_those_of_a_job(tmp_path: Path) -> None:
    """User's promise: a line of a catalogue says what the same words say in a job's table, and the rest stays."""
    read = read_catalogue(ROADSTER, written(tmp_path, catalogue_text(ROWS)))
    own = read_scenario(ROADSTER)
    assert (read.space, read.amplifier, read.goals) == (own.space, own.amplifier, own.goals)
    first = read.candidates[0]
    assert (first.driver.name, first.counts) == (ROWS[0]["name"], (1, 2))
    assert first.driver.fs == pytest.approx(float(ROWS[0]["fs"].removesuffix(" Hz")))
    assert first.driver.sd == pytest.approx(1e-4 * float(ROWS[0]["sd"].removesuffix(" cm^2")))
    assert first.driver.coils == int(ROWS[0]["coils"])


def test_units_stand_behind_names_and_commas_in_numbers(tmp_path: Path) -> None:
    """User's promise: what a spreadsheet saves where decimals have commas reads as the same drivers."""
    headings = {key: key.replace("_", " ").capitalize() for key in COLUMNS[:-1]}
    headings |= {"fs": "fs (Hz)", "vas": "Vas [L]", "outer_diameter": "Outer diameter (mm)"}

    def cell(key: str, text: str) -> str:
        bare = text.split(" ")[0] if key in ("fs", "vas", "outer_diameter") else text
        return bare if key in ("name", "counts") else bare.replace(".", ",")

    lines = [";".join(headings.values())]
    lines += [";".join(cell(key, row[key]) for key in headings) for row in ROWS]
    text = "# invented\r\n\r\n" + "\r\n".join(lines) + "\r\n;;;\r\n"
    read = read_catalogue(ROADSTER, written(tmp_path, text, encoding="utf-8-sig"))
    assert read.candidates == read_catalogue(ROADSTER, written(tmp_path, catalogue_text(ROWS))).candidates


def test_every_fault_is_named_at_once_with_line_and_column(tmp_path: Path) -> None:
    """User's promise: file, line, column, value and what was expected, of all faults in one message."""
    one, two, three = ({**row} for row in ROWS)
    one |= {"fs": "34", "qes": "0.5x"}
    two |= {"name": one["name"], "coils": "9", "coil_impedance": "4 kg"}
    three |= {"counts": "1, many", "le": ""}
    path = written(tmp_path, catalogue_text([one, two, three]))
    told = [line.removeprefix(f"{path}: ") for line in faults(path)]
    assert told == [
        'line 2, fs = 34: a bare number: expected a frequency such as "34 Hz"',
        "line 2, qes = 0.5x: expected a plain number without a unit",
        f"line 3, name = {one['name']}: expected another name than that of line 2",
        "line 3, coils = 9: expected 1 to 4",
        'line 3, coil_impedance = 4 kg: the unit "kg" does not fit: expected a resistance such as "3.4 ohm"',
        "line 4, counts = many: expected a whole number",
        'line 4, le: is missing: expected an inductance such as "1.4 mH"',
    ]


def test_a_sheet_that_disagrees_is_refused(tmp_path: Path) -> None:
    """User's promise: a catalogue's sheets are held against themselves like a job's."""
    path = written(tmp_path, catalogue_text([{**ROWS[0], "bl": "40.0 T m"}]))
    (told,) = faults(path)
    assert told.startswith(f"{path}: line 2, bl = 40.0 T m: ")
    assert "check" in told


def test_what_all_lines_lack_is_said_once(tmp_path: Path) -> None:
    """User's promise: a column that is not there, or is none, or is there twice is one fault, not one a driver."""
    text = catalogue_text(ROWS).replace("mounting_depth", "colour", 1).replace("vas,", "vas (Hz),", 1)
    path = written(tmp_path, text.replace("qms,", "qes,", 1))
    told = [line.removeprefix(f"{path}: ") for line in faults(path)]
    assert [line.split(":")[0] for line in told] == [
        "column colour", "column mounting_depth", "line 1, column 5 = qes", "line 1, column 7 = vas (Hz)",
    ]  # fmt: skip


def test_faults_of_job_and_catalogue_come_together(tmp_path: Path) -> None:
    """User's promise: both files are read to their end."""
    job = tmp_path / "job.toml"
    job.write_text(ROADSTER.read_text(encoding="utf-8").replace('width = "36 in"', 'width = "36"'), encoding="utf-8")
    path = written(tmp_path, catalogue_text([{**ROWS[0], "fs": "3 kHz"}]))
    with pytest.raises(InputFaults) as caught:
        read_catalogue(job, path)
    assert [fault.source for fault in caught.value.faults] == [str(job), str(path)]


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        ("", "is empty: expected a line that names the columns"),
        ("name,fs\n", "is empty: expected a line that names the columns"),
        ('name,fs\n"a,34 Hz\n', "not valid CSV at line 2"),
    ],
)
def test_a_file_that_is_none_is_refused(tmp_path: Path, text: str, expected: str) -> None:
    """User's promise: one message for a file without drivers, or one that is no CSV."""
    (told,) = faults(written(tmp_path, text))
    assert expected in told


def test_a_line_of_too_many_cells_is_refused(tmp_path: Path) -> None:
    """User's promise: a comma that splits a cell in two moves no value into another column unseen."""
    text = catalogue_text(ROWS).replace('"1, 2"', "1, 2", 1)
    assert any("line 2 = " in line and "expected 23 cells" in line for line in faults(written(tmp_path, text)))


def test_more_drivers_than_a_job_may_list(tmp_path: Path) -> None:
    """User's promise: several hundred drivers, where a job's file takes a hundred."""
    read = read_catalogue(ROADSTER, written(tmp_path, catalogue_text(invented_drivers(301))))
    assert len(read.candidates) == 301
    job = job_with(read, [ROWS[1]["name"], ROWS[0]["name"]])
    names = [each.driver.name for each in parse_scenario(job, source="job").candidates]
    assert names == [ROWS[1]["name"], ROWS[0]["name"]]
