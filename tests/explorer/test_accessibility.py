"""Every page and state in a real browser, audited by axe-core: light and dark, 1400, 820 and 400 px wide.

Promises to users who see little, or nothing, or work without a mouse.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterator
from dataclasses import replace
from pathlib import Path
from typing import Literal

import pytest
from playwright.sync_api import Browser, Page, expect

from engine.formats.scenario import demo_scenarios, read_document
from engine.insight.reasons import balanced
from explorer.demo_fronts import found_for
from explorer.session import Job, JobStore, as_document, pick
from tests.explorer.audit import SCHEMES, at_each_width, findings
from tests.explorer.browsing import PATIENCE, Running, opened

DEMO = "van-bench"
JOB = "audited-job"
# The same, two looks in a row: nothing is drawn any more, nor does it change its colours or its width.
_STILL = """() => {
  const drawn = document.querySelector('[data-testid="stApp"]');
  const now = [drawn?.innerHTML.length, drawn && getComputedStyle(drawn).backgroundColor, innerWidth].join();
  const still = window.seenLast === now;
  window.seenLast = now;
  return still;
}"""


def kept_job(folder: Path) -> None:
    """A demo job with the front that comes with it as one's own, picked from, so that no search runs beside a test."""
    document = as_document(read_document(demo_scenarios()[DEMO]))
    demo = found_for(document)
    assert demo is not None
    found = replace(demo, came_with_demo=False)
    job = Job(id=JOB, source="van-bench.toml", document=document, found=found)
    pick(job, str(found.front["id"].iloc[balanced(found.front, tuple(found.record["objectives"]))]))
    JobStore(folder).save(job)


# What has the focus, marked so that it is known again; a part of a page may have a tree of its own.
_FOCUSED = """(() => {
  let here = document.activeElement;
  while (here.shadowRoot?.activeElement) here = here.shadowRoot.activeElement;
  return here.mark ??= Math.random();
})()"""


@pytest.fixture(scope="module")
def server(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Running]:
    """A running explorer that has a job on a front."""
    folder = tmp_path_factory.mktemp("audit")
    kept_job(folder / "state")
    with opened(folder) as running:
        yield running


@pytest.fixture(scope="module")
def address(server: Running) -> str:
    return server.address


@pytest.fixture(scope="module")
def page(browser: Browser, server: Running) -> Iterator[Page]:
    context = browser.new_context(viewport={"width": 1400, "height": 900}, color_scheme="light")
    context.set_default_timeout(PATIENCE)
    page = context.new_page()
    page.goto(server.entry)
    yield page
    context.close()


def settled(page: Page) -> None:
    """Once nothing runs any more and the page stays as it is."""
    expect(page.get_by_test_id("stApp")).to_be_visible()
    expect(page.get_by_test_id("stStatusWidget")).to_have_count(0)
    page.evaluate("window.seenLast = undefined")
    page.wait_for_function(_STILL, polling=500)
    expect(page.get_by_test_id("stStatusWidget")).to_have_count(0)


def press(page: Page, name: str) -> None:
    page.get_by_role("button", name=name, exact=True).first.click()
    settled(page)


def audited(page: Page) -> list[str]:
    """What is wrong with the page as it stands, at each width."""
    return [f"{width} px: {found}" for width in at_each_width(page, lambda: settled(page)) for found in findings(page)]


def at(page: Page, address: str, place: str) -> None:
    page.goto(f"{address}/{place}?job={JOB}")
    settled(page)


def trade_offs(page: Page) -> None:
    """With a pick, and what a wish came to."""
    press(page, "Louder at 40 Hz")


def typed_wishes(page: Page) -> None:
    """With a fault at its field."""
    press(page, "A figure for each …")
    page.get_by_label("Level at 40 Hz (dB), at least").fill("loud")
    press(page, "Find the nearest")
    expect(page.get_by_text("Expected a number")).to_be_visible()


def nothing(page: Page) -> None:
    """As it opens."""


def a_box_stated(page: Page) -> None:
    page.get_by_role("button", name=re.compile("Take over pick")).first.click()
    settled(page)


def two_on_the_shortlist(page: Page) -> None:
    page.get_by_role("link", name="Trade-offs").first.click()
    settled(page)
    for wish in ("Louder at 50 Hz", "Lighter"):
        press(page, wish)
        if page.get_by_role("button", name="Add to shortlist").count():  # else it stands on it already
            press(page, "Add to shortlist")
    page.get_by_role("link", name="Shortlist").first.click()
    settled(page)


def a_new_job(page: Page) -> None:
    press(page, "New job")


def a_sweep(page: Page) -> None:
    """With what it comes to, and its help open."""
    if page.get_by_role("button", name="Try it with an invented sweep").count():  # else it lies with the job already
        press(page, "Try it with an invented sweep")
    expect(page.get_by_text("The box is tuned to").first).to_be_visible()
    page.get_by_text("How to measure").first.click()
    settled(page)


STATES: dict[str, tuple[str, Callable[[Page], None]]] = {
    "jobs": ("jobs", nothing),
    "a new job": ("jobs", a_new_job),
    "words": ("words", nothing),
    "trade-offs": ("", trade_offs),
    "typed wishes": ("", typed_wishes),
    "space and parts": ("space-parts", nothing),
    "no given box": ("given-box", nothing),
    "a given box": ("given-box", a_box_stated),
    "as built": ("as-built", nothing),
    "as built, measured": ("as-built", a_sweep),
    "empty shortlist": ("shortlist", nothing),
    "build sheet": ("build-sheet", nothing),
    "shortlist": ("shortlist", two_on_the_shortlist),
}


@pytest.mark.parametrize("scheme", SCHEMES)
@pytest.mark.parametrize("state", STATES)
def test_no_page_has_a_grave_finding(state: str, scheme: Literal["light", "dark"], address: str, page: Page) -> None:
    """Promise: axe-core finds nothing serious or critical that is ours, in no theme and at no width."""
    place, reach = STATES[state]
    page.emulate_media(color_scheme=scheme)
    at(page, address, place)
    reach(page)
    assert audited(page) == []


def test_a_page_is_gone_through_by_keyboard_and_left_again(address: str, page: Page) -> None:
    """Promise: Tab comes to the way past the menu first, which leads to the page; it goes on and never stays behind."""
    at(page, address, "")
    page.evaluate("document.activeElement?.blur()")
    page.keyboard.press("Tab")
    assert page.evaluate("document.activeElement.textContent") == "Skip to the page"
    page.keyboard.press("Enter")
    assert page.evaluate("document.activeElement.dataset.testid") == "stMain"
    seen = set()
    for _ in range(25):
        page.keyboard.press("Tab")
        seen.add(page.evaluate(_FOCUSED))
    assert len(seen) > 20  # each step goes on to another
    assert page.evaluate("document.querySelector('[data-testid=\"stMain\"]').contains(document.activeElement)")


def test_a_change_of_theme_draws_the_front_in_its_colours(address: str, page: Page) -> None:
    """Promise: what is drawn in a theme's colours follows a change of theme by itself."""
    page.emulate_media(color_scheme="light")
    at(page, address, "")
    ramp = page.locator(".ramp")
    light = ramp.get_attribute("style") or ""
    page.emulate_media(color_scheme="dark")
    expect(ramp).not_to_have_attribute("style", light)
    page.emulate_media(color_scheme="light")
    expect(ramp).to_have_attribute("style", light)


def test_steps_are_undone_on_a_narrow_screen_without_the_menu(address: str, page: Page) -> None:
    """Promise: where the menu is shut, Undo and Redo stand above the page; else in the menu alone."""
    for width in (1400, 400):
        page.set_viewport_size({"width": width, "height": 900})
        at(page, address, "words")
        expect(page.get_by_role("button", name="Undo")).to_have_count(1)
        expect(page.get_by_role("button", name="Undo")).to_be_in_viewport()
    page.set_viewport_size({"width": 1400, "height": 900})


def test_every_picture_has_words(address: str, page: Page) -> None:
    """Promise: charts and drawings say what they show."""
    at(page, address, "")
    settled(page)
    charts = page.locator(".scatter, svg.marks, canvas.marks, [role=img]")
    assert charts.count() > 1
    silent = "found => found.filter(each => !each.closest('[aria-label]') && !each.querySelector('title')).length"
    assert charts.evaluate_all(silent) == 0
    assert page.evaluate("[...document.querySelectorAll('img')].filter(each => !each.alt.trim()).length") == 0
