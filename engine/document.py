"""Reading tables of text with units: every fault of a document collected, none raised on the way.

A document is what TOML or JSON gives: nested dicts and lists.  What may stand in a table is declared as a list of
:class:`engine.field.Field`; a :class:`Reader` checks a table against it and keeps the faults.
"""

from __future__ import annotations

import difflib
import math
import re
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Any

import tomli
import tomli_w

from engine import quantities
from engine.errors import A_TABLE, BLANK, TABLES, Fault, InputFaults, refusal
from engine.field import Field, SubTable
from engine.plain_text import LONGEST_NAME, LONGEST_TEXT, shown, unfit_in
from engine.quantities import NotAQuantity, Units
from engine.words.voice import Near, Quantity, TableName, Wanted

Document = dict[str, Any]
Tables = list[tuple[str, dict[str, Any]]]  # repeated tables, each with its place
Known = Sequence[Field | SubTable]

LARGEST_FILE = 1_000_000  # bytes; a real job is a few thousand
LONGEST_KEY = 80  # signs of a key that a message shows
MOST_ITEMS = 100
MOST_POINTS = 20_000  # of a curve; a file of 1 MB holds no more
DEEPEST = 40  # tables and lists in each other; a job has about six
MOST_KEYS = 200  # of one table; a driver has fifty
MOST_VALUES = 200_000  # tables, lists and what stands in them; a curve of most points is sixty thousand
MOST_FAULTS = 500  # after which a file is read no further
LARGEST_NUMBER = 10**30
# Signs of a text that tell how much it holds before it is read: keys, tables and lists, items.
MOST_SIGNS = {"=": 20_000, "[": 60_000, "{": 20_000, ",": 200_000}
MOST_SUGGESTED = 60  # unknown keys for which a known one is looked for, which takes its time


class Reader:
    """Checks tables against their fields and collects what is wrong.

    ``currency`` is the one every price must be in, once the document has named it.
    """

    def __init__(self, source: str) -> None:
        self.source = source
        self.faults: list[Fault] = []
        self.currency: str | None = None
        self._suggested = 0

    def fault(self, key: str, code: str, value: Any = None, **parameters: Any) -> None:
        """Note a fault at a place, by its code in :data:`engine.words.faults.SENTENCES`, and what stands there.

        Raises InputFaults where there are so many that nothing further is worth reading.
        """
        found = value if isinstance(value, Quantity) else _as_found(value)
        self.faults.append(Fault(self.source, shown(key, most=LONGEST_KEY), found, code, parameters))
        stop_at_most(self.faults)

    def finish(self, document: Document) -> None:
        """Raise InputFaults if anything was wrong, in the units that the document is written in."""
        if self.faults:
            raise InputFaults(self.faults, written_in(document))

    def wanted(self, field: Field) -> Wanted:
        """A field as a parameter of a message."""
        return Wanted(field, self.currency)

    def values(
        self, table: Mapping[str, Any], path: str, fields: Sequence[Field], tables: Known = ()
    ) -> dict[str, Any]:
        """Every field of a table that reads well, in SI; defaults fill what is not stated.

        A key that is at fault, or stands nowhere and has no default, is left out.  Keys that are neither fields nor
        ``tables`` are faults, and so are required ones that are missing.
        """
        self._check_keys(table, path, [*fields, *tables])
        found = {}
        for field in fields:
            stated = table.get(field.key)
            value = self.value(field.default if stated is None else stated, _join(path, field.key), field)
            if value is not None:
                found[field.key] = value
        return found

    def _check_keys(self, table: Mapping[str, Any], path: str, declared: Known) -> None:
        """A missing key that an unknown one seems to be meant for is not reported twice."""
        known = [each.key for each in declared]
        meant: set[str] = set()
        for key in table:
            if key not in known and self._suggested >= MOST_SUGGESTED:
                self.fault(_join(path, key), "unknown_key", table[key], near=Near(""), known=tuple(known))
            elif key not in known:
                self._suggested += 1
                near = nearest(key, [other for other in known if other not in table])
                meant.update(near)
                near = near or nearest(key, known)
                code = "unknown_key_near" if near else "unknown_key" if known else "unknown_key_of_nothing"
                self.fault(_join(path, key), code, table[key], near=Near("".join(near)), known=tuple(known))
        for each in declared:
            place = _join(path, each.key)
            if not each.required or table.get(each.key) is not None or each.key in meant:
                continue
            if isinstance(each, Field):
                self.fault(place, "missing_field", wanted=self.wanted(each))
            else:
                self.fault(place, "missing_tables" if each.many else "missing_table", part=TableName(place))

    def missing(
        self, table: Mapping[str, Any], place: str, keys: Sequence[str], known: Known, code: str, **parameters: Any
    ) -> bool:
        """Whether none of ``keys`` stands in a table: a fault at ``place``, unless an unknown key is meant for one."""
        if any(table.get(key) is not None for key in keys):
            return False
        keys_known = {each.key for each in known}
        if not any(nearest(other, keys) for other in table if other not in keys_known):
            self.fault(place, code, **parameters)
        return True

    def table(self, document: Document, path: str) -> dict[str, Any] | None:
        """The table at a path, ``space.door``; None where there is none or something else stands there."""
        value = stated_at(document, path)
        if value is None or isinstance(value, dict):
            return value
        many = isinstance(value, list) and all(isinstance(item, dict) for item in value)
        self.fault(path, "one_table_single_brackets" if many else "one_table", value, part=TableName(path))
        return None

    def once(self, document: Document, path: str, fields: Sequence[Field], tables: Known = ()) -> dict[str, Any]:
        """The values of the table at a path; its defaults where it stands nowhere."""
        if (table := self.table(document, path)) is not None:
            return self.values(table, path, fields, tables)
        return self.values({}, path, [field for field in fields if not field.required])

    def tables(self, document: Document, path: str, *, most: int = MOST_ITEMS) -> Tables:
        """The repeated tables at a path, at most so many, each with its own; empty where there are none."""
        value = stated_at(document, path)
        if value is None:
            return []
        if not isinstance(value, list) or not value or not all(isinstance(item, dict) for item in value):
            self.fault(path, "tables_double_brackets", value, part=TableName(path))
        elif len(value) > most:
            self.fault(path, "too_many_tables", value, most=most)
        else:
            return [(f"{path}[{number}]", item) for number, item in enumerate(value)]
        return []

    def value(self, stated: Any, place: str, field: Field) -> Any:
        """One stated value by its field; None if it is at fault."""
        if stated is None:
            return None
        if field.form == "one":
            return self._single(stated, place, field)
        if not isinstance(stated, list) or not stated:
            self.fault(place, "empty_list" if stated == [] else "other_form", stated, wanted=self.wanted(field))
            return None
        most = MOST_POINTS if field.form == "points" else MOST_ITEMS
        if len(stated) > most:
            self.fault(place, "too_many_items", stated, most=most)
            return None
        if field.form in ("corners", "points"):
            return self._pairs(stated, place, field)
        if field.form in ("range", "pair") and len(stated) != 2:
            self.fault(place, "other_form", stated, wanted=self.wanted(field))
            return None
        one = replace(field, form="one")
        values = tuple(self._single(item, f"{place}[{number}]", one) for number, item in enumerate(stated))
        if None in values:
            return None
        if field.form == "range" and values[0] > values[1]:
            self.fault(place, "lowest_first", stated)
        elif field.form == "list" and len(set(values)) < len(values):
            self.fault(place, "item_twice", stated)
        else:
            return values
        return None

    def _pairs(self, stated: list[Any], place: str, field: Field) -> tuple[tuple[Any, Any], ...] | None:
        """Corners of one field, or points of a curve of one field against another."""
        second, code = field.against or field, "no_point" if field.against else "no_corner"
        pairs = []
        for number, pair in enumerate(stated):
            spot = f"{place}[{number}]"
            if not isinstance(pair, list) or len(pair) != 2:
                self.fault(spot, code, pair, wanted=self.wanted(field), against=self.wanted(second))
                continue
            found = self._single(pair[0], f"{spot}[0]", field), self._single(pair[1], f"{spot}[1]", second)
            if None not in found:
                pairs.append(found)
        return tuple(pairs) if len(pairs) == len(stated) else None

    def _single(self, stated: Any, place: str, field: Field) -> Any:
        if field.kind in ("text", "choice"):
            return self._text(stated, place, field)
        value = (self._quantity if field.is_quantity else self._number)(stated, place, field)
        if value is None:
            return None
        ends = (field.low, field.high)
        low, high = (quantities.parse(end, field.kind) if isinstance(end, str) else float(end) for end in ends)
        if low <= value <= high:
            return value
        near = self._in_other_unit(stated, field, low, high)
        self.fault(place, "out_of_range", stated, wanted=self.wanted(field), near=Near(near, field.kind))
        return None

    def _text(self, stated: Any, place: str, field: Field) -> str | None:
        wanted = self.wanted(field)
        if isinstance(stated, str) and not stated.strip():
            self.fault(place, "empty", stated, wanted=wanted)
        elif not isinstance(stated, str):
            self.fault(place, "no_text", stated, wanted=wanted)
        elif len(stated) > (most := LONGEST_TEXT if field.prose else LONGEST_NAME):
            self.fault(place, "too_long_text", stated, most=most)
        elif sign := unfit_in(stated.strip(), lines=field.prose):
            self.fault(place, "unfit_text", stated, sign=sign)
        elif field.kind == "choice" and stated not in field.choices:
            self.fault(place, "no_choice", stated, wanted=wanted, near=Near("".join(nearest(stated, field.choices))))
        else:
            return stated.strip()
        return None

    def _quantity(self, stated: Any, place: str, field: Field) -> float | None:
        wanted = self.wanted(field)
        if isinstance(stated, int | float) and not isinstance(stated, bool):
            self.fault(place, "bare_number", stated, wanted=wanted)
        elif not isinstance(stated, str):
            self.fault(place, "no_quantity", stated, wanted=wanted)
        elif not stated.strip():
            self.fault(place, "empty_quantity", stated, wanted=wanted)
        else:
            try:
                return quantities.parse(stated, field.kind, currency=self.currency)
            except NotAQuantity as wrong:
                self.fault(place, wrong.code, stated, wanted=wanted, **wrong.parameters)
        return None

    def _number(self, stated: Any, place: str, field: Field) -> float | int | None:
        wanted, exact = self.wanted(field), int if field.kind == "count" else int | float
        if isinstance(stated, str):
            if comma := quantities.comma_in(stated.strip()):
                self.fault(place, f"number_with_{comma.code}", stated, wanted=wanted, **comma.parameters)
            else:
                self.fault(place, "number_in_quotes" if stated.strip() else "empty", stated, wanted=wanted)
        elif isinstance(stated, bool) or not isinstance(stated, exact):
            self.fault(place, "no_number", stated, wanted=wanted)
        elif isinstance(stated, float) and math.isnan(stated):
            self.fault(place, "out_of_range", stated, wanted=wanted, near=Near(""))
        elif field.kind == "count" or abs(stated) > 1e300:
            return stated
        else:
            return float(stated)
        return None

    def _in_other_unit(self, stated: Any, field: Field, low: float, high: float) -> str:
        """The number in the unit that would have made it plausible, if one does."""
        if field.kind not in quantities.KINDS:
            return ""
        written = quantities.split(stated)
        for unit in quantities.KINDS[field.kind].common:
            meant = f"{float(written.number):g} {unit}"
            if unit != written.unit and low <= quantities.parse(meant, field.kind) <= high:
                return meant
        return ""


def written_in(document: Document) -> Units:
    """The units of the person who wrote a document: of most lengths of its space, or of its given box, or of all.

    A data sheet's units are its maker's.
    """
    for part in (document.get("space"), document.get("given"), document):
        units = [quantities.length_units(text) for text in _texts(part)]
        if any(units):
            return "us" if units.count("us") > units.count("metric") else "metric"
    return "metric"


def _texts(stated: Any) -> list[str]:
    """Every text that stands in a document, at any depth."""
    if isinstance(stated, dict | list):
        return [text for item in (stated.values() if isinstance(stated, dict) else stated) for text in _texts(item)]
    return [stated] if isinstance(stated, str) else []


def nearest(word: str, known: Iterable[str]) -> list[str]:
    """The known word that ``word`` is most likely a misspelling of, or none."""
    return difflib.get_close_matches(word, list(known), n=1, cutoff=0.6)


def read_text(path: Path, too_large: str) -> str:
    """The text of a file that a user gave.

    Raises InputFaults, with one fault, if it is missing, no file, over 1 MB (of the code ``too_large``) or not UTF-8.
    """
    source = str(path)
    try:
        if not path.is_file():
            raise refusal(source, "no_file" if path.exists() else "no_such_file")
        if (size := path.stat().st_size) > LARGEST_FILE:
            raise refusal(source, too_large, size=size / 1e6)
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError:
        raise refusal(source, "not_utf8") from None
    except OSError as error:
        raise refusal(source, "unreadable", reason=error.strerror or str(error)) from None


def read_document(path: Path) -> Document:
    """A TOML file as nested dicts and lists.

    Raises InputFaults, with one fault, if :func:`read_text` or :func:`parse_document` does.
    """
    return parse_document(read_text(path, "file_too_large"), source=str(path))


def parse_document(text: str, *, source: str) -> Document:
    """The same from text already read.

    Raises InputFaults, with one fault, if it is longer than :data:`LARGEST_FILE`, empty, not TOML, or holds more than
    anything that is meant: then nothing further is made of it.
    """
    if len(text) > LARGEST_FILE:
        raise refusal(source, "file_too_large", size=len(text) / 1e6)
    text = text.replace("\r\n", "\n")
    if not text.strip():
        raise refusal(source, "empty_file")
    if any(text.count(sign) > most for sign, most in MOST_SIGNS.items()):
        raise refusal(source, "too_many_values", most=MOST_VALUES)
    try:
        found = tomli.loads(text)
    except tomli.TOMLDecodeError as error:
        code = "stands_twice" if _says_it_again(text.split("\n"), error.lineno) else "no_toml"
        raise refusal(source, code, reason=error.msg, line=error.lineno, column=error.colno) from None
    except ValueError:  # Python reads no integer of more than some thousand digits
        raise refusal(source, "endless_number") from None
    except RecursionError:
        raise refusal(source, "nested_too_deeply") from None
    check_bounds(found, source)
    return found


def check_bounds(document: Document, source: str) -> None:
    """Refuse a document that holds more than anything that is meant.  Raises InputFaults, with one fault."""
    layer: list[tuple[str, Any]] = [("", document)]
    values = 0
    for _ in range(DEEPEST):
        below: list[tuple[str, Any]] = []
        for place, outer in layer:
            if isinstance(outer, dict):
                if len(outer) > MOST_KEYS:
                    raise refusal(
                        source, "too_many_keys", key=shown(place, most=LONGEST_KEY), count=len(outer), most=MOST_KEYS
                    )
                below += [(place or key, value) for key, value in outer.items()]
            elif isinstance(outer, list):
                below += [(place, value) for value in outer]
            elif isinstance(outer, int) and abs(outer) > LARGEST_NUMBER:
                raise refusal(source, "endless_number_at", key=shown(place, most=LONGEST_KEY))
        values += len(below)
        if values > MOST_VALUES:
            raise refusal(source, "too_many_values", most=MOST_VALUES)
        if not below:
            return
        layer = below
    raise refusal(source, "nested_too_deeply")


def stop_at_most(faults: list[Fault]) -> None:
    """Raise InputFaults where so many faults were found that a file is read no further."""
    if len(faults) >= MOST_FAULTS:
        raise InputFaults([*faults, Fault(faults[0].source, "", "", "too_many_faults")])


def stated_at(document: Document, path: str) -> Any:
    """What stands at a path such as ``space.keepout[1]``; None where nothing does."""
    here: Any = document
    for key, position in re.findall(r"([^.\[\]]+)(?:\[(\d+)\])?", path):
        here = here.get(key) if isinstance(here, dict) else None
        here = here[int(position)] if position and isinstance(here, list) else here
    return here


def write_document(document: Document) -> str:
    """A document as TOML text, ready for a file."""
    return tomli_w.dumps(document)


def _says_it_again(lines: list[str], number: int) -> bool:
    """Whether the line of this ``number`` and what is above it are TOML each for itself: then it repeats something."""
    try:
        for part in ("\n".join(lines[: number - 1]), lines[number - 1]):
            tomli.loads(part)
    except tomli.TOMLDecodeError:
        return False
    return True


def _join(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key


def _as_found(value: Any) -> str:
    """What stands in the file, short enough for a message."""
    if value is None:
        return ""
    if isinstance(value, dict):
        return A_TABLE
    if isinstance(value, list) and any(isinstance(item, dict) for item in value):
        return TABLES
    if isinstance(value, list):
        text = "[" + ", ".join(_as_found(item) for item in value[:8]) + (", …]" if len(value) > 8 else "]")
    elif isinstance(value, bool):
        text = str(value).lower()
    elif isinstance(value, int) and abs(value) >= 10**15:
        text = "a very large number"
    else:
        text = str(value) if str(value).strip() else BLANK
    text = text if text.isprintable() else ascii(text)[1:-1]
    return text if len(text) <= 60 else text[:59] + "…"
