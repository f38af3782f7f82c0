"""The air outside a box that stands close to walls: before cones that face a seat, before vents that blow at a trim.

Baffle and seat, side panel and trim are plates with a layer of air between them.  The layers before the baffle, to the
left and to the right of the box are one strip bent round it, as high as the baffle, closed at the floor and at the back
of the box, open along its upper edge:

      wall behind
     ║ ┌───────┐ ║
     ║ │  box  │ ║ trim       upper edge: the air above the box, and from there into the cabin
     ║ └───────┘ ║            floor: closed
     ╚═══════════╝ seat       seat and trim: closed, or open by a stated share

In it the pressure is a sum of modes cos(βz) over the height, β·tan(βH) = 1/end, exact along the strip (a line of
another admittance beyond each corner), for cones and mouths that move evenly over a square of their mean distance.
Before a piston the flow has to turn into the layer: what is not even over the depth is that between two plates
(``ends.beside_plate``).  An edge ends as a mouth in the box's upper face beside a wall does: as one twice as deep.  A
wall that is open by a share lets air pass everywhere alike, γ² = β² + 1/(depth·``trim``) - k².  A box that faces down
has such a layer below it, closed at the back, open at the other three edges.  What is in the top has one above it, over
box and layers alike: closed at the back, at its other edges and above as open as the space is there; what passes down
beside the box and out lower is left out.  It weighs no less than in the pit between the walls that go on above the box
(``strip.under_sky``).

Against finite elements of box and walls together (``tests/acoustics/test_gap.py``) good to 6 % of the air outside,
2.6 % rms, for layers of 10-150 mm before baffles of 0.6-1.0 m by 0.3-0.45 m; it finds 10 % too little where nothing is
near but a wall before the box, and up to 24 % too little of what cones before the box and mouths in its side have in
common.  Not in it: how a layer that is thicker at one place than at another bends the flow (it is taken as even), flow
between the layers and what is below the box, the hollow of the cone, and cones' own excursion: where that is half of
the gap, the gap's mass grows by a seventh, 1/√(1 - ¼).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Any, NamedTuple, Self

import numpy as np

from engine.acoustics.cavity import Inertance
from engine.acoustics.ends import PISTON_END, beside_plate, pistons
from engine.acoustics.slots import flush_ends
from engine.acoustics.strip import (
    ABOVE,
    AHEAD,
    LEFT,
    Mouth,
    Niche,
    Shares,
    Strip,
    between,
    lay,
    round_corner,
    sharp,
    show,
    under_sky,
)
from engine.air import REFERENCE_AIR, Air
from engine.arrays import Floats
from engine.core.compiled import Table, borrowing, compiled, contiguous, in_pieces, table
from engine.parts import Openness

SIDES = 5
# Side over radius of the square that has the mean (logarithmic) distance of a disc: exp(-1/4) of it over 0.44705.
SQUARE = math.exp(-0.25) / 0.44705
VISCOSITY = 1.51e-5  # m²/s, kinematic, of air at 20 °C (from memory); 3 % more at 25 °C
THICK, THIN = 20.0, 0.02  # skins in half a layer: beyond, they do not meet; below, differences would be lost


class Mouths(NamedTuple):
    """P cones and outer mouths of N boxes, arrays (N, P), m.

    ``side`` is one of the codes of ``strip.py``; ``opening`` says that air or a passive radiator moves in it, else a
    driver.  ``along`` is where its centre lies along the layer: from the left side across baffle or bottom, from the
    left end of the space above the box, from the back along a side panel; ``up`` is from the layer's closed edge.
    ``length`` by ``height`` are its sides, of a disc those of the square that stands for it; ``radius`` is the disc's
    (``radius_of`` a slot), nan where a box has fewer.
    """

    side: Any
    opening: Any
    along: Floats
    up: Floats
    length: Floats
    height: Floats
    radius: Floats

    def take(self, rows: Any) -> Self:
        """Those of some boxes."""
        return type(self)(*(each[rows] for each in self))


@dataclass(frozen=True, kw_only=True)
class Outside:
    """What the air outside N boxes weighs, and ωρ times what it loses, both as ``Inertance`` has it, 1/m."""

    inertance: Inertance
    friction: Inertance


def radius_of(*, width: Floats, height: Floats) -> Floats:
    """Radius in m of the piston in a large panel before which the air weighs what it does before a slot's mouth."""
    return np.asarray(PISTON_END * width * height / (math.pi * flush_ends(width=width, height=height)))


def outside(
    *, niche: Niche, openness: Openness, mouths: Mouths, frequency: Floats, air: Air = REFERENCE_AIR
) -> Outside:
    """Inertance of the air before cones and outer mouths, each sort moving alike, at ``frequency`` (N,) Hz.

    All of it: no open air is taken off.  A piston carries no less than in a large panel before open air (Rayleigh).
    Drivers before the box and openings in its left side have the air round that corner in common; what else faces
    different sides has nothing.
    """
    count, (found, lost) = len(frequency), np.zeros((2, 3, len(frequency)))
    shares = Shares(*(float(getattr(openness, name)) for name in Shares._fields))
    places = Mouths(
        contiguous(mouths.side, np.int64), contiguous(mouths.opening, np.bool_), *map(contiguous, mouths[2:])
    )
    width = mouths.side.shape[1]
    scratch = table(Strip, 2), table(Mouth, 2 * width)
    skin = 0.5 * np.sqrt(np.pi * frequency / VISCOSITY)  # half of what a layer's depth is to one of its skins, 1/m
    in_pieces(
        _outsides, count, Niche(*map(contiguous, niche)), shares, places, contiguous(2.0 * np.pi * frequency / air.c),
        contiguous(skin), pistons(), *scratch, found, lost,
    )  # fmt: skip
    return Outside(
        inertance=Inertance(driver=found[0], mutual=found[1], opening=found[2]),
        friction=Inertance(driver=lost[0], mutual=lost[1], opening=lost[2]),
    )


@compiled
def _outsides(
    start: int, stop: int, niches: Niche, shares: Shares, mouths: Mouths, wave: Floats, skin: Floats, table: Floats,
    strips: Table, scratch: Table, found: Floats, lost: Floats,
) -> None:  # fmt: skip
    """Write inertance and friction (3, N), of drivers, mutual and of openings, of boxes ``start`` to ``stop``."""
    width = mouths.side.shape[1]
    layers, every = strips.copy(), scratch.copy()
    front, beside, cones, others = layers[0], layers[1], every[:width], every[width:]
    for i in range(start, stop):
        niche, ahead = _niche_of(niches, i), 0
        for side in range(SIDES):
            strip, ports = (front, cones) if side == AHEAD else (beside, others)
            count = _gather(mouths, i, side, ports)
            ahead = count if side == AHEAD else ahead
            if count == 0:
                continue
            lay(strip, side, niche, shares, wave[i])
            for port in range(count):
                show(strip, ports[port])
            _beside(strip, ports, count, shares, side == ABOVE, skin[i], table, i, found, lost)
            if side == LEFT and ahead > 0 and not _any_opens(cones, ahead):
                found[1, i] = 0.0
                for port in range(count):
                    for cone in range(ahead):
                        shared = round_corner(front, niche, shares, cones[cone], ports[port], wave[i])
                        found[1, i] += shared / (ahead * count)


@borrowing
def _any_opens(ports: Table, count: int) -> bool:
    """Whether any of so many ports is an opening."""
    opens = False
    for port in range(count):
        opens = opens or ports[port].opening
    return opens


@borrowing
def _niche_of(every: Niche, i: int) -> Niche:
    """That of a batch's box ``i``."""
    return Niche(
        every.width[i], every.height[i], every.depth[i], every.bottom[i], every.ahead[i], every.left[i],
        every.right[i], every.above[i], every.below[i],
    )  # fmt: skip


@borrowing
def _gather(mouths: Mouths, i: int, side: int, ports: Table) -> int:
    """Write the ports on one side of box ``i`` into the first of ``ports``, and say how many they are."""
    count = 0
    for place in range(mouths.side.shape[1]):
        if mouths.side[i, place] == side and not math.isnan(mouths.radius[i, place]):
            port = ports[count]
            port.opening, port.along, port.up = mouths.opening[i, place], mouths.along[i, place], mouths.up[i, place]
            port.length, port.height = mouths.length[i, place], mouths.height[i, place]
            port.radius = mouths.radius[i, place]
            count += 1
    return count


@borrowing
def _beside(
    strip: Strip, ports: Table, count: int, shares: Shares, above: bool, skin: float, table: Floats, i: int,
    found: Floats, lost: Floats,
) -> None:  # fmt: skip
    """Write what a layer makes of so many ports, into column ``i``."""
    weighs, loses = _filled(skin * strip.depth)
    shut = 1.0 - max(shares.front, max(shares.left, shares.right)) if above else -1.0
    for row, opening, others in ((0, False, False), (1, True, False), (2, True, True)):
        even, sky, single, turning, pairs = 0.0, 0.0, 0.0, 0.0, 0
        for one in range(count):
            for other in range(count):
                if ports[one].opening != opening or ports[other].opening != others:
                    continue
                pairs += 1
                same = one == other
                if above:
                    sky += under_sky(strip, ports[one], ports[other], same, shut)
                if same:
                    single += PISTON_END / (math.pi * ports[one].radius)
                    turning += beside_plate(ports[one].radius, strip.depth, table)
                    even += between(strip, ports[one], ports[one]) + sharp(strip, ports[one])
                elif opening != others:
                    even += between(strip, ports[one], ports[other])
                elif other < one:
                    even += 2.0 * between(strip, ports[one], ports[other])
        if pairs > 0:
            # Of each alone, and no less than under open sky.
            found[row, i] = max(even * weighs + turning, max(single, sky)) / pairs
            lost[row, i] = even * loses / pairs


@compiled
def _filled(half: float) -> tuple[float, float]:
    """Inertance and loss of air between two plates over what it would weigh without friction.

    1/(1 - tanh(κ)/κ), κ = √(jω/ν)·depth/2 = (1 + j)·``half``, which is half the depth over the skin √(2ν/ω).
    Poiseuille's flow in a very thin layer, one that sticks to the plates in a thin skin otherwise (from memory).
    """
    if half < THIN:  # its first terms, κ²/3 - 2κ⁴/15
        real, imag = 8.0 / 15.0 * half**4, 2.0 / 3.0 * half**2
    else:
        real, imag = 1.0, 0.0  # tanh κ
        if half < THICK:
            below = math.cosh(2.0 * half) + math.cos(2.0 * half)
            real, imag = math.sinh(2.0 * half) / below, math.sin(2.0 * half) / below
        real, imag = 1.0 - (real + imag) / (2.0 * half), (real - imag) / (2.0 * half)
    size = real * real + imag * imag
    return real / size, imag / size
