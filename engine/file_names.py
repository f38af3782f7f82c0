"""Names of files that are made of names of other things: such as any disk and any system takes, and nothing but a name.

Letters, marks and digits of any script stay, all else becomes a dash, so there is no separator, no dot before the
ending, no leading dash or dot.  Names that Windows keeps for devices, with any ending, get more behind them.
"""

from __future__ import annotations

import re
import unicodedata

MOST_BYTES = 180  # of UTF-8 without the ending; disks take 255, mail and archives less
_DEVICE = re.compile(r"con|prn|aux|nul|conin|conout|(com|lpt)[0-9\u00b9\u00b2\u00b3]", re.IGNORECASE)


def stem(*parts: str, usual: str) -> str:
    r"""The name without its ending, of what is in each part; ``usual`` where nothing is left of them.

    >>> stem("Van: bench / 10\"", "Ms Müller", usual="sheet"), stem("CON", usual="job"), stem("../..", usual="job")
    ('Van-bench-10-Ms-Müller', 'CON-job', 'job')
    """
    text = unicodedata.normalize("NFC", " ".join(parts).encode("utf-8", "ignore").decode("utf-8"))
    kept = "".join(sign if unicodedata.category(sign)[0] in "LMN" or sign == "_" else "-" for sign in text)
    kept = re.sub(r"-{2,}", "-", kept).strip("-_")
    kept = kept.encode("utf-8")[:MOST_BYTES].decode("utf-8", "ignore").strip("-_")
    return f"{kept}-{usual}" if _DEVICE.fullmatch(kept) else kept or usual


def file_name(*parts: str, ending: str, usual: str) -> str:
    """The name with its ending, in small letters: on some disks large ones make no other name."""
    cut = [part[:60] for part in parts]
    return f"{stem(*cut, usual=usual).lower()}.{ending}"
