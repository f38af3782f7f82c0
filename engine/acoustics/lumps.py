"""Systems as compiled code takes them: the lumps of one, and what these come to at one frequency."""

from __future__ import annotations

import math
from typing import Any, NamedTuple

import numpy as np

from engine.acoustics import circuit, filters, inductance
from engine.acoustics.circuit import Systems
from engine.acoustics.turbulence import jet_resistance
from engine.arrays import Floats
from engine.core.compiled import Table, borrowing, compiled, table


class Parts(NamedTuple):
    """The lumps of one system, SI; see Systems."""

    open: bool  # vents or radiators
    vented: bool
    radiating: bool
    area: float  # of the openings
    cones: float  # m², all of them
    sd: float
    bl: float
    cms: float
    rms: float
    mass: float
    re: float
    thermal: float
    coefficient: float
    jet: float  # Pa·s²/m², what a vent's resistance grows by with its peak air speed
    bl2: float
    bl4: float
    k2: float
    k4: float
    cab: float
    mutual: float
    absorption: float  # Pa s/m³, in series with the compliance
    leak: float  # m³/(Pa s)
    branch: float  # m³/(Pa s), what the openings' network is a multiple of
    le: float
    l2: float
    delay: float  # s, l2/r2
    kr: float
    xr: float
    ki: float
    xi: float
    voltage: float


class Lumps(NamedTuple):
    """N systems: a row of :class:`Parts` each, and polynomials, lowest power first."""

    parts: Table
    top: Floats  # (N, K) of the openings' network over jω
    bottom: Floats  # (N, K)
    high_pass: Floats  # (N, K), of 1/|H|² over 1/f²
    low_pass: Floats  # (1, K), of 1/|H|² over f²
    band: filters.Band


class Point(NamedTuple):
    """One system at one frequency: admittances and impedances, complex."""

    omega: float
    per_omega: float
    spring: float  # reactance of the suspension at rest, N s/m
    opening: complex  # impedance of vents or radiators, Pa s/m³; 0 without
    compliance: complex  # admittance of the spring
    closed: complex  # and of the leak with it
    coil: complex  # what inductance adds to the coil, ohm
    signal: float  # |H| of high-pass and chain


_compliance: Any = compiled(circuit.compliance)
_inductance: Any = compiled(inductance.inductance)
_band: Any = compiled(filters.band_power)


def lumps_of(systems: Systems) -> Lumps:
    """Systems made ready for :func:`point`, once: a table asks them for a dozen curves, and they keep it."""
    kept = vars(systems)
    if "lumps" not in kept:
        kept["lumps"] = _lumps_of(systems)
    found: Lumps = kept["lumps"]
    return found


def _lumps_of(systems: Systems) -> Lumps:
    q, open_, (l2, delay) = systems, systems.vented | systems.radiating, systems.lossy_section
    area, wb_cab = np.where(open_, q.opening, 1.0), q.omega_b * q.cab
    parts = table(
        Parts, len(q), open=open_, vented=q.vented, radiating=q.radiating, area=area, cones=q.count * q.sd, sd=q.sd,
        bl=q.bl, cms=q.cms, rms=q.rms, mass=q.moving_mass, re=q.re, thermal=q.thermal, coefficient=q.coefficient,
        jet=jet_resistance(loss=np.where(q.vented, q.vent_loss, 0.0), speed=1.0, rho=q.air.rho),
        bl2=q.bl2, bl4=q.bl4, k2=q.k2, k4=q.k4, cab=q.cab, mutual=q.mutual, absorption=1.0 / (wb_cab * q.qa),
        leak=wb_cab / q.ql, branch=wb_cab, le=q.le, l2=l2, delay=delay, kr=q.kr, xr=q.xr, ki=q.ki, xi=q.xi,
        voltage=q.voltage,
    )  # fmt: skip
    square = np.where(q.filter_order > 0.0, q.filter_hz**2, 0.0)
    losses = filters.loss(order=q.filter_order, q=q.filter_q, q2=q.filter_q2)
    high_pass = np.stack([each * square**power for power, each in enumerate(losses)], axis=1)
    top, bottom = (np.stack(each, axis=1) for each in (q.branch.top, q.branch.bottom))
    return Lumps(parts, top, bottom, high_pass, q.chain.low_pass_terms, q.chain.band_terms)


@borrowing
def _polynomial(terms: Floats, i: int, x: Any) -> Any:
    total = terms[i, -1] + 0.0 * x
    for power in range(terms.shape[1] - 2, -1, -1):
        total = total * x + terms[i, power]
    return total


@borrowing
def point(every: Lumps, i: int, hz: float) -> Point:
    """The ``i``-th system at a frequency."""
    parts, omega = every.parts[i], 2.0 * math.pi * hz
    s = complex(0.0, omega)
    compliance = _compliance(s, parts.cab, parts.mutual, parts.absorption)
    opening = complex(0.0)
    if parts.open:
        opening = _polynomial(every.bottom, i, s) / (parts.branch * _polynomial(every.top, i, s))
    coil = _inductance(s, parts.le, parts.l2, parts.delay)
    if parts.kr != 0.0 or parts.ki != 0.0:
        growth = omega**parts.xr
        coil += complex(parts.kr * growth, parts.ki * (growth if parts.xi == parts.xr else omega**parts.xi))
    square, band = hz * hz, every.band
    loss = _polynomial(every.high_pass, i, 1.0 / square) * _polynomial(every.low_pass, 0, square)
    signal = np.sqrt(_band(square, band.hz, band.most, band.least) / loss)
    per_omega = 1.0 / omega
    return Point(omega, per_omega, per_omega / parts.cms, opening, compliance, compliance + parts.leak, coil, signal)


@compiled
def full_voltage(parts: Parts, point: Point, gain: float) -> float:
    """V RMS at a setting of the ``gain``, 1 at full drive: the amplifier gives its full voltage and no more."""
    return parts.voltage * min(gain * point.signal, 1.0)
