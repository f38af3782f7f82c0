"""How a parameter of a message is said: by its type, in the user's units, in the words of a file or of a form.

A message is a code and parameters.  Its sentence is a template in which ``{name}`` stands for a parameter;
what becomes of it depends on its type alone, so a template never formats anything by itself.
"""

from __future__ import annotations

import string
from collections.abc import Mapping, Sequence
from typing import Any, NamedTuple, Protocol, runtime_checkable

from engine.quantities import KINDS, Units, display_text, is_us, parse, show, to_display


class Quantity(NamedTuple):
    """An SI figure with its kind of quantity.

    ``figures`` is how many significant ones are told (None: as on screen), ``unit`` the unit it was typed in, which
    is kept where it is one of the user's system, and ``what`` words that follow, such as "deep".
    """

    value: float
    kind: str
    figures: int | None = None
    unit: str = ""
    what: str = ""


class Key(str):
    """A key as the file has it, ``outer_diameter`` or ``box.kinds``; a form says its label."""

    __slots__ = ()


class Keys(tuple[str, ...]):
    """Several keys."""

    __slots__ = ()


class Part(str):
    """A table of the file, ``stock.pipe``; a form says what that part of the page is called."""

    __slots__ = ()


class Place(str):
    """A place as faults write it, ``space.keepout[0]``."""

    __slots__ = ()


class Names(tuple[str, ...]):
    """Words that are told as they are, one after the other."""

    __slots__ = ()


@runtime_checkable
class Speaks(Protocol):
    """A parameter that knows its own words, such as a constraint that is broken."""

    def told(self, units: Units) -> str: ...


class Voice(string.Formatter):
    """The words of a file: keys, brackets, quotes.

    ``units`` are the user's.  A form's voice says the same parameters otherwise.
    """

    def __init__(self, units: Units) -> None:
        self.units = units

    def say(self, template: str, parameters: Mapping[str, Any]) -> str:
        """A template with its parameters.  Raises KeyError where one of them is missing."""
        return self.vformat(template, (), parameters)

    def format_field(self, value: Any, format_spec: str) -> str:
        match value:
            case Quantity():
                return self.quantity(value)
            case Keys():
                return listed([self.key(each) for each in value], format_spec or "and")
            case Key():
                return self.key(value)
            case Part():
                return self.part(value)
            case Place():
                return self.place(value)
            case Names():
                return listed(value, format_spec or "and")
            case Speaks():
                return value.told(self.units)
            case tuple():
                return ", ".join(self.format_field(each, format_spec) for each in value)
            case float():
                return f"{value:g}"
            case str() | int():
                return str(value)
        raise TypeError(f"no message has a parameter such as {value!r}")

    def quantity(self, quantity: Quantity) -> str:
        value, kind, figures, unit, what = quantity
        if figures is None:
            text = show(value, kind, self.units)
        else:
            own = unit if unit and self.is_users(unit, kind) else display_text(kind, self.units)
            number = value / parse(f"1 {unit}", kind) if own == unit else float(to_display(value, kind, self.units))
            text = f"{number:.{figures}g} {own}"
        return f"{text} {what}" if what else text

    def is_users(self, unit: str, kind: str) -> bool:
        """Whether a unit is of the user's system; what both systems share is."""
        return KINDS[kind].metric == KINDS[kind].us or is_us(unit) == (self.units == "us")

    def key(self, key: str) -> str:
        return str(key)

    def part(self, part: str) -> str:
        return f"[{part}]"

    def place(self, place: str) -> str:
        return str(place)


def listed(words: Sequence[str], joint: str = "and") -> str:
    """Words in a row: a and b, or a, b and c."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {joint} {words[-1]}"


def names_in(template: str) -> set[str]:
    """The parameters that a template asks for."""
    return {name for _, name, _, _ in string.Formatter().parse(template) if name}
