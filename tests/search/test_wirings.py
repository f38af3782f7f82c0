"""Wirings as a choice of the job: forced, allowed, or each tried as designs of their own."""

from __future__ import annotations

import tomllib
from typing import Any

import pytest

from engine.errors import SearchImpossible
from engine.formats.given import parse_given
from engine.formats.scenario import demo_scenarios, parse_scenario
from engine.given import judge_given, moved
from engine.insight.reasons import rivals
from engine.judged import JudgedDesign
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from engine.search.families import families_of
from engine.search.runs import run


def job(*, wirings: str = "best", **driver: Any) -> Scenario:
    """The job of the van with two of its drivers, 4 ohm each."""
    document = tomllib.loads(demo_scenarios()["van-bench"].read_text(encoding="utf-8"))
    document["box"]["kinds"] = ["closed"]
    document["space"]["width"] = "1500 mm"
    document["driver"] = [{**document["driver"][0], "counts": [2], "coils": 1, "coil_impedance": "4 ohm", **driver}]
    document["driver"][0] |= {"re": "3.4 ohm", "rated_power": "200 W"}
    document["driver"][0].pop("bl", None)
    loads = [{"impedance": f"{load} ohm", "power": f"{power} W"} for load, power in ((2, 800), (4, 500), (8, 250))]
    # At full power what a wiring draws more costs excursion; turned down, the one that draws less has nothing for it.
    document["goals"] = {"drive": "full power", "objectives": ["output_db", "excursion_ratio", "outer_volume_m3"]}
    document["goals"]["limits"] = {"excursion_ratio": 6.0}
    document["amplifier"] = {"name": "mono", "lowest_load": "2 ohm", "load": loads, "wirings": wirings}
    return parse_scenario(document, source="")


def loads_of(scenario: Scenario) -> set[float]:
    return {family.wiring.load for family in families_of(scenario).items}


def test_the_job_forces_or_allows_a_wiring() -> None:
    """User's promise: by default the one of most power that is rated for; else what the job says."""
    assert loads_of(job()) == {8.0}
    assert loads_of(job(driver_wirings=["parallel"])) == {2.0}
    assert loads_of(job(wirings="each")) == {2.0, 8.0}
    assert loads_of(job(wirings="each", driver_wirings=["series"])) == {8.0}
    with pytest.raises(SearchImpossible, match="lowest load"):
        loads_of(job(driver_wirings=["mixed"]))


def test_each_wiring_is_a_design_of_its_own_and_told_so() -> None:
    """User's promise: the comparison shows wiring and power, a row leads back to its wiring, and so does its file."""
    scenario = job(wirings="each")
    front = run(scenario, seed=1, evaluations=8_192).front
    assert set(front["load_ohm"]) == {2.0, 8.0}
    table = rivals(front, scenario.goals.objectives)
    assert dict(zip(table["wiring"], table["amplifier_power_w"], strict=True)) == {
        "drivers in parallel": 800.0,
        "drivers in series": 250.0,
    }
    rows = front.drop_duplicates("wiring").to_dict("records")
    for design in JudgedDesign.batch(Evaluator(scenario), rows):
        assert float(design.systems.voltage[0] ** 2) == pytest.approx({2.0: 1600.0, 8.0: 500.0}[design.row["load_ohm"]])
        assert design.wired.startswith(f"{str(design.row['wiring']).capitalize()}: {design.row['load_ohm']:g} Ω draws")
        given = parse_given(tomllib.loads(design.file), source="")
        again = judge_given(given, source="")
        assert again.row["wiring"] == design.row["wiring"]
        assert moved(given, again) == []


def test_a_wiring_that_is_said_to_play_as_loud_does() -> None:
    """Independent path: the same box with the other load, where the power that is used is there too."""
    document = tomllib.loads(demo_scenarios()["van-bench"].read_text(encoding="utf-8"))
    loads = [{"impedance": "2 ohm", "power": "300 W"}, {"impedance": "8 ohm", "power": "260 W"}]
    document["amplifier"]["load"] = loads
    sizes = {"outer_width": "700 mm", "outer_height": "420 mm", "top_depth": "112 mm", "bottom_depth": "200 mm"}
    found = [
        judge_given(parse_given({**document, "given": {"kind": "closed", "load": load, **sizes}}, source=""), source="")
        for load in ("2 ohm", "8 ohm")
    ]
    assert "coils in series would play as loud" in found[0].wired
    for key in ("level_30_hz_db", "level_40_hz_db", "level_50_hz_db"):
        assert found[0].row[key] == pytest.approx(found[1].row[key], abs=0.02)
