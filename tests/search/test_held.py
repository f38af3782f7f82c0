"""A search whose boxes all have some sizes exactly."""

from __future__ import annotations

import tomllib
from typing import Any

import numpy as np
import pandas as pd
import pytest

from engine.errors import InputFaults
from engine.formats.scenario import demo_scenarios, parse_scenario
from engine.judged import JudgedDesign
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of
from engine.search.insight import options
from engine.search.runs import run
from engine.space.sizes import inside_of

INCH = 0.0254
HELD = {"outer_width": "35 7/16 in", "inside_height": "12 in", "baffle_angle": "8 deg"}


def job(**held: Any) -> dict[str, Any]:
    document = tomllib.loads(demo_scenarios()["van-bench"].read_text(encoding="utf-8"))
    return document | {"held": held}


@pytest.fixture(scope="module")
def found() -> tuple[Evaluator, pd.DataFrame]:
    scenario = parse_scenario(job(**HELD), source="")
    return Evaluator(scenario), run(scenario, seed=1, evaluations=8_192).front


def test_every_design_of_a_front_has_the_sizes_held(found: tuple[Evaluator, pd.DataFrame]) -> None:
    """User's promise: exact inches, outside and inside, and the lean, whatever steps the rest is in."""
    evaluator, front = found
    assert len(front) > 10
    np.testing.assert_allclose(front["outer_width_m"], 35.4375 * INCH, atol=1e-6)
    inside = inside_of(evaluator.wedges(designs_of(evaluator, front)))
    np.testing.assert_allclose(inside["inside_height"], 12.0 * INCH, atol=2e-6)
    np.testing.assert_allclose(np.degrees(inside["baffle_angle"]), 8.0, atol=1e-3)
    assert front["bottom_depth_m"].nunique() > 3


def test_a_step_that_a_held_size_forbids_is_told_so(found: tuple[Evaluator, pd.DataFrame]) -> None:
    """User's promise: of what is held it is said that the user holds it, and nothing of it is called possible."""
    evaluator, front = found
    design = JudgedDesign.batch(evaluator, front.head(1).to_dict("records"))[0]
    steps = [each for among in options(evaluator, design.designs, design.judgement).values() for each in among]
    wider = [each for each in steps if each.words in ("a wider box", "a narrower box")]
    leaning = [each for each in steps if each.words == "a box deeper at the bottom"]
    assert all("you hold the outer width" in each.stops[-1] for each in wider)
    assert all("you hold the lean of the baffle" in each.stops[-1] for each in leaning)
    assert wider or leaning


@pytest.mark.parametrize(
    ("changes", "key", "words"),
    [
        ({"held": {"outer_width": "30 in", "inside_width": "28 in"}}, "held.inside_width", "not both"),
        ({"held": {"top_depth": "5 in", "bottom_depth": "9 in", "baffle_angle": "3 deg"}}, "held.baffle_angle",
         "already give it"),
        ({"held": {"inside_height": "12 in"}, "bounds": {"outer_height": ["300 mm", "400 mm"]}}, "bounds.outer_height",
         "held.inside_height holds it already"),
    ],
)  # fmt: skip
def test_sizes_that_contradict_each_other_are_refused(changes: dict[str, Any], key: str, words: str) -> None:
    """User's promise: one message with the key and what was expected."""
    with pytest.raises(InputFaults) as caught:
        parse_scenario(job() | changes, source="")
    assert [words in str(fault) for fault in caught.value.faults if fault.key == key] == [True]
