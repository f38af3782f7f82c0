"""Designs playing the same sound, made to be compared: as loud as each other, or each at its own gain."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np

from engine.arrays import Floats
from engine.hearing.playing import Played, play
from engine.hearing.sounds import Sound
from engine.judged import JudgedDesign

PEAK = 0.5  # of full scale, of the loudest: 6 dB are left for whatever plays it
_ALIKE = 0.005  # dB, between those that are to be equally loud
_TRIES = 6  # to get there: a louder one's level follows its gain but for what is compressed


@dataclass(frozen=True, kw_only=True, eq=False)
class Heard:
    """One of some designs as it is to be heard: ``samples`` (n,) at ``sounds.RATE`` within ±1, one scale for all."""

    design: JudgedDesign
    played: Played
    samples: Floats
    turned_db: float  # how far its gain is from its own


def beside(designs: Sequence[JudgedDesign], sound: Sound, *, alike: bool, harder_db: float = 0.0) -> tuple[Heard, ...]:
    """Designs playing a ``sound``, each at its own gain and ``harder_db`` more.

    ``alike`` turns the louder ones down until all have the mean level of the quietest.  Raises Refusal where one is
    driven too hard for the model.
    """
    gains = [float(design.judgement.figures.gain[0]) * 10.0 ** (harder_db / 20.0) for design in designs]
    played = [
        play(design.systems, sound, gain=gain, cabin=design.scenario.cabin)
        for design, gain in zip(designs, gains, strict=True)
    ]
    if alike:
        quiet = min(each.level_db for each in played)
        played = [_turned_down(design, sound, each, quiet) for design, each in zip(designs, played, strict=True)]
    peak = max(float(np.max(np.abs(each.pressure))) for each in played)
    return tuple(
        Heard(
            design=design, played=each, samples=each.pressure * (PEAK / peak),
            turned_db=20.0 * math.log10(each.gain / float(design.judgement.figures.gain[0])),
        )
        for design, each in zip(designs, played, strict=True)
    )  # fmt: skip


def _turned_down(design: JudgedDesign, sound: Sound, played: Played, level: float) -> Played:
    for _ in range(_TRIES):
        if abs(off := level - played.level_db) < _ALIKE:
            break
        gain = played.gain * 10.0 ** (off / 20.0)
        played = play(design.systems, sound, gain=gain, cabin=design.scenario.cabin)
    # What is left of the difference, hundredths of a decibel, is a matter of the scale.
    return replace(played, pressure=played.pressure * 10.0 ** ((level - played.level_db) / 20.0))
