"""A judged design is worked out once: promises to the user about time, counted call by call."""

from __future__ import annotations

from collections import Counter
from typing import get_args

import numpy as np
import pytest

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.judged import JudgedDesign
from engine.quantities import Units
from engine.report.ink import LIGHT
from engine.report.portrait import Portrait, lay_over
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from engine.search.runs import Run
from engine.workshop.drawings import VIEWS
from explorer.demo_fronts import stored_front
from tests.judging import DEMO, counting, rows


@pytest.fixture(scope="module")
def scenario() -> Scenario:
    return read_scenario(demo_scenarios()[DEMO])


@pytest.fixture(scope="module")
def found() -> Run:
    return stored_front(DEMO)


@pytest.fixture
def counted(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    return counting(monkeypatch)


def all_of(design: JudgedDesign) -> list[object]:
    """Everything that is told, drawn and written of a design, but for its reasons."""
    drawn = [design.drawing(view, "metric") for view in VIEWS]
    return [
        design.curves,
        design.cabin_db,
        design.limit_shares,
        design.model_ends,
        design.inspection,
        design.recommendation,
        design.file,
        *drawn,
    ]


def test_one_design_is_judged_once_and_its_neighbours_once(
    scenario: Scenario, found: Run, counted: Counter[str]
) -> None:
    """The job's arrays once, the design once, and one batch of neighbours when the reasons are asked for."""
    design = JudgedDesign.of(scenario, rows(found, 1)[0])
    all_of(design)
    assert counted == {"built": 1, "judged 1": 1}
    assert design.why("metric").keys() == design.why("us").keys() == set(scenario.goals.objectives)
    assert counted["built"] == 1
    assert counted.total() == 3


def test_asked_twice_it_is_the_same_thing(scenario: Scenario, found: Run) -> None:
    """What has been worked out is kept, drawings by their units."""
    design = JudgedDesign.of(scenario, rows(found, 1)[0])
    for once, again in zip(all_of(design), all_of(design), strict=True):
        assert once is again
    assert design.drawing("front", "metric") != design.drawing("front", "us")


def test_several_are_judged_in_one_batch_and_come_to_the_same(
    scenario: Scenario, found: Run, counted: Counter[str]
) -> None:
    """Conservation: curves to rounding, and files byte for byte, are those of each design alone."""
    several = rows(found, 5)
    batch = JudgedDesign.batch(Evaluator(scenario), several)
    assert counted == {"built": 1, "judged 5": 1}
    for design, row in zip(reversed(batch), reversed(several), strict=True):
        alone = JudgedDesign.of(scenario, row)
        assert design.row == row
        np.testing.assert_allclose(design.curves.spl_db, alone.curves.spl_db, rtol=1e-12)
        assert design.file == alone.file
        assert design.options.keys() == alone.options.keys()
    assert JudgedDesign.batch(Evaluator(scenario), []) == []


def test_what_leaves_no_air_has_no_sound_but_can_be_drawn(scenario: Scenario, found: Run) -> None:
    """User's promise: a misfit is shown; nobody is told a figure of it that there is not."""
    flat = {**rows(found, 1)[0], "outer_height_m": 0.04, "outer_width_m": 0.3}
    design = JudgedDesign.of(scenario, flat)
    assert design.drawing("front", "metric").startswith("<svg")
    with pytest.raises(ValueError, match="no sound"):
        _ = design.curves


def test_curves_and_pictures_of_several_designs_judge_them_in_one_batch(
    scenario: Scenario, found: Run, counted: Counter[str]
) -> None:
    designs = JudgedDesign.batch(Evaluator(scenario), rows(found, 3))
    portraits = [Portrait(design, letter) for design, letter in zip(designs, "ABC", strict=True)]
    for units in get_args(Units):
        lay_over(portraits, units=units, ink=LIGHT, hover=False)
        for design in designs:
            design.drawing("picture", units)
    assert counted == {"built": 1, "judged 3": 1}
