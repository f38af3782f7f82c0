"""Writing files whole or not at all."""

from __future__ import annotations

import contextlib
import errno
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path


def write_whole(texts: Mapping[Path, str | bytes]) -> None:
    """Write every text (UTF-8) or picture to its path, or leave every path as it was.

    All go to temporary files beside their places first and are renamed together, so a
    full disk or a power cut leaves no half file behind.  Raises OSError, naming the path.
    """
    for path in texts:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "a folder of that name is in the way", str(path))
    waiting: list[tuple[str, Path]] = []
    mode = 0o666 & ~_umask()
    try:
        for path, text in texts.items():
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            waiting.append((name, path))
            with os.fdopen(handle, "wb") as file:
                file.write(text.encode("utf-8") if isinstance(text, str) else text)
                file.flush()
                os.fsync(file.fileno())
        for name, path in waiting:
            Path(name).chmod(mode)
            Path(name).replace(path)
    except BaseException:
        for name, _ in waiting:
            with contextlib.suppress(FileNotFoundError):
                Path(name).unlink()
        raise


def _umask() -> int:
    """The user's mask for new files, which can only be read by setting it."""
    mask = os.umask(0o077)
    os.umask(mask)
    return mask
