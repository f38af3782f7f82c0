"""A search as its user meets it: the same again, stopped early, or with nothing to find."""

from __future__ import annotations

import dataclasses
import json
import math
from pathlib import Path

import numpy as np
import pytest

from engine.errors import SearchImpossible
from engine.formats.front import csv_text, write_run
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.goals import GOALS
from engine.report.shortages import left_out
from engine.scenario import Scenario
from engine.search import runs
from engine.search.front import table, worked_out
from engine.search.nearest import NothingFeasible
from engine.search.optimise import ALIKE, HELPED, NEW, SCATTERED, ArchiveSearch
from engine.search.problem import BoxProblem
from engine.search.runs import Progress, hypervolume, run


@pytest.fixture
def van() -> Scenario:
    return read_scenario(demo_scenarios()["van-bench"])


def test_same_seed_same_bytes(van: Scenario) -> None:
    """User's promise: same scenario, seed and version, same front byte for byte; another seed differs."""
    first, second = (run(van, seed=5, evaluations=12_288) for _ in range(2))
    assert csv_text(first.front) == csv_text(second.front)
    assert csv_text(run(van, seed=6, evaluations=12_288).front) != csv_text(first.front)


def test_a_longer_search_loses_nothing_and_beats_plain_random_designs(van: Scenario) -> None:
    """Property: with the same seed more evaluations dominate at least as much, and more than as many by chance."""
    short = run(van, seed=2, evaluations=20_480)
    found = run(van, seed=2, evaluations=40_960)
    assert hypervolume(found.front, van.goals.objectives) >= hypervolume(short.front, van.goals.objectives)
    problem = BoxProblem(van)
    rng = np.random.default_rng(1)
    scattered = ArchiveSearch(problem, seed=1)
    for _ in range(10):
        X = problem.xl + rng.random((4096, problem.n_var)) * (problem.xu - problem.xl)
        scattered.tell(X, *problem.evaluate(X, return_values_of=["F", "G"]))
    random_front = table(problem.evaluator, worked_out(problem.evaluator, problem.decode(scattered.archive.X))[0])
    assert hypervolume(found.front, van.goals.objectives) > 1.02 * hypervolume(random_front, van.goals.objectives)


def test_a_kind_that_is_hard_to_build_is_not_given_up() -> None:
    """User's promise: of 600 000 random vented boxes some 100 can be built in this space, and the first of those are
    beaten by closed ones; a search finds better ones all the same.
    """
    roadster = read_scenario(demo_scenarios()["roadster"])
    for seed in (1, 2):
        assert "vented" in set(run(roadster, seed=seed, evaluations=65_536).front["box_kind"])


def test_moves_start_from_the_least_infeasible_of_kinds_that_have_none_feasible(van: Scenario) -> None:
    """Contract: however well one box does, half of the moves from niches help those to something feasible that have
    nothing yet, which starts from their least infeasible; later a part of the moves, more of it than others get.
    """
    problem = BoxProblem(van)
    search = ArchiveSearch(problem, seed=1, opening=False)
    X = problem.xl + np.random.default_rng(3).random((2_000, problem.n_var)) * (problem.xu - problem.xl)
    family = X[:, problem.family_variable].astype(int)
    # Of the first box everything is feasible, and it reaches all there is; of the others nothing.
    box = problem.evaluator.families.box
    G = np.where((box[family] == 0)[:, np.newaxis], -1.0, np.random.default_rng(4).random((2_000, 1)))
    search.tell(X, np.tile(problem.spans[0], (2_000, 1)), G)
    new = [niche for niche in search._niches.values() if not niche.feasible]
    shares = []
    for tried in (1, NEW):
        for niche in new:
            niche.tried = tried
        asked = search._made(8_192)  # before those are left out that one box was moved to before
        moved = asked[: -int(SCATTERED * len(asked))]
        shares.append((box[moved[:, problem.family_variable].astype(int)] != 0).mean())
    assert HELPED < shares[0] < HELPED + ALIKE
    assert 0.8 * ALIKE < shares[1] < 2.0 * ALIKE


def test_everything_feasible_may_enter_the_front(van: Scenario) -> None:
    """Independent implementation: by brute force, nothing told lies more than a cell before what is kept."""
    problem = BoxProblem(van)
    search = ArchiveSearch(problem, seed=4)
    told = []
    for _ in range(4):
        X = search.ask()
        F, G = problem.evaluate(X, return_values_of=["F", "G"])
        search.tell(X, F, G)
        told.append(F[(G <= 0.0).all(axis=1)])
    everything = np.unique(np.vstack(told), axis=0)
    assert {tuple(row) for row in search.archive.F} <= {tuple(row) for row in everything}
    for row in everything:
        assert ((row + np.array(problem.steps) >= search.archive.F).all(axis=1)).any()


def test_a_front_told_while_a_search_runs_is_what_it_would_end_with(van: Scenario) -> None:
    """Promise: what is drawn as it grows is worked out exactly, and cancelling keeps just that."""
    seen: list[Progress] = []
    result = run(van, evaluations=1_000_000, progress=seen.append, cancelled=lambda: len(seen) >= 16)
    assert len(seen[0].front()) == 0
    last = seen[-1].front()
    assert len(last) == seen[-1].front_size > 0
    assert list(last.columns) == list(result.front.columns)
    # What still waits when it ends is worked out then, and takes nothing from a member but by being better.
    kept = result.front[list(van.goals.objectives)].to_numpy(float)
    turns = np.array([GOALS[key].turn for key in van.goals.objectives])
    for row in last[list(van.goals.objectives)].to_numpy(float):
        assert (turns * (kept - row) <= [GOALS[key].told_apart for key in van.goals.objectives]).all(axis=1).any()


def test_cancel_keeps_what_was_found(van: Scenario, tmp_path: Path) -> None:
    """User's promise: a cancelled search gives the front so far, says so, and its files are whole."""
    seen: list[Progress] = []
    result = run(van, evaluations=1_000_000, progress=seen.append, cancelled=lambda: len(seen) >= 4)
    assert result.record["stopped_by"] == "cancelled"
    assert result.record["evaluations"] == seen[-1].evaluations < 1_000_000
    assert len(result.front) > 0
    write_run(result, tmp_path)
    assert json.loads((tmp_path / "run.json").read_text())["designs"] == len(result.front)
    assert sorted(path.name for path in tmp_path.iterdir()) == ["front.csv", "left_out.csv", "run.json"]


@pytest.mark.parametrize("evaluations", [1, 511, 513, 600, 768, 1_025, 9_000])
def test_the_budget_is_kept_to_the_design(van: Scenario, evaluations: int) -> None:
    """Contract: the budget counts evaluations, however many are asked for."""
    told: list[int] = []
    try:
        run(van, evaluations=evaluations, progress=lambda each: told.append(each.evaluations))
    except NothingFeasible:  # of so few designs none may be
        assert evaluations < 1_000
    assert told[-1] == evaluations


@pytest.mark.parametrize("sizes", [(512, 544), (512, 4_096), (1, 3, 1_020), (512, 511, 4_000), (1_024,)])
def test_an_opening_goes_on_whatever_is_asked_for(van: Scenario, sizes: tuple[int, ...]) -> None:
    """Published property: whole powers of two of Sobol' points (1967) are drawn, one in each part of every variable."""
    problem = BoxProblem(van)
    search = ArchiveSearch(problem, seed=1)
    asked = [search._made(size) for size in sizes]
    assert [len(each) for each in asked] == list(sizes)
    drawn = search._sobol.num_generated
    assert drawn.bit_count() == 1
    assert drawn >= sum(sizes)
    X = (np.vstack(asked) - problem.xl) / (problem.xu - problem.xl)
    parts = np.floor(X[:, 0] * drawn).astype(int)
    assert len(np.unique(parts)) == len(X)


def test_progress_runs_to_the_end(van: Scenario) -> None:
    """User's promise: the bar moves forward and ends at the whole."""
    seen: list[Progress] = []
    run(van, evaluations=16_384, progress=seen.append)
    shares = [each.share for each in seen]
    assert shares == sorted(shares)
    assert shares[-1] == 1.0


def _with_driver(scenario: Scenario, **changes: float) -> Scenario:
    candidate = scenario.candidates[0]
    driver = dataclasses.replace(candidate.driver, **changes)
    return dataclasses.replace(scenario, candidates=(dataclasses.replace(candidate, driver=driver),))


def test_a_driver_that_cannot_fit_is_named(van: Scenario) -> None:
    """User's promise: a message that says what stands in the way, and nothing written."""
    with pytest.raises(NothingFeasible, match=r"none of the 8\s192 boxes.* depth behind the driver") as found:
        run(_with_driver(van, mounting_depth=0.3), evaluations=8_192)
    # Each kind of box that was asked for is accounted for, the same ones by what they are short of as by a design.
    groups = found.value.left_out
    assert {group["box_kind"] for group in groups} == set(van.box.kinds)
    assert {group["reason"] for group in groups} == {"short"}
    rows = found.value.misfits
    assert list(zip(rows["box_kind"], rows["driver_count"], strict=True)) == [
        (group["box_kind"], group["driver_count"]) for group in groups
    ]
    for short_of, group in zip(rows["short_of"], groups, strict=True):
        assert short_of in {short["constraint"] for short in group["short_of"]}


def test_a_load_no_wiring_reaches_is_named(van: Scenario) -> None:
    """User's promise: no wiring for the amplifier is a message, not an empty front."""
    with pytest.raises(SearchImpossible, match=r"lowest load 2 ohm"):
        run(_with_driver(van, coil_impedance=0.5), evaluations=8_192)


def test_bounds_outside_the_space_are_refused(van: Scenario) -> None:
    """User's promise: a bound that the space cannot hold is named with what the space leaves."""
    with pytest.raises(SearchImpossible, match=r"bounds\.outer_width"):
        run(dataclasses.replace(van, bounds={"outer_width": (2.0, 3.0)}), evaluations=8_192)


def test_bounds_and_limits_are_kept(van: Scenario) -> None:
    """Contract: bounds and limits of the scenario hold for every design."""
    goals = dataclasses.replace(van.goals, limits={"f3_hz": 45.0, "output_db": 104.0})
    tight = dataclasses.replace(van, goals=goals, bounds={"outer_width": (0.6, 0.9), "tuning": (28.0, 36.0)})
    front = run(tight, evaluations=40_000).front
    assert front["outer_width_m"].between(0.6, 0.9).all()
    assert front["f3_hz"].max() <= 45.0
    assert front["output_db"].min() >= 104.0
    tuning = front.loc[front["box_kind"] == "vented", "tuning_hz"]
    assert tuning.between(28.0, 36.0).all()


def test_bounds_that_are_no_whole_steps_are_kept(van: Scenario) -> None:
    """Contract: a bound is never passed by rounding; one that holds no whole millimetre is refused."""
    inch = 0.0254
    bounds = {"outer_width": (36.5 * inch, 40.05 * inch), "tuning": (30.05, 34.37)}
    front = run(dataclasses.replace(van, bounds=bounds), evaluations=30_000).front
    for key, (low, high) in zip(("outer_width_m", "tuning_hz"), bounds.values(), strict=True):
        assert front[key].dropna().between(low, high).all()
    with pytest.raises(SearchImpossible, match=r"bounds\.outer_height"):
        run(dataclasses.replace(van, bounds={"outer_height": (0.4003, 0.4008)}), evaluations=8_192)


@pytest.mark.parametrize(
    ("key", "limit", "said"),
    [
        ("f3_hz", 10.0, r"the limit on -3 dB frequency \(f3\), 10\.0 Hz \(it comes to"),
        ("output_db", 150.0, r"the limit on mean maximum output, 150\.0 dB \(it comes to"),
        ("excursion_ratio", 0.05, r"the limit on worst excursion / Xmax, 0\.05 \(it comes to"),
        ("weight_kg", 1.0, r"the limit on weight, 1.* kg \(it comes to"),
    ],
)
def test_a_limit_nothing_keeps_is_named_with_the_nearest(van: Scenario, key: str, limit: float, said: str) -> None:
    """User's promise: boxes fit, but none keeps the limit; which one, and how near it came."""
    goals = dataclasses.replace(van.goals, limits={key: limit})
    with pytest.raises(SearchImpossible, match=said):
        run(dataclasses.replace(van, goals=goals), evaluations=20_480)


def test_what_is_not_on_the_front_is_accounted_for(van: Scenario) -> None:
    """User's promise: a driver count that cannot be built is named with what it is short of."""
    crowd = dataclasses.replace(van.candidates[0], counts=(1, 8))
    amplifier = dataclasses.replace(van.amplifier, loads=((0.25, 300.0), (2.0, 300.0)), lowest_load=0.25)
    result = run(dataclasses.replace(van, candidates=(crowd,), amplifier=amplifier), evaluations=40_960)
    sentences = [left_out(entry, "metric") for entry in result.record["left_out"]]
    (told,) = [each for each in sentences if each.startswith("vented box with pipes, 8 ×")]
    assert "side by side" in told or "length of the drivers' panel" in told
    (inches,) = [
        said
        for entry in result.record["left_out"]
        if (said := left_out(entry, "us")).startswith("vented box with pipes, 8 ×")
    ]
    assert " in)" in inches
    assert " mm" not in inches
    nearest = result.left_out.set_index(["box_kind", "driver_count"])
    assert set(nearest.index) == {(kind, 8) for kind in van.box.kinds}
    assert (nearest["short_by_m"] > 0.0).all()
    assert (nearest["short_of"] != "").all()


def test_every_facing_asked_for_is_tried(van: Scenario) -> None:
    """User's promise: front, down and sideways each have designs on the front, or a reason why not."""
    everywhere = dataclasses.replace(van, box=dataclasses.replace(van.box, facings=("front", "down", "side")))
    result = run(everywhere, evaluations=40_960)
    built = set(result.front["facing"])
    sentences = [left_out(entry, "metric") for entry in result.record["left_out"]]
    assert "front" in built
    for facing, words in (("down", "facing down"), ("side", "facing sideways")):
        assert facing in built or sum(words in told for told in sentences) >= 3
    below = result.front.loc[result.front["facing"] == "down", "box_up_m"]
    cone = math.sqrt(4.0 * van.candidates[0].driver.sd / math.pi)
    assert len(below) == 0 or below.min() >= 0.25 * cone + van.space.margin - 1e-6


def test_a_small_or_cancelled_search_blames_nobody(van: Scenario) -> None:
    """User's promise: one design tried is no ground to ask for another driver."""
    with pytest.raises(SearchImpossible, match="So few tell little"):
        run(_with_driver(van, mounting_depth=0.3), evaluations=1)


def test_all_objectives_at_once_end_in_time() -> None:
    """User's promise: eleven goals cost no more than the search; hypervolume is then an estimate and says so."""
    hatch = read_scenario(demo_scenarios()["hatch-seat-back"])
    asked = dataclasses.replace(hatch, goals=dataclasses.replace(hatch.goals, objectives=tuple(GOALS)))
    record = run(asked, evaluations=30_000).record
    assert record["hypervolume_exact"] is False
    assert 0.0 < record["hypervolume"] < 1.0


def test_estimated_hypervolume_is_near_the_exact_one(van: Scenario, monkeypatch: pytest.MonkeyPatch) -> None:
    """Independent implementation: the estimate used for many goals against the exact figure for four, within 3 %."""
    front = run(van, evaluations=40_960).front
    exact = hypervolume(front, van.goals.objectives)
    monkeypatch.setattr(runs, "EXACT_OBJECTIVES", 3)
    assert hypervolume(front, van.goals.objectives) == pytest.approx(exact, rel=0.03)


def test_every_objective_can_be_asked_for(van: Scenario) -> None:
    """Contract: all optional objectives work together, and hypervolume stays a share."""
    objectives = ("f3_hz", "output_db", "outer_volume_m3", "outer_depth_m", "weight_kg")
    asked = dataclasses.replace(van, goals=dataclasses.replace(van.goals, objectives=objectives))
    result = run(asked, evaluations=20_000)
    volume = result.record["hypervolume"]
    assert isinstance(volume, float)
    assert 0.0 < volume < 1.0
    assert math.isfinite(result.front["weight_kg"].min())


def test_no_design_is_asked_for_twice(van: Scenario) -> None:
    """Promise: of the designs asked for while a search runs next to none was asked for or told before."""
    problem = BoxProblem(van)
    search = ArchiveSearch(problem, seed=4)
    asked = []
    while search.evaluations < 20_000:
        X = search.ask(1_024)
        asked.append(problem.told_apart(X))
        search.tell(X, *problem.evaluate(X, return_values_of=["F", "G"]))
    every = np.concatenate(asked)
    assert len(np.unique(every)) > 0.995 * len(every)


def test_a_niche_is_of_one_stretch_of_the_space(van: Scenario) -> None:
    """Contract: boxes beside the keep-out and boxes under it are looked for each by themselves."""
    problem = BoxProblem(van)
    assert len(problem.evaluator.envelope.stretches) == 2
    X = problem.xl + np.random.default_rng(3).random((4_000, problem.n_var)) * (problem.xu - problem.xl)
    designs = problem.decode(X)
    stretch = problem.evaluator.fit(designs, problem.evaluator.wedges(designs)).stretch
    numbers = problem.niches(X)
    assert set(np.unique(stretch)) == {0, 1}
    for number in np.unique(numbers):
        assert len(np.unique(stretch[numbers == number])) == 1
