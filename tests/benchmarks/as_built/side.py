"""One checkout's side: a process that stands in the checkout, searches jobs and measures what is on their fronts.

Started as a script with the checkout as folder, so that ``engine`` is that checkout's; it reads one request a line
(JSON) and answers each in one line.
"""

from __future__ import annotations

import json
import math
import sys
from pathlib import Path
from typing import Any

import numpy as np
import pandas as pd

AIR_IS_ONE = 1e-5  # m³: less is a chink, no chamber
STEEPEST = 45.0  # degrees
OVER = 1.005  # of a limit, since figures are stored rounded
LEVELS = (30.0, 40.0, 50.0)  # Hz


def share(flags: Any) -> list[int]:
    """How many of how many."""
    return [int(np.sum(flags)), len(flags)]


def chambers(parts: Any) -> int:
    """How many bodies the air of one box makes, by decomposing its solids."""
    from engine.space import solids

    air = solids.prism_solid(parts.inner)
    for body in parts.bodies:
        if body.role.takes_air:
            for piece in map(solids.solid, body.solids):
                air -= piece
    return sum(piece.volume() > AIR_IS_ONE for piece in air.decompose())


def steepest(front: pd.DataFrame) -> Any:
    """The greatest slant of baffle or back from upright, degrees."""
    back = front["back_angle_deg"]
    opens = (front["bottom_depth_m"] - front["top_depth_m"]) / front["outer_height_m"]
    return np.maximum(np.degrees(np.arctan(np.abs(opens - np.tan(np.radians(back))))), back.abs())


def over_limits(front: pd.DataFrame, scenario: Any) -> Any:
    """Whether cone, vent air or radiator pass their limits as the designs are judged."""
    limits = (("excursion_ratio", 1.0), ("vent_speed_m_s", scenario.goals.vent_speed_limit), ("radiator_ratio", 1.0))
    return np.logical_or.reduce([front[key].to_numpy(float) > OVER * most for key, most in limits])


def measure(*, job: str, evaluations: int, seed: int, sample: int) -> dict[str, Any]:
    """A search's front: shares of what must not be, the most that is reached, and how it is in the middle."""
    from engine.acoustics.limits import max_output
    from engine.errors import SearchImpossible
    from engine.formats.scenario import read_scenario
    from engine.insight.reasons import balanced
    from engine.search.evaluator import Evaluator
    from engine.search.front import designs_of
    from engine.search.runs import run
    from engine.space.arrangement import bodies_of

    scenario = read_scenario(Path(job))
    try:
        front = run(scenario, seed=seed, evaluations=evaluations).front
    except SearchImpossible as reason:
        return {"designs": 0, "reason": str(reason)}
    evaluator = Evaluator(scenario)
    designs = designs_of(evaluator, front)
    judged = evaluator.judge(designs, hear_all=True)
    chosen = np.sort(np.random.default_rng(seed).choice(len(front), min(sample, len(front)), replace=False))
    opening = balanced(front, scenario.goals.objectives)
    chosen = np.unique(np.append(chosen, opening))
    loudest = max_output(
        judged.acoustics.systems, frequency=np.array(LEVELS), vent_speed_limit=scenario.goals.vent_speed_limit
    )[0]
    told = {f"max_{hz:.0f}_hz_db": loudest[:, column] for column, hz in enumerate(LEVELS)}
    told |= {key: front[key].to_numpy(float) for key in ("f3_hz", "cost", "outer_volume_m3") if key in front}
    told |= {
        f"level_{hz:.0f}_hz_db": front[f"level_{hz:.0f}_hz_db"] for hz in LEVELS if f"level_{hz:.0f}_hz_db" in front
    }
    return {
        "designs": len(front),
        "split": share([chambers(bodies_of(judged.layout, int(row))) > 1 for row in chosen]),
        "opening_split": chambers(bodies_of(judged.layout, opening)) > 1,
        "over": share(over_limits(front, scenario)),
        "steep": share(steepest(front) > STEEPEST + 0.05),
        "figures": {key: figures_of(values) for key, values in told.items()},
        "opening": {key: plain(value) for key, value in front.iloc[opening].items()},
    }


def figures_of(values: Any) -> list[float | None]:
    """Least, middle and most."""
    return [None if math.isnan(each) else float(each) for each in np.nanpercentile(values, (0, 50, 100))]


def plain(value: Any) -> Any:
    value = value.item() if isinstance(value, np.generic) else value
    return None if isinstance(value, float) and math.isnan(value) else value


def main() -> None:
    for line in sys.stdin:
        print(json.dumps(measure(**json.loads(line))), flush=True)


if __name__ == "__main__":
    main()
