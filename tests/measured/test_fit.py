"""What sweeps come to: by an independent simulator's noisy sweeps, by published formulas, and what is refused."""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import replace

import numpy as np
import pytest

from engine.acoustics.circuit import Systems
from engine.arrays import Floats
from engine.derived import moving_mass
from engine.errors import InputFaults
from engine.measured.fit import Fit, fit
from engine.measured.peaks import landmarks
from engine.measured.sweep import Sweep
from engine.measured.taken import Taken, in_box, in_closed_box, in_free_air
from engine.parts import Driver
from tests.acoustics import scalar_twin
from tests.measured.invented import as_built, foreseen, swept, taken_of

SWEEPS = 12
HZ = np.geomspace(8.0, 400.0, 160)
# The data sheet of a 5.5-inch woofer in a university's coursework [P], check values, section 6.
WOOFER = Driver(
    name="woofer", fs=60.9, qes=0.796, qms=3.35, vas=7.74e-3, sd=86.59e-4, re=5.9, le=1.01e-3, xmax=3.5e-3,
    rated_power=50.0,
)  # fmt: skip
OAK = Driver(name="oak", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.033, re=4.0, le=1e-3, xmax=0.01, rated_power=300.0)
BOX = Systems.of(OAK, volume=0.07, voltage=1.0, tuning=32.0, vent_count=1, vent_area=5e-3)


def twin_impedance(systems: Systems, hz: Floats) -> Floats:
    """Impedance by the scalar twin, which shares no code with the product."""
    twin = scalar_twin.twin_of(systems, 0)
    return np.array([scalar_twin.solve(twin, float(f)).impedance for f in hz])


def sweep_of(z: Floats, *, hz: Floats = HZ, noise: float = 0.0, phase: bool = False, seed: int = 3) -> Sweep:
    rng = np.random.default_rng(seed)
    size = np.abs(z) * np.exp(noise * rng.normal(size=len(hz)))
    return Sweep(source="a.csv", frequency=hz, magnitude=size, phase=np.angle(z) if phase else None)


def off(done: Fit, name: str, true: float) -> float:
    return abs(done.found[name].value / true - 1.0)


@pytest.fixture(scope="module")
def simulated(
    program: Callable[[str], str], tmp_path_factory: pytest.TempPathFactory
) -> tuple[Systems, Systems, list[Fit]]:
    """Boxes as drawn and as they came out, with what noisy sweeps of the latter by ngspice come to."""
    drawn = foreseen(SWEEPS, seed=5)
    built = as_built(drawn, seed=6)
    hz, impedances = swept(program("ngspice"), tmp_path_factory.mktemp("sweeps"), built)
    return drawn, built, [fit([each]) for each in taken_of(drawn, hz, impedances, noise=0.005, seed=1000)]


def test_tuning_of_simulated_boxes(simulated: tuple[Systems, Systems, list[Fit]]) -> None:
    """Independent implementation, ngspice, 0.5 % of noise: the tuning within 0.5 %, though boxes are 6 % off theirs.

    Of 198 of ``python -m tests.benchmarks.sweeps 200 0.005`` 97.5 % are, and 94.9 % of 95 % intervals hold the truth;
    the five others show one peak only, and their own intervals are as wide.  This is the pinned part of it.
    """
    _, built, fits = simulated
    for row, done in enumerate(fits):
        assert off(done, "tuning", float(built.tuning[row])) < 0.005


def test_intervals_hold_the_truth(simulated: tuple[Systems, Systems, list[Fit]]) -> None:
    """Independent implementation: of 95 % intervals of tuning and resistance, 24 in all, no more than 4 miss.

    More miss in 1 of 200 runs if they are what they say; the benchmark counts them over 200 sweeps.
    """
    _, built, fits = simulated
    missed = sum(
        not done.found[name].low <= float(getattr(built, name)[row]) <= done.found[name].high
        for row, done in enumerate(fits)
        for name in ("tuning", "re")
    )
    assert missed <= 4


def test_free_air_sweep_of_the_published_driver() -> None:
    """Published [P]: a sweep with Zmax 30.8 ohm at 60.9 Hz gives back the sheet's Qs, begun from another's figures.

    Qms = fs·sqrt(r0)/(f2 - f1) and Qes = Qms/(r0 - 1), r0 = Zmax/Re, f1 and f2 where |Z| = Re·sqrt(r0) (Thiele 1971,
    Small 1972, from memory) hold of it too.
    """
    systems = in_free_air(sweep_of(np.ones(160)), Systems.of(WOOFER, volume=1.0, voltage=1.0)).systems
    hz = np.geomspace(15.0, 600.0, 240)
    z = twin_impedance(systems, hz)
    start = replace(WOOFER, fs=55.0, qes=0.95, qms=2.8, re=5.5, le=0.8e-3)
    done = fit([in_free_air(sweep_of(z, hz=hz, noise=0.003), Systems.of(start, volume=1.0, voltage=1.0))])
    for name, true in (("fs", 60.9), ("qes", 0.796), ("qms", 3.35), ("re", 5.9)):
        assert off(done, name, true) < 0.01
    assert not done.found["vas"].told
    (peak,) = done.landmarks[0].peaks
    assert peak.hz == pytest.approx(60.9, rel=0.01)
    assert peak.ohm == pytest.approx(30.8, rel=0.01)
    ratio = peak.ohm / done.found["re"].value
    assert done.found["qms"].value / (ratio - 1.0) == pytest.approx(done.found["qes"].value, rel=0.02)


@pytest.mark.parametrize("way", ["mass", "closed"])
def test_vas_from_two_sweeps(way: str) -> None:
    """Published [P]: added mass and known volume, whose formulas Small 1972 has, give the printed 9.3 g and 7.74 L.

    mms = m/((fs/fs')² - 1) and vas = vb·((fc·qec)/(fs·qes) - 1) are first principles of one resonance each.
    """
    stated = Systems.of(WOOFER, volume=1.0, voltage=1.0)
    start = Systems.of(replace(WOOFER, fs=57.0, vas=6.2e-3, qes=0.9), volume=1.0, voltage=1.0)
    hz = np.geomspace(15.0, 600.0, 240)

    def taken(systems: Systems, sweep: Sweep) -> Taken:
        if way == "mass":
            return in_free_air(sweep, systems, added=5e-3)
        return in_closed_box(sweep, systems, volume=6e-3)

    free = in_free_air(sweep_of(np.ones(240), hz=hz), stated).systems
    other = taken(stated, sweep_of(np.ones(240), hz=hz)).systems
    if way == "mass":
        other = replace(other, mms=other.mms + 5e-3)
    sweeps = [
        sweep_of(twin_impedance(each, hz), hz=hz, noise=0.003, seed=seed) for seed, each in enumerate((free, other))
    ]
    done = fit([in_free_air(sweeps[0], start), taken(start, sweeps[1])])
    assert off(done, "vas", 7.74e-3) < 0.01
    assert done.found["vas"].told
    cms = done.found["vas"].value / (1.2041 * 343.2**2 * WOOFER.sd**2)
    assert moving_mass(done.found["fs"].value, cms) == pytest.approx(9.3e-3, rel=0.015)
    low, high = (each.peaks[0].hz for each in done.landmarks)
    if way == "mass":
        assert 5e-3 / ((low / high) ** 2 - 1.0) == pytest.approx(9.3e-3, rel=0.03)
    else:
        assert 6e-3 * ((high / low) ** 2 - 1.0) == pytest.approx(7.74e-3, rel=0.05)


def test_peaks_of_the_worked_example() -> None:
    """Computed [C], check values, section 5: 17.78, 31.82, 54.01 Hz off a noisy sweep; alpha by Small's peaks."""
    driver = replace(OAK, re=6.0, le=0.0)
    systems = Systems.of(driver, volume=0.07, voltage=1.0, tuning=32.0, vent_count=1, vent_area=5e-3)
    z = twin_impedance(systems, HZ)
    found = landmarks(HZ, sweep_of(z, noise=0.003).magnitude)
    (low, high), (saddle,) = found.peaks, found.saddles
    assert low.hz == pytest.approx(17.78, rel=0.01)
    assert saddle.hz == pytest.approx(31.82, rel=0.01)
    assert high.hz == pytest.approx(54.01, rel=0.01)
    assert found.scatter == pytest.approx(0.003, rel=0.4)
    alpha = (high.hz**2 - saddle.hz**2) * (saddle.hz**2 - low.hz**2) / (high.hz**2 * low.hz**2)
    assert alpha == pytest.approx(1.437, rel=0.05)


def test_a_closed_box_tells_its_resonance_and_leaves_vas() -> None:
    """Analytic limit: one resonance tells no more than fs·sqrt(1 + vas/vb); the data sheet says the rest."""
    stated = Systems.of(OAK, volume=0.07, voltage=1.0)
    other = Systems.of(replace(OAK, fs=33.0), volume=0.07, voltage=1.0)
    done = fit([in_box(sweep_of(twin_impedance(other, HZ), noise=0.003), stated, times=1.0)])
    together = done.found["fs"].value * math.sqrt(1.0 + done.found["vas"].value / 0.07)
    assert together == pytest.approx(33.0 * math.sqrt(1.0 + 0.1 / 0.07), rel=2e-3)
    assert not done.found["vas"].told
    assert "tuning" not in done.found


def test_what_is_held_stays() -> None:
    """Promise: what the user knows is not fitted."""
    z = twin_impedance(BOX, HZ)
    done = fit([in_box(sweep_of(z, noise=0.003), BOX, times=1.0)], hold=["vas", "fs"])
    assert done.found["vas"].held
    assert done.found["vas"].value == pytest.approx(0.1)
    assert off(done, "tuning", 32.0) < 0.005


def test_drivers_in_series_are_measured_together() -> None:
    """First principles: two drivers in series have twice one's impedance, in parallel half of it."""
    two = replace(BOX, count=np.array([2.0]))
    z = twin_impedance(two, HZ)
    for times in (2.0, 0.5):
        done = fit([in_box(sweep_of(times * z, noise=0.003), two, times=times)])
        assert off(done, "re", 4.0) < 0.01


def test_points_far_off_are_left_out_and_noise_that_hums_widens() -> None:
    """Promise: a few wild points change nothing; neighbours that err together make intervals wider."""
    z = twin_impedance(BOX, HZ)
    clean = sweep_of(z, noise=0.003)
    wild = clean.magnitude.copy()
    wild[[20, 70, 110]] *= (1.6, 0.5, 1.4)
    done = fit([in_box(replace(clean, magnitude=wild), BOX, times=1.0)])
    assert done.left_out == 3
    assert off(done, "tuning", 32.0) < 0.005
    humming = clean.magnitude * np.exp(0.01 * np.sin(6.0 * np.pi * np.log(HZ)))
    wide = fit([in_box(replace(clean, magnitude=humming), BOX, times=1.0)])
    narrow = fit([in_box(clean, BOX, times=1.0)])

    def width(done: Fit) -> float:
        return done.found["tuning"].high / done.found["tuning"].low - 1.0

    assert wide.together > 2.0
    assert width(wide) > 2.0 * width(narrow)


def _one_peak() -> Sweep:
    return sweep_of(twin_impedance(Systems.of(OAK, volume=0.07, voltage=1.0), HZ))


def _flat() -> Sweep:
    return sweep_of(np.full(len(HZ), 4.02) + 0.0j, noise=0.002)


def _clipped() -> Sweep:
    z = np.abs(twin_impedance(BOX, HZ))
    return sweep_of(np.minimum(z, 0.6 * z.max()) + 0.0j)


def _of(part: slice) -> Sweep:
    return sweep_of(twin_impedance(BOX, HZ)[part], hz=HZ[part])


def _phase(change: Callable[[Floats], Floats]) -> Sweep:
    found = sweep_of(twin_impedance(BOX, HZ), noise=0.003, phase=True)
    assert found.phase is not None
    return replace(found, phase=change(found.phase))


BAD: dict[str, tuple[Callable[[], Sweep], str]] = {
    "one peak of two": (_one_peak, "sweep_one_peak"),
    "a resistor": (_flat, "sweep_flat"),
    "cut off at the top": (_clipped, "sweep_clipped"),
    "begins too high": (lambda: _of(slice(60, None)), "sweep_span"),
    "ends too low": (lambda: _of(slice(None, 70)), "sweep_span"),
    "too few points": (lambda: _of(slice(None, None, 12)), "sweep_coarse"),
    "nothing but noise": (lambda: sweep_of(twin_impedance(BOX, HZ), noise=0.6), "sweep_noisy"),
    "degrees said to be radians": (lambda: _phase(np.degrees), "sweep_phase_unit"),
    "radians said to be degrees": (lambda: _phase(np.radians), "sweep_phase_unit"),
    "the other sign": (lambda: _phase(np.negative), "sweep_phase_sign"),
    "some other column": (lambda: _phase(lambda phase: np.sin(40.0 * np.arange(len(phase)))), "sweep_phase_apart"),
}


@pytest.mark.parametrize(("made", "code"), BAD.values(), ids=BAD)
def test_sweeps_that_tell_nothing_are_refused_with_the_reason(made: Callable[[], Sweep], code: str) -> None:
    """Promise: no figure comes of a sweep that has none in it; the message says what is wrong."""
    with pytest.raises(InputFaults) as raised:
        fit([in_box(made(), BOX, times=1.0)])
    assert code in [fault.code for fault in raised.value.faults]
    assert all(str(fault) for fault in raised.value.faults)


def test_a_dense_sweep_with_rounded_figures_is_not_clipped() -> None:
    """Promise: a round top of equal figures is what rounding makes, not an instrument at its end."""
    hz = np.linspace(8.0, 400.0, 4000)
    rounded = np.round(np.abs(twin_impedance(BOX, hz)), 1)
    done = fit([in_box(Sweep(source="a.csv", frequency=hz, magnitude=rounded), BOX, times=1.0)])
    assert off(done, "tuning", 32.0) < 0.005
