"""What each limit that stops one design is worth: loosened by a step, what each goal gains with all others as good.

The same as a price along the front (:mod:`engine.insight.price`), asked of one design only: job and changed jobs are
searched together in its surroundings, all judged exactly.  What is found for the job as it is is no gain.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from concurrent.futures import Executor
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from engine.arrays import Floats
from engine.goals import GOALS
from engine.insight.changes import Change, changes
from engine.insight.price import ahead_at, bought, noticed, searched_together
from engine.quantities import Units
from engine.scenario import Scenario
from engine.search.front import turned
from engine.words.voice import first_down, listed

REPEATS = 2
EFFORT = 8_192  # designs tried for each change in each repeat
ANOTHER_BOX = ("driver",)  # changes that no box of before can follow


@dataclass(frozen=True)
class Worth:
    """What one change is worth to a design: by goal how much better, in the goal's unit.

    Columns are goals; rows as those of :class:`engine.insight.price.Price`.
    """

    change: Change
    gained: pd.DataFrame

    def told(self, units: Units, currency: str = "") -> str:
        """It as a sentence; empty where it is worth nothing that shows."""
        better = [bought(key, self.gained.iloc[0][key], units, currency) for key in noticed(self.gained)]
        return f"{self.change.words(units)}: it then {', or '.join(better)}." if better else ""


def worths(
    scenario: Scenario, row: Mapping[str, Any], *, asked: Sequence[Change] | None = None,
    progress: Callable[[float], None] = lambda share: None, cancelled: Callable[[], bool] = lambda: False,
    helpers: Executor | None = None,
) -> list[Worth]:  # fmt: skip
    """What each of the :func:`engine.insight.changes.changes` of a job, or of those ``asked``, is worth to a design.

    ``row`` is its row of a front of the job.  ``progress`` is told the share that is done.  Once ``cancelled`` it ends
    with what is done; that may be nothing.

    Raises KeyError where the scenario has no such driver, wiring, radiator or filter.
    """
    found = [each for each in changes(scenario) if each.what not in ANOTHER_BOX] if asked is None else list(asked)
    pick, keys = pd.DataFrame([dict(row)]), scenario.goals.objectives
    (here,) = turned(pick, keys)
    pairs = searched_together(
        scenario, found, near=pick, effort=EFFORT, repeats=REPEATS, progress=progress,
        cancelled=cancelled, helpers=helpers,
    )  # fmt: skip
    return [Worth(change, pd.DataFrame([gained(here, *both, keys) for both in parts])) for change, parts in pairs]


def gained(here: Floats, F: Floats, other: Floats, keys: Sequence[str]) -> dict[str, float]:
    """By how much the best of another front is ahead in each goal, in its unit, all else as good as a design ``here``.

    Objectives are (k,) and (n, k), less is better; both fronts hold the design.
    """
    same = np.array([0.5 * GOALS[key].noticed for key in keys])  # rounded figures, so half of their last digit
    return dict(zip(keys, ahead_at(here, F, other, within=same), strict=True))


def in_sentences(found: Sequence[Worth], units: Units, currency: str = "") -> list[str]:
    """What limits are worth to a design, in sentences: those that are worth something, then the names of the others."""
    said = [(each.change, each.told(units, currency)) for each in found]
    told = [sentence for _, sentence in said if sentence]
    if silent := [change.words(units) for change, sentence in said if not sentence]:
        silent = [silent[0], *map(first_down, silent[1:])]
        told.append(f"{listed(silent)}: nothing that shows.")
    return told
