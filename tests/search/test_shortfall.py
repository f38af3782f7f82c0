"""What a design that cannot be built is said to be short of."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest

from engine.columns import COLUMNS
from engine.constraints import CONSTRAINTS, Shortfall, added
from engine.packing.inside import SLACKS
from engine.quantities import Units
from engine.report.shortages import misses
from engine.report.wording import figure
from engine.scenario import Scenario
from engine.search.evaluator import UNHEARD, below_one
from engine.search.problem import BoxProblem
from engine.search.shortfall import broken, shortest, shortfalls


def test_every_constraint_has_words(scenario: Scenario) -> None:
    """Completeness: a constraint of the search or of the layout without words would be a silent refusal."""
    for name in BoxProblem(scenario).constraint_names:
        assert len(CONSTRAINTS[name].short_of) > 10, name
    assert all(CONSTRAINTS[name].in_metres for name in SLACKS)


def test_a_constraint_is_one_thing_and_has_words() -> None:
    """Contract: a second one of a name, one without words, a slack nobody knows: none of them gets in."""
    space = CONSTRAINTS["space"]
    with pytest.raises(ValueError, match="'space'"), added(space):
        pass
    with pytest.raises(ValueError, match="not whole"):
        dataclasses.replace(space, name="lid", blocks="")
    with added(dataclasses.replace(space, name="lid")) as lid:
        assert CONSTRAINTS["lid"] is lid
    with pytest.raises(KeyError):
        broken({"lid": 0.1})


def test_what_does_not_fit_is_told_before_what_was_not_heard() -> None:
    """User's promise: a design that does not fit was not heard, so its limits are no reason."""
    found = broken({"space": 0.02, "driver depth": -0.1, "f3": UNHEARD, "limit weight_kg": UNHEARD})
    assert found == {"space": 0.02}
    assert broken({"space": -0.1, "f3": 0.2}) == {"f3": 0.2}


def test_the_largest_shortage_is_the_reason_of_a_row() -> None:
    """Hand-worked: three designs, of which the first is short of nothing."""
    names, by = shortest(
        {
            "space": np.array([-0.1, 0.004, -0.1]),
            "driver depth": np.array([-0.2, 0.011, -0.1]),
            "limit f3_hz": np.array([-0.3, 1.0, 0.25]),
        }
    )
    assert names == ["", "driver depth", "limit f3_hz"]
    words = [CONSTRAINTS[name].short_of for name in names if name]
    assert words == ["depth behind the driver", "the limit on -3 dB frequency (f3)"]
    assert math.isnan(by[0])
    assert by[1] == 0.011
    assert math.isnan(by[2])


@pytest.mark.parametrize(("units", "said"), [("metric", "12 mm"), ("us", "in")])
def test_shortages_are_told_in_the_units_asked_for(units: Units, said: str) -> None:
    """User's promise: millimetres or inches."""
    assert said in Shortfall(constraint="driver depth", by=0.012).told(units)


@pytest.mark.parametrize(("units", "said"), [("metric", "less than 1 mm"), ("us", "less than 1/32 in")])
@pytest.mark.parametrize("by", [2e-9, 4e-5, 0.0007])
def test_a_shortage_that_is_there_is_never_said_to_be_nothing(by: float, units: Units, said: str) -> None:
    """User's promise: what stops a box does not read as 0, of a front's row (which is rounded) either."""
    told = f"depth behind the driver ({said})"
    assert Shortfall(constraint="driver depth", by=by).told(units) == told
    row = {"short_of": "driver depth", "short_by_m": round(by, COLUMNS["short_by_m"].stored)}
    assert row["short_by_m"] > 0.0
    assert misses(row, units) == ("Short of", told)
    assert figure("short_by_m", row["short_by_m"], units) == said


def test_how_near_a_limit_came_is_recovered() -> None:
    """Independent path: the bounded violation of the search is turned back into the figure it came from."""
    limit, reached = 40.0, 46.0
    by = float(below_one(np.array([(reached - limit) / limit]))[0])
    (short,) = shortfalls({"limit f3_hz": by}, {"f3_hz": limit})
    assert short.reached == pytest.approx(reached)
    assert "46.0 Hz" in short.told("metric")
