"""A slow twin of the acoustics: one system, one frequency at a time, plain Python.

Written from the acoustical analogous circuit instead of the mechanical one that the product
uses: the drivers are a pressure source bl·V/(Z·sd) behind (Zm + bl²/Z)/(n·sd²), after Small
1972.  Nothing is imported from the product, and nothing is clever: figures come from a fine
sweep and bisection.
"""

from __future__ import annotations

import cmath
import math
from dataclasses import dataclass, fields, replace
from typing import Any


@dataclass(frozen=True)
class Twin:
    """One system; the fields are those of a row of Systems."""

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
    kr: float
    xr: float
    ki: float
    xi: float
    voltage: float
    xmax: float
    rated_power: float
    volume: float
    filling: float
    ql: float
    qa: float
    qp: float
    tuning: float
    mutual: float
    air_mass: float
    vent_count: float
    vent_area: float
    radiator_count: float
    radiator_sd: float
    radiator_cms: float
    radiator_rms: float
    radiator_xmax: float
    filter_order: float
    filter_hz: float
    filter_q: float
    filter_q2: float
    rho: float
    c: float


@dataclass(frozen=True)
class Point:
    """What one system does at one frequency, RMS."""

    pressure: complex
    excursion: float
    vent_speed: float
    radiator_excursion: float
    current: float
    impedance: complex


def twin_of(systems: Any, row: int) -> Twin:
    """The twin of one row of Systems."""
    names = [item.name for item in fields(Twin) if item.name not in ("rho", "c")]
    return Twin(**{name: float(getattr(systems, name)[row]) for name in names}, rho=systems.air.rho, c=systems.air.c)


def high_pass(order: int, ratio: float, qs: tuple[float, float] | None = None) -> complex:
    """High-pass at f/cutoff from its first- and second-order sections; a Butterworth without ``qs``."""
    s = 1j * ratio
    result = 1.0 + 0.0j
    for k in range(order // 2):
        damping = 1.0 / qs[k] if qs else 2.0 * math.sin(math.pi * (2 * k + 1) / (2 * order))
        result *= s * s / (s * s + damping * s + 1.0)
    if order % 2:
        result *= s / (s + 1.0)
    return result


def solve(t: Twin, frequency: float, *, coil_inductance: bool = True) -> Point:
    w = 2.0 * math.pi * frequency
    cab = t.filling * t.volume / (t.rho * t.c**2)
    vented = t.vent_count > 0
    radiating = t.radiator_count > 0
    if vented or radiating:
        wb = 2.0 * math.pi * t.tuning
    else:
        cas = t.cms * t.sd**2 / t.count  # of all drivers together
        mas = t.count * (t.mms + t.air_mass) / (t.count * t.sd) ** 2
        wb = math.sqrt(1.0 / (mas * (cas * t.count**2 * cab / (cas * t.count**2 + cab))))

    z = complex(t.re)
    if coil_inductance:
        z += 1j * w * t.le
        if t.l2 > 0.0 and t.r2 > 0.0:
            z += (1j * w * t.l2) * t.r2 / (1j * w * t.l2 + t.r2)
        z += t.kr * w**t.xr + 1j * t.ki * w**t.xi

    shared = 1j * w * t.mutual
    branches = [1.0 / (1j * w * cab) + shared + (0.0 if math.isinf(t.qa) else 1.0 / (wb * t.qa * cab))]
    if not math.isinf(t.ql):
        branches.append(complex(t.ql / (wb * cab)))
    if vented:
        mass = 1.0 / (wb**2 * cab)
        branches.append(1j * w * mass - shared + (0.0 if math.isinf(t.qp) else wb * mass / t.qp))
    if radiating:
        # In mechanical terms: the mass that, on suspension and box air together, resonates at the tuning.
        area = t.radiator_count * t.radiator_sd
        springs = 1.0 / t.radiator_cms + area * t.radiator_sd / cab
        force = t.radiator_rms + 1j * w * springs / wb**2 + 1.0 / (1j * w * t.radiator_cms)
        branches.append(force / (area * t.radiator_sd) - shared)
    box = 1.0 / sum(1.0 / branch for branch in branches)

    ratio = frequency / t.filter_hz if t.filter_order else 1.0
    signal = high_pass(int(t.filter_order), ratio, (t.filter_q, t.filter_q2))
    voltage = t.voltage * signal / max(1.0, abs(signal))
    moving = t.rms + 1j * w * (t.mms + t.air_mass) + 1.0 / (1j * w * t.cms)
    source = t.bl * voltage / (z * t.sd)
    behind = (moving + t.bl**2 / z) / (t.count * t.sd**2)
    flow = source / (behind + box)
    pressure = flow * box
    velocity = flow / (t.count * t.sd)
    current = (voltage - t.bl * velocity) / z
    return Point(
        pressure=1j * w * t.rho * (pressure / branches[0]) / (2.0 * math.pi),
        excursion=abs(velocity) / w,
        vent_speed=abs(pressure / branches[-1]) / (t.vent_count * t.vent_area) if vented else 0.0,
        radiator_excursion=abs(pressure / branches[-1]) / (t.radiator_count * t.radiator_sd) / w if radiating else 0.0,
        current=abs(current),
        impedance=voltage / current,
    )


def response(t: Twin, frequency: float) -> float:
    """Level over the reference in dB, without coil inductance and with the filter, even where that raises it."""
    reference = t.rho * t.count * t.sd * t.bl * t.voltage / (2.0 * math.pi * t.re * t.mms)
    alone = solve(replace(t, filter_order=0.0), frequency, coil_inductance=False).pressure
    ratio = frequency / t.filter_hz if t.filter_order else 1.0
    signal = high_pass(int(t.filter_order), ratio, (t.filter_q, t.filter_q2))
    return 20.0 * math.log10(abs(alone * signal) / reference)


def f3(t: Twin, *, points: int = 3000) -> float:
    """Lowest frequency above which the response stays within half power to 200 Hz; nan if there is none."""
    half = -10.0 * math.log10(2.0)
    if response(t, 200.0) < half:
        return math.nan
    above = 200.0
    for i in range(1, points + 1):
        below = 200.0 * (0.5 / 200.0) ** (i / points)
        if response(t, below) < half:
            break
        above = below
    for _ in range(50):
        middle = math.sqrt(below * above)
        if response(t, middle) < half:
            below = middle
        else:
            above = middle
    return above


def loudest(t: Twin, frequency: float, vent_speed_limit: float) -> tuple[float, str]:
    """Level in dB at the largest drive that breaks no limit, and the limit that binds."""
    full = solve(t, frequency)
    drives = {
        "amplifier": 1.0,
        "thermal": math.sqrt(t.rated_power / t.re) / full.current,
        "excursion": t.xmax / (math.sqrt(2.0) * full.excursion),
        "vent": vent_speed_limit / (math.sqrt(2.0) * full.vent_speed) if full.vent_speed > 0.0 else math.inf,
        "passive radiator": (
            t.radiator_xmax / (math.sqrt(2.0) * full.radiator_excursion) if full.radiator_excursion > 0.0 else math.inf
        ),
    }
    binding = min(drives, key=lambda name: drives[name])
    return 20.0 * math.log10(abs(full.pressure) * drives[binding] / 20e-6), binding


def group_delay(t: Twin, frequency: float, step: float = 1e-3) -> float:
    """-dφ/dω by Richardson's rule from two centred differences, s."""

    def difference(h: float) -> float:
        ratio = solve(t, frequency * (1.0 + h)).pressure / solve(t, frequency * (1.0 - h)).pressure
        return -cmath.phase(ratio) / (2.0 * h * 2.0 * math.pi * frequency)

    return (4.0 * difference(step / 2.0) - difference(step)) / 3.0
