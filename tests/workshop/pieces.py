"""Parts of designs made by hand, piece by piece, to be drawn: no layout has a say in them."""

from __future__ import annotations

import dataclasses
import math
from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from engine.openings.pipe.solids import vent
from engine.openings.radiator.packing import Radiators
from engine.openings.radiator.solids import radiator
from engine.openings.slot.solids import slot
from engine.packing import contents
from engine.parts import Driver
from engine.space import roles
from engine.space.arrangement import driver, panels, terminal_cup
from engine.space.bodies import Assembly, Bend, Body, Frustum, Prism, Thing, cylinder
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]

BOARD = 0.018

DRIVER = Driver(
    name="round 10", fs=30.0, qes=0.5, qms=5.0, vas=0.04, sd=0.033, re=3.4, xmax=0.01, rated_power=300.0,
    outer_diameter=0.262, cutout_diameter=0.234, magnet_diameter=0.15, mounting_depth=0.11,
    magnet_depth=0.04, rear_gap=0.012, terminal_depth=0.08,
)  # fmt: skip


def driver_in(panel: str, face: Floats, inward: Floats, *, driver_: Driver = DRIVER, tags: bool = False) -> list[Body]:
    """A driver whose cut-out is centred on ``face`` (x, y, z), its parts told by the data sheet."""
    sizes = driver_sizes(
        flange=driver_.outer_diameter, cutout=driver_.cutout_diameter, magnet=driver_.magnet_diameter,
        neck=driver_.mounting_depth - driver_.magnet_depth, reach=driver_.mounting_depth, rear_gap=0.012,
        terminal_depth=0.08 if tags else 0.0,
    )  # fmt: skip
    return driver(1, face, inward, sizes, panel=panel, board=BOARD)


def driver_sizes(
    *,
    flange: float,
    cutout: float,
    magnet: float,
    neck: float,
    reach: float,
    rear_gap: float,
    terminal_depth: float = 0.0,
) -> contents.Driver:
    """One driver as the packing takes it."""
    inside = max(cutout, magnet)
    return contents.Driver(
        facing=0, number=1.0, flange=flange, cutout=cutout, magnet=magnet, inside=inside, widest=max(flange, inside),
        reach=reach, neck=neck, rear_gap=rear_gap, terminal_depth=terminal_depth,
        displacement=0.0,
        stirred=0.0,
    )  # fmt: skip


def straight_vent(
    through: str, mouth: Floats, inward: Floats, *, length: float, bore: float = 0.071, flare: float = 0.0
) -> list[Body]:
    pipe = (cylinder(mouth, mouth + length * inward, 0.5 * bore + 0.002),)
    return _vent(through, pipe, bore=bore, flare=flare)


def bent_vent(
    through: str,
    mouth: Floats,
    inward: Floats,
    onward: Floats,
    *,
    first: float,
    last: float,
    radius: float = 0.08,
    flare: float = 0.0,
) -> list[Body]:
    """Straight in, a quarter turn, straight on."""
    bore = 0.071
    size, corner = 0.5 * bore + 0.002, mouth + first * inward
    centre = corner + radius * onward
    after = centre + radius * inward
    pipe = (
        cylinder(mouth, corner, size),
        Bend(centre=centre, first=-onward, last=inward, radius=radius, tube_radius=size),
        cylinder(after, after + last * onward, size),
    )
    return _vent(through, pipe, bore=bore, flare=flare)


def _vent(through: str, pipe: tuple[Frustum | Bend, ...], *, bore: float, flare: float) -> list[Body]:
    first, last = pipe[0], pipe[-1]
    assert isinstance(first, Frustum)
    assert isinstance(last, Frustum)
    passing = bool(last.axis[0] > 0.9)
    return vent(
        1,
        pipe=pipe,
        bore=0.5 * bore,
        air_radius=max(first.radii[0], 0.5 * bore + flare),
        panel=through,
        passing=passing,
        board=BOARD,
        flare=flare,
    )


def radiator_in(panel: str, face: Floats, inward: Floats, *, reach: float = 0.06) -> list[Body]:
    """A passive radiator 220 mm over its flange, 196 mm in its hole, 60 mm deep."""
    sizes = Radiators(number=1.0, flange=0.22, cutout=0.196, reach=reach, displacement=0.0)
    return radiator(1, face, inward, sizes, panel=panel, board=BOARD)


def slot_in(
    wedge: Wedges, *, height: float, end: float, leg: float = 0.0, high: bool = False, through: str
) -> list[Body]:
    """A slot vent along the bottom or the top: as far as ``end`` across the width, or with a leg at the right.

    Through the baffle its window is 0.16 m wide.
    """
    width, tall = float(wedge.outer_width[0]), float(wedge.outer_height[0])

    def level(start: float, stop: float) -> Floats:
        """Section of the inside between two distances from the panel that the slot lies on."""
        low, top = (tall - BOARD - stop, tall - BOARD - start) if high else (BOARD + start, BOARD + stop)
        return between(wedge.inner_section[0], low, top)

    right = width - BOARD
    turn = (right - height, right)
    boards = [Prism(section=level(height, height + BOARD), x=(BOARD, turn[0] if leg else end))]
    duct = [Prism(section=level(0.0, height), x=(BOARD, right if leg else end))]
    air = Prism(section=level(0.0, height), x=(end, end + height))
    if leg:
        boards.append(Prism(section=level(height + BOARD, height + leg), x=(turn[0] - BOARD, turn[0])))
        duct.append(Prism(section=level(height, height + leg), x=turn))
        air = Prism(section=level(height + leg, 2.0 * height + leg), x=turn)
    section = duct[0].section
    if through == "left side":
        return slot(boards, duct, air, Prism(section=section, x=(0.0, BOARD)), panel=through)
    heights = section[:, 1].min(), section[:, 1].max()
    ends = between(wedge.outer_section[0], *heights)[1:3]
    window = Prism(section=np.array([section[1], *ends, section[2]]), x=(BOARD, BOARD + 0.16))
    return slot(boards, duct, air, window, panel=through)


def between(section: Floats, low: float, high: float) -> Floats:
    """What lies between two heights of a section whose corners are bottom back, bottom front, top front, top back."""

    def across(start: Floats, end: Floats, z: float) -> Floats:
        point: Floats = start + (z - start[1]) / (end[1] - start[1]) * (end - start)
        return point

    back, front = (section[0], section[3]), (section[1], section[2])
    return np.array([across(*back, low), across(*front, low), across(*front, high), across(*back, high)])


def wedge_of(*, width: float, height: float, top: float, bottom: float, back_angle: float = 0.0) -> Wedges:
    return Wedges(
        outer_width=np.array([width]),
        outer_height=np.array([height]),
        top_depth=np.array([top]),
        bottom_depth=np.array([bottom]),
        board=BOARD,
        back_angle=back_angle,
    )


def arranged(
    wedge: Wedges,
    *,
    drivers: Sequence[list[Body]],
    vents: Sequence[list[Body]] = (),
    braces: tuple[float, ...] = (),
    supports: tuple[Prism, ...] = (),
    cup: Sequence[Body] = (),
    radiators: Sequence[list[Body]] = (),
    slot: Sequence[Body] = (),
) -> Assembly:
    inner, width = wedge.inner_section[0], float(wedge.outer_width[0])
    clear = inner
    for body in slot:
        if body.role is roles.SLOT_BOARD:
            board = body.prisms[0].section[:, 1]
            over = board.mean() < inner[:, 1].mean()
            ends = (board.max(), inner[:, 1].max()) if over else (inner[:, 1].min(), board.min())
            clear = between(inner, *ends)
    middle = clear.mean(axis=0)
    window = middle + 0.77 * (clear - middle)
    plates = [Prism(section=clear, x=(x, x + BOARD), holes=(window,)) for x in braces]
    return Assembly(
        outer=Prism(section=wedge.outer_section[0], x=(0.0, width)),
        inner=Prism(section=inner, x=(BOARD, width - BOARD)),
        bodies=(
            *panels(wedge.outer_section[0], inner, width, BOARD),
            *(
                Body(
                    name=f"brace {k}", role=roles.BRACE, thing=Thing("brace", k), shapes=(plate,), form="framed window"
                )
                for k, plate in enumerate(plates, start=1)
            ),
            *numbered(drivers),
            *numbered(vents),
            *(
                Body(name=f"support {k}", role=roles.BLOCK, thing=Thing("block", k), shapes=(block,))
                for k, block in enumerate(supports, start=1)
            ),
            *numbered(radiators),
            *slot,
            *cup,
        ),
    )


def numbered(things: Sequence[list[Body]]) -> list[Body]:
    """Bodies of several things of a kind, which are told apart by their numbers."""
    return [
        dataclasses.replace(body, thing=Thing(body.thing.kind, number))
        for number, bodies in enumerate(things, start=1)
        for body in bodies
    ]


def on_baffle(wedge: Wedges, x: float, s: float) -> tuple[Floats, Floats]:
    """A place on the baffle's outer face, and the direction into the box."""
    lean = math.atan(wedge.baffle_slope[0])
    up = np.array([0.0, math.sin(lean), math.cos(lean)])
    return np.array([x, float(wedge.bottom_depth[0]), 0.0]) + s * up, np.array([0.0, -up[2], up[1]])


def cup_in(panel: str, face: Floats, inward: Floats) -> list[Body]:
    return terminal_cup(face, inward, panel=panel, board=BOARD, hole=0.0375, flange=0.05, depth=0.05)
