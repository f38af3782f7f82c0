"""A box that is given by its sizes and parts: read, worked out as the search works out its designs, and told."""

from __future__ import annotations

import copy
import json
import math
import tomllib
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest

from engine.arrays import Floats
from engine.columns import COLUMNS
from engine.document import write_document
from engine.errors import InputFaults, SearchImpossible
from engine.formats.given import parse_given
from engine.formats.scenario import demo_scenarios, digest_of
from engine.given import _lumped_tuning, evaluate_given, judge_given, moved
from engine.judged import JudgedDesign
from engine.quantities import show_size
from engine.report.given import boxes_in_words, missed_in_words, sizes_in_words
from engine.report.wording import air_before
from engine.words.voice import Voice
from explorer.cli import main

Document = dict[str, Any]

WEDGE = {
    "inside_height": "18 1/2 in",
    "inside_width": "28 in",
    "inside_top_depth": "2 in",
    "inside_bottom_depth": "5 in",
}


def job(**given: Any) -> Document:
    """A job with no space, one flat driver, a pipe, a radiator, and the box that is given."""
    return {
        "driver": [
            {
                "name": "flat 6", "fs": "42 Hz", "qes": 0.5, "qms": 5, "vas": "9 L", "sd": "125 cm^2", "re": "3.4 ohm",
                "le": "0.8 mH", "xmax": "9 mm", "rated_power": "120 W", "coil_impedance": "4 ohm",
                "outer_diameter": "160 mm", "cutout_diameter": "142 mm", "magnet_diameter": "90 mm",
                "mounting_depth": "62 mm", "displacement": "0.4 L",
            }
        ],
        "radiator": [
            {
                "name": "flat tray", "fs": "30 Hz", "qms": 8, "vas": "12 L", "sd": "125 cm^2", "xmax": "12 mm",
                "outer_diameter": "160 mm", "cutout_diameter": "142 mm", "mounting_depth": "50 mm",
            }
        ],
        "amplifier": {"name": "mono", "lowest_load": "2 ohm", "load": [{"impedance": "4 ohm", "power": "100 W"}]},
        "stock": {
            "board_thickness": "3/4 in",
            "pipe": [{"name": "41 mm", "inner_diameter": "41 mm", "outer_diameter": "44 mm"}],
        },
        "given": {"kind": "closed", **WEDGE, **given},
    }  # fmt: skip


def judged(document: Document) -> JudgedDesign:
    return judge_given(parse_given(document, source="box.toml"), source="box.toml")


def faults_of(document: Document) -> dict[str, str]:
    with pytest.raises(InputFaults) as caught:
        parse_given(document, source="box.toml")
    return {fault.key: fault.wrong(Voice("us")) for fault in caught.value.faults}


@pytest.fixture(scope="module")
def wedge() -> JudgedDesign:
    return judged(job())


def test_the_wedge_of_the_trade_is_told_in_exact_inches(wedge: JudgedDesign) -> None:
    """Common practice, no source: 1.05 ft³ inside is 20 in high and 29.5 in wide outside in 3/4 in board."""
    outside, inside = sizes_in_words(wedge, "us")
    assert outside[:2] == ["29 1/2 in", "20 in"]
    assert inside == ["28 in", "18 1/2 in", "2 in", "5 in"]
    assert boxes_in_words(wedge, "us")[1].startswith("1.049 ft³ between the boards")


def test_the_slants_of_a_given_box_are_its_own(wedge: JudgedDesign) -> None:
    """Exact geometry: 3 in over 18.5 in is 9.2°, not the 9° of the saw's steps; an upright back is said to be one."""
    lean = math.degrees(math.atan(3.0 / 18.5))
    assert wedge.row["baffle_angle_deg"] == pytest.approx(lean, abs=0.01)
    said = "The back stands upright, the baffle leans back by 9.2°."
    assert said in boxes_in_words(wedge, "us")[0]
    assert said in wedge.drawing("section", "us")
    document = job(baffle_angle="-3 deg")
    document["box"] = {"back_angle": "-6 deg"}
    del document["given"]["inside_top_depth"]
    assert "The back leans back by 6.0°, the baffle leans forward by 3.0°." in boxes_in_words(judged(document), "us")[0]


def test_what_is_in_the_box_is_off_its_net_volume(wedge: JudgedDesign) -> None:
    """Conservation: gross less driver and brace, as its solids have them, is the volume that the circuit takes."""
    gross, net = float(wedge.row["gross_volume_m3"]), float(wedge.row["net_volume_m3"])
    assert wedge.row["brace_count"] >= 1
    assert net < gross - 0.4e-3
    assert net == pytest.approx(wedge.inspection.net_volume, rel=1e-3)
    assert evaluate_given(wedge, source="")["net_volume_m3"] == pytest.approx(net)


def test_the_air_of_the_thin_box_is_in_its_sound(wedge: JudgedDesign) -> None:
    """Independent path: what is evaluated is the design with the mass that the air of this box adds to the cone."""
    assert wedge.stated.air_mass == pytest.approx(float(wedge.systems.air_mass[0]))
    assert abs(wedge.stated.air_mass) > 1e-5


def test_outside_and_inside_state_the_same_box(wedge: JudgedDesign) -> None:
    """Conservation: the box read by its outer sizes and lean has the figures of the one read by its inner ones."""
    row = wedge.row
    stated = {"outer_width": "749.3 mm", "outer_height": "20 in", "baffle_angle": "9.211026540816668 deg"}
    document = job() | {"given": {"kind": "closed", **stated, "top_depth": f"{1e3 * float(row['top_depth_m']):.9g} mm"}}
    other = judged(document).row
    for key in ("bottom_depth_m", "gross_volume_m3", "net_volume_m3", "f3_hz", "output_db"):
        assert other[key] == pytest.approx(row[key], rel=1e-4), key


@pytest.mark.parametrize(
    ("changes", "built", "column"),
    [
        ({"kind": "vented", "pipe": "41 mm", "vent_count": 1}, "vent_length", "vent_length_m"),
        ({"kind": "vented", "slot_height": "15 mm"}, "vent_length", "vent_length_m"),
        ({"kind": "radiator", "radiator_count": 1}, "added_mass", "radiator_added_mass_kg"),
    ],
)
def test_what_is_built_for_a_tuning_gives_that_tuning(changes: Document, built: str, column: str) -> None:
    """Conservation: the length or mass worked out for a true tuning, stated, comes back to the tuning."""
    deeper = {"inside_top_depth": "4 in", "inside_bottom_depth": "7 in"}
    tuned = judged(job(**changes, **deeper, tuning="26 Hz"))
    assert float(tuned.systems.tuning[0]) == pytest.approx(26.0, rel=1e-6)
    size = f"{1e3 * float(tuned.row[column]):.6f} {'g' if built == 'added_mass' else 'mm'}"
    again = judged(job(**changes, **deeper, **{built: size}))
    assert float(again.systems.tuning[0]) == pytest.approx(26.0, rel=1e-4)


def test_a_given_box_is_the_search_s_own(wedge: JudgedDesign) -> None:
    """Independent path: judged as a row of a front is, it has the same figures, drawings and solids."""
    (again,) = JudgedDesign.batch(wedge.evaluator, [wedge.row])
    assert again.row["f3_hz"] == pytest.approx(float(again.judgement.figures.f3[0]), abs=0.01)
    assert again.inspection.ok == wedge.inspection.ok
    assert wedge.drawing("section", "us").startswith("<svg")


def test_a_space_that_is_stated_must_hold_the_box() -> None:
    """User's promise: in a job with a space it is said that the box does not go in, and by how much."""
    document = job()
    document["space"] = {
        "width": "28 in",
        "section": [["0 in", "0 in"], ["9 in", "0 in"], ["9 in", "30 in"], ["0 in", "30 in"]],
    }
    design = judged(document)
    (space,) = [each for each in design.shortfalls if each.constraint == "space"]
    assert space.by == pytest.approx(1.5 * 0.0254, rel=1e-6)
    assert any("1 1/2 in" in line for line in missed_in_words(design, "us"))


def test_only_what_the_box_is_made_of_is_asked_of_the_job() -> None:
    """User's promise: a closed box needs no pipe, one part of a sort needs no name, and a search minds no given box."""
    document = job(kind="vented", tuning="35 Hz")
    assert parse_given(document, source="").opening.name == "pipe"
    bare = copy.deepcopy(document)
    del bare["given"]
    assert digest_of(document) == digest_of(bare)
    document = job()
    del document["stock"]["pipe"], document["radiator"]
    assert parse_given(document, source="").scenario.stock.openings == {}


@pytest.mark.parametrize(
    ("changes", "key", "words"),
    [
        ({"outer_width": "29.5 in"}, "inside_width", "either outer_width or inside_width, not both"),
        ({"inside_height": None}, "outer_height", "expected outer_height or inside_height"),
        ({"inside_top_depth": None}, "top_depth", "top_depth, inside_top_depth or baffle_angle"),
        ({"baffle_angle": "9 deg"}, "baffle_angle", "inside_top_depth and inside_bottom_depth already give it"),
        ({"inside_volume": "1 ft^3"}, "inside_volume", "one of the sizes left out"),
        ({"inside_volume": "1 ft^3", "inside_width": None, "inside_bottom_depth": "0.5 in",
          "inside_top_depth": "0.5 in", "inside_height": "0.5 in"}, "inside_volume", "no size that is left out gives"),
        ({"driver": "round 8"}, "driver", "expected one of flat 6"),
        ({"kind": "vented", "pipe": "3 in", "tuning": "30 Hz"}, "pipe", "expected one of 41 mm"),
        ({"kind": "vented", "pipe": "41 mm", "slot_height": "20 mm", "tuning": "30 Hz"}, "slot_height", "not both"),
        ({"kind": "vented"}, "tuning", "expected tuning or vent_length"),
        ({"tuning": "30 Hz"}, "tuning", "a closed box has none"),
        ({"added_mass": "30 g"}, "added_mass", "a closed box has none"),
        ({"kind": "vented", "tuning": "30 Hz", "filling": "full"}, "filling", "a vented box has none"),
        ({"inside_bottom_depth": "-1 in"}, "inside_bottom_depth", "expected"),
        ({"load": "3 ohm"}, "load", "expected 4 ohm, to which its drivers can be wired"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_given_box_is_said_at_its_key(changes: Document, key: str, words: str) -> None:
    """User's promise: one message with the key and what was expected."""
    document = job(**changes)
    document["given"] = {name: value for name, value in document["given"].items() if value is not None}
    assert words in faults_of(document)[f"given.{key}"]


def test_faults_of_the_box_and_of_its_parts_are_told_at_once() -> None:
    """User's promise: all that is wrong with a file is in one message."""
    document = job(kind="vented", outer_width="29.5 in")
    del document["driver"][0]["xmax"], document["stock"]["board_thickness"]
    assert {"driver[0].xmax", "stock.board_thickness", "given.inside_width", "given.tuning"} <= set(faults_of(document))


def test_a_box_that_cannot_be_is_refused_with_the_reason() -> None:
    """User's promise: walls that meet, a tuning out of reach, an amplifier that may not drive the drivers."""
    depths = {"outer_width": "20 in", "outer_height": "20 in", "top_depth": "2 in", "bottom_depth": "1 in"}
    assert "leave no inside" in faults_of(job() | {"given": {"kind": "closed", **depths}})["given"]
    with pytest.raises(InputFaults, match=r"given\.tuning = 150 Hz: the box cannot be brought to it"):
        judged(job(kind="vented", tuning="150 Hz"))
    document = job()
    document["amplifier"] |= {"lowest_load": "8 ohm", "load": [{"impedance": "8 ohm", "power": "60 W"}]}
    with pytest.raises(SearchImpossible, match="lowest load"):
        judged(document)


def test_the_command_line_takes_a_given_box(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """User's promise: `evaluate` prints sizes in exact inches and what they hold, and as JSON everything in SI."""
    file = tmp_path / "box.toml"
    file.write_text(write_document(job()), encoding="utf-8")
    assert main(["evaluate", str(file), "--units", "us"]) == 0
    told = capsys.readouterr().out
    for words in ("29 1/2 in", "18 1/2 in", "1.049 ft³ between the boards", "It can be built so", "f3"):
        assert words in told
    assert main(["evaluate", str(file), "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    assert found["outer_height_m"] == pytest.approx(0.508)
    assert found["inside_top_depth_m"] == pytest.approx(0.0508)
    assert found["short_of"] == []
    assert found["goes_together"]


def test_what_a_file_has_built_otherwise_is_told() -> None:
    """User's promise: a board moved or a vent cut otherwise than is worked out here does not pass unseen."""
    deeper = {"inside_top_depth": "4 in", "inside_bottom_depth": "7 in"}
    saved = tomllib.loads(judged(job(kind="vented", tuning="28 Hz", **deeper)).file)
    given = parse_given(saved, source="")
    assert moved(given, judge_given(given, source="")) == []
    (brace,) = [piece for piece in saved["built"] if piece["name"] == "brace 1"]
    brace["across"] = ["10 in", "10 3/4 in"]
    saved["given"]["vent_length"] = "4 in"
    given = parse_given(saved, source="")
    assert moved(given, judge_given(given, source="")) == ["vent length", "brace 1"]
    del saved["built"][0]["section"]
    assert "section or centres" in faults_of(saved)["built[0]"]


def test_a_saved_design_is_written_in_exact_inches() -> None:
    """User's promise: whoever works in inches reads fractions, and the file gives the same box back."""
    saved = judged(job()).file
    assert 'outer_width = "29 1/2 in"' in saved
    assert 'outer_height = "20 in"' in saved
    again = judged(tomllib.loads(saved)).file
    assert again == saved


def test_a_demo_job_takes_a_given_box_with_all_it_states() -> None:
    """User's promise: any job evaluates one box when one is put into it, its space, cabin and filters included."""
    document = tomllib.loads(demo_scenarios()["van-bench"].read_text(encoding="utf-8"))
    document["given"] = {
        "kind": "vented", "driver": document["driver"][0]["name"], "pipe": document["stock"]["pipe"][0]["name"],
        "outer_width": "900 mm", "outer_height": "300 mm", "top_depth": "280 mm", "bottom_depth": "330 mm",
        "tuning": "33 Hz", "filter": {"kind": "highpass", "order": 2, "frequency": "24 Hz"},
    }  # fmt: skip
    design = judged(document)
    assert design.row["filter_hz"] == 24.0
    assert float(design.systems.tuning[0]) == pytest.approx(33.0, rel=1e-6)
    assert design.scenario.space.keepouts


@pytest.mark.parametrize(
    ("value", "metric", "us"),
    [(0.7493, "749.3 mm", "29 1/2 in"), (0.0015875, "1.59 mm", "1/16 in"), (-0.0254, "-25.4 mm", "-1 in"),
     (0.0, "0 mm", "0 in"), (0.1, "100 mm", "3.937 in"), (float("nan"), "–", "–")],
)  # fmt: skip
def test_sizes_are_shown_to_the_last_digit(value: float, metric: str, us: str) -> None:
    """User's promise: a fraction of an inch reads as one, and nothing is rounded to one."""
    assert (show_size(value, "metric"), show_size(value, "us")) == (metric, us)


def test_a_given_box_may_have_a_double_baffle(wedge: JudgedDesign) -> None:
    """Exact geometry and promise to the user: the same inside, so much deeper outside; told, saved and read back."""
    document = job(baffle="double")
    document["stock"]["baffle_layer"] = "1/2 in"
    double = judged(document)
    assert sizes_in_words(double, "us")[1] == sizes_in_words(wedge, "us")[1]
    deeper = double.row["top_depth_m"] - wedge.row["top_depth_m"]
    lean = math.atan((double.row["bottom_depth_m"] - double.row["top_depth_m"]) / double.row["outer_height_m"])
    assert deeper == pytest.approx(0.0127 / math.cos(lean), abs=2e-5)
    assert double.row["gross_volume_m3"] == pytest.approx(wedge.row["gross_volume_m3"], abs=1e-6)
    assert double.inspection.ok == wedge.inspection.ok
    assert "double baffle, 1/2 in outside on 3/4 in" in boxes_in_words(double, "us")[0]
    assert evaluate_given(double, source="")["baffle_thickness_m"] == pytest.approx(1.25 * 0.0254)
    (again,) = [judge_given(parse_given(tomllib.loads(double.file), source="saved"), source="saved")]
    for key in ("baffle", "outer_height_m", "net_volume_m3", "f3_hz"):
        assert again.row[key] == double.row[key], key
    assert "given.baffle" in faults_of(job(baffle="double", facing="side"))


def test_a_size_that_cannot_be_read_is_not_missing_besides() -> None:
    """User's promise: one thing that is wrong is said once."""
    with pytest.raises(InputFaults) as caught:
        parse_given(job(**{**WEDGE, "inside_height": "18"}), source="a box")
    assert [fault.key for fault in caught.value.faults] == ["given.inside_height"]


def test_what_is_cut_finds_a_tuning_that_two_jumps_hide(monkeypatch: pytest.MonkeyPatch) -> None:
    """Analytic: another form of brace between 36.9 and 37.21 Hz lifts the tuning, and what is cut there is that box."""

    def reached(evaluator: Any, tunings: Floats, column: str) -> Floats:
        other = (tunings > 36.9) & (tunings < 37.21)
        return 0.85 * tunings + 0.9 * other if column == "tuning_hz" else 19.7 / tunings + 0.001 * other

    monkeypatch.setattr("engine.given._reached", reached)
    monkeypatch.setattr("engine.given._at", lambda design, tunings: tunings)
    given = parse_given(job(kind="vented", tuning="32 Hz", pipe="41 mm"), source="box.toml")
    there = 37.2
    aim, cut = (("tuning_hz", 0.85 * there + 0.9), ("vent_length_m", 19.7 / there + 0.001))
    nothing: Any = None
    found = _lumped_tuning(nothing, nothing, replace(given, aim=aim, cut=cut), source="box.toml")
    assert found == pytest.approx([there], rel=1e-8)
    higher = _lumped_tuning(nothing, nothing, replace(given, aim=aim, cut=None), source="box.toml")
    assert higher == pytest.approx([there + 0.9 / 0.85], rel=1e-8)
    past = replace(given, aim=("tuning_hz", 0.85 * 36.9 + 0.2), cut=None)
    with pytest.raises(InputFaults, match=r"given\.tuning = 31\.565 Hz: .* only to 31\.3\d Hz and to 32\.2\d Hz"):
        _lumped_tuning(nothing, nothing, past, source="x")


def test_the_command_line_tells_the_figures_of_the_page() -> None:
    """Promise to the user: evaluated, a box at its gain between walls has the figures that its row shows."""
    deeper = {"inside_top_depth": "4 in", "inside_bottom_depth": "7 in"}
    document = job(kind="vented", tuning="30 Hz", **deeper)
    section = [["0 in", "0 in"], ["9 in", "0 in"], ["9 in", "21 in"], ["0 in", "21 in"]]
    document["space"] = {"width": "34 in", "section": section}
    design = judged(document)
    found = evaluate_given(design, source="")
    same = ("tuning_hz", "tuning_within_hz", "vent_length_m", "f3_hz", "excursion_ratio", "vent_speed_m_s", "vent_mach")
    for key in (*same, "coil_rise_k", "output_db", "power_share", "model_to_hz", "gain_limited_hz"):
        assert found[key] == pytest.approx(design.row[key], abs=0.51 * 10.0 ** -COLUMNS[key].stored, rel=1e-6), key
    assert found["at_gain"]
    assert 0.0 < float(design.row["excursion_ratio"]) <= 1.0 + 1e-4
    assert "walls before the opening" in str(design.row["beyond_model"])
    assert any("between the box and what surrounds it" in str(line) for line in found["beyond_model"] or ())


def test_a_box_without_a_space_stands_in_the_open(wedge: JudgedDesign) -> None:
    """Promise to the user: of walls that nobody stated nothing is told, and nothing is heard."""
    open_air = judged(job(kind="vented", tuning="30 Hz", inside_bottom_depth="7 in"))
    outside = open_air.judgement.acoustics.outside
    assert (float(outside.opening[0]), float(outside.mutual[0])) == pytest.approx((0.0, 0.0), abs=1e-9)
    assert air_before(wedge.row, "us") == ""


@pytest.mark.parametrize("table", ["a box", [{"kind": "closed"}]])
def test_of_what_is_no_table_nothing_more_is_asked(table: Any) -> None:
    """User's promise: one thing that is wrong is said once."""
    with pytest.raises(InputFaults) as caught:
        parse_given(job() | {"given": table}, source="a box")
    assert [fault.key for fault in caught.value.faults] == ["given"]
