"""Sizes and slants as a saw makes them."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.parts import Saw
from engine.space.sawn import bevel_of, different_bevels, sawn, slants

INCH = 0.0254
SAWS = (
    Saw(),
    Saw(size_step=INCH / 16),
    Saw(angle_step=math.radians(2.5), size_step=0.005, most_bevel=math.radians(30)),
)


def _sawn(
    saw: Saw, *sizes: float, back_angle: float = 0.0, bevels: float = math.inf, **bounds: tuple[float, float]
) -> tuple[float, ...]:
    names = ("outer_width", "outer_height", "bottom_depth", "top_depth")
    drawn = {name: np.array([size]) for name, size in zip(names, sizes, strict=True)}
    leans = slants(saw, back_angle=back_angle, bevels=bevels)
    made = sawn(drawn, saw=saw, back_angle=back_angle, leans=leans, bounds=bounds)
    return tuple(float(made[name][0]) for name in names)


def _lean(tall: float, bottom: float, top: float, back_angle: float) -> float:
    return math.atan(math.tan(back_angle) + (top - bottom) / tall)


@pytest.mark.parametrize("saw", SAWS)
@given(
    width=st.floats(0.2, 1.5), tall=st.floats(0.1, 0.8), bottom=st.floats(0.05, 0.6), top=st.floats(0.05, 0.6),
    back_angle=st.sampled_from([0.0, 0.2, -0.1234]),
)  # fmt: skip
def test_sizes_and_slants_are_whole_steps_and_no_greater_than_drawn(
    saw: Saw, width: float, tall: float, bottom: float, top: float, back_angle: float
) -> None:
    """Promise to the user: outside sizes are exact steps, the slant is one to half a step of sizes, within the tilt."""
    made = _sawn(saw, width, tall, bottom, top, back_angle=back_angle)
    for size in made:
        assert abs(size / saw.size_step - round(size / saw.size_step)) < 1e-5
    for size, drawn in zip(made[:3], (width, tall, bottom), strict=True):
        assert drawn - saw.size_step - 1e-9 < size < drawn + 1e-8
    lean = _lean(*made[1:], back_angle)
    nominal = float(bevel_of(np.array([lean]), tall=np.array([made[1]]), saw=saw, back_angle=back_angle)[0])
    steps = nominal / saw.angle_step
    assert abs(steps - round(steps)) < 1e-6 or abs(nominal) == pytest.approx(abs(back_angle))
    assert abs(nominal) <= saw.most_bevel + 1e-9
    # Half a step of sizes moves the slope by no more than that over the height.
    slope = math.tan(lean) - math.tan(back_angle)
    allowed = [slope + way * 0.5 * saw.size_step / made[1] for way in (-1.0, 1.0)]
    leans = slants(saw, back_angle=back_angle)
    assert np.any((np.tan(leans) - math.tan(back_angle) >= allowed[0] - 1e-6) &
                  (np.tan(leans) - math.tan(back_angle) <= allowed[1] + 1e-6))  # fmt: skip
    if _lean(made[1], made[2], top, back_angle) >= leans[0]:
        assert made[3] <= top + 0.5 * saw.size_step + 1e-8


def test_a_box_in_inches_comes_in_sixteenths() -> None:
    """Common practice: 20 in by 29 1/2 in stays what it is, to the last digit, and 0.01 in more makes no odds."""
    saw = Saw(size_step=INCH / 16)
    made = _sawn(saw, 29.51 * INCH, 20.0 * INCH, 6.5 * INCH, 3.5 * INCH)
    assert made[0] == pytest.approx(29.5 * INCH, abs=1e-9)
    assert made[1] == pytest.approx(20.0 * INCH, abs=1e-9)
    assert made[2] == pytest.approx(6.5 * INCH, abs=1e-9)


def test_a_bound_on_the_top_is_kept_and_the_bottom_follows() -> None:
    """Promise to the user: a fixed depth at the top stays, and the slant is a whole step all the same."""
    saw = Saw()
    made = _sawn(saw, 0.9, 0.4, 0.23, 0.11, top_depth=(0.11, 0.11))
    assert made[3] == 0.11
    lean = _lean(*made[1:], 0.0)
    bevel = float(bevel_of(np.array([lean]), tall=np.array([0.4]), saw=saw, back_angle=0.0)[0])
    assert abs(lean - bevel) < 0.5e-3 / 0.4 + 1e-9
    assert abs(bevel / saw.angle_step - round(bevel / saw.angle_step)) < 1e-6
    both = _sawn(saw, 0.9, 0.4, 0.23, 0.11, top_depth=(0.11, 0.11), bottom_depth=(0.23, 0.23))
    assert both[2:] == (0.23, 0.11)
    # 16.7°, which is no step, is then what the saw is set to.
    lean = _lean(*both[1:], 0.0)
    assert bevel_of(np.array([lean]), tall=np.array([0.4]), saw=saw, back_angle=0.0)[0] == lean


def test_square_sides_can_be_asked_for() -> None:
    """Analytic limit: with no bevel the box is square; with one, upright, or back and baffle are set alike."""
    assert _sawn(Saw(), 0.9, 0.4, 0.23, 0.11, bevels=0.0)[3] == 0.23
    for top in (0.05, 0.2, 0.4):
        made = _sawn(Saw(), 0.9, 0.4, 0.23, top, back_angle=0.2, bevels=1.0)
        baffle = bevel_of(np.array([_lean(*made[1:], 0.2)]), tall=np.array([made[1]]), saw=Saw(), back_angle=0.2)
        assert different_bevels(baffle, back_angle=0.2)[0] == 1


def test_bevels_are_counted_once_each() -> None:
    """Definition: upright sides need none, back and baffle at one angle one, either way."""
    leans = np.radians([0.0, 10.0, -10.0, 12.0])
    assert different_bevels(leans, back_angle=0.0).tolist() == [0, 1, 1, 1]
    assert different_bevels(leans, back_angle=math.radians(10.0)).tolist() == [1, 1, 1, 2]
