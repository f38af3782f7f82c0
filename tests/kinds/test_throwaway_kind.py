"""Kinds of box made here and nowhere else, one record each: from the file to the figures, the chart and the page."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import vl_convert

from engine.acoustics.circuit import Systems
from engine.acoustics.figures import figures
from engine.errors import InputFaults
from engine.evaluate import evaluate
from engine.formats.design import parse_design
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document
from engine.judged import JudgedDesign
from engine.kinds import KINDS
from engine.kinds.closed import CLOSED
from engine.kinds.record import Boxes, Branch, Kind
from engine.kinds.vented import VENTED
from engine.openings import OPENINGS
from engine.openings.none import NONE
from engine.report.ink import LIGHT
from engine.report.portrait import Portrait
from engine.report.sheet import Wishes, sheet_of
from engine.report.sheet_html import html_of
from engine.report.wording import figure_of
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from engine.search.runs import Run, run
from explorer.charts import Look, Scene, plotted, scatter, spans
from explorer.labels import CHOICES
from tests.acoustics.pipes import DRIVER, PIPED
from tests.test_design_file import vented

PATH = 0.1  # of the porous wall beside the vent, as 1/Q


def _porous(boxes: Boxes) -> Branch:
    """The vent's branch, and beside it a path that is a mere resistance: admittances add up."""
    vent = VENTED.branch(boxes)
    top = (vent.top[0] + PATH * vent.bottom[0], PATH * vent.bottom[1])
    return replace(vent, top=top)


POROUS = replace(
    VENTED,
    name="porous",
    label="Porous box",
    noun="a porous box",
    short="porous",
    choice="Porous",
    built="porous",
    branch=_porous,
)
LEAKY = replace(
    CLOSED,
    name="leaky",
    label="Leaky box",
    noun="a leaky box",
    short="leaky",
    choice="Leaky",
    built="leaky",
    usual_ql=5.0,
    mark="diamond",
    dash=(1, 1),
)


@pytest.fixture
def porous() -> Iterator[Kind]:
    with KINDS.added(POROUS) as kind:
        yield kind


@pytest.fixture(scope="module")
def leaky() -> Iterator[Kind]:
    opening = replace(NONE, name="leak", box_kind=LEAKY.name, named=lambda row: "leaky box", bodies=lambda box: [])
    with KINDS.added(LEAKY) as kind, OPENINGS.added(opening):
        yield kind


def test_its_network_is_heard(porous: Kind) -> None:
    """Independent path: a resistance beside the vent is a leak by another name, in every model of the circuit."""
    stated = replace(PIPED, vent_diameter=0.1, tuning=32.0, vent_loss=0.0, vent_speed_limit=1e6)
    found = evaluate(replace(stated, box_kind=porous.name))
    expected = evaluate(replace(stated, ql=1.0 / (1.0 / stated.ql + PATH)))
    plain = evaluate(stated)
    for key in ("f3_hz", "output_db", "excursion_ratio", "spl_db", "impedance_ohm", "max_output_db", "tuning_hz"):
        np.testing.assert_allclose(found[key], expected[key], rtol=1e-7, err_msg=key)
    assert found["f3_hz"] != pytest.approx(plain["f3_hz"], rel=1e-3)
    assert found["vent_length_m"] == plain["vent_length_m"]
    assert figure_of({"box_kind": porous.name, "vent_speed_m_s": 9.0}, "vent_speed_m_s", "metric") == "9.0 m/s"


def test_a_batch_of_all_kinds_is_judged_row_by_row(porous: Kind) -> None:
    """Symmetry: beside other kinds a row has the figures that it has alone."""
    several = Systems.of(
        DRIVER, volume=0.05, voltage=20.0, ql=7.0, tuning=32.0, vent_count=[1.0, 0.0, 1.0], vent_area=0.008
    )
    kinds = np.array([KINDS.code(name) for name in ("vented", "closed", porous.name)])
    several = replace(several, kind=kinds)
    together = figures(several, music_band=(25.0, 80.0), vent_speed_limit=17.0)
    assert len(np.unique(together.f3)) == 3
    for row in range(3):
        alone = figures(several.take(slice(row, row + 1)), music_band=(25.0, 80.0), vent_speed_limit=17.0)
        for name in ("f3", "output_db", "excursion_ratio", "vent_speed"):
            np.testing.assert_allclose(getattr(together, name)[row], getattr(alone, name)[0], rtol=1e-9)


def test_its_file_reads_back_and_its_faults_have_its_name(porous: Kind) -> None:
    """Promise: a design file states it like any other kind."""
    document = vented()
    document["box"]["kind"] = porous.name
    assert parse_design(document, source="a").box_kind == porous.name
    del document["vent"]
    with pytest.raises(InputFaults, match=r"a porous box needs a table \[vent\]"):
        parse_design(document, source="a")


@pytest.fixture(scope="module")
def scenario(leaky: Kind) -> Scenario:
    document = read_document(demo_scenarios()["van-bench"])
    document["box"]["kinds"] = ["vented", leaky.name]  # beside closed boxes it is never the better one
    document["goals"] = {"objectives": ["f3_hz", "output_db", "outer_volume_m3"]}
    return parse_scenario(document, source="job.toml")


@pytest.fixture(scope="module")
def searched(scenario: Scenario) -> Run:
    return run(scenario, seed=1, evaluations=8_192)


def test_search_table_chart_and_page_take_it(scenario: Scenario, searched: Run, leaky: Kind) -> None:
    """Promise: it is searched, stands in the table, has its mark in the chart and its heading on the page."""
    front = searched.front
    mine = front[front["box_kind"] == leaky.name]
    assert len(mine) > 0
    assert set(front["box_kind"]) <= {"vented", leaky.name}
    evaluator = Evaluator(scenario)
    design = JudgedDesign.batch(evaluator, mine.head(1).to_dict("records"))[0]
    assert design.stated.ql == leaky.usual_ql
    assert math.isinf(KINDS["closed"].usual_ql)
    assert CHOICES[leaky.name] == leaky.choice
    look = Look(units="metric", currency="", ink=LIGHT)
    keys = scenario.goals.objectives
    scene = Scene(frame=plotted(front.head(300), keys, look, {}), spans=spans(front, keys, "metric"), look=look)
    chart = scatter(scene, x="f3_hz", y="output_db", colour="outer_volume_m3", objectives=keys).to_dict()
    assert leaky.mark in str(chart)
    assert vl_convert.vegalite_to_svg(chart)
    page = html_of(
        sheet_of([Portrait(design, "A")], title="", wishes=Wishes(), units="metric", written=date(2026, 1, 1))
    )
    assert leaky.label in page


def test_a_kind_that_is_not_whole_is_refused() -> None:
    """Contract: words missing, or a name that is taken."""
    with pytest.raises(ValueError, match="lacks noun"):
        replace(LEAKY, noun="")
    with pytest.raises(ValueError, match="name of its own"), KINDS.added(replace(LEAKY, name="closed")):
        pass
