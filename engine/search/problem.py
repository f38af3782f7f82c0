"""From variables to objectives and constraints: the scenario as a pymoo problem."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from pymoo.core.problem import Problem

from engine.columns import COLUMNS
from engine.errors import SearchImpossible
from engine.scenario import Scenario
from engine.search.evaluator import Designs, Evaluator
from engine.words.voice import Key, Quantity

Floats = NDArray[np.float64]

VARIABLES = (
    "family",
    "outer_width",
    "outer_height",
    "bottom_depth",
    "top_depth",
    "tuning",
    "vent_count",
    "pipe",
    "slot_height",
    "filter",
)
MOST_VENTS = 4
TUNING_RANGE = (18.0, 70.0)  # Hz, lumped, unless the scenario bounds it
LUMPED_ABOVE = 1.2  # over the true tuning; more only where vents nearly fill a box
SIZE_STEP = 1e-3  # m; nobody saws finer
FREQUENCY_STEP = 0.1  # Hz
BEYOND = 1e3  # an objective nobody would choose, for designs that do not fit


class BoxProblem(Problem):  # type: ignore[misc]  # pymoo has no types
    """The scenario as a pymoo problem: ten real variables, the discrete ones rounded inside.

    A closed box has no use for ``tuning``, ``vent_count``, ``pipe`` and ``slot_height``, one with passive
    radiators none but for the first, nor a family without filter for ``filter``; they are carried and
    ignored.  F holds the scenario's objectives, all turned so that less is better; G one column a constraint.
    """

    family_variable = VARIABLES.index("family")
    choice_variables = tuple(VARIABLES.index(name) for name in ("family", "vent_count", "pipe"))

    def __init__(self, scenario: Scenario, *, without: frozenset[str] = frozenset()) -> None:
        self.evaluator = Evaluator(scenario, without=without)
        self.objectives = scenario.goals.objectives
        low, high = self._bounds()
        constraints = self.evaluator.judge(self._decode(low[np.newaxis])).constraints
        self.constraint_names = tuple(constraints)
        super().__init__(
            n_var=len(VARIABLES),
            n_obj=len(self.objectives),
            n_ieq_constr=len(constraints),
            xl=low,
            xu=high,
        )

    def decode(self, X: Floats) -> Designs:
        """Variables (N, 10) to designs."""
        return self._decode(np.atleast_2d(X))

    def _evaluate(self, X: Floats, out: dict[str, Floats], *_: object, **__: object) -> None:
        designs = self._decode(X)
        judgement = self.evaluator.judge(designs)
        out["F"] = np.full((len(X), self.n_obj), BEYOND)
        for column, key in enumerate(self.objectives):
            sign = -1.0 if COLUMNS[key].better == "max" else 1.0
            reached = sign * self.evaluator.objective(key, designs, judgement)
            out["F"][judgement.heard, column] = np.nan_to_num(reached, nan=BEYOND)
        out["G"] = np.column_stack([judgement.constraints[name] for name in self.constraint_names])

    def _decode(self, X: Floats) -> Designs:
        families = self.evaluator.families
        of = {name: X[:, number] for number, name in enumerate(VARIABLES)}
        family = np.minimum(of["family"].astype(np.int64), len(families.items) - 1)
        slotted = families.slotted[family]
        piped = families.vented[family] & ~slotted
        low, high = families.filter_range[family].T
        filter_hz = np.maximum(low, _stepped(low + (high - low) * of["filter"], FREQUENCY_STEP))
        return Designs(
            family=family,
            **{name: _stepped(of[name], SIZE_STEP) for name in VARIABLES[1:5]},
            tuning=np.where(families.tuned[family], _stepped(of["tuning"], FREQUENCY_STEP), np.nan),
            vent_count=np.where(piped, np.rint(of["vent_count"]), slotted).astype(np.int64),
            pipe=np.where(piped, np.minimum(of["pipe"].astype(np.int64), len(self.evaluator.pipe_bore) - 1), 0),
            slot_height=np.where(slotted, _stepped(of["slot_height"], SIZE_STEP), np.nan),
            filter_hz=filter_hz,
        )

    def _bounds(self) -> tuple[Floats, Floats]:
        """Where the variables may lie: what the space could hold at most, tightened by the scenario."""
        evaluator = self.evaluator
        stated = evaluator.scenario.bounds
        board = evaluator.scenario.stock.board_thickness
        width, height, depth = evaluator.envelope.extent
        vents = stated.get("vent_count", (1.0, float(MOST_VENTS)))
        slot = evaluator.scenario.stock.slot
        ranges = {
            "family": (0.0, float(len(evaluator.families.items))),
            "outer_width": (4.0 * board, width),
            "outer_height": (4.0 * board, height),
            "bottom_depth": (2.0 * board, depth),
            "top_depth": (2.0 * board, depth),
            "tuning": TUNING_RANGE,
            "vent_count": (vents[0] - 0.499, vents[1] + 0.499),
            "pipe": (0.0, float(len(evaluator.pipe_bore))),
            "slot_height": whole_steps(*slot.height, SIZE_STEP) if slot else (0.0, 1.0),
            "filter": (0.0, 1.0),
        }
        for name in ("outer_width", "outer_height", "bottom_depth", "top_depth"):
            low, high = ranges[name]
            least, most = stated.get(name, (low, high))
            ranges[name] = whole_steps(max(low, least), min(high, most), SIZE_STEP)
            if ranges[name][0] > ranges[name][1]:
                raise SearchImpossible(
                    "bound_outside",
                    bound=Key(f"bounds.{name}"),
                    least=Quantity(least, "length", figures=5),
                    most=Quantity(most, "length", figures=5),
                    low=Quantity(low, "length"),
                    high=Quantity(high, "length"),
                    step=Quantity(SIZE_STEP, "length", figures=3),
                )
        if "tuning" in stated:
            # The bound is on the true tuning, which lies below the lumped one.
            least, most = stated["tuning"]
            ranges["tuning"] = (least, LUMPED_ABOVE * most)
        ranges["tuning"] = whole_steps(*ranges["tuning"], FREQUENCY_STEP)
        both = np.array([ranges[name] for name in VARIABLES])
        return both[:, 0].copy(), both[:, 1].copy()


def whole_steps(low: float, high: float, step: float) -> tuple[float, float]:
    """A range drawn in to whole steps, so that no bound is passed by rounding."""
    return math.ceil(low / step - 1e-6) * step, math.floor(high / step + 1e-6) * step


def _stepped(values: Floats, step: float) -> Floats:
    """Values brought down to whole steps, so that what just fits still fits."""
    return np.round(np.floor(values / step + 1e-6) * step, 6)
