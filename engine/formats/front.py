"""What a search came to as files: the front and what was left out as CSV, the record as JSON.

The record holds a digest of each file written with it and of itself, so that a table that was cut off, damaged or
mixed with another search's is never taken for a whole one.
"""

from __future__ import annotations

import contextlib
import io
import json
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from engine.columns import COLUMNS
from engine.document import Document, write_document
from engine.errors import Fault, InputFaults, refusal
from engine.formats import cells
from engine.goals import GOALS
from engine.seal import SEAL, digest_of, is_sealed, sealed
from engine.search.runs import Run
from engine.together import previous, settle, settled, write_together
from engine.untrusted import parsed
from engine.words.voice import Names

TABLE, LEFT_OUT, RECORD = "front.csv", "left_out.csv", "run.json"
JOB = "job"  # in run.json: the scenario as TOML text, so that a pick of the front can be built from the folder alone
FILES = "files"  # in run.json: what was written with it, each with its digest
LARGEST_TABLE = 60_000_000  # bytes; a front of 4 000 designs has a thirtieth of that
LARGEST_RECORD = 10_000_000  # bytes; a real one has a few thousand


def csv_text(front: pd.DataFrame) -> str:
    """The front as CSV: text that reads back to the same number, empty where a figure does not apply."""
    return cells.csv_text(front)


def write_run(
    result: Run,
    folder: Path,
    others: Mapping[str, str] | None = None,
    *,
    document: Document | None = None,
    keep: bool = True,
) -> None:
    """Write ``front.csv``, ``left_out.csv`` and ``run.json`` into ``folder``, all or none.  Raises OSError.

    With them go ``others``, texts by their file's name; ``document`` is the job's, for its record.  A search that lay
    there whole is kept beside it, see :func:`engine.together.previous`, unless ``keep`` is false.
    """
    texts = {TABLE: csv_text(result.front), LEFT_OUT: csv_text(result.left_out), **(others or {})}
    record = result.record if document is None else {**result.record, JOB: write_document(document)}
    told = sealed({**record, FILES: {name: digest_of(text) for name, text in texts.items()}})
    texts[RECORD] = json.dumps(told, indent=2, allow_nan=False) + "\n"
    before: list[str] = []
    if keep and folder.is_dir():
        settle(folder)
        with contextlib.suppress(OSError, InputFaults):
            before = [RECORD, *_read(folder)[1]]
    write_together(folder, texts, record=RECORD, keep=before)


def parse_table(text: str) -> pd.DataFrame:
    """Rows of a front from their :func:`csv_text`, to the last digit.

    Raises ValueError where that is none, or has something else in the place of a figure.
    """
    # Only what is not text may be empty: a driver may be called NA.
    there = pd.read_csv(io.StringIO(text), nrows=0).columns
    figures = [key for key in there if key in COLUMNS and COLUMNS[key].kind != "text"]
    words = {key: str for key in there if key in COLUMNS and COLUMNS[key].kind == "text"}
    empty = {key: [""] for key in figures}
    found = pd.read_csv(io.StringIO(text), keep_default_na=False, na_values=empty, dtype=words, low_memory=False)
    for key in figures if len(found) else ():
        values = found[key]
        if not pd.api.types.is_numeric_dtype(values) or pd.api.types.is_bool_dtype(values):
            raise ValueError(f"{key} has something in it that is no figure")
        if np.isinf(values).any():
            raise ValueError(f"{key} has a figure without end in it")
    return found.assign(**{key: found[key].map(cells.as_read) for key in words})


def read_front(path: Path) -> pd.DataFrame:
    """Read a ``front.csv``.  Raises InputFaults where it is none or columns are missing, and OSError."""
    return front_of(_content(path, LARGEST_TABLE), str(path))


def front_of(content: bytes, source: str) -> pd.DataFrame:
    """A front from the bytes of its file.  Raises InputFaults, naming ``source``, where it is none."""
    try:
        frame = parse_table(content.decode("utf-8"))
    except ValueError as error:
        raise refusal(source, "no_table", reason=str(error)) from None
    if missing := [key for key in COLUMNS if key not in frame.columns]:
        raise InputFaults([Fault(source, key, "", "no_column") for key in missing])
    return frame


def read_run(folder: Path) -> Run:
    """What :func:`write_run` wrote.

    Raises OSError where a file is missing, InputFaults where one is none of these or not as it was written: then with
    what of it is whole, and where the search before it lies, if that is.
    """
    with contextlib.suppress(PermissionError):  # where nobody may write, nobody was stopped
        settle(folder)
    try:
        return _read(folder)[0]
    except (InputFaults, OSError):
        if not folder.is_dir():
            raise
    try:
        with settled(folder):  # it may have been read while it was written
            return _read(folder)[0]
    except PermissionError:
        return _read(folder)[0]


def _read(folder: Path) -> tuple[Run, list[str]]:
    """A run, and the names of the files that its record tells of."""
    record = _record(folder / RECORD)
    digests: Mapping[str, str] = record.pop(FILES, {})
    contents = {name: _content(folder / name, LARGEST_TABLE) for name in (TABLE, LEFT_OUT)}
    others = {name: digest for name, digest in digests.items() if name not in contents}
    if damaged := [name for name in contents if digests and digest_of(contents[name]) != digests.get(name)]:
        raise _not_as_written(folder, *damaged)
    front, left_out = (front_of(content, str(folder / name)) for name, content in contents.items())
    objectives = [str(key) for key in record["objectives"]]
    for key in objectives:
        if key not in GOALS or key not in front or front.empty or front[key].isna().any():
            raise refusal(str(folder / TABLE), "no_figures", key=key)
    if record.get("designs", len(front)) != len(front) or front["id"].duplicated().any():
        raise _not_as_written(folder, TABLE)
    return Run(front, left_out, record), [*contents, *others]


def _record(path: Path) -> dict[str, Any]:
    """The record of a search, less its seal.  Raises InputFaults where it is none or damaged, and OSError."""
    try:
        record = parsed(_content(path, LARGEST_RECORD))
    except ValueError:
        raise refusal(str(path), "no_record") from None
    if not isinstance(record, dict) or not isinstance(record.get("objectives"), list):
        raise refusal(str(path), "no_record")
    # An earlier version's has neither.
    if (SEAL in record or FILES in record) and not (is_sealed(record) and isinstance(record.get(FILES), dict)):
        raise _not_as_written(path.parent, path.name)
    return {key: value for key, value in record.items() if key != SEAL}


def _not_as_written(folder: Path, *damaged: str) -> InputFaults:
    """Damaged files of a search, with what else there is."""
    others = Names(name for name in (TABLE, LEFT_OUT, RECORD) if name not in damaged)
    code = "record_not_as_written" if RECORD in damaged else "table_not_as_written"
    more = {} if RECORD in damaged else {"others": others}
    faults = [Fault(str(folder / name), "", "", code, more) for name in damaged]
    if (previous(folder) / RECORD).exists():
        faults.append(Fault(str(previous(folder)), "", "", "search_before"))
    return InputFaults(faults)


def _content(path: Path, most: int) -> bytes:
    """The bytes of a file.  Raises OSError, and InputFaults where there are too many."""
    with path.open("rb") as file:
        content = file.read(most + 1)
    if len(content) > most:
        raise refusal(str(path), "too_large_for_search")
    return content
