"""Coils, loads and the drive that comes of them."""

from __future__ import annotations

import dataclasses
import math

import pytest

from engine.parts import Amplifier, Driver
from engine.wiring import (
    COIL_JOINS,
    DRIVER_JOINS,
    allowed,
    best_wiring,
    different,
    join_coils,
    networks,
    power_into,
    why_wired,
    wirings,
)

DUAL = Driver(
    name="Dual",
    fs=30.0,
    qes=0.5,
    qms=5.0,
    vas=0.04,
    sd=0.033,
    re=1.0,
    le=0.8e-3,
    l2=0.5e-3,
    r2=2.0,
    xmax=0.01,
    rated_power=400.0,
    coils=2,
    coil_impedance=2.0,
    stated_wiring="parallel",
)
SINGLE = dataclasses.replace(DUAL, name="Single", coils=1, coil_impedance=4.0, re=3.2)
ANY_LOAD = Amplifier(name="Bench supply", loads=((0.2, 100.0),), lowest_load=0.2)


@pytest.mark.parametrize(
    ("coil", "count", "loads"),
    [
        (2.0, 1, [1, 4]),
        (4.0, 1, [2, 8]),
        (2.0, 2, [0.5, 2, 2, 8]),
        (4.0, 2, [1, 4, 4, 16]),
        (2.0, 3, [1 / 3, 4 / 3, 3, 12]),
        (4.0, 3, [2 / 3, 8 / 3, 6, 24]),
        (2.0, 4, [0.25, 1, 1, 4, 4, 16]),
        (4.0, 4, [0.5, 2, 2, 8, 8, 32]),
    ],
)
def test_available_loads(coil: float, count: int, loads: list[float]) -> None:
    """Independent arithmetic (first principles): the loads that one to four dual-coil drivers can make."""
    found = wirings(dataclasses.replace(DUAL, coil_impedance=coil), count, ANY_LOAD)
    assert [wiring.load for wiring in found] == pytest.approx(loads, rel=1e-3)


def test_series_coils_have_four_times_the_parallel_resistance_and_inductance() -> None:
    """First principles: R/2 and L in parallel, 2R and 4L in series; Q and efficiency stay."""
    series, load = join_coils(DUAL, "series")
    parallel, parallel_load = join_coils(DUAL, "parallel")
    assert parallel == DUAL
    assert (load, parallel_load) == (4.0, 1.0)
    assert series.re == pytest.approx(4.0 * DUAL.re)
    assert series.le == pytest.approx(4.0 * DUAL.le)
    assert series.r2 == pytest.approx(4.0 * DUAL.r2)
    assert series.bl == pytest.approx(2.0 * DUAL.bl)
    assert series.qts == DUAL.qts


def test_a_coil_s_power_law_scales_as_its_resistance() -> None:
    """First principles: twice the turns, four times whatever the coil's impedance is made of; exponents, heat and
    shapes stay.
    """
    lossy = dataclasses.replace(
        DUAL,
        le=0.0,
        inductance_kr=0.002,
        inductance_xr=0.7,
        inductance_ki=0.01,
        inductance_xi=0.8,
        thermal_resistance=0.4,
        bl_at_xmax=0.8,
    )
    series = join_coils(lossy, "series")[0]
    assert (series.inductance_kr, series.inductance_ki) == pytest.approx((0.008, 0.04))
    unchanged = ("inductance_xr", "inductance_xi", "thermal_resistance", "bl_at_xmax", "warmth")
    assert [getattr(series, name) for name in unchanged] == [getattr(lossy, name) for name in unchanged]


def test_a_sheet_that_states_series_coils_is_read_as_such() -> None:
    """Conservation: joining the coils back and forth ends where it began."""
    stated = dataclasses.replace(DUAL, stated_wiring="series", re=4.0)
    assert join_coils(stated, "parallel")[0].re == pytest.approx(1.0)
    assert join_coils(stated, "series")[0].re == pytest.approx(4.0)


def test_voltage_is_split_as_the_wiring_splits_it() -> None:
    """First principles: V = sqrt(P·Z), halved by two drivers in series."""
    amplifier = Amplifier(name="A", loads=((4.0, 200.0), (8.0, 100.0)), lowest_load=4.0)
    (wiring,) = [each for each in wirings(SINGLE, 2, amplifier) if each.in_series == 2]
    assert wiring.load == 8.0
    assert wiring.voltage == pytest.approx(math.sqrt(100.0 * 8.0) / 2.0)


def test_between_stated_loads_the_amplifier_keeps_the_lower_load_s_voltage() -> None:
    """Analytic limit: a voltage source gives P·Z constant, and meets the stated figure at the stated load."""
    amplifier = Amplifier(name="A", loads=((2.0, 400.0), (4.0, 250.0)), lowest_load=2.0)
    assert power_into(amplifier, 2.0) == 400.0
    assert power_into(amplifier, 4.0) == 250.0
    assert power_into(amplifier, 8.0 / 3.0) == pytest.approx(300.0)
    assert power_into(amplifier, 1.0) is None


def test_the_strongest_wiring_within_the_rated_power_is_taken() -> None:
    """Common practice, no source: most power that the drivers are rated for; else the gentlest."""
    amplifier = Amplifier(name="A", loads=((1.0, 600.0), (4.0, 200.0)), lowest_load=1.0)
    within = best_wiring(wirings(DUAL, 1, amplifier))
    assert within is not None
    assert (within.load, within.power) == (4.0, 200.0)
    stout = best_wiring(wirings(dataclasses.replace(DUAL, rated_power=700.0), 1, amplifier))
    assert stout is not None
    assert stout.load == 1.0
    frail = best_wiring(wirings(dataclasses.replace(DUAL, rated_power=50.0), 1, amplifier))
    assert frail is not None
    assert frail.power == 200.0


def test_a_load_below_the_lowest_is_never_offered() -> None:
    """User's promise: the amplifier is not asked to drive what its maker forbids."""
    amplifier = Amplifier(name="A", loads=((2.0, 300.0),), lowest_load=2.0)
    assert all(wiring.load >= 2.0 for wiring in wirings(DUAL, 2, amplifier))
    assert best_wiring(wirings(dataclasses.replace(DUAL, coil_impedance=0.4), 1, amplifier)) is None


def test_wiring_in_words() -> None:
    """User's promise: the wiring reads as a builder says it."""
    found = wirings(DUAL, 4, ANY_LOAD)
    assert "coils in parallel, drivers in parallel" in {wiring.words for wiring in found}
    assert any("2 strings in parallel of 2 drivers in series" in wiring.words for wiring in found)
    assert wirings(SINGLE, 1, ANY_LOAD)[0].words == "single coil"


TWO_EIGHTS = dataclasses.replace(DUAL, coils=1, coil_impedance=4.0, rated_power=200.0)
AMPLIFIER = Amplifier(name="mono", loads=((2.0, 800.0), (4.0, 500.0), (8.0, 250.0)), lowest_load=2.0)


def test_why_a_wiring_was_chosen_is_said_with_what_the_others_would_draw() -> None:
    """User's promise: two small drivers in series at 250 W are not set beside 800 W without a word."""
    best = best_wiring(wirings(TWO_EIGHTS, 2, AMPLIFIER))
    assert best is not None
    told = why_wired(best, driver=TWO_EIGHTS, amplifier=AMPLIFIER)
    assert told == (
        "Drivers in series: 8 Ω draws 250 W, the most within what the drivers are rated for (400 W). "
        "Drivers in parallel, 2 Ω would draw 800 W."
    )
    turned_down = why_wired(best, driver=TWO_EIGHTS, amplifier=AMPLIFIER, used=100.0)
    assert turned_down.endswith("Turned down it uses 100 W of that: drivers in parallel would play as loud.")
    low = dataclasses.replace(TWO_EIGHTS, rated_power=90.0)
    forced = wirings(TWO_EIGHTS, 2, dataclasses.replace(AMPLIFIER, loads=((2.0, 300.0), (8.0, 90.0))))
    gentle = why_wired(
        forced[-1], driver=low, amplifier=dataclasses.replace(AMPLIFIER, loads=((2.0, 150.0), (8.0, 90.0)))
    )
    assert "8 Ω draws 90 W, as the job asks for." in gentle
    large = dataclasses.replace(SINGLE, rated_power=600.0)
    (alone,) = wirings(large, 1, AMPLIFIER)
    assert why_wired(alone, driver=large, amplifier=AMPLIFIER) == "Single coil: 4 Ω draws 500 W."
    dual = dataclasses.replace(DUAL, coil_impedance=1.0, rated_power=900.0)
    (alone,) = wirings(dual, 1, AMPLIFIER)
    assert "800 W, the only load that the amplifier may drive." in why_wired(alone, driver=dual, amplifier=AMPLIFIER)
    forced = wirings(TWO_EIGHTS, 2, AMPLIFIER)[0]
    told = why_wired(forced, driver=TWO_EIGHTS, amplifier=AMPLIFIER)
    assert "2 Ω draws 800 W, while the drivers are rated for 400 W: the gain has to stay down." in told
    assert "Drivers in series, 8 Ω would draw 250 W." in told


def test_a_load_that_the_amplifier_may_not_drive_is_said_too() -> None:
    """User's promise: why not lower, where coils in parallel could burn the amplifier."""
    best = best_wiring(wirings(dataclasses.replace(DUAL, coil_impedance=1.0), 1, AMPLIFIER))
    assert best is not None
    told = why_wired(best, driver=dataclasses.replace(DUAL, coil_impedance=1.0), amplifier=AMPLIFIER)
    assert "Down to 0.5 Ω could be wired, but the amplifier drives 2 Ω or more." in told


def test_wirings_are_allowed_by_how_coils_and_drivers_are_joined_and_by_load() -> None:
    """Contract: what is alone is joined in no way, and equal loads are one wiring."""
    every = wirings(DUAL, 4, dataclasses.replace(AMPLIFIER, lowest_load=0.1, loads=((0.1, 100.0),)))
    only = allowed(every, coils=("series",), drivers=("mixed",))
    assert {(each.coils, each.join) for each in only} == {("series", "mixed")}
    single = wirings(TWO_EIGHTS, 1, AMPLIFIER)
    assert allowed(single, coils=(), drivers=()) == single
    loads = [each.load for each in different(every)]
    assert len(loads) == len(set(loads)) < len(every)
    (load,) = {each.load for each in allowed(every, coils=COIL_JOINS, drivers=DRIVER_JOINS, load=loads[0])}
    assert load == loads[0]


def test_four_coils_of_a_driver_may_stand_in_two_strings_of_two() -> None:
    """First principles: load and resistance are those of one coil, a quarter of those in series."""
    driver = dataclasses.replace(DUAL, coils=4, coil_impedance=2.0, re=0.4, stated_wiring="parallel")
    parallel, mixed, series = networks(driver, 1)
    assert [each.load for each in (parallel, mixed, series)] == [0.5, 2.0, 8.0]
    assert [each.resistance for each in (parallel, mixed, series)] == pytest.approx([0.4, 1.6, 6.4])
    assert mixed.words == "coils in 2 strings of 2"
