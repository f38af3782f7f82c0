"""The highest point of many curves at once, each looked at ever more closely."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from engine.arrays import Floats

_CLOSER = 0.2  # by how much the step shrinks from one look to the next
_LOOKS = 4  # after the grid's; the last is 1/600 of the grid's step
_PEAKS = 2  # of the grid that are looked at
_THREE = np.array([-1.0, 0.0, 1.0])


def top(before: Floats, middle: Floats, after: Floats) -> tuple[Floats, Floats]:
    """Top of the parabola through three equally spaced points: steps from the middle, and its value.

    At most one step away; a full step uphill where the points bend the wrong way.
    """
    slope = 0.5 * (after - before)
    bend = before - 2.0 * middle + after
    offset = np.where(bend < 0.0, np.clip(-slope / bend, -1.0, 1.0), np.sign(slope))
    return offset, middle + offset * (slope + 0.5 * offset * bend)


def highest(grid: Floats, values: Floats, curve: Callable[[Floats], Floats]) -> tuple[Floats, Floats]:
    """Place and value of the highest point of N smooth curves within an evenly spaced ``grid`` (F,), each (N,).

    ``values`` (N, F) is what ``curve`` gives there; it takes places (N, M).  The two highest peaks of the grid are
    looked at, so one that lies between grid points and rises above both by less than the grid shows is missed.
    """
    rows = np.arange(len(values))[:, np.newaxis]
    walled = np.pad(values, ((0, 0), (1, 1)), constant_values=-np.inf)
    peaks = np.where((values >= walled[:, :-2]) & (values > walled[:, 2:]), values, -np.inf)
    peaks[:, -1] = np.where(np.isfinite(peaks).any(axis=1), peaks[:, -1], values[:, -1])
    best = np.argsort(-peaks, axis=1, kind="stable")[:, :_PEAKS]
    place, value, step = grid[best], values[rows, best], grid[1] - grid[0]
    middle = np.clip(best, 1, len(grid) - 2)
    with np.errstate(all="ignore"):
        offset, _ = top(*(values[rows, middle + side] for side in (-1, 0, 1)))
        guess = grid[middle] + offset * step
        for _ in range(_LOOKS):
            step *= _CLOSER
            near = np.clip(guess[..., np.newaxis] + step * _THREE, grid[0], grid[-1])
            found = curve(near.reshape(len(values), near.shape[1] * near.shape[2])).reshape(near.shape)
            at = np.argmax(found, axis=2)[..., np.newaxis]
            reached = np.take_along_axis(found, at, axis=2)[..., 0]
            place = np.where(reached > value, np.take_along_axis(near, at, axis=2)[..., 0], place)
            value = np.fmax(reached, value)
            offset, _ = top(*np.moveaxis(found, 2, 0))
            guess = np.where(np.isfinite(offset), guess + offset * step, place)
    first = np.argmax(value, axis=1)
    return place[rows[:, 0], first], value[rows[:, 0], first]
