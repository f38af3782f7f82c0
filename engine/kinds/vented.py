"""The vented box (Small 1973): the vents' air is a mass, with a resistance in series.

admittance   ωb·cab·ωb/(m·p + P·ωb)        p = jω, m = map·ωb²·cab, P = 1/qp
"""

from __future__ import annotations

from engine.kinds.record import Boxes, Branch, Kind, own_mass


def _branch(boxes: Boxes) -> Branch:
    wb = boxes.omega_b
    return Branch(top=(wb,), bottom=(1.0 / boxes.qp * wb, own_mass(boxes)), area=boxes.vent_count * boxes.vent_area)


VENTED = Kind(
    name="vented", label="Vented box", noun="a vented box", short="vented", choice="Vented", built="vented",
    usual_ql=7.0,  # Small 1973
    opening="vent", tuned_by="length", order=1, branch=_branch, mark="circle", dash=(1, 0),
)  # fmt: skip
