"""What is cut into panels: for drivers, passive radiators, vents, the cup, with the screws that hold them."""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace

import numpy as np
import shapely

from engine.arrays import Floats
from engine.space import roles
from engine.space.bodies import SIDES, Assembly, Body, Prism, Thing, outer_corners
from engine.workshop.board import SAME, Board, Cut, Operation
from engine.workshop.ring import Ring

# Common practice, no source.
PLAY = 0.0005  # m, round a flange in its recess
PILOT = 0.7  # of a screw's diameter
SCREW_LONG = 0.025  # m, of screws that hold flanges; at least so much board is left behind a pilot hole:
LEFT_BEHIND = 0.002  # m
DOWEL_SCREW = 0.0045  # m, hole for the screw through a panel into the end of a dowel
SCREWS = ((0.18, 4, 0.004), (0.26, 6, 0.004), (0.40, 8, 0.005), (math.inf, 8, 0.006))  # flanges up to, how many, thick
CALLED = {"driver": "driver", "pipe": "vent", "radiator": "passive radiator", "cup": "terminal cup", "slot": "slot"}
ALONE = ("cup", "slot")  # of which a box has one


@dataclass(frozen=True, kw_only=True)
class Screws:
    """Screws of a flange: the diameter of their circle, how many, how thick, m.

    ``turn`` is the angle from the terminals to the first one, rad; nan: the terminals lie midway between two.
    """

    circle: float
    count: int
    thick: float
    turn: float = math.nan

    def turned(self, terminals: float) -> Floats:
        """Their directions where the terminals point so, rad, as both run round a face."""
        first = math.pi / self.count if math.isnan(self.turn) else self.turn
        return np.asarray(terminals + first + 2.0 * math.pi / self.count * np.arange(self.count))


def usual_screws(*, cutout: float, flange: float, stated: Screws | None = None) -> Screws:
    """What is stated of a flange's screws; what is not, as is usual for its size: midway between hole and edge.

    ``cutout`` and ``flange`` are diameters, m.  Common practice, no source.
    """
    _, count, thick = next(each for each in SCREWS if flange <= each[0])
    usual = Screws(circle=0.5 * (cutout + flange), count=count, thick=thick)
    if stated is None:
        return usual
    return Screws(
        circle=usual.circle if math.isnan(stated.circle) else stated.circle,
        count=stated.count or usual.count,
        thick=usual.thick if math.isnan(stated.thick) else stated.thick,
        turn=stated.turn,
    )


def called(thing: Thing) -> str:
    """What a thing is called on boards and in files."""
    return CALLED[thing.kind] if thing.kind in ALONE else f"{CALLED[thing.kind]} {thing.number}"


def with_cuts(boards: Sequence[Board], parts: Assembly, screws: dict[str, Screws]) -> list[Board]:
    """Panels with everything that is cut into them; ``screws`` are those of each kind of thing that has some."""
    found = []
    for board in boards:
        if board.role not in ("shell", "layer"):
            found.append(board)
            continue
        panel = "baffle" if board.role == "layer" else board.name
        here = [body for body in parts.bodies if body.panel == panel]
        cuts = [*_holes(board, here), *_windows(board, here, parts.outer), *_dowel_screws(board, parts)]
        cuts += _mounted(board, here, parts, screws)
        found.append(replace(board, cuts=(*board.cuts, *cuts)))
    return found


def _holes(board: Board, here: Iterable[Body]) -> Iterable[Cut]:
    for body in here:
        if body.role in (roles.CUTOUT, roles.HOLE):
            (hole,) = body.frusta
            ring = Ring.circle(board.on(hole.start), hole.radii[0])
            yield _cut(board, called(body.thing), board.inward, ring)


def _windows(board: Board, here: Iterable[Body], outer: Prism) -> Iterable[Cut]:
    """Mouths of slots: their walls run level or along the width, whatever the lean of the panel."""
    for body in here:
        if body.role is not roles.WINDOW:
            continue
        axis = np.array([1.0, 0.0, 0.0]) if body.panel in SIDES else np.array([0.0, 1.0, 0.0])
        axis = axis * np.sign(axis @ board.inward)
        corners = outer_corners(body.prisms[0], outer)
        depth = (board.outside[0] - corners) @ board.inward / (axis @ board.inward)
        ring = Ring.straight(board.on(corners + depth[:, np.newaxis] * axis))
        yield _cut(board, called(body.thing), axis, ring)


def _cut(board: Board, name: str, axis: Floats, ring: Ring) -> Cut:
    """A hole, or a notch where it is open to an edge of the board."""
    whole = shapely.Polygon(board.corners("outside"))
    inside = whole.buffer(-SAME, join_style="mitre").contains(ring.polygon())
    operation: Operation = "hole" if inside else "notch"
    lean = math.acos(min(float(axis @ board.inward), 1.0))
    return Cut(name=name, operation=operation, axis=axis, ring=ring, passes=name, lean=lean if lean > SAME else 0.0)


def _mounted(board: Board, here: Sequence[Body], parts: Assembly, screws: dict[str, Screws]) -> Iterable[Cut]:
    """Recesses and pilot holes of flanges.  What is deeper than a second layer goes on in the board behind it."""
    outermost = board.role == "layer" or not (board.name == "baffle" and parts.layer > 0.0)
    before = 0.0 if outermost else parts.layer
    for body in here:
        if body.role not in (roles.DRIVER_FLANGE, roles.RADIATOR_FLANGE, roles.CUP_FLANGE):
            continue
        name, (flange,) = called(body.thing), body.frusta
        centre = board.on(flange.end)
        sunk = 0.0 if body.role is roles.CUP_FLANGE else parts.recess - before
        if sunk > SAME:
            ring, through = Ring.circle(centre, flange.radii[0] + PLAY), sunk > board.thickness - SAME
            yield Cut(
                name=f"recess of {name}", operation="hole" if through else "recess", axis=board.inward, ring=ring,
                depth=math.nan if through else sunk, passes=name,
            )  # fmt: skip
        own = next(each for each in parts.things[body.thing] if each.role in (roles.CUTOUT, roles.HOLE)).frusta[0]
        held = usual_screws(
            cutout=2.0 * own.radii[0], flange=2.0 * flange.radii[0], stated=screws.get(body.thing.kind)
        )  # fmt: skip
        # Terminals point along the width, in a side panel up.
        points = board.on(board.outside[0] + ([0.0, 0.0, 1.0] if body.panel in SIDES else [1.0, 0.0, 0.0]))
        ways = held.turned(math.atan2(float(points[1]), float(points[0])))
        reach = min(SCREW_LONG, parts.thickness(body.panel) - max(sunk, 0.0) - LEFT_BEHIND) - before
        if reach > SAME:
            yield Cut(
                name=f"screws of {name}", operation="drill", axis=board.inward, passes=name,
                places=centre + 0.5 * held.circle * np.column_stack([np.cos(ways), np.sin(ways)]),
                diameter=PILOT * held.thick, circle=held.circle,
                depth=reach if reach < board.thickness - SAME else math.nan,
            )  # fmt: skip


def _dowel_screws(board: Board, parts: Assembly) -> Iterable[Cut]:
    """Through back and baffle into the ends of dowels."""
    if board.name not in ("back", "baffle", "baffle layer"):
        return
    for body in parts.of(roles.DOWEL):
        crossings = []
        for dowel in body.frusta:
            depth = float((board.outside[0] - dowel.start) @ board.inward / (dowel.axis @ board.inward))
            crossings.append(board.on(dowel.start + depth * dowel.axis))
        yield Cut(
            name=f"screws of {body.name}", operation="drill", axis=board.inward, places=np.array(crossings),
            diameter=DOWEL_SCREW, passes=body.name,
        )  # fmt: skip
