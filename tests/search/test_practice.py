"""What is shown first is a box that a good builder would build: on the demos and ten invented jobs."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from engine.formats.scenario import demo_scenarios, parse_scenario
from engine.insight.reasons import balanced
from engine.search.practice import CRITERIA, broken, weighed
from engine.search.runs import run
from explorer.demo_fronts import stored_front
from tests.benchmarks.as_built.__main__ import ten_jobs


def keeps_what_is_asked(row: pd.Series) -> list[bool]:
    """The criteria once more, of one design, plainly written."""
    levels = [row[key] for key in row.index if key.startswith("level_") and "cabin" not in key]
    return [
        not (row["excursion_ratio"] > 1.0 or row["radiator_ratio"] > 1.0 or row["vent_mach"] > 0.1),
        row["power_share"] >= 0.25,
        max(levels) - min(levels) <= 12.0,
        not row["tuning_hz"] > 45.0,
        row["box_kind"] == "closed" or row["filter_hz"] > 0.0,
        row["beyond_model"] == "",
    ]


def opens_with(front: pd.DataFrame, objectives: tuple[str, ...]) -> list[bool]:
    """What the opening pick keeps; no box of the front keeps more, which is worked out here once more."""
    place = balanced(front, objectives)
    kept = np.array([keeps_what_is_asked(row) for _, row in front.iterrows()])
    np.testing.assert_array_equal(kept, ~broken(front))
    assert kept[place].sum() == kept.sum(axis=1).max()
    return [bool(each) for each in kept[place]]


@pytest.mark.parametrize("name", list(demo_scenarios()))
def test_demos_open_with_a_box_that_keeps_all(name: str) -> None:
    """Common practice, no source: every criterion, on the front that a demo shows at once."""
    front = stored_front(name).front
    assert all(opens_with(front, tuple(stored_front(name).record["objectives"])))


@pytest.mark.parametrize("name", list(ten_jobs()))
def test_ten_invented_jobs_open_with_the_best_there_is(name: str) -> None:
    """Common practice, no source: within limits always, and no more broken than any box of the front breaks."""
    scenario = parse_scenario(ten_jobs()[name], source=name)
    front = run(scenario, evaluations=4_096).front
    kept = opens_with(front, scenario.goals.objectives)
    assert kept[0]
    assert sum(kept) >= len(CRITERIA) - 1


def test_what_was_weighed_is_said() -> None:
    """User's promise: the sentence names what the pick lacks, and nothing where it lacks nothing."""
    front = stored_front(next(iter(demo_scenarios()))).front.iloc[[0]]
    whole = front.assign(power_share=1.0, tuning_hz=np.nan, beyond_model="", box_kind="closed", excursion_ratio=0.9)
    whole = whole.assign(level_30_hz_db=100.0, level_40_hz_db=104.0, level_50_hz_db=107.0, vent_mach=np.nan)
    assert "No box here" not in weighed(whole)
    told = weighed(whole.assign(power_share=0.1))
    assert told.endswith("this one is without at least a quarter of the amplifier's power in use.")
