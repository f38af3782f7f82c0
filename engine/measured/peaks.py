"""Peaks and saddle of a sweep: where they lie and how high, read off a smooth line through noisy points.

What can be told without any model of a loudspeaker, and whether a sweep is fit to be told more by.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import Any, NamedTuple

import numpy as np
from scipy.interpolate import make_smoothing_spline
from scipy.signal import find_peaks

from engine.arrays import Floats
from engine.errors import Fault, InputFaults
from engine.measured.sweep import Sweep

_FINE = 4000  # places on the smooth line, log spaced
_DENSE = 500  # points that such a line is laid through
_STANDS_OUT = 0.06  # of ln|Z|, that a peak has over the saddle beside it at the least
_OVER_NOISE = 5.0  # times the scatter, that it has too
_FLAT = 0.15  # of ln|Z| from the least to the most: no loudspeaker's resonance is less
_MOST_SCATTER = 0.25  # of ln|Z|, from point to point
_CLIPPED = 4  # points in a row at the very same highest figure
_HIDDEN = 0.03  # of ln|Z|, that a line through the points beside them goes higher
_COARSE = 6  # points between half the lowest and twice the highest peak that is due, for each of them
_LOW_ENOUGH = 0.6  # of the lowest peak that is due, where a sweep should begin
_AGREES = 0.6  # correlation of a phase with the one that goes with the magnitude
_OTHER_UNIT = 7.0  # times that one, and no longer the unit stated: a radian is 57 degrees


class Turn(NamedTuple):
    """A peak or a saddle: Hz and ohm."""

    hz: float
    ohm: float


@dataclass(frozen=True, kw_only=True)
class Landmarks:
    """The peaks of a sweep in rising order, the saddle between each two, and its ``scatter`` from point to point.

    The scatter is a standard deviation of ln|Z|.
    """

    peaks: tuple[Turn, ...]
    saddles: tuple[Turn, ...]
    scatter: float


def scatter_of(values: Floats) -> float:
    """Standard deviation of what scatters from point to point round a line that bends little, (F,) -> one figure.

    By what each point is off the mean of its neighbours (the median, so that a few points far off count for little);
    of noise that is independent from point to point.
    """
    off = values[1:-1] - 0.5 * (values[:-2] + values[2:])
    return float(1.4826 * np.median(np.abs(off - np.median(off))) / math.sqrt(1.5))


def landmarks(frequency: Floats, magnitude: Floats, *, top: float = math.inf) -> Landmarks:
    """Peaks and saddles of impedances in ohm over Hz, (F,) each, rising; no higher than ``top`` Hz.

    A smoothing spline of ln|Z| over ln f, as smooth as generalised cross-validation has it (Wahba 1990, from memory);
    what stands out by less than the noise allows is none.
    """
    inside = frequency <= top
    x, y = np.log(frequency[inside]), np.log(magnitude[inside])
    noise = scatter_of(y)
    fine = np.linspace(x[0], x[-1], _FINE)
    smooth = make_smoothing_spline(*thinned(x, y))(fine)
    return _turning(fine, smooth, noise, max(_STANDS_OUT, _OVER_NOISE * noise / math.sqrt(max(len(x) / 30.0, 1.0))))


def foreseen_landmarks(frequency: Floats, magnitude: Floats) -> Landmarks:
    """The same of a curve without noise."""
    return _turning(np.log(frequency), np.log(magnitude), 0.0, _STANDS_OUT)


def thinned(x: Floats, y: Floats) -> tuple[Floats, Floats]:
    """Points (F,) of a dense sweep as means over equal stretches of ``x``, so that a spline takes no time."""
    if len(x) <= _DENSE:
        return x, y
    bins = np.floor((x - x[0]) / (x[-1] - x[0]) * _DENSE * (1.0 - 1e-12))
    _, which, counts = np.unique(bins, return_inverse=True, return_counts=True)
    return np.bincount(which, weights=x) / counts, np.bincount(which, weights=y) / counts


def _turning(fine: Floats, smooth: Floats, noise: float, least: float) -> Landmarks:
    """Where a smooth ln|Z| over ln f turns by at ``least`` so much."""
    places, _ = find_peaks(smooth, prominence=least)
    between = [first + int(np.argmin(smooth[first:last])) for first, last in pairwise(places.tolist())]

    def turn(place: int) -> Turn:
        return Turn(float(np.exp(fine[place])), float(np.exp(smooth[place])))

    return Landmarks(
        peaks=tuple(turn(int(place)) for place in places), saddles=tuple(map(turn, between)), scatter=noise
    )


def check_sweep(sweep: Sweep, *, expected: Landmarks, top: float) -> Landmarks:
    """The landmarks of a sweep below ``top`` Hz.

    ``expected`` are those that are predicted for what was measured.  Raises InputFaults with all that keeps the sweep
    from telling anything: it does not go round the resonances, is flat, clipped, too noisy or lacks a peak that is due.
    """
    faults: list[Fault] = []

    def fault(code: str, **said: Any) -> None:
        faults.append(Fault(sweep.source, "", "", code, said))

    hz, magnitude = sweep.frequency, sweep.magnitude
    first, last = expected.peaks[0].hz, expected.peaks[-1].hz
    if hz[0] > first or hz[-1] < last:
        fault("sweep_span", low=float(hz[0]), high=float(hz[-1]), first=round(0.5 * first), last=round(3.0 * last))
    around = (hz >= 0.5 * first) & (hz <= 2.0 * last)
    if not faults and np.sum(around) < _COARSE * len(expected.peaks):
        span = {"low": round(0.5 * first, 1), "high": round(2.0 * last, 1)}
        fault("sweep_coarse", count=int(np.sum(around)), least=_COARSE * len(expected.peaks), **span)
    if faults:
        raise InputFaults(faults)
    inside = hz <= top
    level = np.log(magnitude[inside])
    noise = scatter_of(level)
    if np.ptp(np.log(magnitude[around])) < _FLAT + 4.0 * noise:
        fault("sweep_flat", low=round(float(magnitude[around].min()), 2), high=round(float(magnitude[around].max()), 2))
    if clipped := _clipped(hz[inside], magnitude[inside]):
        fault("sweep_clipped", **clipped)
    if noise > _MOST_SCATTER:
        fault("sweep_noisy", scatter=round(100.0 * noise))
    found = landmarks(hz, magnitude, top=top)
    if not faults and len(found.peaks) < len(expected.peaks):
        span = {"low": round(float(hz[0]), 1), "high": round(float(min(hz[-1], top)))}
        code = "sweep_one_peak" if found.peaks else "sweep_no_peak"
        low_enough = hz[0] <= _LOW_ENOUGH * expected.peaks[0].hz
        code = code if low_enough or not found.peaks else "sweep_low_peak"
        fault(code, count=len(found.peaks), due=len(expected.peaks), **span)
    if faults:
        raise InputFaults(faults)
    return found


def _clipped(hz: Floats, magnitude: Floats) -> dict[str, float]:
    """Where the top of a sweep is cut off: points in a row at the same figure where those beside them lead higher."""
    top = float(magnitude.max())
    highest = np.flatnonzero(magnitude >= top * (1.0 - 1e-9))
    at = max(np.split(highest, np.flatnonzero(np.diff(highest) > 1) + 1), key=len)
    if len(at) < _CLIPPED:
        return {}
    beside = np.r_[np.arange(max(at[0] - 4, 0), at[0]), np.arange(at[-1] + 1, min(at[-1] + 5, len(hz)))]
    if at[0] == 0 or at[-1] == len(hz) - 1 or len(beside) < 4:
        return {}
    x, middle = np.log(hz), 0.5 * (math.log(hz[at[0]]) + math.log(hz[at[-1]]))
    curve = np.polyfit(x[beside] - middle, np.log(magnitude[beside]), 2)
    if curve[2] - math.log(top) < _HIDDEN:
        return {}
    return {"most": top, "low": float(hz[at[0]]), "high": float(hz[at[-1]]), "count": len(at)}


def check_phase(sweep: Sweep, angle: Floats) -> None:
    """Hold the phase of a sweep against the ``angle`` (F,) in rad that its magnitude alone leads to.

    Raises InputFaults where it is in another unit, of the other sign, or none.
    """
    assert sweep.phase is not None, "the caller sees to it"
    size = math.sqrt(float(angle @ angle) * float(sweep.phase @ sweep.phase))
    agreement = float(angle @ sweep.phase) / size if size > 0.0 else 0.0
    ratio = abs(float(angle @ sweep.phase)) / float(angle @ angle)
    if agreement < -_AGREES:
        wrong = Fault(sweep.source, "", "", "sweep_phase_sign")
    elif agreement < _AGREES:
        wrong = Fault(sweep.source, "", "", "sweep_phase_apart")
    elif ratio > _OTHER_UNIT:
        wrong = Fault(sweep.source, "", "", "sweep_phase_unit", {"other": "degrees", "stated": "radians"})
    elif ratio < 1.0 / _OTHER_UNIT:
        wrong = Fault(sweep.source, "", "", "sweep_phase_unit", {"other": "radians", "stated": "degrees"})
    else:
        return
    raise InputFaults([wrong])
