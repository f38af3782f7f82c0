"""The circuit at full power: its limits, its books, and its single answer."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pytest
from scipy.optimize import brentq

from engine.acoustics.circuit import Systems, respond
from engine.acoustics.inductance import lossy_from_sheet
from engine.acoustics.large_signal import LargeResponse, compression_db, respond_large, respond_until
from engine.acoustics.limits import LIMITS, max_output
from engine.acoustics.travel import motor_bend, stiffness_bend
from tests.acoustics import drawn
from tests.core.uncompiled import uncompiled

FREQUENCY = np.geomspace(10.0, 200.0, 31)
SPEED_LIMIT = 17.0
KEPT = ("drive", "pressure", "excursion", "vent_speed", "radiator_excursion", "impedance", "heat", "coil_rise")


def column(values: np.ndarray) -> np.ndarray:
    return values[:, np.newaxis]


def ratios(systems: Systems, found: LargeResponse) -> np.ndarray:
    """Amplitude over what each limit allows, in the order of LIMITS."""
    radiators = np.where(systems.radiating, systems.radiator_xmax, np.inf)
    return np.stack(
        [
            found.drive,
            np.sqrt(found.heat / column(systems.rated_power)),
            found.excursion / column(systems.xmax),
            found.vent_speed / SPEED_LIMIT,
            found.radiator_excursion / column(radiators),
        ]
    )


def test_without_effects_it_is_the_linear_circuit() -> None:
    """Independent implementation: every quantity, the impedance's phase too."""
    systems = drawn.systems(200, seed=31, passive=0.3, highest_q=2.0, thin=True, lossy_coils=0.3)
    large, linear = respond_large(systems, frequency=FREQUENCY), respond(systems, frequency=FREQUENCY)
    np.testing.assert_allclose(large.pressure, np.abs(linear.pressure), rtol=1e-8)
    np.testing.assert_allclose(large.impedance, linear.impedance, rtol=1e-8)
    np.testing.assert_allclose(large.excursion, math.sqrt(2.0) * linear.excursion, rtol=1e-8)
    np.testing.assert_allclose(large.vent_speed, math.sqrt(2.0) * linear.vent_speed, rtol=1e-8)
    np.testing.assert_allclose(large.radiator_excursion, math.sqrt(2.0) * linear.radiator_excursion, rtol=1e-8)
    np.testing.assert_allclose(large.heat, systems.re[:, np.newaxis] * linear.current**2, rtol=1e-8)
    np.testing.assert_array_equal(large.coil_rise, 0.0)


def test_a_whisper_is_linear() -> None:
    """Analytic limit: at a millionth of the voltage nothing has grown, even in boxes with no loss at all."""
    systems = drawn.at_full_power(100, seed=32, passive=0.3, thin=True)
    soft = dataclasses.replace(systems, voltage=1e-6 * systems.voltage)

    def lost(some: Systems) -> np.ndarray:
        linear = respond(some, frequency=FREQUENCY).pressure
        return compression_db(respond_large(some, frequency=FREQUENCY), linear)

    assert np.max(np.abs(lost(soft))) < 0.02
    assert np.max(np.abs(lost(systems))) > 3.0


def test_power_in_is_power_lost() -> None:
    """Conservation law: coil, suspension, vent's jet, radiators and leak take what the amplifier gives."""
    systems = drawn.at_full_power(150, seed=33, passive=0.3)
    systems = dataclasses.replace(systems, l2=np.zeros(150), qa=np.full(150, np.inf))
    full = respond_large(systems, frequency=FREQUENCY)
    omega = 2.0 * math.pi * FREQUENCY
    taken = full.current**2 * full.impedance.real
    velocity2 = 0.5 * (omega * full.excursion) ** 2
    pressure = np.abs(full.pressure) * 2.0 * math.pi / (systems.air.rho * omega**2 * column(systems.cab))
    leak = column(systems.omega_b * systems.cab / systems.ql) * pressure**2
    opening = column(np.where(systems.vented, systems.vent_count * systems.vent_area, 0.0))
    jet = 0.5 * systems.air.rho * 1.75 * full.vent_speed**3 * 4.0 / (3.0 * math.pi) * opening
    mass = 1.0 / (systems.omega_b**2 * systems.cab)
    wall = 0.5 * column(systems.omega_b * mass / systems.qp) * (full.vent_speed * opening) ** 2
    wall = np.where(column(systems.vented), wall, 0.0)
    pushed = 0.5 * column(systems.radiator_count * systems.radiator_rms) * (omega * full.radiator_excursion) ** 2
    pushed = np.where(column(systems.radiating), pushed, 0.0)
    lost = full.heat + column(systems.rms) * velocity2 + (leak + jet + wall + pushed) / column(systems.count)
    sane = full.excursion < column(systems.xmax)  # beyond, the motor's floor may hold
    np.testing.assert_allclose(taken[sane], lost[sane], rtol=1e-7)
    assert np.any(jet[sane] > 0.2 * lost[sane])
    assert np.any(pushed[sane] > 0.1 * lost[sane])


def test_the_coils_heat_is_its_own() -> None:
    """Independent implementation: the linear circuit with the warm resistance put in gives the same answer."""
    systems = drawn.systems(60, seed=34, passive=0.3)
    systems = dataclasses.replace(systems, thermal=150.0 / systems.rated_power)
    frequency = np.array([35.0])
    large = respond_large(systems, frequency=frequency)
    hot = systems.re * (1.0 + systems.coefficient * large.coil_rise[:, 0])
    warm = respond(dataclasses.replace(systems, re=hot), frequency=frequency)
    np.testing.assert_allclose(large.pressure, np.abs(warm.pressure), rtol=1e-8)
    np.testing.assert_allclose(large.coil_rise[:, 0], systems.thermal * hot * warm.current[:, 0] ** 2, rtol=1e-8)


@pytest.mark.parametrize("thin", [False, True])
def test_the_vents_loss_is_its_own(thin: bool) -> None:
    """Independent implementation: brentq on qp of the linear circuit until qp is what its own air speed makes it."""
    systems = drawn.systems(60, seed=35, thin=thin)
    systems = systems.take(systems.vented)
    frequency = np.array([32.0])
    jets = dataclasses.replace(systems, vent_loss=np.full(len(systems), 1.75))
    large = respond_large(jets, frequency=frequency)
    for row in range(len(systems)):
        one = systems.take(slice(row, row + 1))
        mass = 1.0 / (one.omega_b**2 * one.cab)
        opening = one.vent_count * one.vent_area

        def at(speed: float, one: Systems = one, mass: np.ndarray = mass, opening: np.ndarray = opening) -> float:
            added = 4.0 / (3.0 * math.pi) * one.air.rho * 1.75 * speed / opening
            worse = dataclasses.replace(one, qp=one.omega_b * mass / (one.omega_b * mass / one.qp + added))
            return math.sqrt(2.0) * float(respond(worse, frequency=frequency).vent_speed[0, 0]) - speed

        assert float(large.vent_speed[row, 0]) == pytest.approx(brentq(at, 1e-9, 1e4, xtol=1e-10), rel=1e-7)


def test_a_vent_driven_very_hard_goes_with_the_root_of_the_drive() -> None:
    """Analytic limit: where the jet is all there is at the tuning, twice the speed takes four times the pressure."""
    systems = Systems.of(
        drawn.drivers(np.random.default_rng(1), 1),
        volume=0.06,
        voltage=1e4,
        tuning=30.0,
        vent_count=1,
        vent_area=1e-4,
        vent_loss=1.75,
    )
    frequency = np.array([30.0])
    once = respond_large(systems, frequency=frequency)
    more = dataclasses.replace(systems, voltage=np.array([4e4]))
    grown = respond_large(more, frequency=frequency).vent_speed / once.vent_speed
    assert float(grown[0, 0]) == pytest.approx(2.0, abs=0.02)


def test_the_drive_is_met_and_every_limit_kept() -> None:
    """Promise: at the answer the greatest ratio is 1, and none passes it."""
    systems = drawn.at_full_power(200, seed=36, passive=0.3, thin=True)
    _, codes, found = max_output(systems, frequency=FREQUENCY, vent_speed_limit=SPEED_LIMIT)
    each = ratios(systems, found)
    np.testing.assert_allclose(each.max(axis=0), 1.0, rtol=1e-9)
    np.testing.assert_allclose(np.take_along_axis(each, codes[np.newaxis], axis=0), 1.0, rtol=1e-9)
    assert set(np.unique(codes)) == set(range(len(LIMITS)))


def test_up_to_xmax_a_voltage_has_one_answer() -> None:
    """Conservation of sense, by scan: to move further takes more voltage, 4600 points of every kind of box.

    So the largest drive that breaks no limit is where bisection finds it.
    """
    systems = drawn.at_full_power(150, seed=37, passive=0.3, thin=True)
    before: LargeResponse | None = None
    for share in np.exp(np.linspace(-6.0, 0.0, 121)):
        now = respond_until(systems, {"excursion": (share * systems.xmax) ** -2.0}, frequency=FREQUENCY)
        np.testing.assert_allclose(now.excursion, np.broadcast_to(column(share * systems.xmax), now.excursion.shape))
        if before is not None:
            # A coil that would run away takes an endless voltage already.
            assert np.all((now.drive > before.drive)[np.isfinite(before.drive)])
        before = now


def test_a_lossy_coil_is_in_the_impedance() -> None:
    """Conservation law: far above resonance what the terminals see is re and the coil, loss included."""
    systems = dataclasses.replace(drawn.systems(20, seed=38), le=np.zeros(20), l2=np.zeros(20))
    law = lossy_from_sheet(le=1.5e-3, n=0.7)
    high = np.array([20e3])
    stated = {name: np.full(20, float(value)) for name, value in vars(law).items()}
    bare = respond_large(systems, frequency=high).impedance
    lossy = respond_large(dataclasses.replace(systems, **stated), frequency=high).impedance
    omega = 2.0 * math.pi * high
    expected = law.resistance(omega) + 1j * law.reactance(omega)
    np.testing.assert_allclose(lossy - bare, np.full((20, 1), expected), rtol=1e-6)


def test_each_effect_does_what_it_is_known_for() -> None:
    """Published symptoms (Klippel 2006; Button 1992): a stiffer suspension moves less, a weaker motor gives less."""
    systems = drawn.systems(80, seed=39)
    low = np.array([12.0])
    linear = respond(systems, frequency=low)
    stiff = dataclasses.replace(systems, k2=stiffness_bend(share=0.75, xmax=systems.xmax))
    closed = ~systems.vented
    assert np.all(respond_large(stiff, frequency=low).excursion[closed] < math.sqrt(2.0) * linear.excursion[closed])
    weak = dataclasses.replace(systems, bl2=motor_bend(share=0.82, xmax=systems.xmax))
    assert np.all(respond_large(weak, frequency=low).excursion[closed] < math.sqrt(2.0) * linear.excursion[closed])


def test_a_boost_drives_no_harder_than_the_amplifier() -> None:
    """Promise: where the chain raises the signal the drive stays full, and so does everything that follows from it."""
    systems = drawn.at_full_power(40, seed=41)
    boosted = dataclasses.replace(
        systems,
        filter_order=np.full(40, 2.0),
        filter_hz=np.full(40, 30.0),
        filter_q=np.full(40, 2.0),
    )
    flat = dataclasses.replace(systems, filter_order=np.zeros(40))
    at = np.array([32.0])  # |H| is above 1
    np.testing.assert_allclose(
        respond_large(boosted, frequency=at).excursion, respond_large(flat, frequency=at).excursion, rtol=1e-8
    )


def test_rows_without_sense_are_nan_and_leave_others_alone() -> None:
    """Contract of Systems: nothing is validated, a bad row is nan."""
    systems = drawn.at_full_power(4, seed=40)
    broken = dataclasses.replace(systems, volume=np.array([np.nan, *systems.volume[1:]]))
    alone, beside = (respond_large(each, frequency=FREQUENCY) for each in (systems, broken))
    assert np.all(np.isnan(beside.excursion[0]))
    np.testing.assert_allclose(beside.excursion[1:], alone.excursion[1:], rtol=1e-12)


def test_a_coil_that_runs_away_does_not_hide_the_answer() -> None:
    """Conservation: full drive is full drive, with a motor as bent as may be stated and five times the power."""
    systems = drawn.at_full_power(300, seed=39)
    bent = dataclasses.replace(
        systems,
        voltage=4.0 * systems.voltage,
        bl2=motor_bend(share=0.3, xmax=systems.xmax),
        k2=stiffness_bend(share=0.2, xmax=systems.xmax),
    )
    found = respond_large(bent, frequency=FREQUENCY)
    np.testing.assert_allclose(found.drive, 1.0, rtol=1e-6)
    assert np.all(np.isfinite(found.pressure))


def settled() -> dict[str, np.ndarray]:
    """What a few systems of every kind of box do at full drive and at their first limit."""
    systems = drawn.at_full_power(6, seed=44, passive=0.3, thin=True)
    few = FREQUENCY[::6]
    full = respond_large(systems, frequency=few)
    most = max_output(systems, frequency=few, vent_speed_limit=SPEED_LIMIT)[2]
    return {f"{name} {each}": getattr(found, each) for name, found in (("full", full), ("most", most)) for each in KEPT}


def test_plain_python_settles_at_the_same(tmp_path: Path) -> None:
    """Independent implementation: the same functions run by Python itself, in a process where nothing is compiled."""
    plain = uncompiled(__name__, settled.__name__, tmp_path)
    for name, expected in settled().items():
        np.testing.assert_allclose(plain[name], expected, rtol=1e-9, err_msg=name)
