"""The air in a box laid flat: a layer along the plane midway between back and baffle, and the inertance of ports in it.

Compiled scalar functions of one box, one port, one pair of ports; ``cavity.py`` says what is modelled.
"""

from __future__ import annotations

import math
from typing import Annotated, NamedTuple

from engine.acoustics.cavity import ACROSS, BOTTOM, DOWNWARD, FACE, SIDE, SQUARE, UPWARD, Cavity
from engine.acoustics.ends import FLANGED_END, PISTON_END, beside_plate, free_end
from engine.acoustics.modes import MODES, Modes, numbers_of, shapes_at
from engine.acoustics.special import bessel_k0, digammas
from engine.arrays import Floats
from engine.core.compiled import Table, borrowing, compiled

EULER = 0.5772156649015329
POINT = 1e-6  # m, stands for no distance in a logarithm
UNSPREAD = math.log(POINT) / (2.0 * math.pi)

# Four constants fitted to finite elements, no source.  A free end's flow comes out a little before
# the mouth, and its own pipe shades the panel behind it; both in bores' radii, from single pipes in a big room.
BEFORE_MOUTH, SHADE = 0.37, 0.9
# Pipes and walls close beside a mouth add more than a point source would, CROWDING·b³·Σ1/d⁴, from 63 boxes that
# are not among the stored ones; less for pipes along the width that stand out by no more than STANDING outer
# radii or so, from the 21 stored ones with such pipes.
CROWDING, STANDING = 0.33, 1.75
NEAREST = 1.9  # outer radii; axes of pipes are never nearer
CLOSE = 0.3  # depths apart, below which three terms are too few


class Layer:
    """One box's layer, m, at one wave number, rad/m."""

    width: float
    height: float  # along the plane
    depth: float  # mean, square to it
    taper: float
    lean: float  # forward run of the plane per metre of height
    secant: float
    wave_number: float
    numbers: Annotated[Floats, MODES]  # wave numbers over the height, rad/m
    decay: Annotated[Floats, MODES]  # in x, of each mode, 1/m
    through: Annotated[Floats, MODES]  # what of it is left over the width
    scale: Annotated[Floats, MODES]  # what a wave of it comes to between two ends


class Place:
    """One port in a layer: as in ``cavity.Ports``, and what it has of the layer's waves whichever other port there is.

    ``s`` is up the layer, ``depth`` that of the layer there and ``part`` how much of it is behind the port.
    """

    kind: int
    opening: bool
    x: float
    s: float
    depth: float
    part: float
    turn: float  # cos(π·part)
    radius: float
    outer: float
    inside: float
    to_left: float  # of the plane wave along the width
    to_right: float
    even_left: float  # what of the slowest mode of a layer of even depth comes to either wall
    even_right: float
    shapes: Annotated[Floats, MODES]
    left: Annotated[Floats, MODES]  # what of each mode comes to either wall
    right: Annotated[Floats, MODES]
    even: Annotated[Floats, MODES]  # modes of a layer of even depth


class Tables(NamedTuple):
    """Tables that ports are worked out from: ``modes.modes`` and ``ends.pistons``."""

    modes: Modes
    pistons: Floats


@borrowing
def lay_flat(layer: Layer, cavity: Cavity, wave_number: float, table: Modes) -> None:
    """Write a box's layer; the wave number is held to 0.7 of the first mode's."""
    mean, change = 0.5 * (cavity.bottom_depth + cavity.top_depth), cavity.top_depth - cavity.bottom_depth
    layer.lean = cavity.back_slope + 0.5 * change / cavity.height
    layer.secant = math.sqrt(1.0 + layer.lean * layer.lean)
    layer.width, layer.height, layer.depth = cavity.width, cavity.height * layer.secant, mean / layer.secant
    layer.taper = 0.5 * change / mean
    numbers_of(layer.taper, layer.height, table, layer.numbers)
    lowest = min(math.pi / layer.width, layer.numbers[0])
    k = min(max(wave_number, 0.01 / layer.width), 0.7 * lowest)
    layer.wave_number = k
    for m in range(MODES):
        decay = math.sqrt(layer.numbers[m] * layer.numbers[m] - k * k)
        through = math.exp(-decay * layer.width)
        layer.decay[m], layer.through[m] = decay, through
        layer.scale[m] = 0.5 / (decay * (1.0 - through * through))


@compiled
def level_depth(cavity: Cavity, z: float) -> float:
    """Depth of a cavity from back to baffle at a height, measured horizontally, m."""
    return float(cavity.bottom_depth + (cavity.top_depth - cavity.bottom_depth) / cavity.height * z)


@borrowing
def put_place(
    layer: Layer, cavity: Cavity, place: Place, kind: int, x: float, y: float, z: float, table: Modes
) -> None:
    """Write where a port at (x, y, z) of the cavity lies in its layer; ports outside are drawn to the walls."""
    level = level_depth(cavity, z)
    forward = level if kind == FACE else y - cavity.back_slope * z
    s = z * layer.secant + (forward - 0.5 * level) * layer.lean / layer.secant
    s = 0.0 if kind == BOTTOM else min(max(s, 0.0), layer.height)
    x = layer.width if kind == SIDE else min(max(x, 0.0), layer.width)
    up = s / layer.height
    place.kind, place.x, place.s = kind, x, s
    place.depth = layer.depth * (1.0 + layer.taper * (2.0 * up - 1.0))
    place.part = min(max(forward / level, 0.02), 0.98)
    place.turn = math.cos(math.pi * place.part)
    place.to_left, place.to_right = (
        math.cos(layer.wave_number * x),
        math.cos(layer.wave_number * (layer.width - x)),
    )
    slowest = math.pi / layer.height
    place.even_left, place.even_right = math.exp(-slowest * x), math.exp(-slowest * (layer.width - x))
    shapes_at(layer.taper, up, table, place.shapes)
    one = math.cos(math.pi * up)
    even, before = 1.0, one
    for m in range(MODES):
        place.left[m] = math.exp(-layer.decay[m] * x)
        place.right[m] = math.exp(-layer.decay[m] * (layer.width - x))
        even, before = 2.0 * one * even - before, even  # cos nθ = 2·cos θ·cos (n - 1)θ - cos (n - 2)θ
        place.even[m] = even


@compiled
def is_mouth(place: Place) -> bool:
    """Whether a port is the inner mouth of a pipe."""
    return place.kind <= DOWNWARD


@compiled
def spread(layer: Layer, one: Place, other: Place) -> float:
    """Green's function of the layer, uniform over the depth, less that of the spring, 1/m.

    Modes over the height, less those of a layer of constant depth, plus the latter's sum Σ cos(nθ)·exp(-nu)/n =
    -½·ln(1 - 2·exp(-u)·cos θ + exp(-2u)).  Ports that coincide are taken ``POINT`` apart.
    """
    width, height, k = layer.width, layer.height, layer.wave_number
    near, far = (one, other) if one.x < other.x else (other, one)
    apart = far.x - near.x
    level = 1.0 / (k * k * width) - near.to_left * far.to_right / (k * math.sin(k * width))

    modes = 0.0
    for m in range(MODES):
        # Straight, by either wall, and by both.
        waves = math.exp(-layer.decay[m] * apart) + one.left[m] * other.left[m] + one.right[m] * other.right[m]
        waves += layer.through[m] * near.left[m] * far.right[m]
        modes += one.shapes[m] * other.shapes[m] * layer.scale[m] * waves

    # The same three ways in a layer of constant depth; each mode falls as a power of the slowest.
    straight = math.exp(-math.pi * apart / height)
    left, right = one.even_left * other.even_left, one.even_right * other.even_right
    rest, powers = 0.0, (1.0, 1.0, 1.0)
    for m in range(MODES):
        powers = (powers[0] * straight, powers[1] * left, powers[2] * right)
        rest -= (powers[0] + powers[1] + powers[2]) * one.even[m] * other.even[m] * 2.0 / (m + 1)
    least, product = (math.pi * POINT / height) ** 2, 1.0
    for along in (one.s - other.s, one.s + other.s):
        half = math.sin(0.5 * math.pi * along / height) ** 2
        for fall in (straight, left, right):
            product *= max((1.0 - fall) ** 2 + 4.0 * fall * half, least)
    rest -= 0.5 * math.log(product)
    depth = math.sqrt(one.depth * other.depth)
    return (level + modes) / (height * layer.depth) + rest / (2.0 * math.pi * depth)


@compiled
def over_depth(away: float, depth: float, one: float, two: float) -> float:
    """What two points at a distance in the layer feel beyond the uniform part, 1/m.

    (1/πh)·Σ cos(nπt)·cos(nπt')·K0(nπR/h) of ``one`` and ``two``, cos πt and cos πt'; three terms, so good for R above
    0.3 h.
    """
    ratio = math.pi * max(away / depth, CLOSE)
    total = one * two * bessel_k0(ratio)
    total += (2.0 * one * one - 1.0) * (2.0 * two * two - 1.0) * bessel_k0(2.0 * ratio)
    total += one * (4.0 * one * one - 3.0) * two * (4.0 * two * two - 3.0) * bessel_k0(3.0 * ratio)
    return total / (math.pi * depth)


@compiled
def between_plates(plan: float, depth: float, part: float, other: float) -> float:
    """What ``over_depth`` gives, for two points one behind the other or nearly so."""
    total = math.log(plan) - math.log(4.0 * depth)
    for fraction in (0.5 * math.hypot(plan / depth, part - other), 0.5 * (part + other)):
        total -= 0.25 * digammas(min(max(fraction, 1e-3), 0.999))
    return total / (2.0 * math.pi * depth)


@compiled
def between(layer: Layer, one: Place, other: Place) -> float:
    """M between two ports, 1/m."""
    depth = math.sqrt(one.depth * other.depth)
    plan = max(math.hypot(one.x - other.x, one.s - other.s), POINT)
    found = spread(layer, one, other)
    disc = max(one.radius if one.kind == FACE else 0.0, other.radius if other.kind == FACE else 0.0)
    if plan < disc:
        # Under the cone the logarithm is that of a disc, not of its centre.
        over = max(disc, POINT)
        found += (math.log(plan / over) + 0.5 * (1.0 - (plan / over) ** 2)) / (2.0 * math.pi * depth)
    # A cone in the layer's end, or a slot's window, fills the depth: nothing but the layer's own spreading.
    if one.kind > FACE or other.kind > FACE:
        return found
    if plan < CLOSE * depth and is_mouth(one) and is_mouth(other):
        return found + between_plates(plan, depth, one.part, other.part)
    turn, opposite = -1.0 if one.kind == FACE else one.turn, -1.0 if other.kind == FACE else other.turn
    return found + over_depth(max(plan, disc), depth, turn, opposite)


@borrowing
def alone(layer: Layer, places: Table, count: int, i: int, tables: Tables) -> float:
    """M on itself of the port ``i`` of so many, 1/m."""
    place: Place = places[i]
    depth, radius = place.depth, place.radius
    found = spread(layer, place, place) + UNSPREAD / depth
    if place.kind == FACE:
        found += (0.25 - math.log(radius)) / (2.0 * math.pi * depth) + beside_plate(radius, depth, tables.pistons)
        return found
    point = (0.5 * EULER - math.log(4.0 * depth) - 0.25 * digammas(place.part)) / (2.0 * math.pi * depth)
    if not is_mouth(place):  # a cone in the layer's end
        return found + 2.0 * point + UNSPREAD / depth + PISTON_END / (math.pi * radius)
    free = free_end(radius, place.outer) / (math.pi * radius * radius)
    return found + point + free + _walls(layer, place) + _crowded(layer, places, count, i)


@compiled
def _walls(layer: Layer, mouth: Place) -> float:
    """What the images of a mouth in the ends of the layer and in panel and opposite wall add, near by, 1/m."""
    depth, x, s, part, turn, bore = mouth.depth, mouth.x, mouth.s, mouth.part, mouth.turn, mouth.radius
    across = mouth.kind == ACROSS
    # The panel that a pipe comes from is shaded by it: its image is farther off than twice the pipe's length,
    # by as much as makes a flanged end of a pipe that does not stand out.
    flush = 0.125 * bore * bore / (FLANGED_END * bore - free_end(bore, mouth.outer))
    shade = flush - (SHADE * bore - flush) * math.expm1(-mouth.inside / bore)
    behind = 2.0 * (x + shade if across else x)
    total = over_depth(behind, depth, turn, turn)
    for away in (s, layer.height - s, layer.width - x):
        total += over_depth(2.0 * away, depth, turn, turn)
    inside = max(mouth.inside, 0.1 * bore)
    if across:
        total += math.log(2.0 * max(x, 0.5 * POINT) / behind) / (2.0 * math.pi * depth)
        ahead, shaded = layer.width - x, 0.0
    else:
        ahead = part * depth if mouth.kind == SQUARE else s if mouth.kind == DOWNWARD else layer.height - s
        shaded = 1.0 / (inside + shade) - 1.0 / inside
    ahead = max(ahead, 0.5 * bore)
    moved = 1.0 / (ahead - BEFORE_MOUTH * bore) - 1.0 / ahead
    return total + (moved + shaded) / (8.0 * math.pi)


@borrowing
def _crowded(layer: Layer, places: Table, count: int, i: int) -> float:
    """What pipes and walls close beside a mouth add to its end correction, over the bore's area, 1/m."""
    mouth: Place = places[i]
    # The plane of the mouth: (y, s) for pipes along the width, (x, s) or (x, y) for the others.
    across, upright = mouth.kind == ACROSS, mouth.kind == UPWARD or mouth.kind == DOWNWARD
    wide = mouth.depth if across else layer.width
    high = mouth.depth if upright else layer.height
    here, there = _in_plane(mouth, across, upright)
    least, total = (NEAREST * mouth.outer) ** 2, 0.0
    for j in range(count):
        if not is_mouth(places[j]):
            continue
        u, v = _in_plane(places[j], across, upright)
        for image in (u, -u, 2.0 * wide - u):
            for other in (v, -v, 2.0 * high - v):
                squared = max((here - image) ** 2 + (there - other) ** 2, least)
                total += 1.0 / (squared * squared)
    total -= 1.0 / (least * least)  # the mouth itself
    standing = -math.expm1(-mouth.inside / (STANDING * mouth.outer)) if across else 1.0
    return CROWDING * mouth.outer**3 * total * standing


@compiled
def _in_plane(place: Place, across: bool, upright: bool) -> tuple[float, float]:
    forward = place.part * place.depth
    return forward if across else place.x, forward if upright else place.s


@borrowing
def common(layer: Layer, places: Table, count: int, opening: bool, others: bool, tables: Tables) -> float:
    """M between two sorts of ports, openings or drivers, or of one with itself, that move alike, 1/m; 0 without any."""
    total, pairs = 0.0, 0
    for i in range(count):
        if places[i].opening != opening:
            continue
        for j in range(count):
            if places[j].opening != others:
                continue
            pairs += 1
            if i == j:
                total += alone(layer, places, count, i, tables)
            elif opening != others:
                total += between(layer, places[i], places[j])
            elif j < i:
                total += 2.0 * between(layer, places[i], places[j])
    return total / max(pairs, 1)
