"""Full-size templates, measured on the rendered page; promises to the user."""

from __future__ import annotations

import math
from datetime import date
from typing import Any

import numpy as np
import pypdfium2
import pytest

from engine.quantities import show_set_out
from engine.report.templates_pdf import templates_pdf
from engine.report.typeset import PAPER_SIZES
from engine.space.bodies import Bend, Frustum
from engine.workshop.patterns import templates_of
from engine.workshop.template_words import page_words
from engine.workshop.templates import (
    CLEAR,
    OVERLAP,
    RULERS,
    Template,
    Tiling,
    Trace,
    circle,
    crossing,
    path,
    places_along,
    tiled,
    window_of,
)
from tests.workshop.built_boxes import CHOSEN, built_box

DAY = date(2026, 3, 14)
DOTS = 8.0  # pixels a mm
WITHIN = 0.2  # mm
DARK = 128
HOSTILE = '#sys.version *x* $a^2$ <b> @ref "q" // #import "x": y'


def template(*traces: Trace) -> Template:
    return Template(name="Test", said=("Said.",), face="outside", traces=traces)


def page(pdf: bytes, number: int) -> Any:
    """A page as grey pixels, ``DOTS`` a mm."""
    bitmap = pypdfium2.PdfDocument(pdf)[number].render(scale=DOTS * 25.4 / 72.0, grayscale=True)
    return np.asarray(bitmap.to_numpy()).squeeze()


def runs(dark: Any) -> list[float]:
    """Middles of runs of dark pixels, in mm."""
    edges = np.flatnonzero(np.diff(np.concatenate([[0], dark.astype(int), [0]])))
    return [(start + stop) / 2.0 / DOTS for start, stop in edges.reshape(-1, 2)]


@pytest.mark.parametrize("paper", PAPER_SIZES)
def test_a_circle_is_printed_at_full_size(paper: Any) -> None:
    """Measured: the diameter of a circle in pixels, both ways, within 0.2 mm."""
    pdf = templates_pdf([template(circle((0.0, 0.0), 0.150))], job="J", written=DAY, paper=paper)
    grey, (tile,) = page(pdf, 1), tiled(template(circle((0.0, 0.0), 0.150)), PAPER_SIZES[paper]).tiles
    row, column = round(tile.top * DOTS), round(tile.left * DOTS)
    left, top, width, height = window_of(PAPER_SIZES[paper])
    for line, start, size in ((grey[row], left, width), (grey[:, column], top, height)):
        inside = line[round((start + 1.0) * DOTS) : round((start + size - 1.0) * DOTS)]
        first, last = runs(inside < DARK)
        assert last - first == pytest.approx(150.0, abs=WITHIN)


@pytest.mark.parametrize("paper", PAPER_SIZES)
def test_rulers_are_as_long_as_they_say_both_ways(paper: Any) -> None:
    """Measured: the first and the last mark of each ruler, in mm and in inches."""
    grey = page(templates_pdf([template(circle((0.0, 0.0), 0.05))], job="J", written=DAY, paper=paper), 1)
    left, top, *_ = window_of(PAPER_SIZES[paper])
    across = {"mm": grey[round((top - 5.0 - 4.2) * DOTS)], "in": grey[round((top - 5.0 + 3.9) * DOTS)]}
    down = {"mm": grey[:, round((left - 6.0 - 3.4) * DOTS)], "in": grey[:, round((left - 6.0 + 3.9) * DOTS)]}
    for way, found, start in (("across", across, left), ("down", down, top)):
        mm, inches = RULERS[way]
        for unit, last in (("mm", float(mm)), ("in", 25.4 * inches)):
            marks = np.array(runs(found[unit] < DARK)) - start
            for wanted in (0.0, last / 2.0 if unit == "in" else 50.0, last):
                assert np.abs(marks - wanted).min() < WITHIN, (way, unit, wanted)


def test_neighbours_meet_at_their_register_marks() -> None:
    """Conservation: a place of the template lies on both pages as far from the seam, and the overlap is whole."""
    tiling = tiled(template(path((0.0, 0.0), (0.45, 0.6), stroke="cut")), PAPER_SIZES["a4"])
    *_, width, height = tiling.window
    assert tiling.rows > 1
    assert tiling.columns > 1
    for tile in tiling.tiles:
        for down, right in ((0, 1), (1, 0)):
            if (other := tiling.neighbour(tile, down, right)) is not None:
                moved = np.array([tile.left - other.left, tile.top - other.top])
                expected = [right * (width - OVERLAP), down * (height - OVERLAP)]
                np.testing.assert_allclose(moved, expected, atol=1e-9)


@pytest.mark.parametrize("paper", PAPER_SIZES)
@pytest.mark.parametrize("circle_of", [0.18, 0.24, 0.297, 0.36])
def test_no_joint_of_pages_runs_along_a_centre_line_or_a_screw(paper: Any, circle_of: float) -> None:
    """Promise to the user: eight screws round a middle line, of any size, lie clear of where pages are trimmed."""
    ways = np.arange(8) * np.pi / 4.0 + np.pi / 8.0
    traces = [*crossing((0.0, 0.0), 0.55 * circle_of, "axis")]
    for way in ways:
        traces += crossing(0.5 * circle_of * np.array([np.cos(way), np.sin(way)]), 0.003)
    tiling = tiled(Template(name="x", said=(), face="", traces=tuple(traces)), PAPER_SIZES[paper])
    left, top, width, height = tiling.window
    half = 0.5 * OVERLAP
    upright, level = tiling.template.marks
    for tile in tiling.tiles:
        for right, x in ((1, left + width - half), (-1, left + half)):
            if tiling.neighbour(tile, 0, right):
                assert min(abs(tile.left + 1e3 * mark - x) for mark in upright) >= CLEAR - 1e-6
        for down, y in ((1, top + height - half), (-1, top + half)):
            if tiling.neighbour(tile, down, 0):
                assert min(abs(tile.top - 1e3 * mark - y) for mark in level) >= CLEAR - 1e-6


def joined(tiling: Tiling, traces: tuple[Trace, ...]) -> bool:
    """Whether every point of every trace lies in the window of a page that is printed."""
    left, top, width, height = tiling.window
    for trace in traces:
        for start, end, _ in trace.pieces():
            for share in np.linspace(0.0, 1.0, 50):
                x, y = 1e3 * (start + share * (end - start))
                if not any(
                    left <= tile.left + x <= left + width and top <= tile.top - y <= top + height
                    for tile in tiling.printed
                ):
                    return False
    return True


@pytest.mark.parametrize("paper", PAPER_SIZES)
def test_no_line_falls_on_a_page_that_is_left_out(paper: Any) -> None:
    """Promise to the user: only pages with nothing on them are not printed."""
    square = path((0.0, 0.0), (0.7, 0.0), (0.7, 0.8), (0.0, 0.8), stroke="cut", closed=True)
    tiling = tiled(template(square), PAPER_SIZES[paper])
    assert len(tiling.printed) < len(tiling.tiles)
    assert joined(tiling, (square,))


@pytest.mark.parametrize("name", CHOSEN)
def test_a_build_has_all_its_templates(name: str) -> None:
    """Promise to the user: section, every opening with its screws, shaped boards, a gauge for each tilt."""
    _, box = built_box(name)
    made = templates_of(box, "metric")
    names = " ".join(each.name for each in made)
    assert made[0].name == "Section"
    assert "Cut-out: driver 1" in names
    bevels = {round(math.degrees(abs(edge.bevel)), 2) for board in box.boards for edge in board.edges} - {0.0}
    gauges = [each for each in made if each.name.startswith("Bevel gauge")]
    assert len(gauges) == bool(bevels)
    said = " ".join(label.words for each in gauges for label in each.labels)
    assert all(f"{degrees:g}°" in said for degrees in bevels)
    for board in box.boards:
        if board.role in ("brace", "block") and board.cuts:
            assert board.name.rpartition(" ")[0] in names.lower()
    driver = next(each for each in made if "driver 1" in each.name)
    low, high = driver.extent
    hole = next(cut for board in box.boards for cut in board.cuts if cut.name == "driver 1")
    assert hole.ring is not None
    assert hole.ring.round is not None
    assert min(high - low) > 2.0 * hole.ring.round.radius
    screws = next(cut for board in box.boards for cut in board.cuts if cut.name == "screws of driver 1")
    crosses = [trace for trace in driver.traces if trace.stroke == "thin" and len(trace.points) == 2]
    middles = {tuple(np.round(trace.points.mean(axis=0), 6)) for trace in crosses}
    away = sorted(math.hypot(*middle) for middle in middles)
    assert away == pytest.approx([0.5 * screws.circle] * len(screws.places), abs=1e-5)


@pytest.mark.parametrize("paper", PAPER_SIZES)
def test_pages_say_what_they_are_and_stay_off_the_edge(paper: Any) -> None:
    """Promise to the user: template, page, job, design, face and date on each; nothing in what printers leave white."""
    _, box = built_box("elbow")
    job = f"{HOSTILE} – design D0007 – 14 March 2026"
    pdf = templates_pdf(templates_of(box, "us")[1:], job=job, written=DAY, paper=paper)
    document = pypdfium2.PdfDocument(pdf)
    for number in range(len(document)):
        said = document[number].get_textpage().get_text_bounded()
        assert "D0007" in said
        assert "14 March 2026" in said
        grey = page(pdf, number)
        margin = round(5.0 * DOTS)
        frame = grey.copy()
        frame[margin:-margin, margin:-margin] = 255
        assert frame.min() > 250
    assert HOSTILE in document[0].get_textpage().get_text_bounded().replace("\r\n", " ")
    assert pdf == templates_pdf(templates_of(box, "us")[1:], job=job, written=DAY, paper=paper)


def test_every_page_of_a_cut_out_says_where_it_goes() -> None:
    """Promise to the user: distances from the two edges, beside the template's name."""
    _, box = built_box("pipes")
    cuts = [each for each in templates_of(box, "metric") if each.name.startswith("Cut-out")]
    assert all(each.placed for each in cuts)
    vents = next(each for each in cuts if "vent 1" in each.name)
    hole = next(cut for board in box.boards for cut in board.cuts if cut.name == "vent 1")
    assert hole.ring is not None
    assert hole.ring.round is not None
    across, up = (show_set_out(float(each), "metric") for each in hole.ring.round.centre)
    assert f"vent 1 {across} and {up}" in vents.placed
    assert f"Middle {box.board_called('left side').datum}" in vents.placed


def test_the_section_shows_what_stands_inside() -> None:
    """Promise to the user: braces, blocks and vents are thin lines in it."""
    _, box = built_box("pipes")
    section = templates_of(box, "metric")[0]
    pipes = sum(part.role == "pipe" for part in box.parts)
    inner = sum(board.role in ("brace", "block") for board in box.boards)
    assert sum(trace.stroke == "thin" for trace in section.traces) >= 1 + pipes + inner


def test_the_section_shows_dowels_and_elbows() -> None:
    """Conservation: a dowel lies between the inner faces, an elbow from its short piece to its leg."""
    _, box = built_box("dowels")
    thin = [trace for trace in templates_of(box, "metric")[0].traces if trace.stroke == "thin"]
    back, baffle = (box.board_called(name) for name in ("back", "baffle"))
    dowels = [part for part in box.parts if part.role == "dowel"]
    rods = [solid for part in dowels for solid in part.solids if isinstance(solid, Frustum)]
    heights = {round(float(rod.start[2]), 6) for rod in rods}
    sticks = [each for each in thin if len(each.points) == 4 and round(float(each.points[:, 1].mean()), 6) in heights]
    assert len(sticks) == len(heights)
    for stick in sticks:
        for number, board in ((0, back), (1, baffle), (2, baffle), (3, back)):
            point = np.array([0.0, *stick.points[number]])
            assert abs(float((point - board.inside[0]) @ board.inward)) < 1e-6
    _, box = built_box("elbow")
    thin = [trace for trace in templates_of(box, "metric")[0].traces if trace.stroke == "thin"]
    bends = [solid for part in box.parts for solid in part.solids if isinstance(solid, Bend)]
    assert bends
    ends = np.concatenate([trace.points for trace in thin if not trace.closed])
    for bend in bends:
        middle = (bend.centre + bend.radius * bend.last)[1:]
        assert np.hypot(*(ends - middle).T).min() == pytest.approx(bend.tube_radius, abs=1e-6)


@pytest.mark.parametrize("paper", PAPER_SIZES)
@pytest.mark.parametrize("name", ["pipes", "dowels", "elbow"])
def test_words_on_a_template_lie_on_one_page_and_on_no_line(name: str, paper: Any) -> None:
    """Promise to the user: words are whole, each once, and cut no line short, seam words too."""
    _, box = built_box(name)
    for each in templates_of(box, "metric"):
        tiling = tiled(each, PAPER_SIZES[paper])
        _, _, width, height = tiling.window
        seen = []
        for tile in tiling.printed:
            for word in page_words(tiling, tile):
                if "to here" not in str(word["words"]):
                    seen.append(str(word["words"]))
                assert OVERLAP / 2.0 < float(str(word["x"])) < width - OVERLAP / 2.0
                assert OVERLAP / 2.0 < float(str(word["y"])) < height - OVERLAP / 2.0
        assert sorted(seen) == sorted(label.words for label in each.labels)
    section = tiled(templates_of(box, "metric")[0], PAPER_SIZES[paper])
    for tile in section.printed:
        for word in page_words(section, tile):
            x, y, turn = (float(str(word[key])) for key in ("x", "y", "turn"))
            way = np.array([math.cos(math.radians(turn)), math.sin(math.radians(turn))])
            half = 0.5 * len(str(word["words"]))  # mm; letters are set wider than 1 mm
            middle = np.array([x, y]) + np.array(section.window[:2])
            for trace in section.template.traces:
                for start, end, bulge in trace.pieces():
                    places = places_along(start, end, bulge, 1e-3)
                    off = np.column_stack([tile.left + 1e3 * places[:, 0], tile.top - 1e3 * places[:, 1]]) - middle
                    on = (np.abs(off @ way) < half) & (np.abs(off @ np.array([-way[1], way[0]])) < 1.0)
                    assert not on.any(), word
