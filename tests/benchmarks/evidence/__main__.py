"""What every part of the acoustics is held against, in one table: ``python -m tests.benchmarks.evidence``.

Each line is worked out here and now, by the functions that the tests use; only the finite elements of
``reference_boxes.json`` are read.  [C] computed from the source's own equations, [M] from memory, [P] printed.
Exit status 1 if anything is broken.
"""

from __future__ import annotations

import os

# One core for everybody; read when NumPy is imported.
os.environ["OPENBLAS_NUM_THREADS"] = "1"

import sys
import time
from collections.abc import Callable

from tests.benchmarks.evidence import cabins, chains, limits, openings, power, thin_boxes
from tests.benchmarks.evidence.checks import Check, Evidence, Table, line

ITEMS: dict[str, Callable[[], Evidence]] = {
    "1  Thin boxes": thin_boxes.evidence,
    "2  More boxes": openings.evidence,
    "3  Full power": power.evidence,
    "4  In the vehicle": cabins.evidence,
    "5  Signal chain": chains.evidence,
    "6  Where the models stop": limits.evidence,
}


def main() -> int:
    began = time.perf_counter()
    print(line(("what is checked", "against", "cases", "worst", "allowed", "")).rstrip(), flush=True)
    checks: list[Check] = []
    tables: list[Table] = []
    for title, item in ITEMS.items():
        print(f"\n{title}", flush=True)
        for each in item():
            if isinstance(each, Table):
                tables.append(each)
                continue
            checks.append(each)
            print(each, flush=True)
    for table in tables:
        print(f"\n{table}")
    broken, missing = sum(not each.kept for each in checks), sum(bool(each.absent) for each in checks)
    spent = time.perf_counter() - began
    print(f"\n{len(checks)} checks, {broken} broken, {missing} left out, {spent:.0f} s")
    print("Sources: [P] printed, [M] from memory, [C] computed from the source's own equations")
    print("Every drive and frequency of the integration in time: python -m tests.benchmarks.full_power")
    print("What each effect does to the demos' fronts: python -m tests.benchmarks.effects")
    print("Speed with everything on: python -m tests.benchmarks.kernel")
    return 1 if broken else 0


if __name__ == "__main__":
    sys.exit(main())
