"""Boxes put together again from their files: ``python -m tests.benchmarks.boards [--count 500]``.

Random designs of ten invented jobs and the demos that can be built, of every opening, facing, baffle and form of
brace; each in one of the joint orders, some with the board a little thinner or thicker than it was.  Each file is read
by ``tests/workshop/put_together.py`` and nothing else of it is used.  Exits with 1 where one is not the design.
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections import Counter
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any, cast

import numpy as np

from engine.build import box_of
from engine.formats.box import box_text
from engine.formats.scenario import demo_scenarios, parse_scenario, read_scenario
from engine.judged import JudgedDesign
from engine.scenario import Scenario
from engine.search.problem import BoxProblem
from engine.workshop.board import Box
from engine.workshop.joints import JOINTS
from tests.benchmarks.before_after.jobs import jobs
from tests.workshop.put_together import PutTogether

OF_FOURTEEN = ("closed", "piped", "flared", "slotted", "radiators", "down", "every way", "leaning", "forward", "inches")
CHANGES: dict[str, dict[str, Any]] = {
    "every way": {"facings": ["front", "down", "side", "up"], "pipe_outlets": ["usual", "top"]},
    "slotted": {"baffles": ["single", "double"], "baffle_recess": "5 mm"},
    "radiators": {"baffles": ["single", "double"], "baffle_recess": "5 mm"},
}
BOARDS = ("15.6 mm", "18 mm", "18 mm", "19.3 mm")
TRIED = 2048  # designs at once
ROUNDS = 12
MOST_OFF = 1e-3  # of the inside volume


def scenarios() -> dict[str, Scenario]:
    """The ten jobs and the demos, by name."""
    found = {}
    for number, name in enumerate(OF_FOURTEEN):
        document = jobs()[name]
        document["box"] = {**document.get("box", {}), **CHANGES.get(name, {})}
        if document["stock"]["board_thickness"] == "18 mm":
            document["stock"]["board_thickness"] = BOARDS[number % len(BOARDS)]
        found[name] = parse_scenario(document, source=name)
    return found | {name: read_scenario(path) for name, path in demo_scenarios().items()}


def random_designs(scenario: Scenario, count: int, *, seed: int) -> Iterator[JudgedDesign]:
    """Designs that can be built, as unlike each other as may be; laid out but not heard, of which no board knows."""
    problem, rng = BoxProblem(scenario), np.random.default_rng(seed)
    evaluator, kept = problem.evaluator, []
    for _ in range(ROUNDS):
        X = problem.xl + rng.random((TRIED, problem.n_var)) * (problem.xu - problem.xl)
        designs = problem.decode(X)
        wedges = evaluator.wedges(designs)
        fit = evaluator.fit(designs, wedges)
        layout = evaluator.layout(designs, wedges, fit, thorough=False)
        slants, thin = evaluator.slant_violation(wedges), scenario.box.least_depth - wedges.thin_end
        short = np.max(np.stack([fit.violation, slants, thin, *layout.violations.values()]), axis=0)
        for i in np.flatnonzero(short <= 0.0):
            own = layout.own[int(layout.opening[i])][i]
            form = int(layout.packed[i].brace_form)
            kind = (int(designs.family[i]), form, int(getattr(own, "vent_placement", 0)))
            kept.append((kind, designs, wedges, fit, layout, np.array([i])))
        if len({each[0] for each in kept}) >= count:
            break
    # One of each kind, then a second of each, until there are enough.
    seen: Counter[Any] = Counter()
    order = []
    for each in kept:
        order.append((seen[each[0]], len(order), each))
        seen[each[0]] += 1
    for number, (_, _, (_, designs, wedges, fit, layout, one)) in enumerate(
        sorted(order, key=lambda each: each[:2])[:count]
    ):
        family = evaluator.families.items[int(designs.family[one][0])]
        place = {"box_across_m": fit.x_low, "box_forward_m": fit.y, "box_up_m": fit.z}
        row = {**family.columns, **{key: float(values[one][0]) for key, values in place.items()}}
        row |= {"id": f"R{number:04d}", "net_volume_m3": float(layout.net_volume[one][0])}
        laid = SimpleNamespace(wedges=wedges.take(one), layout=layout.take(one))
        yield JudgedDesign(evaluator=evaluator, row=row, designs=designs.take(one), judgement=cast("Any", laid))


def faults(box: Box) -> tuple[float, int, list[tuple[str, str, float]], float]:
    """How far the inside is off, a share; bodies of air; what overlaps; how far faces are off their thickness, m."""
    again = PutTogether(json.loads(box_text(box)))
    off = again.inside_volume / box.chambers[0].inside_volume - 1.0
    return abs(off), len(again.bodies_of_air), again.overlaps(), max(again.thickness_errors())


def main() -> int:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--count", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--job", help="only this one")
    options = parser.parse_args()
    named = {name: each for name, each in scenarios().items() if options.job in (None, name)}
    each, bad = -(-options.count // len(named)), 0
    worst, boards, parts, cautions = (0.0, 0.0), 0, 0, 0
    roles: Counter[str] = Counter()
    began, done = time.perf_counter(), 0
    for name, scenario in named.items():
        mine, forms = [0.0, 0.0], Counter()
        for number, design in enumerate(random_designs(scenario, each, seed=options.seed)):
            box = box_of(design, joints=tuple(JOINTS)[number % len(JOINTS)], glue_strip=0.02 * (number % 5 == 4))
            off, airs, over, thickness = faults(box)
            mine = [max(mine[0], off), max(mine[1], thickness)]
            boards, parts, cautions, done = (
                boards + len(box.boards),
                parts + len(box.parts),
                cautions + len(box.cautions),
                done + 1,
            )
            roles.update(board.role for board in box.boards)
            forms[str(design.row["facing"])] += 1
            if off > MOST_OFF or airs != 1 or over:
                bad += 1
                print(
                    f"{name} {design.row['id']} {box.joints}: off {off:.1e}, {airs} bodies of air, {over}", flush=True
                )
        worst = (max(worst[0], mine[0]), max(worst[1], mine[1]))
        print(f"{name:18}{sum(forms.values()):5} boxes, inside off by at most {mine[0]:.1e}; {dict(forms)}", flush=True)
    seconds = time.perf_counter() - began
    print(f"{done} boxes, {boards} boards, {parts} parts, {cautions} cautions, {seconds:.0f} s; {dict(roles)}")
    print(f"inside off by at most {worst[0]:.1e}, thickness by {worst[1]:.1e} m; {bad} that are not the design")
    return 1 if bad else 0


if __name__ == "__main__":
    sys.exit(main())
