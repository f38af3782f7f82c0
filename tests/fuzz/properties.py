"""Readers given what Hypothesis makes of files that they take: text edited, and tables spoilt."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import tomli
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from tests.fuzz.readers import Reader, held
from tests.fuzz.spoilt import as_toml, edited, spoilt

SETTINGS: dict[str, Any] = {"deadline": None, "database": None, "suppress_health_check": list(HealthCheck)}


def inputs_of(reader: Reader) -> st.SearchStrategy[bytes]:
    """What a reader is given."""
    seeds = list(reader.seeds())
    found = [edited(seed, reader.words) for seed in seeds]
    if reader.structured:
        found += [spoilt(tomli.loads(seed.decode())).map(as_toml) for seed in seeds]
    return st.one_of(found)


def property_of(reader: Reader, *, examples: int, seen: Callable[[bool], object], **more: Any) -> Callable[[], None]:
    """A check of so many inputs; ``seen`` is told of each whether it was taken.  It raises what no reader should."""

    @settings(max_examples=examples, **SETTINGS, **more)
    @given(inputs_of(reader))
    def check(data: bytes) -> None:
        seen(held(reader, data))

    return check
