"""Which count of which driver goes into the space, and what would have to give."""

from __future__ import annotations

import dataclasses

import pytest

from engine.errors import SearchImpossible
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.parts import Space
from engine.report.shortages import fits_in_words
from engine.scenario import Scenario
from engine.search.contenders import Contender, contenders
from engine.space.envelope import Envelope

BOX = ((0.0, 0.0), (0.3, 0.0), (0.3, 0.4), (0.0, 0.4))


@pytest.fixture
def hatch() -> Scenario:
    """One large driver, or one or two small ones, in an upright space of given width."""
    scenario = read_scenario(demo_scenarios()["hatch-seat-back"])
    stock = dataclasses.replace(scenario.stock, terminal_cup=None, brace_span=2.0)
    box = dataclasses.replace(scenario.box, back_angle=0.0, facings=("front",), carpet=0.0, round_over=0.0)
    return dataclasses.replace(scenario, stock=stock, box=box, bounds={})


def in_width(scenario: Scenario, width: float, height: float = 0.4) -> dict[str, Contender]:
    section = tuple((y, min(z, height)) for y, z in BOX)
    space = Space(section=section, width=width)
    return {each.name: each for each in contenders(dataclasses.replace(scenario, space=space))}


def test_two_small_ones_need_the_width_of_two(hatch: Scenario) -> None:
    """Analytic limit: two half widths (screws off joints) and a pitch, to the millimetre; no height for a column."""
    driver = next(each.driver for each in hatch.candidates if each.driver.name == "compact 8")
    board, gap = hatch.stock.board_thickness, hatch.box.breathing_gap
    screws = 0.25 * (driver.cutout_diameter + driver.outer_diameter) + hatch.box.joint_distance
    half = max(0.5 * driver.cutout_diameter + gap, 0.5 * driver.outer_diameter, screws)
    needed = 2.0 * board + 2.0 * half + driver.outer_diameter + gap
    short = in_width(hatch, needed - 0.010, height=0.3)["2 × compact 8"]
    assert not short.fits
    assert short.slacks["driver row"] == pytest.approx(-0.010, abs=1e-6)
    assert short.spare["width"] == pytest.approx(-0.010, abs=1e-6)
    assert "10" in fits_in_words(short, "metric")
    assert "wider" in fits_in_words(short, "metric")
    enough = in_width(hatch, needed + 0.010, height=0.3)["2 × compact 8"]
    assert enough.fits
    assert enough.spare["width"] == pytest.approx(0.010, abs=1e-6)


def test_two_small_ones_stand_in_a_column_where_it_is_high_enough(hatch: Scenario) -> None:
    """User's promise: a place is found, not assumed: the same two drivers fit one above the other."""
    narrow = in_width(hatch, 0.3, height=0.4)["2 × compact 8"]
    assert not narrow.fits
    high = dataclasses.replace(hatch, space=Space(section=((0.0, 0.0), (0.3, 0.0), (0.3, 0.6), (0.0, 0.6)), width=0.3))
    (tall,) = [each for each in contenders(high) if each.name == "2 × compact 8"]
    assert tall.fits
    assert int(tall.layout.driver_rows[0]) == 2


def test_what_is_said_to_give_is_enough_and_no_more(hatch: Scenario) -> None:
    """Independent path: a space changed by what is said makes the driver fit just so; a millimetre less does not."""
    large = in_width(hatch, 0.32)["1 × long-throw 12"]
    assert not large.fits
    more = large.spare["width"]
    assert more is not None
    assert in_width(hatch, 0.32 - more)["1 × long-throw 12"].fits
    assert not in_width(hatch, 0.32 - more - 0.001)["1 × long-throw 12"].fits
    # What is left over can be taken away to the millimetre, whatever rounding makes of the sums.
    for width in (0.4, 0.473, 0.518):
        roomy = in_width(hatch, width)["1 × long-throw 12"]
        left_over = roomy.spare["width"]
        assert left_over is not None
        assert in_width(hatch, width - left_over)["1 × long-throw 12"].fits


def test_a_box_of_another_shape_is_named_where_the_largest_will_not_do(hatch: Scenario) -> None:
    """User's promise: a deep low hall beside a thin high one: the largest box is too thin, a smaller one is not."""
    section = ((0.0, 0.0), (0.42, 0.0), (0.42, 0.33), (0.16, 0.33), (0.16, 1.4), (0.0, 1.4))
    space = Space(section=section, width=0.8)
    found = {each.name: each for each in contenders(dataclasses.replace(hatch, space=space))}
    twelve = found["1 × long-throw 12"]
    assert not twelve.fits
    assert twelve.elsewhere is not None
    assert "It fits in a box of another shape" in fits_in_words(twelve, "metric")
    envelope = Envelope(space)
    assert envelope.fit(twelve.elsewhere).violation[0] <= 0.0


def test_where_no_single_change_helps_it_is_said(hatch: Scenario) -> None:
    """User's promise: short in two directions at once, other ways out are named."""
    small = in_width(hatch, 0.25, height=0.25)["1 × long-throw 12"]
    assert not small.fits
    assert set(small.spare.values()) == {None}
    assert "fewer or smaller drivers" in fits_in_words(small, "metric")


def test_every_facing_is_a_contender(hatch: Scenario) -> None:
    """User's promise: down and sideways are judged too; a driver that faces down leaves its air below the box."""
    everywhere = dataclasses.replace(hatch, box=dataclasses.replace(hatch.box, facings=("front", "down", "side")))
    found = in_width(everywhere, 0.8)
    assert {"1 × compact 8", "1 × compact 8, facing down", "1 × compact 8, facing sideways"} <= set(found)
    upright, down = found["1 × compact 8"], found["1 × compact 8, facing down"]
    assert down.box.outer_height < upright.box.outer_height
    assert found["1 × compact 8, facing sideways"].slacks["driver air"] >= 0.0


def test_figures_come_in_the_units_asked_for(hatch: Scenario) -> None:
    """User's promise: a verdict in inches has no millimetres in it."""
    for each in in_width(hatch, 0.32).values():
        told = fits_in_words(each, "us")
        assert " in" in told
        assert " mm" not in told


def test_a_space_that_is_none_is_refused_like_a_search(hatch: Scenario) -> None:
    """Contract: the same refusal as the search gives."""
    with pytest.raises(SearchImpossible):
        contenders(dataclasses.replace(hatch, space=Space(section=BOX, width=0.3, margin=0.2)))
