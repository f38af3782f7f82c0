"""Every body of one laid-out design: panels, braces, drivers, the terminal cup; its opening brings its own."""

from __future__ import annotations

import numpy as np

from engine.arrays import Floats
from engine.core.compiled import Table
from engine.facings import SIDEWAYS
from engine.openings import OPENINGS
from engine.packing.box import side_middle
from engine.packing.contents import TERMINAL_WIDTH, Driver
from engine.packing.face import driver_edge
from engine.space import roles
from engine.space.bodies import FLANGE_THICKNESS, Assembly, Body, Frustum, Prism, Thing, cylinder, screwed_on, seat
from engine.space.braces import braces_of
from engine.space.interior import Interior, level_section
from engine.space.layout import Layout

LEFTWARD = np.array([-1.0, 0.0, 0.0])  # into the box from its right side panel


def bodies_of(layout: Layout, i: int) -> Assembly:
    """Every body of design ``i`` of a layout; made for designs whose slacks are all ≥ 0."""
    one = layout.take(np.array([i]))
    wedges, batch, number = one.wedges, one.batch, int(one.opening[0])
    opening, packed_on_head = OPENINGS.records[number], bool(one.contents.driver("upside_down")[0])
    stands = wedges.upside_down if packed_on_head else wedges
    across = {key: getattr(one.across, key) for key in ("column_x", "brace_x", "opening_x")}
    box = Interior(
        outer=stands.outer_section[0],
        inner=stands.inner_section[0],
        shell=batch.boxes[0],
        driver=batch.drivers[batch.which[0]],
        rules=batch.rules[0],
        packed=one.packed[0],
        opening=one.sizes[number][0],
        own=one.own[number][0],
        **{key: tuple(x[0][np.isfinite(x[0])].tolist()) for key, x in across.items()},
    )
    found = opening.bodies(box)
    outer, inner = wedges.outer_section[0], wedges.inner_section[0]
    inside = [*outer_layer(box), *braces_of(box, found), *_drivers(box), *found, *_cup(box)]
    if packed_on_head:
        top = outer[3]
        inside = [body.upside_down(rear=float(top[0]), height=float(top[1])) for body in inside]
    return Assembly(
        outer=Prism(section=outer, x=(0.0, box.width)),
        inner=Prism(section=inner, x=(box.board, box.width - box.board)),
        bodies=(*panels(outer, inner, box.width, box.board), *inside),
        layer=box.front - box.board,
        recess=float(box.rules.recess),
    )


def panels(outer: Floats, inner: Floats, width: float, board: float) -> list[Body]:
    """Six panels: whole sides; bottom and top between them; back and baffle between those, bevelled."""
    between = (board, width - board)
    back_low, front_low, front_high, back_high = level_section(outer, board, float(outer[2, 1]) - board)
    shapes = {
        "left side": (outer, (0.0, board)),
        "right side": (outer, (width - board, width)),
        "bottom": ([outer[0], outer[1], front_low, back_low], between),
        "top": ([back_high, front_high, outer[2], outer[3]], between),
        "back": ([back_low, inner[0], inner[3], back_high], between),
        "baffle": ([inner[1], front_low, front_high, inner[2]], between),
    }
    return [
        Body(f"the {name} panel", roles.PANEL, Thing("panel", number), (Prism(section=np.array(section), x=x),), name)
        for number, (name, (section, x)) in enumerate(shapes.items(), start=1)
    ]


def outer_layer(box: Interior) -> list[Body]:
    """The second layer of a double baffle, before the first and as wide; nothing of a single one."""
    if not box.front > box.board:
        return []
    between = level_section(box.outer, box.board, float(box.outer[2, 1]) - box.board)
    low, high = between[1], between[2]
    behind = np.array([(box.front - box.board) * float(box.shell.baffle_secant), 0.0])
    shape = Prism(section=np.array([low - behind, low, high, high - behind]), x=(box.board, box.width - box.board))
    return [Body("the second layer of the baffle", roles.LAYER, Thing("layer"), (shape,), "baffle")]


def _drivers(box: Interior) -> list[Body]:
    sideways, sizes = box.driver.facing == SIDEWAYS, box.driver
    rows, pitch = int(box.packed.driver_rows), sizes.widest + box.rules.gap
    found: list[Body] = []
    for number in range(int(sizes.number)):
        s = box.packed.driver_s + (number % rows) * pitch
        if sideways:  # s is a height
            y = side_middle(box.shell, s, driver_edge(box.shell, sizes, box.rules))
            panel, face, inward = "right side", np.array([box.width, y, s]), LEFTWARD
        else:
            panel, face, inward = box.panel, box.on_panel(box.column_x[number // rows], s), box.inward
        thick = box.board if sideways else box.front
        held = {"wood": float(box.rules.wood), "recess": float(box.rules.recess)}
        found += driver(number + 1, face, inward, sizes, panel=panel, board=thick, **held)
    return found


def driver(
    number: int, face: Floats, inward: Floats, sizes: Driver | Table, *, panel: str, board: float, wood: float = 0.0,
    recess: float = 0.0,
) -> list[Body]:  # fmt: skip
    """Bodies of one driver, "driver 1" and so on.

    Its cut-out is centred on ``face`` (3,), on the outer face of a ``panel`` as thick as ``board``, from where the unit
    vector ``inward`` points into the box.  Room for solder tags is kept beside the basket to their depth, none
    within the board or where it is nan.  ``wood`` and ``recess`` are as for :func:`engine.space.bodies.seat`.  Lengths
    in m.
    """
    name, thing, hole, magnet = f"driver {number}", Thing("driver", number), 0.5 * sizes.cutout, 0.5 * sizes.magnet
    depths = (board, sizes.neck, sizes.reach, sizes.reach + sizes.rear_gap)
    inside, narrow, rear, air = (face + depth * inward for depth in depths)
    axis, flange = (face, inward, rear), 0.5 * sizes.flange
    held = {"hole": hole, "flange": flange, "wood": wood, "recess": recess}
    found = seat(name, thing, roles.DRIVER_FLANGE, axis, panel=panel, board=board, **held)
    if sizes.neck > board:
        basket = Frustum(start=inside, end=narrow, radii=(hole, magnet))
        found.append(Body(name, roles.BASKET, thing, (basket,), panel))
    if sizes.reach > sizes.neck:
        found.append(Body(name, roles.MAGNET, thing, (cylinder(narrow, rear, magnet),), panel))
    if sizes.rear_gap > 0.0:
        found.append(Body(f"the air behind {name}", roles.REAR_AIR, thing, (cylinder(rear, air, magnet),)))
    if sizes.terminal_depth > board:
        tags = _terminals(face, inward, hole, magnet, (board, float(sizes.terminal_depth)))
        found.append(Body(f"the terminals of {name}", roles.TERMINALS, thing, (tags,), panel))
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


def _cup(box: Interior) -> list[Body]:
    rules, place = box.rules, np.array([box.width, box.packed.cup_y, box.packed.cup_z])
    if not rules.cup or np.isnan(place[1]):
        return []
    sizes = {"hole": 0.5 * rules.cup_cutout, "flange": 0.5 * rules.cup_flange, "depth": rules.cup_depth}
    sizes |= {"room": rules.cup_room, "wood": rules.wood}
    return terminal_cup(place, LEFTWARD, panel="right side", board=box.board, **sizes)


def terminal_cup(
    face: Floats, inward: Floats, *, panel: str, board: float, hole: float, flange: float, depth: float,
    room: float = 0.0, wood: float = 0.0,
) -> list[Body]:  # fmt: skip
    """Bodies of the terminal cup, its hole centred on ``face`` (3,); ``hole`` and ``flange`` are radii, m.

    ``room`` is kept before it for the plug, m; ``wood`` is as for :func:`engine.space.bodies.seat`.
    """
    pieces = (
        ("the flange of the terminal cup", roles.CUP_FLANGE, cylinder(face - FLANGE_THICKNESS * inward, face, flange)),
        ("the hole for the terminal cup", roles.HOLE, cylinder(face, face + board * inward, hole)),
        ("the terminal cup", roles.CUP, cylinder(face, face + depth * inward, hole)),
    )
    thing = Thing("cup")
    found = [Body(name, role, thing, (shape,), panel) for name, role, shape in pieces]
    axis = (face, inward, face + depth * inward)
    found += screwed_on("the terminal cup", thing, axis, panel=panel, board=board, hole=hole, flange=flange, wood=wood)
    if room > 0.0:
        before = cylinder(face - room * inward, face, hole)
        found.append(Body("the room for the plug", roles.OUTSIDE_AIR, thing, (before,)))
    return found
