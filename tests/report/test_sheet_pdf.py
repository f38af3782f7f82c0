"""The customer's sheet as PDF, promises to the user: two pages, the front's figures, no colour needed."""

from __future__ import annotations

import dataclasses
import subprocess
import sys
from hashlib import sha256
from typing import Any

import numpy as np
import pytest

from engine.report.logo import read_logo
from engine.report.portrait import Portrait
from engine.report.sheet import MOST_LETTERS, Sheet
from engine.report.sheet_figures import goals_told
from engine.report.sheet_pdf import pdf_of
from engine.report.wording import figure
from tests.report.sheets import drawn, pages_of, png, sheet, sizes_of

PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}


@pytest.fixture(scope="module")
def three(portraits: list[Portrait]) -> Sheet:
    return sheet(portraits, shop="Invented Sound", customer="Ms Example", logo=read_logo(png(), name="logo.png"))


@pytest.mark.parametrize("paper", PAPERS)
def test_it_is_two_pages_of_the_paper_asked_for(three: Sheet, paper: Any) -> None:
    assert sizes_of(pdf_of(three, paper)) == [pytest.approx(PAPERS[paper], abs=0.1)] * 2


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize("count", [1, 2, 3])
def test_it_stays_on_two_pages_with_the_longest_words_that_are_taken(
    portraits: list[Portrait], count: int, paper: Any
) -> None:
    longest = {name: ("Wide words " * most)[:most] for name, most in MOST_LETTERS.items() if name != "price"}
    price = {portrait.letter: "W" * MOST_LETTERS["price"] for portrait in portraits[:count]}
    logo = read_logo(png(40, 40), name="logo.png")
    made = sheet(portraits[:count], title="A job of a long name " * 12, prices=price, logo=logo, units="us", **longest)
    made = dataclasses.replace(made, explained=(*made.explained, "Much more is to be said of this box. " * 20))
    pages = pages_of(pdf_of(made, paper))
    assert len(pages) == 2
    assert "Wide words" in pages[0]
    assert "missile" in pages[1]


@pytest.mark.parametrize("units", ["metric", "us"])
def test_its_figures_read_back_are_those_of_the_front(portraits: list[Portrait], units: Any) -> None:
    _, second = pages_of(pdf_of(sheet(portraits, units=units)))
    told = goals_told(portraits)
    assert len(told) > 8
    at = 0
    for key in told:  # line by line, box by box, in the order of the table
        for portrait in portraits:
            at = second.index(figure(key, portrait.row[key], units), at)


def test_what_users_type_is_never_markup(portraits: list[Portrait]) -> None:
    nasty = '#sys.version *x* $a^2$ <b> @ref "q" \\ // #import "x": y'
    first, _ = pages_of(pdf_of(sheet(portraits[:1], title=nasty, shop=nasty, customer=nasty, note=nasty)))
    assert first.count(nasty) >= 4


def test_the_same_sheet_gives_the_same_bytes(three: Sheet) -> None:
    assert pdf_of(three) == pdf_of(three)


def test_another_process_gives_the_same_bytes(three: Sheet, tmp_path: Any) -> None:
    """Nothing of the machine, the clock or a hash's seed is in it."""
    import pickle

    (tmp_path / "sheet").write_bytes(pickle.dumps(three))
    code = (
        "import pickle, sys, hashlib; from pathlib import Path; from engine.report.sheet_pdf import pdf_of;"
        "print(hashlib.sha256(pdf_of(pickle.loads(Path(sys.argv[1]).read_bytes()))).hexdigest())"
    )
    done = subprocess.run(
        [sys.executable, "-c", code, str(tmp_path / "sheet")], capture_output=True, text=True, check=True
    )
    assert done.stdout.strip() == sha256(pdf_of(three)).hexdigest()


def test_names_in_other_scripts_are_set_too(portraits: list[Portrait]) -> None:
    first, _ = pages_of(pdf_of(sheet(portraits[:1], customer="Ωμέγα Жук")))
    assert "Ωμέγα Жук" in first


@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_is_printed_into_the_margins(three: Sheet, paper: Any) -> None:
    """Printers leave about 5 mm; common practice, no source."""
    pdf = pdf_of(three, paper)
    for number in range(2):
        grey = np.asarray(drawn(pdf, number))
        edge = round(5.0 / 25.4 * 72.0 * 1.5)
        inner = grey[edge:-edge, edge:-edge]
        assert (inner < 128).any()
        frame = grey.copy()
        frame[edge:-edge, edge:-edge] = 255
        assert frame.min() > 250


def test_boxes_are_told_apart_without_colour(three: Sheet) -> None:
    """Every line has a dash of its own and every mark a shape and a letter of its own."""
    levels, response = three.charts
    assert response.svg.count("stroke-dasharray") >= 2
    for letter in "ABC":
        assert f">{letter}</text>" in levels.svg
        assert f">{letter}</text>" in response.svg
