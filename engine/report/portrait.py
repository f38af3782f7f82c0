"""One design of a front made ready to be shown: its curves and what is marked on them."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from engine.acoustics.curves import Curves
from engine.quantities import Units
from engine.report.curves import FREQUENCY, Drawing, Trace
from engine.report.ink import Ink
from engine.scenario import Scenario
from engine.search.front import curves_of


@dataclass(frozen=True, kw_only=True)
class Portrait:
    """A row of a front, the scenario it was found for, and its curves (1, F) over ``FREQUENCY``."""

    letter: str
    scenario: Scenario
    row: Mapping[str, Any]
    curves: Curves

    @property
    def trace(self) -> Trace:
        row = self.row
        drivers = {candidate.driver.name: candidate.driver for candidate in self.scenario.candidates}
        return Trace(
            letter=self.letter,
            f3_hz=float(row["f3_hz"]),
            tuning_hz=float(row["tuning_hz"]),
            xmax_m=drivers[row["driver"]].xmax,
            vent_speed_limit_m_s=self.scenario.goals.vent_speed_limit,
        )


def portray(scenario: Scenario, row: Mapping[str, Any], letter: str = "") -> Portrait:
    """Work out the curves of one row."""
    curves = curves_of(scenario, pd.DataFrame([dict(row)]), FREQUENCY)
    return Portrait(letter=letter, scenario=scenario, row=row, curves=curves)


def lay_over(portraits: Sequence[Portrait], *, units: Units, ink: Ink, hover: bool) -> Drawing:
    """The curves of one or more designs in one drawing."""
    fields = [field.name for field in dataclasses.fields(Curves)]
    stacked = {name: np.concatenate([getattr(p.curves, name) for p in portraits]) for name in fields}
    return Drawing(
        curves=Curves(**stacked),
        frequency=FREQUENCY,
        traces=[portrait.trace for portrait in portraits],
        units=units,
        ink=ink,
        hover=hover,
    )
