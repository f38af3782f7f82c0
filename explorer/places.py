"""Where commands write: places that can be written to, and nothing there that somebody else has put there; and how."""

from __future__ import annotations

import json
import os
import stat
import tempfile
from collections.abc import Callable, Iterable, Mapping
from hashlib import sha256
from pathlib import Path
from typing import Any

from engine.errors import refusal
from engine.files import Content
from engine.together import settle, write_together
from explorer.stopping import undisturbed

RUN = ("front.csv", "left_out.csv", "run.json")  # what a search writes
RECORD, WRITTEN = "run.json", "files"  # of a search, and in it what was written with it, each with its digest
CATALOGUE = "catalogue.json"  # what the folder of a catalogue was begun with
_MOST_LOOKED_AT = 200_000_000  # bytes of a file that may be ours
_BY_ENDING: dict[str, Callable[[bytes], bool]] = {
    ".csv": lambda content: content.startswith((b"id,box_kind,driver,", b"id,remains,")),
    ".html": lambda content: b"Made with wedgefront" in content,
    ".pdf": lambda content: b"(wedgefront)" in content,
    ".wav": lambda content: content.endswith(b"ISFT\x0c\x00\x00\x00wedgefront\x00\x00"),
    ".json": lambda content: "scenario_sha256" in _table(content),
}


def check_folder(folder: Path) -> None:
    """Refuse a folder that could not be made or written to, before work is spent on it.  Raises InputFaults."""
    existing = next(place for place in (folder, *folder.absolute().parents) if os.path.lexists(place))
    if not existing.is_dir():
        raise refusal("--out", "out_is_a_file", value=str(folder), existing=str(existing))
    try:
        with tempfile.TemporaryFile(dir=existing):
            pass
    except OSError as error:
        raise refusal("--out", "out_unwritable", value=str(folder), reason=str(error.strerror)) from None


def check_places(places: Iterable[Path], *, replace: bool) -> None:
    """Refuse places where something is that we have not written, or that is locked, unless it may be replaced.

    What was stopped while it was put there is put there first.  A folder is never replaced.  A link is none of ours;
    what it leads to stays as it is.  Raises InputFaults, and OSError.
    """
    places = list(places)
    for folder in {place.parent for place in places}:
        settle(folder)
    for place in places:
        value, name = str(place.parent), place.name
        if place.is_dir() and not place.is_symlink():
            raise refusal("--out", "out_is_blocked", value=value, name=name)
        if os.path.lexists(place) and not replace and not _is_ours(place):
            raise refusal("--out", "out_in_the_way", value=value, name=name)


def put(folder: Path, files: Mapping[str, Content]) -> None:
    """Write what a command made of one thing, by the files' names: all of it or nothing.  Raises OSError.

    Wherever that is stopped, :func:`check_places` goes on from there; until then the first of the files is missing.
    """
    with undisturbed():
        write_together(folder, files, record=next(iter(files)))


def _is_ours(place: Path) -> bool:
    """Whether a file is one that a command wrote, as it wrote it where that is known, and not locked by its owner."""
    about = place.lstat()
    if not stat.S_ISREG(about.st_mode) or not about.st_mode & stat.S_IWUSR or about.st_size > _MOST_LOOKED_AT:
        return False
    if (place.parent / CATALOGUE).is_file():
        return True
    content = place.read_bytes()
    known = _table(_content(place.parent / RECORD)).get(WRITTEN)
    if place.name in RUN and place.name != RECORD and isinstance(known, dict) and place.name in known:
        return bool(known[place.name] == sha256(content).hexdigest())
    looks_so = _BY_ENDING.get(place.suffix.lower())
    return looks_so is not None and looks_so(content)


def _content(path: Path) -> bytes:
    try:
        return path.read_bytes() if path.stat().st_size <= _MOST_LOOKED_AT else b""
    except OSError:
        return b""


def _table(content: bytes) -> dict[str, Any]:
    """What stands in JSON; nothing where it is none."""
    try:
        found = json.loads(content)
    except (ValueError, RecursionError):
        return {}
    return found if isinstance(found, dict) else {}
