"""What came of each driver of a catalogue, in words and as a table."""

from __future__ import annotations

import math
from collections.abc import Sequence

import pandas as pd

from engine.constraints import Shortfall
from engine.goals import GOALS
from engine.insight.reasons import said_of, shown
from engine.quantities import Units, show_shortage
from engine.scenario import Scenario
from engine.search.catalogue import Beaten, Verdict
from engine.words.voice import listed

WORDS = {
    "front": "on the front",
    "beaten": "beaten",
    "short": "no box found",
    "too large": "too large",
    "unwired": "no wiring",
    "untried": "not tried",
}
LITTLE = 0.01  # % of what a front covers, of which no figure is told
_PLACES = {"width": "wider or longer than the space is wide", "section": "too large for the space seen from the side"}


def why(verdict: Verdict, scenario: Scenario, units: Units) -> str:
    """The reason for a verdict as a sentence without its full stop.  Raises ValueError for one that is none."""
    told = _why(verdict, scenario, units)
    if verdict.unwired and verdict.code != "unwired":
        counts = listed([str(count) for count in verdict.unwired], "or")
        told += f"; {counts} of it cannot be wired to a load that {scenario.amplifier.name} may drive"
    return told


def _why(verdict: Verdict, scenario: Scenario, units: Units) -> str:
    match verdict.code:
        case "front":
            alone = "" if math.isnan(verdict.share) else f"; without it the front would cover {_less(verdict.share)}"
            return f"{verdict.designs} design{'s' if verdict.designs > 1 else ''} on the front{alone}"
        case "beaten":
            assert verdict.beaten is not None
            return f"beaten on everything: {_closest(verdict.beaten, units, scenario.currency)}"
        case "short":
            short = ", ".join(Shortfall(**each).told(units) for each in verdict.short_of)
            return f"none of {verdict.evaluations:,} boxes tried can be built: the nearest is short of {short}"
        case "too large":
            assert verdict.large is not None
            by = show_shortage(verdict.large.by, units)
            return f"no box can hold it: it is {_PLACES[verdict.large.place]}, by at least {by}"
        case "unwired":
            return f"no wiring of it gives a load that {scenario.amplifier.name} may drive"
        case "untried":
            return "the search was stopped before it was tried"
    raise ValueError(f"a catalogue has no verdict {verdict.code!r}")


def _less(share: float) -> str:
    percent = 100.0 * share
    return "hardly less" if percent < LITTLE else f"{percent:.1f} % less" if percent >= 1.0 else f"{percent:.2f} % less"


def _closest(beaten: Beaten, units: Units, currency: str) -> str:
    """Where a driver comes closest to the front, and what it is beaten by there."""
    if beaten.alike:
        return f"the closest it comes is what {beaten.rival} reaches too, within what can be told apart"
    goal = GOALS[beaten.goal]
    said, amount = said_of(goal), shown(beaten.by, beaten.goal, units, currency)
    worse, better = (said.lower, said.higher) if goal.better == "max" else (said.higher, said.lower)
    if beaten.only:
        return f"the closest it comes, it {worse.format(amount)} than {beaten.rival}, which is no worse in any goal"
    return f"the closest it comes, {beaten.rival} is no worse in any goal and {better.format(amount)}"


def table(verdicts: Sequence[Verdict], scenario: Scenario, units: Units) -> pd.DataFrame:
    """A row for each driver: those on the front first, by what none but they bring, then the others as listed."""
    order = sorted(verdicts, key=lambda each: (each.code != "front", 0.0 if math.isnan(each.share) else -each.share))
    return pd.DataFrame(
        {
            "driver": [each.driver for each in order],
            "verdict": [WORDS[each.code] for each in order],
            "reason": [why(each, scenario, units) for each in order],
            "designs": [each.designs for each in order],
            "designs_tried": [each.evaluations for each in order],
            "beaten_by": [each.beaten.rival if each.beaten else "" for each in order],
        }
    )
