"""Boards as DXF, a file for each that differs: seen square on to its named face, in mm, kerf not compensated.

One file a board and not a sheet: what goes where on a sheet is the shop's own machine's business, and its program
nests; how many are cut, of which thickness, stands in the file's name.
"""

from __future__ import annotations

import math
import re
from datetime import date

import numpy as np
import shapely

from engine.arrays import Floats
from engine.file_names import stem
from engine.formats.dxf import Curve, Note, write_dxf
from engine.workshop.alike import alike, names_of
from engine.workshop.board import GRID, Board, Box, Cut
from engine.workshop.ring import Ring

LONG, SHORT, THROUGH = "OUTLINE_LONG_POINT", "OUTLINE_SHORT_POINT", "HOLE_THROUGH"
_COLOURS = {LONG: 7, SHORT: 5, THROUGH: 1}
_RECESS, _DRILL = 3, 6  # colours
_LINE = 0.009  # m, from one line of notes to the next
_LEAST = 1e-7  # m² by which outlines have to differ


def dxf_files(box: Box, *, design: str, written: date) -> dict[str, bytes]:
    """Files by name, in the order of the cutting list; ``design`` is the design's id."""
    found = {}
    for number, same in enumerate(alike(box.boards), start=1):
        thick = f"{_plain_mm(same[0].thickness)}mm"
        name = f"{number:02d}-{_plain(same[0].name)}-{thick}-{len(same)}x.dxf"
        found[name] = board_dxf(same, job=box.title, design=design, written=written)
    return found


def board_dxf(same: tuple[Board, ...], *, job: str, design: str, written: date) -> bytes:
    """The file of boards that are cut alike; layers are as :func:`layer_of` says."""
    board = same[0]
    outer, inner = silhouette(board), core(board)
    origin = outer.points.min(axis=0)
    curves, colours = [_curve(LONG, outer, origin)], dict(_COLOURS)
    if outer.area - inner.area > _LEAST or _differ(outer, inner):
        curves.append(_curve(SHORT, inner, origin))
    for cut in board.cuts:
        if cut.operation == "notch":
            continue  # in the outline
        layer = layer_of(cut)
        colours.setdefault(layer, _DRILL if cut.operation == "drill" else _RECESS)
        curves += [_curve(layer, seen_ring(board, ring), origin) for ring in cut.outlines]
    lines = [
        f"{names_of(same)}: {len(same)} x, {_plain_mm(board.thickness)} mm, {board.face}",
        f"{job} - design {design} - {written.isoformat()}",
        "Units mm, 1:1. Kerf not compensated.",
        f"left: {board.ways[0]}; right: {board.ways[1]}; down: {board.ways[2]}; up: {board.ways[3]}",
        *_said_of_edges(board),
        *(f"{cut.name}: walls lean {math.degrees(cut.lean):.1f} deg" for cut in board.cuts if abs(cut.lean) > 1e-4),
        *board.notes,
    ]
    notes = [Note((0.0, -(number + 2) * _LINE), line) for number, line in enumerate(lines)]
    return write_dxf(curves, notes, colours=colours)


def layer_of(cut: Cut) -> str:
    """The layer of what is cut: what the tool does and how deep it goes.

    "HOLE_THROUGH", "RECESS_DEPTH_6MM", "DRILL_3MM_DEPTH_15MM", "DRILL_5MM_THROUGH"; with "_FROM_INSIDE" where it is
    worked from the face that is not seen.
    """
    if cut.operation == "hole" and cut.through:
        return THROUGH
    tool = f"DRILL_{_mm(cut.diameter)}" if cut.operation == "drill" else "RECESS"
    deep = "THROUGH" if cut.through else f"DEPTH_{_mm(cut.depth)}"
    return f"{tool}_{deep}" + ("_FROM_INSIDE" if cut.face == "inside" else "")


def seen_ring(board: Board, ring: Ring) -> Ring:
    """An outline on a board's named face as who stands before it sees it, anticlockwise."""
    if not board.mirrored:
        return ring
    return Ring(board.seen(ring.points)[::-1], np.roll(ring.bulges[::-1], -1))


def silhouette(board: Board) -> Ring:
    """What has to be sawn of a sheet before edges are bevelled, as seen, notches off: its long points."""
    both = np.concatenate([board.corners("outside"), board.corners("inside")])
    return _without_notches(board, shapely.MultiPoint(both).convex_hull)


def core(board: Board) -> Ring:
    """What both faces have in common, as seen, notches off: its short points."""
    faces = [shapely.Polygon(board.corners(side)) for side in ("outside", "inside")]
    return _without_notches(board, shapely.intersection(*faces))


def _without_notches(board: Board, whole: shapely.Geometry) -> Ring:
    notches = [cut.ring for cut in board.cuts if cut.operation == "notch" and cut.ring is not None]
    circles = [circle for ring in notches for circle in ring.arcs]
    left = shapely.difference(whole, shapely.union_all([ring.polygon() for ring in notches]), grid_size=GRID)
    piece = max(shapely.get_parts(left), key=lambda each: float(each.area))
    corners = np.asarray(piece.exterior.coords)[:-1]
    return seen_ring(board, Ring.through(corners, circles) if circles else Ring.straight(corners))


def _differ(one: Ring, other: Ring) -> bool:
    return bool(shapely.hausdorff_distance(one.polygon(), other.polygon()) > 1e-5)


def _curve(layer: str, ring: Ring, origin: Floats) -> Curve:
    return Curve(layer, ring.points - origin, ring.bulges)


def _said_of_edges(board: Board) -> list[str]:
    """Edges that are not square, a line each."""
    return [
        f"edge {number} ({edge.side}): bevel {math.degrees(abs(edge.bevel)):.1f} deg, "
        f"{board.face if edge.bevel > 0.0 else 'other face'} reaches further"
        for number, edge in enumerate(board.edges, start=1)
        if abs(edge.bevel) > 1e-4
    ]


def _mm(length: float) -> str:
    return f"{_plain_mm(length)}MM"


def _plain_mm(length: float) -> str:
    """Millimetres to a hundredth, halves up."""
    return f"{math.floor(1e5 * length + 0.5 + 1e-6) / 100:g}"


def _plain(name: str) -> str:
    """A name in letters that any disk and any cutting program takes."""
    ascii_only = re.sub(r"[^a-z0-9]+", "-", name.lower())
    return stem(ascii_only, usual="board")
