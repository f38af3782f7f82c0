"""What a good builder asks of a box beside the job's goals, so that what is shown first is one that would be built.

Common practice, no source, each bound chosen here: an amplifier much too large, a box that plays one note, a cone
without protection are nothing to open with, though each may stand on a front for what it is best at.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
import pandas as pd

from engine.arrays import Flags
from engine.goals import levels_among
from engine.kinds import KINDS
from engine.words.voice import listed

SPREAD = 12.0  # dB between the loudest and the quietest of the named frequencies
LEAST_POWER = 0.25  # of the amplifier's: turned down by no more than 6 dB
HIGHEST_TUNING = 45.0  # Hz
FAST = 0.1  # Mach: about 34 m/s, where a vent is plainly heard


@dataclass(frozen=True, kw_only=True)
class Criterion:
    """One thing asked of a box: what it has where it keeps it, and which designs of a front do, (N,)."""

    words: str
    plainly: str  # the same of one box, to somebody who buys it
    kept: Callable[[pd.DataFrame], Flags]


def _at_most(front: pd.DataFrame, key: str, most: float) -> Flags:
    """A figure that a design does not have, or that nobody knows, breaks nothing."""
    return ~(front[key].to_numpy(float) > most)


def _even(front: pd.DataFrame) -> Flags:
    levels = front[[key for key in levels_among(map(str, front.columns)) if "_cabin_" not in key]].to_numpy(float)
    return ~(np.ptp(levels, axis=1) > SPREAD) if levels.size else np.ones(len(front), dtype=bool)


def _protected(front: pd.DataFrame) -> Flags:
    tuned = front["box_kind"].map(lambda name: KINDS[name].tuned).to_numpy(bool)
    return np.asarray(~tuned | front["filter_hz"].notna().to_numpy())


CRITERIA = (
    Criterion(
        words="cone, radiator and vent air within their limits",
        plainly="it keeps within what its parts are made for",
        kept=lambda front: (
            _at_most(front, "excursion_ratio", 1.0)
            & _at_most(front, "radiator_ratio", 1.0)
            & _at_most(front, "vent_mach", FAST)
        ),
    ),
    Criterion(
        words="at least a quarter of the amplifier's power in use",
        plainly="it makes good use of the amplifier",
        kept=lambda front: ~(front["power_share"].to_numpy(float) < LEAST_POWER),
    ),
    Criterion(
        words=f"the named frequencies within {SPREAD:.0f} dB of each other",
        plainly="it plays deep and less deep tones about as loud",
        kept=_even,
    ),
    Criterion(
        words=f"no tuning above {HIGHEST_TUNING:.0f} Hz",
        plainly="it is not tuned to the upper bass alone",
        kept=lambda front: _at_most(front, "tuning_hz", HIGHEST_TUNING),
    ),
    Criterion(
        words="a high-pass wherever a box is tuned",
        plainly="it is protected from tones too deep for it",
        kept=_protected,
    ),
    Criterion(
        words="nothing beyond the model",
        plainly="its figures are sure all the way",
        kept=lambda front: (front["beyond_model"] == "").to_numpy(bool),
    ),
)


def broken(front: pd.DataFrame) -> Flags:
    """Which criteria the designs of a front break, (N, criteria)."""
    return np.column_stack([~criterion.kept(front) for criterion in CRITERIA])


def weighed(design: pd.DataFrame) -> str:
    """What the design to look at first was chosen by, a front of it alone, in a sentence or two."""
    asked = listed([criterion.words for criterion in CRITERIA])
    told = (
        f"Balanced: among the boxes with {asked}, the one whose weakest goal the fewest others beat, all goals alike."
    )
    lacks = [criterion.words for criterion, lost in zip(CRITERIA, broken(design)[0], strict=True) if lost]
    return f"{told} No box here has all of that; this one is without {listed(lacks)}." if lacks else told
