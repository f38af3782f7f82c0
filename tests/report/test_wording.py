"""Designs in words."""

from __future__ import annotations

import math
from typing import Any

import pytest

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.parts import Driver
from engine.report.wording import (
    air_before,
    as_used,
    distorts,
    drivers,
    figure,
    figure_of,
    filling,
    high_pass,
    openings,
)

ROW = {
    "driver": "compact 8",
    "driver_count": 2,
    "driver_rows": 1,
    "facing": "front",
    "box_kind": "vented",
    "vent_kind": "pipe",
    "vent_count": 2,
    "vent_diameter_m": 0.071,
    "vent_length_m": 0.31,
    "vent_placement": "through side",
    "vent_flare_m": 0.0,
}
SLOT = {
    "vent_kind": "slot",
    "vent_count": 1,
    "vent_diameter_m": math.nan,
    "slot_height_m": 0.03,
    "slot_width_m": 0.14,
    "slot_turn_m": 0.0,
    "vent_placement": "slot through side",
}
RADIATOR = {
    "box_kind": "radiator",
    "vent_kind": "",
    "vent_count": 0,
    "radiator": "tray 10",
    "radiator_count": 1,
    "radiator_added_mass_kg": 0.1234,
}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "2 × compact 8, side by side"),
        ({"driver_count": 1}, "1 × compact 8"),
        ({"driver_rows": 2}, "2 × compact 8, one above the other"),
        ({"driver_rows": 2, "facing": "down"}, "2 × compact 8, one behind the other, facing down"),
        ({"driver_rows": 2, "driver_count": 4}, "4 × compact 8, 2 to a column"),
        ({"driver_count": 1, "facing": "side"}, "1 × compact 8, facing sideways"),
    ],
)
def test_how_drivers_stand_is_said(changes: dict[str, object], said: str) -> None:
    """User's promise: count, name, how they stand and which way they face."""
    assert drivers({**ROW, **changes}) == said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "2 vents, 71 mm bore × 310 mm long each, through the left side"),
        ({"vent_count": 1}, "1 vent, 71 mm bore × 310 mm long, through the left side"),
        (
            {"vent_placement": "through baffle, bent"},
            "2 vents, 71 mm bore × 310 mm long each, through the baffle, with one bend",
        ),
        ({"vent_placement": "through bottom"}, "2 vents, 71 mm bore × 310 mm long each, through the bottom"),
        ({"box_kind": "closed", "vent_kind": "", "vent_count": 0, "vent_placement": "none"}, "no vent"),
        (
            {"vent_count": 1, "vent_flare_m": 0.012},
            "1 vent, 71 mm bore × 310 mm long, through the left side, both ends flared 12 mm",
        ),
        (SLOT, "1 slot of the box's own board, 30 mm high × 140 mm deep, 310 mm long, through the left side"),
        (
            {**SLOT, "slot_turn_m": 0.1, "vent_placement": "slot through baffle"},
            ("1 slot of the box's own board, 30 mm high × 140 mm deep, 310 mm long, through the baffle, "
            "turning the corner along the right side"),
        ),
    ],
)  # fmt: skip
def test_where_vents_go_out_is_said(changes: dict[str, object], said: str) -> None:
    """User's promise: count, bore, length, the panel they go through, and the bend."""
    assert openings({**ROW, **changes}, "metric") == said


@pytest.mark.parametrize(
    ("changes", "units", "said"),
    [
        ({}, "metric", "1 × tray 10, 123 g added to its cone"),
        ({}, "us", "1 × tray 10, 4.4 oz added to its cone"),
        ({"radiator_count": 2}, "metric", "2 × tray 10, 123 g added to each cone"),
        ({"radiator_added_mass_kg": 0.0}, "metric", "1 × tray 10, as bought"),
    ],
)
def test_what_a_box_breathes_through_is_said(changes: dict[str, object], units: Any, said: str) -> None:
    """User's promise: what to buy, and what to screw onto it."""
    assert openings({**ROW, **RADIATOR, **changes}, units) == said


@pytest.mark.parametrize(
    ("order", "shape", "q", "said"),
    [
        (0, "", math.nan, "no high-pass filter"),
        (2, "butterworth", 0.7071, "Butterworth high-pass at 22.0 Hz, 12 dB per octave"),
        (4, "linkwitz-riley", 0.7071, "Linkwitz-Riley high-pass at 22.0 Hz, 24 dB per octave"),
        (2, "own", 1.2, "Q 1.20 high-pass at 22.0 Hz, 12 dB per octave"),
    ],
)
def test_a_filter_is_named_as_one_sets_it(order: int, shape: str, q: float, said: str) -> None:
    """User's promise: shape or Q, frequency and slope."""
    row = {"filter_order": order, "filter_shape": shape, "filter_q": q, "filter_hz": 22.0}
    assert high_pass(row, "metric") == said


def test_the_air_before_cones_is_told() -> None:
    """User's promise: how near the nearest wall is, and what the air in between does."""
    row = {"cone_air_m": 0.0361, "cone_air_kg": 0.0127}
    adds = "of air before the cones at least, which adds {} to each driver's moving mass"
    assert air_before(row, "metric") == "36 mm " + adds.format("13 g")
    assert air_before(row, "us") == "1 7/16 in " + adds.format("13 g")
    assert air_before({**row, "cone_air_kg": 0.0002}, "metric") == "36 mm of air before the cones at least"
    assert air_before({**row, "cone_air_m": 1.2}, "metric") == "", "no wall is near"


def test_what_a_box_does_not_have_shows_no_figure() -> None:
    """User's promise: no vent has no air speed, no radiator no travel, and nought is not shown for either."""
    row = {**ROW, **RADIATOR, "vent_speed_m_s": 0.0, "radiator_ratio": 0.812}
    assert figure_of(row, "vent_speed_m_s", "metric") == "no vent"
    assert figure_of(row, "radiator_ratio", "metric") == "0.81"
    assert figure_of({**row, "box_kind": "closed"}, "radiator_ratio", "metric") == "no radiator"


def test_text_of_a_front_is_shown_in_words() -> None:
    """User's promise: no key of a file stands on the page."""
    assert figure("box_kind", "radiator", "metric") == "passive radiator"
    assert figure("filter_shape", "own", "metric") == "of its own Q"
    assert figure_of({**ROW, "filter_shape": "own", "filter_q": 1.2}, "filter_shape", "metric") == "Q 1.20"
    assert figure("filling", "none", "metric") == "–"
    assert filling({"filling": "half"}) == "half filled with damping wool"
    assert figure("coil_rise_k", 60.0, "us") == "108 °F"
    assert figure("radiator_added_mass_kg", 0.1234, "metric") == "123 g"
    assert figure("radiator_added_mass_kg", 0.1234, "us") == "4.4 oz"


@pytest.mark.parametrize(
    ("known", "vented", "levels", "said"),
    [
        (
            {"bl_at_xmax": 0.8, "cms_at_xmax": 0.7},
            True,
            ((30.0, 0.137), (40.0, 0.11), (50.0, 0.02)),
            "Tones distort by about 14 % at 30 Hz and 11 % at 40 Hz, from the motor, the suspension and the vent.",
        ),
        (
            {},
            True,
            ((30.0, 0.02), (40.0, 0.01)),
            (
                "Tones at 30 Hz and 40 Hz distort by less than 10 %, from the vent; "
                "the data sheet does not say what the motor and the suspension lose at Xmax."
            ),
        ),
        (
            {"bl_at_xmax": 0.8},
            False,
            ((30.0, 0.2),),
            (
                "Tones distort by about 20 % at 30 Hz, from the motor; "
                "the data sheet does not say what the suspension loses at Xmax."
            ),
        ),
        (
            {},
            False,
            ((30.0, 0.0),),
            "Its distortion is not known: the data sheet does not say what the motor and the suspension lose at Xmax.",
        ),
    ],
)
def test_distortion_is_told_from_ten_per_cent_on(
    known: dict[str, float], vented: bool, levels: tuple[tuple[float, float], ...], said: str
) -> None:
    """User's promise: figures where they matter, what they are from, and what nobody knows."""
    sheet: dict[str, Any] = {
        "fs": 30.0,
        "qes": 0.5,
        "qms": 5.0,
        "vas": 0.05,
        "sd": 0.03,
        "re": 3.4,
        "xmax": 0.01,
        "rated_power": 300.0,
    }
    driver = Driver(name="ten", **(sheet | known))
    assert distorts(levels, driver, vented=vented, units="metric") == said


@pytest.mark.parametrize(
    ("share", "said"),
    [
        (1.0, "It takes the amplifier's full power: "),
        (0.99, "At 99 % of the amplifier's power nothing "),
        (0.5, "Turned down by 3.0 dB, to 50 % of the amplifier's power, nothing "),
    ],
)
def test_nobody_is_told_of_being_turned_down_by_nothing(share: float, said: str) -> None:
    goals = read_scenario(demo_scenarios()["van-bench"]).goals
    row = {"power_share": share, "gain_limited_by": "vent", "gain_limited_hz": 34.9}
    assert as_used(row, goals, "metric").startswith(said)
