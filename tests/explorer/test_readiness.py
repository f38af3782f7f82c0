"""Making ready: what is compiled once is compiled apart from the pages, and said to be complete only when it is."""

from __future__ import annotations

import gc
import os
import threading
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from engine.core import compiled
from explorer import readiness
from explorer.worker import SearchTask
from tests.explorer.pages import PATIENCE, Opener, sound


@pytest.mark.parametrize(("codes", "complete"), [((0, 0), True), ((0, 1), False)])
def test_what_broke_off_is_not_called_complete(
    codes: tuple[int, int], complete: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """User's promise: the next start makes good what a broken-off one left, and Ctrl-C does not reach the compiler."""
    asked: list[list[str]] = []

    class Process:
        def __init__(self, command: list[str], *, start_new_session: bool, env: dict[str, str], **_: Any) -> None:
            assert start_new_session
            assert Path(env["PYTHONPATH"].split(os.pathsep)[0], "explorer").is_dir()
            self._code = codes[len(asked) % 2]
            asked.append(command)

        def wait(self) -> int:
            return self._code

    monkeypatch.setattr(compiled, "FOLDER", tmp_path)
    monkeypatch.setattr(compiled, "KEEPS", True)
    monkeypatch.setattr(readiness.subprocess, "Popen", Process)
    assert not readiness.is_compiled()
    readiness.compile_all()
    assert readiness.is_compiled() is complete
    assert [command[-1] for command in asked] == [str(part) for part in range(readiness.PROCESSES)]
    readiness.compile_all()
    assert len(asked) == (1 if complete else 2) * readiness.PROCESSES


def test_a_folder_for_one_run_is_not_filled_by_others(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """User's promise: where nothing can be kept, no process compiles what this one would never find."""
    monkeypatch.setattr(compiled, "FOLDER", tmp_path)
    monkeypatch.setattr(compiled, "KEEPS", False)
    monkeypatch.setattr(readiness.subprocess, "Popen", lambda *_, **__: pytest.fail("a process was started"))
    readiness.compile_all()
    assert not readiness.is_compiled()


def test_what_is_loaded_is_not_looked_through_after_every_run_of_a_page() -> None:
    """User's promise: pages answer soon, though Streamlit collects garbage after each of their runs."""
    assert readiness.readiness().wait(PATIENCE)
    assert gc.get_freeze_count() > gc.get_count()[0]


def test_a_first_search_says_what_it_waits_for(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    """User's promise: on a new installation the page says why nothing shows yet, and for how long."""
    over = threading.Event()
    monkeypatch.setattr("explorer.frame.SearchTask", partial(SearchTask, search=lambda *_, **__: over.wait(PATIENCE)))
    monkeypatch.setattr("explorer.frame.is_ready", lambda: False)
    test = opened()
    sound(test)
    (bar,) = test.get("progress")
    assert bar.proto.text == f"{readiness.WORDS}."
    over.set()
