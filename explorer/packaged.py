"""Scripts and styles that lie beside the pages' code."""

from __future__ import annotations

from importlib.resources import files


def packaged(name: str) -> str:
    """The text of such a file."""
    return files("explorer").joinpath(name).read_text(encoding="utf-8")
