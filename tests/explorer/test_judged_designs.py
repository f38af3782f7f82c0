"""Judged designs on pages and at the terminal, promises to the user about time: nothing is judged twice."""

from __future__ import annotations

import io
from collections import Counter
from collections.abc import Callable
from pathlib import Path

import pytest
from rich.console import Console
from streamlit.testing.v1 import AppTest

from engine.formats.given import parse_given
from engine.formats.scenario import demo_scenarios, read_document, read_scenario
from engine.judged import JudgedDesign
from engine.scenario import Scenario
from engine.search.runs import Run
from explorer import printed
from explorer.demo_fronts import stored_front
from explorer.judged_designs import DESIGNS_KEPT, JudgedDesigns
from explorer.session import Chosen, Document, as_document
from tests.explorer.pages import quick_pick, sound, units_of
from tests.judging import DEMO, counting, rows

MADE_READY = 2 * (14 + 4)  # evaluators at most: both ways for each tolerance, and the temperatures of the samples


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return read_scenario(demo_scenarios()[DEMO])


@pytest.fixture(scope="module")
def found() -> Run:
    return stored_front(DEMO)


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    return counting(monkeypatch)


def test_the_command_line_judges_its_picks_in_one_batch(
    scenario: Scenario, found: Run, counted: Counter[str], tmp_path: Path
) -> None:
    console = Console(width=120, file=io.StringIO())
    for part in printed.search_report(scenario, found, units="metric", folder=tmp_path, width=120):
        console.print(part)
    picks = len(printed._named(found.front, scenario.goals.objectives))
    assert counted["built"] == 1
    assert counted[f"judged {picks}"] == 1
    assert counted.total() == 2 + picks  # and the neighbours of each, for its reasons


def test_a_page_drawn_again_judges_nothing_again(found: Run, counted: Counter[str]) -> None:
    """The shortlist costs one batch; what is known already, of any job that says the same, costs nothing."""
    document: Document = as_document(read_document(demo_scenarios()[DEMO]))
    chosen = [Chosen(row, document) for row in rows(found, 4)]
    kept = JudgedDesigns()
    first = kept.of(chosen[1], "job.toml")
    assert counted == {"built": 1, "judged 1": 1}
    several = kept.all_of(chosen, "job.toml")
    assert counted == {"built": 1, "judged 1": 1, "judged 3": 1}
    assert several[1] is first
    again = [Chosen(dict(each.row), as_document(document)) for each in chosen]
    assert all(one is other for one, other in zip(kept.all_of(again, "job.toml"), several, strict=True))
    assert counted.total() == 3


def test_jobs_apart_are_judged_apart_and_a_faulty_one_is_left_out(found: Run, counted: Counter[str]) -> None:
    document: Document = as_document(read_document(demo_scenarios()[DEMO]))
    other = {**document, "space": {**document["space"], "width": "1250 mm"}}
    row = rows(found, 1)[0]
    broken = {**document, "space": "wide"}
    several = JudgedDesigns().all_of([Chosen(row, each) for each in (document, other, broken)], "job.toml")
    assert several[0] is not None
    assert several[1] is not None
    assert several[0].scenario.space.width != several[1].scenario.space.width
    assert several[2] is None
    assert counted == {"built": 2, "judged 1": 2}


@pytest.mark.parametrize(
    ("change", "column", "told"),
    [
        ({"count": 2}, "driver_count", 2),
        ({"filling": "half"}, "filling", "half"),
        ({"filter": {"kind": "highpass", "order": 4, "frequency": "25 Hz"}}, "filter_order", 4),
    ],
)
def test_a_given_box_with_something_else_in_it_is_judged_anew(change: Document, column: str, told: object) -> None:
    """Promise to the user: what is typed of a given box is what is shown of it."""
    document: Document = as_document(read_document(demo_scenarios()[DEMO]))
    box = {
        "kind": "closed", "driver": "shallow 10", "outer_width": "1000 mm", "outer_height": "400 mm",
        "top_depth": "120 mm", "bottom_depth": "200 mm",
        "filter": {"kind": "highpass", "order": 2, "frequency": "25 Hz"},
    }  # fmt: skip
    kept = JudgedDesigns()
    plain, other = (
        kept.given(parse_given({**document, "given": given}, source="job.toml"), "job.toml")
        for given in (box, {**box, **change})
    )
    assert isinstance(plain, JudgedDesign)
    assert isinstance(other, JudgedDesign)
    assert plain.row[column] != other.row[column] == told


def test_the_last_used_designs_are_kept_and_no_more(found: Run, counted: Counter[str]) -> None:
    document: Document = as_document(read_document(demo_scenarios()[DEMO]))
    chosen = [Chosen(row, document) for row in rows(found, DESIGNS_KEPT + 1)]
    kept = JudgedDesigns()
    assert len(kept.all_of(chosen, "job.toml")) == DESIGNS_KEPT + 1
    kept.of(chosen[0], "job.toml")  # the oldest had to go
    assert counted == {"built": 1, f"judged {DESIGNS_KEPT + 1}": 1, "judged 1": 1}
    kept.of(chosen[-1], "job.toml")
    assert counted.total() == 3


def test_a_pick_on_trade_offs_is_judged_once_however_often_the_page_is_drawn(
    opened_searched: Callable[[], AppTest], judged_afresh: None, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One design, one batch of its neighbours for the reasons; none of it again for units or a look at another page."""
    test = opened_searched()
    counted = counting(monkeypatch)
    quick_pick(test, "level_50_hz_db")
    sound(test)
    # The job was made ready when its first pick was shown; how sure the pick is asks for boards and air that deviate.
    assert counted.pop("built", 0) <= MADE_READY
    assert counted.pop("judged 1") == 1
    assert counted.total() == 1
    neighbours = counted.copy()
    test.button(key="add-to-shortlist").click().run()
    units_of(test).set_value("us").run()
    test.switch_page("views/shortlist.py").run()
    test.switch_page("views/trade_offs.py").run()
    sound(test)
    assert counted == neighbours
