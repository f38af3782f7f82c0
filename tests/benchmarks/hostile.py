"""How long readers take over texts that are made to keep them busy: seconds for each, the slowest last.

python -m tests.benchmarks.hostile
"""

from __future__ import annotations

import tempfile
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

from engine.document import parse_document
from engine.errors import InputFaults
from engine.formats.catalogue import read_catalogue
from engine.formats.measurement import parse_cabin
from engine.formats.scenario import demo_scenarios, parse_scenario
from engine.measured.sweep import parse_sweep
from explorer.unknown_keys import unknown_keys
from tests.hostile import DOCUMENTS, FAULTY, FIGURES, JOB, TABLES


def main() -> None:
    taken: list[tuple[float, str]] = []

    def timed(what: str, name: str, read: Callable[[], Any]) -> None:
        begin = time.perf_counter()
        try:
            read()
            came = "read"
        except InputFaults as error:
            came = f"{len(error.faults)} faults" if len(error.faults) > 1 else error.faults[0].code
        taken.append((time.perf_counter() - begin, f"{what}: {name}: {came}"))

    def job(text: str) -> None:
        stated = parse_document(text, source="x")
        unknown_keys(stated)
        parse_scenario(stated, source="x")

    job(JOB)  # loads what is loaded once
    for name, text in (DOCUMENTS | FAULTY).items():
        timed("job", name, lambda text=text: job(text))
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder, "drivers.csv")
        for name, text in TABLES.items():
            path.write_text(text)
            timed("catalogue", name, lambda: read_catalogue(demo_scenarios()["van-bench"], path))
    for name, text in FIGURES.items():
        timed("cabin", name, lambda text=text: parse_cabin(text, source="x"))
        timed("sweep", name, lambda text=text: parse_sweep(text, source="x"))
    for seconds, told in sorted(taken):
        print(f"{seconds:7.3f} s  {told}")


if __name__ == "__main__":
    main()
