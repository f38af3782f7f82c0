"""One more goal, made here and nowhere else, from the job's file to the customer's page."""

from __future__ import annotations

import dataclasses
import io
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import numpy as np
import pytest
import vl_convert
from rich.console import Console

from engine.column import Said
from engine.columns import COLUMNS, columns_at
from engine.constraints import CONSTRAINTS
from engine.errors import InputFaults
from engine.formats.fields import FIELDS
from engine.formats.front import read_front, write_run
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.goals import GOALS, Goal, Mark, added
from engine.insight.reasons import differences, extremes
from engine.judged import JudgedDesign
from engine.report.ink import LIGHT
from engine.report.portrait import Portrait
from engine.report.sheet import Wishes, sheet_of
from engine.report.sheet_html import html_of
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of
from engine.search.runs import Run, run
from explorer import printed
from explorer.charts import Look, Scene, parallel, plotted, scatter, spans
from explorer.choices import measurable
from explorer.labels import CHOICES, label_of

AIR_SHARE = Goal(
    key="air_share",
    label="Share of air in the box",
    kind="ratio",
    better="max",
    digits=2,
    least_step=0.01,
    stored=4,
    after="net_volume_m3",
    heading="Air\nshare",
    span=(1.0, 0.0),
    told_apart=0.01,
    plausible=(0.1, 1),
    improved="more of its room for air",
    worsened="less of its room for air",
    best="Most air",
    wished="More air",
    meaning=("How much of it is air", "of the room inside, drivers and vents take the rest"),
    said=Said(higher="leaves {} more to the air", lower="leaves {} less to the air", about="build", rank=9),
    mark=Mark(most=lambda goals: 0.5, beyond="roomy"),
    figure=lambda evaluator, designs, judgement: judgement.of_all(
        (judgement.layout.net_volume / judgement.wedges.outer_volume)[judgement.heard]
    ),
)
OBJECTIVES = ("f3_hz", "output_db", AIR_SHARE.key)


@pytest.fixture(scope="module")
def known() -> Iterator[Goal]:
    with added(AIR_SHARE) as goal:
        yield goal


@pytest.fixture(scope="module")
def scenario(known: Goal) -> Scenario:
    """A demo job that asks for it and limits it, as its file would."""
    document = read_document(demo_scenarios()["van-bench"])
    document["goals"] = {"objectives": list(OBJECTIVES), "limits": {known.key: 0.6}}
    return parse_scenario(document, source="job.toml")


@pytest.fixture(scope="module")
def searched(scenario: Scenario) -> Run:
    return run(scenario, seed=1, evaluations=24_576)


def test_the_job_reads_it_and_the_form_offers_it(scenario: Scenario, known: Goal) -> None:
    """Promise to whoever adds a goal: field, limit and label of the form are there."""
    assert scenario.goals.objectives == OBJECTIVES
    assert scenario.goals.limits == {known.key: 0.6}
    (objectives,) = [field for field in FIELDS["goals"] if field.key == "objectives"]
    assert known.key in objectives.choices
    assert CHOICES[known.key] == label_of("goals.limits", known.key) == known.label
    document = read_document(demo_scenarios()["van-bench"])
    document["goals"] = {"limits": {known.key: 7}}
    with pytest.raises(InputFaults, match=r"goals\.limits\.air_share"):
        parse_scenario(document, source="job.toml")


def test_the_search_trades_it_and_keeps_its_limit(searched: Run, known: Goal) -> None:
    """Independent path: the table's own volumes give the figure; nothing beats a design, and the limit holds."""
    front = searched.front
    share = front["net_volume_m3"] / front["outer_volume_m3"]
    np.testing.assert_allclose(front[known.key], share, atol=1e-4)
    assert front[known.key].min() >= 0.6
    assert front[known.key].nunique() > 1
    assert list(front.columns) == columns_at((30.0, 40.0, 50.0))
    keys = list(front.columns)
    assert keys.index(known.key) == keys.index(known.after) + 1
    assert searched.record["hypervolume_span"][known.key] == known.span
    assert 0.0 < searched.record["hypervolume"] < 1.0
    assert CONSTRAINTS["limit air_share"].short_of == "the limit on share of air in the box"


def test_the_table_comes_back_from_its_file(searched: Run, tmp_path: Path, known: Goal) -> None:
    """Promise: front.csv has its column, and reads back."""
    write_run(searched, tmp_path)
    again = read_front(tmp_path / "front.csv")
    np.testing.assert_array_equal(again[known.key], searched.front[known.key])


def test_charts_draw_it(searched: Run, known: Goal) -> None:
    """Promise: an axis, a colour and a parallel axis with its label; a slider, since it differs."""
    assert known.key in measurable(searched.front)
    look = Look(units="metric", currency="", ink=LIGHT)
    scene = Scene(
        frame=plotted(searched.front.head(50), OBJECTIVES, look, {}),
        spans=spans(searched.front, OBJECTIVES, "metric"),
        look=look,
    )
    for chart in (
        scatter(scene, x="f3_hz", y=known.key, colour="output_db", objectives=OBJECTIVES),
        parallel(scene, OBJECTIVES, colour=known.key),
    ):
        assert known.label in vl_convert.vegalite_to_svg(chart.to_dict())


def test_terminal_and_reasons_tell_of_it(scenario: Scenario, searched: Run, known: Goal) -> None:
    """Promise: its best design is named, what stops it is said, and the table has its heading."""
    console = Console(width=160, file=io.StringIO(), record=True)
    report = printed.search_report(scenario, searched, units="us", folder=Path("found"), width=160)
    for part in report:
        console.print(part)
    text = console.export_text()
    assert known.best in text
    assert known.heading.split("\n")[0] in text
    best = searched.front.iloc[extremes(searched.front, OBJECTIVES)[known.key]]
    assert best[known.key] == searched.front[known.key].max()
    assert JudgedDesign.of(scenario, dict(best)).why("metric")[known.key].startswith("More of its room for air")
    worst = searched.front.iloc[int(searched.front[known.key].argmin())]
    told = differences(worst, best, units="metric")["build"]
    assert any(phrase.startswith("leaves ") and phrase.endswith(" more to the air") for phrase in told)


def test_the_customers_page_tells_of_it(scenario: Scenario, searched: Run, known: Goal) -> None:
    """Promise: what it means, its figure and its remark stand on the page."""
    designs = JudgedDesign.batch(Evaluator(scenario), searched.front.head(2).to_dict("records"))
    portraits = [Portrait(design, letter) for design, letter in zip(designs, "AB", strict=True)]
    page = html_of(sheet_of(portraits, title="", wishes=Wishes(), units="metric", written=date(2026, 1, 1)))
    assert known.meaning[0] in page
    assert f"{searched.front[known.key].iloc[0]:.2f} – roomy" in page


def test_a_goal_that_is_not_whole_is_refused() -> None:
    """Contract: words missing, a span the wrong way round, a name that is taken, a place that is none."""
    with pytest.raises(ValueError, match="words are missing"):
        dataclasses.replace(AIR_SHARE, best="")
    with pytest.raises(ValueError, match="wrong way round"):
        dataclasses.replace(AIR_SHARE, span=(0.0, 1.0))
    for change in ({"key": "cost"}, {"key": "elsewhere", "after": "nothing"}):
        with (
            pytest.raises(ValueError, match=r"(name|place) of its own"),
            added(dataclasses.replace(AIR_SHARE, **change)),
        ):
            pass
        assert change["key"] == "cost" or change["key"] not in COLUMNS


def test_nothing_stands_in_for_a_goal_that_is_not_known(scenario: Scenario, searched: Run) -> None:
    """Contract: a wrong name is an error, and no goal's figures are those of another."""
    evaluator = Evaluator(scenario)
    designs = designs_of(evaluator, searched.front)
    judgement = evaluator.judge(designs, exact=True)
    with pytest.raises(KeyError, match="'loudness' is none of f3_hz"):
        evaluator.objective("loudness", designs, judgement)
    figures = {key: evaluator.objective(key, designs, judgement) for key in GOALS}
    told_apart = [key for key, figure in figures.items() if np.isfinite(figure).any() and np.ptp(figure) > 0.0]
    assert {*OBJECTIVES, "weight_kg", "outer_volume_m3", "outer_depth_m", "vent_speed_m_s"} <= set(told_apart)
    assert len({figures[key].tobytes() for key in told_apart}) == len(told_apart)
