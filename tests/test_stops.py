"""Writers stopped at every file operation (promise to the user): the old or the new is there, whole; nothing is left.

Each is ended there as by ``kill -9``, at every write once more with half of it written, and refused there by the
system, full, broken or without rights; :mod:`tests.stops` does that in a process of its own and looks what is found.
"""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

from tests.stops import WRITERS

ROOT = Path(__file__).parents[1]


@pytest.mark.skipif(not hasattr(os, "fork"), reason="processes are forked to be stopped")
@pytest.mark.parametrize("writer", list(WRITERS))
def test_old_or_new_is_there_whole_wherever_a_writer_is_stopped(writer: str) -> None:
    done = subprocess.run(
        [sys.executable, "-W", "ignore", "-m", "tests.stops", writer],
        check=False, capture_output=True, text=True, cwd=ROOT,
        env={**os.environ, "WEDGEFRONT_COMPILER": "off"},
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    found = json.loads(done.stdout)
    stopped = found.get("old", 0) + found.get("new", 0)
    assert stopped == found["operations"] + found["log"].count("write")
    assert found.get("old, refused", 0) + found.get("new, refused", 0) == found["operations"]
    assert found["old"] > 0
    # All of it is on the disk itself before the rename that decides.
    assert found["log"].count("fsync") >= found["log"].count("write")
