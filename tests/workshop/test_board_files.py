"""Boards as DXF: read by a general reader and by one that knows nothing of the writer; conservation of every size."""

from __future__ import annotations

import dataclasses
import io
import subprocess
import sys
from datetime import date
from hashlib import sha256
from typing import Any

import ezdxf.recover
import numpy as np
import pytest
import shapely

from engine.formats.dxf import NOTES, Curve, Note, in_dxf, write_dxf
from engine.workshop.alike import alike
from engine.workshop.board import Board, Cut
from engine.workshop.board_files import LONG, SHORT, THROUGH, board_dxf, dxf_files, layer_of, silhouette
from engine.workshop.ring import Ring
from tests.workshop.built_boxes import CHOSEN, built_box
from tests.workshop.dxf_reader import DXFFile, read_dxf

DAY = date(2026, 3, 14)
MM = 1e3
FINE = 1e-3  # mm
HAIR = 0.05  # mm; a wall beside a hollow that is thinner is taken for part of its arc
HOSTILE = '<b>"x"\n  0\nEOF\n%%d ^J \\P {\\H3;} \x00 Ωж'


def files(name: str) -> list[tuple[Board, bytes]]:
    _, box = built_box(name)
    found = dxf_files(box, design="D0007", written=DAY)
    assert len(found) == len(alike(box.boards))
    return [(same[0], data) for same, data in zip(alike(box.boards), found.values(), strict=True)]


@pytest.mark.parametrize("name", CHOSEN)
def test_a_general_reader_finds_nothing_to_mend(name: str) -> None:
    """Independent implementation: ezdxf's recovering reader and auditor take every file as it is, in mm."""
    for _, data in files(name):
        document, auditor = ezdxf.recover.read(io.BytesIO(data))
        assert not auditor.errors
        assert not auditor.fixes
        assert document.units == ezdxf.units.MM


def on(file: DXFFile, layer: str) -> list[float]:
    """Areas on a layer, mm², in order of size."""
    return sorted(each.area for each in file.entities if each.layer == layer)


@pytest.mark.parametrize("name", CHOSEN)
def test_outlines_are_closed_and_as_large_as_the_board(name: str) -> None:
    """Conservation, by a second reader: the long points' outline, what both faces share, each hole, in mm."""
    for board, data in files(name):
        file = read_dxf(data)
        assert file.header["$INSUNITS"] == "4"
        assert all(each.closed for each in file.entities if each.layer != NOTES)
        (outline,) = (each for each in file.entities if each.layer == LONG)
        both = np.concatenate([board.corners("outside"), board.corners("inside")])
        hollow = any(cut.operation == "notch" for cut in board.cuts)
        np.testing.assert_allclose(outline.span, MM * np.ptp(both, axis=0), atol=HAIR if hollow else FINE)
        faces = [shapely.Polygon(MM * board.corners(side)) for side in ("outside", "inside")]
        if not hollow:
            assert outline.area == pytest.approx(shapely.union_all(faces).convex_hull.area, rel=1e-6)
            if (short := on(file, SHORT)) or not shapely.equals_exact(*faces, tolerance=0.05):
                assert short == [pytest.approx(shapely.intersection(*faces).area, rel=1e-6)]
        holes = [MM**2 * cut.ring.area for cut in board.cuts if layer_of(cut) == THROUGH and cut.ring is not None]
        assert on(file, THROUGH) == pytest.approx(sorted(holes), rel=1e-6)


def test_arcs_stay_arcs() -> None:
    """Promise to the user: a round hole is a circle, a window's corner a bulge of its true radius, no facets."""
    found = {board.name: read_dxf(data) for board, data in files("pipes")}
    vents = [each for each in found["left side"].entities if each.kind == "CIRCLE"]
    _, box = built_box("pipes")
    holes = [cut.ring for cut in box.board_called("left side").cuts]
    assert sorted(each.every(40)[0] for each in vents) == pytest.approx(
        sorted(MM * ring.round.radius for ring in holes if ring is not None and ring.round is not None)
    )
    (window,) = (each for each in found["brace 1"].entities if each.layer == THROUGH and each.kind == "LWPOLYLINE")
    assert len(window.corners) == 8
    assert sum(bulge != 0.0 for _, _, bulge in window.corners) == 4


def test_a_hollow_is_one_arc_of_the_outline() -> None:
    """Promise to the user: blocks are hollowed out by an arc of the pipe's own radius."""
    _, box = built_box("pipes")
    block = next(board for board in box.boards if board.role == "block")
    arcs = silhouette(block).arcs
    (notch,) = (cut.ring for cut in block.cuts)
    assert notch is not None
    assert len(arcs) == 1
    assert arcs[0].radius == pytest.approx(notch.arcs[0].radius, abs=1e-6)


def test_a_board_that_is_seen_from_behind_is_drawn_as_seen() -> None:
    """Promise to the user: the right side lies with its front to the left, its cup where it is seen."""
    _, box = built_box("pipes")
    board = box.board_called("right side")
    file = read_dxf(next(data for each, data in files("pipes") if each is board))
    cup = next(cut for cut in board.cuts if cut.name == "terminal cup")
    (hole,) = (each for each in file.entities if each.layer == THROUGH)
    assert cup.ring is not None
    assert cup.ring.round is not None
    width = np.ptp(board.corners("outside")[:, 0])
    across, up = cup.ring.round.centre
    assert (hole.every(10)[0], hole.every(20)[0]) == pytest.approx((MM * (width - across), MM * up), abs=FINE)


def cut(**changed: Any) -> Cut:
    ring = Ring.circle((0.0, 0.0), 0.05)
    given: dict[str, Any] = {"name": "c", "operation": "hole", "axis": np.array([1.0, 0.0, 0.0]), "ring": ring}
    return Cut(**{**given, **changed})


def test_layers_say_tool_and_depth() -> None:
    """Promise to the user: a layer for each operation, with its depth."""
    drilled = {"operation": "drill", "ring": None, "places": np.zeros((1, 2)), "diameter": 0.0028}
    assert layer_of(cut()) == "HOLE_THROUGH"
    assert layer_of(cut(operation="recess", depth=0.0065)) == "RECESS_DEPTH_6.5MM"
    assert layer_of(cut(operation="recess", depth=0.003, face="inside")) == "RECESS_DEPTH_3MM_FROM_INSIDE"
    assert layer_of(cut(**drilled, depth=0.016)) == "DRILL_2.8MM_DEPTH_16MM"
    assert layer_of(cut(**drilled)) == "DRILL_2.8MM_THROUGH"


def test_notes_name_job_design_face_and_date() -> None:
    """Promise to the user."""
    _, box = built_box("pipes")
    for board, data in files("pipes"):
        words = [each.text(1) for each in read_dxf(data).entities if each.kind == "TEXT"]
        assert any(board.face in each for each in words)
        assert any(box.title in each and "D0007" in each and "2026-03-14" in each for each in words)
        assert any("mm" in each and "Kerf" in each for each in words)


def test_what_users_type_is_text_in_it() -> None:
    """Promise to the user: a job's name can neither end the file nor draw anything."""
    _, box = built_box("pipes")
    plain, hostile = (
        read_dxf(board_dxf((box.boards[0],), job=job, design="D1", written=DAY)) for job in ("plain", HOSTILE)
    )
    assert [each.kind for each in hostile.entities] == [each.kind for each in plain.entities]
    assert hostile.layers == plain.layers
    document, auditor = ezdxf.recover.read(io.BytesIO(board_dxf((box.boards[0],), job=HOSTILE, design="", written=DAY)))
    assert not auditor.errors
    assert any("Ωж" in each.dxf.text for each in document.modelspace().query("TEXT"))
    assert "\n" not in in_dxf(HOSTILE)


def test_the_same_boards_give_the_same_bytes_in_any_process() -> None:
    """Promise to the user: nothing of the clock, the machine or a hash's seed."""
    code = (
        "import numpy as np, hashlib; from engine.formats.dxf import *;"
        "c = Curve('L', np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 0.5)]), np.array([0.0, 0.4, 0.0]));"
        "print(hashlib.sha256(write_dxf([c], [Note((0.0, -0.1), 'n')], colours={'L': 7})).hexdigest())"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    curve = Curve("L", np.array([(0.0, 0.0), (1.0, 0.0), (1.0, 0.5)]), np.array([0.0, 0.4, 0.0]))
    here = write_dxf([curve], [Note((0.0, -0.1), "n")], colours={"L": 7})
    assert sha256(here).hexdigest() == done.stdout.strip()
    _, box = built_box("pipes")
    again = dataclasses.replace(box)
    assert dxf_files(box, design="D", written=DAY) == dxf_files(again, design="D", written=DAY)
