"""How long a change of the job takes to show, in a real browser: from Enter to the front redrawn beside the inputs.

    python -m tests.benchmarks.redraw [DEMO]

Two browsers change the width of a job of their own, first one alone, then both at once.  Told are milliseconds until
the sentence names the change and until the picture beside it has changed and is at rest, which it is where nothing in
it changes for a quarter of a second; and how many processes judge designs.
"""

from __future__ import annotations

import os
import re
import statistics
import subprocess
import sys
import tempfile
from contextlib import suppress
from pathlib import Path

from playwright.sync_api import Browser, Page, expect
from playwright.sync_api import TimeoutError as PlaywrightTimeout

from tests.explorer.browsing import Running, launched, opened

CHROMIUM = "/usr/bin/chromium"
CHANGES = 6  # of the width
STEP = 3.0  # mm
# What is looked at often has to be cheap to look at, else it is what takes the time.
WATCH = """async width => {
    const began = await new Promise(hit => addEventListener('keydown', hit, {capture: true, once: true}));
    return await new Promise(done => {
    const side = document.querySelector('[data-testid=stSidebar]'), found = {};
    const now = () => Math.round(performance.now() - began.timeStamp);
    const drawn = ({target}) => target.closest?.('[data-testid=stVegaLiteChart]');
    const observer = new MutationObserver(seen => { if (seen.some(drawn)) found.picture = now(); });
    observer.observe(side, {subtree: true, childList: true, attributes: true});
    const timer = setInterval(() => {
        const told = side.textContent.includes(`(${width} mm)`);
        if (found.words === undefined && told) found.words = now();
        if (now() > (found.words === undefined ? 60000 : Math.max(found.words, found.picture ?? 0) + 250)) {
            clearInterval(timer); observer.disconnect(); done(found);
        }
    }, 10);
    });
}"""


def main(name: str) -> None:
    with tempfile.TemporaryDirectory() as folder, opened(Path(folder), name) as running, launched(CHROMIUM) as browser:
        _measure(browser, running)


def _measure(browser: Browser, running: Running) -> None:
    one = _opened(browser, running.entry)
    _told("alone", [_changed(one) for _ in range(CHANGES)])
    other = _opened(browser, running.entry)
    taken = []
    for _ in range(CHANGES):
        taken += [_changed(page) for page in (one, other)]
    _told("two at once", taken)
    listed = subprocess.run(["ps", "-A", "-o", "args="], capture_output=True, text=True, check=True)
    print(f"processes that judge designs: {listed.stdout.count('explorer.helpers')} on {os.cpu_count()} cores")


def _opened(browser: Browser, address: str) -> Page:
    """Space & parts of a job of its own, once its search has ended or has been ended."""
    page = browser.new_context(viewport={"width": 1400, "height": 900}).new_page()
    page.set_default_timeout(300_000)
    page.goto(address)
    stop = page.get_by_role("button", name=re.compile("Cancel and keep"))
    with suppress(PlaywrightTimeout):
        stop.click(timeout=30_000)
    page.get_by_role("button", name="Search again").wait_for()
    page.get_by_role("link", name=re.compile("Space & parts")).first.click()
    page.locator("[data-testid=stSidebar] [data-testid=stVegaLiteChart] svg").first.wait_for()
    return page


def _changed(page: Page) -> dict[str, float]:
    field = page.get_by_label(re.compile("^Free width")).first
    expect(field).not_to_have_value("", timeout=60_000)
    width = f"{float(field.input_value().removesuffix(' mm')) + STEP:g}"
    field.fill(f"{width} mm")
    page.evaluate(f"() => {{ window.found = ({WATCH})('{width}') }}")
    field.press("Enter")
    found: dict[str, float] = page.evaluate("() => window.found")
    page.wait_for_timeout(3_000)
    return found


def _told(what: str, taken: list[dict[str, float]]) -> None:
    for name in ("words", "picture"):
        figures = [each[name] for each in taken if name in each]
        print(f"{what}, {name}: median {statistics.median(figures):.0f} ms, {sorted(figures)}", flush=True)


if __name__ == "__main__":
    main(*(sys.argv[1:] or ["van-bench"]))
