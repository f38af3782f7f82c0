"""How vents may lie, as numbers: through which panel, and where beside the drivers; words are the openings'."""

from __future__ import annotations

NONE, SIDE, STRAIGHT, BENT, SLOT_SIDE, SLOT_BAFFLE = range(6)
NOWHERE, LOW, HIGH, BESIDE = range(4)
# Panels that pipes may go out through: the left side or the drivers' own, the drivers' own alone, the top.
USUAL, DRIVERS, TOP = range(3)
