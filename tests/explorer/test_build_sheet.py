"""The page Build sheet, run headless: promises to the user."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from streamlit.testing.v1 import AppTest

from engine.report.set_up import TITLE as SET_UP
from engine.report.set_up import parts_of
from explorer import frame
from tests.explorer.pages import Opener, job_of, quick_pick, sound, words_on


@pytest.fixture
def on_the_sheet(opened_searched: Callable[[], AppTest]) -> AppTest:
    """The build sheet of a pick."""
    test = opened_searched()
    quick_pick(test, "level_30_hz_db")
    test.switch_page("views/build_sheet.py").run()
    sound(test)
    return test


def shown_part(test: AppTest, part: str) -> AppTest:
    """A part of the build sheet, chosen."""
    test.segmented_control(key=f"build-part:{job_of(test).id}").set_value(part).run()
    sound(test)
    return test


def test_without_a_pick_it_says_what_to_do(editing: Opener) -> None:
    test = editing()
    job_of(test).pick = None
    test.switch_page("views/build_sheet.py").run()
    sound(test)
    assert "Nothing to build yet" in test.info[0].value


def test_the_pick_and_the_shortlist_are_wired_and_set_up(opened_searched: Callable[[], AppTest]) -> None:
    """Every part is told with its volts, and another design of the shortlist can be chosen."""
    test = opened_searched()
    quick_pick(test, "level_30_hz_db")
    test.button(key="add-to-shortlist").click().run()
    quick_pick(test, "weight_kg")
    test.switch_page("views/build_sheet.py").run()
    sound(test)
    shown_part(test, SET_UP)
    job = job_of(test)
    select = test.selectbox(key=f"build:{job.id}")
    assert len(select.options) == 2
    for chosen, name in zip((job.pick, job.shortlist[0]), select.options, strict=True):
        assert chosen is not None
        test.selectbox(key=f"build:{job.id}").set_value(f"{name}".replace("\\", "")).run()
        sound(test)
        design = frame.judged_designs().of(chosen, job.source)
        assert design is not None
        shown = words_on(test).replace("\\", "")
        assert f"until it reads {design.set_up.volts:.1f} V" in shown
        assert all(part.title in shown for part in parts_of(design, job.units))
        assert "local codes" in shown


def test_sheets_and_every_cut_of_the_pick_are_shown(on_the_sheet: AppTest) -> None:
    """Promise to the user: sheets with their drawing, then steps with cautions, and how often the saw is set."""
    test = on_the_sheet
    sheets = words_on(shown_part(test, "Boards and sheets"))
    shown = (sheets + words_on(shown_part(test, "At the saw"))).replace("\\", "")
    for words in (
        "Boards and sheets",
        "At the saw",
        "Break down sheet 1",
        "Check on scrap",
        "Fence, stop and tilt are set",
    ):
        assert words in shown
    assert any("Two people" in warning.value for warning in [*test.warning, *test.caption, *test.markdown])


def test_every_part_of_the_sheet_stands_by_itself(on_the_sheet: AppTest) -> None:
    """Promise to the user: one part at a time, each reached at a click, the one last seen there again later."""
    test = on_the_sheet
    said = {
        "Views": "Views", "To buy": "Amounts follow", "Panels": "Drawn:", "Boards and sheets": "The boards take",
        "At the saw": "Break down sheet 1", "Order of work": "Leak test", SET_UP: "First music", "Files": "DXF is in",
    }  # fmt: skip
    chosen = test.segmented_control(key=f"build-part:{job_of(test).id}")
    assert [option.content for option in chosen.proto.options] == list(said)
    for part, words in said.items():
        shown = words_on(shown_part(test, part).main).replace("\\", "")
        assert [each.value for each in test.subheader] == [part]
        assert words in shown
    test.switch_page("views/shortlist.py").run()
    test.switch_page("views/build_sheet.py").run()
    assert [each.value for each in test.subheader] == ["Files"]


def test_sheets_and_board_are_those_that_the_job_has_now(on_the_sheet: AppTest) -> None:
    """Promise to the user: what is told of sheets, saw and board after the pick was made is gone by, and undone."""
    test = on_the_sheet
    shown_part(test, "Boards and sheets")
    assert "No sheet of that thickness is stated" in words_on(test)
    job = job_of(test)
    stock = {"name": "offcut", "length": "1.8 m", "width": "1 m", "thickness": "14.6 mm"}
    job.document = {**job.document, "build": {"board_thickness": "14.6 mm", "sheet": [stock]}}
    test.run()
    sound(test)
    shown = words_on(test).replace("\\", "").replace("\N{NO-BREAK SPACE}", " ")
    assert "Board of 14.6 mm" in shown
    assert "2 × offcut of 1800 mm × 1000 mm" in shown
    test.button(key="undo").click().run()
    sound(test)
    assert "No sheet of that thickness is stated" in words_on(test)


def test_an_unreadable_job_is_told_beside_the_sheet(opened_searched: Callable[[], AppTest]) -> None:
    """Promise to the user: where the job cannot be read, its sheet says that it goes by the job as it was."""
    test = opened_searched()
    quick_pick(test, "level_30_hz_db")
    job = job_of(test)
    job.document = {**job.document, "amplifier": {}}
    test.switch_page("views/build_sheet.py").run()
    sound(test)
    assert "Put that right before you saw" in words_on(test)


def test_a_pick_older_than_the_job_is_told_on_both_pages(opened_searched: Callable[[], AppTest]) -> None:
    """Promise to the user: nobody saws, or measures against, a design of a job that has changed, without being told."""
    test = opened_searched()
    quick_pick(test, "level_30_hz_db")
    job = job_of(test)
    for page in ("views/build_sheet.py", "views/as_built.py"):
        test.switch_page(page).run()
        sound(test)
        assert not any("was changed after" in each.value for each in test.warning)
    job.document = {**job.document, "build": {"board_thickness": "14.6 mm"}}  # how it is built is asked anew anyway
    test.switch_page("views/build_sheet.py").run()
    assert not any("was changed after" in each.value for each in test.warning)
    space = {**job.document["space"], "width": "1100 mm"}
    job.document = {**job.document, "space": space}
    for page in ("views/build_sheet.py", "views/as_built.py"):
        test.switch_page(page).run()
        sound(test)
        (told,) = [each.value for each in test.warning if "was changed after" in each.value]
        assert "Free width" in told
        assert "100 mm less" in told


def test_a_second_layer_is_asked_for_where_there_is_one(on_the_sheet: AppTest) -> None:
    """Promise to the user: a single baffle has none to measure, unless the job states it."""
    test = on_the_sheet
    assert "Second layer as measured" not in [each.label for each in test.text_input]
    job = job_of(test)
    job.document = {**job.document, "build": {"baffle_layer": "14 mm"}}
    test.run()
    assert "Second layer as measured" in [each.label for each in test.text_input]
