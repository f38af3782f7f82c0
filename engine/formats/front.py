"""What a search came to as files: the front and what was left out as CSV, the record as JSON."""

from __future__ import annotations

import io
import json
from collections.abc import Mapping
from pathlib import Path

import pandas as pd

from engine.columns import COLUMNS
from engine.document import Document, write_document
from engine.errors import Fault, InputFaults, refusal
from engine.files import write_whole
from engine.formats import cells
from engine.goals import GOALS
from engine.search.runs import Run


def csv_text(front: pd.DataFrame) -> str:
    """The front as CSV: text that reads back to the same number, empty where a figure does not apply."""
    return cells.csv_text(front)


JOB = "job"  # in run.json: the scenario as TOML text, so that a pick of the front can be built from the folder alone


def write_run(
    result: Run, folder: Path, others: Mapping[str, str] | None = None, *, document: Document | None = None
) -> None:
    """Write ``front.csv``, ``left_out.csv`` and ``run.json`` into ``folder``, all or none.  Raises OSError.

    With them go ``others``, texts by their file's name; ``document`` is the job's, for its record.
    """
    texts = {"front.csv": csv_text(result.front), "left_out.csv": csv_text(result.left_out), **(others or {})}
    record = result.record if document is None else {**result.record, JOB: write_document(document)}
    texts["run.json"] = json.dumps(record, indent=2, allow_nan=False) + "\n"
    write_whole({folder / name: text for name, text in texts.items()})


def parse_table(text: str) -> pd.DataFrame:
    """Rows of a front from their :func:`csv_text`, to the last digit.  Raises ValueError where that is none."""
    # Only what is not text may be empty: a driver may be called NA.
    there = pd.read_csv(io.StringIO(text), nrows=0).columns
    empty = {key: [""] for key in there if key in COLUMNS and COLUMNS[key].kind != "text"}
    words = {key: str for key in there if key in COLUMNS and COLUMNS[key].kind == "text"}
    found = pd.read_csv(io.StringIO(text), keep_default_na=False, na_values=empty, dtype=words)
    return found.assign(**{key: found[key].map(cells.unguarded) for key in words})


def read_front(path: Path) -> pd.DataFrame:
    """Read a ``front.csv``.  Raises InputFaults where columns are missing."""
    frame = parse_table(path.read_text(encoding="utf-8"))
    if missing := [key for key in COLUMNS if key not in frame.columns]:
        raise InputFaults([Fault(str(path), key, "", "no_column") for key in missing])
    return frame


def read_run(folder: Path) -> Run:
    """What :func:`write_run` wrote.  Raises OSError where a file is missing, InputFaults where one is none of these."""
    try:
        front, left_out = (read_front(folder / name) for name in ("front.csv", "left_out.csv"))
    except InputFaults:
        raise
    except ValueError as error:
        raise refusal(str(folder), "no_table", reason=str(error)) from None
    try:
        record = json.loads((folder / "run.json").read_text(encoding="utf-8"))
        objectives = [str(key) for key in record["objectives"]]
    except (ValueError, KeyError, TypeError):
        raise refusal(str(folder / "run.json"), "no_record") from None
    for key in objectives:
        if key not in GOALS or key not in front or front.empty or not pd.api.types.is_numeric_dtype(front[key]):
            raise refusal(str(folder / "front.csv"), "no_figures", key=key)
    return Run(front, left_out, record)
