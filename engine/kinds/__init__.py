"""The kinds of box there are: a file each, and its line in ``KINDS``."""

from __future__ import annotations

import numpy as np

from engine.arrays import Floats, Integers
from engine.kinds.closed import CLOSED
from engine.kinds.radiator import RADIATOR
from engine.kinds.record import Kind, Opening
from engine.kinds.vented import VENTED
from engine.registry import Registry

KINDS: Registry[Kind] = Registry(CLOSED, VENTED, RADIATOR)


def with_opening(opening: Opening) -> Kind:
    """The first kind of box that has this in its opening: what is meant where no kind is stated."""
    return next(kind for kind in KINDS.records if kind.opening == opening)


def told_by(*, vent_count: Floats, radiator_count: Floats) -> Integers:
    """The code in ``KINDS`` of boxes, (N,), from what stands in their openings."""
    none, vent, radiator = (KINDS.code(with_opening(each).name) for each in ("none", "vent", "radiator"))
    return np.where(radiator_count > 0.0, radiator, np.where(vent_count > 0.0, vent, none))
