"""A flat space under a bench, whose front is open: boxes with drivers in the top panel, from search to saved design."""

from __future__ import annotations

import re
import tomllib
from dataclasses import replace
from typing import Any

import numpy as np
import pytest

from engine.formats.given import parse_given
from engine.formats.scenario import parse_scenario
from engine.given import judge_given, moved
from engine.judged import JudgedDesign
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of
from engine.search.runs import Run, run
from tests.benchmarks.before_after.jobs import jobs


def flat(**space: Any) -> Scenario:
    """The space under a bench: 250 mm high, its ceiling shut, its front open."""
    document = jobs()["every way"]
    corners = [["0 mm", "0 mm"], ["520 mm", "0 mm"], ["470 mm", "250 mm"], ["30 mm", "250 mm"]]
    openness = {"top": 0, "front": 1}
    document["space"] |= {"section": corners, "width": "1000 mm", "openness": openness, **space}
    document["box"] |= {"facings": ["front", "up"]}
    return parse_scenario(document, source="bench.toml")


@pytest.fixture(scope="module")
def searched() -> tuple[Scenario, Run]:
    scenario = flat()
    return scenario, run(scenario, evaluations=16_384)


def test_a_flat_space_gets_drivers_that_face_up(searched: tuple[Scenario, Run]) -> None:
    """User's promise: they are on the front, stand on the floor, and have the air that they need above them.

    A quarter of the cone's diameter, what is behind the margin counted in, is kept free over the whole top.
    """
    scenario, found = searched
    up = found.front.query("facing == 'up'")
    assert set(up["box_kind"]) >= {"vented", "radiator"}
    assert up["box_up_m"].to_numpy() == pytest.approx(scenario.space.margin)
    cone = up["driver"].map({each.driver.name: each.driver.sd for each in scenario.candidates}).to_numpy(float)
    assert (up["cone_air_m"] >= 0.25 * np.sqrt(4.0 * cone / np.pi) - 1e-6).all()
    assert (up["outer_height_m"] + up["cone_air_m"] <= 0.25 - scenario.space.margin + 1e-5).all()
    assert (up["cone_air_kg"] > 0.0).all()


def test_upward_designs_go_together_and_are_drawn_from_above(searched: tuple[Scenario, Run]) -> None:
    """User's promise: every clearance kept; the drawing with the cut-outs is that of the top."""
    scenario, found = searched
    up = found.front.query("facing == 'up'")
    some = up.groupby(["box_kind", "vent_placement"]).head(2)
    for design in JudgedDesign.batch(Evaluator(scenario), some.to_dict("records")):
        assert design.inspection.ok, design.inspection.sentences("metric")
        front = " ".join(re.findall(r">([^<]+)</t", design.drawing("front", "metric")))
        assert "Top panel seen square on from outside, that is from above" in front
        assert "from the left and the front edge" in front
        assert ", in the top panel, cut-out" in front
        assert "holes in its top" in design.drawing("plan", "metric")


def test_a_saved_upward_design_is_read_as_itself(searched: tuple[Scenario, Run]) -> None:
    """Conservation: the file with all its pieces, read again, comes to the same tuning, levels and places."""
    scenario, found = searched
    up = found.front.query("facing == 'up'")
    for row in up.groupby(["box_kind", "vent_placement"]).head(1).to_dict("records"):
        design = JudgedDesign.of(scenario, row)
        assert 'facing = "up"' in design.file
        given = parse_given(tomllib.loads(design.file), source="design.toml")
        again = judge_given(given, source="design.toml")
        assert moved(given, again) == []
        for key in ("net_volume_m3", "tuning_hz", "level_30_hz_db", "level_50_hz_db", "cone_air_m"):
            assert again.row[key] == pytest.approx(row[key], rel=2e-3, nan_ok=True), key


def test_too_little_above_is_a_constraint(searched: tuple[Scenario, Run]) -> None:
    """User's promise: where the ceiling comes down, the same boxes miss the space by as much and nothing is raised."""
    scenario, found = searched
    up = found.front.query("facing == 'up'").head(40)
    corners = tuple((y, min(z, 0.21)) for y, z in scenario.space.section)
    lower = Evaluator(replace(scenario, space=replace(scenario.space, section=corners)))
    judgement = lower.judge(designs_of(lower, up), hear_all=True)
    short = up["outer_height_m"] + lower.above(designs_of(lower, up)) + 2.0 * scenario.space.margin - 0.21
    missed = short.to_numpy() > 1e-6
    assert missed.any()
    assert (judgement.constraints["space"][missed] >= short.to_numpy()[missed] - 1e-6).all()
    assert not judgement.feasible[missed].any()
