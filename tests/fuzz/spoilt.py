"""Tables spoilt in ways that people and programs spoil them, for readers of TOML."""

from __future__ import annotations

import copy
from typing import Any

import tomli_w
from hypothesis import strategies as st

_UNITS = ["mm", "cm", "m", "in", '"', "ft", "Hz", "kHz", "kg", "g", "lb", "oz", "ohm", "W", "V", "mH", "L", "EUR", "°"]
_FIGURES = st.one_of(
    st.floats(allow_nan=True, allow_infinity=True),
    st.integers(-(10**25), 10**25),
    st.sampled_from([0, -1, 1, 1e-320, 1e308, 18, 0.5]),
)
_QUANTITIES = st.builds("{} {}".format, _FIGURES, st.sampled_from(_UNITS))
_WORDS = st.text(max_size=30)
_LEAVES = st.one_of(_FIGURES, _QUANTITIES, _WORDS, st.booleans(), st.datetimes(), st.times(), st.just("9" * 5_000))
VALUES = st.recursive(
    _LEAVES, lambda inner: st.lists(inner, max_size=4) | st.dictionaries(_WORDS, inner, max_size=4), max_leaves=8
)


def places(here: Any, path: tuple[Any, ...] = ()) -> list[tuple[Any, ...]]:
    """Every place in nested tables and lists, but for the top."""
    inner = here.items() if isinstance(here, dict) else enumerate(here) if isinstance(here, list) else ()
    return [found for key, value in inner for found in ((*path, key), *places(value, (*path, key)))]


@st.composite
def spoilt(draw: st.DrawFn, tables: dict[str, Any]) -> dict[str, Any]:
    """``tables`` with one to four places changed, taken out, doubled, called otherwise or put elsewhere."""
    found = copy.deepcopy(tables)
    for _ in range(draw(st.integers(1, 4))):
        there = places(found)
        if not there:
            break
        *way, last = draw(st.sampled_from(there))
        here: Any = found
        for key in way:
            here = here[key]
        match draw(st.sampled_from(["value", "away", "twice", "named", "moved", "deep"])):
            case "value":
                here[last] = draw(VALUES)
            case "away":
                del here[last]
            case "twice" if isinstance(here, list):
                here.insert(last, copy.deepcopy(here[last]))
            case "named" if isinstance(here, dict):
                here[draw(_WORDS)] = here.pop(last)
            case "moved":
                found[draw(_WORDS)] = copy.deepcopy(here[last])
            case "deep":
                value: Any = here[last]
                for _ in range(draw(st.sampled_from([1, 5, 90]))):
                    value = {"in": value}
                here[last] = value
    return found


def as_toml(tables: dict[str, Any]) -> bytes:
    """The text of tables; what UTF-8 cannot say is left out."""
    return tomli_w.dumps(tables).encode("utf-8", "ignore")


@st.composite
def edited(draw: st.DrawFn, text: bytes, words: tuple[str, ...]) -> bytes:
    """``text`` with one to six stretches taken out, doubled, or replaced by bytes, figures or ``words``."""
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(text)))
        past = draw(st.integers(at, min(len(text), at + draw(st.sampled_from([0, 1, 8, 200])))))
        instead = draw(
            st.one_of(
                st.binary(max_size=8),
                _FIGURES.map(lambda figure: str(figure).encode()),
                st.sampled_from([text[at:past] * 2, b"", b"\n", b"\x00", *(word.encode() for word in words)]),
            )
        )
        text = text[:at] + instead + text[past:]
    return text
