"""Pipes through the top panel as a choice of the job: read, searched, drawn, saved and read again."""

from __future__ import annotations

import re
import tomllib
from typing import Any

import numpy as np
import pytest

from engine.errors import InputFaults
from engine.formats.given import parse_given
from engine.formats.scenario import parse_scenario
from engine.given import judge_given, moved
from engine.judged import JudgedDesign
from engine.report.wording import openings
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of
from engine.search.runs import Run, run

BORE = 0.05  # m


def job(**box: Any) -> dict[str, Any]:
    """A thin flat box under a bed, with 70 mm of air over it."""
    return {
        "title": "Under the bed of a camper",
        "space": {"width": "900 mm", "section": [["0 mm", "0 mm"], ["700 mm", "0 mm"], ["700 mm", "260 mm"],
                                                 ["0 mm", "260 mm"]], "openness": {"top": 0.1, "front": 0.5}},
        "box": {"kinds": ["vented"], "facings": ["front"], **box},
        "driver": [{
            "name": "Flat 6", "fs": "38 Hz", "qes": 0.42, "qms": 5.0, "vas": "9 L", "sd": "130 cm^2", "re": "3.4 ohm",
            "le": "0.8 mH", "xmax": "8 mm", "rated_power": "150 W", "coil_impedance": "4 ohm",
            "outer_diameter": "166 mm", "cutout_diameter": "143 mm", "magnet_diameter": "100 mm",
            "mounting_depth": "80 mm",
        }],
        "amplifier": {"name": "Mono", "lowest_load": "2 ohm", "load": [{"impedance": "4 ohm", "power": "120 W"}]},
        "stock": {"board_thickness": "12 mm",
                  "pipe": [{"name": "50", "inner_diameter": "50 mm", "outer_diameter": "54 mm",
                            "elbow_radius": "60 mm"}]},
    }  # fmt: skip


@pytest.fixture(scope="module")
def camper() -> Scenario:
    return parse_scenario(job(pipe_outlets=["top", "usual"]), source="a job")


@pytest.fixture(scope="module")
def found(camper: Scenario) -> Run:
    return run(camper, seed=1, evaluations=8192)


@pytest.fixture(scope="module")
def design(camper: Scenario, found: Run) -> JudgedDesign:
    """The first design of the front with its pipes through the top."""
    front = found.front
    row = front[front["pipe_outlet"] == "top"].iloc[0].to_dict()
    return JudgedDesign.of(camper, row)


def test_a_job_says_where_pipes_may_go_out() -> None:
    """Promise to the user: left side and drivers' panel unless the job says otherwise; what is no panel is refused."""
    assert parse_scenario(job(), source="a job").box.pipe_outlets == ("usual",)
    assert parse_scenario(job(pipe_outlets=["top"]), source="a job").box.pipe_outlets == ("top",)
    for wrong in (["roof"], []):
        with pytest.raises(InputFaults, match=r"box\.pipe_outlets"):
            parse_scenario(job(pipe_outlets=wrong), source="a job")


def test_a_short_search_finds_both_in_a_thin_flat_job(camper: Scenario, found: Run) -> None:
    """Promise to the user: the front says which, keeps a bore of air above, and a row leads back to its design."""
    front = found.front
    assert set(front["pipe_outlet"]) == {"usual", "top"}
    up = front["pipe_outlet"] == "top"
    assert front["vent_placement"].str.startswith("through top").equals(up)
    over = 0.260 - (front["box_up_m"] + front["outer_height_m"])
    assert over[up].min() >= BORE - 1e-6
    assert over[~up].min() < BORE
    evaluator = Evaluator(camper)
    again = designs_of(evaluator, front[up])
    assert {evaluator.families.items[number].fitting.key["pipe_outlet"] for number in again.family} == {"top"}
    assert evaluator.judge(again, exact=True).feasible.all()


def test_a_design_with_too_little_above_breaks_the_limit_on_outer_air(camper: Scenario, found: Run) -> None:
    """Hand-worked: raised until 40 mm are left, a bore of 50 mm lacks 10 mm."""
    evaluator, front = Evaluator(camper), found.front
    designs = designs_of(evaluator, front[front["pipe_outlet"] == "top"].head(1))
    designs = designs.changed({"outer_height": 0.220 - float(designs.outer_height[0])})
    judgement = evaluator.judge(designs, hear_all=True)
    assert judgement.constraints["vent outside"][0] == pytest.approx(0.010, abs=1e-6)


def test_the_pocket_above_is_heard(found: Run) -> None:
    """Monotone: the less open the lid above, the lower the tuning; what is said of it allows for more."""
    tunings, within = [], []
    for top in (1.0, 0.1, 0.02):
        stated = job(pipe_outlets=["top"])
        stated["space"]["openness"] = {"top": top}
        evaluator = Evaluator(parse_scenario(stated, source="a job"))
        rows = found.front[found.front["pipe_outlet"] == "top"].head(5)
        judgement = evaluator.judge(designs_of(evaluator, rows), hear_all=True)
        tunings.append(judgement.acoustics.systems.tuning)
        within.append(judgement.acoustics.outside.opening)
    assert np.all(np.diff(tunings, axis=0) < 0.0)
    assert np.all(within[0] >= 0.0)
    assert np.all(np.diff(within, axis=0) > 0.0)


def test_it_goes_together_and_is_drawn_with_its_hole(design: JudgedDesign) -> None:
    """Promise to the user: solids agree; the plan shows the hole and says where its centre is, as do the words."""
    assert design.inspection.ok, design.inspection.sentences("metric")
    plan = design.drawing("plan", "metric")
    said = re.sub(r"<[^>]+>", " ", plan).replace("\u00a0", " ")
    assert "holes in its top" in said
    assert re.search(
        r"Holes?: .*⌀ 54\.0 mm in the top panel|Holes?: .*⌀ 54 mm in the top panel", " ".join(said.split())
    )
    assert "through the top" in openings(design.row, "metric")
    for view in ("front", "section", "isometric"):
        assert design.drawing(view, "metric")


def test_a_saved_design_is_the_design_again(design: JudgedDesign) -> None:
    """Round trip: read as a given box it has the same outlet, cut and pieces, and says the same of them."""
    document = tomllib.loads(design.file)
    assert document["given"]["pipe_outlet"] == "top"
    assert document["box"]["pipe_outlets"] == ["top"]
    given = parse_given(document, source="a saved design")
    again = judge_given(given, source="a saved design")
    assert again.row["vent_placement"] == design.row["vent_placement"]
    for key in ("vent_length_m", "net_volume_m3", "tuning_hz", "level_30_hz_db"):
        assert again.row[key] == pytest.approx(design.row[key], rel=1e-4)
    assert moved(given, again) == []


def test_with_drivers_in_the_top_pipes_through_it_stand_beside_them() -> None:
    """Promise to the user: never through the side then, and solids agree."""
    scenario = parse_scenario(job(facings=["up"], pipe_outlets=["top"]), source="a job")
    front = run(scenario, seed=1, evaluations=8192).front
    assert front["vent_placement"].str.startswith("through top").all()
    assert (front["pipe_outlet"] == "top").all()
    first = JudgedDesign.of(scenario, front.iloc[0].to_dict())
    assert first.inspection.ok, first.inspection.sentences("metric")
