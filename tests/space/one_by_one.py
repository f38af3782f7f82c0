"""Functions of one design asked for each row of a batch."""

from __future__ import annotations

from collections.abc import Callable
from types import SimpleNamespace
from typing import Any

import numpy as np

from engine.core.compiled import Table
from engine.packing.contents import Rules
from tests.space.batches import CUP, GAP, SPAN, C, contents_of


def for_each(function: Callable[..., Any], *arguments: Any) -> Any:
    """What a function gives for every row of the arrays and tables among its arguments: the same, stacked."""
    count = next(len(each) for each in arguments if isinstance(each, np.ndarray))
    taken = [each if isinstance(each, np.ndarray) else [each] * count for each in arguments]
    return stacked([function(*row) for row in zip(*taken, strict=True)])


def stacked(found: list[Any]) -> Any:
    """Numbers, or tuples of them, as arrays."""
    first = found[0]
    if hasattr(first, "_fields"):
        return SimpleNamespace(**{name: stacked([getattr(each, name) for each in found]) for name in first._fields})
    if isinstance(first, tuple):
        return tuple(stacked(list(each)) for each in zip(*found, strict=True))
    return np.array(found)


def drivers_in(things: dict[str, Any]) -> Table:
    return contents_of(things).drivers


def rules_with(*, round_over: float = 0.0, cup: bool = False) -> Rules:
    return Rules(breathing_gap=GAP, brace_span=SPAN, c=C, round_over=round_over, cup=CUP if cup else None)


def allowed(*, round_over: float = 0.0, cup: bool = False) -> Any:
    """The row of the usual rules."""
    return rules_with(round_over=round_over, cup=cup).allowances[0]
