"""Where the drivers of one box lie in the air inside, for its inertia; its openings say so themselves."""

from __future__ import annotations

from engine.acoustics.cavity import BOTTOM, FACE, SIDE
from engine.core.compiled import Table, compiled
from engine.facings import DOWN, SIDEWAYS
from engine.packing.box import Box, side_middle
from engine.packing.face import at_face, driver_edge, face_of


class Port:
    """One port of a box, as in ``engine.acoustics.cavity.Ports``; ``radius`` is nan where there is none."""

    kind: int = FACE
    opening: bool = False
    x: float
    y: float
    z: float
    radius: float = float("nan")
    outer: float
    inside: float


@compiled
def put_port(box: Box, port: Port, kind: int, opening: bool, x: float, y: float, z: float, radius: float) -> None:
    """Write a port at (x, y, z), m in the box's own axes, in those of the air inside."""
    port.kind, port.opening, port.radius = kind, opening, radius
    port.x, port.y, port.z = x - box.board, y - box.corner, z - box.board


@compiled
def driver_ports(
    start: int,
    stop: int,
    boxes: Table,
    drivers: Table,
    rules: Table,
    packed: Table,
    column_x: Table,
    ports: Table,
    first: int,
) -> None:
    """The drivers of boxes ``start`` to ``stop``, column by column, into ``ports`` from number ``first`` on."""
    for i in range(start, stop):
        box, driver = boxes[i], drivers[i]
        face = face_of(box, driver.facing)
        edge = driver_edge(box, driver, rules[0])
        rows = packed[i].driver_rows
        for number in range(int(driver.number)):
            s = packed[i].driver_s + (number % rows) * (driver.widest + rules[0].gap)
            port = ports[i, first + number]
            if driver.facing == SIDEWAYS:
                x, y = box.outer_width - box.board, side_middle(box, s, edge)
                put_port(box, port, SIDE, False, x, y, s, 0.5 * driver.cutout)
            else:
                y, z = at_face(face, s, box.board)
                kind = BOTTOM if driver.facing == DOWN else FACE
                put_port(box, port, kind, False, column_x[i, number // rows], y, z, 0.5 * driver.cutout)
