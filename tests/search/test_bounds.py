"""What is said of a driver before anything is tried refuses nothing that can be built."""

from __future__ import annotations

import math
from dataclasses import replace

import pytest

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.parts import Space
from engine.scenario import Scenario
from engine.search.bounds import too_large, unwired
from engine.search.runs import Run


@pytest.fixture(scope="module")
def roadster() -> Scenario:
    return read_scenario(demo_scenarios()["roadster"])


def square(scenario: Scenario, side: float, *, width: float = 1.0, facings: tuple[str, ...] = ("front",)) -> Scenario:
    """The job in a space of square section, nothing kept free, sizes in m."""
    corners = ((0.0, 0.0), (side, 0.0), (side, side), (0.0, side))
    space, box = Space(section=corners, width=width), replace(scenario.box, facings=facings)
    return replace(scenario, space=space, box=box)


def test_nothing_on_a_front_is_called_impossible(scenario: Scenario, searched: Run) -> None:
    """Promise to the user: what a search builds passes the bounds."""
    built = set(searched.front["driver"])
    for candidate in scenario.candidates:
        if candidate.driver.name in built:
            assert too_large(scenario, candidate.driver) is None
            assert unwired(scenario, candidate) != candidate.counts


def test_the_width_is_told_to_the_millimetre(roadster: Scenario) -> None:
    """Analytic limit: a flange 30 mm wider than the space."""
    driver = roadster.candidates[0].driver
    large = too_large(square(roadster, 2.0, width=driver.outer_diameter - 0.030), driver)
    assert large is not None
    assert (large.place, large.by) == ("width", pytest.approx(0.030))


def test_upright_in_a_square_it_is_as_deep_as_it_is(roadster: Scenario) -> None:
    """Analytic limit: faces down it stands upright, so depth and board have to go into the height, its flange into
    the depth.
    """
    driver, board = roadster.candidates[0].driver, roadster.stock.board_thickness
    need = max(driver.mounting_depth + board, driver.outer_diameter)
    tight, wide = (square(roadster, need + by, facings=("down",)) for by in (-0.010, 0.002))
    large = too_large(tight, driver)
    assert large is not None
    assert (large.place, large.by) == ("section", pytest.approx(0.010, abs=1e-3))
    assert too_large(wide, driver) is None


def test_leant_into_the_diagonal_it_may_still_fit(roadster: Scenario) -> None:
    """Analytic limit: a flat disc as long as the diagonal of a square just goes in, one that is longer does not."""
    disc = replace(roadster.candidates[0].driver, mounting_depth=0.0, magnet_diameter=0.0)
    job = square(replace(roadster, stock=replace(roadster.stock, board_thickness=0.0)), 0.3)
    diagonal = 0.3 * math.sqrt(2.0)
    assert too_large(job, replace(disc, outer_diameter=diagonal - 0.001)) is None
    large = too_large(job, replace(disc, outer_diameter=diagonal + 0.020))
    assert large is not None
    assert large.by < 0.020


def test_any_way_to_face_will_do(roadster: Scenario) -> None:
    """Promise to the user: a driver is too large only if it is whichever way it may face."""
    driver = roadster.candidates[0].driver
    flat = square(roadster, driver.outer_diameter + 0.005, width=driver.outer_diameter - 0.010)
    assert too_large(flat, driver) is not None
    either = replace(flat, box=replace(flat.box, facings=("front", "side")))
    assert too_large(either, driver) is None


def test_counts_that_no_wiring_drives_are_named(roadster: Scenario) -> None:
    """Analytic limit: one coil of 1 ohm alone is below an amplifier's 2 ohm, two of them in series are not."""
    candidate = roadster.candidates[0]
    single = replace(candidate.driver, coils=1, coil_impedance=1.0, re=0.9)
    assert roadster.amplifier.lowest_load == pytest.approx(2.0)
    assert unwired(roadster, replace(candidate, driver=single, counts=(1, 2))) == (1,)
