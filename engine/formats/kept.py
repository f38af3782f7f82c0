"""A folder that a catalogue is searched into: what each task came to, written whole, so that nothing done is lost."""

from __future__ import annotations

import base64
import json
import zlib
from collections.abc import Iterator, Mapping
from contextlib import ExitStack, contextmanager
from pathlib import Path
from typing import Any

import numpy as np

from engine.arrays import Floats
from engine.errors import refusal
from engine.files import PART, write_whole
from engine.formats.front import csv_text, parse_table
from engine.lock import Locked, locked
from engine.seal import SEAL, digest_of, is_sealed, sealed
from engine.search.catalogue import Found
from engine.untrusted import parsed
from engine.words.voice import Names

INPUTS, TASKS = "catalogue.json", "tasks"
UNREADABLE = (ValueError, KeyError, TypeError, zlib.error)
_LOCK = ".catalogue.lock"
_OF = "of"  # in a task: the digest of what its catalogue was begun with


@contextmanager
def kept_tasks(folder: Path, inputs: Mapping[str, str | int]) -> Iterator[KeptTasks]:
    """The tasks of a folder that is made if need be, for this process alone until it lets go of them or ends.

    Raises InputFaults where another process is at it, or as :class:`KeptTasks` does, and OSError.
    """
    folder.mkdir(parents=True, exist_ok=True)
    with ExitStack() as stack:
        try:
            stack.enter_context(locked(folder / _LOCK, wait=0.0))
        except Locked:
            raise refusal(str(folder), "catalogue_at_work") from None
        yield KeptTasks(folder, inputs)


class KeptTasks:
    """The tasks kept in a folder, of one catalogue and no other."""

    def __init__(self, folder: Path, inputs: Mapping[str, str | int]) -> None:
        """Begin in a folder, or go on where it has the same ``inputs``, which are by what they are called.

        Raises InputFaults where it has others or none that can be read, and OSError.
        """
        self._tasks = folder / TASKS
        self._of = digest_of(json.dumps(dict(inputs), sort_keys=True))
        before = _inputs(folder / INPUTS)
        if before is not None and (changed := Names(name for name in inputs if before.get(name) != inputs[name])):
            raise refusal(str(folder), "catalogue_changed", changed=changed)
        self._tasks.mkdir(parents=True, exist_ok=True)
        if before is None:
            write_whole({folder / INPUTS: json.dumps(dict(inputs), indent=2) + "\n"})
        for half in (*self._tasks.glob(".*"), *folder.glob(f".{INPUTS}.*{PART}")):  # left where a writer was killed
            half.unlink()

    def __contains__(self, name: object) -> bool:
        return self._path(str(name)).exists()

    def get(self, name: str) -> Found:
        """What a task came to.  Raises InputFaults where somebody has changed it."""
        try:
            kept = self._read(name)
            rows, misfits = (parse_table(_unpacked(kept[part]).decode()) for part in ("rows", "misfits"))
            return Found(rows, misfits, kept["groups"], _starts(kept), kept["evaluations"])
        except UNREADABLE:
            raise refusal(str(self._path(name)), "task_unreadable") from None

    def starts(self, name: str) -> Floats:
        """Where what follows a task goes on from, (n, n_var).  Raises InputFaults where somebody has changed it."""
        try:
            return _starts(self._read(name))
        except UNREADABLE:
            raise refusal(str(self._path(name)), "task_unreadable") from None

    def _read(self, name: str) -> dict[str, Any]:
        kept = dict(parsed(self._path(name).read_bytes()))
        # An earlier version's has neither.
        if (SEAL in kept or _OF in kept) and not (is_sealed(kept) and kept.get(_OF) == self._of):
            raise ValueError("damaged, or of another catalogue")
        return kept

    def put(self, name: str, found: Found) -> None:
        """Keep what a task came to, whole or not at all.  Raises OSError."""
        kept: dict[str, Any] = {
            "evaluations": found.evaluations,
            "groups": found.groups,
            "rows": _packed(csv_text(found.rows).encode()),
            "misfits": _packed(csv_text(found.misfits).encode()),
            "shape": found.starts.shape,
            "starts": _packed(found.starts.astype("<f8").tobytes()),
            _OF: self._of,
        }
        write_whole({self._path(name): json.dumps(sealed(kept), allow_nan=False)})

    def _path(self, name: str) -> Path:
        return self._tasks / f"{name}.json"


def _inputs(path: Path) -> dict[str, Any] | None:
    """What a folder was begun with; None where nothing was."""
    if not path.exists():
        return None
    try:
        found = parsed(path.read_bytes())
    except ValueError:
        found = None
    if not isinstance(found, dict):
        raise refusal(str(path), "inputs_unreadable")
    return found


def _starts(kept: Mapping[str, Any]) -> Floats:
    return np.frombuffer(_unpacked(kept["starts"]), dtype="<f8").reshape(kept["shape"]).astype(float)


def _packed(content: bytes) -> str:
    return base64.b64encode(zlib.compress(content)).decode("ascii")


def _unpacked(text: str) -> bytes:
    return zlib.decompress(base64.b64decode(text))
