"""What the air inside a box weighs between its drivers and its openings, and what a thin box is tuned to for it.

A box is a spring only to first order.  The air that flows from a driver to the far corners, and from there into a vent,
has mass too, and in a shallow box that mass is several per cent of the vent's.  With volume velocities U into the air
of the cavity and p the pressures averaged over the ports,

    p_i = ρc²/(jωV)·ΣU_j + jωρ·Σ M_ij·U_j,

and ``inertance`` gives M in 1/m, for all openings (vents or passive radiators) together and
all drivers together; ``thin_box`` turns it into the figures of a circuit.

The cavity is taken as a layer: height H, width W and a depth h(z) that changes linearly.  In the layer the pressure is
a sum of modes over the height, exact in x (a duct's Green function, Morse & Ingard 1968 ch. 9, from memory).  Its
logarithm at a port is taken out and replaced by what is true in three dimensions: the end correction of a free pipe or
of a piston, with the images of the port in back and baffle (sums of images between parallel plates, in closed form).  A
slot fills the depth of the layer, so its mouth stays two-dimensional (``chamber.py``), and the layer is what the slot
and its board leave.

Good to 0.5 % of tuning and impedance peaks against finite elements (``tests/acoustics/test_thin_box.py``)
for widths 0.4-1.0 m, heights 0.3-0.5 m, depths 0.06-0.3 m, back leaning -5 to 22°, baffle -24 to 28°, one to
four bores of 40-90 mm with 8 mm or more round the pipes and 3 mm or more of them inside, slots 25-50 mm
high, up to 0.37 of the first mode.  What braces weigh is in ``windows.py``.  Not in it: baskets, magnets, blocks and
filling; losses.

Axes: x from the inner face of the left side, y forward and z up from the inner bottom back corner.
"""

from __future__ import annotations

from dataclasses import dataclass, fields
from typing import Any, NamedTuple, Self

import numpy as np

from engine.arrays import Flags, Floats, Indices, Integers

ACROSS, SQUARE, UPWARD, DOWNWARD, FACE, BOTTOM, SIDE, SLOT, SLOT_UP, SLOT_DOWN = range(10)
"""Kinds of ports.  Inner mouths of pipes that lie along the width (ACROSS), square to the baffle
(SQUARE) or upright through the bottom (UPWARD) or the top (DOWNWARD); cones in the baffle, the bottom
or a side panel.  SLOT is the mouth of a slot along bottom or top, SLOT_UP of one along the bottom that has turned up
the right side panel, SLOT_DOWN of one along the top that has turned down it."""


@dataclass(frozen=True, kw_only=True)
class Cavities:
    """Inner sizes of N boxes, arrays (N,), m.

    ``bottom_depth`` and ``top_depth`` are measured horizontally; ``back_slope`` is the
    forward run of the back per metre of height.
    """

    width: Floats
    height: Floats
    bottom_depth: Floats
    top_depth: Floats
    back_slope: Floats

    def __len__(self) -> int:
        return len(self.width)

    def take(self, rows: Any) -> Self:
        """Some of the boxes."""
        return type(self)(**{name: each[rows] for name, each in vars(self).items()})


class Cavity(NamedTuple):
    """The same of one box, numbers, or of a batch as compiled code takes it, arrays (N,)."""

    width: Any
    height: Any
    bottom_depth: Any
    top_depth: Any
    back_slope: Any


class Ports(NamedTuple):
    """P ports of N boxes, arrays (N, P), m, in the cavity's axes.

    ``kind`` is one of the codes above; ``opening`` says that air or a passive radiator moves in it, else a driver.
    ``x, y, z`` is the centre of an inner mouth or of a cone.  ``radius`` is the bore's or the cone's, nan where a box
    has fewer ports; ``outer`` is the pipe's outer radius and ``inside`` its length before the panel's inner face, not
    looked at for cones.  Of a slot ``radius`` is half its clear height and ``outer`` that and its board's thickness; a
    box with a slot has no other opening.
    """

    kind: Integers
    opening: Flags
    x: Floats
    y: Floats
    z: Floats
    radius: Floats
    outer: Floats
    inside: Floats

    def take(self, rows: Any) -> Self:
        """Those of some boxes."""
        return type(self)(*(each[rows] for each in self))


@dataclass(frozen=True, kw_only=True)
class Inertance:
    """Inertance over density of the air in or round N cavities, arrays (N,), 1/m, 0 where there is no such port.

    Between the volume velocity of all drivers together, and that of all openings together.  ``opening`` holds the end
    correction of vents on that side, ``driver`` the air that loads that side of the cones.
    """

    driver: Floats
    mutual: Floats
    opening: Floats

    @classmethod
    def none(cls, count: int) -> Self:
        """Of no air at all."""
        return cls(**{each.name: np.zeros(count) for each in fields(cls)})

    def put(self, rows: Indices, other: Self) -> None:
        """Take over ``other`` for some rows, in place."""
        for name, each in vars(self).items():
            each[rows] = getattr(other, name)


@dataclass(frozen=True, kw_only=True)
class Inside(Inertance):
    """The same of the air inside, and the largest parts of either's volume velocity that pass a brace."""

    driver_past: Floats
    opening_past: Floats
