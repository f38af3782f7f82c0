"""Every reader of something from outside, fuzzed for a short while; ``python -m tests.fuzz`` does so for long.

Promises to users: what they give is read, or refused in words; nothing else ever comes of it.
"""

from __future__ import annotations

import importlib.util
from pathlib import Path

import pytest

from tests.fuzz.__main__ import SHARES, guided_by_code
from tests.fuzz.properties import property_of
from tests.fuzz.readers import READERS, Unsound, held, holds

EXAMPLES = 40  # of each reader
RUNS = 1_500  # guided by what code they reach


@pytest.mark.parametrize("name", READERS)
def test_what_a_reader_is_given_it_takes_or_refuses_in_words(name: str) -> None:
    seen: list[bool] = []
    property_of(READERS[name], examples=EXAMPLES, seen=seen.append, derandomize=True)()
    assert len(seen) >= EXAMPLES


@pytest.mark.parametrize("name", READERS)
def test_a_fuzzer_starts_from_what_a_reader_takes(name: str) -> None:
    assert all(held(READERS[name], seed) for seed in READERS[name].seeds())


def test_inputs_that_reach_new_code_are_taken_or_refused_in_words(tmp_path: Path) -> None:
    if importlib.util.find_spec("atheris") is None:
        pytest.skip("Atheris has no build for this machine")
    tried, edges, wrong = guided_by_code("all", RUNS, 300, tmp_path / "all", *READERS.values())
    assert wrong == ""
    assert tried == RUNS
    assert edges > 0


def test_every_reader_has_its_share() -> None:
    assert set(SHARES) == set(READERS)


def test_what_does_not_hold_is_told() -> None:
    with pytest.raises(Unsound, match="not so: figures are finite"):
        holds(False, "figures are finite")
