"""What tests of whole pages share: the explorer run headless, and ways to find things on its pages."""

from __future__ import annotations

import json
import tomllib
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import streamlit as st
from streamlit import config
from streamlit.testing.v1 import AppTest

import explorer
from engine.document import write_document
from engine.formats.scenario import read_document
from engine.goals import GOALS
from engine.report.ink import LIGHT
from explorer import frame
from explorer.charts import Look
from explorer.frame import OWN_FAULT
from explorer.narrowing import passing
from explorer.reading import read
from explorer.session import Job
from explorer.surface_acts import do

APP = Path(explorer.__file__).with_name("app.py")
FIRST_DEMO = "van-bench"
PATIENCE = 600.0  # s; the machine may be busy

# Streamlit finds the pages' settings beside app.py; its test frame does not look for them.
SETTINGS = tomllib.loads(APP.with_name(".streamlit").joinpath("config.toml").read_text(encoding="utf-8"))
config.set_option("runner.magicEnabled", SETTINGS["runner"]["magicEnabled"])

Opener = Callable[..., AppTest]


def restart() -> None:
    """What a new process starts with: nothing open, nothing searched."""
    st.cache_resource.clear()


def remembered(test: AppTest) -> dict[str, Any]:
    """What the tab remembers besides its widgets' values, see :mod:`explorer.memory`."""
    found: dict[str, Any] = test.session_state["memory"]
    return found


def job_of(test: AppTest) -> Job:
    job: Job = remembered(test)["job"]
    return job


def functions_of(view: str, **instead: Any) -> dict[str, Any]:
    """The functions of a page without the page being drawn, with some names they use put ``instead``."""
    path = APP.with_name("views") / f"{view}.py"
    found: dict[str, Any] = {"__name__": view}
    exec(compile(path.read_text(encoding="utf-8").rstrip().removesuffix("\npage()"), str(path), "exec"), found)
    found.update(instead)
    return found


def sound(test: AppTest) -> None:
    """No page broke off, with or without a traceback, and what a field was set to it starts with, see ``hold``."""
    assert not test.exception
    assert not [error.value for error in test.error if error.value.startswith(OWN_FAULT)]
    for kind in ("text_input", "text_area", "toggle", "selectbox", "multiselect", "button_group"):
        for drawn in (each.proto for each in test.get(kind) if each.proto.set_value):
            assert _start_of(drawn) == (drawn.raw_value if kind == "selectbox" else _set_to(drawn)), drawn.id


def _set_to(drawn: Any) -> Any:
    return list(drawn.raw_values) if hasattr(drawn, "raw_values") else drawn.value


def _start_of(drawn: Any) -> Any:
    """What the browser shows of a field that it was told of without what that was set to."""
    if not hasattr(drawn, "options"):
        return drawn.default
    options = [getattr(option, "content", option) for option in drawn.options]
    return options[drawn.default] if isinstance(drawn.default, int) else [options[each] for each in drawn.default]


def units_of(test: AppTest) -> Any:
    return test.segmented_control(key=f"units:{job_of(test).id}")


def typing(test: AppTest, place: str) -> Any:
    """The text field of a place in the scenario."""
    job = job_of(test)
    return test.text_input(key=f"{place}:{job.id}:{job.revision}")


def part_of(test: AppTest) -> Any:
    """The control that says which part of the job is on show."""
    return test.segmented_control(key=f"group:{job_of(test).id}")


def ended(test: AppTest, name: str) -> None:
    """Wait for what is worked out under a name, and draw the page with it, as its timer would."""
    task = frame.searches().of(name)
    if task is not None:  # else the page has taken it in already
        assert task.wait(PATIENCE), "it did not end"
        test.run()
    sound(test)


def searched(test: AppTest) -> AppTest:
    """Run the page again once the search has ended."""
    ended(test, job_of(test).id)
    assert job_of(test).found is not None
    assert not test.get("progress")
    return test


def surface_on(test: AppTest) -> dict[str, Any]:
    """What the picking surface on a page was given."""
    (element,) = (each for each in test.get("bidi_component") if "stamp" in each.proto.json)
    data: dict[str, Any] = json.loads(element.proto.json)
    return data | {"front": json.loads(data["front"])}


def acted(test: AppTest, **act: Any) -> AppTest:
    """What the browser does when something is done on the surface."""
    job = job_of(test)
    assert job.found is not None
    scenario = read(job.found.document, "").scenario
    assert scenario is not None
    keys = [column["key"] for column in surface_on(test)["front"]["columns"]]
    look = Look(units=job.units, currency=scenario.currency, ink=LIGHT)
    do(job, act, keys=keys, look=look, asked=scenario.goals)
    test.run()
    sound(test)
    return test


def quick_pick(test: AppTest, key: str) -> AppTest:
    """The best design in one goal picked."""
    (design,) = (way[0] for way in surface_on(test)["quick"] if way[1].startswith(GOALS[key].best))
    return acted(test, does="pick", id=design)


def kept_on(test: AppTest) -> int:
    """How many designs the filters on the surface keep."""
    job = job_of(test)
    assert job.found is not None
    return int(passing(job.found.front, job.filters).sum())


def showing(test: AppTest, part: str) -> AppTest:
    """A part of what stands below the surface, chosen."""
    job = job_of(test)
    for kind in ("pick", "front"):
        chosen = test.segmented_control(key=f"{kind}-part:{job.id}")
        if part in [option.content for option in chosen.proto.options]:
            chosen.set_value(part).run()
    sound(test)
    return test


def with_front(test: AppTest, front: pd.DataFrame) -> AppTest:
    """The page with another front found."""
    job = job_of(test)
    assert job.found is not None
    job.found = replace(job.found, front=front)
    test.run()
    sound(test)
    return test


def words_on(test: Any) -> str:
    """All that is said on a page, or on a part of one such as ``test.main``."""
    kinds: list[Any] = [test.markdown, test.caption, test.info, test.warning, test.error, test.subheader]
    return "\n".join(str(element.value) for kind in kinds for element in kind)


def changed(path: Path, **tables: dict[str, Any]) -> Path:
    """A scenario file with some values of its tables changed."""
    document = read_document(path)
    for table, values in tables.items():
        document[table] = {**document.get(table, {}), **values}
    path.write_text(write_document(document), encoding="utf-8")
    return path
