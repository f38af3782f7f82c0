"""Drawings of rows of the front, read back as XML: to scale, dimensioned, legible, and safe to put on a page."""

from __future__ import annotations

import dataclasses
import re
from functools import cache
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.judged import JudgedDesign
from engine.parts import Driver, KeepOut, Space, TerminalCup
from engine.quantities import Units, show, show_sawn
from engine.scenario import Candidate, Scenario
from engine.search.front import judged
from engine.search.problem import BoxProblem
from engine.space.arrangement import bodies_of
from engine.workshop.drawings import front_of, space_svg
from tests.workshop.reading import HEAVY, SVG, circles, outlines, overlaps, page, reach, words_of

UNITS = pytest.mark.parametrize("units", ["metric", "us"])
Row = dict[str, Any]
OF_A_DESIGN = ("section", "front", "plan", "isometric")


@cache
def jobs() -> tuple[tuple[Scenario, tuple[JudgedDesign, ...]], ...]:
    """Demo jobs and one wide job whose vents must go through the baffle, with designs of every sort found in them."""
    scenarios = [read_scenario(path) for path in demo_scenarios().values()]
    wide = dataclasses.replace(
        read_scenario(demo_scenarios()["hatch-seat-back"]),
        space=Space(
            section=((0.0, 0.0), (0.62, 0.0), (0.7, 0.3), (0.62, 0.55), (0.15, 0.55)), width=1.25, margin=0.008
        ),
        bounds={"outer_width": (1.19, 1.23), "tuning": (28.0, 60.0)},
    )
    return tuple((scenario, tuple(designs_of(scenario))) for scenario in [*scenarios, wide, crowded(), passive()])


def crowded() -> Scenario:
    """A job with everything: keep-outs, drivers that face any way, elbows, flares, slots, a cup."""
    hatch = read_scenario(demo_scenarios()["hatch-seat-back"])
    arch = KeepOut(name="wheel arch", section=((0.0, 0.0), (0.5, 0.0), (0.42, 0.2), (0.0, 0.24)), across=(0.0, 0.22))
    trim = KeepOut(
        name="trim of the tailgate", section=((0.4, 0.4), (0.56, 0.4), (0.56, 0.55), (0.4, 0.55)), across=(0.9, 1.1)
    )
    pipes = tuple(
        dataclasses.replace(pipe, elbow_radius=0.9 * pipe.outer_diameter, flare_radius=0.01 * (number == 0))
        for number, pipe in enumerate(hatch.stock.listed("pipe"))
    )
    return dataclasses.replace(
        hatch,
        space=Space(
            section=((0.0, 0.0), (0.5, 0.0), (0.56, 0.3), (0.46, 0.55), (0.1, 0.55)),
            width=1.3,
            margin=0.008,
            keepouts=(arch, trim),
        ),
        candidates=tuple(
            dataclasses.replace(
                one, driver=dataclasses.replace(one.driver, magnet_depth=0.04, rear_gap=0.015, terminal_depth=0.06)
            )
            for one in hatch.candidates
        ),
        box=dataclasses.replace(hatch.box, facings=("front", "down", "side", "up"), carpet=0.004, round_over=0.01),
        stock=dataclasses.replace(
            hatch.stock,
            openings={**hatch.stock.openings, "pipe": pipes},
            terminal_cup=TerminalCup(cutout_diameter=0.075, flange_diameter=0.1, depth=0.05),
        ),
        bounds={},
    )


def passive() -> Scenario:
    """The same with passive radiators."""
    job = crowded()
    radiators = read_scenario(demo_scenarios()["van-bench"]).stock.listed("radiator")
    stock = dataclasses.replace(job.stock, openings={"radiator": radiators})
    return dataclasses.replace(job, stock=stock, box=dataclasses.replace(job.box, kinds=("radiator",)))


def designs_of(scenario: Scenario) -> list[JudgedDesign]:
    """One design of each combination of kind, drivers, vents and radiators (one, several), turns and flares found."""
    problem = BoxProblem(scenario)
    evaluator, rng = problem.evaluator, np.random.default_rng(4)
    designs = problem.decode(problem.xl + (problem.xu - problem.xl) * rng.random((100_000, problem.n_var)))
    broken = evaluator.judge(designs).constraints.items()
    worst = [value for name, value in broken if not name.startswith("limit")]
    designs = designs.take(np.flatnonzero(np.max(worst, axis=0) <= 0.0))
    found = judged(evaluator, designs, evaluator.judge(designs, exact=True))
    several = [found[key] > 1 for key in ("driver_count", "vent_count", "radiator_count")]
    special = [found[key] > 0.0 for key in ("slot_turn_m", "vent_flare_m")]
    groups = found.groupby([found["facing"], found["box_kind"], found["vent_placement"], *several, *special])
    return JudgedDesign.batch(evaluator, [dict(group.iloc[0]) for _, group in groups])


@cache
def drawn(units: Units) -> tuple[tuple[Scenario, Row, list[str]], ...]:
    """Every row with its four drawings."""
    return tuple(
        (scenario, design.row, [design.drawing(view, units) for view in OF_A_DESIGN])
        for scenario, designs in jobs()
        for design in designs
    )


def everything(units: Units) -> list[str]:
    return [
        *(space_svg(scenario, units) for scenario, _ in jobs()),
        *(svg for _, _, drawings in drawn(units) for svg in drawings),
    ]


def test_every_sort_of_design_is_drawn() -> None:
    """Guards the evidence: every kind of box, drivers facing any way, pipes and slots through side and baffle."""
    rows = [design.row for _, found in jobs() for design in found]
    assert {row["vent_placement"] for row in rows} >= {
        "none",
        "through side",
        "through baffle",
        "through baffle, bent",
        "slot through side",
        "slot through baffle",
    }
    assert {row["box_kind"] for row in rows} == {"closed", "vented", "radiator"}
    for placement in ("slot through side", "slot through baffle"):
        assert {row["slot_turn_m"] > 0.0 for row in rows if row["vent_placement"] == placement} == {False, True}
    for placement in ("through side", "through baffle", "through baffle, bent"):
        assert {row["vent_flare_m"] > 0.0 for row in rows if row["vent_placement"] == placement} == {False, True}
    assert {(row["facing"], row["radiator_count"] > 1) for row in rows if row["radiator_count"]} >= {
        ("front", False),
        ("front", True),
        ("side", False),
    }
    assert {row["facing"] for row in rows} == {"front", "down", "side", "up"}
    assert {row["driver_count"] for row in rows} >= {1, 2}
    assert {row["vent_count"] for row in rows} >= {0, 1, 2, 3}


@UNITS
def test_drawings_are_whole_safe_and_described(units: Units) -> None:
    """Conservation: well-formed, an image with title and description, no script, no link, no fixed colour."""
    for svg in everything(units):
        root = ET.fromstring(svg)
        assert root.get("role") == "img"
        ids = {element.get("id"): element for element in root.iter() if element.get("id")}
        named = [ids[name] for name in (root.get("aria-labelledby") or "").split()]
        assert [element.tag for element in named] == [f"{SVG}title", f"{SVG}desc"]
        assert all((element.text or "").strip() for element in named)
        assert not re.search(r"<script|href|url\(|\bon\w+=|#[0-9a-fA-F]{3}", svg)
        assert "nan" not in svg
        for element in root.iter():
            for name in ("fill", "stroke"):
                assert element.get(name, "none") in ("none", "currentColor")


@UNITS
def test_nothing_leaves_the_sheet_and_no_word_lies_over_another(units: Units) -> None:
    """Conservation: boxes of all words, letters taken as 0.58 of their height wide, as in wide fonts."""
    for svg in everything(units):
        left, top, right, bottom = reach(svg)
        width, height = page(svg)
        assert min(left, top) >= 0.0
        assert right <= width
        assert bottom <= height
        assert overlaps(svg) == []


@UNITS
def test_dimensions_are_the_rows_own(units: Units) -> None:
    """Conservation: sizes written on a drawing are those of the front, in the user's units."""
    for scenario, row, drawings in drawn(units):
        section, front, plan, isometric = map(words_of, drawings)
        for key in ("outer_height_m", "top_depth_m", "bottom_depth_m"):
            assert show_sawn(row[key], units) in section
        for words in (front, plan, isometric):
            assert show_sawn(row["outer_width_m"], units) in words
        assert show_sawn(row["box_across_m"], units) in plan
        driver = driver_of(scenario, row)
        assert show_sawn(driver.cutout_diameter, units) in front
        if row["vent_count"]:
            assert show_sawn(row["vent_length_m"], units) in front
        if row["vent_kind"] == "pipe":
            assert show_sawn(row["vent_diameter_m"], units) in front
            assert ("flared" in front) == (row["vent_flare_m"] > 0.0)
        if row["vent_kind"] == "slot":
            for key in ("slot_height_m", "slot_width_m", "slot_turn_m"):
                assert row[key] == 0.0 or show_sawn(row[key], units) in front
            assert show_sawn(row["slot_height_m"], units) in section
        if row["radiator_count"]:
            assert row["radiator"] in front
            assert show(row["radiator_added_mass_kg"], "added_mass", units) in front


def driver_of(scenario: Scenario, row: Row) -> Driver:
    return next(candidate.driver for candidate in scenario.candidates if candidate.driver.name == row["driver"])


def test_front_is_to_scale() -> None:
    """Independent implementation: ratios read from the XML are those of the design."""
    for scenario, designs in jobs():
        for design in (design for design in designs if design.row["facing"] == "front"):
            row, svg = design.row, design.drawing("front", "metric")
            panel = outlines(svg)[0][1]
            size = np.ptp(panel, axis=0)
            lean = np.arctan(
                np.tan(np.radians(row["back_angle_deg"]))
                + (row["top_depth_m"] - row["bottom_depth_m"]) / row["outer_height_m"]
            )
            length = row["outer_height_m"] / np.cos(lean)
            assert size[1] / size[0] == pytest.approx(length / row["outer_width_m"], rel=1e-3)
            scale = size[0] / row["outer_width_m"]
            driver = driver_of(scenario, row)
            radii = circles(svg)[:, 2] / scale
            for diameter in (driver.cutout_diameter, driver.outer_diameter):
                assert np.sum(np.isclose(2 * radii, diameter, rtol=1e-3)) >= row["driver_count"]
            if row["vent_placement"].startswith("through baffle"):
                assert np.sum(np.isclose(2 * radii, row["vent_outer_diameter_m"], rtol=1e-3)) >= row["vent_count"]


def test_section_is_to_scale_and_the_box_where_the_search_put_it() -> None:
    """Independent implementation: the space's outline and the box's outermost corners, read from the XML."""
    for scenario, designs in jobs():
        corners = np.array(scenario.space.section)
        for design in designs:
            row, drawn = design.row, outlines(design.drawing("section", "metric"))
            space = drawn[len(scenario.space.keepouts)][1]
            scale = np.ptp(space[:, 0]) / np.ptp(corners[:, 0])
            origin = space[0] - scale * corners[0] * [1, -1]
            np.testing.assert_allclose(space, origin + scale * corners * [1, -1], atol=0.02)
            board = np.concatenate([path for width, path in drawn if width == HEAVY])
            low, high = board.min(axis=0), board.max(axis=0)
            assert (high[1] - low[1]) / scale == pytest.approx(row["outer_height_m"], abs=1e-4)
            assert (high[0] - low[0]) / scale == pytest.approx(row["outer_depth_m"], abs=1e-4)
            assert (origin[1] - high[1]) / scale == pytest.approx(row["box_up_m"], abs=1e-4)


def test_each_sentence_stands_in_one_drawing() -> None:
    """User's promise: four drawings of a design side by side do not say the same again and again."""
    for _, _, drawings in drawn("metric"):
        section, front, plan, isometric = map(words_of, drawings)
        for said in ("mounting depth", "Vent", "Slot", "left face", "Terminal cup:"):
            assert said not in section + plan + isometric
        assert "The back" not in front + plan + isometric
        assert "The box stands" in section
        assert "The box stands" not in front + plan + isometric


@UNITS
def test_space_shows_the_largest_box_and_numbers_its_corners(units: Units) -> None:
    """Conservation: sizes of the space and of the largest box stand beside their drawing."""
    for scenario, _ in jobs():
        svg = space_svg(scenario, units)
        words = words_of(svg)
        depth, height = np.ptp(np.array(scenario.space.section), axis=0)
        for size in (depth, height, scenario.space.width):
            assert show_sawn(float(size), units) in words
        assert "Largest box" in words
        for number in range(1, len(scenario.space.section) + 1):
            assert re.search(rf"\b{number}\b", words)


def test_a_space_given_as_measurements_bears_the_numbers_of_its_rows() -> None:
    """User's promise: a row's number stands at both ends of the row; at a ledge, both rows' numbers."""
    scenario, _ = jobs()[0]
    corners = ((0.5, 0.0), (0.5, 0.2), (0.4, 0.2), (0.4, 0.45), (0.1, 0.45), (0.0, 0.2), (0.0, 0.0))
    space = dataclasses.replace(scenario.space, section=corners, keepouts=())
    svg = space_svg(dataclasses.replace(scenario, space=space), "metric", rows=[0.0, 0.2, 0.2, 0.45])
    labels = ["".join(text.itertext()) for text in ET.fromstring(svg).iter(f"{SVG}text")]
    assert labels[:7] == ["1", "2, 3", "2, 3", "4", "4", "2, 3", "1"]
    assert "its rows numbered" in words_of(svg)


def test_designs_that_do_not_fit_are_drawn_too() -> None:
    """User's promise: whatever the layout makes of designs at random, most of which are none, can be shown."""
    scenario = crowded()
    problem = BoxProblem(scenario)
    rng = np.random.default_rng(1)
    designs = problem.decode(problem.xl + (problem.xu - problem.xl) * rng.random((60, problem.n_var)))
    wedges = problem.evaluator.wedges(designs)
    layout = problem.evaluator.layout(designs, wedges, problem.evaluator.fit(designs, wedges))
    for i in range(len(designs)):
        svg = front_of(bodies_of(layout, i), scenario.candidates[0].driver, "metric")
        left, top, right, bottom = reach(svg)
        assert min(left, top) >= 0.0
        assert right <= page(svg)[0]
        assert bottom <= page(svg)[1]
        assert overlaps(svg) == []
        assert "nan" not in svg


def test_space_that_holds_nothing_says_so() -> None:
    """Analytic limit: a margin or a board that leaves no inside."""
    scenario, _ = jobs()[0]
    no_margin = dataclasses.replace(scenario.space, margin=0.4)
    words = words_of(space_svg(dataclasses.replace(scenario, space=no_margin), "metric"))
    assert "The margin leaves nothing of this space." in words
    thick = dataclasses.replace(scenario.stock, board_thickness=0.3)
    words = words_of(space_svg(dataclasses.replace(scenario, stock=thick), "metric"))
    assert "No box made of this board has an inside here." in words


def test_names_cannot_break_a_drawing() -> None:
    """Conservation: a driver's name is text, whatever it is made of."""
    scenario, designs = jobs()[0]
    name = '<b onload="x">&amp; "10"</b>'
    candidates = tuple(
        Candidate(driver=dataclasses.replace(one.driver, name=name), counts=one.counts)
        for one in scenario.candidates[:1]
    )
    renamed = dataclasses.replace(scenario, candidates=candidates)
    row = next(each.row for each in designs if each.row["driver"] == scenario.candidates[0].driver.name)
    design = JudgedDesign.of(renamed, {**row, "driver": name})
    for view in OF_A_DESIGN:
        svg = design.drawing(view, "metric")
        assert "<b" not in svg
        assert name.split()[0] in words_of(svg) or view != "front"
