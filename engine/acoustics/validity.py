"""Where the model stops: for each design, up to which frequency and how hard driven its figures can be believed."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np

from engine.acoustics.circuit import Systems
from engine.acoustics.figures import Figures
from engine.acoustics.turbulence import jet_speed
from engine.arrays import Flags, Floats
from engine.kinds import radiator

# Longer than this part of a wave, nothing is a lump.  Common practice; what it costs is computed: the spring of a
# closed pipe is then kL·cot(kL) = 0.79 of the lumped one, the mass of an open one tan(kL)/kL = 1.27 of it.
PART_OF_WAVE = 1.0 / 8.0
# Of the cavity's first mode, up to where its air's inertia is taken right: compared with finite elements to 0.37 of
# it, and the first mode's share then grows by (1 - 0.5²)/(1 - 0.37²), a seventh.
PART_OF_MODE = 0.5
NOISY_MACH = 0.05  # peak; Small 1973 Part II takes about 5 % for where vents begin to be heard (from memory)
# Of the tuning: against finite elements of boxes with their braces, in niches with plain walls, it is 0.8 % at most.
TUNED_TO = 0.01
# Of what walls near by add: they are soft, slanted and open here and there.  An estimate, no source; against finite
# elements with plain walls it is 0.06.
WALLS_TO = 0.3
PART_OUTSIDE = 0.1
UNTRUE_MACH = 0.10  # peak; beyond it a vent's loss and mass depend on the level
AT_XMAX = 1.0005  # of Xmax, up to which a cone stands at it: what is turned down to hold it does, but for rounding


@dataclass(frozen=True, kw_only=True)
class Validity:
    """Where the model of N designs stops, every field (N,)."""

    model_to_hz: Floats  # below it box and vent are lumps
    tuning_within: Floats  # Hz, how far the tuning may be off; nan where the air in the box is not known
    first_mode_hz: Floats  # first standing wave along the box's largest inside dimension
    vent_resonance_hz: Floats  # first resonance of the vent as a pipe open at both ends; nan without vents
    jet_speed: Floats  # m/s peak above which the vent's loss is surely that of a jet, where its air is fastest
    lumped_short: Flags  # the music band goes beyond model_to_hz
    mode_in_band: Flags
    vent_in_band: Flags
    vent_noisy: Flags  # peak air speed above 5 % of the speed of sound
    vent_untrue: Flags  # above 10 %
    walled: Flags  # more of the opening's mass than PART_OUTSIDE is that of the air round the box
    overdriven: Flags  # a cone beyond its xmax at full power
    radiator_overdriven: Flags


def validity(
    systems: Systems,
    found: Figures,
    *,
    largest_dimension: Floats,
    vent_length: Floats,
    music_band: tuple[float, float],
    first_mode: Floats | None = None,
    outside: Floats | None = None,
) -> Validity:
    """Where the model stops, from a batch and its figures.

    ``largest_dimension`` (N,) in m, inside the box; ``vent_length`` (N,) in m with both end corrections, nan
    without vents.  ``first_mode`` (N,) in Hz is the cavity's where the inertia of its air is in the systems
    (:func:`engine.acoustics.thin_box.thin_box`; nan where not): they then hold to half of it.  Other modes and pipe
    resonances: c/(2·length) (Rayleigh).  ``outside`` (N,) in kg/m⁴ is what walls near by add to the mass behind the
    tuning.  In band means at or below the band's top.
    """
    c, top = systems.air.c, music_band[1]
    vents = systems.vented & np.isfinite(vent_length)
    known = np.full(len(systems), np.nan) if first_mode is None else first_mode
    walls = np.zeros(len(systems)) if outside is None else outside
    with np.errstate(all="ignore"):
        # Of the mass that the tuning and all springs behind it tell.
        springs = 1.0 + np.where(systems.radiating, radiator.stiffness(systems), 0.0)
        share = walls * systems.omega_b**2 * systems.cab / springs
        in_box = np.where(np.isfinite(known), PART_OF_MODE * known, PART_OF_WAVE * c / largest_dimension)
        model_to = np.fmin(in_box, np.where(vents, PART_OF_WAVE * c / vent_length, np.nan))
        mode = np.where(np.isfinite(known), known, 0.5 * c / largest_dimension)
        pipe = np.where(vents, 0.5 * c / vent_length, np.nan)
        bore = np.sqrt(4.0 / math.pi * np.where(systems.vented, systems.vent_area, np.nan))
        return Validity(
            model_to_hz=model_to,
            tuning_within=np.where(
                systems.tuned & np.isfinite(known),
                systems.tuning * (TUNED_TO + 0.5 * WALLS_TO * np.abs(share)),
                np.nan,
            ),
            first_mode_hz=mode,
            vent_resonance_hz=pipe,
            jet_speed=jet_speed(frequency=found.vent_speed_hz, diameter=bore),
            lumped_short=model_to < top,
            mode_in_band=mode <= top,
            vent_in_band=pipe <= top,
            vent_noisy=found.vent_mach > NOISY_MACH,
            vent_untrue=found.vent_mach > UNTRUE_MACH,
            walled=share > PART_OUTSIDE,
            overdriven=found.excursion_ratio > AT_XMAX,
            radiator_overdriven=found.radiator_ratio > AT_XMAX,
        )


def words(where: Validity, found: Figures, row: int) -> list[str]:
    """What a reader of one design's figures should know, a sentence each; empty where the model holds throughout."""
    also = ", where loss and tuning change with the level" if where.vent_untrue[row] else ""
    beyond = "beyond Xmax the figures are too good, and it can be damaged."
    said = {
        "lumped_short": f"Above {where.model_to_hz[row]:.0f} Hz the air in box or vent no longer moves as one: "
        "the curves are a guide there, no more.",
        "mode_in_band": f"The box has a standing wave at {where.first_mode_hz[row]:.0f} Hz that the curves do not "
        "show.",
        "vent_in_band": f"The vent resonates as a pipe at {where.vent_resonance_hz[row]:.0f} Hz, within the music "
        "band; the curves do not show it.",
        "walled": "A good part of what the opening moves is the air between the box and what surrounds it: the tuning, "
        f"good to {where.tuning_within[row]:.1f} Hz, depends on how much of seat and trim is open.",
        "vent_noisy": f"The air in the vent reaches {100.0 * found.vent_mach[row]:.0f} % of the speed of "
        f"sound at {found.vent_speed_hz[row]:.0f} Hz{also}.",
        "overdriven": f"At full power the cone would move {found.excursion_ratio[row]:.1f} times its Xmax at "
        f"{found.excursion_hz[row]:.0f} Hz: {beyond}",
        "radiator_overdriven": f"At full power the passive radiator would move {found.radiator_ratio[row]:.1f} times "
        f"its Xmax at {found.radiator_hz[row]:.0f} Hz: {beyond}",
    }
    return [sentence for name, sentence in said.items() if getattr(where, name)[row]]


FLAGS = {
    "lumped_short": "long for the band",
    "mode_in_band": "standing wave in the band",
    "vent_in_band": "pipe resonance in the band",
    "walled": "walls before the opening",
    "vent_noisy": "fast air in the vent",
    "overdriven": "cone beyond Xmax",
    "radiator_overdriven": "radiator beyond Xmax",
}


def flags(where: Validity) -> list[str]:
    """For each design what of it lies beyond the model, short names after each other; "" where it holds throughout."""
    raised = np.stack([getattr(where, name) for name in FLAGS], axis=1)
    names = list(FLAGS.values())
    return ["; ".join(name for name, up in zip(names, row, strict=True) if up) for row in raised]
