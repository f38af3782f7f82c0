"""What the front is said to mean."""

from __future__ import annotations

import dataclasses
from itertools import chain

import numpy as np
import pandas as pd
import pytest

from engine.acoustics.figures import FIGURES_GRID
from engine.columns import COLUMNS
from engine.constraints import CONSTRAINTS, LIMIT
from engine.goals import GOALS
from engine.insight.reasons import (
    balanced,
    differences,
    extremes,
    rivals,
)
from engine.judged import JudgedDesign
from engine.parts import Space
from engine.quantities import Units
from engine.scenario import Scenario
from engine.search.evaluator import Designs, Evaluator
from engine.search.problem import BoxProblem
from engine.search.runs import Run


def test_extremes_are_the_best_on_their_objective(scenario: Scenario, searched: Run) -> None:
    """Independent implementation: pandas' own minimum and maximum; vent air among vented boxes."""
    front = searched.front
    for key, position in extremes(front, scenario.goals.objectives).items():
        among = front[front["box_kind"] == "vented"] if key == "vent_speed_m_s" else front
        best = among[key].max() if COLUMNS[key].better == "max" else among[key].min()
        assert front[key].iloc[position] == best


def test_the_balanced_design_is_no_extreme(scenario: Scenario, searched: Run) -> None:
    """Property: on no objective is the balanced design the worst of the front."""
    front = searched.front
    row = front.iloc[balanced(front, scenario.goals.objectives)]
    for key in scenario.goals.objectives:
        worst = front[key].min() if COLUMNS[key].better == "max" else front[key].max()
        assert row[key] != worst


def test_rivals_are_told_apart_by_driver_count_and_facing(scenario: Scenario, searched: Run) -> None:
    """Independent implementation: pandas filters, one driver and count at a time."""
    front, objectives = searched.front, scenario.goals.objectives
    table = rivals(front, objectives)
    assert table["designs"].sum() == len(front)
    assert table["designs"].is_monotonic_decreasing
    for _, rival in table.iterrows():
        mine = front[(front["driver"] == rival["driver"]) & (front["driver_count"] == rival["driver_count"])]
        mine = mine[mine["facing"] == rival["facing"]]
        assert rival["designs"] == len(mine)
        assert rival["balanced"] == mine["id"].iloc[balanced(mine, objectives)]
        for key in objectives:
            assert rival[key] == (mine[key].max() if COLUMNS[key].better == "max" else mine[key].min())


def test_every_objective_is_explained(scenario: Scenario, searched: Run) -> None:
    """User's promise: a sentence for each objective, but for those of a vent or a radiator where there is none."""
    front = searched.front
    for design in judged(scenario, front.iloc[list(extremes(front, scenario.goals.objectives).values())]):
        row, sentences = design.row, design.why("metric")
        expected = set(scenario.goals.objectives)
        if row["box_kind"] != "vented":
            expected -= {"vent_speed_m_s"}
        if row["box_kind"] != "radiator":
            expected -= {"radiator_ratio"}
        assert set(sentences) == expected
        assert all(text[0].isupper() and text.endswith(".") for text in sentences.values())


def judged(scenario: Scenario, rows: pd.DataFrame) -> list[JudgedDesign]:
    """Rows of a front judged in one batch."""
    return JudgedDesign.batch(Evaluator(scenario), rows.to_dict("records"))


@pytest.fixture(scope="module")
def picked(scenario: Scenario, searched: Run) -> list[JudgedDesign]:
    """Designs spread over a front, its ends included; what is worked out of them is worked out once."""
    front = searched.front
    return judged(scenario, front.iloc[np.unique(np.linspace(0, len(front) - 1, 12).astype(int))])


def broken_by(evaluator: Evaluator, designs: Designs) -> set[str]:
    constraints = evaluator.judge(designs, frequency=FIGURES_GRID, exact=True, hear_all=True).constraints
    return {name for name, excess in constraints.items() if excess[0] > 1e-9}


def test_all_that_is_said_to_stop_a_step_does_and_nothing_else(scenario: Scenario, picked: list[JudgedDesign]) -> None:
    """Independent path: with what is named given up, space, door, bounds and limits, nothing else forbids the step.

    What is named besides, of the box itself, then still forbids it; nothing is told of what does not.
    """
    told = 0
    for design in picked:
        for option in {id(each): each for found in design.options.values() for each in found}.values():
            if not option.stops:
                continue
            named = set(option.constraints)
            space = Space(section=((0.0, 0.0), (9.0, 0.0), (9.0, 9.0), (0.0, 9.0)), width=9.0)
            given_up = {"space": space} if "space" in named else {}
            lifted = Evaluator(dataclasses.replace(scenario, bounds={}, held={}, **given_up))
            # A limit on a goal is given up by not asking for it: a looser one would change the braces.
            still = broken_by(lifted, option.designs) - {"door", *map(LIMIT.format, GOALS)}
            of_the_job = {"space", "door", "tuning", *map(LIMIT.format, GOALS)}
            assert still == named - of_the_job, (design.row["id"], option.words)
            told += 1
    assert told > 0


def test_one_more_vent_than_a_search_tries_names_every_other_limit_too(scenario: Scenario, searched: Run) -> None:
    """User's promise: where the search's own bound forbids a step, what else would have to give stands beside it."""
    rows = searched.front[searched.front["vent_kind"] == "pipe"].iloc[::20]
    for design in judged(scenario, rows.assign(vent_count=4)):
        assert design.options
        for option in (each for found in design.options.values() for each in found if each.words == "one more vent"):
            assert option.stops[-1] == "the search tries no more than 4 vents"
            assert option.stops[:-1] == tuple(CONSTRAINTS[name].blocks for name in option.constraints)
            if "space" not in option.constraints:
                assert set(option.constraints) == broken_by(design.evaluator, option.designs)
            for key, sentence in design.why("metric").items():
                if "one more vent, but" in sentence and option in design.options[key]:
                    assert all(stop in sentence for stop in option.stops)


def test_a_step_said_to_be_possible_is_and_has_its_price(scenario: Scenario, picked: list[JudgedDesign]) -> None:
    """Independent path: an allowed step is feasible, better on its goal and worse on those named."""
    evaluator = Evaluator(scenario)
    told = 0
    for design in picked:
        here = design.designs
        before = evaluator.judge(here, frequency=FIGURES_GRID, exact=True)
        for key, found in design.options.items():
            for option in found:
                if option.stops:
                    continue
                after = evaluator.judge(option.designs, frequency=FIGURES_GRID, exact=True)
                assert after.feasible.all()
                for goal, worse in {key: -option.gain, **option.losses}.items():
                    sign = -1.0 if COLUMNS[goal].better == "max" else 1.0
                    change = evaluator.objective(goal, option.designs, after) - evaluator.objective(goal, here, before)
                    assert sign * change[0] == pytest.approx(worse, rel=1e-6, abs=1e-9)
                assert option.losses
                told += 1
    assert told > 0


def test_a_bound_is_named_as_what_stops_a_step(scenario: Scenario, searched: Run) -> None:
    """User's promise: where one's own bound is in the way, that is said."""
    row = dict(searched.front.iloc[extremes(searched.front, scenario.goals.objectives)["level_50_hz_db"]])
    width = float(row["outer_width_m"])
    free = dataclasses.replace(scenario, bounds={})
    held = dataclasses.replace(scenario, bounds={"outer_width": (width, width)})
    changes = ("a wider box", "a narrower box")
    told = [each for found in JudgedDesign.of(held, row).options.values() for each in found if each.words in changes]
    assert told
    assert {each.stops[-1] for each in told} == {"the bound you set on the outer width stops it"}
    untold = [each for found in JudgedDesign.of(free, row).options.values() for each in found if each.words in changes]
    assert all("bound" not in " ".join(each.stops) for each in untold)


def test_shares_of_limits_make_up_the_band(picked: list[JudgedDesign]) -> None:
    """Conservation: the shares of the music band add up to all of it, largest first."""
    for shares in (design.limit_shares for design in picked):
        assert sum(shares.values()) == pytest.approx(1.0)
        assert list(shares.values()) == sorted(shares.values(), reverse=True)


def test_every_constraint_has_words(scenario: Scenario) -> None:
    """Completeness: no constraint of the problem is left without a meaning."""
    for name in BoxProblem(scenario).constraint_names:
        assert len(CONSTRAINTS[name].blocks) > 10
    asked = {name for name, constraint in CONSTRAINTS.items() if constraint.goal is None}
    assert asked - {"tuning"} <= {*BoxProblem(scenario).constraint_names}


def _row(**changes: object) -> pd.Series:
    row: dict[str, object] = {
        "box_kind": "vented",
        "vent_kind": "pipe",
        "driver": "Alder 10",
        "driver_count": 1,
        "output_db": 108.0,
        "level_30_hz_db": 96.0,
        "level_50_hz_db": 100.0,
        "f3_hz": 34.0,
        "f3_cabin_hz": float("nan"),
        "radiator_ratio": 0.0,
        "excursion_ratio": 0.9,
        "vent_speed_m_s": 14.0,
        "bevel_angles": 1.0,
        "outer_width_m": 0.9,
        "outer_height_m": 0.45,
        "outer_depth_m": 0.22,
        "net_volume_m3": 0.040,
        "weight_kg": 18.0,
        "cost": float("nan"),
    }
    return pd.Series(row | changes)


def said(a: pd.Series, b: pd.Series, *, units: Units, currency: str = "") -> list[str]:
    """Every difference in words, in the order they are told in."""
    return list(chain.from_iterable(differences(a, b, units=units, currency=currency).values()))


def test_differences_are_said_the_way_a_builder_would() -> None:
    """User's promise: louder at a frequency, narrower, each with its figure; never deeper by two f3s."""
    told = said(_row(), _row(level_30_hz_db=98.1, f3_hz=38.0, outer_width_m=0.84), units="metric")
    assert told == ["plays 2.1 dB louder at 30 Hz", "is 60 mm narrower"]


def test_levels_at_frequencies_that_only_one_job_names_are_not_compared() -> None:
    """User's promise: like with like."""
    told = said(_row(), _row(level_30_hz_db=99.0).rename({"level_50_hz_db": "level_63_hz_db"}), units="metric")
    assert told == ["plays 3.0 dB louder at 30 Hz"]


def test_differences_follow_the_units_of_the_reader() -> None:
    """User's promise: inches for who reads inches."""
    (told,) = said(_row(), _row(outer_width_m=0.9254), units="us")
    assert told == "is 1 in wider"


def test_differences_too_small_to_notice_are_left_out() -> None:
    """User's promise: a tenth of a decibel is no difference."""
    assert said(_row(), _row(output_db=108.1), units="metric") == []


def test_another_driver_or_kind_comes_first() -> None:
    """User's promise: one large against two small is said before any figure."""
    told = said(_row(), _row(box_kind="closed", driver="Birch 8", driver_count=2, vent_speed_m_s=0.0), units="metric")
    assert told == ["is closed instead of vented", "has 2 × Birch 8 instead of 1 × Alder 10"]


def test_money_has_its_currency() -> None:
    """User's promise: no bare number of money."""
    told = said(_row(cost=100.0), _row(cost=219.0), units="metric", currency="EUR")
    assert told == ["costs 119 EUR more"]
