"""Text and JSON from outside, within bounds: what passes here can be held, compared, shown and written again."""

from __future__ import annotations

import json
from typing import Any

DEEPEST = 60  # tables and lists in each other; a job as it is kept has ten, and may hold documents of forty
MOST_VALUES = 5_000_000
LONGEST_NUMBER = 60  # signs


class TooDeep(ValueError):
    """Tables and lists are nested more deeply than anything that is meant, or hold more."""


def mended(text: str) -> str:
    r"""A text that can be written as UTF-8: halves of a surrogate pair are joined, one alone becomes U+FFFD.

    >>> mended("caf\udce9"), mended("\ud83d\ude00") == "\U0001f600"
    ('caf�', True)
    """
    return text.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")


def parsed(text: str | bytes) -> Any:
    """JSON as Python values, every text in it mended.

    Raises ValueError where it is none, nested deeper than ``DEEPEST``, holds more than ``MOST_VALUES`` or a number
    longer than ``LONGEST_NUMBER``.
    """
    try:
        found = json.loads(text, parse_int=_whole, parse_float=_real)
    except RecursionError:
        raise TooDeep from None
    check_depth(found)
    raw = text if isinstance(text, str) else text.decode("utf-8")
    return _mended(found) if "\\ud" in raw or "\\uD" in raw or not _is_sound(raw) else found


def check_depth(value: Any) -> None:
    """Refuse tables and lists that are nested too deeply or hold too much.  Raises TooDeep."""
    layer, values = [value], 0
    for _ in range(DEEPEST + 1):
        layer = [each for each in layer if isinstance(each, dict | list)]
        if not layer:
            return
        layer = [each for outer in layer for each in (outer.values() if isinstance(outer, dict) else outer)]
        values += len(layer)
        if values > MOST_VALUES:
            raise TooDeep
    raise TooDeep


def _is_sound(text: str) -> bool:
    try:
        text.encode("utf-8")
    except UnicodeEncodeError:
        return False
    return True


def _mended(value: Any) -> Any:
    if isinstance(value, str):
        return mended(value)
    if isinstance(value, dict):
        return {mended(key): _mended(each) for key, each in value.items()}
    return [_mended(each) for each in value] if isinstance(value, list) else value


def _whole(digits: str) -> int:
    if len(digits) > LONGEST_NUMBER:
        raise ValueError("a number too long")
    return int(digits)


def _real(digits: str) -> float:
    if len(digits) > LONGEST_NUMBER:
        raise ValueError("a number too long")
    return float(digits)
