"""JSON from outside: analytic limits of depth and length, and that what passes can be written again."""

from __future__ import annotations

import json
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from engine.errors import InputFaults
from engine.seal import is_sealed, sealed
from engine.untrusted import DEEPEST, LONGEST_NUMBER, TooDeep, check_depth, mended, parsed
from explorer.session import as_document


def nested(depth: int) -> Any:
    found: Any = 1
    for _ in range(depth):
        found = {"a": [found]} if depth % 2 else {"a": found}
    return found


def test_depth_is_bounded() -> None:
    text = "[" * DEEPEST + "]" * DEEPEST
    assert parsed(text) is not None
    for deep in (DEEPEST + 1, 900, 200_000):
        with pytest.raises(TooDeep):
            parsed("[" * deep + "]" * deep)
    with pytest.raises(InputFaults, match="nested too deeply"):
        as_document(nested(3_000), "x.toml")
    check_depth(nested(DEEPEST))


@pytest.mark.parametrize("number", ["1" * (LONGEST_NUMBER + 1), "0." + "1" * LONGEST_NUMBER, "9" * 20_000])
def test_numbers_are_bounded(number: str) -> None:
    with pytest.raises(ValueError, match="a number too long"):
        parsed(f"[{number}]")


def test_many_values_are_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("engine.untrusted.MOST_VALUES", 10)
    with pytest.raises(TooDeep):
        parsed("[1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11]")


TEXTS = st.text(alphabet=st.characters(codec=None), max_size=8)


@given(
    st.recursive(
        TEXTS | st.integers() | st.booleans() | st.none(), lambda each: st.lists(each) | st.dictionaries(TEXTS, each)
    )
)
def test_what_passes_can_be_written_again(value: Any) -> None:
    """Whatever text is in it, halves of pairs too, as escapes or as they are."""
    for escaped in (True, False):
        found = parsed(json.dumps(value, ensure_ascii=escaped))
        json.dumps(found, ensure_ascii=False).encode("utf-8")
        assert parsed(json.dumps(found)) == found


@given(TEXTS)
def test_sound_text_is_left_as_it_is(text: str) -> None:
    mended(text).encode("utf-8")
    if not any(0xD800 <= ord(sign) < 0xE000 for sign in text):
        assert mended(text) == text


@given(st.dictionaries(st.text(max_size=5), st.floats(allow_nan=False) | st.integers() | st.text()))
def test_a_seal_holds_through_a_file_and_breaks_with_any_change(record: dict[str, Any]) -> None:
    whole = json.loads(json.dumps(sealed(record)))
    assert is_sealed(whole)
    assert not is_sealed({**whole, "more": 1})
    assert not is_sealed(record)
