"""The figures a search judges designs by, quick enough for hundreds of thousands of designs.

Only the squared magnitudes of :mod:`engine.acoustics.squares` are used.  A coarse grid finds
where something happens; the exact curve, evaluated there, tells what.  The gain that limits leave, levels and what full
power takes from the output come from :mod:`engine.acoustics.quick_power`; the exact mode, for tables, takes all that
depends on the level from :mod:`engine.acoustics.large_signal`.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Collection
from dataclasses import dataclass, fields
from functools import partial

import numpy as np

from engine.acoustics.cabin import Cabin
from engine.acoustics.circuit import Systems
from engine.acoustics.gain import FULL_DRIVE, TOP, Use, gain_of
from engine.acoustics.large_signal import compression_db, respond_large
from engine.acoustics.limits import LIMITS, level_db, max_output, overdrive
from engine.acoustics.peaks import EXCURSION, PUSHED, THROUGH, highest, top
from engine.acoustics.quick_power import at_drive, grows, output_loss_db, shares
from engine.acoustics.squares import At, Squares
from engine.arrays import Flags, Floats, Indices

HEARD = ("f3", "vehicle", "output", "strain")  # what takes time: f3, that in the vehicle, mean output, how all moves
Curve = Callable[[Squares, Floats], Floats]  # systems and ln of their frequencies -> squares
Worst = tuple[Floats, Floats]  # a largest value, and where it is; each (N,)
Band = tuple[float, float]  # Hz

SEARCH_GRID: Floats = np.geomspace(10.0, 200.0, 64)  # Hz
FIGURES_GRID: Floats = np.geomspace(10.0, 200.0, 256)  # Hz

_BLOCK = 64_000  # designs × frequencies at a time, so that the working arrays stay in the cache
_LOOKS = 72  # points at which the exact mode looks first
# Where a search looks for what sets the gain, beside the linear model's place.  Losses and bends take more from deep
# bass, where cones move most, so the worst lies elsewhere than the linear model says.
_COARSE = 10  # places
_COARSE_TO = 6.0  # times the lowest frequency fed
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
np.empty(32 * _BLOCK)


@dataclass(frozen=True, kw_only=True)
class Figures:
    """Figures of N designs with the filter in, every field (N,) but the levels; at their gain unless said otherwise.

    What nobody asked for is nan.
    """

    gain: Floats  # share of full drive, one setting at which all limits hold wherever they are fed
    gain_hz: Floats  # that sets it; nan at full drive, and unless exact
    gain_limit: Floats  # place in limits.LIMITS of what sets it; nan unless exact
    levels: Floats  # (N, L) dB re 20 µPa at 1 m, where the use asks for them

    reference_db: Floats  # level that f3 is taken against, dB re 20 µPa at 1 m
    f3: Floats  # Hz, nan where the response never gets there
    f3_box: Floats  # Hz, the same without the filter
    f3_shortfall: Floats  # dB below -3 dB at the top of the grid: positive where there is no f3
    output_db: Floats  # mean maximum output over the music band, whatever the gain
    excursion_ratio: Floats  # worst peak excursion / xmax
    excursion_hz: Floats
    vent_speed: Floats  # m/s, worst peak; 0 without vents
    vent_speed_hz: Floats  # nan without vents
    vent_mach: Floats
    radiator_ratio: Floats  # worst peak excursion of a passive radiator / its xmax; 0 without
    radiator_hz: Floats  # nan without
    cone_speed: Floats  # m/s, worst peak of a cone at the gain by the linear model
    radiator_speed: Floats  # the same of a passive radiator; 0 without
    f3_cabin: Floats  # Hz, in the vehicle; nan where no cabin is given or the response never gets there
    f3_cabin_shortfall: Floats  # dB below -3 dB at the band's top in the vehicle: positive where there is no f3_cabin
    # At full drive at maximum output over the music band, else at the gain wherever fed; nan unless exact.
    coil_rise: Floats  # K above the air, at most
    compression_db: Floats  # the most that the linear model promises too much within the music band
    limited_by: Floats  # place in limits.LIMITS of what binds over most of the music band; nan unless exact


def figures(
    systems: Systems,
    *,
    music_band: Band,
    vent_speed_limit: float,
    frequency: Floats = SEARCH_GRID,
    cabin: Cabin | None = None,
    exact: bool = False,
    use: Use = FULL_DRIVE,
    asked: Collection[str] = HEARD,
    gain: Floats | None = None,
) -> Figures:
    """Figures of each of N systems; rows that make no sense give nan.

    Output is averaged over ``music_band``, Hz; ``vent_speed_limit`` is peak, m/s.  ``frequency`` (F,) in Hz, log
    spaced, spans the range looked at (10 Hz to 200 Hz) and only says how closely.  ``cabin`` is the vehicle, for
    ``f3_cabin``; ``exact`` says whether all that depends on the level is worked out everywhere, as tables want it.
    ``use`` says from which frequency the systems are fed, where levels are wanted and whether they are turned down to
    hold their limits; without it they are at full drive from 10 Hz.  With a ``gain``
    (N,), a share of full drive, they are set to that, whatever it breaks.  Unless ``exact`` only what is ``asked`` for
    of the costly figures (``HEARD``) is worked out.

    f3 is the lowest frequency above which the response without coil inductance stays within half power (10·log10 2)
    of the reference level p = ρ·n·sd·bl·V/(2π·re·mms) to the top of the range (Small 1972, 1973); it is found below
    the range where need be.  f3 and the worst values are good to 0.1 %, most of them far better, and the mean output
    to 0.02 dB, 0.1 dB where full power has effects.

    Without ``exact`` output is good to 0.1 dB; so are the gain and the levels of 99 in 100 designs, and to 0.2 dB of
    all but one in a thousand, too high where a peak between two places looked at is narrow; worst excursion and vent
    speed are looked at in a dozen places, where something grows with the level: most are good to 1 %.  With it all are
    good to 0.1 %, and none that is turned down passes a limit; beyond Xmax, where a bent motor or suspension may answer
    one voltage twice, worst values may be either answer.

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
    block = partial(_block, music_band=music_band, vent_speed_limit=vent_speed_limit, frequency=frequency, cabin=cabin,
                    exact=exact, use=use, asked=asked)  # fmt: skip
    with np.errstate(all="ignore"):
        parts = [
            (rows, block(systems.take(rows), gain=None if gain is None else gain[rows]))
            for kind in kinds or [np.zeros(0, dtype=np.intp)]
            for rows in (kind[start : start + size] for start in range(0, max(len(kind), 1), size))
        ]
    if len(parts) == 1:
        return parts[0][1]
    shapes = {item.name: getattr(parts[0][1], item.name).shape[1:] for item in fields(Figures)}
    merged = Figures(**{name: np.empty((len(systems), *shape)) for name, shape in shapes.items()})
    for rows, part in parts:
        for item in fields(Figures):
            getattr(merged, item.name)[rows] = getattr(part, item.name)
    return merged


def _block(
    systems: Systems,
    music_band: Band,
    vent_speed_limit: float,
    frequency: Floats,
    cabin: Cabin | None,
    exact: bool,
    use: Use,
    asked: Collection[str],
    gain: Floats | None,
) -> Figures:
    squares = Squares(systems)
    grid = np.log(frequency)
    # One point beyond either end, so that a peak or dip beside the end shows as one.
    grid = np.concatenate([[2.0 * grid[0] - grid[1]], grid, [2.0 * grid[-1] - grid[-2]]])
    # What moves counts where the systems are fed, from one point below.
    fed = grid[max(int(np.searchsorted(grid, math.log(use.fed_from) - 1e-9)) - 1, 0) :]
    at = squares.at(fed[:, np.newaxis])
    unknown = np.full(len(systems), np.nan)
    f3 = f3_box = f3_cabin = cabin_shortfall = unknown
    in_vehicle = cabin is not None and (exact or "vehicle" in asked)
    over_grid = exact or in_vehicle or "f3" in asked
    # Whether there is an f3 at all is known from the top of the grid.
    looked = squares.at((grid if over_grid else grid[-2:-1])[:, np.newaxis])
    alone = looked.response
    filtered = alone / looked.filter_loss if squares.filtered else alone
    if exact or "f3" in asked:
        f3_box = _f3(squares, grid, alone, _curve("response"))
        f3 = _f3(squares, grid, filtered, _filtered_response) if squares.filtered else f3_box.copy()
    if cabin is not None and in_vehicle:
        f3_cabin, cabin_shortfall = _f3_cabin(squares, grid, filtered, cabin, music_band[1])
    levelled: dict[str, Floats] = {}
    if exact:
        levelled = _at_full_power(squares, systems, use, music_band, vent_speed_limit, gain)
    else:
        if "output" in asked:
            levelled["output_db"] = _output(squares, systems, music_band, vent_speed_limit)
        if gain is None and use.full_drive and not use.levels and not np.any(grows(systems)):
            levelled |= _linear(squares, systems, fed, at)
        else:
            levelled |= _in_few(squares, systems, fed, at, use, vent_speed_limit, strain="strain" in asked, stated=gain)
    nothing = dict.fromkeys((item.name for item in fields(Figures)), unknown)
    inside = fed >= math.log(use.fed_from) - 1e-9
    faster = (2.0 * math.pi * np.exp(fed[inside, np.newaxis])) ** 2
    pushed = at.radiator_excursion[inside] if squares.radiating else np.zeros((1, len(systems)))
    found = {
        "cone_speed": levelled["gain"] * np.sqrt(np.max(faster * at.excursion[inside], axis=0)),
        "radiator_speed": levelled["gain"] * np.sqrt(np.max(faster * pushed, axis=0)),
        "levels": np.full((len(systems), len(use.levels)), np.nan),
        "reference_db": level_db(systems.reference_pressure**2),
        "f3": f3,
        "f3_box": f3_box,
        "f3_shortfall": -10.0 * np.log10(filtered[-2 if over_grid else 0] / _HALF),
        "f3_cabin": f3_cabin,
        "f3_cabin_shortfall": cabin_shortfall,
    }
    return Figures(**nothing | found | levelled)


def _linear(squares: Squares, systems: Systems, grid: Floats, at: At) -> dict[str, Floats]:
    """Gain and worst values of systems of which nothing grows with the level, at full drive."""
    none = np.zeros(len(systems)), np.zeros(len(systems))
    there = {"excursion": True, "vent_speed": squares.vented, "radiator_excursion": squares.radiating}
    excursion, vent, pushed = (
        _worst(squares, grid, getattr(at, name), _curve(name)) if present else none for name, present in there.items()
    )
    worst = _worst_values(
        systems,
        excursion=(np.sqrt(excursion[0]) / systems.xmax, np.exp(excursion[1])),
        vent_speed=(np.sqrt(vent[0]), np.exp(vent[1])),
        radiator=(np.sqrt(pushed[0]) / systems.radiator_xmax, np.exp(pushed[1])),
    )
    return {"gain": np.ones(len(systems)), **worst}


def _in_few(
    squares: Squares,
    systems: Systems,
    grid: Floats,
    at: At,
    use: Use,
    vent_speed_limit: float,
    *,
    strain: bool,
    stated: Floats | None,
) -> dict[str, Floats]:
    """Gain (the ``stated`` one if any), levels and (if asked for their ``strain``) worst values at it, in a few places.

    Those are a coarse grid, the linear model's, and where parabolas through the coarse grid's two peaks have their top.
    """
    rows, low = np.arange(len(systems)), math.log(use.fed_from)
    fed = np.flatnonzero(grid[1:-1] >= low - 1e-9) + 1
    coarse = np.linspace(low, low + math.log(_COARSE_TO), _COARSE)
    linear = {} if stated is not None else {"": _most(at, systems, vent_speed_limit)[fed]}
    if strain:
        moving = ("excursion", "vent_speed", *(["radiator_excursion"] if squares.radiating else []))
        linear |= {name: getattr(at, name)[fed] for name in moving}
    likely = [grid[fed][np.argmax(each, axis=0)] for each in linear.values()]
    places = np.stack([*np.broadcast_to(coarse[:, np.newaxis], (_COARSE, len(rows))), *likely])

    def closer(values: Floats, peaks: int) -> Floats:
        """Ln f of the tops between the coarse places of the highest of some values there, (peaks, N)."""
        few = values[:_COARSE]
        best = np.clip(np.argmax(few, axis=0), 1, _COARSE - 2)[np.newaxis]
        if peaks > 1:
            peak = (few[1:-1] >= few[:-2]) & (few[1:-1] >= few[2:])
            peak[best[0] - 1, rows] = False
            best = np.concatenate([best, 1 + np.argmax(np.where(peak, few[1:-1], 0.0), axis=0)[np.newaxis]])
        offset, _ = top(*(np.log(few[best + side, rows]) for side in (-1, 0, 1)))
        return np.asarray(coarse[best] + np.where(np.isfinite(offset), offset, 0.0) * (coarse[1] - coarse[0]))

    heard = np.broadcast_to(np.log(np.array(use.levels))[:, np.newaxis], (len(use.levels), len(rows)))
    here = squares.at(places)
    gain, held = np.ones(len(systems)) if stated is None else stated, stated is None and not use.full_drive
    if held:

        def needed(some: Floats, here: At) -> Floats:
            most = shares(
                systems,
                frequency=np.exp(some),
                chain_loss=here.chain_loss,
                pressure=here.pressure / _most(here, systems, vent_speed_limit),
                vent_speed_limit=vent_speed_limit,
            )
            return np.asarray(1.0 / most)

        down = needed(places, here)
        again = closer(down, 2)
        down = np.maximum(down.max(axis=0), needed(again, squares.at(again)).max(axis=0))
        lifted = 1.0
        if squares.raised:
            lifted = np.max(np.broadcast_to(at.chain_loss, (len(grid), len(rows)))[fed] ** -0.5, axis=0)
        gain = 1.0 / np.maximum(np.maximum(down, lifted), 1.0)

    def at_gain(some: Floats, here: At) -> tuple[Floats, Floats, Floats]:
        loss = np.maximum(here.chain_loss / gain**2, 1.0)
        pressure = here.pressure * here.drive_loss / loss
        if held:
            # Held, nothing is beyond its limit, so no start need be: far out a bent motor answers otherwise.
            pressure = np.minimum(pressure, here.pressure / _most(here, systems, vent_speed_limit))
        excursion, speed, loud = at_drive(systems, frequency=np.exp(some), drive_loss=loss, pressure=pressure)
        return np.asarray(excursion, float), np.asarray(speed, float), np.asarray(loud, float)

    found = {"gain": gain}
    if not strain:
        if len(heard):
            found["levels"] = level_db(at_gain(heard, squares.at(heard))[2]).T
        return found
    excursion, speed, _ = at_gain(places, here)
    looked = [closer(excursion, 1)]
    looked += [closer(speed, 1)] if squares.vented else []
    looked += [closer(speed / np.exp(places), 1)] if squares.radiating else []
    more = np.concatenate([*looked, heard])
    excursion_more, speed_more, loud = at_gain(more, squares.at(more))
    found["levels"] = level_db(loud[len(looked) :]).T
    places = np.concatenate([places, more])
    excursion, speed = np.concatenate([excursion, excursion_more]), np.concatenate([speed, speed_more])

    def worst(values: Floats) -> Worst:
        most = np.argmax(values, axis=0)
        return values[most, rows], np.exp(places[most, rows])

    none = np.zeros(len(systems)), np.zeros(len(systems))
    (moved, moved_hz), (pushed, pushed_hz) = worst(excursion), none
    if squares.radiating:
        pushed, pushed_hz = worst(speed / np.exp(places))
    return found | _worst_values(
        systems,
        excursion=(moved / systems.xmax, moved_hz),
        vent_speed=worst(speed) if squares.vented else none,
        radiator=(pushed / (2.0 * math.pi * systems.radiator_xmax), pushed_hz),
    )


def _most(at: At, systems: Systems, vent_speed_limit: float) -> Floats:
    """The most that full drive does in the linear model over what a limit allows, as a power; (F, N)."""
    moved = [at.excursion, at.vent_speed, *([at.radiator_excursion] if np.any(systems.radiating) else [])]
    most, *others = overdrive(systems, at.heat, moved, vent_speed_limit=vent_speed_limit)
    for each in others:
        np.maximum(most, each, out=most)
    return most


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
    squares: Squares, systems: Systems, use: Use, music_band: Band, vent_speed_limit: float, stated: Floats | None
) -> dict[str, Floats]:
    """All that depends on the level, from the exact model, at a ``stated`` gain if there is one."""
    band = np.exp(_band(music_band))
    level, bound, most = max_output(systems, frequency=band, vent_speed_limit=vent_speed_limit)
    gain, hz, limit = np.ones(len(systems)), np.full(len(systems), np.nan), np.zeros(len(systems), dtype=np.int64)
    if stated is not None:
        gain = stated
    elif not use.full_drive:
        gain, hz, limit = gain_of(systems, fed_from=use.fed_from, vent_speed_limit=vent_speed_limit)
    # With losses there are no sharp peaks, so every few points do for a first look.
    grid = np.geomspace(use.fed_from, TOP, _LOOKS)
    full = respond_large(systems, frequency=grid, gain=gain)
    there = {EXCURSION: True, THROUGH: systems.vented.any(), PUSHED: systems.radiating.any()}
    moved = (full.excursion, full.vent_speed, full.radiator_excursion)
    (excursion_hz, excursion), (speed_hz, speed), (pushed_hz, pushed) = (
        highest(full, curve=curve, values=values, limits={"drive": 1.0}, gain=gain)
        if there[curve]
        else (np.full(len(systems), np.nan), np.zeros(len(systems)))
        for curve, values in zip(there, moved, strict=True)
    )
    heard = np.ones(len(band), dtype=bool)
    if not use.full_drive:
        most, band = full, grid
        heard = (band >= music_band[0]) & (band <= music_band[1])
        if not np.any(heard):  # all of the music band lies below what is fed
            heard = np.ones(len(band), dtype=bool)
    linear = squares.at(np.log(band)[:, np.newaxis])
    loss = np.maximum(linear.chain_loss / gain**2, 1.0)
    lost = compression_db(most, np.sqrt(linear.pressure * linear.drive_loss / loss).T)
    return {
        **_worst_values(
            systems,
            excursion=(excursion / systems.xmax, excursion_hz),
            vent_speed=(speed, speed_hz),
            radiator=(pushed / systems.radiator_xmax, pushed_hz),
        ),
        "gain": gain,
        "gain_hz": hz,
        "gain_limit": limit.astype(float),
        "levels": level_db(respond_large(systems, frequency=np.array(use.levels), gain=gain).pressure ** 2),
        "output_db": _mean(level.T),
        "coil_rise": np.max(most.coil_rise, axis=1),
        "compression_db": np.max(lost[:, heard], axis=1),
        "limited_by": np.argmax([(bound == code).sum(axis=1) for code in range(len(LIMITS))], axis=0).astype(float),
    }


def _curve(name: str) -> Curve:
    """One of the squares of :class:`engine.acoustics.squares.At` over frequency."""
    return lambda squares, log_frequency: np.asarray(getattr(squares.at(log_frequency), name))


def _filtered_response(squares: Squares, log_frequency: Floats) -> Floats:
    at = squares.at(log_frequency)
    return at.response / at.filter_loss


def _places(mask: Flags) -> tuple[Indices, Indices]:
    """Row and column of every true place, by rows: what nonzero gives, but quick where they are few."""
    return np.divmod(np.flatnonzero(mask), mask.shape[1])


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
            offset, _ = top(*np.take_along_axis(five, best + _THREE, axis=0))
            place[sharp] += (best - 2 + offset) * step[sharp]
            step[sharp] *= 2.0 * _CLOSER
            three[:, sharp] = sense * np.log(curve(some, place[sharp] + step[sharp] * _THREE))

    offset, _ = top(*three)
    place += offset * step
    step *= _CLOSER
    offset, value = top(*(sense * np.log(curve(chosen, place + step * _THREE))))
    return place + offset * step, np.exp(sense * value)


def _best_of_nine(chosen: Squares, place: Floats, step: Floats, curve: Curve, *, sense: int) -> tuple[Floats, Floats]:
    """The best of nine points within a step of each place, and the step between them."""
    best = np.argmax(sense * curve(chosen, place + step * _NINE), axis=0)
    return place + _NINE[best, 0] * step, 0.25 * step


def _closer(chosen: Squares, place: Floats, step: Floats, curve: Curve, *, sense: int) -> tuple[Floats, Floats, Floats]:
    """The turn of a parabola through three points ``step`` apart, a fifth of the step, and ln of three points there."""
    offset, _ = top(*(sense * np.log(curve(chosen, place + step * _THREE))))
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
    most = np.maximum(_most(at, systems, vent_speed_limit), 1.0)
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
