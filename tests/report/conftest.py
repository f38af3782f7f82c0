"""What the report's tests share: invented curves of a size and shape like real ones."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

import numpy as np
import pytest

from engine.acoustics.curves import Curves
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.insight.reasons import balanced, extremes
from engine.judged import FREQUENCY, JudgedDesign
from engine.report.ink import LETTERS, LIGHT
from engine.report.lines import Drawing, Trace
from engine.report.portrait import Portrait
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from explorer.demo_fronts import stored_front


def invented_curves(count: int) -> Curves:
    frequency = FREQUENCY
    corner = 30.0 + 4.0 * np.arange(count)[:, np.newaxis]
    ratio = frequency / corner
    level = 118.0 + 20.0 * np.log10(ratio**4 / np.sqrt(1.0 + ratio**8))
    binding = np.where(frequency < 20.0, 2, np.where(frequency < 31.0, 3, 0))
    return Curves(
        spl_db=level,
        excursion_peak_m=0.02 * ratio / (1.0 + ratio**4),
        radiator_excursion_peak_m=0.03 * ratio / (1.0 + ratio**4),
        vent_speed_peak_m_s=20.0 * np.exp(-((3.0 * np.log(ratio)) ** 2)),
        impedance_ohm=3.2 + 30.0 * np.exp(-((4.0 * np.log(ratio / 1.6)) ** 2)),
        impedance_phase_deg=0.0 * ratio,
        group_delay_s=0.03 / (1.0 + ratio**3),
        max_output_db=np.minimum(level, 112.0),
        limited_by=np.tile(binding, (count, 1)),
        coil_rise_k=60.0 / (1.0 + np.log(ratio) ** 2),
        compression_db=1.5 / (1.0 + np.log(ratio) ** 2),
    )


@pytest.fixture
def drawn() -> Callable[..., Drawing]:
    def make(count: int = 1, *, trace: dict[str, Any] | None = None, **changed: Any) -> Drawing:
        traces = [
            Trace(
                **{
                    "letter": LETTERS[number] if count > 1 else "",
                    "f3_hz": 30.0 + number,
                    "tuning_hz": 28.0 + number,
                    "xmax_m": 0.014,
                    "vent_speed_limit_m_s": 17.0,
                    **(trace or {}),
                }
            )
            for number in range(count)
        ]
        given: dict[str, Any] = {
            "curves": invented_curves(count),
            "cabin_db": np.tile(12.0 / (1.0 + (FREQUENCY / 40.0) ** 2), (count, 1)),
            "frequency": FREQUENCY,
            "traces": traces,
            "units": "metric",
            "ink": LIGHT,
            "hover": True,
        }
        return Drawing(**{**given, **changed})

    return make


@pytest.fixture(scope="session")
def demo() -> Scenario:
    return read_scenario(demo_scenarios()["van-bench"])


@pytest.fixture(scope="session")
def portraits(demo: Scenario) -> list[Portrait]:
    """Three designs of a demo's stored front: the balanced one, the loudest at the lowest frequency, a closed one."""
    front = stored_front("van-bench").front
    goals = demo.goals.objectives
    closed = int((front["box_kind"] == "closed").to_numpy().argmax())
    places = list(dict.fromkeys([balanced(front, goals), *extremes(front, goals).values()]))[:2]
    rows = [front.iloc[place].to_dict() for place in [*places, closed]]
    designs = JudgedDesign.batch(Evaluator(demo), rows)
    return [Portrait(design, letter) for design, letter in zip(designs, "ABC", strict=True)]
