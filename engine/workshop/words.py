"""What a drawing says in words below it."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from engine.parts import KeepOut, Space
from engine.quantities import Units, show
from engine.space.panels import length
from engine.workshop.design import Design

Floats = NDArray[np.float64]


def sizes_in_words(design: Design, units: Units) -> str:
    return (
        f"Outside {length(design.width, units)} wide, {length(design.height, units)} high, "
        f"{length(design.top_depth, units)} deep at the top and {length(design.bottom_depth, units)} at the bottom."
    )


def place_in_words(design: Design, space: Space, units: Units) -> str:
    left, forward, up = design.low - np.array([0.0, *np.asarray(space.section).min(axis=0)])
    right = space.width - design.high[0]
    return (
        f"The box stands {length(float(left), units)} from the left end and {length(float(right), units)} from the "
        f"right end of the space, seen from the front; {length(float(forward), units)} forward of its rearmost plane "
        f"and {length(float(up), units)} above its lowest point."
    )


def leans_in_words(design: Design, units: Units) -> str:
    def lean(angle: float) -> str:
        if abs(angle) < 5e-4:
            return "stands upright"
        return f"leans {'forward' if angle > 0.0 else 'back'} by {show(abs(angle), 'angle', units)}"

    back, baffle = design.leans
    return f"From upright, the back {lean(back)} and the baffle {lean(baffle)}."


def keepouts_in_words(keepouts: Sequence[KeepOut], units: Units, *, numbered: bool) -> str:
    """Every keep-out; by its number in the file where that stands in the drawing because a name has no room."""
    named = "; ".join(
        f"{f'{number}, ' if numbered else ''}{keepout.name}, {length(keepout.across[0], units)} to "
        f"{length(keepout.across[1], units)} from the left end"
        for number, keepout in enumerate(keepouts, start=1)
    )
    return f"Kept out: {named}."
