"""A design's bodies as boards: the shell in its joint order, and what stands inside; cuts come from ``holes``."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterator, Sequence
from dataclasses import replace

import numpy as np
import shapely

from engine.arrays import Floats
from engine.space import roles
from engine.space.bodies import Assembly, Body, Circle, Prism, Thing
from engine.workshop.board import SAME, SQUARE, Board, Cut, Edge, Role, Side
from engine.workshop.holes import called
from engine.workshop.joints import JointOrder, Lengthwise, panels
from engine.workshop.ring import Ring

LEAST_PIECE = 1e-8  # m², of what is cut off an outline
NEAR = 1e-5  # m, within which boards touch
X = np.array([1.0, 0.0, 0.0])

# Edges of boards along the width, and where left, right, down and up are, seen from outside.
_UPRIGHT = ("lower", "right", "upper", "left")
_EDGES = {"bottom": ("rear", "right", "front", "left"), "top": ("front", "right", "rear", "left")}
_WAYS = {
    "bottom": ("left", "right", "back", "front"),
    "top": ("left", "right", "front", "back"),
    "back": ("right", "left", "bottom", "top"),
}
_FRONT = ("left", "right", "bottom", "top")
_FROM_LEFT, _FROM_RIGHT = ("back", "front", "bottom", "top"), ("front", "back", "bottom", "top")

AsSet = Callable[[float], float]  # from the true angle of a bevel to what the saw is set to, rad


def shell(parts: Assembly, order: JointOrder, as_set: AsSet) -> list[Board]:
    """The panels, whole: sides, bottom, top, back, baffle, and the baffle's second layer."""
    outer, inner, width = parts.outer.section, parts.inner.section, parts.outer.x[1]
    sides, others = panels(order, outer=outer, inner=inner, width=width, board=parts.board, layer=parts.layer)
    thick = sides.thickness
    found = [
        across("left side", "shell", Prism(section=sides.section, x=(0.0, thick)), face="outside"),
        across(
            "right side", "shell", Prism(section=sides.section, x=(width - thick, width)), face="outside", left=False
        ),
    ]
    for name, panel in others.items():
        role: Role = "layer" if name == "baffle layer" else "shell"
        thickness = parts.layer if role == "layer" else parts.board
        found.append(lengthwise(name, role, panel, thickness=thickness, as_set=as_set))
    return found


def lengthwise(
    name: str, role: Role, panel: Lengthwise, *, thickness: float, as_set: AsSet, like: str = "", face: str = "outside"
) -> Board:
    """A board along the width; it lies ``like`` a panel, or is one."""
    like = like or name
    ends = np.array(panel.x)[[0, 1, 1, 0]]
    outside, inside = (np.column_stack([ends, line[[0, 0, 1, 1]]]) for line in (panel.outside, panel.inside))
    way = (panel.outside[1] - panel.outside[0]) / np.linalg.norm(panel.outside[1] - panel.outside[0])
    further = [float((panel.inside[k] - panel.outside[k]) @ way) * sign for k, sign in ((0, 1.0), (1, -1.0))]
    low, high = (math.atan2(each, thickness) for each in further)
    sides = _EDGES.get(like, _UPRIGHT)
    edges = tuple(
        Edge(side=side, true=true, bevel=as_set(true)) for side, true in zip(sides, (low, 0.0, high, 0.0), strict=True)
    )
    first = {"bottom": "rear", "top": "front"}.get(like, "lower")
    left = "left end of the box (seen from the front)" if like == "back" else "left"
    return Board(
        name=name, role=role, thickness=thickness, outside=outside, inside=inside, edges=edges, face=face,
        ways=_WAYS.get(like, _FRONT), mirrored=like == "back", datum=f"from the {left} and the {first} edge",
    )  # fmt: skip


def across(name: str, role: Role, prism: Prism, *, face: str, left: bool = True) -> Board:
    """A board that stands across the width, its outside face the left one or the right one; its edges are square.

    Of an outline that is not convex the board is the hull, and what that has too much is cut off it.
    """
    whole = shapely.Polygon(prism.section)
    hull = shapely.simplify(whole.convex_hull, SAME)
    corners = np.asarray(shapely.geometry.polygon.orient(hull).exterior.coords)[:-1]
    # From the rearmost of the lowest corners.
    low = corners[:, 1] < corners[:, 1].min() + SAME
    corners = np.roll(corners, -int(np.flatnonzero(low)[np.argmin(corners[low, 0])]), axis=0)
    outer, inner = prism.x if left else prism.x[::-1]
    outside, inside = (np.column_stack([np.full(len(corners), x), corners]) for x in (outer, inner))
    board = Board(
        name=name, role=role, thickness=prism.x[1] - prism.x[0], outside=outside, inside=inside,
        edges=tuple(Edge(side=side) for side in _sides(corners)), face=face,
        ways=_FROM_LEFT if left else _FROM_RIGHT, mirrored=not left,
        datum="from the lower rear corner along the lower edge, and square up from that edge",
    )  # fmt: skip
    inward = X if left else -X
    circles = [Circle(board.on(np.array([outer, *each.centre])), each.radius) for each in prism.circles]

    def ring(points: Floats) -> Ring:
        return Ring.through(board.on(np.column_stack([np.full(len(points), outer), points])), circles)

    cuts = [
        Cut(name="hollow", operation="notch", axis=inward, ring=ring(np.asarray(each.exterior.coords)[:-1]))
        for each in shapely.get_parts(shapely.Polygon(corners) - whole)
        if each.area > LEAST_PIECE
    ]
    for hole in prism.holes:
        outline = ring(hole)
        name = "window" if outline.round is None else "pipe hole"
        cuts.append(Cut(name=name, operation="hole", axis=inward, ring=outline))
    return replace(board, cuts=tuple(cuts))


def _sides(corners: Floats) -> list[str]:
    """What the edges of a section (K, 2), anticlockwise, are called; of two on one side the second is numbered."""
    ways = np.roll(corners, -1, axis=0) - corners
    outward = np.column_stack([ways[:, 1], -ways[:, 0]])
    found: list[str] = []
    for y, z in outward:
        side = ("front" if y > 0.0 else "rear") if abs(y) > abs(z) else ("upper" if z > 0.0 else "lower")
        count = sum(each.split(",")[0] == side for each in found)
        found.append(f"{side}, {count + 1}" if count else side)
    return found


def inner_boards(parts: Assembly, as_set: AsSet) -> Iterator[Board]:
    """Braces (dowels are none), slot boards and blocks."""
    pipes = parts.of(roles.PASSING_PIPE)
    for body in parts.of(roles.BRACE):
        pieces = [each for each in body.prisms if len(each.section) > 2]
        what = "strip" if body.form == "strips" else "part"
        for number, prism in enumerate(pieces, start=1):
            name = body.name if len(pieces) == 1 else f"{body.name}, {what} {number}"
            yield _told_apart(across(name, "brace", prism, face="left face"), pipes)
    for body in parts.of(roles.BLOCK):
        for prism in body.prisms:
            yield _told_apart(across(body.name, "block", prism, face="left face"), pipes)
    for body in parts.of(roles.SLOT_BOARD):
        yield from _slot_boards(parts, body.thing, body.prisms, as_set)


def _told_apart(board: Board, pipes: Sequence[Body]) -> Board:
    """A board whose holes and hollows are called by the vents that pass or lie there."""
    cuts = []
    for cut in board.cuts:
        for circle in cut.ring.arcs[:1] if cut.ring is not None and cut.name != "window" else ():
            ends = [body.frusta[-1] for body in pipes]
            off = [float(np.linalg.norm(board.on(end.end) - circle.centre)) for end in ends]
            if off and min(off) < NEAR:
                vent = called(pipes[off.index(min(off))].thing)
                what = "hole for" if cut.operation == "hole" else "hollow for"
                cut = replace(cut, name=f"{what} {vent}", passes=vent)
        cuts.append(cut)
    return replace(board, cuts=tuple(cuts))


def _slot_boards(parts: Assembly, thing: Thing, boards: Sequence[Prism], as_set: AsSet) -> Iterator[Board]:
    """The one along the width, whose outside face is the slot's, and the one beside a leg along the right side."""
    first, *leg = boards
    duct = next(body for body in parts.things[thing] if body.role is roles.DUCT).prisms[0]
    low = duct.section[:, 1].mean() < first.section[:, 1].mean()
    back_low, front_low, front_high, back_high = first.section
    near, far = (
        ((back_low, front_low), (back_high, front_high)) if low else ((front_high, back_high), (front_low, back_low))
    )
    panel = Lengthwise(np.array(near), np.array(far), first.x)
    thickness = float(front_high[1] - front_low[1])
    yield lengthwise(
        "slot board", "slot", panel, thickness=thickness, as_set=as_set, like="bottom" if low else "top",
        face="face to the slot",
    )  # fmt: skip
    for prism in leg:
        yield across("slot board by the right side", "slot", prism, face="face to the slot", left=False)


def joined(boards: Sequence[Board]) -> list[Board]:
    """Boards that know of each edge which other board it lies against."""
    return [
        replace(
            board,
            edges=tuple(replace(edge, meets=_meets(board, number, boards)) for number, edge in enumerate(board.edges)),
        )
        for board in boards
    ]


def _meets(board: Board, number: int, boards: Sequence[Board]) -> str:
    after = (number + 1) % len(board.outside)
    middle = 0.25 * (board.outside[number] + board.outside[after] + board.inside[number] + board.inside[after])
    for other in boards:
        if other is board:
            continue
        depth = float((middle - other.outside[0]) @ other.inward)
        faces: tuple[tuple[Side, float], ...] = (("outside", 0.0), ("inside", other.thickness))
        for side, at in faces:
            if abs(depth - at) < NEAR:
                face = shapely.Polygon(other.corners(side))
                if face.buffer(NEAR).contains(shapely.Point(other.on(middle))):
                    return other.name
    return ""


def rounded(boards: Sequence[Board], outer: Prism, radius: float) -> list[Board]:
    """Boards whose outside edges along the box's own are rounded over to ``radius`` m."""
    if not radius > 0.0:
        return list(boards)
    left, right = (np.insert(outer.section, 0, x, axis=1) for x in outer.x)
    lines = [(ring[k - 1], ring[k]) for ring in (left, right) for k in range(4)] + list(zip(left, right, strict=True))
    found = []
    for board in boards:
        ends = zip(board.outside, np.roll(board.outside, -1, axis=0), strict=True)
        on = [any(_off(line, start) < NEAR and _off(line, end) < NEAR for line in lines) for start, end in ends]
        edges = (
            replace(edge, round_over=radius) if is_on else edge for edge, is_on in zip(board.edges, on, strict=True)
        )
        found.append(replace(board, edges=tuple(edges)) if board.role in ("shell", "layer") else board)
    return found


def _off(line: tuple[Floats, Floats], point: Floats) -> float:
    """Distance of a point from a straight line through two others, m."""
    way = (line[1] - line[0]) / np.linalg.norm(line[1] - line[0])
    out = point - line[0]
    return float(np.linalg.norm(out - (out @ way) * way))


def as_set_by(nominal: dict[float, float]) -> AsSet:
    """From the true angle of a bevel to what the saw is set to: ``nominal`` by the true leans of panels, rad."""

    def as_set(true: float) -> float:
        if abs(true) < SQUARE:
            return 0.0
        lean = min(nominal, key=lambda each: abs(abs(each) - abs(true)))
        return math.copysign(abs(nominal[lean]), true)

    return as_set
