"""Names that try to be more, in a real browser without a network: promises to the user, nothing runs or is asked for.

What pages ask of other places than the explorer itself is recorded and refused.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from explorer.session import JobStore
from tests.explorer.browsing import PATIENCE, opened
from tests.explorer.hostile import MARK, hostile_job
from tests.explorer.test_accessibility import settled

PLACES = ("", "space-parts", "shortlist", "build-sheet", "as-built", "given-box", "jobs", "words")

# What a name could have become: with what is in it, a link, picture, icon, formula, letters in bold or colour.
_BECAME = """mark => [...document.querySelectorAll('a, img, b, strong, em, .katex, script, iframe, [role=img]')]
  .filter(each => {
    if (each.tagName === 'A') return /evil\\.invalid|^javascript:|^mailto:/.test(each.href);
    if (each.tagName === 'IMG') return !/^(data:image\\/|https?:\\/\\/(localhost|127\\.0\\.0\\.1))/.test(each.src);
    return ['B', 'EM'].includes(each.tagName) && ['r', 's', '&'].includes(each.textContent.trim())
      || each.tagName === 'STRONG' && each.textContent.trim() === 's'
      || each.matches('.katex, iframe')
      || each.matches('[aria-label="home icon"]');
  }).map(each => each.outerHTML.slice(0, 300))"""


class Seen(NamedTuple):
    """A page on a job whose every name is hostile: the explorer's address, the job's id, what it asked, what ran."""

    page: Page
    address: str
    job: str
    asked: list[str]
    ran: list[str]


@pytest.fixture(scope="module")
def seen(browser: Browser, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Seen]:
    folder = tmp_path_factory.mktemp("hostile")
    job = hostile_job()
    JobStore(folder / "state").save(job)
    with opened(folder) as running:
        context = browser.new_context(viewport={"width": 1400, "height": 900})
        context.set_default_timeout(PATIENCE)
        asked: list[str] = []
        ran: list[str] = []

        def let_through(route: Route) -> None:
            if route.request.url.startswith(running.address):
                route.continue_()
            else:
                asked.append(route.request.url)
                route.abort()

        context.route("**/*", let_through)
        page = context.new_page()
        page.on("dialog", lambda dialog: (ran.append(dialog.message), dialog.dismiss()))
        page.on("pageerror", lambda error: ran.append(str(error)))
        page.goto(running.entry)
        settled(page)
        yield Seen(page, running.address, job.id, asked, ran)
        context.close()


def check(page: Page, asked: list[str], ran: list[str]) -> None:
    assert page.evaluate(_BECAME, MARK) == []
    assert page.evaluate("window.hit === undefined && top.hit === undefined")
    assert [url for url in asked if not url.startswith(("data:", "blob:"))] == []
    assert ran == []


@pytest.mark.parametrize("place", PLACES)
def test_no_page_asks_for_or_does_what_a_name_says(place: str, seen: Seen) -> None:
    """Every page and each of its parts; the name is there to be read."""
    page, address, job, asked, ran = seen
    page.goto(f"{address}/{place}?job={job}")
    settled(page)
    if place != "words":
        expect(page.get_by_text(MARK).first).to_be_attached()
    check(page, asked, ran)
    for group in range(page.get_by_role("radiogroup").count()):
        options = page.get_by_role("radiogroup").nth(group).get_by_role("radio")
        for number in range(options.count()):
            options.nth(number).click(force=True)
            settled(page)
            check(page, asked, ran)
    for number in range(min(page.get_by_test_id("stPopoverButton").count(), 4)):
        page.get_by_test_id("stPopoverButton").nth(number).evaluate("button => button.click()")
        settled(page)
        check(page, asked, ran)
        page.keyboard.press("Escape")


def test_a_name_hovered_over_in_a_chart_is_text(seen: Seen) -> None:
    """What stands beside a mark while the pointer is on it: letters alone."""
    page, address, job, asked, ran = seen
    page.goto(f"{address}/?job={job}")
    settled(page)
    for chart in page.get_by_test_id("stVegaLiteChart").all()[:3]:
        chart.scroll_into_view_if_needed()
        box = chart.bounding_box()
        assert box is not None
        for across in range(1, 12):
            page.mouse.move(box["x"] + across * box["width"] / 12, box["y"] + box["height"] / 2)
            check(page, asked, ran)
