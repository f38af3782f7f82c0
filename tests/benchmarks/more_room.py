"""What a little more room buys, as engine.insight.price tells it, against full searches of job and changed job.

    python -m tests.benchmarks.more_room [DEMO [CHANGE ...]]

Each full search, two of each by other seeds, has the job's whole budget.  What the changed searches found and has room
in the job, as it is or moved back into it, counts for the job there, too.  Full searches differ by chance as well: what
two more of the same job tell of a change of nothing stands beside.
"""

from __future__ import annotations

import sys

import numpy as np

from engine.arrays import Floats
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.insight.changes import changes
from engine.insight.price import ends, gains, prices, uncertainty
from engine.scenario import Scenario
from engine.search.front import designs_of, turned, worked_out
from engine.search.problem import BoxProblem
from engine.search.runs import run

SEEDS, OTHERS = (11, 12), (13, 14)
USUAL = ("width", "height", "depth")
BACK = (0.0, 0.4, 0.7, 1.0)  # shares of a change that designs are moved back by


def searched(problem: BoxProblem, scenario: Scenario, seeds: tuple[int, ...] = SEEDS) -> tuple[Floats, Floats]:
    """Variables and objectives of the fronts of full searches."""
    fronts = [run(scenario, seed=seed).front for seed in seeds]
    X = np.vstack([problem.encode(designs_of(problem.evaluator, front)) for front in fronts])
    return X, np.vstack([turned(front, problem.objectives) for front in fronts])


def main(name: str, *asked: str) -> None:
    scenario = read_scenario(demo_scenarios()[name])
    found = [change for change in changes(scenario) if change.what in (asked or USUAL)]
    own, keys = BoxProblem(scenario), scenario.goals.objectives
    (_, base), (_, again) = searched(own, scenario), searched(own, scenario, OTHERS)
    by_chance = base, np.vstack([base, again]), keys
    chance = {"along the front": gains(*by_chance), "at its best": ends(*by_chance)}
    for price in prices(scenario, asked=found):
        change = price.change
        other = BoxProblem(change.scenario)
        X, more = searched(other, change.scenario)
        parts = [base]
        for way in change.moved or ({},):
            for share in BACK:
                moved = own.taken_over(X, other)
                for variable, by in way.items():
                    moved[:, own.variables.index(variable)] -= share * by
                rows, _ = worked_out(own.evaluator, own.decode(np.clip(moved, own.xl, own.xu)))
                parts.append(turned(rows, keys))
        before = np.vstack(parts)
        both = (before, np.vstack([before, more]), keys)
        print(f"{name}, {change.words('metric')}:", flush=True)
        for where, told, full in (
            ("along the front", price.along, gains(*both)), ("at its best", price.ends, ends(*both)),
        ):  # fmt: skip
            unsure = uncertainty(told)
            for key in keys:
                ours = f"{told[key].iloc[0]:.3g} ± {unsure[key]:.2g}"
                theirs = f"{full[key]:.3g} by full searches, of which {chance[where][key]:.2g} may be chance"
                print(f"  {where}, {key}: {ours} told, {theirs}", flush=True)


if __name__ == "__main__":
    main(*(sys.argv[1:] or ["van-bench"]))
