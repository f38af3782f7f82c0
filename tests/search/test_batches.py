"""What a design comes to does not depend on what else is judged with it: promises to the user."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import fields, is_dataclass, replace
from typing import Any

import numpy as np
import pytest

from engine.acoustics.figures import FIGURES_GRID
from engine.arrays import Indices
from engine.scenario import Scenario
from engine.search.evaluator import Designs, Evaluator, Judgement
from engine.search.problem import BoxProblem
from engine.space.braces import braces_in

EACH = 60  # designs of a kind of box
ALONE = 20  # of a batch, judged one by one


@pytest.fixture(scope="module")
def evaluator(scenario: Scenario) -> Evaluator:
    return BoxProblem(scenario).evaluator


@pytest.fixture(scope="module")
def designs(scenario: Scenario) -> Designs:
    """Random designs that can be built, of every kind of box that the job allows, with each number of braces."""
    problem = BoxProblem(scenario)
    rng = np.random.default_rng(11)
    drawn = problem.decode(problem.xl + rng.random((40_000, problem.n_var)) * (problem.xu - problem.xl))
    judged = problem.evaluator.judge(drawn)
    kinds = np.array([family.box_kind for family in problem.evaluator.families.items])[drawn.family]
    braces = judged.layout.brace_count
    sorts = [judged.feasible & (kinds == kind) & (braces == count) for kind in set(kinds) for count in set(braces)]
    rows = np.sort(np.concatenate([np.flatnonzero(sort)[:EACH] for sort in sorts]))
    assert set(kinds[rows]) == set(kinds)
    assert np.any(braces[rows] > 0)
    return drawn.take(rows)


def figures_of(judged: Judgement) -> dict[str, Any]:
    """Every number that is told of designs or limits them, by where it is."""
    parts = {"acoustics": judged.acoustics, "figures": judged.figures, **judged.constraints}
    return {name: value for part, record in parts.items() for name, value in _numbers(part, record)}


def _numbers(name: str, value: Any) -> Iterator[tuple[str, Any]]:
    if is_dataclass(value):
        for each in fields(value):
            yield from _numbers(f"{name}.{each.name}", getattr(value, each.name))
    elif isinstance(value, np.ndarray):
        yield name, value


@pytest.mark.parametrize("exact", [True, False], ids=["as a pick", "as in a search"])
def test_a_design_s_figures_do_not_depend_on_its_batch(evaluator: Evaluator, designs: Designs, *, exact: bool) -> None:
    """Judged whole, in halves and one by one: to rounding, but for the frequency at which something is at its most."""
    sort = {"exact": True, "frequency": FIGURES_GRID} if exact else {}
    whole, every = figures_of(evaluator.judge(designs, **sort)), np.arange(len(designs))
    alone = np.array_split(every[:: max(len(every) // ALONE, 1)], ALONE)
    for rows in (every[::2], every[1::2], *(one[:1] for one in alone)):
        for name, found in figures_of(evaluator.judge(designs.take(rows), **sort)).items():
            # A flat top moves by the root of what its height does.
            within = 1e-6 if name.endswith("_hz") else 1e-9
            np.testing.assert_allclose(found, whole[name][rows], rtol=within, atol=1e-9, err_msg=name)


def test_braces_are_those_of_the_box_whatever_its_neighbours_have(evaluator: Evaluator, designs: Designs) -> None:
    """A box has as many as it says, its side panel is none, and what each weighs is its own."""
    layout = evaluator.judge(designs).layout
    braces = braces_in(layout)
    assert braces is not None
    assert np.array_equal(np.isfinite(braces.x).sum(axis=1), layout.brace_count)
    rows: Indices = np.flatnonzero(layout.brace_count == layout.brace_count[layout.brace_count > 0].min())
    own = braces_in(layout.take(rows))
    assert own is not None
    np.testing.assert_allclose(own.inertance, braces.inertance[rows, : own.x.shape[1]], rtol=1e-12)


@pytest.mark.parametrize("exact", [True, False], ids=["as a pick", "as in a search"])
def test_filters_of_one_box_are_judged_as_boxes_of_their_own(
    evaluator: Evaluator, designs: Designs, *, exact: bool
) -> None:
    """A box laid out once for the filters on it, wherever they come, is to each the same as by itself, to rounding."""
    some = designs.take(np.repeat(np.arange(0, len(designs), 7), 3))
    box = evaluator.families.box
    every = np.arange(len(box))
    others = [every[box == box[family]] for family in some.family[::3]]
    family = np.concatenate([np.resize(each, 3) for each in others])
    low, high = evaluator.families.filter_range[family].T
    some = replace(some, family=family, filter_hz=low + 0.3 * (high - low))
    boxes = evaluator.boxes_among(some)
    assert len(boxes.first) == len(some) // 3
    firsts = boxes.first[boxes.which]
    apart = [np.arange(start, len(some), 3) for start in range(3)]
    mixed = evaluator.boxes_among(some.take(np.concatenate(apart)))
    np.testing.assert_array_equal(3 * mixed.first[mixed.which], firsts[np.concatenate(apart)])
    together = figures_of(evaluator.judge(some.take(np.concatenate(apart)), exact=exact))
    alone = [figures_of(evaluator.judge(some.take(each), exact=exact)) for each in apart]
    for name, value in together.items():
        within = 1e-6 if name.endswith("_hz") else 1e-9
        expected = np.concatenate([each[name] for each in alone])
        np.testing.assert_allclose(value, expected, rtol=within, atol=1e-9, err_msg=name)
