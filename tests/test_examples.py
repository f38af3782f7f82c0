"""Promise to the newcomer: the worked examples in the docstrings run, and give what they say."""

from __future__ import annotations

import doctest
import importlib

import pytest

# Every module that has one; those called first do.
EXPLAINED = (
    "engine.acoustics.figures",
    "engine.acoustics.filters",
    "engine.built",
    "engine.evaluate",
    "engine.formats.scenario",
    "engine.judged",
    "engine.quantities",
    "engine.insight.reasons",
    "engine.insight.tolerance",
    "engine.search.runs",
    "engine.space.sawn",
    "engine.space.sizes",
    "engine.wiring",
    "explorer.what_changed",
)


@pytest.mark.parametrize("name", EXPLAINED)
def test_examples_run(name: str) -> None:
    """What stands behind >>> gives what stands below it."""
    result = doctest.testmod(importlib.import_module(name))
    assert result.attempted > 0
    assert result.failed == 0
