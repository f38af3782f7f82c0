"""Files are written whole or not at all."""

from __future__ import annotations

import os
from pathlib import Path

import pytest

from engine.files import write_whole


def test_all_are_written(tmp_path: Path) -> None:
    """Contract: text as given, UTF-8, one kind of line end, the mode the user's mask gives."""
    write_whole({tmp_path / "a.csv": "×\n", tmp_path / "b.json": "{}\n"})
    assert (tmp_path / "a.csv").read_bytes() == "×\n".encode()
    mask = os.umask(0o077)
    os.umask(mask)
    assert (tmp_path / "b.json").stat().st_mode & 0o777 == 0o666 & ~mask


def test_a_folder_in_the_way_of_one_leaves_the_other_as_it_was(tmp_path: Path) -> None:
    """Contract: all or none, and no temporary file stays."""
    (tmp_path / "a.csv").write_text("old")
    (tmp_path / "b.json").mkdir()
    with pytest.raises(IsADirectoryError, match=r"b\.json"):
        write_whole({tmp_path / "a.csv": "new", tmp_path / "b.json": "new"})
    assert (tmp_path / "a.csv").read_text() == "old"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["a.csv", "b.json"]


def test_a_folder_that_is_not_there_leaves_nothing(tmp_path: Path) -> None:
    """Contract: a place that cannot be written to raises and nothing stays behind."""
    with pytest.raises(FileNotFoundError):
        write_whole({tmp_path / "a.csv": "new", tmp_path / "missing" / "b.json": "new"})
    assert list(tmp_path.iterdir()) == []
