"""What is said of designs that are heard: what each does to its limits, how they differ, and what all this is not."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from engine.goals import GOALS
from engine.hearing.beside import Heard
from engine.quantities import Units, show
from engine.words.voice import first_up, listed

INDICATION = (
    "An indication for headphones, no more: the box by its model, at 1 m in half space or with the cabin's level, both "
    "ears alike. Your headphones, the vehicle's resonances, rattles and where you sit are not in it."
)
MODELLED = (
    "Modelled: high-pass and crossover, the amplifier's clipping, the warm coil, motor and suspension towards Xmax as "
    "far as the data sheet tells, the vent's resistance to fast air, all with their harmonics. Left out: a cone's hard "
    "stop, the noise of fast air, limiters, everything above 200 Hz."
)
START_LOW = (
    "Turn your headphones down before you start: deep tones seem quiet long after they have become loud enough to harm "
    "hearing. Raise the level slowly, and never to make up for bass that your headphones do not have."
)
BEYOND = "That is beyond what the model can say anything true about: hear it as a warning, not as a prediction."
_CLIPS = 1e-3  # of the time, less than which nobody hears
_OVER = 1.005  # of a limit, beyond which it is told as passed
_NOTHING = 0.05  # dB, what is told as no difference


class Strain(NamedTuple):
    """One thing that moves."""

    name: str
    value: float  # m or m/s, peak
    kind: str  # of quantity
    limit: float
    word: str  # for the limit
    model_limit: float  # beyond which the model says nothing true


def strains(heard: Heard) -> list[Strain]:
    """What of a design moves in what is heard, with its limits."""
    played, system = heard.played, heard.design.systems
    far = {key: GOALS[key].model_limit or 0.0 for key in ("excursion_ratio", "radiator_ratio", "vent_speed_m_s")}
    xmax, passive = float(system.xmax[0]), float(system.radiator_xmax[0])
    found = [Strain("cone", played.excursion, "length", xmax, "Xmax", far["excursion_ratio"] * xmax)]
    if system.radiating[0]:
        most = far["radiator_ratio"] * passive
        found.append(Strain("passive radiator", played.radiator_excursion, "length", passive, "its Xmax", most))
    if system.vented[0]:
        limit = heard.design.scenario.goals.vent_speed_limit
        found.append(Strain("air in the vent", played.vent_speed, "speed", limit, "its limit", far["vent_speed_m_s"]))
    return found


def beyond_model(heard: Heard) -> bool:
    """Whether anything goes so far that the model ends."""
    return any(each.value > each.model_limit for each in strains(heard))


def limits_told(heard: Heard, units: Units) -> str:
    """What of its limits a design uses in what is heard, and what it passes, in two sentences."""
    played, moving = heard.played, strains(heard)
    told = [
        f"{each.name} up to {show(each.value, each.kind, units)} of {show(each.limit, each.kind, units)}"
        for each in moving
    ]
    told.append(f"coil {show(played.coil_rise, 'temperature_difference', units)} warmer than the air")
    passed = [f"the {each.name} passes {each.word}" for each in moving if each.value > _OVER * each.limit]
    if played.heat > _OVER * float(heard.design.systems.rated_power[0]):
        passed.append("the coil takes more than its rated power")
    if played.clipped > _CLIPS:
        share = f"{100.0 * played.clipped:.0f} % of the time" if played.clipped >= 0.01 else "now and then"
        passed.append(f"the amplifier clips {share}")
    said = f"{_sentence(listed(told))} {_sentence(listed(passed) if passed else 'nothing passes a limit')}"
    return f"{said} {BEYOND}" if beyond_model(heard) else said


def level_told(heard: Heard) -> str:
    """The mean level of what is heard, and where that is."""
    where = "at 1 m in half space" if heard.design.scenario.cabin is None else "in the vehicle"
    return f"{heard.played.level_db:.1f} dB on average {where}"


def difference(names: Sequence[str], heard: Sequence[Heard]) -> str:
    """Which of two is louder in a sound, or how far one is turned down to be as loud as the other, in a sentence."""
    down = [each.turned_db - max(other.turned_db for other in heard) for each in heard]
    if (most := min(down)) < -_NOTHING:
        return f"Equally loud by mean level: {names[down.index(most)]} is turned down by {-most:.1f} dB for that."
    apart = heard[1].played.level_db - heard[0].played.level_db
    if abs(apart) < _NOTHING:
        return "Both are equally loud in this sound."
    louder, quieter = (names[1], names[0]) if apart > 0.0 else (names[0], names[1])
    return f"{louder} is {abs(apart):.1f} dB louder than {quieter} in this sound."


def _sentence(words: str) -> str:
    return f"{first_up(words)}."
