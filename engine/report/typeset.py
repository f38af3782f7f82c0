"""Pages set by Typst as PDF, without a network: words come as data, so nothing that is typed can be markup.

The same files give the same bytes.  Letters that the fonts which come along lack, of a customer's name say, are set in
fonts of the machine.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from datetime import UTC, date, datetime, time
from importlib.resources import files
from typing import Any, Literal

import typst

Paper = Literal["a4", "letter"]
PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}
PAPER_SIZES: dict[Paper, tuple[float, float]] = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}  # mm

FONTS = ("Libertinus Serif", "New Computer Modern", "DejaVu Sans Mono")  # they come with Typst


def typeset(form: str, told: Mapping[str, Any], *, pictures: Mapping[str, str], written: date) -> bytes:
    """A form of this room ("sheet.typ") with what is told on it, which it reads as "told.json".

    ``pictures`` are files by name, SVG text, that it reads besides.
    """
    parts = {
        "main.typ": files("engine.report").joinpath(form).read_bytes(),
        "told.json": json.dumps({**told, "fonts": FONTS}).encode(),
        **{name: svg.encode() for name, svg in pictures.items()},
    }
    fonts = typst.Fonts(include_system_fonts=not _set_by_own(told), include_embedded_fonts=True)
    made_at = datetime.combine(written, time(), tzinfo=UTC)
    compile_: Any = typst.compile  # its stub does not know of files in memory
    made = compile_(parts, font_paths=fonts, timestamp=int(made_at.timestamp()))
    assert isinstance(made, bytes)
    return made


def _set_by_own(told: object) -> bool:
    """Whether text needs no more than Latin, Greek and Cyrillic letters and usual signs."""
    text = json.dumps(told, ensure_ascii=False)
    return all(char < "\u0530" or "\u2000" <= char < "\u2300" for char in text)
