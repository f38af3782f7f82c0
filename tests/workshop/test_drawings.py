"""Drawings read back as XML: to scale, dimensioned, legible, and safe to put on a page."""

from __future__ import annotations

import dataclasses
import re
from functools import cache
from itertools import combinations
from typing import Any
from xml.etree import ElementTree as ET

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.parts import Driver, Space
from engine.quantities import Units, show
from engine.scenario import Candidate, Scenario, demo_scenarios, read_scenario
from engine.search.front import table
from engine.search.problem import BoxProblem
from engine.workshop.drawings import TEXT, WIDTH, front_svg, section_svg, space_svg

SVG = "{http://www.w3.org/2000/svg}"
UNITS = pytest.mark.parametrize("units", ["metric", "us"])
Row = dict[str, Any]
Floats = NDArray[np.float64]


@cache
def jobs() -> tuple[tuple[Scenario, tuple[Row, ...]], ...]:
    """Demo jobs and one wide job whose vents must go through the baffle, with rows of every sort found in them."""
    scenarios = [read_scenario(path) for path in demo_scenarios().values()]
    wide = dataclasses.replace(
        read_scenario(demo_scenarios()["hatch-seat-back"]),
        space=Space(
            section=((0.0, 0.0), (0.42, 0.0), (0.5, 0.3), (0.42, 0.55), (0.15, 0.55)), width=1.25, margin=0.008
        ),
        bounds={"outer_width": (1.19, 1.23), "tuning": (28.0, 60.0)},
    )
    return tuple((scenario, tuple(rows_of(scenario))) for scenario in [*scenarios, wide])


def rows_of(scenario: Scenario) -> list[Row]:
    """One row of each combination of kind, driver count, vent placement and vent count among random designs."""
    problem = BoxProblem(scenario)
    rng = np.random.default_rng(4)
    designs = problem.decode(problem.xl + (problem.xu - problem.xl) * rng.random((40_000, problem.n_var)))
    constraints = problem.bench.judge(designs).constraints
    kept = np.max([value for name, value in constraints.items() if not name.startswith("limit")], axis=0) <= 0.0
    found = table(problem.bench, designs.take(kept))
    groups = found.groupby(["box_kind", "driver_count", "vent_placement", "vent_count"])
    return [dict(group.iloc[0]) for _, group in groups]


def everything(units: Units) -> list[str]:
    drawn = []
    for scenario, rows in jobs():
        drawn.append(space_svg(scenario, units))
        for row in rows:
            drawn += [section_svg(scenario, row, units), front_svg(scenario, row, units)]
    return drawn


def words_of(svg: str) -> str:
    return " ".join("".join(text.itertext()) for text in ET.fromstring(svg).iter(f"{SVG}text")).replace("\u00a0", " ")


def circles(svg: str) -> Floats:
    """Centre and radius of the circles of a drawing, (K, 3)."""
    found = [
        [float(circle.get(name, "nan")) for name in ("cx", "cy", "r")]
        for circle in ET.fromstring(svg).iter(f"{SVG}circle")
    ]
    return np.array(found).reshape(-1, 3)


def outlines(svg: str) -> list[tuple[float, Floats]]:
    """Stroke width and corners of every closed path."""
    paths = []
    for path in ET.fromstring(svg).iter(f"{SVG}path"):
        text = path.get("d", "")
        if text.endswith("Z"):
            corners = np.array([[float(number) for number in pair.split()] for pair in text[1:-2].split(" L")])
            paths.append((float(path.get("stroke-width", "nan")), corners))
    return paths


def test_every_sort_of_design_is_drawn() -> None:
    """Guards the evidence: closed and vented, one and two drivers, vents through side and baffle."""
    rows = [row for _, found in jobs() for row in found]
    assert {row["vent_placement"] for row in rows} == {"none", "through side", "through baffle"}
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
def test_words_neither_overlap_nor_leave_the_sheet(units: Units) -> None:
    """Conservation: boxes of all words, letters taken as 0.58 of their height wide, as in wide fonts."""
    for svg in everything(units):
        root = ET.fromstring(svg)
        height = float((root.get("viewBox") or "0 0 0 0").split()[3])
        boxes = []
        for text in root.iter(f"{SVG}text"):
            words = "".join(text.itertext())
            wide, (x, y) = 0.58 * TEXT * len(words), (float(text.get("x", "nan")), float(text.get("y", "nan")))
            shift = {"start": 0.0, "middle": -0.5, "end": -1.0}[text.get("text-anchor", "start")] * wide
            if text.get("transform"):
                box = (x - 0.45 * TEXT, y - shift - wide, x + 0.45 * TEXT, y - shift)
            else:
                box = (x + shift, y - 0.45 * TEXT, x + shift + wide, y + 0.45 * TEXT)
            assert min(box[0], box[1]) >= 0.0, words
            assert box[2] <= WIDTH, words
            assert box[3] <= height, words
            boxes.append((words, box))
        for (one, a), (other, b) in combinations(boxes, 2):
            apart = a[2] <= b[0] or b[2] <= a[0] or a[3] <= b[1] or b[3] <= a[1]
            assert apart, (one, other)


@UNITS
def test_dimensions_are_the_rows_own(units: Units) -> None:
    """Conservation: sizes written on a drawing are those of the front, in the user's units."""
    for scenario, rows in jobs():
        for row in rows:
            section, front = words_of(section_svg(scenario, row, units)), words_of(front_svg(scenario, row, units))
            for key in ("outer_height_m", "top_depth_m", "bottom_depth_m"):
                assert show(row[key], "length", units) in section
            assert show(row["outer_width_m"], "length", units) in front
            driver = driver_of(scenario, row)
            for words in (section, front):
                assert show(driver.cutout_diameter, "length", units) in words
                if row["vent_count"]:
                    assert show(row["vent_diameter_m"], "length", units) in words
                    assert show(row["vent_length_m"], "length", units) in words


def driver_of(scenario: Scenario, row: Row) -> Driver:
    return next(candidate.driver for candidate in scenario.candidates if candidate.driver.name == row["driver"])


def test_front_is_to_scale() -> None:
    """Independent implementation: ratios read from the XML are those of the design."""
    for scenario, rows in jobs():
        for row in rows:
            svg = front_svg(scenario, row, "metric")
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
            if row["vent_placement"] == "through baffle":
                assert np.sum(np.isclose(2 * radii, row["vent_outer_diameter_m"], rtol=1e-3)) >= row["vent_count"]


def test_section_is_to_scale_and_the_box_where_the_search_put_it() -> None:
    """Independent implementation: the space's outline and the box's outermost corners, read from the XML."""
    for scenario, rows in jobs():
        corners = np.array(scenario.space.section)
        for row in rows:
            drawn = outlines(section_svg(scenario, row, "metric"))
            space = drawn[0][1]
            scale = np.ptp(space[:, 0]) / np.ptp(corners[:, 0])
            origin = space[0] - scale * corners[0] * [1, -1]
            np.testing.assert_allclose(space, origin + scale * corners * [1, -1], atol=0.02)
            heavy = max(width for width, _ in drawn)
            board = np.concatenate([path for width, path in drawn if width == heavy])
            low, high = board.min(axis=0), board.max(axis=0)
            assert (high[1] - low[1]) / scale == pytest.approx(row["outer_height_m"], abs=1e-4)
            assert (high[0] - low[0]) / scale == pytest.approx(row["outer_depth_m"], abs=1e-4)
            assert (origin[1] - high[1]) / scale == pytest.approx(row["box_up_m"], abs=1e-4)


@UNITS
def test_space_shows_the_largest_box_and_numbers_its_corners(units: Units) -> None:
    """Conservation: sizes of the space and of the largest box stand beside their drawing."""
    for scenario, _ in jobs():
        svg = space_svg(scenario, units)
        words = words_of(svg)
        depth, height = np.ptp(np.array(scenario.space.section), axis=0)
        for size in (depth, height, scenario.space.width):
            assert show(float(size), "length", units) in words
        assert "Largest box" in words
        for number in range(1, len(scenario.space.section) + 1):
            assert re.search(rf"\b{number}\b", words)


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
    scenario, rows = jobs()[0]
    name = '<b onload="x">&amp; "10"</b>'
    candidates = tuple(
        Candidate(driver=dataclasses.replace(one.driver, name=name), counts=one.counts)
        for one in scenario.candidates[:1]
    )
    renamed = dataclasses.replace(scenario, candidates=candidates)
    row = next(row for row in rows if row["driver"] == scenario.candidates[0].driver.name) | {"driver": name}
    for svg in (section_svg(renamed, row, "metric"), front_svg(renamed, row, "metric")):
        assert "<b" not in svg
        assert name.split()[0] in words_of(svg)
