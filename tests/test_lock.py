"""Locks: promises to the user that no two processes write at once, and that a killed one is in nobody's way."""

from __future__ import annotations

import subprocess
import sys
import threading
from pathlib import Path

import pytest

from engine.errors import InputFaults
from engine.formats.kept import kept_tasks
from engine.lock import Locked, locked

ROOT = Path(__file__).parents[1]
HOLD = "import sys; from pathlib import Path; from engine.lock import locked\n"
HOLD += "with locked(Path(sys.argv[1])): print('held', flush=True); sys.stdin.read()"


def held(path: Path) -> subprocess.Popen[str]:
    """A process that holds a lock until it is told to let go, or killed."""
    process = subprocess.Popen(
        [sys.executable, "-c", HOLD, str(path)], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True, cwd=ROOT
    )
    assert process.stdout is not None
    assert process.stdout.readline() == "held\n"
    return process


def test_a_lock_is_one_process_s_and_ends_with_it_however_that_ends(tmp_path: Path) -> None:
    path = tmp_path / ".lock"
    process = held(path)
    with pytest.raises(Locked, match="another running wedgefront"), locked(path, wait=0.0):
        pass
    process.kill()
    process.communicate()
    assert path.exists()  # what a killed process leaves is in no way
    with locked(path, wait=0.0):
        pass
    assert not path.exists()


def test_a_lock_is_one_thread_s_and_the_next_has_its_turn(tmp_path: Path) -> None:
    inside: list[int] = []
    most: list[int] = []

    def work() -> None:
        for _ in range(50):
            with locked(tmp_path / ".lock"):
                inside.append(1)
                most.append(len(inside))
                inside.pop()

    threads = [threading.Thread(target=work) for _ in range(4)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert (len(most), max(most)) == (200, 1)
    assert list(tmp_path.iterdir()) == []


def test_a_catalogue_s_folder_is_one_process_s(tmp_path: Path) -> None:
    """Promise to the user: a second search into a folder is refused in words and touches nothing there."""
    with kept_tasks(tmp_path, {"seed": 1}):
        half = tmp_path / "tasks" / ".00-0000.json.1a2b.part"
        half.write_text("half", encoding="utf-8")
        with pytest.raises(InputFaults, match="searched into by another running wedgefront"), kept_tasks(tmp_path, {}):
            pass
        assert half.exists()
    with kept_tasks(tmp_path, {"seed": 1}):
        assert not half.exists()


def test_an_unreadable_list_of_inputs_loses_no_task(tmp_path: Path) -> None:
    """Promise to the user: it may be deleted, and tasks of another catalogue are then not taken for this one's."""
    with kept_tasks(tmp_path, {"seed": 1}):
        pass
    (tmp_path / "catalogue.json").write_text("{", encoding="utf-8")
    with pytest.raises(InputFaults, match="delete it, and the same command goes on"), kept_tasks(tmp_path, {"seed": 1}):
        pass
