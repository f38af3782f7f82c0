"""The order at the saw, done by a saw that knows nothing but its settings: what comes out are the boards."""

from __future__ import annotations

import math
import re
from collections import Counter
from typing import Any

import numpy as np
import pytest

from engine.build import box_of
from engine.formats.fields import FIELDS
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.judged import JudgedDesign
from engine.parts import CUTTING, CUTTING_US, Cutting
from engine.quantities import Units, parse
from engine.search.evaluator import Evaluator
from engine.workshop.board import Board
from engine.workshop.joints import JOINTS
from engine.workshop.sawing.levels import NODES
from engine.workshop.sawing.order import SawOrder, saw_order
from engine.workshop.sawing.sheets import Sheets, sheets_for
from engine.workshop.sawing.words import steps, summary
from explorer.demo_fronts import stored_front
from tests.workshop.built_boxes import built_box
from tests.workshop.carcass import board, carcass, plate
from tests.workshop.sawn import OVER, ROUND, apart, corners, lies, sawn

EXACT = 1e-6  # m
AS_SET = 1e-4  # m; bevels are whole steps of the saw, faces of the box are not

LEANING = carcass(0.62, 0.5, 0.42, 0.22, lean=math.radians(18.0))
JOBS = {
    "upright back": carcass(0.9, 0.42, 0.3, 0.18),
    "leaning back": LEANING,
    "leaning both ways": carcass(0.5, 0.35, 0.25, 0.3, lean=math.radians(-10.0)),
    "square": carcass(0.8, 0.35, 0.3, 0.3),
    "with small parts": [
        *carcass(0.7, 0.36, 0.34, 0.2), *(plate(f"block {k}", 0.08, 0.06) for k in (1, 2, 3, 4)),
        plate("strip 1", 0.5, 0.03), plate("strip 2", 0.5, 0.03),
    ],
}  # fmt: skip


def cut_up(boards: list[Board], cutting: Cutting = CUTTING, *, nodes: int = 0) -> tuple[Sheets, SawOrder]:
    """Boards on sheets by shelves, which is quick, and every cut; the order takes any plan."""
    sheets = sheets_for(boards, [], cutting, board=boards[0].thickness, nodes=nodes)
    return sheets, saw_order(sheets)


def check(boards: list[Board], sheets: Sheets, order: SawOrder, within: float) -> None:
    """Each board comes out once, with its corners on both faces, not mirrored."""
    found = sawn(sheets, order)
    assert Counter(name for name, _ in found) == Counter(each.name for each in boards)
    shapes = {each.name: np.concatenate([each.outside, each.inside]) * [-1.0, 1.0, 1.0] for each in boards}
    for name, solid in found:
        assert apart(corners(solid), shapes[name]) < within, name


@pytest.mark.parametrize("job", JOBS)
def test_the_saw_makes_just_the_boards(job: str) -> None:
    """Independent implementation: solids cut step by step end as the boards, outlines and bevels, to a micron."""
    for cutting in (Cutting(), Cutting(shared=False), Cutting(kerf=0.002, trim=0.0, allowance=0.005)):
        check(JOBS[job], *cut_up(JOBS[job], cutting), EXACT)


@pytest.mark.parametrize("joints", JOINTS)
@pytest.mark.parametrize("demo", demo_scenarios())
def test_the_boards_of_designs_come_out_as_they_are(demo: str, joints: str) -> None:
    """Independent implementation: designs of every demo, bevels as the saw is set."""
    front = stored_front(demo).front
    rows: Any = front.iloc[[0, len(front) - 1]].to_dict("records")
    for design in JudgedDesign.batch(Evaluator(read_scenario(demo_scenarios()[demo])), rows):
        box = box_of(design, joints=joints)
        check(list(box.boards), *cut_up(list(box.boards)), AS_SET)


def test_a_mirrored_board_is_another_one() -> None:
    """Analytic limit: what the comparison must tell apart, a slanted side and its mirror image with a bevel."""
    bottom = next(each for each in LEANING if each.name == "bottom")
    shape = np.concatenate([bottom.outside, bottom.inside])
    shape[0, 0] += 0.05
    assert apart(shape, shape[::-1] + 1.0) < 1e-9
    assert apart(shape * [-1.0, 1.0, 1.0], shape) > 1e-3


def test_no_cut_needs_what_is_not_there_yet() -> None:
    """Promise to the user: parts are cut only once they are made, none twice, sheets first and crosscuts last."""
    sheets, order = cut_up(LEANING)
    there = {rough.part for rough in order.roughs}
    phases = []
    for setting in order.settings:
        phases.append(("rip", "tilt", "narrow", "square", "length", "marks").index(setting.phase))
        for cut in setting.cuts:
            assert cut.part in there
            there.remove(cut.part)
            there |= {part for part in (cut.keeps, cut.leaves) if part}
    assert phases == sorted(phases)
    assert len(there) == sum(len(piece.names) for piece in sheets.pieces)


@pytest.mark.parametrize("job", JOBS)
def test_each_setting_comes_once(job: str) -> None:
    """Promise to the user: no fence, stop or tilt twice, and never more than board by board."""
    _, order = cut_up(JOBS[job])
    settings = [(each.phase, each.guide, round(each.tilt, 5), round(each.distance, 5)) for each in order.settings]
    assert len(set(settings)) == len(settings)
    assert order.set_up <= order.one_by_one
    assert order.tilts <= len({round(abs(e.bevel), 6) for b in JOBS[job] for e in b.edges if e.bevel})


def test_boards_bevel_to_bevel_save_a_cut_and_board() -> None:
    """Conservation: sharing takes the slope's run and an allowance off the strip, and a rip off the order."""
    boards = JOBS["upright back"]
    (shared, order), (apart_, other) = cut_up(boards, nodes=NODES), cut_up(boards, Cutting(shared=False), nodes=NODES)
    assert any(each.blank.chained for plan in shared.plans for each in plan.placed)
    assert not any(each.blank.chained for plan in apart_.plans for each in plan.placed)
    assert shared.groups[0].packing.used <= apart_.groups[0].packing.used
    assert sum(len(s.cuts) for s in order.settings) <= sum(len(s.cuts) for s in other.settings)


def test_the_point_difference_on_scrap() -> None:
    """Analytic limit: t·tan α between the long point and the fence at the table."""
    _, order = cut_up(LEANING)
    for setting in order.settings:
        expected = 0.018 * math.tan(setting.tilt)
        if setting.phase == "tilt":
            assert setting.distance - setting.at_table(0.018) == pytest.approx(expected)
    words = [line for step in steps(*cut_up(LEANING), "metric") for line in step.lines]
    assert "Check on scrap: long and short point differ by 5.8\u00a0mm on board of 18\u00a0mm." in [
        line.replace("5.8 mm", "5.8\u00a0mm") for line in words
    ]


def test_points_that_differ_never_read_the_same() -> None:
    """Promise to the user: in inches, too, the table's distance is told from the long point's at the least tilt."""
    for tilt in (0.5, 4.5):
        sheets, order = cut_up(carcass(0.62, 0.5, 0.42, 0.22, lean=math.radians(tilt)))
        lines = [line for step in steps(sheets, order, "us") for line in step.lines if " at the table" in line]
        assert lines
        for line in lines:
            long, short = line.removesuffix(" at the table:").split(" at ")[1].split(" to the long point, ")
            assert long != short


def test_short_and_narrow_pieces_are_never_ripped_by_themselves() -> None:
    """Common practice: at the fence nothing shorter, and nothing narrower between it and the blade."""
    cutting = Cutting()
    _, order = cut_up(JOBS["with small parts"], cutting)
    roughs = {rough.part: rough for rough in order.roughs}
    seen = set()
    for setting in order.settings:
        for cut in setting.cuts:
            if setting.phase == "rip" and cut.part in roughs:
                assert roughs[cut.part].length >= cutting.shortest - 1e-9
            if setting.guide == "fence":
                assert setting.at_table(0.018) >= cutting.narrowest
            seen |= {name for name in cut.boards if setting.guide == "strip stop"}
    assert seen == {"strip 1", "strip 2"}
    told = [line for step in steps(*cut_up(JOBS["with small parts"], cutting), "metric") for line in step.lines]
    assert any(line.startswith("Blocks 1 to 4: shorter than 300") for line in told)


def test_a_fence_never_guides_what_is_wider_than_its_edge_is_long_nor_out_of_reach() -> None:
    """Common practice: such a piece turns at the fence."""
    boards = [plate("wide", 1.2, 1.0), plate("panel", 0.7, 0.5)]
    sheets, order = cut_up(boards)
    guides = {cut.boards[0]: s.guide for s in order.settings if s.phase == "rip" for cut in s.cuts}
    assert guides == {"wide": "track", "panel": "fence"}
    assert {plan.number for plan in sheets.plans} == {1}


def test_boards_left_over_size_are_larger_all_round() -> None:
    """Conservation: the outline of what is flushed later, moved out by the allowance."""
    sheets, order = cut_up(JOBS["upright back"], Cutting(flushed="sides", flush=0.004))
    sides = [piece for piece in sheets.pieces if "side" in piece.name]
    assert all(piece.over == 0.004 for piece in sides)
    grown = {name: solid for name, solid in sawn(sheets, order) if "side" in name}
    plain = {name: solid for name, solid in sawn(*cut_up(JOBS["upright back"])) if "side" in name}
    for name, solid in grown.items():
        around = 2 * 0.004 * sum(solid.bounding_box()[3 + k] - solid.bounding_box()[k] for k in (0, 1))
        assert 0.0 < solid.volume() - plain[name].volume() < 1.3 * 0.018 * around
    assert any("trim flush" in line for step in steps(sheets, order, "metric") for line in step.lines)


def test_a_bevel_on_slanted_ends_is_cut_to_marks() -> None:
    """Analytic limit: a plate whose square ends lean, against its solid."""
    outside = np.array([(0.0, 0.0, 0.0), (0.5, 0.0, 0.0), (0.4, 0.0, 0.2), (0.0, 0.0, 0.2)])
    inside = outside - [0.0, 0.018, 0.0]
    turn = math.radians(10.0)
    way = np.array([0.2, 0.0, 0.1]) / math.hypot(0.2, 0.1)  # square to the slanted end
    inside[[1, 2]] -= 0.018 * math.tan(turn) * np.array([[way[0], 0, 0], [way[0], 0, 0]]) * (1.0 / way[0] ** 2)
    one = board("plate", outside, inside, (0.0, turn, 0.0, 0.0), role="brace")
    sheets, order = cut_up([one])
    check([one], sheets, order, EXACT)


def test_words_are_in_the_users_units() -> None:
    """Promise to the user: fractions of inches or millimetres, cautions with the step that has the hazard."""
    sheets, order = cut_up(LEANING)
    asked: tuple[tuple[Units, str, str], ...] = (("metric", "mm", " in"), ("us", "in", "mm"))
    for units, unit, other in asked:
        text = [line.replace("\u00a0", " ") for step in steps(sheets, order, units) for line in step.lines]
        assert any(f" {unit}" in line for line in text)
        assert not any(line.endswith(other) or f"{other}," in line for line in text if other == "mm")
    tilted = [step for step in steps(sheets, order, "metric") if step.heading.startswith("Blade tilted")]
    assert len(tilted) == order.tilts
    assert all(any("leans away" in caution for caution in step.cautions) for step in tilted)
    assert str(order.set_up) in summary(sheets, order)


def chained() -> tuple[Sheets, SawOrder]:
    sheets, order = cut_up(LEANING, nodes=NODES)
    assert any(cut.leaves for setting in order.settings if setting.phase == "tilt" for cut in setting.cuts)
    return sheets, order


def test_a_cut_that_parts_a_strip_tells_what_it_makes_of_the_rest() -> None:
    """Conservation: one cut makes two slopes, one board's long point on its outside or inside as its bevel has it."""
    sheets, order = chained()
    pieces = {piece.name: piece for piece in sheets.pieces}
    lines = [line for step in steps(sheets, order, "metric") for line in step.lines]
    for cut in (cut for setting in order.settings if setting.phase == "tilt" for cut in setting.cuts if cut.leaves):
        piece = pieces[cut.fresh.board]
        (rim,) = [rim for rim in (piece.low, piece.high) if rim.name == cut.fresh.edge]
        assert cut.fresh_long == ("outside" if rim.bevel > 0.0 else "inside")
        assert abs(rim.bevel) == pytest.approx(cut.tilt)
        said = f"fresh edge is then the {piece.name}'s {rim.name} edge, its long point {cut.fresh_long}"
        assert any(said in line for line in lines)


def test_what_is_left_of_a_strip_is_turned_as_the_saw_turns_it() -> None:
    """Independent implementation: turned so between two cuts, it lies as the saw that knows settings only has it."""
    _, order = chained()
    turned = {"": np.eye(3), "over its length": OVER, "round flat": ROUND, "end over end": ROUND @ OVER}
    cuts = {cut.part: cut for each in order.settings if each.phase in ("tilt", "narrow") for cut in each.cuts}
    assert order.turns
    for part, turn in order.turns.items():
        before = next(cut for cut in cuts.values() if cut.leaves == part)
        assert np.array_equal(turned[turn] @ lies(before), lies(cuts[part]))


def test_blanks_are_marked_before_the_first_tilted_cut() -> None:
    """Common practice: once edges are cut nobody can tell which is which."""
    headings = [step.heading for step in steps(*chained(), "metric")]
    (marked,) = [at for at, heading in enumerate(headings) if heading.startswith("Mark the blanks")]
    tilted = [at for at, heading in enumerate(headings) if heading.startswith("Blade tilted")]
    assert marked < min(tilted)


def test_what_is_measured_from_a_squared_end_names_it() -> None:
    """Promise to the user: the end that is squared is named where it is squared and where marks are measured."""
    by_title = {step.heading: step.lines for step in steps(*cut_up(JOBS["upright back"]), "metric")}
    (squared,) = by_title["Square one end of each piece"]
    assert "left side (its edge 2 end)" in squared
    marks = by_title["Slanted edges, to marks on the outside, the saw on the waste side of the line"]
    assert all("along is from its squared edge 2 end" in line for line in marks)


@pytest.mark.parametrize("name", ["left side", "right side"])
def test_slanted_edges_are_marked_from_the_edge_that_stays(name: str) -> None:
    """Conservation: marks on both sides are the box's depths at top and bottom, from the rear edge, not mirrored."""
    _, box = built_box("strips")
    sheets, order = cut_up(list(box.boards))
    lines = [line.replace("\u00a0", " ") for step in steps(sheets, order, "metric") for line in step.lines]
    (marks,) = [line for line in lines if line.lower().startswith(name) and "front edge: from" in line]
    section = 1e3 * box.outer.section
    deep = {"lower": section[1, 0] - section[0, 0], "upper": section[2, 0] - section[3, 0]}
    high = section[2, 1] - section[1, 1]
    end, other = ("upper", "lower") if "squared upper end" in marks else ("lower", "upper")
    assert marks.endswith("across from the rear edge.")
    told = re.findall(r"([\d.]+) mm (along|across)", marks)
    assert [word for _, word in told] == ["along", "across"] * 2
    np.testing.assert_allclose([float(size) for size, _ in told], [0.0, deep[end], high, deep[other]], atol=0.06)


def test_short_boards_of_one_sort_come_off_one_strip() -> None:
    """Promise to the user: no second strip where the first is long enough for both; nothing is used worse for it."""
    boards = [*carcass(0.7, 0.36, 0.34, 0.2), *(plate(f"block {k}", 0.08, 0.06) for k in (1, 2, 3))]
    sheets, order = cut_up(boards, nodes=NODES)
    strips = [each for plan in sheets.plans for each in plan.placed if each.blank.names[0].startswith("block")]
    assert [len(each.blank.slots) for each in strips] == [3]
    check(boards, sheets, order, EXACT)


def test_sizes_that_nobody_stated_are_round_in_the_users_units() -> None:
    """Promise to the user: inches by the eighth; what is stated stays as it is."""
    assert CUTTING.usual("metric") is CUTTING
    usual = CUTTING.usual("us")
    for key in CUTTING_US:
        eighths = getattr(usual, key) / 0.0254 * 8.0
        assert eighths == pytest.approx(round(eighths))
        assert getattr(usual, key) == pytest.approx(getattr(CUTTING, key), rel=0.3)
    stated = Cutting(kerf=0.0024, stated=frozenset({"kerf"})).usual("us")
    assert stated.kerf == 0.0024
    assert stated.trim == usual.trim
    told = {field.key: parse(field.default_us, "length") for field in FIELDS["build.cutting"] if field.default_us}
    assert told == pytest.approx(CUTTING_US)


def test_parts_are_told_as_wide_as_the_strip_they_are_cut_off() -> None:
    """Conservation: a part that nothing has ripped is as wide as its level, and every part's cut is told."""
    sheets, order = cut_up(LEANING)
    lines = [line.replace("\u00a0", " ") for step in steps(sheets, order, "metric") for line in step.lines]
    for rough in order.roughs:
        assert sum(line.startswith(f"{rough.part}: cut ") for line in lines) == 1
    assert "1A2: cut 590 mm off A, 503 mm wide (469.7 mm needed), for baffle." in lines


def test_too_deep_a_cut_is_told() -> None:
    """Promise to the user."""
    sheets, order = cut_up(LEANING, Cutting(depth=0.012))
    assert not any(each.blank.chained for plan in sheets.plans for each in plan.placed)
    tilted = [step for step in steps(sheets, order, "metric") if step.heading.startswith("Blade tilted")]
    assert all(any("may not cut through" in caution for caution in step.cautions) for step in tilted)
