"""Boards as a saw sees them: a length and a width between long points, the edges along it, what is cut to marks.

A piece lies with its outside up, seen from there: u runs along it, the way it is ripped, v across it.  Bevels are as
the saw is set, positive where the outside reaches further.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Literal, NamedTuple

import numpy as np

from engine.arrays import Floats
from engine.parts import Cutting
from engine.workshop.board import SAME, SQUARE, Board

ANGLES = 5  # decimals of rad, that one angle is told from another by
PLACES = 7  # decimals of m, far below what is sawn


class Rim(NamedTuple):
    """Where an edge along a piece lies on both faces, v in m, its bevel in rad and what it is called on the board."""

    outside: float
    inside: float
    bevel: float = 0.0
    name: str = ""


class Line(NamedTuple):
    """An edge that is cut to marks on the outside face, from one (u, v) to the next, the piece on its left."""

    start: tuple[float, float]
    end: tuple[float, float]
    bevel: float = 0.0
    name: str = ""


@dataclass(frozen=True, kw_only=True)
class Piece:
    """One sort of board, and the boards that are alike.

    Its rims lie between v = 0 and ``width``, the whole of it between u = 0 and ``length``.  ``square`` says which ends
    are crosscut, at u = 0 and at u = ``length``; what else there is of its outline are ``lines``.  ``grain`` is the way
    that the grain of the sheet has to run, if it has one.
    """

    names: tuple[str, ...]
    role: str
    thickness: float
    length: float
    width: float
    low: Rim
    high: Rim
    square: tuple[bool, bool] = (True, True)
    ends: tuple[str, str] = ("", "")  # what they are called
    lines: tuple[Line, ...] = ()
    grain: Literal["", "length", "width"] = ""
    over: float = 0.0  # m, that it is larger all round than the board it becomes

    @property
    def name(self) -> str:
        return self.names[0]

    @property
    def bevelled(self) -> bool:
        return bool(self.low.bevel or self.high.bevel)

    @property
    def plain(self) -> bool:
        """Whether nothing of it is cut to marks."""
        return not self.lines


def pieces_of(boards: Sequence[Board], cutting: Cutting) -> tuple[Piece, ...]:
    """Boards as pieces, those that are alike in one."""
    sorts: dict[Piece, tuple[str, ...]] = {}
    for board in boards:
        piece = piece_of(board, cutting)
        key = replace(piece, names=(), role="")
        sorts[key] = (*sorts.get(key, ()), board.name)
    roles = {board.name: board.role for board in boards}
    return tuple(replace(piece, names=names, role=roles[names[0]]) for piece, names in sorts.items())


def tilts_of(pieces: Sequence[Piece]) -> tuple[float, ...]:
    """The angles that a saw is tilted to, rad: the one that most edges have first, then the least."""
    angles = [
        round(abs(bevel), ANGLES)
        for piece in pieces
        for bevel in (piece.low.bevel, piece.high.bevel)
        for _ in piece.names
        if bevel
    ]
    if not angles:
        return ()
    first = min(angles, key=lambda angle: (-angles.count(angle), angle))
    return first, *sorted(set(angles) - {first})


def piece_of(board: Board, cutting: Cutting) -> Piece:
    """A board as a piece: its bevelled edges along it if it has any, else the longer of those that are parallel."""
    normal = board.outside[0] - board.inside[0]
    across = np.cross(board.outside[1] - board.outside[0], board.outside[-1] - board.outside[0])
    normal = across * np.sign(across @ normal) / np.linalg.norm(across)
    bevels = [edge.bevel if abs(edge.bevel) > SQUARE else 0.0 for edge in board.edges]
    ways = np.roll(board.outside, -1, axis=0) - board.outside
    ways = ways / np.linalg.norm(ways, axis=1, keepdims=True)
    both = np.concatenate([board.outside, board.inside])
    best: tuple[tuple[float, ...], Floats] | None = None
    for way in ways:
        along = np.abs(ways @ way) > 1.0 - 0.5 * SQUARE**2
        level = np.abs(ways @ way) < SQUARE
        spans = np.ptp(both @ np.column_stack([way, np.cross(way, normal)]), axis=0)
        leaning = sum(abs(bevel) for bevel, lies in zip(bevels, along, strict=True) if lies)
        crosscut = sum(not bevel for bevel, lies in zip(bevels, level, strict=True) if lies)
        worth = (
            round(leaning, 6),
            float(along.sum() + crosscut),
            *np.round([spans[0], -spans[0] * spans[1]], 6).tolist(),
        )
        if best is None or worth > best[0]:
            best = worth, way
    assert best is not None
    u = best[1]
    v = np.cross(u, normal)  # seen from outside u to the right and v up: the box's axes are left-handed
    frame = np.column_stack([u, v])
    outside, inside = board.outside @ frame, board.inside @ frame
    if not _anticlockwise(outside):
        outside, inside = outside[::-1], inside[::-1]
        bevels = [*bevels[-2::-1], bevels[-1]]
        names = [edge.side for edge in board.edges]
        names = [*names[-2::-1], names[-1]]
    else:
        names = [edge.side for edge in board.edges]
    over = cutting.flush if _flushed(board, cutting) and not any(bevels) else 0.0
    if over:
        outside = _grown(outside, over)
        inside = outside
    origin = np.minimum(outside.min(axis=0), inside.min(axis=0))
    return _piece(board, outside - origin, inside - origin, bevels, names, _grain(board, normal, u, v), over)


def _piece(
    board: Board, outside: Floats, inside: Floats, bevels: Sequence[float], names: Sequence[str],
    grain: Literal["", "length", "width"], over: float,
) -> Piece:  # fmt: skip
    """A piece from its faces (K, 2), anticlockwise, in its own frame."""
    length, width = np.maximum(outside.max(axis=0), inside.max(axis=0)).round(PLACES).tolist()
    rims = [Rim(0.0, 0.0), Rim(width, width)]
    square, ends, lines, found = [False, False], ["", ""], [], [False, False]
    for k, (bevel, name) in enumerate(zip(bevels, names, strict=True)):
        start, end = outside[k], outside[(k + 1) % len(outside)]
        run = (end - start) / np.linalg.norm(end - start)
        side = 0 if run[0] > 0.0 else 1
        long = min(float(start[1]), float(inside[k][1])) if side == 0 else max(float(start[1]), float(inside[k][1]))
        if abs(run[1]) < SQUARE and abs(long - (0.0 if side == 0 else width)) < 10 * SAME:
            inset = board.thickness * np.tan(abs(bevel)) * (1.0 if side == 0 else -1.0)
            edge = (0.0 if side == 0 else width), round(float((0.0 if side == 0 else width) + inset), PLACES)
            rims[side] = Rim(*edge, bevel, name) if bevel >= 0.0 else Rim(edge[1], edge[0], bevel, name)
            found[side] = True
        elif (
            abs(run[0]) < SQUARE and not bevel and abs(float(start[0]) - (0.0 if run[1] < 0.0 else length)) < 10 * SAME
        ):
            end_ = 0 if run[1] < 0.0 else 1
            square[end_], ends[end_] = True, name
        else:
            corners = [tuple(np.round(corner, PLACES).tolist()) for corner in (start, end)]
            lines.append(Line((corners[0][0], corners[0][1]), (corners[1][0], corners[1][1]), bevel, name))
    return Piece(
        names=(board.name,), role=board.role, thickness=round(board.thickness, PLACES), length=length, width=width,
        low=rims[0], high=rims[1], square=(square[0], square[1]), ends=(ends[0], ends[1]), lines=tuple(lines),
        grain=grain, over=over,
    )  # fmt: skip


def _anticlockwise(corners: Floats) -> bool:
    (x, y), (next_x, next_y) = corners.T, np.roll(corners, -1, axis=0).T
    return float(x @ next_y - y @ next_x) > 0.0


def _grown(corners: Floats, by: float) -> Floats:
    """A convex outline, anticlockwise, with every side moved out."""
    ways = np.roll(corners, -1, axis=0) - corners
    out = np.column_stack([ways[:, 1], -ways[:, 0]]) / np.linalg.norm(ways, axis=1, keepdims=True)
    reach = np.sum(out * corners, axis=1) + by
    pairs = zip(np.roll(out, 1, axis=0), out, np.roll(reach, 1), reach, strict=True)
    return np.array([np.linalg.solve(np.array([before, own]), [far, near]) for before, own, far, near in pairs])


def _flushed(board: Board, cutting: Cutting) -> bool:
    side = board.role == "shell" and board.name.endswith("side")
    return (side and cutting.flushed in ("sides", "both")) or (
        board.role == "layer" and cutting.flushed in ("layers", "both")
    )


def _grain(board: Board, normal: Floats, u: Floats, v: Floats) -> Literal["", "length", "width"]:
    """Grain runs level round the box: across in what faces forward, back, up or down, forward in its sides.

    What is inside may lie as it comes.  Common practice, no source.
    """
    if board.role not in ("shell", "layer"):
        return ""
    level = np.array([0.0, 1.0, 0.0]) if abs(normal[0]) > 0.5 else np.array([1.0, 0.0, 0.0])
    return "length" if abs(u @ level) >= abs(v @ level) else "width"
