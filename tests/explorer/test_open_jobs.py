"""Open jobs, promises to the user: two tabs on one job edit the same job; another process's work is not lost."""

from __future__ import annotations

from pathlib import Path

import pytest

from explorer.document import put
from explorer.open_jobs import OpenJobs
from explorer.session import DamagedJobError, Job, JobStore, new_id

DOCUMENT = {"title": "Bench", "space": {"width": "1200 mm", "margin": "5 mm"}}


@pytest.fixture
def job() -> Job:
    return Job(id=new_id(), source="bench.toml", document=DOCUMENT)


def test_two_tabs_on_one_job_hold_the_same_job(tmp_path: Path, job: Job) -> None:
    JobStore(tmp_path).save(job)
    jobs = OpenJobs(JobStore(tmp_path))
    one, other = jobs.take(job.id), jobs.take(job.id)
    assert one is not None
    assert one is other
    one.document = put(one.document, ("space", "width"), "1100 mm")
    jobs.save(one)
    other.document = put(other.document, ("space", "margin"), "7 mm")
    jobs.save(other)
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert back.document["space"] == {"width": "1100 mm", "margin": "7 mm"}


def test_what_another_process_wrote_is_taken_over_in_place(tmp_path: Path, job: Job) -> None:
    here, there = OpenJobs(JobStore(tmp_path)), OpenJobs(JobStore(tmp_path))
    here.save(here.put(job))
    theirs = there.take(job.id)
    assert theirs is not None
    assert not here.refresh(job)
    theirs.document = put(theirs.document, ("space", "width"), "900 mm")
    there.save(theirs)
    assert here.refresh(job)
    assert job.document["space"]["width"] == "900 mm"
    assert not here.refresh(job)


def test_a_file_damaged_while_the_job_is_open_is_written_again(tmp_path: Path, job: Job) -> None:
    jobs = OpenJobs(JobStore(tmp_path))
    jobs.save(jobs.put(job))
    (tmp_path / job.id / "job.json").write_text("{ half a file", encoding="utf-8")
    assert not jobs.refresh(job)
    jobs.save(job)
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert back.document == DOCUMENT


def test_a_damaged_job_that_is_not_open_is_said(tmp_path: Path, job: Job) -> None:
    JobStore(tmp_path).save(job)
    (tmp_path / job.id / "job.json").write_text("[]", encoding="utf-8")
    with pytest.raises(DamagedJobError):
        OpenJobs(JobStore(tmp_path)).take(job.id)


def test_an_earlier_job_that_says_the_same_is_found_and_a_changed_one_is_not(tmp_path: Path, job: Job) -> None:
    jobs = OpenJobs(JobStore(tmp_path))
    jobs.save(jobs.put(job))
    assert jobs.unchanged(dict(DOCUMENT)) is job
    job.document = put(job.document, ("space", "width"), "900 mm")
    jobs.save(job)
    assert jobs.unchanged(DOCUMENT) is None
