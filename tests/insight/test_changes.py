"""What of a job could give a little: only ever looser, every limit of a job among them, in the user's own steps."""

from __future__ import annotations

from dataclasses import replace

import pytest
import shapely

from engine.formats.scenario import demo_scenarios, read_scenario
from engine.goals import GOALS
from engine.insight.changes import LOOSER, LOOSER_DB, NEXT_AMPLIFIER, changes
from engine.parts import Door
from engine.scenario import Scenario
from engine.search.families import families_of


def job(name: str = "roadster") -> Scenario:
    return read_scenario(demo_scenarios()[name])


@pytest.mark.parametrize("name", list(demo_scenarios()))
def test_changes_only_ever_give_room(name: str) -> None:
    """Property: the changed cross-section holds the old one, moved by the step on one side only."""
    scenario = job(name)
    found = {each.what: each for each in changes(scenario)}
    before = shapely.Polygon(scenario.space.section)
    for what, way in (("depth", (1.0, 0.0)), ("height", (0.0, 1.0))):
        change = found[what]
        after = shapely.Polygon(change.scenario.space.section)
        assert after.is_valid
        moved = shapely.affinity.translate(before, *(change.amount * each for each in way))
        for inside in (before, moved):
            assert inside.difference(after).area == pytest.approx(0.0, abs=1e-12)
        across = before.bounds[3] - before.bounds[1] if what == "depth" else before.bounds[2] - before.bounds[0]
        assert after.area - before.area == pytest.approx(change.amount * across, rel=1e-6)
    assert found["width"].scenario.space.width == pytest.approx(scenario.space.width + found["width"].amount)


def test_a_job_in_inches_is_asked_for_half_an_inch_more() -> None:
    """User's promise: steps in the user's own units."""
    assert changes(job("roadster"))[0].amount == pytest.approx(0.0127)
    assert changes(job("van-bench"))[0].amount == pytest.approx(0.010)


@pytest.mark.parametrize("name", list(demo_scenarios()))
def test_a_changed_job_has_every_family_of_the_job(name: str) -> None:
    """Property: what could be built before still can; one more driver brings families that there were none of."""
    scenario = job(name)
    own = {item.key for item in families_of(scenario).items}
    for change in changes(scenario):
        families = {item.key for item in families_of(change.scenario).items}
        assert own <= families
        assert (own < families) == (change.what == "driver")
        assert change.words("metric") != change.words("us") or change.amount == 0.0


def test_every_limit_and_bound_of_a_job_is_among_them() -> None:
    """User's promise: whatever a job bounds or limits is asked for, by a step in the direction that loosens."""
    door = Door(width=0.9, height=0.7, turning_room=1.1)
    plain = job("van-bench")
    limits = {"weight_kg": 20.0, "level_30_hz_db": 90.0, "bevel_angles": 0.0}
    bounds = {"outer_width": (0.3, 0.9), "tuning": (30.0, 40.0), "vent_count": (1.0, 2.0)}
    scenario = replace(
        plain, space=replace(plain.space, door=door), bounds=bounds, goals=replace(plain.goals, limits=limits)
    )
    found = {(each.what, each.limit): each.scenario for each in changes(scenario)}
    for what in ("width", "height", "depth", "door", "turning", "vents", "pipe", "air", "amplifier"):
        assert (what, "") in found
    for key, limit in limits.items():
        looser = found["limit", key].goals.limits[key]
        assert looser == pytest.approx({"weight_kg": (1.0 + LOOSER) * limit, "level_30_hz_db": limit - LOOSER_DB,
                                        "bevel_angles": 1.0}[key])  # fmt: skip
        assert GOALS[key].turn * (looser - limit) > 0.0
    assert found["size", "outer_width"].bounds["outer_width"] == pytest.approx((0.29, 0.91))
    assert found["tuning", "tuning"].bounds["tuning"] == (29.0, 41.0)
    assert found["vents", ""].bounds["vent_count"] == (1.0, 3.0)
    larger, freer = found["door", ""].space.door, found["turning", ""].space.door
    assert larger is not None
    assert freer is not None
    assert (larger.width, larger.height, larger.turning_room) == pytest.approx((0.91, 0.71, 1.1))
    assert (freer.width, freer.height, freer.turning_room) == pytest.approx((0.9, 0.7, 1.11))


def test_the_next_larger_pipe_is_larger_by_the_shelf_s_own_step() -> None:
    """By hand: 46.4, 59 and 71.2 mm of bore, so the next is as much larger than 71.2 as that is than 59."""
    (change,) = (each for each in changes(job("van-bench")) if each.what == "pipe")
    *shelf, larger = change.scenario.stock.listed("pipe")
    assert shelf == list(job("van-bench").stock.listed("pipe"))
    assert larger.inner_diameter == pytest.approx(0.0712 * 71.2 / 59.0)
    assert larger.elbow_radius == pytest.approx(0.065 * 71.2 / 59.0)
    assert change.words("metric") == "The next larger pipe, 85.9 mm of bore"


def test_one_more_driver_is_not_asked_for_where_the_amplifier_may_not_drive_it() -> None:
    """Property: such a change would change nothing."""
    plain = job("van-bench")
    weak = replace(plain, amplifier=replace(plain.amplifier, lowest_load=4.0), candidates=tuple(
        replace(each, driver=replace(each.driver, coils=1, coil_impedance=4.0), driver_wirings=("parallel",))
        for each in plain.candidates
    ))  # fmt: skip
    assert "driver" not in {each.what for each in changes(weak)}
    assert "driver" in {each.what for each in changes(plain)}


def test_a_stronger_amplifier_is_wired_as_the_one_there_is() -> None:
    """Common practice: more power is turned down, not wired away from; it then buys no less than nothing."""
    van = job("van-bench")
    (stronger,) = (each.scenario for each in changes(van) if each.what == "amplifier")
    before, after = ([item.wiring for item in families_of(each).items] for each in (van, stronger))
    assert [each.words for each in after] == [each.words for each in before]
    for one, other in zip(before, after, strict=True):
        assert other.power == pytest.approx(NEXT_AMPLIFIER * one.power)
        assert other.voltage > one.voltage
