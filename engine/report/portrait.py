"""One design of a front made ready to be shown: its curves and what is marked on them."""

from __future__ import annotations

import dataclasses
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from engine.acoustics.cabin import EstimatedCabin
from engine.acoustics.curves import Curves
from engine.quantities import Units
from engine.report.ink import Ink
from engine.report.lines import FREQUENCY, Drawing, Floats, Trace
from engine.scenario import Scenario
from engine.search.front import cabin_gain, curves_of, told


@dataclass(frozen=True, kw_only=True)
class Portrait:
    """A row of a front, the scenario it was found for, and its curves (1, F) over ``FREQUENCY``.

    ``cabin_db`` (F,) is what the vehicle adds, nan where the scenario says nothing of it; ``model_ends`` says
    in sentences where the model stops for this design.
    """

    letter: str
    scenario: Scenario
    row: Mapping[str, Any]
    curves: Curves
    cabin_db: Floats
    model_ends: tuple[str, ...] = ()

    @property
    def cabin(self) -> str:
        """Where the vehicle's gain comes from: "estimate", "measured", or nothing."""
        if self.scenario.cabin is None:
            return ""
        return "estimate" if isinstance(self.scenario.cabin, EstimatedCabin) else "measured"

    @property
    def trace(self) -> Trace:
        row = self.row
        drivers = {candidate.driver.name: candidate.driver for candidate in self.scenario.candidates}
        radiators = {
            candidate.radiator.name: candidate.radiator for candidate in self.scenario.stock.listed("radiator")
        }
        return Trace(
            letter=self.letter,
            f3_hz=float(row["f3_hz"]),
            f3_cabin_hz=float(row["f3_cabin_hz"]),
            tuning_hz=float(row["tuning_hz"]),
            xmax_m=drivers[row["driver"]].xmax,
            radiator_xmax_m=radiators[row["radiator"]].xmax if row["radiator_count"] else np.nan,
            vented=row["box_kind"] == "vented",
            vent_speed_limit_m_s=self.scenario.goals.vent_speed_limit,
            first_mode_hz=float(row["first_mode_hz"]),
            vent_resonance_hz=float(row["vent_resonance_hz"]),
            cabin=self.cabin,
        )


def portray(scenario: Scenario, row: Mapping[str, Any], letter: str = "") -> Portrait:
    """Work out the curves of one row."""
    curves = curves_of(scenario, pd.DataFrame([dict(row)]), FREQUENCY)
    gain = cabin_gain(scenario, FREQUENCY)
    return Portrait(
        letter=letter,
        scenario=scenario,
        row=row,
        curves=curves,
        cabin_db=np.full(len(FREQUENCY), np.nan) if gain is None else gain,
        model_ends=tuple(told(scenario, pd.Series(dict(row)))),
    )


def lay_over(portraits: Sequence[Portrait], *, units: Units, ink: Ink, hover: bool) -> Drawing:
    """The curves of one or more designs in one drawing."""
    fields = [field.name for field in dataclasses.fields(Curves)]
    stacked = {name: np.concatenate([getattr(p.curves, name) for p in portraits]) for name in fields}
    return Drawing(
        curves=Curves(**stacked),
        cabin_db=np.stack([portrait.cabin_db for portrait in portraits]),
        frequency=FREQUENCY,
        traces=[portrait.trace for portrait in portraits],
        units=units,
        ink=ink,
        hover=hover,
    )
