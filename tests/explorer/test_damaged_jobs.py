"""Damaged jobs (promises to the user): what is damaged is said, never believed, and takes nothing else along."""

from __future__ import annotations

import json
from pathlib import Path

import pandas as pd
import pytest

from engine.untrusted import DEEPEST
from explorer.frame import DAMAGED
from explorer.open_jobs import OpenJobs
from explorer.session import DamagedJobError, Job, JobStore, SearchResult, choose, dump
from tests.damage import damaged, tables_damaged
from tests.explorer.stored import as_before_generations, file_of, state_of

DOCUMENT = {"title": "Bench", "driver": [{"name": "Ten"}, {"name": "Twelve"}]}
ID = "a-job-of-tests"


@pytest.fixture
def place(tmp_path: Path, front: pd.DataFrame) -> Path:
    """A job of three generations: edited after its second search, with steps to undo."""
    jobs = OpenJobs(JobStore(tmp_path))
    job = Job(id=ID, source="bench.toml", document=DOCUMENT, notes="ring back on Friday")
    jobs.put(job)
    for number, designs in enumerate((8, 12)):
        record = {"evaluations": 4000 + number, "seconds": 1.5, "stopped_by": "budget", "objectives": ["f3_hz"]}
        few = front[front["driver"] == front["driver"].iloc[0]].head(designs).reset_index(drop=True)
        job.found = SearchResult(
            few, record | {"designs": len(few)}, DOCUMENT | {"driver": [{"name": few["driver"][0]}]}
        )
        job.pick = choose(job.found, str(few["id"][1]))
        jobs.history(job).note(job)
        jobs.save(job)
    assert job.pick is not None
    job.shortlist = [job.pick]
    jobs.history(job).note(job)
    jobs.save(job)
    return tmp_path / ID


def opened(place: Path) -> tuple[Job, OpenJobs]:
    jobs = OpenJobs(JobStore(place.parent))
    job = jobs.take(ID)
    assert job is not None
    return job, jobs


def files_in(place: Path) -> dict[str, bytes]:
    return {path.name: path.read_bytes() for path in place.iterdir()}


def laid_down(place: Path, files: dict[str, bytes]) -> None:
    for path in place.iterdir():
        path.unlink()
    for name, content in files.items():
        (place / name).write_bytes(content)


@pytest.mark.parametrize("part", ["state", "front", "steps", "manifest", "before"])
def test_each_damage_is_said_and_nothing_else_is_lost(place: Path, part: str) -> None:
    whole, jobs = opened(place)
    steps = len(jobs.history(whole).past)
    assert (whole.damage, steps) == ((), 1)
    files = files_in(place)
    names = {"manifest": "job.json", "before": "job.before.json"}
    name = names.get(part) or file_of(place, part).name
    for how, bad in damaged(files[name]):
        laid_down(place, {**files, name: bad})
        job, jobs = opened(place)
        assert job.notes == "ring back on Friday", how
        assert job.document == DOCUMENT, how
        assert job.pick == whole.pick, how
        if part == "state":
            assert job.damage[0] == "last", how  # as saved before: the shortlist was still empty
            assert job.shortlist == [], how
            assert job.found is not None, how
        elif part == "front":
            assert job.damage == ("front",), how
            assert (job.found, job.shortlist) == (None, whole.shortlist), how
        elif part == "steps":
            assert (job.damage, jobs.history(job).past) == (("steps",), []), how
            assert dump(job) == dump(whole), how
        elif part == "manifest":  # its newest whole files are found without it
            assert job.damage in ((), ("last",)), how
            assert dump(job) == dump(whole), how
        else:
            assert (job.damage, dump(job)) == ((), dump(whole)), how
        assert all(damage in DAMAGED for damage in job.damage)
        jobs.save(job)  # and the next save makes it whole
        again, _ = opened(place)
        assert (again.damage, dump(again)) == ((), dump(job)), how


def test_a_table_that_still_is_one_is_not_believed(place: Path) -> None:
    """The front that 27 designs became 5 of, and the one with text in a figure."""
    files, name = files_in(place), file_of(place, "front").name
    for how, bad in tables_damaged(files[name], "f3_hz"):
        laid_down(place, {**files, name: bad})
        job, _ = opened(place)
        assert (job.damage, job.found) == (("front",), None), how
        assert len(job.shortlist) == 1, how


def test_a_table_of_before_there_were_digests_is_looked_through(place: Path) -> None:
    front = place / state_of(place)["found"]["front"]
    as_before_generations(place)
    files = files_in(place)
    assert opened(place)[0].found is not None
    for how, bad in tables_damaged(files[front.name], "f3_hz"):
        laid_down(place, {**files, front.name: bad})
        job, _ = opened(place)
        assert job.found is None, how
        assert "the designs of the last search" in job.lost[0], how
        assert (job.document, len(job.shortlist)) == (DOCUMENT, 1), how


def test_a_job_of_before_there_were_generations_is_carried_over(place: Path) -> None:
    before, _ = opened(place)
    as_before_generations(place)
    (place / "steps.json").write_text('{"steps": [[], []], "parts": []}', encoding="utf-8")
    job, jobs = opened(place)
    assert (job.damage, job.lost, dump(job)) == ((), (), dump(before))
    job.notes = "carried over"
    jobs.save(job)
    jobs.save(job)
    job.notes = "and once more"
    jobs.save(job)
    again, _ = opened(place)
    assert again.notes == "and once more"
    assert again.found is not None
    assert not (place / "steps.json").exists()
    assert len(list(place.glob("front-*.csv"))) == 1


def test_the_search_before_is_shown_where_the_last_one_is_damaged(place: Path, front: pd.DataFrame) -> None:
    job, jobs = opened(place)
    assert job.found is not None
    record = {**job.found.record, "designs": 3}
    job.found = SearchResult(job.found.front.head(3), record, job.found.document)
    jobs.save(job)
    file_of(place, "front").write_bytes(b"id\n")
    again, jobs = opened(place)
    assert again.damage == ("front_before",)
    assert again.found is not None
    assert len(again.found.front) == again.found.record["designs"] == 12
    jobs.save(again)
    once_more, _ = opened(place)
    assert once_more.damage == ()


def test_all_of_a_state_damaged_is_said_and_put_aside(place: Path) -> None:
    for path in place.glob("state-*"):
        path.write_bytes(b"{")
    store = JobStore(place.parent)
    assert [path.name for path in store.survey(10)[1]] == [ID]
    with pytest.raises(DamagedJobError) as caught:
        store.load(ID)
    assert len(list(caught.value.kept_as.glob("front-*.csv"))) > 0
    assert store.load(ID) is None


def test_a_job_nested_without_end_stops_no_start(place: Path) -> None:
    """User's promise: such a job is told; others, and the start, go on."""
    deep: list[object] = []
    for _ in range(DEEPEST + 5):
        deep = [deep]
    as_before_generations(place, document={"title": deep})
    (place.parent / "endlessly-deep").mkdir()
    (place.parent / "endlessly-deep" / "job.json").write_text('{"a":' * 100_000, encoding="utf-8")
    jobs = OpenJobs(JobStore(place.parent))
    jobs.put(Job(id="another-job", source="x", document={"title": "Other"}))
    other = jobs.take("another-job")
    assert other is not None
    jobs.save(other)
    jobs.tidy()
    assert jobs.unchanged({"title": "Other"}) is other
    found, damaged_ones = jobs.store.survey(10)
    assert [each.id for each in found] == ["another-job"]
    assert {path.name for path in damaged_ones} == {ID, "endlessly-deep"}


def test_half_a_sign_stops_no_saving(place: Path) -> None:
    """User's promise: a lone surrogate, as a file's name or another program may bring, is replaced."""
    job, jobs = opened(place)
    job.source, job.notes = "caf\udce9.toml", "\ud83d\ude00 and \ud83d"
    job.document = {**job.document, "title": "\ud800"}
    jobs.history(job).note(job)
    jobs.save(job)
    again, _ = opened(place)
    assert (again.source, again.notes) == (
        "caf\N{REPLACEMENT CHARACTER}.toml",
        "\U0001f600 and \N{REPLACEMENT CHARACTER}",
    )
    assert again.title == "\N{REPLACEMENT CHARACTER}"
    state = as_before_generations(place).read_text(encoding="utf-8")
    (place / "job.json").write_text(state.replace("ring back", "\\ud800"), encoding="utf-8")
    job, jobs = opened(place)
    job.customer = "x"
    jobs.save(job)


def test_leftovers_go_at_the_next_start(place: Path) -> None:
    whole = set(files_in(place))
    left = {".job.json.1a2b3c4d.part", f"front-{'0' * 64}.csv", f"state-{'1' * 64}.json", "front-0123456789abcdef.csv"}
    for name in left:
        (place / name).write_text("half", encoding="utf-8")
    (place / "mine.txt").write_text("somebody's", encoding="utf-8")
    JobStore(place.parent).tidy()
    assert set(files_in(place)) == whole | {"mine.txt"}


def test_what_was_begun_and_never_saved_goes(place: Path) -> None:
    begun = place.with_name("never-saved")
    begun.mkdir()
    (begun / f"state-{'1' * 64}.json").write_text("{}", encoding="utf-8")
    JobStore(place.parent).tidy()
    assert [path.name for path in place.parent.iterdir()] == [ID]


def test_a_manifest_that_is_gone_takes_nothing_along(place: Path) -> None:
    whole, _ = opened(place)
    (place / "job.json").unlink()
    JobStore(place.parent).tidy()
    job, jobs = opened(place)
    assert (job.damage, dump(job)) == (("last",), dump(whole))
    jobs.save(job)
    assert opened(place)[0].damage == ()


def test_what_only_a_broken_manifest_names_is_not_cleared(place: Path) -> None:
    whole = set(files_in(place))
    (place / "job.json").write_text("{", encoding="utf-8")
    JobStore(place.parent).tidy()
    assert set(files_in(place)) == whole
    assert json.loads(file_of_before(place).read_text(encoding="utf-8"))["notes"] == "ring back on Friday"


def file_of_before(place: Path) -> Path:
    return place / str(json.loads((place / "job.before.json").read_text(encoding="utf-8"))["parts"]["state"])
