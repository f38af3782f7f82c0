"""The picking surface in a real browser: linked views, ranges drawn and typed, the keyboard, narrow windows.

Each is a promise to the user that Streamlit's headless test frame cannot check.  The page holds the surface alone, with
a stored front; nothing is judged.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from typing import Any

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from explorer.demo_fronts import stored_front
from tests.explorer.browsing import PATIENCE, served

FRONT = stored_front("van-bench").front

PAGE = """
import json

import streamlit as st

from engine.formats.scenario import demo_scenarios, read_document, read_scenario
from engine.report.ink import LIGHT
from explorer.charts import Look
from explorer.choices import representative, worth_an_axis
from explorer.demo_fronts import found_for
from explorer.narrowing import BEYOND, named, passing
from explorer.picking import axes_of, quick_picks
from explorer.session import Job, as_document, choose
from explorer.surface import acts, surface
from explorer.surface_acts import beside, do
from explorer.surface_data import bounds_shown, written

path = demo_scenarios()["van-bench"]
asked, look = read_scenario(path).goals, Look(units="metric", currency="USD", ink=LIGHT)
if "job" not in st.session_state:
    document = as_document(read_document(path))
    st.session_state["job"] = Job(id="tested", source="", document=document, found=found_for(document))
job = st.session_state["job"]
front = job.found.front
keys = worth_an_axis(front, asked.objectives)
objectives = [key for key in asked.objectives if key in keys]


def take():
    st.session_state["fault"] = None
    for act in acts("surface"):
        st.session_state["fault"] = do(job, act, keys=keys, look=look, asked=asked)


passed = front[passing(front, job.filters)]
few = passed.index[representative(passed, objectives, most=36)]
surface(
    front=written(front, keys, objectives, look),
    ink=LIGHT,
    dark=False,
    axes=axes_of(job, keys, objectives),
    beside=beside(job.axes, keys, objectives, job.filters),
    few=list(few),
    marks={},
    key="surface",
    on_act=take,
    ranges=bounds_shown(job.filters, keys, look),
    names={name: job.filters[name] for name in named(front) if name in job.filters},
    covered=BEYOND in job.filters,
    limits=True,
    quick=quick_picks(passed, objectives, look),
    pick={"id": "D9999", "there": False, "lines": ["Gone"], "figures": {key: f"its {key}" for key in keys}}
    if "gone" in st.query_params
    else job.pick and {"id": job.pick.row["id"], "there": True, "lines": ["The pick"], "waiting": "Curves follow"},
    fault=st.session_state.get("fault"),
)
told = {"pick": job.pick and job.pick.row["id"], "filters": job.filters, "kept": len(passed), "axes": job.axes}
st.text("Python: " + json.dumps(told))
"""


@pytest.fixture(scope="module")
def address(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    folder = tmp_path_factory.mktemp("surface")
    (folder / "page.py").write_text(PAGE, encoding="utf-8")
    with served(folder, folder / "page.py") as address:
        yield address


@pytest.fixture
def page(browser: Browser, address: str) -> Iterator[Page]:
    """The surface, drawn; an error in the page fails the test."""
    errors: list[Exception] = []
    page = browser.new_page(viewport={"width": 1200, "height": 900})
    page.set_default_timeout(PATIENCE)
    page.on("pageerror", lambda error: errors.append(error))
    page.goto(address)
    expect(page.locator(".scatter svg text").first).to_be_visible(timeout=PATIENCE)
    yield page
    page.close()
    assert not errors


def python(page: Page) -> dict[str, Any]:
    told = page.get_by_text("Python: ").inner_text().removeprefix("Python: ")
    known: dict[str, Any] = json.loads(told)
    return known


def until(page: Page, what: str) -> dict[str, Any]:
    """What Python knows, once that matches."""
    expect(page.get_by_text(re.compile(f"^Python: .*{what}"))).to_be_visible(timeout=PATIENCE)
    return python(page)


def box_of(place: Locator) -> Any:
    box = place.bounding_box()
    assert box is not None
    return box


def step(page: Page, *keys: str) -> str:
    page.locator(".scatter").focus()
    for key in keys:
        page.keyboard.press(key)
    return page.locator(".spoken").inner_text()


def test_the_front_is_stepped_through_by_keyboard_and_each_design_is_told_in_words(page: Page) -> None:
    words = step(page, "Home")
    assert re.match(r"1 of \d+\. D\d+: \w+ .*; [\d.]+ dB at 30 Hz, .*weight [\d.]+ kg$", words)
    first = page.locator("h3").inner_text()
    assert until(page, '"pick": "D')["pick"] == first.removeprefix("Pick ")
    assert step(page, "ArrowRight", "ArrowRight").startswith("3 of ")
    assert step(page, "ArrowLeft").startswith("2 of ")
    second = page.locator("h3").inner_text().removeprefix("Pick ")
    assert until(page, f'"pick": "{second}"')
    page.get_by_role("button", name="Next design").click()
    assert page.locator(".spoken").inner_text().startswith("3 of ")
    assert "to 16." in (page.locator(".scatter").get_attribute("aria-label") or "")


def test_the_place_of_the_curves_says_why_there_are_none_yet(page: Page) -> None:
    step(page, "Home")
    until(page, '"pick": "D')
    expect(page.locator(".chart p")).to_have_text("Curves follow")


def test_what_is_pointed_at_in_one_is_marked_in_all(page: Page) -> None:
    step(page, "End")
    box = box_of(page.locator(".scatter"))
    page.mouse.move(box["x"] + 0.5 * box["width"], box["y"] + 0.35 * box["height"])
    spots = [(x / 20, y / 20) for x in range(4, 18) for y in range(2, 16)]
    for across, down in spots:
        page.mouse.move(box["x"] + across * box["width"], box["y"] + down * box["height"])
        if page.locator(".ring.pointed").count():
            break
    pointed = page.locator(".mark.pointed").text_content()
    expect(page.locator("polyline.pointed")).to_have_count(1)
    assert page.locator(".figures thead th").nth(2).inner_text() == pointed
    assert re.search(r"better|worse", page.locator(".figures tbody").inner_text())
    sides = box_of(page.locator(".sides"))
    page.mouse.move(sides["x"] + 0.375 * sides["width"], sides["y"] + 0.5 * sides["height"])
    expect(page.locator(".ring.pointed")).to_have_count(1)


def test_a_box_drawn_in_the_scatter_narrows_all_and_a_click_picks(page: Page) -> None:
    box = box_of(page.locator(".scatter"))
    page.mouse.move(box["x"] + 0.3 * box["width"], box["y"] + 0.15 * box["height"])
    page.mouse.down()
    page.mouse.move(box["x"] + 0.7 * box["width"], box["y"] + 0.7 * box["height"], steps=4)
    page.mouse.up()
    known = until(page, '"weight_kg": ')
    assert set(known["filters"]) == {"weight_kg", "level_30_hz_db"}
    assert 0 < known["kept"] < len(FRONT)
    expect(page.locator(".count strong")).to_have_text(f"{known['kept']} of {len(FRONT)} designs kept")
    assert page.locator(".axis input.set").count() == 4
    page.mouse.click(box["x"] + 0.5 * box["width"], box["y"] + 0.4 * box["height"])
    picked = until(page, '"pick": "D')["pick"]
    assert page.locator("h3").inner_text() == f"Pick {picked}"
    page.get_by_role("button", name="Clear").click()
    assert until(page, '"filters": {}')["kept"] == len(FRONT)


def test_a_range_is_typed_told_wrong_at_its_field_and_drawn_on_its_axis(page: Page) -> None:
    field = page.get_by_label("Weight (kg), no more than")
    field.fill("13 1/2")
    field.press("Enter")
    assert until(page, '"weight_kg"')["filters"] == {"weight_kg": [None, 13.5]}
    expect(field).to_have_value("13.5")
    field.fill("heavy")
    field.press("Enter")
    wrong = page.locator(".fault:not(:empty)")
    expect(wrong).to_contain_text("a mass")
    expect(field).to_have_value("heavy")
    near, at = box_of(wrong), box_of(field)
    assert abs(near["y"] - at["y"]) < 120
    field.fill("")
    field.press("Enter")
    until(page, '"filters": {}')
    expect(page.locator(".fault:not(:empty)")).to_have_count(0)
    # The same by hand: from the middle of the last axis down.
    sides = box_of(page.locator(".sides"))
    x = sides["x"] + 0.875 * sides["width"]
    page.mouse.move(x, sides["y"] + 100)
    page.mouse.down()
    page.mouse.move(x, sides["y"] + 180, steps=4)
    page.mouse.up()
    low, high = until(page, '"weight_kg"')["filters"]["weight_kg"]
    assert 7.9 < low < high < 15.6


def test_kinds_left_out_and_colour_by_kind_or_any_figure(page: Page) -> None:
    page.get_by_label("Closed", exact=True).uncheck()
    known = until(page, '"box_kind"')
    assert "closed" not in known["filters"]["box_kind"]
    expect(page.get_by_label("Closed", exact=True)).not_to_be_checked()
    colour = page.get_by_label("Colour")
    assert {"Kind of box", "Level at 50 Hz"} <= set(colour.locator("option").all_inner_texts())
    colour.select_option(label="Kind of box")
    assert until(page, '"colour"')["axes"]["colour"] == "box_kind"
    colour.select_option(label="Weight")
    light, heavy = (re.escape(f"{end:.1f} kg") for end in (FRONT["weight_kg"].min(), FRONT["weight_kg"].max()))
    expect(page.locator(".legends")).to_contain_text(re.compile(rf"worse {heavy}\s+{light} better"))
    page.get_by_label("Shape").select_option(label="Level at 50 Hz")
    expect(page.locator(".legends")).to_contain_text("best third")
    page.locator("[data-place=beside]").select_option(label="add Outer volume")
    expect(page.get_by_label("Outer volume (L), no more than")).to_be_visible()


@pytest.mark.parametrize("width", [400, 820, 1200])
def test_nothing_stands_over_anything_else_in_narrow_windows(page: Page, width: int) -> None:
    """Promise: axis names never overprint, nothing sticks out, and every range can be reached."""
    page.set_viewport_size({"width": width, "height": 900})
    page.locator("[data-place=beside]").select_option(label="add Worst excursion / Xmax")
    page.wait_for_function("document.documentElement.scrollWidth <= window.innerWidth")
    for name in (".axis .name", ".axis input"):
        boxes = [box_of(place) for place in page.locator(name).all()]
        assert len(boxes) >= 5
        for k, one in enumerate(boxes):
            assert one["x"] >= 0
            assert one["x"] + one["width"] <= width
            for other in boxes[k + 1 :]:
                beside = one["x"] + one["width"] <= other["x"] + 1 or other["x"] + other["width"] <= one["x"] + 1
                below = one["y"] + one["height"] <= other["y"] + 1 or other["y"] + other["height"] <= one["y"] + 1
                assert beside or below


def test_a_pick_that_is_not_on_the_front_keeps_its_figures(page: Page, address: str) -> None:
    page.goto(f"{address}?gone")
    expect(page.locator("h3")).to_have_text("Pick D9999")
    table = page.locator(".figures")
    expect(table.locator("thead th").nth(1)).to_have_text("D9999")
    shown = table.locator("tbody tr td:nth-child(2)").all_inner_texts()
    assert len(shown) > 3
    assert all(text.startswith("its ") for text in shown)
