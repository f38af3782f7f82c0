"""The build sheet on paper: figures are the boards', steps follow the design, cautions stand where the hazard is."""

from __future__ import annotations

import dataclasses
from datetime import date
from typing import Any

import numpy as np
import pytest

from engine.build import box_of
from engine.quantities import Units, bare_set_out, show, show_set_out, show_size
from engine.report.blocks import Section, Step, Steps, Table
from engine.report.build_sheet import BuildSheet, build_sheet_of, build_sheet_pdf, edge_table, strip_words
from engine.report.cutting import AT_THE_SAW, SHEETS, sawn_of
from engine.report.order_of_work import order_of_work
from engine.report.pipework import cut_dowel, cut_pieces, dowel_radius, dowel_table, pipe_table
from engine.report.set_up import TITLE as SET_UP
from engine.report.to_buy import bought, inner_area, joint_area, outer_area
from engine.report.work.cautions import ADHESIVE, CEMENT, DUST, JIGSAW, OFF_CUTS, ROUTER, VEHICLE
from engine.report.work.told import Told
from engine.space.bodies import Frustum
from engine.workshop.alike import alike, in_few
from engine.workshop.ring import Ring, sharp
from tests.report.sheets import drawn, pages_of, sizes_of
from tests.workshop.built_boxes import CHOSEN, built_box

DAY = date(2026, 3, 14)
PAPERS = {"a4": (210.0, 297.0), "letter": (215.9, 279.4)}
HOSTILE = '#sys.version *x* $a^2$ <b> @ref "q" // #import "x": y'


def sheet(name: str, units: Units = "metric", title: str | None = None) -> BuildSheet:
    design, box = built_box(name)
    box = box if title is None else dataclasses.replace(box, title=title)
    return build_sheet_of(box, design, sawn_of(box, design, units), units, written=DAY)


def flat(pdf: bytes) -> str:
    """All words on one line, spaces as they are typed."""
    return " ".join(" ".join(pages_of(pdf)).replace("\N{NO-BREAK SPACE}", " ").split())


def test_cautions_stand_before_the_deed() -> None:
    """Promise to the user: on paper, as in the text, a step warns before it says what to do."""
    steps = Steps((Step(title="Cut", words=("Then saw.",), cautions=("Goggles first.",)),))
    section = Section(title=AT_THE_SAW, blocks=(steps,))
    said = flat(build_sheet_pdf(BuildSheet(job="Job", design="D1", written=DAY, sections=(section,))))
    assert said.index("Goggles first.") < said.index("Then saw.")


@pytest.mark.parametrize("units", ["metric", "us"])
@pytest.mark.parametrize("name", CHOSEN)
def test_figures_on_paper_are_those_of_the_boards(name: str, units: Any) -> None:
    """Conservation: names, thickness, blank, corners and holes of each board, read back from the pages."""
    _, box = built_box(name)
    said = flat(build_sheet_pdf(sheet(name, units), "letter" if units == "us" else "a4"))
    for same in alike(box.boards):
        board = same[0]
        long, wide = board.blank
        assert f"{show_set_out(long, units)} × {show_set_out(wide, units)}" in said
        assert show_size(board.thickness, units) in said
        for row in edge_table(board, units).rows:
            assert row[1].replace("\N{NO-BREAK SPACE}", " ") in said
        for cut in board.cuts:
            assert cut.name in said
            if cut.ring is not None and (hole := cut.ring.round) is not None:
                across, up = (bare_set_out(float(each), units) for each in hole.centre)
                assert f"⌀ {show_set_out(2.0 * hole.radius, units)}" in said
                assert f"{across}, {up}" in said


def test_corners_of_the_table_are_the_boards_own() -> None:
    """Conservation: sizes along edges, from the coordinates that box.json has."""
    _, box = built_box("pipes")
    baffle = box.board_called("baffle")
    rows = edge_table(baffle, "metric").rows
    corners = baffle.corners("outside")
    for row, corner in zip(rows, corners, strict=True):
        across, up = (float(each) for each in row[1].split(","))
        np.testing.assert_allclose([across, up], 1e3 * corner, atol=0.051)


@pytest.mark.parametrize("paper", PAPERS)
def test_every_page_names_job_design_and_date_and_stays_off_the_edge(paper: Any) -> None:
    """Promise to the user; printers leave about 5 mm white, common practice, no source."""
    pdf = build_sheet_pdf(sheet("elbow"), paper)
    pages = pages_of(pdf)
    assert sizes_of(pdf) == [pytest.approx(PAPERS[paper], abs=0.1)] * len(pages)
    _, box = built_box("elbow")
    for number, words in enumerate(pages):
        assert f"{box.title} – design {box.row['id']} – 14 March 2026" in words
        assert f"{number + 1} / {len(pages)}" in words
        grey = np.array(drawn(pdf, number))
        edge = round(5.0 / 25.4 * 72.0 * 1.5)
        grey[edge:-edge, edge:-edge] = 255
        assert grey.min() > 250


def test_what_users_type_is_never_markup() -> None:
    """Promise to the user."""
    words = flat(build_sheet_pdf(sheet("slot", title=HOSTILE)))
    assert words.count(HOSTILE) >= 5


def test_the_same_build_gives_the_same_bytes() -> None:
    """Promise to the user."""
    assert build_sheet_pdf(sheet("radiator")) == build_sheet_pdf(sheet("radiator"))


def titles(name: str) -> list[str]:
    design, box = built_box(name)
    return [step.title for step in order_of_work(box, design.scenario, "metric")]


@pytest.mark.parametrize("name", CHOSEN)
def test_what_stands_inside_goes_in_before_the_last_panel(name: str) -> None:
    """Promise to the user: each board of this box is glued in a step, those inside before the one that closes it."""
    design, box = built_box(name)
    steps = order_of_work(box, design.scenario, "metric")
    said = [f"{step.title} {' '.join(step.words)}".lower().replace("\N{NO-BREAK SPACE}", " ") for step in steps]
    close = next(number for number, step in enumerate(steps) if step.title.startswith("Close the box"))
    assert box.last in steps[close].title
    glue = range(next(k for k, step in enumerate(steps) if step.title.startswith("Glue up")), close)
    before = " ".join(said[number] for number in glue)
    told = Told(box, design.scenario, "metric")
    for inside in (told.braces, told.slots, told.standing, told.between):
        for group in in_few([board.name for board in inside]):
            assert group.lower() in before
    for board in box.boards:
        if board.role == "shell":
            assert (board.name in before) or board.name == box.last
    assert (titles(name).index("Dry fit")) < glue[0]
    assert titles(name).index("Leak test") > close


def test_steps_are_those_of_this_design() -> None:
    """Promise to the user: no pipes in a box with a slot, no solvent without elbows, spacers as high as the slot."""
    assert "Cut the pipes" not in titles("slot")
    assert "Cut the pipes" in titles("pipes")
    design, box = built_box("slot")
    glue = " ".join(words for step in order_of_work(box, design.scenario, "metric") for words in step.words)
    high = show_set_out(float(box.row["slot_height_m"]), "metric").replace(" ", "\N{NO-BREAK SPACE}")
    assert f"spacers {high} high" in glue
    design, box = built_box("dowels")
    assert "Dowels" in " ".join(w for step in order_of_work(box, design.scenario, "metric") for w in step.words)
    design, box = built_box("radiator")
    assert "Passive radiators" in " ".join(w for s in order_of_work(box, design.scenario, "metric") for w in s.words)


def told_at(name: str, title: str, units: Units = "metric") -> str:
    design, box = built_box(name)
    step = next(s for s in order_of_work(box, design.scenario, units) if s.title.startswith(title))
    return " ".join(step.words).replace("\N{NO-BREAK SPACE}", " ")


@pytest.mark.parametrize("name", CHOSEN)
def test_nothing_is_needed_before_it_is_told(name: str) -> None:
    """Promise to the user: blanks are marked before the blade is tilted; a tone sounds only once the gain is set."""
    told = titles(name)
    assert told.index("Mark the blanks as they come off the sheet") < told.index("Saw the boards")
    assert told.index("Leak test") < told.index("Wire, set up, listen for leaks") < told.index("Into the vehicle")
    assert "tone" not in told_at(name, "Leak test")
    assert f"“{SET_UP}”" in told_at(name, "Wire, set up")


@pytest.mark.parametrize("name", CHOSEN)
def test_every_pipe_is_sealed_once(name: str) -> None:
    """Promise to the user: one moment, before the box is closed where its panel stands by then."""
    design, box = built_box(name)
    steps = order_of_work(box, design.scenario, "metric")
    sealing = [step for step in steps if "From then on it is not moved" in " ".join(step.words)]
    sealing += [step for step in steps if step.title.startswith("Seal the pipes into")]
    sealing += [
        step for step in steps if step.title.startswith("Close") and "down to the bench" in " ".join(step.words)
    ]
    assert len(sealing) == any(part.role == "pipe" for part in box.parts)
    if sealing:
        assert "0.5 mm wider" in told_at(name, "Saw the openings")
        assert "1/64 in wider" in told_at(name, "Saw the openings", "us")


@pytest.mark.parametrize("name", ["pipes", "strips", "dowels"])
def test_pipes_through_a_side_are_sealed_while_the_front_is_open(name: str) -> None:
    """Promise to the user: nobody reaches down a box a metre long to the far end of its pipes."""
    _, box = built_box(name)
    told = titles(name)
    assert all(part.length > 0.0 for part in box.parts if part.role == "pipe")
    seal, glue = told.index("Seal the pipes in for good"), told.index("Glue on: top and baffle")
    assert told.index("Glue up: left side, bottom and back") < seal < glue


def test_a_block_between_pipes_is_set_with_them_and_not_glued_to_nothing() -> None:
    """Promise to the user: what touches no board is set on the pipe under it, the lowest first."""
    design, box = built_box("strips")
    told = Told(box, design.scenario, "metric")
    assert told.standing
    assert told.between
    heights = [float(block.outside[:, 2].min()) for block in told.between]
    assert heights == sorted(heights)
    glued, sealed = told_at("strips", "Glue in what stands"), told_at("strips", "Seal the pipes in")
    for block in told.between:
        assert not any(edge.meets for edge in block.edges)
    for name in in_few([block.name for block in told.between]):
        assert name.lower() in sealed.lower()
        assert name.lower() not in glued.lower()
    assert "work from the lowest pipe up" in sealed


def test_a_leg_through_braces_follows_its_elbow() -> None:
    """Promise to the user: an elbow passes no hole of a brace, so its leg is cemented in the box, and only then."""
    design, box = built_box("elbow")
    told = Told(box, design.scenario, "metric")
    (pipe, *_) = told.bent
    leg = next(solid for solid in pipe.solids[1:] if isinstance(solid, Frustum))
    middle = np.array([0.5 * float(leg.start[0] + leg.end[0]), 0.0, 0.0])
    brace = dataclasses.replace(
        box.boards[0], name="brace 9", role="brace", outside=box.boards[0].outside + middle,
        inside=box.boards[0].inside + middle,
    )  # fmt: skip
    passed = dataclasses.replace(
        box, boards=(*(each for each in box.boards if each.role != "brace"), brace), last="right side"
    )
    free = dataclasses.replace(box, boards=tuple(each for each in box.boards if each.role != "brace"))
    said = {
        case: {step.title: " ".join(step.words) for step in order_of_work(each, design.scenario, "metric")}
        for case, each in (("passed", passed), ("free", free))
    }
    assert "through the braces" in said["passed"]["Seal the pipes in for good"]
    assert "cement only the short piece" in said["passed"]["Cut the pipes"]
    assert "through the braces" not in " ".join(said["free"].values())
    assert "cement them with the marks in line" in said["free"]["Cut the pipes"]


def test_dowels_are_told_by_their_longest_side_and_the_lean_of_their_ends() -> None:
    """Analytic limit: the middle of a dowel is as long as the inside is deep there, and each end adds its lean."""
    _, box = built_box("dowels")
    back, baffle = (box.board_called(name).inside for name in ("back", "baffle"))
    dowels = [part for part in box.parts if part.role == "dowel"]
    assert dowels
    for dowel in dowels:
        cut = cut_dowel(box, dowel)
        high = float(dowel.solids[0].start[2])
        deep = [float(np.interp(high, np.sort(face[:, 2]), face[np.argsort(face[:, 2]), 1])) for face in (back, baffle)]
        more = dowel_radius(dowel) * (abs(np.tan(cut.rear)) + abs(np.tan(cut.front)))
        assert cut.length == pytest.approx(deep[1] - deep[0] + more, abs=1e-6)
    table = dowel_table(box, "metric")
    assert isinstance(table, Table)
    assert sum(int(row[1]) for row in table.rows) == len(dowels)
    front = abs(next(edge.bevel for edge in box.board_called("bottom").edges if edge.side == "front"))
    assert all(f"front end {np.degrees(front):.1f}° off square" in row[4] for row in table.rows)
    said = flat(build_sheet_pdf(sheet("dowels")))
    assert all(show_set_out(cut_dowel(box, dowel).length, "metric") in said for dowel in dowels)
    assert dowel_table(built_box("slot")[1], "metric") is None
    assert titles("dowels").index("Cut the dowels") < titles("dowels").index("Dry fit")


def test_passive_radiators_are_loaded_before_they_are_fitted() -> None:
    """Promise to the user: how much, centred, weighed; in the list of what is bought too."""
    design, box = built_box("radiator")
    mass = f"{1e3 * float(box.row['radiator_added_mass_kg']):.0f} g"
    said = told_at("radiator", "Load the passive radiators")
    assert mass in said
    assert "centred" in said
    assert titles("radiator").index("Load the passive radiators") < titles("radiator").index("Fit what is bought")
    assert any(mass in f"{each.what} {each.amount}" for each in bought(box, design.scenario, "metric"))


def test_what_holds_the_gaps_round_the_box_is_told() -> None:
    """Promise to the user: the builder makes what keeps a box off the space's lowest and rearmost planes."""
    said = told_at("pipes", "Into the vehicle")
    _, box = built_box("pipes")
    assert float(box.place[2]) > 0.0
    assert f"{show_set_out(float(box.place[2]), 'metric')} under" in said
    assert "battens, feet or brackets" in said


def cautions_at(name: str, title: str) -> str:
    design, box = built_box(name)
    return " ".join(next(s for s in order_of_work(box, design.scenario, "metric") if s.title == title).cautions)


def test_cautions_stand_at_the_step_where_the_hazard_is() -> None:
    """Promise to the user."""
    saw = cautions_at("pipes", "Saw the boards")
    assert OFF_CUTS in saw
    assert DUST in saw
    assert "two people" in saw
    assert "riving knife" in saw
    assert "push stick" in saw
    openings = cautions_at("pipes", "Saw the openings")
    assert JIGSAW in openings
    assert ROUTER in openings
    assert ADHESIVE in cautions_at("pipes", "Flush, round over, cover")
    assert CEMENT in cautions_at("elbow", "Cut the pipes")
    assert CEMENT not in cautions_at("pipes", "Flush, round over, cover")
    vehicle = cautions_at("pipes", "Into the vehicle")
    assert all(words in vehicle for words in VEHICLE)
    assert "airbags" in vehicle
    assert "local codes" in vehicle


def test_pipes_with_elbows_are_cut_piece_by_piece() -> None:
    """Conservation: straight pieces and the bend together are the pipe along its middle line."""
    _, box = built_box("elbow")
    for pipe in (part for part in box.parts if part.role == "pipe"):
        pieces = cut_pieces(pipe)
        radius = next(solid.radius for solid in pipe.solids if hasattr(solid, "tube_radius"))
        assert len(pieces) == 2
        assert sum(piece.length for piece in pieces) + 0.5 * np.pi * radius == pytest.approx(pipe.length, rel=1e-9)
    table = pipe_table(box, "metric")
    assert isinstance(table, Table)
    assert pipe_table(built_box("slot")[1], "metric") is None


def test_amounts_follow_from_the_boards() -> None:
    """Analytic limit: of a plain box joints, inside and outside are what one works out by hand."""
    _, box = built_box("radiator")
    width, board = box.outer.x[1], box.board
    section = box.outer.section
    around = float(np.hypot(*(np.roll(section, -1, axis=0) - section).T).sum())
    y, z = section.T
    side = 0.5 * abs(float(np.sum(y * np.roll(z, -1) - np.roll(y, -1) * z)))
    assert outer_area(box) == pytest.approx(2.0 * side + around * width)
    assert 0.7 * outer_area(box) < inner_area(box) < outer_area(box)
    # Four joints along the width, eight across it where panels meet the sides; braces besides.
    shell = board * (4.0 * (width - 2.0 * board) + 2.0 * around)
    assert 0.9 * shell < joint_area(box) < 1.6 * shell
    design, _ = built_box("radiator")
    lines = {each.what: each for each in bought(box, design.scenario, "metric")}
    screws = sum(
        len(cut.places) for board in box.boards for cut in board.cuts if cut.operation == "drill" and cut.circle > 0.0
    )
    assert sum(int(each.amount) for what, each in lines.items() if what.endswith("for flanges")) == screws


def test_sharp_corners_of_a_rounded_window() -> None:
    """Analytic limit: a rectangle with rounded corners has the rectangle's corners; other outlines their own."""
    turned = np.tan(np.pi / 8.0)
    points = np.array([(0.1, 0), (0.9, 0), (1, 0.1), (1, 0.4), (0.9, 0.5), (0.1, 0.5), (0, 0.4), (0, 0.1)])
    corners, radius = sharp(Ring(points, np.array([0.0, turned] * 4)))
    assert radius == pytest.approx(0.1)
    assert {tuple(corner) for corner in np.round(corners, 9)} == {(0.0, 0.0), (1.0, 0.0), (1.0, 0.5), (0.0, 0.5)}
    plain = Ring.straight([(0.0, 0.0), (1.0, 0.0), (0.5, 1.0)])
    np.testing.assert_allclose(sharp(plain)[0], plain.points)


def test_the_sheet_has_its_parts_in_the_order_of_the_work() -> None:
    """Promise to the user: what to buy and to saw, boards, steps, wiring."""
    told = [section.title for section in sheet("pipes").sections]
    wanted = ("To buy", "Views", "Cutting list", SHEETS, AT_THE_SAW, "Panels", "Pipes", "Order of work", SET_UP)
    places = [told.index(title) for title in wanted]
    assert places == sorted(places)


def test_only_what_the_box_has_is_spoken_of() -> None:
    """Promise to the user: a box without a cup or pipes is told of neither."""
    design, box = built_box("slot")
    bare = dataclasses.replace(box, parts=tuple(part for part in box.parts if part.role not in ("cup", "pipe")))
    steps = order_of_work(bare, design.scenario, "metric")
    said = " ".join(words for step in steps for words in step.words)
    assert "terminal cup's" not in said
    assert "the cup in" not in said
    assert "pipe" not in said
    assert "a hole drilled for it" in said


def test_what_glue_strips_take_is_told() -> None:
    """Conservation: what they take and the air that is left are the design's net volume; half of it is in the tuning,
    since a compliance is under a root.
    """
    design, box = built_box("pipes")
    assert strip_words(box, "metric") == []
    stripped = box_of(design, glue_strip=0.02)
    (said,) = strip_words(stripped, "metric")
    taken = box.chambers[0].net_volume - stripped.chambers[0].net_volume
    assert taken > 0.0
    assert f"{show(taken, 'volume', 'metric')} of the air inside" in said
    assert f"{100.0 * taken / float(box.row['net_volume_m3']):.1f} %" in said
