"""The explorer in a real browser: real clicks on a real chart, a real reload, a real download.

Each step is a promise to the user that Streamlit's headless test frame cannot check.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from contextlib import suppress
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Download, Page, expect
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from explorer.standing import STOPPED, WHAT_TO_DO
from tests.explorer.browsing import PATIENCE, Running, opened

FURTHER, NEARER = [(0.9, 0.2), (0.8, 0.3), (0.7, 0.5)], [(0.2, 0.7), (0.3, 0.6), (0.4, 0.5), (0.5, 0.3)]


@pytest.fixture
def server(small_job: Path, tmp_path: Path) -> Iterator[Running]:
    """A running explorer on a small job."""
    with opened(tmp_path, str(small_job)) as running:
        yield running


@pytest.fixture
def nothing_named(tmp_path: Path) -> Iterator[Running]:
    """A running explorer that no job was named to."""
    with opened(tmp_path) as running:
        yield running


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page whose policy keeps nothing from it that it asks for."""
    context = browser.new_context(viewport={"width": 1440, "height": 1200}, accept_downloads=True)
    context.set_default_timeout(PATIENCE)
    page, kept_away = context.new_page(), list[str]()
    page.on("console", lambda said: kept_away.append(said.text) if "Content Security Policy" in said.text else None)
    yield page
    context.close()
    assert kept_away == []


def picked(page: Page) -> str:
    """The id of the design on show."""
    heading = page.get_by_role("heading", name=re.compile(r"^Pick D\d+$"))
    expect(heading).to_be_visible(timeout=PATIENCE)
    return heading.inner_text().removeprefix("Pick ")


def drawn(page: Page, design: str) -> None:
    """Wait for a design's curves."""
    expect(page.locator(".readout")).to_contain_text(f") {design}", timeout=PATIENCE)
    expect(page.locator(".chart path.c0")).to_have_count(1)


def click_front(page: Page, across: float, down: float) -> None:
    """Click into the picture of the front, as shares of its width and height."""
    chart = page.locator(".scatter")
    expect(page.get_by_test_id("stStatusWidget")).to_have_count(0, timeout=PATIENCE)
    expect(chart).to_have_count(1)  # the picture of a growing front is gone
    box = chart.bounding_box()
    assert box is not None
    chart.click(position={"x": across * box["width"], "y": down * box["height"]})


def pick_another(page: Page, *places: tuple[float, float]) -> str:
    """Click until another design is the pick: few are on a short search's front, and a place may have none near it."""
    before = picked(page)
    for place in places:
        click_front(page, *place)
        if picked(page) != before:
            break
    assert picked(page) != before
    drawn(page, picked(page))
    return picked(page)


def shortlist(page: Page, letter: str) -> None:
    page.get_by_role("button", name="Add to shortlist").click()
    expect(page.get_by_text(f"On the shortlist as {letter}")).to_be_visible(timeout=PATIENCE)


def handed_over(page: Page) -> Download:
    """The customer's sheet as a web page; a click while the page is drawn again is lost, and made again by the user."""
    for _ in range(10):
        expect(page.get_by_test_id("stStatusWidget")).to_have_count(0, timeout=PATIENCE)
        with suppress(PlaywrightTimeout):
            with page.expect_download(timeout=PATIENCE / 10) as download:
                page.get_by_role("button", name="Web page").click()
            return download.value
    pytest.fail("no click on the button gave the customer's sheet")


def test_search_click_shortlist_reload_and_hand_over(server: Running, page: Page, tmp_path: Path) -> None:
    asked_elsewhere: list[str] = []
    here = server.address
    page.on("request", lambda request: asked_elsewhere.append(request.url) if elsewhere(request.url, here) else None)

    page.goto(server.entry)
    expect(page.get_by_text("designs kept")).to_be_visible(timeout=PATIENCE)

    expect(page.get_by_role("button", name="Search again")).to_be_visible(timeout=PATIENCE)
    first = pick_another(page, *FURTHER)
    expect(page.get_by_text(f"Why {first} is where it is")).to_be_visible(timeout=PATIENCE)
    shortlist(page, "A")
    second = pick_another(page, *NEARER)
    assert second != first
    shortlist(page, "B")

    page.reload()
    expect(page.get_by_text("designs kept")).to_be_visible(timeout=PATIENCE)
    assert picked(page) == second
    expect(page.get_by_text("On the shortlist as B")).to_be_visible(timeout=PATIENCE)

    page.get_by_role("link", name="Shortlist").click()
    expect(page.get_by_text("Beside A, B ")).to_be_visible(timeout=PATIENCE)
    page.get_by_label("Customer (optional)").fill("A. <b>Customer</b>")
    page.keyboard.press("Enter")
    sheet = tmp_path / "sheet.html"
    handed_over(page).save_as(sheet)

    page.goto(sheet.as_uri())
    expect(page.get_by_role("heading", name="Thin wedge behind a van's bench")).to_be_visible()
    expect(page.get_by_role("heading", name="Our recommendation: box")).to_be_visible()
    expect(page.get_by_text("For A. <b>Customer</b>")).to_be_visible()
    assert page.locator("svg").count() == 4  # two charts and a picture of each box
    assert asked_elsewhere == []


def elsewhere(url: str, address: str) -> bool:
    return not url.startswith((address, address.replace("http", "ws", 1), "data:", "blob:", "file:"))


def test_a_message_moves_nothing_and_a_stopped_program_says_so_in_its_own_words(server: Running, page: Page) -> None:
    page.goto(server.entry.replace("/?", "/space-parts?"))
    width, below = page.get_by_role("textbox", name="Free width"), page.get_by_text("Cross-section").first
    expect(page.get_by_text("The job is complete.")).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_test_id("stStatusWidget")).to_have_count(0)
    before = below.bounding_box()
    width.fill("a lot")
    width.press("Tab")
    expect(page.get_by_text("Expected a number, then its unit.").first).to_be_visible(timeout=PATIENCE)
    expect(page.get_by_text("1 to put right.")).to_be_visible()
    assert below.bounding_box() == before

    page.get_by_role("button", name="Help for Margin").click()
    meaning = page.get_by_role("dialog", name="Margin and clearance")
    expect(meaning).to_contain_text("kept free all round the box")
    page.keyboard.press("Escape")
    expect(meaning).to_be_hidden()

    server.process.kill()
    server.process.wait()
    window = page.get_by_role("dialog")
    expect(window).to_be_visible(timeout=PATIENCE)
    assert window.inner_text().strip() == ""  # nothing that the toolkit says is seen
    said = window.evaluate(
        "each => getComputedStyle(each, '::before').content + getComputedStyle(each, '::after').content"
    )
    assert STOPPED in said
    assert WHAT_TO_DO in said


SPACE = {"Free width": "1000 mm", "Depth 1": "300 mm", "Depth 2": "200 mm", "Height 2": "400 mm"}
SHEET = {
    "Resonance fs": "32 Hz", "Qms": "5.2", "Cone area Sd": "330 cm^2", "Resistance Re": "1.8 ohm",
    "Inductance Le": "0.9 mH", "Xmax, one way": "10 mm", "Rated power": "350 W", "Moving mass Mms": "130 g",
    "Force factor Bl": "9.6 T m", "Voice coils": "2", "Impedance of one coil": "4 ohm", "Over the flange": "262 mm",
    "Cut-out diameter": "234 mm", "Magnet diameter": "150 mm", "Mounting depth": "86 mm",
}  # fmt: skip


def fill_in(page: Page, texts: dict[str, str]) -> None:
    for label, text in texts.items():
        field = page.get_by_role("textbox", name=label).first
        field.fill(text)
        field.press("Tab")


def go_on(page: Page, shows: str) -> None:
    page.get_by_role("button", name="Next").click()
    expect(page.get_by_text(shows).first).to_be_visible(timeout=PATIENCE)


def test_a_new_job_from_nothing_to_its_first_front_and_a_step_back_by_keys(nothing_named: Running, page: Page) -> None:
    page.goto(nothing_named.entry)
    expect(page.get_by_role("heading", name="Jobs")).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name="New job").click()
    expect(page.get_by_role("heading", name="New job")).to_be_visible(timeout=PATIENCE)
    fill_in(page, SPACE)
    go_on(page, "From its data sheet")
    fill_in(page, SHEET)
    expect(page.get_by_text("Worked out from the sheet")).to_be_visible(timeout=PATIENCE)
    go_on(page, "What it delivers")
    fill_in(page, {"Power": "180 W"})
    go_on(page, "Pipe for vents")
    page.get_by_role("button", name="Find the boxes").click()
    expect(page.get_by_role("heading", name="Best so far", exact=True)).to_be_visible(timeout=PATIENCE)
    page.get_by_role("button", name="Cancel and keep what was found").click()
    expect(page.get_by_text("designs kept")).to_be_visible(timeout=PATIENCE)

    first = picked(page)
    pick_another(page, *NEARER, *FURTHER)
    page.locator("body").press("Control+z")
    expect(page.get_by_role("heading", name=f"Pick {first}", exact=True)).to_be_visible(timeout=PATIENCE)
