"""Parts of designs made by hand, piece by piece, to be drawn: no layout has a say in them."""

from __future__ import annotations

import dataclasses
import math

import numpy as np
from numpy.typing import NDArray

from engine.parts import Driver
from engine.space.arrangement import (
    Arrangement,
    Bend,
    CupSolid,
    DriverSolid,
    Frustum,
    Prism,
    RadiatorSolid,
    SlotSolid,
    VentSolid,
)
from engine.space.wedge import Wedges

Floats = NDArray[np.float64]

BOARD = 0.018

DRIVER = Driver(
    name="round 10", fs=30.0, qes=0.5, qms=5.0, vas=0.04, sd=0.033, re=3.4, xmax=0.01, rated_power=300.0,
    outer_diameter=0.262, cutout_diameter=0.234, magnet_diameter=0.15, mounting_depth=0.11,
    magnet_depth=0.04, rear_gap=0.012, terminal_depth=0.08,
)  # fmt: skip


def panels_of(wedge: Wedges) -> tuple[Prism, ...]:
    """Six panels with butt joints whose ends follow back and baffle; good enough to be drawn."""
    outer, inner, width = wedge.outer_section[0], wedge.inner_section[0], float(wedge.outer_width[0])

    def cross(z: float, low: Floats, high: Floats) -> Floats:
        point: Floats = low + (z - low[1]) / (high[1] - low[1]) * (high - low)
        return point

    low, high = wedge.board, float(wedge.outer_height[0]) - wedge.board
    back = [cross(z, outer[0], outer[3]) for z in (low, high)]
    front = [cross(z, outer[1], outer[2]) for z in (low, high)]
    between = (wedge.board, width - wedge.board)
    return (
        Prism(name="left side", section=outer, x=(0.0, wedge.board)),
        Prism(name="right side", section=outer, x=(width - wedge.board, width)),
        Prism(name="bottom", section=np.array([outer[0], outer[1], front[0], back[0]]), x=between),
        Prism(name="top", section=np.array([back[1], front[1], outer[2], outer[3]]), x=between),
        Prism(name="back", section=np.array([back[0], inner[0], inner[3], back[1]]), x=between),
        Prism(name="baffle", section=np.array([inner[1], front[0], front[1], inner[2]]), x=between),
    )


def driver_in(panel: str, face: Floats, inward: Floats, *, x: float, s: float, driver: Driver = DRIVER) -> DriverSolid:
    """A driver whose cut-out is centred on ``face`` (x, y, z), its parts told by the data sheet."""
    hole, magnet, flange = (0.5 * d for d in (driver.cutout_diameter, driver.magnet_diameter, driver.outer_diameter))
    inside, step, rear = (
        face + depth * inward for depth in (BOARD, driver.mounting_depth - driver.magnet_depth, driver.mounting_depth)
    )
    return DriverSolid(
        body=(
            Frustum(name="basket", start=inside, end=step, radii=(hole, magnet)),
            Frustum(name="magnet", start=step, end=rear, radii=(magnet, magnet)),
        ),
        cutout=Frustum(name="cut-out", start=face, end=inside, radii=(hole, hole)),
        flange=Frustum(name="flange", start=face - 0.005 * inward, end=face, radii=(flange, flange)),
        rear_air=Frustum(name="rear air", start=rear, end=rear + 0.012 * inward, radii=(magnet, magnet)),
        terminals=None,
        panel=panel,
        x=x,
        s=s,
    )


def straight_vent(through: str, mouth: Floats, inward: Floats, *, length: float, bore: float = 0.071) -> VentSolid:
    outer, end = 0.5 * bore + 0.002, mouth + length * inward
    return VentSolid(
        pipe=(Frustum(name="pipe", start=mouth, end=end, radii=(outer, outer)),),
        bore=(Frustum(name="bore", start=mouth, end=end, radii=(0.5 * bore, 0.5 * bore)),),
        free_air=Frustum(name="air", start=end, end=end + bore * inward, radii=(outer, outer)),
        through=through,
    )


def flared(vent: VentSolid, radius: float) -> VentSolid:
    """The same vent with a quarter round at either end, within its length."""
    first, last = vent.bore[0], vent.bore[-1]
    assert isinstance(first, Frustum)
    assert isinstance(last, Frustum)
    rim = first.radii[0] + radius
    rims = [
        Frustum(name="rim", start=end, end=end + radius * (other - end) / np.linalg.norm(other - end), radii=(rim, rim))
        for end, other in ((first.start, first.end), (last.end, last.start))
    ]
    return dataclasses.replace(vent, rims=tuple(rims), flare_radius=radius)


def bent_vent(
    through: str, mouth: Floats, inward: Floats, onward: Floats, *, first: float, last: float, radius: float = 0.08
) -> VentSolid:
    """Straight in, a quarter turn, straight on."""
    bore = 0.071
    outer, inner = 0.5 * bore + 0.002, 0.5 * bore
    corner = mouth + first * inward
    centre = corner + radius * onward
    after = centre + radius * inward
    end = after + last * onward

    def pieces(name: str, size: float) -> tuple[Frustum | Bend, ...]:
        return (
            Frustum(name=f"{name} 1", start=mouth, end=corner, radii=(size, size)),
            Bend(name=f"{name} bend", centre=centre, first=-onward, last=inward, radius=radius, tube_radius=size),
            Frustum(name=f"{name} 2", start=after, end=end, radii=(size, size)),
        )

    return VentSolid(
        pipe=pieces("pipe", outer),
        bore=pieces("bore", inner),
        free_air=Frustum(name="air", start=end, end=end + bore * onward, radii=(outer, outer)),
        through=through,
    )


def radiator_in(panel: str, face: Floats, inward: Floats, *, x: float, s: float) -> RadiatorSolid:
    """A passive radiator 220 mm over its flange, 196 mm in its hole, 60 mm deep."""
    inside, rear = face + BOARD * inward, face + 0.06 * inward
    return RadiatorSolid(
        body=Frustum(name="radiator", start=inside, end=rear, radii=(0.098, 0.098)),
        cutout=Frustum(name="cut-out", start=face, end=inside, radii=(0.098, 0.098)),
        flange=Frustum(name="flange", start=face - 0.005 * inward, end=face, radii=(0.11, 0.11)),
        panel=panel,
        x=x,
        s=s,
    )


def slot_in(
    wedge: Wedges, *, height: float, end: float, leg: float = 0.0, high: bool = False, through: str
) -> SlotSolid:
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
    boards = [Prism(name="slot board", section=level(height, height + BOARD), x=(BOARD, turn[0] if leg else end))]
    bore = [Prism(name="slot", section=level(0.0, height), x=(BOARD, right if leg else end))]
    air = Prism(name="air", section=level(0.0, height), x=(end, end + height))
    if leg:
        boards.append(
            Prism(name="slot board 2", section=level(height + BOARD, height + leg), x=(turn[0] - BOARD, turn[0]))
        )
        bore.append(Prism(name="leg", section=level(height, height + leg), x=turn))
        air = Prism(name="air", section=level(height + leg, 2.0 * height + leg), x=turn)
    section = bore[0].section
    if through == "left side":
        hole = Prism(name="mouth", section=section, x=(0.0, BOARD))
        mouth = np.column_stack([np.zeros(4), section])
    else:
        heights = section[:, 1].min(), section[:, 1].max()
        ends = between(wedge.outer_section[0], *heights)[1:3]
        hole = Prism(name="mouth", section=np.array([section[1], *ends, section[2]]), x=(BOARD, BOARD + 0.16))
        mouth = np.array([[x, *ends[k]] for x, k in ((BOARD, 0), (BOARD + 0.16, 0), (BOARD + 0.16, 1), (BOARD, 1))])
    return SlotSolid(boards=tuple(boards), bore=(hole, *bore), free_air=air, mouth=mouth, through=through)


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
    drivers: tuple[DriverSolid, ...],
    vents: tuple[VentSolid, ...] = (),
    braces: tuple[float, ...] = (),
    supports: tuple[Prism, ...] = (),
    cup: CupSolid | None = None,
    radiators: tuple[RadiatorSolid, ...] = (),
    slot: SlotSolid | None = None,
) -> Arrangement:
    inner, width = wedge.inner_section[0], float(wedge.outer_width[0])
    clear = inner
    if slot is not None:
        board = slot.boards[0].section[:, 1]
        over = board.mean() < inner[:, 1].mean()
        clear = (
            between(inner, board.max(), inner[:, 1].max()) if over else between(inner, inner[:, 1].min(), board.min())
        )
    middle = clear.mean(axis=0)
    window = middle + 0.77 * (clear - middle)
    return Arrangement(
        outer=Prism(name="outer", section=wedge.outer_section[0], x=(0.0, width)),
        inner=Prism(name="inner", section=inner, x=(BOARD, width - BOARD)),
        panels=panels_of(wedge),
        drivers=drivers,
        vents=vents,
        braces=tuple(
            Prism(name=f"brace {k}", section=clear, x=(x, x + BOARD), holes=(window,))
            for k, x in enumerate(braces, start=1)
        ),
        supports=supports,
        cup=cup,
        radiators=radiators,
        slot=slot,
    )


def on_baffle(wedge: Wedges, x: float, s: float) -> tuple[Floats, Floats]:
    """A place on the baffle's outer face, and the direction into the box."""
    lean = float(wedge.baffle_angle[0])
    up = np.array([0.0, math.sin(lean), math.cos(lean)])
    return np.array([x, float(wedge.bottom_depth[0]), 0.0]) + s * up, np.array([0.0, -up[2], up[1]])


def cup_in(panel: str, face: Floats, inward: Floats) -> CupSolid:
    return CupSolid(
        body=Frustum(name="cup", start=face, end=face + 0.05 * inward, radii=(0.0375, 0.0375)),
        flange=Frustum(name="cup flange", start=face - 0.003 * inward, end=face, radii=(0.05, 0.05)),
        panel=panel,
    )
