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

import math
from dataclasses import dataclass, fields, replace
from functools import cached_property, lru_cache
from typing import Any, Self

import numpy as np
from numpy.polynomial import legendre
from numpy.typing import NDArray
from scipy.linalg import eigh
from scipy.special import digamma, i1e, k0, k1e

from engine.acoustics.chamber import chambers
from engine.acoustics.windows import Braces, crossing, weight
from engine.air import REFERENCE_AIR, Air
from engine.arrays import Flags, Floats, Indices, Integers

ACROSS, SQUARE, UPWARD, DOWNWARD, FACE, BOTTOM, SIDE, SLOT, SLOT_UP, SLOT_DOWN = range(10)
"""Kinds of ports.  Inner mouths of pipes that lie along the width (ACROSS), square to the baffle
(SQUARE) or upright through the bottom (UPWARD) or the top (DOWNWARD); cones in the baffle, the bottom
or a side panel.  SLOT is the mouth of a slot along bottom or top, SLOT_UP of one along the bottom that has turned up
the right side panel, SLOT_DOWN of one along the top that has turned down it."""

USUALLY, AS_GUESSED = 0.97, 0.04  # of the lumped tuning: where M is first taken, and how far off that may be
CLOSED_HZ = 50.0  # where a closed box's M is taken: near its resonance, and M hardly changes there
EULER = 0.5772156649015329
MODES = 5  # over the height, beside the constant one
CHUNK = 4096  # designs worked on at once; their arrays stay in the processor's cache

# A pipe's free end, in bores' radii: Levine & Schwinger 1948 for a thin wall, King 1936 with an
# infinite flange; between them the fit of Dalmont, Nederveen & Joly 2001 (from memory, checked
# with finite elements to 0.006 for b/a from 1.05 to 1.4).
THIN_END, FLANGED_END = 0.6133, 0.8216
PISTON_END = 8.0 / (3.0 * math.pi)  # Rayleigh

# Four constants fitted to finite elements, no source.  A free end's flow comes out a little before
# the mouth, and its own pipe shades the panel behind it; both in bores' radii, from single pipes in a big room.
BEFORE_MOUTH, SHADE = 0.37, 0.9
# Pipes and walls close beside a mouth add more than a point source would, CROWDING·b³·Σ1/d⁴, from 63 boxes that
# are not among the stored ones; less for pipes along the width that stand out by no more than STANDING outer
# radii or so, from the 21 stored ones with such pipes.
CROWDING, STANDING = 0.33, 1.75
POINT = 1e-6  # m, stands for no distance in a logarithm
NEAREST = 1.9  # outer radii; axes of pipes are never nearer


class _Batch:
    """A record of arrays that have a row for each of N boxes."""

    def take(self, rows: Any) -> Self:
        """Some of the rows, or whatever else an array may be asked for."""
        return type(self)(**{name: each[rows] for name, each in vars(self).items()})


@dataclass(frozen=True, kw_only=True)
class Cavities(_Batch):
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


@dataclass(frozen=True, kw_only=True)
class Ports(_Batch):
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


@dataclass(frozen=True, kw_only=True)
class ThinBox:
    """True figures of N boxes for the circuit, arrays (N,), SI.

    ``tuning`` (Hz, nan for closed boxes) is the resonance of the openings with held drivers, ``volume``
    that of the spring, with what the air in the vents' bores adds.  ``mutual`` (kg/m⁴) is the
    mass in series with the spring, mostly negative; ``air_mass`` (kg) is what each cone carries beyond
    that and beyond what it carries in free air.  ``first_mode`` is the cavity's, Hz.  ``driver_past`` and
    ``opening_past`` are the largest parts of the drivers' and the openings' volume velocity that pass a brace.
    """

    tuning: Floats
    volume: Floats
    mutual: Floats
    air_mass: Floats
    first_mode: Floats
    driver_past: Floats
    opening_past: Floats


def thin_box(
    *,
    cavities: Cavities,
    ports: Ports,
    tuning: Floats,
    volume: Floats,
    vent_length: Floats,
    vent_area: Floats,
    vent_count: Floats,
    sd: Floats,
    driver_count: Floats,
    radiator_sd: Floats,
    radiator_count: Floats,
    radiator_moving: Floats,
    outer_end: Floats,
    braces: Braces | None = None,
    outside: Inertance | None = None,
    air: Air = REFERENCE_AIR,
) -> ThinBox:
    """What boxes are tuned to with the inertia of the air in them, from the lumped figures, (N,) each.

    ``tuning`` is lumped, Hz, nan for closed boxes: it says about where M is to be taken, and with radiators how stiff
    their suspension is.  ``volume`` is net, the vents' bores off, m³.  ``vent_length`` runs from the panel's outer
    face to the inner mouth as the air counts it, without ends, and ``outer_end`` is what the air before the outer
    mouth adds, m; ``vent_area`` is that of one of ``vent_count``, m², 0 vents for closed boxes and those with
    radiators.  ``sd`` and ``radiator_sd`` are of one cone, m², and give the radii of cones in ``ports``;
    ``radiator_moving`` is one radiator's moving mass as weighed in free air, kg, what is added to it included.
    ``outside`` is M of the air before cones and outer mouths, beyond free air and ``outer_end``; None in the open.

    With all vents together (n·S) the openings' whole mass is ρ·(L + outer end)/(n·S) + ρ·M, and the
    air in the bores is a spring of n·S·L/3 times the square of the share of the pressure that reaches
    the mouth (the first term of tan kL).  A radiator's is its moving mass over n·sd², and ρ·M in place of
    what the air behind it weighs in the open, 4/3·ρr³ (half of Rayleigh's for a free disc); so
    for drivers.  M is taken at the tuning within ``AS_GUESSED``, in closed boxes at ``CLOSED_HZ``.
    """
    braces = braces or Braces.none(len(cavities))
    outside = outside or Inertance.none(len(cavities))
    with np.errstate(divide="ignore", invalid="ignore"):
        vented, passive = vent_count > 0.0, radiator_count > 0.0
        cone = np.where(ports.opening, radiator_sd[:, np.newaxis], sd[:, np.newaxis])
        pistons = np.isfinite(ports.radius) & (ports.kind >= FACE) & (ports.kind <= SIDE)
        ports = replace(ports, radius=np.where(pistons, np.sqrt(cone / np.pi), ports.radius))

        opened, length = vent_count * vent_area, vent_length + outer_end
        plug = np.where(vented, length / opened, np.nan)
        bores = opened * length / 3.0 * _narrowing(cavities, ports, length)
        moving = radiator_moving / (air.rho * radiator_count * radiator_sd**2)
        behind = free_side(radiator_sd) / (radiator_count * radiator_sd**2)
        lumped = (2.0 * np.pi * tuning / air.c) ** 2
        suspension = np.where(passive, np.maximum(lumped * moving - 1.0 / volume, 0.0), 0.0)

        def tuned(opening: Floats) -> tuple[Floats, Floats]:
            """True tuning and the spring's volume for M of the openings."""
            reaching = plug / (plug + opening)
            spring = volume + np.where(vented, bores * reaching**2, 0.0)
            mass = np.where(passive, moving - behind, plug) + outside.opening + opening
            return air.c / (2.0 * np.pi) * np.sqrt((1.0 / spring + suspension) / mass), spring

        frequency = np.where(vented | passive, np.where(vented, USUALLY * tuning, tuning), CLOSED_HZ)
        found = inertance(cavities=cavities, ports=ports, braces=braces, wave_number=2.0 * np.pi * frequency / air.c)
        true, springs = tuned(found.opening)
        off = np.flatnonzero(np.abs(true / frequency - 1.0) > AS_GUESSED)
        if off.size:
            wave_number = 2.0 * np.pi * true[off] / air.c
            some, inside = cavities.take(off), ports.take(off)
            found.put(off, inertance(cavities=some, ports=inside, braces=braces.take(off), wave_number=wave_number))
            true, springs = tuned(found.opening)
        mutual = found.mutual + outside.mutual
        carried = driver_count * sd**2 * (found.driver + outside.driver - mutual) - free_side(sd)
    first_mode = first_modes(cavities=cavities, count=1)[:, 0] * air.c / (2.0 * np.pi)
    masses = {"mutual": air.rho * mutual, "air_mass": air.rho * carried}
    past = {"driver_past": found.driver_past, "opening_past": found.opening_past}
    return ThinBox(tuning=true, volume=springs, **masses, first_mode=first_mode, **past)


def free_side(area: Floats) -> Floats:
    """Mass over density, m³, of the air on one side of a free disc of ``area`` (m²): half of Rayleigh's 8/3·r³."""
    return np.asarray(4.0 / 3.0 * np.sqrt(area / np.pi) ** 3)


def _narrowing(cavities: Cavities, ports: Ports, length: Floats) -> Floats:
    """Part of the bore's spring that is left where a slot has turned into a leg of another depth, (N,).

    In lengths as the air counts them a piece of bore is dξ/S long, and its spring is S²·ξ² dξ.
    """
    part = np.ones(len(cavities))
    for column in range(ports.kind.shape[1]):
        kind, height = ports.kind[:, column], 2.0 * ports.radius[:, column]
        turned = (kind == SLOT_UP) | (kind == SLOT_DOWN)
        if not turned.any():
            continue
        z = ports.z[:, column]
        change = (cavities.top_depth - cavities.bottom_depth) / cavities.height
        up = np.where(kind == SLOT_UP, z, cavities.height - z)
        run = np.where(kind == SLOT_UP, change, -change)
        start = np.where(kind == SLOT_UP, cavities.bottom_depth, cavities.top_depth)
        ratio = (start + 0.5 * run * (height + up)) / (start + 0.5 * run * height)
        before = np.clip(1.0 - (up - height) / ratio / length, 0.0, 1.0) ** 3
        part = np.where(turned, before + ratio**2 * (1.0 - before), part)
    return part


def inertance(*, cavities: Cavities, ports: Ports, wave_number: Floats, braces: Braces | None = None) -> Inside:
    """What the circuit needs: M of drivers and openings, the ports of each sort moving alike.

    ``wave_number`` (N,) is ω/c in rad/m of the frequency at which M is wanted, best the
    tuning; 0 gives the static M.  Compared up to 0.37 of the first mode's (``first_modes``), and
    held at 0.7 of it beyond.  Raises nothing: ports outside the cavity are drawn to its walls.
    """
    total, braces = np.zeros((5, len(cavities))), braces or Braces.none(len(cavities))
    slot = (np.isfinite(ports.radius) & (ports.kind >= SLOT)).any(axis=1)
    for group, solve in ((np.flatnonzero(~slot), _plain), (np.flatnonzero(slot), _with_slot)):
        for start in range(0, len(group), CHUNK):
            rows = group[start : start + CHUNK]
            total[:, rows] = solve(cavities.take(rows), ports.take(rows), wave_number[rows], braces.take(rows))
    return Inside(**dict(zip((each.name for each in fields(Inside)), total, strict=True)))


def first_modes(*, cavities: Cavities, count: int) -> Floats:
    """Wave numbers k = ω/c of the lowest ``count`` modes across width and height, (N, count) rad/m.

    Of the empty cavity with rigid walls.  Those with a half wave or more in the depth are
    left out; they begin near π over the greatest depth.  ``count`` up to 5.
    """
    sheet = _Sheet.of(cavities)
    across = np.arange(count + 1) * np.pi / cavities.width[:, np.newaxis]
    up = np.concatenate([np.zeros((len(cavities), 1)), sheet.up], axis=-1)[:, : count + 1]
    squares = (across[:, :, np.newaxis] ** 2 + up[:, np.newaxis, :] ** 2).reshape(len(cavities), -1)
    return np.asarray(np.sqrt(np.sort(squares, axis=-1)[:, 1 : count + 1]))


def free_end(*, bore: Floats, outer: Floats) -> Floats:
    """End correction in m of a pipe's free end, from its inner and outer radius in m.

    δ/a = 0.8216 - 0.2083·a/b + 0.057·(a/b)·(1 - (a/b)⁵) (Dalmont, Nederveen & Joly 2001,
    from memory), between a thin wall (b = a) and an infinite flange.
    """
    ratio = bore / outer
    return np.asarray(bore * (FLANGED_END - (FLANGED_END - THIN_END) * ratio + 0.057 * ratio * (1.0 - ratio**5)))


# Modes of a layer whose depth changes linearly, in numbers: height 1, mean depth 1.


@lru_cache(maxsize=1)
def _modes() -> tuple[Floats, Floats, Floats, Floats]:
    """Tapers (T,), heights (Z,), wave numbers (T, MODES) and shapes (T, Z, MODES) of a layer.

    The layer's depth is 1 + taper·(2ζ - 1).  Solves (h·φ')' + μ²·h·φ = 0 with φ' = 0 at both
    ends by Galerkin's method in Legendre polynomials; ∫h·φ² dζ = 1.
    """
    tapers, heights, order = np.linspace(-0.96, 0.96, 97), np.linspace(0.0, 1.0, 129), 36
    node, weight = legendre.leggauss(60)
    value = legendre.legvander(node, order - 1)
    slope = np.stack([2.0 * legendre.legval(node, legendre.legder(row)) for row in np.eye(order)], axis=-1)
    shown = legendre.legvander(2.0 * heights - 1.0, order - 1)
    numbers, shapes = [], []
    for taper in tapers:
        depth = (0.5 * weight * (1.0 + taper * node))[:, np.newaxis]
        squares, vectors = eigh(slope.T @ (depth * slope), value.T @ (depth * value), subset_by_index=[1, MODES])
        shape = shown @ vectors
        numbers.append(np.sqrt(squares))
        shapes.append(shape * np.sign(shape[0]))
    return tapers, heights, np.array(numbers), np.array(shapes)


def _cell(grid: Floats, at: Floats) -> tuple[Indices, Floats]:
    """Index below and part of the step on an even grid."""
    steps = (np.clip(at, grid[0], grid[-1]) - grid[0]) / (grid[1] - grid[0])
    below = np.minimum(steps.astype(np.intp), len(grid) - 2)
    return below, steps - below


@lru_cache(maxsize=1)
def _piston_images() -> tuple[Floats, Floats]:
    """Radius over depth q, and q·Σ 4/x²·(1 - 2·I1(x)·K1(x)) with x = nπq, over n.

    The sum over 2πh is that part of a piston's own M between parallel plates that is not
    uniform over the depth: K0 averaged twice over the disc.
    """
    q = np.linspace(0.02, 4.0, 400)
    x = np.arange(1, 4000) * np.pi * q[:, np.newaxis]
    return q, np.asarray(q * (4.0 / x**2 * (1.0 - 2.0 * i1e(x) * k1e(x))).sum(axis=-1))


def beside_plate(*, radius: Floats, depth: Floats) -> Floats:
    """What turns before a piston between parallel plates: its own M beyond that of a flow even over the depth, 1/m.

    A third of the air's column before it in a thin layer, Rayleigh's piston in a panel in a deep one.
    """
    q, images = _piston_images()
    ratio = radius / depth
    beyond = np.minimum(q[-1] / ratio, 1.0)  # of the table, where it falls as 1/ratio
    return np.asarray(np.interp(ratio, q, images) * beyond / ratio / (2.0 * np.pi * depth))


@dataclass(frozen=True, kw_only=True)
class _Sheet:
    """The cavity laid flat: a layer along the plane midway between back and baffle, arrays (N,)."""

    lean: Floats  # forward run of that plane per metre of height
    secant: Floats
    height: Floats  # along the plane
    mean_depth: Floats  # square to it
    taper: Floats
    up: Floats  # (N, MODES) wave numbers over the height, rad/m

    @classmethod
    def of(cls, cavities: Cavities) -> Self:
        mean = 0.5 * (cavities.bottom_depth + cavities.top_depth)
        change = cavities.top_depth - cavities.bottom_depth
        lean = cavities.back_slope + 0.5 * change / cavities.height
        secant = np.sqrt(1.0 + lean**2)
        height, taper = cavities.height * secant, 0.5 * change / mean
        tapers, _, numbers, _ = _modes()
        below, part = _cell(tapers, taper)
        part = part[:, np.newaxis]
        up = ((1.0 - part) * numbers[below] + part * numbers[below + 1]) / height[:, np.newaxis]
        return cls(lean=lean, secant=secant, height=height, mean_depth=mean / secant, taper=taper, up=up)

    def depth(self, s: Floats) -> Floats:
        """Depth at places s (N, P) up the layer."""
        middle = 2.0 * s / self.height[:, np.newaxis] - 1.0
        return np.asarray(self.mean_depth[:, np.newaxis] * (1.0 + self.taper[:, np.newaxis] * middle))

    def shapes(self, s: Floats) -> Floats:
        """Modes at places s (N, P): (N, P, MODES)."""
        tapers, heights, _, shapes = _modes()
        i, across = _cell(tapers, self.taper)
        j, along = _cell(heights, s / self.height[:, np.newaxis])
        i, across, along = i[:, np.newaxis], across[:, np.newaxis, np.newaxis], along[:, :, np.newaxis]
        low = (1.0 - along) * shapes[i, j] + along * shapes[i, j + 1]
        high = (1.0 - along) * shapes[i + 1, j] + along * shapes[i + 1, j + 1]
        return np.asarray((1.0 - across) * low + across * high)


def _held(cavities: Cavities, sheet: _Sheet, wave_number: Floats) -> Floats:
    lowest = np.minimum(np.pi / cavities.width, sheet.up[:, 0])
    return np.asarray(np.clip(wave_number, 0.01 / cavities.width, 0.7 * lowest))


@dataclass(frozen=True, kw_only=True)
class _Layer:
    """A cavity's layer with the ports in it: arrays (N,), of ports (N, P)."""

    sheet: _Sheet
    width: Floats
    wave_number: Floats
    ports: Ports
    drivers: Flags  # (N, P), which ports they are
    openings: Flags
    x: Floats
    s: Floats  # up the layer
    depth: Floats  # of the layer there
    part: Floats  # of the depth, from the back
    shapes: Floats  # (N, P, MODES)

    @classmethod
    def of(cls, cavities: Cavities, ports: Ports, wave_number: Floats) -> Self:
        sheet = _Sheet.of(cavities)
        lean, secant = sheet.lean[:, np.newaxis], sheet.secant[:, np.newaxis]
        change = (cavities.top_depth - cavities.bottom_depth) / cavities.height
        level = cavities.bottom_depth[:, np.newaxis] + change[:, np.newaxis] * ports.z
        forward = ports.y - cavities.back_slope[:, np.newaxis] * ports.z
        forward = np.where(ports.kind == FACE, level, forward)
        s = ports.z * secant + (forward - 0.5 * level) * lean / secant
        s = np.where(ports.kind == BOTTOM, 0.0, np.clip(s, 0.0, sheet.height[:, np.newaxis]))
        width = cavities.width[:, np.newaxis]
        x = np.where(ports.kind == SIDE, width, np.clip(ports.x, 0.0, width))
        there = np.isfinite(ports.radius)
        return cls(
            sheet=sheet,
            width=cavities.width,
            wave_number=_held(cavities, sheet, wave_number),
            ports=ports,
            drivers=there & ~ports.opening,
            openings=there & ports.opening,
            x=x,
            s=s,
            depth=sheet.depth(s),
            part=np.clip(forward / level, 0.02, 0.98),
            shapes=sheet.shapes(s),
        )

    def totals(self) -> tuple[Floats, Floats, Floats]:
        """M between all drivers and all openings: driver, mutual, opening, (N,) each."""
        drivers, openings = self.drivers, self.openings
        return self.mean(drivers, drivers), self.mean(drivers, openings), self.mean(openings, openings)

    def past(self, some: Flags, braces: Braces) -> Floats:
        """The part of the flow of ports that move alike that passes each brace, (N, B)."""
        found = crossing(self.x, braces, width=self.width, wave_number=self.wave_number)
        count = np.maximum(some.sum(axis=1), 1)[:, np.newaxis]
        return np.asarray(np.where(some[..., np.newaxis], found, 0.0).sum(axis=1) / count)

    def braced(
        self, braces: Braces, free: tuple[Floats, Floats, Floats], cones: Floats, mouths: Floats
    ) -> tuple[Floats, ...]:
        """The figures of :class:`Inside`, from those without braces and the parts (N, B) that pass each brace."""
        area = self.sheet.height * self.sheet.mean_depth
        loads = weight(braces, width=self.width, area=area, wave_number=self.wave_number)
        pairs = ((cones, cones), (cones, mouths), (mouths, mouths))
        added = (np.einsum("nb,nbc,nc->n", one, loads, other) for one, other in pairs)
        most = (np.abs(each).max(axis=1, initial=0.0) for each in (cones, mouths))
        return (*(each + more for each, more in zip(free, added, strict=True)), *most)

    def mean(self, some: Flags, others: Flags) -> Floats:
        """M between two sorts of ports, or of one with itself, that move alike, (N,); 0 where there are none."""
        pairs = some[:, :, np.newaxis] & others[:, np.newaxis, :]
        if some is others:
            pairs &= np.tri(some.shape[1], dtype=bool).T
        # Every pair of every box as one list, so that boxes with few ports and many are worked on together.
        rows, i, j = np.nonzero(pairs)
        alone = (i == j) & (some is others)
        found = np.empty(len(rows))
        found[alone] = self._alone(rows[alone], i[alone])
        found[~alone] = self.between(rows[~alone], i[~alone], j[~alone]) * (2.0 if some is others else 1.0)
        total = np.bincount(rows, weights=found, minlength=len(self.width))
        return np.asarray(total / np.maximum(some.sum(axis=1) * others.sum(axis=1), 1))

    @cached_property
    def _decay(self) -> Floats:
        """Of each mode in x at this frequency, (N, MODES) 1/m."""
        return np.asarray(np.sqrt(self.sheet.up**2 - self.wave_number[:, np.newaxis] ** 2))

    @cached_property
    def _even_decay(self) -> Floats:
        """The same in a layer of constant depth at rest, (N, MODES) 1/m."""
        return np.asarray(np.arange(1, MODES + 1) * np.pi / self.sheet.height[:, np.newaxis])

    @cached_property
    def _to_walls(self) -> tuple[Floats, Floats, Floats, Floats]:
        """exp(-decay·distance) from each port to the left and the right wall, then in the even layer."""
        left, right = self.x[..., np.newaxis], (self.width[:, np.newaxis] - self.x)[..., np.newaxis]
        own, even = self._decay[:, np.newaxis], self._even_decay[:, np.newaxis]
        return np.exp(-(own * left)), np.exp(-(own * right)), np.exp(-(even * left)), np.exp(-(even * right))

    @cached_property
    def _across_width(self) -> Floats:
        """exp(-decay·width), (N, MODES)."""
        return np.asarray(np.exp(-self._decay * self.width[:, np.newaxis]))

    @cached_property
    def _cosines(self) -> Floats:
        """Modes of a layer of constant depth at the ports, (N, P, MODES)."""
        return np.asarray(np.cos(self.s[..., np.newaxis] * self._even_decay[:, np.newaxis]))

    def spread(self, rows: Indices, i: Indices, j: Indices) -> Floats:
        """Green's function of the layer, uniform over the depth, less that of the spring, of M pairs: (M,) 1/m.

        Modes over the height, less those of a layer of constant depth, plus the latter's sum Σ cos(nθ)·exp(-nu)/n =
        -½·ln(1 - 2·exp(-u)·cos θ + exp(-2u)).  Ports that coincide are taken ``POINT`` apart.
        """
        width, height, k = self.width[rows], self.sheet.height[rows], self.wave_number[rows]
        xi, xj = self.x[rows, i], self.x[rows, j]
        near, far = np.minimum(xi, xj), np.maximum(xi, xj)
        area = height * self.sheet.mean_depth[rows]
        level = 1.0 / (k**2 * width) - np.cos(k * near) * np.cos(k * (width - far)) / (k * np.sin(k * width))

        apart = (far - near)[:, np.newaxis]
        (left_i, left_j), (right_i, right_j), (even_left_i, even_left_j), (even_right_i, even_right_j) = (
            (each[rows, i], each[rows, j]) for each in self._to_walls
        )
        through, decay = self._across_width[rows], self._decay[rows]
        round_trip = through * np.maximum(left_i, left_j) * np.maximum(right_i, right_j)
        waves = np.exp(-decay * apart) + left_i * left_j + right_i * right_j + round_trip
        waves /= 2.0 * decay * (1.0 - through**2)
        modes = (self.shapes[rows, i] * self.shapes[rows, j] * waves).sum(axis=-1)

        even = np.exp(-self._even_decay[rows] * apart)
        even += even_left_i * even_left_j + even_right_i * even_right_j
        even *= self._cosines[rows, i] * self._cosines[rows, j] * (2.0 / np.arange(1, MODES + 1))
        rest = -even.sum(axis=-1)
        si, sj = self.s[rows, i], self.s[rows, j]
        halves = [np.sin(0.5 * np.pi * along / height) ** 2 for along in (si - sj, si + sj)]
        for run in (far - near, near + far, 2.0 * width - near - far):
            fall = np.exp(-np.pi * run / height)
            for half in halves:
                argument = (1.0 - fall) ** 2 + 4.0 * fall * half
                rest -= 0.5 * np.log(np.maximum(argument, (np.pi * POINT / height) ** 2))
        depth = np.sqrt(self.depth[rows, i] * self.depth[rows, j])
        return np.asarray((level + modes) / area + rest / (2.0 * np.pi * depth))

    @cached_property
    def _mouths(self) -> Flags:
        """Which ports are inner mouths of pipes, (N, P)."""
        return np.asarray((self.drivers | self.openings) & (self.ports.kind <= DOWNWARD))

    def _alone(self, rows: Indices, i: Indices) -> Floats:
        """M of ports on themselves, (M,)."""
        kind, depth, radius = self.ports.kind[rows, i], self.depth[rows, i], self.ports.radius[rows, i]
        unspread = math.log(POINT) / (2.0 * np.pi * depth)
        t = self.part[rows, i]
        point = (0.5 * EULER - np.log(4.0 * depth) - 0.25 * (digamma(t) + digamma(1.0 - t))) / (2.0 * np.pi * depth)
        disc = (0.25 - np.log(radius)) / (2.0 * np.pi * depth) + beside_plate(radius=radius, depth=depth)
        on_end = 2.0 * point + unspread + PISTON_END / (np.pi * radius)
        own = np.where(kind == FACE, disc, on_end)
        mouth = np.flatnonzero(self._mouths[rows, i])
        bore, these = radius[mouth], (rows[mouth], i[mouth])
        free = free_end(bore=bore, outer=self.ports.outer[these]) / (np.pi * bore**2)
        own[mouth] = point[mouth] + free + self._walls(*these) + self._crowded(*these)
        return np.asarray(self.spread(rows, i, i) + unspread + own)

    def _walls(self, rows: Indices, i: Indices) -> Floats:
        """What the images of mouths in the ends of the layer and in panel and opposite wall add, near by, (M,) 1/m."""
        depth, x, s, part = (each[rows, i] for each in (self.depth, self.x, self.s, self.part))
        kind = self.ports.kind[rows, i]
        bore, inside = (each[rows, i] for each in (self.ports.radius, self.ports.inside))
        height, width = self.sheet.height[rows], self.width[rows]
        across = kind == ACROSS
        # The panel that a pipe comes from is shaded by it: its image is farther off than twice the pipe's length,
        # by as much as makes a flanged end of a pipe that does not stand out.
        outer = self.ports.outer[rows, i]
        flush = 0.125 * bore**2 / (FLANGED_END * bore - free_end(bore=bore, outer=outer))
        shade = flush + (SHADE * bore - flush) * -np.expm1(-inside / bore)
        behind = 2.0 * np.where(across, x + shade, x)
        total = _over_depth(behind, depth, part, part)
        for away in (s, height - s, width - x):
            total += _over_depth(2.0 * away, depth, part, part)
        total += np.where(across, np.log(2.0 * np.maximum(x, 0.5 * POINT) / behind) / (2.0 * np.pi * depth), 0.0)
        ahead = np.where(kind == SQUARE, part * depth, np.where(kind == DOWNWARD, s, height - s))
        ahead = np.where(across, width - x, ahead)
        ahead, inside = np.maximum(ahead, 0.5 * bore), np.maximum(inside, 0.1 * bore)
        moved = 1.0 / (ahead - BEFORE_MOUTH * bore) - 1.0 / ahead
        shaded = np.where(across, 0.0, 1.0 / (inside + shade) - 1.0 / inside)
        return np.asarray(total + (moved + shaded) / (8.0 * np.pi))

    def _crowded(self, rows: Indices, i: Indices) -> Floats:
        """What pipes and walls close beside mouths add to their end correction, over the bore's area, (M,) 1/m."""
        outer, kind = self.ports.outer[rows, i], self.ports.kind[rows, i]
        depth, height = self.depth[rows, i], self.sheet.height[rows]
        x, y, s = self.x[rows], (self.part * self.depth)[rows], self.s[rows]
        # The plane of the mouth: (y, s) for pipes along the width, (x, s) or (x, y) for the others.
        first = np.where((kind == ACROSS)[:, np.newaxis], y, x)
        upright = (kind == UPWARD) | (kind == DOWNWARD)
        second = np.where(upright[:, np.newaxis], y, s)
        first_wall = np.where(kind == ACROSS, depth, self.width[rows])
        second_wall = np.where(upright, depth, height)
        least = (NEAREST * outer) ** 2
        every, total = np.arange(len(rows)), np.zeros(len(rows))
        for j in range(self.x.shape[1]):
            there = self._mouths[rows, j]
            u, v = first[:, j], second[:, j]
            for a, image_u in enumerate((u, -u, 2.0 * first_wall - u)):
                for b, image_v in enumerate((v, -v, 2.0 * second_wall - v)):
                    squared = (first[every, i] - image_u) ** 2 + (second[every, i] - image_v) ** 2
                    counts = there & (i != j) if a == b == 0 else there
                    total += np.where(counts, 1.0 / np.maximum(squared, least) ** 2, 0.0)
        standing = np.where(kind == ACROSS, -np.expm1(-self.ports.inside[rows, i] / (STANDING * outer)), 1.0)
        return np.asarray(CROWDING * outer**3 * total * standing)

    def between(self, rows: Indices, i: Indices, j: Indices) -> Floats:
        """M between pairs of ports, (M,)."""
        away = np.hypot(self.x[rows, i] - self.x[rows, j], self.s[rows, i] - self.s[rows, j])
        depth = np.sqrt(self.depth[rows, i] * self.depth[rows, j])
        plan = np.maximum(away, POINT)
        kinds, radii = (np.stack([each[rows, i], each[rows, j]]) for each in (self.ports.kind, self.ports.radius))
        # A cone in the layer's end, or a slot's window, fills the depth: nothing but the layer's own spreading.
        whole = (kinds > FACE).any(axis=0)
        disc = np.where(kinds == FACE, radii, 0.0).max(axis=0)
        over = np.maximum(disc, POINT)
        # Under the cone the logarithm is that of a disc, not of its centre.
        inside = np.where(plan < disc, np.log(plan / over) + 0.5 * (1.0 - (plan / over) ** 2), 0.0)
        parts = np.where(kinds == FACE, 1.0, np.stack([self.part[rows, i], self.part[rows, j]]))
        apart = _over_depth(np.maximum(plan, disc), depth, *parts)
        close = np.flatnonzero((plan < 0.3 * depth) & self._mouths[rows, i] & self._mouths[rows, j])
        if close.size:
            apart[close] = _between_plates(plan[close], depth[close], *parts[:, close])
        return np.asarray(self.spread(rows, i, j) + inside / (2.0 * np.pi * depth) + np.where(whole, 0.0, apart))


def _plain(cavities: Cavities, ports: Ports, wave_number: Floats, braces: Braces) -> tuple[Floats, ...]:
    """The figures of :class:`Inside` of boxes without a slot, (N,) each."""
    layer = _Layer.of(cavities, ports, wave_number)
    parts = (layer.past(some, braces) for some in (layer.drivers, layer.openings))
    return layer.braced(braces, layer.totals(), *parts)


def _with_slot(cavities: Cavities, ports: Ports, wave_number: Floats, braces: Braces) -> tuple[Floats, ...]:
    """M of boxes whose one opening is a slot: driver, mutual, opening, (N,) each.

    The layer is what lies beyond the slot and its board.  The chamber before the mouth opens into it through a window,
    whose two ``places`` are ports of the layer.  A flow into all the air is one into the layer's, less ``share`` (the
    chamber's of the air) times the flow from the chamber to the layer, and that passes the window too.
    """
    column = np.argmax(np.isfinite(ports.radius) & (ports.kind >= SLOT), axis=1)
    slot = ports.take((np.arange(len(column)), column))
    drivers = replace(ports, radius=np.where(ports.opening, np.nan, ports.radius))
    kind, middle, height = slot.kind, slot.z, 2.0 * slot.radius
    taken = slot.radius + slot.outer
    turned, high = kind != SLOT, (kind == SLOT_DOWN) | ((kind == SLOT) & (middle > 0.5 * cavities.height))
    layer, floor = _beyond(cavities, taken, turned=turned, high=high)
    sheet = _Sheet.of(layer)
    # Across the window, and along it from the wall ahead of the mouth, in the layer's lengths.
    upright = np.where(turned, 1.0, sheet.secant)
    ahead = np.where(high, middle, cavities.height - middle) * sheet.secant
    length = np.maximum(np.where(turned, ahead, cavities.width - slot.x), height)
    along = np.where(turned, sheet.height, layer.width)
    shape = chambers(height=height * upright, chamber_height=taken * upright, length=length, along=along)

    near, far = (np.minimum(length * part, along) for part in (shape.near, shape.far))
    places = np.stack([near, far], axis=-1)
    top, flat = sheet.height[:, np.newaxis], (~turned)[:, np.newaxis]
    up = np.where(high[:, np.newaxis], np.where(flat, top, places), np.where(flat, 0.0, top - places))
    z = up / sheet.secant[:, np.newaxis]
    across = np.where(flat, layer.width[:, np.newaxis] - places, layer.width[:, np.newaxis])
    both = _both(layer, drivers, x=across, z=z, floor=floor)
    inside = _Layer.of(layer, both, wave_number)
    driver, through = (inside.mean(inside.drivers, sort) for sort in (inside.drivers, inside.openings))
    every, last = np.arange(len(column)), np.full(len(column), both.kind.shape[1] - 1)  # the two places come last
    depth = np.sqrt(inside.depth[:, -2] * inside.depth[:, -1])

    # The table's box is endless, as deep everywhere as at the window, and at rest.
    endless = -np.log(np.abs(2.0 * (np.cos(np.pi * near / along) - np.cos(np.pi * far / along)))) / (np.pi * depth)
    rest = inside.spread(every, last - 1, last) - endless
    own, between, air = (each / depth + rest for each in (shape.slot, shape.both, shape.air))
    chamber = length * taken * upright * depth
    share = chamber / (chamber + layer.width * sheet.height * sheet.mean_depth)
    found = (
        driver - 2.0 * share * through + share**2 * air,
        (1.0 - share) * through - share * between + share**2 * air,
        own - 2.0 * share * between + share**2 * air,
    )
    kept = share[:, np.newaxis]
    window = inside.past(inside.openings, braces)
    cones = inside.past(inside.drivers, braces) - kept * window
    return inside.braced(braces, found, cones, (1.0 - kept) * window)


def _beyond(cavities: Cavities, taken: Floats, *, turned: Flags, high: Flags) -> tuple[Cavities, Floats]:
    """What a slot that takes so much of height, and of width where it is turned, leaves; and its bottom's height."""
    change = (cavities.top_depth - cavities.bottom_depth) / cavities.height * taken
    bottom, top = cavities.bottom_depth + np.where(high, 0.0, change), cavities.top_depth - np.where(high, change, 0.0)
    sizes = {"width": cavities.width - np.where(turned, taken, 0.0), "height": cavities.height - taken}
    return replace(cavities, **sizes, bottom_depth=bottom, top_depth=top), np.where(high, 0.0, taken)


def _both(layer: Cavities, drivers: Ports, *, x: Floats, z: Floats, floor: Floats) -> Ports:
    """The drivers of a box, moved down by ``floor``, and places (N, 2) half way between back and baffle as openings."""
    slope = layer.back_slope[:, np.newaxis]
    change = ((layer.top_depth - layer.bottom_depth) / layer.height)[:, np.newaxis]
    y = slope * z + 0.5 * (layer.bottom_depth[:, np.newaxis] + change * z)
    down = floor[:, np.newaxis]
    moved = replace(drivers, y=drivers.y - slope * down, z=drivers.z - down)
    places: dict[str, NDArray[Any]] = {"kind": np.full(z.shape, SLOT), "opening": np.ones(z.shape, dtype=bool)}
    places |= {"x": x, "y": y, "z": z} | dict.fromkeys(("radius", "outer", "inside"), np.zeros_like(z))
    return Ports(**{name: np.concatenate([getattr(moved, name), each], axis=-1) for name, each in places.items()})


def _over_depth(away: Floats, depth: Floats, part: Floats, other: Floats) -> Floats:
    """What two points at a distance in the layer feel beyond the uniform part, (N,) 1/m.

    (1/πh)·Σ cos(nπt)·cos(nπt')·K0(nπR/h); three terms, so good for R above 0.3 h.
    """
    ratio = np.pi * np.maximum(away / depth, 0.3)
    one, two = np.cos(np.pi * part), np.cos(np.pi * other)
    total = one * two * k0(ratio)
    total += (2.0 * one**2 - 1.0) * (2.0 * two**2 - 1.0) * k0(2.0 * ratio)
    total += one * (4.0 * one**2 - 3.0) * two * (4.0 * two**2 - 3.0) * k0(3.0 * ratio)
    return np.asarray(total / (np.pi * depth))


def _between_plates(plan: Floats, depth: Floats, part: Floats, other: Floats) -> Floats:
    """What ``_over_depth`` gives, for two points one behind the other or nearly so."""
    total = np.log(plan) - np.log(4.0 * depth)
    for fraction in (np.hypot(plan / depth, part - other) / 2.0, 0.5 * (part + other)):
        kept = np.clip(fraction, 1e-3, 0.999)
        total = total - 0.25 * (digamma(kept) + digamma(1.0 - kept))
    return np.asarray(total / (2.0 * np.pi * depth))
