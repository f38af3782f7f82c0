"""A recommended high-pass put among the filters that the next search may use.

Plain functions of a document; no page code.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import Any

from engine.judged import Recommendation
from engine.scenario import FilterChoice
from explorer.document import Document, get, put

AROUND = 0.05  # of the frequency, to either side: what the search may move it by
RANGE = (5.0, 100.0)  # Hz, what a scenario accepts
SAME_Q = 0.005


def tries(filters: Sequence[FilterChoice], advised: Recommendation) -> bool:
    """Whether a search with these filters may already use the advised one."""
    return any(
        _same_kind(choice, advised) and choice.frequency[0] <= advised.hz <= choice.frequency[1] for choice in filters
    )


def with_filter(document: Document, filters: Sequence[FilterChoice], advised: Recommendation) -> Document:
    """The document with the advised filter in a narrow range, or the range of one of its kind opened to it.

    ``filters`` are those the document comes to; one that states none goes on being tried without a filter too.
    """
    low, high = advised.hz * (1.0 - AROUND), advised.hz * (1.0 + AROUND)
    stated = get(document, ("filter",))
    row: list[Any] = stated if isinstance(stated, list) and stated else [{"kind": "none"}]
    for number, choice in enumerate(filters):
        if _same_kind(choice, advised):
            low, high = min(low, choice.frequency[0]), max(high, choice.frequency[1])
            return put(document, ("filter", number, "frequency"), _written(low, high))
    new: dict[str, Any] = {"kind": "highpass", "order": int(advised.order), "frequency": _written(low, high)}
    if advised.shape != "butterworth":
        new["shape"] = advised.shape
    if advised.shape == "own":
        new["q"] = round(float(advised.q), 2)
    return put(document, ("filter",), [*row, new])


def _same_kind(choice: FilterChoice, advised: Recommendation) -> bool:
    if (choice.order, choice.shape) != (advised.order, advised.shape):
        return False
    return advised.shape != "own" or math.isclose(choice.q, advised.q, abs_tol=SAME_Q)


def _written(low: float, high: float) -> list[str]:
    return [f"{min(max(edge, RANGE[0]), RANGE[1]):.1f} Hz" for edge in (low, high)]
