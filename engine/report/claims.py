"""What one box has over another in plain words: "plays 3.1 dB louder at 30 Hz", "takes half the room"."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from engine.goals import GOALS, Goal, levels_among
from engine.insight.reasons import difference, run_on
from engine.quantities import Units
from engine.words.voice import first_up

ROOM = "outer_volume_m3"
_LOUD = "loud"  # levels at several frequencies are one matter: the largest lead and the largest lag stand for it
_NEAR = 0.025  # of a share, within which it is called a half or a third
_TAKES = "takes "
_LESS = {
    1 / 4: "three quarters less room", 1 / 3: "two thirds less room", 1 / 2: "half the room",
    2 / 3: "a third less room", 3 / 4: "a quarter less room", 4 / 5: "a fifth less room",
}  # fmt: skip
_MORE = {
    5 / 4: "a quarter more room", 4 / 3: "a third more room", 3 / 2: "half as much room again", 2.0: "twice the room",
}  # fmt: skip
_THAN = dict.fromkeys(("half the room", "twice the room"), "of") | {"half as much room again": "as"}


@dataclass(frozen=True)
class Claim:
    """One difference between two boxes, told of the first: ``words`` go on from its name.

    ``lead`` is how far it is ahead, negative where it is behind: dB for levels, and for sizes, weights and prices ten
    times the logarithm of the ratio, so that half of one counts as 3 dB.
    """

    matter: str
    key: str
    words: str
    lead: float

    def beside(self, name: str) -> str:
        """The words with what it is compared with: "takes half the room of B"."""
        return f"{self.words} {_THAN.get(self.words.removeprefix(_TAKES), 'than')} {name}"


def claims(one: Mapping[str, Any], other: Mapping[str, Any], *, units: Units, currency: str = "") -> tuple[Claim, ...]:
    """What sets one design apart from another to somebody who will not build it, the largest lead first.

    Level at the named frequencies, room, and what else is bought, carried and made room for; what is too small to
    notice is left out, and so is what only a builder asks.

    >>> small = {"outer_volume_m3": 0.03, "weight_kg": 12.0, "level_30_hz_db": 98.0, "box_kind": "closed"}
    >>> large = {"outer_volume_m3": 0.06, "weight_kg": 12.1, "level_30_hz_db": 101.1, "box_kind": "closed"}
    >>> [claim.words for claim in claims(large, small, units="metric")]
    ['plays 3.1 dB louder at 30 Hz', 'takes twice the room']
    """
    found: dict[tuple[str, bool], Claim] = {}
    for key in (*_levels(one), *(goal.key for goal in GOALS.records if _for_all(goal))):
        goal = GOALS[key]
        if not all(key in row and goal.had_by(row["box_kind"]) for row in (one, other)):
            continue
        here, there = float(one[key]), float(other[key])
        if not math.isfinite(here - there) or abs(here - there) < goal.least_step:
            continue
        if goal.kind == "level":
            matter, lead = _LOUD, here - there
        elif min(here, there) > 0.0:
            matter, lead = key, 10.0 * math.log10(here / there)
        else:
            continue
        words = _told(goal, here, there, units, currency)
        claim = Claim(matter, key, words, -goal.turn * lead)
        known = found.get((matter, claim.lead > 0.0))  # one may be louder here and quieter there
        if known is None or abs(claim.lead) > abs(known.lead):
            found[matter, claim.lead > 0.0] = claim
    return tuple(sorted(found.values(), key=lambda each: -each.lead))


def room(ratio: float) -> str:
    """How much room a box takes beside another, of which it is ``ratio`` as large, going on from its name.

    >>> room(0.5), room(0.66), room(0.91), room(2.4)
    ('takes half the room', 'takes a third less room', 'takes 9 % less room', 'takes 140 % more room')
    """
    for share, words in (_LESS if ratio < 1.0 else _MORE).items():
        if abs(ratio / share - 1.0) < _NEAR:
            return f"{_TAKES}{words}"
    return f"{_TAKES}{100.0 * abs(ratio - 1.0):.0f} % {'less' if ratio < 1.0 else 'more'} room"


def joined(phrases: Sequence[str]) -> str:
    """Phrases as one sentence without its full stop, its first letter large; empty where there are none."""
    text = run_on(phrases) if phrases else ""
    return first_up(text)


def _levels(row: Mapping[str, Any]) -> list[str]:
    """Levels in the vehicle differ as those in the open do."""
    return [key for key in levels_among(row) if not GOALS[key].moves_with]


def _for_all(goal: Goal) -> bool:
    """Whether a goal is anybody's matter: room, and what is said of a build in more than counts."""
    return goal.key == ROOM or (goal.said is not None and goal.said.about == "build" and goal.kind != "count")


def _told(goal: Goal, here: float, there: float, units: Units, currency: str) -> str:
    if goal.said is None:
        return room(here / there)
    return difference(goal.said, here - there, goal.key, units, currency)
