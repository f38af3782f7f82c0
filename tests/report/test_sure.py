"""How sure a design is, in words and as numbers: promises to the user."""

from __future__ import annotations

import json
import math
import re
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.insight.tolerance import Spread, robust
from engine.judged import JudgedDesign
from engine.quantities import Units
from engine.report.sure import bands, front_best, front_table, front_told, headings, in_json, told
from engine.search.runs import run

LEVEL = "level_40_hz_db"


@cache
def design() -> JudgedDesign:
    scenario = read_scenario(demo_scenarios()["van-bench"])
    return JudgedDesign.of(scenario, run(scenario, evaluations=4_096).front.iloc[0])


@pytest.mark.parametrize("units", ["metric", "us"])
def test_a_builder_is_told_what_nine_of_ten_boxes_do(units: Units) -> None:
    """The level is that of the band, and nothing metric is said to who builds in inches."""
    built, swung = design().sure()
    said = " ".join(told(built, swung, design().row, units))
    assert f"at least {built.reached('level_30_hz_db')[0]:.1f} dB at 30 Hz" in said
    rows = bands(built, design().row["box_kind"], units)
    assert len(headings()) == len(rows[0]) - 1
    assert units == "metric" or not re.search(r"\b(mm|kg|m/s)\b", said + " ".join(map(" ".join, rows)))


def test_a_limit_that_is_passed_is_said_with_how_many_and_how_much_lower() -> None:
    """Counted by hand: one box in four passes Xmax by a fifth, and one does not go in."""
    ratio = np.array([[0.9, 0.9, 0.9, 0.9, 0.9, 0.9, 1.2, 1.2, np.nan]])
    built = Spread(
        figures={"excursion_ratio": ratio}, nominal={}, fits=np.isfinite(ratio), marks={"excursion_ratio": 1.0}
    )
    said = " ".join(told(built, {}, {"box_kind": "closed"}, "metric"))
    assert "11 of 100 do not go into their space" in said
    assert "in 25 of 100 the cone passes Xmax" in said
    assert built.lower_db(0.8)[0] == pytest.approx(20.0 * math.log10(1.2))


def test_the_numbers_are_fit_for_a_file() -> None:
    """File contract: keys with unit suffixes, no nan, safest figure first."""
    told_as = in_json(*design().sure(), design().row["box_kind"])
    assert json.loads(json.dumps(told_as, allow_nan=False)) == told_as
    safe, middle, best = told_as["built_reach"]["level_40_hz_db"]
    assert safe < middle < best
    assert 0.0 <= told_as["built_hold_share"]["excursion_ratio"] <= 1.0


def test_a_front_is_told_by_what_becomes_of_every_design() -> None:
    """Counted by hand: of four designs one does not go in, one passes a limit of the job, one is beaten as built."""
    level = np.array([[100.0] * 9 + [98.0], [101.0] * 8 + [99.0] * 2, [103.0] * 10, [104.0] * 10])
    weight = np.array([[10.0] * 10, [10.0] * 10, [20.0] * 10, [30.0] * 10])
    fits = np.ones((4, 10), dtype=bool)
    fits[2, :2] = False
    built = Spread(
        figures={LEVEL: np.where(fits, level, np.nan), "weight_kg": np.where(fits, weight, np.nan)},
        nominal={LEVEL: np.array([100.0, 101.0, 103.0, 104.0]), "weight_kg": np.array([10.0, 10.0, 20.0, 30.0])},
        fits=fits, marks={"weight_kg": 25.0},
    )  # fmt: skip
    front = pd.DataFrame({"id": ["A", "B", "C", "D"], **built.nominal})
    goals = replace(design().scenario.goals, objectives=(LEVEL, "weight_kg"), limits={"weight_kg": 25.0})
    safe = robust(front, built, goals)
    assert safe.front["id"].tolist() == ["A"]
    said = " ".join(front_told(safe, built, goals, "us"))
    assert "1 of 4 designs remain" in said
    assert "Of 1 more than 1 box in 10 does not go into its space" in said
    assert "Of 1 more than 1 box in 10 passes the limit of the job, Weight 55.1 lb" in said
    assert "1 is beaten" in said
    table = front_table(front, built, safe)
    assert table["remains"].tolist() == ["yes", "beaten", "does not go in", "passes weight_kg"]
    assert table[f"{LEVEL}_9_of_10"].iloc[0] == pytest.approx(99.8)  # a tenth of the way between the two lowest of ten
    (first, second) = front_best(front, safe, built, goals.objectives, "metric")
    assert first[1:] == ("104.0 dB", "99.8 dB", "0.2 dB")
    assert second[1:3] == ("10.0 kg", "10.0 kg")
