"""The jobs and a new one, page by page (promises to the user): nothing begins by itself, and nothing is lost."""

from __future__ import annotations

import threading
from collections.abc import Callable
from functools import partial
from pathlib import Path

import pytest
from streamlit.testing.v1 import AppTest

from explorer import frame
from explorer.job_file import packed
from explorer.session import Job, new_id
from explorer.worker import SearchTask
from tests.explorer.pages import (
    PATIENCE,
    Opener,
    acted,
    job_of,
    part_of,
    remembered,
    sound,
    surface_on,
    typing,
    words_on,
)
from tests.explorer.stored import file_of

SPACE = {
    "width": "1000 mm", "measured[0].depth": "300 mm", "measured[1].depth": "200 mm", "measured[1].height": "400 mm",
}  # fmt: skip
SHEET = {
    "fs": "32 Hz", "qms": "5.2", "sd": "330 cm^2", "re": "1.8 ohm", "le": "0.9 mH", "xmax": "10 mm",
    "rated_power": "350 W", "mms": "130 g", "bl": "9.6 T m", "coils": "2", "coil_impedance": "4 ohm",
    "outer_diameter": "262 mm", "cutout_diameter": "234 mm", "magnet_diameter": "150 mm", "mounting_depth": "86 mm",
}  # fmt: skip


def header(test: AppTest) -> str:
    sound(test)
    return str(test.header[0].value)


def fill(test: AppTest, table: str, texts: dict[str, str]) -> None:
    for key, text in texts.items():
        typing(test, f"{table}.{key}").set_value(text).run()


def test_an_address_without_a_job_shows_the_jobs_and_begins_nothing(opened: Opener, state_directory: Path) -> None:
    test = opened(None)
    assert header(test) == "Jobs"
    assert "job" not in remembered(test)
    assert not list(state_directory.glob("*"))
    assert "No job yet" in test.info[0].value
    for page in ("space_parts", "trade_offs", "shortlist", "given_box", "new_job"):
        assert header(test.switch_page(f"views/{page}.py").run()) == "Jobs"


def test_words_are_explained_without_a_job(opened: Opener) -> None:
    test = opened(None)
    test.switch_page("views/words.py").run()
    assert header(test) == "Words"
    assert "job" not in remembered(test)
    test.text_input(key="wanted-word").set_value("tuning").run()
    assert "Tuning" in words_on(test)


def test_a_new_job_is_put_in_step_by_step_and_then_searched(
    opened: Opener, state_directory: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    over = threading.Event()
    monkeypatch.setattr("explorer.frame.SearchTask", partial(SearchTask, search=lambda *_, **__: over.wait(PATIENCE)))
    test = opened(None)
    test.button(key="new-job").click().run()
    assert header(test) == "New job"
    fill(test, "space", SPACE)
    test.button(key="next").click().run()
    fill(test, "driver[0]", SHEET)
    assert typing(test, "driver[0].vas").placeholder.endswith("L, worked out")
    assert "Worked out from the sheet" in words_on(test)
    test.button(key="next").click().run()
    typing(test, "amplifier.load[0].power").set_value("180 W").run()
    test.button(key="next").click().run()
    assert not test.button(key="find").disabled
    assert frame.searches().of(job_of(test).id) is None
    test.button(key="find").click().run()
    job = job_of(test)
    assert header(test) == "Trade-offs"
    assert frame.searches().of(job.id) is not None
    over.set()
    assert job.document["amplifier"]["lowest_load"] == "4 ohm"
    assert "vas" not in job.document["driver"][0]
    assert job.guide == ""


def test_what_is_still_wanted_is_said_by_step_before_the_search(opened: Opener, state_directory: Path) -> None:
    test = opened(None)
    test.button(key="new-job").click().run()
    fill(test, "space", {"width": "a lot"})
    test.button(key="step:stock").click().run()
    assert test.button(key="find").disabled
    told = words_on(test)
    for step in ("The space", "The driver", "The amplifier"):
        assert f"Still wanted under “{step}”" in told
    assert "a lot" in told


def test_a_job_left_half_put_in_goes_on_where_it_was(opened: Opener, state_directory: Path) -> None:
    test = opened(None)
    test.button(key="new-job").click().run()
    test.button(key="next").click().run()
    job_id = job_of(test).id
    again = opened(None)
    assert "being put in" in words_on(again)
    again.button(key=f"open:{job_id}").click().run()
    assert header(again) == "New job"
    assert typing(again, "driver[0].fs").value == ""


def test_a_job_in_inches_starts_with_what_is_sold_in_inches(opened: Opener, state_directory: Path) -> None:
    test = opened(None)
    test.button(key="new-job").click().run()
    test.segmented_control(key=f"guide-units:{job_of(test).id}").set_value("us").run()
    document = job_of(test).document
    assert document["stock"]["board_thickness"] == "3/4 in"
    assert [pipe["name"] for pipe in document["stock"]["pipe"]] == ["3 in pipe", "4 in pipe"]


def test_a_driver_removed_is_back_by_undo(editing: Opener) -> None:
    test = editing()
    part_of(test).set_value("Drivers").run()
    job = job_of(test)
    test.button(key="add:driver[1]:Add a driver").click().run()
    typing(test, "driver[1].name").set_value("second").run()
    test.button(key="remove:driver[1]").click().run()
    assert len(job.document["driver"]) == 1
    test.button(key="undo").click().run()
    sound(test)
    assert job.document["driver"][1]["name"] == "second"
    test.button(key="redo").click().run()
    assert len(job.document["driver"]) == 1


def test_picks_are_undone_and_a_search_s_own_pick_is_no_step(
    opened_searched: Callable[[], AppTest],
) -> None:
    test = opened_searched()
    job = job_of(test)
    assert test.button(key="undo").disabled
    first = job.pick
    assert job.found is not None
    assert first is not None
    others = [way[0] for way in surface_on(test)["quick"] if way[0] != first.row["id"]]
    acted(test, does="pick", id=others[0])
    assert job.pick != first
    test.button(key="undo").click().run()
    assert job.pick == first
    assert test.button(key="undo").disabled


def test_the_job_of_the_command_line_stays_deleted(
    opened: Opener, small_job: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As after ``wedgefront open van-bench``: no copy of it takes its place."""
    monkeypatch.setattr("sys.argv", ["app.py", str(small_job)])
    test = opened()
    job = job_of(test)
    test.switch_page("views/jobs.py").run()
    test.button(key=f"delete:{job.id}").click().run()
    sound(test)
    assert "job" not in remembered(test)
    assert [each.id for each in frame.open_jobs().store.recent()] == []
    test.run()
    assert "job" not in remembered(test)


def test_a_kept_job_is_renamed_copied_deleted_and_put_back(opened_searched: Callable[[], AppTest]) -> None:
    test = opened_searched()
    job = job_of(test)
    test.switch_page("views/jobs.py").run()
    assert header(test) == "Jobs"
    test.text_input(key=f"name:{job.id}:{job.title}").set_value("Under *the* <bench>").run()
    assert job.title == "Under *the* <bench>"
    test.button(key=f"copy:{job.id}").click().run()
    assert len([button for button in test.button if str(button.key).startswith("open:")]) == 2
    test.button(key=f"delete:{job.id}").click().run()
    assert header(test) == "Jobs"
    assert "job" not in remembered(test)
    assert "is deleted" in words_on(test)
    test.button(key="undo-delete").click().run()
    test.button(key=f"open:{job.id}").click().run()
    assert header(test) == "Trade-offs"
    back = job_of(test)
    assert (back.id, back.title) == (job.id, "Under *the* <bench>")
    assert back.found is not None


def test_a_job_deleted_in_another_tab_is_said(opened: Opener, opened_searched: Callable[[], AppTest]) -> None:
    one = opened_searched()
    other = opened(job=job_of(one).id)
    other.switch_page("views/jobs.py").run()
    other.button(key=f"delete:{job_of(one).id}").click().run()
    one.run()
    assert header(one) == "Jobs"
    assert "was deleted" in one.warning[0].value


def test_a_job_s_file_opens_as_a_job_and_a_bad_one_is_refused(
    opened: Opener, opened_searched: Callable[[], AppTest], tmp_path: Path
) -> None:
    whole = packed(job_of(opened_searched()))
    test = opened(None)
    test.file_uploader(key="open-file").set_value(("job.wedgefront", whole[:-200], "application/zip")).run()
    assert header(test) == "Jobs"
    assert "was not opened" in test.warning[0].value
    test.file_uploader(key="open-file").set_value(("job.wedgefront", whole, "application/zip")).run()
    assert header(test) == "Trade-offs"
    path = tmp_path / "sent.wedgefront"
    path.write_bytes(whole)
    first, again = opened(path), opened(path)
    assert job_of(first) is job_of(again)
    assert job_of(first).found is not None


def test_notes_are_kept_with_the_job_and_go_into_its_file(opened: Opener, state_directory: Path) -> None:
    test = opened(None)
    frame.open_jobs().save(frame.open_jobs().put(job := Job(id=new_id(), source="x.toml", document={"title": "X"})))
    test = opened(job=job.id)
    test.text_area(key=f"notes:{job.id}").set_value("ring back on Friday").run()
    assert job_of(test).notes == "ring back on Friday"
    assert "ring back on Friday" in file_of(state_directory / job.id, "state").read_text(encoding="utf-8")
