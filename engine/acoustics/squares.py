"""The same circuit in closed real form: squared magnitudes as polynomials in ω², for speed.

Write p = jω, A = 1/qa, L = 1/ql and M = ωb·cab·mutual.  Times ωb to the power that leaves only powers of p, the
branches of :mod:`engine.acoustics.circuit` are

    compliance   ωb·cab·p/(ωb + A·p + M·p²)                       a = the denominator
    leak         ωb·cab·L
    openings     ωb·cab·top/b                                     polynomials of the kind of box (engine.kinds)

The box admits Y = ωb·cab·N/D with

    N = p·b + L·a·b + a·top        D = a·b

With p·Zm = 1/cms + rms·p + (mms + air_mass)·p², K = n·sd²/(ωb·cab) (n drivers) and Z the coil, the loop equations give

    W = p·(Zm·N + K·D)     T = (Z·W + p·bl²·N)·(1 + p·τ)     τ = l2/r2

    current    = V·W·(1 + p·τ)/T
    excursion  = V·bl·N·(1 + p·τ)/T
    flow       = V·n·sd·bl·p·a·top·(1 + p·τ)/T       through vents or radiators
    Ub         = V·n·sd·bl·p²·b·(1 + p·τ)/T          into the box's compliance, what is heard

where Z·(1 + p·τ) = re + (re·τ + le + l2)·p + le·τ·p².  On the imaginary axis the even powers of
such a polynomial are its real part and the odd ones its imaginary part.  With radiators all of them
are one order higher than with vents, and with M once more; a batch without takes the lower form.  A coil's power
law is no polynomial: where there is one, its impedance times W·(1 + p·τ) is added to T at each frequency.

Here frequency runs along the first axis and designs along the last, so that NumPy's inner loop runs over the designs.
"""

from __future__ import annotations

import math
from functools import cached_property

import numpy as np

from engine.acoustics import filters
from engine.acoustics.circuit import Systems
from engine.arrays import Floats, Indices

_4_PI2 = (2.0 * math.pi) ** 2
_LN_4_PI2 = math.log(_4_PI2)
# Of p to the power k on the imaginary axis: 1, j, -1, -j.
_SIGNS = np.array([1.0, 1.0, -1.0, -1.0, 1.0, 1.0, -1.0, -1.0, 1.0, 1.0])[:, np.newaxis]


def _times(left: Floats, right: Floats) -> Floats:
    product = np.zeros((len(left) + len(right) - 1, left.shape[1]))
    for power, each in enumerate(left):
        product[power : power + len(right)] += each * right
    return product


def _add(total: Floats, polynomial: Floats, *, power: int = 0) -> None:
    """Add a polynomial times p to a power to ``total``, which has room for it."""
    total[power : power + len(polynomial)] += polynomial


def _square(polynomial: Floats) -> Floats:
    """Of a polynomial in p its squared magnitude as one in ω²."""
    turned = polynomial * _SIGNS[: len(polynomial)]
    real, imaginary = turned[::2], turned[1::2]
    total = np.zeros_like(polynomial)
    _add(total, _times(real, real))
    if len(imaginary):
        _add(total, _times(imaginary, imaginary), power=1)
    return total


def _evaluate(s: Floats, coefficients: Floats, *, odd: bool = False) -> Floats:
    """c0 + c1·s + c2·s² …, coefficients (K, N): for all systems at s (F, 1), or at each's own s (…, N).

    Times √s where it is ``odd``.
    """
    if s.ndim == 2 and s.shape[1] == 1:
        return np.asarray(s ** (np.arange(len(coefficients)) + 0.5 * odd) @ coefficients)
    total = coefficients[-1] * (s if len(coefficients) > 1 else np.ones_like(s))
    for power in range(len(coefficients) - 2, -1, -1):
        total += coefficients[power]
        if power:
            total *= s
    if odd:
        total *= np.sqrt(s)
    return np.asarray(total)


class Squares:
    """The polynomials of a batch of N systems; :meth:`at` evaluates them."""

    def __init__(self, systems: Systems) -> None:
        q = systems
        self.vented = bool(np.any(q.vented))
        self.radiating = bool(np.any(q.radiating))
        wb, zero, one = q.omega_b, np.zeros(len(q)), np.ones(len(q))
        top, bottom = np.stack(q.branch.top), np.stack(q.branch.bottom)
        self.notched = len(bottom) > 2
        l2, delay = q.lossy_section
        absorption = np.stack([wb, 1.0 / q.qa, *([wb * q.cab * q.mutual] if np.any(q.mutual) else [])])
        both = _times(absorption, bottom)
        n = both / q.ql
        _add(n, bottom, power=1)
        _add(n, _times(top, absorption))
        w = _times(np.stack([1.0 / q.cms, q.rms, q.moving_mass]), n)
        _add(w, q.count * q.sd**2 / (wb * q.cab) * both, power=1)
        back = q.bl**2 * n
        bare = q.re * w
        _add(bare, back, power=1)
        second = q.le * delay
        full = _times(np.stack([q.re, q.re * delay + q.le + l2, *([second] if np.any(second) else [])]), w)
        _add(full, back, power=1)
        self.delayed = bool(np.any(delay))
        if self.delayed:
            _add(full, delay * back, power=2)

        flow2 = (q.count * q.sd * q.bl * q.voltage) ** 2
        # Peak, so ·2; what there is none of passes through an endless opening.
        vents = 2.0 * flow2 / np.where(q.vented, q.opening, np.inf) ** 2
        radiators = 2.0 * flow2 / np.where(q.radiating, q.opening, np.inf) ** 2
        through = _times(_square(top), _square(absorption))
        loud = np.sqrt(flow2) * q.air.rho / (2.0 * math.pi)
        warmth = np.sqrt(q.re) * np.abs(q.voltage)
        groups: dict[str, Floats | list[Floats]] = {}
        moved = math.sqrt(2.0) * np.abs(q.bl * q.voltage) * n
        polynomials = {"excursion": moved, "heat": warmth * w, "bare": bare, "coil": full}
        heard = {"sound": loud * bottom, "response": q.re * q.mms * bottom}
        if self.notched:
            polynomials |= heard
        else:
            # No more than two terms, which cannot cancel, so that they may be squared beforehand.
            groups |= {name: [zero, zero, zero, *each**2] for name, each in heard.items()}
        for name, polynomial in polynomials.items():
            turned = polynomial * _SIGNS[: len(polynomial)]
            groups[f"{name}_real"], groups[f"{name}_imaginary"] = turned[::2], turned[1::2]
        # These are squares already.
        groups["delay"] = [one, delay**2]
        groups["vent"] = [zero, *(vents * through)]
        groups["radiator"] = list(radiators * through)
        self._law = q.power_law is not None
        if self._law:
            groups["law"] = [q.kr, q.xr, q.ki, q.xi, delay, 1.0 / warmth]
        # 1/|H|² of the high-pass, in powers of 1/ω².
        cutoff = np.where(q.filter_order > 0.0, _4_PI2 * q.filter_hz**2, 0.0)
        losses = filters.loss(order=q.filter_order, q=q.filter_q, q2=q.filter_q2)
        order = int(np.max(q.filter_order, initial=0.0))
        groups["filter"] = [each * cutoff**power for power, each in enumerate(losses[: order + 1])]

        stops = np.cumsum([len(group) for group in groups.values()]).tolist()
        self._rows = {name: slice(stop - len(groups[name]), stop) for name, stop in zip(groups, stops, strict=True)}
        self._table = np.concatenate([np.asarray(group) for group in groups.values()])
        self._index: Indices | None = None
        self._picked: dict[str, Floats] = {}
        # A factor that is 1 for all systems of the batch is left out.
        self.chain = q.chain
        self._high_pass = order > 0
        self.filtered = self._high_pass or q.chain.band_db != 0.0
        self.raised = q.chain.raises or bool(np.any(filters.gains(losses)))

    def __getitem__(self, name: str) -> Floats:
        """The coefficients of one polynomial, (K, N)."""
        if self._index is None:
            return self._table[self._rows[name]]
        if name not in self._picked:
            self._picked[name] = np.take(self._table[self._rows[name]], self._index, axis=1)
        return self._picked[name]

    def take(self, index: Indices) -> Squares:
        """The systems that ``index`` picks; coefficients are picked as they are asked for."""
        picked = object.__new__(Squares)
        picked.__dict__.update(self.__dict__)
        picked._index = index if self._index is None else self._index[index]
        picked._picked = {}
        return picked

    def at(self, log_frequency: Floats) -> At:
        """Evaluated at ln f, f in Hz: (F, 1) for all systems, (F, N) or (N,) for each its own."""
        return At(self, log_frequency)


class At:
    """Squared magnitudes of N systems at F frequencies, full drive, filter in; each (F, N)."""

    def __init__(self, squares: Squares, log_frequency: Floats) -> None:
        self._squares = squares
        self._s: Floats = np.exp(2.0 * log_frequency + _LN_4_PI2)

    def _polynomial(self, name: str, *, odd: bool = False) -> Floats:
        return _evaluate(self._s, self._squares[name], odd=odd)

    def _size(self, name: str) -> Floats:
        """|a(s) + jω·b(s)|² of a polynomial, s = ω²."""
        real = self._polynomial(f"{name}_real")
        real *= real
        imaginary = self._squares[f"{name}_imaginary"]
        if len(imaginary) == 1:
            real += self._s * imaginary[0] ** 2
        else:
            odd = self._polynomial(f"{name}_imaginary", odd=True)
            odd *= odd
            real += odd
        return real

    @cached_property
    def filter_loss(self) -> Floats | float:
        """1/|H|² of high-pass and band: what of the chain f3 knows."""
        chain = self._squares.chain
        total = _evaluate(1.0 / self._s, self._squares["filter"]) if self._squares._high_pass else 1.0
        return total / chain.band_squared(self._s / _4_PI2) if chain.band_db != 0.0 else total

    @cached_property
    def chain_loss(self) -> Floats | float:
        """1/|H|² of the whole chain."""
        loss = self.filter_loss
        if self._squares.chain.low_pass_order:
            loss = loss * self._squares.chain.low_pass_loss(self._s / _4_PI2)
        return loss

    @cached_property
    def drive_loss(self) -> Floats | float:
        """The same but never below 1: an amplifier gives its full voltage and no more."""
        return np.maximum(self.chain_loss, 1.0) if self._squares.raised else self.chain_loss

    def _coil_with_law(self) -> Floats:
        """|T|² with the power law in it."""
        kr, xr, ki, xi, delay, cold = self._squares["law"]
        omega = np.sqrt(self._s)
        resistance, reactance, turn = kr * omega**xr, ki * omega**xi, omega * delay
        resistance, reactance = cold * (resistance - reactance * turn), cold * (reactance + resistance * turn)
        real, imaginary = self._polynomial("heat_real"), self._polynomial("heat_imaginary", odd=True)
        total = (self._polynomial("coil_real") + resistance * real - reactance * imaginary) ** 2
        total += (self._polynomial("coil_imaginary", odd=True) + resistance * imaginary + reactance * real) ** 2
        return np.asarray(total)

    @cached_property
    def _drive(self) -> Floats:
        """|H·(1 + jωτ)/T|²."""
        total = self._size("coil") if not self._squares._law else self._coil_with_law()
        total *= self.drive_loss
        return np.divide(self._polynomial("delay") if self._squares.delayed else 1.0, total, out=total)

    def _driven(self, total: Floats) -> Floats:
        total *= self._drive
        return total

    @cached_property
    def excursion(self) -> Floats:
        """Peak excursion of each driver, m²."""
        return self._driven(self._size("excursion"))

    @cached_property
    def vent_speed(self) -> Floats:
        """Peak air speed in the vents, (m/s)²; 0 without vents."""
        return self._driven(self._polynomial("vent"))

    @cached_property
    def radiator_excursion(self) -> Floats:
        """Peak excursion of each passive radiator, m²; 0 without."""
        return self._driven(self._polynomial("radiator"))

    @property
    def pressure(self) -> Floats:
        """Sound pressure at 1 m, RMS, Pa²."""
        return self._driven(self._heard("sound"))

    @property
    def heat(self) -> Floats:
        """Power turned to heat in the resistance of one driver's coil, W."""
        return self._driven(self._size("heat"))

    @property
    def response(self) -> Floats:
        """Response over the reference level, without coil inductance and filter."""
        total = self._heard("response")
        total /= self._size("bare")
        return total

    def _heard(self, name: str) -> Floats:
        """|p³·b|², b the openings' denominator, times what ``name`` has before it."""
        if not self._squares.notched:
            return self._polynomial(name)
        total = self._size(name)
        total *= self._s**3
        return total
