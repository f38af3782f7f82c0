"""What tests of whole pages share: the explorer run headless, and ways to find things on its pages."""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import streamlit as st
from streamlit.testing.v1 import AppTest

import explorer
from engine.document import write_document
from engine.formats.scenario import read_document
from explorer.frame import OWN_FAULT
from explorer.session import Job

APP = Path(explorer.__file__).with_name("app.py")
PATIENCE = 60.0  # s

Opener = Callable[..., AppTest]


def restart() -> None:
    """What a new process starts with: nothing open, nothing searched."""
    st.cache_resource.clear()


def job_of(test: AppTest) -> Job:
    job: Job = test.session_state["job"]
    return job


def sound(test: AppTest) -> None:
    """No page broke off, with or without a traceback."""
    assert not test.exception
    assert not [error.value for error in test.error if error.value.startswith(OWN_FAULT)]


def units_of(test: AppTest) -> Any:
    return test.segmented_control(key=f"units:{job_of(test).id}")


def typing(test: AppTest, place: str) -> Any:
    """The text field of a place in the scenario."""
    job = job_of(test)
    return test.text_input(key=f"{place}:{job.id}:{job.revision}")


def part_of(test: AppTest) -> Any:
    """The control that says which part of the job is on show."""
    return test.segmented_control(key=f"group:{job_of(test).id}")


def searched(test: AppTest) -> AppTest:
    """Run the page again and again, as its timer would, until the search has ended."""
    end = time.monotonic() + PATIENCE
    while job_of(test).found is None or test.get("progress"):
        assert time.monotonic() < end, "the search did not end"
        time.sleep(0.1)
        test.run()
    sound(test)
    return test


def words_on(test: AppTest) -> str:
    kinds: list[Any] = [test.markdown, test.caption, test.info, test.warning, test.error, test.subheader]
    return "\n".join(str(element.value) for kind in kinds for element in kind)


def changed(path: Path, **tables: dict[str, Any]) -> Path:
    """A scenario file with some values of its tables changed."""
    document = read_document(path)
    for table, values in tables.items():
        document[table] = {**document.get(table, {}), **values}
    path.write_text(write_document(document), encoding="utf-8")
    return path
