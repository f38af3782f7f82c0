"""A search whose boxes all have some sizes exactly."""

from __future__ import annotations

import tomllib
from typing import Any

import numpy as np
import pandas as pd
import pytest

from engine.errors import InputFaults
from engine.formats.scenario import demo_scenarios, parse_scenario
from engine.insight.reasons import options
from engine.judged import JudgedDesign
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of
from engine.search.runs import run
from engine.space.sizes import inside_of
from engine.space.wedge import Wedges
from explorer.plainly import plainly

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
    ("held", "key", "words"),
    [
        ({"outer_width": "2 m"}, "held.outer_width", "expected at most"),
        ({"inside_height": "30 in"}, "held.inside_height", "expected at most"),
        ({"bottom_depth": "900 mm"}, "held.bottom_depth", "expected at most"),
        ({"inside_top_depth": "30 mm"}, "held.inside_top_depth", "expected at least 40 mm between the boards"),
        ({"outer_width": "30 mm"}, "held.outer_width", "leave no inside"),
        ({"baffle_angle": "50 deg"}, "held.baffle_angle", "as far as the saw tilts"),
        ({"outer_height": "2 in", "top_depth": "3 in", "bottom_depth": "7 in"}, "held", "lean the baffle by"),
        ({"inside_height": "8 in", "top_depth": "60 mm", "bottom_depth": "7 in"}, "held", "box is thinnest"),
        ({"outer_height": "340 mm", "top_depth": "200 mm", "bottom_depth": "200 mm"}, "held", "too large by"),
    ],
)
def test_what_no_box_of_the_space_can_have_is_refused_at_the_door(held: dict[str, Any], key: str, words: str) -> None:
    """User's promise: not told after a search of minutes, but at once, in the words of a file and of a form."""
    with pytest.raises(InputFaults) as caught:
        parse_scenario(job(**held), source="")
    (fault,) = caught.value.faults
    assert fault.key == key
    assert words in str(fault)
    assert plainly(fault, "us")


@pytest.mark.parametrize("name", ["outer_width", "outer_height", "bottom_depth"])
def test_a_size_that_is_refused_is_one_that_nothing_fits_with(name: str) -> None:
    """Exact geometry: the largest that a small box may have there is taken, and 1 mm more is refused."""
    envelope = Evaluator(parse_scenario(job(), source="")).envelope
    small = {"outer_width": 0.1, "outer_height": 0.06, "bottom_depth": 0.06, "top_depth": 0.06}
    sizes = np.arange(100, 1300) / 1000.0
    tried = {key: sizes if key == name else np.full(len(sizes), size) for key, size in small.items()}
    if name == "bottom_depth":
        tried["top_depth"] = sizes - 0.06  # parallel to the seat or less
    stands = envelope.fit(Wedges(**tried, board=0.018, back_angle=0.0)).violation <= 1e-9
    most = float(sizes[stands].max())
    parse_scenario(job(**{name: f"{1e3 * most:.1f} mm"}), source="")
    with pytest.raises(InputFaults, match=f"held.{name}"):
        parse_scenario(job(**{name: f"{1e3 * most + 1.0:.1f} mm"}), source="")


def test_a_door_refuses_what_cannot_be_turned_behind_it_or_goes_through_in_no_way() -> None:
    """User's promise: the door counts as the space does."""
    document = job(inside_width="36 in")
    document["space"] = {**document["space"], "door": {"width": "1 m", "height": "1 m", "turning_room": "900 mm"}}
    with pytest.raises(InputFaults, match="can be turned behind the door"):
        parse_scenario(document, source="")
    document["held"] = {"outer_height": "400 mm", "top_depth": "98 mm", "bottom_depth": "180 mm"}
    parse_scenario(document, source="")
    document["held"]["outer_width"] = "500 mm"
    document["space"]["door"] = {"width": "120 mm", "height": "1 m"}
    with pytest.raises(InputFaults, match="goes through the door"):
        parse_scenario(document, source="")


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


@pytest.mark.parametrize(
    "held",
    [{"outer_width": "900 mm"}, {"inside_height": "12 in"}, {"bottom_depth": "150 mm"}, {"baffle_angle": "8 deg"}],
)
def test_bounds_are_kept_beside_sizes_held(held: dict[str, str]) -> None:
    """User's promise: whatever else every box has, a depth that is bounded stays within its bounds."""
    document = job(**held) | {"bounds": {"top_depth": ["80 mm", "120 mm"]}}
    evaluator, draw = Evaluator(parse_scenario(document, source="")), np.random.default_rng(3)
    spans = {
        "outer_width": (0.4, 1.1),
        "outer_height": (0.2, 0.45),
        "bottom_depth": (0.1, 0.2),
        "top_depth": (0.08, 0.12),
    }
    drawn = {name: draw.uniform(*span, 5_000) for name, span in spans.items()}
    made, step = evaluator.sawn(drawn), evaluator.scenario.saw.angle_step
    assert made["top_depth"].min() > 0.08 - 1e-9
    assert made["top_depth"].max() < 0.12 + 1e-9
    lean = np.arctan((made["top_depth"] - made["bottom_depth"]) / made["outer_height"])
    off = np.abs(np.tan(step * np.rint(lean / step)) - np.tan(lean)) * made["outer_height"]
    assert np.mean(off < 0.5 * evaluator.scenario.saw.size_step + 1e-6) > 0.99, "the slants are the saw's all the same"
    if "outer_width" in held:
        free = Evaluator(parse_scenario(job() | {"bounds": document["bounds"]}, source="")).sawn(drawn)
        for name in ("outer_height", "bottom_depth", "top_depth"):
            np.testing.assert_allclose(made[name], free[name], atol=1e-12)
