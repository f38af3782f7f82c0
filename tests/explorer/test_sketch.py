"""The cross-section drawn by hand: what may come back from the browser, and a real hand in a real one."""

from __future__ import annotations

import json
import math
import re
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st
from playwright.sync_api import Browser, Page, expect
from streamlit.testing.v1 import AppTest

from engine.quantities import Units, parse
from explorer.sketch import MOST, REACH, as_text, drawn, in_document
from tests.explorer.browsing import PATIENCE, served

SECTION = [["0 mm", "0 mm"], ["520 mm", "0 mm"], ["1 ft 8 in", "300 mm"], ["480 mm", "500 mm"], ["182 mm", "500 mm"]]
SQUARE = [[0.0, 0.0], [0.5, 0], [0.5, 0.4], [0, 0.4]]
PAGE = f"""
import json

import streamlit as st

from explorer.sketch import as_text, drawn, in_document, sketch

state = st.session_state
state.setdefault("section", [] if "empty" in st.query_params else {SECTION})
state.setdefault("taken", 0)
state["runs"] = state.get("runs", 0) + 1


def take():
    corners = drawn(state["sketch"])
    state["taken"] += 1
    if corners is not None:
        state["section"] = as_text(corners, "metric", state["section"])


def elsewhere():
    state["section"] = {SECTION[:4]}


sketch(
    corners=in_document(state["section"]),
    keepouts=[[(0.3, 0.0), (0.4, 0.0), (0.4, 0.1)]],
    units="metric",
    key="sketch",
    on_change=take,
)
st.button("Change it elsewhere", on_click=elsewhere)
st.text("Python: " + json.dumps({{"runs": state["runs"], "taken": state["taken"], "section": state["section"]}}))
"""


def sent(corners: Any, turn: Any = 1) -> dict[str, Any]:
    """What Streamlit keeps for a sketch whose browser sent these corners."""
    return {"drawn": {"turn": turn, "corners": corners}}


def test_what_the_browser_sends_comes_back_as_corners() -> None:
    """User's promise: what was drawn is what the page gets, whole numbers included."""
    assert drawn(sent(SQUARE)) == [(0.0, 0.0), (0.5, 0.0), (0.5, 0.4), (0.0, 0.4)]
    assert len(drawn(sent([[REACH, -REACH]] * MOST)) or []) == MOST


@pytest.mark.parametrize(
    "state",
    [
        None,
        [],
        "drawn",
        {},
        {"drawn": None},
        {"drawn": SQUARE},
        {"drawn": {"turn": 1}},
        sent(None),
        sent("[[0, 0], [1, 0], [1, 1]]"),
        sent({"0": [0, 0]}),
        sent(SQUARE[:2]),
        sent(SQUARE * 16),
        sent([*SQUARE, None]),
        sent([*SQUARE, [0.1]]),
        sent([*SQUARE, [0.1, 0.1, 0.1]]),
        sent([*SQUARE, ["0.1", 0.1]]),
        sent([*SQUARE, [True, 0.1]]),
        sent([*SQUARE, [None, 0.1]]),
        sent([*SQUARE, [math.nan, 0.1]]),
        sent([*SQUARE, [0.1, math.inf]]),
        sent([*SQUARE, [0.1, -math.inf]]),
        sent([*SQUARE, [5.001, 0.1]]),
        sent([*SQUARE, [0.1, -(10**400)]]),
        sent([*SQUARE, {"y": 0.1, "z": 0.1}]),
    ],
)
def test_anything_else_is_no_outline(state: Any) -> None:
    """Proof that checks can fail: a hostile or broken answer from a browser is none, and raises nothing."""
    assert drawn(state) is None


lengths = st.floats(-REACH, REACH, allow_nan=False)


@pytest.mark.parametrize("units", ["metric", "us"])
@given(corners=st.lists(st.tuples(lengths, lengths), min_size=3, max_size=8))
def test_text_of_corners_reads_back(units: Units, corners: list[tuple[float, float]]) -> None:
    """Conservation: corners go through the document's text and back within two nanometres."""
    texts = as_text(corners, units)
    for pair, corner in zip(texts, corners, strict=True):
        assert [parse(text, "length") for text in pair] == pytest.approx(corner, abs=2e-9)
    assert in_document(texts) == [tuple(parse(text, "length") for text in pair) for pair in texts]


@pytest.mark.parametrize(
    ("corner", "units", "texts"),
    [
        ((0.52, 0.3), "metric", ["520 mm", "300 mm"]),
        ((0.1 + 0.2, -0.0), "metric", ["300 mm", "0 mm"]),
        ((0.5234, -0.005), "metric", ["523.4 mm", "-5 mm"]),
        ((20.25 * 0.0254, 0.5 * 0.0254), "us", ["20 1/4 in", "1/2 in"]),
        ((-0.0, -1.75 * 0.0254), "us", ["0 in", "-1 3/4 in"]),
        ((12 * 0.0254, 3.0625 * 0.0254), "us", ["12 in", "3 1/16 in"]),
        ((0.1, 0.0254), "us", ["3.93700787402 in", "1 in"]),
    ],
)
def test_words_for_a_corner(corner: tuple[float, float], units: Units, texts: list[str]) -> None:
    """User's promise: lengths read as people write them, inches as fractions."""
    assert as_text([corner], units) == [texts]


def test_a_corner_that_stays_keeps_its_words() -> None:
    """User's promise: moving one corner does not rewrite what was typed for the others, in whatever units."""
    corners = in_document(SECTION)
    assert corners is not None
    corners[0] = (0.01, 0.0)
    assert as_text(corners, "us", SECTION)[1:] == SECTION[1:]
    assert as_text(corners, "metric", SECTION)[0] == ["10 mm", "0 mm"]
    assert as_text(corners, "metric", ["", None, ["0 mm"], ["", "x"]])[1] == ["520 mm", "0 mm"]


@pytest.mark.parametrize("section", ["", {}, [["", "0 mm"]], [["1 mm", 2]], [[]], [["6 m", "0 m"]], [SECTION[0]] * 61])
def test_corners_that_cannot_be_drawn(section: Any) -> None:
    """Proof that checks can fail: a section with a corner that cannot be read or shown is not drawn on."""
    assert in_document(section) is None
    assert in_document(None) == in_document([]) == []


def test_without_a_browser() -> None:
    """User's promise: the page that holds a sketch runs, also in Streamlit's own frame for tests."""
    page = AppTest.from_string(PAGE).run()
    assert not page.exception
    assert json.loads(page.text[0].value.removeprefix("Python: "))["taken"] == 0


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """A page with nothing but a sketch on it and what Python knows of it."""
    folder = tmp_path_factory.mktemp("sketch")
    (folder / "page.py").write_text(PAGE, encoding="utf-8")
    with served(folder, folder / "page.py") as address:
        yield address


@pytest.fixture
def page(browser: Browser) -> Iterator[Page]:
    """A page of its own; an error in it fails the test."""
    errors: list[Exception] = []
    page = browser.new_page(viewport={"width": 900, "height": 800})
    page.set_default_timeout(PATIENCE)
    page.on("pageerror", lambda error: errors.append(error))
    yield page
    page.close()
    assert not errors


def corner(page: Page, number: int) -> tuple[float, float]:
    """Where a corner is on the screen, px."""
    box = page.locator(".handle").nth(number - 1).locator(".dot").bounding_box()
    assert box is not None
    return box["x"] + box["width"] / 2, box["y"] + box["height"] / 2


def drag(page: Page, number: int, forward: float, up: float) -> None:
    """Drag a corner by mm; the first two corners of the section are 520 mm apart."""
    x, y = corner(page, number)
    scale = (corner(page, 2)[0] - corner(page, 1)[0]) / 520.0
    page.mouse.move(x, y)
    page.mouse.down()
    page.mouse.move(x + 0.5 * scale * forward, y)
    page.mouse.move(x + scale * forward, y - scale * up)
    page.mouse.up()


def expect_taken(page: Page, taken: int) -> dict[str, Any]:
    """What Python knows once it has taken so many outlines."""
    words = page.get_by_text(re.compile(rf'^Python: .*"taken": {taken},'))
    expect(words).to_be_visible(timeout=PATIENCE)
    known: dict[str, Any] = json.loads(words.inner_text().removeprefix("Python: "))
    return known


def test_a_hand_on_the_outline(address: str, page: Page) -> None:
    """User's promise: in a real browser a dragged, added, moved or undone corner is what Python gets, once."""
    page.goto(address)
    expect(page.locator(".handle")).to_have_count(5)
    expect_taken(page, 0)

    drag(page, 4, 40, -30)
    assert expect_taken(page, 1)["section"] == [*SECTION[:3], ["520 mm", "470 mm"], SECTION[4]]
    expect(page.get_by_role("button", name="Corner 4, 520 mm forward, 470 mm up")).to_be_focused()

    # Keys struck one right after another make one outline.
    page.locator(".handle").nth(3).evaluate(
        """handle => [["ArrowLeft", false], ["ArrowUp", true]].forEach(([key, shiftKey]) =>
            handle.dispatchEvent(new KeyboardEvent("keydown", {key, shiftKey, bubbles: true})))"""
    )
    assert expect_taken(page, 2)["section"][3] == ["515 mm", "520 mm"]
    page.keyboard.press("ArrowRight")
    assert expect_taken(page, 3)["section"][3] == ["520 mm", "520 mm"]

    (left, low), (right, _) = corner(page, 1), corner(page, 2)
    page.mouse.click(0.5 * (left + right), low)
    assert expect_taken(page, 4)["section"][1] == ["260 mm", "0 mm"]
    page.keyboard.press("Delete")
    assert len(expect_taken(page, 5)["section"]) == 5
    page.get_by_role("button", name="Undo").click()
    assert expect_taken(page, 6)["section"][1] == ["260 mm", "0 mm"]
    page.get_by_role("button", name="Undo").click()

    expect_taken(page, 7)
    drag(page, 4, -470, -140)
    expect(page.get_by_role("status").filter(has_text="These two sides cross: 3–4 and 5–1.")).to_be_visible()
    expect(page.locator(".side.wrong")).to_have_count(2)

    known = expect_taken(page, 8)
    # A change from elsewhere goes there and back once more: had an outline set off another, that would be counted too.
    page.get_by_role("button", name="Change it elsewhere").click()
    expect(page.locator(".handle")).to_have_count(4)
    expect(page.get_by_text(f'"runs": {known["runs"]},')).to_have_count(0)  # its words may come after its picture
    assert expect_taken(page, 8)["runs"] > known["runs"]


def test_an_outline_from_nothing(address: str, page: Page) -> None:
    """User's promise: corners clicked one after another make an outline once the first is clicked again."""
    page.goto(f"{address}/?empty=1")
    box = page.get_by_role("application").bounding_box()
    assert box is not None
    for across, down in ((0.4, 0.8), (0.7, 0.8), (0.6, 0.3)):
        page.mouse.click(box["x"] + across * box["width"], box["y"] + down * box["height"])
    expect(page.locator(".handle")).to_have_count(3)
    assert expect_taken(page, 0)["section"] == []
    page.mouse.click(*corner(page, 1))
    forward, up = zip(*in_document(expect_taken(page, 1)["section"]) or [], strict=True)
    assert up[0] == up[1] < up[2]
    assert forward[0] < forward[2] < forward[1]


def test_an_outline_without_a_mouse(address: str, page: Page) -> None:
    """User's promise: by keyboard alone an outline is begun, given a corner, and the corner moved."""
    page.goto(f"{address}/?empty=1")
    page.get_by_role("button", name="Start with a rectangle").press("Enter")
    assert expect_taken(page, 1)["section"] == [
        ["0 mm", "0 mm"],
        ["600 mm", "0 mm"],
        ["600 mm", "400 mm"],
        ["0 mm", "400 mm"],
    ]
    page.get_by_role("button", name="Add corner").press("Enter")
    expect_taken(page, 2)
    page.keyboard.press("ArrowDown")
    assert expect_taken(page, 3)["section"][:3] == [["0 mm", "0 mm"], ["300 mm", "-5 mm"], ["600 mm", "0 mm"]]
