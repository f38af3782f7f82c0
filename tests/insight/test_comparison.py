"""One group against another: brute force on small invented fronts, sentences, what is refused."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pandas as pd
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from engine.errors import InputFaults
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.goals import GOALS
from engine.insight.comparison import TRAITS, beaten, groups_in, groups_of, in_words, leads, two_of
from engine.search.runs import run

GOAL, ROOM, COST = "level_40_hz_db", "outer_volume_m3", "cost"
OBJECTIVES = (GOAL, ROOM, COST)


def front(*rows: tuple[float, float, float], driver: str = "fir 8", count: int = 2) -> pd.DataFrame:
    """Rows of level at 40 Hz (dB), outer volume (L) and cost."""
    frame = pd.DataFrame(rows, columns=list(OBJECTIVES), dtype=float)
    frame[ROOM] /= 1e3
    return frame.assign(
        box_kind="vented", vent_kind="pipe", driver=driver, driver_count=count, wiring="", facing="front"
    )


SMALL = front((100.0, 40.0, 200.0), (104.0, 56.0, 220.0), (104.5, 80.0, 240.0))
LARGE = front((98.0, 45.0, 120.0), (101.9, 60.0, 135.0), (106.5, 85.0, 150.0), driver="elm 12", count=1)
NAMES = ("2 × fir 8", "1 × elm 12")

rows = st.lists(
    st.tuples(st.integers(90, 110), st.integers(20, 60), st.integers(100, 120)), min_size=1, max_size=12, unique=True
)


@given(rows, rows)
@example([(91, 20, 100)], [(90, 25, 100), (91, 26, 100)])  # ahead along a step that is none in floats
def test_leads_are_those_of_brute_force(ours: list[tuple[int, int, int]], theirs: list[tuple[int, int, int]]) -> None:
    """Independent implementation: at every whole litre the best of either by a plain loop."""
    a, b = front(*ours), front(*theirs)
    found = leads(a, b, ROOM, GOAL, OBJECTIVES)
    for litres in range(max(min(row[1] for row in each) for each in (ours, theirs)), 70):
        best = [max(row[0] for row in each if row[1] <= litres) for each in (ours, theirs)]
        here = [lead for lead in found if lead.start <= litres / 1e3 < lead.end - 1e-12]
        assert len(here) <= 1
        if best[0] != best[1]:
            assert [lead.second for lead in here] == [best[1] > best[0]]
    for lead in found:
        best = [max(row[0] for row in each if row[1] / 1e3 <= lead.stated) for each in (ours, theirs)]
        assert [lead.ours[GOAL], lead.theirs[GOAL]] == (best[::-1] if lead.second else best)
        assert max(lead.ours[ROOM], lead.theirs[ROOM]) <= lead.stated


@given(rows, rows)
def test_beaten_is_that_of_brute_force(ours: list[tuple[int, int, int]], theirs: list[tuple[int, int, int]]) -> None:
    """Independent implementation: pair by pair in plain Python."""
    lost = [any(b[0] >= a[0] and b[1] <= a[1] and b[2] <= a[2] and b != a for b in theirs) for a in ours]
    assert beaten(front(*ours), front(*theirs), OBJECTIVES) == pytest.approx(np.mean(lost))


def test_groups_swapped_swap_their_leads() -> None:
    """Property: nothing depends on which group is named first."""
    one, other = (leads(*pair, ROOM, GOAL, OBJECTIVES) for pair in ((SMALL, LARGE), (LARGE, SMALL)))
    assert [(lead.start, lead.end, lead.second) for lead in one] == [
        (lead.start, lead.end, not lead.second) for lead in other
    ]


def test_a_customer_reads_who_wins_where_and_what_it_costs() -> None:
    """User's promise: the room, the difference, what else differs between the two boxes, and how far it holds."""
    told = in_words(SMALL, LARGE, NAMES, OBJECTIVES, units="metric", currency="EUR")
    room = told["At equal outer volume"]
    assert room[0] == (
        "2 × fir 8 plays 2.1 dB louder at 40 Hz than 1 × elm 12 where the outer volume may be 60.0 L; "
        "it then has a smaller box (by 4.0 L) and costs 85 EUR more. It is ahead from 45.0 L to 85.0 L."
    )
    assert room[1].startswith("1 × elm 12 plays 2.0 dB louder at 40 Hz than 2 × fir 8")
    assert room[1].endswith("It is ahead from 85.0 L up.")
    assert "Outer volume: only 2 × fir 8 goes below 45.0 L, down to 40.0 L." in told["All in all"]
    level = told["At equal level at 40 Hz"]
    assert any("costs" in line and "where the level at 40 Hz has to be" in line for line in level)


def test_the_same_is_said_in_us_customary() -> None:
    """User's promise: each in their own units, the same figures."""
    under = in_words(SMALL, LARGE, NAMES, OBJECTIVES, units="us", currency="USD").values()
    told = " ".join(line for lines in under for line in lines)
    assert "where the outer volume may be 2.12 ft³" in told
    assert " L " not in told


def test_one_that_is_beaten_everywhere_is_told_so() -> None:
    """User's promise: a group with nothing to offer is not dressed up."""
    worse = LARGE.assign(**{GOAL: LARGE[GOAL] - 1.0, COST: LARGE[COST] + 5.0})
    told = in_words(LARGE, worse, ("a closed box", "a vented box"), OBJECTIVES, units="metric")["All in all"]
    assert "A vented box: 3 designs, all of them beaten in every goal by a closed box." in told
    assert "A closed box: 3 designs, none of them beaten in every goal by a vented box." in told


def test_every_trait_tells_its_groups_apart() -> None:
    """Completeness: each row is in one group of each trait."""
    both = pd.concat([SMALL, LARGE], ignore_index=True)
    for by in TRAITS:
        groups = groups_of(both, by)
        assert sum(len(group.of(both)) for group in groups) == len(both)
    assert [group.asked_as for group in groups_of(both, "drivers")] == ["1 x elm 12", "2 x fir 8"]


@pytest.mark.parametrize(
    ("a", "b", "by", "code"),
    [
        ("3 x oak 8", None, "drivers", "no_group"),
        ("2 x fir 8", "2 × FIR 8", "drivers", "group_twice"),
        (None, None, "vents", "one_group"),
    ],
)
def test_groups_that_are_none_are_refused(a: str | None, b: str | None, by: str, code: str) -> None:
    """User's promise: one message that says which groups there are."""
    with pytest.raises(InputFaults) as caught:
        two_of(groups_of(pd.concat([SMALL, LARGE]), by), a, b)
    assert [fault.code for fault in caught.value.faults] == [code]


def test_of_many_groups_two_have_to_be_named() -> None:
    three = [
        *groups_of(SMALL, "drivers"),
        *groups_of(LARGE, "drivers"),
        *groups_of(SMALL.assign(driver_count=4), "drivers"),
    ]
    with pytest.raises(InputFaults, match="name two"):
        two_of(three, "2 x fir 8", None)
    assert [group.asked_as for group in two_of(three, "4 × fir 8", "1 x elm 12")] == ["4 x fir 8", "1 x elm 12"]


def test_a_group_searched_by_itself_has_a_whole_front_of_its_own() -> None:
    """User's promise: what the other group beats is there, too, so that the comparison is fair."""
    scenario = replace(read_scenario(demo_scenarios()["hatch-seat-back"]), evaluations=8_192)
    group = next(each for each in groups_in(scenario, "drivers") if each.asked_as == "2 x compact 8")
    found = run(group.only(scenario)).front
    assert len(group.of(found)) == len(found) > 20
    assert beaten(found, run(scenario).front, scenario.goals.objectives) > 0.0
    assert all(GOALS[key].key in found for key in scenario.goals.objectives)
