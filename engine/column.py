"""One column of a front."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from engine.goals import Goal, Said


@dataclass(frozen=True)
class Column:
    """How one column of the front is named, measured and shown.

    ``kind`` is a kind of quantity known to :mod:`engine.quantities`, or one of
    ``text``, ``count``, ``ratio``, ``level`` (dB).  ``better`` says which way is better,
    if either is; ``least_step`` is the smallest difference worth a word.  ``stored`` is how
    many decimals (SI) the front keeps: finer than the model is good for, coarse enough
    that two designs nobody could tell apart are one.  ``said`` is how a difference is said, if it is.
    """

    key: str
    label: str
    kind: str
    better: Literal["min", "max"] | None = None
    digits: int = 1
    least_step: float = 0.0
    stored: int = 6
    said: Said | None = None

    @classmethod
    def of(cls, goal: Goal) -> Column:
        """The column of a goal."""
        return cls(
            goal.key,
            goal.label,
            goal.kind,
            goal.better,
            digits=goal.digits,
            least_step=goal.least_step,
            stored=goal.stored,
            said=goal.said,
        )

    @property
    def inner_label(self) -> str:
        """The label as it stands inside a sentence."""
        return self.label[:1].lower() + self.label[1:]
