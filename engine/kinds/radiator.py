"""The box with passive radiators (Small 1974): a mass, a resistance and a spring of their own in series.

    admittance   ωb·cab·ωb·p/(m·p² + P·ωb·p + σ·ωb²)        p = jω, m = map·ωb²·cab, P = rap·ωb·cab, σ = cab/cap

At their own resonance outside the box the radiators oppose the drivers, and the sound vanishes but for losses.
"""

from __future__ import annotations

import numpy as np

from engine.arrays import Floats
from engine.kinds.record import Boxes, Branch, Kind, own_mass


def stiffness(boxes: Boxes) -> Floats:
    """1/δ = cab/cap: stiffness of all radiators' suspensions over that of the box, (N,)."""
    return boxes.cab / (boxes.radiator_count * boxes.radiator_sd**2 * boxes.radiator_cms)


def moving_mass(boxes: Boxes) -> Floats:
    """Moving mass in kg behind each passive radiator at the tuning, (N,).

    map = (1 + 1/δ)/(ωb²·cab), from fb = fp·sqrt(1 + δ) (Small 1974).  From a lumped tuning it is what the
    radiator must have, and less its own what has to be added; from a true one a thin box's air is in it.
    """
    acoustic = (1.0 + stiffness(boxes)) / (boxes.omega_b**2 * boxes.cab)
    return np.asarray(acoustic * boxes.radiator_count * boxes.radiator_sd**2)


def notch(boxes: Boxes) -> Floats:
    """The radiators' own resonance over the tuning, (N,)."""
    return np.sqrt(stiffness(boxes) / _mass(boxes))


def _mass(boxes: Boxes) -> Floats:
    return own_mass(boxes) + stiffness(boxes)


def _branch(boxes: Boxes) -> Branch:
    wb, area = boxes.omega_b, boxes.radiator_count * boxes.radiator_sd
    resistance = boxes.radiator_rms / (boxes.radiator_count * boxes.radiator_sd**2)
    bottom = (stiffness(boxes) * wb**2, resistance * wb * boxes.cab * wb, _mass(boxes))
    return Branch(top=(np.zeros_like(wb), wb), bottom=bottom, area=area)


RADIATOR = Kind(
    name="radiator", label="Box with passive radiator", noun="a box with passive radiators", short="passive radiator",
    choice="Passive radiator", built="built with passive radiators",
    usual_ql=7.0,  # Small 1974
    opening="radiator", tuned_by="added_mass", order=2, branch=_branch, mark="triangle-up", dash=(2, 2),
)  # fmt: skip
