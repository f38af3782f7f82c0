"""What panels say of a design, promises to the user: a filter worth having, or what else to do."""

from __future__ import annotations

import math
from typing import Any

import pytest

from engine.search.front import Recommendation
from explorer.panels import advice_in_words

ADVISED: dict[str, Any] = {
    "needed": True,
    "words": "Butterworth, order 2",
    "order": 2,
    "shape": "butterworth",
    "q": math.nan,
    "hz": 27.3,
    "f3_without": 31.2,
    "f3_with": 32.0,
    "excursion_without": 1.27,
    "excursion_with": 1.0,
    "turned_down_db": 2.1,
}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {},
            (
                "To keep the cone within Xmax at full power: **Butterworth, order 2 at 27.3 Hz**; "
                "f3 goes from 31.2 Hz to 32.0 Hz. Without a filter, turn the gain down by 2.1 dB."
            ),
        ),
        (
            {"f3_with": 31.2},
            (
                "To keep the cone within Xmax at full power: **Butterworth, order 2 at 27.3 Hz**; f3 stays at 31.2 Hz. "
                "Without a filter, turn the gain down by 2.1 dB."
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
