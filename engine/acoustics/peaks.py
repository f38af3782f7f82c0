"""The highest points of what systems do at full power over frequency, each looked at ever more closely."""

from __future__ import annotations

import math
from collections.abc import Mapping

import numpy as np

from engine.acoustics.large_signal import NOWHERE, LargeResponse, Limits, Start, limits_of, settle, swing
from engine.acoustics.lumps import Lumps, full_voltage, lumps_of, point
from engine.arrays import Floats, Number
from engine.core.compiled import Table, borrowing, compiled, in_pieces

NEEDED, RAISED, EXCURSION, THROUGH, PUSHED = range(5)  # curves: see look
_CLOSER = 0.2  # by how much the step shrinks from one look to the next
_LOOKS = 4  # after the grid's; the last is 1/600 of the grid's step
_LOWER = 0.2  # of ln, by which a second peak of the grid may be lower than the first to be looked at
_THERE = 1e-7  # of ln, less than which another look would not add


def top(before: Floats, middle: Floats, after: Floats) -> tuple[Floats, Floats]:
    """Top of the parabola through three equally spaced points: steps from the middle, and its value.

    At most one step away; a full step uphill where the points bend the wrong way.
    """
    slope = 0.5 * (after - before)
    bend = before - 2.0 * middle + after
    offset = np.where(bend < 0.0, np.clip(-slope / bend, -1.0, 1.0), np.sign(slope))
    return offset, middle + offset * (slope + 0.5 * offset * bend)


@compiled
def _top(before: float, middle: float, after: float) -> tuple[float, float]:
    """:func:`top` of three numbers."""
    slope, bend = 0.5 * (after - before), before - 2.0 * middle + after
    offset = min(max(-slope / bend, -1.0), 1.0) if bend < 0.0 else np.sign(slope)
    return offset, middle + offset * (slope + 0.5 * offset * bend)


@borrowing
def look(
    every: Lumps, i: int, limits: Limits, gain: float, curve: int, place: float, start: Start
) -> tuple[float, Start]:
    """Ln of one of the curves of the ``i``-th system at ``place``, ln f, and where it was found.

    At the first of the ``limits`` and a setting of the ``gain``: how much softer than full drive that is, what the
    chain raises, and peaks of excursion (m), speed in the openings (m/s) and excursion there (m).
    """
    here, parts = point(every, i, np.exp(place)), every.parts[i]
    if curve == RAISED:
        return max(np.log(here.signal), 0.0), start
    start = settle(parts, here, limits, full_voltage(parts, here, gain), start)
    found = swing(parts, here, np.exp(start.place))
    if curve == NEEDED:
        value = parts.voltage * here.signal / abs(found.volts)
    elif curve == EXCURSION:
        value = math.sqrt(2.0) * found.speed / here.omega
    elif curve == THROUGH:
        value = math.sqrt(2.0) * abs(found.through)
    else:
        value = math.sqrt(2.0) * abs(found.through) / here.omega
    return np.log(value), start


@borrowing
def _closer(
    every: Lumps, i: int, limits: Limits, gain: float, curve: int, grid: Floats, values: Floats, size: float, peak: int
) -> tuple[float, float]:
    """Place and value of the highest point beside a ``peak`` of the ``values`` on the grid."""
    last, step = len(grid) - 1, grid[1] - grid[0]
    middle = min(max(peak, 1), last - 1)
    offset, _ = _top(values[middle - 1], values[middle], values[middle + 1])
    place, most = grid[peak], values[peak]
    guess, start = grid[middle] + offset * step, Start(np.log(size), NOWHERE.rise)
    for _ in range(_LOOKS):
        step *= _CLOSER
        three = (
            max(min(guess - step, grid[last]), grid[0]), min(max(guess, grid[0]), grid[last]),
            min(max(guess + step, grid[0]), grid[last]),
        )  # fmt: skip
        before, start = look(every, i, limits, gain, curve, three[0], start)
        here, start = look(every, i, limits, gain, curve, three[1], start)
        after, start = look(every, i, limits, gain, curve, three[2], start)
        for near, value in ((three[0], before), (three[1], here), (three[2], after)):
            if value > most:
                place, most = near, value
        offset, summit = _top(before, here, after)
        if abs(offset) < 1.0 and summit - most < _THERE:
            break
        guess = guess + offset * step if np.isfinite(offset) else place
    return place, most


@borrowing
def _highest(
    begin: int, end: int, every: Lumps, limits: Table, gain: Floats, curve: int, grid: Floats, values: Floats,
    sizes: Floats, place: Floats, most: Floats,
) -> None:  # fmt: skip
    last = len(grid) - 1
    for i in range(begin, end):
        first = second = -1
        for f in range(last + 1):
            here = values[i, f]
            if here > -np.inf and (f == 0 or here >= values[i, f - 1]) and (f == last or here > values[i, f + 1]):
                if first < 0 or here > values[i, first]:
                    first, second = f, first
                elif second < 0 or here > values[i, second]:
                    second = f
        place[i], most[i] = grid[last], values[i, last]
        for peak in (first, second):
            if peak < 0 or values[i, peak] < values[i, first] - _LOWER:
                continue
            at, value = _closer(every, i, limits[i], gain[i], curve, grid, values[i], sizes[i, peak], peak)
            if peak == first or value > most[i]:
                place[i], most[i] = at, value


def highest(
    found: LargeResponse, *, curve: int, values: Floats, limits: Mapping[str, Number], gain: Number = 1.0
) -> tuple[Floats, Floats]:
    """Hz and value of the highest point of a ``curve`` of N systems, see :func:`look`, each (N,).

    ``found`` is what they do with these ``limits`` and this ``gain`` over frequencies evenly spaced on a log scale, and
    ``values`` (N, F) are the curve's there.  The two highest peaks of that grid are looked at, so one that lies between
    its points and rises above both by less than the grid shows is missed.
    """
    systems, count = found.systems, len(found.systems)
    place, most = np.empty((2, count))
    grid = np.log(found.omega[0] / (2.0 * math.pi)) if count else np.zeros(2)
    gains = np.array(np.broadcast_to(gain, count), dtype=float)
    with np.errstate(all="ignore"):
        logs = np.log(values)
        in_pieces(_highest, count, lumps_of(systems), limits_of(count, limits), gains, curve, grid, logs,
                  found.found.size, place, most)  # fmt: skip
        return np.exp(place), np.exp(most)
