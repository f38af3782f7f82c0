"""Jobs deleted, put back and copied (promises to the user): nothing is lost by a click."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from engine.seal import sealed
from explorer import shelf
from explorer.generations import VERSION, NewerJobError
from explorer.open_jobs import OpenJobs
from explorer.session import Job, JobStore, new_id
from explorer.shelf import DELETED_KEPT
from tests.explorer.stored import as_before_generations

DOCUMENT = {"title": "Bench"}


@pytest.fixture
def jobs(tmp_path: Path) -> OpenJobs:
    return OpenJobs(JobStore(tmp_path))


def kept(jobs: OpenJobs, title: str = "Bench") -> Job:
    job = jobs.put(Job(id=new_id(), source="bench.toml", document={**DOCUMENT, "title": title}, notes="ring back"))
    jobs.save(job)
    return job


def test_a_deleted_job_is_put_back_whole(jobs: OpenJobs) -> None:
    job = kept(jobs)
    jobs.delete(job.id)
    assert jobs.take(job.id) is None
    assert jobs.store.recent() == []
    assert [each.title for each in shelf.deleted(jobs.store)] == ["Bench"]
    assert jobs.restore(job.id) == job.id
    back = jobs.take(job.id)
    assert back is not None
    assert (back.document, back.notes) == (job.document, "ring back")
    assert shelf.deleted(jobs.store) == []


def test_a_job_deleted_in_one_tab_is_not_written_again_by_another(jobs: OpenJobs) -> None:
    job = kept(jobs)
    jobs.delete(job.id)
    job.notes = "typed in another tab"
    jobs.save(job)
    assert not jobs.holds(job)
    assert jobs.store.recent() == []


def test_only_the_last_deleted_are_kept(jobs: OpenJobs) -> None:
    for number in range(DELETED_KEPT + 3):
        jobs.delete(kept(jobs, f"Job {number}").id)
    titles = {each.title for each in shelf.deleted(jobs.store)}
    assert len(titles) == DELETED_KEPT
    assert f"Job {DELETED_KEPT + 2}" in titles


def test_what_was_never_deleted_is_not_put_back(jobs: OpenJobs) -> None:
    assert jobs.restore("../elsewhere") is None
    jobs.delete("no-such-job")
    assert shelf.deleted(jobs.store) == []


def test_a_copy_is_a_job_of_its_own(jobs: OpenJobs) -> None:
    job = kept(jobs)
    copy = jobs.duplicate(job.id)
    assert copy is not None
    assert (copy.title, copy.notes) == ("Copy of Bench", "ring back")
    copy.filters["f3_hz"] = [None, 40.0]
    copy.document = {**copy.document, "title": "Other"}
    assert (job.title, job.filters) == ("Bench", {})
    assert len(jobs.store.recent()) == 2


def test_a_later_version_s_job_is_left_as_it_is(jobs: OpenJobs) -> None:
    job = kept(jobs)
    path = jobs.store.folder / job.id / "job.json"
    about = json.loads(path.read_text(encoding="utf-8"))
    text = json.dumps(sealed({"version": VERSION + 1, "parts": about["parts"]}))
    path.write_text(text, encoding="utf-8")
    with pytest.raises(NewerJobError):
        OpenJobs(JobStore(jobs.store.folder)).take(job.id)
    job.notes = "typed here since"
    taken = jobs.refresh(job)
    assert taken is not None
    assert taken.by_later_version
    assert taken.mine is not None
    assert taken.mine.notes == "typed here since"
    assert not jobs.holds(job)
    assert path.read_text(encoding="utf-8") == text


def test_a_later_version_s_state_is_left_as_it_is(jobs: OpenJobs) -> None:
    job = kept(jobs)
    path = as_before_generations(jobs.store.folder / job.id, version=VERSION)
    text = path.read_text(encoding="utf-8")
    with pytest.raises(NewerJobError):
        OpenJobs(JobStore(jobs.store.folder)).take(job.id)
    assert path.read_text(encoding="utf-8") == text
