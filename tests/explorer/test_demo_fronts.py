"""The fronts that come with the demo jobs: a pin against the search itself, and promises to whoever opens one."""

from __future__ import annotations

import json
import threading
from functools import partial
from typing import Any

import pytest

from engine.formats.front import csv_text
from engine.formats.scenario import demo_scenarios, read_document, read_scenario
from engine.scenario import Scenario
from engine.search.runs import Run, run
from explorer.demo_fronts import EVALUATIONS, folder_of, found_for, fresh_front, stored_front
from explorer.session import as_document
from explorer.worker import SearchTask
from tests.explorer.pages import PATIENCE, Opener, acted, job_of, restart, searched, sound, surface_on, words_on

CAME_ALONG = "came with this demo"


@pytest.mark.parametrize("name", list(demo_scenarios()))
def test_a_stored_front_is_what_a_fresh_search_finds(name: str) -> None:
    """Pin: byte for byte, and made from the job as it stands.  ``python -m explorer.demo_fronts`` writes them again."""
    fresh, record = fresh_front(name), stored_front(name).record
    for file, table in (("front.csv", fresh.front), ("left_out.csv", fresh.left_out)):
        stored, made = (folder_of(name) / file).read_text(encoding="utf-8"), csv_text(table)
        differing = [pair for pair in zip(stored.splitlines(), made.splitlines(), strict=False) if pair[0] != pair[1]]
        assert differing[:2] == [], file  # of a thousand designs two tell as much as all of them
        assert stored == made, file
    assert record["scenario_sha256"] == read_scenario(demo_scenarios()[name]).digest
    assert {**record, "seconds": 0.0} == {**json.loads(json.dumps(fresh.record)), "seconds": 0.0}
    assert record["evaluations"] == EVALUATIONS


def test_only_a_demo_s_own_job_has_a_stored_front() -> None:
    """A job that says anything else must not be shown another's designs."""
    document = as_document(read_document(demo_scenarios()["van-bench"]))
    found = found_for(document)
    assert found is not None
    assert found.came_with_demo
    assert len(found.front) == found.record["designs"]
    assert found_for({**document, "title": "Another"}) is None


def test_a_demo_shows_its_front_at_once_and_the_full_search_takes_its_place(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    go = threading.Event()

    def held(scenario: Scenario, **named: Any) -> Run:
        go.wait(PATIENCE)
        return run(scenario, **{**named, "evaluations": 4_096})

    monkeypatch.setattr("explorer.frame.SearchTask", partial(SearchTask, search=held))
    test = opened(demo_scenarios()["van-bench"])
    sound(test)
    job = job_of(test)
    assert job.found is not None
    assert job.pick is not None
    assert job.found.came_with_demo
    assert CAME_ALONG in words_on(test)
    assert surface_on(test)["pick"]["id"] == job.pick.row["id"]
    assert f"Why {job.pick.row['id']} is where it is" in words_on(test)
    test.button(key="add-to-shortlist").click().run()
    acted(test, does="limits")
    filters = dict(job.filters)
    assert filters

    restart()  # the search is gone, the stored front is still the one to be replaced
    again = opened(job=job.id)
    assert CAME_ALONG in words_on(again)
    go.set()
    searched(again)
    job = job_of(again)
    assert job.found is not None
    assert not job.found.came_with_demo
    assert job.found.record["evaluations"] == 4_096
    assert CAME_ALONG not in words_on(again)
    assert job.filters == filters
    assert len(job.shortlist) == 1
