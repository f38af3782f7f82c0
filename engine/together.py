"""Files of a folder that belong together, as what a search came to: the new ones or those of before, never a mix.

What is new is written beside the old, in a folder of the program's own within it, and is decided by one rename of
that.  From then on the new files are what the folder holds: they are put in their places one by one, the record that
names them last, and wherever that is stopped, whoever opens the folder next finishes it first.  Meanwhile the old
record is gone, so that nothing outside takes a mix for a whole.
"""

from __future__ import annotations

import contextlib
import errno
import json
import secrets
import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path, PurePosixPath
from typing import Any

from engine.files import Content, keep_names, write_through
from engine.lock import locked
from engine.seal import is_sealed, sealed

OWN = ".wedgefront"  # the program's own folder within one
PREVIOUS = "previous"  # in that: the files of before
_LOCK = ".wedgefront.lock"
_DECIDED, _WRITING, _OVER = "new", "writing-", "over-"
_FILES, _BEFORE, _PLAN = "files", "before", "plan.json"


def write_together(
    folder: Path, files: Mapping[str, Content], *, record: str, gone: Sequence[str] = (), keep: Sequence[str] = ()
) -> None:
    """Write files into a folder, which is made if need be: all of them, or none.

    Names may have a folder, as ``dxf/back.dxf``.  ``record`` is the one of them that says what the others are.  Files
    named by ``gone`` go; copies of those named by ``keep``, as they are now, are kept as the folder's
    :func:`previous` ones.  Raises OSError, naming the path.
    """
    for name in files:
        if (folder / name).is_dir():
            raise IsADirectoryError(errno.EISDIR, "a folder of that name is in the way", str(folder / name))
    made = _made(folder)
    try:
        with locked(folder / _LOCK):
            _finish(folder)
            own = folder / OWN
            own.mkdir(exist_ok=True)
            try:
                _decide(folder, own / f"{_WRITING}{secrets.token_hex(4)}", files, record, gone, keep)
            except BaseException:
                _clear(own)
                raise
            _finish(folder)
    except BaseException:
        for each in reversed(made):
            with contextlib.suppress(OSError):
                each.rmdir()
        raise


def settle(folder: Path) -> None:
    """Put into their places what was decided in a folder and stopped, and clear what was not.

    Nothing is touched where there is nothing of that.  Raises OSError where it cannot be done, as where somebody else
    is at it for long.
    """
    own = folder / OWN
    unsettled = own.is_dir() and [path.name for path in own.iterdir()] != [PREVIOUS]
    if unsettled or (folder / _LOCK).exists():
        with locked(folder / _LOCK):
            _finish(folder)


@contextmanager
def settled(folder: Path) -> Iterator[None]:
    """Look into a folder while nobody writes it, what was stopped put into its places.  Raises OSError."""
    with locked(folder / _LOCK):
        _finish(folder)
        yield


def previous(folder: Path) -> Path:
    """Where the files of before are kept, if any are."""
    return folder / OWN / PREVIOUS


def _made(folder: Path) -> list[Path]:
    """Make a folder and those it lies in; the ones that were made."""
    missing = [place for place in (folder, *folder.parents) if not place.exists()]
    folder.mkdir(parents=True, exist_ok=True)
    return missing[::-1]


def _decide(
    folder: Path, waiting: Path, files: Mapping[str, Content], record: str, gone: Sequence[str], keep: Sequence[str]
) -> None:
    """Write all that is new beside the old, then decide it by one rename."""
    waiting.mkdir()
    kept = {name: (folder / name).read_bytes() for name in keep if (folder / name).is_file()}
    for part, contents in ((_FILES, files), (_BEFORE, kept)):
        for name, content in contents.items():
            path = waiting / part / name
            path.parent.mkdir(parents=True, exist_ok=True)
            write_through(path, content)
    plan = sealed({"record": record, "files": list(files), "gone": list(gone)})
    write_through(waiting / _PLAN, json.dumps(plan, ensure_ascii=True))
    for place in (*(path for path in waiting.rglob("*") if path.is_dir()), waiting):
        keep_names(place)
    waiting.rename(waiting.with_name(_DECIDED))
    keep_names(waiting.parent)


def _finish(folder: Path) -> None:
    """Put what was decided into its places, and clear what was not."""
    own = folder / OWN
    decided = own / _DECIDED
    if decided.is_dir():
        plan = _plan(decided / _PLAN)
        if plan is not None:
            _put(folder, decided, plan)
        decided.rename(own / f"{_OVER}{secrets.token_hex(4)}")
    _clear(own)


def _put(folder: Path, decided: Path, plan: Mapping[str, Any]) -> None:
    record, new = str(plan["record"]), decided / _FILES
    if (new / record).exists():  # else only what follows the record is left to do
        (folder / record).unlink(missing_ok=True)
        keep_names(folder)
        for name in plan["files"]:
            if name != record and (new / name).exists():
                (folder / name).parent.mkdir(parents=True, exist_ok=True)
                (new / name).replace(folder / name)
        for name in plan["gone"]:
            (folder / name).unlink(missing_ok=True)
        for place in {(folder / name).parent for name in (*plan["files"], *plan["gone"])}:
            keep_names(place)
        (new / record).replace(folder / record)
        keep_names(folder)
    for place in _inner_folders(plan["gone"]):
        with contextlib.suppress(OSError):  # what somebody put there stays
            (folder / place).rmdir()
    if (decided / _BEFORE).is_dir():
        shutil.rmtree(previous(folder), ignore_errors=True)
        (decided / _BEFORE).rename(previous(folder))


def _inner_folders(names: Sequence[str]) -> list[PurePosixPath]:
    """The folders that names lie in, inner ones first."""
    found = {place for name in names for place in PurePosixPath(name).parents if place.parts}
    return sorted(found, key=lambda place: len(place.parts), reverse=True)


def _plan(path: Path) -> dict[str, Any] | None:
    """What was decided; None where the disk has damaged it, so that nobody knows."""
    try:
        found = json.loads(path.read_text(encoding="utf-8"))
    except (FileNotFoundError, ValueError, RecursionError):
        return None
    if not isinstance(found, dict) or not is_sealed(found):
        return None
    return found if all(is_inside(name) for name in (found["record"], *found["files"], *found["gone"])) else None


def is_inside(name: str) -> bool:
    """Whether a name is one of a file in a folder, at whatever depth."""
    path = PurePosixPath(name)
    return not path.is_absolute() and ".." not in path.parts and not Path(name).is_absolute()


def _clear(own: Path) -> None:
    """Take away what was not decided or is over, and the program's own folder where nothing else is in it."""
    if not own.is_dir():
        return
    for left in own.iterdir():
        if left.name.startswith((_WRITING, _OVER)):
            shutil.rmtree(left, ignore_errors=True)
    with contextlib.suppress(OSError):
        own.rmdir()
