"""Closed boxes against the exact second-order relations and Small's constants (Small 1972, Part I)."""

from __future__ import annotations

import math

import numpy as np
import pytest

from engine.acoustics.circuit import Systems, respond
from engine.acoustics.figures import figures
from engine.acoustics.gain import Use
from engine.air import Air
from engine.parts import Driver

FS = 40.0
ALPHA = 1.25  # fc = 1.5 fs
FC = 60.0
SMALLS_AIR = Air(rho=1.18, c=345.0)  # Small's JAES papers [M, supported by C]

# Qtc, f3/fc, f10/fc, peak dB, f_peak/fc, k_P, k_eta(G): all [C], -3 dB is exact half power.
ROWS = [
    (0.5, 1.55377, 0.68006, 0.0, None, 0.0728, 5.126e-7),
    (0.577350, 1.27202, 0.62729, 0.0, None, 0.1620, 8.091e-7),
    (0.707107, 1.00000, 0.57735, 0.0, None, 0.4242, 1.360e-6),
    (0.8, 0.89716, 0.55670, 0.2130, 2.13809, 0.6234, 1.664e-6),
    (0.9, 0.82947, 0.54177, 0.6878, 1.61645, 0.7649, 1.872e-6),
    (1.0, 0.78615, 0.53139, 1.2494, 1.41421, 0.8329, 1.979e-6),
    (1.1, 0.75675, 0.52388, 1.8330, 1.30546, 0.8481, 2.017e-6),
    (1.2, 0.73582, 0.51827, 2.4118, 1.23771, 0.8305, 2.011e-6),
    (1.5, 0.69935, 0.50787, 4.0334, 1.13389, 0.7006, 1.874e-6),
]


def box(qtc: float, *, air: Air = SMALLS_AIR, qms: float = 1e8, voltage: float = 10.0) -> Systems:
    """A driver and a closed box of stated Qtc; vas is such that alpha holds in ``air``."""
    qts = qtc / math.sqrt(1.0 + ALPHA)
    driver = Driver(
        name="closed",
        fs=FS,
        qes=qts * qms / (qms - qts),
        qms=qms,
        vas=0.09,
        sd=0.04,
        re=5.0,
        xmax=0.01,
        rated_power=300.0,
        thermal_resistance=0.0,
    )
    # The driver's compliance follows from vas in the reference air; in other air its vas is another.
    vas = float(air.stiffness * driver.sd**2 * driver.cms)
    return Systems.of(driver, volume=vas / ALPHA, voltage=voltage, air=air)


@pytest.mark.parametrize(("qtc", "f3", "f10", "peak", "f_peak", "k_p", "k_eta"), ROWS)
def test_row(qtc: float, f3: float, f10: float, peak: float, f_peak: float | None, k_p: float, k_eta: float) -> None:
    """Published relations, computed rows [C]; k_P and k_eta by their definitions, in Small's air."""
    systems = box(qtc)
    air = systems.air
    assert float(systems.omega_b[0]) / (2.0 * math.pi) == pytest.approx(FC, rel=1e-9)
    low_too = np.geomspace(0.05, 200.0, 200)  # so that the static displacement counts as well
    fed = Use(fed_from=0.05, levels=(), full_drive=True)
    found = figures(systems, music_band=(25.0, 80.0), vent_speed_limit=17.0, frequency=low_too, use=fed)
    assert float(found.f3[0]) / FC == pytest.approx(f3, abs=6e-6)

    over_fc = np.geomspace(0.3, 100.0, 100_001)
    bare = respond(systems, frequency=over_fc * FC, coil_inductance=False)
    level = 20.0 * np.log10(np.abs(bare.pressure[0]) / systems.reference_pressure[0])
    assert np.interp(-10.0, level[over_fc < 1.0], over_fc[over_fc < 1.0]) == pytest.approx(f10, abs=6e-6)
    assert max(level.max(), 0.0) == pytest.approx(peak, abs=6e-5)
    if f_peak is not None:
        assert over_fc[level.argmax()] == pytest.approx(f_peak, rel=2e-3)

    # P_AR: the flat level's power into half space, at the drive that takes the cone to xmax.
    power = float(systems.reference_pressure[0]) ** 2 * 2.0 * math.pi / (air.rho * air.c)
    swept = float(systems.sd[0] * systems.xmax[0])
    at_xmax = power / float(found.excursion_ratio[0]) ** 2
    assert at_xmax / (float(found.f3[0]) ** 4 * swept**2) == pytest.approx(k_p, abs=6e-5)
    # η0 = k_eta(Q)·k_eta(C)·k_eta(G)·f3³·Vb with k_eta(Q) = 1 (no mechanical loss), k_eta(C) = alpha/(alpha + 1).
    efficiency = power / (10.0**2 / 5.0)
    constant = efficiency / (float(found.f3[0]) ** 3 * float(systems.volume[0])) * (ALPHA + 1.0) / ALPHA
    assert constant == pytest.approx(k_eta, rel=4e-4)


def test_smalls_published_constants() -> None:
    """Published, Small 1972 [M+C]: 0.85 and 2.0e-6 near Qtc = 1.1, to the two digits printed."""
    best = max(ROWS, key=lambda row: row[5])
    assert best[0] == 1.1
    assert round(best[5], 2) == 0.85
    assert round(best[6] * 1e6, 1) == 2.0


def test_the_worked_example() -> None:
    """Computed [C]: fs 30 Hz, Vas 0.1 m³, Qms 5, Qes 0.4, Vb 1/30 m³ -> fc 60 Hz, Qtc 0.740741, Qmc 10, Qec 0.8."""
    driver = Driver(name="worked", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.033, re=6.0, xmax=0.01, rated_power=100.0)
    assert driver.qts == pytest.approx(0.370370, abs=6e-7)
    systems = Systems.of(driver, volume=0.1 / 3.0, voltage=1.0)
    assert float(systems.omega_b[0]) / (2.0 * math.pi) == pytest.approx(60.0, rel=1e-9)
    at_fc = respond(systems, frequency=np.array([60.0]), coil_inductance=False)
    # Level at fc over the flat level is Qtc; the impedance there is re(1 + Qmc/Qec).
    assert float(np.abs(at_fc.pressure[0, 0]) / systems.reference_pressure[0]) == pytest.approx(0.740741, abs=6e-7)
    assert at_fc.impedance[0, 0] == pytest.approx(6.0 * (1.0 + 10.0 / 0.8), rel=1e-9)


@pytest.mark.parametrize(("factor", "ratio"), [(1.4, 0.84515), (1.20, 0.9129), (1.25, 0.8944)])
def test_filling_lowers_the_resonance(factor: float, ratio: float) -> None:
    """Published limit [M+C]: with a small box (alpha >> 1) fc goes as 1/√factor, isothermal 1/√1.4."""
    driver = Driver(name="stiff box", fs=1.0, qes=0.4, qms=5.0, vas=1e4, sd=0.03, re=6.0, xmax=0.01, rated_power=100.0)
    empty = Systems.of(driver, volume=0.01, voltage=1.0)
    filled = Systems.of(driver, volume=0.01, voltage=1.0, filling=factor)
    assert float(filled.omega_b[0] / empty.omega_b[0]) == pytest.approx(ratio, abs=6e-5)
