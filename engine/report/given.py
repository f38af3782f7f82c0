"""A given box in words: its sizes outside and inside, what it holds, and what keeps it from being built or used so."""

from __future__ import annotations

import math

from engine.constraints import CONSTRAINTS
from engine.judged import JudgedDesign
from engine.quantities import Units, show, show_size
from engine.report.wording import baffle
from engine.space.sizes import OUTER, inside_of
from engine.workshop.words import leans

# Outside and inside: the order in which sizes are told.
_INSIDE = ("inside_width", "inside_height", "inside_top_depth", "inside_bottom_depth")
_OUTSIDE = (*OUTER[:2], "top_depth", "bottom_depth")
EXACT_DIGITS = {"metric": 2, "us": 3}  # of a volume: those that a builder works with by hand


def sizes_in_words(design: JudgedDesign, units: Units) -> tuple[list[str], list[str]]:
    """Width, height, depth at the top and at the bottom: outside, then inside."""
    wedges = design.judgement.wedges
    inside = inside_of(wedges)
    outside = [show_size(float(getattr(wedges, name)[0]), units) for name in _OUTSIDE]
    return outside, [show_size(float(inside[name][0]), units) for name in _INSIDE]


def boxes_in_words(design: JudgedDesign, units: Units) -> list[str]:
    """Its board and slants, what it holds empty and with all its parts in, its drivers and how they are wired."""
    row, wedges = design.row, design.judgement.wedges
    gross, net = (
        show(float(row[f"{which}_volume_m3"]), "volume", units, EXACT_DIGITS[units]) for which in ("gross", "net")
    )
    double = "".join(f"; {line}" for line in (baffle(row, design.scenario, units),) if line)
    board, forward = show_size(wedges.board, units), -math.radians(float(row["baffle_angle_deg"]))
    return [
        f"Board {board}{double}. {leans(wedges.back_angle, forward, units)}",
        f"{gross} between the boards; {net} net, with drivers, braces and what it breathes through off.",
        f"{int(row['driver_count'])} × {row['driver']}. {design.wired}",
    ]


def missed_in_words(design: JudgedDesign, units: Units) -> list[str]:
    """What keeps it from being built or used so; nothing where nothing does."""
    short = [
        f"{'Short of' if CONSTRAINTS[each.constraint].goal is None else 'Beyond'} {each.told(units)}"
        for each in design.shortfalls
    ]
    return [*short, *design.inspection.sentences(units)]
