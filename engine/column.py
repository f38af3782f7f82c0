"""One column of a front, and how a difference in it is said."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal, get_args

About = Literal["sound", "strain", "build"]
ABOUT: tuple[About, ...] = get_args(About)


@dataclass(frozen=True)
class Said:
    """How a difference between two designs is said.

    ``higher`` and ``lower`` go on from a design's name, with {} for the difference; ``about`` is the sentence they
    belong in, ``rank`` their place in it.
    """

    higher: str
    lower: str
    about: About
    rank: int


@dataclass(frozen=True)
class Column:
    """How one column of the front is named, measured and shown.

    ``kind`` is a kind of quantity known to :mod:`engine.quantities`, or one of ``text``, ``count``, ``ratio``,
    ``level`` (dB).  ``better`` says which way is better, if either is; ``least_step`` is the smallest difference worth
    a word.  ``stored`` is how many decimals (SI) the front keeps: finer than the model is good for, coarse enough that
    two designs nobody could tell apart are one.  ``sawn`` says that a builder measures it off, in fractions where he
    thinks in inches.  ``said`` is how a difference is said, if it is.
    """

    key: str
    label: str
    kind: str
    better: Literal["min", "max"] | None = None
    digits: int = 1
    least_step: float = 0.0
    stored: int = 6
    sawn: bool = False
    said: Said | None = None

    @property
    def inner_label(self) -> str:
        """The label as it stands inside a sentence."""
        return self.label[:1].lower() + self.label[1:]
