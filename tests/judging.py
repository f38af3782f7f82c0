"""What tests of judged designs share: a demo's front, and how often the job was built and designs were judged."""

from __future__ import annotations

from collections import Counter
from typing import Any

import numpy as np
import pytest

from engine.search.evaluator import Designs, Evaluator, Judgement
from engine.search.runs import Run
from explorer.session import rows_of

DEMO = "van-bench"


def rows(found: Run, count: int) -> list[dict[str, Any]]:
    places = np.unique(np.linspace(0, len(found.front) - 1, count).astype(int))
    return rows_of(found.front.iloc[places])


def counting(monkeypatch: pytest.MonkeyPatch) -> Counter[str]:
    """How often a job's arrays are built, and how many batches are judged exactly, by their size."""
    count: Counter[str] = Counter()
    build, judge = Evaluator.__init__, Evaluator.judge

    def building(self: Evaluator, *given: Any, **named: Any) -> None:
        count["built"] += 1
        build(self, *given, **named)

    def judging(self: Evaluator, designs: Designs, *given: Any, **named: Any) -> Judgement:
        if named.get("exact"):
            count[f"judged {len(designs)}"] += 1
        return judge(self, designs, *given, **named)

    monkeypatch.setattr(Evaluator, "__init__", building)
    monkeypatch.setattr(Evaluator, "judge", judging)
    return count
