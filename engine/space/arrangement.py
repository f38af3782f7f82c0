"""What every box has as bodies: panels, braces, drivers, the terminal cup.  Openings bring their own."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import shapely
from numpy.typing import NDArray

from engine.facings import SIDEWAYS
from engine.openings import OPENINGS
from engine.packing.box import side_middle
from engine.packing.contents import TERMINAL_WIDTH, allowances_of, drivers_of
from engine.packing.face import driver_edge, face_of
from engine.space.bodies import (
    BASKET,
    BRACE,
    CUP,
    CUP_FLANGE,
    DRIVER_FLANGE,
    DUCT,
    DUCT_AIR,
    FLANGE_THICKNESS,
    FREE_AIR,
    HOLE,
    MAGNET,
    PANEL,
    REAR_AIR,
    SAME,
    SLOT_BOARD,
    TERMINALS,
    Assembly,
    Body,
    Frustum,
    Prism,
    Role,
    Shape,
    Thing,
    cylinder,
    seat,
)
from engine.space.interior import Interior, at_height, level_section, round_hole
from engine.space.layout import Layout, boxes_of

Floats = NDArray[np.float64]


def interior_of(layout: Layout, i: int) -> Interior:
    """Design ``i`` of a layout, ready for bodies to be made."""
    one = layout.take(np.array([i]))
    across, boxes, number = one.across, boxes_of(one.wedges), int(one.opening[0])
    drivers, rules = drivers_of(one.contents, one.wedges.board), allowances_of(one.rules)
    sizes = OPENINGS.records[number].packing.sizes_of(one.contents, boxes, one.rules)
    return Interior(
        wedge=one.wedges,
        contents=one.contents,
        face=face_of(boxes[0], drivers[0].facing),
        gap=one.rules.breathing_gap,
        laid={name: float(one.column(name)[0]) for name in one.names},
        cup=one.rules.cup,
        column_x=_stated(across.column_x),
        brace_x=_stated(across.brace_x),
        opening_x=_stated(across.opening_x),
        shell=boxes[0],
        driver=drivers[0],
        rules=rules[0],
        opening=sizes[0],
        own=one.own[number][0],
    )


def _stated(x: Floats) -> tuple[float, ...]:
    """The places that there are of the first box."""
    return tuple(x[0][np.isfinite(x[0])].tolist())


def assembled(box: Interior, openings: Sequence[Body]) -> Assembly:
    """Panels, braces, drivers and terminal cup of a box with the bodies of its ``openings``."""
    window = box.laid["brace_window"]
    braces = [
        brace(number, x, box.inner, board=box.board, window=window, others=openings)
        for number, x in enumerate(box.brace_x, start=1)
    ]
    return Assembly(
        outer=Prism(section=box.outer, x=(0.0, box.width)),
        inner=Prism(section=box.inner, x=(box.board, box.width - box.board)),
        bodies=(*panels(box.outer, box.inner, box.width, box.board), *braces, *_drivers(box), *openings, *_cup(box)),
    )


def panels(outer: Floats, inner: Floats, width: float, board: float) -> list[Body]:
    """Six panels: whole sides; bottom and top between them; back and baffle between those, bevelled."""
    between = (board, width - board)
    low, high = board, float(outer[2, 1]) - board
    back_low, back_high = (at_height(outer[0], outer[3], z) for z in (low, high))
    front_low, front_high = (at_height(outer[1], outer[2], z) for z in (low, high))
    shapes = {
        "left side": Prism(section=outer, x=(0.0, board)),
        "right side": Prism(section=outer, x=(width - board, width)),
        "bottom": Prism(section=np.array([outer[0], outer[1], front_low, back_low]), x=between),
        "top": Prism(section=np.array([back_high, front_high, outer[2], outer[3]]), x=between),
        "back": Prism(section=np.array([back_low, inner[0], inner[3], back_high]), x=between),
        "baffle": Prism(section=np.array([inner[1], front_low, front_high, inner[2]]), x=between),
    }
    return [
        Body(name=f"the {name} panel", role=PANEL, thing=Thing("panel", number), shapes=(shape,), panel=name)
        for number, (name, shape) in enumerate(shapes.items(), start=1)
    ]


# Drivers


def _drivers(box: Interior) -> list[Body]:
    sideways = int(box.contents.facing[0]) == SIDEWAYS
    rows, pitch = int(box.laid["driver_rows"]), float(box.contents.widest[0]) + box.gap
    found: list[Body] = []
    for number in range(int(box.contents.driver_count[0])):
        s = box.laid["driver_s"] + (number % rows) * pitch
        if sideways:
            face, inward = _in_side_panel(box, s), np.array([-1.0, 0.0, 0.0])
        else:
            face, inward = box.on_panel(box.column_x[number // rows], s, 0.0), box.inward
        found += driver(
            number + 1,
            face,
            inward,
            panel="right side" if sideways else box.panel,
            board=box.board,
            hole=0.5 * box.size("cutout_diameter"),
            magnet=0.5 * box.size("magnet_diameter"),
            flange=0.5 * box.size("outer_diameter"),
            neck=float(box.contents.neck(box.board)[0]),
            reach=float(box.contents.reach(box.board)[0]),
            rear_gap=box.size("rear_gap"),
            terminal_depth=box.size("terminal_depth"),
        )
    return found


def _in_side_panel(box: Interior, z: float) -> Floats:
    """Centre of a driver's hole in the right side panel."""
    return np.array([box.width, side_middle(box.shell, z, driver_edge(box.shell, box.driver, box.rules)), z])


def driver(
    number: int,
    face: Floats,
    inward: Floats,
    *,
    panel: str,
    board: float,
    hole: float,
    magnet: float,
    flange: float,
    neck: float,
    reach: float,
    rear_gap: float = 0.0,
    terminal_depth: float = 0.0,
) -> list[Body]:
    """Bodies of one driver, "driver 1" and so on.

    Parameters
    ----------
    face, inward
        Centre (3,) of its cut-out on the outer face of its ``panel``, and the unit vector from there into the box.
    panel, board
        Name and thickness of the panel, m.
    hole, magnet, flange
        Radii, m.
    neck, reach
        Depths behind the panel's outer face at which the basket has narrowed to the magnet, and of the rear, m.
    rear_gap
        Air kept free behind the magnet, m.
    terminal_depth
        Depth to which room for solder tags is kept beside the basket, m; none within the board.
    """
    name, thing = f"driver {number}", Thing("driver", number)
    inside, narrow, rear, air = (face + depth * inward for depth in (board, neck, reach, reach + rear_gap))
    found = seat(
        name, thing, DRIVER_FLANGE, face=face, inward=inward, panel=panel, board=board,
        hole=hole, flange=flange, rear=rear,
    )  # fmt: skip

    def body(called: str, role: Role, shape: Shape, through: str = panel) -> None:
        found.append(Body(name=called, role=role, thing=thing, shapes=(shape,), panel=through))

    if neck > board:
        body(name, BASKET, Frustum(start=inside, end=narrow, radii=(hole, magnet)))
    if reach > neck:
        body(name, MAGNET, cylinder(narrow, rear, magnet))
    if rear_gap > 0.0:
        body(f"the air behind {name}", REAR_AIR, cylinder(rear, air, magnet), "")
    if terminal_depth > board:
        body(f"the terminals of {name}", TERMINALS, _terminals(face, inward, hole, magnet, (board, terminal_depth)))
    return found


def _terminals(face: Floats, inward: Floats, hole: float, magnet: float, depths: tuple[float, float]) -> Prism:
    """Room for the solder tags: the driver is turned so that they point along the width, or up in a side panel."""
    half = min(0.5 * TERMINAL_WIDTH, magnet)
    out = float(np.sqrt(hole**2 - half**2))
    (x, y, z), (start, end) = face, depths
    if inward[0]:
        section = np.array([[y - half, z], [y + half, z], [y + half, z + out], [y - half, z + out]])
        return Prism(section=section, x=(x - end, x - start))
    along = np.array([inward[2], -inward[1]])  # the panel
    corners = [(-half, start), (half, start), (half, end), (-half, end)]
    section = np.array([face[1:] + s * along + d * inward[1:] for s, d in corners])
    return Prism(section=section, x=(float(x), float(x) + out))


# Braces and cup


def brace(number: int, x: float, inner: Floats, *, board: float, window: float, others: Sequence[Body]) -> Body:
    """A plate across the section whose left face is at ``x``.

    Cut away are ``window``, a part of its whole area, holes for pipes that pass and the channel
    of a slot, together.  ``others`` are the bodies of the openings; it ends at the board of a slot that passes it.
    """
    whole = shapely.Polygon(inner)
    section = _beyond_ducts(inner, x, others)
    plate = shapely.Polygon(section)
    target = window * whole.area - (whole.area - plate.area)
    holes = shapely.union_all([round_hole(air.start[1:], air.radii[0]) for air in _passing(others, x)])
    small, large = 0.0, 1.0
    opening = holes
    for _ in range(60):
        scale = 0.5 * (small + large)
        opening = shapely.union_all([shapely.affinity.scale(plate, scale, scale, origin="centroid"), holes])
        # What opens all round would fall out.
        opening = shapely.union_all([shapely.Polygon(piece.exterior) for piece in shapely.get_parts(opening)])
        if opening.area > target:
            large = scale
        else:
            small = scale
    rings = [piece for piece in shapely.get_parts(opening) if piece.area > SAME]
    shape = Prism(
        section=section,
        x=(x, x + board),
        holes=tuple(np.asarray(ring.exterior.coords)[:-1] for ring in rings),
    )
    return Body(name=f"brace {number}", role=BRACE, thing=Thing("brace", number), shapes=(shape,))


def _beyond_ducts(inner: Floats, x: float, others: Sequence[Body]) -> Floats:
    """What ducts along the bottom or the top leave of the inside at a place across the width."""
    for board in (body for body in others if body.role is SLOT_BOARD):
        ducts = [body for body in others if body.role in (DUCT, DUCT_AIR) and body.thing == board.thing]
        lying, channel = board.prisms[0].section[:, 1], ducts[0].prisms[0].section[:, 1]
        if any(part.x[0] <= x < part.x[1] for body in ducts for part in body.prisms):
            if lying.mean() > channel.mean():
                inner = level_section(inner, float(lying.max()), float(inner[2, 1]))
            else:
                inner = level_section(inner, float(inner[0, 1]), float(lying.min()))
    return inner


def _passing(others: Sequence[Body], x: float) -> list[Frustum]:
    """The air before the inner mouths of pipes along the width that go on beyond a place."""
    found = [air for body in others if body.role is FREE_AIR for air in body.frusta]
    return [air for air in found if abs(air.axis[0]) > 0.5 and air.end[0] > x]


def _cup(box: Interior) -> list[Body]:
    cup = box.cup
    if cup is None or np.isnan(box.laid["cup_y"]):
        return []
    centre = np.array([box.width, box.laid["cup_y"], box.laid["cup_z"]])
    return terminal_cup(
        centre, np.array([-1.0, 0.0, 0.0]), panel="right side", board=box.board,
        hole=0.5 * cup.cutout_diameter, flange=0.5 * cup.flange_diameter, depth=cup.depth,
    )  # fmt: skip


def terminal_cup(
    face: Floats, inward: Floats, *, panel: str, board: float, hole: float, flange: float, depth: float
) -> list[Body]:
    """Bodies of the terminal cup, its hole centred on ``face`` (3,); ``hole`` and ``flange`` are radii, m."""
    shapes: tuple[tuple[str, Role, Frustum], ...] = (
        ("the flange of the terminal cup", CUP_FLANGE, cylinder(face - FLANGE_THICKNESS * inward, face, flange)),
        ("the hole for the terminal cup", HOLE, cylinder(face, face + board * inward, hole)),
        ("the terminal cup", CUP, cylinder(face, face + depth * inward, hole)),
    )
    return [
        Body(name=name, role=role, thing=Thing("cup"), shapes=(shape,), panel=panel) for name, role, shape in shapes
    ]
