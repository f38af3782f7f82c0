"""The archive that a search keeps: one design a cell, and nothing lost to what is only known roughly."""

from __future__ import annotations

import numpy as np

from engine.arrays import Floats
from engine.search.archive import NEARLY, Archive

STEPS = (0.1, 0.1, 0.1)


def told(archive: Archive, F: Floats, *, exact: Floats | None = None) -> None:
    """Offer designs, and confirm whatever waits at once, as their ``exact`` figures (those offered if not given)."""
    X = np.arange(len(F), dtype=float)[:, np.newaxis] + 1000.0 * len(archive.marks)
    archive.offer(X, F)
    exact = archive.waiting_F if exact is None else exact
    every = np.arange(len(archive.send()))
    archive.confirm(exact, np.ones(len(every), dtype=bool), every)


def test_whatever_was_told_is_within_a_cell_of_what_is_kept() -> None:
    """Independent implementation: by brute force, over 3 000 designs in ten batches on a curved front."""
    rng, archive, every = np.random.default_rng(1), Archive(variables=1, steps=STEPS), []
    for _ in range(10):
        F = rng.random((300, 3))
        F /= np.linalg.norm(F, axis=1, keepdims=True)
        F += 0.2 * rng.random((300, 1))
        every.append(F)
        told(archive, F)
    everything = np.vstack(every)
    kept = {tuple(row) for row in archive.F}
    assert kept <= {tuple(row) for row in everything}
    for row in everything:
        assert ((row + np.array(STEPS) >= archive.F).all(axis=1)).any()
    beaten = [((archive.F <= row).all(axis=1) & (archive.F < row).any(axis=1)).any() for row in archive.F]
    assert not any(beaten)
    cells = np.floor(archive.F / STEPS)
    assert len(np.unique(cells, axis=0)) == len(cells)


def test_a_member_gives_way_within_its_cell_only_to_what_is_plainly_better() -> None:
    """Promise: so that the last hundredth of a cell does not cost a working out each time."""
    archive = Archive(variables=1, steps=STEPS)
    told(archive, np.array([[0.05, 0.05, 0.05]]))
    nearly, better = 0.05 - 0.1 * NEARLY / 3.0 + 1e-6, 0.05 - 0.1 * NEARLY / 3.0 - 1e-6
    assert not archive.offer(np.zeros((1, 1)), np.full((1, 3), nearly))[0]
    assert archive.offer(np.zeros((1, 1)), np.full((1, 3), better))[0]


def test_what_is_known_roughly_pushes_nothing_out_and_is_tried_once() -> None:
    """Promise: a design that looked better than it is costs one working out, and no member."""
    archive = Archive(variables=1, steps=STEPS)
    told(archive, np.array([[0.55, 0.55, 0.55]]))
    rough = np.array([[0.15, 0.15, 0.15]])
    assert archive.offer(np.ones((1, 1)), rough)[0]
    assert archive.F.tolist() == [[0.55, 0.55, 0.55]]
    archive.send()
    archive.confirm(np.array([[0.75, 0.75, 0.75]]), np.array([True]), np.array([7]))
    assert archive.F.tolist() == [[0.55, 0.55, 0.55]]
    assert not len(archive.waiting_F)
    assert not archive.offer(np.ones((1, 1)), rough + 0.01)[0]
    # And one that turns out to break a limit.
    other = np.array([[0.05, 0.95, 0.95]])
    assert archive.offer(np.ones((1, 1)), other)[0]
    archive.send()
    archive.confirm(np.empty((0, 3)), np.array([False]), np.empty(0, dtype=np.int64))
    assert not archive.offer(np.ones((1, 1)), other)[0]
    assert archive.F.tolist() == [[0.55, 0.55, 0.55]]


def test_one_that_is_confirmed_better_takes_the_place() -> None:
    """Property: exact figures are what the archive goes by, and the mark goes with the design."""
    archive = Archive(variables=1, steps=STEPS)
    told(archive, np.array([[0.55, 0.55, 0.55]]))
    archive.offer(np.full((1, 1), 3.0), np.array([[0.45, 0.45, 0.45]]))
    archive.send()
    archive.confirm(np.array([[0.35, 0.35, 0.35]]), np.array([True]), np.array([9]))
    assert archive.F.tolist() == [[0.35, 0.35, 0.35]]
    assert archive.marks.tolist() == [9]
    assert archive.X.tolist() == [[3.0]]
