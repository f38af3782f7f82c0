"""What sweeps are fitted by: the names of the figures, and how loosely each is known before."""

from __future__ import annotations

from typing import NamedTuple

DRIVER = ("re", "fs", "qms", "qes", "vas")
LOSSES = ("ql", "qa", "qp")


class Prior(NamedTuple):
    """How far a figure may be off what is foreseen, a standard deviation of its logarithm, and at the most.

    The project's choice, wider than data sheets and saws are off, so that what is told is told by the sweep.
    """

    loose: float
    most: float


PRIORS = {
    "re": Prior(0.3, 2.0), "fs": Prior(0.2, 1.0), "qms": Prior(0.5, 2.3), "qes": Prior(0.3, 1.6),
    "vas": Prior(0.3, 1.4), "tuning": Prior(0.3, 0.9), "ql": Prior(0.8, 3.5), "qa": Prior(0.8, 4.5),
    "qp": Prior(0.8, 4.5),
    "radiator_rms": Prior(0.5, 2.3), "le": Prior(1.0, 3.5), "l2": Prior(1.0, 3.5), "r2": Prior(1.0, 3.5),
    "kr": Prior(1.0, 3.5), "ki": Prior(1.0, 3.5), "n": Prior(0.25, 0.5),
}  # fmt: skip
