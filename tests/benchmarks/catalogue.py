"""An invented catalogue in the roadster: time and memory with one worker and with two, what a kill costs, and whether
drivers were stopped that more tries would have brought onto the front.

    python -m tests.benchmarks.catalogue [DRIVERS] [--workers 1 2] [--killed] [--stopped N]
"""

from __future__ import annotations

import argparse
import os
import pickle
import resource
import subprocess
import sys
import tempfile
import time
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

from engine.arrays import Floats
from engine.formats.catalogue import read_catalogue
from engine.formats.front import read_run
from engine.formats.scenario import demo_scenarios
from engine.search.catalogue import MOST, explored
from engine.search.front import turned
from engine.search.runs import hypervolume
from tests.invented_drivers import catalogue_text, invented_drivers

JOB = "roadster"
FILES = ("front.csv", "left_out.csv", "drivers.csv", "job.toml")


def peaks(pid: int) -> dict[str, float]:
    """Most memory that a process and each of its children have had so far, MB."""
    found = {}
    for status in Path("/proc").glob("[0-9]*/status"):
        try:
            lines = dict(line.split(":", 1) for line in status.read_text().splitlines() if ":" in line)
        except OSError:
            continue
        if int(status.parent.name) == pid or int(lines["PPid"]) == pid:
            found["main" if int(status.parent.name) == pid else status.parent.name] = (
                int(lines.get("VmHWM", "0").split()[0]) / 1024
            )
    return found


def searched(drivers: Path, out: Path, workers: int, *, killed_after: int | None = None) -> dict[str, Any]:
    """Run the command; killed with its workers still at it once so many tasks are kept."""
    root = Path(__file__).parents[2]
    command = [sys.executable, "-m", "explorer.cli", "catalogue", JOB, "--drivers", drivers, "--out", out]
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    began, memory = time.monotonic(), dict[str, float]()
    process = subprocess.Popen(
        [*map(str, command), "--workers", str(workers)],
        stderr=subprocess.PIPE, stdout=subprocess.DEVNULL, text=True,
        env={**os.environ, "PYTHONPATH": str(root), "COLUMNS": "200"},
    )  # fmt: skip
    assert process.stderr is not None
    for line in process.stderr:
        print(f"  {time.monotonic() - began:7.1f} s  {line.rstrip()}", file=sys.stderr, flush=True)
        memory |= {who: max(most, memory.get(who, 0.0)) for who, most in peaks(process.pid).items()}
        if killed_after is not None and len([*(out / "tasks").glob("*.json")]) >= killed_after:
            # Not just as a task has been kept.
            with suppress(subprocess.TimeoutExpired):
                process.wait(0.6 * workers * (time.monotonic() - began) / killed_after)
            process.kill()
            killed_after = None
    process.wait()
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    cpu = after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
    kept = [path.stat() for path in (out / "tasks").glob("*.json")]
    return {
        "seconds": time.monotonic() - began,
        "cpu": cpu,
        "tasks": len(kept),
        "last": max(each.st_mtime for each in kept),
        "disk": sum(each.st_size for each in kept) / 1e6,
        "main": memory.pop("main", 0.0),
        "worker": max(memory.values(), default=0.0),
        "ended": time.time(),
    }


def told(name: str, found: dict[str, Any]) -> None:
    print(
        f"{name:32} {found['seconds']:7.1f} s, {found['cpu']:7.1f} s of processors, {found['tasks']:4d} tasks, "
        f"{found['disk']:5.1f} MB kept, memory at most {found['main']:4.0f} MB and {found['worker']:4.0f} MB a worker",
        flush=True,
    )


def whole(out: Path) -> list[bytes]:
    return [(out / name).read_bytes() for name in FILES]


def stopped_early(drivers: Path, out: Path, count: int) -> None:
    """The beaten drivers tried least, searched much longer: what they would have added to the front."""
    scenario = read_catalogue(demo_scenarios()[JOB], drivers)
    keys = scenario.goals.objectives
    front, verdicts = read_run(out).front, pd.read_csv(out / "drivers.csv")
    least = verdicts[verdicts["verdict"].isin(["beaten", "no box found"])].sort_values("designs_tried", kind="stable")
    asked = least.iloc[np.unique(np.linspace(0, len(least) - 1, count).astype(int))]
    base = hypervolume(front, keys)
    by_name = {each.driver.name: each for each in scenario.candidates}
    for name, tried in zip(asked["driver"], asked["designs_tried"], strict=True):
        packed = pickle.dumps(replace(scenario, candidates=(by_name[name],), document={}))
        starts: Floats | None = None
        for seed in (1, 2):
            found = explored(packed, seed, MOST, starts)
            starts = found.starts
        rows = found.rows
        both = pd.concat([front[list(keys)], rows[list(keys)]])
        ahead = turned(rows, keys)[:, np.newaxis] - turned(front, keys)
        new = int((~(ahead >= 0.0).all(axis=2).any(axis=1)).sum()) if len(rows) else 0
        gained = hypervolume(both, keys) / base - 1.0
        print(f"  {name:24} stopped after {tried:6,}: {2 * MOST:,} tries more give {new:3d} designs that nothing there "
              f"beats, {100.0 * gained:.4f} % more hypervolume", flush=True)  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser()
    parser.add_argument("drivers", type=int, nargs="?", default=300)
    parser.add_argument("--workers", type=int, nargs="*", default=[1, 2])
    parser.add_argument("--killed", action="store_true")
    parser.add_argument("--stopped", type=int, default=0)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as temporary:
        folder = Path(temporary)
        drivers = folder / "drivers.csv"
        drivers.write_text(catalogue_text(invented_drivers(options.drivers)), encoding="utf-8")
        outs = []
        for workers in options.workers:
            outs.append(folder / f"with-{workers}")
            told(f"{options.drivers} drivers, {workers} at work", searched(drivers, outs[-1], workers))
        if options.killed:
            outs.append(folder / "killed")
            cut = searched(drivers, outs[-1], max(options.workers, default=2), killed_after=options.drivers // 2)
            told("killed with -9", cut)
            print(f"  lost: what was worked at for the {cut['ended'] - cut['last']:.1f} s since the last task was kept")
            told("the same command again", searched(drivers, outs[-1], max(options.workers, default=2)))
        print("the same bytes" if len({tuple(whole(out)) for out in outs}) == 1 else "BYTES DIFFER")
        print(pd.read_csv(outs[0] / "drivers.csv")["verdict"].value_counts().to_string())
        if options.stopped:
            stopped_early(drivers, outs[0], options.stopped)


if __name__ == "__main__":
    main()
