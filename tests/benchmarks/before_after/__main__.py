"""An old checkout against this one: ``python -m tests.benchmarks.before_after OLD_CHECKOUT [--part PART] [--quick]``.

``designs``
    The same random designs of fourteen invented jobs (``jobs.py``) in both: whether each constraint is kept must be
    the same, every text too; objectives, constraints and numbers of the table within 1e-9 of the figure's scale, which
    is its own size or, where that is less, the middle size of its column in that job.  Misfits too
    are heard in a part of the designs, as what is left out of a front is.  Says how many of each kind were accepted.
``fronts``
    Searches of the demo jobs, each side's own, the same seeds and evaluations: hypervolume of the same goals may not
    be lower.
``speed``
    µs a design by stage, for boxes of each opening in three sizes of batch; the best of several runs, taken in turn.
    0 where a checkout has no such stage.
``search``
    The demos' own searches in fresh processes, taken in turn: the processor's seconds and memory; and how long a
    process takes to its first batch with the compiler's cache empty and filled.
``size``
    Lines of ``engine``; how many files name a goal, a vent's shape and a kind of box (comments and docstrings aside).

Both sides are run by this interpreter, each as processes of their own (``side.py``).  Exits with 1 where something
differs that may not.
"""

from __future__ import annotations

import argparse
import ast
import itertools
import json
import os
import re
import subprocess
import sys
import tempfile
import time
from collections import Counter
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import numpy as np
import tomli_w
from numpy.typing import NDArray

from tests.benchmarks.before_after.jobs import jobs

HERE = Path(__file__).resolve().parents[3]
NEAR = 1e-9
# Constraints that designs keep by another margin than before, which decides nothing: name -> the reason.
KEPT_OTHERWISE = {
    "G vent resonance": "boxes without a vent keep it by as much as they keep every other opening's limit"
}
# Columns that held words and now hold what the words are made of: one of these for every one of those.
CODED = ("text short_of",)
SHOWN = 3  # differing designs shown of each figure
OPENINGS = {"closed": "closed", "piped": "piped", "slotted": "slotted", "radiator": "radiators"}  # name -> job
STAGES = ("fit", "layout", "ports", "air inside", "figures", "all")
BATCHES = (512, 4096, 16384)
SETTINGS = 4  # of the filter, tried on one box
SEEDS = (1, 2, 3)
# What counts as naming one, in names and texts of the code.
NAMED = {
    "a goal (vent_speed_m_s)": r"vent_speed_m_s",
    "a vent's shape (slot)": r"(?<![a-z])slot(s|ted)?(?![a-z])|^Slot",
    "a kind of box (radiator)": r"(?<![a-z])radiator",
}


class Process:
    """One side's process."""

    def __init__(self, checkout: Path, *, cache: str | None = None) -> None:
        environment = {**os.environ, "PYTHONPATH": str(checkout), "OPENBLAS_NUM_THREADS": "1"}
        if cache is not None:
            environment["XDG_CACHE_HOME"] = cache
        script = Path(__file__).parent / "side.py"
        self.running = subprocess.Popen(
            [sys.executable, "-W", "ignore", str(script)],
            cwd=checkout,
            env=environment,
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            text=True,
        )

    def asked(self, do: str, **request: Any) -> dict[str, Any]:
        assert self.running.stdin is not None
        assert self.running.stdout is not None
        self.running.stdin.write(json.dumps({"do": do, **request}) + "\n")
        self.running.stdin.flush()
        answer = self.running.stdout.readline()
        if not answer:
            raise SystemExit(f"{self.running.args} ended while it was asked to {do}: {request}")
        found: dict[str, Any] = json.loads(answer)
        return found

    def end(self) -> None:
        self.running.communicate()


@contextmanager
def processes(*checkouts: Path) -> Iterator[list[Process]]:
    running = [Process(checkout) for checkout in checkouts]
    try:
        yield running
    finally:
        for each in running:
            each.end()


class Comparison:
    """Two checkouts, a folder for what they hand over, and whether all was well."""

    def __init__(self, old: Path, folder: Path, *, designs: int, quick: bool) -> None:
        self.sides = {"before": old, "after": HERE}
        self.folder, self.designs, self.quick, self.well = folder, designs, quick, True
        self.words: dict[str, str] = {}  # of codes
        self.jobs = {}
        for name, document in jobs().items():
            self.jobs[name] = folder / f"{name}.toml"
            self.jobs[name].write_text(tomli_w.dumps(document))
        # Each side's own, since goals and columns that one knows may be none to the other.
        self.demos = [path.stem for path in sorted((HERE / "scenarios").glob("*.toml"))]
        self.demo_folders = {label: side / "scenarios" for label, side in self.sides.items()}

    def spread(self, process: Process, name: str, count: int) -> Path:
        out = self.folder / f"{name} {count}.npy"
        if not out.exists():
            process.asked("spread", job=str(self.jobs[name]), count=count, seed=1, out=str(out))
        return out

    # Designs

    def designs_part(self) -> None:
        each = max(self.designs // len(self.jobs), 1)
        accepted: Counter[str] = Counter()
        tried = 0
        with processes(*self.sides.values()) as running:
            for name, job in self.jobs.items():
                X = self.spread(running[0], name, each)
                tried += len(np.load(X))
                before, after = (self.judged(side, job, X, hear_all=False) for side in running)
                self.compared(name, before, after)
                keep = before["feasible"]
                for kind in zip(*(before[f"text {key}"][keep] for key in KIND_COLUMNS), strict=True):
                    accepted.update(f"{key}: {value or 'none'}" for key, value in zip(KIND_COLUMNS, kind, strict=True))
                few = self.folder / f"{name} few.npy"
                np.save(few, np.load(X)[:: 10 if self.quick else 4])
                before, after = (self.judged(side, job, few, hear_all=True) for side in running)
                self.compared(f"{name}, every one heard", before, after, only=("number ", "text "))
        print(f"\n{tried} designs; accepted of them")
        for kind, number in sorted(accepted.items()):
            print(f"  {kind:45}{number:8}")

    def judged(self, side: Process, job: Path, X: Path, *, hear_all: bool) -> dict[str, NDArray[Any]]:
        out = self.folder / "judged.npz"
        side.asked("judge", job=str(job), X=str(X), out=str(out), hear_all=hear_all)
        with np.load(out) as file:
            found = {name: file[name] for name in file.files}
        found["feasible"] = np.all([values <= 0.0 for name, values in found.items() if name.startswith("G ")], axis=0)
        return found

    def compared(
        self,
        name: str,
        before: dict[str, NDArray[Any]],
        after: dict[str, NDArray[Any]],
        *,
        only: tuple[str, ...] = ("",),
    ) -> None:
        told, worst = [], 0.0
        told += [f"{key}: only {'before' if key in before else 'after'}" for key in before.keys() ^ after.keys()]
        for key in before.keys() & after.keys():
            if not key.startswith(only):
                continue
            one, other = before[key], after[key]
            if one.dtype.kind in "fiu":
                far = deviation(one, other)
                wrong = far > NEAR
                if key.startswith("G "):
                    kept = wrong & (one <= 0.0) & (other <= 0.0)
                    if key in KEPT_OTHERWISE and kept.any():
                        print(f"    {key}: {kept.sum()} kept by another margin, as {KEPT_OTHERWISE[key]}")
                        far, wrong = np.where(kept, 0.0, far), wrong & ~kept
                    wrong |= (one <= 0.0) != (other <= 0.0)
                worst = max(worst, float(far.max(initial=0.0)))
            elif key in CODED:
                pairs = list(zip(other.tolist(), one.tolist(), strict=True))
                wrong = np.array([self.words.setdefault(code, words) != words for code, words in pairs])
            else:
                wrong = one != other
            if wrong.any():
                rows = np.flatnonzero(wrong)
                some = "; ".join(f"row {row}: {one[row]} → {other[row]}" for row in rows[:SHOWN])
                told.append(f"{key}: {len(rows)} differ, {some}")
        flips = int(np.count_nonzero(before["feasible"] != after["feasible"]))
        count, kept = len(before["feasible"]), int(before["feasible"].sum())
        print(f"{name}: {count} designs, {kept} accepted, {flips} no longer alike; largest deviation {worst:.1e}")
        for line in sorted(told):
            print(f"    {line}")
        self.well &= not told

    # Fronts and searches

    def fronts_part(self) -> None:
        evaluations = 8_192 if self.quick else 100_000
        print(f"{'hypervolume':24}{'seed':>5}{'designs':>16}{'before':>12}{'after':>12}")
        with processes(*self.sides.values()) as running:
            for name, seed in itertools.product(self.demos, SEEDS[: 1 if self.quick else None]):
                before, after = (
                    side.asked("search", job=self.demo(label, name), seed=seed, evaluations=evaluations)
                    for label, side in zip(self.sides, running, strict=True)
                )
                same = "the same file" if before["fingerprint"] == after["fingerprint"] else "another file"
                if before["objectives"] != after["objectives"]:
                    same = "other goals, so other hypervolumes"
                sizes = f"{before['designs']} → {after['designs']}"
                print(
                    f"{name:24}{seed:5}{sizes:>16}{before['hypervolume']:12.6f}{after['hypervolume']:12.6f}  {same}",
                    flush=True,
                )
                kept = after["hypervolume"] >= before["hypervolume"] * (1.0 - NEAR)
                self.well &= kept or before["objectives"] != after["objectives"]

    def demo(self, label: str, name: str) -> str:
        """Where one side's own demo job lies."""
        return str(self.demo_folders[label] / f"{name}.toml")

    def search_part(self) -> None:
        rounds, evaluations = (1, 16_384) if self.quick else (2, None)
        print(f"{'whole searches':24}{'designs tried':>14}{'before s':>10}{'after s':>10}{'ratio':>8}{'MB':>6} →")
        for label, checkout in self.sides.items():
            with processes(checkout) as (process,):  # so that what is compiled lies in the cache
                process.asked("search", job=self.demo(label, self.demos[0]), seed=1, evaluations=512)
        for name in self.demos:
            best, tried, memory = dict.fromkeys(self.sides, np.inf), 0, dict.fromkeys(self.sides, 0.0)
            for _, (label, checkout) in itertools.product(range(rounds), self.sides.items()):
                with processes(checkout) as (process,):
                    found = process.asked("search", job=self.demo(label, name), seed=1, evaluations=evaluations)
                    best[label], tried = min(best[label], found["seconds"]), found["evaluations"]
                    memory[label] = max(memory[label], process.asked("memory")["bytes"] / 1e6)
            ratio = best["before"] / best["after"]
            print(
                f"{name:24}{tried:14}{best['before']:10.2f}{best['after']:10.2f}{ratio:7.2f}×"
                f"{memory['before']:7.0f} → {memory['after']:.0f}",
                flush=True,
            )
        self.starts()

    def starts(self) -> None:
        """Seconds to the first batch of all openings, the compiler's cache empty and then filled."""
        for label, checkout in self.sides.items():
            with processes(checkout) as (process,):
                X = self.spread(process, "every way", 512)
            with tempfile.TemporaryDirectory() as cache:
                spent = []
                for _ in range(3):
                    began = time.perf_counter()
                    process = Process(checkout, cache=cache)
                    process.asked("first", job=str(self.jobs["every way"]), X=str(X), batch=512)
                    spent.append(time.perf_counter() - began)
                    process.end()
            print(
                f"{label}: first batch {spent[0]:.1f} s after the start with nothing compiled, {min(spent[1:]):.1f} s"
            )

    # Speed

    def speed_part(self) -> None:
        rounds = 3 if self.quick else 7
        print("µs a design before → after (times quicker)")
        print(f"{'':10}{'batch':>9}" + "".join(f"{stage:>23}" for stage in STAGES))
        with processes(*self.sides.values()) as running:
            # As designs come, and as a search asks for them: each box with some filters one after the other.
            batches = [*((batch, 1) for batch in BATCHES[: 2 if self.quick else None]), (2048, SETTINGS)]
            for (kind, name), (batch, settings) in itertools.product(OPENINGS.items(), batches):
                X = self.spread(running[0], name, 4096)
                asked = {"job": str(self.jobs[name]), "X": str(X), "batch": batch, "settings": settings}
                best: list[dict[str, float]] = [dict.fromkeys(STAGES, np.inf) for _ in running]
                for _, (side, least) in itertools.product(range(rounds), list(zip(running, best, strict=True))):
                    for stage, seconds in side.asked("stages", **asked).items():
                        least[stage] = min(least[stage], seconds / batch * 1e6)
                line = f"{kind:10}{f'{batch // settings} × {settings}' if settings > 1 else batch:>9}"
                for stage in STAGES:
                    before, after = (least[stage] for least in best)
                    times = f" ({before / after:.1f}×)" if before and after else ""
                    line += f"{f'{before:.2f} → {after:.2f}{times}':>23}"
                print(line, flush=True)

    # Size

    def size_part(self) -> None:
        print(f"{'':40}{'before':>9}{'after':>9}")
        lines = [
            sum(len(file.read_text().splitlines()) for file in sources(side, "engine")) for side in self.sides.values()
        ]
        print(f"{'lines of engine':40}{lines[0]:9}{lines[1]:9}")
        for what, pattern in NAMED.items():
            counts = [
                sum(names(file, pattern) for file in sources(s, "engine", "explorer")) for s in self.sides.values()
            ]
            print(f"{f'files that name {what}':40}{counts[0]:9}{counts[1]:9}")


KIND_COLUMNS = ("box_kind", "facing", "vent_kind", "vent_placement", "filter_shape", "filling")


def deviation(one: NDArray[Any], other: NDArray[Any]) -> NDArray[np.float64]:
    """How far figures are apart over their scale, inf where one of two is missing."""
    sizes = np.abs(one[np.isfinite(one)])
    scale = np.maximum(np.maximum(np.abs(one), np.abs(other)), np.median(sizes) if len(sizes) else 0.0)
    with np.errstate(all="ignore"):
        far = np.abs(one - other) / np.where(scale > 0.0, scale, 1.0)
    same = (one == other) | (np.isnan(one) & np.isnan(other))
    return np.where(same, 0.0, np.nan_to_num(far, nan=np.inf, posinf=np.inf))


def sources(checkout: Path, *rooms: str) -> list[Path]:
    return [file for room in rooms for file in sorted((checkout / room).rglob("*.py"))]


def names(file: Path, pattern: str) -> bool:
    """Whether a file's code has a name or a text that matches; comments and docstrings do not count."""
    tree = ast.parse(file.read_text())
    told = {
        id(each.value) for each in ast.walk(tree) if isinstance(each, ast.Expr) and isinstance(each.value, ast.Constant)
    }
    for node in ast.walk(tree):
        words = [node.value] if isinstance(node, ast.Constant) and id(node) not in told else []
        words += [getattr(node, field, None) for field in ("id", "attr", "arg", "name")]
        if any(isinstance(word, str) and re.search(pattern, word) for word in words):
            return True
    return False


PARTS = {
    "size": Comparison.size_part,
    "designs": Comparison.designs_part,
    "speed": Comparison.speed_part,
    "fronts": Comparison.fronts_part,
    "search": Comparison.search_part,
}


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("old", type=Path, help="the checkout to compare with")
    parser.add_argument("--part", choices=PARTS, action="append", help="all of them, if not given")
    parser.add_argument("--designs", type=int, help="random designs (100 000; 7 000 if quick)")
    parser.add_argument("--quick", action="store_true", help="a few minutes instead of an hour")
    options = parser.parse_args()
    designs = options.designs or (7_000 if options.quick else 100_000)
    with tempfile.TemporaryDirectory() as folder:
        comparison = Comparison(options.old.resolve(), Path(folder), designs=designs, quick=options.quick)
        for part in options.part or PARTS:
            print(f"\n— {part} —", flush=True)
            PARTS[part](comparison)
    print("\nall alike" if comparison.well else "\nsomething differs")
    return 0 if comparison.well else 1


if __name__ == "__main__":
    sys.exit(main())
