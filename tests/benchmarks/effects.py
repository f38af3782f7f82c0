"""What each effect at full power and in a thin box does to the fronts of the demo jobs.

    python -m tests.benchmarks.effects [evaluations]

Each demo is searched once with everything on.  Then the designs of its front are judged again with one
effect left out, and with all left out, which is the lumped small-signal model.  Printed: middle and range, over
the front, of what the effect does to f3, to mean maximum output, to the level at the first frequency that the job names
(at the gain that limits leave, which may change as well) and to the vent's cut length.
"""

from __future__ import annotations

import sys
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from engine.acoustics.figures import FIGURES_GRID
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.search.evaluator import EFFECTS, Evaluator
from engine.search.front import designs_of
from engine.search.runs import run

Floats = NDArray[np.float64]


def main(evaluations: int | None) -> None:
    for name, path in demo_scenarios().items():
        scenario = read_scenario(path)
        found = run(scenario, evaluations=evaluations)
        front = found.front
        kinds = ", ".join(f"{count} {kind}" for kind, count in front["box_kind"].value_counts().items())
        print(f"\n{name}: {len(front)} designs ({kinds}), {found.record['seconds']:.0f} s")
        print(f"{'effect':<14}{'f3, Hz':>26}{'output, dB':>26}{'level at gain, dB':>26}{'vent length, mm':>26}")
        full = Evaluator(scenario)
        designs = designs_of(full, front)
        with_all = full.judge(designs, frequency=FIGURES_GRID, exact=True, hear_all=True)
        wedges = full.wedges(designs)
        fit = full.fit(designs, wedges)
        true = replace(designs, tuning=with_all.acoustics.systems.tuning)
        by_lumps = full.layout(true, wedges, fit)
        # Only where the vents still find the same place.
        here = with_all.layout
        same = (by_lumps.least >= 0.0) & ((by_lumps.slot_turn > 0.0) == (here.slot_turn > 0.0))
        for code in ("vent_placement", "vent_where", "vent_columns", "vent_bends"):
            same &= getattr(by_lumps, code) == getattr(here, code)
        lumped = np.where(same, by_lumps.vent_length, np.nan)
        for left_out in ((each,) for each in (*EFFECTS, EFFECTS)):
            effects = left_out[0] if isinstance(left_out[0], tuple) else left_out
            without = Evaluator(scenario, without=frozenset(effects))
            # The same boxes and vents, heard by the poorer model.
            judged = without.judge(designs, frequency=FIGURES_GRID, exact=True, hear_all=True)
            f3 = with_all.figures.f3 - judged.figures.f3
            output = with_all.figures.output_db - judged.figures.output_db
            level = with_all.figures.levels[:, 0] - judged.figures.levels[:, 0]
            # The same tuning, cut by the lumped law.
            cut = with_all.layout.vent_length - lumped if "thin box" in effects else 0.0 * lumped
            label = "all" if len(effects) > 1 else effects[0]
            told = (_spread(f3, 2), _spread(output, 2), _spread(level, 2), _spread(1000.0 * cut, 1))
            print(f"{label:<14}" + "".join(f"{each:>26}" for each in told))


def _spread(change: Floats, digits: int) -> str:
    finite = change[np.isfinite(change)]
    if not len(finite):
        return "-"
    middle, low, high = np.median(finite), finite.min(), finite.max()
    return f"{middle:+.{digits}f} ({low:+.{digits}f} to {high:+.{digits}f})"


if __name__ == "__main__":
    main(int(sys.argv[1]) if len(sys.argv) > 1 else None)
