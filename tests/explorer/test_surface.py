"""The picking surface's Python side: what goes out to the browser, and what of what comes back is taken."""

from __future__ import annotations

import json
from base64 import b64decode
from typing import Any

import numpy as np
import pandas as pd
import pytest

from engine.columns import COLUMNS
from engine.formats.scenario import demo_scenarios, read_document, read_scenario
from engine.insight.reasons import balanced
from engine.judged import FREQUENCY, JudgedDesign
from engine.quantities import Units
from engine.report.ink import LIGHT
from engine.report.portrait import Portrait, lay_over
from engine.report.tracks import tracks
from engine.report.wording import figure_of
from explorer import picking
from explorer.charts import Look
from explorer.choices import displayed
from explorer.demo_fronts import found_for, stored_front
from explorer.narrowing import passing
from explorer.session import DRIVERS, Job, as_document, new_id
from explorer.surface import ACTS_MOST, sent
from explorer.surface_acts import beside, do, typed
from explorer.surface_data import bounds_shown, written
from explorer.worker import SearchTask

KEYS = ["f3_hz", "output_db", "outer_volume_m3", "weight_kg", "vent_speed_m_s"]
ASKED = read_scenario(demo_scenarios()["van-bench"]).goals


def look_of(units: Units = "metric", currency: str = "USD") -> Look:
    return Look(units=units, currency=currency, ink=LIGHT)


@pytest.fixture
def job() -> Job:
    document = as_document(read_document(demo_scenarios()["van-bench"]))
    return Job(id=new_id(), source="van-bench.toml", document=document, found=found_for(document))


def act(job: Job, **what: Any) -> Any:
    assert job.found is not None
    return do(job, what, keys=[*ASKED.objectives, "outer_volume_m3"], look=look_of(job.units), asked=ASKED)


def numbers(text: str) -> Any:
    return np.frombuffer(b64decode(text), dtype="<u2")


@pytest.mark.parametrize("units", ["metric", "us"])
def test_every_figure_and_name_of_every_design_reaches_the_browser(front: pd.DataFrame, units: Units) -> None:
    """Promise to the user: what the surface shows of a design are the figures of the front, in his units."""
    look = look_of(units)
    data = json.loads(written(front, KEYS, KEYS[:2], look).text)
    assert data["ids"] == front["id"].tolist()
    for column in data["columns"]:
        codes, key = numbers(column["codes"]), column["key"]
        shown = displayed(front[key].to_numpy(float), COLUMNS[key], units)
        assert np.array(column["values"])[codes] == pytest.approx(shown, rel=1e-9)
        for place in range(0, len(front), 37):
            row: Any = front.iloc[place]
            assert column["texts"][codes[place]] == figure_of(row, key, units, "USD")
        assert column["more"] == (COLUMNS[key].better == "max")
    traits = {trait["key"]: trait for trait in data["traits"]}
    kinds = np.array(traits["box_kind"]["options"])[numbers(traits["box_kind"]["codes"])]
    assert kinds.tolist() == front["box_kind"].tolist()
    assert {trait["filter"] for trait in traits.values() if trait["filter"]} == {"Box", "Drivers"}
    assert data["covered"] == (front["beyond_model"] == "").astype(int).tolist()


def test_figures_are_said_as_one_says_them(front: pd.DataFrame) -> None:
    data = json.loads(written(front, ["level_40_hz_db", "weight_kg", "f3_cabin_hz"], [], look_of()).text)
    assert [column["said"] for column in data["columns"]] == ["{} at 40 Hz", "weight {}", "f3 in the vehicle {}"]


def test_ten_thousand_designs_are_written_in_little_room(front: pd.DataFrame) -> None:
    many = pd.concat([front] * (1 + 10_000 // len(front)), ignore_index=True)
    assert len(written(many, KEYS, KEYS, look_of()).text) < 1_500_000


def an_act(turn: Any = 1, **what: Any) -> dict[str, Any]:
    return {"turn": turn, "does": "pick", "id": "D0001"} | what


def state(*acts: Any) -> dict[str, Any]:
    return {"acts": {"list": list(acts)}}


def test_what_was_done_comes_in_the_order_it_was_done() -> None:
    assert [each["turn"] for each in sent(state(an_act(3), an_act(1), an_act(2)))] == [1, 2, 3]
    drawn = an_act(does="range", key="f3_hz", low=None, high=40)
    assert sent(state(drawn)) == [drawn]


@pytest.mark.parametrize(
    "wrong",
    [
        None,
        [],
        {},
        {"acts": None},
        {"acts": {"list": "pick"}},
        state(None),
        state(an_act(turn=0)),
        state(an_act(turn=True)),
        state(an_act(turn="1")),
        state(an_act(turn=10**400)),
        state(an_act(does="drop")),
        state(an_act(does=None)),
        state(an_act(id=7)),
        state({"turn": 1, "does": "range", "key": "f3_hz", "low": None}),
        state(an_act(does="range", key="f3_hz", low="1", high=None)),
        state(an_act(does="range", key="f3_hz", low=float("nan"), high=None)),
        state(an_act(does="range", key="f3_hz", low=float("inf"), high=None)),
        state(an_act(does="range", key="f3_hz", low=True, high=None)),
        state(an_act(does="names", key="box_kind", options=[1])),
        state(an_act(does="covered", only=1)),
    ],
)
def test_what_is_no_act_is_passed_over(wrong: Any) -> None:
    assert sent(wrong) == []


def test_no_more_acts_are_taken_than_a_hand_makes() -> None:
    assert len(sent(state(*[an_act(turn) for turn in range(1, 2 * ACTS_MOST)]))) == ACTS_MOST


def test_a_range_is_kept_in_si_and_turned_the_right_way_round(job: Job) -> None:
    act(job, does="range", key="outer_volume_m3", low=60.0, high=30.0)
    assert job.filters["outer_volume_m3"] == pytest.approx([0.03, 0.06])
    act(job, does="range", key="outer_volume_m3", low=None, high=None)
    act(job, does="range", key="no such column", low=1.0, high=None)
    assert job.filters == {}


@pytest.mark.parametrize(
    ("text", "key", "units", "si"),
    [
        ("12.5", "weight_kg", "metric", 12.5),
        ("12.5 kg", "weight_kg", "us", 12.5),
        ("30 lb", "weight_kg", "metric", 13.6077711),
        ("30", "weight_kg", "us", 13.6077711),
        ("3 1/2", "outer_depth_m", "us", 0.0889),
        ('3 1/2"', "outer_depth_m", "metric", 0.0889),
        ("9 cm", "outer_depth_m", "metric", 0.09),
        ("104 dB", "level_40_hz_db", "metric", 104.0),
        ("104", "level_40_hz_db", "metric", 104.0),
        ("0.8", "excursion_ratio", "metric", 0.8),
        ("$220", "cost", "metric", 220.0),
        ("220 USD", "cost", "metric", 220.0),
    ],
)
def test_a_bound_is_typed_as_one_writes_it(text: str, key: str, units: Units, si: float) -> None:
    """Promise to the user: a bare number is in the unit shown, any other says its own."""
    assert typed(text, key, look_of(units)) == pytest.approx(si)


def test_what_is_typed_wrong_is_told_at_its_field_and_changes_nothing(job: Job) -> None:
    act(job, does="typed", key="weight_kg", end="high", text="14")
    for text in ("much", "1,5", "1.5 dB", "14 dB", "1e999", "--3"):
        fault = act(job, does="typed", key="weight_kg", end="high", text=text)
        assert (fault["key"], fault["end"]) == ("weight_kg", "high")
        assert "a mass" in fault["words"]
        assert "kg" in fault["words"]
        assert fault["words"].startswith(f"“{text}” is not ")
    assert job.filters == {"weight_kg": [None, 14.0]}
    assert "wrong side" in act(job, does="typed", key="weight_kg", end="low", text="20")["words"]
    assert act(job, does="typed", key="weight_kg", end="high", text=" ") is None
    assert job.filters == {}


def test_names_left_out_and_taken_in_again(job: Job) -> None:
    assert job.found is not None
    act(job, does="names", key="box_kind", options=["vented", "never heard of"])
    assert job.filters == {"box_kind": ["vented"]}
    assert set(job.found.front[passing(job.found.front, job.filters)]["box_kind"]) == {"vented"}
    act(job, does="names", key="box_kind", options=[])
    assert not passing(job.found.front, job.filters).any()
    act(job, does="names", key="box_kind", options=["vented", "closed", "radiator"])
    act(job, does="names", key="material", options=["oak"])
    assert job.filters == {}


def test_axes_colour_and_shape_are_kept_with_the_job(job: Job) -> None:
    for place, key in (("x", "outer_volume_m3"), ("colour", "driver"), ("shape", "weight_kg")):
        act(job, does="axis", place=place, key=key)
    act(job, does="axis", place="x", key="driver")  # no figure
    act(job, does="axis", place="z", key="weight_kg")
    assert job.axes == {"x": "outer_volume_m3", "colour": "driver", "shape": "weight_kg"}
    act(job, does="beside", keys=["outer_volume_m3", "nothing"])
    assert beside(job.axes, ["weight_kg", "outer_volume_m3", "f3_hz"], ["weight_kg"], {}) == [
        "weight_kg",
        "outer_volume_m3",
    ]
    act(job, does="beside", keys=[])
    assert beside(job.axes, ["weight_kg", "outer_volume_m3", "f3_hz"], ["weight_kg"], {}) == ["weight_kg"]


def test_no_range_is_hidden(job: Job) -> None:
    """Promise to the user: whatever narrows the front stands on the surface as an axis."""
    job.filters = {"f3_hz": [None, 40.0], DRIVERS: ["1 × ten"]}
    assert beside({}, ["weight_kg", "outer_volume_m3", "f3_hz"], ["weight_kg"], job.filters) == ["weight_kg", "f3_hz"]
    shown = bounds_shown({"outer_volume_m3": [None, 0.0283168]}, ["outer_volume_m3"], look_of("us"))
    assert shown["outer_volume_m3"][0] is None
    assert shown["outer_volume_m3"][1]["text"] == "1"


def test_within_limits_and_clear(job: Job) -> None:
    act(job, does="limits")
    assert job.filters["excursion_ratio"][1] == pytest.approx(1.0, abs=1e-3)
    act(job, does="covered", only=True)
    act(job, does="clear")
    assert job.filters == {}


@pytest.mark.parametrize("units", ["metric", "us"])
def test_the_pick_s_curves_are_those_of_the_judged_design_and_are_told_in_words(units: Units) -> None:
    """Promise to the user: each curve says in a sentence what it shows, with the design's name."""
    scenario = read_scenario(demo_scenarios()["van-bench"])
    front = stored_front("van-bench").front
    for kind in ("vented", "closed"):
        row: Any = front[front["box_kind"] == kind].iloc[0].to_dict()
        portrait = Portrait(JudgedDesign.of(scenario, row))
        found = {
            track.key: track for track in tracks(portrait, lay_over([portrait], units=units, ink=LIGHT, hover=False))
        }
        assert ("vent_speed" in found) == (kind == "vented")
        level = portrait.design.curves.spl_db[0]
        assert found["response"].lines[0].points == pytest.approx(level.tolist(), abs=0.006)
        place = int(np.argmin(np.abs(FREQUENCY - 40.0)))
        assert f"{found['response'].lines[0].points[place]:.1f} dB at 40 Hz" in found["response"].words
        for track in found.values():
            assert row["id"] in track.words
            assert track.low < track.high
            assert all(len(line.points) == len(FREQUENCY) for line in track.lines)
            assert all(track.low <= value <= track.high for value, _ in track.levels)
        assert ("in" if units == "us" else "mm") in found["excursion"].words.split()


def test_the_best_so_far_is_marked_and_told_of_one_front(front: pd.DataFrame, monkeypatch: pytest.MonkeyPatch) -> None:
    """Promise: while a search runs, the picture, its mark and what is said of the best box are of one moment."""
    van = read_scenario(demo_scenarios()["van-bench"])
    look, given = Look(units="metric", currency="", ink=LIGHT), dict[str, Any]()
    monkeypatch.setattr(picking, "surface", lambda **what: given.update(what))
    monkeypatch.setattr(picking, "made_once", lambda *_, make: make())
    monkeypatch.setattr(picking.frame, "look", lambda _: look)
    monkeypatch.setattr(picking, "memory", dict)
    job = Job(id="growing-job", source="van.toml", document=dict(van.document))
    picking.growing_surface(job, SearchTask(van, job.document), front)
    best = front.iloc[balanced(front, van.goals.objectives)]
    assert given["pick"]["id"] == best["id"]
    assert given["pick"]["lines"][0].endswith(f"1 × {best['driver']}")
    assert (given["growing"], given["marks"]) == (picking.BEST, {})
    assert best["id"] in json.loads(given["front"].text)["ids"]
