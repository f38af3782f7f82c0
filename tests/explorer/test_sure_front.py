"""How sure a front is, on its page: promises to the user."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import Any

import numpy as np
import pytest
from streamlit.testing.v1 import AppTest

from engine.formats.scenario import parse_scenario
from engine.insight.price import Price
from engine.insight.tolerance import Spread, robust, spread
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from explorer import frame
from explorer.charts import Look, plotted
from explorer.labels import thousands
from explorer.sure_front import picture
from tests.explorer.pages import PATIENCE, ended, job_of, remembered, showing, sound, words_on

TOGGLE = "As 9 of 10 built boxes reach it"
X, Y = "outer_volume_m3", "level_40_hz_db"


def switch(test: AppTest, *, on: bool) -> None:
    (toggle,) = [each for each in test.toggle if each.label == TOGGLE]
    toggle.set_value(on).run()


def is_on(test: AppTest) -> bool:
    return any(each.value for each in test.toggle if each.label == TOGGLE)


def test_a_front_is_told_as_it_is_built_and_by_other_tolerances_anew(opened_searched: Callable[[], AppTest]) -> None:
    """Nothing is built before somebody asks; kept after that, and no search is asked for by other tolerances."""
    test = showing(opened_searched(), "As boxes are built")
    job = job_of(test)
    assert job.found is not None
    assert "designs remain" not in words_on(test)
    switch(test, on=True)
    ended(test, f"{job.id}:sure")
    whole = thousands(len(job.found.front))
    first = words_on(test)
    assert f"of {whole} designs remain" in first
    assert "dB lower" in first
    kept = remembered(test)["sure"]
    switch(test, on=False)
    assert "designs remain" not in words_on(test)
    switch(test, on=True)
    assert remembered(test)["sure"] is kept
    job.document = {**job.document, "tolerance": {"cms": 0.3, "bl": 0.1}}
    test.run()
    ended(test, f"{job.id}:sure")
    assert remembered(test)["sure"] is not kept
    assert not job.changed_since_search
    assert words_on(test) != first


def test_building_a_front_can_be_given_up(
    opened_searched: Callable[[], AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Cancelled, the switch is off again and nothing is shown; asked again, it begins anew."""
    go_on = threading.Event()

    def slow(evaluator: Evaluator, rows: Any, **_: Any) -> Iterator[Spread]:
        yield spread(evaluator, rows.head(1), samples=2)
        go_on.wait(PATIENCE)
        yield spread(evaluator, rows.tail(1), samples=2)

    monkeypatch.setattr("explorer.sure_front.spread_in_parts", slow)
    test = showing(opened_searched(), "As boxes are built")
    switch(test, on=True)
    task = frame.searches().of(f"{job_of(test).id}:sure")
    assert task is not None
    test.button(key="cancel-sure").click().run()
    go_on.set()
    assert task.wait(PATIENCE)
    test.run()
    sound(test)
    assert not is_on(test)
    assert "designs remain" not in words_on(test)
    assert "sure" not in remembered(test)


def test_a_cancelled_price_can_be_asked_for_again(
    opened_searched: Callable[[], AppTest], monkeypatch: pytest.MonkeyPatch
) -> None:
    def endless(_: Scenario, *, cancelled: Callable[[], bool], **__: Any) -> list[Price]:
        while not cancelled():
            threading.Event().wait(0.01)
        return []

    monkeypatch.setattr("explorer.pricing.prices", endless)
    test = showing(opened_searched(), "Price of space")
    test.button(key="start-price").click().run()
    assert "start-price" not in [button.key for button in test.button]
    task = frame.searches().of(f"{job_of(test).id}:price")
    assert task is not None
    test.button(key="cancel-price").click().run()
    assert task.wait(PATIENCE)
    test.run()
    sound(test)
    assert "start-price" in [button.key for button in test.button]
    assert "cancel-price" not in [button.key for button in test.button]
    assert "No design that can be built was found" not in words_on(test)


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_picture_has_band_and_chances_of_every_design(opened_searched: Callable[[], AppTest], units: Any) -> None:
    """What stands in the picture is what was counted: marks at what 9 of 10 reach, lines to what 1 of 10 does."""
    test = showing(opened_searched(), "As boxes are built")
    job = job_of(test)
    assert job.found is not None
    scenario, front = parse_scenario(job.found.document, source="job.toml"), job.found.front.head(20)
    built = spread(Evaluator(scenario), front, samples=16)
    safe = robust(front, built, scenario.goals)
    drawn, kept = front.iloc[safe.rows], built.take(safe.rows)
    look = Look(units=units, currency="", ink=frame.LIGHT)
    chart = picture(safe.front, drawn, kept, x=X, y=Y, objectives=[Y], look=look, marks={})
    table = chart.data
    np.testing.assert_allclose(table[Y], kept.reached(Y))
    np.testing.assert_allclose(table["y_few"], kept.band(Y)[:, 2])
    np.testing.assert_allclose(table["y_drawn"], drawn[Y])
    np.testing.assert_allclose(table["x_few"], plotted(safe.front, [X], look, {})[X])  # nothing is said of it as built
    np.testing.assert_allclose(table["held"], kept.held)
    assert table[f"{Y}_text"].iloc[0].count("|") == 2
    low, high = chart.to_dict()["layer"][1]["encoding"]["y"]["scale"]["domain"]
    assert low <= table[["y_few", "y_drawn", Y]].min().min()
    assert high >= table[["y_few", "y_drawn", Y]].max().max()
