"""What tests of the customer's sheet share: a design altered, the sheet of some, what is read out of a page."""

from __future__ import annotations

import dataclasses
import io
from collections import Counter
from datetime import date
from html.parser import HTMLParser
from typing import Any

import pypdfium2
from PIL import Image

from engine.report.portrait import Portrait
from engine.report.sheet import Sheet, Wishes, sheet_of
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator

VOID = {"meta", "br", "link", "img", "hr", "input"}
DAY = date(2026, 3, 14)


def altered(
    portrait: Portrait, *, row: dict[str, Any] | None = None, scenario: Scenario | None = None, **worked_out: Any
) -> Portrait:
    """The same design with another row, scenario, or something worked out of it put in place of what would be."""
    design = dataclasses.replace(
        portrait.design,
        row=row or portrait.row,
        evaluator=portrait.design.evaluator if scenario is None else Evaluator(scenario),
    )
    vars(design).update(worked_out)
    return Portrait(design, portrait.letter)


def sheet(portraits: list[Portrait], **changed: Any) -> Sheet:
    """Their sheet as it comes; what is no argument of :func:`sheet_of` is a wish of the shop's."""
    own = {name: changed.pop(name) for name in ("title", "units", "written") if name in changed}
    given: dict[str, Any] = {"title": "Thin wedge", "units": "metric", "written": DAY}
    return sheet_of(portraits, **{**given, **own}, wishes=Wishes(**changed))


class Reader(HTMLParser):
    """Tags in balance, attributes and text."""

    def __init__(self, page: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: Counter[str] = Counter()
        self.attributes: list[tuple[str, str]] = []
        self.text: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        self.attributes += [(name, value or "") for name, value in attrs]
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags[tag] += 1
        self.attributes += [(name, value or "") for name, value in attrs]

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text.append(data)


def pages_of(pdf: bytes) -> list[str]:
    """The text of each page, its white space made single blanks."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        texts = []
        for number in range(len(document)):
            page = document[number]
            read = page.get_textpage()
            texts.append(" ".join(read.get_text_range().split()))
            read.close()
            page.close()
        return texts
    finally:
        document.close()


def sizes_of(pdf: bytes) -> list[tuple[float, float]]:
    """Width and height of each page, mm."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        points = [document.get_page_size(number) for number in range(len(document))]
    finally:
        document.close()
    return [(wide * 25.4 / 72.0, high * 25.4 / 72.0) for wide, high in points]


def drawn(pdf: bytes, number: int, *, scale: float = 1.5) -> Image.Image:
    """A page as a picture, in grey."""
    document = pypdfium2.PdfDocument(pdf)
    try:
        page = document[number]
        picture = page.render(scale=scale).to_pil().convert("L")
        page.close()
    finally:
        document.close()
    return picture


def png(wide: int = 60, high: int = 20) -> bytes:
    """An invented logo."""
    made = io.BytesIO()
    Image.new("RGB", (wide, high), (20, 90, 160)).save(made, "PNG")
    return made.getvalue()
