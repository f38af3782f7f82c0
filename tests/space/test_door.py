"""Boxes through doors: known results, and a turn by ten thousand small steps."""

from __future__ import annotations

import math
from dataclasses import replace

import numpy as np
import pytest

from engine.arrays import Floats
from engine.parts import Door, Space
from engine.space.door import door_violation, least_width, section_of
from engine.space.envelope import Envelope
from engine.space.wedge import Wedges
from tests.space.spaces import BOARD, SPACES, boxes_for

ANGLES = np.linspace(0.0, np.pi, 10_001)
# Too long to go any way but lengthwise.
LONG = 50.0


def cuboids(width: Floats, height: Floats, depth: Floats) -> Wedges:
    return Wedges(
        outer_width=width, outer_height=height, top_depth=depth, bottom_depth=depth, board=BOARD, back_angle=0.0
    )


def carver(p: float, q: float, a: float, b: float) -> bool:
    """Whether a rectangle p × q goes into one of a × b, p ≥ q and a ≥ b (Carver 1957, from memory)."""
    if p <= a:
        return q <= b
    return q <= b and b >= (2.0 * p * q * a + (p**2 - q**2) * math.sqrt(p**2 + q**2 - a**2)) / (p**2 + q**2)


def brute_overrun(corners: Floats, width: float, height: float) -> float:
    """What a section (K, 2) exceeds an opening by at the best of ten thousand angles."""
    across = np.ptp(corners @ np.stack([np.cos(ANGLES), np.sin(ANGLES)]), axis=0)
    up = np.ptp(corners @ np.stack([-np.sin(ANGLES), np.cos(ANGLES)]), axis=0)
    return float(np.maximum(across - width, up - height).min())


def brute_thickness(corners: Floats) -> float:
    return float(np.ptp(corners @ np.stack([np.cos(ANGLES), np.sin(ANGLES)]), axis=0).min())


def test_a_box_straight_through_by_its_two_smaller_sizes() -> None:
    """Analytic limit: whichever two of a cuboid's sizes they are, and either way round, in metres."""
    sizes = np.array([[1.0, 0.4, 0.3], [0.3, 1.0, 0.4], [0.4, 0.3, 1.0], [0.3, 0.4, 1.0]])
    for door in (Door(width=0.45, height=0.35), Door(width=0.35, height=0.45)):
        violation = door_violation(cuboids(*sizes.T.copy()), door, covering=0.0)
        np.testing.assert_allclose(violation, -0.05, atol=1e-9)
        carpeted = door_violation(cuboids(*sizes.T.copy()), door, covering=0.02)
        np.testing.assert_allclose(carpeted, -0.01, atol=1e-9)
        assert np.all(door_violation(cuboids(*sizes.T.copy()), door, covering=0.03) > 0.0)


def test_without_a_door_everything_passes() -> None:
    """Analytic limit."""
    boxes = boxes_for(SPACES[0], 20, back_angle=0.1, seed=1)
    np.testing.assert_array_equal(Envelope(SPACES[0]).door_violation(boxes), 0.0)


def test_the_envelope_hands_its_covering_to_the_door() -> None:
    """Analytic limit: a door just as large as the bare box."""
    box = cuboids(np.array([LONG]), np.array([0.3]), np.array([0.4]))
    space = Space(section=SPACES[0].section, width=1.0, door=Door(width=0.4, height=0.3))
    assert Envelope(space).door_violation(box)[0] <= 0.0
    assert Envelope(space, covering=0.004).door_violation(box)[0] == pytest.approx(0.008, abs=1e-3)


def test_rectangles_through_rectangles() -> None:
    """Published (Carver 1957, from memory): p × q goes into a × b under his condition and no other.

    The narrow bars among them go in aslant only, longer than the opening is wide.
    """
    rng = np.random.default_rng(4)
    aslant = 0
    for _ in range(300):
        a, b = np.sort(rng.uniform(0.2, 1.0, 2))[::-1]
        p = rng.uniform(0.5, 1.3, 200) * a
        q = np.minimum(p, np.where(rng.random(200) < 0.5, rng.uniform(0.0, 0.3, 200), rng.uniform(0.1, 1.1, 200)) * b)
        boxes = cuboids(np.full(200, LONG), q, p)
        passes = door_violation(boxes, Door(width=a, height=b), covering=0.0) <= 0.0
        expected = np.array([carver(*sizes, a, b) for sizes in zip(p, q, strict=True)])
        np.testing.assert_array_equal(passes, expected)
        aslant += np.count_nonzero(passes & (p > a))
    assert aslant > 1000


def test_a_square_aslant_is_wider_than_level() -> None:
    """Analytic limit: a square passes a square opening only if it is no larger, however it is turned."""
    side = np.array([0.3, 0.3 - 1e-6, 0.3 + 1e-6, 0.4])
    violation = door_violation(cuboids(np.full(4, LONG), side, side), Door(width=0.3, height=0.3), covering=0.0)
    np.testing.assert_allclose(violation, side - 0.3, atol=1e-9)


def test_a_square_section_turned_goes_through_as_what_it_is() -> None:
    """Analytic limit: a wedge whose section is a square standing on a tip, as near as a wedge comes to it."""
    tip = 1e-6
    turned = Wedges(
        outer_width=np.array([LONG]),
        outer_height=np.array([0.2]),
        top_depth=np.array([0.2]),
        bottom_depth=np.array([tip]),
        board=1e-3,
        back_angle=0.0,
    )
    # A right triangle with legs of 0.2 m: lying on its longest side it is 0.2/√2 high.
    door = Door(width=0.2 * math.sqrt(2.0) + 2e-6, height=0.2 / math.sqrt(2.0) + 2e-6)
    assert door_violation(turned, door, covering=0.0)[0] <= 0.0
    lower = replace(door, height=door.height - 1e-3)
    assert door_violation(turned, lower, covering=0.0)[0] > 0.0
    assert least_width(section_of(turned.outer_section[0])) == pytest.approx(0.2 / math.sqrt(2.0), abs=1e-5)


@pytest.mark.parametrize("covering", [0.0, 0.01])
def test_wedges_through_doors_by_small_steps(covering: float) -> None:
    """Independent implementation: section and broad side each turned by ten thousand steps.

    A step misses the best angle by 1.6e-4 rad at most, so by less than 0.2 mm.
    """
    rng = np.random.default_rng(11)
    passing, aslant = 0, 0
    for seed in range(40):
        door = Door(width=rng.uniform(0.25, 0.7), height=rng.uniform(0.15, 0.4))
        boxes = boxes_for(SPACES[seed], 15, back_angle=rng.uniform(-0.4, 0.4), seed=seed)
        violation = door_violation(boxes, door, covering=covering)
        width, height = door.width - 2.0 * covering, door.height - 2.0 * covering
        for one, corners in enumerate(boxes.outer_section):
            broad, thin = boxes.outer_width[one], brute_thickness(corners)
            flat = np.array([[0.0, 0.0], [broad, 0.0], [broad, thin], [0.0, thin]])
            brute = min(brute_overrun(corners, width, height), brute_overrun(flat, width, height))
            if abs(brute) > 2e-4:
                assert (violation[one] <= 0.0) == (brute <= 0.0)
            if violation[one] > 0.0:
                assert violation[one] >= brute - 2e-4
            passing += violation[one] <= 0.0
            level = np.sort(np.ptp(corners, axis=0))
            aslant += violation[one] <= 0.0 and level[1] > max(width, height) and broad > max(width, height)
    assert 100 < passing < 500
    assert aslant > 3


def test_turning_room_holds_width_and_thickness() -> None:
    """Analytic limit: a box of 0.4 × 0.3 m broad side, whatever its height, needs a circle of 0.5 m."""
    boxes = cuboids(np.full(3, 0.4), np.array([0.6, 0.9, 0.3]), np.array([0.3, 0.3, 0.7]))
    wide_open = Door(width=2.0, height=2.0, turning_room=0.45)
    np.testing.assert_allclose(door_violation(boxes, wide_open, covering=0.0), 0.05, atol=1e-9)
    np.testing.assert_allclose(door_violation(boxes, wide_open, covering=0.01), 0.07, atol=1e-9)
    assert np.all(door_violation(boxes, replace(wide_open, turning_room=0.5), covering=0.0) <= 0.0)
    assert np.all(door_violation(boxes, replace(wide_open, turning_room=math.inf), covering=0.0) <= 0.0)


def test_violations_grow_without_jumps() -> None:
    """Conservation: a box that grows passes, then exceeds the opening by more and more."""
    steps = np.linspace(0.2, 0.7, 2000)
    boxes = Wedges(
        outer_width=np.full(2000, 1.2),
        outer_height=steps,
        top_depth=0.6 * steps,
        bottom_depth=steps,
        board=BOARD,
        back_angle=0.1,
    )
    violation = door_violation(boxes, Door(width=0.5, height=0.4), covering=0.0)
    assert violation[0] <= 0.0 < violation[-1]
    broken = violation[violation > 0.0]
    assert np.all(violation[: 2000 - len(broken)] <= 0.0)
    assert np.all(np.diff(broken) > 0.0)
    assert broken[0] < 1e-3
    assert np.diff(broken).max() < 1e-3


def test_mirrored_turned_and_shuffled_boxes_pass_alike() -> None:
    """Symmetry: top and bottom, width and height of the opening changed over; and rows in another order."""
    boxes = boxes_for(SPACES[3], 500, back_angle=0.2, seed=3)
    upside_down = replace(
        boxes, top_depth=boxes.bottom_depth, bottom_depth=boxes.top_depth, back_angle=-boxes.back_angle
    )
    door = Door(width=0.5, height=0.25, turning_room=1.0)
    violation = door_violation(boxes, door, covering=0.0)
    np.testing.assert_allclose(door_violation(upside_down, door, covering=0.0), violation, atol=1e-12)
    turned = replace(door, width=door.height, height=door.width)
    np.testing.assert_allclose(door_violation(boxes, turned, covering=0.0), violation, atol=1e-12)
    order = np.random.default_rng(1).permutation(500)
    np.testing.assert_array_equal(door_violation(boxes.take(order), door, covering=0.0), violation[order])
    assert 0.02 < np.mean(violation <= 0.0) < 0.98
