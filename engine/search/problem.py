"""From variables to objectives and constraints: the scenario as a pymoo problem."""

from __future__ import annotations

import math

import numpy as np
from pymoo.core.problem import Problem

from engine.arrays import Floats, Integers, codes
from engine.errors import SearchImpossible
from engine.goals import GOALS
from engine.openings import OPENINGS, variables
from engine.scenario import Scenario
from engine.search.evaluator import SIZES, Designs, Evaluator
from engine.search.retuning import tuned_up
from engine.steps import FREQUENCY_STEP, stepped, whole_steps
from engine.words.voice import Key, Quantity

BOX = ("family", *SIZES, "tuning")
TUNING_RANGE = (18.0, 70.0)  # Hz, lumped, unless the scenario bounds it
LUMPED_ABOVE = 1.2  # over the true tuning; more only where vents nearly fill a box
FILTER_STEP = 0.05  # of a filter's range, where a box is tried with one near its own
TOLD = 1e-6  # of the variables' units, what designs differ by at least if they differ
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
        self.spans = np.array([[GOALS[key].turn * end for end in GOALS[key].span] for key in self.objectives]).T
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

    def niches(self, X: Floats) -> Integers:
        """A number for what each of X (N, n_var) stands for, (N,): box family, choices of its opening, and the stretch
        of the space's width that it stands in.
        """
        families, scenario = self.evaluator.families, self.evaluator.scenario
        family = self.family(X)
        found = families.box[family]
        for code, opening in enumerate(OPENINGS.records):
            own = families.opening[family] == code
            for variable in opening.variables:
                if variable.choice:
                    settled = variable.settled(X[:, self.variables.index(variable.name)], scenario)
                    found = found * (math.ceil(variable.span(scenario)[1]) + 1) + np.where(own, settled, 0)
        # What suits a box in one stretch of the width, under a keep-out or beside it, means little in another.
        if (stretches := len(self.evaluator.envelope.stretches)) > 1:
            designs = self.decode(X)
            found = found * stretches + self.evaluator.fit(designs, self.evaluator.wedges(designs)).stretch
        return np.asarray(found)

    def repaired(self, X: Floats) -> Floats:
        """The same, (N, n_var), with vents that have no room tuned up until they have (:func:`tuned_up`)."""
        found, column = X.copy(), self.variables.index("tuning")
        own = self.decode(X)
        tuning = tuned_up(self.evaluator, own, most=self.xu[column])
        rows = np.flatnonzero(tuning > own.tuning)
        found[rows, column] = tuning[rows]
        return found

    def told_apart(self, X: Floats) -> Integers:
        """A number for the design that each of X (N, n_var) stands for, (N,): equal ones have the same."""
        designs = self.decode(X)
        names = ("family", *SIZES, "tuning", "filter_hz", *designs.openings)
        whole = np.rint(np.nan_to_num([designs.value(name) for name in names], nan=-1.0) / TOLD).astype(np.int64)
        return codes(whole)

    def settings(self, X: Floats, rng: np.random.Generator) -> Floats:
        """The same boxes, (N, n_var), each with another filter, or with its own at another frequency."""
        family, found = self.family(X), X.copy()
        box = self.evaluator.families.box
        first = np.searchsorted(box, box[family])
        count = np.searchsorted(box, box[family], side="right") - first
        found[:, self.family_variable] = first + np.floor(rng.random(len(X)) * count) + 0.5
        moved = np.clip(X[:, -1] + FILTER_STEP * rng.standard_normal(len(X)), 0.0, 1.0)
        found[:, -1] = np.where(rng.random(len(X)) < 0.5, moved, rng.random(len(X)))
        return found

    def family(self, X: Floats) -> Integers:
        """The number of the family that each of X (N, n_var) is of, (N,)."""
        return np.minimum(X[:, self.family_variable].astype(np.int64), len(self.evaluator.families.items) - 1)

    def decode(self, X: Floats) -> Designs:
        """Variables (N, n_var) to designs."""
        families = self.evaluator.families
        of = dict(zip(self.variables, X.T, strict=True))
        family = self.family(X)
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

    def encode(self, designs: Designs) -> Floats:
        """Variables (N, n_var) that :meth:`decode` makes these designs of; what they do not have lies midway."""
        X = np.tile(0.5 * (self.xl + self.xu), (len(designs), 1))
        low, high = self.evaluator.families.filter_range[designs.family].T
        range_ = np.where(high > low, high - low, 1.0)
        known = {name: getattr(designs, name) for name in (*SIZES, "tuning")}
        # The depth at the top as the slant on the saw makes it: rounded it may lie just short of that.
        lean, back = self.evaluator.bevel(self.evaluator.wedges(designs)), self.evaluator.scenario.box.back_angle
        known["top_depth"] = designs.bottom_depth + designs.outer_height * (np.tan(lean) - math.tan(back))
        # A quarter above a whole number is that number, rounded down or to the nearest.
        known |= {each.name: designs.openings[each.name] + (0.25 if each.choice else 0.0) for each in variables()}
        known |= {
            "family": designs.family + 0.5,
            "filter": np.where(high > low, (designs.filter_hz - low) / range_, 0.5),
        }
        for column, name in enumerate(self.variables):
            X[:, column] = np.where(np.isnan(known[name]), X[:, column], known[name])
        return np.asarray(np.clip(X, self.xl, self.xu))

    def taken_over(self, X: Floats, other: BoxProblem) -> Floats:
        """Variables in another job, (N, n_var), as in this one, (M, n_var): of designs whose families it has.

        They are taken as they stand, so this is for jobs that differ a little, with the same pipes on their shelves or
        further ones after those; a front is taken to any job by :func:`engine.search.carried.carried_over`.
        """
        numbers = [self.evaluator.families.by_key.get(item.key, -1) for item in other.evaluator.families.items]
        family = np.array(numbers)[other.family(X)]
        own = X[family >= 0]
        own[:, self.family_variable] = family[family >= 0] + 0.5
        return np.asarray(np.clip(own, self.xl, self.xu))

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
