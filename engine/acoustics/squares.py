"""The same circuit in closed real form: squared magnitudes as polynomials in ω², for speed.

Write x = ω/ωb, A = 1/qa, L = 1/ql, P = 1/qp, v = 1 for a vented box and 0 for a closed one.
The box admits Y = ωb·cab·[jx/(1 + jxA) + L + v/(jx + P)] = ωb·cab·n/d with

    n = jx(jx + P) + L(1 + jxA)(jx + P) + v(1 + jxA),    d = (1 + jxA)(jx + P).

Times ωb², so that only powers of ω are left, and sorted by them:

    N = (n0 - n2·ω²) + jω·n1     n0 = ωb²(v + LP)   n1 = ωb(P + L(1 + AP) + vA)   n2 = 1 + LA
    D = (d0 - d2·ω²) + jω·d1     d0 = ωb²·P         d1 = ωb(1 + AP)               d2 = A

With Zm = rms + jω·mms + 1/(jω·cms), K = n·sd²/(ωb·cab) (n drivers) and Z the coil, the loop
equations of :mod:`engine.acoustics.circuit` give

    W = jω(Zm·N + K·D)     T = (Z·W + jω·bl²·N)·(1 + jωτ)     τ = l2/r2

    current    = V·W·(1 + jωτ)/T
    velocity   = V·bl·jω·N·(1 + jωτ)/T
    vent flow  = V·n·sd·bl·v·ωb·(ωb + jωA)·jω·(1 + jωτ)/T
    Ub         = V·n·sd·bl·(jω)²·(jω + Pωb)·(1 + jωτ)/T

where Z·(1 + jωτ) = (z0 - z2·ω²) + jω·z1 with z0 = re, z1 = re·τ + le + l2, z2 = le·τ.  W and T
are polynomials too; sorted into real and imaginary parts their coefficients are those below.

Here frequency runs along the first axis and designs along the last, so that NumPy's inner
loop runs over the designs.
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from engine.acoustics import filters
from engine.acoustics.circuit import Systems

Floats = NDArray[np.float64]

_LN_4_PI2 = 2.0 * math.log(2.0 * math.pi)


def _polynomial(s: Floats, coefficients: Floats, *, odd: bool = False) -> Floats:
    """c0 + c1·s + c2·s² …, coefficients (K, N): for all systems at s (F, 1), or at each's own s (…, N).

    Times √s where it is ``odd``.
    """
    if s.ndim == 2 and s.shape[1] == 1:
        return np.asarray(s ** (np.arange(len(coefficients)) + 0.5 * odd) @ coefficients)
    total = coefficients[-1] * s
    for coefficient in coefficients[-2:0:-1]:
        total += coefficient
        total *= s
    total += coefficients[0]
    if odd:
        total *= np.sqrt(s)
    return np.asarray(total)


class Squares:
    """The polynomials of a batch of N systems; :meth:`at` evaluates them."""

    def __init__(self, systems: Systems) -> None:
        q = systems
        vented = q.vented.astype(float)
        a, leak, p = 1.0 / q.qa, 1.0 / q.ql, vented / q.qp
        wb = q.omega_b
        k = 1.0 / q.cms
        bl2, voltage2 = q.bl**2, q.voltage**2
        flow2 = (q.count * q.sd * q.bl) ** 2 * voltage2
        box = q.count * q.sd**2 / (wb * q.cab)
        l2, delay = q.lossy_section

        n0, n1, n2 = wb**2 * (vented + leak * p), wb * (p + leak * (1.0 + a * p) + vented * a), 1.0 + leak * a
        d0, d1, d2 = wb**2 * p, wb * (1.0 + a * p), a
        w0, w2, w4 = k * n0, k * n2 + q.mms * n0 + q.rms * n1 + box * d1, q.mms * n2
        w1, w3 = k * n1 + q.rms * n0 + box * d0, q.mms * n1 + q.rms * n2 + box * d2
        z0, z1, z2 = q.re, q.re * delay + q.le + l2, q.le * delay

        swing = np.sqrt(2.0 * bl2 * voltage2)  # peak, so √2
        warmth = np.sqrt(q.re * voltage2)
        blown = 2.0 * flow2 * wb**2 / np.where(q.vented, q.vent_count * q.vent_area, np.inf) ** 2
        loud = flow2 * (q.air.rho / (2.0 * math.pi)) ** 2
        flat = (q.re * q.mms) ** 2
        zero, one = np.zeros(len(q)), np.ones(len(q))
        coil = [
            z0 * w0,
            -(z2 * w0 + z0 * w2 + z1 * w1 + bl2 * (n1 + delay * n0)),
            z0 * w4 + z2 * w2 + z1 * w3 + bl2 * delay * n2,
            -z2 * w4,
        ]
        groups = {
            # Real parts hold the even powers of ω, imaginary parts the odd ones.
            "excursion_real": [swing * n0, -swing * n2],
            "heat_real": [warmth * w0, -warmth * w2, warmth * w4],
            "heat_imaginary": [warmth * w1, -warmth * w3],
            "bare_real": [z0 * w0, -z0 * w2 - bl2 * n1, z0 * w4],
            "bare_imaginary": [z0 * w1 + bl2 * n0, -z0 * w3 - bl2 * n2],
            "coil_real": coil if np.any(z2) else coil[:-1],
            "coil_imaginary": [
                z0 * w1 + z1 * w0 + bl2 * n0,
                -(z2 * w1 + z0 * w3 + z1 * w2 + bl2 * (n2 + delay * n1)),
                z2 * w3 + z1 * w4,
            ],
            # These are squares already, in powers of ω².
            "excursion_imaginary": [zero, (swing * n1) ** 2],
            "delay": [one, delay**2],
            "vent": [zero, blown * wb**2, blown * a**2],
            "sound": [zero, zero, zero, loud * (p * wb) ** 2, loud],
            "response": [zero, zero, zero, flat * (p * wb) ** 2, flat],
            # ln(1/|H|² - 1) of the high-pass, in powers of ln f.
            "filter": list(filters.loss_line(order=q.filter_order, cutoff=q.filter_hz)),
        }
        stops = np.cumsum([len(group) for group in groups.values()]).tolist()
        self._rows = {name: slice(stop - len(groups[name]), stop) for name, stop in zip(groups, stops, strict=True)}
        self._table = np.array([row for group in groups.values() for row in group], dtype=float)
        # A factor that is 1 for all systems of the batch is left out.
        self.filtered = bool(np.any(q.filter_order))
        self.delayed = bool(np.any(delay))

    def __getitem__(self, name: str) -> Floats:
        """The coefficients of one polynomial, (K, N)."""
        return self._table[self._rows[name]]

    def take(self, index: NDArray[np.intp]) -> Squares:
        """The systems that ``index`` picks."""
        picked = object.__new__(Squares)
        picked._rows = self._rows
        picked._table = np.take(self._table, index, axis=1)
        picked.filtered, picked.delayed = self.filtered, self.delayed
        return picked

    def at(self, log_frequency: Floats) -> At:
        """Evaluated at ln f, f in Hz: (F, 1) for all systems, (F, N) or (N,) for each its own."""
        return At(self, log_frequency)


class At:
    """Squared magnitudes of N systems at F frequencies, full drive, filter in; each (F, N)."""

    def __init__(self, squares: Squares, log_frequency: Floats) -> None:
        self._squares = squares
        self._log_frequency = log_frequency
        self._s: Floats = np.exp(2.0 * log_frequency + _LN_4_PI2)

    def _polynomial(self, name: str, *, odd: bool = False) -> Floats:
        return _polynomial(self._s, self._squares[name], odd=odd)

    def _size(self, name: str) -> Floats:
        """|a(s) + jω·b(s)|² of a polynomial, s = ω²."""
        real = self._polynomial(f"{name}_real")
        imaginary = self._polynomial(f"{name}_imaginary", odd=True)
        real *= real
        imaginary *= imaginary
        real += imaginary
        return real

    @cached_property
    def filter_loss(self) -> Floats | float:
        """1/|H|² of the high-pass."""
        if not self._squares.filtered:
            return 1.0
        total = _polynomial(self._log_frequency, self._squares["filter"])
        np.exp(total, out=total)
        total += 1.0
        return total

    @cached_property
    def _drive(self) -> Floats:
        """|H·(1 + jωτ)/T|²."""
        total = self._size("coil")
        total *= self.filter_loss
        if self._squares.delayed:
            return np.divide(self._polynomial("delay"), total, out=total)
        return np.divide(1.0, total, out=total)

    @property
    def excursion(self) -> Floats:
        """Peak excursion, m²."""
        total = self._polynomial("excursion_real")
        total *= total
        total += self._polynomial("excursion_imaginary")
        total *= self._drive
        return total

    @property
    def vent_speed(self) -> Floats:
        """Peak air speed in the vents, (m/s)²; 0 for closed boxes."""
        total = self._polynomial("vent")
        total *= self._drive
        return total

    @property
    def pressure(self) -> Floats:
        """Sound pressure at 1 m, RMS, Pa²."""
        total = self._polynomial("sound")
        total *= self._drive
        return total

    @property
    def heat(self) -> Floats:
        """Power turned to heat in the resistance of one driver's coil, W."""
        total = self._size("heat")
        total *= self._drive
        return total

    @property
    def response(self) -> Floats:
        """Response over the reference level, without coil inductance and filter."""
        total = self._polynomial("response")
        total /= self._size("bare")
        return total
