"""The high-pass that keeps the cones within Xmax at full power, at the least cost in f3."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from engine.acoustics.circuit import Systems
from engine.acoustics.figures import SEARCH_GRID, Figures, figures
from engine.acoustics.filters import gains, loss, section_qs
from engine.arrays import Floats, Indices, Integers

CUTOFFS = (5.0, 60.0)  # Hz
STEP = 0.1  # Hz; nobody sets a filter finer
_COARSE = 5  # steps between the cutoffs that a filter which raises something is first tried at
_NO_MATTER = 0.5 * STEP  # Hz of f3 between two filters below which the simpler one is taken
_ANY_SPEED = 17.0  # m/s; output is not looked at


@dataclass(frozen=True)
class Choice:
    """One kind of high-pass to try."""

    shape: str
    order: int
    own_q: float = math.nan

    @property
    def qs(self) -> tuple[float, float]:
        q, q2 = section_qs(shape=self.shape, order=self.order, own_q=self.own_q)
        return float(q), float(q2)

    @property
    def raises(self) -> bool:
        """Whether it has more gain than 1 somewhere."""
        q, q2 = self.qs
        return bool(np.any(gains(loss(order=self.order, q=q, q2=q2))))


# None that raises much: a high Q buys f3 on paper, with voltage that the amplifier does not have at full power.
CHOICES = (
    Choice("butterworth", 2), Choice("linkwitz-riley", 2), Choice("own", 2, 1.0),
    Choice("butterworth", 3), Choice("butterworth", 4), Choice("linkwitz-riley", 4),
)  # fmt: skip
UNNEEDED, NONE_HOLDS = -1, -2  # in place of a choice


@dataclass(frozen=True, kw_only=True)
class Recommended:
    """The best filter of N systems, every field (N,).

    ``choice`` is a place in the choices, ``UNNEEDED`` or, where none in the range holds, ``NONE_HOLDS``; in both cases
    ``hz`` is nan and f3 and ratio are those without a filter.
    """

    choice: Integers
    hz: Floats
    f3: Floats
    f3_without: Floats
    excursion_ratio: Floats  # the worst of drivers and passive radiators, over their own xmax
    excursion_ratio_without: Floats

    @property
    def turned_down_db(self) -> Floats:
        """What the gain has to come down by without a filter to hold excursion, dB; 0 where it holds."""
        return np.asarray(20.0 * np.log10(np.maximum(self.excursion_ratio_without, 1.0)))


def recommend(
    systems: Systems,
    *,
    choices: tuple[Choice, ...] = CHOICES,
    cutoffs: tuple[float, float] = CUTOFFS,
    frequency: Floats = SEARCH_GRID,
) -> Recommended:
    """The best of ``choices`` and its cutoff in steps of 0.1 Hz, whatever filter ``systems`` have.

    A higher cutoff never moves a cone further, of any kind of filter: where a filter raises something, the
    amplifier's full voltage cuts it off.  So the lowest cutoff that holds is found by halving.  f3 rises with the
    cutoff, and that cutoff is the answer, but for filters that raise something: those are tried at every
    0.5 Hz above it, and then at every 0.1 Hz around the best.  (A chain with a cutting band can break
    the first rule a little; the filter found then still holds.)

    Excursion is the linear model's, which is the safe side but for a motor that weakens at the driver's resonance:
    a warm coil, a stiff suspension and a vent's jet make cones move less where they move most.  It is
    looked at over the range of ``frequency``.  Of filters within 0.05 Hz of f3 the first in
    ``choices`` is taken.  Where f3 cannot be had the choice goes by cutoff.
    """
    number, many = len(systems), len(choices)
    low, high = round(cutoffs[0] / STEP), round(cutoffs[1] / STEP)
    # What full power does to the output is not asked for here.
    off = np.zeros(number)
    systems = replace(systems, thermal=off, vent_loss=off, bl2=off, bl4=off, k2=off, k4=off)
    bare = replace(systems, filter_order=np.zeros(number))
    without = _judged(bare, frequency)
    ratio_without = _ratio(without)

    row, kind = np.repeat(np.arange(number), many), np.tile(np.arange(many), number)
    order, q, q2 = np.array([(each.order, *each.qs) for each in choices])[kind].T
    tried = replace(systems.take(row), filter_order=order, filter_q=q, filter_q2=q2)

    def at(some: Indices, steps: Integers) -> Figures:
        return _judged(replace(tried.take(some), filter_hz=np.asarray(steps * STEP, dtype=float)), frequency)

    # Halving: ``holding`` always holds (or is one beyond the range), ``failing`` never does (or is one below it).
    failing, holding = np.full(number * many, low - 1), np.full(number * many, high + 1)
    while np.any(holding - failing > 1):
        open_ = np.flatnonzero(holding - failing > 1)
        middle = (holding[open_] + failing[open_]) // 2
        holds = _ratio(at(open_, middle)) <= 1.0
        holding[open_[holds]] = middle[holds]
        failing[open_[~holds]] = middle[~holds]

    f3, best = np.full(number * many, np.nan), holding.copy()
    possible = np.flatnonzero(holding <= high)
    if len(possible):
        f3[possible] = at(possible, holding[possible]).f3
    raising = possible[np.array([each.raises for each in choices])[kind[possible]]]
    for shifts in (np.arange(_COARSE, high - low + 1, _COARSE), np.arange(-_COARSE, _COARSE + 1)):
        steps = best[raising, np.newaxis] + shifts
        asked = (steps >= holding[raising, np.newaxis]) & (steps <= high)
        if not asked.any():
            continue
        found = at(np.repeat(raising, asked.sum(axis=1)), steps[asked])
        lower = np.full(steps.shape, np.inf)
        lower[asked] = np.where((_ratio(found) <= 1.0) & np.isfinite(found.f3), found.f3, np.inf)
        at_lowest = np.arange(len(raising)), np.argmin(lower, axis=1)
        better = lower[at_lowest] < f3[raising]
        best[raising[better]] = steps[at_lowest][better]
        f3[raising[better]] = lower[at_lowest][better]

    cost = np.where(np.isnan(f3), 1e3 + best, f3)
    cost[holding > high] = np.inf
    table = cost.reshape(number, many)
    first = np.argmax(table <= table.min(axis=1, keepdims=True) + _NO_MATTER, axis=1)
    chosen = np.arange(number) * many + first
    needed = ~(ratio_without <= 1.0)
    there = needed & np.isfinite(table.min(axis=1))
    ratio = ratio_without.copy()
    some = chosen[there]
    if len(some):
        ratio[there] = _ratio(at(some, best[some]))
    return Recommended(
        choice=np.where(there, first, np.where(needed, NONE_HOLDS, UNNEEDED)),
        hz=np.where(there, best[chosen] * STEP, np.nan),
        f3=np.where(there, f3[chosen], without.f3),
        f3_without=without.f3,
        excursion_ratio=ratio,
        excursion_ratio_without=ratio_without,
    )


def _judged(systems: Systems, frequency: Floats) -> Figures:
    band = (float(frequency[0]), float(frequency[-1]))
    return figures(systems, music_band=band, vent_speed_limit=_ANY_SPEED, frequency=frequency)


def _ratio(found: Figures) -> Floats:
    return np.asarray(np.maximum(found.excursion_ratio, found.radiator_ratio))
