"""What a little more room buys, as engine.insight.price tells it, against full searches of job and changed job.

    python -m tests.benchmarks.more_room [DEMO]

Each full search has the whole budget that the price shares out over all changes and seeds.  What the changed search
found and has room in the job counts for the job there, too.
"""

from __future__ import annotations

import sys

import pandas as pd

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.insight.price import changes, ends, gains, prices
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of, worked_out
from engine.search.runs import run

SEEDS = (11, 12)


def main(name: str) -> None:
    scenario = read_scenario(demo_scenarios()[name])
    told = {price.change.words("metric"): price for price in prices(scenario)}
    evaluator, objectives = Evaluator(scenario), scenario.goals.objectives
    bases = {seed: run(scenario, seed=seed).front for seed in SEEDS}
    for change in changes(scenario):
        if change.what not in ("width", "height", "depth"):
            continue
        along, at_end = [], []
        for seed in SEEDS:
            more = run(change.scenario, seed=seed).front
            also, _ = worked_out(evaluator, designs_of(evaluator, more))
            base = pd.concat([bases[seed], also])
            both = (base, pd.concat([base, more]), objectives)
            along.append(gains(*both))
            at_end.append(ends(*both))
        price = told[change.words("metric")]
        print(f"{name}, {change.words('metric')}:", flush=True)
        for where, shared, full in (("along", price.along, along), ("at its best", price.ends, at_end)):
            for key in objectives:
                ours, theirs = (
                    ", ".join(f"{figure:.3g}" for figure in pd.DataFrame(each)[key]) for each in (shared, full)
                )
                print(f"  {where}, {key}: {ours} told, {theirs} by full searches", flush=True)


if __name__ == "__main__":
    main(sys.argv[1] if len(sys.argv) > 1 else "van-bench")
