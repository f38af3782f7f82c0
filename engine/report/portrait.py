"""Judged designs laid side by side: each with its letter, and what is marked on its curves."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
import pandas as pd

from engine.acoustics.cabin import EstimatedCabin
from engine.acoustics.curves import Curves
from engine.acoustics.limits import LIMITS
from engine.judged import FREQUENCY, JudgedDesign
from engine.kinds import KINDS
from engine.quantities import Units
from engine.report.ink import Ink
from engine.report.lines import Drawing, Trace
from engine.report.wording import distorts
from engine.scenario import Scenario


@dataclass(frozen=True)
class Portrait:
    """A judged design and the letter it bears among others; alone it may go without."""

    design: JudgedDesign
    letter: str = ""

    @property
    def scenario(self) -> Scenario:
        return self.design.scenario

    @property
    def row(self) -> Mapping[str, Any]:
        return self.design.row

    @property
    def cabin(self) -> str:
        """Where the vehicle's gain comes from: "estimate", "measured", or nothing."""
        if self.scenario.cabin is None:
            return ""
        return "estimate" if isinstance(self.scenario.cabin, EstimatedCabin) else "measured"

    def distorts(self, units: Units) -> str:
        """About what it distorts as it is used, in a sentence."""
        vented = KINDS[self.row["box_kind"]].opening == "vent"
        return distorts(self.design.distortion, self.design.stated.driver, vented=vented, units=units)

    @property
    def trace(self) -> Trace:
        row, stock = self.row, self.scenario.stock
        drivers = {candidate.driver.name: candidate.driver for candidate in self.scenario.candidates}
        radiators = {candidate.radiator.name: candidate.radiator for candidate in stock.listed("radiator")}
        marked = ("f3_hz", "f3_cabin_hz", "tuning_hz", "first_mode_hz", "vent_resonance_hz")
        return Trace(
            letter=self.letter,
            xmax_m=drivers[row["driver"]].xmax,
            radiator_xmax_m=radiators[row["radiator"]].xmax if row["radiator_count"] else np.nan,
            vented=KINDS[row["box_kind"]].opening == "vent",
            vent_speed_limit_m_s=self.scenario.goals.vent_speed_limit,
            cabin=self.cabin,
            full_power=self.scenario.goals.use.full_drive,
            **{key: float(row[key]) for key in marked},
        )


def curves_table(portraits: Sequence[Portrait]) -> pd.DataFrame:
    """All their curves, a line a design and frequency; SI, columns as in ``evaluate --json``."""
    tables = []
    for portrait in portraits:
        own = {name: each[0] for name, each in vars(portrait.design.curves).items()}
        own["limited_by"] = [LIMITS[int(code)] for code in own["limited_by"]]
        own |= {"spl_vehicle_db": own["spl_db"] + portrait.design.cabin_db}
        named = {"design": portrait.row["id"], "letter": portrait.letter, "frequency_hz": FREQUENCY}
        tables.append(pd.DataFrame(named | own))
    return pd.concat(tables, ignore_index=True)


def lay_over(portraits: Sequence[Portrait], *, units: Units, ink: Ink, hover: bool) -> Drawing:
    """The curves of one or more designs in one drawing."""
    curves = [vars(portrait.design.curves) for portrait in portraits]
    return Drawing(
        curves=Curves(**{name: np.concatenate([each[name] for each in curves]) for name in curves[0]}),
        cabin_db=np.stack([portrait.design.cabin_db for portrait in portraits]),
        frequency=FREQUENCY, traces=[portrait.trace for portrait in portraits], units=units, ink=ink, hover=hover,
    )  # fmt: skip
