"""How sure a design is: against boxes rebuilt one by one, in the limit of no deviations, and as it is asked for."""

from __future__ import annotations

import math
from concurrent.futures import ThreadPoolExecutor
from dataclasses import replace
from typing import Any

import numpy as np
import pandas as pd
import pytest
from scipy.optimize import brentq

from engine.acoustics.figures import FIGURES_GRID, Figures, figures
from engine.air import REFERENCE_AIR, air_at
from engine.constraints import CONSTRAINTS
from engine.errors import InputFaults
from engine.formats.scenario import demo_scenarios, parse_scenario, read_document, read_scenario
from engine.goals import GOALS
from engine.insight.tolerance import (
    BESIDE,
    MOST,
    PART,
    TEMPERATURES,
    Spread,
    robust,
    sampled,
    spread,
    spread_in_parts,
    swings,
)
from engine.parts import Driver
from engine.scenario import Scenario
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of, undominated
from engine.search.runs import run
from engine.space.layout import ARRANGED
from engine.tolerances import DRAWS, TOLERANCES, exact

LEVEL, VOLUME = "level_40_hz_db", "outer_volume_m3"
FOUND: dict[str, tuple[Evaluator, pd.DataFrame]] = {}


def found(*kinds: str) -> tuple[Evaluator, pd.DataFrame]:
    """A demo's evaluator and a quick front of it, of all kinds of box or of some."""
    name = " ".join(kinds)
    if name not in FOUND:
        document = read_document(demo_scenarios()["van-bench"])
        if kinds:
            document["box"]["kinds"] = list(kinds)
        scenario = parse_scenario(document, source="job.toml")
        FOUND[name] = Evaluator(scenario), run(scenario, evaluations=8_192).front
    return FOUND[name]


def one(front: pd.DataFrame, **wanted: str | int) -> pd.DataFrame:
    """The middle one of some designs of a front."""
    for column, value in wanted.items():
        front = front[front[column] == value]
    return front.iloc[[len(front) // 2]]


def test_without_deviations_all_boxes_are_the_nominal_one() -> None:
    """Analytic limit: figures of the front to rounding, and every limit that the drawing keeps is kept."""
    evaluator, front = found()
    for exactly in (False, True):
        built = spread(evaluator, front.head(12), samples=4, tolerance=exact(), exact=exactly)
        for key, values in built.figures.items():
            np.testing.assert_allclose(values, np.repeat(built.nominal[key][:, np.newaxis], 4, axis=1), atol=1e-9)
        assert built.fits.all()
        assert all((chance.share == 1.0).all() for chance in built.chances)
        np.testing.assert_allclose(built.lower_db(), 0.0, atol=1e-3)


def off(driver: Driver, share: dict[str, float]) -> Driver:
    """A driver whose compliance, mass, friction, force factor, coil and cone differ, by its data sheet (Small 1972)."""
    bent = math.sqrt(share["mms"] / share["cms"])
    return replace(
        driver,
        fs=driver.fs / math.sqrt(share["cms"] * share["mms"]),
        vas=driver.vas * share["cms"] * share["sd"] ** 2,
        qms=driver.qms * bent / share["rms"],
        qes=driver.qes * bent * share["re"] / share["bl"] ** 2,
        re=driver.re * share["re"],
        sd=driver.sd * share["sd"],
        le=driver.le * share["le"],
        l2=driver.l2 * share["le"],
        r2=driver.r2 * share["le"],
    )


def rebuilt(evaluator: Evaluator, row: pd.DataFrame, deviation: dict[str, float]) -> Figures:
    """A box built anew of a driver by another data sheet, in other board and air, its vents cut as drawn."""
    scenario, drawn = evaluator.scenario, designs_of(evaluator, row)
    share = {name: math.exp(deviation[name]) for name in ("cms", "mms", "rms", "bl", "re", "sd", "le")}
    candidates = tuple(replace(each, driver=off(each.driver, share)) for each in scenario.candidates)
    pipes = tuple(
        replace(each, inner_diameter=each.inner_diameter + deviation["vent_bore"])
        for each in scenario.stock.listed("pipe")
    )
    stock = replace(
        scenario.stock,
        board_thickness=scenario.stock.board_thickness + deviation["board"],
        brace_span=evaluator.rules.brace_span,
        openings={**scenario.stock.openings, "pipe": pipes},
    )
    assert scenario.air == REFERENCE_AIR
    air = air_at(temperature_k=293.15 + deviation["temperature"])
    world = Evaluator(replace(scenario, candidates=candidates, stock=stock, air=air))
    lean = 0.5 * math.tan(deviation["angle"]) * float(drawn.outer_height[0])
    sizes = {name: deviation[name] for name in ("outer_width", "outer_height", "bottom_depth", "top_depth")}
    sizes["top_depth"] += lean
    sizes["bottom_depth"] -= lean
    made = drawn.changed(sizes)

    def length(tuning: float) -> float:
        at = replace(made, tuning=np.array([tuning]))
        wedges = world.wedges(at)
        return float(world.layout(at, wedges, world.fit(at, wedges)).vent_length[0])

    if np.isfinite(drawn.tuning[0]):
        cut = float(row["vent_length_m"].iloc[0]) + deviation["vent_length"]
        near = float(drawn.tuning[0])
        tuning = brentq(lambda hz: length(hz) - cut, 0.97 * near, 1.03 * near)
        made = replace(made, tuning=np.array([tuning]))
    systems = world.judge(made, frequency=FIGURES_GRID, exact=True, hear_all=True).acoustics.systems
    xmax = systems.xmax * math.exp(deviation["xmax"])
    gain = np.sqrt(row["power_share"].to_numpy(float))
    return figures(
        replace(systems, xmax=xmax), music_band=scenario.goals.music_band, gain=gain, use=evaluator.use,
        vent_speed_limit=scenario.goals.vent_speed_limit, frequency=FIGURES_GRID, exact=True, cabin=scenario.cabin,
    )  # fmt: skip


@pytest.mark.parametrize(
    ("box_kind", "wanted", "within"),
    [
        ("closed", {}, 0.02),
        ("vented", {"vent_kind": "pipe", "vent_count": 1}, 0.02),
        ("vented", {"vent_kind": "pipe", "vent_count": 4}, 0.03),
    ],
)
def test_samples_agree_with_boxes_rebuilt_one_by_one(box_kind: str, wanted: dict[str, Any], within: float) -> None:
    """Independent implementation: by the data sheet, with the tuning looked for that makes of the box what was cut.

    Bores count to first order, which of several small vents leaves more out than of a large one, and gaps that are used
    up leave things elsewhere by a millimetre.
    """
    evaluator, front = found(box_kind)
    row = one(front, box_kind=box_kind, **wanted)
    built = spread(evaluator, row, samples=8, exact=True)
    usual = {draw: each.deviation for each in TOLERANCES.records for draw in each.draws}
    base = rebuilt(evaluator, row, dict.fromkeys(DRAWS, 0.0))
    for number, z in enumerate(sampled(8)):
        other = rebuilt(evaluator, row, {draw: usual[draw] * each for draw, each in zip(DRAWS, z, strict=True)})
        for place, hz in enumerate(evaluator.levels):
            moved = built.figures[f"level_{hz:.0f}_hz_db"][0, number] - built.nominal[f"level_{hz:.0f}_hz_db"][0]
            assert moved == pytest.approx(other.levels[0, place] - base.levels[0, place], abs=0.05)
        for key, figure in (("f3_hz", "f3"), ("excursion_ratio", "excursion_ratio"), ("vent_speed_m_s", "vent_speed")):
            moved = built.figures[key][0, number] - built.nominal[key][0]
            said = getattr(other, figure)[0] - getattr(base, figure)[0]
            assert moved == pytest.approx(said, rel=0.06, abs=within), key


def test_a_stiffer_force_factor_moves_the_level_as_its_derivative_says() -> None:
    """Analytic limit: one tolerance alone, small, against a finite difference of the rebuilt box."""
    evaluator, front = found()
    row, small = one(front, box_kind="closed"), 1e-3
    nothing = dict.fromkeys(DRAWS, 0.0)
    more, less = (rebuilt(evaluator, row, nothing | {"bl": sign * small}) for sign in (1.0, -1.0))
    told = swings(evaluator, row, tolerance=exact(bl=small))
    at = evaluator.levels.index(40.0)
    assert told[LEVEL]["bl"][0] == pytest.approx(0.5 * abs(more.levels[0, at] - less.levels[0, at]), rel=0.02)
    assert told[LEVEL]["cms"][0] == 0.0
    whole = spread(evaluator, row, samples=64, exact=True, tolerance=exact(bl=small)).figures[LEVEL][0]
    assert np.std(whole) == pytest.approx(told[LEVEL]["bl"][0], rel=0.05)


def test_a_radiator_keeps_its_mass() -> None:
    """Conservation: a box that is larger tunes lower by the spring of its air, and a stiffer radiator higher."""
    evaluator, front = found("radiator")
    row = one(front)
    told = swings(evaluator, row, tolerance=exact(cms=0.1))
    assert 0.0 < told[LEVEL]["cms"][0] < 3.0
    loose = spread(evaluator, row, samples=16, exact=True)
    assert np.isfinite(loose.figures["radiator_ratio"]).any()
    assert np.nanstd(loose.figures["radiator_ratio"]) > 0.0


def test_samples_are_spread_evenly_and_always_the_same() -> None:
    """Analytic limit: mean and variance of each draw; promise to the user: same seed, same figures."""
    z = sampled(256)
    np.testing.assert_allclose(z.mean(axis=0), 0.0, atol=0.05)
    np.testing.assert_allclose(z.var(axis=0), 1.0, atol=0.12)
    assert len(np.unique(z[:, DRAWS.index("temperature")])) == TEMPERATURES
    correlated = np.corrcoef(z.T) - np.eye(len(DRAWS))
    assert np.abs(correlated).max() < 0.45
    evaluator, front = found()
    first, same, other = (spread(evaluator, front.head(5), samples=8, seed=seed) for seed in (1, 1, 2))
    np.testing.assert_array_equal(first.figures[LEVEL], same.figures[LEVEL])
    assert (first.figures[LEVEL] != other.figures[LEVEL]).any()


def test_bands_and_chances_are_counts_of_the_boxes() -> None:
    """Conservation: what is reached and kept, counted; a box that does not go in reaches nothing."""
    evaluator, front = found()
    built = spread(evaluator, front.head(40), samples=32)
    reached = built.reached(LEVEL)
    with np.errstate(invalid="ignore"):
        share = np.mean(built.figures[LEVEL] >= reached[:, np.newaxis], axis=1)
    assert np.all(share[np.isfinite(reached)] >= MOST - 1.0 / 32)
    (cone,) = [each for each in built.chances if each.key == "excursion_ratio"]
    np.testing.assert_allclose(cone.share, np.mean(built.figures["excursion_ratio"] <= 1.0001, axis=1))
    lowered = 10.0 ** (-built.lower_db()[:, np.newaxis] / 20.0)
    held = (
        (built.figures["excursion_ratio"] * lowered <= 1.0001)
        & (built.figures["radiator_ratio"] * lowered <= 1.0001)
        & (built.figures["vent_speed_m_s"] * lowered <= evaluator.scenario.goals.vent_speed_limit + 1e-3)
    )
    assert np.all((held.mean(axis=1) >= MOST) | (built.fit < MOST))


def test_a_space_that_is_just_as_wide_lets_half_of_the_boxes_in() -> None:
    """Analytic limit: without a margin a width held at the space's own goes in when it was cut short."""
    evaluator, front = found()
    row = one(front, box_kind="closed")
    width = float(row["outer_width_m"].iloc[0])
    scenario = evaluator.with_room.scenario
    scenario = replace(scenario, stock=replace(scenario.stock, terminal_cup=None))
    tight = Evaluator(replace(scenario, space=replace(scenario.space, width=width)))
    built = spread(tight, row, samples=64, tolerance=exact(size=0.5e-3))
    assert built.fit[0] == pytest.approx(0.5, abs=0.1)
    assert np.isnan(built.reached(LEVEL)[0])


def test_boxes_are_built_as_drawn_even_where_other_ways_would_now_do_better() -> None:
    """Promise to the user: a millimetre more of board does not turn a vent round, and 3 dB do not come of it."""
    evaluator, front = found()
    designs = designs_of(evaluator, front)
    wedges = evaluator.wedges(designs)
    drawn = evaluator.layout(designs, wedges, evaluator.fit(designs, wedges))
    scenario = evaluator.scenario
    thicker = replace(scenario.stock, board_thickness=scenario.stock.board_thickness + 0.2e-3)
    other = Evaluator(replace(scenario, stock=thicker))
    free, kept = other.built(designs, hear_all=True), other.built(designs, hear_all=True, drawn=drawn)
    told = [np.array([getattr(each.layout, name) for name in ARRANGED], float) for each in (free, kept)]
    as_drawn = np.array([getattr(drawn, name) for name in ARRANGED], float)
    moved = np.any(told[0] != as_drawn, axis=0)
    assert moved.any()
    np.testing.assert_array_equal(told[1], as_drawn)
    given_up = (drawn.net_volume - kept.layout.net_volume)[moved]
    np.testing.assert_allclose(given_up, (wedges.gross_volume - kept.wedges.gross_volume)[moved])
    np.testing.assert_array_equal(kept.layout.net_volume[~moved], free.layout.net_volume[~moved])
    assert kept.constraints.keys() == free.constraints.keys()
    np.testing.assert_array_equal(kept.constraints["space"], free.constraints["space"])


def test_whoever_works_out_a_front_it_comes_to_the_same() -> None:
    """Promise to the user: in parts, here or by others."""
    evaluator, front = found()
    many = front.iloc[np.resize(np.arange(len(front)), PART + 1)]
    whole = spread(evaluator, many, samples=2)
    with ThreadPoolExecutor(1) as helpers:
        by_others = list(spread_in_parts(evaluator, many, samples=2, helpers=helpers))
        first = next(spread_in_parts(evaluator, many, samples=2, helpers=helpers))
    here = list(spread_in_parts(evaluator, many, samples=2))
    assert [len(part.fits) for part in here] == [257, 256]
    np.testing.assert_array_equal(first.fits, here[0].fits)
    for parts in (by_others, here):
        together = Spread.together(parts)
        np.testing.assert_array_equal(together.fits, whole.fits)
        for key, values in whole.figures.items():
            np.testing.assert_allclose(together.figures[key], values, rtol=1e-6)
            np.testing.assert_array_equal(together.figures[key], Spread.together(here).figures[key])


def test_a_robust_front_is_one() -> None:
    """Conservation: every design is on it, does not go in, passes a limit of the job or is beaten as built."""
    evaluator, front = found()
    goals = replace(evaluator.scenario.goals, limits={"excursion_ratio": 1.0})
    built = replace(spread(evaluator, front, samples=16), marks={"excursion_ratio": 1.0})
    safe = robust(front, built, goals)
    assert 0 < len(safe.front) < len(front)
    assert list(safe.front.columns) == list(front.columns)
    assert safe.front["id"].tolist() == front["id"].iloc[safe.rows].tolist()
    assert undominated(safe.front, goals.objectives).all()
    passing = safe.passing["excursion_ratio"]
    assert passing.any()
    assert not (passing & safe.misfits).any()
    assert len(safe.rows) + safe.beaten + passing.sum() + safe.misfits.sum() == len(front)
    every = front.assign(**{key: built.reached(key) for key in built.figures})
    held = every[~passing & ~safe.misfits]
    assert safe.beaten == len(held) - undominated(held, goals.objectives).sum()
    for key in built.figures:
        np.testing.assert_array_equal(safe.front[key], built.reached(key)[safe.rows])


def test_what_more_boxes_reach_is_never_better() -> None:
    """Analytic limit: shares are ranks; and a box's outer volume grows with each size, so as built it is larger."""
    evaluator, front = found()
    built = spread(evaluator, front, samples=64)
    for key in built.figures:
        band = GOALS[key].turn * built.band(key)[np.isfinite(built.reached(key))]
        assert np.all(np.diff(band, axis=1) <= 0.0), key
    sized = Evaluator(replace(evaluator.scenario, goals=replace(evaluator.scenario.goals, objectives=(LEVEL, VOLUME))))
    larger = spread(sized, front, samples=64, tolerance=exact(size=0.5e-3)).reached(VOLUME) - front[VOLUME]
    assert np.all(larger[np.isfinite(larger)] > 0.0)


def test_without_deviations_the_robust_front_is_the_front() -> None:
    """Analytic limit: nothing is lost and nothing moves."""
    evaluator, front = found()
    safe = robust(front, spread(evaluator, front, samples=4, tolerance=exact()), evaluator.scenario.goals)
    assert len(safe.front) == len(front)
    assert safe.beaten == 0
    objectives = list(evaluator.scenario.goals.objectives)
    np.testing.assert_allclose(safe.front[objectives], front[objectives], atol=1e-9)


def test_what_beside_says_nothing_of_fit_are_constraints() -> None:
    """Completeness: names that are left out are names of constraints."""
    assert set(BESIDE) <= set(CONSTRAINTS)


def stated(**table: Any) -> Scenario:
    document = read_document(demo_scenarios()["van-bench"])
    return parse_scenario(document | {"tolerance": table}, source="job.toml")


def test_a_job_states_tolerances_of_its_own() -> None:
    """Promise to the user: in any unit, the usual ones for the rest."""
    known = stated(cms=0.2, size="1/32 in", temperature="18 degF").tolerance
    assert (known["cms"], known["size"], known["temperature"]) == pytest.approx((0.2, 0.0254 / 32, 10.0))
    assert known["mms"] == TOLERANCES["mms"].deviation
    assert read_scenario(demo_scenarios()["van-bench"]).tolerance == {
        each.key: each.deviation for each in TOLERANCES.records
    }


def test_tolerances_that_make_no_sense_are_refused_all_at_once() -> None:
    """Refused input: too large, without a unit, unknown."""
    with pytest.raises(InputFaults) as refused:
        stated(cms=3.0, size=0.5, bore="1 mm")
    told = str(refused.value)
    assert all(key in told for key in ("tolerance.cms", "tolerance.size", "tolerance.bore"))
