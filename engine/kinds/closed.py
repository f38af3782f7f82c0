"""The closed box: no opening, so no branch but its spring and its leak."""

from __future__ import annotations

import math

import numpy as np

from engine.kinds.record import Boxes, Branch, Kind


def _branch(boxes: Boxes) -> Branch:
    nothing = np.zeros_like(boxes.cab)
    return Branch(top=(nothing,), bottom=(np.ones_like(nothing),), area=nothing)


CLOSED = Kind(
    name="closed", label="Closed box", noun="a closed box", short="closed", choice="Closed", built="closed",
    opening="none", tuned_by="", usual_ql=math.inf, order=0, branch=_branch, mark="square", dash=(5, 3),
)  # fmt: skip
