"""Charts of a front, promises to the user: every kept design's figures, ways up, kinds that read without colour."""

from __future__ import annotations

import json
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
import vl_convert

from engine.kinds import KINDS
from engine.report.ink import DARK, LIGHT
from engine.report.wording import figure
from explorer.charts import (
    LITTLE,
    Look,
    Scene,
    bars,
    cabin_gain,
    faint,
    fronts,
    in_little,
    parallel,
    plotted,
    scatter,
    small,
    spans,
)
from explorer.traits import TRAITS, options_of

OBJECTIVES = ["f3_hz", "output_db", "excursion_ratio", "vent_speed_m_s"]


def scene_of(front: pd.DataFrame, units: Any = "metric", marks: dict[str, str] | None = None) -> Scene:
    look = Look(units=units, currency="EUR", ink=LIGHT)
    return Scene(frame=plotted(front, OBJECTIVES, look, marks or {}), spans=spans(front, OBJECTIVES, units), look=look)


def words_in(svg: str) -> str:
    return " ".join(part.split("<")[0] for part in svg.split(">"))


def drawn(chart: Any) -> str:
    return vl_convert.vegalite_to_svg(chart.properties(width=700).to_dict())


def test_the_tooltip_reads_a_design_in_the_users_units(front: pd.DataFrame) -> None:
    row = front[front["box_kind"] == "vented"].iloc[0]
    frame = scene_of(front, "us").frame
    shown = frame[frame["id"] == row["id"]].iloc[0]
    assert shown["f3_hz_text"] == figure("f3_hz", row["f3_hz"], "us")
    assert shown["outside"].count(" in") == 4
    assert shown["opening"] == "2 vents, 2 in bore × 13 3/16 in long each, through the left side"
    assert shown["filter"] == "Butterworth high-pass at 22.0 Hz, 12 dB per octave"


def test_a_closed_box_and_one_with_a_passive_radiator_have_no_vent_speed_to_read(front: pd.DataFrame) -> None:
    frame = scene_of(front).frame
    closed = frame[frame["box"] == "Closed box"]
    assert set(closed["vent_speed_m_s_text"]) == {"no vent"}
    assert set(closed["opening"]) == {"no vent"}
    radiating = frame[frame["box"] == "Box with passive radiator"]
    assert set(radiating["vent_speed_m_s_text"]) == {"no vent"}
    assert set(radiating["opening"]) == {"1 × Tray, 120 g added to its cone"}


def test_a_vehicle_s_gain_is_drawn_with_the_points_that_were_measured() -> None:
    frequency = np.geomspace(10.0, 200.0, 21)
    level = 12.0 - 0.05 * frequency
    chart = cabin_gain(frequency, level, ink=LIGHT, points=(frequency[::4], level[::4]))
    spec = chart.properties(width=300).to_dict()
    assert sorted(len(rows) for rows in spec["datasets"].values()) == [6, 21]
    assert "Gain over the open (dB)" in words_in(vl_convert.vegalite_to_svg(spec))
    assert len(cabin_gain(frequency, level, ink=LIGHT).layer) == 1


@pytest.mark.parametrize(
    ("colour", "shape", "legends"),
    [
        ("driver", "driver_count", ["Ten Twelve", "1 2", "Driver", "How many drivers"]),
        ("box_kind", "box_kind", ["Closed Vented Passive radiator", "Kind of box"]),
        ("vent_speed_m_s", "f3_hz", ["best third middle third worst third", "Worst vent air speed", "(f3)"]),
    ],
)
@pytest.mark.parametrize("draw", [scatter, parallel])
def test_colour_and_shape_follow_what_the_page_tells_by_them(
    front: pd.DataFrame, colour: str, shape: str, legends: list[str], draw: Any
) -> None:
    """Promise: a chart taken away is coloured and shaped as the surface was, by a name or a figure, with legends."""
    front = front.assign(driver_count=1 + np.arange(len(front)) % 2)
    traits = {key: options_of(key, front[key]) for key in TRAITS}
    scene = replace(scene_of(front), traits=traits)
    places = {"x": "f3_hz", "y": "output_db", "objectives": OBJECTIVES}
    how = {"objectives": OBJECTIVES} if draw is parallel else places
    words = " ".join(words_in(drawn(draw(scene, colour=colour, shape=shape, **how))).split())
    assert all(legend in words for legend in legends)
    assert words.count("Kind of box") == (colour == "box_kind")  # one legend for what both tell


def test_a_name_keeps_its_colour_whatever_the_filters_leave(front: pd.DataFrame) -> None:
    """Promise: as on the surface, a driver has the colour that it has among all of the front."""
    traits = {key: options_of(key, front[key]) for key in TRAITS}
    scene = replace(scene_of(front[front["driver"] == "Twelve"]), traits=traits)
    spec = scatter(scene, x="f3_hz", y="output_db", colour="driver", objectives=OBJECTIVES).to_dict()
    scale = spec["layer"][0]["encoding"]["color"]["scale"]
    assert dict(zip(scale["domain"], scale["range"], strict=True)) == {
        "Ten": LIGHT.series[0],
        "Twelve": LIGHT.series[1],
    }


@pytest.mark.parametrize("dark", [False, True])
def test_the_scatter_tells_kinds_by_shape_and_marks_pick_and_shortlist(front: pd.DataFrame, dark: bool) -> None:
    marks = {"D0003": "pick", "D0004": "A"}
    scene = scene_of(front.head(300), marks=marks)
    look = Look(units="metric", currency="", ink=DARK if dark else LIGHT, dark=dark)
    scene = Scene(frame=scene.frame, spans=scene.spans, look=look)
    chart = scatter(scene, x="f3_hz", y="output_db", colour="excursion_ratio", objectives=OBJECTIVES)
    spec = chart.to_dict()
    text = json.dumps(spec)
    assert all(kind.mark in text for kind in KINDS.records)
    assert spec["params"][0]["name"] == "pick"
    words = words_in(drawn(chart))
    assert "-3 dB frequency (f3) (Hz) – lower is better" in words
    assert "Mean maximum output (dB) – higher is better" in words
    assert "Closed Vented Passive radiator" in " ".join(words.split())
    assert " pick " in words
    assert " A " in words


def test_a_front_as_it_was_stands_faintly_behind_and_takes_no_click(front: pd.DataFrame) -> None:
    """Promise: the earlier front is drawn first, as open marks; one that lacks an axis is left out."""
    scene = replace(scene_of(front), behind=faint(front.iloc[:40], ["f3_hz", "output_db"], "us"))
    chart = scatter(scene, x="f3_hz", y="output_db", colour="excursion_ratio", objectives=OBJECTIVES)
    first = chart.layer[0]
    assert first.data is scene.behind
    assert first.mark.opacity < 0.5
    assert "params" not in first.to_dict(validate=False)
    assert "<svg" in drawn(chart)


def test_a_small_picture_draws_any_front_on_its_axes(front: pd.DataFrame) -> None:
    """Promise: the front before the one that it goes on from, the all-rounder ringed, on axes that hold them both."""
    axes = {"x": "f3_hz", "y": "output_db"}
    keys = list(axes.values())
    scene = scene_of(front.head(50), marks={"D0003": "best"})
    low, high = scene.spans["f3_hz"]
    scene = replace(scene, spans={**scene.spans, "f3_hz": (low - 2.0, high + 2.0)})
    room = 0.05 * (high - low + 4.0)
    behind = faint(front.iloc[60:100], keys, "metric")
    for before, counts in (
        (behind, {"front": 49, "best": 1, "end": 2, "behind": 40}),
        (faint(front.drop(columns="f3_hz"), keys, "metric"), {"front": 49, "best": 1, "end": 2}),
        (None, {"front": 49, "best": 1, "end": 2}),
    ):
        points = in_little(replace(scene, behind=before), **axes)
        assert points["part"].value_counts().to_dict() == counts
        ends = points[points["part"] == "end"]["across"]
        assert list(ends) == pytest.approx([low - 2.0 - room, high + 2.0 + room])
        assert list(points["across"].agg(["min", "max"])) == list(ends)
        assert points.loc[points["part"] == "best", "up"].item() == scene.frame["output_db"].iloc[2]
        chart = small(scene.look, **axes).properties(width=280).to_dict()
        svg = vl_convert.vegalite_to_svg({**chart, "datasets": {LITTLE: points.to_dict("records")}})
        groups = [part.partition("</g>")[0] for part in svg.split("mark-symbol")[1:]]
        assert [part.count("<path") for part in groups] == [counts.get("behind", 0), 50, 1, 2]
        # Only the front itself is told to those who do not see it: a group without a mark has no words to give.
        assert [part.count('aria-roledescription="point"') for part in groups] == [0, 50, 0, 0]


def test_parallel_axes_have_the_best_on_top_and_real_figures_at_their_ends(front: pd.DataFrame) -> None:
    chart = parallel(scene_of(front), OBJECTIVES, colour="f3_hz")
    words = words_in(drawn(chart))
    for key, best in (("f3_hz", "min"), ("output_db", "max")):
        low, high = front[key].min(), front[key].max()
        top, bottom = (low, high) if best == "min" else (high, low)
        unit = "Hz" if key == "f3_hz" else "dB"
        assert f"best {top:.1f} {unit}" in words
        assert f"worst {bottom:.1f} {unit}" in words
    data = next(rows for rows in chart.to_dict()["datasets"].values() if "share" in rows[0])
    top = max(data, key=lambda row: (row["axis"].startswith("Mean"), row["share"]))
    assert top["id"] == front.loc[front["output_db"].idxmax(), "id"]
    deepest = max(data, key=lambda row: (row["axis"].startswith("-3 dB"), row["share"]))
    assert deepest["id"] == front.loc[front["f3_hz"].idxmin(), "id"]


def test_a_front_of_one_design_draws(front: pd.DataFrame) -> None:
    scene = scene_of(front.head(1))
    assert "<svg" in drawn(scatter(scene, x="f3_hz", y="output_db", colour="f3_hz", objectives=OBJECTIVES))
    assert "<svg" in drawn(parallel(scene, OBJECTIVES, colour="f3_hz"))


def test_the_colour_legend_shows_low_middle_and_high_with_their_digits(front: pd.DataFrame) -> None:
    scene = scene_of(front)
    low, high = scene.spans["excursion_ratio"]
    words = words_in(drawn(scatter(scene, x="f3_hz", y="output_db", colour="excursion_ratio", objectives=OBJECTIVES)))
    assert all(f"{value:.2f}" in words for value in (low, 0.5 * (low + high), high))


def test_two_groups_are_told_apart_by_colour_and_by_shape(front: pd.DataFrame) -> None:
    """User's promise: both fronts in one picture, to colour-blind eyes too."""
    scene = scene_of(front)
    names = ("Ten", "Twelve")
    both = Scene(frame=scene.frame.assign(group=front["driver"].to_numpy()), spans=scene.spans, look=scene.look)
    chart = fronts(both, x="f3_hz", y="output_db", groups=names, objectives=OBJECTIVES)
    spec = chart.to_dict()
    encoding = spec["layer"][0]["encoding"]
    for channel in ("color", "shape"):
        assert encoding[channel]["field"] == "group"
        assert len(set(encoding[channel]["scale"]["range"])) == len(names)
        assert encoding[channel]["legend"]["labelLimit"] >= 400  # names of drivers and boxes are long
    assert "Twelve" in words_in(drawn(chart))


def test_what_a_change_buys_is_a_bar_with_its_spread() -> None:
    """User's promise: the mean as a bar, the spread of the seeds as a line over it, the unit on the axis."""
    row = {"change": "10 mm more depth", "gain": 0.8, "least": 0.7, "most": 0.9, "text": "+0.8 ± 0.1"}
    table = pd.DataFrame([row | {"where": where} for where in ("along the front", "at its best")])
    chart = bars(table, "level_30_hz_db", Look(units="metric", currency="", ink=DARK))
    words = words_in(drawn(chart))
    assert "10 mm more depth" in words
    assert "Level at 30 Hz (dB), better by" in words
    assert [layer["mark"]["type"] for layer in chart.to_dict()["layer"]] == ["bar", "rule"]
