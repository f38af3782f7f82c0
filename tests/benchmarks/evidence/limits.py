"""Where the models stop: lengths against waves, air speed against sound, cones against Xmax."""

from __future__ import annotations

import math

import numpy as np

from engine.acoustics.cavity import Cavities
from engine.acoustics.circuit import respond
from engine.acoustics.figures import figures
from engine.acoustics.inertance import first_modes
from engine.acoustics.turbulence import jet_speed
from engine.acoustics.validity import FLAGS, PART_OF_MODE, PART_OF_WAVE, flags, validity, words
from engine.air import REFERENCE_AIR
from tests.acoustics import drawn
from tests.acoustics.reference_boxes import peaks, solved
from tests.acoustics.test_thin_box import circuit
from tests.benchmarks.evidence.checks import Check, Evidence, furthest, furthest_percent, greatest, rms

BAND = (25.0, 80.0)
C = REFERENCE_AIR.c
PARTS_OF_MODE = PART_OF_MODE * np.linspace(0.3, 1.0, 8)
CLEAR = 1.3  # of the upper peak


def evidence() -> Evidence:
    yield from _lengths()
    yield from _flags()


def _lengths() -> Evidence:
    kl = 2.0 * math.pi * PART_OF_WAVE
    yield Check(
        what="an eighth of a wave: what the lumps are off by there",
        against="closed pipe kL·cot kL, open pipe tan(kL)/kL",
        cases=2,
        worst=furthest([0.79, 1.27], [kl / math.tan(kl), math.tan(kl) / kl]),
        allowed=5e-3,
        note=f"spring {kl / math.tan(kl):.3f}, mass {math.tan(kl) / kl:.3f} of the lumped one",
    )
    sizes = np.linspace(0.3, 2.5, 30)
    systems = drawn.systems(30, seed=41)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0)
    where = validity(
        systems,
        found,
        largest_dimension=sizes,
        vent_length=np.where(systems.vented, 1.5 * sizes, np.nan),
        music_band=BAND,
    )
    vented = systems.vented
    yield Check(
        what="first mode of a box and of a vent as a pipe",
        against="c/(2·length), Rayleigh",
        cases=len(sizes) + int(vented.sum()),
        worst=greatest(
            [
                furthest_percent(where.first_mode_hz, 0.5 * C / sizes),
                furthest_percent(where.vent_resonance_hz[vented], 0.5 * C / (1.5 * sizes[vented])),
            ]
        ),
        allowed=1e-9,
        unit="%",
    )
    even = {"bottom_depth": 0.1, "top_depth": 0.1, "back_slope": 0.0}
    widths, heights = np.array([0.4, 0.7, 1.0, 1.3]), np.array([0.45, 0.3, 0.4, 0.5])
    cavities = Cavities(
        width=widths, height=heights, **{name: np.full(len(widths), value) for name, value in even.items()}
    )
    lowest = first_modes(cavities=cavities, count=1)[:, 0] * C / (2.0 * math.pi)
    yield Check(
        what="first mode of the cavity of an even box",
        against="c/(2·length), Rayleigh",
        cases=len(widths),
        worst=furthest_percent(lowest, 0.5 * C / np.maximum(widths, heights)),
        allowed=0.02,
        unit="%",
        note="wedges against finite elements: above",
    )
    yield _up_to_half_the_first_mode()
    yield Check(
        what="air speed at which a vent's air moves by its radius",
        against="17 m/s at 30 Hz and 180 mm [C]",
        cases=1,
        worst=furthest(jet_speed(frequency=30.0, diameter=0.18), 17.0),
        allowed=0.05,
        unit="m/s",
    )


def _up_to_half_the_first_mode() -> Check:
    """How far cones move, by the reactance that they meet, from clear of the upper peak to where the model stops."""
    off: dict[bool, list[float]] = {False: [], True: []}
    for one in solved():
        frequency = PARTS_OF_MODE * one.modes[0]
        frequency = frequency[frequency > CLEAR * peaks(one.reactance, tuning=one.tuning)[-1]]
        if not len(frequency):
            continue
        cones = 2.0 * math.pi * frequency * REFERENCE_AIR.rho * len(one.box.cones) * one.box.sd**2
        truth = cones * one.reactance(frequency)
        for lumped in off:
            systems = circuit(one.box, lumped=lumped)
            behind = respond(systems, frequency=frequency).impedance[0] - systems.re[0]
            ours = np.imag(systems.bl[0] ** 2 / behind)
            off[lumped] += list(np.abs(20.0 * np.log10(ours / truth)))
    return Check(
        what="thin boxes, cone's motion up to half the cavity's first mode",
        against="finite elements, 3-D, stored",
        cases=len(off[False]),
        worst=greatest(off[False]),
        allowed=0.25,
        unit="dB",
        note=f"rms {rms(off[False]):.2f}; lumped model worst {max(off[True]):.1f}, rms {rms(off[True]):.2f} dB",
    )


def _flags() -> Evidence:
    """Every flag worked out again from the figures, and the words for it."""
    systems = drawn.systems(300, seed=42, passive=0.4)
    found = figures(systems, music_band=BAND, vent_speed_limit=17.0)
    rng = np.random.default_rng(7)
    sizes = rng.uniform(0.3, 3.0, 300)
    lengths = np.where(systems.vented, rng.uniform(0.1, 3.0, 300), np.nan)
    where = validity(systems, found, largest_dimension=sizes, vent_length=lengths, music_band=BAND)
    top = C / BAND[1]
    longest = np.fmax(sizes, lengths)
    expected = {
        "lumped_short": longest > top / 8.0,
        "mode_in_band": sizes >= top / 2.0,
        "vent_in_band": lengths >= top / 2.0,
        "vent_noisy": found.vent_speed / C > 0.05,
        "overdriven": found.excursion_ratio > 1.0,
        "radiator_overdriven": found.radiator_ratio > 1.0,
    }
    wrong = sum(int(np.sum(getattr(where, name) != value)) for name, value in expected.items())
    counts = ", ".join(f"{FLAGS[name]} {int(np.sum(value))}" for name, value in expected.items())
    yield Check(
        what="flags: long for the band, modes, 5 % of sound, beyond Xmax",
        against="the same from lengths, speeds and excursions",
        cases=len(expected) * len(systems),
        worst=wrong,
        allowed=0.0,
        unit="wrong",
        note=counts,
    )
    short = flags(where)
    untold = sum(
        len(words(where, found, row)) != sum(bool(value[row]) for value in expected.values())
        or [name for name in short[row].split("; ") if name]
        != [FLAGS[name] for name, value in expected.items() if value[row]]
        for row in range(len(systems))
    )
    yield Check(
        what="a sentence in the explorer and a name in the front for each",
        against="the flags themselves",
        cases=len(systems),
        worst=untold,
        allowed=0.0,
        unit="wrong",
    )
