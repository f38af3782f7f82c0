"""The page Build sheet, run headless: promises to the user."""

from __future__ import annotations

from collections.abc import Callable

from streamlit.testing.v1 import AppTest

from engine.report.set_up import parts_of
from explorer import frame
from tests.explorer.pages import Opener, job_of, quick_pick, sound, words_on


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


def test_sheets_and_every_cut_of_the_pick_are_shown(opened_searched: Callable[[], AppTest]) -> None:
    """Promise to the user: sheets with their drawing, then steps with cautions, and how often the saw is set."""
    test = opened_searched()
    quick_pick(test, "level_30_hz_db")
    test.switch_page("views/build_sheet.py").run()
    sound(test)
    shown = words_on(test).replace("\\", "")
    for words in (
        "Boards and sheets",
        "At the saw",
        "Break down sheet 1",
        "Check on scrap",
        "Fence, stop and tilt are set",
    ):
        assert words in shown
    assert any("Two people" in warning.value for warning in [*test.warning, *test.caption, *test.markdown])
