"""What can go wrong, in one small tree.

    WedgefrontError
    ├── InputFaults        a file the user gave is wrong; carries every fault found
    └── SearchImpossible   the scenario is sound, but no design can come of it

A bad candidate inside a search is never an exception: it is a constraint value.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from engine.words.search import check_impossible, why_impossible
from engine.words.voice import Voice

MOST_TOLD = 60  # faults that a message lists; the rest are counted


class WedgefrontError(ValueError):
    """Base of every error that is meant to be read by the user."""


@dataclass(frozen=True, order=True)
class Fault:
    """One thing wrong in one file.

    ``source`` names the file, ``key`` the place in it (``driver[0].fs``), ``value``
    is what stands there as text (empty if nothing does) and ``expected`` says what
    should.
    """

    source: str
    key: str
    value: str
    expected: str

    def __str__(self) -> str:
        found = f" = {self.value}" if self.value else ""
        where = f"{self.key}{found}" if self.key else self.value
        return f"{self.source}: {where}: {self.expected}" if where else f"{self.source}: {self.expected}"


class InputFaults(WedgefrontError):
    """Every fault of one file, reported together."""

    def __init__(self, faults: list[Fault]) -> None:
        self.faults = tuple(faults)
        told = [str(fault) for fault in faults[:MOST_TOLD]]
        if len(faults) > MOST_TOLD:
            told.append(f"{faults[0].source}: and {len(faults) - MOST_TOLD} more faults")
        super().__init__("\n".join(told))


class SearchImpossible(WedgefrontError):
    """The scenario reads well but leaves nothing to search; its sentence says what to change.

    ``code`` is one of :data:`engine.words.search.IMPOSSIBLE`, and ``parameters`` are what that sentence asks for, of
    the types of :mod:`engine.words.voice`.  ``str()`` tells it in the words of a file, in metric units.  Raises
    ValueError for a code that is none, or without all its parameters.
    """

    def __init__(self, code: str, **parameters: Any) -> None:
        check_impossible(code, parameters)
        self.code, self.parameters = code, parameters
        super().__init__(code)

    def __str__(self) -> str:
        return self.told(Voice("metric"))

    def told(self, voice: Voice) -> str:
        """Its sentence."""
        return why_impossible(self.code, self.parameters, voice)
