"""One checkout's side of the comparison: a process that stands in the checkout and does what it is asked.

It is started as a script with the checkout as folder, so that ``engine`` is that checkout's; it reads one request a
line (JSON) and answers each in one line.  Whatever bears another name in one of the checkouts is looked up in
the lists below, so that old ones can be compared without being edited.
"""

from __future__ import annotations

import hashlib
import importlib
import json
import resource
import sys
import time
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

# Where what is asked for stands, the newest place first; what is timed, by the module that calls it.
READER = ("engine.formats.scenario:read_scenario", "engine.scenario:read_scenario")
CSV = ("engine.formats.front:csv_text", "engine.search.front:csv_text")
STAGES = {
    "fit": ("engine.search.evaluator:Evaluator.fit", "engine.search.bench:Bench.fit"),
    "layout": ("engine.search.evaluator:Evaluator.layout", "engine.search.bench:Bench.layout"),
    "ports": ("engine.search.evaluator:ports_of", "engine.search.bench:ports_of"),
    "air inside": ("engine.search.evaluator:thin_box", "engine.search.bench:thin_box"),
    "figures": ("engine.search.evaluator:figures", "engine.search.bench:figures"),
}
NEW_PLACES = 256  # designs of one round of moves
POOL = 40  # parents kept of each kind
GOOD = 0.8  # share of moves that start at a feasible design


def owner_of(names: tuple[str, ...]) -> tuple[Any, str] | None:
    """The module or class that holds the first of some names which this checkout has, and what it is called there."""
    for name in names:
        module, _, path = name.partition(":")
        try:
            owner: Any = importlib.import_module(module)
        except ModuleNotFoundError:
            continue
        *classes, last = path.split(".")
        for each in classes:
            owner = getattr(owner, each)
        if hasattr(owner, last):
            return owner, last
    return None


def found(names: tuple[str, ...]) -> Any:
    """The first of some names that this checkout has."""
    place = owner_of(names)
    if place is None:
        raise LookupError(f"none of {', '.join(names)}: add where it stands now to {__file__}")
    return getattr(*place)


def evaluator_of(problem: Any) -> Any:
    return problem.evaluator if hasattr(problem, "evaluator") else problem.bench


class Side:
    """The checkout's engine, its problems made once a job."""

    def __init__(self) -> None:
        self.problems: dict[str, Any] = {}
        self.spent: dict[str, float] = {}

    def problem(self, job: str) -> Any:
        if job not in self.problems:
            from engine.search.problem import BoxProblem

            self.problems[job] = BoxProblem(found(READER)(Path(job)))
        return self.problems[job]

    def table(self, problem: Any, X: Any, *, hear_all: bool) -> pd.DataFrame:
        """Every column of the front of a batch of designs, figures as they are worked out, not as they are stored."""
        from engine.search import front

        judge, designs = evaluator_of(problem), problem.decode(X)
        rounding, pd.DataFrame.round = pd.DataFrame.round, lambda frame, *_: frame
        try:
            return front.judged(judge, designs, judge.judge(designs, exact=True, hear_all=hear_all))
        finally:
            pd.DataFrame.round = rounding

    # Requests

    def spread(self, *, job: str, count: int, seed: int, out: str) -> dict[str, Any]:
        """Variables of ``count`` designs: a quarter anywhere, then moves around the best of every kind."""
        problem, rng = self.problem(job), np.random.default_rng(seed)
        low, span = problem.xl, problem.xu - problem.xl
        anywhere = low + rng.random((max(count // 4, 1), problem.n_var)) * span
        designs, tried = [anywhere], len(anywhere)
        parents: dict[tuple[Any, ...], Any] = {}
        X = anywhere
        while tried < count:
            G = problem.evaluate(X, return_values_of=["G"])
            G = G[0] if isinstance(G, (list, tuple)) else G
            excess = np.maximum(G, 0.0).sum(axis=1)
            placement = evaluator_of(problem).judge(problem.decode(X)).layout.vent_placement
            kinds = list(zip(X[:, problem.family_variable].astype(int), placement, strict=True))
            for row in np.argsort(excess, kind="stable"):
                kept = parents.setdefault(kinds[row], [])
                kept.append((float(excess[row]), row, X[row]))
            for kind, kept in parents.items():
                parents[kind] = sorted(kept, key=lambda one: one[:2])[:POOL]
            good = [kind for kind, kept in parents.items() if kept[0][0] <= 0.0]
            number = min(NEW_PLACES, count - tried)
            names = [good if good and rng.random() < GOOD else list(parents) for _ in range(number)]
            chosen = [parents[some[rng.integers(len(some))]] for some in names]
            X = np.array([kept[rng.integers(len(kept))][2] for kept in chosen])
            moved = rng.random(X.shape) < 0.3
            moved[:, problem.family_variable] = False
            step = 10.0 ** rng.uniform(-3.0, -1.0, (len(X), 1)) * span * rng.standard_normal(X.shape)
            X = np.clip(np.where(moved, X + step, X), low, problem.xu)
            designs.append(X)
            tried += len(X)
        np.save(out, np.concatenate(designs)[:count])
        return {"variables": int(problem.n_var)}

    def judge(self, *, job: str, X: str, out: str, hear_all: bool) -> dict[str, Any]:
        """F, G by name and the table of designs, written to ``out``; ``hear_all`` as for those left out of a front."""
        problem, designs = self.problem(job), np.load(X)
        F, G = problem.evaluate(designs, return_values_of=["F", "G"])
        frame = self.table(problem, designs, hear_all=hear_all)
        numbers = {name: column.to_numpy(float) for name, column in frame.items() if column.dtype.kind in "fiub"}
        texts = {name: column.astype(str).to_numpy(str) for name, column in frame.items() if name not in numbers}
        figures = {f"number {name}": values for name, values in numbers.items()}
        figures |= {f"text {name}": values for name, values in texts.items()}
        figures |= {f"F {name}": F[:, number] for number, name in enumerate(problem.objectives)}
        figures |= {f"G {name}": G[:, number] for number, name in enumerate(problem.constraint_names)}
        np.savez(out, low=problem.xl, high=problem.xu, **figures)
        return {}

    def stages(self, *, job: str, X: str, batch: int, settings: int) -> dict[str, float]:
        """Seconds that a batch takes, whole and by stage; each box follows with so many settings of its filter."""
        problem, designs = self.problem(job), np.load(X)
        designs = np.repeat(np.resize(designs, (batch // settings, designs.shape[1])), settings, axis=0)
        if settings > 1:
            designs[:, problem.variables.index("filter")] = np.resize(np.linspace(0.0, 1.0, settings), batch)
        self.watch()
        self.spent = dict.fromkeys(STAGES, 0.0)
        began = time.perf_counter()
        problem.evaluate(designs, return_values_of=["F", "G"])
        return {**self.spent, "all": time.perf_counter() - began}

    def watch(self) -> None:
        """Put a clock round every stage that this checkout has, once."""
        for stage, names in STAGES.items():
            place = owner_of(names)
            if place is not None and not hasattr(getattr(*place), "watched"):
                setattr(*place, self.clocked(stage, getattr(*place)))

    def clocked(self, stage: str, work: Any) -> Any:
        def watched(*arguments: Any, **named: Any) -> Any:
            began = time.perf_counter()
            try:
                return work(*arguments, **named)
            finally:
                self.spent[stage] = self.spent.get(stage, 0.0) + time.perf_counter() - began

        made: Any = watched
        made.watched = True
        return made

    def search(self, *, job: str, seed: int, evaluations: int | None) -> dict[str, Any]:
        """A whole search: its processor's seconds, hypervolume, designs on the front and a fingerprint of its file."""
        from engine.search import runs

        began = time.process_time()  # other programs may be running
        scenario = found(READER)(Path(job))
        done = runs.run(scenario, seed=seed, evaluations=evaluations)
        spent = time.process_time() - began
        fingerprint = hashlib.sha256(found(CSV)(done.front).encode()).hexdigest()[:12]
        return {
            "seconds": spent,
            "evaluations": done.record["evaluations"],
            "hypervolume": done.record["hypervolume"],
            "designs": len(done.front),
            "fingerprint": fingerprint,
            "objectives": list(scenario.goals.objectives),
        }

    def first(self, *, job: str, X: str, batch: int) -> dict[str, Any]:
        """Judge a first batch."""
        self.problem(job).evaluate(np.load(X)[:batch], return_values_of=["F", "G"])
        return {}

    def memory(self) -> dict[str, Any]:
        """Most memory this process has held, bytes."""
        most = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
        return {"bytes": most if sys.platform == "darwin" else most * 1024}


def main() -> None:
    sys.path[0] = str(Path.cwd())
    import engine

    here = Path(engine.__file__).resolve().parent.parent
    if here != Path.cwd().resolve():
        sys.exit(f"engine is that of {here}, not of {Path.cwd()}")
    side = Side()
    answers, sys.stdout = sys.stdout, sys.stderr
    for line in sys.stdin:
        request = json.loads(line)
        print(json.dumps(getattr(side, request.pop("do"))(**request)), file=answers, flush=True)


if __name__ == "__main__":
    main()
