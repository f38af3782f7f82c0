"""One layer of the air round a box as a piece of a strip, and the inertance of ports in it.

Compiled scalar functions of one box, one port, one pair of ports; ``gap.py`` says what is modelled.
"""

from __future__ import annotations

import math
from typing import Annotated, Any, NamedTuple, Self

from engine.acoustics.ends import PISTON_END
from engine.acoustics.slots import flush_end
from engine.acoustics.special import sine_integral
from engine.arrays import Floats
from engine.core.compiled import compiled

AHEAD, LEFT, RIGHT, BELOW, ABOVE = range(5)
"""Where cones and outer mouths face."""

MODES = 6  # over the height, those beyond summed up
RISING = 1.5  # wave number that stands for the modes beyond, over the least of them: fitted to 200 modes
# An opening of some 40 mm in a trim of a few mm, both ends of it: an estimate, no source.
TRIM = 0.04  # m
LEAST_OPEN = 1e-3  # share of what is called closed all round
KEPT = 0.2  # of a mode's own β², what k² leaves of it at least
FEW = 1e-9  # rad, below which sin x is x


class Niche(NamedTuple):
    """What a box stands in, m, none of them 0; of N boxes arrays (N,).

    ``width``, ``height`` (along the baffle), mean ``depth`` and that at the ``bottom`` are the box's outside;
    ``ahead``, ``left``, ``right`` and ``below`` the depths of the air on its sides, square to its panels; ``above`` is
    the height up to where the space ends.
    """

    width: Any
    height: Any
    depth: Any
    bottom: Any
    ahead: Any
    left: Any
    right: Any
    above: Any
    below: Any

    def take(self, rows: Any) -> Self:
        """Some of the boxes."""
        return type(self)(*(each[rows] for each in self))


class Shares(NamedTuple):
    """How much of each wall is open, as ``parts.Openness`` has it."""

    front: float
    left: float
    right: float
    top: float


class Strip:
    """One layer and its modes cos(βz) over the height."""

    depth: float
    length: float
    tall: float
    beta: Annotated[Floats, MODES]  # 1/m
    norm: Annotated[Floats, MODES]  # ∫cos²(βz) dz, m
    gamma: Annotated[Floats, MODES]  # decay along it, 1/m
    start: Annotated[Floats, MODES]  # how much comes back from either end
    end: Annotated[Floats, MODES]
    through: Annotated[Floats, MODES]  # what is left along all of it
    again: Annotated[Floats, MODES]  # 1 less what is left after a way there and back


class Mouth:
    """One port in a layer: as in ``gap.Mouths``, how much of each mode it moves, and what of that reaches the ends."""

    opening: bool
    along: float
    up: float
    length: float
    height: float
    radius: float
    shown: Annotated[Floats, MODES]
    back: Annotated[Floats, MODES]
    forth: Annotated[Floats, MODES]


@compiled
def lay(strip: Strip, side: int, niche: Niche, shares: Shares, wave: float) -> None:
    """Write the layer on one side of a box, at the wave number ω/c."""
    if side == BELOW:
        strip.depth, strip.length, strip.tall = niche.below, niche.width, niche.bottom
        _put_modes(strip, flush_end(strip.length, 2.0 * strip.depth))
        beside = strip.depth / flush_end(strip.tall, 2.0 * strip.depth)
        for k in range(MODES):
            _put_wave(strip, k, decay(strip.beta[k], wave, 0.0, strip.depth), beside, beside)
    elif side == ABOVE:
        strip.depth, strip.length = niche.above, niche.left + niche.width + niche.right
        strip.tall = 2.0 * niche.depth - niche.bottom + niche.ahead
        _put_modes(strip, flush_end(strip.length, 2.0 * strip.depth) + trim(shares.front))
        beside = flush_end(strip.tall, 2.0 * strip.depth)
        start, end = strip.depth / (beside + trim(shares.left)), strip.depth / (beside + trim(shares.right))
        for k in range(MODES):
            _put_wave(strip, k, decay(strip.beta[k], wave, shares.top, strip.depth), start, end)
    else:
        strip.depth, strip.length, share = _of_side(side, niche, shares)
        strip.tall = niche.height
        section = niche.ahead * niche.width + (niche.left + niche.right) * niche.depth
        whole = (niche.width + niche.left + niche.right) * (niche.depth + niche.ahead)
        edge = edge_end(strip.length, strip.depth, niche.above, side != AHEAD)
        _put_modes(strip, edge + section / whole * trim(shares.top))
        # Half of a corner's resistance, and the air that rises in it, on the left and on the right.
        left = 0.5 * corner_squares(niche.left / niche.ahead), niche.left * niche.ahead
        right = 0.5 * corner_squares(niche.right / niche.ahead), niche.right * niche.ahead
        for k in range(MODES):
            beta = strip.beta[k]
            if side == AHEAD:
                start, _ = turned(_carried(LEFT, niche, shares, beta, wave, 0.0), beta, left)
                end, _ = turned(_carried(RIGHT, niche, shares, beta, wave, 0.0), beta, right)
            else:
                # The end at the box's back is closed; round the other one lie the layer ahead and that beyond it.
                near, far = (left, right) if side == LEFT else (right, left)
                other = RIGHT if side == LEFT else LEFT
                beyond, _ = turned(_carried(other, niche, shares, beta, wave, 0.0), beta, far)
                start = 0.0
                end, _ = turned(_carried(AHEAD, niche, shares, beta, wave, beyond), beta, near)
            _put_wave(strip, k, decay(beta, wave, share, strip.depth), start, end)


@compiled
def _of_side(side: int, niche: Niche, shares: Shares) -> tuple[float, float, float]:
    """Depth and length of the layer before the box or beside it, and the share of its wall that is open."""
    if side == AHEAD:
        return niche.ahead, niche.width, shares.front
    if side == LEFT:
        return niche.left, niche.depth, shares.left
    return niche.right, niche.depth, shares.right


@compiled
def _put_modes(strip: Strip, end: float) -> None:
    """Write wave numbers of modes cos(βz) with an end in m at the upper edge, and ∫cos²(βz) dz."""
    open_by = strip.tall / end
    for k in range(MODES):
        order = k * math.pi
        angle = math.sqrt(open_by / (1.0 + 4.0 / math.pi**2 * open_by))
        if k > 0:
            angle = order + math.atan(open_by / (order + 0.5 * math.pi))
        for _ in range(3):  # Newton's steps towards angle = order + arctan(open_by/angle)
            off = angle - order - math.atan(open_by / angle)
            angle -= off / (1.0 + open_by / (angle * angle + open_by * open_by))
        strip.beta[k] = angle / strip.tall
        strip.norm[k] = 0.5 * strip.tall * (1.0 + math.sin(2.0 * angle) / (2.0 * angle))


@compiled
def _put_wave(strip: Strip, k: int, gamma: float, start: float, end: float) -> None:
    """Write how a mode goes along the layer between ends of some admittance."""
    own, through = strip.depth * gamma, math.exp(-gamma * strip.length)
    start, end = (own - start) / (own + start), (own - end) / (own + end)
    strip.gamma[k], strip.through[k], strip.start[k], strip.end[k] = gamma, through, start, end
    strip.again[k] = 1.0 - start * end * through * through


@compiled
def _carried(side: int, niche: Niche, shares: Shares, beta: float, wave: float, beyond: float) -> float:
    """Admittance at one end of the layer on a side that ends in another one."""
    depth, length, share = _of_side(side, niche, shares)
    gamma = decay(beta, wave, share, depth)
    own, turn = depth * gamma, math.tanh(gamma * length)
    return own * (beyond + own * turn) / (own + beyond * turn)


@compiled
def turned(admittance: float, beta: float, corner: tuple[float, float]) -> tuple[float, float]:
    """Admittance seen round a corner, and the part of the pressure that comes through.

    Half of the corner's resistance, the first of ``corner``, is on either side of the air that rises in the corner
    itself, whose section in m² is the second.
    """
    half, area = corner
    rising = admittance / (1.0 + half * admittance) + area * beta * beta
    return rising / (1.0 + half * rising), 1.0 / ((1.0 + half * admittance) * (1.0 + half * rising))


@compiled
def corner_squares(ratio: float) -> float:
    """Squares that the air in a right-angled corner counts for, beyond its legs up to the inner edge.

    ``ratio`` is that of the legs' widths, t or 1/t: 1/t + (2/π)·ln((t² + 1)/(4t)) + s/(πt)·arccos(s/(t² + 1)) with
    s = t² - 1 (Hall 1968, from memory; 0.559 at t = 1, 0.873 at 4).
    """
    over, square = 1.0 / ratio, ratio * ratio
    angle = (square - 1.0) / math.pi * over * math.acos((square - 1.0) / (square + 1.0))
    return over + 2.0 / math.pi * math.log((square + 1.0) * 0.25 * over) + angle


@compiled
def edge_end(length: float, depth: float, above: float, corner: bool) -> float:
    """End of a layer in m at the box's upper edge: beside a wall, or in a ``corner``, that goes on for ``above``."""
    flush = flush_end(length, depth)
    beside = flush_end(length * (2.0 if corner else 1.0), 2.0 * depth)
    return flush + (beside - flush) * above / (above + depth)


@compiled
def trim(share: float) -> float:
    """What a wall that is open by a share weighs, as a column of air over all of it, m."""
    return TRIM * (1.0 / max(share, LEAST_OPEN) - 1.0)


@compiled
def decay(beta: float, wave: float, share: float, depth: float) -> float:
    """γ along a layer whose wall is open by a share."""
    through = share / (TRIM * max(1.0 - share, LEAST_OPEN)) / depth - wave * wave
    return math.sqrt(max(beta * beta + through, KEPT * beta * beta))


@compiled
def show(strip: Strip, mouth: Mouth) -> None:
    """Write how much of each mode a port moves, and what reaches the start and the end of the layer."""
    rest = strip.length - mouth.along
    for k in range(MODES):
        gamma = strip.gamma[k]
        run = 0.5 * gamma * mouth.length
        wide = math.sinh(run) / run if run > FEW else 1.0
        mouth.shown[k] = seen(strip.beta[k], mouth.up, mouth.height)
        mouth.back[k], mouth.forth[k] = math.exp(-gamma * mouth.along) * wide, math.exp(-gamma * rest) * wide


@compiled
def seen(beta: float, up: float, height: float) -> float:
    """The mean of a mode over the height of a port."""
    half = 0.5 * beta * height
    return math.cos(beta * up) * (math.sin(half) / half if half > FEW else 1.0)


@compiled
def between(strip: Strip, one: Mouth, other: Mouth) -> float:
    """Inertance between two ports that is even over the depth, 1/m."""
    away, total = one.along - other.along, 0.0
    both, odd = 0.5 * (one.length + other.length), 0.5 * (one.length - other.length)
    for k in range(MODES):
        gamma, start, end = strip.gamma[k], strip.start[k], strip.end[k]
        # exp(-γ·distance) averaged over both, which may overlap along the strip.
        waves = _run(gamma * abs(away + both)) + _run(gamma * abs(away - both))
        waves -= _run(gamma * abs(away + odd)) + _run(gamma * abs(away - odd))
        waves *= strip.again[k] / (gamma * gamma * one.length * other.length)
        waves += start * one.back[k] * other.back[k] + end * one.forth[k] * other.forth[k]
        waves += start * end * strip.through[k] * (one.back[k] * other.forth[k] + one.forth[k] * other.back[k])
        total += one.shown[k] * other.shown[k] * waves / (2.0 * strip.depth * gamma * strip.again[k] * strip.norm[k])
    return total


@compiled
def _run(way: float) -> float:
    return math.exp(-way) + way


@compiled
def sharp(strip: Strip, mouth: Mouth) -> float:
    """What the modes beyond ``MODES`` come to for a port alone, far from edges, 1/m.

    Of such a mode ½·sin²(x)/x²·2/(β·length), x = β·height/2, is left; their sum is an integral over x.
    """
    least = (MODES - 0.5) * math.pi / strip.tall
    x = 0.5 * least * mouth.height
    rest = math.sin(x) ** 2 / x**3 + 0.5 * math.sin(2.0 * x) / x**2 + math.cos(2.0 * x) / x
    rest = (rest - math.pi + 2.0 * sine_integral(2.0 * x)) / 3.0
    ends = 1.0 / (1.0 + 1.0 / (RISING * least * mouth.length)) * strip.beta[MODES - 1] / strip.gamma[MODES - 1]
    return float(0.5 * mouth.height * rest * ends / (math.pi * strip.depth * mouth.length))


@compiled
def round_corner(strip: Strip, niche: Niche, shares: Shares, cone: Mouth, mouth: Mouth, wave: float) -> float:
    """Inertance between a cone before the box and a mouth in its left side, 1/m; ``strip`` is that before the box."""
    corner = 0.5 * corner_squares(niche.left / niche.ahead), niche.left * niche.ahead
    total = 0.0
    for k in range(MODES):
        beta, gamma, left = strip.beta[k], strip.gamma[k], decay(strip.beta[k], wave, shares.left, niche.left)
        _, passed = turned(niche.left * left * math.tanh(left * niche.depth), beta, corner)
        # At the corner: straight and from either end.
        there = 0.5 * (1.0 + strip.start[k]) * (cone.back[k] + strip.end[k] * strip.through[k] * cone.forth[k])
        there *= cone.shown[k] * passed / (strip.depth * gamma * strip.again[k] * strip.norm[k])
        carried = math.cosh(left * mouth.along) / math.cosh(left * niche.depth)
        total += there * carried * seen(beta, mouth.up, mouth.height)
    return total


@compiled
def under_sky(strip: Strip, one: Mouth, other: Mouth, alone: bool, shut: float) -> float:
    """Inertance between two ports in the top where nothing is above it, or of one ``alone``, 1/m.

    Pistons in a large panel (Rayleigh; other ones far off, 1/(2πr)) at the bottom of a pit: of its walls, as far as
    they are ``shut`` and go on above the box, by h, an image counts by (h/(h + r))², and the flow out by h over the
    pit's area.  Those two are fitted to finite elements of four niches, which they meet within 3 % of the air outside.
    """
    high, wide, deep = strip.depth, strip.length, strip.tall
    total = float(shut * high / (wide * deep))
    for a, image_x in enumerate((other.along, -other.along, 2.0 * wide - other.along)):
        for b, image_y in enumerate((other.up, -other.up, 2.0 * deep - other.up)):
            apart = max(math.hypot(one.along - image_x, one.up - image_y), other.radius)
            if a > 0 or b > 0:
                total += shut * (high / (high + apart)) ** 2 * 0.5 / (math.pi * apart)
            elif alone:
                total += PISTON_END / (math.pi * other.radius)
            else:
                total += 0.5 / (math.pi * apart)
    return total
