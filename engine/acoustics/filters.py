"""What the signal passes before the amplifier: infrasonic high-pass, low-pass crossover, one parametric band.

The high-pass differs from design to design; crossover and band (:class:`Chain`) are the same
for a whole job.  All are analogue prototypes, built of sections of first and second order:

    high-pass   s/(s + 1)   s²/(s² + s/Q + 1)        s = jf/cutoff
    low-pass    1/(s + 1)   1/(s² + s/Q + 1)
    band        (s² + s·A/Q + 1)/(s² + s/(A·Q) + 1)   A = 10^(gain/40)

The band is the peaking prototype of R. Bristow-Johnson's audio-EQ cookbook.  Frequencies in Hz; what is said
to broadcast does so as NumPy does, so (F,) against (N, 1) gives (N, F).
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import cached_property
from typing import Any, NamedTuple

import numpy as np

from engine.arrays import Complexes, Flags, Floats, Integers
from engine.registry import Registry

Numbers = float | Floats | Integers
_ROUNDING = -1e-9


@dataclass(frozen=True, kw_only=True)
class Shape:
    """A shape of high-pass or low-pass.

    ``sections`` gives the Q of the first and the second section of second order from the order and a Q of the user's
    own, both (…); that Q is stated for the shapes with ``own_q`` and for no other.  ``label`` is its name in a
    sentence, ``choice`` that in a form.
    """

    name: str
    label: str
    choice: str
    orders: tuple[int, ...]
    own_q: bool = False
    sections: Callable[[Floats, Floats], tuple[Floats, Floats]]

    def with_q(self, q: float) -> str:
        """What a filter of this shape is called: by its name, or by its Q where that is the user's own."""
        return f"Q {q:.2f}" if self.own_q else self.label


def _butterworth(order: Floats, own_q: Floats) -> tuple[Floats, Floats]:
    """Q = 1/(2·sin θ), θ = π/(2·order)·(1, 3, …) (Butterworth 1930)."""
    # θ = π/4 of order 2, π/6 of order 3, π/8 and 3π/8 of order 4.
    first = 0.5 / np.sin(0.5 * math.pi / np.maximum(order, 1.0))
    return first, 0.5 / np.sin(1.5 * math.pi / np.maximum(order, 4.0))


def _linkwitz_riley(order: Floats, own_q: Floats) -> tuple[Floats, Floats]:
    """Order 2 is two first orders, Q = 1/2; order 4 two Butterworths (Linkwitz 1976)."""
    return np.where(order > 2.0, math.sqrt(0.5), 0.5), np.full(order.shape, math.sqrt(0.5))


def _own(order: Floats, own_q: Floats) -> tuple[Floats, Floats]:
    return np.broadcast_arrays(own_q, order)[0], np.ones(order.shape)


SHAPES = Registry(
    Shape(name="butterworth", label="Butterworth", choice="Butterworth", orders=(1, 2, 3, 4), sections=_butterworth),
    # Two equal Butterworths in series, so only even orders exist (Linkwitz 1976).
    Shape(name="linkwitz-riley", label="Linkwitz-Riley", choice="Linkwitz-Riley", orders=(2, 4),
          sections=_linkwitz_riley),
    Shape(name="own", label="of its own Q", choice="Of your own Q", orders=(2,), own_q=True, sections=_own),
)  # fmt: skip
NAMED = tuple(shape.name for shape in SHAPES.records if not shape.own_q)  # whose Q follow from the order


def section_qs(*, shape: str, order: Numbers, own_q: Numbers = math.nan) -> tuple[Floats, Floats]:
    """Q of the first and the second section of second order that a filter is made of, each in the shape of ``order``.

    ``shape`` names one of ``SHAPES`` (KeyError if none); ``order`` is 0 to 4, 0 for no filter, and orders 1 and 3 have
    a section of first order besides; ``own_q`` is the Q of a shape whose Q is the user's own and broadcasts.  1 for a
    section that an order does not have.  Butterworth (1930): Q = 1/(2·sin θ), θ = π/(2·order)·(1, 3, …);
    Linkwitz (1976): two equal Butterworths.

    >>> q, q2 = section_qs(shape="butterworth", order=4)
    >>> round(float(q), 4), round(float(q2), 4)
    (1.3066, 0.5412)
    """
    stated: Floats = np.asarray(order, dtype=float)
    first, second = SHAPES[shape].sections(stated, np.asarray(own_q, dtype=float))
    return np.where(stated > 1.0, first, 1.0), np.where(stated > 3.0, second, 1.0)


def loss(*, order: Numbers, q: Numbers, q2: Numbers) -> list[Floats]:
    """1/|H|² of a high-pass as a polynomial in u = (cutoff/f)², lowest power first; five coefficients.

    Of a low-pass the same in u = (f/cutoff)².  A section of second order has 1 + (1/Q² - 2)·u + u².
    """
    order, q, q2 = (np.asarray(each, dtype=float) for each in (order, q, q2))
    one, two = order > 1.0, order > 3.0
    odd = (order == 1.0) | (order == 3.0)
    # np.where, so that the Q of a section that is not there may be anything.
    bend = np.where(one, np.where(one, q, 1.0) ** -2.0 - 2.0, 0.0)
    low, middle, high = bend + odd, one + odd * bend, 1.0 * (odd & one)
    if not np.any(two):
        return [np.ones(low.shape), low, middle, high, np.zeros(low.shape)]
    bend2 = np.where(two, np.where(two, q2, 1.0) ** -2.0 - 2.0, 0.0)
    third, fourth = high + bend2 * middle + two * low, bend2 * high + two * middle
    return [np.ones(low.shape), low + bend2, middle + bend2 * low + two, third, fourth]


def gains(losses: list[Floats]) -> Flags:
    """Whether :func:`loss` may fall below 1 somewhere: one of its coefficients is negative beyond rounding."""
    return np.asarray(np.any([each < _ROUNDING for each in losses], axis=0))


def response(frequency: Floats, *, order: Numbers, cutoff: Numbers, q: Numbers, q2: Numbers) -> Complexes:
    """Complex response of the high-pass; all broadcast.  Where ``order`` is 0 it is 1."""
    order = np.asarray(order)
    with np.errstate(divide="ignore", invalid="ignore"):
        over = np.asarray(cutoff, dtype=float) / (1j * np.asarray(frequency))  # 1/s
        first = np.where(np.mod(order, 2) == 1, 1.0 / (1.0 + over), 1.0)
        second = np.where(order > 1, 1.0 / (1.0 + over / q + over**2), 1.0)
        third = np.where(order > 3, 1.0 / (1.0 + over / q2 + over**2), 1.0)
    return np.asarray(first * second * third, dtype=complex)


def low_pass(frequency: Floats, *, order: Numbers, cutoff: Numbers, q: Numbers, q2: Numbers) -> Complexes:
    """Complex response of a low-pass; all broadcast.  The high-pass mirrored about its cutoff."""
    mirrored = response(np.asarray(1.0 / frequency), order=order, cutoff=1.0 / np.asarray(cutoff, float), q=q, q2=q2)
    return np.asarray(np.conj(mirrored))


def band(frequency: Floats, *, centre: Numbers, gain_db: Numbers, q: Numbers) -> Complexes:
    """Complex response of a parametric band; all broadcast.

    ``gain_db`` is reached at ``centre``; at ``gain_db``/2 the band is about centre/Q wide (exact in the
    prototype: the two frequencies at half the gain in dB lie f2 - f1 = centre/Q apart).
    """
    s = 1j * np.asarray(frequency) / centre
    a = np.power(10.0, np.asarray(gain_db, dtype=float) / 40.0)
    return np.asarray((s * s + s * a / q + 1.0) / (s * s + s / (a * q) + 1.0))


class Band(NamedTuple):
    """The parametric band of a chain as :func:`band_power` takes it."""

    hz: float
    most: float  # A²/Q² and 1/(A·Q)², of the same Q
    least: float


def band_power(square: Any, hz: float, most: float, least: float) -> Any:
    """|H|² of a parametric band at the ``square`` of a frequency in Hz, numbers or arrays; see :class:`Band`."""
    u = square / hz**2
    apart = (1.0 - u) ** 2
    return (apart + u * most) / (apart + u * least)


@dataclass(frozen=True, kw_only=True)
class Chain:
    """What of the signal chain is the same for all designs; order 0 and gain 0 are nothing."""

    low_pass_order: int = 0
    low_pass_hz: float = math.inf
    low_pass_q: float = 1.0
    low_pass_q2: float = 1.0
    band_hz: float = 100.0
    band_db: float = 0.0
    band_q: float = 1.0

    @property
    def raises(self) -> bool:
        """Whether it has more gain than 1 somewhere."""
        return self.band_db > 0.0 or any(each < _ROUNDING for each in self._low_pass_loss)

    def response(self, frequency: Floats) -> Complexes:
        """Complex response of crossover and band at any shape of ``frequency``, Hz."""
        total = np.ones(np.shape(frequency), dtype=complex)
        if self.low_pass_order:
            sections = {"order": self.low_pass_order, "q": self.low_pass_q, "q2": self.low_pass_q2}
            total *= low_pass(frequency, cutoff=self.low_pass_hz, **sections)
        if self.band_db != 0.0:
            total *= band(frequency, centre=self.band_hz, gain_db=self.band_db, q=self.band_q)
        return total

    @cached_property
    def _low_pass_loss(self) -> list[float]:
        every = loss(order=self.low_pass_order, q=self.low_pass_q, q2=self.low_pass_q2)
        return [float(each) for each in every[: self.low_pass_order + 1]]

    @property
    def low_pass_terms(self) -> Floats:
        """1/|H|² of the crossover as a polynomial in f², (1, K), lowest power first."""
        return np.array([[each / self.low_pass_hz ** (2 * power) for power, each in enumerate(self._low_pass_loss)]])

    @property
    def band_terms(self) -> Band:
        a = 10.0 ** (self.band_db / 40.0)
        return Band(self.band_hz, (a / self.band_q) ** 2, (a * self.band_q) ** -2.0)

    def low_pass_loss(self, frequency_squared: Floats) -> Floats:
        """1/|H|² of the crossover at f², Hz²."""
        u = frequency_squared / self.low_pass_hz**2
        total = np.zeros(np.shape(u))
        for coefficient in reversed(self._low_pass_loss):
            total *= u
            total += coefficient
        return total

    def band_squared(self, frequency_squared: Floats) -> Floats:
        """|H|² of the band at f², Hz²."""
        return np.asarray(band_power(frequency_squared, *self.band_terms))


NO_CHAIN = Chain()
