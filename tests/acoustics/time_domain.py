"""A slow twin of the full-power circuit: its equations of motion, integrated in time.

Nothing of the product is imported.  Here the vent loses ½·ρ·K·w·|w| at every instant, force
factor and stiffness are those of the cone's momentary position, and the coil warms and cools
by a differential equation of its own, with a heat capacity small enough to settle while one
waits and large enough not to follow the tone.  Fundamentals come from a Fourier integral over the last periods.

    le·di/dt   = v - r·i - r2·(i - i2) - Bl(x)·u        l2·di2/dt = r2·(i - i2)
    mms·du/dt  = Bl(x)·i - rms·u - K(x)·x - sd·p        dx/dt = u
    cab·ds/dt  = n·sd·u - p/ral - q                       p = s + M·d(n·sd·u - q)/dt
    map·dq/dt  = p - rap·q - y/cap - ½·ρ·K·w·|w|,  w = q/S        dy/dt = q
    C·dΔT/dt   = r·i² - ΔT/R,  r = re·(1 + α·ΔT)

Passive radiators are an opening with a spring, cap; a thin box has the inertance M in series with its spring, and
then no leak, so that du/dt and dq/dt come of two equations.
"""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from scipy.integrate import solve_ivp

WARM_PERIODS = 12.0  # time constant of the coil, in periods of the tone
HARMONICS = 5


@dataclass(frozen=True)
class Box:
    """One system, SI; the motor and suspension as coefficients of x, x², x³, x⁴ beside 1."""

    count: float
    sd: float
    cms: float
    mms: float
    rms: float
    bl: float
    re: float
    le: float
    l2: float
    r2: float
    cab: float
    ral: float
    map: float  # the opening's own; 0 for a closed box
    rap: float
    cap: float  # inf for vents
    mutual: float
    opening: float  # m², of all
    loss: float
    motor: tuple[float, float, float, float]
    stiffness: tuple[float, float, float, float]
    thermal: float
    coefficient: float
    rho: float


@dataclass(frozen=True)
class Steady:
    """The settled state under a tone of constant voltage; fundamentals, peak or RMS as the product has them."""

    pressure: float  # Pa RMS at 1 m
    excursion: float  # m, peak of the fundamental
    vent_speed: float  # m/s, peak of the fundamental, of air or radiators
    current: float  # A RMS of the fundamental
    coil_rise: float  # K
    offset: float  # m, mean position
    harmonic: float  # of the sound at 1 m, second to fifth over the fundamental
    settled: float  # change of the excursion between the last two windows, relative


def _shape(x: float, coefficients: tuple[float, float, float, float]) -> float:
    a, b, c, d = coefficients
    return 1.0 + x * (a + x * (b + x * (c + x * d)))


def integrate(box: Box, *, frequency: float, voltage: float, periods: int = 120, window: int = 10) -> Steady:
    """Settle under ``voltage`` (V RMS) at ``frequency`` (Hz) and measure the last ``window`` periods."""
    omega = 2.0 * math.pi * frequency
    capacity = WARM_PERIODS / frequency / box.thermal if box.thermal > 0.0 else math.inf
    vented, lossy = box.map > 0.0, box.l2 > 0.0 and box.r2 > 0.0
    assert box.mutual == 0.0 or math.isinf(box.ral), "a leak and a shared inertance together have no equation here"
    cones = box.count * box.sd
    peak = math.sqrt(2.0) * voltage

    def slope(time: float, state: np.ndarray) -> list[float]:
        i, i2, x, u, spring, q, y, rise = state.tolist()
        bl = box.bl * _shape(x, box.motor)
        r = box.re * (1.0 + box.coefficient * rise)
        second = box.r2 * (i - i2) if lossy else 0.0
        w = q / box.opening if vented else 0.0
        force = bl * i - box.rms * u - _shape(x, box.stiffness) * x / box.cms - box.sd * spring
        push = spring - box.rap * q - y / box.cap - 0.5 * box.rho * box.loss * w * abs(w) if vented else 0.0
        if vented:
            # mms·u' + sd·M·(n·sd·u' - q') = force,  map·q' - M·(n·sd·u' - q') = push
            cone, air = box.mms + box.sd * box.mutual * cones, box.map + box.mutual
            shared = box.sd * box.mutual * box.mutual * cones
            below = cone * air - shared
            faster = (force * air + box.sd * box.mutual * push) / below
            flowing = (push * cone + box.mutual * cones * force) / below
        else:
            faster, flowing = force / box.mms, 0.0
        return [
            (peak * math.sin(omega * time) - r * i - second - bl * u) / box.le,
            second / box.l2 if lossy else 0.0,
            u,
            faster,
            (cones * u - spring / box.ral - q) / box.cab,
            flowing,
            q,
            r * i * i / capacity - (rise / (box.thermal * capacity) if box.thermal > 0.0 else 0.0),
        ]

    samples = 64
    times = (periods - 2 * window + np.arange(2 * window * samples) / samples) / frequency
    # BDF-like stiffness comes from the coil's inductance alone; LSODA changes method as it needs.
    solution = solve_ivp(
        slope,
        (0.0, times[-1]),
        np.zeros(8),
        method="LSODA",
        t_eval=times,
        rtol=1e-7,
        atol=1e-10,
        max_step=0.05 / frequency,
    )
    assert solution.success, solution.message
    i, _, x, _, spring, q, _, rise = solution.y
    last = slice(window * samples, None)
    turning = np.exp(-1j * omega * times)

    def fundamental(values: np.ndarray, part: slice = last, harmonic: int = 1) -> float:
        return 2.0 * float(np.abs(np.mean(values[part] * turning[part] ** harmonic)))

    before = fundamental(x, slice(0, window * samples))
    swing = fundamental(x)
    tone = fundamental(spring)
    others = math.sqrt(sum((h**2 * fundamental(spring, harmonic=h)) ** 2 for h in range(2, HARMONICS + 1)))
    return Steady(
        pressure=box.rho * omega**2 * box.cab * tone / (2.0 * math.pi) / math.sqrt(2.0),
        excursion=swing,
        vent_speed=fundamental(q) / box.opening if vented else 0.0,
        current=fundamental(i) / math.sqrt(2.0),
        coil_rise=float(np.mean(rise[last])),
        offset=float(np.mean(x[last])),
        harmonic=others / tone,
        settled=abs(swing / before - 1.0),
    )
