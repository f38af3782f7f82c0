"""The figures a search judges designs by, quick enough for hundreds of thousands of designs.

Only the squared magnitudes of :mod:`engine.acoustics.squares` are used.  A coarse grid finds
where something happens; the exact curve, evaluated there, tells what.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.circuit import Systems
from engine.acoustics.limits import level_db, overdrive
from engine.acoustics.squares import Squares

Floats = NDArray[np.float64]
Indices = NDArray[np.intp]
Curve = Callable[[Squares, Floats], Floats]  # systems and ln of their frequencies -> squares

SEARCH_GRID: Floats = np.geomspace(10.0, 200.0, 64)  # Hz
FIGURES_GRID: Floats = np.geomspace(10.0, 200.0, 256)  # Hz

_BLOCK = 128_000  # designs × frequencies at a time, so that the working arrays stay in the cache
_BAND_STEP = 1.0 / 30.0  # of ln f, between the points the music band is averaged over
_HALF = 0.5  # power; -3 dB is 10·log10(1/2) exactly
_ROOT_STEPS = 5
_PEAK_LOSS = 4.0  # power by which a sharp peak may pass the grid point nearest to it
_DIP_LOSS = 1.25  # the same of a dip, which is always blunt: the bare response has no notches
_LOWER = 1e-3  # how far below the grid f3 is looked for, where all of the grid is above it
_CLOSER = 0.2  # by how much the step shrinks when a peak is looked at more closely
_SHARP = 0.15  # of ln power between grid points beside a peak, above which it is sharp
_THREE = np.array([[-1], [0], [1]])
_SIDES = np.array([[-1], [1]])

# The C library gives arrays of a block's size back to the system each time, page by page, until
# it has once seen a larger one freed.  Let it: that is a fifth of the time.
np.empty(16 * _BLOCK)


@dataclass(frozen=True, kw_only=True)
class Figures:
    """Figures of N designs, every field (N,), at full drive with the filter in."""

    reference_db: Floats  # level that f3 is taken against, dB re 20 µPa at 1 m
    f3: Floats  # Hz, nan where the response never gets there
    f3_box: Floats  # Hz, the same without the filter
    f3_shortfall: Floats  # dB below -3 dB at the top of the grid: positive where there is no f3
    output_db: Floats  # mean maximum output over the music band
    excursion_ratio: Floats  # worst peak excursion / xmax
    excursion_hz: Floats
    vent_speed: Floats  # m/s, worst peak; 0 for a closed box
    vent_speed_hz: Floats  # nan for a closed box
    vent_mach: Floats


def figures(
    systems: Systems,
    *,
    music_band: tuple[float, float],
    vent_speed_limit: float,
    frequency: Floats = SEARCH_GRID,
) -> Figures:
    """Figures of each system.

    ``frequency`` (F,) in Hz, log spaced, spans the range looked at (10 Hz to 200 Hz) and
    only says how closely; ``music_band`` is (lowest, highest) in Hz and ``vent_speed_limit``
    in m/s, peak.

    f3 is the lowest frequency above which the response without coil inductance stays
    within half power (10·log10 2) of the reference level p = ρ·n·sd·bl·V/(2π·re·mms) to the
    top of the range; it is found below the range where need be.  f3 and the worst values are
    good to 0.1 %, most of them far better, and the mean output to 0.02 dB.  Rows that make no sense give nan.
    """
    frequency = np.asarray(frequency, dtype=float)
    size = max(1, _BLOCK // len(frequency))
    with np.errstate(all="ignore"):
        blocks = [
            _block(systems.take(slice(start, start + size)), music_band, vent_speed_limit, frequency)
            for start in range(0, max(len(systems), 1), size)
        ]
    if len(blocks) == 1:
        return blocks[0]
    return Figures(
        **{item.name: np.concatenate([getattr(block, item.name) for block in blocks]) for item in fields(Figures)}
    )


def _block(systems: Systems, music_band: tuple[float, float], vent_speed_limit: float, frequency: Floats) -> Figures:
    squares = Squares(systems)
    grid = np.log(frequency)
    # One point beyond either end, so that a peak or dip beside the end shows as one.
    grid = np.concatenate([[2.0 * grid[0] - grid[1]], grid, [2.0 * grid[-1] - grid[-2]]])
    at = squares.at(grid[:, np.newaxis])
    excursion, excursion_at = _worst(squares, grid, at.excursion, _excursion)
    vent_speed, vent_at = _worst(squares, grid, at.vent_speed, _vent_speed)
    alone = at.response
    f3_box = _f3(squares, grid, alone, _response)
    if squares.filtered:
        filtered = alone / at.filter_loss
        f3 = _f3(squares, grid, filtered, _filtered_response)
    else:
        f3, filtered = f3_box.copy(), alone
    vented = systems.vented
    vent_speed = np.where(vented, np.sqrt(vent_speed), 0.0)
    return Figures(
        reference_db=level_db(systems.reference_pressure**2),
        f3=f3,
        f3_box=f3_box,
        f3_shortfall=-10.0 * np.log10(filtered[-2] / _HALF),
        output_db=_output(squares, systems, music_band, vent_speed_limit),
        excursion_ratio=np.sqrt(excursion) / systems.xmax,
        excursion_hz=np.exp(excursion_at),
        vent_speed=vent_speed,
        vent_speed_hz=np.where(vented, np.exp(vent_at), np.nan),
        vent_mach=vent_speed / systems.air.c,
    )


def _excursion(squares: Squares, log_frequency: Floats) -> Floats:
    return squares.at(log_frequency).excursion


def _vent_speed(squares: Squares, log_frequency: Floats) -> Floats:
    return squares.at(log_frequency).vent_speed


def _response(squares: Squares, log_frequency: Floats) -> Floats:
    return squares.at(log_frequency).response


def _filtered_response(squares: Squares, log_frequency: Floats) -> Floats:
    at = squares.at(log_frequency)
    return at.response / at.filter_loss


def _places(mask: NDArray[np.bool_]) -> tuple[Indices, Indices]:
    """Row and column of every true place, by rows: what nonzero gives, but quick where they are few."""
    row, column = np.divmod(np.flatnonzero(mask), mask.shape[1])
    return row, column


def _top(before: Floats, middle: Floats, after: Floats) -> tuple[Floats, Floats]:
    """Top of the parabola through three equally spaced points: steps from the middle, and its value.

    At most one step away; a full step uphill where the points bend the wrong way.
    """
    slope = 0.5 * (after - before)
    bend = before - 2.0 * middle + after
    offset = np.where(bend < 0.0, np.clip(-slope / bend, -1.0, 1.0), np.sign(slope))
    return offset, middle + offset * (slope + 0.5 * offset * bend)


def _turns(
    squares: Squares,
    grid: Floats,
    values: Floats,
    curve: Curve,
    where: tuple[Indices, Indices],
    *,
    sense: int,
) -> tuple[Floats, Floats]:
    """Place (ln f) and value of the peaks (``sense`` 1) or dips (-1) of ``curve`` beside M grid points.

    A parabola on log values finds each, and a second one through the exact curve close by
    settles it.  Sharp ones are looked at on the way: half-way to the neighbours first, since
    a notch there may hide the peak.
    """
    row, column = where
    chosen = squares.take(column)
    place = grid[row]
    step = 0.5 * (grid[row + 1] - grid[row - 1])
    three = sense * np.log(np.stack([values[row + shift, column] for shift in (-1, 0, 1)]))

    sharp = np.flatnonzero(np.max(three[1] - three, axis=0) > _SHARP)
    if len(sharp):
        some = chosen.take(sharp)
        step[sharp] *= 0.5
        left, right = sense * np.log(curve(some, place[sharp] + step[sharp] * _SIDES))
        five = np.stack([three[0, sharp], left, three[1, sharp], right, three[2, sharp]])
        best = np.argmax(five[1:4], axis=0) + 1
        offset, _ = _top(*np.take_along_axis(five, best + _THREE, axis=0))
        place[sharp] += (best - 2 + offset) * step[sharp]
        step[sharp] *= 2.0 * _CLOSER
        three[:, sharp] = sense * np.log(curve(some, place[sharp] + step[sharp] * _THREE))

    offset, _ = _top(*three)
    place += offset * step
    step *= _CLOSER
    offset, value = _top(*(sense * np.log(curve(chosen, place + step * _THREE))))
    return place + offset * step, np.exp(sense * value)


def _worst(squares: Squares, grid: Floats, values: Floats, curve: Curve) -> tuple[Floats, Floats]:
    """Largest value of ``curve`` within the grid, less its outermost points, and its ln f; each (N,)."""
    middle = values[1:-1]
    ends = (grid[1], grid[-2])
    worst = np.maximum(middle[0], middle[-1])
    at = np.where(middle[0] >= middle[-1], *ends)
    row, column = _places((middle > values[:-2]) & (middle >= values[2:]))
    highest = worst.copy()
    np.maximum.at(highest, column, middle[row, column])
    found = middle[row, column]
    steep = found > (1.0 + _SHARP) * np.minimum(values[row, column], values[row + 2, column])
    likely = found * np.where(steep, _PEAK_LOSS, 1.0 + _SHARP) >= highest[column]
    row, column = row[likely] + 1, column[likely]
    place, value = _turns(squares, grid, values, curve, (row, column), sense=1)
    inside = (place > ends[0]) & (place < ends[1])
    np.maximum.at(worst, column[inside], value[inside])
    winner = inside & (value == worst[column])
    at[column[winner]] = place[winner]
    at[np.isnan(worst)] = np.nan
    return worst, at


def _f3(squares: Squares, grid: Floats, values: Floats, curve: Curve) -> Floats:
    """Lowest frequency above which ``curve`` stays at or above half up to the grid's last point but one."""
    rise, found = _last_rise(squares, grid, values, curve)
    lower = np.nonzero(~found & (values[-2] >= _HALF))[0]
    if len(lower):
        deeper = squares.take(lower)
        step = grid[1] - grid[0]
        down = grid[1] - step * np.arange(math.ceil(-math.log(_LOWER) / step), -2, -1)
        rise[lower], _ = _last_rise(deeper, down, curve(deeper, down[:, np.newaxis]), curve)
    rise[~(values[-2] >= _HALF)] = np.nan
    return rise


def _last_rise(squares: Squares, grid: Floats, values: Floats, curve: Curve) -> tuple[Floats, NDArray[np.bool_]]:
    """Last rise through half within the grid, less its outermost points: in Hz, and whether there is one."""
    middle = values[1:-1]
    below = middle < _HALF
    systems = values.shape[1]
    # To either side of the rise, ln f and ln(2·value): the last grid point below half and the next.
    row, column = _places(below[:-1] & ~below[1:])
    row += 1
    lowest = np.zeros(systems, dtype=np.intp)
    lowest[column] = row  # nonzero goes up in frequency, so the highest rise stays
    found = lowest > 0
    every = np.arange(systems)
    under, at_under = grid[lowest], values[lowest, every]
    over, at_over = grid[lowest + 1], values[lowest + 1, every]

    row, column = _places((middle < values[:-2]) & (middle <= values[2:]) & (middle < _HALF * _DIP_LOSS) & ~below)
    row += 1
    higher = row > lowest[column]
    if np.any(higher):
        row, column = row[higher], column[higher]
        place, value = _turns(squares, grid, values, curve, (row, column), sense=-1)
        deep = (value < _HALF) & (place > grid[1]) & (place < grid[-2])
        row, column, place, value = row[deep], column[deep], place[deep], value[deep]
        beyond = row + (place >= grid[row])
        under[column], at_under[column] = place, value
        over[column], at_over[column] = grid[beyond], values[beyond, column]
        found[column] = True
    bracket = (under, over, np.log(at_under / _HALF), np.log(at_over / _HALF))
    return np.exp(_root(squares, *bracket, curve)), found


def _root(squares: Squares, kept: Floats, newest: Floats, at_kept: Floats, at_newest: Floats, curve: Curve) -> Floats:
    """Place (ln f) at which ``curve`` is half, between two ln f, with ln(2·curve) at them; (N,).

    False position after the Illinois rule (Dowell & Jarratt 1971), a fixed number of steps
    so that a row does not depend on its neighbours.
    """
    for _ in range(_ROOT_STEPS):
        place = (kept * at_newest - newest * at_kept) / (at_newest - at_kept)
        value = np.log(curve(squares, place) / _HALF)
        crossed = value * at_newest < 0.0
        kept = np.where(crossed, newest, kept)
        at_kept = np.where(crossed, at_newest, 0.5 * at_kept)
        newest, at_newest = place, value
    return newest


def _output(squares: Squares, systems: Systems, music_band: tuple[float, float], vent_speed_limit: float) -> Floats:
    """Maximum output in dB averaged over ln f from one end of the band to the other; (N,).

    Trapezia with Gregory's correction of the ends, on a grid of the band's own; its step
    keeps what a corner between two limits of 48 dB an octave adds under 0.01 dB.
    """
    low, high = (math.log(edge) for edge in music_band)
    intervals = max(16, math.ceil((high - low) / _BAND_STEP))
    at = squares.at(np.linspace(low, high, intervals + 1)[:, np.newaxis])
    over = overdrive(
        heat=at.heat,
        excursion_squared=at.excursion,
        vent_speed_squared=at.vent_speed,
        rated_power=systems.rated_power,
        xmax=systems.xmax,
        vent_speed_limit=vent_speed_limit,
    )
    most = np.maximum(over[0], 1.0)
    for each in over[1:]:
        np.maximum(most, each, out=most)
    levels = level_db(at.pressure / most)
    ends = 0.5 * (levels[0] + levels[-1]) + (levels[1] - levels[0] + levels[-2] - levels[-1]) / 12.0
    return np.asarray((levels[1:-1].sum(axis=0) + ends) / intervals)
