"""The customer's sheet as PDF: two pages of A4 or Letter."""

from __future__ import annotations

import base64
from dataclasses import asdict

from engine.report.logo import Logo
from engine.report.pictures import drawing_svg
from engine.report.sheet import Sheet
from engine.report.typeset import PAPERS, Paper, typeset

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
        "heading": " – ".join(part for part in (sheet.title, sheet.customer) if part),
        "day": f"For {sheet.customer} – {sheet.day}" if sheet.customer else sheet.day,
        "logo": sheet.logo is not None,
        "logo_alt": sheet.shop or "Logo",
        "picture_width": _PICTURE_WIDTH[len(sheet.boxes)],
    }
    pictures = {
        **{f"picture-{box.letter}.svg": drawing_svg(box.picture, halo=False) for box in sheet.boxes},
        **{f"chart-{number}.svg": chart.svg for number, chart in enumerate(sheet.charts)},
    }
    if sheet.logo is not None:
        pictures["logo.svg"] = _as_svg(sheet.logo)
    return typeset("sheet.typ", told, pictures=pictures, written=sheet.written)


def _as_svg(logo: Logo) -> str:
    """A picture as text, the only kind of file that can be in memory."""
    data = base64.b64encode(logo.png).decode("ascii")
    size = f'width="{logo.width}" height="{logo.height}"'
    return f'<svg xmlns="http://www.w3.org/2000/svg" {size}><image {size} href="data:image/png;base64,{data}"/></svg>'
