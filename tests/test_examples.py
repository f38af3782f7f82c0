"""Promise to the newcomer: the worked examples in the docstrings run, and give what they say."""

from __future__ import annotations

import doctest
import importlib

import pytest

# Modules with an example for what is called first.
EXPLAINED = (
    "engine.acoustics.figures",
    "engine.acoustics.filters",
    "engine.built",
    "engine.evaluate",
    "engine.formats.scenario",
    "engine.judged",
    "engine.quantities",
    "engine.insight.reasons",
    "engine.search.runs",
    "engine.wiring",
)


@pytest.mark.parametrize("name", EXPLAINED)
def test_examples_run(name: str) -> None:
    """What stands behind >>> gives what stands below it."""
    result = doctest.testmod(importlib.import_module(name))
    assert result.attempted > 0
    assert result.failed == 0
