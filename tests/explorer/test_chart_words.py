"""Charts in words (promises to whoever does not see them): what a chart tells, in the job's units."""

from __future__ import annotations

import numpy as np
import pandas as pd
import pytest

from engine.quantities import Units
from engine.report.ink import LIGHT
from explorer.chart_words import bars_in_words, front_in_words, gain_in_words, marked
from explorer.charts import Look
from tests.explorer.conftest import invented_front


def look(units: Units) -> Look:
    return Look(units=units, currency="EUR", ink=LIGHT)


@pytest.mark.parametrize(("units", "weight"), [("metric", "weight 21.0 kg"), ("us", "weight 46.3 lb")])
def test_a_front_tells_its_best_and_its_pick(front: pd.DataFrame, units: Units, weight: str) -> None:
    front = front.head(300).copy()
    front.loc[front.index[6], ["f3_hz", "weight_kg"]] = [20.0, 21.0]
    name = front["id"].iloc[6]
    told = front_in_words(front, "f3_hz", "weight_kg", look(units), marks=marked({name: "pick", "D9999": "A"}))
    assert told.startswith("Front: f3 against weight, 300 designs. ")
    assert f"20.0 Hz with {weight}." in told
    assert told.endswith(f"Pick {name}: f3 20.0 Hz and {weight}.")


def test_a_front_of_one_and_of_none_is_told() -> None:
    front = invented_front(1)
    assert "1 design." in front_in_words(front, "f3_hz", "output_db", look("metric"))
    assert front_in_words(front.head(0), "f3_hz", "output_db", look("metric")).endswith("0 designs.")


def test_what_changes_buy_is_told_change_by_change() -> None:
    rows = [("10 mm more depth", "along the front", "0.8 dB"), ("10 mm more depth", "at its best", "1.1 dB")]
    table = pd.DataFrame(rows, columns=["change", "where", "text"])
    told = bars_in_words(table, "level at 30 Hz")
    assert told == (
        "What each change buys, level at 30 Hz. 10 mm more depth: 0.8 dB along the front and 1.1 dB at its best."
    )


def test_what_a_vehicle_adds_is_told_at_a_few_frequencies() -> None:
    frequency = np.geomspace(10.0, 50.0, 30)
    told = gain_in_words(frequency, 12.0 * np.log2(80.0 / frequency), "metric", "estimate")
    assert told == (
        "What the vehicle adds (estimate): 29.0 dB at 15 Hz, 24.0 dB at 20 Hz, 17.0 dB at 30 Hz and 12.0 dB at 40 Hz."
    )
