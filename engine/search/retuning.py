"""Vents that have no room in their box, tuned up until they have.

A search moves sizes and tunings without knowing which vents become too long by it: a fifth of its tries failed by
nothing else.  The lowest tuning that a box has room for is also where many of the best designs stand.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from engine.arrays import Flags, Floats, Integers
from engine.constraints import CONSTRAINTS
from engine.search.evaluator import Designs, Evaluator
from engine.space.envelope import Fit
from engine.space.wedge import Wedges
from engine.steps import FREQUENCY_STEP


def tuned_up(evaluator: Evaluator, designs: Designs, *, most: float) -> Floats:
    """Lumped tunings of designs, (N,) Hz: of those that fail by what a higher tuning leaves more of, and by nothing
    else that is known before they are heard, a step above the lowest at which they do not.

    It is sought in steps of ``FREQUENCY_STEP`` up to ``most`` Hz, as if all higher ones were right too; designs that
    fail there as well, and all others, keep their own.
    """
    wedges = evaluator.wedges(designs)
    fit = evaluator.fit(designs, wedges)
    tuning, highest = designs.tuning.copy(), int(most / FREQUENCY_STEP)
    by_tuning, otherwise = _failing(evaluator, designs, wedges, fit)
    otherwise |= np.max(np.stack(list(evaluator.of_shape(wedges, fit).values())), axis=0) > 0.0
    rows = np.flatnonzero(by_tuning & ~otherwise & (tuning < highest * FREQUENCY_STEP))
    some, beside, there = designs.take(rows), wedges.take(rows), fit.take(rows)
    mended = np.flatnonzero(~_fails(evaluator, some, beside, there, np.full(len(rows), highest)))
    rows, some, beside, there = rows[mended], some.take(mended), beside.take(mended), there.take(mended)
    low, high = np.rint(some.tuning / FREQUENCY_STEP).astype(np.int64), np.full(len(rows), highest)
    while (high - low > 1).any():
        middle = (low + high) // 2
        short = _fails(evaluator, some, beside, there, middle)
        low, high = np.where(short, middle, low), np.where(short, high, middle)
    # One step more, so that what rounding takes from a box that is written down and read again leaves it room.
    tuning[rows] = np.minimum(high + 1, highest) * FREQUENCY_STEP
    return tuning


def _fails(evaluator: Evaluator, designs: Designs, wedges: Wedges, fit: Fit, steps: Integers) -> Flags:
    """Which designs break any constraint on what is in them when they are tuned to so many ``steps``, (N,)."""
    tuned = replace(designs, tuning=FREQUENCY_STEP * steps.astype(np.float64))
    return np.logical_or(*_failing(evaluator, tuned, wedges, fit))


def _failing(evaluator: Evaluator, designs: Designs, wedges: Wedges, fit: Fit) -> tuple[Flags, Flags]:
    """Which designs break a constraint on what is in them that a higher tuning eases, and which another one, (N,)."""
    layout = evaluator.layout(designs, wedges, fit, thorough=False)
    found = np.zeros((2, len(designs)), dtype=bool)
    for name, violation in evaluator.of_contents(designs, layout).items():
        found[0 if CONSTRAINTS[name].eased_by_tuning else 1] |= violation > 0.0
    return found[0], found[1]
