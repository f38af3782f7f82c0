"""A front carried over to another job: what stays as it is, what follows the change, and what a search makes of it."""

from __future__ import annotations

import dataclasses
from functools import partial

import numpy as np
import pandas as pd
import pytest
from numpy.typing import NDArray

from engine.formats.front import csv_text
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.goals import GOALS
from engine.scenario import Scenario
from engine.search.carried import FIRST, Start, carried_over, followed
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of, turned, undominated, worked_out
from engine.search.problem import BoxProblem
from engine.search.runs import Progress, Run, hypervolume, run

FEW = 4_096


@pytest.fixture(scope="module")
def van() -> Scenario:
    return read_scenario(demo_scenarios()["van-bench"])


@pytest.fixture(scope="module")
def found(van: Scenario) -> pd.DataFrame:
    return run(van, seed=3, evaluations=24_576).front


def told_first(front: pd.DataFrame, before: Scenario, after: Scenario) -> pd.DataFrame:
    """The front of what is right of another job's front, before anything else is tried."""
    seen: list[Progress] = []
    start = partial(carried_over, front, before)
    run(
        after, evaluations=FEW, start=start, progress=seen.append, cancelled=lambda: bool(seen and seen[-1].evaluations)
    )
    return [each for each in seen if not each.evaluations][-1].front()


def wider(scenario: Scenario, by: float) -> Scenario:
    return dataclasses.replace(scenario, space=dataclasses.replace(scenario.space, width=scenario.space.width + by))


def as_good(front: pd.DataFrame, before: pd.DataFrame, objectives: tuple[str, ...], *, cells: int = 1) -> bool:
    """Whether each design before has one that is as good in every goal, within so many cells of what a builder can
    tell apart.
    """
    F, apart = turned(front, objectives), [cells * GOALS[key].told_apart for key in objectives]
    return all((row + apart >= F).all(axis=1).any() for row in turned(before, objectives))


def test_the_same_job_has_the_same_front(scenario: Scenario, searched: Run) -> None:
    """Promise: carried over to the job that it was found for, a front is what it was, to the last digit."""
    assert csv_text(told_first(searched.front, scenario, scenario)) == csv_text(searched.front)


def test_what_is_told_first_is_what_each_design_comes_to_in_the_other_job(van: Scenario, found: pd.DataFrame) -> None:
    """Independent implementation: each row judged by itself in the job with less power and a looser air limit."""
    loads = tuple((load, 0.8 * power) for load, power in van.amplifier.loads)
    goals = dataclasses.replace(van.goals, vent_speed_limit=1.1 * van.goals.vent_speed_limit)
    after = dataclasses.replace(van, amplifier=dataclasses.replace(van.amplifier, loads=loads), goals=goals)
    evaluator = Evaluator(after)
    each = [worked_out(evaluator, designs_of(evaluator, found.iloc[[row]]))[0] for row in range(len(found))]
    by_hand = pd.concat(each)
    best = by_hand[undominated(by_hand, after.goals.objectives)]
    shown = told_first(found, van, after)
    figures = list(after.goals.objectives)
    told = {tuple(row) for row in shown[figures].to_numpy(float).tolist()}
    assert told <= {tuple(row) for row in best[figures].to_numpy(float).tolist()}
    assert as_good(shown, best, after.goals.objectives)


@pytest.mark.parametrize("by", [0.01, 0.05])
def test_more_room_makes_nothing_worse(van: Scenario, found: pd.DataFrame, by: float) -> None:
    """Property: what could be built before still can, at once and after more has been tried."""
    more = wider(van, by)
    # The air round a box changes with the room, so figures move between cells; and one design of a cell gives way to
    # another of it, that to one of a cell that holds a better one, and so on.
    assert as_good(told_first(found, van, more), found, van.goals.objectives, cells=3)
    longer = run(more, evaluations=FEW, start=partial(carried_over, found, van)).front
    assert as_good(longer, found, van.goals.objectives, cells=3)


def test_copies_grow_with_the_space(van: Scenario, found: pd.DataFrame) -> None:
    """Property: where the space is wider by 20 mm there is a copy of every box that is, all else as it was."""
    problem = BoxProblem(wider(van, 0.020))
    start = carried_over(found, van, problem)
    own, copies = problem.decode(start.own), problem.decode(start.copies)
    assert len(copies) == len(own) == len(found)
    np.testing.assert_allclose(copies.outer_width, own.outer_width + 0.020, atol=1e-9)
    for name in ("outer_height", "bottom_depth", "top_depth", "tuning", "filter_hz"):
        np.testing.assert_array_equal(copies.value(name), own.value(name))


@pytest.mark.parametrize("up", [0.0, 0.030])
def test_depths_and_heights_follow_a_section_that_has_moved(van: Scenario, found: pd.DataFrame, up: float) -> None:
    """Property: as above of a section that is deeper, or higher as well."""
    (low_y, high_y), (_, high_z) = (np.sort(np.array(van.space.section)[:, k])[[0, -1]] for k in (0, 1))

    def stretched(y: float, z: float) -> tuple[float, float]:
        return y + 0.020 * (y - low_y) / (high_y - low_y), z + up * z / high_z

    section = tuple(stretched(*corner) for corner in van.space.section)
    problem = BoxProblem(dataclasses.replace(van, space=dataclasses.replace(van.space, section=section)))
    start = carried_over(found, van, problem)
    assert len(start.copies) == len(found) * (4 if up else 3)
    first = problem.decode(start.copies[: len(found)])
    name = "outer_height" if up else "bottom_depth"
    grown = first.value(name) - problem.decode(start.own).value(name)
    np.testing.assert_allclose(grown[grown != 0.0], up or 0.020, atol=1.1 * van.saw.size_step)
    assert (grown > 0.0).mean() > 0.9


def test_in_less_room_copies_fit_that_designs_do_not(van: Scenario, found: pd.DataFrame) -> None:
    """Promise: what no longer fits is no fault: it is left out, and smaller copies are tried in its place."""
    less = wider(van, float(found["outer_width_m"].median()) - van.space.width)
    problem = BoxProblem(less)
    start = carried_over(found, van, problem)
    fits = problem.evaluator.judge(problem.decode(start.copies)).constraints["space"] <= 0.0
    assert len(start.copies)
    assert fits.mean() > 0.3
    front = run(less, evaluations=FEW, start=lambda _: start).front
    assert front["outer_width_m"].max() <= less.space.width


def test_designs_with_a_driver_that_is_gone_are_left_out(scenario: Scenario, searched: Run) -> None:
    """Independent implementation: what is told first are the front's rows with the drivers that stay."""
    stays = scenario.candidates[0]
    fewer = dataclasses.replace(scenario, candidates=(stays,))
    kept = searched.front[searched.front["driver"] == stays.driver.name].drop(columns="id")
    problem = BoxProblem(fewer)
    start = carried_over(searched.front, scenario, problem)
    assert sorted(searched.front.index[start.rows]) == sorted(kept.index)
    figures = list(scenario.goals.objectives)
    told = told_first(searched.front, scenario, fewer)[figures].to_numpy(float)
    assert np.unique(told, axis=0).tolist() == np.unique(kept[figures].to_numpy(float), axis=0).tolist()


def test_a_driver_that_is_new_is_put_into_boxes_of_the_front(van: Scenario, found: pd.DataFrame) -> None:
    """Promise: a driver that was not there before is tried where others are good."""
    known = van.candidates[0]
    new = dataclasses.replace(known, driver=dataclasses.replace(known.driver, name="another", fs=known.driver.fs + 1.0))
    more = dataclasses.replace(van, candidates=(*van.candidates, new))
    problem = BoxProblem(more)
    start = carried_over(found, van, problem)
    families = problem.evaluator.families
    drivers = np.array([item.wiring.driver.name for item in families.items])
    assert set(drivers[problem.decode(start.copies).family]) == {"another"}
    fit = problem.evaluator.judge(problem.decode(start.copies)).feasible
    assert fit.mean() > 0.2
    assert "another" in set(run(more, evaluations=FEW, start=lambda _: start).front["driver"])


def test_wiring_and_pipes_that_are_gone_become_the_nearest(van: Scenario, found: pd.DataFrame) -> None:
    """Property: with one pipe taken off the shelf and one load that the amplifier no longer drives, all designs of
    drivers, counts and kinds that are still there are carried over, with the pipe that comes nearest.
    """
    pipes = van.stock.listed("pipe")
    used = found["vent_diameter_m"].dropna().mode()[0]
    left = tuple(pipe for pipe in pipes if abs(pipe.inner_diameter - used) > 1e-6)
    assert 0 < len(left) < len(pipes)
    stock = dataclasses.replace(van.stock, openings={**van.stock.openings, "pipe": left})
    after = dataclasses.replace(van, stock=stock, filters=van.filters[-1:])
    problem = BoxProblem(after)
    start = carried_over(found, van, problem)
    designs = problem.decode(start.own)
    rows = found.iloc[start.rows]
    assert len(rows) == len(found)
    bores = np.array([pipe.inner_diameter for pipe in left])
    piped = (rows["vent_kind"] == "pipe").to_numpy()
    wanted = rows["vent_diameter_m"].to_numpy(float)[piped]
    nearest = np.abs(bores - wanted[:, np.newaxis]).min(axis=1)
    np.testing.assert_allclose(np.abs(bores[designs.openings["pipe"][piped]] - wanted), nearest, atol=0.004)
    orders = {item.filter.order for item in (problem.evaluator.families.items[k] for k in designs.family)}
    assert orders == {after.filters[0].order}


def test_some_that_stand_for_all_come_first(scenario: Scenario, searched: Run) -> None:
    """Contract: each design once; those told first hold the best in every goal."""
    start = carried_over(searched.front, scenario, BoxProblem(scenario))
    assert sorted(start.rows) == list(range(len(searched.front)))
    F = turned(searched.front, scenario.goals.objectives)
    np.testing.assert_array_equal(F[start.rows[: 2 * FIRST]].min(axis=0), F.min(axis=0))


def test_a_start_is_part_of_what_makes_a_front_the_same_again(van: Scenario, found: pd.DataFrame) -> None:
    """User's promise: same scenario, seed and start, same front byte for byte; and it beats one from nothing."""
    start = partial(carried_over, found, van)
    first, second = (run(van, seed=5, evaluations=FEW, start=start).front for _ in range(2))
    assert csv_text(first) == csv_text(second)
    fresh = run(van, seed=5, evaluations=FEW).front
    assert hypervolume(first, van.goals.objectives) > hypervolume(fresh, van.goals.objectives)


def test_a_cancel_at_once_tells_that_nothing_was_tried(van: Scenario, found: pd.DataFrame) -> None:
    """Promise: cancelled while it begins, a search keeps what it has judged so far."""
    seen: list[Progress] = []
    start = partial(carried_over, found, van)
    result = run(van, start=start, progress=seen.append, cancelled=lambda: bool(seen))
    assert result.record["stopped_by"] == "cancelled"
    assert result.record["evaluations"] == 0
    assert 0 < len(result.front) <= FIRST + len(van.goals.objectives)


def test_the_front_is_told_before_copies_are_made(van: Scenario, found: pd.DataFrame) -> None:
    """Promise: what a front comes to in another job waits for nothing that follows from the change."""
    order: list[str] = []

    def start(problem: BoxProblem) -> Start:
        begun = carried_over(found, van, problem)

        def copied() -> NDArray[np.float64]:
            order.append("copies")
            return begun.copies

        return dataclasses.replace(begun, copied=copied)

    def told(progress: Progress) -> None:
        order.append("tried" if progress.evaluations else "told")

    run(wider(van, 0.01), start=start, progress=told, cancelled=lambda: "tried" in order)
    assert order == [*["told"] * (len(order) - 2), "copies", "tried"]
    assert order[0] == "told"


def test_nowhere_is_no_start(van: Scenario) -> None:
    """Contract: without a start nothing differs."""
    assert csv_text(run(van, evaluations=FEW, start=Start.nowhere).front) == csv_text(run(van, evaluations=FEW).front)


def test_a_design_is_followed_into_another_job(van: Scenario, found: pd.DataFrame) -> None:
    """Promise: in the same job it is itself; in less room it is told what it is short of; of what is gone, nothing."""
    pick = found.iloc[[len(found) // 2]]
    same = followed(pick, BoxProblem(van), found)
    assert same is not None
    assert (same.row["id"], same.same, same.built) == (pick["id"].iloc[0], True, True)
    beaten = found.drop(pick.index)
    near = followed(pick, BoxProblem(van), beaten)
    assert near is not None
    assert (near.same, near.built) == (False, True)
    assert near.row["box_kind"] == pick["box_kind"].iloc[0]
    less = wider(van, float(pick["outer_width_m"].iloc[0]) - van.space.width)
    short = followed(pick, BoxProblem(less), found)
    assert short is not None
    assert not short.built
    assert short.row["short_of"]
    driver = dataclasses.replace(van.candidates[0].driver, name="another")
    other = dataclasses.replace(van, candidates=(dataclasses.replace(van.candidates[0], driver=driver),))
    assert followed(pick, BoxProblem(other), found) is None
