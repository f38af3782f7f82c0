"""Boards made up for tests: a plain wedge-shaped carcass, and rectangles."""

from __future__ import annotations

import math

import numpy as np

from engine.workshop.board import Board, Edge, Role

WAYS = ("left", "right", "down", "up")


def board(
    name: str, outside: object, inside: object, bevels: tuple[float, ...] = (0.0,) * 4, role: Role = "shell"
) -> Board:
    faces = np.asarray(outside, dtype=float), np.asarray(inside, dtype=float)
    way = np.cross(faces[0][1] - faces[0][0], faces[0][-1] - faces[0][0])
    thick = abs(float((faces[1][0] - faces[0][0]) @ way / np.linalg.norm(way)))
    edges = tuple(Edge(side=f"edge {k}", bevel=bevel) for k, bevel in enumerate(bevels))
    return Board(
        name=name, role=role, thickness=thick, outside=faces[0], inside=faces[1], edges=edges, ways=WAYS, datum=""
    )


def plate(name: str, length: float, width: float, thickness: float = 0.018, role: Role = "brace") -> Board:
    """A rectangle with square edges."""
    corners = np.array([(0.0, 0.0, 0.0), (length, 0.0, 0.0), (length, 0.0, width), (0.0, 0.0, width)])
    return board(name, corners, corners - [0.0, thickness, 0.0], role=role)


def carcass(
    width: float, height: float, bottom: float, top: float, lean: float = 0.0, thick: float = 0.018
) -> list[Board]:
    """Six boards, sides over all, exact bevels: depths measured level, the back leaning by ``lean`` rad."""
    rise = height * math.tan(lean)
    section = np.array([(0.0, 0.0), (bottom, 0.0), (rise + top, height), (rise, height)])
    slope = (rise + top - bottom) / height
    front = math.atan(slope)

    def at(z: float, y0: float, m: float) -> tuple[float, float]:
        return y0 + m * z, z

    def run(yz: list[tuple[float, float]], x: float) -> list[tuple[float, float, float]]:
        return [(x, y, z) for y, z in yz]

    left, right, high = thick, width - thick, height - thick
    back_in, front_in = thick / math.cos(lean), bottom - thick / math.cos(front)
    tan = math.tan(lean)

    def across(low: tuple[float, float], upper: tuple[float, float]) -> list[tuple[float, float, float]]:
        return [(left, *low), (right, *low), (right, *upper), (left, *upper)]

    sides = [
        board(f"{name} side", run(section.tolist(), outer), run(section.tolist(), inner))
        for name, outer, inner in (("left", 0.0, thick), ("right", width, width - thick))
    ]
    return [
        *sides,
        board("bottom", across((0.0, 0.0), (bottom, 0.0)), across(at(thick, 0.0, tan), at(thick, bottom, slope)),
              (lean, 0.0, -front, 0.0)),
        board("top", across((rise + top, height), (rise, height)), across(at(high, bottom, slope), at(high, 0.0, tan)),
              (front, 0.0, -lean, 0.0)),
        board("back", across(at(thick, 0.0, tan), at(high, 0.0, tan)),
              across(at(thick, back_in, tan), at(high, back_in, tan)), (-lean, 0.0, lean, 0.0)),
        board("baffle", across(at(thick, bottom, slope), at(high, bottom, slope)),
              across(at(thick, front_in, slope), at(high, front_in, slope)), (front, 0.0, -front, 0.0)),
    ]  # fmt: skip
