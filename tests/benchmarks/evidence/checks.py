"""One line of the evidence: what is held against what, how far apart they are, and how far they may be."""

from __future__ import annotations

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import ArrayLike, NDArray

Floats = NDArray[np.floating[Any]]

# Of what is checked, what against, cases, worst, allowed and verdict; a note has a line of its own.
WIDTHS = (62, 54, 6, 11, 10, 8)


@dataclass(frozen=True, kw_only=True)
class Check:
    """``worst`` deviation and ``allowed`` one in ``unit``; ``absent`` says why it could not be done here."""

    what: str
    against: str
    cases: int
    worst: float
    allowed: float
    unit: str = ""
    note: str = ""
    absent: str = ""

    @property
    def kept(self) -> bool:
        """Also where it could not be done; nan and no cases are broken."""
        return bool(self.absent) or (self.cases > 0 and self.worst <= self.allowed)

    def __str__(self) -> str:
        verdict = "left out" if self.absent else "kept" if self.kept else "BROKEN"
        worst, allowed = (f"{_short(each)} {self.unit}".rstrip() for each in (self.worst, self.allowed))
        cells = (self.what, self.against, str(self.cases), worst, allowed, verdict)
        told = self.absent or self.note
        return line(cells).rstrip() + (f"\n    {told}" if told else "")


@dataclass(frozen=True, kw_only=True)
class Table:
    """Figures that want more than a line."""

    title: str
    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]

    def __str__(self) -> str:
        every = (self.heads, *self.rows)
        wide = [max(len(row[column]) for row in every) for column in range(len(self.heads))]
        lines = ("  ".join(f"{cell:<{width}}" for cell, width in zip(row, wide, strict=True)) for row in every)
        return "\n".join([self.title, *(f"    {each.rstrip()}" for each in lines)])


Evidence = Iterator[Check | Table]


def line(cells: tuple[str, ...]) -> str:
    """A row of the table, numbers to the right."""
    ways = ("<", "<", ">", ">", ">", "<")
    return "  ".join(f"{cell:{way}{width}}" for cell, way, width in zip(cells, ways, WIDTHS, strict=True))


def furthest(ours: ArrayLike, theirs: ArrayLike) -> float:
    """Largest difference, nan if any is."""
    return float(np.max(np.abs(np.asarray(ours) - np.asarray(theirs))))


def furthest_percent(ours: ArrayLike, theirs: ArrayLike) -> float:
    """Largest relative difference in %."""
    return 100.0 * float(np.max(np.abs(np.asarray(ours) / np.asarray(theirs) - 1.0)))


def greatest(values: Iterable[float]) -> float:
    """The greatest of some, nan if any is or there are none."""
    every = list(values)
    return float(np.max(every)) if every else math.nan


def rms(values: ArrayLike) -> float:
    return math.sqrt(float(np.mean(np.square(np.asarray(values)))))


def _short(value: float) -> str:
    return f"{value:.2g}" if abs(value) < 1e-3 else f"{value:.3g}"
