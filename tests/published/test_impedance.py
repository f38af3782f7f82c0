"""Impedance of a vented box: the synthetic worked example and Small's identities (Small 1973, Part IV)."""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np
import pytest
from scipy.optimize import brentq, minimize_scalar

from engine.acoustics.circuit import Systems, respond
from engine.air import Air

AIR = Air(rho=1.2, c=344.0)
FS, FB, RE, QES, QMS, VAS, SD, VB = 30.0, 32.0, 6.0, 0.4, 5.0, 0.100, 0.0330, 0.070


def system(ql: float, *, tuning: float = FB, vents: float = 1.0) -> Systems:
    """The example of the check values, section 5 [C], its mechanics worked out in its own air (1.2, 344)."""
    cms = VAS / (AIR.stiffness * SD**2)
    mms = 1.0 / ((2.0 * math.pi * FS) ** 2 * cms)
    one = {
        "count": 1.0,
        "sd": SD,
        "cms": cms,
        "mms": mms,
        "rms": 2.0 * math.pi * FS * mms / QMS,
        "bl": math.sqrt(2.0 * math.pi * FS * mms * RE / QES),
        "re": RE,
        "le": 0.0,
        "l2": 0.0,
        "r2": 0.0,
        "voltage": 1.0,
        "xmax": 0.01,
        "rated_power": 100.0,
        "volume": VB,
        "filling": 1.0,
        "ql": ql,
        "qa": math.inf,
        "qp": math.inf,
        "tuning": tuning,
        "vent_count": vents,
        "vent_area": 5e-3,
        "filter_order": 0.0,
        "filter_hz": 0.0,
        "filter_q": 1.0,
        "filter_q2": 1.0,
        "radiator_count": 0.0,
        "radiator_sd": math.nan,
        "radiator_cms": math.nan,
        "radiator_rms": math.nan,
        "radiator_xmax": math.nan,
        **dict.fromkeys(("kr", "xr", "ki", "xi", "thermal", "coefficient", "bl2", "bl4", "k2", "k4"), 0.0),
        **dict.fromkeys(("mutual", "air_mass", "vent_loss"), 0.0),
    }
    return Systems(**{name: np.array([value]) for name, value in one.items()}, air=AIR)


def impedance(systems: Systems, frequency: float) -> complex:
    return complex(respond(systems, frequency=np.array([frequency])).impedance[0, 0])


def turning(systems: Systems, low: float, high: float, sign: int) -> tuple[float, float]:
    """Frequency and size of the highest (sign 1) or lowest (-1) impedance between two frequencies."""
    found = minimize_scalar(
        lambda f: -sign * abs(impedance(systems, f)),
        bounds=(low, high),
        method="bounded",
        options={"xatol": 1e-9},
    )
    return float(found.x), float(-sign * found.fun)


def landmarks(systems: Systems) -> tuple[tuple[float, float], tuple[float, float], tuple[float, float]]:
    return (
        turning(systems, 15.0, 22.0, 1),
        turning(systems, 28.0, 36.0, -1),
        turning(systems, 48.0, 60.0, 1),
    )


def test_mechanics_of_the_example() -> None:
    """Computed [C], to the digits printed."""
    systems = system(math.inf)
    assert float(systems.cms[0]) == pytest.approx(6.466570e-4, abs=6e-11)
    assert float(systems.mms[0]) == pytest.approx(0.04352350, abs=6e-9)
    assert float(systems.rms[0]) == pytest.approx(1.640797, abs=6e-7)
    assert float(systems.bl[0]) == pytest.approx(11.093231, abs=6e-7)
    power = float(systems.reference_pressure[0]) ** 2 * 2.0 * math.pi / (AIR.rho * AIR.c)
    assert power * RE == pytest.approx(0.00654618, abs=6e-9)


@pytest.mark.parametrize(
    ("ql", "fl", "fm", "fh", "at_fl", "at_fm", "at_fh", "zeros"),
    [
        (math.inf, 17.8547, 32.0000, 53.7671, 81.0000, 6.0000, 81.0000, (17.8547, 32.000, 53.7671)),
        (7.0, 17.7845, 31.8176, 54.0096, 52.3279, 7.56486, 47.7062, (17.9147, 32.0319, 53.5330)),
    ],
)
def test_landmarks(
    ql: float,
    fl: float,
    fm: float,
    fh: float,
    at_fl: float,
    at_fm: float,
    at_fh: float,
    zeros: tuple[float, float, float],
) -> None:
    """Computed [C]: peaks, the dip between and the points of zero phase.

    Impedances to the digits printed; frequencies to 0.5 mHz, for the printed ones came off a
    grid (lossless, the product and sum rules give fH = 53.76731 Hz exactly, 53.7671 is printed).
    """
    systems = system(ql)
    low, middle, high = landmarks(systems)
    assert low == (pytest.approx(fl, abs=5e-4), pytest.approx(at_fl, abs=6e-5))
    assert middle == (pytest.approx(fm, abs=5e-4), pytest.approx(at_fm, abs=6e-5))
    assert high == (pytest.approx(fh, abs=5e-4), pytest.approx(at_fh, abs=6e-5))
    phase: Callable[[float], float] = lambda f: impedance(systems, f).imag  # noqa: E731
    found = [brentq(phase, *bounds) for bounds in ((15.0, 22.0), (28.0, 36.0), (48.0, 60.0))]
    np.testing.assert_allclose(found, zeros, atol=5e-4)


def test_product_and_sum_rules() -> None:
    """Published identities [M+C], lossless: fL·fH = fB·fs; fL² + fH² = fB² + fC² with fC of the vent closed.

    Trap 2: the sum rule needs that fC, not fs.
    """
    (fl, _), (fm, _), (fh, _) = landmarks(system(math.inf))
    blocked = system(math.inf, vents=0.0)
    fc, _ = turning(blocked, 35.0, 60.0, 1)
    assert fc == pytest.approx(FS * math.sqrt(1.0 + VAS / VB), rel=1e-6)
    assert fm == pytest.approx(FB, rel=1e-5)
    assert fl * fh / fm == pytest.approx(FS, rel=1e-5)
    assert math.sqrt(fl**2 + fh**2 - fc**2) == pytest.approx(FB, rel=1e-5)
    alpha = (fh**2 - FB**2) * (FB**2 - fl**2) / (fh**2 * fl**2)
    assert alpha == pytest.approx(1.428570, abs=6e-6)
    # Trap 2: fs in the sum rule's place gives 48.06 Hz [C], not 32 Hz.
    assert math.sqrt(fl**2 + fh**2 - FS**2) == pytest.approx(48.06, abs=0.006)


def test_leakage_is_recovered_from_the_dip() -> None:
    """Published [M+C]: QL = (h/alpha)·[1/(Qes(rM - 1)) - 1/Qms] gives 6.968 for QL = 7, alpha from the peaks."""
    (fl, _), (fm, at_fm), (fh, _) = landmarks(system(7.0))
    alpha = (fh**2 - fm**2) * (fm**2 - fl**2) / (fh**2 * fl**2)
    assert alpha == pytest.approx(1.43697, abs=3e-5)
    recovered = (FB / FS) / alpha * (1.0 / (QES * (at_fm / RE - 1.0)) - 1.0 / QMS)
    assert recovered == pytest.approx(6.968, abs=2e-3)
    assert fl * fh / fm == pytest.approx(30.1888, abs=3e-4)
