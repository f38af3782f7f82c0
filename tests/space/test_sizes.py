"""Sizes as somebody states them, outside or inside, and the boxes they come to."""

from __future__ import annotations

import itertools

import numpy as np
import pytest

from engine.space.sizes import (
    BOTTOM,
    HEIGHT,
    LEAN,
    OUTER,
    TOP,
    VOLUME,
    WIDTH,
    held_to,
    inside_of,
    missing,
    outer_sizes,
    size_for,
)
from engine.space.sizes import volume_of as volume
from engine.space.wedge import Wedges

INCH, CUBIC_FOOT = 0.0254, 0.3048**3
BOARD = 0.75 * INCH
DEPTHS = {"inside_top_depth": 2.0 * INCH, "inside_bottom_depth": 5.0 * INCH}


def test_a_wedge_stated_by_its_inside_holds_what_a_builder_works_out() -> None:
    """Common practice, no source: 2 in deep at the top and 5 in at the bottom, 18.5 in high and 28 in wide inside are
    1.05 ft³, 20 in high and 29.5 in wide outside in 3/4 in board.
    """
    stated = {"inside_height": 18.5 * INCH, "inside_width": 28.0 * INCH, **DEPTHS}
    outer = outer_sizes(stated, board=BOARD, back_angle=0.0)
    assert outer["outer_height"][0] == pytest.approx(20.0 * INCH, rel=1e-12)
    assert outer["outer_width"][0] == pytest.approx(29.5 * INCH, rel=1e-12)
    assert volume(outer, board=BOARD, back_angle=0.0)[0] / CUBIC_FOOT == pytest.approx(1.05, abs=0.005)


def test_a_width_is_found_for_a_volume() -> None:
    """Common practice, no source: the same section 12 in high inside, its depths kept, needs 51.4 in for 1.25 ft³."""
    stated = {"inside_height": 12.0 * INCH, VOLUME: 1.25 * CUBIC_FOOT, **DEPTHS}
    whole = size_for(stated, board=BOARD, back_angle=0.0)
    assert whole is not None
    assert whole["outer_width"] / INCH - 1.5 == pytest.approx(51.4, abs=0.05)


@pytest.mark.parametrize("back_angle", [0.0, 0.35, -0.35])
def test_every_way_to_state_a_box_comes_to_the_same_outside(back_angle: float) -> None:
    """Conservation: sizes and lean measured of boxes, any complete choice of them, lead back to the boxes."""
    random = np.random.default_rng(5)
    spans = {
        "outer_width": (0.3, 1.0),
        "outer_height": (0.15, 0.6),
        "bottom_depth": (0.1, 0.5),
        "top_depth": (0.1, 0.5),
    }
    sizes = {name: random.uniform(*span, 40) for name, span in spans.items()}
    every = {**sizes, **inside_of(Wedges(**sizes, board=BOARD, back_angle=back_angle))}
    sections = [*itertools.product(BOTTOM, TOP), *((depth, LEAN) for depth in (*BOTTOM, *TOP))]
    for width, height, section in itertools.product(WIDTH, HEIGHT, sections):
        keys = (width, height, *section)
        assert not missing(keys)
        outer = outer_sizes({key: every[key] for key in keys}, board=BOARD, back_angle=back_angle)
        for name in OUTER:
            np.testing.assert_allclose(outer[name], sizes[name], rtol=1e-9, err_msg=f"{keys}")


@pytest.mark.parametrize("left_out", OUTER)
def test_any_one_size_is_found_for_a_volume(left_out: str) -> None:
    """Conservation: a box's own volume gives back the size that was left out."""
    sizes = {"outer_width": 0.8, "outer_height": 0.4, "bottom_depth": 0.3, "top_depth": 0.2}
    one = {name: np.array([size]) for name, size in sizes.items()}
    (held,) = volume(one, board=0.018, back_angle=0.2)
    stated = {name: size for name, size in sizes.items() if name != left_out} | {VOLUME: float(held)}
    whole = size_for(stated, board=0.018, back_angle=0.2)
    assert whole == pytest.approx(sizes, rel=1e-9)


def test_a_volume_that_no_size_gives_is_none() -> None:
    """Contract: a section without an inside holds nothing however wide it is."""
    stated = {"outer_height": 0.4, "bottom_depth": 0.02, "top_depth": 0.02, VOLUME: 0.03}
    assert size_for(stated, board=0.018, back_angle=0.0) is None


def test_what_is_missing_is_told_with_the_ways_to_state_it() -> None:
    """Contract: the lean stands for one depth, and nothing else stands for anything."""
    assert missing(["outer_width", "inside_height", "top_depth", LEAN]) == []
    assert missing(["outer_width", LEAN]) == [HEIGHT, BOTTOM]
    assert missing([]) == [WIDTH, HEIGHT, BOTTOM, TOP]


@pytest.mark.parametrize(
    "held",
    [
        {"outer_width": 29.5 * INCH},
        {"inside_width": 28.0 * INCH, "inside_height": 18.5 * INCH, **DEPTHS},
        {"inside_top_depth": 2.0 * INCH},
        {"bottom_depth": 0.3},
        {LEAN: 0.1},
        {LEAN: 0.1, "inside_bottom_depth": 0.2},
    ],
)
def test_sizes_held_are_exact_in_every_box_and_the_rest_stays_free(held: dict[str, float]) -> None:
    """Contract: measured of the boxes, what is held is what was stated; what nothing holds is as drawn."""
    random = np.random.default_rng(11)
    spans = {
        "outer_width": (0.3, 1.0),
        "outer_height": (0.25, 0.6),
        "bottom_depth": (0.2, 0.5),
        "top_depth": (0.1, 0.5),
    }
    drawn = {name: random.uniform(*span, 30) for name, span in spans.items()}
    sizes = held_to(held, drawn, board=BOARD, back_angle=0.1)
    wedges = Wedges(**sizes, board=BOARD, back_angle=0.1)
    measured = {**sizes, **inside_of(wedges)}
    for name, size in held.items():
        np.testing.assert_allclose(measured[name], size, rtol=1e-9, err_msg=name)
    for ways in missing(held):
        np.testing.assert_allclose(sizes[ways[0]], drawn[ways[0]], rtol=1e-12)
