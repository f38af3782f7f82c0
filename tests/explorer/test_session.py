"""The job store, promises to the user: what was put in is there after a reload; damage stops nothing."""

from __future__ import annotations

import datetime
import errno
import json
import os
from dataclasses import replace
from pathlib import Path
from typing import Any

import pandas as pd
import pytest

from explorer.session import (
    FRONTS_KEPT,
    Chosen,
    DamagedJobError,
    Job,
    JobStore,
    SearchResult,
    as_document,
    choose,
    new_id,
    row_of,
)
from tests.explorer.stored import as_before_generations

DOCUMENT = {"title": "Bench", "space": {"width": "1200 mm"}, "driver": [{"name": "Ten"}, {"name": "Twelve"}]}


@pytest.fixture
def job(front: pd.DataFrame) -> Job:
    record = {"evaluations": 4000, "seconds": 1.5, "stopped_by": "budget", "objectives": ["f3_hz", "output_db"]}
    misfit = {**row_of(front, 0), "id": "N0001", "short_of": "driver depth", "short_by_m": 0.01}
    found = SearchResult(front, record, DOCUMENT, [misfit])
    closed = str(front.loc[front["box_kind"] == "closed", "id"].iloc[0])
    vented = str(front.loc[front["box_kind"] == "vented", "id"].iloc[0])
    pick, other = choose(found, closed), choose(found, vented)
    assert pick is not None
    assert other is not None
    return Job(
        id=new_id(),
        source="bench.toml",
        document={**DOCUMENT, "space": {"width": "twelve hundred"}},
        units="us",
        found=found,
        pick=pick,
        shortlist=[replace(other, price="890 EUR", recommended=True), pick],
        axes={"x": "f3_hz"},
        filters={"f3_hz": [None, 40.0]},
        shop="Ümläut & Söhne",
        customer="<b>",
        note="One\nTwo",
        logo="aGk=",
    )


def test_everything_comes_back(tmp_path: Path, job: Job) -> None:
    JobStore(tmp_path).save(job)
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert back.found is not None
    assert job.found is not None
    pd.testing.assert_frame_equal(back.found.front, job.found.front, check_exact=True)
    assert json.dumps(back.found.left_out) == json.dumps(job.found.left_out)
    back.found = job.found
    assert back == job
    assert [(each.price, each.recommended) for each in back.shortlist] == [("890 EUR", True), ("", False)]


def test_a_closed_box_with_empty_figures_equals_itself_after_a_reload(tmp_path: Path, job: Job) -> None:
    JobStore(tmp_path).save(job)
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert back.pick in back.shortlist


def test_a_design_of_another_search_is_another_design_though_its_id_is_the_same(job: Job) -> None:
    assert job.pick is not None
    assert Chosen({**job.pick.row, "f3_hz": 1.0}, job.pick.document) != job.pick


def test_a_new_front_replaces_the_old_one_on_disk(tmp_path: Path, job: Job) -> None:
    store = JobStore(tmp_path)
    store.save(job)
    assert job.found is not None
    job.found = SearchResult(job.found.front.head(5), {**job.found.record, "seconds": 2.0}, DOCUMENT)
    store.save(job)
    assert len(list((tmp_path / job.id).glob("front-*.csv"))) == 2  # that of before is kept once more
    job.notes = "another generation"
    store.save(job)
    assert len(list((tmp_path / job.id).glob("front-*.csv"))) == 1
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert back.found is not None
    assert len(back.found.front) == 5


@pytest.mark.parametrize("damage", ["", "{", "[]", '{"version": 2}', '{"version": 1}', "null", "\x00\xff"])
def test_a_damaged_file_is_put_aside_and_said_so(tmp_path: Path, job: Job, damage: str) -> None:
    store = JobStore(tmp_path)
    store.save(job)
    as_before_generations(tmp_path / job.id).write_text(damage, encoding="utf-8")
    with pytest.raises(DamagedJobError) as caught:
        store.load(job.id)
    assert caught.value.kept_as.is_dir()
    assert store.load(job.id) is None


def test_a_job_that_the_disk_does_not_let_be_read_stays_where_it_is(
    tmp_path: Path, job: Job, monkeypatch: pytest.MonkeyPatch
) -> None:
    """User's promise: what cannot be read now, for want of a permission say, is no damage and may be read later."""
    store = JobStore(tmp_path)
    store.save(job)

    def denied(*_: object, **__: object) -> str:
        raise PermissionError(errno.EACCES, os.strerror(errno.EACCES))

    with monkeypatch.context() as patch:
        patch.setattr(Path, "open", denied)
        with pytest.raises(PermissionError):
            store.load(job.id)
    back = store.load(job.id)
    assert back is not None
    assert back.pick == job.pick


def test_a_lost_front_is_to_be_searched_again_and_takes_nothing_else_along(tmp_path: Path, job: Job) -> None:
    store = JobStore(tmp_path)
    store.save(job)
    next((tmp_path / job.id).glob("front-*.csv")).unlink()
    back = store.load(job.id)
    assert back is not None
    assert back.found is None
    assert back.damage == ("front_gone",)
    assert back.shortlist == job.shortlist


def test_a_front_of_an_earlier_version_is_lost_and_nothing_else(tmp_path: Path, job: Job) -> None:
    """User's promise: a front whose columns were fewer is searched again; what was typed in stays."""
    store = JobStore(tmp_path)
    store.save(job)
    as_before_generations(tmp_path / job.id)
    (front,) = (tmp_path / job.id).glob("front-*.csv")
    table = pd.read_csv(front).drop(columns=["facing", "short_of"])
    table.to_csv(front, index=False)
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert back.found is None
    assert back.document == job.document
    assert back.lost == ("the designs of the last search (search again to have designs again)",)


def test_a_job_from_before_there_were_sweeps_opens_whole(tmp_path: Path, job: Job) -> None:
    """User's promise: a job that the version before wrote opens with front, pick and shortlist, and lacks nothing."""
    store = JobStore(tmp_path)
    store.save(job)
    file = as_before_generations(tmp_path / job.id)
    state = json.loads(file.read_text(encoding="utf-8"))
    earlier = {key: value for key, value in state.items() if key not in ("sweeps", "held")} | {"version": 3}
    file.write_text(json.dumps(earlier), encoding="utf-8")
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert back.lost == ()
    assert back.found is not None
    assert (back.document, back.pick, back.shortlist) == (job.document, job.pick, job.shortlist)
    assert (back.sweeps, back.held) == ({}, [])


@pytest.mark.parametrize("stored", [5, None, [], {"box": 3}, {"elsewhere": {"name": "", "amount": "", "text": ""}}])
def test_sweeps_that_are_damaged_are_lost_and_nothing_else(tmp_path: Path, job: Job, stored: object) -> None:
    store = JobStore(tmp_path)
    store.save(job)
    as_before_generations(tmp_path / job.id, sweeps=stored)
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert (back.lost, back.sweeps) == (("a sweep",), {})
    assert (back.document, back.pick, back.shortlist) == (job.document, job.pick, job.shortlist)


def test_only_the_last_jobs_keep_their_fronts_and_all_keep_their_inputs(tmp_path: Path, job: Job) -> None:
    store = JobStore(tmp_path)
    for number in range(FRONTS_KEPT + 2):
        job.id = f"job-number-{number:02d}"
        store.save(job)
        os.utime(tmp_path / job.id / "job.json", (number, number))
    job.id = "the-last-one"
    store.save(job)
    assert len(list(tmp_path.glob("*/front-*.csv"))) == FRONTS_KEPT
    assert len(list(tmp_path.glob("*/job.json"))) == FRONTS_KEPT + 3
    assert [earlier.id for earlier in store.recent(most=1)] == ["the-last-one"]


def test_a_date_in_a_file_becomes_text_for_the_reader_to_refuse() -> None:
    assert as_document({"title": datetime.date(2026, 3, 14)}) == {"title": "2026-03-14"}


@pytest.mark.parametrize("name", ["", "..", "../../etc", "a/b", "x" * 60, "short"])
def test_an_id_that_is_no_id_opens_nothing(tmp_path: Path, name: str) -> None:
    (tmp_path / "job.json").write_text("{}")
    assert JobStore(tmp_path / "inside").load(name) is None


def test_recent_jobs_name_the_readable_ones(tmp_path: Path, job: Job) -> None:
    store = JobStore(tmp_path)
    store.save(job)
    (tmp_path / "damaged_one").mkdir()
    (tmp_path / "damaged_one" / "job.json").write_text("{")
    assert [(earlier.id, earlier.title) for earlier in store.recent()] == [(job.id, "Bench")]


def test_no_half_file_is_left_behind(tmp_path: Path, job: Job) -> None:
    JobStore(tmp_path).save(job)
    names = {path.name.split("-")[0] for path in (tmp_path / job.id).iterdir()}
    assert names == {"job.json", "front", "state"}
    assert [path.name for path in tmp_path.iterdir()] == [job.id]


@pytest.mark.parametrize(
    ("damage", "lost"),
    [
        ({"filters": {"f3_hz": ["a", "b"]}}, "a filter"),
        ({"filters": {"f3_hz": [1]}}, "a filter"),
        ({"filters": {"no_such": ["a"], "box_kind": "vented"}}, "a filter"),
        ({"filters": [1]}, "a filter"),
        ({"axes": {"x": "no_such"}}, "an axis"),
        ({"pick": {"row": {}}}, "the pick"),
        ({"pick": {"row": {}, "document": {}}}, "the pick"),
        ({"pick": 3}, "the pick"),
        ({"shortlist": [{"row": {"id": "D0001"}, "document": DOCUMENT}]}, "a design on the shortlist"),
    ],
)
def test_what_does_not_fit_in_a_stored_job_is_left_out_and_named(
    tmp_path: Path, job: Job, damage: dict[str, Any], lost: str
) -> None:
    JobStore(tmp_path).save(job)
    as_before_generations(tmp_path / job.id, **damage)
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert back.lost == (lost,)
    assert back.document == job.document
    assert back.found is not None


def test_a_design_whose_scenario_has_no_such_driver_is_left_out(tmp_path: Path, job: Job) -> None:
    assert job.pick is not None
    job.pick = Chosen({**job.pick.row, "driver": "Fifteen"}, job.pick.document)
    JobStore(tmp_path).save(job)
    back = JobStore(tmp_path).load(job.id)
    assert back is not None
    assert (back.pick, back.lost) == (None, ("the pick",))


def test_another_process_s_front_is_left_on_disk(tmp_path: Path, job: Job) -> None:
    JobStore(tmp_path).save(job)
    (tmp_path / job.id / "front-of-another.csv").write_text("id\n", encoding="utf-8")
    store = JobStore(tmp_path)
    assert store.load(job.id) is not None
    assert job.found is not None
    job.found = SearchResult(job.found.front.head(5), {**job.found.record, "seconds": 2.0}, DOCUMENT)
    store.save(job)
    names = {path.name for path in (tmp_path / job.id).glob("front-*.csv")}
    assert "front-of-another.csv" in names
    assert len(names) == 3
