"""The pages, run headless by Streamlit's own test frame: each test is a promise to the user.

Clicks on charts cannot be made here; see test_browser.py.
"""

from __future__ import annotations

import json
import re
import shutil
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import Any

import pandas as pd
import pytest
from streamlit.testing.v1 import AppTest

from engine.document import write_document
from engine.errors import SearchImpossible
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.insight.changes import changes
from engine.insight.price import Price
from engine.insight.worth import Worth
from engine.judged import JudgedDesign, Recommendation
from engine.scenario import Scenario
from engine.search.runs import Run
from explorer import frame
from explorer.demo_fronts import stored_front
from explorer.frame import OWN_FAULT
from explorer.open_jobs import OpenJobs
from explorer.session import DRIVERS, Job, JobStore
from explorer.worker import LiveTask, SearchTask
from tests.explorer.pages import (
    FIRST_DEMO,
    PATIENCE,
    Opener,
    acted,
    changed,
    ended,
    job_of,
    kept_on,
    part_of,
    quick_pick,
    remembered,
    restart,
    searched,
    showing,
    sound,
    surface_on,
    typing,
    units_of,
    with_front,
    words_on,
)
from tests.explorer.stored import as_before_generations, file_of

EARLIER_BELOW = "Until it ends, the designs below are those of the search before."


def test_the_first_visit_searches_by_itself_and_shows_a_front_with_a_pick(first_visit: tuple[AppTest, Path]) -> None:
    test, _ = first_visit
    job = job_of(test)
    assert job.found is not None
    assert job.pick is not None
    shown = words_on(test)
    data = surface_on(test)
    assert len(data["front"]["ids"]) == len(job.found.front)
    assert data["pick"]["id"] == job.pick.row["id"]
    assert data["pick"]["there"]
    told = {track["key"]: track["words"] for track in json.loads(data["pick"]["curves"])["tracks"]}
    assert {"response", "maximum_output", "excursion", "impedance"} <= set(told)
    assert job.pick.row["id"] in told["response"]
    assert f"Why {job.pick.row['id']} is where it is" in shown
    assert "Where the model stops" in shown or "The model covers this design" in shown
    assert "harm hearing" in shown
    assert not test.get("vega_lite_chart")  # nothing large is drawn before somebody asks


def test_what_else_is_known_of_the_pick_stands_below_a_part_at_a_time(opened_searched: Callable[[], AppTest]) -> None:
    test = showing(opened_searched(), "All curves")
    assert len(test.get("vega_lite_chart")) in (7, 8)  # air speed only where there is a vent
    assert "What heat and fast air take away" in words_on(test)
    assert "Infrasonic high-pass" in words_on(showing(test, "High-pass"))


def test_a_search_under_way_shows_how_far_it_is_and_cancel_keeps_what_was_found(
    opened: Opener, small_job: Path
) -> None:
    test = opened(changed(small_job, search={"evaluations": 20_000_000}))
    end = time.monotonic() + PATIENCE
    while not re.search(r"[1-9][\d\s]* of .* designs tried", str(test.get("progress")[0].proto.text)):
        assert time.monotonic() < end
        time.sleep(0.1)
        test.run()
    test.button(key="cancel").click().run()
    searched(test)
    found = job_of(test).found
    assert found is not None
    assert 0 < found.record["evaluations"] < 20_000_000
    assert len(found.front) > 0
    assert "stopped early" in words_on(test)


def test_a_reload_finds_front_pick_shortlist_units_and_filters_again(
    opened: Opener, opened_searched: Callable[[], AppTest]
) -> None:
    test = opened_searched()
    quick_pick(test, "level_30_hz_db")
    test.button(key="add-to-shortlist").click().run()
    quick_pick(test, "level_50_hz_db")
    test.button(key="add-to-shortlist").click().run()
    units_of(test).set_value("us").run()
    acted(test, does="limits")
    before = job_of(test)
    restart()
    again = opened(job=before.id)
    after = job_of(again)
    assert after is not before
    assert after.found is not None
    assert before.found is not None
    assert after.found.front.equals(before.found.front)
    assert (after.pick, after.shortlist) == (before.pick, before.shortlist)
    assert (after.units, after.filters, after.axes) == (before.units, before.filters, before.axes)
    assert len(after.shortlist) == 2
    assert not again.get("progress")
    assert words_on(again) == words_on(test)


def test_a_front_that_is_still_being_searched_is_found_again_after_a_reload(opened: Opener, small_job: Path) -> None:
    test = opened(changed(small_job, search={"evaluations": 20_000_000}))
    again = opened(small_job, job=job_of(test).id)
    assert again.get("progress")
    again.button(key="cancel").click().run()
    searched(again)


def test_the_address_names_the_job_on_every_page(opened: Opener) -> None:
    test = opened()
    for page in ("space_parts", "trade_offs", "shortlist"):
        test.switch_page(f"views/{page}.py").run()
        sound(test)
        assert test.query_params["job"] in (job_of(test).id, [job_of(test).id])


def test_a_job_whose_name_has_two_underscores_in_a_row_opens(
    opened: Opener, first_visit: tuple[AppTest, Path], state_directory: Path
) -> None:
    """One in some hundred jobs has such a name, which Streamlit takes in no component's key."""
    shutil.copytree(first_visit[1], state_directory / "two__in_a_row")
    test = opened(job="two__in_a_row")
    sound(test)
    assert surface_on(test)["pick"]
    test.switch_page("views/space_parts.py").run()
    sound(test)


def test_a_damaged_store_file_is_said_and_the_page_works(opened: Opener, state_directory: Path) -> None:
    test = opened()
    old = job_of(test).id
    as_before_generations(state_directory / old).write_text("{ half a file", encoding="utf-8")
    restart()
    again = opened(job=old)
    sound(again)
    assert "Nothing of this job can be read any more" in again.warning[0].value
    assert job_of(again).id != old


def test_a_damaged_front_is_said_and_takes_nothing_else_along(
    opened: Opener, opened_searched: Callable[[], AppTest], state_directory: Path
) -> None:
    job = job_of(opened_searched())
    file = file_of(state_directory / job.id, "front")
    file.write_bytes(file.read_bytes()[:2000])
    restart()
    again = opened(job=job.id)
    sound(again)
    assert "are damaged on the disk and were left out" in again.warning[0].value
    assert (job_of(again).document, job_of(again).pick) == (job.document, job.pick)
    assert not opened(job=job.id).warning  # once is enough


def test_what_is_changed_in_two_running_programs_is_there_twice(opened: Opener, state_directory: Path) -> None:
    test = opened()
    job = job_of(test)
    elsewhere = OpenJobs(JobStore(state_directory))
    theirs = elsewhere.take(job.id)
    assert theirs is not None
    theirs.notes = "written elsewhere"
    elsewhere.save(theirs)
    job.notes = "written here"
    test.run()
    sound(test)
    assert job_of(test).notes == "written elsewhere"
    assert "is kept beside it as" in test.warning[0].value
    mine = next(each for each in elsewhere.store.recent() if each.title.endswith(", as changed here"))
    kept = elsewhere.store.load(mine.id)
    assert kept is not None
    assert kept.notes == "written here"


def test_what_is_typed_wrong_is_said_beside_the_field_and_nothing_is_lost(editing: Opener) -> None:
    test = editing()
    job = job_of(test)
    typing(test, "space.width").set_value("twelve hundred").run()
    assert job.document["space"]["width"] == "twelve hundred"
    assert "**Free width** – “twelve hundred”" in test.error[0].value
    assert any("Expected a number, then its unit" in mark.value for mark in test.markdown if ":red[" in mark.value)
    test.switch_page("views/trade_offs.py").run()
    assert "1 thing in the job must be put right" in words_on(test)
    test.switch_page("views/space_parts.py").run()
    assert typing(test, "space.width").value == "twelve hundred"
    typing(test, "space.width").set_value("47 1/4 in").run()
    assert not test.error
    assert parse_scenario(job.document, source="").space.width == pytest.approx(1.20015)


def test_inches_typed_in_metric_show_their_millimetres(editing: Opener) -> None:
    test = editing()
    typing(test, "space.width").set_value("48 in").run()
    assert typing(test, "space.width").label == "Free width (= 1219.2 mm)"
    typing(test, "space.section[1][0]").set_value("9 in").run()
    assert "= 228.6 mm" in [caption.value for caption in test.caption]


def test_a_bare_number_takes_the_unit_of_the_job(editing: Opener) -> None:
    """User's promise: the field then says which unit that was, and so does the file."""
    test = editing()
    typing(test, "space.width").set_value("1190").run()
    assert typing(test, "space.width").value == job_of(test).document["space"]["width"] == "1190 mm"
    units_of(test).set_value("us").run()
    typing(test, "space.width").set_value("46 7/8").run()
    assert typing(test, "space.width").value == "46 7/8 in"
    assert not test.error


def test_corners_are_inserted_and_removed_and_drawn_at_once(editing: Opener) -> None:
    test = editing()
    job = job_of(test)
    before = len(job.document["space"]["section"])
    drawn = picture_on(test)
    test.button(key="add:space.section[2]:Insert").click().run()
    assert job.document["space"]["section"][2] == ["170 mm", "240 mm"]  # halfway up the slope
    assert not test.error
    typing(test, "space.section[2][0]").set_value("180 mm").run()
    typing(test, "space.section[2][1]").set_value("100 mm").run()
    assert not test.error
    assert picture_on(test) != drawn
    test.button(key="remove:space.section[2]").click().run()
    assert len(job.document["space"]["section"]) == before


def way_of(test: AppTest) -> Any:
    """The control that says in which way the cross-section is given."""
    return test.segmented_control(key=f"way:{job_of(test).id}")


def picture_on(test: AppTest) -> str:
    image: Any = test.get("image")[0]
    return str(image.value)


def told(test: AppTest) -> str:
    """The list of faults at the top, without the signs that keep user text from being markup."""
    return str(test.error[0].value).replace("\\", "")


def marked(test: AppTest) -> list[str]:
    return [mark.value for mark in test.markdown if ":red[" in mark.value]


def test_the_cross_section_changes_over_to_measurements_and_back_unharmed(editing: Opener) -> None:
    test = editing()
    job = job_of(test)
    before = parse_scenario(job.document, source="").space
    way_of(test).set_value("measured").run()
    sound(test)
    assert not test.error
    assert "section" not in job.document["space"]
    assert typing(test, "space.measured[0].depth").value == "230 mm"
    assert [row["height"] for row in job.document["space"]["measured"]] == ["0 mm", "480 mm"]
    way_of(test).set_value("section").run()
    assert "measured" not in job.document["space"]
    assert sorted(parse_scenario(job.document, source="").space.section) == sorted(before.section)


def test_what_is_typed_is_never_lost_to_the_other_way_of_saying_it(editing: Opener) -> None:
    test = editing()
    job = job_of(test)
    typing(test, "space.section[1][0]").set_value("wide").run()
    way_of(test).set_value("measured").run()
    assert "Not changed over" in test.warning[0].value
    assert "Fill in every field" in test.warning[0].value
    assert job.document["space"]["section"][1][0] == "wide"
    assert way_of(test).value == "section"
    typing(test, "space.section[1][0]").set_value("230 mm").run()
    assert not test.warning
    test.button(key="add:space.section[3]:Insert").click().run()
    typing(test, "space.section[3][1]").set_value("300 mm").run()
    way_of(test).set_value("measured").run()
    assert "turns back at a height of 300 mm" in test.warning[0].value
    assert len(job.document["space"]["section"]) == 5


def test_measurements_are_inserted_removed_and_told_wrong_beside_their_row(editing: Opener) -> None:
    test = editing()
    job = job_of(test)
    way_of(test).set_value("measured").run()
    drawn = picture_on(test)
    test.button(key="add:space.measured[1]:Insert").click().run()
    assert job.document["space"]["measured"][1] == {"height": "240 mm", "depth": "170 mm"}
    assert not test.error
    typing(test, "space.measured[1].depth").set_value("7 mm").run()
    assert "**Depth of row 2** – “7 mm”: rows 1 and 3 lead to about 170 mm here" in told(test)
    assert any("were inches typed as millimetres?" in words for words in marked(test))
    typing(test, "space.measured[1].depth").set_value("150 mm").run()
    typing(test, "space.measured[1].back").set_value("15 mm").run()
    assert not test.error
    assert picture_on(test) != drawn
    test.button(key="add:space.measured[3]:Add a row on top").click().run()
    assert typing(test, "space.measured[3].height").placeholder == "needed, in mm"
    assert test.info[0].value.startswith("Still to fill in")
    test.button(key="remove:space.measured[3]").click().run()
    test.button(key="remove:space.measured[1]").click().run()
    assert not test.error
    assert test.button(key="remove:space.measured[1]").disabled


def test_a_space_begun_in_measurements_asks_for_two_rows(editing: Opener, small_job: Path) -> None:
    document = read_document(small_job)
    del document["space"]["section"]
    small_job.write_text(write_document(document), encoding="utf-8")
    test = editing()
    assert "add at least three corners, or change to measurements" in test.info[0].value
    way_of(test).set_value("measured").run()
    sound(test)
    assert not test.error
    assert typing(test, "space.measured[1].height").placeholder == "needed, in mm"
    way_of(test).set_value("section").run()
    assert job_of(test).document["space"].keys() == document["space"].keys()


def test_a_file_that_says_the_cross_section_twice_lets_the_user_choose(editing: Opener, small_job: Path) -> None:
    rows = [{"height": "0 mm", "depth": "230 mm"}, {"height": "480 mm", "depth": "110 mm"}]
    test = editing(changed(small_job, space={"measured": rows}))
    assert "corners or measurements, not both" in test.error[0].value
    assert typing(test, "space.measured[0].depth").value == "230 mm"
    assert typing(test, "space.section[1][0]").value == "230 mm"
    test.button(key="keep:measured").click().run()
    assert not test.error
    assert "section" not in job_of(test).document["space"]


def test_a_keep_out_is_added_filled_in_told_wrong_and_removed(editing: Opener) -> None:
    test = editing()
    job = job_of(test)
    test.button(key="add:space.keepout[0]:Add a keep-out").click().run()
    assert test.info[0].value == "Still to fill in:\n- **Keep-out 1**: 3 fields to fill in"
    assert not marked(test)
    place = "space.keepout[0]"

    def span(key: str, start: str, end: str) -> None:
        for text, value in (("from", start), ("to", end)):
            field = test.text_input(key=f"{place}.{key}:{job.id}:{job.revision}:{text}")
            field.set_value(value).run()

    typing(test, f"{place}.name").set_value("wheel arch").run()
    span("across", "0 mm", "300 mm")
    span("forward", "0 mm", "120 mm")
    span("up", "0 mm", "150 mm")
    assert not test.error
    assert not test.info
    folded = next(part for part in test.expander if part.label.startswith("Keep-outs"))
    assert folded.proto.expanded  # it does not close under the hand that filled in the last field
    (keepout,) = parse_scenario(job.document, source="").space.keepouts
    assert (keepout.name, keepout.across) == ("wheel arch", (0.0, 0.3))
    span("across", "1300 mm", "1400 mm")
    assert any("keeps nothing out" in words for words in marked(test))
    assert test.get("image")  # the space is drawn without what is at fault in it
    span("across", "-10 mm", "1400 mm")
    span("forward", "0 mm", "300 mm")
    span("up", "0 mm", "480 mm")
    assert "**Keep-out 1** – “wheel arch”: leaves nothing of the space" in told(test)
    assert any("Leaves nothing of the space" in words for words in marked(test))
    test.button(key=f"remove:{place}").click().run()
    assert not test.error
    assert "keepout" not in job.document["space"]


def test_units_reported_as_empty_leave_the_job_in_its_units(monkeypatch: pytest.MonkeyPatch) -> None:
    """User's promise: a page change on the heels of the first load can report that; the job stays sound."""
    monkeypatch.setattr(frame, "said", {"units": None}.get)
    job = Job(id="a", source="job.toml", document={}, units="us")
    frame._take_units(job, "units")
    assert job.units == "us"


def test_a_keep_out_by_its_corners_shows_them(editing: Opener, small_job: Path) -> None:
    corners = [["0 mm", "0 mm"], ["60 mm", "0 mm"], ["0 mm", "90 mm"]]
    keepout = {"name": "strut", "across": ["0 mm", "200 mm"], "section": corners}
    test = editing(changed(small_job, space={"keepout": [keepout]}))
    assert not test.error
    assert typing(test, "space.keepout[0].section[1][0]").value == "60 mm"
    typing(test, "space.keepout[0].section[1][0]").set_value("70").run()
    assert typing(test, "space.keepout[0].section[1][0]").value == "70 mm"
    typing(test, "space.keepout[0].section[1][0]").set_value("wide").run()
    assert "**Corner 2, forward of keep-out 1** – “wide”" in told(test)
    assert marked(test)


def test_clearances_door_and_cup_come_and_go_with_what_is_typed(editing: Opener) -> None:
    test = editing()
    job = job_of(test)
    before = job.document
    typing(test, "space.clearance.front").set_value("500 mm").run()
    assert "**Clearance in front** – “500 mm”: leaves nothing of the space" in test.error[0].value
    assert any("Leaves nothing of the space" in words for words in marked(test))
    typing(test, "space.clearance.front").set_value("20 mm").run()
    typing(test, "space.door.width").set_value("700 mm").run()
    assert typing(test, "space.door.height").placeholder == "needed, in mm"
    typing(test, "space.door.height").set_value("600 mm").run()
    typing(test, "space.door.turning_room").set_value("1 m").run()
    assert not test.error
    assert not test.info
    space = parse_scenario(job.document, source="").space
    assert (space.clearance.front, space.door and space.door.turning_room) == (0.02, 1.0)
    for key in ("clearance.front", "door.width", "door.height", "door.turning_room"):
        typing(test, f"space.{key}").set_value("").run()
    part_of(test).set_value("Stock").run()
    typing(test, "stock.terminal_cup.depth").set_value("40 mm").run()
    assert typing(test, "stock.terminal_cup.flange_diameter").placeholder == "needed, in mm"
    typing(test, "stock.terminal_cup.depth").set_value("").run()
    assert job.document == before


def test_every_part_of_the_job_can_be_edited(editing: Opener) -> None:
    test = editing()
    parts = [option.content for option in part_of(test).proto.options]
    assert "Drivers" in parts
    for part in parts:
        part_of(test).set_value(part).run()
        sound(test)
        assert not test.error
        assert test.text_input or test.button_group


def test_a_driver_added_asks_for_its_sheet_and_can_be_removed(editing: Opener) -> None:
    test = editing()
    part_of(test).set_value("Drivers").run()
    test.button(key="add:driver[1]:Add a driver").click().run()
    assert not test.error
    assert typing(test, "driver[1].fs").placeholder == "needed, in Hz"
    assert not [mark.value for mark in test.markdown if ":red[" in mark.value]
    assert test.info[0].value == "Still to fill in:\n- **Driver 2**: 15 fields to fill in"
    test.button(key="remove:driver[1]").click().run()
    assert not test.error


def test_a_search_that_cannot_be_says_what_to_change(opened: Opener, small_job: Path) -> None:
    test = opened(changed(small_job, bounds={"outer_height": ["3000 mm", "3500 mm"]}))
    task = frame.searches().of(job_of(test).id)
    assert task is not None
    assert task.wait(PATIENCE)
    sound(test.run())
    assert test.error[0].value.startswith("Outer height asks for")
    assert "Traceback" not in test.error[0].value


def test_filters_survive_a_visit_to_another_page(opened_searched: Callable[[], AppTest]) -> None:
    test = opened_searched()
    job = job_of(test)
    acted(test, does="typed", key="f3_hz", end="high", text="40 Hz")
    assert job.filters["f3_hz"] == [None, 40.0]
    kept = kept_on(test)
    test.switch_page("views/shortlist.py").run()
    test.switch_page("views/trade_offs.py").run()
    assert job.filters["f3_hz"] == [None, 40.0]
    assert surface_on(test)["ranges"]["f3_hz"] == [None, {"value": 40.0, "text": "40"}]
    assert kept_on(test) == kept
    acted(test, does="clear")
    assert job.filters == {}


def test_units_change_every_figure(opened_searched: Callable[[], AppTest]) -> None:
    test = opened_searched()
    assert " mm wide" in str(surface_on(test)["pick"]["lines"])
    units_of(test).set_value("us").run()
    data = surface_on(test)
    shown = words_on(test) + str(data["pick"])
    assert " in wide" in shown
    assert " mm" not in shown
    units = {column["key"]: column["unit"] for column in data["front"]["columns"]}
    assert units["vent_speed_m_s"] == "ft/s"


def test_the_pick_says_how_sure_it_is_with_the_tolerances_of_the_job(
    opened_searched: Callable[[], AppTest],
) -> None:
    """Promise to the user: told of the pick, by other tolerances at once, and no search is asked for."""
    test = showing(opened_searched(), "How sure")

    def sure() -> str:
        (said,) = [each.value for each in test.markdown if "boxes built like this" in each.value]
        return str(said)

    before = sure()
    job_of(test).document = {**job_of(test).document, "tolerance": {"temperature": "0 K", "cms": 0.3}}
    sound(test.run())
    assert sure() != before
    assert "temperature" not in sure()
    assert not [each for each in test.warning if "changed since this search" in each.value]


def test_the_shortlist_compares_in_words_and_can_be_reordered(opened_searched: Callable[[], AppTest]) -> None:
    test = opened_searched()
    for extreme in ("level_30_hz_db", "level_50_hz_db", "weight_kg"):
        quick_pick(test, extreme)
        test.button(key="add-to-shortlist").click().run()
    job = job_of(test)
    first = [chosen.row["id"] for chosen in job.shortlist]
    test.switch_page("views/shortlist.py").run()
    sound(test)
    assert "Beside A, B " in words_on(test)
    assert "Beside A, C " in words_on(test)
    test.button(key="left:2").click().run()
    assert [chosen.row["id"] for chosen in job.shortlist] == [first[0], first[2], first[1]]
    test.button(key="remove:0").click().run()
    assert [chosen.row["id"] for chosen in job.shortlist] == [first[2], first[1]]


def test_an_empty_shortlist_says_where_to_go(opened: Opener) -> None:
    test = opened()
    test.switch_page("views/shortlist.py").run()
    assert "Nothing here yet" in test.info[0].value


def test_a_changed_job_says_that_the_designs_are_of_the_earlier_one_until_its_own_are_found(
    opened_searched: Callable[[], AppTest],
) -> None:
    test = opened_searched()
    job = job_of(test)
    pick = job.pick
    test.switch_page("views/space_parts.py").run()
    job.document = {**job.document, "search": {"evaluations": 20_000_000}}
    typing(test, "space.width").set_value("1100 mm").run()
    test.switch_page("views/trade_offs.py").run()
    assert "what stands below the picture is of the job as it was" in words_on(test)
    assert job.pick == pick
    test.button(key="cancel").click().run()
    searched(test)


def test_another_demo_is_another_job_and_the_first_is_still_there(opened: Opener, state_directory: Path) -> None:
    test = opened()
    first = job_of(test).id
    test.switch_page("views/jobs.py").run()
    test.button(key="demo:roadster").click().run()
    second = job_of(test)
    assert second.id != first
    assert second.document == read_document(demo_scenarios()["roadster"])
    assert JobStore(state_directory).load(first) is not None


def test_a_file_that_cannot_be_read_is_said_and_the_jobs_are_shown(opened: Opener, tmp_path: Path) -> None:
    broken = tmp_path / "broken.toml"
    broken.write_text("[space\n", encoding="utf-8")
    test = opened(broken)
    sound(test)
    assert "could not be read" in test.warning[0].value
    assert test.header[0].value == "Jobs"
    assert "job" not in remembered(test)


def test_a_front_of_one_design_has_nothing_to_narrow(opened: Opener, monkeypatch: pytest.MonkeyPatch) -> None:
    """Promise: a search cancelled at its first design shows it, whatever figures it has."""
    stored = stored_front(FIRST_DEMO)
    one = stored.front.head(1).assign(level_30_hz_db=103.0)  # a round figure, which no range reaches beyond
    search = partial(SearchTask, search=lambda *_, **__: replace(stored, front=one))
    monkeypatch.setattr("explorer.frame.SearchTask", search)
    test = searched(opened())
    assert surface_on(test)["few"] == [0]
    assert kept_on(test) == 1


@pytest.mark.parametrize("name", list(demo_scenarios()))
def test_every_demo_opens_on_every_page(opened: Opener, name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """The search comes to the front that is stored with the demo, which test_demo_fronts holds equal to a fresh one."""
    search = partial(SearchTask, search=lambda *_, **__: stored_front(name))
    monkeypatch.setattr("explorer.frame.SearchTask", search)
    test = searched(opened(demo_scenarios()[name]))
    found = job_of(test).found
    assert found is not None
    assert not found.came_with_demo
    for page in ("space_parts", "shortlist", "trade_offs"):
        test.switch_page(f"views/{page}.py").run()
        sound(test)


def test_a_fault_of_our_own_is_said_in_words_and_the_other_pages_go_on(
    opened: Opener, monkeypatch: pytest.MonkeyPatch
) -> None:
    test = opened()

    def broken(*_: object) -> None:
        raise ZeroDivisionError("division by zero")

    monkeypatch.setattr("explorer.panels.caution", broken)
    test.switch_page("views/space_parts.py").run()
    assert not test.exception
    assert test.error[-1].value.startswith(OWN_FAULT)
    test.switch_page("views/shortlist.py").run()
    sound(test)


@pytest.mark.parametrize(
    "text",
    [
        'title = 2026-03-14\nspace = "wide"\ndriver = 3\namplifier = []\nstock = [1]\nfilter = {}\nbox = 1\n',
        'title = "x"\n[space]\nsection = "round"\n[[driver]]\nname = 3\ncounts = "two"\n[goals]\nobjectives = "loud"\n',
        'title = "x"\n[space]\nsection = [1, "2 mm", []]\nwidth = nan\n[bounds]\ntuning = ["1 Hz"]\n',
    ],
)
def test_a_file_full_of_nonsense_is_shown_with_its_faults_on_every_part(
    editing: Opener, tmp_path: Path, text: str
) -> None:
    path = tmp_path / "nonsense.toml"
    path.write_text(text, encoding="utf-8")
    test = editing(path)
    for part in [option.content.split(" :")[0] for option in part_of(test).proto.options]:
        part_of(test).set_value(part).run()
        sound(test)
        assert "To put right" in test.error[0].value
        for file_words in ("[[", "in quotes", "square brackets", "table", "`", "is missing"):
            assert file_words not in words_on(test.main)


def test_two_tabs_on_one_job_see_each_other_s_edits_and_lose_none(
    opened: Opener, opened_searched: Callable[[], AppTest]
) -> None:
    one = opened_searched()
    one.switch_page("views/space_parts.py").run()
    other = opened(job=job_of(one).id)
    other.switch_page("views/space_parts.py").run()
    typing(other, "space.width").set_value("1100 mm").run()
    typing(one, "space.margin").set_value("7 mm").run()
    assert typing(one, "space.width").value == "1100 mm"
    assert job_of(one) is job_of(other)
    stored = JobStore().load(job_of(one).id)
    assert stored is not None
    assert (stored.document["space"]["width"], stored.document["space"]["margin"]) == ("1100 mm", "7 mm")


def test_an_address_under_which_nothing_is_stored_is_said(opened: Opener) -> None:
    test = opened(job="no-such-job")
    assert "No job is stored under that address" in test.warning[0].value


def test_a_plain_visit_takes_up_the_same_unchanged_job_again(
    opened: Opener, opened_searched: Callable[[], AppTest]
) -> None:
    first = job_of(opened_searched())
    restart()
    again = opened()
    assert job_of(again).id == first.id
    assert not again.get("progress")


def test_filters_of_another_shape_break_no_page(
    opened: Opener, opened_searched: Callable[[], AppTest], state_directory: Path
) -> None:
    job = job_of(opened_searched())
    filters = {"f3_hz": ["a", "b"], "box_kind": ["radiator"]}
    as_before_generations(state_directory / job.id, filters=filters, pick={"row": {}})
    restart()
    test = opened(job=job.id)
    sound(test)
    assert "Left out: the pick, a filter." in test.warning[0].value
    assert surface_on(test)["pick"] is None


def test_a_misspelt_key_of_a_file_can_be_put_right_on_the_page(editing: Opener, small_job: Path) -> None:
    document = read_document(small_job)
    document["titel"] = document.pop("title")
    document["colour"] = "black"
    small_job.write_text(write_document(document), encoding="utf-8")
    test = editing()
    next(button for button in test.button if button.label == "Rename it to Title").click().run()
    next(button for button in test.button if button.label == "Drop it").click().run()
    sound(test)
    assert not test.error
    assert job_of(test).title == document["titel"]


def test_two_of_one_driver_and_one_of_another_can_be_told_apart_by_filter(
    opened_searched: Callable[[], AppTest],
) -> None:
    test = opened_searched()
    job = job_of(test)
    assert job.found is not None
    front = job.found.front.copy()
    front.loc[: len(front) // 2, "driver_count"] = 2
    driver = str(front["driver"].iloc[0])
    with_front(test, front)
    (drivers,) = (trait for trait in surface_on(test)["front"]["traits"] if trait["filter"] == "Drivers")
    assert f"2 × {driver}" in drivers["names"]
    acted(test, does="names", key=DRIVERS, options=[f"2 × {driver}"])
    assert kept_on(test) == int(((front["driver_count"] == 2) & (front["driver"] == driver)).sum())
    acted(test, does="names", key=DRIVERS, options=drivers["options"])
    assert job.filters == {}


def test_two_groups_are_compared_among_what_the_filters_keep(opened_searched: Callable[[], AppTest]) -> None:
    """User's promise: any two groups in one picture with sentences; a filter that leaves one empty is said."""
    test = opened_searched()
    job = job_of(test)
    assert job.found is not None
    front = job.found.front.copy()
    front.loc[::2, "driver_count"] = 2
    showing(with_front(test, front), "One against another")
    by = next(box for box in test.selectbox if box.label == "By")
    by.set_value("count").run()
    sound(test)
    half = len(front.loc[::2])
    assert f"A box with 2 drivers: {half} designs, " in words_on(test).replace("\\", "")
    assert "**At equal " in words_on(test)
    job_of(test).filters = {DRIVERS: [f"2 × {front['driver'].iloc[0]}"]}
    test.run()
    sound(test)
    assert "The filters keep no design of a box with 1 driver" in words_on(test)


def test_what_a_little_more_buys_is_worked_out_on_request(
    opened_searched: Callable[[], AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    """User's promise: nothing is searched before somebody asks; then sentences and a picture for each goal."""

    def invented(scenario: Scenario, **_: Any) -> list[Price]:
        goals = scenario.goals.objectives
        gained = pd.DataFrame([dict.fromkeys(goals, gain) for gain in (1.1, 1.2)])
        return [Price(changes(scenario)[0], gained, 2.0 * gained)]

    monkeypatch.setattr("explorer.pricing.prices", invented)
    test = opened_searched()
    job = job_of(test)
    showing(test, "Price of space").button(key="start-price").click().run()
    ended(test, f"{job.id}:price")
    assert "10 mm more width: along the front a box plays at least 1.1 dB louder at 30 Hz" in words_on(test).replace(
        "\\", ""
    )


def test_what_limits_are_worth_to_the_pick_is_worked_out_on_request(
    opened_searched: Callable[[], AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    """User's promise: on the pick's page, what each limit that stops it is worth, and which stop nothing."""

    def invented(scenario: Scenario, row: Any, **_: Any) -> list[Worth]:
        gained = pd.DataFrame([dict.fromkeys(scenario.goals.objectives, 1.1)] * 3)
        return [Worth(change, gained * (change.what == "depth")) for change in changes(scenario)[:3]]

    monkeypatch.setattr("explorer.pricing.worths", invented)
    test = opened_searched()
    job = job_of(test)
    assert job.pick is not None
    test.button(key="start-worth").click().run()
    ended(test, f"{job.id}:worth:{job.pick.row['id']}")
    words = words_on(test).replace("\\", "")
    assert "10 mm more depth: it then plays 1.1 dB louder at 30 Hz" in words
    assert "10 mm more width and 10 mm more height: nothing that shows." in words


def test_slots_and_pipes_can_be_told_apart_by_filter(opened_searched: Callable[[], AppTest]) -> None:
    test = opened_searched()
    job = job_of(test)
    assert job.found is not None
    front = job.found.front.copy()
    assert "Vent" not in [trait["filter"] for trait in surface_on(test)["front"]["traits"]]
    vented = front.index[front["vent_kind"] == "pipe"]
    front.loc[vented[::2], ["vent_kind", "vent_placement"]] = ["slot", "slot through side"]
    with_front(test, front)
    (vents,) = (trait for trait in surface_on(test)["front"]["traits"] if trait["filter"] == "Vent")
    assert {"Pipe", "Slot"} <= set(vents["names"])
    acted(test, does="names", key="vent_kind", options=["slot"])
    assert kept_on(test) == len(vented[::2])


def test_an_edit_ends_the_first_search_and_the_front_follows_from_what_it_found(
    opened: Opener, small_job: Path
) -> None:
    test = opened(changed(small_job, search={"evaluations": 20_000_000}))
    first = frame.searches().of(job_of(test).id)
    assert first is not None
    end = time.monotonic() + PATIENCE
    while first.progress is None or not first.progress.front_size:
        assert time.monotonic() < end
        test.run()
    test.switch_page("views/space_parts.py").run()
    typing(test, "space.width").set_value("1100 mm").run()
    assert first.wait(PATIENCE)
    test.switch_page("views/trade_offs.py").run()
    task = frame.searches().of(job_of(test).id)
    assert isinstance(task, LiveTask)
    assert task.base is job_of(test).found
    assert "what stands below the picture is of the job as it was" in words_on(test)
    test.button(key="cancel").click().run()
    searched(test)
    assert not job_of(test).changed_since_search


def test_designs_shown_while_the_next_search_runs_are_said_to_be_the_earlier_ones(
    opened_searched: Callable[[], AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    over = threading.Event()

    def held(*_: object, **__: object) -> Run:
        over.wait(PATIENCE)
        raise SearchImpossible("none_tried")

    monkeypatch.setattr("explorer.frame.SearchTask", partial(SearchTask, search=held))
    test = opened_searched()
    assert EARLIER_BELOW not in words_on(test)
    test.button(key="search").click().run()
    assert EARLIER_BELOW in words_on(test)
    over.set()
    searched(test)
    assert EARLIER_BELOW not in words_on(test)


def test_an_entry_found_for_an_earlier_version_of_the_job_is_marked(opened_searched: Callable[[], AppTest]) -> None:
    test = opened_searched()
    test.button(key="add-to-shortlist").click().run()
    test.switch_page("views/shortlist.py").run()
    assert "Found before you changed the job" not in words_on(test)
    job = job_of(test)
    job.document = {**job.document, "space": {**job.document["space"], "width": "1190 mm"}}
    test.run()
    assert "Found before you changed the job" in words_on(test)


def test_a_filter_switched_off_and_on_again_is_never_at_fault(editing: Opener) -> None:
    test = editing()
    part_of(test).set_value("Signal chain").run()
    job = job_of(test)
    before = len(job.document.get("filter", []))
    if before:
        test.button(key="remove:filter[0]").click().run()
    test.button(key=f"add:filter[{len(job.document['filter'])}]:Add a filter").click().run()
    last = len(job.document["filter"]) - 1
    kind = test.selectbox(key=f"filter[{last}].kind:{job.id}:{job.revision}")
    kind.set_value("none").run()
    assert job.document["filter"][last] == {"kind": "none"}
    test.selectbox(key=f"filter[{last}].kind:{job.id}:{job.revision}").set_value("highpass").run()
    assert job.document["filter"][last]["order"] == 2
    sound(test)


def test_what_is_not_on_the_front_is_told_with_its_reason(opened_searched: Callable[[], AppTest]) -> None:
    test = opened_searched()
    job = job_of(test)
    assert job.found is not None
    job.found.record["left_out"] = []
    test.run()
    assert "Every kind of box and every driver" in words_on(showing(test, "Not on the front"))
    group = {"box_kind": "vented", "vent_kind": "slot", "driver": "compact 8", "driver_count": 2, "facing": "front"}
    short = [{"constraint": "space", "by": 0.0254, "limit": None, "reached": None}]
    job.found.record["left_out"] = [
        {**group, "radiator": "", "radiator_count": 0, "reason": "short", "short_of": short}
    ]
    job.found.record["drivers_without_wiring"] = ["2 × compact 8"]
    test.run()
    told = r"- Vented box with a slot, 2 × compact 8\: the nearest one is short of room in the space's cross\-section"
    assert rf"{told} or width \(25\.4 mm\)\." in words_on(test)
    assert r"- 2 × compact 8\: no way of joining the coils" in words_on(test)


@pytest.mark.parametrize(
    ("evaluations", "limits", "told"),
    [(6_144, {"weight_kg": "1 kg"}, "the limit on weight"), (600, {"f3_hz": "10 Hz"}, "So few tell little")],
)
def test_where_nothing_can_be_built_the_nearest_of_each_kind_is_told_and_drawn(
    opened_searched: Callable[[], AppTest], evaluations: int, limits: dict[str, str], told: str
) -> None:
    test = opened_searched()
    job = job_of(test)
    front = job.found
    goals = {**job.document["goals"], "limits": limits}
    job.document = {**job.document, "goals": goals, "search": {"evaluations": evaluations}}
    test.run()  # it is searched by itself
    searched(test)
    sound(test)
    words = words_on(test)
    assert told in words
    assert "What stands in the way" in words
    chosen = test.segmented_control(key=f"nothing:{job.id}:{job.revision}")
    assert len(chosen.options) == words.count("the nearest one is short of") - 1  # one of them told for all
    assert len(test.get("image")) >= 2
    chosen.set_value(len(chosen.options) - 1).run()
    sound(test)
    assert job.found is front  # what was found before is kept


def test_with_no_design_kept_the_ranges_stand_there_to_be_loosened(opened_searched: Callable[[], AppTest]) -> None:
    test = opened_searched()
    job = job_of(test)
    job.filters["f3_hz"] = [None, 1.0]
    test.run()
    sound(test)
    assert kept_on(test) == 0
    assert surface_on(test)["few"] == []
    assert surface_on(test)["quick"] == []
    assert surface_on(test)["ranges"]["f3_hz"][1]["value"] == 1.0


def test_jobs_are_listed_with_date_and_how_far_they_are(
    opened_searched: Callable[[], AppTest],
) -> None:
    test = opened_searched()
    test.switch_page("views/jobs.py").run()
    test.button(key=f"copy:{job_of(test).id}").click().run()
    told = [str(caption.value).replace("\\", "") for caption in test.caption if "designs" in str(caption.value)]
    assert len(told) == 2
    assert all(re.fullmatch(r"\d\d \w+ \d{4}, \d\d:\d\d · [\d\s]+ designs( · open now)?", each) for each in told)
    assert sum("open now" in each for each in told) == 1


def test_designs_beyond_the_model_can_be_left_out(opened_searched: Callable[[], AppTest]) -> None:
    test = opened_searched()
    job = job_of(test)
    assert job.found is not None
    front = job.found.front.assign(beyond_model="")
    assert all(surface_on(with_front(test, front))["front"]["covered"])
    front = front.copy()
    front.loc[: len(front) // 2, "beyond_model"] = "fast air in the vent"
    with_front(test, front)
    acted(test, does="covered", only=True)
    assert kept_on(test) == int((front["beyond_model"] == "").sum())
    test.switch_page("views/shortlist.py").run()
    test.switch_page("views/trade_offs.py").run()
    assert surface_on(test)["covered"]
    acted(test, does="clear")
    assert not surface_on(test)["covered"]


def test_a_recommended_filter_is_given_to_the_next_search(
    opened_searched: Callable[[], AppTest], monkeypatch: pytest.MonkeyPatch, judged_afresh: None
) -> None:
    advised = Recommendation(
        needed=True,
        order=2,
        shape="own",
        q=1.4,
        hz=27.3,
        f3_without=31.2,
        f3_with=32.0,
        turned_down_db=2.1,
        levels=((30.0, 95.0, 96.0), (40.0, 99.0, 101.0), (50.0, 101.0, 103.0)),
    )
    monkeypatch.setattr(JudgedDesign, "recommendation", advised)
    test = showing(opened_searched(), "High-pass")
    assert "**Q 1.40 high-pass at 27.3 Hz, 12 dB per octave**" in words_on(test)
    job_of(test).document = {**job_of(test).document, "search": {"evaluations": 20_000_000}}
    before = len(parse_scenario(job_of(test).document, source="").filters)
    test.button(key="take-filter").click().run()
    sound(test)
    filters = parse_scenario(job_of(test).document, source="").filters
    assert len(filters) == before + 1
    assert (filters[-1].shape, filters[-1].q) == ("own", 1.4)
    shown = words_on(test)
    assert "The job's filters to try include it." in shown
    assert "what stands below the picture is of the job as it was" in shown


def test_sentences_on_where_the_model_stops_stand_on_the_card(
    opened_searched: Callable[[], AppTest], monkeypatch: pytest.MonkeyPatch, judged_afresh: None
) -> None:
    monkeypatch.setattr("engine.judged.words", lambda *_: ["Above 51 Hz the curves are a guide."])
    test = opened_searched()
    assert "**Where the model stops**\n- Above 51 Hz the curves are a guide" in words_on(test)
