"""Vents that have no room, tuned up: against judging every tuning there is, by brute force."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.formats.scenario import demo_scenarios, parse_scenario, read_scenario
from engine.scenario import Scenario
from engine.search.evaluator import Designs
from engine.search.problem import BoxProblem
from engine.search.retuning import tuned_up
from engine.steps import FREQUENCY_STEP
from tests.benchmarks.before_after.jobs import jobs

DRAWN = 6_000
NAMES = ("piped", "slotted", "every way", "radiators", "van-bench")


@pytest.fixture(scope="module", params=NAMES)
def problem(request: pytest.FixtureRequest) -> BoxProblem:
    there: dict[str, Scenario] = {name: read_scenario(path) for name, path in demo_scenarios().items()}
    name = request.param
    return BoxProblem(there[name] if name in there else parse_scenario(jobs()[name], source=name))


@pytest.fixture(scope="module")
def drawn(problem: BoxProblem) -> np.ndarray:
    span = problem.xu - problem.xl
    return np.asarray(problem.xl + np.random.default_rng(3).random((DRAWN, problem.n_var)) * span)


def builds(problem: BoxProblem, designs: Designs) -> np.ndarray:
    """Which keep everything that is known before they are heard and that has nothing to do with the air round them."""
    constraints = dict(problem.evaluator.built(designs, hear_all=False).constraints)
    del constraints["cone air"]
    return np.asarray(np.max(np.stack(list(constraints.values())), axis=0) <= 0.0)


def test_they_are_tuned_as_low_as_the_box_has_room_for(problem: BoxProblem, drawn: np.ndarray) -> None:
    """Brute force: a step above the lowest tuning that is right below which none is, and nothing else is touched."""
    designs = problem.decode(drawn)
    most = problem.xu[problem.variables.index("tuning")]
    tuning = tuned_up(problem.evaluator, designs, most=most)
    changed = np.flatnonzero(tuning > designs.tuning)
    vented = {item.columns["vent_kind"] for item in problem.evaluator.families.items} - {""}
    assert bool(len(changed)) == bool(vented)
    same = np.setdiff1d(np.arange(len(drawn)), changed)
    np.testing.assert_array_equal(tuning[same], designs.tuning[same])
    assert not builds(problem, designs)[changed].any()
    for places, right in ((0, True), (-1, True), (-2, False)):
        those = designs.take(changed)
        beside = np.minimum(tuning[changed] + places * FREQUENCY_STEP, most)
        short_of_the_end = tuning[changed] < most - 0.5 * FREQUENCY_STEP
        assert (builds(problem, replace(those, tuning=beside))[short_of_the_end] == right).all()


def test_repaired_variables_stand_for_the_designs_tuned_up(problem: BoxProblem, drawn: np.ndarray) -> None:
    """Contract: they decode to those, all else as it was; repaired once more they stay; what was right is left."""
    designs, repaired = problem.decode(drawn), problem.repaired(drawn)
    again = problem.decode(repaired)
    most = problem.xu[problem.variables.index("tuning")]
    np.testing.assert_allclose(again.tuning, tuned_up(problem.evaluator, designs, most=most), rtol=1e-12)
    np.testing.assert_array_equal(problem.repaired(repaired), repaired)
    right = builds(problem, designs)
    np.testing.assert_array_equal(repaired[right], drawn[right])
    rest = [place for place, name in enumerate(problem.variables) if name != "tuning"]
    np.testing.assert_array_equal(repaired[:, rest], drawn[:, rest])


def test_designs_are_told_apart_by_what_they_are(problem: BoxProblem, drawn: np.ndarray) -> None:
    """Brute force: numbers are equal where every variable of the decoded designs is, and nowhere else."""
    X = np.vstack([drawn[:500], drawn[:500] + 1e-9, drawn[:500]])
    X[:, -1] = np.clip(X[:, -1], 0.0, 1.0)
    designs = problem.decode(X)
    values = np.nan_to_num([designs.value(name) for name in ("family", "outer_width", "outer_height", "bottom_depth",
                            "top_depth", "tuning", "filter_hz", *designs.openings)], nan=-1.0)  # fmt: skip
    _, which = np.unique(np.round(values, 6), axis=1, return_inverse=True)
    _, told = np.unique(problem.told_apart(X), return_inverse=True)
    pairs = np.unique(np.stack([which.ravel(), told]), axis=1)
    assert pairs.shape[1] == which.max() + 1 == told.max() + 1
    assert which.max() + 1 < len(X)
