"""Pipes as they are cut: straight pieces with what of them goes into an elbow's socket."""

from __future__ import annotations

from dataclasses import dataclass

from engine.quantities import Units, show_set_out
from engine.report.blocks import Table
from engine.space.bodies import Bend, Frustum
from engine.workshop.board import Box, Part

SAME = 1e-6  # m


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


def _pieces(pipe: Part) -> tuple[list[Frustum], Bend | None, list[Frustum]]:
    """Straight pieces, the bend between them and its sockets."""
    turned = next((solid for solid in pipe.solids if isinstance(solid, Bend)), None)
    rounds = [solid for solid in pipe.solids if isinstance(solid, Frustum)]
    straight = rounds[: 1 if turned is None else 2]
    sockets = [each for each in rounds[2:] if each.radii[0] > straight[0].radii[0] + SAME] if turned else []
    return straight, turned, sockets
