"""What a saw makes of a box's sizes: outside sizes in whole steps, slants in whole steps of its tilt.

All four outside sizes are exact.  The bevel is what is set on the saw: the whole step of its tilt to which the depth at
the top is chosen, to half a step of sizes.  From the true slant of the baffle it is off by no more than half a step of
sizes in the box's height, 0.07° for 1 mm in 400 mm, which glue fills.  Where sizes that are stated leave a baffle
further from every step, the bevel is the true slant.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence

import numpy as np

from engine.arrays import Floats, Integers
from engine.parts import Saw
from engine.steps import nearest_step, stepped

SAME = 1e-6  # rad; angles no further apart are one
UNBOUND = (-math.inf, math.inf)
STORED = 1e-5  # m, what the front's rounding may take off a size


def slants(saw: Saw, *, back_angle: float, bevels: float = math.inf) -> Floats:
    """Leans in rad that a baffle may have, rising: steps of the saw, and those for which it is set as for the back.

    ``bevels`` is how many different bevels the box may have.
    """
    parallel = [-abs(back_angle), abs(back_angle)]
    if bevels < 1.0:
        return np.zeros(1)
    if bevels < 2.0 and abs(back_angle) > SAME:
        return np.array([parallel[0], 0.0, parallel[1]])
    most = math.floor(saw.most_bevel / saw.angle_step + SAME)
    whole = saw.angle_step * np.arange(-most, most + 1)
    found = np.sort(np.concatenate([whole, [lean for lean in parallel if abs(lean) <= saw.most_bevel]]))
    return np.asarray(found[np.append(True, np.diff(found) > SAME)])


def sawn(
    sizes: Mapping[str, Floats], *, saw: Saw, back_angle: float, leans: Floats,
    bounds: Mapping[str, Sequence[float]] | None = None,
) -> dict[str, Floats]:  # fmt: skip
    """Outer sizes, (N,) m each by their names, brought down to what a saw makes.

    The baffle takes the next of ``leans`` (those of :func:`slants`) back from where it leaned, which makes the top less
    deep.  Where the top then has no depth within its ``bounds`` it is given one, and the bottom's depth follows; where
    that has bounds too and cannot, all stay as they are and the bevel is no whole step.
    """
    width, height, bottom, drawn = (
        stepped(sizes[name], saw.size_step) for name in ("outer_width", "outer_height", "bottom_depth", "top_depth")
    )
    back, tall = math.tan(back_angle), np.maximum(height, saw.size_step)
    # From the depth drawn, not yet in steps: it may lie just short of one.
    slope = back + (np.asarray(sizes["top_depth"]) - bottom) / tall
    lean, _ = slants_beside(np.arctan(slope), leans)
    gained = tall * (np.tan(lean) - back)
    top = nearest_step(bottom + gained, saw.size_step)
    asked = bounds or {}
    if "top_depth" in asked:
        least, most = asked["top_depth"]
        wrong = (top < least - SAME) | (top > most + SAME)
        low, high = asked.get("bottom_depth", UNBOUND)
        top = np.where(wrong, np.clip(drawn, least, most), top)
        follows = nearest_step(top - gained, saw.size_step)
        can = wrong & (follows >= low - SAME) & (follows <= high + SAME)
        bottom = np.where(can, follows, bottom)
    return {"outer_width": width, "outer_height": height, "bottom_depth": bottom, "top_depth": top}


def slants_beside(lean: Floats, leans: Floats) -> tuple[Floats, Floats]:
    """The next of some ``leans`` (rad, rising) back and forward from each, (N,) rad; the last where there is none."""
    beyond = np.searchsorted(leans, lean + SAME, side="right")
    return leans[np.maximum(beyond - 1, 0)], leans[np.minimum(beyond, len(leans) - 1)]


def bevel_of(lean: Floats, *, tall: Floats, saw: Saw, back_angle: float) -> Floats:
    """What a saw is set to for baffles of boxes ``tall`` m outside that lean so, (N,) rad each.

    The nearest step, or as for the back if that is nearer, as long as the baffle's ends are off by no more than half a
    step of sizes then; else the lean itself.

    >>> saw, tall = Saw(), np.full(3, 0.4)
    >>> np.degrees(bevel_of(np.radians([-14.05, 0.05, 9.2]), tall=tall, saw=saw, back_angle=0.0)).round(3).tolist()
    [-14.0, 0.0, 9.2]
    """
    step = saw.angle_step * np.rint(lean / saw.angle_step) + 0.0
    parallel = np.copysign(abs(back_angle), lean)
    nominal = np.where(np.abs(lean - parallel) < np.abs(lean - step), parallel, step)
    off = np.abs(np.tan(nominal) - np.tan(lean)) * tall
    return np.asarray(np.where(off <= 0.5 * saw.size_step + STORED, nominal, lean))


def different_bevels(baffle: Floats, *, back_angle: float) -> Integers:
    """How many different bevels are set on the saw for boxes whose baffle leans so, (N,) rad; square ones are none."""
    back = abs(back_angle)
    slanted, other = np.abs(baffle) > SAME, np.abs(np.abs(baffle) - back) > SAME
    return np.asarray(int(back > SAME) + (slanted & other).astype(np.int64))
