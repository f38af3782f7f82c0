"""What may stand at one key of a table: the declaration that readers, messages and forms share."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import KW_ONLY, dataclass
from typing import Any, Literal

Form = Literal["one", "range", "pair", "list", "corners", "points"]

_PLAIN = ("text", "choice", "count", "ratio")


@dataclass(frozen=True)
class Field:
    """What may stand at one key of a table.

    ``kind`` is a kind of quantity, or ``text``, ``choice``, ``count`` (whole number) or ``ratio`` (plain number);
    ``help`` is for the person filling in the form; ``prose`` is for a text that may have
    several lines.  ``form`` says whether one value stands there, a [lowest, highest]
    ``range``, a ``pair``, a ``list``, ``corners`` ([forward, up] pairs) or ``points`` of a curve, pairs of this field
    and of ``against``.  ``default``, ``low`` and ``high`` are written as they would stand in the file; a value outside
    low..high is refused as implausible.  ``default_us`` is a rounder one, for what is only worked out once
    it is known whether somebody measures in US customary units.
    """

    key: str
    kind: str
    help: str
    low: Any = None
    high: Any = None
    form: Form = "one"
    required: bool = False
    default: Any = None
    default_us: str = ""
    choices: Collection[str] = ()
    against: Field | None = None
    prose: bool = False  # a text of several lines, not a name

    @property
    def is_quantity(self) -> bool:
        return self.kind not in _PLAIN


@dataclass(frozen=True)
class SubTable:
    """A table that may stand inside another one, once or ``many`` times."""

    key: str
    _: KW_ONLY
    many: bool = False
    required: bool = False
