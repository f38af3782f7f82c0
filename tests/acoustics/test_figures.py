"""Figures against brute force, whatever the grid: f3, worst values, mean output."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Callable, Iterator

import numpy as np
import pytest
from numpy.typing import NDArray

from engine.acoustics import filters
from engine.acoustics.cabin import EstimatedCabin
from engine.acoustics.circuit import SHARED, Systems, respond
from engine.acoustics.figures import FIGURES_GRID, SEARCH_GRID, Figures, figures
from engine.acoustics.filters import NO_CHAIN, Chain
from engine.acoustics.limits import max_output
from engine.parts import Driver
from tests.acoustics import drawn, scalar_twin

Floats = NDArray[np.float64]
BAND = (25.0, 80.0)
LIMIT = 17.0


def judged(systems: Systems, *, frequency: Floats = SEARCH_GRID) -> Figures:
    return figures(systems, music_band=BAND, vent_speed_limit=LIMIT, frequency=frequency)


def responses(systems: Systems, frequency: Floats) -> Floats:
    """Power over the reference level, (N, F), from the complex circuit."""
    bare = respond(systems, frequency=frequency, coil_inductance=False)
    return np.abs(bare.pressure / systems.reference_pressure[:, np.newaxis]) ** 2


def in_parts(systems: Systems) -> Iterator[Systems]:
    """Some rows at a time: arrays of all frequencies then stay small enough to be quick."""
    return (systems.take(slice(start, start + 20)) for start in range(0, len(systems), 20))


def worst_on(systems: Systems, frequency: Floats) -> tuple[Floats, Floats, Floats]:
    """Largest peaks of excursion, vent air speed and radiators' excursion, (N,) each, from the complex circuit."""
    names = ("excursion", "vent_speed", "radiator_excursion")
    full = [respond(some, frequency=frequency) for some in in_parts(systems)]
    cone, air, pushed = (
        math.sqrt(2.0) * np.concatenate([getattr(some, name).max(axis=1) for some in full]) for name in names
    )
    return cone, air, pushed


def mean_level(systems: Systems, band: tuple[float, float]) -> tuple[Floats, NDArray[np.integer]]:
    """Mean maximum output by trapezia over 4 001 points of a band, (N,) dB, and what binds at each, (N, 4001)."""
    frequency = np.geomspace(*band, 4001)
    found = [max_output(some, frequency=frequency, vent_speed_limit=LIMIT)[:2] for some in in_parts(systems)]
    level, binding = (np.concatenate(each) for each in zip(*found, strict=True))
    return (level[:, 1:-1].sum(axis=1) + 0.5 * (level[:, 0] + level[:, -1])) / 4000, binding


def closed(*, fc: float, qtc: float, voltage: float = 10.0) -> Systems:
    """A lossless closed box of stated resonance and Q: alpha = 3, so the driver has half of both."""
    qts, qms = qtc / 2.0, 1e9
    driver = Driver(
        name="closed",
        fs=fc / 2.0,
        qes=qts * qms / (qms - qts),
        qms=qms,
        vas=0.06,
        sd=0.03,
        re=4.0,
        xmax=0.01,
        rated_power=300.0,
    )
    return Systems.of(driver, volume=0.02, voltage=voltage)


KINDS = [{}, {"passive": 1.0}, {"passive": 0.4, "highest_q": 2.0}, {"passive": 0.4, "thin": True, "lossy_coils": 0.3}]


@pytest.mark.parametrize("kinds", KINDS)
@pytest.mark.parametrize("losses", [True, False])
def test_worst_values_agree_with_a_dense_grid(losses: bool, kinds: dict[str, float]) -> None:
    """Independent implementation: the complex circuit on 6 000 frequencies; to 0.1 %, lossless boxes too.

    Also with passive radiators, and with filters that raise something up to the amplifier's full voltage.
    Both grids are held against the same dense one.
    """
    systems = drawn.systems(400, seed=11, losses=losses, **kinds)
    cone, air, pushed = worst_on(systems, np.geomspace(10.0, 200.0, 6000))
    for grid in (SEARCH_GRID, FIGURES_GRID):
        found = judged(systems, frequency=grid)
        np.testing.assert_allclose(found.excursion_ratio, cone / systems.xmax, rtol=1e-3)
        np.testing.assert_allclose(found.vent_speed, air, rtol=1e-3)
        np.testing.assert_allclose(found.vent_mach, air / systems.air.c, rtol=1e-3)
        with_radiators = systems.radiating
        np.testing.assert_allclose(
            found.radiator_ratio[with_radiators], (pushed / systems.radiator_xmax)[with_radiators], rtol=1e-3
        )
        assert np.all(found.radiator_ratio[~with_radiators] == 0.0)
        assert np.all(np.isnan(found.radiator_hz[~with_radiators]))
        # The frequency of the worst is where the curve really has that value.
        for row in range(0, 400, 20):
            one = systems.take(slice(row, row + 1))
            at = respond(one, frequency=np.array([found.excursion_hz[row]])).excursion[0, 0]
            assert math.sqrt(2.0) * at / one.xmax[0] == pytest.approx(found.excursion_ratio[row], rel=2e-3)
        assert np.all(np.isnan(found.vent_speed_hz[~systems.vented]))
        assert np.all(found.vent_speed[~systems.vented] == 0.0)


@pytest.mark.parametrize("passive", [0.0, 0.4])
def test_a_chain_counts_where_it_should(passive: float) -> None:
    """Independent implementation, crossover and a boosting band: worst values and output know both, f3 the band alone.

    Worst values to 0.1 %, output to 0.02 dB on dense grids of the complex circuit; f3 to what the dense grid resolves.
    """
    chain = Chain(low_pass_order=2, low_pass_hz=80.0, low_pass_q=math.sqrt(0.5), band_hz=40.0, band_db=6.0, band_q=2.0)
    systems = dataclasses.replace(drawn.systems(200, seed=61, passive=passive), chain=chain)
    found = judged(systems)
    dense = np.geomspace(10.0, 200.0, 12_000)
    cone, air, _ = worst_on(systems, dense)
    np.testing.assert_allclose(found.excursion_ratio, cone / systems.xmax, rtol=1e-3)
    np.testing.assert_allclose(found.vent_speed, air, rtol=1e-3)
    np.testing.assert_allclose(found.output_db, mean_level(systems, BAND)[0], atol=0.02)

    alone = dataclasses.replace(systems, filter_order=np.zeros(200), chain=NO_CHAIN)
    columns = {name: getattr(systems, f"filter_{name}")[:, np.newaxis] for name in ("order", "q", "q2")}
    signal = dataclasses.replace(chain, low_pass_order=0).response(dense) * filters.response(
        dense, cutoff=systems.filter_hz[:, np.newaxis], **columns
    )
    power = responses(alone, dense) * np.abs(signal) ** 2
    there = np.isfinite(found.f3) & (found.f3 > 10.1)
    assert there.sum() > 80
    last = np.array([dense[np.flatnonzero(row < 0.5)[-1]] for row in power[there]])
    np.testing.assert_allclose(found.f3[there], last, rtol=1e-3)


def test_the_grid_alone_would_miss_the_peaks() -> None:
    """That the test above can fail: without refinement the coarse grid is off by more than 0.1 %."""
    systems = drawn.systems(400, seed=11, losses=False)
    found = judged(systems)
    full = respond(systems, frequency=SEARCH_GRID)
    excursion = math.sqrt(2.0) * full.excursion.max(axis=1) / systems.xmax
    speed = math.sqrt(2.0) * full.vent_speed.max(axis=1)[systems.vented]
    assert np.max(np.abs(excursion / found.excursion_ratio - 1.0)) > 0.01
    assert np.max(np.abs(speed / found.vent_speed[systems.vented] - 1.0)) > 0.1


@pytest.mark.parametrize("kinds", KINDS)
def test_f3_agrees_with_the_scalar_twin(kinds: dict[str, float]) -> None:
    """Independent implementation: a fine sweep down from 200 Hz and bisection, to 0.1 % (found: 1e-5)."""
    systems = drawn.systems(40, seed=12, **kinds)
    twins = [scalar_twin.twin_of(systems, row) for row in range(len(systems))]
    f3 = [scalar_twin.f3(twin) for twin in twins]
    alone = [scalar_twin.f3(dataclasses.replace(twin, filter_order=0.0)) for twin in twins]
    for grid in (SEARCH_GRID, FIGURES_GRID):
        found = judged(systems, frequency=grid)
        assert found.f3 == pytest.approx(np.array(f3), rel=1e-4, nan_ok=True)
        assert found.f3_box == pytest.approx(np.array(alone), rel=1e-4, nan_ok=True)


@pytest.mark.parametrize("passive", [0.0, 1.0])
def test_f3_is_the_last_crossing_of_half_power_on_a_dense_grid(passive: float) -> None:
    """Independent implementation, many boxes: no point above f3 is below half, the one beside it is."""
    systems = drawn.systems(1000, seed=13, losses=False, passive=passive)
    found = judged(systems)
    dense = np.geomspace(5.0, 200.0, 3000)
    power = np.concatenate([responses(some, dense) for some in in_parts(systems)])
    has = np.isfinite(found.f3)
    assert np.array_equal(has, power[:, -1] >= 0.5)
    assert has.mean() > 0.5
    above = dense > found.f3[:, np.newaxis] * (1.0 + 1e-4)
    assert np.all(power[has][above[has]] >= 0.5)
    at = responses(systems.take(has), found.f3[has][:, np.newaxis] * np.array([1.0 - 1e-4, 1.0 + 1e-4]))
    assert np.all(at[:, 0] < 0.5)
    assert np.all(at[:, 1] >= 0.5)


def dipping(depth: float) -> Systems:
    """A strong driver in a vented box: its response peaks at the tuning, then dips to half power times ``depth``.

    The driver's Q that does it is found by bisection on a dense grid.
    """

    def box(qes: float) -> Systems:
        driver = Driver(name="dip", fs=25.0, qes=qes, qms=8.0, vas=0.1, sd=0.05, re=4.0, xmax=0.01, rated_power=300.0)
        return Systems.of(driver, volume=0.1, voltage=10.0, ql=20.0, tuning=38.0, vent_count=1, vent_area=4e-3)

    dense = np.geomspace(45.0, 150.0, 20000)
    low, high = 0.1, 0.3
    for _ in range(60):
        middle = 0.5 * (low + high)
        if responses(box(middle), dense).min() < 0.5 * depth:
            low = middle
        else:
            high = middle
    return box(high)


@pytest.mark.parametrize("below", [1e-3, 1e-4, 1e-5])
def test_a_dip_between_grid_points_counts(below: float) -> None:
    """Analytic construction: the response dips a hair under half power, all of it between two grid points."""
    deep, shallow = dipping(1.0 - below), dipping(1.0 + below)
    dense = np.geomspace(45.0, 150.0, 200_001)
    under = dense[responses(deep, dense)[0] < 0.5]
    assert len(under) > 0
    if below == 1e-5:
        assert np.all(responses(deep, SEARCH_GRID[SEARCH_GRID > 45.0])[0] >= 0.5)
    assert judged(deep).f3[0] == pytest.approx(under[-1], rel=1e-4)
    assert judged(shallow).f3[0] < 45.0


def test_whoever_reaches_half_power_has_an_f3() -> None:
    """Contract: of 40 000 boxes none is lost because the search for f3 came upon it to the last digit."""
    systems = drawn.systems(40_000, seed=29)
    cabin = EstimatedCabin(largest_dimension=3.0)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0, cabin=cabin)
    np.testing.assert_array_equal(np.isfinite(found.f3), found.f3_shortfall <= 0.0)
    np.testing.assert_array_equal(np.isfinite(found.f3_cabin), found.f3_cabin_shortfall <= 0.0)


def test_f3_below_the_grid_is_found() -> None:
    """Published relation: a Butterworth closed box has f3 = fc (Small 1972), here below 10 Hz."""
    for fc in (9.99, 7.0, 2.0, 0.5):
        assert judged(closed(fc=fc, qtc=math.sqrt(0.5))).f3[0] == pytest.approx(fc, rel=1e-6)


def test_half_power_is_not_three_decibel() -> None:
    """Trap 1: f3 of a Butterworth box is fc by 10·log10 2; by 3 dB it would be 0.12 % higher."""
    f3 = judged(closed(fc=40.0, qtc=math.sqrt(0.5))).f3[0]
    assert f3 == pytest.approx(40.0, rel=1e-6)
    wrong = 40.0 * (10.0**0.3 - 1.0) ** -0.25
    assert abs(f3 / wrong - 1.0) > 1e-3


def test_no_f3_is_graded() -> None:
    """Contract: nan, and how many dB are missing at 200 Hz; the worse the box the more."""
    systems = closed(fc=100.0, qtc=0.5)
    rows = [systems, closed(fc=200.0, qtc=0.5), closed(fc=300.0, qtc=0.5), closed(fc=500.0, qtc=0.4)]
    found = [judged(each) for each in rows]
    assert np.isfinite(found[0].f3[0])
    assert found[0].f3_shortfall[0] < 0.0
    for each, figure in zip(rows[1:], found[1:], strict=True):
        assert np.isnan(figure.f3[0])
        missing = -10.0 * math.log10(2.0 * responses(each, np.array([200.0]))[0, 0])
        assert figure.f3_shortfall[0] == pytest.approx(missing, abs=1e-9)
        assert figure.f3_shortfall[0] > 0.0
    assert found[3].f3_shortfall[0] > found[2].f3_shortfall[0] > found[1].f3_shortfall[0]


def test_the_filter_counts_in_f3_and_not_in_f3_box() -> None:
    """Analytic: box and filter of the same Butterworth shape, order 2 twice: |H|² = 1/(1 + x⁻⁴)² = 1/2."""
    box = closed(fc=40.0, qtc=math.sqrt(0.5))
    filtered = dataclasses.replace(
        box, filter_order=np.array([2.0]), filter_hz=np.array([40.0]), filter_q=np.array([math.sqrt(0.5)])
    )
    found = judged(filtered)
    assert found.f3_box[0] == pytest.approx(40.0, rel=1e-6)
    assert found.f3[0] == pytest.approx(40.0 * (math.sqrt(2.0) - 1.0) ** -0.25, rel=1e-6)


def test_inductance_moves_excursion_but_not_f3() -> None:
    """Contract: f3 is taken with le = 0 and l2 = 0, everything else with the coil as it is."""
    systems = drawn.systems(50, seed=14)
    bare = dataclasses.replace(systems, le=np.zeros(50), l2=np.zeros(50))
    with_coil, without = judged(systems), judged(bare)
    np.testing.assert_allclose(with_coil.f3, without.f3, rtol=1e-12)
    np.testing.assert_allclose(with_coil.f3_box, without.f3_box, rtol=1e-12)
    assert np.max(np.abs(with_coil.excursion_ratio / without.excursion_ratio - 1.0)) > 0.01
    assert np.max(np.abs(with_coil.output_db - without.output_db)) > 0.01


@pytest.mark.parametrize("losses", [True, False])
@pytest.mark.parametrize("band", [BAND, (20.0, 120.0), (30.0, 40.0)])
def test_mean_output_agrees_with_a_dense_grid(losses: bool, band: tuple[float, float]) -> None:
    """Independent implementation: trapezia over 4 001 points of the complex circuit; to 0.02 dB."""
    systems = drawn.systems(300, seed=15, losses=losses)
    found = figures(systems, music_band=band, vent_speed_limit=LIMIT).output_db
    mean, binding = mean_level(systems, band)
    np.testing.assert_allclose(found, mean, rtol=0, atol=0.02)
    corners = (np.diff(binding, axis=1) != 0).sum(axis=1)
    assert np.mean(corners > 0) > 0.1, "too few corners between limits to test them"


def test_mean_output_without_corners_is_close() -> None:
    """Independent implementation: where the amplifier alone binds the level is smooth, and to 0.001 dB.

    One box in a hundred may have a peak that lies between the points, 0.01 dB.
    """
    systems = drawn.systems(300, seed=15)
    quiet = dataclasses.replace(systems, voltage=1e-4 * systems.voltage)
    mean, binding = mean_level(quiet, BAND)
    assert np.all(binding == 0)
    off = np.abs(judged(quiet).output_db - mean)
    assert np.quantile(off, 0.99) < 1e-3
    assert np.max(off) < 0.01


def test_output_is_that_of_the_scalar_twin() -> None:
    """Independent implementation: plain loops, limits and all."""
    systems = drawn.systems(8, seed=16)
    found = judged(systems)
    for row in range(len(systems)):
        twin = scalar_twin.twin_of(systems, row)
        points = [BAND[0] * (BAND[1] / BAND[0]) ** (i / 1000) for i in range(1001)]
        level = [scalar_twin.loudest(twin, point, LIMIT)[0] for point in points]
        mean = (sum(level) - 0.5 * (level[0] + level[-1])) / 1000
        assert found.output_db[row] == pytest.approx(mean, abs=0.02)


def test_rows_do_not_depend_on_their_neighbours() -> None:
    """Symmetry: one by one, all together and shuffled agree row for row."""
    systems = drawn.systems(1000, seed=17, passive=0.3)
    together = judged(systems)
    order = np.random.default_rng(0).permutation(1000)
    shuffled = judged(systems.take(order))
    several = judged(
        Systems(
            **{
                item.name: np.tile(getattr(systems, item.name), 5)
                for item in dataclasses.fields(systems)
                if item.name not in SHARED
            }
        )
    )
    for item in dataclasses.fields(Figures):
        values = getattr(together, item.name)
        np.testing.assert_allclose(getattr(shuffled, item.name), values[order], rtol=1e-9, err_msg=item.name)
        np.testing.assert_allclose(
            getattr(several, item.name), np.concatenate([values] * 5), rtol=1e-9, err_msg=item.name
        )
    for row in range(0, 1000, 50):
        alone = judged(systems.take(slice(row, row + 1)))
        for item in dataclasses.fields(Figures):
            np.testing.assert_allclose(
                getattr(alone, item.name), getattr(together, item.name)[row : row + 1], rtol=1e-9
            )


def frozen(systems: Systems) -> Systems:
    """The same systems in arrays that cannot be written to."""
    rows = {}
    for item in dataclasses.fields(systems):
        if item.name not in SHARED:
            rows[item.name] = getattr(systems, item.name).copy()
            rows[item.name].flags.writeable = False
    return Systems(**rows, chain=systems.chain, air=systems.air)


@pytest.mark.parametrize(
    "use",
    [
        judged,
        lambda systems: respond(systems, frequency=SEARCH_GRID),
        lambda systems: max_output(systems, frequency=SEARCH_GRID, vent_speed_limit=LIMIT),
    ],
)
def test_inputs_are_untouched(use: Callable[[Systems], object]) -> None:
    """Functions do not change what they are given."""
    grid = SEARCH_GRID.copy()
    assert use(frozen(drawn.systems(20, seed=18))) is not None
    np.testing.assert_array_equal(SEARCH_GRID, grid)


def test_bad_rows_stay_alone_and_quiet() -> None:
    """Nan in, nan out in that row only, without a warning (warnings are errors here)."""
    systems = drawn.systems(6, seed=19)
    volume, tuning = systems.volume.copy(), systems.tuning.copy()
    volume[[1, 3]] = [np.nan, -0.1]
    tuning[5] = np.inf
    broken = judged(dataclasses.replace(systems, volume=volume, tuning=tuning))
    whole = judged(systems)
    for item in dataclasses.fields(Figures):
        np.testing.assert_allclose(getattr(broken, item.name)[[0, 2, 4]], getattr(whole, item.name)[[0, 2, 4]])
    assert np.isnan(broken.f3[1])
    assert np.isnan(broken.excursion_ratio[1])
    assert np.isnan(broken.output_db[1])


def test_an_empty_batch_gives_empty_figures() -> None:
    """Shape contract: no designs in, none out."""
    none = judged(drawn.systems(3, seed=20).take(np.zeros(0, dtype=np.intp)))
    assert all(len(getattr(none, item.name)) == 0 for item in dataclasses.fields(Figures))
