"""What is meant to be one chamber is one body of air: random designs of demos and of thin jobs, taken apart."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace

import numpy as np
import pytest

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.scenario import Scenario
from engine.search.evaluator import Judgement
from engine.search.optimise import ArchiveSearch
from engine.search.problem import BoxProblem
from engine.space.arrangement import bodies_of
from engine.space.braces import FORMS
from engine.space.solids import bodies_of_air
from tests.space.batches import fitting, mixed
from tests.space.thin_jobs import THIN_JOBS, thin_job

OF_EACH = 60  # designs with braces
BATCHES = 20


def job(name: str) -> Scenario:
    return thin_job(name) if name in THIN_JOBS else read_scenario(demo_scenarios()[name])


def some_feasible(scenario: Scenario) -> Judgement:
    """Designs with braces that a short search met and that keep every constraint, judged."""
    problem = BoxProblem(scenario)
    search, met = ArchiveSearch(problem, seed=3), []
    for _ in range(BATCHES):
        X = search.ask()
        F, G = problem.evaluate(X, return_values_of=["F", "G"])
        search.tell(X, F, G)
        met.append(X[(G <= 0.0).all(axis=1)])
    designs = problem.decode(np.concatenate(met))
    judgement = problem.evaluator.judge(designs)
    rows = np.flatnonzero((judgement.layout.brace_count > 0) & judgement.feasible)
    chosen = np.random.default_rng(5).choice(rows, min(len(rows), OF_EACH), replace=False)
    return judgement.take(np.sort(chosen))


@pytest.mark.parametrize("name", [*demo_scenarios(), *THIN_JOBS])
def test_every_box_is_one_body_of_air(name: str) -> None:
    """Conservation: of designs that keep every constraint none is cut in two by its braces."""
    judgement = some_feasible(job(name))
    layout = judgement.layout
    assert len(layout) == OF_EACH
    parts = [bodies_of_air(bodies_of(layout, i)) for i in range(len(layout))]
    forms = Counter(list(FORMS)[code - 1] for code in layout.brace_form)
    print(f"\n{name}: {dict(forms)}", end="")
    assert [len(each) for each in parts] == [1] * len(parts)


def test_random_boxes_are_one_body_of_air() -> None:
    """Conservation: so are random boxes, with pipes, slots and radiators past braces of every form."""
    forms: Counter[int] = Counter()
    for seed in range(40, 52):
        batch = mixed(400, seed=seed, others=True)
        layout = batch.layout
        for i in np.flatnonzero(fitting(layout) & (layout.brace_count > 0))[:25].tolist():
            forms[int(layout.brace_form[i])] += 1
            assert len(bodies_of_air(bodies_of(layout, i))) == 1
    assert sum(forms.values()) > 150
    assert len(forms) >= 3


def test_a_box_cut_in_two_is_noticed() -> None:
    """The check can fail: with the window of its frame closed the box is two chambers."""
    for seed in range(40, 60):
        layout = mixed(400, seed=seed).layout
        found = np.flatnonzero(fitting(layout) & (layout.brace_count == 1) & (layout.brace_form == 1))
        for i in found.tolist():
            parts = bodies_of(layout, i)
            bodies = tuple(
                replace(body, shapes=tuple(replace(plate, holes=plate.holes[1:]) for plate in body.prisms))
                if body.form
                else body
                for body in parts.bodies
            )
            closed = bodies_of_air(replace(parts, bodies=bodies))
            # Holes for pipes that end before the brace stay open.
            if len(closed) == 2:
                assert sum(closed) < sum(bodies_of_air(parts))
                return
    raise AssertionError("no box with one framed brace")
