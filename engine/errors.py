"""What can go wrong, in one small tree.

    WedgefrontError
    ├── InputFaults        a file the user gave is wrong; carries every fault found
    ├── Refusal            something asked for cannot be done with what was given
    └── SearchImpossible   the scenario is sound, but no design can come of it

Each carries codes and parameters; the sentences are in :mod:`engine.words` and are made where they are read, in the
user's units and in the words of a file or of a form.  ``str()`` is in the words of a file.

A bad candidate inside a search is never an exception: it is a constraint value.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import Any, NamedTuple

from engine.plain_text import shown
from engine.quantities import Units
from engine.words.faults import SENTENCES, Concern, check_fault, what_is_wrong
from engine.words.voice import Quantity, Voice

MOST_TOLD = 60  # faults that a message lists; the rest are counted
A_TABLE, TABLES, NO_ITEMS, BLANK = "a table", "tables", "[]", '""'  # what stands there, where that is no value


class WedgefrontError(ValueError, ABC):
    """Base of every error that is meant to be read by the user."""

    units: Units = "metric"

    def __str__(self) -> str:
        return self.told(Voice(self.units))

    @abstractmethod
    def told(self, voice: Voice) -> str:
        """Its sentence, or a line for each of its faults."""


class Finding(NamedTuple):
    """What is wrong with something, by code and parameters, whichever place of whichever file it comes from."""

    code: str
    parameters: Mapping[str, Any]


def finding(code: str, **parameters: Any) -> Finding:
    """One finding.  Raises ValueError for a code that is none, or without all that its sentence asks for."""
    check_fault(code, parameters)
    return Finding(code, parameters)


@dataclass(frozen=True)
class Fault:
    """One thing wrong in one file.

    ``source`` names the file, ``key`` the place in it (``driver[0].fs``), ``value`` is what stands there as text, or
    a figure worked out from it (empty if nothing stands there).  ``code`` is one of
    :data:`engine.words.faults.SENTENCES`, and ``parameters`` are what its sentences ask for, of the types of
    :mod:`engine.words.voice`.  Raises ValueError for a code that is none, or without all its parameters.
    """

    source: str
    key: str
    value: str | Quantity
    code: str
    parameters: Mapping[str, Any] = field(default_factory=dict, hash=False)

    def __post_init__(self) -> None:
        check_fault(self.code, self.parameters)

    @property
    def concern(self) -> Concern:
        """What kind of thing is wrong."""
        return SENTENCES[self.code].concern

    def __str__(self) -> str:
        return self.told(Voice("metric"))

    def told(self, voice: Voice) -> str:
        """File, place, what stands there and what is wrong with it, in one line."""
        value, wrong = self.found(voice), self.wrong(voice)
        found = f" = {value}" if value else ""
        where = f"{self.key}{found}" if self.key else value
        return shown(f"{self.source}: {where}: {wrong}" if where else f"{self.source}: {wrong}")

    def found(self, voice: Voice) -> str:
        """What stands there."""
        return voice.quantity(self.value) if isinstance(self.value, Quantity) else self.value

    def wrong(self, voice: Voice) -> str:
        """What is wrong with it, or what should stand there."""
        return what_is_wrong(self.code, self.parameters, voice)


class InputFaults(WedgefrontError):
    """Every fault of one file, reported together; ``units`` are those that the file is written in."""

    def __init__(self, faults: Sequence[Fault], units: Units = "metric") -> None:
        self.faults, self.units = tuple(faults), units
        super().__init__(*self.faults)

    def told(self, voice: Voice) -> str:
        told = [fault.told(voice) for fault in self.faults[:MOST_TOLD]]
        if len(self.faults) > MOST_TOLD:
            told.append(f"{self.faults[0].source}: and {len(self.faults) - MOST_TOLD} more faults")
        return "\n".join(told)


def refusal(source: str, code: str, *, key: str = "", value: str = "", **parameters: Any) -> InputFaults:
    """The one fault that keeps a file, or what a user asked for, from being taken at all."""
    return InputFaults([Fault(source, key, value, code, parameters)])


class _Found(WedgefrontError):
    """One finding, raised: its code and parameters are those of :func:`finding`, which raises ValueError for others."""

    def __init__(self, code: str, **parameters: Any) -> None:
        self.finding = finding(code, **parameters)
        super().__init__(code)

    def told(self, voice: Voice) -> str:
        return what_is_wrong(*self.finding, voice)


class Refusal(_Found):
    """Something cannot be done with what was given, such as an outline that no rows can tell."""


class SearchImpossible(_Found):
    """The scenario reads well but leaves nothing to search; its sentence says what to change."""
