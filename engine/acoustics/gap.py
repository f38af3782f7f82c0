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
(``cavity``).  An edge ends as a mouth in the box's upper face beside a wall does: as one twice as deep.  A wall that
is open by a share lets air pass everywhere alike, γ² = β² + 1/(depth·``trim``) - k².  A box that faces
down has such a layer below it, closed at the back, open at the other three edges.  What is in the top has one above
it, over box and layers alike: closed at the back, at its other edges and above as open as the space is there; what
passes down beside the box and out lower is left out.  It weighs no less than in the pit between the walls that go on
above the box (``_under_sky``).

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
from typing import Self

import numpy as np
from numpy.typing import NDArray
from scipy.special import sici

from engine.acoustics.cavity import Inertance
from engine.acoustics.ends import PISTON_END, beside_plates
from engine.acoustics.slots import flush_ends
from engine.air import REFERENCE_AIR, Air
from engine.arrays import Flags, Floats, Indices, Integers
from engine.parts import Openness

AHEAD, LEFT, RIGHT, BELOW, ABOVE = range(5)
"""Where cones and outer mouths face."""
SIDES = 5

MODES = 6  # over the height, those beyond summed up
RISING = 1.5  # wave number that stands for the modes beyond, over the least of them: fitted to 200 modes
CHUNK = 4096  # designs worked on at once
# Side over radius of the square that has the mean (logarithmic) distance of a disc: exp(-1/4) of it over 0.44705.
SQUARE = math.exp(-0.25) / 0.44705
# An opening of some 40 mm in a trim of a few mm, both ends of it: an estimate, no source.
TRIM = 0.04  # m
LEAST_OPEN = 1e-3  # share of what is called closed all round
KEPT = 0.2  # of a mode's own β², what k² leaves of it at least
VISCOSITY = 1.51e-5  # m²/s, kinematic, of air at 20 °C (from memory); 3 % more at 25 °C


@dataclass(frozen=True, kw_only=True)
class Niche:
    """What N boxes stand in, arrays (N,), m, none of them 0.

    ``width``, ``height`` (along the baffle), mean ``depth`` and that at the ``bottom`` are the box's outside;
    ``ahead``, ``left``, ``right`` and ``below`` the depths of the air on its sides, square to its panels; ``above`` is
    the height up to where the space ends.
    """

    width: Floats
    height: Floats
    depth: Floats
    bottom: Floats
    ahead: Floats
    left: Floats
    right: Floats
    above: Floats
    below: Floats

    def take(self, rows: Indices) -> Self:
        return type(self)(**{name: each[rows] for name, each in vars(self).items()})


@dataclass(frozen=True, kw_only=True)
class Mouths:
    """P cones and outer mouths of N boxes, arrays (N, P), m.

    ``side`` is one of the codes above; ``opening`` says that air or a passive radiator moves in it, else a driver.
    ``along`` is where its centre lies along the layer: from the left side across baffle or bottom, from the left end of
    the space above the box, from the back along a side panel; ``up`` is from the layer's closed edge.  ``length`` by
    ``height`` are its sides, of a disc those of the square that stands for it; ``radius`` is the disc's (``radius_of``
    a slot), nan where a box has fewer.
    """

    side: Integers
    opening: Flags
    along: Floats
    up: Floats
    length: Floats
    height: Floats
    radius: Floats

    def take(self, rows: Indices) -> Self:
        return type(self)(**{name: each[rows] for name, each in vars(self).items()})

    def columns(self, there: Flags) -> Self:
        """The ports that are ``there`` (P,)."""
        return type(self)(**{name: each[:, there] for name, each in vars(self).items()})


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
    found, lost = Inertance.none(len(frequency)), Inertance.none(len(frequency))
    there, wave = np.isfinite(mouths.radius), 2.0 * np.pi * frequency / air.c
    for side in range(SIDES):
        here = there & (mouths.side == side)
        every = np.flatnonzero(here.any(axis=1))
        for start in range(0, len(every), CHUNK):
            rows = every[start : start + CHUNK]
            _beside(side, rows, here[rows], niche, openness, mouths.take(rows), wave[rows], air, found, lost)
    cones, vents = (there & (mouths.side == side) for side in (AHEAD, LEFT))
    cornered = cones.any(axis=1) & vents.any(axis=1) & ~(cones & mouths.opening).any(axis=1)
    rows = np.flatnonzero(cornered)
    if len(rows):
        around = niche.take(rows)
        front = _Layer.of(AHEAD, around, openness, wave[rows])
        left = _decay(front.beta, wave[rows], openness.left, around.left)
        pairs = cones[rows][:, :, np.newaxis] & vents[rows][:, np.newaxis]
        shared = np.zeros(pairs.shape)
        shared[pairs] = front.round_corner(mouths.take(rows), np.nonzero(pairs), around, left)
        found.mutual[rows] = _mean(shared, cones[rows], vents[rows])
    return Outside(inertance=found, friction=lost)


def _beside(
    side: int, rows: Indices, here: Flags, niche: Niche, openness: Openness, mouths: Mouths, wave: Floats, air: Air,
    found: Inertance, lost: Inertance,
) -> None:  # fmt: skip
    """Put in what the layer on one side of the boxes ``rows`` makes of the ``mouths`` that are ``here``, (N, P)."""
    layer = _Layer.of(side, niche.take(rows), openness, wave)
    spread, weighs = layer.between(mouths, here), 1.0 / _filled(layer.depth, wave * air.c)
    sky = _under_sky(mouths, layer, openness) if side == ABOVE else np.zeros_like(spread)
    radius = np.where(here, mouths.radius, 1.0)
    drivers, openings = here & ~mouths.opening, here & mouths.opening
    alone = np.eye(here.shape[1])
    for name, own in (("driver", drivers), ("opening", openings)):
        any_own = np.flatnonzero(own.any(axis=1))
        if not len(any_own):
            continue
        even, above = _mean(spread, own, own), _mean(sky, own, own)
        # Of each alone, over their number.
        open_air = np.maximum(_mean((PISTON_END / (np.pi * radius))[:, :, np.newaxis] * alone, own, own), above)
        turned = beside_plates(radius=radius, depth=layer.depth[:, np.newaxis])
        turning = _mean(turned[:, :, np.newaxis] * alone, own, own)
        into = rows[any_own]
        getattr(found, name)[into] = np.maximum(even * weighs.real + turning, open_air)[any_own]
        getattr(lost, name)[into] = -(even * weighs.imag)[any_own]
    both = np.flatnonzero(drivers.any(axis=1) & openings.any(axis=1))
    if len(both):
        shared, above = _mean(spread, openings, drivers), _mean(sky, openings, drivers)
        found.mutual[rows[both]] = np.maximum(shared * weighs.real, above)[both]
        lost.mutual[rows[both]] = -(shared * weighs.imag)[both]


def _mean(values: Floats, some: Flags, others: Flags) -> Floats:
    """Mean over pairs of two sorts of ports of ``values`` (N, P, P), (N,); nan where there are none."""
    pairs = some[:, :, np.newaxis] & others[:, np.newaxis]
    with np.errstate(invalid="ignore"):
        return np.asarray(np.where(pairs, values, 0.0).sum(axis=(1, 2)) / pairs.sum(axis=(1, 2)))


def _under_sky(mouths: Mouths, layer: _Layer, openness: Openness) -> Floats:
    """Inertance between ports in the top where nothing is above it, (N, P, P) 1/m.

    Pistons in a large panel (Rayleigh; other ones far off, 1/(2πr)) at the bottom of a pit: of its walls, as far as
    they are shut and go on above the box, by h, an image counts by (h/(h + r))², and the flow out by h over the pit's
    area.  Those two are fitted to finite elements of four niches, which they meet within 3 % of the air outside.
    """
    shut, x, y = 1.0 - max(openness.front, openness.left, openness.right), mouths.along, mouths.up
    high, wide, deep = (each[:, np.newaxis] for each in (layer.depth, layer.length, layer.tall))
    rises, radius = high[:, :, np.newaxis], mouths.radius[:, np.newaxis]
    total = shut * rises / (wide * deep)[:, :, np.newaxis] + np.zeros((*x.shape, x.shape[1]))
    for a, image_x in enumerate((x, -x, 2.0 * wide - x)):
        for b, image_y in enumerate((y, -y, 2.0 * deep - y)):
            ways = (one[:, :, np.newaxis] - other[:, np.newaxis] for one, other in ((x, image_x), (y, image_y)))
            apart = np.maximum(np.hypot(*ways), radius)
            if a == b == 0:
                own = np.eye(x.shape[1], dtype=bool)
                total += np.where(own, PISTON_END / (np.pi * radius), 0.5 / (np.pi * apart))
            else:
                total += shut * (rises / (rises + apart)) ** 2 * 0.5 / (np.pi * apart)
    return total


def _filled(depth: Floats, omega: Floats) -> NDArray[np.complex128]:
    """Density over that of the moving air, complex, of air between two plates: 1 - tanh(κ)/κ, κ = √(jω/ν)·depth/2.

    Poiseuille's flow in a very thin layer, one that sticks to the plates in a thin skin otherwise (from memory).
    """
    stuck = np.sqrt(1j * omega / VISCOSITY) * 0.5 * depth
    return np.asarray(1.0 - np.tanh(stuck) / stuck)


@dataclass(frozen=True, kw_only=True)
class _Layer:
    """One layer as a piece of the strip, for N boxes and K modes over its height: arrays (N,) and (N, K)."""

    depth: Floats
    length: Floats
    tall: Floats
    beta: Floats  # (N, K) 1/m
    norm: Floats  # (N, K) ∫cos²(βz) dz, m
    gamma: Floats  # (N, K) decay along it, 1/m
    start: Floats  # (N, K) how much comes back from either end
    end: Floats

    @classmethod
    def of(cls, side: int, niche: Niche, openness: Openness, wave: Floats) -> Self:
        """The layer on one side, at wave numbers ω/c (N,)."""
        if side == BELOW:
            depth, length, height = niche.below, niche.width, niche.bottom
            beta, norm = _modes(height, flush_ends(width=length, height=2.0 * depth))
            gamma = _decay(beta, wave, 0.0, depth)
            end = (depth / flush_ends(width=height, height=2.0 * depth))[:, np.newaxis]
            return cls._between_ends(depth, length, height, beta, norm, gamma, end, end)
        if side == ABOVE:
            depth, length = niche.above, niche.left + niche.width + niche.right
            height = 2.0 * niche.depth - niche.bottom + niche.ahead
            front = flush_ends(width=length, height=2.0 * depth) + _trim(openness.front)
            beside = flush_ends(width=height, height=2.0 * depth)
            beta, norm = _modes(height, front)
            gamma = _decay(beta, wave, openness.top, depth)
            left, right = (
                (depth / (beside + _trim(share)))[:, np.newaxis] for share in (openness.left, openness.right)
            )
            return cls._between_ends(depth, length, height, beta, norm, gamma, left, right)
        depths = {AHEAD: niche.ahead, LEFT: niche.left, RIGHT: niche.right}
        lengths = {AHEAD: niche.width, LEFT: niche.depth, RIGHT: niche.depth}
        shares = {AHEAD: openness.front, LEFT: openness.left, RIGHT: openness.right}
        depth, length = depths[side], lengths[side]
        section = sum(depths[each] * lengths[each] for each in depths)
        whole = (niche.width + niche.left + niche.right) * (niche.depth + niche.ahead)
        edge = edge_end(length=length, depth=depth, above=niche.above, corner=side != AHEAD)
        edge = edge + section / whole * _trim(openness.top)
        beta, norm = _modes(niche.height, edge)
        gammas = {each: _decay(beta, wave, shares[each], depths[each]) for each in depths}

        def beyond(*rest: int) -> Floats:
            """Admittance of the layers that follow round the corners, from the farthest on, (N, K)."""
            found = np.zeros_like(beta)
            for each in rest:
                own = depths[each][:, np.newaxis] * gammas[each]
                turn = np.tanh(gammas[each] * lengths[each][:, np.newaxis])
                found = own * (found + own * turn) / (own + found * turn)
                found, _ = _turned(found, beta, depths[side if each == AHEAD else each], niche.ahead)
            return found

        if side == AHEAD:
            ends = beyond(LEFT), beyond(RIGHT)
        else:
            ends = np.zeros_like(beta), beyond(RIGHT if side == LEFT else LEFT, AHEAD)
        return cls._between_ends(depth, length, niche.height, beta, norm, gammas[side], *ends)

    @classmethod
    def _between_ends(
        cls, depth: Floats, length: Floats, tall: Floats, beta: Floats, norm: Floats, gamma: Floats, *ends: Floats
    ) -> Self:
        own = depth[:, np.newaxis] * gamma
        start, end = ((own - each) / (own + each) for each in ends)
        return cls(depth=depth, length=length, tall=tall, beta=beta, norm=norm, gamma=gamma, start=start, end=end)

    def between(self, mouths: Mouths, here: Flags) -> Floats:
        """Part of the inertance between the ports that are ``here`` that is even over the depth, (N, P, P) 1/m."""
        gamma, total = self.gamma, np.zeros((*here.shape, here.shape[1]))
        through = np.exp(-gamma * self.length[:, np.newaxis])
        again = 1.0 - self.start * self.end * through**2
        scale = 1.0 / (2.0 * self.depth[:, np.newaxis] * gamma * again * self.norm)
        # Each port of each box, and each pair of them, as one list.
        ports = np.nonzero(here)
        place = np.zeros(here.shape, dtype=np.intp)
        place[ports] = np.arange(len(ports[0]))
        shown, back, forth = self._shown(mouths, ports)
        rows, i, j = np.nonzero(here[:, :, np.newaxis] & here[:, np.newaxis] & np.tri(here.shape[1], dtype=bool))
        one, other = place[rows, i], place[rows, j]
        start, end = self.start[rows], self.end[rows]
        waves = self._straight(mouths, rows, i, j) * again[rows]
        waves += start * back[one] * back[other] + end * forth[one] * forth[other]
        waves += start * end * through[rows] * (back[one] * forth[other] + forth[one] * back[other])
        found = (scale[rows] * shown[one] * shown[other] * waves).sum(axis=-1)
        found[i == j] += self._sharp(mouths, ports)
        total[rows, i, j] = total[rows, j, i] = found
        return total

    def round_corner(self, mouths: Mouths, pairs: tuple[Indices, ...], niche: Niche, left: Floats) -> Floats:
        """Inertance between cones before the box and mouths in its left side, (M,) 1/m.

        Of the layer before the box.  ``pairs`` are boxes, cones and mouths, (M,) each; ``left`` is the decay along the
        layer on the left, (N, K) 1/m.
        """
        rows, i, j = pairs
        deep = niche.depth[:, np.newaxis]
        _, passed = _turned(niche.left[:, np.newaxis] * left * np.tanh(left * deep), self.beta, niche.left, niche.ahead)
        through = np.exp(-self.gamma * self.length[:, np.newaxis])
        scale = self.depth[:, np.newaxis] * self.gamma * (1.0 - self.start * self.end * through**2) * self.norm
        # At the corner: straight and from either end.
        shown, back, forth = self._shown(mouths, (rows, i))
        corner = 0.5 * (1.0 + self.start[rows]) * (back + (self.end * through)[rows] * forth)
        corner *= shown * (passed / scale)[rows]
        up, high, along = (each[rows, j, np.newaxis] for each in (mouths.up, mouths.height, mouths.along))
        beta, left = self.beta[rows], left[rows]
        seen = np.cos(beta * up) * _over(np.sin(0.5 * beta * high), 0.5 * beta * high)
        return np.asarray((corner * seen * np.cosh(left * along) / np.cosh(left * deep[rows])).sum(axis=-1))

    def _shown(self, mouths: Mouths, ports: tuple[Indices, ...]) -> tuple[Floats, Floats, Floats]:
        """How much of each mode ports move, and what reaches the start and the end of the layer, (M, K)."""
        along, half = mouths.along[ports][:, np.newaxis], 0.5 * mouths.length[ports][:, np.newaxis]
        up, high = mouths.up[ports][:, np.newaxis], 0.5 * mouths.height[ports][:, np.newaxis]
        beta, gamma = self.beta[ports[0]], self.gamma[ports[0]]
        shown = np.cos(beta * up) * _over(np.sin(beta * high), beta * high)
        wide = _over(np.sinh(gamma * half), gamma * half)
        rest = self.length[ports[0], np.newaxis] - along
        return shown, np.exp(-gamma * along) * wide, np.exp(-gamma * rest) * wide

    def _sharp(self, mouths: Mouths, ports: tuple[Indices, ...]) -> Floats:
        """What the modes beyond ``MODES`` come to for ports alone, far from edges, (M,) 1/m.

        Of such a mode ½·sin²(x)/x²·2/(β·length), x = β·height/2, is left; their sum is an integral over x.
        """
        rows = ports[0]
        height, length, least = mouths.height[ports], mouths.length[ports], (MODES - 0.5) * np.pi / self.tall[rows]
        x = 0.5 * least * height
        rest = np.sin(x) ** 2 / x**3 + 0.5 * np.sin(2.0 * x) / x**2 + np.cos(2.0 * x) / x
        rest = (rest - np.pi + 2.0 * sici(2.0 * x)[0]) / 3.0
        ends = 1.0 / (1.0 + 1.0 / (RISING * least * length)) * self.beta[rows, -1] / self.gamma[rows, -1]
        return np.asarray(0.5 * height * rest * ends / (np.pi * self.depth[rows] * length))

    def _straight(self, mouths: Mouths, rows: Indices, i: Indices, j: Indices) -> Floats:
        """exp(-γ·distance) averaged over pairs of ports, which may overlap along the strip, (M, K)."""
        gamma, one, other = self.gamma[rows], mouths.length[rows, i], mouths.length[rows, j]
        away, total = mouths.along[rows, i] - mouths.along[rows, j], np.zeros_like(gamma)
        for ends, sign in ((0.5 * (one + other), 1.0), (0.5 * (one - other), -1.0)):
            for run in (np.abs(away + ends), np.abs(away - ends)):
                run = gamma * run[:, np.newaxis]
                total += sign * (np.exp(-run) + run)
        return np.asarray(total / (gamma**2 * (one * other)[:, np.newaxis]))


def corner_squares(ratio: Floats) -> Floats:
    """Squares that the air in a right-angled corner counts for, beyond its legs up to the inner edge.

    ``ratio`` is that of the legs' widths, t or 1/t: 1/t + (2/π)·ln((t² + 1)/(4t)) + s/(πt)·arccos(s/(t² + 1)) with
    s = t² - 1 (Hall 1968, from memory; 0.559 at t = 1, 0.873 at 4).
    """
    over, square = 1.0 / ratio, ratio**2
    turned = (square - 1.0) / np.pi * over * np.arccos((square - 1.0) / (square + 1.0))
    return np.asarray(over + 2.0 / np.pi * np.log((square + 1.0) * 0.25 * over) + turned)


def _turned(admittance: Floats, beta: Floats, beside: Floats, ahead: Floats) -> tuple[Floats, Floats]:
    """Admittance (N, K) seen round a corner of layers so deep, and the part of the pressure that comes through.

    Half of the corner's resistance is on either side of the air that rises in the corner itself.
    """
    half = 0.5 * corner_squares(beside / ahead)[:, np.newaxis]
    rising = admittance / (1.0 + half * admittance) + (beside * ahead)[:, np.newaxis] * beta**2
    return rising / (1.0 + half * rising), 1.0 / ((1.0 + half * admittance) * (1.0 + half * rising))


def _over(top: Floats, bottom: Floats) -> Floats:
    """One over the other, 1 where both vanish."""
    return np.asarray(np.where(bottom > 1e-9, top / np.maximum(bottom, 1e-9), 1.0))


def _modes(height: Floats, end: Floats) -> tuple[Floats, Floats]:
    """Wave numbers β (N, K) of modes cos(βz) with an end (N,) m at the upper edge, and ∫cos²(βz) dz."""
    open_by = (height / end)[:, np.newaxis]
    order = np.arange(MODES) * np.pi
    first = np.sqrt(open_by / (1.0 + 4.0 / np.pi**2 * open_by))
    angle = np.where(order == 0.0, first, order + np.arctan(open_by / (order + 0.5 * np.pi)))
    for _ in range(3):  # Newton's steps towards angle = order + arctan(open_by/angle)
        off = angle - order - np.arctan(open_by / angle)
        angle = angle - off / (1.0 + open_by / (angle**2 + open_by**2))
    tall = height[:, np.newaxis]
    return angle / tall, 0.5 * tall * (1.0 + np.sin(2.0 * angle) / (2.0 * angle))


def edge_end(*, length: Floats, depth: Floats, above: Floats, corner: bool) -> Floats:
    """End of a layer in m at the box's upper edge: beside a wall, or in a ``corner``, that goes on for ``above``."""
    flush = flush_ends(width=length, height=depth)
    beside = flush_ends(width=length * (2.0 if corner else 1.0), height=2.0 * depth)
    return np.asarray(flush + (beside - flush) * above / (above + depth))


def _trim(share: float) -> float:
    """What a wall that is open by a share weighs, as a column of air over all of it, m."""
    return TRIM * (1.0 / max(share, LEAST_OPEN) - 1.0)


def _decay(beta: Floats, wave: Floats, share: float, depth: Floats) -> Floats:
    """γ (N, K) along a layer whose wall is open by a share."""
    through = share / (TRIM * max(1.0 - share, LEAST_OPEN)) / depth - wave**2
    return np.asarray(np.sqrt(np.maximum(beta**2 + through[:, np.newaxis], KEPT * beta**2)))
