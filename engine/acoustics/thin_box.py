"""What thin boxes are tuned to with the inertia of the air in and round them: figures for a circuit."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from engine.acoustics.cavity import FACE, SIDE, SLOT_DOWN, SLOT_UP, Cavities, Inertance, Ports
from engine.acoustics.ends import free_side
from engine.acoustics.inertance import first_modes, inertance
from engine.acoustics.windows import Braces
from engine.air import REFERENCE_AIR, Air
from engine.arrays import Floats

USUALLY, AS_GUESSED = 0.97, 0.04  # of the lumped tuning: where M is first taken, and how far off that may be
CLOSED_HZ = 50.0  # where a closed box's M is taken: near its resonance, and M hardly changes there


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
        ports = ports._replace(radius=np.where(pistons, np.sqrt(cone / np.pi), ports.radius))

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
