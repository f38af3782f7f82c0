"""How a parameter of a message is said: by its type, in the user's units, in the words of a file or of a form.

A message is a code and parameters.  Its sentence is a template in which ``{name}`` stands for a parameter;
what becomes of it depends on its type alone, so a template never formats a figure by itself.
"""

from __future__ import annotations

import math
import string
from collections.abc import Mapping, Sequence
from typing import Any, ClassVar, NamedTuple, Protocol, runtime_checkable

from engine.field import Field
from engine.quantities import Units, differs, examples, is_us, parse, show, split, to_display, unit_of


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


def as_measured(length: float) -> Quantity:
    """A length in m as stated, to the last digit that anybody measures."""
    return Quantity(length, "length", figures=4)


class Deviation(NamedTuple):
    """By what share a figure is more or less than another: 0.14 is 14 % more."""

    share: float


class Mixed(NamedTuple):
    """What was typed in the wrong unit: inches as millimetres, or millimetres as inches."""

    inches: bool


class Wanted(NamedTuple):
    """A field as it should look.  ``currency`` is the one its price must be in, once that is known.

    In a template ``{…}`` is all of it, ``{…:one}`` one value of it, ``{…:span}`` its plausible range, ``{…:corner}`` an
    example of a corner, and ``{…:fill}`` what a form asks to be filled in.
    """

    field: Field
    currency: str | None = None


class Near(NamedTuple):
    """What was probably meant: a word, or a quantity of a ``kind``; nothing where ``text`` is empty."""

    text: str
    kind: str = ""


class Key(str):
    """A key as the file has it, ``outer_diameter`` or ``box.kinds``; a form says its label."""


class Keys(tuple[str, ...]):
    """Several keys: ``{…}`` is "a and b", ``{…:or}`` "a or b", ``{…:is/are}`` the verb that goes with them."""


class TableName(str):
    """A table of the file, ``stock.pipe``; a form says what that part of the page is called."""


class Where(str):
    """A place as faults write it, ``space.keepout[0]``."""


class Count(int):
    """How many of what there are thousands of; told with gaps between them."""


class Names(tuple[str, ...]):
    """Words that are told as they are, one after the other; ``{…:or}`` joins them otherwise."""


class Quoted(tuple[str, ...]):
    """Choices or goals by their key: in quotes in a file, by their label in a form."""


@runtime_checkable
class Speaks(Protocol):
    """A parameter that knows its own words, such as a constraint that is broken."""

    def told(self, units: Units) -> str:
        """The words, in the user's units."""


class Voice(string.Formatter):
    """The words of a file: keys, brackets, quotes.  A form's voice says the same parameters otherwise.

    ``units`` are the user's.
    """

    form = False
    plain: ClassVar = {"text": "text in quotes", "count": "a whole number", "ratio": "a plain number without a unit"}
    pair = '["{}", "{}"]'
    forms: ClassVar = {
        "one": "{one}",
        "range": "a range [lowest, highest], each {one}",
        "pair": "two in square brackets, each {one}",
        "list": "a list in square brackets, each {one}",
        "corners": "a list of corners, each a pair of lengths [forward, up] such as {corner}",
        "points": "a list of pairs, each {one}, then {against}",
    }

    def __init__(self, units: Units) -> None:
        self.units = units

    def say(self, template: str, parameters: Mapping[str, Any]) -> str:
        """A template with its parameters.  Raises KeyError where one is missing or a field cannot be said so."""
        return self.vformat(template, (), parameters)

    def format_field(self, value: Any, format_spec: str) -> str:
        match value:
            case Quantity():
                return self.quantity(value)
            case Wanted():
                return self.wanted(value, format_spec)
            case Near():
                return self.near(value)
            case Deviation(share):
                return f"{abs(100.0 * share):.0f} % {'more' if share > 0 else 'less'}"
            case Mixed(inches):
                metric = "millimetres" if self.units == "metric" else "another unit"
                return f"inches typed as {metric}" if inches else f"{metric} typed as inches"
            case Keys() | Quoted() | Names():
                say = self.key if isinstance(value, Keys) else self.quoted if isinstance(value, Quoted) else str
                return self.several([say(each) for each in value], format_spec)
            case Key():
                return self.key(value)
            case TableName():
                return self.part(value)
            case Where():
                return self.place(value)
            case Speaks():
                return value.told(self.units)
            case tuple():
                return ", ".join(self.format_field(each, format_spec) for each in value)
            case float():
                return format(value, format_spec or "g")
            case Count():
                return f"{value:,}".replace(",", "\N{NO-BREAK SPACE}")
            case str() | int():
                return str(value)
        raise TypeError(f"no message has a parameter such as {value!r}")

    def several(self, words: Sequence[str], spec: str) -> str:
        if "/" in spec:
            singular, plural = spec.split("/")
            return singular if len(words) == 1 else plural
        return listed(words, spec or "and")

    def quantity(self, quantity: Quantity) -> str:
        value, kind, figures, unit, what = quantity
        if figures is None:
            text = show(value, kind, self.units)
        else:
            own = unit if unit and (is_us(unit) == (self.units == "us") or not differs(kind)) else ""
            number = value / parse(f"1 {own}", kind) if own else float(to_display(value, kind, self.units))
            text = f"{number:.{figures}g} {own or unit_of(kind, self.units).text}"
        return f"{text} {what}" if what else text

    def near(self, near: Near) -> str:
        """What was meant, unless it is in a unit that the user does not think in."""
        is_us_only = self.units == "us" and differs(near.kind)
        if not near.text or (is_us_only and not is_us(split(near.text).unit)):
            return ""
        return f"; did you mean {self.quoted(near.text)}?"

    def wanted(self, wanted: Wanted, spec: str) -> str:
        if spec == "corner":
            return self.corner
        said = {"": self.whole, "one": self.one, "span": self.span, "fill": self.to_fill_in}
        return said[spec](wanted)

    def whole(self, wanted: Wanted) -> str:
        """A field with all its values."""
        against = self.one(Wanted(wanted.field.against)) if wanted.field.against else ""
        return self.forms[wanted.field.form].format(one=self.one(wanted), corner=self.corner, against=against)

    def to_fill_in(self, wanted: Wanted) -> str:
        return self.whole(wanted)

    @property
    def corner(self) -> str:
        """An example of one."""
        return self.pair.format(*("0 in", "19 in") if self.units == "us" else ("0 mm", "480 mm"))

    def one(self, wanted: Wanted) -> str:
        """One value of a field."""
        field = wanted.field
        if field.kind == "choice":
            return "one of " + ", ".join(map(self.quoted, field.choices))
        if not field.is_quantity:
            return self.plain[field.kind]
        name, texts = examples(field.kind, self.units, wanted.currency)
        return f"{name} such as {listed([self.quoted(text) for text in texts], 'or')}"

    def span(self, wanted: Wanted) -> str:
        """The plausible range of a field."""
        field, low, high = wanted.field, wanted.field.low, wanted.field.high
        if high == math.inf:
            return f"{low} or more"
        if self.units == "us" and differs(field.kind):
            low, high = (show(parse(bound, field.kind), field.kind, "us") for bound in (low, high))
        return f"{low} to {high}"

    def quoted(self, text: str) -> str:
        return f'"{text}"'

    def key(self, key: str) -> str:
        return str(key)

    def part(self, part: str) -> str:
        return f"[{part}]"

    def place(self, place: str) -> str:
        return str(place)


class PlainVoice(Voice):
    """The words of a form: no brackets, no quotes, what to fill in.  Labels are the page's: a subclass knows them."""

    form = True
    plain: ClassVar = Voice.plain | {"text": "some text"}
    pair = "{} and {}"
    forms: ClassVar = Voice.forms | {
        "range": "the lowest and the highest, each {one}",
        "pair": "two, each {one}",
        "list": "one or more, with commas between them, each {one}",
        "corners": "corners, each with two lengths, forward and up, such as {corner}",
    }

    def to_fill_in(self, wanted: Wanted) -> str:
        field = wanted.field
        if field.form == "range":
            return "both ends"
        return {"choice": "this", "ratio": "a plain number"}.get(field.kind) or self.one(wanted)

    def quoted(self, text: str) -> str:
        return text


def listed(words: Sequence[str], joint: str = "and") -> str:
    """Words in a row: a and b, or a, b and c."""
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} {joint} {words[-1]}"


def first_up(words: str) -> str:
    """Words as a sentence begins; the rest stays as it is."""
    return words[:1].upper() + words[1:]


def first_down(words: str) -> str:
    """Words as they go on within a sentence; a symbol, or letters that stand for words, stay as they are.

    >>> first_down("Widest panel"), first_down("A lower f3"), first_down("Q"), first_down("DXF files")
    ('widest panel', 'a lower f3', 'Q', 'DXF files')
    """
    is_word = words[1:2].islower() or words.startswith("A ")
    return words[:1].lower() + words[1:] if is_word else words


def names_in(template: str) -> set[str]:
    """The parameters that a template asks for."""
    return {name for _, name, _, _ in string.Formatter().parse(template) if name}
