"""Designs in words."""

from __future__ import annotations

import pytest

from engine.report.wording import drivers, vents

ROW = {
    "driver": "compact 8",
    "driver_count": 2,
    "driver_rows": 1,
    "facing": "front",
    "vent_count": 2,
    "vent_diameter_m": 0.071,
    "vent_length_m": 0.31,
    "vent_placement": "through side",
}


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "2 × compact 8, side by side"),
        ({"driver_count": 1}, "1 × compact 8"),
        ({"driver_rows": 2}, "2 × compact 8, one above the other"),
        ({"driver_rows": 2, "facing": "down"}, "2 × compact 8, one behind the other, facing down"),
        ({"driver_rows": 2, "driver_count": 4}, "4 × compact 8, 2 to a column"),
        ({"driver_count": 1, "facing": "side"}, "1 × compact 8, facing sideways"),
    ],
)
def test_how_drivers_stand_is_said(changes: dict[str, object], said: str) -> None:
    """User's promise: count, name, how they stand and which way they face."""
    assert drivers({**ROW, **changes}) == said


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, "2 vents, 71 mm bore × 310 mm long each, through the left side"),
        ({"vent_count": 1}, "1 vent, 71 mm bore × 310 mm long, through the left side"),
        (
            {"vent_placement": "through baffle, bent"},
            "2 vents, 71 mm bore × 310 mm long each, through the baffle, with one bend",
        ),
        ({"vent_placement": "through bottom"}, "2 vents, 71 mm bore × 310 mm long each, through the bottom"),
        ({"vent_count": 0, "vent_placement": "none"}, "no vent"),
    ],
)  # fmt: skip
def test_where_vents_go_out_is_said(changes: dict[str, object], said: str) -> None:
    """User's promise: count, bore, length, the panel they go through, and the bend."""
    assert vents({**ROW, **changes}, "metric") == said
