"""Pipe in the demo jobs against the standard it is sold by."""

from __future__ import annotations

import pytest

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.quantities import parse

INCH = 0.0254

# ASTM D1785 Schedule 40: nominal size -> outside diameter, bore at the least wall allowed, in [P].
SCHEDULE_40 = {"1 1/2 in pipe": (1.900, 1.610), "2 in pipe": (2.375, 2.067), "3 in pipe": (3.500, 3.068)}
THICKER = 0.04  # in; real pipe runs over its least wall, so its bore is up to this much under the table


@pytest.mark.parametrize("name", SCHEDULE_40)
def test_inch_pipe_has_the_standard_s_outside(name: str) -> None:
    """Published, ASTM D1785 [P]: outside diameter exactly, bore no more than the least wall leaves."""
    stock = read_scenario(demo_scenarios()["roadster"]).stock
    (pipe,) = [pipe for pipe in stock.listed("pipe") if pipe.name == name]
    outside, bore = SCHEDULE_40[name]
    assert pipe.outer_diameter == pytest.approx(outside * INCH, abs=5e-4 * INCH)
    assert (bore - THICKER) * INCH <= pipe.inner_diameter <= bore * INCH


def test_two_inch_pipe_measures_two_and_three_eighths() -> None:
    """Common practice, no source, and ASTM D1785 [P]: 2 in pipe measures 2 3/8 in outside."""
    assert parse("2 3/8 in", "length") == pytest.approx(SCHEDULE_40["2 in pipe"][0] * INCH, rel=1e-12)
