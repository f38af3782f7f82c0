"""The form of the customer's sheet, promises to the user: what is typed stays with the job, bad logos break nothing."""

from __future__ import annotations

import base64
from collections.abc import Callable
from typing import Any

import pytest
from streamlit.testing.v1 import AppTest

from engine.report.portrait import Portrait
from explorer.customer import on_sheet
from explorer.session import Chosen
from explorer.session import shortlist as put_on
from tests.explorer.pages import job_of, sound
from tests.report.sheets import png

SHORTLISTED = 4


@pytest.fixture
def shortlist(opened_searched: Callable[[], AppTest]) -> AppTest:
    test = opened_searched()
    job = job_of(test)
    assert job.found is not None
    rows = job.found.front.iloc[:SHORTLISTED]
    for name in rows["id"]:
        put_on(job, name)
    test.switch_page("views/shortlist.py").run()
    sound(test)
    return test


def field(kind: Any, test: AppTest, name: str) -> Any:
    return kind(key=f"{name}:{job_of(test).id}")


def test_what_the_shop_types_stays_with_the_job(shortlist: AppTest) -> None:
    field(shortlist.text_input, shortlist, "shop").set_value("Söhne <b>").run()
    field(shortlist.text_area, shortlist, "note").set_value("One\nTwo").run()
    field(shortlist.text_input, shortlist, "price:B").set_value("890 EUR").run()
    field(shortlist.selectbox, shortlist, "recommended").set_value("C").run()
    sound(shortlist)
    job = job_of(shortlist)
    assert (job.shop, job.note) == ("Söhne <b>", "One\nTwo")
    assert [each.price for each in job.shortlist] == ["", "890 EUR", "", ""]
    assert [each.recommended for each in job.shortlist] == [False, False, True, False]


def test_the_price_and_the_recommendation_go_along_with_a_box_that_is_moved(shortlist: AppTest) -> None:
    field(shortlist.text_input, shortlist, "price:B").set_value("890 EUR").run()
    field(shortlist.selectbox, shortlist, "recommended").set_value("B").run()
    shortlist.button(key="left:1").click().run()
    sound(shortlist)
    first, second = job_of(shortlist).shortlist[:2]
    assert [(each.price, each.recommended) for each in (first, second)] == [("890 EUR", True), ("", False)]
    assert field(shortlist.text_input, shortlist, "price:A").value == "890 EUR"


def test_a_stored_logo_that_is_none_breaks_nothing(shortlist: AppTest) -> None:
    for stored in (base64.b64encode(png()).decode(), "aGk=", "no base64!"):
        job_of(shortlist).logo = stored
        shortlist.run()
        sound(shortlist)


def test_the_sheet_has_the_recommended_box_and_the_first_others(first_shown: list[tuple[Chosen, Portrait]]) -> None:
    assert [portrait.letter for _, portrait in on_sheet(first_shown)] == ["A", "B", "C"]
    last = [*first_shown[:3], (Chosen({}, {}, recommended=True), first_shown[3][1])]
    assert [portrait.letter for _, portrait in on_sheet(last)] == ["A", "B", "D"]
    assert on_sheet(first_shown[:1]) == first_shown[:1]


@pytest.fixture
def first_shown() -> list[tuple[Chosen, Portrait]]:
    nothing: Any = None
    return [(Chosen({}, {}), Portrait(nothing, letter)) for letter in "ABCD"]
