"""What panels say of a design, promises to the user: a filter worth having, or what else to do."""

from __future__ import annotations

import math
from typing import Any

import pytest

from engine.judged import Recommendation
from explorer.panels import advice_in_words

ADVISED: dict[str, Any] = {
    "needed": True,
    "order": 2,
    "shape": "butterworth",
    "q": math.nan,
    "hz": 27.3,
    "f3_without": 31.2,
    "f3_with": 32.0,
    "turned_down_db": 2.1,
}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {},
            (
                "To keep the cone within Xmax at full power: **Butterworth high-pass at 27.3 Hz, 12 dB per octave**; "
                "f3 goes from 31.2 Hz to 32.0 Hz. Without a filter, turn the gain down by 2.1 dB."
            ),
        ),
        (
            {"f3_with": 31.2},
            (
                "To keep the cone within Xmax at full power: **Butterworth high-pass at 27.3 Hz, 12 dB per octave**; "
                "f3 stays at 31.2 Hz. Without a filter, turn the gain down by 2.1 dB."
            ),
        ),
        (
            # A second-order section of Q 2 peaks at 20 lg(2 / sqrt(1 - 1/16)) = 6.30 dB.
            {"shape": "own", "q": 2.0, "hz": 42.0, "f3_with": 28.0},
            (
                "To keep the cone within Xmax at full power: **Q 2.00 high-pass at 42.0 Hz, 12 dB per octave**; "
                "f3 goes from 31.2 Hz to 28.0 Hz. That Q raises the bass by 6.3 dB just above this frequency; "
                "the amplifier must let you set it. Without a filter, turn the gain down by 2.1 dB."
            ),
        ),
        (
            {"hz": math.nan},
            "None of those tried keeps the cone within Xmax at full power: turn the gain down by 2.1 dB instead.",
        ),
        (
            {"needed": False, "hz": math.nan, "turned_down_db": 0.0},
            "None is needed: the cone stays within Xmax at full power without one.",
        ),
    ],
)
def test_a_high_pass_is_recommended_with_what_it_costs(changes: dict[str, Any], said: str) -> None:
    assert advice_in_words(Recommendation(**{**ADVISED, **changes}), "metric") == said
