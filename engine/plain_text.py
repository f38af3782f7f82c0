"""Text from outside, at the door: what in it nobody can read, and how a message shows it.

Unfit are control characters (escape codes of terminals among them), halves of surrogate pairs, what is no character,
and the signs that turn the direction of writing, by which a name can look like another one (Unicode Technical
Report 36).  A name is one line; a text such as a note may have several.
"""

from __future__ import annotations

import re
import unicodedata
from typing import Any

LONGEST_NAME, LONGEST_TEXT = 200, 2_000  # characters
_UNFIT = (
    "\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\u2028-\u202e\u2066-\u2069\ud800-\udfff\ufdd0-\ufdef\ufff9-\ufffb\ufffe\uffff"
)
_BREAKS = "\t\n\r\u2028\u2029"
_IN_LINES, _IN_A_LINE = re.compile(f"[{_UNFIT}]"), re.compile(f"[{_UNFIT}{_BREAKS}]")
_BREAK = re.compile(f"[ ]*[{_BREAKS}][ {_BREAKS}]*")


def unfit_in(text: str, *, lines: bool = False) -> str:
    r"""The first sign that is unfit, by its number and name; empty where there is none.

    >>> unfit_in("a\x1bb"), unfit_in("a\nb", lines=True), unfit_in("\u202e")
    ('U+001B', '', 'U+202E, right-to-left override')
    """
    found = (_IN_LINES if lines else _IN_A_LINE).search(text)
    if found is None:
        return ""
    name = unicodedata.name(found[0], "").lower()
    return f"U+{ord(found[0]):04X}" + (f", {name}" if name else "")


def cleaned(text: str, *, lines: bool = False, most: int = LONGEST_NAME) -> str:
    """Text without what is unfit, as one line unless it may have several, and not longer than so many characters."""
    kept = _IN_LINES.sub("", text if lines else _BREAK.sub(" ", text))
    return kept.strip()[:most].rstrip()


def all_cleaned(value: Any) -> Any:
    """What JSON gives, with every text and key in it freed of what is unfit; breaks of lines stay."""
    if isinstance(value, str):
        return _IN_LINES.sub("", value)
    if isinstance(value, list):
        return [all_cleaned(item) for item in value]
    if isinstance(value, dict):
        return {_IN_LINES.sub("", key): all_cleaned(item) for key, item in value.items()}
    return value


def shown(text: str, *, most: int = LONGEST_TEXT) -> str:
    """Text as one line of a message: what is unfit is a replacement character each, what is too long is cut."""
    printable = _IN_A_LINE.sub("\N{REPLACEMENT CHARACTER}", text)
    return printable if len(printable) <= most else f"{printable[: most - 1]}…"
