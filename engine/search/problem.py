"""From variables to objectives and constraints: the scenario as a pymoo problem."""

from __future__ import annotations

import math

import numpy as np
from numpy.typing import NDArray
from pymoo.core.problem import Problem

from engine.errors import SearchImpossible
from engine.goals import GOALS
from engine.openings import OPENINGS, variables
from engine.scenario import Scenario
from engine.search.evaluator import SIZES, Designs, Evaluator
from engine.steps import FREQUENCY_STEP, stepped, whole_steps
from engine.words.voice import Key, Quantity

Floats = NDArray[np.float64]

BOX = ("family", *SIZES, "tuning")
TUNING_RANGE = (18.0, 70.0)  # Hz, lumped, unless the scenario bounds it
LUMPED_ABOVE = 1.2  # over the true tuning; more only where vents nearly fill a box
FILTER_STEP = 0.05  # of a filter's range, where a box is tried with one near its own
BEYOND = 1e3  # an objective nobody would choose, for designs that do not fit


class BoxProblem(Problem):  # type: ignore[misc]  # pymoo has no types
    """The scenario as a pymoo problem of real variables, the discrete ones rounded inside.

    The variables of every opening are always among them, between ``tuning`` and ``filter``; a box with another opening
    carries and ignores them, as a closed one does ``tuning`` and a family without filter ``filter``.  F holds the
    scenario's objectives, all turned so that less is better; G one column a constraint.
    """

    family_variable = BOX.index("family")

    def __init__(self, scenario: Scenario, *, without: frozenset[str] = frozenset()) -> None:
        self.evaluator = Evaluator(scenario, without=without)
        self.objectives = scenario.goals.objectives
        own = variables()
        self.variables = (*BOX, *(variable.name for variable in own), "filter")
        choices = ["family", *(variable.name for variable in own if variable.choice)]
        self.choice_variables = tuple(self.variables.index(name) for name in choices)
        self.steps = tuple(GOALS[key].told_apart for key in self.objectives)
        low, high = self._bounds()
        constraints = self.evaluator.judge(self.decode(low[np.newaxis])).constraints
        self.constraint_names = tuple(constraints)
        super().__init__(
            n_var=len(self.variables), n_obj=len(self.objectives), n_ieq_constr=len(constraints), xl=low, xu=high
        )

    def _evaluate(self, X: Floats, out: dict[str, Floats], *_: object, **__: object) -> None:
        designs = self.decode(X)
        judgement = self.evaluator.judge(designs)
        out["F"] = np.full((len(X), self.n_obj), BEYOND)
        for column, key in enumerate(self.objectives):
            reached = GOALS[key].turn * self.evaluator.objective(key, designs, judgement)
            out["F"][judgement.heard, column] = np.nan_to_num(reached, nan=BEYOND)
        out["G"] = np.column_stack([judgement.constraints[name] for name in self.constraint_names])

    def niches(self, X: Floats) -> NDArray[np.int64]:
        """A number for the box family and the choices of its opening that each of X (N, n_var) stands for, (N,)."""
        families, scenario = self.evaluator.families, self.evaluator.scenario
        family = self._family(X)
        found = families.box[family]
        for code, opening in enumerate(OPENINGS.records):
            own = families.opening[family] == code
            for variable in opening.variables:
                if variable.choice:
                    settled = variable.settled(X[:, self.variables.index(variable.name)], scenario)
                    found = found * (math.ceil(variable.span(scenario)[1]) + 1) + np.where(own, settled, 0)
        return np.asarray(found)

    def settings(self, X: Floats, rng: np.random.Generator) -> Floats | None:
        """The same boxes with other filters, or the one there is at another frequency; None if there is none."""
        if (
            all(low == high for low, high in self.evaluator.families.filter_range)
            and len(self.evaluator.scenario.filters) == 1
        ):
            return None
        family, found = self._family(X), X.copy()
        box = self.evaluator.families.box
        first = np.searchsorted(box, box[family])
        count = np.searchsorted(box, box[family], side="right") - first
        found[:, self.family_variable] = first + np.floor(rng.random(len(X)) * count) + 0.5
        moved = np.clip(X[:, -1] + FILTER_STEP * rng.standard_normal(len(X)), 0.0, 1.0)
        found[:, -1] = np.where(rng.random(len(X)) < 0.5, moved, rng.random(len(X)))
        return found

    def _family(self, X: Floats) -> NDArray[np.int64]:
        return np.minimum(X[:, self.family_variable].astype(np.int64), len(self.evaluator.families.items) - 1)

    def decode(self, X: Floats) -> Designs:
        """Variables (N, n_var) to designs."""
        families = self.evaluator.families
        of = dict(zip(self.variables, X.T, strict=True))
        family = self._family(X)
        low, high = families.filter_range[family].T
        openings = {}
        for code, opening in enumerate(OPENINGS.records):
            own = families.opening[family] == code
            for variable in opening.variables:
                settled = variable.settled(of[variable.name], self.evaluator.scenario)
                openings[variable.name] = np.where(own, settled, variable.absent)
        return Designs(
            family=family,
            **self.evaluator.sawn(of, layer=self.evaluator.layers[family]),
            tuning=np.where(families.tuned[family], stepped(of["tuning"], FREQUENCY_STEP), np.nan),
            filter_hz=np.maximum(low, stepped(low + (high - low) * of["filter"], FREQUENCY_STEP)),
            openings=openings,
        )

    def _bounds(self) -> tuple[Floats, Floats]:
        """Where the variables may lie: what the space could hold at most, tightened by the scenario."""
        evaluator = self.evaluator
        bounds = evaluator.scenario.bounds
        board, size_step = evaluator.scenario.stock.board_thickness, evaluator.scenario.saw.size_step
        width, height, depth = evaluator.envelope.extent
        ranges = {
            "family": (0.0, float(len(evaluator.families.items))),
            "outer_width": (4.0 * board, width),
            "outer_height": (4.0 * board, height),
            "bottom_depth": (2.0 * board, depth),
            "top_depth": (2.0 * board, depth),
            "tuning": TUNING_RANGE,
            **{variable.name: variable.span(evaluator.scenario) for variable in variables()},
            "filter": (0.0, 1.0),
        }
        for name in SIZES:
            low, high = ranges[name]
            least, most = bounds.get(name, (low, high))
            ranges[name] = whole_steps(max(low, least), min(high, most), size_step)
            if ranges[name][0] > ranges[name][1]:
                asked = {"least": Quantity(least, "length", figures=5), "most": Quantity(most, "length", figures=5)}
                there = {"low": Quantity(low, "length"), "high": Quantity(high, "length")}
                step = Quantity(size_step, "length", figures=3)
                raise SearchImpossible("bound_outside", bound=Key(f"bounds.{name}"), **asked, **there, step=step)
        if "tuning" in bounds:
            # The bound is on the true tuning, which lies below the lumped one.
            least, most = bounds["tuning"]
            ranges["tuning"] = (least, LUMPED_ABOVE * most)
        ranges["tuning"] = whole_steps(*ranges["tuning"], FREQUENCY_STEP)
        both = np.array([ranges[name] for name in self.variables])
        return both[:, 0].copy(), both[:, 1].copy()
