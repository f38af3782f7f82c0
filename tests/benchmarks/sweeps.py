"""200 noisy sweeps of invented boxes by ngspice: how near the tuning is found, how often 95 % intervals hold the truth.

python -m tests.benchmarks.sweeps [SWEEPS] [NOISE]
"""

from __future__ import annotations

import sys
import tempfile
import time
from collections import defaultdict
from pathlib import Path

import numpy as np

from engine.errors import InputFaults
from engine.measured.fit import fit
from engine.measured.names import DRIVER
from tests.measured.invented import as_built, foreseen, swept, taken_of

SWEEPS, NOISE = 200, 0.01
TOLD = 8  # of the worst


def truth(systems, built, row: int, name: str) -> float:
    """What a figure is of the box as built."""
    fs = 1.0 / (2.0 * np.pi * np.sqrt(built.mms * built.cms))
    reactance = 2.0 * np.pi * fs * built.mms
    known = {"re": built.re, "fs": fs, "qms": reactance / built.rms, "qes": reactance * built.re / built.bl**2,
             "vas": built.cms * built.sd**2 * 1.2041 * 343.2**2, "tuning": built.tuning, "ql": built.ql}  # fmt: skip
    return float(known[name][row])


def main(sweeps: int = SWEEPS, noise: float = NOISE) -> None:
    systems = foreseen(sweeps, seed=5)
    built = as_built(systems, seed=6)
    with tempfile.TemporaryDirectory() as folder:
        frequency, impedances = swept("ngspice", Path(folder), built)
    taken = taken_of(systems, frequency, impedances, noise=noise, seed=1000)
    worst: list[tuple[float, str]] = []
    off, held, refused, began = defaultdict(list), defaultdict(list), [], time.perf_counter()
    for row, each in enumerate(taken):
        try:
            done = fit([each])
        except InputFaults as wrong:
            refused.append(f"{row}: {wrong}")
            continue
        for name in (*DRIVER, "tuning", "ql"):
            if (found := done.found.get(name)) is None:
                continue
            true = truth(systems, built, row, name)
            if name == "tuning":
                sure = 50.0 * (found.high - found.low) / found.value
                marks = [
                    f"{turn.hz:.0f} Hz {turn.ohm:.1f}"
                    for turn in (*done.landmarks[0].peaks, *done.landmarks[0].saddles)
                ]
                worst.append((abs(found.value / true - 1.0), f"row {row}, ± {sure:.2f} %, {', '.join(marks)} ohm"))
            off[name].append(found.value / true - 1.0)
            held[name].append(found.low <= true <= found.high)
    spent = (time.perf_counter() - began) / sweeps
    points = f"{sweeps} sweeps of {len(frequency)} points, noise {100.0 * noise:g} %"
    print(f"{points}, {spent:.2f} s each; refused {len(refused)}")
    for line in refused:
        print("  refused", line)
    for name, each in off.items():
        sizes = 100.0 * np.abs(each)
        print(
            f"{name:7} off by {np.median(sizes):6.3f} % (median), {np.quantile(sizes, 0.95):6.3f} % (95 %), "
            f"{sizes.max():6.3f} % (most), {100.0 * np.mean(sizes < 0.5):5.1f} % within 0.5 %; "
            f"interval holds {100.0 * np.mean(held[name]):5.1f} % of {len(each)}"
        )
    print("the tuning is off most where the sweep says so itself:")
    for size, words in sorted(worst)[: -TOLD - 1 : -1]:
        print(f"  {100.0 * size:.2f} %: {words}")


if __name__ == "__main__":
    main(*(kind(text) for kind, text in zip((int, float), sys.argv[1:], strict=False)))
