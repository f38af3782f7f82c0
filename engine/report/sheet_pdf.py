"""The customer's sheet as PDF: two pages of A4 or Letter, typeset by Typst from data, without a network.

Words never become markup: they come as JSON, pictures as files in memory.  The same sheet gives the same bytes.
Letters that the fonts which come along lack, of a customer's name say, are set in fonts of the machine.
"""

from __future__ import annotations

import base64
import json
from dataclasses import asdict
from datetime import UTC, datetime, time
from importlib.resources import files
from typing import Any, Literal

import typst

from engine.report.logo import Logo
from engine.report.pictures import drawing_svg
from engine.report.sheet import Sheet

Paper = Literal["a4", "letter"]
PAPERS: dict[Paper, str] = {"a4": "a4", "letter": "us-letter"}

_FONTS = ["Libertinus Serif", "New Computer Modern", "DejaVu Sans Mono"]  # they come with Typst
_PICTURE_WIDTH = {1: 0.62, 2: 0.98, 3: 1.0}  # of a card, by how many there are


def pdf_of(sheet: Sheet, paper: Paper = "a4") -> bytes:
    """The sheet as the bytes of a PDF."""
    told = asdict(sheet)
    del told["written"], told["logo"]
    for box in told["boxes"]:
        del box["picture"]
    for chart in told["charts"]:
        del chart["svg"]
    told |= {
        "paper": PAPERS[paper],
        "fonts": _FONTS,
        "heading": " – ".join(part for part in (sheet.title, sheet.customer) if part),
        "day": f"For {sheet.customer} – {sheet.day}" if sheet.customer else sheet.day,
        "logo": sheet.logo is not None,
        "logo_alt": sheet.shop or "Logo",
        "picture_width": _PICTURE_WIDTH[len(sheet.boxes)],
    }
    parts = {
        "main.typ": files("engine.report").joinpath("sheet.typ").read_bytes(),
        "sheet.json": json.dumps(told).encode(),
        **{f"picture-{box.letter}.svg": drawing_svg(box.picture, halo=False).encode() for box in sheet.boxes},
        **{f"chart-{number}.svg": chart.svg.encode() for number, chart in enumerate(sheet.charts)},
    }
    if sheet.logo is not None:
        parts["logo.svg"] = _as_svg(sheet.logo).encode()
    fonts = typst.Fonts(include_system_fonts=not _set_by_own(told), include_embedded_fonts=True)
    made_at = datetime.combine(sheet.written, time(), tzinfo=UTC)
    compile_: Any = typst.compile  # its stub does not know of files in memory
    made = compile_(parts, font_paths=fonts, timestamp=int(made_at.timestamp()))
    assert isinstance(made, bytes)
    return made


def _as_svg(logo: Logo) -> str:
    """A picture as text, the only kind of file that can be in memory."""
    data = base64.b64encode(logo.png).decode("ascii")
    size = f'width="{logo.width}" height="{logo.height}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}><image {size} href="data:image/png;base64,{data}"/></svg>'


def _set_by_own(told: object) -> bool:
    """Whether text needs no more than Latin, Greek and Cyrillic letters and usual signs."""
    text = json.dumps(told, ensure_ascii=False)
    return all(char < "\u0530" or "\u2000" <= char < "\u2300" for char in text)
