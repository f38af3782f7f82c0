"""Jobs that nobody has before them are let go from memory, and nothing is lost by that: promises to the user."""

from __future__ import annotations

import gc
from pathlib import Path

from engine.formats.scenario import demo_scenarios, read_document
from explorer.open_jobs import OpenJobs
from explorer.session import Job, JobStore
from explorer.visits import Visit, Visits
from tests.explorer.pages import Opener, job_of, remembered


def test_a_job_is_let_go_with_its_last_visit() -> None:
    let_go: list[str] = []

    def noted(job_id: str) -> bool:
        let_go.append(job_id)
        return True

    visits, one, other = Visits(noted), Visit(), Visit()
    visits.come(one, "a")
    visits.come(other, "a")
    del one
    gc.collect()
    assert visits.sweep() == []
    visits.come(other, "b")
    assert visits.sweep() == ["a"]
    visits.come(other, "")
    assert visits.sweep() == ["b"]
    assert visits.sweep() == []
    assert let_go == ["a", "b"]


def test_a_job_that_cannot_be_let_go_is_tried_again() -> None:
    """Where the disk refuses it stays in memory."""
    answers = iter([False, True])
    visits, visit = Visits(lambda _: next(answers)), Visit()
    visits.come(visit, "a")
    visits.come(visit, "")
    assert visits.sweep() == []
    assert visits.sweep() == ["a"]


def test_what_is_let_go_is_saved_before_and_comes_again(tmp_path: Path) -> None:
    jobs = OpenJobs(JobStore(tmp_path))
    document = read_document(demo_scenarios()["roadster"])
    job = jobs.put(Job(id="abcdefgh", source="x.toml", document=document))
    jobs.save(job)
    job.notes = "typed last"
    assert jobs.let_go(job.id)
    assert not jobs.holds(job)
    again = jobs.take(job.id)
    assert again is not None
    assert again is not job
    assert again.notes == "typed last"


def test_a_page_visits_its_job(opened: Opener) -> None:
    test = opened()
    assert remembered(test)["visit"].job_id == job_of(test).id
