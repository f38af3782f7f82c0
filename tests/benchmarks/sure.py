"""How long it takes to say how sure 2 000 designs are, beside one search's judging of as many, in one run.

    python -m tests.benchmarks.sure

Seconds are of a core, so that what else the machine does counts for nothing, but for the wait for two processes.
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.insight.tolerance import SAMPLES, spread, spread_in_parts, swings
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of
from engine.search.runs import run
from explorer.helpers import Helpers

DESIGNS = 2_000


def seconds(work: Callable[[], Any], clock: Callable[[], float] = time.process_time) -> float:
    """Of the second time, when all is compiled."""
    work()
    began = clock()
    work()
    return clock() - began


def told(name: str, path: Path) -> str:
    scenario = read_scenario(path)
    front = run(scenario, evaluations=32_768).front
    rows = front.iloc[np.resize(np.arange(len(front)), DESIGNS)].reset_index(drop=True)
    rows["outer_width_m"] -= 1e-3 * (rows.index // len(front))  # no box twice
    evaluator = Evaluator(scenario)
    designs = designs_of(evaluator, rows)
    judged = seconds(lambda: evaluator.judge(designs))
    many = seconds(lambda: list(spread_in_parts(evaluator, rows)))
    with Helpers(2) as helpers:
        shared = seconds(lambda: list(spread_in_parts(evaluator, rows, helpers=helpers)), time.perf_counter)
    one = seconds(lambda: spread(evaluator, rows.head(1), exact=True))
    swung = seconds(lambda: swings(evaluator, rows.head(1)))
    return (
        f"{name:16} {DESIGNS} designs × {SAMPLES} samples {many:6.2f} s, {many / judged:5.1f} times as long as "
        f"judging them once, {shared:5.2f} s to wait for two processes; a pick {one:5.2f} s, what it swings by "
        f"{swung:5.2f} s"
    )


if __name__ == "__main__":
    for job, file in demo_scenarios().items():
        print(told(job, file))
