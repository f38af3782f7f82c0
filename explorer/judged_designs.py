"""The judged designs of this process, so that drawing a page again judges nothing again.

Plain objects; no page code.  Every call may come from any thread.
"""

from __future__ import annotations

import threading
from collections import OrderedDict
from collections.abc import Sequence
from typing import Any

from engine.errors import WedgefrontError
from engine.formats.fields import GIVEN_TABLE
from engine.formats.given import Given
from engine.given import judge_given
from engine.judged import JudgedDesign
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from explorer.reading import read
from explorer.session import Chosen

DESIGNS_KEPT = 64
SCENARIOS_KEPT = 8
GIVEN_KEPT = 16


class JudgedDesigns:
    """Judged designs by row and scenario, the last used ones kept."""

    def __init__(self) -> None:
        self._designs: OrderedDict[tuple[str, Chosen], JudgedDesign] = OrderedDict()
        self._evaluators: OrderedDict[str, Evaluator] = OrderedDict()
        self._given: OrderedDict[tuple[str, str], JudgedDesign | WedgefrontError] = OrderedDict()
        self._lock = threading.Lock()

    def of(self, chosen: Chosen, source: str) -> JudgedDesign | None:
        """One chosen design; None where its scenario no longer reads."""
        (design,) = self.all_of([chosen], source)
        return design

    def all_of(self, several: Sequence[Chosen], source: str) -> list[JudgedDesign | None]:
        """Chosen designs in their order, None where a scenario no longer reads; those of a scenario in one batch.

        ``source`` is the name of the job's file, for what is said of its faults.
        """
        scenarios = [read(chosen.document, source).scenario for chosen in several]
        with self._lock:
            wanted: dict[str, list[Chosen]] = {}
            for chosen, scenario in zip(several, scenarios, strict=True):
                if scenario is not None and (scenario.digest, chosen) not in self._designs:
                    wanted.setdefault(scenario.digest, []).append(chosen)
            for scenario in scenarios:
                if scenario is not None and scenario.digest in wanted:
                    self._judge(scenario, wanted.pop(scenario.digest))
            found = [
                None if scenario is None else _use(self._designs, (scenario.digest, chosen))
                for chosen, scenario in zip(several, scenarios, strict=True)
            ]
            _drop_oldest(self._designs, DESIGNS_KEPT)
        return found

    def given(self, box: Given, source: str) -> JudgedDesign | WedgefrontError:
        """A given box, or why it is none."""
        # The digest is the job's alone: what of it the box has is in its own table.
        key = (box.scenario.digest, repr(box.scenario.document[GIVEN_TABLE]))
        with self._lock:
            if key not in self._given:
                try:
                    self._given[key] = judge_given(box, source=source)
                except WedgefrontError as error:
                    self._given[key] = error
            found: JudgedDesign | WedgefrontError = _use(self._given, key)
            _drop_oldest(self._given, GIVEN_KEPT)
        return found

    def _judge(self, scenario: Scenario, several: Sequence[Chosen]) -> None:
        if scenario.digest not in self._evaluators:
            self._evaluators[scenario.digest] = Evaluator(scenario)
        evaluator = _use(self._evaluators, scenario.digest)
        _drop_oldest(self._evaluators, SCENARIOS_KEPT)
        for chosen, design in zip(several, JudgedDesign.batch(evaluator, [each.row for each in several]), strict=True):
            self._designs[scenario.digest, chosen] = design


def _use(kept: OrderedDict[Any, Any], key: Any) -> Any:
    kept.move_to_end(key)
    return kept[key]


def _drop_oldest(kept: OrderedDict[Any, Any], most: int) -> None:
    while len(kept) > most:
        kept.popitem(last=False)
