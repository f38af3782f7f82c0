"""What is round and cut to length: pipes with what of them goes into an elbow's socket, dowels with their ends."""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import dataclass

from engine.arrays import Floats
from engine.quantities import Units, show, show_set_out
from engine.report.blocks import Table
from engine.space.bodies import Bend, Frustum
from engine.words.voice import listed
from engine.workshop.alike import in_few
from engine.workshop.board import SQUARE, Box, Part

SAME = 1e-6  # m
NEAR = 1e-3  # rad, within which two leans are one


@dataclass(frozen=True)
class CutPiece:
    """One straight piece, m: how long it is cut, how much of it lies in a socket."""

    length: float
    in_socket: float


def cut_pieces(pipe: Part) -> list[CutPiece]:
    """The straight pieces of a pipe from its outer mouth on; one where it has no bend."""
    straight, turned, sockets = _pieces(pipe)
    if turned is None:
        return [CutPiece(pipe.length, 0.0)]
    return [CutPiece(each.length, sockets[0].length if sockets else 0.0) for each in straight]


def pipe_table(box: Box, units: Units) -> Table | None:
    """Every pipe, piece by piece; None of a box without any."""
    rows = []
    for pipe in (part for part in box.parts if part.role == "pipe"):
        straight, turned, sockets = _pieces(pipe)
        outer = show_set_out(2.0 * straight[0].radii[0], units)
        for number, piece in enumerate(cut_pieces(pipe), start=1):
            name = pipe.name if turned is None else f"{pipe.name}, piece {number}"
            into = f"{show_set_out(piece.in_socket, units)} of it in the elbow's socket" if piece.in_socket else ""
            rows.append((name, f"⌀ {outer}", show_set_out(piece.length, units), into))
        if turned is not None:
            socket = (
                f"sockets {show_set_out(sockets[0].length, units)} deep, ⌀ "
                f"{show_set_out(2.0 * sockets[0].radii[0], units)} outside; "
                if sockets
                else ""
            )
            whole = f"{show_set_out(pipe.length, units)} along the middle line in all"
            rows.append(
                (f"{pipe.name}, elbow", f"⌀ {outer}", "",
                 f"quarter bend, middle line {show_set_out(turned.radius, units)} radius; {socket}{whole}")
            )  # fmt: skip
    if not rows:
        return None
    return Table(headings=("Piece", "Outside", "Cut to", ""), rows=tuple(rows), figures=(2,), wide=(3,))


def straight_pieces(pipe: Part) -> list[Frustum]:
    """Its straight pieces as solids, from its outer mouth on."""
    return _pieces(pipe)[0]


@dataclass(frozen=True)
class CutDowel:
    """One dowel: its longest side, m, and from square the angles of both ends, rad, positive where it is longest below.

    Its middle is in both ends' middle: between the inner faces of back and baffle at its height.
    """

    length: float
    rear: float
    front: float


def cut_dowel(box: Box, dowel: Part) -> CutDowel:
    """How a dowel is cut, by the lean of back and baffle."""
    back, baffle = (box.board_called(name).inside[:, 1:] for name in ("back", "baffle"))

    def lean(face: Floats) -> float:
        (y, z), (upper_y, upper_z) = face[face[:, 1].argmin()], face[face[:, 1].argmax()]
        return math.atan((upper_y - y) / (upper_z - z))

    return CutDowel(dowel.length, lean(back), -lean(baffle))


def dowel_table(box: Box, units: Units) -> Table | None:
    """Every sort of dowel; None of a box without any."""
    names: dict[tuple[float, ...], list[str]] = defaultdict(list)
    for dowel in (part for part in box.parts if part.role == "dowel"):
        cut = cut_dowel(box, dowel)
        thick = 2.0 * dowel_radius(dowel)
        names[tuple(round(each, 6) for each in (thick, cut.length, cut.rear, cut.front))].append(dowel.name)
    if not names:
        return None
    rows = tuple(
        (listed(in_few(same)), f"{len(same)}", f"⌀ {show_set_out(thick, units)}", show_set_out(long, units),
         f"{_end('rear', _as_set(box, rear), units)}; {_end('front', _as_set(box, front), units)}")
        for (thick, long, rear, front), same in names.items()
    )  # fmt: skip
    return Table(
        headings=("Dowel", "Pieces", "Thick", "Longest side", "Ends"), rows=rows, figures=(1, 2, 3), wide=(4,)
    )  # fmt: skip


def _as_set(box: Box, angle: float) -> float:
    """An angle as the saw is set to it for the bevels of the same lean, rad."""
    edges = [edge for board in box.boards for edge in board.edges if abs(edge.bevel) > SQUARE]
    nearest = min(edges, key=lambda edge: abs(abs(edge.true) - abs(angle)), default=None)
    if nearest is None or abs(abs(nearest.true) - abs(angle)) > NEAR:
        return angle
    return math.copysign(abs(nearest.bevel), angle)


def dowel_radius(dowel: Part) -> float:
    return next(float(solid.radii[0]) for solid in dowel.solids if isinstance(solid, Frustum))


def _end(name: str, angle: float, units: Units) -> str:
    if abs(angle) < SQUARE:
        return f"{name} end square"
    below = "below" if angle > 0.0 else "above"
    return f"{name} end {show(abs(angle), 'angle', units)} off square, longest {below}"


def _pieces(pipe: Part) -> tuple[list[Frustum], Bend | None, list[Frustum]]:
    """Straight pieces, the bend between them and its sockets."""
    turned = next((solid for solid in pipe.solids if isinstance(solid, Bend)), None)
    rounds = [solid for solid in pipe.solids if isinstance(solid, Frustum)]
    straight = rounds[: 1 if turned is None else 2]
    sockets = [each for each in rounds[2:] if each.radii[0] > straight[0].radii[0] + SAME] if turned else []
    return straight, turned, sockets
