"""Which designs moves start from, against the same by arrays: an independent implementation."""

from __future__ import annotations

import numpy as np

from engine.search.reach import best_by


def test_the_best_of_those_drawn_is_found() -> None:
    """For niches of one design and of many, whatever the step from one that is drawn to the next."""
    rng = np.random.default_rng(4)
    F, first, count = rng.random((300, 4)), np.repeat([0, 1, 60], 50), np.repeat([1, 59, 240], 50)
    weights = rng.dirichlet(np.ones(4), len(first))
    start = (rng.random(len(first)) * count).astype(np.intp)
    stride = np.maximum((rng.random(len(first)) * count).astype(np.intp), 1)
    best = np.full(len(first), -1)
    worst = rng.random(len(first)) < 0.5
    best_by(F, weights, first, count, start, stride, 40, worst, best)
    for place, chosen in enumerate(best):
        drawn = first[place] + (start[place] + stride[place] * np.arange(40)) % count[place]
        assert chosen in drawn
        weighted = F * weights[place]
        figures = weighted.max(axis=1) if worst[place] else weighted.sum(axis=1)
        np.testing.assert_allclose(figures[chosen], figures[drawn].min(), rtol=1e-12)
