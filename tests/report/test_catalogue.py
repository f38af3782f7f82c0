"""What is said of each driver of a catalogue: promises to the user."""

from __future__ import annotations

import math
from dataclasses import asdict

import pytest

from engine.constraints import Shortfall
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.report.catalogue import WORDS, table, why
from engine.scenario import Scenario
from engine.search.bounds import TooLarge
from engine.search.catalogue import Beaten, Verdict


@pytest.fixture(scope="module")
def roadster() -> Scenario:
    return read_scenario(demo_scenarios()["roadster"])


def beaten(goal: str, by: float, *, only: bool = True, alike: bool = False) -> Verdict:
    behind = Beaten(rival="round 10", goal=goal, by=by, only=only, alike=alike)
    return Verdict(driver="round 8", code="beaten", beaten=behind)


SHORT = asdict(Shortfall(constraint="driver depth", by=0.0127))
CLOSEST = "beaten on everything: the closest it comes"
SAID = [
    (Verdict(driver="a", code="front", designs=1, share=0.0712),
     "1 design on the front; without it the front would cover 7.1 % less"),
    (Verdict(driver="a", code="front", designs=30, share=0.0004),
     "30 designs on the front; without it the front would cover 0.04 % less"),
    (Verdict(driver="a", code="front", designs=2, share=1e-6),
     "2 designs on the front; without it the front would cover hardly less"),
    (Verdict(driver="a", code="front", designs=2, share=math.nan), "2 designs on the front"),
    (beaten("level_30_hz_db", 0.84),
     f"{CLOSEST}, it plays 0.8 dB quieter at 30 Hz than round 10, which is no worse in any goal"),
    (beaten("weight_kg", 1.2, only=False),
     f"{CLOSEST}, round 10 is no worse in any goal and weighs 2.6 lb less"),
    (beaten("weight_kg", 0.0, only=False, alike=True),
     f"{CLOSEST} is what round 10 reaches too, within what can be told apart"),
    (Verdict(driver="a", code="short", evaluations=49_152, short_of=(SHORT,)),
     "none of 49,152 boxes tried can be built: the nearest is short of depth behind the driver (1/2 in)"),
    (Verdict(driver="a", code="too large", large=TooLarge("section", 0.0254)),
     "no box can hold it: it is too large for the space seen from the side, by at least 1 in"),
    (Verdict(driver="a", code="unwired", unwired=(1,)),
     "no wiring of it gives a load that bridged two-channel may drive"),
    (Verdict(driver="a", code="front", designs=2, share=math.nan, unwired=(1, 3)),
     "2 designs on the front; 1 or 3 of it cannot be wired to a load that bridged two-channel may drive"),
    (Verdict(driver="a", code="untried"), "the search was stopped before it was tried"),
]  # fmt: skip


@pytest.mark.parametrize(("verdict", "said"), SAID)
def test_each_verdict_is_said_in_the_users_units(roadster: Scenario, verdict: Verdict, said: str) -> None:
    assert why(verdict, roadster, "us") == said


def test_every_verdict_has_its_words() -> None:
    assert {verdict.code for verdict, _ in SAID} == set(WORDS)


def test_those_that_add_most_come_first(roadster: Scenario) -> None:
    listed = [Verdict(driver=f"no. {number}", code="front", designs=1, share=share) for number, share in
              enumerate([0.01, 0.2, math.nan])]  # fmt: skip
    rows = table([Verdict(driver="out", code="untried"), *listed], roadster, "metric")
    assert rows["driver"].tolist() == ["no. 1", "no. 0", "no. 2", "out"]
