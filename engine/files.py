"""Writing files whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import secrets
import time
from collections.abc import Mapping
from pathlib import Path

PART = ".part"  # how the name ends of a file that is being written
_ABANDONED = 3600.0  # s after which one that nobody finished is taken away

Content = str | bytes


def write_whole(texts: Mapping[Path, Content]) -> None:
    """Write every text (UTF-8) or picture to its path, or leave every path as it was.

    All go to temporary files beside their places first and are renamed together, so a full disk or a power cut leaves
    no half file behind.  Each is whole at any moment; files that must not be mixed with those of before are written by
    :func:`engine.together.write_together`.  Raises OSError, naming the path.
    """
    for path in texts:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "a folder of that name is in the way", str(path))
    waiting: list[tuple[Path, Path]] = []
    try:
        for path, text in texts.items():
            name = path.with_name(f".{path.name}.{secrets.token_hex(4)}{PART}")
            waiting.append((name, path))
            write_through(name, text)
        for name, path in waiting:
            name.replace(path)
    except BaseException:
        for name, _ in waiting:
            with contextlib.suppress(OSError):
                name.unlink()
        raise
    for path in texts:
        _clear_abandoned(path)
    for folder in {path.parent for path in texts}:
        keep_names(folder)


def write_through(path: Path, content: Content) -> None:
    """Write a new file as far as the disk itself, with the rights that the user's mask gives.  Raises OSError."""
    data = memoryview(content.encode("utf-8") if isinstance(content, str) else content)
    handle = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | getattr(os, "O_BINARY", 0), 0o666)
    try:
        while data:
            data = data[os.write(handle, data) :]
        os.fsync(handle)
    except OSError as error:
        raise OSError(error.errno, error.strerror, str(path)) from error
    finally:
        os.close(handle)


def keep_names(folder: Path) -> None:
    """Have the disk itself know a folder's names as they are, where the system has a way to ask for that."""
    with contextlib.suppress(OSError):  # Windows opens no folder; some disks of networks sync none
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)


def _clear_abandoned(path: Path) -> None:
    """Take away what writers of a path left that were killed long ago."""
    with contextlib.suppress(OSError):
        for left in path.parent.glob(f".{_literal(path.name)}.*{PART}"):
            if time.time() - left.stat().st_mtime > _ABANDONED:
                left.unlink()


def _literal(name: str) -> str:
    """A name as a pattern that only it matches."""
    return "".join(f"[{sign}]" if sign in "*?[" else sign for sign in name)
