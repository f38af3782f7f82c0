"""Roots of many functions at once, each for itself: where a ln ratio that grows with ln size is 0."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from engine.arrays import Reals

_FURTHEST = 1.0  # of ln size, in one step


def jet_step(value: Reals) -> Reals:
    """The ln y that takes ln ratio² ``value`` to 0 if the drive is size·(1 + γ·size), as a vent's jet makes it."""
    found: Reals = -np.log(0.5 + np.sqrt(0.25 + np.maximum(np.exp(0.5 * value) - 1.0, -0.2)))
    return found


def secant_step(value: Reals, before: Reals, step: Reals) -> Reals:
    """The next step along the line through the last two trials, which are ``step`` apart; none where it is level."""
    rise = value - before
    rise[np.abs(rise) <= 10.0 * np.finfo(rise.dtype).eps] = np.inf
    return np.asarray(np.clip(-value * step / rise, -_FURTHEST, _FURTHEST))


def close_in(
    over: Callable[[Reals], Reals], place: Reals, value: Reals, *, reach: float, steps: int
) -> tuple[Reals, Reals, Reals]:
    """Last place, its value and the next step after so many trials from ``place``, where ``over`` is ``value``.

    Secants while all trials lie to one side of the root, then the Illinois rule (Dowell & Jarratt 1971). The root
    lies within ``reach`` of ``place``, or further where the value asks for it: it grows at least as the square of the
    size.  The far end is not tried, the value there is taken as that square.
    """
    kind = value.dtype.type
    above = value > 0.0
    # A value beyond what the reach accounts for, such as that of a coil that runs away, must not hide the root.
    far = np.maximum(kind(reach), kind(0.5) * np.abs(value) + kind(1.0))
    low = place - np.where(above, far, kind(0.0))
    high, at_low = low + far, value - np.where(above, kind(2.0) * far, kind(0.0))
    at_high = at_low + kind(2.0) * far
    step = jet_step(value)
    one_sided = np.ones(place.shape, dtype=bool)
    for _ in range(steps):
        new = place + step
        chord = (low * at_high - high * at_low) / (at_high - at_low)
        new = np.where(one_sided & (new > low) & (new < high), new, chord)
        before, value = value, over(new)
        step = secant_step(value, before, new - place)
        same = above == (value > 0.0)
        one_sided &= same
        above, place = value > 0.0, new
        half = np.where(same, kind(0.5), kind(1.0))  # the end that stays twice running counts half
        low, high = np.where(above, low, place), np.where(above, place, high)
        at_low, at_high = np.where(above, at_low * half, value), np.where(above, value, at_high * half)
    return place, value, step
