"""Charts and drawings to take along, promises to the user: whole pictures, and the figures that are drawn."""

from __future__ import annotations

import io
from xml.etree import ElementTree

import numpy as np
import pandas as pd
import pytest
from PIL import Image

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.insight.reasons import balanced
from engine.judged import FREQUENCY, JudgedDesign
from engine.report.ink import DARK, LIGHT, Ink
from engine.report.portrait import Portrait
from explorer.charts import Look, Scene, plotted, scatter, spans
from explorer.demo_fronts import stored_front
from explorer.specs import spec_of
from explorer.take_away import Item, of_curves, of_drawing, of_spec


@pytest.fixture(scope="module")
def portrait() -> Portrait:
    scenario = read_scenario(demo_scenarios()["van-bench"])
    front = stored_front("van-bench").front
    row = front.iloc[balanced(front, scenario.goals.objectives)].to_dict()
    return Portrait(JudgedDesign.of(scenario, row))


def check(item: Item) -> Image.Image:
    """Both pictures are whole and show something; gives the PNG."""
    ElementTree.fromstring(item.svg())
    assert "var(" not in item.svg()
    picture = Image.open(io.BytesIO(item.png())).convert("L")
    assert np.ptp(np.asarray(picture).astype(int)) > 100
    return picture


def test_every_curve_is_a_picture_and_its_table_has_the_curves(portrait: Portrait) -> None:
    items = of_curves([portrait], "metric")
    assert len(items) >= 6
    for item in items:
        check(item)
    assert items[0].table is not None
    table = items[0].table()
    np.testing.assert_allclose(table["frequency_hz"], FREQUENCY)
    np.testing.assert_array_equal(table["spl_db"], portrait.design.curves.spl_db[0])


@pytest.mark.parametrize("view", ["isometric", "section", "front", "plan", "picture"])
def test_every_drawing_is_a_picture(portrait: Portrait, view: str) -> None:
    assert min(check(of_drawing(view, lambda: portrait.design.drawing(view, "us"))).size) > 300


@pytest.mark.parametrize("ink", [LIGHT, DARK])
def test_a_chart_of_the_page_is_taken_as_it_stands(front: pd.DataFrame, ink: Ink) -> None:
    keys = ("f3_hz", "output_db")
    look = Look(units="metric", currency="EUR", ink=ink)
    scene = Scene(frame=plotted(front, keys, look, {}), spans=spans(front, keys, "metric"), look=look)
    spec = spec_of(scatter(scene, x="f3_hz", y="output_db", colour="output_db", objectives=keys))
    item = of_spec("The front", spec, ink)
    paper = np.asarray(check(item))[2, 2]
    assert (paper > 128) == (ink is LIGHT)
    assert item.table is not None
    assert item.table()["f3_hz"].to_numpy(float) == pytest.approx(front["f3_hz"].to_numpy(float))
