"""Writing files whole or not at all."""

from __future__ import annotations

import contextlib
import os
import tempfile
from collections.abc import Mapping
from pathlib import Path


def write_whole(texts: Mapping[Path, str]) -> None:
    """Write every text to its path (UTF-8), or leave every path as it was.

    All go to temporary files beside their places first and are renamed together, so a
    full disk or a power cut leaves no half file behind.  Raises OSError.
    """
    waiting: list[tuple[str, Path]] = []
    try:
        for path, text in texts.items():
            handle, name = tempfile.mkstemp(prefix=f".{path.name}.", dir=path.parent)
            waiting.append((name, path))
            with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
                file.write(text)
                file.flush()
                os.fsync(file.fileno())
        for name, path in waiting:
            Path(name).chmod(0o644)
            Path(name).replace(path)
    except BaseException:
        for name, _ in waiting:
            with contextlib.suppress(FileNotFoundError):
                Path(name).unlink()
        raise
