"""How vents may lie, as numbers and in words: through which panel, and where beside the drivers."""

from __future__ import annotations

VENT_PLACEMENTS = (
    "none",
    "through side",
    "through baffle",
    "through baffle, bent",
    "slot through side",
    "slot through baffle",
)
VENT_WHERE = ("", "low", "high", "beside")
NONE, SIDE, STRAIGHT, BENT, SLOT_SIDE, SLOT_BAFFLE = range(6)
NOWHERE, LOW, HIGH, BESIDE = range(4)
