"""How long it takes to say how sure 2 000 designs are, beside one search's judging of as many, in one run.

python -m tests.benchmarks.sure
"""

from __future__ import annotations

import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.insight.tolerance import SAMPLES, spread, swings
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of
from engine.search.runs import run

DESIGNS = 2_000


def seconds(work: Callable[[], Any]) -> float:
    """Of the second time, when all is compiled."""
    work()
    began = time.perf_counter()
    work()
    return time.perf_counter() - began


def told(name: str, path: Path) -> str:
    scenario = read_scenario(path)
    front = run(scenario, evaluations=32_768).front
    rows = front.iloc[np.resize(np.arange(len(front)), DESIGNS)]
    evaluator = Evaluator(scenario)
    designs = designs_of(evaluator, rows)
    judged = seconds(lambda: evaluator.judge(designs))
    many = seconds(lambda: spread(evaluator, rows))
    one = seconds(lambda: spread(evaluator, rows.head(1), exact=True))
    swung = seconds(lambda: swings(evaluator, rows.head(1)))
    return (
        f"{name:16} {DESIGNS} designs × {SAMPLES} samples {many:6.2f} s, {many / judged:5.1f} times as long as "
        f"judging them once; a pick {one:5.2f} s, what it swings by {swung:5.2f} s"
    )


if __name__ == "__main__":
    for job, file in demo_scenarios().items():
        print(told(job, file))
