"""Reading tables of text with units: every fault of a document collected, none raised on the way.

A document is what TOML or JSON gives: nested dicts and lists.  What may stand in a table is
declared as a list of :class:`Field`; a :class:`Reader` checks a table against it and keeps the
faults.  The same declarations drive the explorer's forms.
"""

from __future__ import annotations

import difflib
import math
import tomllib
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any, Literal

import tomli_w

from engine import quantities
from engine.errors import Fault, InputFaults

Document = dict[str, Any]
Form = Literal["one", "range", "pair", "list", "corners", "points"]

LARGEST_FILE = 1_000_000  # bytes; a real job is a few thousand
LONGEST_KEY = 80  # signs of a key that a message shows
LONGEST_TEXT = 2_000
MOST_ITEMS = 100
MOST_POINTS = 20_000  # of a curve; a file of 1 MB holds no more
_PLAIN = ("text", "choice", "count", "ratio")


@dataclass(frozen=True, kw_only=True)
class Field:
    """What may stand at one key of a table.

    ``kind`` is a kind of quantity, or ``text``, ``choice``, ``count`` (whole number) or
    ``ratio`` (plain number).  ``form`` says whether one value stands there, a [lowest, highest]
    ``range``, a ``pair``, a ``list``, ``corners`` ([forward, up] pairs) or ``points`` of a curve, pairs of this
    field and of ``against``.  ``default``, ``low`` and ``high`` are written as they would stand in the
    file; a value outside low..high is refused as implausible.  ``help`` is for the person filling in the form.
    """

    key: str
    kind: str
    help: str
    form: Form = "one"
    required: bool = False
    default: Any = None
    low: Any = None
    high: Any = None
    choices: Collection[str] = ()
    against: Field | None = None

    @property
    def is_quantity(self) -> bool:
        return self.kind not in _PLAIN


@dataclass(frozen=True, kw_only=True)
class SubTable:
    """A table that may stand inside another one, once or ``many`` times."""

    key: str
    many: bool = False
    required: bool = False

    def words(self, path: str) -> str:
        place = _join(path, self.key)
        return f"one or more tables [[{place}]]" if self.many else f"a table [{place}]"


class Reader:
    """Checks tables against their fields and collects what is wrong.

    ``currency`` is the one every price must be in, once the document has named it.
    """

    def __init__(self, source: str) -> None:
        self.source = source
        self.faults: list[Fault] = []
        self.currency: str | None = None

    def fault(self, key: str, expected: str, value: Any = None) -> None:
        self.faults.append(Fault(self.source, _printable(key), _as_found(value), expected))

    def finish(self) -> None:
        """Raise InputFaults if anything was wrong."""
        if self.faults:
            raise InputFaults(self.faults)

    def values(
        self,
        table: Mapping[str, Any],
        path: str,
        fields: Sequence[Field],
        tables: Sequence[SubTable] = (),
    ) -> dict[str, Any]:
        """Every field of a table that reads well, in SI; defaults fill what is not stated.

        A key that is at fault, or stands nowhere and has no default, is left out.  Keys that
        are neither fields nor ``tables`` are faults, and so are required ones that are missing.
        """
        self._check_keys(table, path, fields, tables)
        found = {}
        for field in fields:
            stated = table.get(field.key)
            value = self.value(field.default if stated is None else stated, _join(path, field.key), field)
            if value is not None:
                found[field.key] = value
        return found

    def _check_keys(
        self, table: Mapping[str, Any], path: str, fields: Sequence[Field], tables: Sequence[SubTable]
    ) -> None:
        """A missing key that an unknown one seems to be meant for is not reported twice."""
        known = [*(field.key for field in fields), *(inner.key for inner in tables)]
        meant: set[str] = set()
        for key in table:
            if key not in known:
                near = nearest(key, [other for other in known if other not in table])
                meant.update(near)
                near = near or nearest(key, known)
                self.fault(_join(path, key), f"is not a key here; {_suggest(near, known)}", table[key])
        wanted = {field.key: self.expected(field) for field in fields if field.required}
        wanted |= {inner.key: inner.words(path) for inner in tables if inner.required}
        for key, expected in wanted.items():
            if table.get(key) is None and key not in meant:
                self.fault(_join(path, key), f"is missing: expected {expected}")

    def missing(
        self, table: Mapping[str, Any], place: str, keys: Sequence[str], known: Sequence[str], words: str
    ) -> bool:
        """Whether none of ``keys`` stands in a table: a fault at ``place``, unless an unknown key is meant for one."""
        if any(table.get(key) is not None for key in keys):
            return False
        if not any(nearest(other, keys) for other in table if other not in known):
            self.fault(place, words)
        return True

    def table(self, parent: Mapping[str, Any], path: str, key: str) -> dict[str, Any] | None:
        """The table at a key; None where there is none or something else stands there."""
        value = parent.get(key)
        if value is None:
            return None
        if isinstance(value, dict):
            return value
        place = _join(path, key)
        many = isinstance(value, list) and all(isinstance(item, dict) for item in value)
        hint = f"with single brackets, [{place}]" if many else f"[{place}]"
        self.fault(place, f"expected one table {hint}", value)
        return None

    def tables(self, parent: Mapping[str, Any], path: str, key: str) -> list[tuple[str, dict[str, Any]]]:
        """The repeated tables at a key, each with its path; empty where there are none."""
        value = parent.get(key)
        place = _join(path, key)
        if value is None:
            return []
        if not isinstance(value, list) or not value or not all(isinstance(item, dict) for item in value):
            self.fault(place, f"expected one or more tables with double brackets, [[{place}]]", value)
            return []
        if len(value) > MOST_ITEMS:
            self.fault(place, f"expected at most {MOST_ITEMS} tables", value)
            return []
        return [(f"{place}[{number}]", item) for number, item in enumerate(value)]

    def value(self, stated: Any, place: str, field: Field) -> Any:
        """One stated value by its field; None if it is at fault."""
        if stated is None:
            return None
        if field.form == "one":
            return self._single(stated, place, field)
        if not isinstance(stated, list) or not stated:
            self.fault(place, f"expected {self.expected(field)}", stated)
            return None
        most = MOST_POINTS if field.form == "points" else MOST_ITEMS
        if len(stated) > most:
            self.fault(place, f"expected at most {most} items", stated)
            return None
        if field.form == "points":
            return self._points(stated, place, field)
        if field.form in ("range", "pair"):
            return self._pair(stated, place, field)
        if field.form == "corners":
            return self._corners(stated, place, field)
        one = replace(field, form="one")
        values = [self._single(item, f"{place}[{number}]", one) for number, item in enumerate(stated)]
        if None in values:
            return None
        if len(set(values)) < len(values):
            self.fault(place, "expected each item once", stated)
            return None
        return tuple(values)

    def expected(self, field: Field) -> str:
        """What a field looks like, for messages."""
        if field.kind == "choice":
            one = "one of " + ", ".join(f'"{choice}"' for choice in field.choices)
        elif field.kind == "text":
            one = "text in quotes"
        elif field.kind == "count":
            one = "a whole number"
        elif field.kind == "ratio":
            one = "a plain number without a unit"
        else:
            one = quantities.expected(field.kind, self.currency)
        if field.form == "range":
            return f"a range [lowest, highest], each {one}"
        if field.form == "pair":
            return f"two in square brackets, each {one}"
        if field.form == "list":
            return f"a list in square brackets, each {one}"
        if field.form == "corners":
            return 'a list of corners, each a pair of lengths [forward, up] such as ["0 mm", "480 mm"]'
        if field.form == "points" and field.against is not None:
            return f"a list of pairs, each {one}, then {self.expected(field.against)}"
        return one

    def _pair(self, stated: list[Any], place: str, field: Field) -> tuple[Any, Any] | None:
        if len(stated) != 2:
            self.fault(place, f"expected {self.expected(field)}", stated)
            return None
        one = replace(field, form="one")
        low, high = (self._single(item, f"{place}[{number}]", one) for number, item in enumerate(stated))
        if low is None or high is None:
            return None
        if field.form == "range" and low > high:
            self.fault(place, "expected the lowest first, then the highest", stated)
            return None
        return low, high

    def _corners(self, stated: list[Any], place: str, field: Field) -> tuple[tuple[float, float], ...] | None:
        corners = []
        for number, corner in enumerate(stated):
            spot = f"{place}[{number}]"
            if not isinstance(corner, list) or len(corner) != 2:
                self.fault(spot, 'expected a pair of lengths [forward, up] such as ["0 mm", "480 mm"]', corner)
                continue
            corners.append(tuple(self._single(part, f"{spot}[{side}]", field) for side, part in enumerate(corner)))
        whole = [corner for corner in corners if None not in corner]
        return tuple(whole) if len(whole) == len(stated) else None

    def _points(self, stated: list[Any], place: str, field: Field) -> tuple[tuple[Any, Any], ...] | None:
        assert field.against is not None, "a curve is of one field against another"
        parts = (field, field.against)
        points = []
        for number, point in enumerate(stated):
            spot = f"{place}[{number}]"
            if not isinstance(point, list) or len(point) != 2:
                wanted = f"expected a pair, {self.expected(replace(field, form='one'))}, then "
                self.fault(spot, wanted + self.expected(field.against), point)
                continue
            first, second = (self._single(point[side], f"{spot}[{side}]", part) for side, part in enumerate(parts))
            if first is not None and second is not None:
                points.append((first, second))
        return tuple(points) if len(points) == len(stated) else None

    def _single(self, stated: Any, place: str, field: Field) -> Any:
        if field.kind in ("text", "choice"):
            return self._text(stated, place, field)
        if field.is_quantity:
            value = self._quantity(stated, place, field)
        else:
            value = self._number(stated, place, field)
        if value is None:
            return None
        low, high = (self._bound(bound, field) for bound in (field.low, field.high))
        if low <= value <= high:
            return value
        self.fault(place, f"expected {_span(field)}{self._unit_hint(stated, field, low, high)}", stated)
        return None

    def _text(self, stated: Any, place: str, field: Field) -> str | None:
        if not isinstance(stated, str) or not stated.strip():
            self.fault(place, f"expected {self.expected(field)}", stated)
        elif len(stated) > LONGEST_TEXT:
            self.fault(place, f"expected at most {LONGEST_TEXT} characters", stated)
        elif field.kind == "choice" and stated not in field.choices:
            near = nearest(stated, field.choices)
            hint = f'; did you mean "{near[0]}"?' if near else ""
            self.fault(place, f"expected {self.expected(field)}{hint}", stated)
        else:
            return stated.strip()
        return None

    def _quantity(self, stated: Any, place: str, field: Field) -> float | None:
        if isinstance(stated, int | float) and not isinstance(stated, bool):
            wanted = quantities.expected(field.kind, self.currency)
            self.fault(place, f"a bare number: expected {wanted}, in quotes", stated)
        elif not isinstance(stated, str):
            self.fault(place, f"expected {quantities.expected(field.kind, self.currency)}, in quotes", stated)
        else:
            try:
                return quantities.parse(stated, field.kind, currency=self.currency)
            except ValueError as error:
                self.fault(place, str(error), stated)
        return None

    def _number(self, stated: Any, place: str, field: Field) -> float | int | None:
        if isinstance(stated, bool) or not isinstance(stated, int | float):
            quotes = ", without quotes" if isinstance(stated, str) else ""
            self.fault(place, f"expected {_noun(field)}{quotes}", stated)
        elif field.kind == "count" and not isinstance(stated, int):
            self.fault(place, f"expected {_noun(field)}", stated)
        elif isinstance(stated, float) and math.isnan(stated):
            self.fault(place, f"expected {_span(field)}", stated)
        elif field.kind == "count" or abs(stated) > 1e300:
            return stated
        else:
            return float(stated)
        return None

    def _bound(self, bound: Any, field: Field) -> float:
        return quantities.parse(bound, field.kind) if isinstance(bound, str) else float(bound)

    def _unit_hint(self, stated: Any, field: Field, low: float, high: float) -> str:
        """The unit that would have made the number plausible, if one does."""
        if field.kind not in quantities.KINDS:
            return ""
        written = quantities.split(stated)
        for unit in quantities.KINDS[field.kind].common:
            meant = f"{float(written.number):g} {unit}"
            if unit != written.unit and low <= quantities.parse(meant, field.kind) <= high:
                return f'; did you mean "{meant}"?'
        return ""


def nearest(word: str, known: Iterable[str]) -> list[str]:
    """The known word that ``word`` is most likely a misspelling of, or none."""
    return difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)


def read_document(path: Path) -> Document:
    """A TOML file as nested dicts and lists.

    Raises InputFaults, with one fault, if it is missing, no file, larger than 1 MB, empty,
    not UTF-8 or not TOML.
    """
    source = str(path)
    try:
        if not path.is_file():
            raise _refusal(source, "is no file" if path.exists() else "there is no such file")
        size = path.stat().st_size
        if size > LARGEST_FILE:
            raise _refusal(source, f"is {size / 1e6:.1f} MB: expected a text file of at most 1 MB")
        text = path.read_bytes().decode("utf-8-sig").replace("\r\n", "\n")
    except UnicodeDecodeError:
        raise _refusal(source, "is not text in UTF-8: save it as plain text, encoding UTF-8") from None
    except OSError as error:
        raise _refusal(source, f"cannot be read: {error.strerror or error}") from None
    if not text.strip():
        raise _refusal(source, "is empty")
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _refusal(source, f"is not valid TOML: {_plain(str(error))}") from None
    except ValueError:  # Python reads no integer of more than some thousand digits
        raise _refusal(source, "is not valid TOML: a number has far too many digits") from None
    except RecursionError:
        raise _refusal(source, "is not valid TOML: brackets are nested too deeply") from None


def write_document(document: Document) -> str:
    """A document as TOML text, ready for a file."""
    return tomli_w.dumps(document)


def _plain(error: str) -> str:
    """The parser's message in words of this program."""
    for its_words in ("Cannot overwrite a value", "Cannot declare", "Cannot mutate"):
        if error.startswith(its_words):
            return f"a key or table stands there twice {error[error.rfind('(') :]}"
    return error


def _refusal(source: str, expected: str) -> InputFaults:
    return InputFaults([Fault(source, "", "", expected)])


def _join(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key


def _suggest(near: Sequence[str], known: Sequence[str]) -> str:
    if near:
        return f'did you mean "{near[0]}"?'
    return f"known are {', '.join(known)}" if known else "nothing stands here"


def _noun(field: Field) -> str:
    return "a whole number" if field.kind == "count" else "a plain number without a unit"


def _span(field: Field) -> str:
    """The plausible range of a field, in words."""
    if field.high == math.inf:
        return f"{field.low} or more"
    return f"{field.low} to {field.high}"


def _printable(key: str) -> str:
    """A key as it may stand in a message: on one line, no longer than anybody would read."""
    text = "".join(sign if sign.isprintable() else "\N{REPLACEMENT CHARACTER}" for sign in key)
    return text if len(text) <= LONGEST_KEY else f"{text[:LONGEST_KEY]}…"


def _as_found(value: Any) -> str:
    """What stands in the file, short enough for a message."""
    if value is None:
        return ""
    if isinstance(value, dict):
        return "a table"
    if isinstance(value, list) and any(isinstance(item, dict) for item in value):
        return "tables"
    if isinstance(value, list):
        text = "[" + ", ".join(_as_found(item) for item in value[:8]) + (", …]" if len(value) > 8 else "]")
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, int) and abs(value) >= 10**15:
        text = "a very large number"
    else:
        text = str(value) if str(value).strip() else '""'
    text = text if text.isprintable() else ascii(text)[1:-1]
    return text if len(text) <= 60 else text[:59] + "…"
