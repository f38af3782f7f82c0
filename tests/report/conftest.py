"""What the report's tests share: invented curves of a size and shape like real ones."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np
import pytest

from engine.acoustics.curves import Curves
from engine.report.curves import FREQUENCY, Drawing, Trace
from engine.report.ink import LETTERS, LIGHT


def invented_curves(count: int) -> Curves:
    frequency = FREQUENCY
    corner = 30.0 + 4.0 * np.arange(count)[:, np.newaxis]
    ratio = frequency / corner
    level = 118.0 + 20.0 * np.log10(ratio**4 / np.sqrt(1.0 + ratio**8))
    binding = np.where(frequency < 20.0, 2, np.where(frequency < 31.0, 3, 0))
    return Curves(
        spl_db=level,
        excursion_peak_m=0.02 * ratio / (1.0 + ratio**4),
        vent_speed_peak_m_s=20.0 * np.exp(-((3.0 * np.log(ratio)) ** 2)),
        impedance_ohm=3.2 + 30.0 * np.exp(-((4.0 * np.log(ratio / 1.6)) ** 2)),
        impedance_phase_deg=0.0 * ratio,
        group_delay_s=0.03 / (1.0 + ratio**3),
        max_output_db=np.minimum(level, 112.0),
        limited_by=np.tile(binding, (count, 1)),
    )


@pytest.fixture
def drawn() -> Callable[..., Drawing]:
    def make(count: int = 1, **changed: object) -> Drawing:
        traces = [
            Trace(
                letter=LETTERS[number] if count > 1 else "",
                f3_hz=30.0 + number,
                tuning_hz=28.0 + number,
                xmax_m=0.014,
                vent_speed_limit_m_s=17.0,
            )
            for number in range(count)
        ]
        given = {
            "curves": invented_curves(count),
            "frequency": FREQUENCY,
            "traces": traces,
            "units": "metric",
            "ink": LIGHT,
            "hover": True,
        }
        return Drawing(**{**given, **changed})  # type: ignore[arg-type]  # the keys are Drawing's own

    return make
