"""High-pass, crossover and parametric band."""

from __future__ import annotations

import math

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy import signal

from engine.acoustics.filters import NO_CHAIN, SHAPES, Chain, band, loss, low_pass, response, section_qs

Floats = NDArray[np.float64]
FREQUENCY = np.geomspace(5.0, 200.0, 60)
CUTOFF = 27.0
STATED = [(shape.name, order) for shape in SHAPES.records for order in shape.orders]


def by_scipy(shape: str, order: int, kind: str) -> NDArray[np.complex128]:
    """The design of scipy where it has one; else the textbook's numerator and denominator."""
    w = 2.0 * math.pi * CUTOFF
    if shape == "own":
        b, a = ([1.0, 0.0, 0.0] if kind == "highpass" else [w * w]), [1.0, w / 0.9, w * w]
        return signal.freqs(b, a, worN=2.0 * math.pi * FREQUENCY)[1]
    half = order // 2 if shape == "linkwitz-riley" else order
    b, a = signal.butter(half, w, btype=kind, analog=True)
    once = signal.freqs(b, a, worN=2.0 * math.pi * FREQUENCY)[1]
    return once**2 if shape == "linkwitz-riley" else once


@pytest.mark.parametrize(("shape", "order"), STATED)
def test_agrees_with_scipy(shape: str, order: int) -> None:
    """Independent implementation: scipy.signal.butter, analogue (Linkwitz-Riley: its square), to 1e-9."""
    q, q2 = section_qs(shape=shape, order=order, own_q=0.9)
    section = {"order": order, "cutoff": CUTOFF, "q": q, "q2": q2}
    np.testing.assert_allclose(response(FREQUENCY, **section), by_scipy(shape, order, "highpass"), rtol=1e-9)
    np.testing.assert_allclose(low_pass(FREQUENCY, **section), by_scipy(shape, order, "lowpass"), rtol=1e-9)


def test_loss_is_that_of_the_complex_response() -> None:
    """Two forms of one filter, mixed orders and any Q in one batch, high-pass and low-pass."""
    rng = np.random.default_rng(1)
    order = rng.integers(0, 5, 200)[:, np.newaxis]
    cutoff, q, q2 = (rng.uniform(low, high, (200, 1)) for low, high in ((10.0, 50.0), (0.4, 3.0), (0.4, 3.0)))
    rows = {"order": order, "cutoff": cutoff, "q": q, "q2": q2}
    coefficients = loss(order=order, q=q, q2=q2)
    for ratio, complex_form in ((cutoff / FREQUENCY, response), (FREQUENCY / cutoff, low_pass)):
        total = sum(each * ratio ** (2 * power) for power, each in enumerate(coefficients))
        np.testing.assert_allclose(total, np.abs(complex_form(FREQUENCY, **rows)) ** -2.0, rtol=1e-9)


def test_levels_at_the_cutoff() -> None:
    """Published definitions: Butterworth half power, Linkwitz-Riley a quarter (-6.02 dB), own Q just Q."""
    for shape, order in STATED:
        q, q2 = section_qs(shape=shape, order=order, own_q=1.3)
        at = float(np.abs(response(np.array([CUTOFF]), order=order, cutoff=CUTOFF, q=q, q2=q2))[0])
        wanted = {"butterworth": math.sqrt(0.5), "linkwitz-riley": 0.5, "own": 1.3}[shape]
        assert at == pytest.approx(wanted, rel=1e-12)


@pytest.mark.parametrize("order", [2, 4])
def test_linkwitz_riley_pairs_sum_flat(order: int) -> None:
    """Published property (Linkwitz 1976): low- and high-pass add to an all-pass, order 2 with one turned round."""
    q, q2 = section_qs(shape="linkwitz-riley", order=order)
    section = {"order": order, "cutoff": CUTOFF, "q": q, "q2": q2}
    total = low_pass(FREQUENCY, **section) + (-1.0 if order == 2 else 1.0) * response(FREQUENCY, **section)
    np.testing.assert_allclose(np.abs(total), 1.0, rtol=1e-12)
    b, b2 = section_qs(shape="butterworth", order=order)
    wrong = {**section, "q": b, "q2": b2}
    total = low_pass(FREQUENCY, **wrong) + (-1.0 if order == 2 else 1.0) * response(FREQUENCY, **wrong)
    assert np.max(np.abs(total)) > 1.4  # that this can fail: a Butterworth pair is 3 dB up


def test_order_nought_passes_all() -> None:
    """Contract: order 0 is 1, whatever its cutoff and Q."""
    for nothing in (0.0, 30.0, math.nan):
        none = response(FREQUENCY, order=np.array([[0]]), cutoff=np.array([[nothing]]), q=nothing, q2=nothing)
        np.testing.assert_array_equal(none, np.ones((1, 60)))
        assert [float(each) for each in loss(order=0, q=nothing, q2=nothing)] == [1.0, 0.0, 0.0, 0.0, 0.0]


@pytest.mark.parametrize(("gain", "q"), [(6.0, 1.0), (-9.0, 0.7), (12.0, 4.0), (3.0, 2.0)])
def test_band_does_what_its_numbers_say(gain: float, q: float) -> None:
    """Analytic: gain at its centre, half of it at two frequencies centre/Q apart, nothing far away, cut = 1/boost."""
    centre = 40.0

    def level(frequency: float) -> float:
        return 20.0 * math.log10(abs(band(np.array([frequency]), centre=centre, gain_db=gain, q=q)[0]))

    assert level(centre) == pytest.approx(gain, abs=1e-12)
    assert abs(level(1e-3)) + abs(level(1e6)) < 1e-3
    half = 0.5 / q
    edges = [centre * (math.sqrt(half * half + 1.0) + sign * half) for sign in (-1.0, 1.0)]
    for edge in edges:
        assert level(edge) == pytest.approx(0.5 * gain, abs=1e-9)
    assert edges[1] - edges[0] == pytest.approx(centre / q)
    cut = band(FREQUENCY, centre=centre, gain_db=-gain, q=q)
    np.testing.assert_allclose(cut * band(FREQUENCY, centre=centre, gain_db=gain, q=q), 1.0, rtol=1e-12)


def test_band_agrees_with_scipy() -> None:
    """Independent implementation: scipy.signal.freqs on the prototype's coefficients."""
    w, a = 2.0 * math.pi * 40.0, 10.0 ** (6.0 / 40.0)
    expected = signal.freqs([1.0, w * a / 1.4, w * w], [1.0, w / a / 1.4, w * w], worN=2.0 * math.pi * FREQUENCY)[1]
    np.testing.assert_allclose(band(FREQUENCY, centre=40.0, gain_db=6.0, q=1.4), expected, rtol=1e-12)


def test_chain_squares_are_those_of_its_response() -> None:
    """Two forms of one chain; and an empty one passes all."""
    q, q2 = (float(each) for each in section_qs(shape="linkwitz-riley", order=4))
    chain = Chain(low_pass_order=4, low_pass_hz=80.0, low_pass_q=q, low_pass_q2=q2, band_hz=35.0, band_db=-4.0)
    both = chain.band_squared(FREQUENCY**2) / chain.low_pass_loss(FREQUENCY**2)
    np.testing.assert_allclose(both, np.abs(chain.response(FREQUENCY)) ** 2, rtol=1e-9)
    assert not chain.raises
    np.testing.assert_array_equal(NO_CHAIN.response(FREQUENCY), 1.0)


@pytest.mark.parametrize(
    ("chain", "raises"),
    [
        (Chain(band_db=3.0), True),
        (Chain(band_db=-3.0), False),
        (Chain(low_pass_order=2, low_pass_hz=80.0, low_pass_q=1.0), True),
        (Chain(low_pass_order=2, low_pass_hz=80.0, low_pass_q=math.sqrt(0.5)), False),
        (Chain(low_pass_order=3, low_pass_hz=80.0, low_pass_q=1.0), False),
    ],
)
def test_whether_a_chain_raises_anything(chain: Chain, raises: bool) -> None:
    """Analytic: a boost does, a peaking crossover does, Butterworths do not; held against a dense sweep."""
    assert chain.raises is raises
    assert bool(np.max(np.abs(chain.response(np.geomspace(5.0, 500.0, 5000)))) > 1.0 + 1e-6) is raises
