"""Quasi-linear answers against the full nonlinear equations integrated in time (independent implementation).

The whole table is ``python -m tests.benchmarks.full_power``.
"""

from __future__ import annotations

import dataclasses

import pytest

from tests.benchmarks.full_power import CASES, Case, rows

BY_NAME = {case.name: case for case in CASES}


def some(name: str, *, volts: float, frequencies: tuple[float, ...]) -> Case:
    return dataclasses.replace(BY_NAME[name], volts=(volts,), frequencies=frequencies)


@pytest.mark.parametrize("name", ["linear, vented", "linear, thin", "linear, passive radiator"])
def test_the_twin_is_right_where_all_is_linear(name: str) -> None:
    """Analytic limit: the twin against the linear circuit, so that it can serve as a reference."""
    for row in rows(some(name, volts=30.0, frequencies=(20.0, 40.0))):
        assert row.settled < 1e-4
        assert abs(row.level_db) < 2e-3
        assert max(abs(row.excursion_off), abs(row.speed_off), abs(row.current_off)) < 3e-4


@pytest.mark.parametrize(
    ("name", "volts", "frequencies"),
    [
        ("coil heat, closed", 40.0, (20.0,)),
        ("coil heat, vented", 40.0, (30.0,)),
        ("vent loss", 20.0, (20.0, 30.0)),
        ("vent loss", 40.0, (30.0,)),
        ("vent loss, thin", 20.0, (30.0,)),
        ("Bl and Cms, closed", 35.0, (20.0,)),
        ("steep Bl and Cms, closed", 35.0, (20.0,)),
        ("all, closed", 35.0, (20.0, 40.0)),
        ("all, vented", 20.0, (20.0, 40.0)),
        ("all, thin", 20.0, (20.0, 30.0)),
        ("all, passive radiator", 10.0, (20.0,)),
        ("all, passive radiator", 20.0, (30.0,)),
    ],
)
def test_the_fundamental_is_right_up_to_xmax(name: str, volts: float, frequencies: tuple[float, ...]) -> None:
    """Independent implementation: level to 0.15 dB, excursion, current, vent speed to 1.5 %, heat to 3 %."""
    for row in rows(some(name, volts=volts, frequencies=frequencies)):
        assert row.settled < 1e-3
        assert row.over_xmax < 1.3
        assert abs(row.level_db) < 0.15
        assert max(abs(row.excursion_off), abs(row.speed_off), abs(row.current_off)) < 0.015
        assert abs(row.rise_off) < 0.03


def test_the_effect_is_far_larger_than_the_error() -> None:
    """Proof that the check can fail: the linear model is off by decibels here, the quasi-linear by hundredths."""
    (row,) = rows(some("all, vented", volts=20.0, frequencies=(30.0,)))
    assert row.compression_db > 3.0
    assert abs(row.level_db) < row.compression_db / 50.0


def test_an_off_centre_rest_position_changes_little() -> None:
    """Independent implementation: odd parts of Bl and stiffness, 10 % at Xmax, which the model leaves out: 0.1 dB."""
    for row in rows(some("all, closed, skewed 10 %", volts=20.0, frequencies=(20.0, 40.0))):
        assert abs(row.level_db) < 0.1
        assert abs(row.excursion_off) < 0.02


@pytest.mark.parametrize(
    ("name", "volts", "frequencies"),
    [
        ("vent loss", 20.0, (20.0, 30.0)),
        ("vent loss, thin", 20.0, (30.0,)),
        ("Bl and Cms, closed", 20.0, (20.0,)),
        ("steep Bl and Cms, closed", 35.0, (30.0,)),
        ("all, vented", 10.0, (20.0, 30.0)),
        ("all, thin", 35.0, (30.0,)),
        ("all, passive radiator", 10.0, (20.0,)),
    ],
)
def test_distortion_above_a_few_per_cent_is_right_up_to_xmax(
    name: str, volts: float, frequencies: tuple[float, ...]
) -> None:
    """Independent implementation: within 4 % of itself, from 5 % to 54 %, be it the vent's, the motor's or both."""
    for row in rows(some(name, volts=volts, frequencies=frequencies)):
        assert row.over_xmax < 1.1
        assert row.harmonic > 0.05
        assert row.distortion == pytest.approx(row.harmonic, rel=0.04)


def test_what_is_skewed_distorts_more_than_is_said() -> None:
    """Independent implementation: even harmonics, left out, only add; a tenth of skew at Xmax, a quarter more."""
    (row,) = rows(some("all, closed, skewed 10 %", volts=20.0, frequencies=(20.0,)))
    assert row.distortion < row.harmonic < 1.25 * row.distortion


def test_a_linear_system_does_not_distort() -> None:
    """Analytic limit."""
    (row,) = rows(some("linear, vented", volts=30.0, frequencies=(30.0,)))
    assert row.distortion == 0.0
