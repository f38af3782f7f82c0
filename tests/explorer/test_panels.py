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
    "levels": ((30.0, 95.04, 95.0), (40.0, 99.0, 101.04)),
}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        (
            {},
            (
                "To play loudest at one setting of the gain: **Butterworth high-pass at 27.3 Hz, 12 dB per octave**. "
                "It then plays no louder at 30 Hz and 2.0 dB louder at 40 Hz than turned down by 2.1 dB without a "
                "filter; f3 goes from 31.2 Hz to 32.0 Hz."
            ),
        ),
        (
            {"f3_with": 31.2, "levels": ((30.0, 95.0, 94.8), (40.0, 99.0, 101.0), (50.0, 100.0, 102.0))},
            (
                "To play loudest at one setting of the gain: **Butterworth high-pass at 27.3 Hz, 12 dB per octave**. "
                "It then plays 0.2 dB quieter at 30 Hz, 2.0 dB louder at 40 Hz and 2.0 dB louder at 50 Hz than turned "
                "down by 2.1 dB without a filter; f3 stays at 31.2 Hz."
            ),
        ),
        (
            # A second-order section of Q 2 peaks at 20 lg(2 / sqrt(1 - 1/16)) = 6.30 dB.
            {"shape": "own", "q": 2.0, "hz": 42.0, "f3_with": 28.0},
            (
                "To play loudest at one setting of the gain: **Q 2.00 high-pass at 42.0 Hz, 12 dB per octave**. "
                "It then plays no louder at 30 Hz and 2.0 dB louder at 40 Hz than turned down by 2.1 dB without a "
                "filter; f3 goes from 31.2 Hz to 28.0 Hz. That Q raises the bass by 6.3 dB just above this frequency; "
                "the amplifier must let you set it."
            ),
        ),
        (
            {"hz": math.nan},
            "None of those tried lets it play louder than it does turned down by 2.1 dB without a filter.",
        ),
        (
            {"needed": False, "hz": math.nan, "turned_down_db": 0.0},
            "None is needed: nothing passes a limit at full power without one.",
        ),
    ],
)
def test_a_high_pass_is_recommended_with_what_it_costs(changes: dict[str, Any], said: str) -> None:
    assert advice_in_words(Recommendation(**{**ADVISED, **changes}), "metric") == said
