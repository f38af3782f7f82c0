"""Vents that have no room in their box, tuned up until they have.

A search moves sizes and tunings without knowing which vents become too long by it: a fifth of its tries failed by
nothing else.  The lowest tuning that a box has room for is also where many of the best designs stand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from engine.arrays import Floats
from engine.constraints import CONSTRAINTS
from engine.search.evaluator import Designs, Evaluator
from engine.space.envelope import Fit
from engine.space.wedge import Wedges
from engine.steps import FREQUENCY_STEP

Flags = NDArray[np.bool_]


def tuned_up(evaluator: Evaluator, designs: Designs, *, most: float) -> Floats:
    """Lumped tunings of designs, (N,) Hz: of those that fail by what a higher tuning leaves more of, and by nothing
    else that is known before they are heard, a step above the lowest at which they do not.

    It is sought in steps of ``FREQUENCY_STEP`` up to ``most`` Hz, as if all higher ones were right too; designs that
    fail there as well, and all others, keep their own.
    """
    wedges = evaluator.wedges(designs)
    fit = evaluator.fit(designs, wedges)
    tuning = designs.tuning.copy()
    by_tuning, otherwise = _failing(evaluator, designs, wedges, fit)
    highest = int(most / FREQUENCY_STEP)
    rows = np.flatnonzero(by_tuning & ~otherwise & (tuning < highest * FREQUENCY_STEP))

    def fails(steps: NDArray[np.int64]) -> Flags:
        tuned = replace(designs.take(rows), tuning=FREQUENCY_STEP * steps.astype(np.float64))
        return np.logical_or(*_failing(evaluator, tuned, wedges.take(rows), fit.take(rows)))

    rows = rows[~fails(np.full(len(rows), highest))]
    low, high = np.rint(tuning[rows] / FREQUENCY_STEP).astype(np.int64), np.full(len(rows), highest)
    while (high - low > 1).any():
        middle = (low + high) // 2
        short = fails(middle)
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    # One step more, so that what rounding takes from a box that is written down and read again leaves it room.
    tuning[rows] = np.minimum(high + 1, highest) * FREQUENCY_STEP
    return tuning


def _failing(evaluator: Evaluator, designs: Designs, wedges: Wedges, fit: Fit) -> tuple[Flags, Flags]:
    """Which designs break a constraint that a higher tuning eases, and which break another one, (N,) each."""
    layout = evaluator.layout(designs, wedges, fit, thorough=False)
    broken = {name: each > 0.0 for name, each in evaluator.unheard(designs, wedges, fit, layout).items()}
    eased = {name for name in broken if CONSTRAINTS[name].eased_by_tuning}
    none = np.zeros(len(designs), dtype=bool)
    return (
        np.logical_or.reduce([none, *(broken[name] for name in eased)]),
        np.logical_or.reduce([none, *(broken[name] for name in broken.keys() - eased)]),
    )
