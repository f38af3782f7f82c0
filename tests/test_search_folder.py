"""The files of a search (promises to the user): what is damaged is told and never believed, old and new never mix."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest

from engine.errors import InputFaults
from engine.formats.front import csv_text, read_front, read_run, write_run
from engine.formats.scenario import demo_scenarios, read_document
from engine.seal import is_sealed
from engine.search.runs import Run
from engine.together import previous
from explorer.demo_fronts import stored_front
from tests.damage import damaged, tables_damaged

DEMO = "roadster"
NAMES = ("front.csv", "left_out.csv", "run.json")


def searched(designs: int = 27, seed: int = 1) -> Run:
    found = stored_front(DEMO)
    return Run(found.front.head(designs), found.left_out, {**found.record, "designs": designs, "seed": seed})


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    write_run(searched(), tmp_path / "out", document=read_document(demo_scenarios()[DEMO]))
    return tmp_path / "out"


def faults_of(folder: Path) -> dict[str, str]:
    with pytest.raises(InputFaults) as caught:
        read_run(folder)
    return {Path(fault.source).name: fault.code for fault in caught.value.faults}


def record_or_culprit(folder: Path) -> object:
    """What the record of a search says or, where it is refused, the name of the file that this is for."""
    try:
        return read_run(folder).record
    except InputFaults as error:
        return Path(error.faults[0].source).name


def test_what_is_written_reads_back_and_nothing_else_lies_there(folder: Path) -> None:
    back = read_run(folder)
    assert csv_text(back.front) == csv_text(searched().front)
    assert {key: value for key, value in back.record.items() if key != "job"} == searched().record
    assert sorted(path.name for path in folder.iterdir()) == sorted(NAMES)
    assert is_sealed(json.loads((folder / "run.json").read_text(encoding="utf-8")))


@pytest.mark.parametrize("name", NAMES)
def test_a_damaged_file_is_named_and_never_believed(folder: Path, name: str) -> None:
    whole, content = read_run(folder).record, (folder / name).read_bytes()
    tried = 0
    for how, bad in damaged(content):
        (folder / name).write_bytes(bad)
        found = record_or_culprit(folder)
        assert found == name or (name, found) == ("run.json", whole), how  # blanks in a record are no part of it
        tried += 1
    assert tried > 30


def test_a_table_that_still_is_one_is_not_believed_either(folder: Path) -> None:
    content = (folder / "front.csv").read_bytes()
    for how, bad in tables_damaged(content, "outer_volume_m3"):
        (folder / "front.csv").write_bytes(bad)
        assert faults_of(folder) == {"front.csv": "table_not_as_written"}, how


def test_a_table_without_a_digest_is_looked_through(folder: Path) -> None:
    """User's promise: a search of before there were digests is read, and its rows and figures are checked."""
    record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
    earlier = {key: value for key, value in record.items() if key not in ("files", "sha256")}
    (folder / "run.json").write_text(json.dumps(earlier), encoding="utf-8")
    assert len(read_run(folder).front) == 27
    for how, bad in tables_damaged((folder / "front.csv").read_bytes(), "outer_volume_m3"):
        (folder / "front.csv").write_bytes(bad)
        assert set(faults_of(folder)) == {"front.csv"}, how


def test_tables_of_two_searches_are_not_taken_for_one(folder: Path, tmp_path: Path) -> None:
    write_run(searched(12, 2), tmp_path / "other")
    for name in ("front.csv", "left_out.csv"):
        mixed = shutil.copytree(folder, tmp_path / f"mixed-{name}")
        shutil.copy(tmp_path / "other" / name, mixed / name)
        # What cannot be built is the same in both.
        assert name == "left_out.csv" or faults_of(mixed) == {"front.csv": "table_not_as_written"}


def test_the_search_before_is_kept_whole_and_named_where_the_last_one_is_damaged(folder: Path) -> None:
    write_run(searched(12, 2), folder)
    assert len(read_run(folder).front) == 12
    assert len(read_run(previous(folder)).front) == 27
    (folder / "front.csv").write_bytes(b"id\n")
    with pytest.raises(InputFaults, match=r"left_out\.csv and run\.json beside it are whole: search again") as caught:
        read_run(folder)
    assert "previous: holds the search before that one, whole" in str(caught.value)
    write_run(searched(9, 3), folder)  # what is damaged does not take the place of what is whole
    assert len(read_run(folder).front) == 9
    assert len(read_run(previous(folder)).front) == 27


def test_a_missing_file_is_said_so(folder: Path) -> None:
    (folder / "left_out.csv").unlink()
    with pytest.raises(FileNotFoundError, match="left_out"):
        read_run(folder)


def test_text_where_a_figure_is_due_is_named(folder: Path) -> None:
    for how, bad in tables_damaged((folder / "front.csv").read_bytes(), "outer_width_m"):
        (folder / "front.csv").write_bytes(bad)
        if "text" in how or "truth" in how:
            with pytest.raises(InputFaults, match="outer_width_m has something in it that is no figure"):
                read_front(folder / "front.csv")


def test_a_record_that_is_nested_without_end_is_refused(folder: Path) -> None:
    (folder / "run.json").write_text('{"a":' * 5000 + "1" + "}" * 5000, encoding="utf-8")
    assert faults_of(folder) == {"run.json": "no_record"}
