"""The high-pass with which a box plays loudest at one setting of the gain."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from engine.acoustics.circuit import Systems
from engine.acoustics.figures import SEARCH_GRID, Figures, figures
from engine.acoustics.filters import section_qs
from engine.acoustics.gain import TOP, Use
from engine.arrays import Floats, Indices, Integers

CUTOFFS = (5.0, 60.0)  # Hz
STEP = 0.1  # Hz; nobody sets a filter finer
_COARSE = 10  # steps between the cutoffs that are tried first
# Steps above the best that a search hears: what that misses is mostly a peak below the cutoff.
_SAFER = np.array([0, 5, 10, 20, 40])
_FULL = 0.9995  # of the voltage, above which nothing is turned down
_WORTH = 0.3  # dB of mean level, below which no filter is worth its trouble
_NO_MATTER = 0.05  # dB of mean level between two filters below which the simpler one is taken
_FALLS = 0.1  # dB that a level may fall by as a search hears it, which is what it is good to
_FALLS_EXACTLY = 0.3  # the same in the exact model: nobody hears that


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


# None that raises much: a high Q takes voltage that the amplifier does not have at full power.
CHOICES = (
    Choice("butterworth", 2), Choice("linkwitz-riley", 2), Choice("own", 2, 1.0),
    Choice("butterworth", 3), Choice("butterworth", 4), Choice("linkwitz-riley", 4),
)  # fmt: skip
UNNEEDED, NONE_HELPS = -1, -2  # in place of a choice


@dataclass(frozen=True, kw_only=True)
class Recommended:
    """The best filter of N systems, every field (N,) but the levels, (N, L).

    ``choice`` is a place in the choices, ``UNNEEDED`` where nothing passes a limit at full drive without a filter, or
    ``NONE_HELPS`` where none makes a system play louder; in both cases ``hz`` is nan and the rest is as without one.
    """

    choice: Integers
    hz: Floats
    gain: Floats  # share of full drive
    gain_without: Floats
    levels: Floats  # dB re 20 µPa at 1 m, at the frequencies of the use
    levels_without: Floats
    f3: Floats
    f3_without: Floats

    @property
    def turned_down_db(self) -> Floats:
        """What the gain has to come down by without a filter, dB."""
        return np.asarray(-20.0 * np.log10(self.gain_without))


def recommend(
    systems: Systems,
    *,
    use: Use,
    vent_speed_limit: float,
    choices: tuple[Choice, ...] = CHOICES,
    cutoffs: tuple[float, float] = CUTOFFS,
) -> Recommended:
    """The best of ``choices`` and its cutoff in steps of 0.1 Hz, whatever filter ``systems`` have.

    The best has the highest mean of the levels, dB, at the frequencies of the ``use``, each at the one gain at which
    cone, passive radiator, vent air and coil hold their limits with that filter in; no level may be lower than
    without a filter by more than 0.3 dB.  So a filter never trades deep bass for loudness further up.  Of filters
    within 0.05 dB the first in ``choices`` is taken; one that adds less than 0.3 dB is not worth having.

    Every 1 Hz and then every 0.1 Hz around the best is looked at as a search hears it; the best of each choice, and a
    few cutoffs above it, are judged by the exact model.  ``use`` names at least one level; whether it turns
    anything down does not matter, here all is.
    """
    use = replace(use, full_drive=False)
    number, many = len(systems), len(choices)
    low, high = round(cutoffs[0] / STEP), round(cutoffs[1] / STEP)
    order, q, q2 = np.array([(each.order, *each.qs) for each in choices]).T

    def heard(some: Systems, *, exact: bool = False) -> Figures:
        band = (use.fed_from, TOP)
        return figures(
            some, music_band=band, vent_speed_limit=vent_speed_limit, frequency=SEARCH_GRID, exact=exact, use=use,
            asked=(),
        )  # fmt: skip

    def filtered(rows: Indices, kinds: Indices, steps: Integers) -> Systems:
        hz = np.asarray(steps * STEP, dtype=float)
        return replace(
            systems.take(rows), filter_order=order[kinds], filter_hz=hz, filter_q=q[kinds], filter_q2=q2[kinds]
        )

    bare = replace(systems, filter_order=np.zeros(number))
    least, without = heard(bare).levels, heard(bare, exact=True)
    rows, kinds = np.repeat(np.arange(number), many), np.tile(np.arange(many), number)
    best = np.zeros(number * many, dtype=np.intp)
    for shifts in (np.arange(low, high + 1, _COARSE), np.arange(1 - _COARSE, _COARSE)):
        steps = np.clip(best[:, np.newaxis] + shifts, low, high)
        every, kind = (np.repeat(each, len(shifts)) for each in (rows, kinds))
        worth = _louder(heard(filtered(every, kind, steps.ravel())).levels, least[every], _FALLS).reshape(steps.shape)
        best = steps[np.arange(number * many), np.argmax(worth, axis=1)]
    last = np.clip(best[:, np.newaxis] + _SAFER, low, high).ravel()
    every, kind = (np.repeat(each, len(_SAFER)) for each in (rows, kinds))
    found = heard(filtered(every, kind, last), exact=True)

    table = _louder(found.levels, without.levels[every], _FALLS_EXACTLY).reshape(number, many * len(_SAFER))
    most = table.max(axis=1, keepdims=True)
    first = np.argmax(table >= most - _NO_MATTER, axis=1)
    needed = without.gain < _FULL
    there = needed & (most[:, 0] >= _WORTH)
    chosen = np.arange(number) * table.shape[1] + first

    def told(name: str) -> Floats:
        with_it, bare = getattr(found, name)[chosen], getattr(without, name)
        return np.asarray(np.where(there.reshape(-1, *[1] * (bare.ndim - 1)), with_it, bare))

    return Recommended(
        choice=np.where(there, kind[chosen], np.where(needed, NONE_HELPS, UNNEEDED)),
        hz=np.where(there, last[chosen] * STEP, np.nan),
        gain=told("gain"), gain_without=without.gain,
        levels=told("levels"), levels_without=without.levels,
        f3=told("f3"), f3_without=without.f3,
    )  # fmt: skip


def _louder(levels: Floats, without: Floats, falls: float) -> Floats:
    """By how much the mean of some levels is higher, dB; -inf where one of them falls by more than ``falls``."""
    change = levels - without
    mean: Floats = change.mean(axis=1)
    return np.where(np.all(change >= -falls, axis=1), mean, -np.inf)
