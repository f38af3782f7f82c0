"""What must be true of every design on a front of every demo job."""

from __future__ import annotations

import dataclasses
import math
from pathlib import Path

import numpy as np
import pandas as pd
import pytest
import shapely

from engine.acoustics.validity import PART_OF_WAVE
from engine.columns import COLUMNS, columns_at
from engine.document import read_document
from engine.evaluate import evaluate
from engine.formats.front import csv_text, read_front
from engine.formats.given import parse_given
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.given import judge_given, moved
from engine.goals import level_key
from engine.judged import JudgedDesign
from engine.scenario import FilterChoice, Scenario
from engine.search.evaluator import Evaluator
from engine.search.front import designs_of, undominated
from engine.search.problem import BoxProblem
from engine.search.runs import Run, run
from engine.space.arrangement import bodies_of
from engine.space.layout import Layout
from engine.space.wedge import Wedges
from tests.space.things import drivers, radiators, vents

SAMPLE = 40


def sample(front: pd.DataFrame) -> pd.DataFrame:
    """Rows spread over the front, its ends included."""
    return front.iloc[np.unique(np.linspace(0, len(front) - 1, SAMPLE).astype(int))]


def of_every_sort(front: pd.DataFrame) -> pd.DataFrame:
    """Of these rows some from end to end, and one of every kind of box, opening, facing, driver and filter order."""
    rows = sample(front)
    sorts = rows.drop_duplicates(["box_kind", "vent_kind", "facing", "driver", "filter_order"])
    return pd.concat([rows.iloc[::5], sorts]).drop_duplicates("id")


def judged(scenario: Scenario, rows: pd.DataFrame) -> list[JudgedDesign]:
    """Rows of a front judged in one batch."""
    return JudgedDesign.batch(Evaluator(scenario), rows.to_dict("records"))


def layout_of(scenario: Scenario, rows: pd.DataFrame) -> tuple[Wedges, Layout]:
    """The boxes of rows of a front, and what lies where inside them."""
    evaluator = Evaluator(scenario)
    designs = designs_of(evaluator, rows)
    wedges = evaluator.wedges(designs)
    return wedges, evaluator.layout(designs, wedges, evaluator.fit(designs, wedges))


def test_rows_of_a_front_become_variables_of_the_search_and_back(scenario: Scenario, searched: Run) -> None:
    """Property: a search that starts from a front starts from its very designs; in another job those that it knows."""
    problem = BoxProblem(scenario)
    designs = designs_of(problem.evaluator, searched.front)
    X = problem.encode(designs)
    fewer = BoxProblem(dataclasses.replace(scenario, filters=scenario.filters[-1:]))
    mine = np.array([fewer.evaluator.families.by_key.get(problem.evaluator.families.items[k].key, -1)
                     for k in designs.family])  # fmt: skip
    for again, those in ((problem.decode(X), designs), (fewer.decode(fewer.taken_over(X, problem)), None)):
        expected = designs.take(mine >= 0) if those is None else those
        for name in ("outer_width", "outer_height", "bottom_depth", "top_depth", "tuning", *expected.openings):
            np.testing.assert_allclose(again.value(name), expected.value(name), rtol=0.0, atol=1e-9)
        np.testing.assert_allclose(again.filter_hz, expected.filter_hz, rtol=0.0, atol=1e-9)
        assert again.family.tolist() == (expected.family.tolist() if those is designs else mine[mine >= 0].tolist())


def test_a_saved_design_is_the_same_box(scenario: Scenario, searched: Run, tmp_path: Path) -> None:
    """Conservation: written as a file, read back and worked out from its sizes and parts, a design is what it was.

    Every figure of its row, and every board, cut-out and vent in its place.
    """
    rows = of_every_sort(searched.front)
    assert set(rows["box_kind"]) == set(searched.front["box_kind"])
    for design in judged(scenario, rows):
        file = tmp_path / f"{design.row['id']}.toml"
        file.write_text(design.file, encoding="utf-8")
        given = parse_given(read_document(file), source=str(file), folder=tmp_path)
        again = judge_given(given, source="")
        assert len(given.built) > 6
        assert moved(given, again) == []
        for key, figure in design.row.items():
            if isinstance(figure, float) and key in COLUMNS:
                step = 1.5 * 10.0 ** -COLUMNS[key].stored
                assert again.row[key] == pytest.approx(figure, rel=1e-4, abs=step, nan_ok=True), (design.row["id"], key)
            elif key != "id":
                assert again.row[key] == figure, (design.row["id"], key)


def test_a_saved_design_evaluates_to_the_same_figures(scenario: Scenario, searched: Run) -> None:
    """Independent path: by its volume, its losses and the air in it, without the solids, figures agree to 0.1 %."""
    for design in judged(scenario, of_every_sort(searched.front)):
        row, stated = design.row, design.stated
        alone = evaluate(stated)
        for key in ("f3_hz", "f3_box_hz", "output_db", "power_share"):
            assert alone[key] == pytest.approx(row[key], rel=1e-3), (row["id"], key)
        levels = [row[level_key(hz)] for hz in scenario.goals.levels]
        np.testing.assert_allclose(np.asarray(alone["level_db"], float), levels, atol=0.02)
        # At that gain, as its row says, instead of the amplifier's full voltage.
        turned_down = evaluate(dataclasses.replace(stated, voltage=stated.voltage * math.sqrt(row["power_share"])))
        of_kind = {
            "closed": (),
            "vented": ("tuning_hz", "vent_length_m"),
            "radiator": ("tuning_hz", "radiator_added_mass_kg"),
        }
        for key in of_kind[row["box_kind"]]:
            assert alone[key] == pytest.approx(row[key], rel=1e-3), (row["id"], key)
        strained = {"closed": (), "vented": ("vent_speed_m_s", "vent_mach"), "radiator": ("radiator_ratio",)}
        for key in ("excursion_ratio", *strained[row["box_kind"]]):
            # Below what the design is fed there may be more: a stated design is told of from 10 Hz.
            assert float(str(turned_down[key])) >= row[key] * (1.0 - 1e-3), (row["id"], key)
        # Evaluated without its space, a vent counts as long as its tuning says: the air outside it adds to that.
        systems, beyond = design.judgement.acoustics.systems, design.judgement.acoustics.outside.opening[0]
        further = float(np.nan_to_num(beyond * (systems.vent_area * systems.vent_count)[0] / scenario.air.rho))
        wave = PART_OF_WAVE * scenario.air.c
        least = wave / (wave / row["model_to_hz"] + further)
        assert 0.95 * least < float(str(alone["model_to_hz"])) < 1.1 * row["model_to_hz"]
        if scenario.cabin is not None:
            assert alone["f3_cabin_hz"] == pytest.approx(row["f3_cabin_hz"], rel=1e-3, abs=0.006)  # kept to 0.01 Hz
            assert alone["output_cabin_db"] == pytest.approx(row["output_cabin_db"], rel=1e-3), row["id"]


def test_every_design_is_judged_feasible_again(scenario: Scenario, searched: Run) -> None:
    """Conservation: what the table says of a design leads back to one that breaks no constraint."""
    evaluator = Evaluator(scenario)
    judgement = evaluator.judge(designs_of(evaluator, searched.front))
    for name, violation in judgement.constraints.items():
        # The figures that limits are set on may move by what the fine grid sees better.
        slack = 2e-3 if name.startswith("limit ") else 0.0
        assert violation.max() <= slack, name


def test_every_design_is_inside_its_space(scenario: Scenario, searched: Run) -> None:
    """Independent implementation: shapely on the measured polygon and keep-outs, margin and carpet kept."""
    space = scenario.space
    kept_off = space.margin + scenario.box.carpet - 1e-6
    front = searched.front
    wedges, _ = layout_of(scenario, front)
    place = front[["box_forward_m", "box_up_m"]].to_numpy(float)
    boxes = shapely.polygons(wedges.outer_section + place[:, np.newaxis, :])
    outline = shapely.Polygon(space.section)
    assert shapely.covers(outline, boxes).all()
    assert shapely.distance(outline.exterior, boxes).min() >= kept_off
    left = front["box_across_m"].to_numpy(float)
    right = left + front["outer_width_m"].to_numpy(float)
    assert left.min() >= kept_off + space.clearance.left
    assert right.max() <= space.width - kept_off - space.clearance.right
    for keepout in space.keepouts:
        beside = (left >= keepout.across[1] + kept_off) | (right <= keepout.across[0] - kept_off)
        away = shapely.distance(shapely.Polygon(keepout.section), boxes) >= kept_off
        assert (beside | away).all(), keepout.name


def test_no_design_is_beaten(scenario: Scenario, searched: Run) -> None:
    """Independent implementation: dominance by comparison, pair by pair."""
    signs = [-1.0 if COLUMNS[key].better == "max" else 1.0 for key in scenario.goals.objectives]
    figures = searched.front[list(scenario.goals.objectives)].to_numpy(float) * signs
    for row in figures[:: max(1, len(figures) // 300)]:
        better = (figures <= row).all(axis=1) & (figures < row).any(axis=1)
        assert not better.any()


def test_dominance_can_fail() -> None:
    """A beaten row is seen as such, and the first of two equal rows stays."""
    frame = pd.DataFrame({"f3_hz": [30.0, 31.0, 30.0], "output_db": [110.0, 109.0, 110.0]})
    assert undominated(frame, ("f3_hz", "output_db")).tolist() == [True, False, False]


def test_no_objective_is_missing_and_what_does_not_apply_is_empty(scenario: Scenario, searched: Run) -> None:
    """User's promise: objectives are always figures; columns of parts that a box does not have are empty."""
    front = searched.front
    assert np.isfinite(front[list(scenario.goals.objectives)].to_numpy(float)).all()
    kind, vent = front["box_kind"], front["vent_kind"]
    for has, columns in (
        (kind != "closed", ["tuning_hz", "tuning_within_hz", "tuning_lumped_hz"]),
        (kind == "vented", ["vent_length_m", "vent_mach", "vent_resonance_hz"]),
        (vent == "pipe", ["vent_diameter_m", "vent_outer_diameter_m", "vent_flare_m"]),
        (vent == "slot", ["slot_width_m", "slot_height_m", "slot_turn_m"]),
        (kind == "radiator", ["radiator_added_mass_kg", "notch_hz"]),
        (front["filter_order"] > 0, ["filter_hz"]),
    ):
        assert front.loc[has, columns].notna().all(axis=None), columns
        assert front.loc[~has, columns].isna().all(axis=None), columns
    assert (front.loc[kind != "vented", "vent_count"] == 0).all()
    assert ((front["radiator"] != "") == (kind == "radiator")).all()


def test_no_design_passes_a_limit(scenario: Scenario, searched: Run) -> None:
    """User's promise: at its one gain a design holds Xmax, the vent's limit and the amplifier."""
    front = searched.front
    assert (front["excursion_ratio"] <= 1.0).all()
    assert (front["radiator_ratio"] <= 1.0).all()
    assert (front["vent_speed_m_s"] <= scenario.goals.vent_speed_limit + 1e-3).all()
    assert front["power_share"].between(0.0, 1.0).all()
    met = np.maximum(front["excursion_ratio"], front["radiator_ratio"])
    met = np.maximum(met, front["vent_speed_m_s"] / scenario.goals.vent_speed_limit)
    assert (met[~front["gain_limited_by"].isin(["thermal", "amplifier"])] > 0.999).all()
    assert (front.loc[front["power_share"] < 0.999, "gain_limited_by"] != "amplifier").all()


def test_sizes_and_slants_are_ones_a_builder_can_saw(scenario: Scenario, searched: Run) -> None:
    """User's promise: outer sizes in whole steps, the slant a step of the saw and within its tilt, no end too thin."""
    front, saw, board = searched.front, scenario.saw, scenario.stock.board_thickness
    for key in ("outer_width_m", "outer_height_m", "top_depth_m", "bottom_depth_m"):
        steps = front[key].to_numpy(float) / saw.size_step
        assert np.abs(steps - np.round(steps)).max() < 1e-4
    bevel = -front["baffle_angle_deg"].to_numpy(float)  # positive where it leans back
    assert np.abs(bevel).max() <= math.degrees(saw.most_bevel)
    back = math.tan(scenario.box.back_angle)
    tall, gained = front["outer_height_m"], front["top_depth_m"] - front["bottom_depth_m"]
    assert (np.abs(gained - tall * (np.tan(np.radians(bevel)) - back)) <= 0.5 * saw.size_step + 1e-6).all()
    secants = 1.0 / np.cos(np.radians(bevel)) + 1.0 / math.cos(scenario.box.back_angle)
    thin = np.minimum(front["top_depth_m"], front["bottom_depth_m"]) + board * np.abs(gained) / tall - board * secants
    assert thin.min() >= scenario.box.least_depth - 1e-4


def test_columns_are_those_of_the_registry_and_ids_are_unique(searched: Run) -> None:
    """Contract of front.csv: every registered column and the job's levels, in order, and one id a design."""
    assert list(searched.front.columns) == columns_at((30.0, 40.0, 50.0))
    assert set(COLUMNS) <= set(searched.front.columns)
    assert searched.front["id"].is_unique


def test_a_front_survives_its_file(searched: Run, tmp_path: Path) -> None:
    """Conservation: CSV and back is the same table."""
    file = tmp_path / "front.csv"
    file.write_text(csv_text(searched.front), encoding="utf-8")
    pd.testing.assert_frame_equal(read_front(file), searched.front, check_dtype=False)


def test_curves_agree_with_the_figures(scenario: Scenario, searched: Run) -> None:
    """Independent path: the worst of the plotted curve is the figure in the table, which is good to 0.5 %."""
    rows = sample(searched.front)
    frequency = np.geomspace(scenario.goals.fed_from, 200.0, 4000)
    curves = [design.curves_at(frequency) for design in judged(scenario, rows)]
    xmax = np.array([_xmax(scenario, name) for name in rows["driver"]])
    excursion = np.array([curve.excursion_peak_m.max() for curve in curves])
    assert excursion / xmax == pytest.approx(rows["excursion_ratio"].to_numpy(float), rel=5e-3)
    vented = (rows["box_kind"] == "vented").to_numpy()
    speed = np.array([curve.vent_speed_peak_m_s.max() for curve in curves])
    assert speed[vented] == pytest.approx(rows["vent_speed_m_s"].to_numpy(float)[vented], rel=5e-3)


def _xmax(scenario: Scenario, name: str) -> float:
    return next(each.driver.xmax for each in scenario.candidates if each.driver.name == name)


def test_a_driver_called_na_comes_back_from_the_file(searched: Run, tmp_path: Path) -> None:
    """User's promise: names are text, whatever they are; only figures may be empty."""
    front = searched.front.head(3).assign(driver="NA", short_of="")
    file = tmp_path / "front.csv"
    file.write_text(csv_text(front), encoding="utf-8")
    again = read_front(file)
    assert again["driver"].tolist() == ["NA"] * 3
    assert again["short_of"].tolist() == [""] * 3


def test_designs_of_a_front_are_short_of_nothing(searched: Run) -> None:
    """Contract: the reason why a design cannot be built is a column, and empty where it can."""
    assert (searched.front["short_of"] == "").all()
    assert searched.front["short_by_m"].isna().all()


def test_vents_in_the_baffle_have_a_bore_of_air_before_them(scenario: Scenario, searched: Run) -> None:
    """Independent implementation: shapely on the measured section, the mouth's strip moved out square to the baffle."""
    through = searched.front[searched.front["vent_placement"].str.startswith("through baffle")]
    outline = shapely.Polygon(scenario.space.section)
    for _, row in through.iloc[:: max(1, len(through) // 40)].iterrows():
        wedges, layout = layout_of(scenario, row.to_frame().T)
        place = row[["box_forward_m", "box_up_m"]].to_numpy(float)
        slope, secant = float(wedges.baffle_slope[0]), float(wedges.baffle_secant[0])
        outward = np.array([1.0, -slope]) / secant
        for vent in vents(bodies_of(layout, 0)):
            mouth, along = vent.mouth[1:] + place, np.array([slope, 1.0]) / secant
            bore = float(row["vent_diameter_m"])
            ends = [mouth - 0.5 * bore * along, mouth + 0.5 * bore * along]
            air = shapely.Polygon([*ends, *(end + bore * outward for end in reversed(ends))])
            assert air.difference(outline.buffer(1e-6)).area < 1e-9, row["id"]


def test_cones_in_the_baffle_have_their_air_before_them(scenario: Scenario, searched: Run) -> None:
    """Independent implementation: shapely on the measured section, what a cone needs moved out square to the baffle.

    Flange and surround, Xmax, and the breathing gap; and the air that the front tells of is no less.
    """
    every = [candidate.driver for candidate in scenario.candidates]
    every += [candidate.radiator for candidate in scenario.stock.listed("radiator")]
    need = {part.name: part.front_height + part.xmax + scenario.box.breathing_gap for part in every}
    outline = shapely.Polygon(scenario.space.section)
    front = searched.front
    for _, row in front.iloc[:: max(1, len(front) // 40)].iterrows():
        wedges, layout = layout_of(scenario, row.to_frame().T)
        place = row[["box_forward_m", "box_up_m"]].to_numpy(float)
        slope, secant = float(wedges.baffle_slope[0]), float(wedges.baffle_secant[0])
        along, outward = np.array([slope, 1.0]) / secant, np.array([1.0, -slope]) / secant
        bodies = bodies_of(layout, 0)
        cones = [(each, row["driver"]) for each in drivers(bodies)] + [
            (each, row["radiator"]) for each in radiators(bodies)
        ]
        for cone, name in cones:
            middle, half = cone.cutout.start[1:] + place, cone.cutout.radii[0]
            ends = [middle - half * along, middle + half * along]
            air = shapely.Polygon([*ends, *(end + need[name] * outward for end in reversed(ends))])
            assert air.difference(outline.buffer(1e-6)).area < 1e-9, row["id"]
        assert row["cone_air_m"] > min(need[name] for _, name in cones) - 1e-5


def test_a_box_that_faces_down_has_feet_for_its_driver_and_its_vents() -> None:
    """User's promise: under it is the driver's air, and vents through the bottom ask for no more than that."""
    scenario = read_scenario(demo_scenarios()["hatch-seat-back"])
    down = dataclasses.replace(scenario, box=dataclasses.replace(scenario.box, facings=("down",)))
    front = run(down, evaluations=24_576).front
    for _, row in front.iloc[:: max(1, len(front) // 60)].iterrows():
        sd = next(each.driver.sd for each in scenario.candidates if each.driver.name == row["driver"])
        air = 0.25 * np.sqrt(4.0 * sd / np.pi)
        wedges, _ = layout_of(down, row.to_frame().T)
        place = row[["box_forward_m", "box_up_m"]].to_numpy(float)
        bottom = wedges.outer_section[0][:2] + place
        floor = min(z for _, z in scenario.space.section)
        assert bottom[0, 1] >= floor + air - 1e-6
        if "bottom" in row["vent_placement"]:
            assert row["vent_diameter_m"] <= air + 1e-6


def test_a_recommended_high_pass_plays_louder_and_may_be_the_job_s_own(scenario: Scenario, searched: Run) -> None:
    """User's promise: it agrees with the gain that the front is judged at, and the job's own Q is among what is tried.

    Without a filter the levels are the front's own; with it none is lower and their mean is higher.
    """
    bare = searched.front.query("filter_order == 0")
    row = dict(bare.loc[bare["power_share"].idxmin()])
    advice = JudgedDesign.of(scenario, row).recommendation
    hertz, before, after = np.array(advice.levels).T
    np.testing.assert_allclose(before, [row[level_key(hz)] for hz in hertz], atol=0.02)
    assert (after >= before - 0.3).all()
    assert (after.mean() > before.mean() + 0.29) == bool(advice.shape)
    assert advice.turned_down_db == pytest.approx(-10.0 * math.log10(row["power_share"]), abs=0.02)
    assert advice.needed == (advice.turned_down_db > 0.005)
    own = FilterChoice(order=2, shape="own", q=3.0, frequency=(10.0, 100.0))
    tuned = JudgedDesign.of(dataclasses.replace(scenario, filters=(*scenario.filters, own)), row).recommendation
    assert np.array(tuned.levels)[:, 2].mean() >= after.mean() - 0.06
