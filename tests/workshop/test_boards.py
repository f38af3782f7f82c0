"""Boards of a design, put together again from the file alone by an independent reader."""

from __future__ import annotations

import json
import math
from collections import Counter, defaultdict
from typing import Any

import numpy as np
import pytest
import shapely
from manifold3d import Manifold

from engine.build import as_measured, box_of
from engine.formats.box import box_text
from engine.formats.scenario import demo_scenarios, read_scenario
from engine.judged import JudgedDesign
from engine.packing.braces import DOWELS, FRAME, NO_BRACE, RIB, STRIPS
from engine.packing.placement import BENT, NONE, SIDE, SLOT_BAFFLE, SLOT_SIDE, STRAIGHT
from engine.parts import Saw
from engine.quantities import show_set_out
from engine.report.order_of_work import order_of_work
from engine.report.work.told import Told
from engine.search.evaluator import Evaluator
from engine.space import roles
from engine.space.bodies import Circle
from engine.space.sawn import bevel_of
from engine.workshop.alike import in_few, told_together
from engine.workshop.board import LEAST_EDGE, Board, Box, Caution
from engine.workshop.holes import Screws, usual_screws
from engine.workshop.joints import JOINTS
from engine.workshop.ring import Ring
from explorer.demo_fronts import stored_front
from tests.benchmarks.boards import random_designs, scenarios
from tests.workshop.put_together import PutTogether

SAMPLED = 4
INSIDE = 1e-4  # of the inside volume, a tenth of what is promised
FLAT = 2e-9  # m, what the file's decimals leave


def designs(demo: str, count: int = SAMPLED) -> list[JudgedDesign]:
    """Some of a demo's front, from one end of it to the other."""
    front = stored_front(demo).front
    rows: Any = front.iloc[np.linspace(0, len(front) - 1, count).astype(int)].to_dict("records")
    return JudgedDesign.batch(Evaluator(read_scenario(demo_scenarios()[demo])), rows)


def check(box: Box) -> PutTogether:
    """A box put together from its file is the box: conservation, and an independent reader's geometry."""
    again = PutTogether(json.loads(box_text(box)))
    (chamber,) = box.chambers
    assert again.inside_volume == pytest.approx(chamber.inside_volume, rel=INSIDE)
    assert len(again.bodies_of_air) == 1
    assert again.overlaps() == []
    assert max(again.thickness_errors()) < FLAT
    low, high = again.over_all
    outer = np.concatenate([np.insert(box.outer.section, 0, x, axis=1) for x in box.outer.x])
    np.testing.assert_allclose([low, high], [outer.min(axis=0), outer.max(axis=0)], atol=1e-8)
    return again


@pytest.mark.parametrize("joints", JOINTS)
@pytest.mark.parametrize("demo", demo_scenarios())
def test_a_box_put_together_from_its_file_is_the_design(demo: str, joints: str) -> None:
    """Promise to the user, by an independent reader: volume, one body of air, nothing overlapping, flat boards."""
    for design in designs(demo):
        box = box_of(design, joints=joints)
        check(box)
        gross = float(design.row["gross_volume_m3"])
        inside = sum(board.volume for board in box.boards if board.role in ("brace", "slot", "block"))
        assert box.chambers[0].inside_volume == pytest.approx(gross - inside, rel=1e-5)


@pytest.mark.parametrize("more", [-0.7e-3, 0.8e-3])
def test_with_the_board_as_measured_the_outside_and_the_tuning_it_was_chosen_by_stay(more: float) -> None:
    """Conservation: outer sizes and lumped tuning; the boards are as thick as measured, and the box is the design."""
    for design in designs("roadster", 3):
        board = design.scenario.stock.board_thickness + more
        measured = as_measured(design, board_thickness=board)
        for key in ("outer_width_m", "outer_height_m", "top_depth_m", "bottom_depth_m", "tuning_lumped_hz", "driver"):
            assert measured.row[key] == pytest.approx(design.row[key], nan_ok=True)
        assert (measured.row["gross_volume_m3"] < design.row["gross_volume_m3"]) == (more > 0.0)
        box = box_of(measured)
        assert [each.thickness for each in box.boards] == pytest.approx([board] * len(box.boards))
        again = check(box)
        assert again.inside_volume == pytest.approx(box.chambers[0].inside_volume, rel=INSIDE)
    assert as_measured(design) is design


RANDOM = {"slotted": 40, "every way": 30, "piped": 24, "forward": 30, "radiators": 8}


@pytest.fixture(scope="module")
def random_boxes() -> list[tuple[JudgedDesign, Box]]:
    """Random designs of invented jobs, as unlike each other as may be, every other one joined baffle over all."""
    jobs, found = scenarios(), []
    for name, count in RANDOM.items():
        for number, design in enumerate(random_designs(jobs[name], count, seed=2)):
            how: Any = {"joints": tuple(JOINTS)[number % 2], "glue_strip": 0.02 * (number % 4 == 3)}
            found.append((design, box_of(design, **how)))
    return found


def placement(design: JudgedDesign) -> int:
    layout = design.judgement.layout
    return int(getattr(layout.own[int(layout.opening[0])][0], "vent_placement", NONE))


def test_every_way_to_build_is_put_together_from_its_file(random_boxes: list[tuple[JudgedDesign, Box]]) -> None:
    """Promise to the user, by an independent reader: every facing, baffle, opening and form of brace."""
    seen = defaultdict(set)
    for design, box in random_boxes:
        check(box)
        seen["facing"].add(design.row["facing"])
        seen["baffle"].add(design.row["baffle"])
        seen["place"].add(placement(design))
        seen["form"].add(int(design.judgement.layout.packed[0].brace_form))
        seen["roles"] |= {board.role for board in box.boards}
        seen["parts"] |= {part.role for part in box.parts}
    assert seen["facing"] == {"front", "down", "side", "up"}
    assert seen["baffle"] == {"single", "double"}
    assert seen["place"] == {NONE, SIDE, STRAIGHT, BENT, SLOT_SIDE, SLOT_BAFFLE}
    assert seen["form"] == {NO_BRACE, FRAME, RIB, STRIPS, DOWELS}
    assert seen["roles"] == {"shell", "layer", "brace", "slot", "block", "foot", "strip"}
    assert seen["parts"] == {"driver", "radiator", "pipe", "cup", "dowel"}


def test_bevels_are_those_of_the_saw(random_boxes: list[tuple[JudgedDesign, Box]]) -> None:
    """Analytic: points differ by t·tan of the true angle; what is set is off by half a step of sizes at most."""
    for design, box in random_boxes:
        saw: Saw = design.scenario.saw
        wedges = design.judgement.wedges
        back = float(wedges.back_angle)
        (nominal,) = bevel_of(wedges.lean, tall=wedges.outer_height, saw=saw, back_angle=back)
        allowed = {0.0, abs(back), abs(float(nominal))}
        for board in box.boards:
            for number, edge in enumerate(board.edges):
                assert any(abs(edge.bevel) == pytest.approx(each, abs=1e-9) for each in allowed)
                assert abs(edge.bevel) <= saw.most_bevel + 1e-9
                off = abs(math.tan(edge.bevel) - math.tan(edge.true)) * float(wedges.outer_height[0])
                assert off <= 0.5 * saw.size_step + 2e-5
                assert _point_difference(board, number) == pytest.approx(
                    board.thickness * math.tan(edge.true), abs=1e-9
                )


def _point_difference(board: Board, number: int) -> float:
    """How much further the outside face reaches at an edge than the inside one, m."""
    outside, inside = board.corners("outside"), board.corners("inside")
    start, end = outside[number], outside[(number + 1) % len(outside)]
    outward = np.array([end[1] - start[1], start[0] - end[0]]) / np.linalg.norm(end - start)
    return float((outside[number] - inside[number]) @ outward)


def test_feet_give_the_height_that_the_cones_need(random_boxes: list[tuple[JudgedDesign, Box]]) -> None:
    """Promise to the user: four feet as high as the design asks for, within the walls drawn on, off flanges."""
    down = [(design, box) for design, box in random_boxes if design.row["facing"] == "down"]
    assert len(down) > 3
    for design, box in random_boxes:
        feet = [board for board in box.boards if board.role == "foot"]
        assert len(feet) == (4 if design.row["facing"] == "down" else 0)
    for design, box in down:
        height = float(design.evaluator.below(design.designs)[0])
        section, width = box.outer.section, box.outer.x[1]
        flanges = [body.frusta[0] for body in design.bodies.of(roles.DRIVER_FLANGE, roles.RADIATOR_FLANGE)]
        for foot in (board for board in box.boards if board.role == "foot"):
            corners = np.concatenate([foot.outside, foot.inside])
            assert corners[:, 2].min() == pytest.approx(-height)
            assert corners[:, 2].max() == pytest.approx(0.0)
            assert corners[:, 0].min() >= -1e-9
            assert corners[:, 0].max() <= width + 1e-9
            for _, y, z in corners:
                rear, front = (
                    low[0] + (z - low[1]) * (high[0] - low[0]) / (high[1] - low[1])
                    for low, high in ((section[0], section[3]), (section[1], section[2]))
                )
                assert rear - 1e-9 <= y <= front + 1e-9
            footprint = shapely.box(*corners[:, :2].min(axis=0), *corners[:, :2].max(axis=0))
            for flange in flanges:
                assert footprint.distance(shapely.Point(flange.end[:2])) > flange.radii[0]


def test_screws_lie_on_their_circle_and_off_the_terminals(random_boxes: list[tuple[JudgedDesign, Box]]) -> None:
    """Common practice: on the circle, evenly, the terminals midway between two; pilots never go through."""
    drills = 0
    for design, box in random_boxes:
        for board in box.boards:
            for cut in (cut for cut in board.cuts if cut.name.startswith("screws of driver")):
                hole = next(other for other in board.cuts if other.name == cut.passes)
                assert hole.ring is not None
                assert hole.ring.round is not None
                out = cut.places - hole.ring.round.centre
                np.testing.assert_allclose(np.linalg.norm(out, axis=1), 0.5 * cut.circle)
                driver = design.scenario.candidates[0].driver if len(design.scenario.candidates) == 1 else None
                if driver:
                    assert cut.circle == pytest.approx(0.5 * (driver.outer_diameter + driver.cutout_diameter))
                terminals = np.array([0.0, 1.0]) if design.row["facing"] == "side" else np.array([1.0, 0.0])
                turns = np.degrees(np.arccos(np.clip(out @ terminals / (0.5 * cut.circle), -1.0, 1.0)))
                assert turns.min() == pytest.approx(180.0 / len(out))
                assert cut.depth < board.thickness or board.role == "layer"
                drills += 1
    assert drills > 100


def test_screws_that_a_sheet_states_are_taken() -> None:
    """Promise to the user: what is stated holds, the rest is as is usual."""
    stated = usual_screws(
        cutout=0.28, flange=0.32, stated=Screws(circle=0.306, count=0, thick=math.nan, turn=math.radians(10.0))
    )
    assert (stated.circle, stated.count, stated.thick) == (0.306, 8, 0.005)
    assert math.degrees(stated.turned(0.0)[0]) == pytest.approx(10.0)
    assert usual_screws(cutout=0.28, flange=0.32).circle == pytest.approx(0.3)


def test_cautions_name_what_is_nearer_to_an_edge_than_is_usual(random_boxes: list[tuple[JudgedDesign, Box]]) -> None:
    """Promise to the user: every hole nearer than 10 mm to an edge of its board is named, by a measure of its own."""
    told = 0
    for _, box in random_boxes:
        named = {(each.board, each.about) for each in box.cautions if each.code == "edge"}
        for board in box.boards:
            for cut in (cut for cut in board.cuts if cut.operation != "notch"):
                solid = Manifold.hull_points(np.concatenate([board.outside, board.inside]))
                deep = board.thickness if cut.through else min(cut.depth, board.thickness)
                edges = [_slice(solid, board, depth) for depth in (1e-9, deep - 1e-9)]
                left = min(edge.distance(ring.polygon(1e-7)) for edge in edges for ring in cut.outlines)
                if abs(left - LEAST_EDGE) > 2e-5:
                    assert ((board.name, cut.name) in named) == (left < LEAST_EDGE)
        told += len(named)
    assert told


def _slice(solid: Manifold, board: Board, depth: float) -> shapely.LinearRing:
    """The outline of a board so deep behind its outside face, m, by cutting its hull."""
    flat = np.column_stack([board.across, board.up, board.inward])
    # Turned so that the outside face lies at height 0, and cut there.
    turned = solid.transform(np.column_stack([flat.T, -flat.T @ board.outside[0]]))
    (outline,) = turned.slice(depth).to_polygons()
    return shapely.LinearRing(outline)


def test_windows_holes_and_hollows_are_true_arcs(random_boxes: list[tuple[JudgedDesign, Box]]) -> None:
    """Promise to the user: corners of windows are arcs of 20 mm, holes circles, hollows arcs of the pipe's radius."""
    windows = holes = hollows = 0
    for design, box in random_boxes:
        pipes = {round(body.rounds[-1].radii[0], 9) for body in design.bodies.of(roles.PASSING_PIPE)}
        for board in (board for board in box.boards if board.role in ("brace", "block")):
            for cut in board.cuts:
                assert cut.ring is not None
                radii = [arc.radius for arc in cut.ring.arcs]
                if cut.name == "window":
                    assert len(radii) in (3, 4)  # two meet where a window ends in a point
                    np.testing.assert_allclose(radii, 0.02, rtol=1e-9)
                    windows += 1
                elif cut.name.startswith("hole for"):
                    assert cut.ring.round is not None
                    holes += 1
                elif cut.name.startswith("hollow for"):
                    assert {round(radius, 9) for radius in radii} <= pipes
                    hollows += 1
    assert min(windows, holes, hollows) > 2


def test_boards_lie_within_the_space(random_boxes: list[tuple[JudgedDesign, Box]]) -> None:
    """Promise to the user: every board where it stands is in the job's space, feet too."""
    for design, box in random_boxes:
        space = shapely.Polygon(design.scenario.space.section).buffer(1e-6)
        for board in box.boards:
            corners = np.concatenate([board.outside, board.inside]) + box.place
            assert all(space.contains(shapely.Point(y, z)) for _, y, z in corners)
            assert corners[:, 0].min() >= 0.0
            assert corners[:, 0].max() <= design.scenario.space.width + 1e-9


@pytest.mark.parametrize("bulge", [0.3, 1.0, 2.5, -0.4])
def test_a_ring_knows_the_area_and_length_of_its_arcs(bulge: float) -> None:
    """Analytic: of a segment of a circle over a chord, against fine polygons too."""
    ring = Ring(np.array([[0.0, 0.0], [2.0, 0.0], [2.0, 3.0], [0.0, 3.0]]), np.array([0.0, bulge, 0.0, 0.0]))
    turn = 4.0 * math.atan(bulge)
    radius = 1.5 / math.sin(0.5 * abs(turn))
    assert ring.area == pytest.approx(6.0 + 0.5 * radius**2 * (turn - math.sin(turn)))
    assert ring.length == pytest.approx(7.0 + radius * abs(turn))
    assert ring.polygon(1e-7).area == pytest.approx(ring.area, rel=1e-6)
    (arc,) = ring.arcs
    assert arc.radius == pytest.approx(radius)


def test_facets_become_the_arcs_they_stand_for() -> None:
    """Analytic: what facets drawn round a circle cut comes back with it, whole, cut off or as a segment."""
    circle = Circle(np.array([0.8, 0.5]), 0.3)
    facets = shapely.Point(circle.centre).buffer(0.3 / math.cos(math.pi / 64.0), quad_segs=16)
    plate = shapely.box(0.0, 0.0, 1.0, 1.0)
    cut = Ring.through(np.asarray(plate.difference(facets).exterior.coords)[:-1], [circle])
    angle = math.acos(0.2 / 0.3)
    segment = 0.09 * (angle - math.sin(angle) * math.cos(angle))
    assert cut.area == pytest.approx(1.0 - (math.pi * 0.09 - segment), rel=1e-9)
    assert Ring.through(np.asarray(facets.exterior.coords)[:-1], [circle]).area == pytest.approx(math.pi * 0.09)
    off = Ring.through(np.asarray(plate.intersection(facets).exterior.coords)[:-1], [circle])
    assert off.area == pytest.approx(math.pi * 0.09 - segment, rel=1e-4)
    assert len(off.arcs) == 1


def test_the_order_of_work_holds_for_every_box(random_boxes: list[tuple[JudgedDesign, Box]]) -> None:
    """Promise to the user: each block once, gaps without the feet, two layers drilled once, pipes sealed."""
    seen: Counter[str] = Counter()
    for design, box in random_boxes:
        told = Told(box, design.scenario, "metric")
        steps = {step.title: " ".join(step.words) for step in order_of_work(box, design.scenario, "metric")}
        names = [block.name for block in (*told.standing, *told.between, *told.carried)]
        assert sorted(names) == sorted(board.name for board in box.boards if board.role == "block")
        sealed = " ".join(words for title, words in steps.items() if "Seal the pipes" in title or "Close" in title)
        for name in in_few([part.name for part in told.pipes]):
            assert told.bent or name in sealed.lower()
        seen["between"] += len(told.between)
        if told.slots:
            duct = next(body for body in design.bodies.bodies if body.role is roles.DUCT).prisms[0]
            assert told.slot_height == pytest.approx(float(np.ptp(duct.section[:, 1])), abs=1e-6)
        if told.feet:
            under = float(box.place[2]) - float(design.evaluator.below(design.designs)[0])
            assert f"{show_set_out(under, 'metric')} above that point" in steps["Into the vehicle"].replace(
                "\N{NO-BREAK SPACE}", " "
            )
        drilled = [cut for board in box.boards for cut in board.cuts if cut.name == "screws of driver 1"]
        said = steps["Drill the screw holes"].replace("\N{NO-BREAK SPACE}", " ")
        assert said.count("Screws of driver 1") == 1
        if len(drilled) == 2:
            deep = box.layer + next(cut.depth for cut in drilled if not cut.through)
            assert f"from the outside of both layers: {len(drilled[0].places)} ×" in said
            assert f"{show_set_out(deep, 'metric')} deep, no further" in said
            seen["double"] += 1
    assert {"between", "double"} <= set(+seen), seen


def test_cautions_of_one_board_are_told_together() -> None:
    """Promise to the user: the least that is left, once, and what it is beside by all names."""
    cautions = [Caution("edge", "brace 1", f"hole for vent {k}", 0.008 + 0.0002 * k, 0.01) for k in (1, 2, 3)]
    cautions.append(Caution("bevel", "top", "front", 0.9, 0.78))
    bevel, edge = told_together(cautions)
    assert edge.about == "hole for vents 1 to 3"
    assert edge.value == 0.0082
    assert bevel == cautions[-1]
