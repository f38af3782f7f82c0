"""Designs of a shortlist compared in words: promises to the user."""

from __future__ import annotations

import dataclasses

from engine.report.compared import beside
from engine.report.portrait import Portrait
from tests.report.sheets import altered


def test_loudness_over_different_music_bands_is_not_compared(portraits: list[Portrait]) -> None:
    first, other = portraits[:2]
    goals = dataclasses.replace(other.scenario.goals, music_band=(40.0, 90.0))
    other = altered(other, scenario=dataclasses.replace(other.scenario, goals=goals))
    assert "maximum output" not in beside(first, other, "metric")


def test_the_same_design_is_much_the_same(portraits: list[Portrait]) -> None:
    twin = Portrait(portraits[0].design, "B")
    assert beside(portraits[0], twin, "metric") == "Beside A, B is much the same."
