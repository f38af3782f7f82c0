"""The figures a search judges designs by, quick enough for hundreds of thousands of designs.

Only the squared magnitudes of :mod:`engine.acoustics.squares` are used.  A coarse grid finds
where something happens; the exact curve, evaluated there, tells what.  What full power takes from the output comes
from :mod:`engine.acoustics.quick_power`; the exact mode, for tables, takes all that depends on the level from
:mod:`engine.acoustics.large_signal`.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, fields, replace

import numpy as np

from engine.acoustics.cabin import Cabin
from engine.acoustics.circuit import Systems, respond
from engine.acoustics.large_signal import compression_db, respond_large
from engine.acoustics.limits import LIMITS, level_db, max_output, overdrive
from engine.acoustics.quick_power import at_full_drive, grows, output_loss_db
from engine.acoustics.squares import Squares
from engine.arrays import Flags, Floats, Indices

Curve = Callable[[Squares, Floats], Floats]  # systems and ln of their frequencies -> squares
Worst = tuple[Floats, Floats]  # a largest value, and where it is; each (N,)
Band = tuple[float, float]  # Hz

SEARCH_GRID: Floats = np.geomspace(10.0, 200.0, 64)  # Hz
FIGURES_GRID: Floats = np.geomspace(10.0, 200.0, 256)  # Hz

_BLOCK = 128_000  # designs × frequencies at a time, so that the working arrays stay in the cache
# Where a search looks for worst excursion at full drive, in parts of the linear model's place, of the tuning and of
# a closed box's resonance, near which a motor that bends moves the cone most.
_ABOVE, _ABOVE_TUNING, _AT_RESONANCE = 1.25, 1.4, 0.85
_LOOKS = 72  # points at which full drive is looked at first
_BAND_STEP = 1.0 / 30.0  # of ln f, between the points the music band is averaged over
_FEW = 4  # of those points, each this many-th, is where full power is looked at
_HALF = 0.5  # power; -3 dB is 10·log10(1/2) exactly
_ROOT_STEPS = 5
_ROOT_CLOSE = 1e-4  # of ln power: a quarter of that of f3
_CORNER_STEPS = 10  # halvings of the step, towards a peak that may be a corner
_PEAK_LOSS = 4.0  # power by which a sharp peak may pass the grid point nearest to it
_DIP_LOSS = 1.25  # the same of a dip, which is always blunt: without passive radiators there are no notches
_LOWER = 1e-3  # how far below the grid f3 is looked for, where all of the grid is above it
_WIDER = 4.0  # of the grid's steps, one step there: below the range nothing peaks
_CLOSER = 0.2  # by how much the step shrinks when a peak is looked at more closely
_SHARP = 0.15  # of ln power between grid points beside a peak, above which it is sharp
_SHARP_NOTCHED = 0.05  # the same of boxes with passive radiators, whose peaks and notches may lie close together
_THREE = np.array([[-1], [0], [1]])
_NINE = np.linspace(-1.0, 1.0, 9)[:, np.newaxis]
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
    vent_speed: Floats  # m/s, worst peak; 0 without vents
    vent_speed_hz: Floats  # nan without vents
    vent_mach: Floats
    radiator_ratio: Floats  # worst peak excursion of a passive radiator / its xmax; 0 without
    radiator_hz: Floats  # nan without
    cone_speed: Floats  # m/s, worst peak of a cone by the linear model
    radiator_speed: Floats  # the same of a passive radiator; 0 without
    f3_cabin: Floats  # Hz, in the vehicle; nan where no cabin is given or the response never gets there
    f3_cabin_shortfall: Floats  # dB below -3 dB at the band's top in the vehicle: positive where there is no f3_cabin
    coil_rise: Floats  # K above the air, the most over the music band at maximum output; nan unless exact
    compression_db: Floats  # the most that the linear model promises too much there; nan unless exact
    limited_by: Floats  # place in limits.LIMITS of what binds over most of the music band; nan unless exact


def figures(
    systems: Systems,
    *,
    music_band: Band,
    vent_speed_limit: float,
    frequency: Floats = SEARCH_GRID,
    cabin: Cabin | None = None,
    exact: bool = False,
) -> Figures:
    """Figures of each of N systems; rows that make no sense give nan.

    Output is averaged over ``music_band``, Hz; ``vent_speed_limit`` is peak, m/s.  ``frequency`` (F,) in Hz, log
    spaced, spans the range looked at (10 Hz to 200 Hz) and only says how closely.  ``cabin`` is the vehicle, for
    ``f3_cabin``; ``exact`` says whether worst values are those of the full-power model everywhere, as tables want them.

    f3 is the lowest frequency above which the response without coil inductance stays within half power (10·log10 2)
    of the reference level p = ρ·n·sd·bl·V/(2π·re·mms) to the top of the range (Small 1972, 1973); it is found below
    the range where need be.  f3 and the worst values are good to 0.1 %, most of them far better, and the mean output
    to 0.02 dB, 0.1 dB where full power has effects.

    Without ``exact`` output is good to 0.1 dB; worst excursion and vent speed are looked at in a few places, where
    something grows with the level: half are good to 1.5 %, nine of ten to 10 % (excursion to 18 % for bent motors), the
    rest mostly too low.  With it they are good to 0.5 %; beyond Xmax, where a bent motor or suspension may answer one
    voltage twice, they may be either answer.

    f3 knows of the chain its high-pass and band, but not the crossover, beyond which other loudspeakers carry on.
    ``f3_cabin`` is the lowest frequency above which the response times the ``cabin``'s gain stays within half power
    of the same half-space level up to the top of ``music_band`` (beyond it a cabin has dips of its own);
    0.5 % with a measured cabin, whose points lie as they may.  Mean output in the cabin is ``output_db`` and
    the cabin's own mean over the band, :func:`engine.acoustics.cabin.mean_gain_db`, whatever the design.

    Two boxes of one driver, the first closed, the second with one vent:

    >>> from engine.parts import Driver
    >>> oak = Driver(name="oak", fs=30.0, qes=0.4, qms=5.0, vas=0.1, sd=0.033, re=4.0, xmax=0.01, rated_power=300.0)
    >>> systems = Systems.of(oak, volume=0.05, voltage=20.0, tuning=32.0, vent_count=[0.0, 1.0], vent_area=0.008)
    >>> found = figures(systems, music_band=(25.0, 80.0), vent_speed_limit=17.0)
    >>> found.f3.round(1)
    array([57.8, 40.3])
    """
    frequency = np.asarray(frequency, dtype=float)
    size = max(1, _BLOCK // len(frequency))
    # Passive radiators take polynomials one order higher and a coil's power law is none, so they are judged apart.
    law = (systems.kr != 0.0) | (systems.ki != 0.0)
    form = 2 * np.maximum(systems.order, 1) + law
    kinds = [np.flatnonzero(form == each) for each in np.unique(form)]
    with np.errstate(all="ignore"):
        parts = [
            (rows, _block(systems.take(rows), music_band, vent_speed_limit, frequency, cabin, exact))
            for kind in kinds or [np.zeros(0, dtype=np.intp)]
            for rows in (kind[start : start + size] for start in range(0, max(len(kind), 1), size))
        ]
    if len(parts) == 1:
        return parts[0][1]
    merged = Figures(**{item.name: np.empty(len(systems)) for item in fields(Figures)})
    for rows, part in parts:
        for item in fields(Figures):
            getattr(merged, item.name)[rows] = getattr(part, item.name)
    return merged


def _block(
    systems: Systems, music_band: Band, vent_speed_limit: float, frequency: Floats, cabin: Cabin | None, exact: bool
) -> Figures:
    squares = Squares(systems)
    grid = np.log(frequency)
    # One point beyond either end, so that a peak or dip beside the end shows as one.
    grid = np.concatenate([[2.0 * grid[0] - grid[1]], grid, [2.0 * grid[-1] - grid[-2]]])
    at = squares.at(grid[:, np.newaxis])
    # Where full drive is looked at again, the linear model only says where.
    worst = _highest if exact or np.all(grows(systems)) else _worst
    none = np.zeros(len(systems))

    def peak(name: str) -> Worst:
        value, place = worst(squares, grid, getattr(at, name), _curve(name))
        return np.sqrt(value), np.exp(place)

    excursion, excursion_hz = peak("excursion")
    vent_speed = peak("vent_speed") if squares.vented else (none, none)
    pushed, pushed_hz = peak("radiator_excursion") if squares.radiating else (none, none)
    omega = 2.0 * math.pi * np.exp(grid)[:, np.newaxis]
    alone = at.response
    f3_box = _f3(squares, grid, alone, _curve("response"))
    if squares.filtered:
        filtered = alone / at.filter_loss
        f3 = _f3(squares, grid, filtered, _filtered_response)
    else:
        f3, filtered = f3_box.copy(), alone
    if cabin is None:
        f3_cabin = cabin_shortfall = np.full(len(systems), np.nan)
    else:
        f3_cabin, cabin_shortfall = _f3_cabin(squares, grid, filtered, cabin, music_band[1])
    unknown = np.full(len(systems), np.nan)
    found = Figures(
        reference_db=level_db(systems.reference_pressure**2),
        f3=f3,
        f3_box=f3_box,
        f3_shortfall=-10.0 * np.log10(filtered[-2] / _HALF),
        output_db=unknown if exact else _output(squares, systems, music_band, vent_speed_limit),
        **_worst_values(
            systems, (excursion / systems.xmax, excursion_hz), vent_speed, (pushed / systems.radiator_xmax, pushed_hz)
        ),
        cone_speed=np.sqrt((at.excursion * omega**2).max(axis=0)),
        radiator_speed=np.sqrt((at.radiator_excursion * omega**2).max(axis=0)) if squares.radiating else none,
        f3_cabin=f3_cabin,
        f3_cabin_shortfall=cabin_shortfall,
        coil_rise=unknown,
        compression_db=unknown,
        limited_by=unknown,
    )
    if exact:
        return _at_full_power(systems, found, grid[1:-1], music_band, vent_speed_limit)
    return _worst_in_few(squares, systems, found, grid[1:-1]) if np.any(grows(systems)) else found


def _worst_in_few(squares: Squares, systems: Systems, found: Figures, grid: Floats) -> Figures:
    """The same figures with worst values at full drive from the quick form, at the few places where they may lie.

    Those are the linear model's, and above its worst excursion, since losses and bends take more from deep
    bass, where cones move most: the worst moves up.
    """
    resonance = systems.omega_b / (2.0 * math.pi)
    second = np.where(systems.tuned, _ABOVE_TUNING, _AT_RESONANCE) * resonance
    places = [found.excursion_hz, _ABOVE * found.excursion_hz, second]
    if squares.vented:
        places.append(np.where(systems.vented, found.vent_speed_hz, found.excursion_hz))
    if squares.radiating:
        places.append(np.where(systems.radiating, found.radiator_hz, found.excursion_hz))
    frequency = np.clip(places, math.exp(grid[0]), math.exp(grid[-1]))
    at = squares.at(np.log(frequency))
    excursion, speed = at_full_drive(systems, frequency=frequency, drive_loss=at.drive_loss, pressure=at.pressure)
    rows, where = np.arange(len(systems)), grows(systems)

    def kept(values: Floats, linear: Floats, hz: Floats) -> Worst:
        most = np.argmax(values, axis=0)
        return np.where(where, values[most, rows], linear), np.where(where, frequency[most, rows], hz)

    moved = np.where(systems.radiating, speed / (2.0 * math.pi * frequency * systems.radiator_xmax), 0.0)
    values = _worst_values(
        systems,
        kept(excursion / systems.xmax, found.excursion_ratio, found.excursion_hz),
        kept(np.where(systems.vented, speed, 0.0), found.vent_speed, found.vent_speed_hz),
        kept(moved, found.radiator_ratio, found.radiator_hz),
    )
    return replace(found, **values)


def _worst_values(systems: Systems, excursion: Worst, vent_speed: Worst, radiator: Worst) -> dict[str, Floats]:
    """Fields of :class:`Figures` from worst values and their Hz; excursions are over xmax."""
    speed = np.where(systems.vented, vent_speed[0], 0.0)
    return {
        "excursion_ratio": excursion[0],
        "excursion_hz": excursion[1],
        "vent_speed": speed,
        "vent_speed_hz": np.where(systems.vented, vent_speed[1], np.nan),
        "vent_mach": speed / systems.air.c,
        "radiator_ratio": np.where(systems.radiating, radiator[0], 0.0),
        "radiator_hz": np.where(systems.radiating, radiator[1], np.nan),
    }


def _at_full_power(
    systems: Systems, found: Figures, grid: Floats, music_band: Band, vent_speed_limit: float
) -> Figures:
    """The same figures with worst values at full drive, output, heat and compression from the exact model."""
    # At full drive losses leave no sharp peaks, so every few points do for a first look.
    grid = np.linspace(grid[0], grid[-1], min(len(grid), _LOOKS))
    full = respond_large(systems, frequency=np.exp(grid))
    none = np.zeros(len(systems)), np.full(len(systems), np.nan)

    def worst(name: str) -> Worst:
        return _worst_at_full_power(systems, grid, getattr(full, name), name)

    excursion, excursion_hz = worst("excursion")
    vent_speed = worst("vent_speed") if systems.vented.any() else none
    pushed, pushed_hz = worst("radiator_excursion") if systems.radiating.any() else none
    band = np.exp(_band(music_band))
    level, bound, most = max_output(systems, frequency=band, vent_speed_limit=vent_speed_limit)
    lost = compression_db(most, respond(systems, frequency=band).pressure)
    return replace(
        found,
        **_worst_values(
            systems, (excursion / systems.xmax, excursion_hz), vent_speed, (pushed / systems.radiator_xmax, pushed_hz)
        ),
        output_db=_mean(level.T),
        coil_rise=np.max(most.coil_rise, axis=1),
        compression_db=np.max(lost, axis=1),
        limited_by=np.argmax([(bound == code).sum(axis=1) for code in range(len(LIMITS))], axis=0).astype(float),
    )


def _worst_at_full_power(systems: Systems, grid: Floats, values: Floats, name: str) -> Worst:
    """Largest of one of the large response's curves over a fine ``grid`` (ln f) and its Hz; each (N,)."""
    rows = np.arange(len(values))
    best = np.argmax(values, axis=1)
    middle = np.clip(best, 1, len(grid) - 2)
    step = grid[1] - grid[0]
    offset, _ = _top(*(np.log(values[rows, middle + side]) for side in (-1, 0, 1)))
    # Where the grid's end is the worst there is no top beside it.
    place = np.where(best == middle, grid[middle] + offset * step, grid[best])
    closer = np.exp(place[:, np.newaxis] + _CLOSER * step * _THREE[:, 0])
    closer = np.clip(closer, np.exp(grid[0]), np.exp(grid[-1]))
    near = getattr(respond_large(systems, frequency=closer), name)
    highest = np.argmax(near, axis=1)
    lower = near[rows, highest] < values[rows, best]
    hz = np.where(lower, np.exp(grid[best]), closer[rows, highest])
    return np.maximum(near[rows, highest], values[rows, best]), hz


def _curve(name: str) -> Curve:
    """One of the squares of :class:`engine.acoustics.squares.At` over frequency."""
    return lambda squares, log_frequency: np.asarray(getattr(squares.at(log_frequency), name))


def _filtered_response(squares: Squares, log_frequency: Floats) -> Floats:
    at = squares.at(log_frequency)
    return at.response / at.filter_loss


def _places(mask: Flags) -> tuple[Indices, Indices]:
    """Row and column of every true place, by rows: what nonzero gives, but quick where they are few."""
    return np.divmod(np.flatnonzero(mask), mask.shape[1])


def _top(before: Floats, middle: Floats, after: Floats) -> tuple[Floats, Floats]:
    """Top of the parabola through three equally spaced points: steps from the middle, and its value.

    At most one step away; a full step uphill where the points bend the wrong way.
    """
    slope = 0.5 * (after - before)
    bend = before - 2.0 * middle + after
    offset = np.where(bend < 0.0, np.clip(-slope / bend, -1.0, 1.0), np.sign(slope))
    return offset, middle + offset * (slope + 0.5 * offset * bend)


def _turns(
    squares: Squares, grid: Floats, values: Floats, curve: Curve, where: tuple[Indices, Indices], *, sense: int
) -> tuple[Floats, Floats]:
    """Place (ln f) and value of the peaks (``sense`` 1) or dips (-1) of ``curve`` beside M grid points.

    A parabola on log values finds each, and a second one through the exact curve close by settles it.  Sharp ones are
    looked at on the way: half-way to the neighbours first, since a notch there may hide the peak.
    """
    row, column = where
    chosen = squares.take(column)
    place = grid[row]
    step = 0.5 * (grid[row + 1] - grid[row - 1])
    if squares.raised and sense > 0:
        return _corners(chosen, *_best_of_nine(chosen, place, step, curve, sense=1), curve)
    three = sense * np.log(np.stack([values[row + shift, column] for shift in (-1, 0, 1)]))

    sharp = np.flatnonzero(np.max(three[1] - three, axis=0) > (_SHARP_NOTCHED if squares.notched else _SHARP))
    if len(sharp):
        some = chosen.take(sharp)
        if squares.notched:
            closer = _best_of_nine(some, place[sharp], step[sharp], curve, sense=sense)
            place[sharp], step[sharp], three[:, sharp] = _closer(some, *closer, curve, sense=sense)
        else:
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


def _best_of_nine(chosen: Squares, place: Floats, step: Floats, curve: Curve, *, sense: int) -> tuple[Floats, Floats]:
    """The best of nine points within a step of each place, and the step between them."""
    best = np.argmax(sense * curve(chosen, place + step * _NINE), axis=0)
    return place + _NINE[best, 0] * step, 0.25 * step


def _closer(chosen: Squares, place: Floats, step: Floats, curve: Curve, *, sense: int) -> tuple[Floats, Floats, Floats]:
    """The turn of a parabola through three points ``step`` apart, a fifth of the step, and ln of three points there."""
    offset, _ = _top(*(sense * np.log(curve(chosen, place + step * _THREE))))
    place, step = place + offset * step, _CLOSER * step
    return place, step, sense * np.log(curve(chosen, place + step * _THREE))


def _corners(chosen: Squares, place: Floats, step: Floats, curve: Curve) -> tuple[Floats, Floats]:
    """Peaks that may be corners, where the amplifier's full voltage cuts the curve short: ever closer together."""
    for _ in range(_CORNER_STEPS):
        step = 0.5 * step
        values = curve(chosen, place + step * _THREE)
        best = np.argmax(values, axis=0)
        place = place + (best - 1) * step
    return place, values[best, np.arange(len(place))]


def _worst(squares: Squares, grid: Floats, values: Floats, curve: Curve) -> Worst:
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


def _highest(squares: Squares, grid: Floats, values: Floats, curve: Curve) -> Worst:
    """As :func:`_worst`, but no closer than the grid."""
    middle = values[1:-1]
    best = np.argmax(middle, axis=0)
    return middle[best, np.arange(len(best))], grid[best + 1]


def _f3(squares: Squares, grid: Floats, values: Floats, curve: Curve) -> Floats:
    """Lowest frequency above which ``curve`` stays at or above half up to the grid's last point but one."""
    bracket, found = _last_rise(squares, grid, values, curve)
    lower = np.flatnonzero(~found & (values[-2] >= _HALF))
    if len(lower):
        deeper = squares.take(lower)
        step = grid[1] - grid[0]
        down = grid[1] - _WIDER * step * np.arange(math.ceil(-math.log(_LOWER) / (_WIDER * step)), -2, -1)
        bracket[:, lower], found[lower] = _last_rise(deeper, down, curve(deeper, down[:, np.newaxis]), curve)
    bracket[:, ~found] = np.nan
    rise = np.exp(_root(squares, bracket, curve))
    # A cabin without a leak may hold a closed box up for ever.
    rise[~found] = _LOWER * math.exp(grid[1])
    rise[~(values[-2] >= _HALF)] = np.nan
    return rise


def _f3_cabin(squares: Squares, grid: Floats, filtered: Floats, cabin: Cabin, top_hz: float) -> tuple[Floats, Floats]:
    """f3 with the cabin's gain, up to the last point of ``grid`` not above ``top_hz``, and what is missing there.

    ``filtered`` is the response over ``grid``.
    """

    def heard(some: Squares, log_frequency: Floats) -> Floats:
        at = some.at(log_frequency)
        return np.asarray(at.response / at.filter_loss * cabin.gain_squared(log_frequency))

    steps = max(int(np.searchsorted(grid, math.log(top_hz) + 1e-9)) - 1, 2)
    within = grid[: steps + 2]  # its last point but one is at or below the top
    values = filtered[: steps + 2] * cabin.gain_squared(within)[:, np.newaxis]
    return _f3(squares, within, values, heard), -10.0 * np.log10(values[-2] / _HALF)


def _last_rise(squares: Squares, grid: Floats, values: Floats, curve: Curve) -> tuple[Floats, Flags]:
    """Last rise through half within the grid, less its outermost points: what lies beside it, and whether there is one.

    The first is (4, N): ln f below and above, ln(2·value) at both.
    """
    middle = values[1:-1]
    below = middle < _HALF
    systems = values.shape[1]
    # The last grid point below half and the next.
    row, column = _places(below[:-1] & ~below[1:])
    row += 1
    lowest = np.zeros(systems, dtype=np.intp)
    lowest[column] = row  # nonzero goes up in frequency, so the highest rise stays
    found = lowest > 0
    every = np.arange(systems)
    under, at_under = grid[lowest], values[lowest, every]
    over, at_over = grid[lowest + 1], values[lowest + 1, every]

    depth = np.inf if squares.notched else _DIP_LOSS
    row, column = _places((middle < values[:-2]) & (middle <= values[2:]) & (middle < _HALF * depth) & ~below)
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
    return np.stack([under, over, np.log(at_under / _HALF), np.log(at_over / _HALF)]), found


def _root(squares: Squares, bracket: Floats, curve: Curve, *, more: int = 4) -> Floats:
    """Place (ln f) at which ``curve`` is half, (N,); ``bracket`` (4, N) as from :func:`_last_rise`.

    False position after the rule of Anderson & Björck (1973); a row that is not there after a few steps, because
    a notch stands at one end of its bracket, takes some more.
    """
    kept, newest, at_kept, at_newest = bracket
    for _ in range(_ROOT_STEPS):
        place = (kept * at_newest - newest * at_kept) / (at_newest - at_kept)
        # Once it is there to the last digit both ends may come to the same.
        place = np.where(at_newest == at_kept, newest, place)
        value = np.log(curve(squares, place) / _HALF)
        crossed = value * at_newest < 0.0
        # The end that stays counts less, so that it moves at last: by what the other end's value fell, or half.
        less = 1.0 - value / at_newest
        less[~((less > 0.0) & (less < np.inf))] = 0.5
        kept = np.where(crossed, newest, kept)
        at_kept = np.where(crossed, at_newest, less * at_kept)
        newest, at_newest = place, value
    rest = np.flatnonzero((np.abs(at_newest) > _ROOT_CLOSE) & (at_newest * at_kept < 0.0))
    if more and len(rest):
        ends = np.stack([kept, newest, at_kept, at_newest])[:, rest]
        newest[rest] = _root(squares.take(rest), ends, curve, more=more - 1)
    return np.asarray(newest)


def _band(music_band: Band) -> Floats:
    """Points, in ln f, that maximum output is averaged over."""
    low, high = (math.log(edge) for edge in music_band)
    intervals = _FEW * max(4, math.ceil((high - low) / (_FEW * _BAND_STEP)))
    return np.linspace(low, high, intervals + 1)


def _mean(levels: Floats) -> Floats:
    """Mean over ln f of levels at the points of :func:`_band`, (F, N): trapezia with Gregory's correction of the ends.

    The band's step keeps what a corner between two limits of 48 dB an octave adds under 0.01 dB.
    """
    ends = 0.5 * (levels[0] + levels[-1]) + (levels[1] - levels[0] + levels[-2] - levels[-1]) / 12.0
    return np.asarray((levels[1:-1].sum(axis=0) + ends) / (len(levels) - 1))


def _output(squares: Squares, systems: Systems, music_band: Band, vent_speed_limit: float) -> Floats:
    """Maximum output in dB averaged over ln f from one end of the band to the other; (N,)."""
    band = _band(music_band)[:, np.newaxis]
    at = squares.at(band)
    moved = [at.excursion, at.vent_speed, *([at.radiator_excursion] if squares.radiating else [])]
    over = overdrive(systems, at.heat, moved, vent_speed_limit=vent_speed_limit)
    most = np.maximum(over[0], 1.0)
    for each in over[1:]:
        np.maximum(most, each, out=most)
    pressure = at.pressure / most
    mean = _mean(level_db(pressure))
    if not np.any(grows(systems)):
        return mean
    # What full power takes is smoother than the level itself, so a few of the points do.
    few, chain = slice(None, None, _FEW), at.drive_loss
    lost = output_loss_db(
        systems, frequency=np.exp(band[few]), drive_loss=chain if isinstance(chain, float) else chain[few],
        pressure=pressure[few], vent_speed_limit=vent_speed_limit,
    )  # fmt: skip
    return np.asarray(mean - np.trapezoid(lost, axis=0) / (len(lost) - 1))
