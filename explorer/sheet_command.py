"""The command ``wedgefront sheet``: the customer's sheet of designs of a front as files."""

from __future__ import annotations

import argparse
from datetime import datetime
from pathlib import Path
from typing import Any

import pandas as pd

from engine.errors import refusal
from engine.judged import JudgedDesign
from engine.plain_text import unfit_in
from engine.report.ink import LETTERS
from engine.report.logo import read_logo
from engine.report.portrait import Portrait
from engine.report.sheet import MOST_BOXES, MOST_LETTERS, Wishes, file_name, sheet_of
from engine.report.sheet_html import html_of
from engine.report.sheet_pdf import pdf_of
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from explorer.places import check_places, put


def write_sheet(scenario: Scenario, front: pd.DataFrame, options: argparse.Namespace) -> list[Path]:
    """Write the sheet of the designs asked for, as PDF and HTML; gives the files.

    Raises InputFaults for designs that are not on the front, more than a sheet holds, or words that are too long.
    """
    letters = dict(zip(_ids(front, options.designs), LETTERS, strict=False))
    for name in ("shop", "customer", "note"):
        _short(f"--{name}", getattr(options, name), MOST_LETTERS[name])
    recommended = "" if options.recommend is None else _letter("--recommend", options.recommend, letters)
    logo = None if options.logo is None else read_logo(options.logo.read_bytes(), name=str(options.logo))
    wishes = Wishes(
        shop=options.shop, customer=options.customer, note=options.note, logo=logo, recommended=recommended,
        prices=_prices(options.price, letters),
    )  # fmt: skip
    title, written = scenario.title, datetime.now().astimezone().date()
    places = [options.out / file_name(title, options.customer, ending) for ending in ("pdf", "html")]
    check_places(places, replace=options.replace)
    rows: Any = [front[front["id"] == name].iloc[0].to_dict() for name in letters]
    designs = JudgedDesign.batch(Evaluator(scenario), rows)
    portraits = [Portrait(design, letter) for design, letter in zip(designs, letters.values(), strict=True)]
    sheet = sheet_of(portraits, title=title, wishes=wishes, units=options.units, written=written)
    pdf, html = (place.name for place in places)
    put(options.out, {pdf: pdf_of(sheet, options.paper), html: html_of(sheet)})
    return places


def _ids(front: pd.DataFrame, asked: list[str]) -> list[str]:
    """The designs asked for, each once and on the front."""
    designs = list(dict.fromkeys(asked))
    if len(designs) > MOST_BOXES:
        raise refusal("sheet", "sheet_designs", value=" ".join(designs))
    known = set(front["id"])
    for name in designs:
        if name not in known:
            raise refusal("sheet", "no_design", value=name, designs=len(front))
    return designs


def _prices(stated: list[str], letters: dict[str, str]) -> dict[str, str]:
    found = {}
    for text in stated:
        name, equals, price = text.partition("=")
        if not equals or not price.strip():
            raise refusal("--price", "sheet_price", value=text, example=f"{next(iter(letters))}=890 EUR")
        _short("--price", price, MOST_LETTERS["price"])
        found[_letter("--price", name.strip(), letters)] = price.strip()
    return found


def _letter(option: str, name: str, letters: dict[str, str]) -> str:
    if name not in letters:
        raise refusal(option, "not_on_sheet", value=name, known=tuple(letters))
    return letters[name]


def _short(option: str, text: str, most: int) -> None:
    if sign := unfit_in(text, lines=option == "--note"):
        raise refusal(option, "unfit_text", value=f"{text[:30]}…" if len(text) > 30 else text, sign=sign)
    if len(text) > most:
        raise refusal(option, "sheet_text", value=f"{text[:30]}…", most=str(most))
