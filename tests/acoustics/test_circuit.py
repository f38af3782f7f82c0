"""The circuit against its slow twin, against its closed real form, and in its limits."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.acoustics import filters
from engine.acoustics.circuit import SHARED, Systems, driver_figures, respond
from engine.acoustics.filters import NO_CHAIN, Chain
from engine.acoustics.squares import Squares
from engine.air import REFERENCE_AIR, Air, air_at
from engine.parts import Driver
from tests.acoustics import drawn, scalar_twin

Floats = NDArray[np.float64]
FILTER_FIELDS = {"order": "order", "cutoff": "hz", "q": "q", "q2": "q2"}
FREQUENCY = np.geomspace(10.0, 200.0, 41)
DRIVER = Driver(
    name="invented",
    fs=28.0,
    qes=0.5,
    qms=6.0,
    vas=0.09,
    sd=0.05,
    re=3.2,
    le=1.5e-3,
    xmax=0.012,
    rated_power=400.0,
)
VENT = {"tuning": 32.0, "vent_count": 2, "vent_area": 3e-3}


@pytest.mark.parametrize("air", [REFERENCE_AIR, air_at(temperature_k=268.15, altitude_m=1800.0)])
def test_every_quantity_agrees_with_the_scalar_twin(air: Air) -> None:
    """Independent implementation: plain loops over the acoustical analogous circuit."""
    systems = drawn.systems(60, seed=1, air=air, passive=0.4, highest_q=2.0, thin=True, lossy_coils=0.5)
    assert systems.radiating.sum() > 10
    full = respond(systems, frequency=FREQUENCY)
    bare = respond(systems, frequency=FREQUENCY, coil_inductance=False)
    for row in range(len(systems)):
        twin = scalar_twin.twin_of(systems, row)
        for column, frequency in enumerate(FREQUENCY):
            point = scalar_twin.solve(twin, float(frequency))
            place = (row, column)
            assert full.pressure[place] == pytest.approx(point.pressure, rel=1e-9)
            assert full.excursion[place] == pytest.approx(point.excursion, rel=1e-9)
            assert full.vent_speed[place] == pytest.approx(point.vent_speed, rel=1e-9)
            assert full.radiator_excursion[place] == pytest.approx(point.radiator_excursion, rel=1e-9)
            assert full.current[place] == pytest.approx(point.current, rel=1e-9)
            assert full.impedance[place] == pytest.approx(point.impedance, rel=1e-9)
            alone = scalar_twin.solve(twin, float(frequency), coil_inductance=False)
            assert bare.pressure[place] == pytest.approx(alone.pressure, rel=1e-9)


CROSSOVER = Chain(low_pass_order=2, low_pass_hz=90.0, low_pass_q=0.8, band_hz=35.0, band_db=4.0, band_q=1.5)


@pytest.mark.parametrize("chain", [NO_CHAIN, CROSSOVER])
@pytest.mark.parametrize("passive", [0.0, 0.4])
@pytest.mark.parametrize("losses", [True, False])
@pytest.mark.parametrize(("thin", "lossy_coils"), [(False, 0.0), (True, 0.0), (True, 0.5)])
def test_the_closed_real_form_agrees_with_the_complex_one(
    thin: bool, lossy_coils: float, losses: bool, passive: float, chain: Chain
) -> None:
    """Independent implementation: polynomials in ω² against complex impedances, to 1e-9 or 1e-12 of the curve's top.

    A filter of its own Q and a chain with a boost are in half of them, passive radiators in half.
    """
    highest_q = None if chain is NO_CHAIN else 2.0
    systems = drawn.systems(
        1000, seed=2, losses=losses, passive=passive, highest_q=highest_q, thin=thin, lossy_coils=lossy_coils
    )
    systems = dataclasses.replace(systems, chain=chain)
    grid = np.geomspace(10.0, 200.0, 64)
    full = respond(systems, frequency=grid)
    squares = Squares(systems)

    def close(ours: Floats, theirs: Floats) -> None:
        # Where two parts cancel only the larger one's digits are left.
        assert np.all(np.abs(ours - theirs) <= 1e-9 * theirs + 1e-12 * theirs.max(axis=1, keepdims=True))

    reference = systems.reference_pressure[:, np.newaxis]
    for at in (
        squares.at(np.log(grid)[:, np.newaxis]),  # one grid for all
        squares.at(np.repeat(np.log(grid)[:, np.newaxis], len(systems), axis=1)),  # one each
    ):
        close(at.pressure.T, np.abs(full.pressure) ** 2)
        close(at.excursion.T, 2.0 * full.excursion**2)
        close(at.vent_speed.T, 2.0 * full.vent_speed**2)
        close(at.radiator_excursion.T, 2.0 * full.radiator_excursion**2)
        close(at.heat.T, systems.re[:, np.newaxis] * full.current**2)
        # f3 does not know of the crossover, nor of the amplifier's full voltage.
        unfiltered = dataclasses.replace(systems, filter_order=np.zeros(1000), chain=NO_CHAIN)
        bare = respond(unfiltered, frequency=grid, coil_inductance=False)
        signal = dataclasses.replace(chain, low_pass_order=0).response(grid) * filters.response(
            grid,
            **{name: getattr(systems, f"filter_{field}")[:, np.newaxis] for name, field in FILTER_FIELDS.items()},
        )
        expected = np.abs(bare.pressure / reference * signal) ** 2
        close((at.response / at.filter_loss).T, expected)


def test_power_in_is_power_lost() -> None:
    """Conservation law: in a lossless box only the coil's and the suspension's resistances take power."""
    lossless = drawn.systems(200, seed=3, losses=False)
    systems = dataclasses.replace(lossless, l2=np.zeros(200))
    full = respond(systems, frequency=FREQUENCY)
    velocity = full.excursion * 2.0 * math.pi * FREQUENCY
    taken = full.current**2 * full.impedance.real
    lost = full.current**2 * systems.re[:, np.newaxis] + velocity**2 * systems.rms[:, np.newaxis]
    np.testing.assert_allclose(taken, lost, rtol=1e-9)


def test_flow_into_the_box_is_flow_of_the_drivers() -> None:
    """Conservation law: without leak, n·sd·u divides between compliance and vent, which are in quadrature."""
    systems = drawn.systems(200, seed=4, losses=False)
    full = respond(systems, frequency=FREQUENCY)
    w = 2.0 * math.pi * FREQUENCY
    cones = (systems.count * systems.sd)[:, np.newaxis] * full.excursion * w
    compliance = np.abs(full.pressure) * 2.0 * math.pi / (systems.air.rho * w)
    vents = np.where(systems.vented, systems.vent_count * systems.vent_area, 0.0)[:, np.newaxis] * full.vent_speed
    # Compliance and mass in parallel carry opposite flows, so the sizes subtract.
    np.testing.assert_allclose(cones, np.abs(compliance - vents), rtol=1e-8, atol=1e-9)


def test_a_closed_box_resonates_where_the_driver_meets_the_box() -> None:
    """Published relation (Small 1972): fc = fs·sqrt(1 + alpha), alpha of filled box and scenario air."""
    air = air_at(temperature_k=303.15, altitude_m=1500.0)
    systems = Systems.of(DRIVER, volume=0.04, voltage=1.0, count=2, filling=1.2, air=air)
    alpha = 2.0 * DRIVER.vas * (air.stiffness / REFERENCE_AIR.stiffness) / (1.2 * 0.04)
    assert systems.omega_b[0] / (2.0 * math.pi) == pytest.approx(28.0 * math.sqrt(1.0 + alpha), rel=1e-12)
    # Without losses the impedance is real there and at its highest, re(1 + qms/qes) of the box.
    bare = respond(systems, frequency=systems.omega_b / (2.0 * math.pi), coil_inductance=False)
    assert bare.impedance[0, 0].imag == pytest.approx(0.0, abs=1e-9)
    assert bare.impedance[0, 0].real == pytest.approx(3.2 * (1.0 + 6.0 / 0.5), rel=1e-12)


def test_losses_of_a_closed_box_are_taken_at_its_own_resonance() -> None:
    """Contract: ωb of a closed box is its own resonance, so at fc the leak is ql times the box's reactance."""
    leaky = Systems.of(DRIVER, volume=0.04, voltage=1.0, ql=5.0)
    fc = leaky.omega_b / (2.0 * math.pi)
    full = respond(leaky, frequency=fc)
    velocity = full.excursion * leaky.omega_b
    inflow = leaky.sd * velocity
    stored = np.abs(full.pressure) * 2.0 * math.pi / (leaky.air.rho * leaky.omega_b)
    # Currents in quadrature: |inflow|² = |stored|²·(1 + 1/ql²).
    assert float(inflow[0, 0] / stored[0, 0]) == pytest.approx(math.sqrt(1.0 + 1.0 / 25.0), rel=1e-12)


def test_a_huge_ql_is_no_leak_and_a_tiny_one_no_box() -> None:
    """Analytic limits of the leak."""
    tight = respond(Systems.of(DRIVER, volume=0.05, voltage=10.0, ql=math.inf, **VENT), frequency=FREQUENCY)
    nearly = respond(Systems.of(DRIVER, volume=0.05, voltage=10.0, ql=1e12, **VENT), frequency=FREQUENCY)
    np.testing.assert_allclose(nearly.pressure, tight.pressure, rtol=1e-8)
    open_ = respond(Systems.of(DRIVER, volume=0.05, voltage=10.0, ql=1e-12), frequency=FREQUENCY)
    free = respond(Systems.of(DRIVER, volume=1e9, voltage=10.0), frequency=FREQUENCY)
    np.testing.assert_allclose(open_.impedance, free.impedance, rtol=1e-8)
    np.testing.assert_allclose(open_.excursion, free.excursion, rtol=1e-8)


@pytest.mark.parametrize("loss", ["qa", "qp"])
def test_huge_absorption_and_vent_q_are_no_loss(loss: str) -> None:
    """Analytic limit."""
    without = respond(Systems.of(DRIVER, volume=0.05, voltage=10.0, **VENT), frequency=FREQUENCY)
    nearly = respond(Systems.of(DRIVER, volume=0.05, voltage=10.0, **{loss: 1e12}, **VENT), frequency=FREQUENCY)
    np.testing.assert_allclose(nearly.pressure, without.pressure, rtol=1e-8)
    some = respond(Systems.of(DRIVER, volume=0.05, voltage=10.0, **{loss: 10.0}, **VENT), frequency=FREQUENCY)
    assert np.max(np.abs(some.pressure / without.pressure)) < 1.0 + 1e-3
    assert np.min(np.abs(some.pressure / without.pressure)) < 0.95


def test_a_vent_tuned_to_nothing_is_a_closed_box() -> None:
    """Analytic limit: the vent's mass goes to infinity."""
    closed = respond(Systems.of(DRIVER, volume=0.05, voltage=10.0), frequency=FREQUENCY)
    plugged = respond(
        Systems.of(DRIVER, volume=0.05, voltage=10.0, ql=math.inf, tuning=1e-4, vent_count=1, vent_area=1e-12),
        frequency=FREQUENCY,
    )
    np.testing.assert_allclose(plugged.pressure, closed.pressure, rtol=1e-8)
    np.testing.assert_allclose(plugged.impedance, closed.impedance, rtol=1e-8)
    np.testing.assert_array_equal(closed.vent_speed, 0.0)


def test_two_drivers_are_one_in_half_the_box_and_six_decibel_more() -> None:
    """Analytic limit (symmetry): a wall between two identical drivers changes nothing; +6.02 dB."""
    for number in (2, 3, 4):
        one = Systems.of(DRIVER, volume=0.05, voltage=10.0, ql=7.0, tuning=32.0, vent_count=1, vent_area=2e-3)
        several = Systems.of(
            DRIVER,
            count=number,
            volume=0.05 * number,
            voltage=10.0,
            ql=7.0,
            tuning=32.0,
            vent_count=number,
            vent_area=2e-3,
        )
        alone, together = respond(one, frequency=FREQUENCY), respond(several, frequency=FREQUENCY)
        np.testing.assert_allclose(together.pressure, number * alone.pressure, rtol=1e-12)
        np.testing.assert_allclose(together.excursion, alone.excursion, rtol=1e-12)
        np.testing.assert_allclose(together.vent_speed, alone.vent_speed, rtol=1e-12)
        np.testing.assert_allclose(together.impedance, alone.impedance, rtol=1e-12)
    assert 20.0 * math.log10(2.0) == pytest.approx(6.02, abs=0.005)


def test_drive_scales_everything_but_the_impedance() -> None:
    """Scaling law of a linear circuit."""
    systems = drawn.systems(50, seed=5)
    louder = dataclasses.replace(systems, voltage=3.0 * systems.voltage)
    before, after = respond(systems, frequency=FREQUENCY), respond(louder, frequency=FREQUENCY)
    for name in ("pressure", "excursion", "vent_speed", "current"):
        np.testing.assert_allclose(getattr(after, name), 3.0 * getattr(before, name), rtol=1e-12)
    np.testing.assert_array_equal(after.impedance, before.impedance)


def test_frequency_scales_with_the_resonances() -> None:
    """Scaling law: fs and fb times k at the same Q and alpha moves the response along by k."""
    k = 1.7
    faster = dataclasses.replace(DRIVER, fs=DRIVER.fs * k)
    before = Systems.of(DRIVER, volume=0.05, voltage=10.0, tuning=32.0, vent_count=1, vent_area=2e-3)
    after = Systems.of(faster, volume=0.05, voltage=10.0, tuning=32.0 * k, vent_count=1, vent_area=2e-3)
    low = respond(before, frequency=FREQUENCY, coil_inductance=False).pressure
    high = respond(after, frequency=FREQUENCY * k, coil_inductance=False).pressure
    ratio = high / after.reference_pressure / (low / before.reference_pressure)
    np.testing.assert_allclose(ratio, 1.0, rtol=1e-12)


def test_well_above_resonance_the_level_is_the_reference() -> None:
    """Analytic limit: the high-frequency asymptote without coil inductance, losses of the air included."""
    systems = drawn.systems(50, seed=6, losses=False)
    high = respond(systems, frequency=np.array([1e5]), coil_inductance=False)
    np.testing.assert_allclose(np.abs(high.pressure[:, 0]), systems.reference_pressure, rtol=1e-4)


def test_a_shorted_lossy_section_is_none() -> None:
    """Analytic limit: r2 = 0 shorts l2; a huge r2 puts l2 in series with le."""
    plain = Systems.of(DRIVER, volume=0.05, voltage=10.0)
    shorted = dataclasses.replace(plain, l2=np.array([2e-3]))
    series = dataclasses.replace(shorted, r2=np.array([1e12]))
    sum_ = dataclasses.replace(plain, le=plain.le + 2e-3)
    expected = respond(plain, frequency=FREQUENCY).impedance
    np.testing.assert_array_equal(respond(shorted, frequency=FREQUENCY).impedance, expected)
    np.testing.assert_allclose(
        respond(series, frequency=FREQUENCY).impedance,
        respond(sum_, frequency=FREQUENCY).impedance,
        rtol=1e-9,
    )


def test_systems_of_broadcasts_and_takes() -> None:
    """Shape contract: one driver or many, numbers or arrays, all come out as (N,)."""
    systems = Systems.of(DRIVER, volume=[0.03, 0.04, 0.05], voltage=10.0, vent_count=[0, 1, 2], tuning=30.0)
    assert len(systems) == 3
    for item in dataclasses.fields(systems):
        if item.name not in SHARED:
            assert getattr(systems, item.name).shape == (3,), item.name
    np.testing.assert_array_equal(systems.ql, [math.inf, 7.0, 7.0])
    np.testing.assert_array_equal(systems.take(np.array([2, 0])).volume, [0.05, 0.03])
    np.testing.assert_array_equal(systems.take(systems.vented).volume, [0.04, 0.05])
    assert len(Systems.of([DRIVER, DRIVER], volume=0.03, voltage=10.0)) == 2
    assert len(Systems.of(DRIVER, volume=0.03, voltage=10.0)) == 1


def test_a_driver_brings_what_it_does_at_full_power() -> None:
    """Contract: estimates where nothing is stated, parabolas through stated shares, le in the power law or in le."""
    plain = driver_figures(DRIVER)
    assert plain["thermal"] == pytest.approx(150.0 / 400.0)
    assert plain["coefficient"] == 3.93e-3
    assert plain["le"] == 1.5e-3
    assert all(plain[name] == 0.0 for name in ("bl2", "bl4", "k2", "k4", "kr", "ki"))
    stated = dataclasses.replace(
        DRIVER,
        thermal_resistance=0.5,
        coil_metal="aluminium",
        bl_at_xmax=0.8,
        cms_at_xmax=0.7,
        inductance_exponent=0.5,
    )
    found = driver_figures(stated)
    assert found["thermal"] == 0.5
    assert found["coefficient"] == 4.03e-3
    assert 1.0 + found["bl2"] * 0.012**2 == pytest.approx(0.8)
    assert 1.0 / (1.0 + found["k2"] * 0.012**2) == pytest.approx(0.7)
    assert found["le"] == 0.0
    assert found["ki"] * (2000.0 * math.pi) ** 0.5 == pytest.approx(1.5e-3 * 2000.0 * math.pi)
    assert found["kr"] == pytest.approx(found["ki"])
    wright = driver_figures(
        dataclasses.replace(
            DRIVER, le=0.0, inductance_kr=0.01, inductance_xr=0.6, inductance_ki=0.02, inductance_xi=0.7
        )
    )
    assert [wright[name] for name in ("le", "kr", "xr", "ki", "xi")] == [0.0, 0.01, 0.6, 0.02, 0.7]
    np.testing.assert_array_equal(Systems.of(stated, volume=[0.03, 0.04], voltage=1.0).bl2, found["bl2"])


def test_inertia_of_the_air_in_a_box() -> None:
    """Analytic limits: a shared inertance changes nothing in the openings' resonance; a cone gets heavier.

    Lossless, cones as good as held by a heavy mass: the impedance of the open box vanishes at the true tuning,
    whatever share of the mass is mutual.  ``air_mass`` is a mass on the cone like any other.
    """
    heavy = dataclasses.replace(DRIVER, fs=1.0, vas=0.001)
    shares = np.array([-0.3, 0.0, 0.3])
    box = Systems.of(heavy, volume=0.05, voltage=1.0, ql=math.inf, tuning=32.0, vent_count=1, vent_area=3e-3)
    mutual = shares / float(box.omega_b[0] ** 2 * box.cab[0])
    thin = Systems.of(
        heavy, volume=0.05, voltage=1.0, ql=math.inf, tuning=32.0, vent_count=1, vent_area=3e-3, mutual=mutual
    )
    around = np.linspace(30.0, 34.0, 4001)
    fastest = around[np.argmax(respond(thin, frequency=around).vent_speed, axis=1)]
    np.testing.assert_allclose(fastest, 32.0, atol=2e-3)
    np.testing.assert_allclose(thin.branch.bottom[1], 1.0 - shares)

    added = 0.02
    carried = Systems.of(DRIVER, volume=0.05, voltage=1.0, air_mass=added, **VENT)
    heavier = dataclasses.replace(carried, mms=carried.mms + added, air_mass=np.zeros(1))
    for name in ("pressure", "excursion", "impedance"):
        np.testing.assert_allclose(
            getattr(respond(carried, frequency=FREQUENCY), name), getattr(respond(heavier, frequency=FREQUENCY), name)
        )
    # The level that f3 is taken against stays that of the driver alone.
    assert carried.reference_pressure[0] > heavier.reference_pressure[0]


def test_each_system_may_have_its_own_frequencies() -> None:
    """Shape contract: (F,) for all and (N, F) for each agree."""
    systems = drawn.systems(5, seed=7)
    own = np.array([FREQUENCY * (1.0 + 0.1 * i) for i in range(5)])
    together = respond(systems, frequency=own)
    for row in range(5):
        alone = respond(systems.take(slice(row, row + 1)), frequency=own[row])
        np.testing.assert_array_equal(together.pressure[row], alone.pressure[0])


def test_a_row_that_makes_no_sense_stays_alone() -> None:
    """Nan in, nan out in that row only, without a warning (warnings are errors here)."""
    systems = drawn.systems(6, seed=8)
    volume = systems.volume.copy()
    volume[[1, 3, 5]] = [-1.0, 0.0, np.nan]
    broken = respond(dataclasses.replace(systems, volume=volume), frequency=FREQUENCY)
    whole = respond(systems, frequency=FREQUENCY)
    np.testing.assert_array_equal(broken.pressure[[0, 2, 4]], whole.pressure[[0, 2, 4]])
    assert not np.any(np.isfinite(broken.pressure[5]))
