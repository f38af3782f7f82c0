"""A lock on a folder or file that processes take turns by, and that ends with the process that holds it."""

from __future__ import annotations

import contextlib
import errno
import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

WAIT = 10.0  # s that a lock is waited for: whoever writes holds it for a fraction of one
_POLL = 0.02  # s
# What a disk answers that has no locks, as some of networks: there, writers go on without.
_NONE_HERE = {errno.ENOSYS, errno.EOPNOTSUPP, errno.ENOLCK}

if sys.platform == "win32":
    import msvcrt

    def _taken(handle: int) -> bool:
        try:
            msvcrt.locking(handle, msvcrt.LK_NBLCK, 1)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EDEADLK):
                return False
            raise
        return True

else:
    import fcntl

    def _taken(handle: int) -> bool:
        try:
            fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            if error.errno in (errno.EACCES, errno.EAGAIN):
                return False
            if error.errno not in _NONE_HERE:
                raise
        return True


class Locked(TimeoutError):
    """Another process, or another thread of this one, holds a lock; ``filename`` says which."""

    def __init__(self, path: Path) -> None:
        super().__init__(errno.ETIMEDOUT, "another running wedgefront is writing there", str(path))


@contextmanager
def locked(path: Path, *, wait: float = WAIT) -> Iterator[None]:
    """Hold the lock that a file stands for, which is made and goes with it; what a killed holder left is in no way.

    Raises Locked where somebody else holds it for longer than ``wait`` seconds, and OSError.
    """
    handle = _acquired(path, time.monotonic() + wait)
    try:
        yield
    finally:
        # Gone before it is let go of, where that is possible: who waits for it looks whether it is still there.
        with contextlib.suppress(OSError):
            if sys.platform != "win32":
                path.unlink()
        os.close(handle)
        with contextlib.suppress(OSError):
            if sys.platform == "win32":
                path.unlink()


def _acquired(path: Path, until: float) -> int:
    while True:
        handle = os.open(path, os.O_RDWR | os.O_CREAT, 0o666)
        try:
            taken = _taken(handle)
            if taken and _is_still(path, handle):
                return handle
        except BaseException:
            os.close(handle)
            raise
        os.close(handle)
        if taken:
            continue
        if time.monotonic() > until:
            raise Locked(path)
        time.sleep(_POLL)


def _is_still(path: Path, handle: int) -> bool:
    """Whether the file that was opened is the one of that name, not one that its last holder took away."""
    with contextlib.suppress(FileNotFoundError):
        return os.path.samestat(path.stat(), os.fstat(handle))
    return False
