"""Baffles of two layers as a choice of the job, and flanges that are sunk."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from engine.arrays import Floats
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.scenario import Scenario
from engine.search.evaluator import Designs, Evaluator, Judgement
from engine.search.front import designs_of, judged
from engine.search.problem import BoxProblem

LAYER, RECESS = 0.009, 0.006


@pytest.fixture(scope="module")
def van() -> Scenario:
    """The van's job with both kinds of baffle, in boards that cost, its second layers thinner than the first."""
    job = read_scenario(demo_scenarios()["van-bench"])
    stock = replace(job.stock, baffle_layer=LAYER, board_price=20.0)
    return replace(job, box=replace(job.box, baffles=("single", "double")), stock=stock, currency="EUR")


def drawn(evaluator: Evaluator, *, baffle: str) -> Designs:
    """Vented designs with such a baffle that can be built, from random draws over the whole problem."""
    problem = BoxProblem(evaluator.scenario)
    rng = np.random.default_rng(2)
    X = problem.xl + rng.random((30_000, problem.n_var)) * (problem.xu - problem.xl)
    items = evaluator.families.items
    own = [n for n, family in enumerate(items) if family.box_kind == "vented" and family.baffle == baffle]
    X[:, 0] = rng.choice(own, len(X)) + 0.5
    designs = problem.decode(X)
    rows = np.flatnonzero(evaluator.judge(designs).feasible)[:60]
    assert len(rows) >= 10
    return designs.take(rows)


def as_single(evaluator: Evaluator, designs: Designs) -> Designs:
    """The same designs with single baffles."""
    by_key = {family.key: number for number, family in enumerate(evaluator.families.items)}
    keys = [evaluator.families.items[number] for number in designs.family]
    return replace(designs, family=np.array([by_key[replace(family, baffle="single").key] for family in keys]))


def test_every_baffle_that_is_allowed_is_tried_and_a_row_leads_back(van: Scenario) -> None:
    """Promise to the user: both are families; the front says which, and its row is the design again."""
    evaluator = Evaluator(van)
    assert {family.baffle for family in evaluator.families.items} == {"single", "double"}
    designs = drawn(evaluator, baffle="double")
    frame = judged(evaluator, designs, evaluator.judge(designs, exact=True))
    assert (frame["baffle"] == "double").all()
    again = designs_of(evaluator, frame)
    assert np.array_equal(again.family, designs.family)


def test_the_second_layer_weighs_and_costs_its_area(van: Scenario) -> None:
    """Hand-worked: what the same outside holds less of air is board, of the second layer's own area and thickness."""
    evaluator = Evaluator(van)
    double = drawn(evaluator, baffle="double")
    single = as_single(evaluator, double)
    one, other = evaluator.judge(single, hear_all=True), evaluator.judge(double, hear_all=True)
    wedges, stock = other.wedges, van.stock
    wide, high = (size - 2.0 * stock.board_thickness for size in (double.outer_width, double.outer_height))
    face = wide * high * np.hypot(1.0, wedges.baffle_slope)
    np.testing.assert_allclose(one.wedges.gross_volume - wedges.gross_volume, face * LAYER, rtol=1e-9)

    def board_cost(judgement: Judgement, designs: Designs) -> Floats:
        """Of board alone."""
        plain = replace(van, stock=replace(stock, board_price=0.0))
        return evaluator.cost(designs, judgement) - Evaluator(plain).cost(designs, judgement)

    braces = [
        (each.layout.brace_volume + each.layout.slot_boards) / stock.board_thickness * stock.board_price
        for each in (one, other)
    ]
    added = (board_cost(other, double) - braces[1]) - (board_cost(one, single) - braces[0])
    np.testing.assert_allclose(added, face * stock.board_price, rtol=1e-6)


def test_a_sunk_flange_needs_less_air_and_reaches_further_in(van: Scenario) -> None:
    """Hand-worked: the air asked for before a cone, and the room behind it, are less by the recess."""
    sunk = Evaluator(replace(van, box=replace(van.box, baffle_recess=RECESS)))
    flush = Evaluator(van)
    driver, gap = flush.families.items[0].wiring.driver, van.box.breathing_gap
    assert driver.room_before(gap) - driver.room_before(gap, recess=RECESS) == pytest.approx(RECESS)
    designs = drawn(flush, baffle="double")
    deep, plain = (each.judge(designs, hear_all=True) for each in (sunk, flush))
    lost = plain.layout.slacks["driver depth"] - deep.layout.slacks["driver depth"]
    assert np.all(lost > 0.9 * RECESS)
    assert np.all(lost < 1.3 * RECESS)
