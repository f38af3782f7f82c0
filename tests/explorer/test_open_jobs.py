"""Open jobs, promises to the user: two tabs on one job edit the same job; another process's work is not lost."""

from __future__ import annotations

import errno
import os
from pathlib import Path

import pytest

from engine import files
from explorer.document import put
from explorer.open_jobs import OpenJobs
from explorer.session import ChangedElsewhereError, DamagedJobError, Job, JobStore, new_id
from tests.explorer.stored import as_before_generations

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


def both_open(folder: Path, job: Job) -> tuple[OpenJobs, Job, OpenJobs, Job]:
    """A job open in two processes, of which the other has written it last."""
    here, there = OpenJobs(JobStore(folder)), OpenJobs(JobStore(folder))
    here.save(here.put(job))
    theirs = there.take(job.id)
    assert theirs is not None
    theirs.document = put(theirs.document, ("space", "width"), "900 mm")
    there.save(theirs)
    return here, job, there, theirs


def test_what_was_changed_in_two_processes_is_there_twice(tmp_path: Path, job: Job) -> None:
    """User's promise: whoever comes later has theirs open, and the own version, with its steps, as a job beside it."""
    here, job, _, _ = both_open(tmp_path, job)
    here.history(job).note(job)
    job.document = put(job.document, ("space", "margin"), "7 mm")
    here.history(job).note(job)
    with pytest.raises(ChangedElsewhereError):
        here.save(job)
    taken = here.refresh(job)
    assert taken is not None
    assert taken.mine is not None
    assert job.document["space"] == {"width": "900 mm", "margin": "5 mm"}
    assert taken.mine.document["space"] == {"width": "1200 mm", "margin": "7 mm"}
    again = OpenJobs(JobStore(tmp_path))
    mine = again.take(taken.mine.id)
    assert mine is not None
    assert mine.title == "Bench, as changed here"
    assert len(again.history(mine).past) == 1
    here.save(job)
    assert here.refresh(job) is None


def test_the_same_change_in_two_processes_is_one(tmp_path: Path, job: Job) -> None:
    here, job, _, theirs = both_open(tmp_path, job)
    job.document = theirs.document
    taken = here.refresh(job)
    assert taken is not None
    assert taken.mine is None
    assert len(here.store.recent()) == 1


def test_where_the_own_version_cannot_be_kept_nothing_is_written_over(
    tmp_path: Path, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    here, job, _, _ = both_open(tmp_path, job)
    job.notes = "mine"

    def full(path: Path, content: str) -> None:
        raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))

    with monkeypatch.context() as patch:
        patch.setattr(files, "write_through", full)
        with pytest.raises(OSError, match="No space"):
            here.refresh(job)
    assert job.notes == "mine"
    with pytest.raises(ChangedElsewhereError):
        here.save(job)
    taken = here.refresh(job)
    assert taken is not None
    assert taken.mine is not None
    assert (taken.mine.notes, job.document["space"]["width"]) == ("mine", "900 mm")


def test_a_job_that_nothing_was_changed_of_here_is_opened_as_it_is_on_disk(tmp_path: Path, job: Job) -> None:
    here, job, _, _ = both_open(tmp_path, job)
    assert here.take(job.id) is job
    assert job.document["space"]["width"] == "900 mm"


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
    as_before_generations(tmp_path / job.id).write_text("[]", encoding="utf-8")
    with pytest.raises(DamagedJobError):
        OpenJobs(JobStore(tmp_path)).take(job.id)


def test_an_earlier_job_that_says_the_same_is_found_and_a_changed_one_is_not(tmp_path: Path, job: Job) -> None:
    jobs = OpenJobs(JobStore(tmp_path))
    jobs.save(jobs.put(job))
    assert jobs.unchanged(dict(DOCUMENT)) is job
    job.document = put(job.document, ("space", "width"), "900 mm")
    jobs.save(job)
    assert jobs.unchanged(DOCUMENT) is None
