"""Where the drivers of one box lie in the air inside, for its inertia; its openings say so themselves."""

from __future__ import annotations

from typing import NamedTuple

from engine.acoustics.cavity import BOTTOM, FACE, SIDE
from engine.core.compiled import Table, compiled
from engine.facings import DOWN, SIDEWAYS
from engine.packing.box import Box, side_middle
from engine.packing.contents import Batch
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


class Across(NamedTuple):
    """Where what stands in N boxes has its places across the width, m from the left outer face; nan beyond the last.

    A driver in a side panel has none; ``opening_x`` are the centres of passive radiators and of the outer mouths of
    vents through the drivers' panel, and where a slot's channel ends.
    """

    column_x: Table  # (N, C) of columns of drivers
    brace_x: Table  # (N, B) left faces
    opening_x: Table  # (N, M)
    ports: Table  # (N, M + D) of Port: openings, then drivers


@compiled
def put_port(box: Box, port: Port, kind: int, opening: bool, x: float, y: float, z: float, radius: float) -> None:
    """Write a port at (x, y, z), m in the box's own axes, in those of the air inside."""
    port.kind, port.opening, port.radius = kind, opening, radius
    port.x, port.y, port.z = x - box.board, y - box.corner, z - box.board


@compiled
def driver_ports(start: int, stop: int, batch: Batch, across: Across, first: int) -> None:
    """The drivers of boxes ``start`` to ``stop``, column by column, into their ports from number ``first`` on."""
    for i in range(start, stop):
        box, driver = batch.boxes[i], batch.drivers[batch.which[i]]
        rules, packed = batch.rules[0], batch.packed[i]
        face = face_of(box, driver.facing)
        edge = driver_edge(box, driver, rules)
        for number in range(int(driver.number)):
            s = packed.driver_s + (number % packed.driver_rows) * (driver.widest + rules.gap)
            port = across.ports[i, first + number]
            if driver.facing == SIDEWAYS:
                x, y = box.outer_width - box.board, side_middle(box, s, edge)
                put_port(box, port, SIDE, False, x, y, s, 0.5 * driver.cutout)
            else:
                y, z = at_face(face, s, box.front)
                kind = BOTTOM if driver.facing == DOWN else FACE
                x = across.column_x[i, number // packed.driver_rows]
                put_port(box, port, kind, False, x, y, z, 0.5 * driver.cutout)
