"""Names that try to be more, on every page: promises to the user that they are shown as they are and do nothing."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from streamlit.proto.Element_pb2 import Element
from streamlit.testing.v1 import AppTest

from explorer.markdown import plain
from explorer.session import JobStore
from tests.explorer.hostile import MARK, NAME, hostile_job, numbered
from tests.explorer.pages import Opener, job_of, sound, words_on

# What is shown as it is, by message and field of what Streamlit sends; all other text is Markdown.
SHOWN_AS_IT_IS = {
    "TextInput.default", "TextInput.value", "TextArea.default", "TextArea.value", "TextInput.placeholder",
    "Selectbox.options", "Selectbox.raw_value", "MultiSelect.options", "Image.alt", "Image.alt_text",
    "ArrowVegaLiteChart.alt", "VegaLiteChart.alt", "BidiComponent.json",
}  # fmt: skip
UNIT = f" {MARK}<b>[x](http://evil.invalid)"  # in place of millimetres
ESCAPED = sorted({str(plain(numbered(number))) for number in range(1, 20)} | {
    str(plain(part)) for part in (UNIT.strip(), NAME, NAME[:80], NAME[-80:], NAME[:40], f"{NAME}.toml")
}, key=len, reverse=True)  # fmt: skip


_NOTHING = Element()


def texts(message: Any) -> Iterator[tuple[str, str]]:
    """Every text of a message to the browser, and which it is."""
    for field, value in message.ListFields():
        place = f"{message.DESCRIPTOR.name}.{field.name}"
        for each in value if isinstance(value, list) or hasattr(value, "append") else [value]:
            if hasattr(each, "ListFields"):
                yield from texts(each)
            elif isinstance(each, str):
                yield place, each


def elements(block: Any) -> Iterator[Any]:
    """All elements and blocks below one."""
    for child in block.children.values():
        yield child
        if hasattr(child, "children"):
            yield from elements(child)


def untamed(test: AppTest) -> list[str]:
    """What on a page holds a name that is not kept from being Markdown; and where."""
    found = []
    for element in elements(test._tree):
        proto = getattr(element, "proto", None)
        for place, text in texts(proto) if proto is not None else ():
            if MARK not in text or place in SHOWN_AS_IT_IS or place.endswith(".id"):
                continue
            left = text.replace("\N{NO-BREAK SPACE}", " ")
            for escaped in ESCAPED:
                left = left.replace(escaped, "")
            if MARK in left:
                found.append(f"{place}: {left[:300]}")
        if type(element).__name__ == "Table":
            value = element.value
            cells = [str(cell) for cell in [*value.columns, *value.index, *value.to_numpy().ravel()]]
            found += [f"table: {cell[:200]}" for cell in cells if MARK in cell and re.search(r"(?<!\\)[\[<$*]", cell)]
    return found


@pytest.fixture
def hostile(opened: Opener, state_directory: Path) -> AppTest:
    """The explorer on the job whose every name is hostile."""
    job = hostile_job()
    JobStore(state_directory).save(job)
    test = opened(None, job=job.id)
    sound(test)
    return test


def parts(test: AppTest, key: str) -> list[str]:
    chosen = [each for each in test.get("button_group") if each.key and each.key.startswith(key)]
    return [option.content for each in chosen for option in each.proto.options]


def each_part(test: AppTest, key: str) -> Iterator[str]:
    """The page with one after the other of its parts."""
    job = job_of(test)
    for part in parts(test, f"{key}:{job.id}"):
        test.segmented_control(key=f"{key}:{job.id}").set_value(part).run()
        sound(test)
        yield part


def tamed(test: AppTest, where: str) -> None:
    """Names are on the page, and all of them as they should be."""
    messages = [getattr(each, "proto", None) or _NOTHING for each in elements(test._tree)]
    assert any(MARK in text for message in messages for _, text in texts(message))
    assert not untamed(test), where


def test_trade_offs_with_each_part(hostile: AppTest) -> None:
    """Promise."""
    tamed(hostile, "first")
    for key in ("pick-part", "front-part"):
        for part in each_part(hostile, key):
            tamed(hostile, part)


def test_space_and_parts_with_each_form(hostile: AppTest) -> None:
    """Promise; and with every field at fault, so that messages are seen too."""
    hostile.switch_page("views/space_parts.py").run()
    job = job_of(hostile)
    labels = hostile.segmented_control(key=f"group:{job.id}").options
    for part in labels:
        hostile.segmented_control(key=f"group:{job.id}").set_value(part).run()
        sound(hostile)
        tamed(hostile, str(part))
    job.document = json.loads(json.dumps(job.document).replace(" mm", UNIT))
    job.revision += 1
    for part in labels:
        hostile.segmented_control(key=f"group:{job.id}").set_value(part).run()
        sound(hostile)
        tamed(hostile, f"{part}, at fault")
    assert str(plain(UNIT.strip())) in words_on(hostile)


@pytest.mark.parametrize("page", ["space_parts", "given_box"])
def test_files_and_pieces_that_a_page_has_no_field_for(hostile: AppTest, page: str) -> None:
    """Promise: a measured cabin's file and the pieces of a given box, which a scenario from elsewhere may name."""
    job = job_of(hostile)
    piece = {"name": numbered(300), "panel": numbered(301), "across": NAME, "section": [[NAME, NAME]]}
    job.document = {**job.document, "cabin": {"file": numbered(302)}, "given": {"driver": NAME}, "built": [piece]}
    job.revision += 1
    hostile.switch_page(f"views/{page}.py").run()
    sound(hostile)
    tamed(hostile, page)
    if page == "space_parts":
        assert "the measurement lies in a file of its own" in words_on(hostile)


@pytest.mark.parametrize("page", ["shortlist", "jobs", "given_box", "new_job", "words"])
def test_pages_without_parts(hostile: AppTest, page: str) -> None:
    """Promise."""
    hostile.switch_page(f"views/{page}.py").run()
    sound(hostile)
    tamed(hostile, page)
    for key in ("take-pick", "invented"):
        for button in hostile.button:
            if button.key == key:
                button.click().run()
                sound(hostile)
                tamed(hostile, f"{page}, {key}")


def test_the_build_sheet_with_each_part(hostile: AppTest) -> None:
    """Promise."""
    hostile.switch_page("views/build_sheet.py").run()
    tamed(hostile, "first")
    for part in each_part(hostile, "build-part"):
        tamed(hostile, part)


def test_as_built_with_a_sweep_of_such_a_name(hostile: AppTest) -> None:
    """Promise."""
    hostile.switch_page("views/as_built.py").run()
    hostile.button(key="invented").click().run()
    job = job_of(hostile)
    job.sweeps = {of: {**sweep, "name": NAME} for of, sweep in job.sweeps.items()}
    hostile.run()
    sound(hostile)
    assert "box" in job.sweeps
    tamed(hostile, "as built")
