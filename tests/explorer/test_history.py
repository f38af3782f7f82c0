"""Steps back and forward (promises to the user): what was done comes back, no more of it than is meant."""

from __future__ import annotations

import json
from dataclasses import replace
from pathlib import Path

import pandas as pd
import pytest

from explorer import history
from explorer.document import put
from explorer.history import MOST, History, revived
from explorer.open_jobs import OpenJobs
from explorer.session import Chosen, Job, JobStore, new_id, row_of

DOCUMENT = {"title": "Bench", "driver": [{"name": "Ten"}, {"name": "Twelve"}]}


@pytest.fixture
def job() -> Job:
    return Job(id=new_id(), source="bench.toml", document=DOCUMENT)


def design(front: pd.DataFrame, place: int) -> Chosen:
    return Chosen(row_of(front, place), DOCUMENT)


def test_a_driver_removed_is_back_and_gone_again(job: Job) -> None:
    steps = History()
    steps.note(job)
    job.document = {**DOCUMENT, "driver": [{"name": "Ten"}]}
    steps.note(job)
    steps.undo(job)
    assert job.document == DOCUMENT
    steps.redo(job)
    assert job.document["driver"] == [{"name": "Ten"}]


def test_inputs_picks_filters_and_the_shortlist_come_back_in_turn(job: Job, front: pd.DataFrame) -> None:
    steps = History()
    steps.note(job)
    job.pick = design(front, 0)
    steps.note(job)
    job.filters["f3_hz"] = [None, 40.0]
    steps.note(job)
    job.filters["f3_hz"][1] = 35.0
    steps.note(job)
    job.shortlist.append(design(front, 1))
    steps.note(job)
    seen = []
    for _ in range(4):
        steps.undo(job)
        seen.append((len(job.shortlist), dict(job.filters), job.pick is not None))
    assert seen == [
        (0, {"f3_hz": [None, 35.0]}, True), (0, {"f3_hz": [None, 40.0]}, True), (0, {}, True), (0, {}, False),
    ]  # fmt: skip
    steps.undo(job)
    assert job.pick is None


def test_a_sweep_of_the_finished_box_is_a_step(job: Job) -> None:
    """After a restart as well."""
    steps, sweep = History(), {"name": "box.csv", "amount": "", "text": "frequency_hz,impedance_ohm\n20,8\n"}
    steps.note(job)
    job.sweeps = {**job.sweeps, "box": sweep}
    steps.note(job)
    job.sweeps = {}
    steps.note(job)
    steps = revived(steps.dump())
    steps.undo(job)
    assert job.sweeps == {"box": sweep}
    steps.undo(job)
    assert job.sweeps == {}
    steps.redo(job)
    assert job.sweeps == {"box": sweep}


def test_what_is_held_known_of_a_measured_box_is_a_step(job: Job) -> None:
    """After a restart as well, and where an earlier version kept the steps without it."""
    steps = History()
    steps.note(job)
    job.held = ["fs", "re"]
    steps.note(job)
    job.held = ["fs"]
    steps.note(job)
    text = steps.dump()
    steps = revived(text)
    steps.undo(job)
    assert job.held == ["fs", "re"]
    steps.undo(job)
    assert job.held == []
    steps.redo(job)
    assert job.held == ["fs", "re"]
    stored = json.loads(text)
    stored["steps"] = [[step[:5] for step in states] for states in stored["steps"]]
    earlier = revived(json.dumps(stored))
    assert [state.held for state in earlier.past] == [(), ()]


def test_a_price_and_who_is_recommended_come_back(job: Job, front: pd.DataFrame) -> None:
    """Though designs are alike whatever is asked for them; after a restart as well."""
    steps = History()
    job.shortlist = [design(front, 0), design(front, 1)]
    steps.note(job)
    job.shortlist = [replace(job.shortlist[0], price="890 EUR"), job.shortlist[1]]
    steps.note(job)
    job.shortlist = [job.shortlist[0], replace(job.shortlist[1], recommended=True)]
    steps.note(job)
    assert len(steps.past) == 2
    steps = revived(steps.dump())
    steps.undo(job)
    assert [(each.price, each.recommended) for each in job.shortlist] == [("890 EUR", False), ("", False)]
    steps.undo(job)
    assert [each.price for each in job.shortlist] == ["", ""]
    steps.redo(job)
    assert job.shortlist[0].price == "890 EUR"


@pytest.mark.parametrize(
    ("place", "price"),
    [
        (("driver", 0, "price"), "120 EUR"),
        (("stock", "board_price"), "30 EUR/m2"),
        (("stock", "pipe", 0, "price"), "9 EUR/m"),
    ],
)
def test_a_price_of_what_is_bought_is_a_step(job: Job, place: tuple[str | int, ...], price: str) -> None:
    job.document = {**DOCUMENT, "currency": "EUR", "stock": {"pipe": [{"name": "tube"}]}}
    before = job.document
    steps = History()
    steps.note(job)
    job.document = put(job.document, place, price)
    steps.note(job)
    assert len(steps.past) == 1
    steps.undo(job)
    assert job.document == before


def test_what_the_program_did_by_itself_is_no_step(job: Job, front: pd.DataFrame) -> None:
    steps = History()
    steps.note(job)
    job.pick = design(front, 0)
    steps.settle(job)
    steps.note(job)
    assert not steps.past


def test_something_new_after_undo_leaves_nothing_to_redo(job: Job) -> None:
    steps = History()
    steps.note(job)
    for title in ("A", "B"):
        job.document = {**DOCUMENT, "title": title}
        steps.note(job)
    steps.undo(job)
    job.document = {**DOCUMENT, "title": "C"}
    steps.note(job)
    steps.redo(job)
    assert job.document["title"] == "C"
    steps.undo(job)
    assert job.document["title"] == "A"


def test_only_so_many_steps_are_kept_and_their_text_stays_short(job: Job, monkeypatch: pytest.MonkeyPatch) -> None:
    steps = History()
    for number in range(MOST + 20):
        job.document = {**DOCUMENT, "title": f"{number}" * 50}
        steps.note(job)
    assert len(steps.past) == MOST
    monkeypatch.setattr(history, "LARGEST", 3000)
    text = steps.dump()
    assert len(text) <= 3000
    kept = revived(text)
    assert 0 < len(kept.past) < MOST
    assert kept.past[-1] == steps.past[-1]


def test_steps_are_there_after_a_restart(tmp_path: Path, job: Job, front: pd.DataFrame) -> None:
    jobs = OpenJobs(JobStore(tmp_path))
    jobs.put(job)
    steps = jobs.history(job)
    steps.note(job)
    job.pick = design(front, 3)
    steps.note(job)
    job.document = {**DOCUMENT, "title": "Shelf"}
    steps.note(job)
    steps.undo(job)
    jobs.save(job)
    again = OpenJobs(JobStore(tmp_path))
    back = again.take(job.id)
    assert back is not None
    steps = again.history(back)
    steps.note(back)
    assert (len(steps.past), len(steps.future)) == (1, 1)
    steps.redo(back)
    assert back.document["title"] == "Shelf"
    steps.undo(back)
    steps.undo(back)
    assert back.pick is None


@pytest.mark.parametrize("text", ["", "[]", "{", '{"steps": [[[0, {}, null, []]], []], "parts": []}', '{"steps": 3}'])
def test_steps_that_cannot_be_read_are_let_go(text: str) -> None:
    assert revived(text) == History()
