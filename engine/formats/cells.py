"""Text in the cells of a CSV file: what a spreadsheet would take for a formula is kept from being one.

A name may begin with =, +, -, @ or a blank that hides one.  Such a cell gets an apostrophe before it, which is taken
off again when the file is read here; apostrophes before such a sign get one more, so nothing is lost.
"""

from __future__ import annotations

import re

import pandas as pd

from engine.plain_text import cleaned

_FORMULA = re.compile(r"'*[=+\-@\t\r\n]")


def guarded(text: str) -> str:
    """A cell as it stands in a file.

    >>> guarded("=1+1"), guarded("'=x"), guarded("compact 8")
    ("'=1+1", "''=x", 'compact 8')
    """
    return f"'{text}" if _FORMULA.match(text) else text


def unguarded(text: str) -> str:
    """The cell that :func:`guarded` made it of."""
    return text[1:] if text.startswith("'") and _FORMULA.match(text) else text


def as_read(text: str) -> str:
    """The text of a cell of a file: of what :func:`guarded` made of it what somebody can read."""
    return cleaned(unguarded(text))


def csv_text(table: pd.DataFrame) -> str:
    """A table as CSV: numbers as they are, text guarded."""
    words = [key for key in table.columns if not pd.api.types.is_numeric_dtype(table[key])]
    safe = table.assign(
        **{key: [guarded(cell) if isinstance(cell, str) else cell for cell in table[key]] for key in words}
    ).rename(columns=lambda name: guarded(name) if isinstance(name, str) else name)
    return safe.to_csv(index=False, lineterminator="\n")
